"""Level, wetted surface and free surface of many tanks against the liquid's volume, tabulated.

A march asks for them thousands of times; the shapes' own functions need Newton's method each time.

Notes
-----
Nodes at levels that crowd at bottom and top, against xi from 0 to 1 with volume fraction 3 xi**2 - 2 xi**3,
in which the level of every shape is tame where the tank is nearly empty or full. Cubic between nodes, the
level's slopes exact, one over the free surface; and cubic again on even pieces of xi. Levels come within
1e-5 of the height.
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
"""Levels at which the shape is asked."""
PIECES = 64
"""Cubics, on even pieces of xi."""


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
    pieces : ndarray, shape (4, rows, PIECES, n)
        Coefficients of powers of the place within a piece of xi, 0 to 1: of the level, and where asked for of
        wetted share and free surface.
    """

    volume: FloatArray
    pieces: FloatArray

    @classmethod
    def prepare(cls, tank: Tank, *, surfaces: bool = True) -> Self:
        """Tabulate tanks whose fields have shape (n,); their surfaces as well, or the level alone."""
        volume, height = tank.volume, tank.height
        # a tank is its own mirror image: the lower half tells the upper
        share = 0.5 - 0.5 * np.cos(np.pi * np.arange(NODES // 2 + 1) / (NODES - 1))
        level = share[:, None] * height
        filled, free = tank._lower_half(level)
        filled = np.clip(filled, 0.0, volume)
        filled[0], filled[-1] = 0.0, 0.5 * volume
        xi = _mirrored(_place(filled / volume), 1.0, -1.0)
        slopes = np.empty_like(level)
        slopes[1:] = 6.0 * (xi * (1.0 - xi))[1 : len(level)] * volume / free[1:]
        slopes[0] = 2.0 * (level[1] - level[0]) / (xi[1] - xi[0]) - slopes[1]
        rows = [_mirrored(level, height, -1.0)]
        row_slopes = [_mirrored(slopes, 0.0, 1.0)]
        if surfaces:
            wetted = np.clip(tank._lower_wetted(level) / tank.surface_area, 0.0, 1.0)
            rows += [_mirrored(wetted, 1.0, -1.0), _mirrored(free, 0.0, 1.0)]
            row_slopes += [_slopes(xi, row) for row in rows[1:]]
        cubics = _pieces(xi, np.stack(rows), np.stack(row_slopes))
        even = np.broadcast_to(np.linspace(0.0, 1.0, PIECES + 1)[:, None], (PIECES + 1, volume.size))
        values, even_slopes = _at_places(xi, cubics, even)
        return cls(volume, _pieces(even, values, even_slopes))

    def level(self, liquid_volume: FloatArray) -> FloatArray:
        """Level at volumes (..., n) [m]; that of the empty or the full tank outside."""
        u, found, _ = self._piece(liquid_volume, 1)
        value: FloatArray = found[0, 0] + u * (found[1, 0] + u * (found[2, 0] + u * found[3, 0]))
        return value

    def at(self, liquid_volume: FloatArray) -> Levels:
        """Levels and surfaces at volumes (..., n); of a table of levels alone, no surfaces."""
        if self.pieces.shape[1] == 1:
            nothing = np.zeros(liquid_volume.shape)
            return Levels(self.level(liquid_volume), nothing, nothing, nothing)
        u, found, by_volume = self._piece(liquid_volume, 3)
        value = found[0] + u * (found[1] + u * (found[2] + u * found[3]))
        slope = found[1, 1] + u * (2.0 * found[2, 1] + u * (3.0 * found[3, 1]))
        return Levels(value[0], value[1], slope * by_volume, value[2])

    def _piece(self, liquid_volume: FloatArray, rows: int) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Place within the piece, its coefficients (4, rows, ...), and the place's derivative by volume."""
        xi = _place(np.clip(liquid_volume / self.volume, 0.0, 1.0))
        size = self.volume.size
        position = xi * PIECES
        cell = np.minimum(position.astype(np.intp), PIECES - 1)
        found = self.pieces[:, :rows].reshape(4, rows, -1).take(cell * size + np.arange(size), axis=2)
        by_volume = PIECES / (6.0 * np.maximum(xi * (1.0 - xi), 1e-4) * self.volume)
        return position - cell, found, by_volume

    def take(self, index: IntArray) -> Self:
        """Return the tanks `index` alone."""
        return dataclasses.replace(
            self, volume=self.volume[index], pieces=np.take(self.pieces, index, axis=-1)
        )


def _place(share: FloatArray) -> FloatArray:
    """Return xi of a share of the volume."""
    xi: FloatArray = np.clip(0.5 - np.sin(np.arcsin(1.0 - 2.0 * share) / 3.0), 0.0, 1.0)
    return xi


def _mirrored(lower: FloatArray, total: FloatArray | float, sign: float) -> FloatArray:
    """Rows of both halves, from those of the lower, its last the middle; above stands total + sign * row."""
    return np.concatenate([lower, total + sign * lower[-2::-1]])


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


def _at_places(x: FloatArray, cubics: FloatArray, places: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Values and slopes of cubics on pieces of x (NODES, n), at places (m, n); (rows, m, n) each."""
    size, last = x.shape[1], x.shape[0] - 2
    cell = np.zeros(places.shape, dtype=np.intp)
    for node in x[1:-1]:
        cell += node <= places
    flat = np.minimum(cell, last) * size + np.arange(size)
    low = x.reshape(-1).take(flat)
    width = x.reshape(-1).take(flat + size) - low
    u = (places - low) / width
    c = cubics.reshape(4, cubics.shape[1], -1).take(flat, axis=2)
    slope = (c[1] + u * (2.0 * c[2] + u * (3.0 * c[3]))) / width
    return c[0] + u * (c[1] + u * (c[2] + u * c[3])), slope
