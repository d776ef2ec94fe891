"""Level, wetted surface and free surface of many tanks against the liquid's volume, tabulated.

A march asks for them thousands of times; the shapes' own functions need Newton's method each time.

Notes
-----
Nodes at levels that crowd at bottom and top, against xi from 0 to 1 with volume fraction 3 xi**2 - 2 xi**3,
in which the level of every shape is tame where the tank is nearly empty or full. Cubic between nodes; the
level's slopes are exact, one over the free surface. Levels come within 6e-6 of the height.
"""

from __future__ import annotations

import dataclasses
from typing import NamedTuple, Self

import numpy as np

from lpgrelease.marching import IntArray
from lpgrelease.quantities import FloatArray
from lpgrelease.tank.shapes import Tank

__all__ = ["LevelTable", "Levels"]

NODES = 49


class Levels(NamedTuple):
    """At a volume of liquid."""

    level: FloatArray
    wetted_share: FloatArray
    """Wetted over all inside surface."""
    wetted_slope: FloatArray
    """Its derivative by the liquid's volume [1/m3]."""
    free_surface: FloatArray


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class LevelTable:
    """Of n tanks.

    Parameters
    ----------
    volume : ndarray, shape (n,)
        [m3].
    nodes : ndarray, shape (NODES, n)
        xi.
    pieces : ndarray, shape (4, rows, NODES - 1, n)
        Coefficients of powers of the place within a piece, 0 to 1: of the level, and where asked for of
        wetted share and free surface.
    """

    volume: FloatArray
    nodes: FloatArray
    pieces: FloatArray

    @classmethod
    def prepare(cls, tank: Tank, *, surfaces: bool = True) -> Self:
        """Tabulate tanks whose fields have shape (n,); their surfaces as well, or the level alone."""
        volume, height = tank.volume, tank.height
        share = 0.5 - 0.5 * np.cos(np.pi * np.arange(NODES) / (NODES - 1))
        level = share[:, None] * height
        filled = np.clip(tank.volume_at(level), 0.0, volume)
        filled[0], filled[-1] = 0.0, volume
        free = tank.free_surface_at(level)
        xi = _place(filled / volume)
        by_volume = 6.0 * (xi * (1.0 - xi)) * volume
        slopes = _slopes(xi, level)
        slopes[1:-1] = by_volume[1:-1] / free[1:-1]
        rows, row_slopes = [level], [slopes]
        if surfaces:
            wetted = np.clip(tank.wetted_area_at(level) / tank.surface_area, 0.0, 1.0)
            rows += [wetted, free]
            row_slopes += [_slopes(xi, wetted), _slopes(xi, free)]
        return cls(volume, xi, _pieces(xi, np.stack(rows), np.stack(row_slopes)))

    def level(self, liquid_volume: FloatArray) -> FloatArray:
        """Level at volumes (..., n) [m]; that of the empty or the full tank outside."""
        u, found, _ = self._piece(liquid_volume, 1)
        value: FloatArray = found[0, 0] + u * (found[1, 0] + u * (found[2, 0] + u * found[3, 0]))
        return value

    def at(self, liquid_volume: FloatArray) -> Levels:
        """Levels and surfaces at volumes (..., n)."""
        u, found, by_volume = self._piece(liquid_volume, 3)
        value = found[0] + u * (found[1] + u * (found[2] + u * found[3]))
        slope = found[1, 1] + u * (2.0 * found[2, 1] + u * (3.0 * found[3, 1]))
        return Levels(value[0], value[1], slope * by_volume, value[2])

    def _piece(self, liquid_volume: FloatArray, rows: int) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Place within the piece, its coefficients (4, rows, ...), and the place's derivative by volume."""
        xi = _place(np.clip(liquid_volume / self.volume, 0.0, 1.0))
        size = self.volume.size
        ndim = xi.ndim
        nodes = self.nodes.reshape(NODES, *(1,) * (ndim - 1), size)
        cell = np.minimum((nodes[1:] <= xi).sum(axis=0), NODES - 2)
        flat = cell * size + np.arange(size)
        low = self.nodes.reshape(-1).take(flat)
        width = self.nodes.reshape(-1).take(flat + size) - low
        found = self.pieces[:, :rows].reshape(4, rows, -1).take(flat, axis=2)
        by_volume = 1.0 / (6.0 * np.maximum(xi * (1.0 - xi), 1e-4) * self.volume * width)
        return np.clip((xi - low) / width, 0.0, 1.0), found, by_volume

    def take(self, index: IntArray) -> Self:
        """Return the tanks `index` alone."""
        parts = {f.name: getattr(self, f.name)[..., index] for f in dataclasses.fields(self)}
        return dataclasses.replace(self, **parts)


def _place(share: FloatArray) -> FloatArray:
    """Return xi of a share of the volume."""
    xi: FloatArray = np.clip(0.5 - np.sin(np.arcsin(1.0 - 2.0 * share) / 3.0), 0.0, 1.0)
    return xi


def _slopes(x: FloatArray, y: FloatArray) -> FloatArray:
    """Slopes per node of the parabola through three neighbors."""
    h, rise = x[1:] - x[:-1], (y[1:] - y[:-1]) / (x[1:] - x[:-1])
    slopes = np.empty_like(y)
    slopes[1:-1] = (h[1:] * rise[:-1] + h[:-1] * rise[1:]) / (h[1:] + h[:-1])
    slopes[0], slopes[-1] = 2.0 * rise[0] - slopes[1], 2.0 * rise[-1] - slopes[-2]
    return slopes


def _pieces(x: FloatArray, y: FloatArray, slopes: FloatArray) -> FloatArray:
    """Coefficients of the cubics, from values and slopes (rows, NODES, n)."""
    h = x[1:] - x[:-1]
    left, right = y[:, :-1], y[:, 1:]
    begin, end = slopes[:, :-1] * h, slopes[:, 1:] * h
    rise = right - left
    return np.stack([left, begin, 3.0 * rise - 2.0 * begin - end, begin + end - 2.0 * rise])
