"""Tilted tanks that vent and leak, against CoolProp in a general ODE solver.

Nothing here is our own output: `plain_two_openings` takes the volume below a level and the heat of the
weather from the package, and solves by itself.
"""

from __future__ import annotations

import numpy as np
import pytest
from plain_two_openings import TwoOpenings, two_openings_end

import lpgrelease as lr

STOP = 2e5


@pytest.mark.parametrize(("leak", "height"), [(0.008, 0.05), (0.018, 0.45), (0.01, 0.35)])
@pytest.mark.parametrize("degrees", [0.5, 12.0])
def test_a_tilted_tank_that_vents_and_leaks(leak, height, degrees):
    flat = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0)
    tank = lr.tilt(flat, pitch=np.radians(degrees))
    weather = lr.Weather(wind_speed=4.0, solar_irradiance=500.0)
    openings = [
        lr.Opening(diameter=0.03, discharge_coefficient=0.85, height=tank.height),
        lr.Opening(diameter=leak, height=height),
    ]
    contents = lr.Contents(tank, lr.Fluid("propane"), fill=0.6, temperature=293.15)
    run = lr.tank_history(contents, openings=openings, weather=weather, stop_at_gauge_pressure=STOP)
    exchange, surface = tank.outside_exchange(weather), float(tank.surface_area)
    case = TwoOpenings(
        tank=tank,
        fill=0.6,
        temperature=293.15,
        areas=tuple(float(o.effective_area) for o in openings),
        heights=tuple(float(o.height) for o in openings),
        heat=lambda t: surface * float(exchange.heat_flux(np.float64(t))),
        ambient_pressure=101325.0,
    )
    end = two_openings_end(case, stop_pressure=101325.0 + STOP, rtol=1e-7)
    assert run.stopped_by == "gauge pressure"
    # 2e-4: the solver steps over the corner where the level passes the hole; its differences of 0.02 K
    assert run.time[-1] == pytest.approx(end.time, rel=2e-4)
    assert run.temperature[-1] == pytest.approx(end.temperature, abs=1e-3)
    left = run.liquid_mass[-1] + run.vapor_mass[-1]
    assert left == pytest.approx(end.mass, abs=2e-4 * float(contents.mass))
