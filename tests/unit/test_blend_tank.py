"""Tanks of blends: slopes against differences, events, limits, errors by message, one case against many."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest

import lpgrelease as lr
from lpgrelease import (
    Contents,
    Fluid,
    HorizontalTank,
    InputError,
    Line,
    Opening,
    OutOfRangeError,
    Weather,
    tank_history,
)
from lpgrelease.fluids.blend_isentrope import choking_point
from lpgrelease.fluids.equilibrium import LIQUID, VAPOR, bubble_point, flash_entropy
from lpgrelease.fluids.mixture import load_mixture
from lpgrelease.release.blend_nozzle import blend_nozzle
from lpgrelease.tank import BlendContents
from lpgrelease.tank.blend_state import diagonal, standing

NAMES = ("propane", "isobutane", "n-butane", "ethane")
FRACTIONS = (0.6, 0.15, 0.2, 0.05)
BLEND = Fluid(dict(zip(NAMES, FRACTIONS, strict=True)))
TANK = HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=170.0)
MILD = Weather(air_temperature=293.15)


def vent(diameter: float = 0.0508, height: float = 1.04) -> Opening:
    return Opening(diameter=diameter, discharge_coefficient=0.85, height=height)


def full(fill: Any = 0.8, temperature: Any = 293.15, **tank: Any) -> Contents:
    inside = HorizontalTank(
        diameter=1.04, length=4.5, **({"wall_mass": 900.0, "heat_transfer": 170.0} | tank)
    )
    return Contents(inside, BLEND, fill=fill, temperature=temperature)


@pytest.fixture
def states() -> tuple[Any, ...]:
    """Saturated tanks: the mixture, the unknowns, bubble points, volumes and walls."""
    mixture = load_mixture(NAMES)
    t, share = np.array([250.0, 293.15, 330.0]), np.array([0.3, 0.8, 0.5])
    x = np.array(FRACTIONS)[:, None] * np.ones(3)
    point = bubble_point(mixture, x, temperature=t)
    volume, wall = np.full(3, 4.0), np.full(3, 4e5)
    liquid = share * volume / mixture.phase(t, point.pressure, x, LIQUID)[1].volume
    vapor = (1.0 - share) * volume / mixture.phase(t, point.pressure, point.incipient, VAPOR)[1].volume
    w = np.concatenate([liquid * x, vapor * point.incipient, t[None], share[None]])
    return mixture, w, point, volume, wall


def test_bubble_points_are_at_rest_in_a_tank(states: tuple[Any, ...]) -> None:
    mixture, w, point, volume, wall = states
    now = standing(mixture, w, volume, wall)
    assert np.abs(now.rows[5:]).max() < 1e-9
    np.testing.assert_allclose(now.pressure, point.pressure, rtol=1e-12)
    liquid = mixture.phase(w[-2], point.pressure, w[:4] / w[:4].sum(axis=0), LIQUID)[1]
    np.testing.assert_allclose(now.enthalpy[0], liquid.enthalpy * w[:4].sum(axis=0), rtol=1e-12)


@pytest.mark.parametrize("index", range(10))
def test_slopes_in_a_tank_are_those_of_differences(states: tuple[Any, ...], index: int) -> None:
    mixture, w, _, volume, wall = states
    step = 1e-6
    ends = []
    for sign in (1.0, -1.0):
        moved = w.copy()
        moved[index] = moved[index] * (1.0 + sign * step) if index < 9 else moved[index] + sign * step
        ends.append(standing(mixture, moved, volume, wall))
    now = standing(mixture, w, volume, wall)
    for name, slope, size in (
        ("rows", now.matrix[:, index], np.abs(now.matrix).max(axis=1)),
        ("enthalpy", now.enthalpy_slope[:, index], np.abs(now.enthalpy)),
        ("pressure", now.log_pressure_slope[index] * now.pressure, now.pressure),
    ):
        change = (getattr(ends[0], name) - getattr(ends[1], name)) / (2.0 * step)
        # central differences hold half the digits, and the square of the step
        assert np.abs((change - slope) / size).max() < 1e-8, name


@pytest.mark.parametrize("order", [(0, 1, 2), (2, 0, 1), (1, 2, 0)])
def test_diagonal_is_a_view_however_the_matrix_lies_in_memory(order: tuple[int, ...]) -> None:
    shape = (5, 6, 3)
    stored = np.zeros([shape[i] for i in order])
    matrix = stored.transpose(np.argsort(order))
    diagonal(matrix, 2, 1, 3)[:] += 1.0
    expected = np.zeros(shape)
    for i in range(3):
        expected[2 + i, 1 + i] = 1.0
    np.testing.assert_array_equal(matrix, expected)


def test_tabulated_vapor_flux_is_that_of_the_search() -> None:
    mixture, nozzle = load_mixture(NAMES), blend_nozzle(NAMES, FRACTIONS)
    spread = np.random.default_rng(4)
    t = spread.uniform(235.0, 320.0, 12)
    x = np.array(FRACTIONS)[:, None] * np.exp(
        -np.array([1.0, 0.4, 0.3, 3.0])[:, None] * spread.uniform(0, 1, 12)
    )
    point = bubble_point(mixture, x / x.sum(axis=0), temperature=t)
    y, p = point.incipient, point.pressure
    inlet = mixture.phase(t, p, y, VAPOR)[1]
    root = np.sqrt(p * mixture.mass(y) / inlet.volume)
    throat = choking_point(mixture, y, enthalpy=inlet.enthalpy, entropy=inlet.entropy, pressure=p)
    tabulated = nozzle.flux_number(t, y, np.full(12, 1.0))[0] * root
    # interpolated between five vapors: 1.1e-3 is the worst seen, with a twentieth of ethane
    np.testing.assert_allclose(tabulated, throat.flux, rtol=2e-3)
    outside = flash_entropy(mixture, y, 0.8 * p, inlet.entropy)
    exact = np.sqrt(2.0 * (inlet.enthalpy - outside.enthalpy) * mixture.mass(y)) / outside.volume
    np.testing.assert_allclose(
        nozzle.flux_number(t, y, -np.log(np.full(12, 0.8)))[0] * root, exact, rtol=2e-3
    )


def test_vapor_flux_slope_and_its_ends() -> None:
    nozzle = blend_nozzle(NAMES, FRACTIONS)
    t, y = np.full(3, 280.0), np.array(FRACTIONS)[:, None] * np.ones(3)
    drive, step = np.array([0.05, 0.2, 0.4]), 1e-6
    slope = nozzle.flux_number(t, y, drive)[1]
    change = np.log(nozzle.flux_number(t, y, drive + step)[0] / nozzle.flux_number(t, y, drive - step)[0])
    np.testing.assert_allclose(slope, change / (2.0 * step), rtol=1e-6)
    psi, slope = nozzle.flux_number(t, y, np.array([0.0, -0.1, 2.0]))
    assert psi[0] == psi[1] == 0.0 < psi[2]
    assert not slope.any()


def test_light_ends_leave_first_and_the_boiling_point_climbs() -> None:
    run = tank_history(full(), openings=[vent(0.0127)], weather=MILD)
    ethane, butane = NAMES.index("ethane"), NAMES.index("n-butane")
    assert np.all(np.diff(run.liquid_fractions[ethane]) <= 0.0)
    assert np.all(np.diff(run.liquid_fractions[butane]) >= 0.0)
    boiling = bubble_point(
        BLEND.blend.mixture, run.liquid_fractions, pressure=np.full(run.time.size, 101325.0)
    ).temperature
    assert np.all(np.diff(boiling) >= 0.0)
    assert boiling[-1] - boiling[0] > 25.0
    # cooled by the venting first, then the rest warms as it grows heavy
    coldest = int(np.argmin(run.temperature))
    assert 0 < coldest < run.time.size - 1
    assert run.temperature[-1] > run.temperature[coldest] + 10.0
    assert run.stopped_by == "liquid gone"


def test_hole_that_comes_free_passes_vapor_from_then_on() -> None:
    run = tank_history(full(), openings=[vent(0.02, 0.5)], weather=MILD)
    wet = run.passes_liquid[0]
    assert wet[0]
    assert not wet[-1]
    turned = int(np.argmin(wet))
    level = TANK.level_at(run.liquid_volume)
    assert level[turned - 1] >= 0.5 - 1e-6
    assert level[turned] <= 0.5 + 1e-6
    # liquid leaves with the liquid's composition, which hardly changes
    assert abs(run.liquid_fractions[0, turned - 1] - FRACTIONS[0]) < 0.02


def test_stops_are_met_from_both_sides_and_durations_exactly() -> None:
    down = tank_history(full(), openings=[vent()], weather=MILD, stop_at_gauge_pressure=2e5)
    assert down.stopped_by == "gauge pressure"
    assert abs(down.pressure[-1] - 301325.0) < 2e-4 * 2e5
    shut = tank_history(down.final, weather=MILD, stop_at_gauge_pressure=3e5)
    assert shut.stopped_by == "gauge pressure"
    assert abs(shut.pressure[-1] - 401325.0) < 2e-4 * 3e5
    assert shut.pressure[0] == pytest.approx(down.pressure[-1], rel=1e-6)
    np.testing.assert_allclose(shut.component_mass[:, 0], down.component_mass[:, -1], rtol=1e-6)
    short = tank_history(full(), openings=[vent()], weather=MILD, duration=100.0)
    assert short.stopped_by == "duration"
    assert short.time[-1] == pytest.approx(100.0, rel=1e-12)


def test_shut_tank_settles_at_the_temperature_of_the_air() -> None:
    run = tank_history(full(temperature=260.0), weather=MILD, stop_at_gauge_pressure=2e6)
    assert run.stopped_by == "settled"
    assert run.temperature[-1] == pytest.approx(293.15, abs=2e-3)
    assert run.plateau_pressure == run.pressure[-1]
    # nothing left, so the composition moves only by what boils into the growing vapor space
    np.testing.assert_allclose(run.component_mass[:, -1], run.component_mass[:, 0], rtol=1e-12)


def test_warming_tank_that_is_nearly_full_fills_up() -> None:
    run = tank_history(
        full(fill=0.97, temperature=260.0), weather=Weather(air_temperature=310.0), duration=1e6
    )
    assert run.stopped_by == "liquid full"
    assert run.liquid_volume[-1] == pytest.approx(float(TANK.volume), rel=1e-5)


def test_leak_from_the_bottom_empties_the_tank() -> None:
    run = tank_history(full(), openings=[vent(0.03, 0.0)], weather=MILD, duration=1e5)
    assert run.stopped_by == "liquid gone"
    assert run.final.fill < 1e-5


@pytest.mark.parametrize("fill", [0.0, 1.0])
def test_tanks_without_liquid_or_vapor_end_at_once(fill: float) -> None:
    run = tank_history(full(fill=fill), openings=[vent()], weather=MILD, duration=10.0)
    assert run.stopped_by == ("liquid gone" if fill == 0.0 else "liquid full")
    assert run.time[-1] == 0.0


def test_hot_end_is_told_before_and_on_the_way() -> None:
    with pytest.raises(OutOfRangeError, match="critical point of the blend's vapor"):
        tank_history(full(temperature=350.0), openings=[vent()], weather=MILD, duration=10.0)
    hot = full(temperature=300.0, fill=0.3, heat_transfer=None, absorptivity=1.0)
    sunny = Weather(air_temperature=335.0, solar_irradiance=1500.0, wind_speed=0.0)
    run = tank_history(hot, weather=sunny, duration=1e7)
    assert run.stopped_by == "hot end of the property tables"


def test_what_only_pure_fluids_have_is_refused() -> None:
    hose = Line(diameter=0.025, length=5.0, height=1.04)
    with pytest.raises(InputError, match="is a blend: the history of its tank serves openings"):
        tank_history(full(), openings=[hose], weather=MILD, duration=10.0)
    with pytest.raises(InputError, match="is a blend: the history of its tank serves openings"):
        tank_history(full(), openings=[vent()], weather=MILD, duration=10.0, air_enters=True)


def test_contents_of_a_blend_check_their_fractions() -> None:
    def made(fluid: Fluid = BLEND, fractions: Any = FRACTIONS) -> BlendContents:
        return BlendContents(TANK, fluid, fill=0.5, temperature=280.0, liquid_fractions=fractions)

    with pytest.raises(InputError, match="one mole fraction for each component of a blend"):
        made(Fluid("propane"), [1.0])
    with pytest.raises(InputError, match="one mole fraction for each component of a blend"):
        made(fractions=[0.5, 0.5])
    with pytest.raises(InputError, match="add up to 1"):
        made(fractions=[0.5, 0.2, 0.2, 0.2])
    plain = Contents(TANK, BLEND, fill=0.5, temperature=280.0)
    assert made().pressure == pytest.approx(plain.pressure, rel=1e-7)
    assert made().mass == pytest.approx(plain.mass, rel=1e-7)
    assert made().fluid_at() == BLEND
    several = made(fractions=[FRACTIONS, (0.25, 0.25, 0.25, 0.25)])
    assert several.pressure.shape == (2,)
    assert several.fluid_at(1).fractions == (0.25, 0.25, 0.25, 0.25)
    with pytest.raises(InputError, match="must pick one scenario"):
        several.fluid_at()


def test_pure_fluids_have_one_component() -> None:
    contents = Contents(TANK, Fluid("propane"), fill=0.8, temperature=293.15)
    run = tank_history(contents, openings=[vent()], weather=MILD, points=5)
    assert run.liquid_fractions.shape == run.component_mass.shape == (1, 5)
    assert np.all(run.vapor_fractions == 1.0)
    assert np.array_equal(run.component_mass[0], run.liquid_mass + run.vapor_mass)


def test_shapes_of_many_scenarios_and_data_frames() -> None:
    pytest.importorskip("pandas")
    run = tank_history(
        full(fill=[[0.5], [0.8]], temperature=[280.0, 290.0, 300.0]),
        openings=[vent()],
        weather=MILD,
        points=5,
    )
    assert run.pressure.shape == (2, 3, 5)
    assert run.component_mass.shape == (2, 3, 4, 5)
    assert run.final.liquid_fractions.shape == (2, 3, 4)
    frame = run.to_dataframe()
    assert len(frame) == 30
    assert "component_mass_3 [kg]" in frame


def test_many_scenarios_are_solved_in_blocks_without_a_difference() -> None:
    temperature = np.linspace(275.0, 300.0, 501)
    run = tank_history(
        full(temperature=temperature), openings=[vent()], weather=MILD, duration=60.0, points=3
    )
    for i in (0, 250, 500):
        one = tank_history(
            full(temperature=temperature[i]), openings=[vent()], weather=MILD, duration=60.0, points=3
        )
        assert np.array_equal(one.component_mass, run.component_mass[i])
        assert np.array_equal(one.pressure, run.pressure[i])


def test_a_blend_in_cold_air_cools_below_the_airs_pressure_and_loses_nothing_more():
    """It hung a fifth of a pascal below, vapor flowing in that nobody brought, until the march gave up."""
    butane = Fluid({"n-butane": 0.5, "isobutane": 0.3, "propane": 0.2})
    tank = HorizontalTank(diameter=1.29, length=8.0, wall_mass=4700.0)
    contents = Contents(tank, butane, fill=0.7, temperature=304.0)
    vent = Opening(diameter=0.06, height=1.0)
    cold = Weather(air_temperature=256.6, wind_speed=6.0)
    run = tank_history(contents, openings=[vent], weather=cold, duration=13200.0)
    assert run.pressure[-1] < 0.95 * 101325.0
    below = run.pressure < 101325.0
    assert below.sum() > 5
    assert (run.mass_flow[0, below] == 0.0).all()
    assert np.ptp(run.mass_released[0, below]) <= 1e-9 * run.liquid_mass[0]
    assert run.temperature[-1] < run.temperature[below][0] - 0.5


def test_a_blend_that_begins_to_flow_between_two_points_gains_none_of_its_components():
    blend = Fluid({"n-butane": 0.5, "isobutane": 0.3, "propane": 0.2})
    tank = HorizontalTank(diameter=2.9, length=1.03, wall_mass=1169.0)
    contents = Contents(tank, blend, fill=0.542, temperature=255.2245)
    vents = [Opening(diameter=0.0266, height=2.64), Opening(diameter=0.00419, height=1.74)]
    air = Weather(air_temperature=267.1, wind_speed=8.74, solar_irradiance=512.6)
    run = tank_history(contents, openings=vents, weather=air, duration=724.0, points=17)
    assert run.mass_flow[0, -1] > 0.0
    assert run.mass_flow[0, -2] == 0.0
    assert (np.diff(run.component_mass) <= 1e-12 * run.liquid_mass[0]).all()
    assert run.mass_imbalance < 1e-9


# -- what is asked of contents whose liquid is no longer the one loaded --------------------------------------


ASKED = {
    "level_swell": {"vapor_flow": 0.5, "height": [0.6, 1.0]},
    "fire_engulfment": {"elevation": 0.5},
    "liquid_full": {"heat": 5e3},
}


@pytest.mark.parametrize("name", ASKED)
def test_what_is_asked_of_a_vented_blend_goes_by_the_liquid_that_is_left(name):
    x = np.array([[0.05, 0.1, 0.85, 0.0], [0.6, 0.15, 0.2, 0.05]])
    t = np.array([300.0, 250.0])
    left = BlendContents(TANK, BLEND, fill=[0.3, 0.7], temperature=t, liquid_fractions=x)
    answer = getattr(lr, name)(left, **ASKED[name])
    for i, fill in enumerate((0.3, 0.7)):
        # the same liquid as a blend of its own, by the table of its bubble line
        alone = Contents(TANK, left.fluid_at(i), fill=fill, temperature=t[i])
        asked = {key: value[i] if isinstance(value, list) else value for key, value in ASKED[name].items()}
        one = getattr(lr, name)(alone, **asked)
        # and to the bit what the scenario says alone
        single = BlendContents(TANK, BLEND, fill=fill, temperature=t[i], liquid_fractions=x[i])
        same = getattr(lr, name)(single, **asked)
        for field in dataclasses.fields(one):
            if "unit" in field.metadata:
                each = getattr(answer, field.name)[i]
                assert each == pytest.approx(getattr(one, field.name), rel=1e-6)
                assert each == getattr(same, field.name)


def test_a_blend_is_not_held_at_rest():
    for contents in (full(), tank_history(full(), openings=[vent()], duration=60.0).final):
        with pytest.raises(InputError, match=r"contents must be of a pure fluid, got 60 % propane"):
            lr.steady_hold(contents)


def test_swelling_goes_by_the_blend_that_is_left():
    """At each point of a history: what `level_swell` says of the liquid that is in the tank then."""
    heavy = Fluid({"propane": 0.5, "n-pentane": 0.5})
    diameters = np.linspace(0.03, 0.13, 11)
    start = Contents(TANK, heavy, fill=0.8, temperature=300.0)
    run = tank_history(start, openings=[vent(diameters, 0.95)], duration=600.0, weather=MILD, points=9)
    x = np.moveaxis(run.liquid_fractions, 1, -1)
    there = BlendContents(
        TANK, heavy, fill=run.liquid_volume / TANK.volume, temperature=run.temperature, liquid_fractions=x
    )
    swell = lr.level_swell(there, vapor_flow=run.mass_flow[:, 0], height=0.95)
    comes = (swell.carries_liquid & (run.mass_flow[:, 0] > 0.0)).any(axis=1)
    assert 0 < comes.sum() < diameters.size
    assert np.array_equal(run.carries_liquid[:, 0], comes)
