"""Contact of a pool with its ground: boiling curve, limits, halves that must agree."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.ground import Ground, ground_history
from lpgrelease.ground.boiling import boiling_flux
from lpgrelease.ground.column import GroundColumns
from lpgrelease.pool import Exposure, Hollow, PoolHistory, Spill, pool_history
from lpgrelease.pool.contact import BoilingContact
from lpgrelease.pool.film_break import step_across_break
from lpgrelease.weather import Weather

PROPANE, METHANE, BUTANE = Fluid("propane"), Fluid("methane"), Fluid("n-butane")
AT = np.array([60.0, 600.0, 3600.0, 6 * 3600.0])


def deep(fluid: Fluid, ground: Ground, air: float, **changes) -> PoolHistory:
    """A pool so wide and deep that it only boils on the ground, wetted at once."""
    boiling = float(fluid.normal_boiling_point)
    (density,) = fluid.saturated(np.array(boiling), "liquid_density")
    calm = Exposure(
        wind_share=0.0,
        sun_share=0.0,
        sky_share=0.0,
        cover_temperature=max(boiling, 160.0),
        vapor_fill=1.0,
    )
    return pool_history(
        fluid,
        Spill(mass=density * 2e5, temperature=boiling),
        ground=ground,
        weather=Weather(air_temperature=air),
        site=Hollow(area=1e4, depth=30.0, exposure=calm),
        duration=6 * 3600.0,
        **changes,
    )


def kept_back(fluid: Fluid, ground: Ground, air: float, **changes) -> np.ndarray:
    """Heat from the ground over that of perfect contact, at some times."""
    found = [deep(fluid, ground, air, contact=c, **changes) for c in ("boiling", "perfect")]
    one, other = (np.interp(AT, p.time, p.heat_from_ground) for p in found)
    return one / other


CASES = {
    "bubbles": (PROPANE, "moist sand", 290.0),
    "dry": (PROPANE, "dry sand", 300.0),
    "freezing": (BUTANE, "clay", 295.0),
    "film": (METHANE, "moist sand", 290.0),
}


@pytest.mark.parametrize("case", CASES)
def test_the_ground_gives_what_columns_under_the_boiling_curve_give(case):
    # finite volumes, a state for every cell, the whole curve at each surface temperature; no code in common
    fluid, name, air = CASES[case]
    ground = Ground.named(name, temperature=air, minimum_depth=1e-4)
    covers = {"temperature": [fluid.normal_boiling_point], "duration": [6 * 3600.0]}
    one, other = ground_history(ground, fluid=fluid, **covers), ground_history(ground, **covers)
    expected = np.interp(AT, one.time, one.heat) / np.interp(AT, other.time, other.heat)
    # spreading in the first seconds; the film's flux as a power of the difference is good to 2 %
    allowed = 0.02 if case == "film" else 0.012
    assert kept_back(fluid, ground, air, nodes=161) == pytest.approx(expected, rel=allowed)


@pytest.mark.parametrize("case", CASES)
def test_columns_give_what_rings_of_a_half_space_give(case):
    fluid, name, air = CASES[case]
    ground = Ground.named(name, temperature=air, minimum_depth=1e-4)
    split = Ground.named(name, temperature=air, minimum_depth=1e-4, thickness=0.5, below=ground)
    one, other = (deep(fluid, g, air, nodes=121) for g in (ground, split))
    # methane's film lasts ten minutes and breaks within a step
    late = one.time > 60.0
    # columns of freezing ground are up to 1.5 % above half-spaces under perfect contact too
    assert other.heat_from_ground[late] == pytest.approx(one.heat_from_ground[late], rel=0.025)


def test_fed_pools_on_either_ground_agree():
    sand = Ground.named("moist sand")
    split = Ground.named("moist sand", thickness=0.5, below=sand)
    weather = Weather(air_temperature=300.15, wind_speed=2.0)
    spill = Spill(mass_flow=0.5, duration=900.0)
    one, other = (
        pool_history(PROPANE, spill, ground=g, weather=weather, duration=3600.0) for g in (sand, split)
    )
    assert other.radius.max() == pytest.approx(one.radius.max(), rel=0.005)
    assert other.gone_at == pytest.approx(one.gone_at, rel=0.01)


@pytest.mark.parametrize("layered", [False, True])
def test_a_very_large_conductance_is_perfect_contact(layered, monkeypatch):
    sand = Ground.named("moist sand")
    ground = Ground.named("moist sand", thickness=0.5, below=sand) if layered else sand
    prepare = BoilingContact.prepare.__func__

    def steep(cls, *arguments):
        curve = prepare(cls, *arguments)
        names = ("convection", "bubbles", "film", "least_film")
        return dataclasses.replace(curve, **{name: 1e9 * getattr(curve, name) for name in names})

    spill = Spill(mass_flow=0.5, duration=900.0)
    perfect = pool_history(PROPANE, spill, ground=ground, duration=3600.0, contact="perfect")
    monkeypatch.setattr(BoilingContact, "prepare", classmethod(steep))
    boiling = pool_history(PROPANE, spill, ground=ground, duration=3600.0)
    for name in ("mass", "heat_from_ground", "area"):
        one, other = getattr(perfect, name), getattr(boiling, name)
        # rings share the rise of their first step out evenly; columns touch through 1e7 W/m2/K when perfect
        np.testing.assert_allclose(other, one, rtol=2e-3, atol=2e-3 * one.max(), err_msg=name)


def test_boiling_keeps_heat_back_and_pools_wider_and_longer():
    wet = Ground.named("moist sand")
    spill = Spill(mass_flow=0.5, duration=900.0)
    found = [
        pool_history(PROPANE, spill, ground=wet, duration=3600.0, contact=c) for c in ("boiling", "perfect")
    ]
    assert 1.02 < found[0].radius.max() / found[1].radius.max() < 1.1
    assert found[0].gone_at > found[1].gone_at
    for pool in found:
        assert pool.energy_imbalance < 1e-12
        assert pool.mass_imbalance < 1e-12


@pytest.mark.parametrize("difference", [0.1, 1.0, 4.0, 10.0])
def test_the_curve_is_that_of_the_boiling_flux(difference):
    boiling = np.array([float(PROPANE.normal_boiling_point)])
    curve = BoilingContact.prepare(PROPANE, boiling, boiling + 60.0)
    slope, sink = curve.tangent(np.full(1, difference), boiling, np.zeros(1, dtype=bool))
    flux, exponent = boiling_flux(PROPANE, boiling, boiling + difference)
    assert slope * (boiling + difference - sink) == pytest.approx(flux, rel=0.01)
    assert slope == pytest.approx(exponent * flux / difference, rel=0.01)


def test_the_touch_balances_ground_and_liquid():
    boiling = np.full(5, float(PROPANE.normal_boiling_point))
    curve = BoilingContact.prepare(PROPANE, boiling, boiling + 60.0)
    perfect, kept = np.array([-5e3, 1.0, 1e4, 1e5, 3e6]), np.full(5, 2e3)
    for colder in (0.0, 20.0):
        none = np.zeros(5, dtype=bool)
        touch = curve.touch(perfect, kept, np.full(5, 10.0), boiling - colder, np.full(5, 30.0), none)
        np.testing.assert_allclose(touch.heat, perfect - kept * touch.difference)
        assert touch.heat[0] == perfect[0]
        slope, sink = curve.tangent(touch.difference, boiling - colder, touch.film)
        taken = 10.0 * slope * (boiling - colder + touch.difference - sink)
        some = touch.difference > 0.03  # below 0.02 K the tangent is another
        np.testing.assert_allclose(touch.heat[some], taken[some], rtol=2e-3)
        assert some.sum() >= 3


def test_other_contacts_are_refused():
    with pytest.raises(InputError, match="contact must be one of boiling, perfect"):
        deep(PROPANE, Ground.named("clay"), 290.0, contact="good")


def test_a_film_breaks_within_a_step_where_the_ground_has_cooled_to_it_and_no_heat_is_lost():
    T = np.full(2, METHANE.normal_boiling_point)
    soil = GroundColumns.prepare(Ground.named("moist sand"), (2,))
    curve = BoilingContact.prepare(METHANE, T, np.full(2, 290.0))
    state = soil.step(soil.start(np.full(2, 290.0)), 60.0, T, curve.film / curve.least_film, True).state
    assert (soil.surface_temperature(state) > T + curve.least_film).all()
    film = curve.tangent(soil.surface_temperature(state) - T, T, np.ones(2, dtype=bool))
    length, warm = np.array([1800.0, 3600.0]), np.full(2, 1500.0)
    before, after, sink = step_across_break(
        soil, state, length, film, np.zeros(2, dtype=bool), curve=curve, effusivity=warm, temperature=T
    )
    # at one time, whether it comes early or late in the step
    assert before.top == pytest.approx(T + curve.least_film, abs=0.02 * float(curve.least_film[0]))
    assert before.heat[0] == pytest.approx(before.heat[1], rel=0.02)
    assert (after.top < T + 15.0).all()
    whole = soil.step(state, length, film[1], film[0], False).replaced(np.arange(2), before, after)
    moved = whole.at(sink + 1.0)
    for step in (whole, moved):
        lost = soil.stored(state) - soil.stored(step.state)
        np.testing.assert_allclose(step.heat - step.deep_heat, lost, rtol=1e-9)
