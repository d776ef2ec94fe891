"""The cubic through a step of a blend's march: guesses of the next step, events on it and ahead."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.tank.blend_step import PLACES

__all__ = [
    "END_SLOPE",
    "HALF_STEP",
    "MIDDLE",
    "TIMES",
    "add_weighted",
    "flattened",
    "lagrange",
    "share_of_step",
    "step_ahead",
    "unflattened",
]

TIMES = (0.0, *PLACES)
"""Where the polynomial through a step is known."""
HALVINGS = 30
"""Of the bracket around an event."""


def _integrals(end: float) -> tuple[float, ...]:
    """Weights of the values at `TIMES` in the integral from 0 to `end` of the cubic through them."""
    powers = np.array([[c**k for c in TIMES] for k in range(4)])
    return tuple(float(x) for x in np.linalg.solve(powers, [end ** (k + 1) / (k + 1) for k in range(4)]))


def _at(place: float, order: int) -> tuple[float, ...]:
    """Weights of the values at `TIMES` in the cubic through them, or in its slope, at `place`."""
    powers = np.array([[c**k for c in TIMES] for k in range(4)])
    wanted = [place**k if order == 0 else k * place ** max(k - 1, 0) for k in range(4)]
    return tuple(float(x) for x in np.linalg.solve(powers, wanted))


ENDS_OF_PHASES = slice(2, 4)
"""Events at which liquid or vapor is gone."""
LEAST_SHARE = 1e-6
"""Of the last step: no step is cut shorter than this for an event."""
LEAST_FALL = 1e-3
"""Of a signal over a step, over its tolerance, from which a next step is foreseen."""
LOOK_AHEAD = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 0.3, 0.1)
"""Shares of the next step at which an event is looked for."""
TO_POWERS: tuple[tuple[float, ...], ...] = tuple(
    map(tuple, np.linalg.inv(np.vander(TIMES, increasing=True)).tolist())
)
"""Coefficients of the cubic through values at `TIMES`, from those values."""
HALF_STEP = _integrals(0.5)
MIDDLE, END_SLOPE = _at(0.5, 0), _at(1.0, 1)


def lagrange(at: FloatArray) -> list[FloatArray]:
    """Weights of the values at `TIMES` in the cubic through them, at `at`."""
    weights = []
    for i, own in enumerate(TIMES):
        weight = np.ones_like(at)
        for j, other in enumerate(TIMES):
            if j != i:
                weight = weight * ((at - other) / (own - other))
        weights.append(weight)
    return weights


def add_weighted(weights: Sequence[FloatArray | float], values: FloatArray) -> FloatArray:
    """Sum of weights times values (k, ...)."""
    total: FloatArray = weights[0] * values[0]
    for weight, value in zip(weights[1:], values[1:], strict=True):
        total = total + weight * value
    return total


def flattened(w: FloatArray) -> FloatArray:
    """Unknowns in terms that go nearly straight: ln(l_i V/V_l), ln(v_i V/V_v), T, V_l/V."""
    out = np.array(w)
    count = (w.shape[0] - 2) // 2
    out[:count] = np.log(w[:count] / w[-1])
    out[count:-2] = np.log(w[count:-2] / (1.0 - w[-1]))
    return out


def unflattened(value: FloatArray) -> FloatArray:
    """Return the unknowns again."""
    out = np.array(value)
    count = (value.shape[0] - 2) // 2
    out[:count] = np.exp(value[:count]) * value[-1]
    out[count:-2] = np.exp(value[count:-2]) * (1.0 - value[-1])
    return out


def _powers(signals: FloatArray) -> FloatArray:
    """Coefficients (4, events, n), lowest first, of the cubics through signals at `TIMES`."""
    return np.array([add_weighted(row, signals) for row in TO_POWERS])


def _cross(powers: FloatArray, low: FloatArray, high: FloatArray, level: FloatArray) -> FloatArray:
    """Places between `low` and `high` up to which cubics (4, events, n) stay above `level`."""
    c0, c1, c2, c3 = powers
    c0 = c0 - level
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        above = c0 + middle * (c1 + middle * (c2 + middle * c3)) > 0.0
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return low


def share_of_step(signals: FloatArray, tolerance: FloatArray) -> FloatArray:
    """Share of the step at which the first event comes that its end has passed, (n,)."""
    start = np.zeros_like(tolerance)
    place = _cross(_powers(signals), start, start + 1.0, 0.5 * tolerance)
    return np.asarray(np.maximum(np.where(signals[-1] < 0.0, place, 1.0).min(axis=0), LEAST_SHARE))


def step_ahead(signals: FloatArray, tolerance: FloatArray, factor: FloatArray) -> FloatArray:
    """Length of the next step over the last, (n,): `factor`, or less if an event comes before.

    By the cubics through the last step. A little beyond the event, so that it lies inside the next step;
    short of it where liquid or vapor ends, since there is nothing beyond.
    """
    c0, c1, c2, c3 = powers = _powers(signals)
    # look near first: a cubic may turn back farther on
    last = 1.0 + factor
    comes = np.zeros(tolerance.shape, dtype=np.bool_)
    for share in LOOK_AHEAD:
        place = 1.0 + share * factor
        passed = c0 + place * (c1 + place * (c2 + place * c3)) < 0.0
        last = np.where(passed, place, last)
        comes |= passed
    # what hardly moved in the last step tells nothing of the next
    comes &= (signals[-1] > tolerance) & (signals[0] - signals[-1] > LEAST_FALL * tolerance)
    if not comes.any():
        return factor
    start = np.ones_like(last)
    place = _cross(powers, start, last, 0.0 * start)
    beyond = np.full((tolerance.shape[0], 1), 1.02)
    beyond[ENDS_OF_PHASES] = 0.99
    return np.asarray(
        np.where(comes, np.minimum(np.maximum((place - 1.0) * beyond, LEAST_SHARE), factor), factor).min(
            axis=0
        )
    )
