"""Columns of ground: heat is never lost, and nothing grows colder than what cools it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lpgrelease.ground import Ground
from lpgrelease.ground.column import PERFECT_CONTACT, GroundColumns
from lpgrelease.ground.sides import side_heat_flux

NAMES = ("dry sand", "moist sand", "wet sand", "clay", "wet clay", "gravel", "concrete", "asphalt")
GROUNDS = st.one_of(
    st.sampled_from(NAMES).map(Ground.named),
    st.builds(
        lambda top, thickness, low: Ground.named(top, thickness=thickness, below=Ground.named(low)),
        st.sampled_from(NAMES),
        st.floats(0.01, 1.0),
        st.sampled_from(NAMES),
    ),
)
CONDUCTANCES = st.sampled_from([0.0, 5.0, 25.0, 300.0, 1e4, PERFECT_CONTACT])
COVERS = st.lists(
    st.tuples(
        st.floats(0.1, 5000.0), st.floats(150.0, 330.0), CONDUCTANCES, st.booleans(), st.integers(1, 8)
    ),
    min_size=1,
    max_size=8,
)


@given(GROUNDS, st.floats(250.0, 320.0), COVERS, st.floats(-5.0, 5.0))
def test_every_joule_is_found_again(ground, start, covers, shift):
    soil = GroundColumns.prepare(ground)
    state = soil.start(start)
    before, out, deep, scale = soil.stored(state), 0.0, 0.0, 0.0
    for length, touch, conductance, restart, steps in covers:
        for i in range(steps):
            step = soil.step(state, length, touch, conductance, restart and i == 0).at(touch + shift)
            state, out, deep = step.state, out + step.heat, deep + step.deep_heat
            scale += abs(step.heat)
    lost = out + soil.stored(state) - before - deep
    # rounding of the heat of 6 m of ground, and of what passed
    assert abs(lost) <= 1e-9 * scale + 1e-12 * abs(before)


@given(GROUNDS, st.floats(280.0, 310.0), st.floats(150.0, 260.0), st.floats(0.5, 500.0), st.floats(0.05, 0.3))
def test_temperatures_stay_between_those_that_drive_them(ground, start, touch, first, growth):
    soil = GroundColumns.prepare(ground)
    state, t, flux = soil.start(start), 0.0, np.inf
    for i in range(40):
        dt = max(first, growth * t)
        step = soil.step(state, dt, touch, PERFECT_CONTACT, i == 0)
        state, t = step.state, t + dt
        T = state.theta + 273.15
        # balances are closed exactly, temperatures within a kelvin or two: a node may overshoot and come back
        margin = 0.03 * (start - touch)
        assert T.min() >= touch - margin
        assert T.max() <= start + margin
        if ground.below is None:
            assert 0.0 < step.flux <= 1.05 * flux
            flux = step.flux


@given(st.sampled_from(NAMES), st.floats(280.0, 310.0), st.floats(150.0, 250.0), st.floats(1.0, 20.0))
def test_the_colder_touch_takes_more_and_a_film_takes_less(name, start, touch, colder):
    soil = GroundColumns.prepare(Ground.named(name), (3,))
    state, heat = soil.start(start), np.zeros(3)
    T = np.array([touch, touch - colder, touch])
    g = np.array([PERFECT_CONTACT, PERFECT_CONTACT, 150.0])
    for i in range(30):
        step = soil.step(state, 1.2**i, T, g, np.full(3, i == 0))
        state, heat = step.state, heat + step.heat
    assert heat[1] > heat[0] > heat[2] > 0.0


@given(st.floats(1.0, 1e4), st.floats(1.0, 300.0), st.floats(0.1, 50.0))
def test_heat_from_the_sides_lies_between_its_limits(flux, potential, radius):
    side = side_heat_flux(np.array(flux), np.array(potential), np.array(radius))
    assert potential / radius <= side <= 4.0 / np.pi * potential / radius * (1.0 + 1e-12)
    assert side == pytest.approx(
        4.0 * side_heat_flux(np.array(flux / 4), np.array(potential / 4), np.array(radius))
    )
