"""One step of collocation: Newton's method for all its points at once, and what the step errs by."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple, Protocol, Self

import numpy as np

from lpgrelease.marching import IntArray
from lpgrelease.quantities import FloatArray
from lpgrelease.radau import POINTS, RULE
from lpgrelease.results import BoolArray
from lpgrelease.summing import add_along

__all__ = ["Ahead", "Coupling", "Plan", "StiffEnsemble", "Tried", "relaxing", "solve_step"]

MOST_NEWTON = 8
"""Newton steps. The second takes the slopes of the first, for it most often only confirms it."""
NEWTON_SHARE = 0.05
"""A Newton step this small against the error allowed is the last."""


class StiffEnsemble(Protocol):
    """The problem of :func:`march_stiff`: frozen, one entry per scenario on the last axis of its arrays.

    `directions` names, for each coupling, the component that is moved to take a slope; `functionals` (one row
    per coupling, one column per component) gives how much of the coupling a change of the state holds: 1 for
    its own direction, 0 for the others'. `increments` (couplings, scenarios) says how far to move.
    """

    @property
    def directions(self) -> tuple[int, ...]: ...  # noqa: D102
    @property
    def functionals(self) -> FloatArray: ...  # noqa: D102
    @property
    def increments(self) -> FloatArray: ...  # noqa: D102

    def evaluate(self, state: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return `state` (components, points, scenarios) on its conservation laws, rates and signals."""
        ...

    def landed(self, events: BoolArray, state: FloatArray) -> tuple[Self, IntArray]:
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

    def mode(self) -> FloatArray:
        """Return what is in force between events, shape (flags, scenarios), to be kept with the path."""
        ...


class Tried(NamedTuple):
    """What a step found: at its points states and signals, at its end rates and their slopes."""

    start: FloatArray
    """On its conservation laws, (components, n)."""
    states: FloatArray
    signals: FloatArray
    rates: FloatArray
    """At the end, (components, n)."""
    slopes: FloatArray
    """Of the rates along the couplings at the end, (couplings, components, n)."""
    error: FloatArray
    """Over what is allowed, (n,)."""
    converged: BoolArray
    ahead: Ahead | None


class Coupling(NamedTuple):
    """Of an ensemble: its directions, what each holds of other rows, as (coupling, row), and increments."""

    directions: IntArray
    further: tuple[tuple[int, int], ...]
    increments: FloatArray

    @classmethod
    def of(cls, ensemble: StiffEnsemble) -> Coupling:
        """Take them from `ensemble`."""
        directions = np.array(ensemble.directions, dtype=np.intp)
        further = [
            (coupling, int(row))
            for coupling, weights in enumerate(ensemble.functionals)
            for row in np.flatnonzero(weights)
            if row != directions[coupling]
        ]
        return cls(directions, tuple(further), ensemble.increments)

    def take(self, index: IntArray) -> Coupling:
        """Return that of the scenarios `index` alone."""
        return self._replace(increments=self.increments[:, index])

    def held_by(self, values: FloatArray) -> FloatArray:
        """How much of each coupling `values` (components, ...) hold, (couplings, ...)."""
        total = values.take(self.directions, axis=0)
        for coupling, row in self.further:
            total[coupling] += values[row]
        return total


class Slopes(NamedTuple):
    """Along the couplings, of the rates (couplings, components, points, n), of the signals; their system."""

    by_coupling: FloatArray
    of_signals: FloatArray
    coupled: FloatArray
    system: FloatArray


class Ahead(NamedTuple):
    """The first evaluation of the step after one, made together with the last of that one."""

    step: FloatArray
    guess: FloatArray
    shift: FloatArray
    """Of its start onto the conservation laws, (components, n)."""
    rates: FloatArray
    signals: FloatArray
    """At the states of `_points`."""
    valid: BoolArray

    def take(self, index: IntArray) -> Ahead:
        """Return the scenarios `index` alone."""
        return Ahead(
            self.step[index],
            self.guess[..., index],
            self.shift[..., index],
            self.rates[..., index],
            self.signals[..., index],
            self.valid[index],
        )


Plan = Callable[["Tried"], tuple[FloatArray, FloatArray, FloatArray]]
"""From what a step seems to have found, the next: its start, length and a guess of its states."""


def solve_step(
    ensemble: StiffEnsemble,
    start: FloatArray,
    step: FloatArray,
    guess: FloatArray,
    scale: FloatArray,
    *,
    coupling: Coupling | None = None,
    ahead: Ahead | None = None,
    plan: Plan | None = None,
) -> Tried:
    """Newton's method for the states at the points of a step, and the step's error.

    `coupling`: that of the ensemble, where it is known. `ahead`: this step's first
    evaluation, where it is known. `plan`: what to evaluate ahead, together with the second evaluation of this
    one, which most often only confirms the first.
    """
    coupling = Coupling.of(ensemble) if coupling is None else coupling
    states, n = guess, step.size
    start, rates, heard = _first(ensemble, coupling, start, states, ahead)
    done, before = np.zeros(n, dtype=np.bool_), np.full(n, np.inf)
    following: Ahead | None = None
    found: Tried | None = None
    for iteration in range(MOST_NEWTON):
        if iteration == 1:
            assert found is not None
            following, rates, heard = _with_next(
                ensemble, coupling, states, start, None if plan is None else plan(found)
            )
        elif iteration:
            every = _points(coupling, states, _at_check(states, start), start)
            _, rates, heard = ensemble.evaluate(every)
        if iteration != 1:
            slopes = _slopes(coupling, rates, heard, step)
        rates, heard = rates[:, 1 : POINTS + 2], heard[:, 1 : POINTS + 1]
        with np.errstate(over="ignore", invalid="ignore"):
            change, moved = newton(coupling, start, step, states, rates[:, :-1], slopes)
            finite = np.isfinite(change)
            size = (np.where(finite, np.abs(change), np.inf) / scale[:, None]).max(axis=(0, 1))
            # what is left after this step, if the next is smaller than it by as much as it than the last
            left = size * (np.minimum(size / before, 1.0) if iteration else 1.0)
            states = np.where(finite, states + change, states)
            now = (left <= NEWTON_SHARE) & ~done
            if iteration == 0:
                found = _found(coupling, start, step, (states, change, moved), rates, heard, slopes, scale)
            elif iteration == 1 and found is not None:
                found = found._replace(states=np.where(now, states, found.states))
            elif now.any() and found is not None:
                this = _found(coupling, start, step, (states, change, moved), rates, heard, slopes, scale)
                found = _chosen(now, this, found)
        if iteration == 1 and following is not None:
            following = following._replace(valid=now)
        done, before = done | now, size
        if done.all():
            break
    assert found is not None
    converged = done & np.isfinite(found.states).all(axis=(0, 1))
    error = np.where(done, found.error, np.inf)
    return found._replace(converged=converged, error=error, ahead=following)


def _at_check(states: FloatArray, start: FloatArray) -> FloatArray:
    at: FloatArray = add_along(RULE.check_values[1:, None] * states, 1) + RULE.check_values[0] * start
    return at


def _first(
    ensemble: StiffEnsemble,
    coupling: Coupling,
    start: FloatArray,
    states: FloatArray,
    ahead: Ahead | None,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Start on its conservation laws, rates and signals at the states of `_points`, as known or evaluated."""
    if ahead is not None and ahead.valid.all():
        return start + ahead.shift, ahead.rates, ahead.signals
    every = _points(coupling, states, _at_check(states, start), start)
    if ahead is None or not ahead.valid.any():
        fixed, rates, heard = ensemble.evaluate(every)
        return fixed[:, 0], rates, heard
    some = np.flatnonzero(~ahead.valid)
    fixed, some_rates, some_heard = ensemble.take(some).evaluate(every[..., some])
    start, rates, heard = start + ahead.shift, ahead.rates.copy(), ahead.signals.copy()
    start[:, some], rates[..., some], heard[..., some] = fixed[:, 0], some_rates, some_heard
    return start, rates, heard


def _with_next(
    ensemble: StiffEnsemble,
    coupling: Coupling,
    states: FloatArray,
    start: FloatArray,
    planned: tuple[FloatArray, FloatArray, FloatArray] | None,
) -> tuple[Ahead | None, FloatArray, FloatArray]:
    """Evaluate a step's points, without slopes, and those of the next as planned."""
    every = _points(coupling, states, _at_check(states, start), start, with_slopes=False)
    if planned is None:
        _, rates, heard = ensemble.evaluate(every)
        return None, rates, heard
    begin, step, guess = planned
    further, own = _points(coupling, guess, _at_check(guess, begin), begin), every.shape[1]
    fixed, rates, heard = ensemble.evaluate(np.concatenate([every, further], axis=1))
    never = np.zeros(step.size, dtype=np.bool_)
    ahead = Ahead(step, guess, fixed[:, own] - begin, rates[:, own:], heard[:, own:], never)
    return ahead, rates[:, :own], heard[:, :own]


def _chosen(now: BoolArray, this: Tried, before: Tried) -> Tried:
    fields = [name for name in Tried._fields if name != "ahead"]
    chosen = {name: np.where(now, getattr(this, name), getattr(before, name)) for name in fields}
    return before._replace(**chosen)


def _points(
    coupling: Coupling, states: FloatArray, check: FloatArray, start: FloatArray, *, with_slopes: bool = True
) -> FloatArray:
    """States to evaluate: at the start, the points, the check, and at the points as moved for slopes."""
    components, _, n = states.shape
    count = len(coupling.directions) if with_slopes else 0
    every = np.empty((components, 2 + POINTS * (count + 1), n))
    every[:, 0], every[:, 1 : POINTS + 1], every[:, POINTS + 1] = start, states, check
    if count:
        moved = every[:, POINTS + 2 :].reshape(components, count, POINTS, n)
        moved[:] = states[:, None]
        moved[coupling.directions, np.arange(count)] += coupling.increments[:, None]
    return every


def _slopes(coupling: Coupling, rates: FloatArray, signals: FloatArray, step: FloatArray) -> Slopes:
    """Slopes along the couplings, from what was found at the states of `_points`."""
    count, width = len(coupling.directions), coupling.increments[:, None, None]

    def along(values: FloatArray) -> FloatArray:
        moved = values[:, POINTS + 2 :].reshape(values.shape[0], count, POINTS, step.size).swapaxes(0, 1)
        slopes = (moved - values[:, 1 : POINTS + 1]) / width
        return np.where(np.isfinite(slopes), slopes, 0.0)

    by_coupling = along(rates)
    coupled = coupling.held_by(by_coupling.swapaxes(0, 1))
    return Slopes(by_coupling, along(signals), coupled, system_of(coupled, step))


def system_of(coupled: FloatArray, step: FloatArray) -> FloatArray:
    """Newton's matrix of a step, (n, points * couplings, points * couplings)."""
    count = coupled.shape[0]
    by_step = RULE.weights[None, :, None, :, None] * step[:, None, None, None, None]
    system = -by_step * coupled.transpose(3, 0, 2, 1)[:, None]
    system = system.reshape(step.size, POINTS * count, POINTS * count)
    diagonal = np.arange(POINTS * count)
    system[:, diagonal, diagonal] += 1.0
    return system


def solved(system: FloatArray, right: FloatArray) -> FloatArray:
    """Solutions (n, rows) of the systems (n, rows, rows); NaN where a system has none.

    A step may be so long that its matrix is singular to round-off: that step is not taken, and others are.
    """
    try:
        return np.asarray(np.linalg.solve(system, right[..., None])[..., 0], np.float64)
    except np.linalg.LinAlgError:
        singular = np.linalg.slogdet(system)[0] == 0.0
        system = np.where(singular[:, None, None], np.eye(right.shape[-1]), system)
        found = np.linalg.solve(system, right[..., None])[..., 0]
        return np.where(singular[:, None], np.nan, found)


def newton(
    coupling: Coupling,
    start: FloatArray,
    step: FloatArray,
    states: FloatArray,
    rates: FloatArray,
    slopes: Slopes,
) -> tuple[FloatArray, FloatArray]:
    """Return the change of states (components, points, n) and of couplings (couplings, points, n)."""
    count = len(coupling.directions)
    by_step = RULE.weights[:, :, None] * step
    missing = start[:, None] - states + add_along(by_step * rates[:, None], 2)
    right = coupling.held_by(missing).transpose(2, 1, 0).reshape(step.size, POINTS * count)
    moves = solved(slopes.system, right)
    moved: FloatArray = np.asarray(moves.reshape(step.size, POINTS, count).transpose(2, 1, 0), np.float64)
    moved_rates = add_along(slopes.by_coupling * moved[:, None], 0)
    change: FloatArray = missing + add_along(by_step * moved_rates[:, None], 2)
    return change, moved


def _found(
    coupling: Coupling,
    start: FloatArray,
    step: FloatArray,
    moves: tuple[FloatArray, FloatArray, FloatArray],
    rates: FloatArray,
    heard: FloatArray,
    slopes: Slopes,
    scale: FloatArray,
) -> Tried:
    """States after the last change, with signals, rates and error by the slopes before it."""
    states, change, moved = moves
    signals = heard + add_along(slopes.of_signals * moved[:, None], 0)
    end_rates = rates[:, -2] + add_along(slopes.by_coupling[:, :, -1] * moved[:, None, -1], 0)
    at_check = coupling.held_by(add_along(RULE.check_values[1:, None] * change, 1))
    between = add_along(RULE.check_between[:, None] * slopes.by_coupling, 2)
    check_rates = rates[:, -1] + add_along(between * at_check[:, None], 0)
    slope = add_along(RULE.check_slopes[1:, None] * states, 1) + RULE.check_slopes[0] * start
    error = RULE.check_error * (slope - step * check_rates)
    error = _error(coupling, step, error, slopes, scale)
    return Tried(
        start, states, signals, end_rates, slopes.by_coupling[:, :, -1], error, np.isfinite(error), None
    )


def _error(
    coupling: Coupling, step: FloatArray, error: FloatArray, slopes: Slopes, scale: FloatArray
) -> FloatArray:
    """Largest error of the step over `scale`, from that of its slope's defect."""
    count = len(coupling.directions)
    if count:
        short = step / POINTS
        system = -short[:, None, None] * slopes.coupled[:, :, -1].transpose(2, 0, 1)
        diagonal = np.arange(count)
        system[:, diagonal, diagonal] += 1.0
        held = coupling.held_by(error).T
        held = np.where(np.isfinite(held), held, 0.0)
        left = solved(system, held)
        error = error + short * add_along(slopes.by_coupling[:, :, -1] * left.T[:, None], 0)
    size = (np.abs(error) / scale).max(axis=0)
    return np.where(np.isfinite(size), size, np.inf)


def relaxing(
    coupling: Coupling, start: FloatArray, rates: FloatArray, step: FloatArray, slopes: FloatArray
) -> FloatArray:
    """States at the points of a step if the slopes of the rates stayed, (components, points, n)."""
    shape = (*slopes.shape[:2], POINTS, step.size)
    by_coupling = np.broadcast_to(slopes[:, :, None], shape)
    coupled = coupling.held_by(by_coupling.swapaxes(0, 1))
    same = Slopes(by_coupling, by_coupling, coupled, system_of(coupled, step))
    there = np.broadcast_to(start[:, None], (start.shape[0], POINTS, step.size))
    alike = np.broadcast_to(rates[:, None], there.shape)
    with np.errstate(over="ignore", invalid="ignore"):
        change, _ = newton(coupling, start, step, there, alike, same)
    return np.where(np.isfinite(change), there + change, there)
