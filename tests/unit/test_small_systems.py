"""Small linear systems, many at once: one that has no answer leaves the others as they are."""

from __future__ import annotations

import numpy as np

from lpgrelease.fluids.newton import solve_linear
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
    # the singular one gets an answer too large to be taken for one
    assert (np.abs(many[..., 0]) > 1e12).all()
    assert np.isnan(many[..., 2]).all()
