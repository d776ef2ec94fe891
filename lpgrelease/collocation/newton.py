"""Newton's method for collocation: couplings, slopes along them, and the changes that these ask for."""

from __future__ import annotations

from typing import NamedTuple, Protocol, Self

import numpy as np

from lpgrelease.collocation.radau import POINTS, RULE
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray, IntArray
from lpgrelease.small_systems import solved
from lpgrelease.summing import add_along

__all__ = [
    "Coupling",
    "Moves",
    "Slopes",
    "StiffEnsemble",
    "add_one",
    "newton",
    "relaxing",
    "system_of",
]


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

    def at_rest(
        self, before: FloatArray, after: FloatArray, rates: tuple[FloatArray, FloatArray]
    ) -> tuple[FloatArray, FloatArray]:
        """Return the state to which those come that have settled, and how near to it counts as settled."""
        ...

    def take(self, index: IntArray) -> Self:
        """Return the scenarios `index` alone."""
        ...

    def mode(self) -> FloatArray:
        """Return what is in force between events, shape (flags, scenarios), to be kept with the path."""
        ...


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
    """Along the couplings, of the rates and below them the signals; what of them is coupled; their system."""

    of_all: FloatArray
    """(couplings, components + events, points, n)."""
    coupled: FloatArray
    """(couplings, couplings, points, n)."""
    system: FloatArray

    def take(self, index: IntArray) -> Slopes:
        """Return those of the scenarios `index` alone."""
        return Slopes._make([*(part[..., index] for part in self[:-1]), self.system[index]])


def system_of(coupled: FloatArray, step: FloatArray) -> FloatArray:
    """Newton's matrix of a step, (n, points * couplings, points * couplings)."""
    count = coupled.shape[0]
    by_step = RULE.weights[None, :, None, :, None] * step[:, None, None, None, None]
    system = -by_step * coupled.transpose(3, 0, 2, 1)[:, None]
    return add_one(system.reshape(step.size, POINTS * count, POINTS * count))


def add_one(matrices: FloatArray) -> FloatArray:
    """Add one to the diagonals of matrices (n, rows, rows), in place; return them."""
    diagonals = np.einsum("nii->ni", matrices)
    diagonals += 1.0
    return matrices


class Moves(NamedTuple):
    """A Newton step: changes of states (components, points, n), and of their rates and, below, signals."""

    states: FloatArray
    told: FloatArray


def newton(
    coupling: Coupling,
    start: FloatArray,
    step: FloatArray,
    states: FloatArray,
    rates: FloatArray,
    slopes: Slopes,
) -> Moves:
    """Return the changes that Newton's method asks for at `states`, with `rates` there."""
    by_step = RULE.weights[:, :, None] * step
    missing = start[:, None] - states + add_along(by_step * rates[:, None], 2)
    return _along_slopes(coupling, missing, by_step, slopes)


def _along_slopes(coupling: Coupling, missing: FloatArray, by_step: FloatArray, slopes: Slopes) -> Moves:
    """Return the changes that make up for what is missing, (components, points, n)."""
    components, points, n = missing.shape
    right = coupling.held_by(missing).transpose(2, 1, 0).reshape(n, -1)
    moved = solved(slopes.system, right[..., None]).reshape(n, points, -1).transpose(2, 1, 0)
    told = add_along(slopes.of_all * moved[:, None], 0)
    return Moves(missing + add_along(by_step * told[:components, None], 2), told)


def relaxing(
    coupling: Coupling, start: FloatArray, rates: FloatArray, step: FloatArray, slopes: FloatArray
) -> FloatArray:
    """States at the points of a step if the slopes of the rates stayed, (components, points, n)."""
    alike, by_step = slopes[:, :, None], RULE.weights[:, :, None] * step
    coupled = coupling.held_by(alike.swapaxes(0, 1))
    same = Slopes(alike, coupled, system_of(coupled, step))
    with np.errstate(over="ignore", invalid="ignore"):
        moves = _along_slopes(coupling, (RULE.nodes[:, None] * step) * rates[:, None], by_step, same)
    there = start[:, None] + moves.states
    return np.where(np.isfinite(there), there, start[:, None])
