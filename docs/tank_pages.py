"""Numbers of the page on tanks with more to them, computed when the documentation is built."""

from __future__ import annotations

import numpy as np

import lpgrelease as lr

PROPANE = lr.Fluid("propane")


def _one(two_temperatures: bool | None) -> lr.tank.TankHistory:
    tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0)
    contents = lr.Contents(tank, PROPANE, fill=0.8, temperature=293.15)
    vent = lr.Opening(diameter=0.0508, discharge_coefficient=0.85, height=1.04)
    wall = None if two_temperatures is None else lr.TankWall(two_temperatures=two_temperatures)
    return lr.tank_history(contents, openings=[vent], wall=wall)


def numbers() -> dict[str, str]:
    """Every number that the page states."""
    one, two = _one(None), _one(True)
    tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0)
    cold = lr.Contents(tank, PROPANE, fill=0.6, temperature=PROPANE.normal_boiling_point)
    hold = lr.steady_hold(cold)
    back = lr.pressure_return(cold, gauge_pressure=1e5)
    butane = lr.Contents(tank, lr.Fluid("n-butane"), fill=0.6, temperature=260.0)
    openings = [lr.Opening(diameter=0.02, height=1.04), lr.Opening(diameter=0.02)]
    lost = [
        lr.tank_history(butane, openings=openings, duration=1800.0, air_enters=enters).mass_released[1, -1]
        for enters in (False, True)
    ]
    return {
        "one_wall_time": f"{one.time[-1]:.0f} s",
        "two_wall_time": f"{two.time[-1]:.0f} s",
        "one_wall_left": f"{one.liquid_mass[-1]:.0f} kg",
        "two_wall_left": f"{two.liquid_mass[-1]:.0f} kg",
        "two_wall_wet": f"{two.wet_wall_temperature[-1] - two.temperature[-1]:.1f} K",
        "two_wall_dry": f"{two.dry_wall_temperature[-1] - two.temperature[-1]:.0f} K",
        "two_wall_vapor": f"{np.max(two.vapor_temperature - two.temperature):.0f} K",
        "hold_rate": f"{hold.vapor_rate * 1e3:.0f} g/s",
        "hold_hours": f"{hold.time_until_dry / 3600:.0f} hours",
        "hold_back": f"{back / 60:.0f} minutes",
        "butane_shut": f"{lost[0]:.0f} kg",
        "butane_air": f"{lost[1]:.0f} kg",
    }
