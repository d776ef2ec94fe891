"""Small linear systems, many at once: one that has no answer leaves the others as they are."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from lpgrelease.fluids.newton import solve_linear
from lpgrelease.small_systems import solved
from lpgrelease.tank.blend_step import solve_small

GOOD = np.array([[4.0, 1.0, -2.0], [1.0, 3.0, 0.5], [0.3, -1.0, 5.0]])
SINGULAR = np.zeros((3, 3))
NOT_FINITE = np.full((3, 3), np.nan)
RIGHT = np.array([1.0, -2.0, 0.25])


def systems(*matrices):
    return np.stack(matrices, axis=-1), np.repeat(RIGHT[:, None], len(matrices), axis=1)


def test_what_has_an_answer_is_solved():
    solved = solve_linear(*systems(GOOD))[:, 0]
    np.testing.assert_allclose(GOOD @ solved, RIGHT, rtol=1e-14)
    matrix, right = systems(GOOD)
    np.testing.assert_allclose(solve_small(matrix, right[:, None])[:, 0, 0], solved, rtol=1e-14)


def test_a_singular_or_unbounded_system_leaves_the_others_to_the_bit():
    alone, many = solve_linear(*systems(GOOD)), solve_linear(*systems(SINGULAR, GOOD, NOT_FINITE))
    assert np.array_equal(many[:, 1], alone[:, 0])
    assert np.isnan(many[:, [0, 2]]).all()


def test_a_singular_jacobian_of_one_tank_leaves_the_others_to_the_bit():
    (one, r_one), (three, r_three) = systems(GOOD), systems(SINGULAR, GOOD, NOT_FINITE)
    alone, many = solve_small(one, r_one[:, None]), solve_small(three, r_three[:, None])
    assert np.array_equal(many[..., 1], alone[..., 0])
    assert np.isnan(many[..., [0, 2]]).all()


def test_a_system_without_solution_leaves_the_others_theirs():
    systems = np.array([[[2.0, 1.0], [1.0, 3.0]], [[1.0, 2.0], [2.0, 4.0]], [[0.0, 1.0], [1.0, 0.0]]])
    right = np.array([[3.0, 4.0], [1.0, 3.0], [5.0, 6.0]])[..., None]
    found = solved(systems, right)
    assert np.isnan(found[1]).all()
    np.testing.assert_allclose(found[0, :, 0], [1.0, 1.0], rtol=1e-14)
    np.testing.assert_array_equal(found[2, :, 0], [6.0, 5.0])
    np.testing.assert_array_equal(found[[0, 2]], solved(systems[[0, 2]], right[[0, 2]]))
    assert np.isnan(solve_small(systems.transpose(1, 2, 0), right.transpose(1, 2, 0))[..., 1]).all()


@given(st.integers(1, 6), st.integers(1, 3), st.integers(0, 2**32 - 1))
def test_solutions_are_those_of_each_system_alone_and_solve_it(rows, sides, seed):
    draw = np.random.default_rng(seed)
    systems, right = draw.normal(size=(5, rows, rows)), draw.normal(size=(5, rows, sides))
    systems[1], systems[3, 0, 0] = 0.0, np.inf
    found = solved(systems, right)
    assert np.isnan(found[[1, 3]]).all()
    for i in (0, 2, 4):
        np.testing.assert_array_equal(found[i], solved(systems[[i]], right[[i]])[0])
        size = np.abs(systems[i]) @ np.abs(found[i]) + np.abs(right[i])
        assert (np.abs(systems[i] @ found[i] - right[i]) <= 1e-12 * size.max(axis=0)).all()
