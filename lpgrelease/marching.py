"""Marching many initial value problems at once, each with its own steps.

An ensemble's state is an array of shape (components, scenarios); component 0 is time. Every scenario has
its own step size, its own accepted and rejected steps and its own end. Only elementwise operations touch
the arrays, so a scenario's path is the same to the bit whatever else marches beside it.

Notes
-----
Embedded Runge-Kutta pair of order 5(4), first same as last (dormand1980family), with the fourth-order
value at the middle of a step (shampine1986interpolation) for interpolation. A step that would cross an
event is cut back to the secant's estimate until it lands just before it; what a landing means, the
ensemble says.
"""

from __future__ import annotations

import dataclasses
from typing import Protocol, Self

import numpy as np
from numpy.typing import NDArray

from lpgrelease.errors import ConvergenceError
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = ["Ensemble", "IntArray", "Path", "march", "resample"]

IntArray = NDArray[np.intp]

STAGES = (
    (1 / 5,),
    (3 / 40, 9 / 40),
    (44 / 45, -56 / 15, 32 / 9),
    (19372 / 6561, -25360 / 2187, 64448 / 6561, -212 / 729),
    (9017 / 3168, -355 / 33, 46732 / 5247, 49 / 176, -5103 / 18656),
    (35 / 384, 0.0, 500 / 1113, 125 / 192, -2187 / 6784, 11 / 84),
)
ERROR = (71 / 57600, 0.0, -71 / 16695, 71 / 1920, -17253 / 339200, 22 / 525, -1 / 40)
MIDDLE = (
    6025192743 / 60171106304,
    0.0,
    51252292925 / 130801643196,
    -2691868925 / 90256659456,
    187940372067 / 3189068634112,
    -1776094331 / 39487288512,
    11237099 / 470086768,
)
"""Weights of the stages: of the next stage, of the error, and of the state at the middle of the step."""
SAFETY, SLOWEST, FASTEST = 0.9, 0.2, 6.0
"""Factor on the ideal step; least and greatest change from one step to the next."""
NONE = slice(0)
"""No component."""
MOST_TRIALS = 100_000
AT_ONCE = 1000
"""States interpolated in one call."""
COMPACT_BELOW = 0.75
"""Finished scenarios are dropped from the arrays once fewer than this fraction still march."""


class Ensemble(Protocol):
    """The problem of :func:`march`: frozen, with one entry per scenario in each of its arrays."""

    def evaluate(self, state: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return `state` put back on its conservation laws, its rates, and the signals of the events.

        A signal is positive until its event and zero there; shape (events, scenarios).
        """
        ...

    def landed(self, events: BoolArray) -> tuple[Self, IntArray]:
        """Return the ensemble after `events` (events, scenarios), and codes of those that end."""
        ...

    def settled(
        self, before: FloatArray, after: FloatArray, rates: tuple[FloatArray, FloatArray]
    ) -> IntArray:
        """Return codes of scenarios that end because nothing changes any more (0: goes on)."""
        ...

    def take(self, index: IntArray) -> Self:
        """Return the scenarios `index` alone."""
        ...

    def mode(self) -> BoolArray:
        """Return what is in force between events, shape (flags, scenarios), to be kept with the path."""
        ...


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Path:
    """Accepted steps of every scenario.

    Parameters
    ----------
    states, rates : ndarray, shape (steps, components, scenarios)
        At the accepted points; beyond a scenario's own count, unused.
    middles : ndarray, shape (steps, components, scenarios)
        State at the middle of the step that ends at each point.
    modes : ndarray, shape (steps, flags, scenarios)
        In force from that point on.
    counts : ndarray, shape (scenarios,)
        Number of points.
    codes : ndarray, shape (scenarios,)
        Why each ended.
    """

    states: FloatArray
    rates: FloatArray
    middles: FloatArray
    modes: BoolArray
    counts: IntArray
    codes: IntArray


class _Recorder:
    """Collects accepted points, scenario by scenario, in arrays that grow."""

    def __init__(self, state: FloatArray, modes: BoolArray) -> None:
        capacity, (components, scenarios) = 64, state.shape
        self.states = np.zeros((capacity, components, scenarios))
        self.rates = np.zeros((capacity, components, scenarios))
        self.middles = np.zeros((capacity, components, scenarios))
        self.modes = np.zeros((capacity, modes.shape[0], scenarios), dtype=np.bool_)
        self.counts = np.zeros(scenarios, dtype=np.intp)
        self.codes = np.zeros(scenarios, dtype=np.intp)

    def add(
        self, who: IntArray, state: FloatArray, rates: FloatArray, middle: FloatArray, modes: BoolArray
    ) -> None:
        if who.size == 0:
            return
        row = self.counts[who]
        if int(row.max()) == self.states.shape[0]:
            for name in ("states", "rates", "middles", "modes"):
                array = getattr(self, name)
                setattr(self, name, np.concatenate([array, np.zeros_like(array)]))
        self.states[row, :, who], self.rates[row, :, who] = state.T, rates.T
        self.middles[row, :, who], self.modes[row, :, who] = middle.T, modes.T
        self.counts[who] += 1

    def path(self) -> Path:
        return Path(self.states, self.rates, self.middles, self.modes, self.counts, self.codes)


def march(
    ensemble: Ensemble,
    state: FloatArray,
    *,
    scale: FloatArray,
    tolerance: FloatArray,
    first: FloatArray,
    rising: slice = NONE,
) -> Path:
    """March every scenario from `state` to its end.

    Parameters
    ----------
    ensemble : Ensemble
    state : ndarray, shape (components, scenarios)
        Initial state, time first.
    scale : ndarray, shape (components, scenarios)
        Error allowed per step in each component.
    tolerance : ndarray, shape (events, scenarios)
        A signal from zero up to this counts as landed; none is left below zero.
    first : ndarray, shape (scenarios,)
        First step [s].
    rising : slice
        Components that never fall: a step over a corner of their rates that lets one fall is taken shorter.

    Returns
    -------
    Path

    Raises
    ------
    ConvergenceError
        A scenario needs more than 100,000 trial steps.
    """
    who = np.arange(state.shape[1])
    state, rates, signals = ensemble.evaluate(state)
    ensemble, codes = ensemble.landed(signals <= tolerance)
    state, rates, signals = ensemble.evaluate(state)
    record = _Recorder(state, ensemble.mode())
    record.add(who, state, rates, state, ensemble.mode())
    record.codes[who] = codes
    step = np.array(first)
    for _ in range(MOST_TRIALS):
        going = record.codes[who] == 0
        if not going.any():
            return record.path()
        if going.mean() < COMPACT_BELOW:
            keep = np.flatnonzero(going)
            who, ensemble, step = who[keep], ensemble.take(keep), step[keep]
            state, rates, signals = state[:, keep], rates[:, keep], signals[:, keep]
            scale, tolerance, going = scale[:, keep], tolerance[:, keep], going[keep]
        trial, new_rates, heard, error, middle = _trial(ensemble, state, rates, step, scale)
        crossing = (heard < 0.0) & going
        fall = np.where(crossing, signals - heard, 1.0)
        share = np.where(crossing, (signals - 0.5 * tolerance) / fall, 1.0).min(axis=0)
        share = np.maximum(share, 1e-3)
        falls = (trial[rising] < state[rising]).any(axis=0)
        precise = (error <= 1.0) & ~falls
        accepted = precise & (share >= 1.0) & going
        growth = np.clip(SAFETY * np.power(np.maximum(error, 1e-12), -1.0 / 5.0), SLOWEST, FASTEST)
        growth = np.where(falls, np.minimum(growth, 0.5), growth)
        next_step = step * np.where(going, np.where(precise & (share < 1.0), share, growth), 1.0)
        near = (heard <= tolerance) & accepted
        ended = np.where(accepted, ensemble.settled(state, trial, (rates, new_rates)), 0)
        kept = np.flatnonzero(accepted)
        record.add(who[kept], trial[:, kept], new_rates[:, kept], middle[:, kept], ensemble.mode()[:, kept])
        state, rates = np.where(accepted, trial, state), np.where(accepted, new_rates, rates)
        signals, step = np.where(accepted, heard, signals), next_step
        hit = near.any(axis=0)
        if hit.any():
            ensemble, codes = ensemble.landed(near)
            ended = np.where(hit & (codes != 0), codes, ended)
            fresh_state, fresh_rates, fresh_signals = ensemble.evaluate(state)
            state, rates = np.where(hit, fresh_state, state), np.where(hit, fresh_rates, rates)
            signals = np.where(hit, fresh_signals, signals)
            turned = np.flatnonzero(hit & (ended == 0))
            record.add(
                who[turned], state[:, turned], rates[:, turned], state[:, turned], ensemble.mode()[:, turned]
            )
        record.codes[who] = np.where(record.codes[who] == 0, ended, record.codes[who])
    worst = int(np.argmin(np.where(record.codes[who] == 0, step, np.inf)))
    last = {"scenario": float(who[worst]), "time": float(state[0, worst])}
    raise ConvergenceError("a march did not end; its smallest step", float(step[worst]), last)


def _trial(
    ensemble: Ensemble, state: FloatArray, rates: FloatArray, step: FloatArray, scale: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    """One step of the pair: new state, rates and signals there, error over `scale`, and the middle."""
    stages = [rates]
    for weights in STAGES:
        moved, k, signals = ensemble.evaluate(state + step * _combine(weights, stages))
        stages.append(k)
    error = (np.abs(step * _combine(ERROR, stages)) / scale).max(axis=0)
    return moved, stages[-1], signals, error, state + step * _combine(MIDDLE, stages)


def _combine(weights: tuple[float, ...], stages: list[FloatArray]) -> FloatArray:
    total = weights[0] * stages[0]
    for weight, stage in zip(weights[1:], stages[1:], strict=True):
        if weight:
            total = total + weight * stage
    return total


def resample(
    path: Path, weights: FloatArray, points: int, *, rising: slice = NONE
) -> tuple[FloatArray, BoolArray]:
    """States at `points` points of every path, ends included, by quartic interpolation.

    Parameters
    ----------
    path : Path
    weights : ndarray, shape (components, scenarios)
        The points are spread evenly over the sum of weight * |change of component| along the path.
    points : int
    rising : slice
        Components that never fall; between two points of the path they stay between their values.

    Returns
    -------
    states : ndarray, shape (points, components, scenarios)
    modes : ndarray, shape (points, flags, scenarios)
    """
    most = int(path.counts.max(initial=1))
    scenario = np.arange(path.counts.size)
    unused = np.arange(most)[:, None] >= path.counts
    moves = np.abs(np.diff(path.states[:most], axis=0))
    length = np.zeros((most, scenario.size))
    for component in range(moves.shape[1]):
        length[1:] += moves[:, component] * weights[component]
    length[unused] = 0.0
    length = np.add.accumulate(length, axis=0)
    total = length[path.counts - 1, scenario]
    states = np.empty((points, *path.states.shape[1:]))
    modes = np.empty((points, *path.modes.shape[1:]), dtype=np.bool_)
    at_once = max(1, AT_ONCE // max(scenario.size, 1))
    for first in range(0, points, at_once):
        index = np.arange(first, min(first + at_once, points))
        who = np.tile(scenario, index.size)
        target = (total * (index / (points - 1))[:, None]).reshape(-1)
        passed = (length[:, who] <= target) & ~unused[:, who]
        left = np.maximum(np.minimum(passed.sum(axis=0), path.counts[who] - 1) - 1, 0)
        right = np.minimum(left + 1, path.counts[who] - 1)
        value = _interpolate(path, left, right, who, target, length)
        floor, ceiling = path.states[left, rising, who].T, path.states[right, rising, who].T
        value[rising] = np.clip(value[rising], floor, ceiling)
        shape = index.size, scenario.size
        states[index] = value.reshape(len(value), *shape).swapaxes(0, 1)
        modes[index] = path.modes[left, :, who].reshape(*shape, modes.shape[1]).swapaxes(1, 2)
    states[0], states[-1] = path.states[0], path.states[path.counts - 1, :, scenario].T
    np.maximum.accumulate(states[:, rising], axis=0, out=states[:, rising])
    return states, modes


def _interpolate(
    path: Path, left: IntArray, right: IntArray, scenario: IntArray, target: FloatArray, length: FloatArray
) -> FloatArray:
    """Quartic through the states at both ends and the middle of a step, with the rates at the ends."""
    y0, y1, ym = (
        array.T
        for array in (
            path.states[left, :, scenario],
            path.states[right, :, scenario],
            path.middles[right, :, scenario],
        )
    )
    f0, f1 = path.rates[left, :, scenario].T, path.rates[right, :, scenario].T
    span = length[right, scenario] - length[left, scenario]
    w = np.where(span > 0.0, (target - length[left, scenario]) / np.where(span > 0.0, span, 1.0), 1.0)
    w = np.clip(w, 0.0, 1.0)
    dt = y1[0] - y0[0]
    u = 1.0 - w
    value: FloatArray = (
        u * u * (1.0 + 2.0 * w) * y0 + w * w * (3.0 - 2.0 * w) * y1 + w * u * dt * (u * f0 - w * f1)
    )
    cubic_middle = 0.5 * (y0 + y1) + 0.125 * dt * (f0 - f1)
    value = value + 16.0 * (w * u) * (w * u) * (ym - cubic_middle)
    value[0] = y0[0] + w * dt
    return value
