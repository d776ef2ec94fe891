"""Forecasts of drawn incidents: books close, bounds hold, directions are right."""

from __future__ import annotations

import dataclasses

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from strategies import few, finite

import lpgrelease as lr

TANK = lr.HorizontalTank(diameter=1.2, length=3.0, wall_mass=900.0)
SCENARIOS = 4

rows = lambda low, high: st.lists(finite(low, high), min_size=SCENARIOS, max_size=SCENARIOS).map(np.array)  # noqa: E731


def told(name, fill, temperature, diameter, height, share=1.0, vent=0.0508, air=288.15):
    incident = lr.Incident(
        contents=lr.Contents(TANK, lr.Fluid(name), fill=fill, temperature=temperature),
        leaks=[lr.Opening(diameter=diameter, height=height)],
        ground=lr.Ground.named("moist sand"),
        weather=lr.Weather(air_temperature=air),
        captured_fraction=share,
    )
    opening = lr.Opening(diameter=vent, height=1.2)
    return lr.forecast(
        incident, lr.ResponsePlan(arrival=600.0, vent=opening, hold=300.0, longest_venting=7200.0)
    )


@few(5)
@given(
    st.sampled_from(["propane", "propylene", "n-butane", "isobutane", "ammonia"]),
    rows(0.05, 0.95),
    rows(250.0, 310.0),
    rows(0.002, 0.025),
    rows(0.0, 1.2),
    rows(0.0, 1.0),
)
def test_books_close_and_bounds_hold(name, fill, temperature, diameter, height, share):
    story = told(name, fill, temperature, diameter, height, share)
    books = story.ledger
    everywhere = books.in_tank + books.vented + books.leaked_as_vapor + books.leaked_as_liquid
    on_the_way = books.flashed + books.airborne + books.on_ground + books.evaporated + books.overflowed
    assert np.all(np.abs(everywhere - books.initial) <= 1e-9 * books.initial)
    assert np.all(np.abs(on_the_way - books.leaked_as_liquid) <= 1e-9 * books.initial)
    for part in (
        "in_tank",
        "vented",
        "leaked_as_vapor",
        "leaked_as_liquid",
        "flashed",
        "airborne",
        "on_ground",
    ):
        assert np.all(getattr(books, part) >= -1e-9 * books.initial), part
    ended = np.isin(story.venting_ended, ["duration", "liquid gone", "liquid full"])
    told_so = np.isfinite(story.plateau_gauge_pressure) | ended
    assert np.all(story.zero_gauge_reached | told_so)
    assert np.all(np.isfinite(story.zero_gauge_at) == story.zero_gauge_reached)
    assert np.all(np.diff(story.time) >= 0.0)
    assert np.all(np.diff(story.leaked) >= -1e-9)
    assert np.all(story.leaked_liquid <= story.leaked + 1e-9)
    assert np.all(story.pool_gone_at >= story.pool_fed_until)
    assert np.all(story.tenth_bar_after <= story.one_bar_after)


@few(4)
@given(
    st.sampled_from(["propane", "isobutane", "ammonia"]),
    rows(0.03, 0.9),
    rows(260.0, 305.0),
    rows(0.002, 0.015),
    rows(0.0, 1.2),
    finite(0.05, 2.0),
    st.booleans(),
)
def test_mass_and_energy_close_at_every_time_to_the_empty_tank(
    name, fill, temperature, diameter, height, rate, keep
):
    fluid = lr.Fluid(name)
    incident = lr.Incident(
        contents=lr.Contents(TANK, fluid, fill=fill, temperature=temperature),
        leaks=[lr.Opening(diameter=diameter, height=height)],
        ground=lr.Ground.named("moist sand"),
        weather=lr.Weather(air_temperature=288.15),
    )
    plan = lr.ResponsePlan(
        arrival=600.0,
        vent=lr.Opening(diameter=0.0508, height=1.2),
        hold=300.0,
        longest_venting=3600.0,
        keep_venting=keep,
        transfer_rate=rate,
    )
    story = lr.forecast(incident, plan)
    assert np.all(story.masses.imbalance <= 1e-9)
    assert np.all(story.ledger.imbalance <= 1e-9)
    assert np.all(np.diff(story.transferred) >= 0.0)
    pumped = story.step_ends[:, -1] - story.step_begins[:, -1]  # the last of vent, seal, hold, pump
    assert np.allclose(story.ledger.transferred, rate * pumped, rtol=1e-9, atol=1e-9)
    state = fluid.saturation(temperature=story.temperature)
    inside = story.liquid_mass * state.liquid_internal_energy + story.vapor_mass * state.vapor_internal_energy
    inside = inside + TANK.wall_capacity * story.temperature
    miss = (inside - inside[:, :1]) - (story.heat_gained - story.enthalpy_released)
    scale = story.ledger.initial * state.latent_heat[:, 0]
    assert np.max(np.abs(miss) / scale[:, None]) < 1e-6


@few(3)
@given(finite(0.3, 0.9), finite(265.0, 305.0), st.integers(0, SCENARIOS - 1))
def test_a_wider_hole_leaks_more_and_one_of_many_is_the_one_alone(fill, temperature, chosen):
    diameters = np.array([0.003, 0.006, 0.009, 0.012])
    many = told("propane", fill, temperature, diameters, 0.1)
    until_arrival = many.runs[0].mass_released[:, 0, -1]
    assert np.all(np.diff(until_arrival) > 0.0)
    one, alone = many.scenario(chosen), told("propane", fill, temperature, diameters[chosen], 0.1)
    for field in dataclasses.fields(one):
        if "unit" in field.metadata:
            assert np.array_equal(getattr(one, field.name), getattr(alone, field.name)), field.name


@few(4)
@given(finite(0.3, 0.85), finite(275.0, 305.0))
def test_a_wider_vent_brings_the_gauge_down_sooner(fill, temperature):
    vents = np.array([0.0254, 0.0508, 0.0762])
    story = told("propane", fill, temperature, 0.004, 1.1, vent=vents)
    reached = np.where(story.zero_gauge_reached, story.zero_gauge_at, 1e9)
    assert np.all(np.diff(reached) <= 0.0)
    assert story.zero_gauge_reached[-1]
