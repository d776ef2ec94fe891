"""Edges, errors, shapes, bits and numerics of tank histories."""

from __future__ import annotations

import pickle

import numpy as np
import pint
import pytest
from short_steps import in_short_steps

from lpgrelease import (
    Contents,
    Fluid,
    HorizontalTank,
    Opening,
    SphericalTank,
    VerticalTank,
    Weather,
    tank_history,
)
from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.tank import gather, history, lobatto, quadrature, solve
from lpgrelease.tank.venting import take_tank

PROPANE = Fluid("propane")
ATMOSPHERE = 101325.0
TANK = HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=170.0)
INSULATED = HorizontalTank(diameter=1.04, length=4.5, heat_transfer=0.0)
VENT = Opening(diameter=0.0508, discharge_coefficient=0.85, height=1.04)
LEAK = Opening(diameter=0.01, height=0.1)
AIR = Weather(air_temperature=293.15)
HISTORIES = (
    "time",
    "pressure",
    "temperature",
    "liquid_mass",
    "vapor_mass",
    "liquid_volume",
    "heat_gained",
    "enthalpy_released",
)
BY_OPENING = ("mass_flow", "mass_released", "passes_liquid")
PER_SCENARIO = ("plateau_pressure", "mass_imbalance", "energy_imbalance", "stopped_by")


def contents(tank=TANK, fluid=PROPANE, fill=0.8, temperature=293.15):
    return Contents(tank, fluid, fill=fill, temperature=temperature)


# -- why it ends ---------------------------------------------------------------------------------------


def test_stops_by_default_at_what_a_dial_shows_as_zero():
    run = tank_history(contents(INSULATED), openings=[VENT])
    assert run.stopped_by == "gauge pressure"
    assert run.pressure[-1] - ATMOSPHERE == pytest.approx(0.1 * 6894.757293168361, rel=1e-6)


def test_adiabatic_venting_to_zero_gauge_leaves_two_thirds_of_the_liquid():
    run = tank_history(contents(INSULATED), openings=[VENT], stop_at_gauge_pressure=0.0)
    assert run.stopped_by == "gauge pressure"
    assert run.pressure[-1] == pytest.approx(ATMOSPHERE, rel=1e-7)
    # from 20 to -42 degC at a mean c of 2.4 kJ/kg/K and L of 390 kJ/kg: exp(-2.4 * 62/390) = 0.68
    assert run.liquid_mass[-1] / run.liquid_mass[0] == pytest.approx(2.0 / 3.0, abs=0.03)


def test_at_zero_gauge_vapor_stands_still_and_liquid_runs_by_its_head():
    cold = contents(INSULATED, temperature=PROPANE.normal_boiling_point)
    run = tank_history(cold, openings=[VENT, LEAK], duration=1.0, points=2)
    liquid = PROPANE.saturation(temperature=PROPANE.normal_boiling_point).liquid_density
    head = cold.level - LEAK.height
    assert run.mass_flow[0, 0] == pytest.approx(0.0, abs=2e-3)
    expected = LEAK.effective_area * liquid * np.sqrt(2.0 * 9.80665 * head)
    assert run.mass_flow[1, 0] == pytest.approx(expected, rel=1e-6)


def test_a_tank_colder_than_boiling_draws_nothing_and_warms():
    run = tank_history(contents(temperature=225.0), openings=[VENT], weather=AIR, duration=600.0)
    assert (run.pressure[run.time < 60.0] < ATMOSPHERE).all()
    assert run.mass_flow[0, 0] == 0.0
    assert run.temperature[-1] > 225.0
    assert (np.diff(run.mass_released[0]) >= 0.0).all()


def test_pressure_comes_back_from_below_to_the_stop():
    run = tank_history(contents(temperature=235.0), weather=AIR, stop_at_gauge_pressure=1e5)
    assert run.stopped_by == "gauge pressure"
    assert run.pressure[0] < run.pressure[-1]
    assert run.pressure[-1] == pytest.approx(ATMOSPHERE + 1e5, rel=1e-7)
    assert run.mass_flow.shape == (0, 33)


def test_a_start_at_the_stop_ends_at_once():
    run = tank_history(contents(), openings=[VENT], stop_at_gauge_pressure=contents().gauge_pressure())
    assert run.stopped_by == "gauge pressure"
    # to 1e-6 K, the tolerance of the event
    assert run.time[-1] < 1e-3


def test_settles_where_the_boil_off_takes_the_heat():
    run = tank_history(contents(fill=0.5), openings=[VENT], weather=AIR, stop_at_gauge_pressure=0.0)
    assert run.stopped_by == "settled"
    assert ATMOSPHERE < run.plateau_pressure < ATMOSPHERE + 2e3
    assert run.pressure[-1] == pytest.approx(float(run.plateau_pressure), rel=1e-4)
    # a duration alone goes on: it holds the plateau to its end
    on = tank_history(contents(fill=0.5), openings=[VENT], weather=AIR, duration=2.0 * run.time[-1])
    assert on.stopped_by == "duration"
    assert on.pressure[-1] == pytest.approx(float(run.plateau_pressure), rel=1e-5)
    assert np.isinf(on.plateau_pressure)
    assert on.mass_released[0, -1] > run.mass_released[0, -1]


def test_a_shut_insulated_tank_has_settled_before_it_began():
    run = tank_history(contents(INSULATED))
    assert run.stopped_by == "settled"
    assert run.plateau_pressure == pytest.approx(float(contents().pressure), rel=1e-12)
    assert (run.time == 0.0).all()
    np.testing.assert_allclose(run.temperature, 293.15, rtol=1e-15)


@pytest.mark.parametrize(
    ("name", "temperature", "heat_transfer", "openings"),
    [
        ("propane", 293.15, 170.0, []),
        ("propane", 260.0, 170.0, []),
        ("n-butane", 263.0, 170.0, [VENT]),
        ("n-butane", 263.0, 0.0, [VENT]),
        ("propane", 229.0, 170.0, [VENT]),
    ],
)
def test_a_tank_as_warm_as_the_air_has_settled_before_it_began(name, temperature, heat_transfer, openings):
    """Shut, or open and below its boiling point."""
    tank = HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=heat_transfer)
    start = Contents(tank, Fluid(name), fill=0.5, temperature=temperature)
    run = tank_history(start, openings=openings, weather=Weather(air_temperature=temperature))
    assert run.stopped_by == "settled"
    assert run.time[-1] == 0.0
    assert run.plateau_pressure == pytest.approx(float(start.pressure), rel=1e-12)


@pytest.mark.parametrize("openings", [[VENT], [LEAK], [VENT, LEAK], []])
def test_a_duration_is_kept(openings):
    run = tank_history(contents(), openings=openings, weather=AIR, duration=37.0)
    assert run.stopped_by == "duration"
    assert run.time[-1] == pytest.approx(37.0, rel=1e-12)


def test_the_first_of_stop_and_duration_ends_it():
    both = {"stop_at_gauge_pressure": [6.5e5, 1e5], "duration": 60.0}
    run = tank_history(contents(), openings=[VENT], weather=AIR, **both)
    assert run.stopped_by.tolist() == ["gauge pressure", "duration"]
    assert run.time[0, -1] < 60.0


@pytest.mark.parametrize("others", [[], [VENT]])
def test_the_liquid_runs_out_of_a_hole_in_the_bottom(others):
    run = tank_history(contents(), openings=[*others, Opening(diameter=0.03)], weather=AIR, duration=5e4)
    assert run.stopped_by == "liquid gone"
    assert 0.0 <= run.liquid_volume[-1] <= 1e-8
    assert run.liquid_mass[-1] >= 0.0
    assert run.passes_liquid[-1, :-1].all()


def test_boil_off_at_the_plateau_empties_the_tank():
    run = tank_history(contents(fill=0.1), openings=[VENT], weather=AIR, duration=1e6)
    assert run.stopped_by == "liquid gone"
    assert run.liquid_mass[-1] == pytest.approx(0.0, abs=1e-6)
    assert run.time[-1] < 1e6


def test_empty_and_full_tanks_end_at_once():
    run = tank_history(contents(fill=[0.0, 1.0]), weather=AIR)
    assert run.stopped_by.tolist() == ["liquid gone", "liquid full"]
    assert (run.time == 0.0).all()


@pytest.mark.parametrize("fluid", [PROPANE, Fluid({"propane": 0.6, "n-butane": 0.4})])
def test_a_full_tank_with_a_hole_leaks_as_one_that_is_nearly_full(fluid):
    hole = Opening(diameter=0.02, height=0.0)
    runs = tank_history(
        Contents(TANK, fluid, fill=[1.0, 1.0 - 1e-6], temperature=293.15), openings=[hole], duration=60.0
    )
    assert runs.stopped_by.tolist() == ["duration"] * 2
    assert runs.mass_released[0, 0, -1] > 250.0
    np.testing.assert_allclose(runs.mass_released[0, 0], runs.mass_released[1, 0], rtol=1e-5, atol=1e-3)
    shut = tank_history(Contents(TANK, fluid, fill=1.0, temperature=293.15), duration=60.0, weather=AIR)
    assert shut.stopped_by == "liquid full"


def test_a_shut_tank_ends_at_the_ends_of_the_tables():
    # ammonia ends at its triple point, 195.5 K; ethane at its critical point, 305 K
    arctic = Weather(air_temperature=181.0)
    for kind in (SphericalTank, lambda **a: HorizontalTank(length=3.0, **a)):
        tank = kind(diameter=1.5, heat_transfer=170.0)
        run = tank_history(contents(tank, Fluid("ammonia"), 0.5, [198.0, 200.0]), weather=arctic)
        assert run.stopped_by.tolist() == ["cold end of the property tables"] * 2
        np.testing.assert_allclose(run.temperature[:, -1], Fluid("ammonia").lowest_temperature, atol=2e-6)
    run = tank_history(
        contents(tank, Fluid("ethane"), 0.5, 280.0), weather=Weather(air_temperature=330.0), duration=1e7
    )
    assert run.stopped_by == "hot end of the property tables"


# -- phases at the openings ----------------------------------------------------------------------------


def test_the_level_passes_the_openings_one_by_one():
    heights = [0.9, 0.6, 0.3, 0.0]
    tank = VerticalTank(diameter=1.0, length=1.0, heads="flat", heat_transfer=2000.0)
    openings = [Opening(diameter=0.02, height=z) for z in heights]
    run = tank_history(contents(tank, fill=0.95), openings=openings, weather=AIR, duration=1e5, points=257)
    assert run.stopped_by == "liquid gone"
    assert run.passes_liquid[:, 0].all()
    level = run.liquid_volume / tank.volume
    for j, z in enumerate(heights[:3]):
        wet = run.passes_liquid[j]
        assert wet.tolist() == sorted(wet.tolist(), reverse=True)
        assert (level[wet] >= z - 1e-8).all()
        assert (level[~wet] <= z + 1e-8).all()
        # vapor is an order of magnitude thinner
        assert run.mass_flow[j][~wet].max() < 0.2 * run.mass_flow[j][wet].min()
    assert run.passes_liquid[3, :-1].all()


def test_swelling_liquid_reaches_a_dry_opening():
    tank = VerticalTank(diameter=1.0, length=1.0, heads="flat", heat_transfer=300.0)
    side = Opening(diameter=1e-3, height=0.9)
    run = tank_history(
        contents(tank, fill=0.88, temperature=270.0), openings=[side], weather=AIR, duration=2e4, points=129
    )
    assert not run.passes_liquid[0, 0]
    assert run.passes_liquid[0].any()
    first = int(np.argmax(run.passes_liquid[0]))
    # it passes to liquid when the level is at the opening's upper edge, and back at its middle
    wet = run.liquid_volume[run.passes_liquid[0]] / tank.volume
    assert 0.9 - 1e-6 <= wet.min() <= wet.max() <= 0.9005 + 1e-6
    assert (run.liquid_volume[:first] / tank.volume <= 0.9005 + 1e-9).all()


def test_an_opening_at_the_very_top_and_one_at_the_very_bottom():
    run = tank_history(contents(), openings=[Opening(diameter=0.01, height=1.04), LEAK], duration=10.0)
    assert not run.passes_liquid[0].any()
    assert run.passes_liquid[1].all()


# -- what the balances mean ----------------------------------------------------------------------------


@pytest.mark.parametrize("openings", [[VENT], [LEAK], [VENT, LEAK], []])
def test_books_are_closed_by_the_phases_own_properties(openings):
    run = tank_history(contents(), openings=openings, weather=AIR, duration=400.0)
    s = PROPANE.saturation(temperature=run.temperature)
    mass = run.liquid_mass + run.vapor_mass
    released = run.mass_released.sum(axis=0)
    np.testing.assert_allclose(mass + released, mass[0], rtol=1e-12)
    space = run.liquid_mass / s.liquid_density + run.vapor_mass / s.vapor_density
    np.testing.assert_allclose(space, TANK.volume, rtol=1e-12)
    energy = (
        run.liquid_mass * s.liquid_internal_energy
        + run.vapor_mass * s.vapor_internal_energy
        + TANK.wall_mass * TANK.wall_heat_capacity * run.temperature
    )
    scale = mass[0] * s.latent_heat[0]
    gap = energy - energy[0] - run.heat_gained + run.enthalpy_released
    assert np.abs(gap).max() < 1e-12 * scale
    assert run.mass_imbalance < 1e-12
    assert run.energy_imbalance < 1e-12


def test_released_mass_heat_and_enthalpy_are_the_integrals_of_their_rates():
    run = tank_history(contents(), openings=[VENT, LEAK], weather=AIR, duration=300.0, points=2001)
    assert run.passes_liquid[1].all()
    s = PROPANE.saturation(temperature=run.temperature)

    def integral(rate):
        return np.sum(0.5 * (rate[1:] + rate[:-1]) * np.diff(run.time))

    # 5e-6: the trapezoid's error over 2,000 steps
    for j in (0, 1):
        assert integral(run.mass_flow[j]) == pytest.approx(run.mass_released[j, -1], rel=5e-6)
    assert integral(170.0 * (293.15 - run.temperature)) == pytest.approx(run.heat_gained[-1], rel=5e-6)
    enthalpy = run.mass_flow[0] * s.vapor_enthalpy + run.mass_flow[1] * s.liquid_enthalpy
    assert integral(enthalpy) == pytest.approx(run.enthalpy_released[-1], rel=5e-6)


@pytest.mark.parametrize("by", [0, 1])
def test_the_vent_alone_as_well(by):
    stops = [{"stop_at_gauge_pressure": 5e4}, {"duration": 200.0}][by]
    run = tank_history(contents(), openings=[VENT], weather=AIR, points=2001, **stops)
    s = PROPANE.saturation(temperature=run.temperature)

    def integral(rate):
        return np.sum(0.5 * (rate[1:] + rate[:-1]) * np.diff(run.time))

    assert integral(run.mass_flow[0]) == pytest.approx(run.mass_released[0, -1], rel=1e-6)
    assert integral(run.mass_flow[0] * s.vapor_enthalpy) == pytest.approx(run.enthalpy_released[-1], rel=1e-6)
    assert integral(170.0 * (293.15 - run.temperature)) == pytest.approx(run.heat_gained[-1], rel=1e-5)


def test_the_final_contents_continue_the_history():
    whole = tank_history(contents(), openings=[VENT], weather=AIR, duration=200.0)
    first = tank_history(contents(), openings=[VENT], weather=AIR, duration=80.0)
    assert first.final.temperature == first.temperature[-1]
    assert first.final.liquid_mass == pytest.approx(first.liquid_mass[-1], rel=1e-12)
    second = tank_history(first.final, openings=[VENT], weather=AIR, duration=120.0)
    assert second.temperature[-1] == pytest.approx(whole.temperature[-1], abs=1e-4)
    assert second.liquid_mass[-1] == pytest.approx(whole.liquid_mass[-1], rel=1e-6)


# -- heat ----------------------------------------------------------------------------------------------


def test_without_an_overall_coefficient_weather_decides():
    tank = HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0)
    shade = Weather(air_temperature=293.15, wind_speed=[2.0, 2.0, 10.0], solar_irradiance=[0.0, 800.0, 0.0])
    run = tank_history(contents(tank, temperature=250.0), weather=shade, duration=3600.0)
    calm, sun, wind = run.temperature[:, -1]
    assert 250.0 < calm < sun
    assert calm < wind
    flux = tank.outside_exchange(Weather(air_temperature=293.15, wind_speed=2.0)).heat_flux(
        run.temperature[0, 0]
    )
    first = run.heat_gained[0, 1] / run.time[0, 1]
    assert first == pytest.approx(float(flux * tank.surface_area), rel=0.02)


def test_with_an_overall_coefficient_sun_and_wind_do_not_matter():
    shade = Weather(air_temperature=293.15, wind_speed=[2.0, 10.0], solar_irradiance=[0.0, 800.0])
    run = tank_history(contents(temperature=250.0), weather=shade, duration=3600.0)
    assert (run.temperature[0] == run.temperature[1]).all()


# -- shapes and bits -----------------------------------------------------------------------------------


def test_shapes():
    tank = HorizontalTank(diameter=np.array([[1.0], [1.2]]), length=4.5, heat_transfer=100.0)
    start = contents(tank, fill=[0.3, 0.5, 0.8])
    openings = [Opening(diameter=0.05, height=np.array([[1.0], [1.2]])), LEAK]
    run = tank_history(start, openings=openings, weather=AIR, duration=50.0, points=7)
    for name in HISTORIES:
        assert getattr(run, name).shape == (2, 3, 7), name
    for name in BY_OPENING:
        assert getattr(run, name).shape == (2, 3, 2, 7), name
    for name in PER_SCENARIO:
        assert getattr(run, name).shape == (2, 3), name
    assert run.final.fill.shape == (2, 3)
    one = tank_history(contents(), openings=[VENT], points=2)
    assert one.time.shape == (2,)
    assert one.mass_flow.shape == (1, 2)
    assert np.ndim(one.plateau_pressure) == np.ndim(one.stopped_by) == 0


def test_every_array_makes_scenarios():
    weather = Weather(air_temperature=[[280.0], [300.0]], ambient_pressure=[[1e5], [9e4]])
    run = tank_history(contents(), openings=[VENT], weather=weather, stop_at_gauge_pressure=[1e5, 2e5, 3e5])
    assert run.time.shape == (2, 3, 33)
    np.testing.assert_allclose(
        run.pressure[..., -1], weather.ambient_pressure + np.array([1e5, 2e5, 3e5]), rtol=1e-7
    )


@pytest.mark.parametrize("openings", [[], [VENT], [LEAK]])
@pytest.mark.parametrize("limits", [{}, {"duration": 10.0}])
def test_no_scenarios(openings, limits):
    run = tank_history(contents(fill=np.empty((2, 0))), openings=openings, **limits)
    assert run.time.shape == (2, 0, 33)
    assert run.mass_flow.shape == (2, 0, len(openings), 33)


def test_points():
    usual = tank_history(contents(), openings=[VENT], weather=AIR)
    for points in (2, 3, 5, 64, np.int64(9)):
        run = tank_history(contents(), openings=[VENT], weather=AIR, points=points)
        assert run.time.shape == (points,)
        # 5e-6: more points take more steps, never fewer than 7, whose error is far less
        assert run.time[-1] == pytest.approx(float(usual.time[-1]), rel=5e-6)


def many(n, seed):
    """Scenarios of all kinds: vapor only, liquid leaks, shut by a hair, plateaus, levels that pass holes."""
    rng = np.random.default_rng(seed)
    tank = {"diameter": rng.uniform(0.8, 2.5, n), "length": rng.uniform(1.0, 8.0, n)}
    tank |= {"wall_mass": rng.choice([0.0, 800.0], n), "heat_transfer": rng.choice([0.0, 40.0, 800.0], n)}
    openings = [
        {"diameter": 10.0 ** rng.uniform(-2.5, -1.2, n), "height": rng.uniform(0.0, 1.0, n)} for _ in range(2)
    ]
    start = {"fill": rng.uniform(0.05, 0.95, n), "temperature": rng.uniform(240.0, 310.0, n)}
    air = {"air_temperature": rng.uniform(250.0, 310.0, n), "ambient_pressure": rng.uniform(6e4, 1.05e5, n)}
    limits = {
        "stop_at_gauge_pressure": 10.0 ** rng.uniform(2.5, 5.0, n),
        "duration": 10.0 ** rng.uniform(1.5, 3.3, n),
    }
    return tank, openings, start, air, limits


def go(case, index=slice(None), points=9):
    tank, openings, start, air, limits = (
        [{k: v[index] for k, v in one.items()} for one in part]
        if isinstance(part, list)
        else {k: v[index] for k, v in part.items()}
        for part in case
    )
    vessel = HorizontalTank(**tank)
    holes = [Opening(diameter=o["diameter"], height=o["height"] * vessel.height) for o in openings]
    return tank_history(
        Contents(vessel, PROPANE, **start), openings=holes, weather=Weather(**air), points=points, **limits
    )


def test_one_of_thousands_is_the_same_to_the_bit_alone():
    case = many(4_100, 11)
    together = go(case, points=3)
    # all ends and both ways of marching are among them
    assert {"gauge pressure", "duration", "settled"} <= set(together.stopped_by.tolist())
    wet = together.passes_liquid.any(axis=(1, 2))
    assert 0.1 < wet.mean() < 0.95
    for i in [*range(0, 4_100, 683), int(np.argmax(wet)), int(np.argmin(wet)), 2047, 2048, 4099]:
        alone = go(case, i, points=3)
        for name in (*HISTORIES, *BY_OPENING, *PER_SCENARIO):
            assert np.all(getattr(alone, name) == getattr(together, name)[i]), (i, name)
        assert alone.final.fill == together.final.fill[i]


def test_progress_counts_scenarios(monkeypatch):
    monkeypatch.setattr(history, "BLOCK", 4)
    seen = []
    run = tank_history(
        contents(fill=np.linspace(0.2, 0.8, 10)),
        openings=[VENT],
        points=2,
        progress=lambda done, total: seen.append((done, total)),
    )
    assert seen == [(4, 10), (8, 10), (10, 10)]
    monkeypatch.undo()
    whole = tank_history(contents(fill=np.linspace(0.2, 0.8, 10)), openings=[VENT], points=2)
    assert whole == run


def test_equality_and_pickling():
    run = tank_history(contents(), openings=[VENT], points=3)
    assert pickle.loads(pickle.dumps(run)) == run


# -- the two ways of marching --------------------------------------------------------------------------


def venting_of(case, index):
    """The kernel's own problem, for the two marches to be compared on."""
    tank, openings, start, air, limits = case
    vessel = HorizontalTank(**{k: v[index] for k, v in tank.items()})
    n = len(index)
    numbers = {
        "fill": start["fill"][index],
        "temperature": start["temperature"][index],
        "air_pressure": air["ambient_pressure"][index],
        "stop_pressure": air["ambient_pressure"][index] + limits["stop_at_gauge_pressure"][index],
        "opening_area": np.stack([0.62 * np.pi / 4 * o["diameter"][index] ** 2 for o in openings]),
        "opening_diameter": np.stack([o["diameter"][index] for o in openings]),
        "opening_height": np.broadcast_to(vessel.height, (len(openings), n)),
    }
    heat = gather.heat_from_outside(
        take_tank(vessel, np.arange(n)), numbers | {"air_temperature": air["air_temperature"][index]}
    )
    return solve.prepare(PROPANE, vessel, heat, numbers), numbers["temperature"]


def test_marching_in_temperature_agrees_with_short_steps_in_time():
    case = many(140, 5)
    venting, temperature = venting_of(case, np.arange(140))
    found = quadrature.march_in_temperature(venting, temperature, 33)
    served = found.served
    assert served.size > 70
    by_time = in_short_steps(venting.take(served), temperature[served], 33)
    assert (found.codes == by_time.codes).mean() > 0.97
    # a plateau is approached for ever, and the two stop anywhere within a millikelvin of it
    stop = (found.codes == 1) & (by_time.codes == 1) & (np.abs(found.rest - found.states[-1, 1]) > 0.02)
    assert stop.sum() > 28
    took, other = found.states[-1, 0], by_time.states[-1, 0]
    # 7 steps of tenth order
    np.testing.assert_allclose(took[stop], other[stop], rtol=1e-4)
    np.testing.assert_allclose(
        found.states[-1, 2:-2][:, stop] / venting.mass[served][stop],
        by_time.states[-1, 2:-2][:, stop] / venting.mass[served][stop],
        atol=1e-5,
    )


def test_the_quadrature_converges_with_the_tenth_order(monkeypatch):
    venting, temperature = venting_of(many(60, 8), np.arange(60))
    monkeypatch.setattr(quadrature, "SWEEPS", 6)
    times = {}
    for steps in (4, 8, 64):
        monkeypatch.setattr(lobatto, "FEWEST_STEPS", steps)
        times[steps] = quadrature.march_in_temperature(venting, temperature, 3)
    served = set.intersection(*(set(q.served.tolist()) for q in times.values()))
    assert len(served) > 25
    ends = {n: q.states[-1, 0][np.isin(q.served, sorted(served))] for n, q in times.items()}
    coarse, fine = (np.median(np.abs(ends[n] / ends[64] - 1.0)) for n in (4, 8))
    assert 8.5 < np.log2(coarse / fine) < 11.0, (coarse, fine)


# -- refusals ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "error", "message"),
    [
        ({"contents": TANK}, InputError, "contents must be Contents"),
        ({"openings": VENT}, InputError, "openings must be a sequence of openings"),
        ({"openings": 5}, InputError, "openings must be a sequence of openings, got 5"),
        ({"openings": None}, InputError, "openings must be a sequence of openings, got None"),
        ({"openings": [VENT, 0.1]}, InputError, "openings must be a sequence of openings"),
        ({"weather": "windy"}, InputError, "weather must be Weather, got 'windy'"),
        ({"points": 1}, InputError, "points must be a whole number of at least 2 and at most 100000, got 1"),
        (
            {"points": 2.5},
            InputError,
            "points must be a whole number .*, got 2.5",
        ),
        (
            {"points": True},
            InputError,
            "points must be a whole number .*, got True",
        ),
        ({"duration": -1.0}, OutOfRangeError, r"duration = -1 s is outside the allowed range \[0, inf\)"),
        ({"duration": 0.0}, OutOfRangeError, r"duration = 0 s .*the lower end excluded"),
        ({"duration": float("nan")}, InputError, "duration must be finite"),
        ({"duration": float("inf")}, InputError, "duration must be finite"),
        ({"stop_at_gauge_pressure": -1.0}, OutOfRangeError, r"stop_at_gauge_pressure = -1 Pa"),
        (
            {"stop_at_gauge_pressure": 5e6},
            OutOfRangeError,
            r"ambient_pressure \+ stop_at_gauge_pressure = 5101325 Pa .*saturation pressures of propane",
        ),
        (
            {"openings": [VENT, Opening(diameter=0.01, height=1.05)]},
            OutOfRangeError,
            r"height of opening 1 = 1\.05 m is outside the allowed range \[0, 1\.04\] m: the tank's inside h",
        ),
        (
            {"openings": [Opening(diameter=[0.01, 0.02])], "duration": [1.0, 2.0, 3.0]},
            InputError,
            r"shapes do not broadcast: .*duration \(3,\).*area of opening 0 \(2,\)",
        ),
    ],
)
def test_refusals(arguments, error, message):
    given = {"contents": contents(), "openings": [VENT]} | arguments
    with pytest.raises(error, match=message):
        tank_history(given.pop("contents"), **given)


def test_refuses_wrong_dimensions():
    units = pint.UnitRegistry()
    wrong = [
        ("stop_at_gauge_pressure", units.Quantity(20.0, "degF")),
        ("stop_at_gauge_pressure", units.Quantity(2.0, "m")),
        ("duration", units.Quantity(2.0, "kg")),
        ("duration", units.Quantity(2.0, "delta_degF")),
    ]
    for name, value in wrong:
        with pytest.raises(InputError, match=f"{name} must have the dimension"):
            tank_history(contents(), openings=[VENT], **{name: value})


def test_units():
    units = pint.UnitRegistry()
    run = tank_history(
        contents(),
        openings=[VENT],
        duration=units.Quantity(1.0, "minute"),
        stop_at_gauge_pressure=units.Quantity(1.0, "psi"),
    )
    si = tank_history(contents(), openings=[VENT], duration=60.0, stop_at_gauge_pressure=6894.757293168361)
    assert run.stopped_by == si.stopped_by == "duration"
    assert run.temperature[-1] == pytest.approx(si.temperature[-1], rel=1e-12)


def test_two_points_are_the_ends_of_more():
    # a wide vent comes to rest long before the duration ends: rest and end are told by the same march
    tank = HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=170.0)
    contents = Contents(tank, Fluid("propane"), fill=[0.1, 0.5, 0.98], temperature=293.15)
    wide = Opening(diameter=0.2, height=1.04)
    two, three = (tank_history(contents, openings=[wide], duration=600.0, points=points) for points in (2, 3))
    assert two.time.shape == (3, 2)
    for name in ("time", "pressure", "temperature", "liquid_mass", "mass_released"):
        assert np.array_equal(getattr(two, name), getattr(three, name)[..., [0, 2]])
    assert np.all(two.stopped_by == "duration")
    assert two.pressure[:, -1] == pytest.approx(101325.0, rel=1e-5)


def test_a_tank_at_rest_is_held_from_the_start():
    # within a millikelvin of rest: its rate is steady, and equals that of a tank that came to rest
    tank = HorizontalTank(diameter=1.2, length=3.0, wall_mass=900.0)
    vent = Opening(diameter=0.0508, height=1.2)
    temperature = np.array([231.05094051, 231.06])  # rest: 231.05105
    contents = Contents(tank, Fluid("propane"), fill=0.43, temperature=temperature)
    run = tank_history(contents, openings=[vent], duration=6 * 3600.0, points=9)
    assert np.all(run.stopped_by == "duration")
    left = run.liquid_mass[:, -1] / run.liquid_mass[:, 0]
    # the warmer one first gives off the 9 mK of its liquid and wall: some 5e-5 of it
    assert left[0] == pytest.approx(left[1], abs=1e-4)
    still = run.mass_flow[0, 0, 1:]
    np.testing.assert_allclose(still, still[0], rtol=1e-12)
    assert np.all(run.mass_imbalance < 1e-12)
    dry = tank_history(contents, openings=[vent], duration=4 * 86400.0, points=2)
    assert np.all(dry.stopped_by == "liquid gone")
    assert dry.time[0, -1] == pytest.approx(dry.time[1, -1], rel=1e-3)


def test_a_tank_at_rest_without_liquid_goes_on_in_time():
    tank = HorizontalTank(diameter=1.2, length=3.0, wall_mass=900.0)
    contents = Contents(tank, Fluid("propane"), fill=0.0, temperature=231.05094051)
    run = tank_history(contents, openings=[Opening(diameter=0.0508, height=1.2)], duration=60.0, points=5)
    assert np.all(np.diff(run.time) >= 0.0)
    assert run.stopped_by == "liquid gone"


@pytest.mark.parametrize("duration", [1e-3, 1e-8, 1e-15])
@pytest.mark.parametrize("openings", [[], [Opening(diameter=0.01, height=1.04)]])
def test_a_moment_is_a_duration(duration, openings):
    # temperature moves by less than its digits tell: such a history has no steps in temperature
    run = tank_history(contents(), openings=openings, duration=duration, points=5)
    assert run.stopped_by == "duration"
    assert run.time[-1] == pytest.approx(duration, rel=1e-9)
    assert run.temperature[-1] == pytest.approx(run.temperature[0], abs=1e-4)


def test_a_tank_that_warms_to_its_plateau_stays_there_for_weeks(monkeypatch):
    """Vented far wider than what boils off: by the steps of its pressure it took hundreds of thousands."""
    monkeypatch.setattr("lpgrelease.collocation.march.MOST_TRIALS", 200)
    tank = HorizontalTank(diameter=0.87, length=10.7, wall_mass=4000.0, heat_transfer=65.0)
    contents = Contents(tank, Fluid("ammonia"), fill=0.25, temperature=229.6)
    vent = Opening(diameter=0.065, height=0.3)
    run = tank_history(
        contents, openings=[vent], weather=Weather(air_temperature=268.7), duration=20 * 86400.0
    )
    boils = run.mass_flow[0] > 0.0
    assert boils[-2]
    assert not boils[0]
    boiling = Fluid("ammonia").saturation_temperature(101325.0)
    assert run.temperature[-2] == pytest.approx(float(boiling), abs=1e-3)
    # what goes is what the heat makes boil
    latent = Fluid("ammonia").saturation(temperature=run.temperature[-2]).latent_heat
    assert run.mass_flow[0, -2] == pytest.approx(65.0 * (268.7 - run.temperature[-2]) / latent, rel=0.01)


def test_energy_closes_from_next_to_the_critical_point():
    """Where heat capacities change at once, a point is put back on the balance twice."""
    tank = HorizontalTank(diameter=1.87, length=4.82, wall_mass=3860.0)
    gas = Fluid("nitrous oxide")
    contents = Contents(tank, gas, fill=0.72, temperature=gas.critical_temperature - 5.0)
    openings = [Opening(diameter=0.0255, height=1.7), Opening(diameter=0.0029, height=0.7)]
    run = tank_history(contents, openings=openings, weather=Weather(air_temperature=257.4), duration=9000.0)
    assert run.energy_imbalance < 1e-12
    assert run.stopped_by == "duration"
