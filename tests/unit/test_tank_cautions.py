"""What tank histories ask to bear in mind."""

from __future__ import annotations

import math

import numpy as np
import pytest

import lpgrelease as lr
from lpgrelease.tank import TiltedTank, zones_solve

SIZE = {"diameter": 1.04, "length": 4.5, "wall_mass": 900.0}
TANK = lr.HorizontalTank(**SIZE)
VENT = lr.Opening(diameter=0.02, height=1.04)


def contents(name="propane", temperature=280.0, **given):
    return lr.Contents(TANK, lr.Fluid(name), **{"fill": 0.5} | given, temperature=temperature)


def told(run, word):
    return any(word in text for text in run.cautions)


def test_poison_is_named_first():
    run = lr.tank_history(contents("chlorine"), openings=[VENT], duration=60.0)
    assert run.cautions[: len(lr.Fluid("chlorine").cautions)] == lr.Fluid("chlorine").cautions
    assert told(run, "poisonous")
    assert not told(lr.tank_history(contents(), openings=[VENT], duration=60.0), "poisonous")


def test_a_fire_has_the_cautions_of_its_law():
    run = lr.tank_history(contents(), openings=[VENT], duration=60.0, fire=lr.TankFire())
    assert set(lr.fire_engulfment(contents()).cautions) <= set(run.cautions)


def test_air_inside_is_told_where_the_cargo_burns():
    cold = {"openings": [lr.Opening(diameter=0.05, height=1.04)], "duration": 600.0, "air_enters": True}
    air = lr.Weather(air_temperature=260.0)
    run = lr.tank_history(contents("n-butane", 260.0), weather=air, **cold)
    assert run.gas_mass[-1] > 0.0
    assert told(run, "mixture that burns")
    padded = contents(pad_pressure=2e5, pad_gas="air")
    assert told(lr.tank_history(padded, openings=[VENT], duration=60.0), "mixture that burns")
    nitrogen = contents(pad_pressure=2e5, pad_gas="nitrogen")
    assert not told(lr.tank_history(nitrogen, openings=[VENT], duration=60.0), "mixture that burns")
    unburnable = contents("R134a", pad_pressure=2e5, pad_gas="air")
    assert not told(lr.tank_history(unburnable, openings=[VENT], duration=60.0), "mixture that burns")


def test_a_plateau_by_one_temperature_may_not_be_the_last_word():
    small = lr.Opening(diameter=0.025, height=1.04)
    one = lr.tank_history(contents(fill=0.8), openings=[small])
    two = lr.tank_history(contents(fill=0.8), openings=[small], wall=lr.TankWall())
    assert one.stopped_by == "settled"
    assert two.stopped_by == "gauge pressure"
    assert told(one, "TankWall")
    assert not told(two, "TankWall")
    # a shut tank as warm as the air is at rest by any model
    shut = lr.tank_history(contents(temperature=288.15), weather=lr.Weather(air_temperature=288.15))
    assert shut.stopped_by == "settled"
    assert not told(shut, "TankWall")


def test_what_two_walls_ended_with_is_told_to_be_colder_than_it_was():
    run = lr.tank_history(contents(), openings=[VENT], wall=lr.TankWall())
    assert run.dry_wall_temperature[-1] > run.temperature[-1] + 10.0
    assert told(run, "`final`")


@pytest.mark.parametrize("pitch", [0.0, 1e-3])
def test_a_tank_that_hardly_tilts_has_the_edge_of_one_that_lies(pitch):
    given = {"fill": 0.1, "temperature": 231.1}
    times = [
        lr.tank_history(
            lr.Contents(tank, lr.Fluid("propane"), **given),
            stop_at_gauge_pressure=2e4,
            wall=lr.TankWall(insulation=0.5),
        ).time[-1]
        for tank in (TANK, lr.tilt(TANK, pitch=pitch))
    ]
    assert times[1] == pytest.approx(times[0], rel=2e-3)


def test_the_edge_of_a_tilted_tank_goes_from_that_of_one_that_lies_to_that_of_one_that_stands():
    size = {name: np.array([value]) for name, value in SIZE.items()}
    pitches = np.linspace(0.0, 0.5 * math.pi, 50)
    edges = [float(zones_solve._waterline(TiltedTank(**size, pitch=np.array([p])))[0]) for p in pitches]
    assert edges[0] == pytest.approx(2.0 * (4.5 + 1.04))
    assert edges[-1] == pytest.approx(math.pi * 1.04)
    # no longer than from corner to corner and back, and never a leap
    assert max(edges) < 2.0 * (math.hypot(4.5, 1.04) + 1.04) * 1.001
    assert np.abs(np.diff(edges)).max() < 0.12 * max(edges)


def test_provenance_tells_which_temperatures_there_were():
    one = lr.tank_history(contents(), openings=[VENT], duration=60.0)
    two = lr.tank_history(contents(), openings=[VENT], duration=60.0, wall=lr.TankWall())
    assert "equilibrium" in one.provenance.model
    assert "equilibrium" not in two.provenance.model
    assert "dry wall" in two.provenance.model
