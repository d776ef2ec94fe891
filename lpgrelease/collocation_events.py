"""Where signals fall to zero within a step of collocation, and how far off that is yet."""

from __future__ import annotations

import numpy as np

from lpgrelease.collocation_step import StiffEnsemble
from lpgrelease.quantities import FloatArray
from lpgrelease.radau import POINTS, RULE, polynomial
from lpgrelease.results import BoolArray
from lpgrelease.summing import add_along

__all__ = ["at_one", "seek", "to_event"]

MOST_LANDING, SECANTS = 60, 4
"""Steps towards an event; from then on every other of them halves."""
LOOKS, POLISHES = 48, 3
"""Places at which signals are looked at over a step with an event, and Newton steps from there."""
BEYOND_EVENT = 1.1
"""A step goes no further than this many times the way to the next event, as the signals now move."""


def at_one(ensemble: StiffEnsemble, state: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return `state` (components, n) on its conservation laws, its rates and signals."""
    fixed, rates, signals = ensemble.evaluate(state[:, None])
    return fixed[:, 0], rates[:, 0], signals[:, 0]


def seek(
    ensemble: StiffEnsemble, knots: FloatArray, signals: FloatArray, tolerance: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Part of the step until the first signal falls to zero, or 1; state, rates and signals there.

    `knots` (components, points + 1, n) and `signals` (events, points + 1, n) are of the step; the search
    begins where the polynomials through the signals say.
    """
    powers = add_along(RULE.basis[:, :, None] * signals[:, :, None], 1)
    aim = 0.5 * tolerance
    trial = _first_zero(powers, aim)
    theta, low, high = trial, np.zeros(trial.shape), np.full(trial.shape, np.inf)
    seeks = np.ones(trial.shape, dtype=np.bool_)
    shift = np.zeros(knots[:, 0].shape)
    for k in range(MOST_LANDING):
        raw = polynomial(knots, trial)
        state = raw + shift
        fixed, slope, now = at_one(ensemble, state)
        near = (now <= tolerance).any(axis=0)
        if k == 0:
            state = fixed
            fixed, slope, now = at_one(ensemble, state)
            end, rates, heard = state, slope, now
            near = near & (now <= tolerance).any(axis=0)
        # signals count where the state is on its conservation laws; it is off by as much nearby
        shift = fixed - raw
        theta = np.where(seeks, trial, theta)
        end, rates, heard = (
            np.where(seeks, new, old)
            for new, old in zip((state, slope, now), (end, rates, heard), strict=True)
        )
        negative = (now < 0.0).any(axis=0)
        landed = ~negative & (near | (trial >= 1.0))
        seeks = seeks & ~landed
        if not seeks.any():
            break
        low = np.where(negative | (k == 0), low, trial)
        high = np.where(negative, trial, high)
        falls = -_slope(powers, trial)
        nearest = np.where(falls > 0.0, (now - aim) / np.where(falls > 0.0, falls, 1.0), np.inf).min(axis=0)
        top = np.minimum(high, 1.0)
        step = np.minimum(trial + nearest, 1.0)
        halves = (k >= SECANTS) & (k % 2 == 1) | (step <= low) | (step >= high)
        trial = np.where(halves, 0.5 * (low + top), step)
    return theta, end, rates, heard


def _first_zero(powers: FloatArray, aim: FloatArray) -> FloatArray:
    """Where the first of polynomials (events, powers, n) falls to `aim` (events, n) within 0 to 1; else 1."""
    grid = np.linspace(0.0, 1.0, LOOKS + 1)[:, None]
    below: BoolArray = np.any(_value(powers, grid) < aim[:, None], axis=0)
    below[0] = False
    first = np.argmax(below, axis=0)
    low, high = grid[first - 1, 0], grid[first, 0]
    there = np.where(below.any(axis=0), 0.5 * (low + high), 1.0)
    theta = np.broadcast_to(there, aim.shape)
    ends = _value(powers, high[None])[:, 0] < aim
    for _ in range(POLISHES):
        slope = _slope(powers, theta)
        over = _value(powers, theta[:, None])[:, 0] - aim
        theta = np.clip(
            np.where(slope < 0.0, theta - over / np.where(slope < 0.0, slope, 1.0), theta), low, high
        )
    first_of = np.where(ends, theta, high).min(axis=0)
    return np.where(below.any(axis=0), first_of, 1.0)


def _value(powers: FloatArray, theta: FloatArray) -> FloatArray:
    """Of polynomials (events, powers, n) at theta (..., places, n), (events, places, n)."""
    value = powers[:, POINTS, None] * theta
    for power in range(POINTS - 1, 0, -1):
        value = (value + powers[:, power, None]) * theta
    total: FloatArray = value + powers[:, 0, None]
    return total


def _slope(powers: FloatArray, theta: FloatArray) -> FloatArray:
    """Slopes of polynomials (events, powers, n) at theta (n,) or (events, n), (events, n)."""
    value: FloatArray = POINTS * powers[:, POINTS]
    for power in range(POINTS - 1, 0, -1):
        value = value * theta + power * powers[:, power]
    return value


def to_event(
    at_points: FloatArray, heard: FloatArray, tolerance: FloatArray, step: FloatArray, counts: BoolArray
) -> FloatArray:
    """Longest step worth trying (n,): somewhat beyond the next event, if signals fall on as they did."""
    before, last = RULE.nodes[-1] - RULE.nodes[-2], RULE.nodes[-2] - RULE.nodes[-3]
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        fall = (at_points[:, -2] - heard) / before
        fell = (at_points[:, -3] - at_points[:, -2]) / last
        decay = np.log(fell / fall) / (0.5 * (before + last))
        # a fall that slows down as exp(-decay theta), from its value at the middle of the last interval
        fall = fall * np.where(decay > 0.0, np.exp(-0.5 * decay * before), 1.0)
        ways = (heard + tolerance) / np.maximum(fall, 1e-300)
        slowing = decay * ways
        steps = np.where(slowing > 1e-6, -np.log1p(-np.minimum(slowing, 1.0)) / decay, ways)
        nearest = BEYOND_EVENT * np.where(np.isnan(steps), ways, steps).min(axis=0)
        # what hardly falls is endlessly far
        return np.where(counts, np.maximum(nearest, 1e-3) * step, np.inf)
