"""One step of collocation: Newton's method for all its points at once, and what the step errs by."""

from __future__ import annotations

from typing import NamedTuple, Protocol, Self

import numpy as np

from lpgrelease.marching import IntArray
from lpgrelease.quantities import FloatArray
from lpgrelease.radau import POINTS, RULE
from lpgrelease.results import BoolArray

__all__ = ["StiffEnsemble", "Tried", "solve_step"]

MOST_NEWTON, FRESH_SLOPES = 8, 3
"""Newton steps; those that take the equations' slopes anew."""
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
    """States and signals at the points of a step, its error over what is allowed, whether it was found."""

    states: FloatArray
    signals: FloatArray
    error: FloatArray
    converged: BoolArray


class Coupling(NamedTuple):
    """Of an ensemble: its directions, what of the state each holds as (coupling, row, weight), increments."""

    directions: tuple[int, ...]
    held: tuple[tuple[int, int, float], ...]
    increments: FloatArray

    @classmethod
    def of(cls, ensemble: StiffEnsemble) -> Coupling:
        held = [
            (coupling, row, float(weight))
            for coupling, weights in enumerate(ensemble.functionals)
            for row, weight in enumerate(weights)
            if weight
        ]
        return cls(ensemble.directions, tuple(held), ensemble.increments)

    def held_by(self, values: FloatArray) -> FloatArray:
        """How much of each coupling `values` (components, ...) hold, (couplings, ...)."""
        total = np.zeros((len(self.directions), *values.shape[1:]))
        for coupling, row, weight in self.held:
            total[coupling] += values[row] if weight == 1.0 else weight * values[row]
        return total


class Slopes(NamedTuple):
    """Of the rates along the couplings: by_coupling (couplings, components, points, n), and their system."""

    by_coupling: FloatArray
    coupled: FloatArray
    system: FloatArray


def solve_step(
    ensemble: StiffEnsemble, start: FloatArray, step: FloatArray, guess: FloatArray, scale: FloatArray
) -> Tried:
    """Newton's method for the states at the points of a step, and the step's error."""
    states = guess
    done = np.zeros(step.size, dtype=np.bool_)
    error = np.full(step.size, np.inf)
    slopes: Slopes | None = None
    coupling, signals = Coupling.of(ensemble), None
    for iteration in range(MOST_NEWTON):
        check = RULE.check_values[0] * start
        for i in range(POINTS):
            check = check + RULE.check_values[i + 1] * states[:, i]
        rates, heard, fresh = _rates(
            ensemble, coupling, states, check, step, with_slopes=iteration < FRESH_SLOPES
        )
        slopes = fresh if slopes is None or fresh is not None else slopes
        assert slopes is not None
        change = _newton(coupling, start, step, states, rates[:, :-1], slopes)
        with np.errstate(over="ignore", invalid="ignore"):
            size = (np.abs(change) / scale[:, None]).max(axis=(0, 1))
            size = np.where(np.isfinite(change).all(axis=(0, 1)), size, np.inf)
        found = _error(coupling, start, step, states, rates[:, -1], slopes, scale)
        states = np.where(done | ~np.isfinite(change), states, states + change)
        signals = heard if signals is None else np.where(done, signals, heard)
        error = np.where(done, error, found)
        done = done | (size <= NEWTON_SHARE)
        if done.all():
            break
    assert signals is not None
    return Tried(states, signals, error, done & np.isfinite(states).all(axis=(0, 1)))


def _rates(
    ensemble: StiffEnsemble,
    coupling: Coupling,
    states: FloatArray,
    check: FloatArray,
    step: FloatArray,
    *,
    with_slopes: bool,
) -> tuple[FloatArray, FloatArray, Slopes | None]:
    """Rates at the points and at the point of the check; signals at the points; slopes if asked for."""
    parts = [states, check[:, None]]
    if with_slopes:
        for row, increment in zip(coupling.directions, coupling.increments, strict=True):
            moved = states.copy()
            moved[row] += increment
            parts.append(moved)
    _, rates, signals = ensemble.evaluate(np.concatenate(parts, axis=1))
    base, signals = rates[:, : POINTS + 1], signals[:, :POINTS]
    if not with_slopes:
        return base, signals, None
    count = len(coupling.directions)
    shape = (rates.shape[0], count, POINTS, step.size)
    moved = rates[:, POINTS + 1 :].reshape(shape)
    by_coupling = (moved - base[:, None, :POINTS]) / coupling.increments[:, None, :]
    by_coupling = np.where(np.isfinite(by_coupling), by_coupling, 0.0)
    coupled = coupling.held_by(by_coupling)
    by_step = RULE.weights[None, :, None, :, None] * step[:, None, None, None, None]
    system = -by_step * coupled.transpose(3, 0, 2, 1)[:, None]
    system = system.reshape(step.size, POINTS * count, POINTS * count)
    diagonal = np.arange(POINTS * count)
    system[:, diagonal, diagonal] += 1.0
    return base, signals, Slopes(by_coupling, coupled, system)


def _newton(
    coupling: Coupling,
    start: FloatArray,
    step: FloatArray,
    states: FloatArray,
    rates: FloatArray,
    slopes: Slopes,
) -> FloatArray:
    """Return the change of the states (components, points, n)."""
    count = len(coupling.directions)
    by_step = RULE.weights[:, :, None] * step
    missing = start[:, None] - states
    for j in range(POINTS):
        missing = missing + by_step[:, j] * rates[:, j, None]
    right = coupling.held_by(missing).transpose(2, 1, 0).reshape(step.size, POINTS * count)
    moves = np.linalg.solve(slopes.system, right[..., None])[..., 0]
    moved = moves.reshape(step.size, POINTS, count).transpose(2, 1, 0)
    moved_rates = np.zeros_like(missing)
    for c in range(count):
        moved_rates += slopes.by_coupling[:, c] * moved[c]
    change = missing
    for j in range(POINTS):
        change = change + by_step[:, j] * moved_rates[:, j, None]
    return change


def _error(
    coupling: Coupling,
    start: FloatArray,
    step: FloatArray,
    states: FloatArray,
    rates: FloatArray,
    slopes: Slopes,
    scale: FloatArray,
) -> FloatArray:
    """Largest error of the step over `scale`, from the slope's defect at the check."""
    slope = RULE.check_slopes[0] * start
    for i in range(POINTS):
        slope = slope + RULE.check_slopes[i + 1] * states[:, i]
    with np.errstate(over="ignore", invalid="ignore"):
        error = RULE.check_error * (slope - step * rates)
        count = len(coupling.directions)
        if count:
            short = step / POINTS
            system = -short[:, None, None] * np.moveaxis(slopes.coupled[:, :, -1], -1, 0)
            diagonal = np.arange(count)
            system[:, diagonal, diagonal] += 1.0
            held = np.moveaxis(coupling.held_by(error), -1, 0)
            held = np.where(np.isfinite(held), held, 0.0)
            left = np.linalg.solve(system, held[..., None])[..., 0]
            for c in range(count):
                error = error + short * slopes.by_coupling[:, c, -1] * left[:, c]
        size = (np.abs(error) / scale).max(axis=0)
    return np.where(np.isfinite(size), size, np.inf)
