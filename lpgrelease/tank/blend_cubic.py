"""The cubic through a step of a blend's march: guesses of the next step, events on it and ahead."""

from __future__ import annotations

import numpy as np

from lpgrelease.elementwise import some
from lpgrelease.halving import halved
from lpgrelease.quantities import FloatArray
from lpgrelease.summing import add_along
from lpgrelease.tank.blend_step import PLACES

__all__ = [
    "END_SLOPE",
    "HALF_STEP",
    "MIDDLE",
    "TIMES",
    "add_weighted",
    "at_place",
    "coefficients",
    "flattened",
    "share_of_step",
    "step_ahead",
    "unflattened",
]

TIMES = np.array([0.0, *PLACES])
"""Where the polynomial through a step is known."""
HALVINGS, POLISHES = 8, 3
"""Of the bracket around an event, and Newton steps in what is left of it."""
TO_POWERS = np.linalg.inv(np.vander(TIMES, increasing=True))
"""Coefficients of the cubic through values at `TIMES`, lowest first, from those values."""
HALF_STEP = np.array([0.5, 0.5**2 / 2.0, 0.5**3 / 3.0, 0.5**4 / 4.0]) @ TO_POWERS
"""Weights of the values at `TIMES` in the integral over the first half of the step."""
MIDDLE, END_SLOPE = np.array([1.0, 0.5, 0.25, 0.125]) @ TO_POWERS, np.array([0.0, 1.0, 2.0, 3.0]) @ TO_POWERS
"""Those in the cubic in the middle of the step, and in its slope at the end."""
ENDS_OF_PHASES = slice(2, 4)
"""Events at which liquid or vapor is gone."""
LEAST_SHARE = 1e-6
"""Of the last step: no step is cut shorter than this for an event."""
LEAST_FALL = 1e-3
"""Of a signal over a step, over its tolerance, from which a next step is foreseen."""
LOOK_AHEAD = np.array([0.1, 0.3, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0])
"""Shares of the next step at which an event is looked for."""


def add_weighted(weights: FloatArray, values: FloatArray) -> FloatArray:
    """Sum of weights (..., 4) times values (4, ...)."""
    return add_along(weights.reshape(*weights.shape, *(1,) * (values.ndim - 1)) * values, weights.ndim - 1)


def coefficients(values: FloatArray) -> FloatArray:
    """Coefficients (4, ...), lowest first, of the cubics through values (4, ...) at `TIMES`."""
    return add_weighted(TO_POWERS, values)


def at_place(powers: FloatArray, place: FloatArray) -> FloatArray:
    """Cubics of coefficients `powers` (4, ...) at `place`."""
    c0, c1, c2, c3 = powers
    return np.asarray(c0 + place * (c1 + place * (c2 + place * c3)))


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


def _cross(powers: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
    """Places between `low` and `high` up to which cubics (4, events, n) stay above zero."""
    low, high = halved(lambda place: at_place(powers, place) > 0.0, low, high, HALVINGS)
    place = low
    for _ in range(POLISHES):
        slope = powers[1] + place * (2.0 * powers[2] + 3.0 * place * powers[3])
        change = at_place(powers, place) / np.where(slope < 0.0, slope, -np.inf)
        place = np.minimum(np.maximum(place - change, low), high)
    return place


def share_of_step(signals: FloatArray, tolerance: FloatArray) -> FloatArray:
    """Share of the step at which the first event comes that its end has passed, (n,)."""
    start = np.zeros_like(tolerance)
    place = _cross(coefficients(signals - 0.5 * tolerance), start, start + 1.0)
    return np.asarray(np.maximum(np.where(signals[-1] < 0.0, place, 1.0).min(axis=0), LEAST_SHARE))


def step_ahead(signals: FloatArray, tolerance: FloatArray, factor: FloatArray) -> FloatArray:
    """Length of the next step over the last, (n,): `factor`, or less if an event comes before.

    By the cubics through the last step. A little beyond the event, so that it lies inside the next step;
    short of it where liquid or vapor ends, since there is nothing beyond.
    """
    powers = coefficients(signals)
    # the nearest counts: a cubic may turn back farther on
    places = (1.0 + LOOK_AHEAD[:, None] * factor)[:, None]
    passed = at_place(powers, places) < 0.0
    comes, last = passed.any(axis=0), np.where(passed, places, places[-1]).min(axis=0)
    # what hardly moved in the last step tells nothing of the next
    comes &= (signals[-1] > tolerance) & (signals[0] - signals[-1] > LEAST_FALL * tolerance)
    if not some(comes):
        return factor
    start = np.ones_like(last)
    place = _cross(powers, start, last)
    beyond = np.full((tolerance.shape[0], 1), 1.02)
    beyond[ENDS_OF_PHASES] = 0.99
    return np.asarray(
        np.where(comes, np.minimum(np.maximum((place - 1.0) * beyond, LEAST_SHARE), factor), factor).min(
            axis=0
        )
    )
