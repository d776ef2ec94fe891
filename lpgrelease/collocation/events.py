"""Where signals fall to zero within a step of collocation, and how far off that is yet."""

from __future__ import annotations

import numpy as np

from lpgrelease.collocation.newton import StiffEnsemble
from lpgrelease.collocation.radau import POINTS, RULE, polynomial
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray
from lpgrelease.summing import add_along

__all__ = ["at_one", "seek", "since", "to_event"]

MOST_LANDING, SECANTS = 60, 4
"""Steps towards an event; from then on every other of them halves."""
LOOKS, POLISHES, HALVINGS = 48, 3, 20
"""Places at which a step with an event is looked at, and Newton steps, or halvings, from there."""
BEYOND_EVENT = 1.1
"""A step goes no further than this many times the way to the next event, as the signals now move."""
IN_TWO = 1.2
"""A way to an event longer than so many steps like the last goes in two."""

WIDTHS = np.diff(RULE.nodes[-4:])
MIDDLES = 0.5 * (RULE.nodes[-3:] + RULE.nodes[-4:-1])
APART = np.diff(MIDDLES)
"""Of the last three stretches between the points of a step."""


def at_one(ensemble: StiffEnsemble, state: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return `state` (components, n) on its conservation laws, its rates and signals."""
    fixed, rates, signals = ensemble.evaluate(state[:, None])
    return fixed[:, 0], rates[:, 0], signals[:, 0]


def seek(
    ensemble: StiffEnsemble, knots: FloatArray, signals: FloatArray, tolerance: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    """Part of the step until the first signal falls to zero, or 1; state, rates and signals there.

    Also how far the path was off its conservation laws there, in each component.

    `knots` (components, points + 1, n) and `signals` (events, points + 1, n) are of the step; the search
    begins where the polynomials through the signals say.
    """
    powers = add_along(RULE.basis[:, :, None] * signals[:, :, None], 1)
    aim = 0.5 * tolerance
    theta = _first_zero(powers, aim)
    low, high = np.zeros(theta.shape), np.full(theta.shape, np.inf)
    first = shift = np.zeros(knots[:, 0].shape)
    seeks, (wild, misses) = np.ones(theta.shape, dtype=np.bool_), np.zeros((2, *theta.shape), dtype=np.bool_)
    below = (signals[:, -1] < 0.0).any(axis=0)
    raw = polynomial(knots, theta)
    fixed, rates, heard = at_one(ensemble, raw)
    for k in range(MOST_LANDING):
        # signals count where the state is on its conservation laws; it is off by as much nearby
        anew = fixed - raw
        first = anew if k == 0 else first
        turns = ~wild & (misses | (k > SECANTS))
        if turns.any():
            # where that jumps, as at an empty tank, it stays as it was first; where by that the path would
            # not come to the event that it crosses, they count along the path itself
            first, wild = np.where(misses, 0.0, first), wild | turns
            low, high = np.where(turns, 0.0, low), np.where(turns, np.inf, high)
        shift = np.where(seeks, np.where(wild, first, anew), shift)
        falls = -_slope(powers, theta)
        ways = np.where(falls > 0.0, (heard - aim) / np.where(falls > 0.0, falls, 1.0), np.inf)
        step = np.minimum(theta + ways.min(axis=0), 1.0)
        halves = (k > SECANTS) & (k % 2 == 0) | (step <= low) | (step >= high) | turns
        step = np.where(halves, 0.5 * (low + np.minimum(high, 1.0)), step)
        theta = np.where(seeks, step, theta)
        raw = polynomial(knots, theta)
        state = raw + shift
        fixed, rates, heard = at_one(ensemble, state)
        negative, before = (heard < 0.0).any(axis=0), (heard > tolerance).all(axis=0)
        misses = before & (theta >= 1.0) & below
        seeks = seeks & (negative | before & (theta < 1.0) | misses & ~wild)
        if not seeks.any():
            break
        low, high = np.where(negative, low, theta), np.where(negative, theta, high)
    return theta, state, rates, heard, fixed - raw


def since(
    ensemble: StiffEnsemble, knots: FloatArray, share: FloatArray, rest: tuple[FloatArray, FloatArray]
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Part of the step from which on a path is near its rest, up to `share`; state, rates and signals there.

    `rest`: the state at rest, and how near to it counts, (components, n).
    """
    state, within = rest

    def is_near(theta: FloatArray) -> BoolArray:
        off = np.abs(polynomial(knots[:, None], theta) - state[:, None])
        return np.asarray((off <= within[:, None]).all(axis=0))

    grid = np.linspace(0.0, 1.0, LOOKS + 1)[:, None] * share
    looks, who = is_near(grid), np.arange(share.size)
    last = np.minimum(LOOKS - np.argmin(looks[::-1], axis=0), LOOKS - 1)
    last = np.where(looks.all(axis=0), 0, last)
    low, high = grid[last, who], grid[last + 1, who]
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        near = is_near(middle[None])[0]
        low, high = np.where(near, low, middle), np.where(near, middle, high)
    high = np.where(looks.all(axis=0), 0.0, high)
    fixed, _, _ = at_one(ensemble, polynomial(knots, high))
    _, rates, heard = at_one(ensemble, fixed)
    return high, fixed, rates, heard


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


def to_event(signals: FloatArray, tolerance: FloatArray, longest: FloatArray) -> FloatArray:
    """How many steps like the last to go to be somewhat beyond the next event, or `longest` (n,).

    `signals` (events, points, n) are of the last step, and taken to fall on as they did. As far as its last
    three falls tell, a fall slows down as (1 - q d theta)**(1 / q): exponentially where q = 0, as when a tank
    settles; evenly where q = 1, as does a pressure that comes down to the outside's, for its flow goes as the
    root of what is left.
    """
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        falls = (signals[:, -4:-1] - signals[:, -3:]) / WIDTHS[:, None]
        left = signals[:, -1] + tolerance
        # what falls on evenly comes there soonest
        near = BEYOND_EVENT * left < longest * falls[:, -1]
        if not near.any():
            return longest
        logs = np.log(falls)
        decays = (logs[:, :-1] - logs[:, 1:]) / APART[:, None]
        reach = 1.0 / decays
        bend = (reach[:, 0] - reach[:, 1]) / (0.5 * (APART[0] + APART[1]))
        bend = np.where((decays > 0.0).all(axis=1), np.minimum(np.maximum(bend, 1e-6), 1.0), 1e-6)
        # from the middle between the last two falls to the last, and to the end
        at_middle, at_end = (
            1.0 - np.minimum(bend * decays[:, 1] * (place - 0.5 * (MIDDLES[1] + MIDDLES[2])), 1.0 - 1e-6)
            for place in (MIDDLES[2], 1.0)
        )
        slows = decays[:, 1] > 0.0
        decay = np.where(slows, decays[:, 1] / at_end, 0.0)
        fall = falls[:, -1] * np.where(slows, np.power(at_end / at_middle, 1.0 / bend), 1.0)
        ways = left / np.maximum(fall, 1e-300)
        gone = np.maximum(1.0 - decay * (1.0 + bend) * ways, 0.0)
        curved = (1.0 - np.power(gone, bend / (1.0 + bend))) / (bend * decay)
        ways = np.where(decay * ways > 1e-6, curved, ways)
        nearest = BEYOND_EVENT * np.where(near, ways, np.inf).min(axis=0)
        # the last steps see flows that cease, at which Newton's method is slow: a long way goes in two
        halves = (nearest > IN_TWO) & (nearest < longest)
        nearest = np.where(halves, 0.5 * nearest, nearest)
        # what hardly falls is endlessly far
        return np.asarray(np.minimum(longest, np.maximum(nearest, 1e-3)))
