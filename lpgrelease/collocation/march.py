"""Marching many stiff initial value problems at once in few long steps: collocation at Radau's points.

Every scenario has its own steps and its own end, and only elementwise operations and one small solve per
scenario touch the arrays, so that a path is the same to the bit whatever else marches.

Notes
-----
Over a step h the path is the polynomial of degree s whose slope meets the equations at the s points of
Radau's quadrature (the last is the step's end): L-stable, of order 2 s - 1 at the end (hairer1996stiff,
section IV.5). All points of a step are evaluated at once. Newton's method solves for them, from where the
equations with the slopes at the step's start would lead; slopes are differences along the few directions in
which the rates change ("couplings"), so only those enter the system. What follows a Newton step that is
small enough (rates at the end, signals) is taken by these slopes and not evaluated again; from the second
evaluation of a step on, the first of the next is made in the same call. What a step errs
by anywhere is told by the slope's defect at one more point, which is to leading order
(theta - c_1)...(theta - c_s) times a constant, filtered by (I - h J/s)**-1 as in hairer1996stiff,
Eq. IV.8.19. Events are found on the polynomial.
"""

from __future__ import annotations

import dataclasses
from typing import NamedTuple

import numpy as np

from lpgrelease.collocation.events import at_one, seek, since, to_event
from lpgrelease.collocation.newton import Coupling, StiffEnsemble, relaxing
from lpgrelease.collocation.radau import POINTS, RULE, polynomial
from lpgrelease.collocation.step import Ahead, Tried, exchanged, solve_step
from lpgrelease.elementwise import chosen
from lpgrelease.errors import ConvergenceError
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray, IntArray

__all__ = ["DensePath", "march_stiff", "sample"]

SAFETY, SLOWEST, FASTEST, AFTER_FAILURE = 0.85, 0.1, 15.0, 0.25
TELLS = 1e-6
"""An error smaller than that, over what is allowed, tells of round-off as much as of the step."""
CLOSE = 1e-3
"""A signal that comes so near to zero, of what it fell over a step, is looked at again."""
LAWFUL = 1e3
"""A path is taken up to an event if it is no more off its laws there, over the error allowed."""
AT_ONCE = 64
"""Points of a path sampled in one call."""
MOST_TRIALS = 20_000
COMPACT_BELOW = 0.75
"""Finished scenarios are dropped from the arrays once fewer than this fraction still march."""
NONE = slice(0)
"""No component."""


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

    def __init__(self, state: FloatArray, mode: FloatArray) -> None:
        capacity, (components, scenarios) = 16, state.shape
        self.knots = np.zeros((capacity, POINTS + 1, components, scenarios))
        self.share = np.zeros((capacity, scenarios))
        self.ends = np.zeros((capacity, components, scenarios))
        self.modes = np.zeros((capacity, *mode.shape))
        self.modes[0] = mode
        self.counts = np.zeros(scenarios, dtype=np.intp)
        self.codes = np.zeros(scenarios, dtype=np.intp)

    def add(
        self,
        who: IntArray,
        accepted: BoolArray,
        taken: tuple[FloatArray, ...],
    ) -> None:
        kept = np.flatnonzero(accepted)
        if kept.size == 0:
            return
        if kept.size < who.size:
            who, taken = who[kept], tuple(part[..., kept] for part in taken)
        knots, share, end, modes = taken
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
    first : ndarray, shape (components, scenarios)
        How far each component may move in the first step, by its initial rate.

    Returns
    -------
    DensePath

    Raises
    ------
    ConvergenceError
        A scenario needs more than 20,000 trial steps.
    """
    who = np.arange(state.shape[1])
    record = _Recorder(state, ensemble.mode())
    state, rates, signals, slopes = _with_slopes(ensemble, state)
    near = signals <= tolerance
    hit = near.any(axis=0)
    if hit.any():
        ensemble, record.codes[who] = ensemble.landed(near, state)
        anew = _with_slopes(ensemble, state)
        state, rates, signals, slopes = chosen(hit, anew, (state, rates, signals, slopes))
    step, ahead = 1.0 / (np.abs(rates) / first).max(axis=0), None
    coupling = Coupling.of(ensemble)
    for _ in range(MOST_TRIALS):
        going = record.codes[who] == 0
        count = np.count_nonzero(going)
        if not count:
            return record.path()
        if count < COMPACT_BELOW * going.size:
            keep = np.flatnonzero(going)
            who, ensemble, step, going = who[keep], ensemble.take(keep), step[keep], going[keep]
            state, rates, signals = state[:, keep], rates[:, keep], signals[:, keep]
            scale, tolerance, slopes = scale[:, keep], tolerance[:, keep], slopes[..., keep]
            coupling, ahead = coupling.take(keep), None if ahead is None else ahead.take(keep)
        guess = _guess(coupling, (state, rates, step, slopes), ahead)
        plan = _Planner(coupling, state, step, tolerance)
        tried = solve_step(ensemble, state, step, guess, scale, coupling=coupling, ahead=ahead, plan=plan)
        seems = tried.converged & (tried.error <= 1.0) & going
        state = tried.start
        knots = np.concatenate([state[:, None], tried.states], axis=1)
        share, end, new_rates, heard, accepted = _land(
            ensemble, knots, tried, signals, tolerance, scale, seems
        )
        tried = tried._replace(converged=tried.converged & (accepted | ~seems))
        ended, (share, end, new_rates, heard) = _settled(
            ensemble, knots, rates, (share, end, new_rates, heard), accepted
        )
        record.add(who, accepted, (knots, share, end, ensemble.mode()))
        near = (heard <= tolerance) & accepted
        hit = near.any(axis=0)
        planned = accepted & ~hit & (end == knots[:, -1]).all(axis=0)
        ahead = None if tried.ahead is None else tried.ahead._replace(valid=tried.ahead.valid & planned)
        if ahead is None or not ahead.valid.all():
            step = np.where(going, _next_step(tried, tolerance, step, share), step)
        step = step if ahead is None else np.where(ahead.valid, ahead.step, step)
        state, rates, signals, slopes = chosen(
            accepted, (end, new_rates, heard, tried.slopes), (state, rates, signals, slopes)
        )
        if hit.any():
            ensemble, codes = ensemble.landed(near, state)
            ended = np.where(hit & (codes != 0), codes, ended)
        record.codes[who] = np.where((record.codes[who] == 0) & going, ended, record.codes[who])
        turned = hit & (ended == 0)
        if turned.any():
            state, rates, signals = chosen(turned, at_one(ensemble, state), (state, rates, signals))
    worst = int(np.argmin(np.where(record.codes[who] == 0, step, np.inf)))
    last = {"scenario": float(who[worst]), "time": float(state[0, worst])}
    raise ConvergenceError("a march did not end; its smallest step", float(step[worst]), last)


def _next_step(tried: Tried, tolerance: FloatArray, step: FloatArray, share: FloatArray) -> FloatArray:
    """Length to try after a step of which `share` was gone."""
    good = tried.converged & (tried.error <= 1.0)
    growth = SAFETY * np.power(np.maximum(tried.error, TELLS), -1.0 / (POINTS + 1.0))
    growth = np.minimum(np.maximum(growth, SLOWEST), FASTEST)
    growth = np.where(good, growth, np.where(tried.converged, np.minimum(growth, 0.7), AFTER_FAILURE))
    return step * np.where(good & (share == 1.0), to_event(tried.signals, tolerance, growth), growth)


class _Planner(NamedTuple):
    """Plans the step after one from `start`, as the march would choose it if nothing comes between."""

    coupling: Coupling
    start: FloatArray
    step: FloatArray
    tolerance: FloatArray

    def __call__(self, found: Tried) -> tuple[FloatArray, FloatArray, FloatArray]:
        good = found.error <= 1.0
        # a plan counts only where the step converges after all
        found = found._replace(converged=good)
        end = np.where(good, found.states[:, -1], self.start)
        longer = _next_step(found, self.tolerance, self.step, np.ones(self.step.size))
        guess = relaxing(self.coupling, end, found.rates, longer, found.slopes)
        return end, longer, np.where(good, guess, self.start[:, None])

    def take(self, index: IntArray) -> _Planner:
        """Return that of the scenarios `index` alone."""
        start, step, tolerance = self.start[:, index], self.step[index], self.tolerance[:, index]
        return _Planner(self.coupling.take(index), start, step, tolerance)


def _guess(
    coupling: Coupling,
    known: tuple[FloatArray, FloatArray, FloatArray, FloatArray],
    ahead: Ahead | None,
) -> FloatArray:
    """States at the points of a step, from its start, rates, length and slopes, or as they were planned."""
    if ahead is not None and ahead.valid.all():
        return ahead.guess
    guess = relaxing(coupling, *known)
    return guess if ahead is None else np.where(ahead.valid, ahead.guess, guess)


def _with_slopes(
    ensemble: StiffEnsemble, state: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """State on its conservation laws, rates, signals, and the rates' slopes (couplings, components, n)."""
    rows, increments = list(ensemble.directions), ensemble.increments
    asked = np.repeat(state[:, None], len(rows) + 1, axis=1)
    asked[rows, range(1, len(rows) + 1)] += increments
    fixed, rates, signals = ensemble.evaluate(asked)
    slopes = (rates[:, 1:] - rates[:, :1]).swapaxes(0, 1) / increments[:, None]
    return fixed[:, 0], rates[:, 0], signals[:, 0], np.where(np.isfinite(slopes), slopes, 0.0)


def _land(
    ensemble: StiffEnsemble,
    knots: FloatArray,
    tried: Tried,
    at_start: FloatArray,
    tolerance: FloatArray,
    scale: FloatArray,
    accepted: BoolArray,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, BoolArray]:
    """Part of the step to the first event; the state, rates and signals there; and whether it is taken."""
    theta = np.ones(accepted.size)
    end, rates, heard = knots[:, -1], tried.rates, tried.signals[:, -1]
    crosses = (tried.signals < 0.0).any(axis=(0, 1))
    close = (heard <= tolerance + CLOSE * np.abs(at_start - heard)).any(axis=0)
    looks = np.flatnonzero((crosses | close) & accepted)
    if looks.size == 0:
        return theta, end, rates, heard, accepted
    part = ensemble if looks.size == theta.size else ensemble.take(looks)
    signals = np.concatenate([at_start[:, None], tried.signals], axis=1)[..., looks]
    *landed, off = seek(part, knots[..., looks], signals, tolerance[:, looks])
    # far beyond an event the equations may mean nothing, and a path that goes there is none
    lawful = (np.abs(off) <= LAWFUL * scale[:, looks]).all(axis=0)
    theta, end, rates, heard, accepted = exchanged(
        (theta, end, rates, heard, accepted), looks, (*landed, lawful)
    )
    return theta, end, rates, heard, accepted


def _settled(
    ensemble: StiffEnsemble,
    knots: FloatArray,
    rates: FloatArray,
    taken: tuple[FloatArray, FloatArray, FloatArray, FloatArray],
    accepted: BoolArray,
) -> tuple[IntArray, tuple[FloatArray, ...]]:
    """Codes of those that have settled; what `_land` found, their ends put back to where they did."""
    codes = np.where(accepted, ensemble.settled(knots[:, 0], taken[1], (rates, taken[2])), 0)
    rests = np.flatnonzero(codes)
    if not rests.size:
        return codes, taken
    ensemble, knots, rates = ensemble.take(rests), knots[..., rests], rates[:, rests]
    share, end, end_rates, _ = (part[..., rests] for part in taken)
    found = share, knots[:, 0], rates, rates
    for _ in range(2):
        # where it comes to is known better from nearby
        rest = ensemble.at_rest(found[1], end, (found[2], end_rates))
        found = since(ensemble, knots, share, rest)
    return codes, tuple(exchanged(taken, rests, found))


def sample(
    path: DensePath, start: FloatArray, weights: FloatArray, points: int, *, rising: slice = NONE
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
    rising : slice
        Components that never fall: where their rates set in or end within a step, its polynomial swings by
        what the step may err.
    """
    steps, n = path.share.shape
    who = np.arange(n)
    theta = np.concatenate([[0.0], RULE.nodes])[None, :, None] * path.share[:, None]
    reached = _reached(path, theta).reshape(steps * (POINTS + 1), *start.shape)
    used = np.repeat(np.arange(steps)[:, None] < path.counts, POINTS + 1, axis=0)
    # between a step's end and the start of the next, which may be put back on its laws, lies nothing
    used[:: POINTS + 1] = False
    length = np.zeros(used.shape)
    for component in range(start.shape[0]):
        moves = np.abs(reached[1:, component] - reached[:-1, component])
        length[1:] += np.where(used[1:], moves, 0.0) * weights[component]
    length = np.add.accumulate(length, axis=0)
    states = np.empty((points, *start.shape))
    modes = np.empty((points, *path.modes.shape[1:]))
    last = np.maximum(path.counts - 1, 0)
    flat = theta.reshape(steps * (POINTS + 1), n)
    most = np.maximum(path.counts, 1) * (POINTS + 1) - 2
    for begin in range(0, points, AT_ONCE):
        some = slice(begin, min(begin + AT_ONCE, points))
        target = length[-1] * (np.arange(points)[some, None] / (points - 1))
        left = np.minimum(np.maximum((length[:, None] <= target).sum(axis=0) - 1, 0), most)
        step, passed = left // (POINTS + 1), length[left, who]
        span = length[left + 1, who] - passed
        within = np.where(span > 0.0, (target - passed) / np.where(span > 0.0, span, 1.0), 1.0)
        within = np.minimum(np.maximum(within, 0.0), 1.0)
        at = flat[left, who] + within * (flat[left + 1, who] - flat[left, who])
        there = path.knots[step, :, :, who].transpose(3, 0, 2, 1)
        states[some] = polynomial(there, at).swapaxes(0, 1)
        modes[some] = path.modes[step, :, who].swapaxes(1, 2)
    states[0] = start
    states[-1] = path.ends[last, :, who].T
    states = np.where(path.counts > 0, states, start)
    rise = states[:, rising]
    rise[:] = np.minimum(np.maximum.accumulate(rise, axis=0), rise[-1])
    return states, modes


def _reached(path: DensePath, theta: FloatArray) -> FloatArray:
    """States at theta (steps, points + 1, n) of every step: its knots, or those of what was gone of it."""
    knots = path.knots.copy()
    used = np.arange(len(path.share))[:, None] < path.counts
    step, who = np.nonzero(used & (path.share < 1.0))
    cut = path.knots[step, :, :, who].transpose(2, 1, 0)
    at = theta[step, :, who].T
    knots[step, :, :, who] = polynomial(cut[:, None], at).transpose(2, 1, 0)
    return knots
