"""Heat out of columns of ground with layers and freezing water, step by step: plain functions of SI arrays.

A column is the ground under one piece of surface (a ring of a pool, say). Its surface meets something at a
given temperature through a given conductance: a boiling liquid, a film of vapor, air. Arrays inside have
cells first and columns last; whatever shape the columns have outside is flattened. A single column has no
axis of columns: its heat and its steps are numbers, which take a sixth of the time of arrays of one element.
"""

from __future__ import annotations

import dataclasses
import math
from typing import Any, Final, NamedTuple

import numpy as np

from lpgrelease.constants import FREEZING_POINT_OF_WATER
from lpgrelease.elementwise import every, some, where
from lpgrelease.ground.balance import balance_nodes
from lpgrelease.ground.cells import (
    CellProperties,
    IntArray,
    cell_properties,
    flux_up,
    kirchhoff,
    local_heat,
    thawed_fraction,
)
from lpgrelease.ground.material import Ground
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = ["PERFECT_CONTACT", "GroundColumns", "GroundState", "GroundStep"]

PERFECT_CONTACT: Final = 1e7
"""Conductance of a touch without any film [W/m2/K]: 1e-7 m2 K/W, a thousandth of a millimeter of ground."""
RESTART_PARTS: Final = (1 / 4, 1 / 4, 1 / 2)
"""Parts of a step after which the cover of a column has changed."""
LARGEST_GROWTH: Final = 2.4
"""A step longer than this many times the last one ignores it: the formula is stable up to 1 + sqrt(2)."""
_MELTING: Final = float(FREEZING_POINT_OF_WATER)


class GroundState(NamedTuple):
    """What columns of ground remember; (cells, columns) or (columns,), of a single one (cells,) or ()."""

    theta: FloatArray
    """Temperature above the freezing point at the nodes, surface first, the fixed deep one last [K]."""
    stored: FloatArray
    """Heat of each node above that of ice-cold frozen ground [J/m2]."""
    stored_change: FloatArray
    theta_change: FloatArray
    surface_heat: FloatArray
    """Heat out of the surface [J/m2], and the changes above, all of the last step."""
    deep_heat: FloatArray
    last_step: FloatArray
    """Length of the last step [s]."""

    def weighted(self, weight: FloatArray) -> GroundState:
        """Return the state with the changes of its last step times a weight."""
        return GroundState(
            theta=self.theta,
            stored=self.stored,
            stored_change=weight * self.stored_change,
            theta_change=self.theta_change,
            surface_heat=weight * self.surface_heat,
            deep_heat=weight * self.deep_heat,
            last_step=self.last_step,
        )

    def copy(self) -> GroundState:
        """Return a state whose arrays nobody else holds."""
        return GroundState(*(values.copy() for values in self))

    def select(self, columns: IntArray | slice) -> GroundState:
        """Return some of the columns; a slice looks into the arrays of the whole."""
        return GroundState(*(values[..., columns] for values in self))

    def with_axis(self) -> GroundState:
        """Return the state with the axis of columns, even of a single one."""
        return self if self.last_step.ndim else GroundState(*(values[..., None] for values in self))

    def without_axis(self) -> GroundState:
        """Return the state of a single column without the axis of columns."""
        return GroundState(*(values.T[0] for values in self)) if self.last_step.ndim else self


class _Trial(NamedTuple):
    """A step, or the last part of one, before its books are closed; flat columns."""

    cells: CellProperties
    start: GroundState
    """At the start, the changes of the last step already weighted for this one."""
    theta: FloatArray
    response: FloatArray
    """Rise of theta by the temperature at the surface."""
    sink: FloatArray
    """Temperature above the freezing point of what touches the surface [K]."""
    conductance: FloatArray
    length: FloatArray
    """The step times the weight of its end [s]."""
    step: FloatArray
    earlier_heat: FloatArray
    earlier_deep_heat: FloatArray
    """In the earlier parts of the step [J/m2]."""


class GroundStep(NamedTuple):
    """One step of columns of ground; arrays have the columns' own shape."""

    heat: FloatArray
    """Out of the surface during the step [J/m2]."""
    heat_slope: FloatArray
    """Rise of the heat by the temperature of what touches the surface [J/m2/K], 0 or less."""
    trial: _Trial

    @property
    def flux(self) -> FloatArray:
        """Out of the surface at the end of the step [W/m2]."""
        flux: FloatArray = _flux(self.trial).reshape(self.heat.shape)
        return flux

    @property
    def top(self) -> FloatArray:
        """Temperature of the ground's own surface at the end [K]."""
        top: FloatArray = (_MELTING + self.trial.theta[0]).reshape(self.heat.shape)
        return top

    @property
    def state(self) -> GroundState:
        """State at the end of the step, worked out anew at each call."""
        return _close(self.trial)

    @property
    def deep_heat(self) -> FloatArray:
        """Heat into the column from below during the step [J/m2]."""
        t = self.trial
        deep: FloatArray = t.start.deep_heat + t.length * flux_up(t.cells, t.theta)[-1]
        return (t.earlier_deep_heat + deep).reshape(self.heat.shape)

    def replaced(self, columns: IntArray, first: GroundStep, last: GroundStep) -> GroundStep:
        """Return the step with some columns that went through it in two parts of their own."""
        t = last.trial
        heat = _flat(first.heat, columns.shape) + t.earlier_heat
        deep = _flat(first.deep_heat, columns.shape) + t.earlier_deep_heat
        parts = t._replace(earlier_heat=heat, earlier_deep_heat=deep)
        return _step(_join(self.trial, parts, columns), self.heat.shape)

    def at(self, surface_temperature: FloatArray) -> GroundStep:
        """Return the step with another temperature at its end: heat is linear in it, balances still close."""
        t, shape = self.trial, self.heat.shape
        sink = _flat(surface_temperature, shape) - _MELTING
        theta = t.theta.copy()
        theta[:-1] += (sink - t.sink) * t.response
        moved = t._replace(theta=theta, sink=sink)
        return GroundStep(_heat(moved).reshape(shape), self.heat_slope, moved)


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class GroundColumns:
    """Many columns of ground, prepared once."""

    cells: CellProperties
    shape: tuple[int, ...]
    _single: bool = dataclasses.field(init=False)
    _cells: CellProperties = dataclasses.field(init=False)
    """Those of a single column without the axis of columns."""

    def __post_init__(self) -> None:
        """Look into the cells of a single column."""
        object.__setattr__(self, "_single", math.prod(self.shape) == 1)
        object.__setattr__(self, "_cells", self.cells.without_axis() if self._single else self.cells)

    @classmethod
    def prepare(
        cls,
        ground: Ground,
        shape: tuple[int, ...] = (),
        *,
        cells: int = 48,
        depth: float = 6.0,
        first_cell: float = 2e-4,
    ) -> GroundColumns:
        """Lay out cells for columns of a shape, to which the ground's own must broadcast.

        Parameters
        ----------
        ground : Ground
            With its layers.
        shape : tuple of int
        cells : int
            Their number; each is longer than the one above by a constant factor.
        depth : float
            Where the ground keeps its temperature [m].
        first_cell : float
            Length of the topmost cell [m].

        Raises
        ------
        InputError
            A layer that falls between two nodes.
        """
        return cls(cell_properties(ground, shape, cells, depth, first_cell), shape)

    def start(self, temperature: FloatArray) -> GroundState:
        """Return columns at one temperature throughout [K]."""
        theta = self._flat(temperature) - _MELTING
        nodes = np.repeat(theta[None], self.cells.length.shape[0] + 1, axis=0)
        stored, zero = local_heat(self._cells, nodes).stored, 0.0 * theta
        return GroundState(nodes, stored, np.zeros_like(stored), np.zeros_like(nodes), zero, zero, zero)

    def step(
        self,
        state: GroundState,
        time_step: FloatArray,
        surface_temperature: FloatArray,
        conductance: FloatArray,
        restart: BoolArray,
    ) -> GroundStep:
        """Advance by one step.

        Parameters
        ----------
        state : GroundState
        time_step : ndarray
            [s]; a column with 0 stays as it is.
        surface_temperature : ndarray
            Of what touches the surface, at the end of the step [K].
        conductance : ndarray
            Between that and the ground's surface [W/m2/K].
        restart : ndarray of bool
            Where the cover changed, or its temperature jumped: such columns take the step in parts.

        Returns
        -------
        GroundStep

        Notes
        -----
        Second-order backward differences over unequal steps, for the heat stored in each node. Newton's
        method from the temperatures extrapolated, one iteration where that is enough; what is then
        left over in a node's balance is carried to the next step, so that heat is never lost.
        """
        dt, sink = self._flat(time_step), self._flat(surface_temperature) - _MELTING
        g, fresh = self._flat(conductance), self._flat(restart) & (dt > 0.0)
        cells, state, anew = self._cells, self._flat_state(state), some(fresh)
        if anew and every(fresh):
            return _step(_restart(cells, state, dt, sink, g), self.shape)
        trial = _attempt(cells, state, dt, sink, g)
        if anew:
            which = np.nonzero(fresh)[0]
            parts = _restart(cells.select(which), state.select(which), dt[which], sink[which], g[which])
            trial = _join(trial, parts, which)
        return _step(trial, self.shape)

    def surface_temperature(self, state: GroundState) -> FloatArray:
        """Return the temperature of each column's surface [K]."""
        top: FloatArray = (_MELTING + state.theta[0]).reshape(self.shape)
        return top

    def stored(self, state: GroundState) -> FloatArray:
        """Return the heat stored in each column, above that of ice-cold frozen ground [J/m2]."""
        return _sum(state.stored).reshape(self.shape)

    def frozen_depth(self, state: GroundState) -> FloatArray:
        """Return how much of each column is frozen, in all [m]; 0 where no water is."""
        cells, theta = self._cells, self._flat_state(state).theta
        if cells.latent is None:
            return np.zeros(self.shape)
        frozen = np.where(cells.latent > 0.0, 1.0 - thawed_fraction(theta), 0.0)
        return _sum(frozen * cells.length).reshape(self.shape)

    def potential(self, state: GroundState, temperature: FloatArray) -> FloatArray:
        """Return the integral of the uppermost conductivity from a temperature to the deep one [W/m]."""
        c = self._cells
        slope = None if c.conductivity_slope is None else c.conductivity_slope[0]
        rise = None if c.conductance_rise is None else c.conductance_rise[0] * c.length[0]
        k = c.conductance[0] * c.length[0], rise, slope
        surface, deep = self._flat(temperature) - _MELTING, self._flat_state(state).theta[-1]
        near, far = (kirchhoff(x, (x < 0.0).astype(np.float64), *k)[0] for x in (surface, deep))
        return (far - near).reshape(self.shape)

    def _flat(self, values: Any) -> Any:
        return _flat(values, self.shape)

    def _flat_state(self, state: GroundState) -> GroundState:
        return state.without_axis() if self._single else state


def _flat(values: Any, shape: tuple[int, ...]) -> Any:
    """One axis of columns, of a single one a number."""
    array, size = np.asarray(values), math.prod(shape)
    if size == 1:
        return array.reshape(())[()]
    if not array.ndim:
        return np.full(size, array)
    # copies, for a step outlives the arrays of its caller
    return (array if array.shape == shape else np.broadcast_to(array, shape)).flatten()


def _sum(rows: FloatArray) -> FloatArray:
    """Sum over the cells, in one order for any number of columns."""
    total: FloatArray = np.add.accumulate(rows, axis=0)[-1]
    return total


def _attempt(
    cells: CellProperties,
    state: GroundState,
    dt: FloatArray,
    sink: FloatArray,
    g: FloatArray,
) -> _Trial:
    """Solve a step, or a part of one, for the temperatures at its end."""
    growth = dt / where(dt < LARGEST_GROWTH * state.last_step, state.last_step, np.inf)
    whole = 1.0 + 2.0 * growth
    length = dt * ((1.0 + growth) / whole)
    start = state.weighted(growth * growth / whole)
    theta = state.theta + growth * state.theta_change
    response = balance_nodes(cells, theta, start.stored + start.stored_change, length, sink, g)
    still = dt <= 0.0
    if some(still):
        theta = np.where(still, state.theta, theta)
    zero = 0.0 * dt
    return _Trial(cells, start, theta, response, sink, g, length, dt, zero, zero)


def _restart(
    cells: CellProperties, state: GroundState, dt: FloatArray, sink: FloatArray, g: FloatArray
) -> _Trial:
    """Take a step in parts, the first of them without a past."""
    heat = deep = zero = 0.0 * dt
    state = state._replace(last_step=zero)
    for part in RESTART_PARTS:
        trial = _attempt(cells, state, part * dt, sink, g)
        if part == RESTART_PARTS[-1]:
            break
        state = _close(trial)
        heat, deep = heat + state.surface_heat, deep + state.deep_heat
    return trial._replace(earlier_heat=heat, earlier_deep_heat=deep)


def _join(trial: _Trial, parts: _Trial, which: IntArray) -> _Trial:
    """Return the trial with some of its columns replaced."""
    if not trial.step.ndim:
        return parts

    def put(whole: FloatArray, some: FloatArray) -> FloatArray:
        joined = whole.copy()
        joined[..., which] = some if parts.step.ndim else some[..., None]
        return joined

    start = GroundState(*(put(*pair) for pair in zip(trial.start, parts.start, strict=True)))
    return _Trial(trial.cells, start, *(put(*pair) for pair in zip(trial[2:], parts[2:], strict=True)))


def _flux(t: _Trial) -> FloatArray:
    """Out of the surface at the end [W/m2]."""
    flux: FloatArray = t.conductance * (t.theta[0] - t.sink)
    return flux


def _heat(t: _Trial) -> FloatArray:
    """Out of the surface during the step [J/m2]."""
    return t.earlier_heat + t.start.surface_heat + t.length * _flux(t)


def _step(t: _Trial, shape: tuple[int, ...]) -> GroundStep:
    slope = t.length * t.conductance * (t.response[0] - 1.0)
    return GroundStep(_heat(t).reshape(shape), slope.reshape(shape), t)


def _close(t: _Trial) -> GroundState:
    """Close the books: every node gains what flows into it, and the surface gives what flows out."""
    passed, out = t.length * flux_up(t.cells, t.theta), t.length * _flux(t)
    change = t.start.stored_change + passed
    change[1:] -= passed[:-1]
    change[0] -= out
    return GroundState(
        theta=t.theta,
        stored=t.start.stored + change,
        stored_change=change,
        theta_change=t.theta - t.start.theta,
        surface_heat=t.start.surface_heat + out,
        deep_heat=t.start.deep_heat + passed[-1],
        last_step=t.step,
    )
