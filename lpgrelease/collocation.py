"""Marching many stiff initial value problems at once in few long steps: collocation at Radau's points.

As in `lpgrelease.marching` every scenario has its own steps and its own end, and only elementwise
operations and one small solve per scenario touch the arrays, so that a path is the same to the bit whatever
else marches.

Notes
-----
Over a step h the path is the polynomial of degree s whose slope meets the equations at the s points of
Radau's quadrature (the last is the step's end): L-stable, of order 2 s - 1 at the end (hairer1996stiff,
section IV.5). All points of a step are evaluated at once. Newton's method solves for them; the equations'
slopes are differences along the few directions in which the rates change ("couplings"), so only those
enter the system. What a step errs by anywhere is told by the slope's defect at one more point, which is
to leading order (theta - c_1)...(theta - c_s) times a constant, filtered by (I - h J/s)**-1 as in
hairer1996stiff, Eq. IV.8.19. Events are found on the polynomial.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from lpgrelease.collocation_step import StiffEnsemble, solve_step
from lpgrelease.errors import ConvergenceError
from lpgrelease.marching import IntArray
from lpgrelease.quantities import FloatArray
from lpgrelease.radau import POINTS, RULE, extrapolated, linear, polynomial
from lpgrelease.results import BoolArray

__all__ = ["DensePath", "march_stiff", "sample"]

MOST_LANDING, SECANTS = 40, 9
"""Steps towards an event; from then on every third of them halves."""
SAFETY, SLOWEST, FASTEST, AFTER_FAILURE = 0.85, 0.1, 15.0, 0.25
BEYOND_EVENT = 1.5
"""A step goes no further than this many times the way to the next event, as the signals now move."""
MOST_TRIALS = 20_000
COMPACT_BELOW = 0.75


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class DensePath:
    """Accepted steps of every scenario; beyond a scenario's own count, unused.

    Parameters
    ----------
    knots : ndarray, shape (steps, points + 1, components, scenarios)
        States at 0, c_1 ... c_s of each step.
    share : ndarray, shape (steps, scenarios)
        Part of the step that was gone: below 1 where an event cut it.
    ends : ndarray, shape (steps, components, scenarios)
        State at the end of what was gone.
    modes : ndarray, shape (steps, flags, scenarios)
        In force during the step.
    counts : ndarray, shape (scenarios,)
        Number of steps.
    codes : ndarray, shape (scenarios,)
        Why each ended.
    """

    knots: FloatArray
    share: FloatArray
    ends: FloatArray
    modes: FloatArray
    counts: IntArray
    codes: IntArray


class _Recorder:
    """Collects accepted steps, scenario by scenario, in arrays that grow."""

    def __init__(self, state: FloatArray, flags: int) -> None:
        capacity, (components, scenarios) = 16, state.shape
        self.knots = np.zeros((capacity, POINTS + 1, components, scenarios))
        self.share = np.zeros((capacity, scenarios))
        self.ends = np.zeros((capacity, components, scenarios))
        self.modes = np.zeros((capacity, flags, scenarios))
        self.counts = np.zeros(scenarios, dtype=np.intp)
        self.codes = np.zeros(scenarios, dtype=np.intp)

    def add(
        self,
        who: IntArray,
        knots: FloatArray,
        share: FloatArray,
        end: FloatArray,
        modes: FloatArray,
    ) -> None:
        if who.size == 0:
            return
        row = self.counts[who]
        if int(row.max()) == self.share.shape[0]:
            for name in ("knots", "share", "ends", "modes"):
                array = getattr(self, name)
                setattr(self, name, np.concatenate([array, np.zeros_like(array)]))
        self.knots[row, :, :, who] = np.moveaxis(knots, -1, 0).swapaxes(1, 2)
        self.share[row, who], self.ends[row, :, who] = share, end.T
        self.modes[row, :, who] = modes.T
        self.counts[who] += 1

    def path(self) -> DensePath:
        most = max(int(self.counts.max(initial=0)), 1)
        knots, share, ends, modes = (part[:most] for part in (self.knots, self.share, self.ends, self.modes))
        return DensePath(knots, share, ends, modes, self.counts, self.codes)


def march_stiff(
    ensemble: StiffEnsemble,
    state: FloatArray,
    *,
    scale: FloatArray,
    tolerance: FloatArray,
    first: FloatArray,
) -> DensePath:
    """March every scenario from `state` to its end.

    Parameters
    ----------
    ensemble : StiffEnsemble
    state : ndarray, shape (components, scenarios)
        Initial state, time first.
    scale : ndarray, shape (components, scenarios)
        Error allowed per step in each component.
    tolerance : ndarray, shape (events, scenarios)
        A signal from zero up to this counts as landed.
    first : ndarray, shape (scenarios,)
        First step [s].

    Returns
    -------
    DensePath

    Raises
    ------
    ConvergenceError
        A scenario needs more than 20,000 trial steps.
    """
    who = np.arange(state.shape[1])
    fixed, rates, signals = _at_one(ensemble, state)
    ensemble, codes = ensemble.landed(signals <= tolerance, fixed)
    state, rates, signals = _at_one(ensemble, fixed)
    record = _Recorder(state, ensemble.mode().shape[0])
    record.codes[who] = codes
    step = np.array(first)
    guess = linear(state, rates, step)
    for _ in range(MOST_TRIALS):
        going = record.codes[who] == 0
        if not going.any():
            return record.path()
        if going.mean() < COMPACT_BELOW:
            keep = np.flatnonzero(going)
            who, ensemble, step, going = who[keep], ensemble.take(keep), step[keep], going[keep]
            state, rates, signals = state[:, keep], rates[:, keep], signals[:, keep]
            scale, tolerance, guess = scale[:, keep], tolerance[:, keep], guess[..., keep]
        tried = solve_step(ensemble, state, step, guess, scale)
        accepted = tried.converged & (tried.error <= 1.0) & going
        growth = SAFETY * np.power(np.maximum(tried.error, 1e-12), -1.0 / (POINTS + 1.0))
        growth = np.where(tried.converged, np.clip(growth, SLOWEST, FASTEST), AFTER_FAILURE)
        knots = np.concatenate([state[:, None], tried.states], axis=1)
        share, end, new_rates, heard = _land(ensemble, knots, tried.signals, signals, tolerance, accepted)
        kept = np.flatnonzero(accepted)
        record.add(who[kept], knots[..., kept], share[kept], end[:, kept], ensemble.mode()[:, kept])
        gone = step * share
        ended = np.where(accepted, ensemble.settled(state, end, (rates, new_rates)), 0)
        state, rates = np.where(accepted, end, state), np.where(accepted, new_rates, rates)
        signals = np.where(accepted, heard, signals)
        near = (heard <= tolerance) & accepted
        hit = near.any(axis=0)
        if hit.any():
            ensemble, codes = ensemble.landed(near, state)
            ended = np.where(hit & (codes != 0), codes, ended)
            fresh = _at_one(ensemble, state)
            state, rates, signals = (
                np.where(hit, new, old) for new, old in zip(fresh, (state, rates, signals), strict=True)
            )
        record.codes[who] = np.where((record.codes[who] == 0) & going, ended, record.codes[who])
        next_step = np.where(accepted, np.maximum(step * growth, gone), step * np.minimum(growth, 0.7))
        whole = accepted & (share == 1.0)
        next_step = np.minimum(next_step, _to_event(tried.signals, heard, tolerance, step, whole))
        onward = accepted & ~hit & (next_step <= 3.0 * step)
        guess = np.where(onward, extrapolated(knots, next_step / step), linear(state, rates, next_step))
        step = np.where(going, next_step, step)
    worst = int(np.argmin(np.where(record.codes[who] == 0, step, np.inf)))
    last = {"scenario": float(who[worst]), "time": float(state[0, worst])}
    raise ConvergenceError("a march did not end; its smallest step", float(step[worst]), last)


def _to_event(
    at_points: FloatArray, heard: FloatArray, tolerance: FloatArray, step: FloatArray, counts: BoolArray
) -> FloatArray:
    """Longest step worth trying (n,): somewhat beyond the next event, as the signals fell at last."""
    fall = np.maximum(at_points[:, -2] - heard, 1e-300) / (1.0 - RULE.nodes[-2])
    with np.errstate(over="ignore"):
        steps = (BEYOND_EVENT * (heard + tolerance) / fall).min(axis=0)
    return np.where(counts, np.maximum(steps, 1e-3) * step, np.inf)


def _at_one(ensemble: StiffEnsemble, state: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    fixed, rates, signals = ensemble.evaluate(state[:, None])
    return fixed[:, 0], rates[:, 0], signals[:, 0]


def _land(
    ensemble: StiffEnsemble,
    knots: FloatArray,
    at_points: FloatArray,
    at_start: FloatArray,
    tolerance: FloatArray,
    accepted: BoolArray,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Part of the step to the first event, and the state, rates and signals there."""
    n = accepted.size
    theta = np.ones(n)
    end, rates, heard = _at_one(ensemble, knots[:, -1])
    at_points = np.concatenate([at_points[:, :-1], heard[:, None]], axis=1)
    crosses = (at_points < 0.0).any(axis=0)
    seeks = crosses.any(axis=0) & accepted
    if not seeks.any():
        return theta, end, rates, heard
    who = np.arange(n)
    first = np.argmax(crosses, axis=0)
    every = np.concatenate([[0.0], RULE.nodes])
    low, high = every[first], every[first + 1]
    signals = np.concatenate([at_start[:, None], at_points], axis=1)
    below, above = signals[:, first + 1, who], signals[:, first, who]
    side = np.zeros(n)
    for k in range(MOST_LANDING):
        crossing = below < 0.0
        fall = np.where(crossing, above - below, 1.0)
        share = np.where(crossing, (above - 0.5 * tolerance) / np.where(fall > 0.0, fall, 1.0), 1.0)
        share = np.clip(share.min(axis=0), 0.0, 1.0)
        share = np.where((share <= 0.0) | (share >= 1.0) | (k >= SECANTS and k % 3 == 2), 0.5, share)
        trial = low + share * (high - low)
        theta = np.where(seeks, trial, theta)
        # signals of the state on its conservation laws, where they are to be zero
        fixed, slope, now = _at_one(ensemble, _at_one(ensemble, polynomial(knots, theta))[0])
        end, rates, heard = (
            np.where(seeks, new, old)
            for new, old in zip((fixed, slope, now), (end, rates, heard), strict=True)
        )
        negative = (now < 0.0).any(axis=0)
        landed = ~negative & (now <= tolerance).any(axis=0)
        seeks = seeks & ~landed
        if not seeks.any():
            break
        # an end that stays while the other comes counts half (the Illinois rule)
        above = np.where(negative & (side < 0.0), 0.5 * above, above)
        below = np.where(~negative & (side > 0.0), 0.5 * below, below)
        side = np.where(negative, -1.0, 1.0)
        high, below = np.where(negative, trial, high), np.where(negative, now, below)
        low, above = np.where(negative, low, trial), np.where(negative, above, now)
    return theta, end, rates, heard


def sample(
    path: DensePath, start: FloatArray, weights: FloatArray, points: int
) -> tuple[FloatArray, FloatArray]:
    """States (points, components, n) and modes (points, flags, n) at points spread along every path.

    Parameters
    ----------
    path : DensePath
    start : ndarray, shape (components, n)
        Where the paths began.
    weights : ndarray, shape (components, n)
        The points are even in the sum of weight * |change of component| along the path.
    points : int
    """
    steps, n = path.share.shape
    who = np.arange(n)
    every = np.concatenate([[0.0], RULE.nodes])
    theta = every[None, :, None] * path.share[:, None]
    knots = np.moveaxis(path.knots, 1, 2)
    reached = polynomial(np.moveaxis(knots, 1, 0)[:, :, None], theta)
    reached = np.moveaxis(reached, 0, 2).reshape(steps * (POINTS + 1), *start.shape)
    used = np.repeat(np.arange(steps)[:, None] < path.counts, POINTS + 1, axis=0)
    length = np.zeros(used.shape)
    for component in range(start.shape[0]):
        moves = np.abs(reached[1:, component] - reached[:-1, component])
        length[1:] += np.where(used[1:], moves, 0.0) * weights[component]
    length = np.add.accumulate(length, axis=0)
    states = np.empty((points, *start.shape))
    modes = np.empty((points, *path.modes.shape[1:]))
    last = np.maximum(path.counts - 1, 0)
    flat = theta.reshape(steps * (POINTS + 1), n)
    for i in range(points):
        target = length[-1] * (i / (points - 1))
        left = np.clip((length <= target).sum(axis=0) - 1, 0, np.maximum(path.counts, 1) * (POINTS + 1) - 2)
        step = left // (POINTS + 1)
        span = length[left + 1, who] - length[left, who]
        within = np.where(span > 0.0, (target - length[left, who]) / np.where(span > 0.0, span, 1.0), 1.0)
        at = flat[left, who] + np.clip(within, 0.0, 1.0) * (flat[left + 1, who] - flat[left, who])
        states[i] = polynomial(np.moveaxis(knots[step, :, :, who], 0, -1), at)
        modes[i] = path.modes[step, :, who].T
    states[0] = start
    ends = path.ends[last, :, who].T
    states[-1] = np.where(path.counts > 0, ends, start)
    return states, modes
