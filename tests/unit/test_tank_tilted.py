"""Histories of tanks that lie askew: levels, phases and heads follow; draining in temperature."""

from __future__ import annotations

import math

import numpy as np
import pytest
from short_steps import in_short_steps

import lpgrelease as lr
from lpgrelease.tank import TiltedTank, cooling, draining, plateau, solve
from lpgrelease.tank.levels import LevelTable

PROPANE = lr.Fluid("propane")
SIZE = {"diameter": 1.04, "length": 4.5, "wall_mass": 900.0, "heat_transfer": 170.0}
ALIKE = ("time", "temperature", "liquid_mass", "heat_gained")


def many(n, seed=5):
    rng = np.random.default_rng(seed)
    diameter, length = rng.uniform(0.8, 2.0, n), rng.uniform(3.0, 8.0, n)
    tank = {"diameter": diameter, "length": length, "wall_mass": 200.0 * diameter * length}
    return {
        "tank": tank | {"pitch": np.radians(rng.uniform(0.0, 15.0, n)), "heat_transfer": 40.0 * length},
        "start": {"fill": rng.uniform(0.3, 0.85, n), "temperature": rng.uniform(278.0, 305.0, n)},
        "vent": rng.uniform(0.03, 0.07, n),
        "leak": rng.uniform(0.004, 0.03, n),
        "height": rng.uniform(0.0, 0.6, n),
    }


def go(case, i=slice(None), **options):
    tank = TiltedTank(**{name: values[i] for name, values in case["tank"].items()})
    openings = [
        lr.Opening(diameter=case["vent"][i], discharge_coefficient=0.85, height=tank.height),
        lr.Opening(diameter=case["leak"][i], height=case["height"][i] * tank.height),
    ]
    start = lr.Contents(tank, PROPANE, **{name: values[i] for name, values in case["start"].items()})
    return lr.tank_history(start, openings=openings, **options)


def nobody(venting, temperature, points):
    return draining.drain_in_temperature(venting.take(np.arange(0)), temperature[:0], points)


def nobody_lingers(venting, temperature, points):
    return plateau.linger_in_time(venting.take(np.arange(0)), temperature[:0], points)


IN_LONG_STEPS = solve._march_stiff


def in_the_sun(n, seed):
    """Tanks with small vents and much heat: pressure settles above the stop."""
    case = many(n, seed)
    case["tank"]["heat_transfer"] = 4.0 * case["tank"]["heat_transfer"]
    case["vent"] = 0.25 * case["vent"]
    return case


def test_a_tank_that_is_not_tilted_has_the_plain_history():
    flat = lr.HorizontalTank(**SIZE)
    hole, vent = lr.Opening(diameter=0.012, height=0.2), lr.Opening(diameter=0.05, height=1.04)
    for tilted, openings in ((lr.tilt(flat, pitch=1e-9), [vent, hole]), (lr.tilt(flat, pitch=1e-9), [hole])):
        runs = [
            lr.tank_history(
                lr.Contents(tank, PROPANE, fill=0.7, temperature=293.15), openings=openings, duration=900.0
            )
            for tank in (flat, tilted)
        ]
        for name in ALIKE:
            # 1e-5: the level's table, and seven steps of the march in temperature
            np.testing.assert_allclose(getattr(runs[1], name)[-1], getattr(runs[0], name)[-1], rtol=1e-5)


def test_the_low_end_leaks_liquid_when_the_high_end_leaks_vapor():
    flat = lr.HorizontalTank(**SIZE)
    tilted = lr.tilt(flat, pitch=math.radians(12.0))
    ends = [lr.Opening(diameter=0.01, height=lr.opening_height(tilted, axial=x)) for x in (-2.5, 2.5)]
    run = lr.tank_history(
        lr.Contents(tilted, PROPANE, fill=0.5, temperature=285.0), openings=ends, duration=60.0
    )
    assert run.passes_liquid[0].all()
    assert not run.passes_liquid[1].any()
    level = [lr.opening_height(flat, axial=x) for x in (-2.5, 2.5)]
    assert level[0] == pytest.approx(level[1])


def test_draining_in_temperature_agrees_with_short_steps_in_time(monkeypatch):
    case = many(120)
    asked = []
    whole = draining.drain_in_temperature

    def watched(venting, temperature, points):
        found = whole(venting, temperature, points)
        asked.append((temperature.size, found.served.size))
        return found

    monkeypatch.setattr(solve, "drain_in_temperature", watched)
    drained = go(case)
    assert asked[0][1] > 0.6 * asked[0][0]
    monkeypatch.setattr(solve, "drain_in_temperature", nobody)
    monkeypatch.setattr(solve, "linger_in_time", nobody_lingers)
    monkeypatch.setattr(solve, "_march_stiff", in_short_steps)
    by_time = go(case)
    assert (drained.stopped_by == by_time.stopped_by).all()
    # both with holes that the level passes on the way and without
    passed = drained.passes_liquid[:, 1, 0] & ~drained.passes_liquid[:, 1, -1]
    assert 0.1 < passed.mean() < 0.9
    for name in ALIKE:
        ours, its = getattr(drained, name)[:, -1], getattr(by_time, name)[:, -1]
        apart = np.abs(ours / its - 1.0)
        # 7 steps of tenth order, corners found to a hundredth of a step
        assert np.median(apart) < 2e-5, name
        assert np.percentile(apart, 95) < 3e-4, name
    apart = np.abs(drained.mass_released[..., -1] - by_time.mass_released[..., -1])
    assert np.percentile(apart / case_mass(drained), 99) < 1e-4
    assert (drained.mass_imbalance < 1e-9).all()
    assert (drained.energy_imbalance < 1e-9).all()


def test_cooling_by_known_steps_leads_where_long_steps_lead(monkeypatch):
    case = in_the_sun(60, 3)
    cooled = []

    def watched(venting, temperature):
        found = cooling.cool_down(venting, temperature)
        cooled.append(found.cooled.mean())
        return found

    def stays(venting, temperature):
        found = cooling.cool_down(venting.take(np.arange(0)), temperature[:0])
        state = np.zeros((venting.wet.shape[0] + 4, temperature.size))
        state[1] = temperature
        return found._replace(state=state, wet=venting.wet)

    monkeypatch.setattr(plateau, "cool_down", watched)
    ours = go(case)
    assert min(cooled) > 0.25
    monkeypatch.setattr(plateau, "cool_down", stays)
    its = go(case)
    assert (ours.stopped_by == its.stopped_by).all()
    settled = ours.stopped_by == "settled"
    apart = np.abs(ours.mass_released - its.mass_released)[..., -1] / case_mass(its)
    assert apart[~settled].max() < 1e-5
    # when a temperature comes within half a millikelvin of its rest, a thousandth of that counts
    assert apart[settled].max() < 1e-3
    assert (ours.energy_imbalance < 1e-9).all()


def test_lingering_agrees_with_short_steps_in_time(monkeypatch):
    case = in_the_sun(60, 3)
    asked = []

    def watched(venting, temperature, points):
        found = plateau.linger_in_time(venting, temperature, points)
        asked.append((temperature.size, found.served.size))
        return found

    monkeypatch.setattr(solve, "linger_in_time", watched)
    runs = [go(case), go(case, duration=2500.0)]
    assert all(served == of > 40 for of, served in asked)
    monkeypatch.setattr(solve, "linger_in_time", nobody_lingers)
    monkeypatch.setattr(solve, "_march_stiff", in_short_steps)
    by_time = [go(case), go(case, duration=2500.0)]
    assert set(np.unique(runs[0].stopped_by)) >= {"settled", "liquid gone"}
    for run, its in zip(runs, by_time, strict=True):
        assert (run.mass_imbalance < 1e-12).all()
        assert (run.energy_imbalance < 1e-9).all()
        assert (run.liquid_volume >= 0.0).all()
        assert (np.diff(run.time, axis=-1) >= 0.0).all()
        # settled: within 1 mK of the rest, 4 % of pressure by kelvin; the short steps guess the rest
        settled = (run.stopped_by == "settled") & (its.stopped_by == "settled")
        np.testing.assert_allclose(run.plateau_pressure[settled], its.plateau_pressure[settled], rtol=4e-5)
        ended = (run.stopped_by == its.stopped_by) & ~settled
        assert (ended | settled).mean() > 0.95
        apart = np.abs(run.mass_released - its.mass_released)[ended, :, -1] / case_mass(run)[ended]
        # 1e-5 is what is promised
        assert np.percentile(apart, 90) < 1e-5
        assert apart.max() < 1e-4


def test_one_of_many_that_linger_is_the_same_to_the_bit_alone():
    case = in_the_sun(300, 8)
    together = go(case, points=5)
    for i in (0, 17, 123, 299):
        alone = go(case, i, points=5)
        for name in (*ALIKE, "mass_released", "mass_flow", "passes_liquid", "plateau_pressure"):
            assert np.array_equal(getattr(alone, name), getattr(together, name)[i]), (i, name)
        assert alone.stopped_by == together.stopped_by[i]


def test_a_stop_that_is_reached_from_a_plateau_is_reached_exactly():
    case = many(200, 4)
    case["tank"]["heat_transfer"] = 2.5 * case["tank"]["heat_transfer"]
    run = go(case)
    stopped = run.stopped_by == "gauge pressure"
    assert stopped.any()
    np.testing.assert_allclose(run.pressure[stopped, -1], 101325.0 + 689.4757, rtol=1e-6)


def case_mass(run):
    return (run.liquid_mass + run.vapor_mass)[:, :1]


def test_more_steps_come_nearer(monkeypatch):
    case = many(60, 9)
    monkeypatch.setattr(solve, "drain_in_temperature", nobody)
    exact = go(case)
    monkeypatch.undo()
    errors = []
    for points in (33, 129):
        run = go(case, points=points)
        apart = np.abs(run.mass_released[:, 1, -1] - exact.mass_released[:, 1, -1]) / case_mass(exact)[:, 0]
        errors.append(np.percentile(apart, 80))
    assert errors[1] < errors[0]


def test_draining_through_lines_agrees_with_short_steps_in_time(monkeypatch):
    case = in_the_sun(12, 3)
    vented = many(12, 3)

    def runs():
        for each in (case, vented):
            tank = TiltedTank(**each["tank"])
            openings = [
                lr.Line(diameter=each["vent"], length=8.0, height=tank.height),
                lr.Opening(diameter=each["leak"], height=each["height"] * tank.height),
            ]
            start = lr.Contents(tank, PROPANE, **each["start"])
            yield lr.tank_history(start, openings=openings, weather=lr.Weather(air_temperature=290.0))

    stiff = list(runs())
    ends = np.concatenate([run.stopped_by for run in stiff])
    assert set(np.unique(ends)) >= {"settled", "liquid gone", "gauge pressure"}
    monkeypatch.setattr(solve, "_march_stiff", in_short_steps)
    for run, its in zip(stiff, runs(), strict=True):
        assert (run.energy_imbalance < 1e-9).all()
        assert (run.stopped_by == its.stopped_by).mean() > 0.9
        alike = (run.stopped_by == its.stopped_by) & (run.stopped_by != "settled")
        apart = np.abs(run.mass_released - its.mass_released)[alike, :, -1] / case_mass(run)[alike]
        # what draining is promised to keep; where the stop lies hard by the rest, 1e-4
        assert np.median(apart) < 2e-5
        assert apart.max() < 1e-4


def test_cold_tanks_drain_in_long_steps_as_in_short_ones(monkeypatch):
    case = many(12, 4)
    case["start"]["temperature"] = np.linspace(226.0, 250.0, 12)
    weather = lr.Weather(air_temperature=np.linspace(235.0, 260.0, 12))
    asked = []

    def watched(venting, temperature, points):
        asked.append(temperature.size)
        return IN_LONG_STEPS(venting, temperature, points)

    monkeypatch.setattr(solve, "_march_stiff", watched)
    stiff = go(case, weather=weather, duration=600.0)
    assert sum(asked) > 0
    monkeypatch.setattr(solve, "_march_stiff", in_short_steps)
    its = go(case, weather=weather, duration=600.0)
    assert (stiff.stopped_by == its.stopped_by).all()
    apart = np.abs(stiff.mass_released - its.mass_released)[..., -1] / case_mass(its)[:, None]
    assert apart.max() < 5e-5
    assert (stiff.energy_imbalance < 1e-9).all()


def test_one_of_many_is_the_same_to_the_bit_alone():
    case = many(3000, 2)
    together = go(case, points=5)
    for i in (0, 17, 1234, 2999, int(np.argmax(together.passes_liquid[:, 1, -1]))):
        alone = go(case, i, points=5)
        for name in (*ALIKE, "mass_released", "mass_flow", "passes_liquid", "pressure"):
            assert np.array_equal(getattr(alone, name), getattr(together, name)[i]), (i, name)
        assert alone.stopped_by == together.stopped_by[i]


@pytest.mark.parametrize(
    "tank",
    [
        lr.HorizontalTank(diameter=np.array([1.04, 2.0]), length=np.array([4.5, 7.0])),
        lr.VerticalTank(diameter=np.array([1.0, 2.0]), length=np.array([3.0, 2.0])),
        lr.SphericalTank(diameter=np.array([2.0, 9.0])),
        TiltedTank(diameter=np.array([1.04, 2.0]), length=np.array([4.5, 7.0]), pitch=np.array([0.1, 0.8])),
    ],
)
def test_tabulated_levels(tank):
    table = LevelTable.prepare(tank)
    volume = np.linspace(1e-3, 1.0 - 1e-3, 501)[:, None] * tank.volume
    level = tank.level_at(volume)
    found = table.at(volume)
    assert np.abs(found.level - level).max() < 1e-5 * tank.height.max()
    assert np.array_equal(table.level(volume), found.level)
    wetted = tank.wetted_area_at(level) / tank.surface_area
    # 5e-4: the slope of the wetted surface is that of a parabola
    np.testing.assert_allclose(found.wetted_share, wetted, atol=5e-4)
    np.testing.assert_allclose(
        found.free_surface, tank.free_surface_at(level), atol=2e-3 * tank.surface_area.max()
    )
    inside = slice(50, -50)
    slope = np.gradient(wetted, axis=0)[inside] / np.gradient(volume, axis=0)[inside]
    np.testing.assert_allclose(found.wetted_slope[inside], slope, rtol=0.05, atol=1e-3 * slope.max())
    one = table.take(np.array([1]))
    assert np.array_equal(one.level(volume[:, 1:]), found.level[:, 1:])
    heights = np.linspace(0.0, 1.0, 9)[:, None] * tank.height
    same, below = LevelTable.with_volumes(tank, heights, surfaces=True)
    assert np.array_equal(below, tank.volume_at(heights))
    assert all(np.array_equal(*pair) for pair in zip(same.at(volume), found, strict=True))


def test_the_end_does_not_hang_on_how_many_points_are_asked_for():
    """A vent and a leak that take most of the liquid: few points are some of many, to the bit."""
    tank = lr.tilt(lr.HorizontalTank(diameter=1.2, length=4.0, wall_mass=900.0), pitch=np.array([0.02, 0.1]))
    contents = lr.Contents(tank, lr.Fluid("propane"), fill=0.7, temperature=293.15)
    openings = [
        lr.Opening(diameter=0.05, height=tank.height),
        lr.Opening(diameter=0.015, height=0.1 * tank.height),
    ]
    few, many = (
        lr.tank_history(contents, openings=openings, points=points, stop_at_gauge_pressure=700.0)
        for points in (3, 33)
    )
    assert np.all(many.liquid_mass[:, -1] < 0.5 * many.liquid_mass[:, 0])
    for name in ("time", "temperature", "liquid_mass"):
        assert np.array_equal(getattr(few, name), getattr(many, name)[:, ::16]), name
