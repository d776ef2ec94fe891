"""Even steps along a way that is known beforehand, with Lobatto's points in each.

Notes
-----
Lobatto's quadrature of six points, both ends of a step among them: integrals over a step err by the tenth
order, those from its start to a point within by the sixth (hairer1996stiff, section IV.5). What is asked of
a history stands at these points, so that nothing need be evaluated again.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.results import IntArray

__all__ = ["PLACES", "POINTS", "integrals", "laid_out", "places"]

FEWEST_STEPS, POINTS = 7, 5
"""Steps along a way, at least, and points that each adds."""


def _places() -> FloatArray:
    slope = np.polynomial.legendre.legder([0.0] * POINTS + [1.0])
    inner = np.sort(np.polynomial.legendre.legroots(slope).real)
    return np.concatenate([[0.0], 0.5 + 0.5 * inner, [1.0]])


PLACES = _places()
"""Of the points in a step, its start among them."""


def _weights() -> FloatArray:
    powers = np.arange(1, POINTS + 2)
    wanted = PLACES[1:, None] ** powers / powers
    weights = np.linalg.solve((PLACES[:, None] ** (powers - 1)).T, wanted.T).T
    return np.asarray(weights, dtype=np.float64)


WEIGHTS = _weights()
"""Integrals from the start to each of the points, of what is known at all of them (5, 6)."""
COLUMNS = tuple(np.ascontiguousarray(column)[:, None] for column in WEIGHTS.T)


def laid_out(points: int) -> tuple[int, IntArray]:
    """How many steps serve `points` points of a history, and which of the steps' points they are."""
    steps = max(FEWEST_STEPS, -(-(points - 1) // POINTS))
    return steps, np.rint(np.linspace(0.0, POINTS * steps, points)).astype(np.intp)


def places(steps: int) -> FloatArray:
    """Places of all points, counted in steps (5 steps + 1,)."""
    within = np.arange(steps)[:, None] + PLACES[1:]
    return np.concatenate([[0.0], within.reshape(-1)])


def integrals(values: Sequence[FloatArray]) -> FloatArray:
    """Integrals from a step's start to its points (..., 5, n), of values (..., n) at the start and there."""
    total: FloatArray = COLUMNS[0] * values[0][..., None, :]
    for column, value in zip(COLUMNS[1:], values[1:], strict=True):
        total += column * value[..., None, :]
    return total
