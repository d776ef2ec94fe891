"""Columns of ground: layers, shapes, one column against many, steps that are moved."""

from __future__ import annotations

import numpy as np
import pytest

from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.ground import Ground, balance
from lpgrelease.ground.column import PERFECT_CONTACT, GroundColumns, GroundState
from lpgrelease.ground.sides import side_heat_flux
from lpgrelease.ground.tridiagonal import FEW, solve_tridiagonal

LOAM = Ground.named("loam")
ROAD = Ground.named("asphalt", thickness=0.06, below=Ground.named("gravel", thickness=0.3, below=LOAM))


def equal(a: GroundState, b: GroundState, columns) -> bool:
    return all(
        np.array_equal(one[..., columns], other[..., 0]) for one, other in zip(a, b.with_axis(), strict=True)
    )


@pytest.mark.parametrize("systems", [4, 20])
@pytest.mark.parametrize("n", [1, 2, 3, 5, 8, 16, 24, 31, 48, 64, 100])
def test_tridiagonal_systems_are_solved(n, systems):
    rng = np.random.default_rng(n)
    by_above, by_below, diagonal = rng.random((3, n, systems))
    diagonal += 2.05
    right, by_top = rng.standard_normal((n, systems)), rng.random(systems)
    x, rise = solve_tridiagonal(diagonal, by_above, by_below, right, by_top)
    for j in range(systems):
        full = np.diag(diagonal[:, j]) - np.diag(by_above[:-1, j], -1) - np.diag(by_below[:-1, j], 1)
        np.testing.assert_allclose(full @ x[:, j], right[:, j], rtol=1e-11, atol=1e-12)
        top = np.zeros(n)
        top[0] = by_top[j]
        np.testing.assert_allclose(full @ rise[:, j], top, rtol=1e-11, atol=1e-12)


@pytest.mark.parametrize("systems", [0, 1, 2, FEW, FEW + 1, 200])
def test_a_tridiagonal_system_has_one_answer_in_any_company(systems):
    rng = np.random.default_rng(systems)
    by_above, by_below, diagonal, right = rng.random((4, 24, systems))
    rows, by_top = (diagonal + 2.05, by_above, by_below, right - 0.5), rng.random(systems)
    whole = solve_tridiagonal(*rows, by_top)
    for values in whole:
        assert values.shape == (24, systems)
    for j in range(systems):
        for one in (j, slice(j, j + 1)):
            alone = solve_tridiagonal(*(row[:, one] for row in rows), by_top[one])
            for a, b in zip(alone, whole, strict=True):
                assert np.array_equal(a, b[:, one])


def test_one_column_equals_the_same_among_others_to_the_bit():
    # different waters, slopes, steps, covers and restarts side by side
    size = 7
    water = np.linspace(0.0, 0.18, size)
    soil = {"density": 1800.0, "heat_capacity": 1300.0, "conductivity_slope": np.linspace(0.0, 2e-3, size)}
    start, touch = np.linspace(270.0, 305.0, size), np.linspace(180.0, 290.0, size)
    rng = np.random.default_rng(1)
    steps, fresh = rng.uniform(0.5, 90.0, (12, size)), rng.random((12, size)) < 0.3
    steps[5, 2] = 0.0
    whole = GroundColumns.prepare(Ground(conductivity=1.5, water_mass_fraction=water, **soil), (size,))
    state = whole.start(start)
    ends = []
    for dt, new in zip(steps, fresh, strict=True):
        state = whole.step(state, dt, touch, np.full(size, 5e3), new).at(touch + 1.0).state
        ends.append(state)
    for i in range(size):
        one = soil | {"conductivity_slope": soil["conductivity_slope"][i]}
        alone = GroundColumns.prepare(Ground(conductivity=1.5, water_mass_fraction=water[i], **one))
        state = alone.start(start[i])
        for j, (dt, new) in enumerate(zip(steps[:, i], fresh[:, i], strict=True)):
            state = alone.step(state, dt, touch[i], np.array(5e3), np.array(new)).at(touch[i] + 1.0).state
            assert equal(ends[j], state, i)


def test_a_step_moved_equals_its_own_linear_law():
    soil = GroundColumns.prepare(Ground.named("wet sand"), (3, 2))
    state = soil.start(np.array([290.0, 300.0]))
    new, wet = np.ones((3, 2), dtype=bool), np.full((3, 2), PERFECT_CONTACT)
    step = soil.step(state, np.array(10.0), np.array(231.0), wet, new)
    step = soil.step(step.state, np.array(5.0), np.array(232.0), wet, ~new)
    moved = step.at(np.array(233.5))
    np.testing.assert_allclose(moved.heat, step.heat + 1.5 * step.heat_slope, rtol=1e-9)
    assert (step.heat_slope < 0.0).all()
    # and it is what a step at that temperature gives, but for the freezing that it linearizes: 1.5 K of 60
    direct = soil.step(
        soil.step(state, np.array(10.0), np.array(231.0), wet, new).state,
        np.array(5.0),
        np.array(233.5),
        wet,
        ~new,
    )
    np.testing.assert_allclose(moved.heat, direct.heat, rtol=1e-3)
    np.testing.assert_allclose(moved.top, 233.5, atol=0.05)
    np.testing.assert_array_equal(soil.surface_temperature(moved.state), moved.top)
    np.testing.assert_array_equal(soil.surface_temperature(state), np.full((3, 2), [290.0, 300.0]))


def test_no_state_is_changed_by_a_step():
    soil = GroundColumns.prepare(Ground.named("clay"), (2,))
    state = soil.start(np.array(290.0))
    before = state.copy()
    both = soil.step(state, np.array(3.0), np.array(231.0), np.array(1e4), np.array([True, False]))
    both.at(np.array(240.0))
    for now, then in zip(state, before, strict=True):
        assert np.array_equal(now, then)


@pytest.mark.parametrize("size", [1, 2])
def test_no_state_holds_an_array_of_its_caller(size):
    soil = GroundColumns.prepare(Ground.named("wet sand"), (size,))
    dt, touch, wet = (np.full(size, value) for value in (5.0, 231.0, PERFECT_CONTACT))
    step = soil.step(soil.start(np.full(size, 290.0)), dt, touch, wet, np.ones(size, dtype=bool))
    before = step.state.copy()
    for array in (dt, touch, wet):
        array[...] = 1.0
    for now, then in zip(step.state, before, strict=True):
        assert np.array_equal(now, then)


def test_a_step_of_no_length_changes_nothing():
    soil = GroundColumns.prepare(Ground.named("wet sand"))
    state = soil.step(soil.start(290.0), 5.0, 231.0, PERFECT_CONTACT, True).state
    still = soil.step(state, 0.0, 200.0, PERFECT_CONTACT, True)
    assert still.heat == 0.0
    assert still.deep_heat == 0.0
    assert np.array_equal(still.state.theta, state.theta)
    assert np.array_equal(still.state.stored, state.stored)
    after = soil.step(still.state, 5.0, 231.0, PERFECT_CONTACT, False)
    assert after.heat > 0.0


def test_an_insulated_surface_gives_nothing_and_the_cold_spreads_below_it():
    soil = GroundColumns.prepare(Ground.named("moist sand"))
    step = soil.step(soil.start(290.0), 600.0, 231.0, PERFECT_CONTACT, True)
    bare = soil.step(step.state, 600.0, 290.0, 0.0, True)
    assert bare.heat == 0.0
    assert step.top < bare.top < 290.0


def test_only_ground_that_freezes_in_a_step_is_solved_more_than_once(monkeypatch):
    solved = []

    def counted(*rows):
        solved.append(rows[0].size // rows[0].shape[0])
        return solve_tridiagonal(*rows)

    monkeypatch.setattr(balance, "solve_tridiagonal", counted)
    dry = GroundColumns.prepare(Ground.named("concrete"))
    dry.step(dry.start(290.0), 60.0, 120.0, PERFECT_CONTACT, False)
    assert solved == [1]
    # one of two columns of wet sand cools by a kelvin, far from freezing; the other freezes
    wet = GroundColumns.prepare(Ground.named("wet sand"), (2,))
    solved.clear()
    wet.step(wet.start(290.0), 60.0, np.array([289.0, 231.0]), PERFECT_CONTACT, False)
    assert solved[0] == 2
    assert 1 < len(solved) < balance.ITERATIONS
    assert set(solved[1:]) == {1}


def test_ground_at_rest_stays_at_rest():
    soil = GroundColumns.prepare(ROAD)
    step = soil.step(soil.start(285.0), 1e4, 285.0, 12.0, True)
    assert step.heat == pytest.approx(0.0, abs=1e-6)
    assert step.top == pytest.approx(285.0, abs=1e-9)


def test_frozen_depth_counts_only_ground_that_holds_water():
    soil = GroundColumns.prepare(ROAD)
    cold = soil.start(250.0)
    # asphalt and gravel are dry: the rest, 6.0 - 0.36 m, is frozen
    assert soil.frozen_depth(cold) == pytest.approx(6.0 - 0.36, rel=1e-3)
    assert soil.frozen_depth(soil.start(290.0)) == pytest.approx(0.0, abs=0.02)
    assert GroundColumns.prepare(Ground.named("concrete")).frozen_depth(cold) == 0.0


def test_layers_must_be_thicker_than_the_cells_at_their_depth():
    thin = Ground.named("gravel", thickness=1e-3, below=LOAM)
    with pytest.raises(InputError, match="layer is thinner than the cells at its depth"):
        GroundColumns.prepare(Ground.named("asphalt", thickness=0.5, below=thin))


def test_layers_below_the_cells_do_not_count():
    deep = GroundColumns.prepare(Ground.named("concrete", thickness=50.0, below=LOAM))
    plain = GroundColumns.prepare(Ground.named("concrete"))
    a, b = (soil.step(soil.start(290.0), 60.0, 231.0, 1e4, True) for soil in (deep, plain))
    assert a.heat == b.heat


def test_thickness_and_what_is_below_belong_together():
    with pytest.raises(InputError, match="thickness and below belong together"):
        Ground.named("asphalt", thickness=0.1)
    with pytest.raises(InputError, match="thickness and below belong together"):
        Ground.named("asphalt", below=LOAM)
    with pytest.raises(InputError, match="below: a Ground is wanted, got 'loam'"):
        Ground.named("asphalt", thickness=0.1, below="loam")
    with pytest.raises(OutOfRangeError, match="thickness = -1"):
        Ground.named("asphalt", thickness=-1.0, below=LOAM)


def test_no_drive_draws_no_heat_from_the_sides():
    flux = side_heat_flux(np.array([10.0, -5.0, 10.0]), np.array([0.0, -20.0, 60.0]), np.array(1.0))
    assert list(flux[:2]) == [0.0, 0.0]
    assert flux[2] > 60.0
