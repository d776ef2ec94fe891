"""Rings of uniform ground under a boiling liquid, each with a surface temperature of its own.

Time or ring axis first, scenarios last.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from lpgrelease.conduction import Contact
from lpgrelease.elementwise import larger, some, where
from lpgrelease.pool.contact import BoilingContact, Touch
from lpgrelease.pool.rings import GroundHeat, cell_means, recede, row_sum
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = ["BoilingRings"]

SMALL: Final = 20_000
FEW: Final = 3


class BoilingRings:
    """Working memory of one march: rings of uniform ground, a new one for every step that wets some.

    With A(T_s) the coefficient of the flux A / sqrt(age) at the temperature of a ring's surface, a ring's
    heat flow is the integral of dA / sqrt(t - tau), exact for A linear in time over each step. The surface
    begins at the ground's temperature, and is then as much warmer than the liquid as boiling needs to carry
    that heat. The row after the last ring is the ground that may be wetted next.
    """

    def __init__(
        self,
        contact: Contact,
        boiling: BoilingContact,
        times: FloatArray,
        temperature: FloatArray,
        area: FloatArray,
        *,
        ground_temperature: FloatArray,
    ) -> None:
        n = times.shape[1:]
        self._table, self._boiling, self._times, self._warm = contact, boiling, times, ground_temperature
        self._gains = np.zeros((0, *n))
        self._changes = np.zeros((times.shape[0] - 1, 4, *n))
        self._value, self._difference = np.zeros((4, *n)), np.zeros((4, *n))
        self._film = np.zeros((4, *n), dtype=bool)
        self.areas, self.loads = np.zeros((4, *n)), np.zeros((4, *n))
        self.areas[0] = area
        self._used = 1
        self._there: list[int] = []
        """Rings there were after each step."""
        self._guess = larger(ground_temperature - temperature, 0.0)
        self._begin(0, temperature)

    def _begin(self, row: int, temperature: FloatArray) -> None:
        """Lay out the ground of a row before liquid at a temperature touches it."""
        self._difference[row] = self._guess
        self._film[row] = self._boiling.may_film(self._warm - temperature)

    def step(self, j: int, temperature: FloatArray, flows: BoolArray) -> GroundHeat:
        """Heat in step `j` for pools at `temperature` at its start, some of which flow."""
        times, used = self._times, self._used
        means = cell_means(np.sqrt(times[j + 1] - times[: j + 2]))
        self._kernel, gains = means[j], means[:j] - self._gains
        self._gains, self._reference, self._flows = means, temperature, flows
        rows = used
        if some(flows):
            self._begin(used, temperature)
            rows = used + 1
        self._past = self._heat_of_the_past(rows, gains)
        self._touch, self._slope = touch, _ = self._touches(rows, times[j + 1] - times[j])
        areas = self.areas[:used]
        heat, slope = row_sum(areas * touch.heat[:used]), row_sum(areas * self._slope[:used])
        fresh = (touch.heat[used], self._slope[used]) if rows > used else (0.0 * heat, 0.0 * heat)
        return GroundHeat(heat, slope, *fresh)

    def _touches(self, rows: int, length: FloatArray) -> tuple[Touch, FloatArray]:
        """Touch of every row and the rise of its heat by the liquid's temperature.

        A few rows of one scenario are worked out one after the other, which takes less time.
        """
        of_rows = self._past, self._value[:rows], self._difference[:rows], self._film[:rows]
        if self._reference.ndim or rows > FEW:
            return self._touched(length, *of_rows)
        pairs = [self._touched(length, *row) for row in zip(*of_rows, strict=True)]
        touches, slopes = zip(*pairs, strict=True)
        return Touch(*(np.array(values) for values in zip(*touches, strict=True))), np.array(slopes)

    def _touched(
        self, length: FloatArray, past: FloatArray, value: FloatArray, difference: FloatArray, film: BoolArray
    ) -> tuple[Touch, FloatArray]:
        line, slope = self._table.line(self._reference + difference)
        kept = -self._kernel * slope
        perfect = past + self._kernel * (line - value) + kept * difference
        touch = self._boiling.touch(perfect, kept, length, self._reference, difference, film)
        return touch, -kept * touch.share

    def _heat_of_the_past(self, rows: int, gains: FloatArray) -> FloatArray:
        """Heat of every row in a step for all that happened before it, in the order it did [J/m2].

        Row after row for few scenarios, and for many, whose arrays would not stay in the processor's cache,
        step after step with the rows there were: the same sums in the same order.
        """
        changes = self._changes[: gains.shape[0], :rows]
        if changes.size <= SMALL:
            return row_sum(changes * gains[:, None])
        total = np.zeros(changes.shape[1:])
        for change, gain, there in zip(changes, gains, self._there, strict=True):
            total[:there] += change[:there] * gain
        return total

    def ring_heat(self, j: int, temperature: FloatArray) -> FloatArray:
        """Heat of each ring in step `j` that ends at `temperature` [J/m2]."""
        return self._heat(temperature)[: self._used]

    def _heat(self, temperature: FloatArray) -> FloatArray:
        heat: FloatArray = self._touch.heat + self._slope * (temperature - self._reference)
        return heat

    def close(self, j: int, temperature: FloatArray, growth: FloatArray, held: BoolArray) -> None:
        """Keep the temperature at the end of step `j`, and wet or bare some ground where liquid flows."""
        used, rows = self._used, self._touch.heat.shape[0]
        rise = (self._heat(temperature) - self._past) / self._kernel
        warmer = (1.0 - self._touch.share) * (temperature - self._reference)
        self._difference[:rows] = np.maximum(self._touch.difference - warmer, 0.0)
        self._film[:rows] = self._touch.film
        if rows > used:
            growth = where(held, 0.0, growth)
            self._guess = where(self._flows, self._difference[used], self._guess)
            if some(growth < 0.0):
                self.areas[:used] = recede(self.areas[:used], larger(-growth, 0.0))
            if some(growth > 0.0):
                self.areas[used] = larger(growth, 0.0)
                self._used += 1
            else:
                rise[used] = 0.0
        self._there.append(self._used)
        self._changes[j, :rows] = rise
        self._value[:rows] += rise
        if self._used == self.areas.shape[0]:
            self._make_room()

    def _make_room(self) -> None:
        """Double the number of rows."""
        for name in ("_changes", "_value", "_difference", "_film", "areas", "loads"):
            rows, axis = getattr(self, name), 1 if name == "_changes" else 0
            setattr(self, name, np.concatenate([rows, np.zeros_like(rows)], axis=axis))

    def wet_rings(self) -> tuple[FloatArray, FloatArray]:
        """Areas and loads of the rings, to be changed in place."""
        return self.areas[: self._used], self.loads[: self._used]
