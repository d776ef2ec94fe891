"""Rings of ground, each wetted at its own time, and how they dry: plain functions of SI arrays.

Ring 0 is the area at the start; ring i + 1 is the ground wetted in time step i. Time or ring axis first,
scenarios last.
"""

from __future__ import annotations

import dataclasses
from typing import Final

import numpy as np

from lpgrelease.conduction import Contact
from lpgrelease.elementwise import larger, some, where
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = [
    "Drying",
    "GroundHeat",
    "HalfSpaceRings",
    "cell_means",
    "dry_rings",
    "past_heat",
    "recede",
    "row_sum",
]

_TINY: Final = float(np.finfo(float).tiny)


def cell_means(roots: FloatArray) -> FloatArray:
    """Mean of 2 sqrt(t - tau) over the cells between nodes, from sqrt(t - node)."""
    a, b = roots[:-1], roots[1:]
    means: FloatArray = (4.0 / 3.0) * (a * a + a * b + b * b) / np.maximum(a + b, _TINY)
    return means


def row_sum(rows: FloatArray) -> FloatArray:
    """Sum over the first axis, row after row: rows of zeros change nothing, not even the last bit."""
    if rows.shape[0] == 0:
        return np.zeros(rows.shape[1:])
    total: FloatArray = np.add.accumulate(rows, axis=0)[-1]
    return total


def past_heat(contact: FloatArray, gains: FloatArray, root: FloatArray) -> FloatArray:
    """Heat that each ring gives in a step for all that happened before it [J/m2].

    Parameters
    ----------
    contact : ndarray, shape (j + 1, scenarios)
        Coefficient A of the ground at the pool's temperature at each node so far [W s^0.5/m2].
    gains : ndarray, shape (j, scenarios)
        Heat in this step per unit of A that rose evenly in each earlier step [s^0.5].
    root : ndarray
        sqrt(end) - sqrt(start) of this step, counted from the start of the spill [s^0.5].

    Returns
    -------
    ndarray, shape (j + 1, scenarios)

    Notes
    -----
    A ring takes the step of A at its wetting, spread evenly over that time step, and every later change.
    """
    later = np.zeros_like(contact)
    changes = (contact[1:] - contact[:-1]) * gains
    later[:-1] = np.add.accumulate(changes[::-1], axis=0)[::-1]
    later[0] += 2.0 * root * contact[0]
    later[1:] += contact[1:] * gains
    return later


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class GroundHeat:
    """Heat of the ground in a step, linear in the pool's temperature about its last one."""

    wet: FloatArray
    """Of all ground that is wet at the start [J]."""
    wet_slope: FloatArray
    fresh: FloatArray
    """Of ground wetted evenly in the step [J/m2]."""
    fresh_slope: FloatArray


class HalfSpaceRings:
    """Working memory of one march: rings of uniform ground, a new one for every step, each with its age.

    With S the area and A(T) the coefficient of the flux A / sqrt(age), the heat flow is the integral of
    d[S A] / sqrt(t - tau), taken exactly for S and A linear in time over each step.
    """

    def __init__(
        self, contact: Contact, times: FloatArray, temperature: FloatArray, area: FloatArray
    ) -> None:
        self._table = contact
        self._times = times
        self._contact = np.zeros(times.shape)
        self._contact[0] = contact.line(temperature)[0]
        self.areas = np.zeros(times.shape)
        self.areas[0] = area
        self.loads = np.zeros(times.shape)
        self._used = 1
        self._gains = np.zeros((0, *times.shape[1:]))
        self._roots = np.sqrt(times)

    def step(self, j: int, temperature: FloatArray, flows: BoolArray) -> GroundHeat:
        """Heat in step `j` for pools at `temperature` at its start, some of which flow."""
        times, used = self._times, self._used
        means = cell_means(np.sqrt(times[j + 1] - times[: j + 2]))
        root = self._roots[j + 1] - self._roots[j]
        self._past = past_heat(self._contact[: j + 1], means[:j] - self._gains, root)[:used]
        self._gains, self._kernel = means, means[j]
        self._line, self._slope = self._table.line(temperature)
        self._reference, self._flows = temperature, some(flows)
        wet = row_sum(self.areas[:used] * self._past)
        area = row_sum(self.areas[:used])
        kernel = self._kernel
        wet = wet + kernel * (area * (self._line - self._contact[j]))
        fresh_slope = kernel * self._slope
        return GroundHeat(wet, area * fresh_slope, kernel * self._line, fresh_slope)

    def ring_heat(self, j: int, temperature: FloatArray) -> FloatArray:
        """Heat of each ring in step `j` that ends at `temperature` [J/m2]."""
        heat: FloatArray = self._past + self._kernel * (self._coefficient(temperature) - self._contact[j])
        return heat

    def close(self, j: int, temperature: FloatArray, growth: FloatArray, held: BoolArray) -> None:
        """Keep the temperature at the end of step `j`, and wet or bare some ground where liquid flows."""
        self._contact[j + 1] = self._coefficient(temperature)
        if not self._flows:
            return
        growth = where(held, 0.0, growth)
        if some(growth < 0.0):
            self.areas[: self._used] = recede(self.areas[: self._used], larger(-growth, 0.0))
        if some(growth > 0.0):
            self.areas[j + 1] = larger(growth, 0.0)
            self._used = j + 2

    def wet_rings(self) -> tuple[FloatArray, FloatArray]:
        """Areas and loads of the rings, to be changed in place."""
        return self.areas[: self._used], self.loads[: self._used]

    def _coefficient(self, temperature: FloatArray) -> FloatArray:
        value: FloatArray = self._line + self._slope * (temperature - self._reference)
        return value


def recede(areas: FloatArray, bared: FloatArray) -> FloatArray:
    """Take an area off the youngest, outermost rings [m2]."""
    outside = np.add.accumulate(areas[::-1], axis=0)[::-1] - areas
    left: FloatArray = np.maximum(areas - np.maximum(bared - outside, 0.0), 0.0)
    return left


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Drying:
    """What a step took from rings whose liquid does not flow; totals have shape (scenarios,)."""

    areas: FloatArray
    loads: FloatArray
    evaporated: FloatArray
    heat_ground: FloatArray
    used_area: FloatArray
    """Sum of area times the part of the step it was wet [m2]."""
    part: FloatArray
    """Part of the step after which the last ring was dry."""


def dry_rings(
    areas: FloatArray,
    loads: FloatArray,
    *,
    ground_heat: FloatArray,
    heat_above: FloatArray,
    cooling: FloatArray,
    latent_heat: FloatArray,
) -> Drying:
    """Evaporate liquid that the relief holds in place, ring by ring.

    Parameters
    ----------
    areas, loads : ndarray, shape (rings, scenarios)
        Wet area of each ring [m2] and liquid on it [kg/m2].
    ground_heat : ndarray, shape (rings, scenarios)
        Heat of the ground in this step [J/m2].
    heat_above, cooling, latent_heat : ndarray, shape (scenarios,)
        Heat from above in this step [J/m2], heat the liquid gives by cooling [J/kg], and L [J/kg].

    Notes
    -----
    Each ring evaporates with the heat of its own ground at the temperature of the pool as a whole: exact
    while it boils, a good estimate while it is colder, since a thin layer stores little.
    """
    heat = ground_heat + heat_above
    wanted = (heat + loads * cooling) / latent_heat
    wet = areas > 0.0
    dry: BoolArray = wet & (wanted >= loads)
    taken = np.where(dry, loads, np.where(wet, wanted, 0.0))
    used = np.where(dry, loads * (latent_heat - cooling) / np.where(dry, heat, 1.0), 1.0)
    share = np.where(dry, loads / np.where(dry, wanted, 1.0), 0.0)
    return Drying(
        areas=np.where(dry, 0.0, areas),
        loads=np.where(dry, 0.0, loads - taken),
        evaporated=row_sum(areas * taken),
        heat_ground=row_sum(areas * used * ground_heat),
        used_area=row_sum(areas * used),
        part=share.max(axis=0),
    )
