"""Tank histories of blends: balances, directions and independence, for any tank, blend, hole and weather."""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from strategies import few, finite

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
from lpgrelease.fluids.equilibrium import LIQUID, VAPOR
from lpgrelease.tank import BlendContents

BLENDS = (
    {"propane": 0.6, "n-butane": 0.4},
    {"propane": 0.95, "n-butane": 0.03, "ethane": 0.02},
    {"propane": 0.3, "isobutane": 0.25, "n-butane": 0.42, "isopentane": 0.03},
    {"propylene": 0.5, "propane": 0.5},
    {"isobutane": 0.5, "n-butane": 0.5},
)
ROUND_OFF = 1e-11


def array(draw: Any, n: int, low: float, high: float) -> Any:
    return np.array([draw(finite(low, high)) for _ in range(n)])


@st.composite
def cases(draw: Any) -> dict[str, Any]:
    """Everything that `tank_history` takes of a blend, for one to three scenarios."""
    n = draw(st.integers(1, 3))
    diameter = array(draw, n, 0.5, 3.0)
    kind = draw(st.sampled_from([HorizontalTank, VerticalTank, SphericalTank]))
    size = {} if kind is SphericalTank else {"length": draw(finite(0.5, 10.0))}
    heat = {"heat_transfer": draw(st.sampled_from([None, 0.0, 60.0, 700.0]))}
    tank = kind(diameter=diameter, wall_mass=draw(st.sampled_from([0.0, 700.0])), **size, **heat)
    openings = [
        Opening(diameter=draw(finite(1e-3, 0.08)), height=draw(finite(0.0, 1.0)) * tank.height)
        for _ in range(draw(st.integers(0, 3)))
    ]
    weather = Weather(
        air_temperature=array(draw, n, 250.0, 315.0),
        solar_irradiance=draw(finite(0.0, 900.0)),
        ambient_pressure=draw(finite(6e4, 1.05e5)),
    )
    contents = Contents(
        tank,
        Fluid(draw(st.sampled_from(BLENDS))),
        fill=array(draw, n, 0.02, 0.98),
        temperature=array(draw, n, 250.0, 315.0),
    )
    limits = {"stop_at_gauge_pressure": draw(finite(500.0, 2e5)), "duration": draw(finite(10.0, 2e4))}
    return {"contents": contents, "openings": openings, "weather": weather, **limits}


def run_of(case: dict[str, Any], **changes: Any) -> Any:
    given_ = case | changes
    return tank_history(given_.pop("contents"), points=9, **given_)


def energy(run: Any, contents: Contents) -> Any:
    """Internal energy of contents and wall [J] at every point, from the phases alone."""
    mixture, shape = contents.fluid.blend.mixture, run.temperature.shape
    t, p = np.ravel(run.temperature), np.ravel(run.pressure)
    total = 0.0
    for side, fractions, mass in (
        (LIQUID, run.liquid_fractions, run.liquid_mass),
        (VAPOR, run.vapor_fractions, run.vapor_mass),
    ):
        x = np.moveaxis(fractions, -2, 0).reshape(len(mixture.names), -1)
        state = mixture.phase(t, p, x, side)[1]
        total = total + (state.enthalpy - p * state.volume) / mixture.mass(x) * np.ravel(mass)
    capacity = np.broadcast_to(contents.tank.wall_capacity, shape[:-1])[..., None]
    return total.reshape(shape) + capacity * run.temperature


@few(25)
@given(cases())
def test_mass_of_each_component_and_energy_close_to_round_off(case: dict[str, Any]) -> None:
    run, contents = run_of(case), case["contents"]
    assert np.all(run.mass_imbalance < ROUND_OFF)
    mixture = contents.fluid.blend.mixture
    whole = run.component_mass.sum(axis=-2)
    first = whole[..., :1]
    np.testing.assert_allclose(whole, run.liquid_mass + run.vapor_mass, rtol=1e-12)
    np.testing.assert_allclose(whole + run.mass_released.sum(axis=-2), first + 0.0 * whole, rtol=ROUND_OFF)
    # the phases' fractions and masses say the same of every component
    molar = mixture.molar_mass
    by_phase = 0.0
    for fractions, mass in ((run.liquid_fractions, run.liquid_mass), (run.vapor_fractions, run.vapor_mass)):
        shares = fractions * molar
        by_phase = by_phase + shares / shares.sum(axis=-2, keepdims=True) * mass[..., None, :]
    np.testing.assert_allclose(by_phase, run.component_mass, rtol=1e-10, atol=1e-12)
    held = energy(run, contents)
    change = held - held[..., :1] - run.heat_gained + run.enthalpy_released
    # the liquid's energy from its cubic root holds ten digits of the whole
    assert np.all(np.abs(change) < 1e-9 * 4e5 * first)


@few(20)
@given(cases())
def test_phases_are_at_equilibrium_and_fill_the_tank(case: dict[str, Any]) -> None:
    run, contents = run_of(case), case["contents"]
    mixture = contents.fluid.blend.mixture
    t, p = np.ravel(run.temperature), np.ravel(run.pressure)
    x, y = (
        np.moveaxis(each, -2, 0).reshape(len(mixture.names), -1)
        for each in (run.liquid_fractions, run.vapor_fractions)
    )
    (raw_l, liquid), (raw_v, vapor) = mixture.phase(t, p, x, LIQUID), mixture.phase(t, p, y, VAPOR)
    gap = np.log(x) + raw_l.log_fugacity - np.log(y) - raw_v.log_fugacity
    assert np.all(np.abs(np.where(x > 1e-9, gap, 0.0)) < 1e-7)
    filled = (
        np.ravel(run.liquid_mass) * liquid.volume / mixture.mass(x)
        + np.ravel(run.vapor_mass) * vapor.volume / mixture.mass(y)
    ).reshape(run.temperature.shape)
    volume = np.broadcast_to(contents.tank.volume, run.temperature.shape[:-1])[..., None]
    np.testing.assert_allclose(filled, np.broadcast_to(volume, filled.shape), rtol=1e-9)


@few(15)
@given(cases())
def test_vapor_is_richer_in_what_boils_first(case: dict[str, Any]) -> None:
    run, contents = run_of(case), case["contents"]
    lightest = int(np.argmin(contents.fluid.blend.mixture.cubic.critical_temperature[:, 0]))
    x, y = run.liquid_fractions[..., lightest, :], run.vapor_fractions[..., lightest, :]
    assert np.all(y > x)
    # where only vapor leaves, the liquid loses of it
    dry = ~run.passes_liquid.any(axis=(-2, -1)) if case["openings"] else np.ones(x.shape[:-1], dtype=bool)
    leaves = run.mass_released.sum(axis=-2)[..., -1] > 1e-3 * run.component_mass.sum(axis=-2)[..., 0]
    poorer = x[..., -1] < x[..., 0]
    assert np.all(poorer | ~dry | ~leaves)


@few(25)
@given(cases())
def test_one_scenario_alone_is_the_same_to_the_bit(case: dict[str, Any]) -> None:
    run, contents = run_of(case), case["contents"]
    last = run.time.shape[0] - 1
    tank = contents.tank
    size = {} if isinstance(tank, SphericalTank) else {"length": tank.length}
    alone = type(tank)(
        diameter=tank.diameter[last],
        wall_mass=tank.wall_mass,
        heat_transfer=tank.heat_transfer,
        **size,
    )
    weather = case["weather"]
    one = run_of(
        case,
        contents=Contents(
            alone, contents.fluid, fill=contents.fill[last], temperature=contents.temperature[last]
        ),
        openings=[
            Opening(diameter=each.diameter, height=np.broadcast_to(each.height, tank.diameter.shape)[last])
            for each in case["openings"]
        ],
        weather=Weather(
            air_temperature=weather.air_temperature[last],
            solar_irradiance=weather.solar_irradiance,
            ambient_pressure=weather.ambient_pressure,
        ),
    )
    for name in ("time", "pressure", "temperature", "component_mass", "mass_released", "heat_gained"):
        assert np.array_equal(getattr(one, name), getattr(run, name)[last]), name
    assert one.stopped_by == run.stopped_by[last]


@given(cases())
def test_contents_at_the_end_are_those_of_the_history(case: dict[str, Any]) -> None:
    run = run_of(case)
    final = run.final
    assert isinstance(final, BlendContents)
    for name in ("pressure", "liquid_mass", "vapor_mass"):
        np.testing.assert_allclose(getattr(final, name), getattr(run, name)[..., -1], rtol=1e-6)
