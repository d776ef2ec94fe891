"""One step of collocation: Newton's method for all its points at once, and what the step errs by."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple, Protocol, Self

import numpy as np

from lpgrelease.collocation.newton import (
    Coupling,
    Moves,
    Slopes,
    StiffEnsemble,
    add_one,
    newton,
    system_of,
)
from lpgrelease.collocation.radau import POINTS, RULE
from lpgrelease.elementwise import chosen, every
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray, IntArray
from lpgrelease.small_systems import solved
from lpgrelease.summing import add_along

__all__ = ["Ahead", "Plan", "Tried", "exchanged", "solve_step"]

MOST_NEWTON = 8
"""Newton steps. The second takes the slopes of the first, for it most often only confirms it."""
PATIENCE, HALVED = 3, 0.5
"""From this Newton step on, where one is more than that share of the last, a shorter step is tried."""
NEWTON_SHARE = 0.05
"""A Newton step this small against the error allowed is the last."""


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

    def take(self, index: IntArray) -> Tried:
        """Return the scenarios `index` alone."""
        ahead = None if self.ahead is None else self.ahead.take(index)
        return Tried._make([*_each(self[:-1], index), ahead])

    def put(self, index: IntArray, found: Tried) -> Tried:
        """Return all, with the scenarios `index` as `found`."""
        ahead = None if self.ahead is None or found.ahead is None else self.ahead.put(index, found.ahead)
        return Tried._make([*exchanged(self[:-1], index, found[:-1]), ahead])


def _each(parts: Iterable[Any], index: IntArray) -> list[Any]:
    """Return the scenarios `index` of arrays."""
    return [part[..., index] for part in parts]


def exchanged(parts: Iterable[Any], index: IntArray, others: Iterable[Any]) -> list[Any]:
    """Return arrays with their scenarios `index` as in `others`."""
    fresh = [part.copy() for part in parts]
    for part, other in zip(fresh, others, strict=True):
        part[..., index] = other
    return fresh


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
        return Ahead(*_each(self, index))

    def put(self, index: IntArray, others: Ahead) -> Ahead:
        """Return all, with the scenarios `index` as `others`."""
        return Ahead(*exchanged(self, index, others))


class Plan(Protocol):
    """From what a step seems to have found, the next: its start, length and a guess of its states."""

    def __call__(self, found: Tried) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return start (components, n), length (n,) and guess (components, points, n)."""
        ...

    def take(self, index: IntArray) -> Self:
        """Return that of the scenarios `index` alone."""
        ...


class _Begun(NamedTuple):
    """A step whose Newton steps are under way: the problem, and the states that they have come to."""

    ensemble: StiffEnsemble
    coupling: Coupling
    slopes: Slopes
    plan: Plan | None
    start: FloatArray
    step: FloatArray
    scale: FloatArray
    states: FloatArray
    size: FloatArray
    """Of the last Newton step, over what is allowed (n,)."""

    def take(self, index: IntArray) -> _Begun:
        """Return the scenarios `index` alone."""
        plan = None if self.plan is None else self.plan.take(index)
        arrays = _each(self[4:], index)
        return _Begun(
            self.ensemble.take(index), self.coupling.take(index), self.slopes.take(index), plan, *arrays
        )


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

    `coupling`: that of the ensemble, where it is known. `ahead`: this step's first evaluation, where it is
    known. `plan`: what to evaluate ahead, together with every evaluation of this one from the second on,
    which most often only confirms the first.
    """
    coupling = Coupling.of(ensemble) if coupling is None else coupling
    start, rates, heard = _first(ensemble, coupling, start, guess, ahead)
    slopes, size = _slopes(coupling, rates, heard, step), np.full(step.size, np.inf)
    begun = _Begun(ensemble, coupling, slopes, plan, start, step, scale, guess, size)
    begun, moves = _newton_step(begun, rates)
    found = _found(begun, moves, rates, heard)
    whole, going = found, np.arange(step.size)
    for iteration in range(1, MOST_NEWTON):
        before, (ahead, rates, heard) = begun.size, _with_next(begun, found, with_slopes=iteration > 1)
        if iteration > 1:
            begun = begun._replace(slopes=_slopes(begun.coupling, rates, heard, begun.step))
        begun, moves = _newton_step(begun, rates)
        # what is left after this step, if the next is smaller than it by as much as it than the last
        known = before < np.inf
        last = np.where(known, np.maximum(before, 1e-300), 1.0)
        shrinks = np.where(known, np.minimum(begun.size, before) / last, 1.0)
        done = begun.size * shrinks <= NEWTON_SHARE
        if iteration > 1 or not done.all():
            # what the second step only confirms stands as the slopes before the first told
            anew = _found(begun, moves, rates, heard)
            found = anew if iteration > 1 else Tried._make([*chosen(done, found[:-1], anew[:-1]), None])
        found = found._replace(states=begun.states, converged=done, ahead=ahead)
        whole = found if going.size == step.size else whole.put(going, found)
        hopeless = (iteration >= PATIENCE) & (begun.size > HALVED * before)
        keep = np.flatnonzero(~(done | hopeless))
        if not keep.size:
            break
        if keep.size < done.size:
            going, begun, found = going[keep], begun.take(keep), found.take(keep)
    converged = whole.converged & np.isfinite(whole.states).all(axis=(0, 1))
    return whole._replace(converged=converged, error=np.where(converged, whole.error, np.inf))


def _newton_step(begun: _Begun, rates: FloatArray) -> tuple[_Begun, Moves]:
    """Take a Newton step by the rates at the states of `_points`."""
    here = rates[:, 1 : POINTS + 1]
    with np.errstate(over="ignore", invalid="ignore"):
        moves = newton(begun.coupling, begun.start, begun.step, begun.states, here, begun.slopes)
        size = (np.abs(moves.states) / begun.scale[:, None]).max(axis=(0, 1))
        states = begun.states + moves.states
        if not every(np.isfinite(size)):
            size = np.where(np.isfinite(size), size, np.inf)
            states = np.where(np.isfinite(states), states, begun.states)
    return begun._replace(states=states, size=size), moves


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
    asked = _points(coupling, states, _at_check(states, start), start)
    if ahead is None or not ahead.valid.any():
        fixed, rates, heard = ensemble.evaluate(asked)
        return fixed[:, 0], rates, heard
    some = np.flatnonzero(~ahead.valid)
    fixed, rates, heard = ensemble.take(some).evaluate(asked[..., some])
    known = start + ahead.shift, ahead.rates, ahead.signals
    start, rates, heard = exchanged(known, some, (fixed[:, 0], rates, heard))
    return start, rates, heard


def _with_next(
    begun: _Begun, found: Tried, *, with_slopes: bool
) -> tuple[Ahead | None, FloatArray, FloatArray]:
    """Evaluate a step's points, and those of the next as planned."""
    states, start = begun.states, begun.start
    asked = _points(begun.coupling, states, _at_check(states, start), start, with_slopes=with_slopes)
    if begun.plan is None:
        _, rates, heard = begun.ensemble.evaluate(asked)
        return None, rates, heard
    begin, step, guess = begun.plan(found)
    further, own = _points(begun.coupling, guess, _at_check(guess, begin), begin), asked.shape[1]
    fixed, rates, heard = begun.ensemble.evaluate(np.concatenate([asked, further], axis=1))
    valid = np.ones(step.size, dtype=np.bool_)
    ahead = Ahead(step, guess, fixed[:, own] - begin, rates[:, own:], heard[:, own:], valid)
    return ahead, rates[:, :own], heard[:, :own]


def _points(
    coupling: Coupling, states: FloatArray, check: FloatArray, start: FloatArray, *, with_slopes: bool = True
) -> FloatArray:
    """States to evaluate: at the start, the points, the check, and at the points as moved for slopes."""
    components, _, n = states.shape
    count = len(coupling.directions) if with_slopes else 0
    asked = np.empty((components, 2 + POINTS * (count + 1), n))
    asked[:, 0], asked[:, 1 : POINTS + 1], asked[:, POINTS + 1] = start, states, check
    if count:
        moved = asked[:, POINTS + 2 :].reshape(components, count, POINTS, n)
        moved[:] = states[:, None]
        moved[coupling.directions, np.arange(count)] += coupling.increments[:, None]
    return asked


def _slopes(coupling: Coupling, rates: FloatArray, signals: FloatArray, step: FloatArray) -> Slopes:
    """Slopes along the couplings, from what was found at the states of `_points`."""
    told, count = np.concatenate([rates, signals]), len(coupling.directions)
    moved = told[:, POINTS + 2 :].reshape(len(told), count, POINTS, step.size).swapaxes(0, 1)
    slopes = (moved - told[:, 1 : POINTS + 1]) / coupling.increments[:, None, None]
    slopes = np.where(np.isfinite(slopes), slopes, 0.0)
    coupled = coupling.held_by(slopes[:, : len(rates)].swapaxes(0, 1))
    return Slopes(slopes, coupled, system_of(coupled, step))


def _found(begun: _Begun, moves: Moves, rates: FloatArray, heard: FloatArray) -> Tried:
    """States after the last change, with signals, rates and error by the slopes before it."""
    coupling, slopes, components = begun.coupling, begun.slopes, len(rates)
    of_rates = slopes.of_all[:, :components]
    with np.errstate(over="ignore", invalid="ignore"):
        signals = heard[:, 1 : POINTS + 1] + moves.told[components:]
        end_rates = rates[:, POINTS] + moves.told[:components, -1]
        at_check = coupling.held_by(add_along(RULE.check_values[1:, None] * moves.states, 1))
        between = add_along(RULE.check_between[:, None] * of_rates, 2)
        check_rates = rates[:, POINTS + 1] + add_along(between * at_check[:, None], 0)
        slope = add_along(RULE.check_slopes[1:, None] * begun.states, 1) + RULE.check_slopes[0] * begun.start
        error = RULE.check_error * (slope - begun.step * check_rates)
        by_end = of_rates[:, :, -1]
        error = _error(coupling, begun.step, error, (by_end, slopes.coupled[:, :, -1]), begun.scale)
    return Tried(begun.start, begun.states, signals, end_rates, by_end, error, np.isfinite(error), None)


def _error(
    coupling: Coupling,
    step: FloatArray,
    error: FloatArray,
    slopes: tuple[FloatArray, FloatArray],
    scale: FloatArray,
) -> FloatArray:
    """Largest error of the step over `scale`, from that of its slope's defect.

    `slopes`: at the end, of the rates, and what of them is coupled.
    """
    by_end, coupled = slopes
    if len(by_end):
        short = step / POINTS
        system = add_one(-short[:, None, None] * coupled.transpose(2, 0, 1))
        held = coupling.held_by(error).T
        held = np.where(np.isfinite(held), held, 0.0)
        error = error + short * add_along(by_end * solved(system, held[..., None])[..., 0].T[:, None], 0)
    size = (np.abs(error) / scale).max(axis=0)
    return np.where(np.isfinite(size), size, np.inf)
