"""Rings of ground that remembers: layers, drying and warming up again, a second spill on chilled ground."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from lpgrelease.constants import FREEZING_POINT_OF_WATER
from lpgrelease.elementwise import some
from lpgrelease.ground.column import PERFECT_CONTACT, GroundColumns, GroundState, GroundStep
from lpgrelease.pool.contact import BoilingContact
from lpgrelease.pool.film_break import step_across_break
from lpgrelease.pool.rings import GroundHeat, recede, row_sum
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray, IntArray

__all__ = ["ColumnRings"]

RINGS: Final = 16
EVEN_WETTING: Final = 4.0 / 9.0
"""A ring wetted evenly during a step has given as much heat as one wetted at once this part of it before."""


class ColumnRings:
    """Working memory of one march: a few rings, each a column of ground with a state of its own.

    The ground wetted in several steps is one ring: fresh ground joins the youngest with the mean of both
    states, so that no heat is lost. Ground that has fallen dry warms up under the air, and is wetted again
    from the inside out.
    """

    def __init__(
        self,
        soil: GroundColumns,
        times: FloatArray,
        area: FloatArray,
        *,
        ground_temperature: FloatArray,
        air: Sequence[tuple[FloatArray, FloatArray]],
        boiling: BoilingContact | None = None,
        rings: int = RINGS,
    ) -> None:
        n = times[0].size
        self._shape = times.shape[1:]
        self._times, self._rings = times.reshape(-1, n), rings
        self._air = air
        self._all = soil.cells.select(np.tile(np.arange(n), rings))
        self._fresh = soil
        ground_temperature = np.reshape(ground_temperature, n)
        self._virgin = soil.start(ground_temperature).with_axis()
        whole = GroundColumns(self._all, (rings, n))
        self._state = whole.start(np.broadcast_to(ground_temperature, (rings, n))).with_axis().copy()
        self._use(1)
        self._boiling = None if boiling is None else boiling.reshape((n,))
        self._effusivity = _effusivity(soil)
        self._difference, self._film = np.zeros((rings, n)), np.zeros((rings, n), dtype=bool)
        self._wet = np.zeros((rings, n), dtype=bool)
        self.areas, self.extent = np.zeros((rings, n)), np.zeros((rings, n))
        self.areas[0] = self.extent[0] = area
        self.loads = np.zeros((rings, n))

    def _use(self, rings: int) -> None:
        """Take as many rings into the march as have ever been wet."""
        n = self._times.shape[1]
        self._used = rings
        self._columns = GroundColumns(self._all.select(np.arange(rings * n)), (rings, n))

    def step(self, j: int, temperature: FloatArray, flows: BoolArray) -> GroundHeat:
        """Heat in step `j` for pools at `temperature` at its start, some of which flow."""
        length = self._times[j + 1] - self._times[j]
        used, n = self._used, length.size
        self._reference = temperature = np.reshape(temperature, n)
        areas = self.areas[:used]
        wet = areas > 0.0
        coefficient, tends_to = self._air[j]
        state, changed = self._state.select(slice(used * n)), wet != self._wet[:used]
        conductance, sink, film = self._meets(
            temperature, state, length, self._difference[:used], self._film[:used], changed
        )
        touch = np.where(wet, conductance, coefficient), np.where(wet, sink, tends_to)
        time_step = np.where(self.extent[:used] > 0.0, length, 0.0)
        self._step, (_, self._sink), self._film[:used] = self._take(
            self._columns, state, time_step, touch, film & wet, changed
        )
        self._wet[:used] = wet
        heat, slope = row_sum(areas * self._step.heat), row_sum(areas * self._step.heat_slope)
        if not some(flows):
            return self._shaped(heat, slope, np.zeros(n), np.zeros(n))
        self._next, start = self._next_to_wet()
        new = np.ones(n, dtype=bool)
        length = EVEN_WETTING * length
        conductance, sink, film = self._meets(temperature, start, length, np.zeros(n), new, new)
        self._fresh_step, (_, self._fresh_sink), self._fresh_film = self._take(
            self._fresh, start, length, (conductance, sink), film, new
        )
        return self._shaped(heat, slope, self._fresh_step.heat, self._fresh_step.heat_slope)

    def _shaped(self, *heats: FloatArray) -> GroundHeat:
        return GroundHeat(*(heat.reshape(self._shape)[()] for heat in heats))

    def _take(
        self,
        soil: GroundColumns,
        state: GroundState,
        length: FloatArray,
        touch: tuple[FloatArray, FloatArray],
        film: BoolArray,
        restart: BoolArray,
    ) -> tuple[GroundStep, tuple[FloatArray, FloatArray], BoolArray]:
        """Step with what the ground meets at its end, and where a film parts them then.

        `touch` is the conductance and the temperature of what the ground meets at the start. Where a film
        breaks in the step, it is taken in two parts.
        """
        conductance, sink = touch
        step = soil.step(state, length, sink, conductance, restart)
        if self._boiling is None or not some(film):
            return step, touch, film
        broken = film & (length > 0.0) & ~self._boiling.may_film(step.top - self._reference)
        if not some(broken):
            return step, touch, film
        which = np.nonzero(broken.ravel())[0]
        scenario = which % self._reference.size
        some_columns = GroundColumns(soil.cells.select(which), which.shape)
        before, after, end = step_across_break(
            some_columns,
            state.select(which),
            np.broadcast_to(length, broken.shape)[broken],
            (conductance[broken], sink[broken]),
            restart[broken],
            curve=self._boiling.select(scenario, self._boiling.boiling_point[scenario]),
            effusivity=self._effusivity[scenario],
            temperature=self._reference[scenario],
        )
        sink = sink.copy()
        sink[broken] = end
        return step.replaced(which, before, after), (conductance, sink), film & ~broken

    def _meets(
        self,
        temperature: FloatArray,
        state: GroundState,
        length: FloatArray,
        difference: FloatArray,
        film: BoolArray,
        new: BoolArray,
    ) -> tuple[FloatArray, FloatArray, BoolArray]:
        """Conductance between wet ground and what it meets, its temperature, and where a film parts them.

        `difference` and `film` are those of the last step; where the liquid is `new` the difference is
        guessed from a half-space's heat.
        """
        shape = difference.shape
        if self._boiling is None:
            return np.full(shape, PERFECT_CONTACT), np.broadcast_to(temperature, shape), film
        if np.count_nonzero(new):
            top = state.theta[0].reshape(shape) + float(FREEZING_POINT_OF_WATER)
            gap = np.maximum(top - temperature, 0.0)
            kept = self._effusivity * np.sqrt(length)
            first = self._boiling.may_film(gap)
            guess = self._boiling.touch(kept * gap, kept, length, temperature, gap, first)
            difference = np.where(new, np.where(guess.film, gap, guess.difference), difference)
            film = np.where(new, guess.film, film)
        return *self._boiling.tangent(difference, temperature, film), film

    def ring_heat(self, j: int, temperature: FloatArray) -> FloatArray:
        """Heat of each ring in step `j` that ends at `temperature` [J/m2]."""
        heat: FloatArray = self._step.heat + self._step.heat_slope * (temperature - self._reference)
        return heat.reshape(-1, *self._shape)

    def wet_rings(self) -> tuple[FloatArray, FloatArray]:
        """Areas and loads of the rings, to be changed in place."""
        areas, loads = self.areas[: self._used], self.loads[: self._used]
        return areas.reshape(-1, *self._shape), loads.reshape(-1, *self._shape)

    def close(self, j: int, temperature: FloatArray, growth: FloatArray, held: BoolArray) -> None:
        """Keep the state at the end of step `j`, and wet or bare some ground where liquid flows."""
        used, n = self._used, self._reference.size
        temperature, growth = np.reshape(temperature, n), np.reshape(np.where(held, 0.0, growth), n)
        moved = temperature - self._reference
        end = self._step.at(np.where(self._wet[:used], self._sink + moved, self._air[j][1]))
        self._put(slice(used * n), end.state.with_axis(), None)
        self._difference[:used] = end.top - temperature
        if self._boiling is not None:
            self._film[:used] &= self._boiling.may_film(self._difference[:used])
        if some(growth < 0.0):
            self.areas = recede(self.areas, np.maximum(-growth, 0.0))
        if some(growth > 0.0):
            self._grow(j, np.maximum(growth, 0.0), self._fresh_step.at(self._fresh_sink + moved), temperature)

    def _next_to_wet(self) -> tuple[IntArray, GroundState]:
        """Innermost ring that is dry, if any (else the number of rings), and the ground wetted next."""
        dry = (self.areas <= 0.0) & (self.extent > 0.0)
        which = np.where(dry.any(axis=0), np.argmax(dry, axis=0), self._rings)
        if not dry.any():
            return which, self._virgin
        n = which.size
        column = np.minimum(which, self._rings - 1) * n + np.arange(n)
        return which, _choose(which < self._rings, self._state.select(column), self._virgin)

    def _grow(self, j: int, growth: FloatArray, fresh_step: GroundStep, temperature: FloatArray) -> None:
        """Wet dried rings from the inside out, and fresh ground with what is left."""
        wetted, warmer = fresh_step.state.with_axis(), fresh_step.top - temperature
        film = self._fresh_film
        if self._boiling is not None:
            film = film & self._boiling.may_film(warmer)
        room = self.extent - self.areas
        inside = np.add.accumulate(room, axis=0) - room
        again = np.clip(growth - inside, 0.0, room)
        self.areas = self.areas + again
        fresh = growth - row_sum(again)
        fresh = np.where(fresh > 1e-12 * growth, fresh, 0.0)
        n = growth.size
        rewet = np.nonzero((self._next < self._rings) & (growth > 0.0))[0]
        self._put(self._next[rewet] * n + rewet, wetted.select(rewet), None)
        self._wet[self._next[rewet], rewet] = True
        self._difference[self._next[rewet], rewet] = warmer[rewet]
        self._film[self._next[rewet], rewet] = film[rewet]
        new = np.nonzero(fresh > 0.0)[0]
        if new.size:
            youngest = j * self._rings // (self._times.shape[0] - 1)
            before = self.extent[youngest, new]
            share = fresh[new] / (before + fresh[new])
            self.extent[youngest, new] += fresh[new]
            self.areas[youngest, new] += fresh[new]
            self._put(youngest * n + new, wetted.select(new), share)
            self._use(max(self._used, youngest + 1))
            self._wet[youngest, new] = True
            self._difference[youngest, new] = warmer[new]
            self._film[youngest, new] = film[new]

    def _put(self, columns: IntArray | slice, part: GroundState, share: FloatArray | None) -> None:
        """Mix `part` into some columns of the state, which is this march's own; None replaces them."""
        for whole, new in zip(self._state, part, strict=True):
            mixed = new if share is None else whole[..., columns] * (1.0 - share) + new * share
            whole[..., columns] = mixed


def _effusivity(soil: GroundColumns) -> FloatArray:
    """Heat that the topmost layer gives per kelvin and root of time, frozen [W s^0.5/m2/K]."""
    conductance, capacity = soil.cells.frozen_top
    # the first node holds half a cell
    return (2.0 / math.sqrt(math.pi)) * np.sqrt(conductance * (2.0 * capacity))


def _choose(where: BoolArray, one: GroundState, other: GroundState) -> GroundState:
    return GroundState(*(np.where(where, *pair) for pair in zip(one, other, strict=True)))
