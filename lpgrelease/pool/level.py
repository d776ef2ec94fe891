"""How wide, how deep and how wet: the shape a volume of liquid takes. Plain functions of SI arrays."""

from __future__ import annotations

import dataclasses
from typing import Final

import numpy as np
from numpy.typing import NDArray

from lpgrelease.elementwise import larger, smaller, where
from lpgrelease.quantities import FloatArray

__all__ = ["Room", "Stand"]

_TINY: Final = float(np.finfo(float).tiny)


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Stand:
    """A volume at rest in the room it has; every array has shape (scenarios,)."""

    area: FloatArray
    """Largest surface that the volume can have [m2]."""
    sides: FloatArray
    """Ground it touches beyond that area [m2]."""
    level: FloatArray
    """Height of its surface above the lowest point [m]."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Room:
    """Shape of the ground: knots first, scenarios last; between knots the area is linear in height."""

    level: FloatArray
    area: FloatArray
    wetted: FloatArray
    volume: FloatArray
    """Liquid up to each knot [m3]."""
    upright: bool
    """Whether no side slopes or counts, so that the area is the floor's at any volume."""

    @classmethod
    def prepare(cls, level: FloatArray, area: FloatArray, wetted: FloatArray) -> Room:
        """Add up the volumes."""
        volume = np.zeros_like(level)
        slices = 0.5 * (area[1:] + area[:-1]) * np.diff(level, axis=0)
        volume[1:] = np.add.accumulate(slices, axis=0)
        upright = level.shape[0] == 2 and bool(np.all((area[1] == area[0]) & (wetted[1] == area[0])))
        return cls(level, area, wetted, volume, upright)

    def select(self, which: NDArray[np.intp]) -> Room:
        """Return some of the scenarios."""
        rows = (self.level, self.area, self.wetted, self.volume)
        level, area, wetted, volume = (row[:, which] for row in rows)
        return Room(level, area, wetted, volume, self.upright)

    @property
    def capacity(self) -> FloatArray:
        """Volume up to the rim [m3]."""
        capacity: FloatArray = self.volume[-1]
        return capacity

    @property
    def rim(self) -> FloatArray:
        """Height of the rim [m]."""
        rim: FloatArray = self.level[-1]
        return rim

    def level_of(self, volume: FloatArray) -> FloatArray:
        """Level of a volume of liquid, as :meth:`hold` has it."""
        if not self.upright:
            return self.hold(volume).level
        level: FloatArray = smaller(volume, self.volume[1]) / self.area[0]
        return level

    def hold(self, volume: FloatArray) -> Stand:
        """Area, sides and level of a volume of liquid.

        Notes
        -----
        In a slice with s = dA/dz: A^2 = A_0^2 + 2 s (V - V_0), z - z_0 = 2 (V - V_0) / (A + A_0). Wetted
        area beyond the surface is linear in height between knots.
        """
        area = self.area[0]
        if self.upright:
            return Stand(area, np.zeros_like(area), smaller(volume, self.volume[1]) / area)
        level = sides = np.zeros_like(area)
        for i in range(self.level.shape[0] - 1):
            here = volume > self.volume[i]
            height = self.level[i + 1] - self.level[i]
            over = larger(smaller(volume, self.volume[i + 1]) - self.volume[i], 0.0)
            slope = (self.area[i + 1] - self.area[i]) / height
            surface = np.sqrt(self.area[i] * self.area[i] + 2.0 * slope * over)
            rise = 2.0 * over / larger(surface + self.area[i], _TINY)
            first, last = self.wetted[i] - self.area[i], self.wetted[i + 1] - self.area[i + 1]
            area = where(here, surface, area)
            level = where(here, self.level[i] + rise, level)
            sides = where(here, first + (last - first) * (rise / height), sides)
        return Stand(area, sides, level)
