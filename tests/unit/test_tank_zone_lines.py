"""Tanks with walls of their own temperature, and on them lines, pads and transfers at once."""

from __future__ import annotations

import numpy as np
import pytest

from lpgrelease import (
    Contents,
    Fluid,
    HorizontalTank,
    Line,
    Opening,
    TankWall,
    Transfer,
    VerticalTank,
    Weather,
    pressure_return,
    tank_history,
)

PROPANE = Fluid("propane")
TANK = HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0)
START = Contents(TANK, PROPANE, fill=0.8, temperature=293.15)
WARM = Weather(air_temperature=303.15)
ALIKE = ("time", "temperature", "liquid_mass", "mass_released")


@pytest.mark.parametrize("height", [1.04, 0.1])
def test_a_line_without_length_is_its_opening_beside_walls_too(height):
    given = {"diameter": 0.02, "discharge_coefficient": 0.85, "height": height}
    openings = (Opening(**given), Line(**given, length=0.0, fittings=0.0))
    options = {"weather": WARM, "duration": 60.0, "points": 5, "wall": TankWall()}
    opening, line = (tank_history(START, openings=[o], **options) for o in openings)
    if height == 1.04:
        for name in ALIKE:
            np.testing.assert_allclose(getattr(line, name), getattr(opening, name), rtol=1e-9, atol=1e-9)
        return
    # a line's liquid boils on the way, a hole's does not: the line passes less, and what a line passes alone
    plain = tank_history(START, openings=[openings[1]], weather=WARM, duration=60.0, points=5)
    assert line.mass_flow[0, 0] == pytest.approx(plain.mass_flow[0, 0], rel=1e-9)
    assert line.mass_flow[0, 0] < opening.mass_flow[0, 0]


def test_vapor_through_a_long_line_beside_walls_starts_as_without():
    hose = Line(diameter=0.05, length=20.0, height=1.04)
    options = {"openings": [hose], "weather": WARM, "duration": 120.0, "points": 5}
    walls, plain = tank_history(START, wall=TankWall(), **options), tank_history(START, **options)
    # 1e-6: both enter the table of the line's coefficient, at pressures that came about in two ways
    assert walls.mass_flow[0, 0] == pytest.approx(plain.mass_flow[0, 0], rel=1e-6)
    free = Opening(diameter=0.05, height=1.04)
    assert walls.mass_flow[0, 0] < tank_history(START, **options | {"openings": [free]}).mass_flow[0, 0]
    assert walls.mass_imbalance < 1e-10
    assert walls.energy_imbalance < 1e-8


def test_two_walls_under_a_pad_bound_tightly_are_one():
    """Walls that pass heat without resistance are at the contents' temperature."""
    padded = Contents(TANK, PROPANE, fill=0.5, temperature=260.0, pad_pressure=2e5)
    options = {"weather": WARM, "duration": 3600.0, "points": 5}
    one = tank_history(padded, wall=TankWall(two_temperatures=False), **options)
    tight = TankWall(wet_coefficient=1e6, dry_coefficient=1e6)
    two = tank_history(padded, wall=tight, **options)
    # 2e-3 K of 8: the tolerance of the march; points between have times of their own
    assert two.temperature[-1] == pytest.approx(one.temperature[-1], abs=2e-3)
    assert two.pressure[-1] == pytest.approx(one.pressure[-1], rel=1e-4)
    loose = tank_history(padded, wall=TankWall(), **options)
    assert loose.dry_wall_temperature[-1] > loose.wet_wall_temperature[-1] > loose.temperature[-1]
    assert loose.temperature[-1] < one.temperature[-1]
    assert max(two.energy_imbalance, loose.energy_imbalance) < 1e-8


def test_pressure_comes_back_though_it_hardly_moves_at_first():
    """Ammonia a few kelvin below the air, insulated: the event looked for is endlessly far off at first."""
    upright = VerticalTank(diameter=0.8, length=1.5, heads="hemispherical", wall_mass=300.0)
    cold = Contents(upright, Fluid("ammonia"), fill=[0.2, 0.9], temperature=280.0)
    air = Weather(air_temperature=282.9, wind_speed=18.6, relative_humidity=0.94, cloud_cover=0.0)
    wall = TankWall(insulation=0.31, contact_conductance=40.0, surface_coefficient=459.0, conductivity=239.0)
    never = pressure_return(cold, gauge_pressure=7.5e5, weather=air, wall=wall)
    assert np.isinf(never).all()
    soon = pressure_return(cold, gauge_pressure=4.6e5, weather=air, wall=wall)
    assert np.isfinite(soon).all()
    assert soon[1] > soon[0]


def test_liquid_pumped_out_of_a_tank_with_walls_hardly_cools_it():
    """Liquid takes its own heat along; the same mass of vapor takes the heat of vaporization besides."""
    options = {"weather": WARM, "duration": 600.0, "points": 5, "wall": TankWall()}
    liquid, vapor = (
        tank_history(START, transfers=[Transfer(mass_flow=-0.3, phase=phase)], **options)
        for phase in ("liquid", "vapor")
    )
    for run in (liquid, vapor):
        gone = START.mass - run.liquid_mass[-1] - run.vapor_mass[-1]
        assert gone == pytest.approx(180.0, rel=1e-6)
        assert run.mass_imbalance < 1e-10
        assert run.energy_imbalance < 1e-8
    drop = lambda run: run.temperature[0] - run.temperature[-1]  # noqa: E731
    assert drop(vapor) > 3.0
    assert drop(liquid) < 0.3 * drop(vapor)
