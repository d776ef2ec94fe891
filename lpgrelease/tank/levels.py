"""Level, wetted surface and free surface of many tanks against the liquid's volume, tabulated.

A march asks for them thousands of times; the shapes' own functions need Newton's method each time.

Notes
-----
Nodes at levels that crowd at bottom and top, against xi from 0 to 1 with volume fraction 2 xi**2 in the
lower half, and mirrored in the upper: so the level of every shape is tame where the tank is nearly empty or
full. Cubic between nodes, the level's slopes exact, one over the free surface; and cubic again on even pieces
of xi, of which two meet in the middle. From a thousandth of the volume up levels come within 1e-5 of the
height, in tilted tanks within 1e-4 where the surface passes the corners of the shell.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import NamedTuple, Self

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.results import IntArray
from lpgrelease.tank.cells import values_in
from lpgrelease.tank.shapes import Tank

__all__ = ["LevelTable", "Levels"]

NODES = 41
"""Levels at which the shape is asked."""
_LOWER = NODES // 2 + 1
"""Of these, those up to the middle."""
_SHARES = 0.5 - 0.5 * np.cos(np.pi * np.arange(_LOWER) / (NODES - 1))
"""Their levels over the height."""
PIECES = 48
"""Cubics, on even pieces of xi."""
LEAST_SHARE = 1e-9
"""Of the volume, below which the surface is that at this share."""
MIRROR = (-1.0, -1.0, 1.0)
"""Signs of level, wetted share and free surface, seen from above."""


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
    pieces : ndarray, shape (4, rows, PIECES, m)
        Coefficients of powers of the place within an even piece of xi, 0 to 1: of the level, and where asked
        for of wetted share, free surface, and a fourth of the share's slope by xi.
    columns : ndarray of int, shape (n,)
        Which of the m columns of `pieces` are those of these tanks: they are large, and not copied.
    """

    volume: FloatArray
    pieces: FloatArray
    columns: IntArray

    @classmethod
    def prepare(cls, tank: Tank, *, surfaces: bool = True) -> Self:
        """Tabulate tanks whose fields have shape (n,); their surfaces as well, or the level alone."""
        return cls.with_volumes(tank, np.empty((0, tank.volume.size)), surfaces=surfaces)[0]

    @classmethod
    def with_volumes(cls, tank: Tank, heights: FloatArray, *, surfaces: bool) -> tuple[Self, FloatArray]:
        """Tabulate tanks as `prepare` does, and return the volumes below `heights` (m, n) [m] as well.

        The shape's own functions are asked once for both: they take long.
        """
        volume, height = tank.volume, tank.height
        # a tank is its own mirror image: the lower half tells the upper
        level = _SHARES[:, None] * height
        asked = np.concatenate([level, np.minimum(heights, height - heights)])
        filled, free, *wetted = tank._lower(asked) if surfaces else tank._lower_half(asked)
        below = filled[_LOWER:]
        volumes = np.where(heights > 0.5 * height, volume - below, below)
        filled = np.clip(filled[:_LOWER], 0.0, volume)
        filled[0], filled[-1] = 0.0, 0.5 * volume
        xi, free = _place(filled / volume)[1], free[:_LOWER]
        slopes = np.empty_like(level)
        slopes[1:] = 4.0 * xi[1:] * volume / free[1:]
        slopes[0] = 2.0 * (level[1] - level[0]) / (xi[1] - xi[0]) - slopes[1]
        rows, row_slopes, sums = [level], [slopes], [height]
        if wetted:
            rows += [np.clip(wetted[0][:_LOWER] / tank.surface_area, 0.0, 1.0), free]
            sums += [np.ones_like(height), np.zeros_like(height)]
            whole = _mirrored(xi, 1.0, -1.0)
            row_slopes.append(_slopes(whole, _mirrored(rows[1], 1.0, -1.0))[:_LOWER])
            row_slopes.append(_slopes(whole, _mirrored(free, 0.0, 1.0))[:_LOWER])
        pieces = _on_even_pieces(xi, np.array(rows), np.array(row_slopes), sums)
        return cls(volume, pieces, np.arange(volume.size)), volumes

    @classmethod
    def joined(cls, parts: Sequence[Self]) -> Self:
        """Return the tables of all tanks as one."""
        if len(parts) == 1:
            return parts[0]
        begins = np.cumsum([0, *(p.pieces.shape[-1] for p in parts[:-1])])
        return cls(
            np.concatenate([p.volume for p in parts]),
            np.concatenate([p.pieces for p in parts], axis=-1),
            np.concatenate([p.columns + begin for p, begin in zip(parts, begins, strict=True)]),
        )

    @property
    def have_surfaces(self) -> bool:
        """Whether surfaces were tabulated, not levels alone."""
        return bool(self.pieces.shape[1] > 1)

    def level(self, liquid_volume: FloatArray) -> FloatArray:
        """Level at volumes (..., n) [m]; that of the empty or the full tank outside."""
        _, u, (start, rise, bend, twist) = self._piece(liquid_volume, 1)
        level: FloatArray = (start + u * (rise + u * (bend + u * twist)))[0]
        return level

    def level_and_rise(self, liquid_volume: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Level at volumes (..., n) [m], and its derivative by the volume [1/m2]."""
        root, u, (start, rise, bend, twist) = self._piece(liquid_volume, 1)
        level: FloatArray = (start + u * (rise + u * (bend + u * twist)))[0]
        slope: FloatArray = (rise + u * (2.0 * bend + u * (3.0 * twist)))[0]
        return level, 0.25 * PIECES * slope / self._volume_slope(root)

    def free_surface(self, liquid_volume: FloatArray) -> FloatArray:
        """Free surface at volumes (..., n) [m2], from the level's slope: no surfaces need be tabulated."""
        # in an empty tank the slope by xi vanishes, whatever the surface
        within = np.clip(liquid_volume, LEAST_SHARE * self.volume, (1.0 - LEAST_SHARE) * self.volume)
        root, u, (_, rise, bend, twist) = self._piece(within, 1)
        slope = (rise + u * (2.0 * bend + u * (3.0 * twist)))[0]
        return np.asarray(self._volume_slope(root) / (0.25 * PIECES * slope))

    def at(self, liquid_volume: FloatArray) -> Levels:
        """Levels and surfaces at volumes (..., n); of a table of levels alone, no surfaces."""
        if not self.have_surfaces:
            nothing = np.zeros(liquid_volume.shape)
            return Levels(self.level(liquid_volume), nothing, nothing, nothing)
        root, u, (start, rise, bend, twist) = self._piece(liquid_volume, 4)
        level, share, free, slope = start + u * (rise + u * (bend + u * twist))
        return Levels(level, share, slope / self._volume_slope(root), free)

    def _piece(self, liquid_volume: FloatArray, rows: int) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the smaller of xi and 1 - xi, the place in its piece, and coefficients (4, rows, ...)."""
        root, xi = _place(np.minimum(np.maximum(liquid_volume / self.volume, 0.0), 1.0))
        position = xi * PIECES
        cell = np.minimum(np.floor(position), PIECES - 1.0)
        c = values_in(self.pieces[:, :rows], cell.astype(np.intp), self.columns)
        u = np.empty(c.shape[1:])
        u[:] = position - cell
        return root, u, c

    def _volume_slope(self, root: FloatArray) -> FloatArray:
        """Return the derivative of the volume by xi over 4 [m3], at the smaller of xi and 1 - xi."""
        return np.maximum(root, 1e-5) * self.volume

    def take(self, index: IntArray) -> Self:
        """Return the tanks `index` alone."""
        return dataclasses.replace(self, volume=self.volume[index], columns=self.columns[index])


def _place(share: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the smaller of xi and 1 - xi, and xi, of a share of the volume."""
    above = 1.0 - share
    root = np.sqrt(0.5 * np.minimum(share, above))
    return root, np.where(share <= above, root, 1.0 - root)


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


def _on_even_pieces(
    xi: FloatArray, rows: FloatArray, slopes: FloatArray, sums: Sequence[FloatArray]
) -> FloatArray:
    """Pieces of a table from values and slopes (rows, nodes, n) at xi (nodes, n), of the lower half."""
    even = np.linspace(0.0, 0.5, PIECES // 2 + 1)[:, None]
    values, slopes = _at_places(xi, _pieces(xi, rows, slopes), even)
    surfaces = len(rows) > 1
    pieces = np.zeros((4, 4 if surfaces else 1, PIECES, xi.shape[1]))
    for i, (total, sign) in enumerate(zip(sums, MIRROR, strict=False)):
        knots, along = _mirrored(values[i], total, sign), _mirrored(slopes[i] / PIECES, 0.0, -sign)
        _hermite(knots[:-1], knots[1:], along[:-1], along[1:], pieces[:, i])
    if surfaces:
        pieces[:3, 3] = (0.25 * PIECES * np.arange(1.0, 4.0))[:, None, None] * pieces[1:, 1]
    return pieces


def _pieces(x: FloatArray, y: FloatArray, slopes: FloatArray) -> FloatArray:
    """Coefficients of the cubics, from values and slopes (rows, NODES, n)."""
    h = x[1:] - x[:-1]
    cubics = np.empty((4, *y[:, 1:].shape))
    _hermite(y[:, :-1], y[:, 1:], slopes[:, :-1] * h, slopes[:, 1:] * h, cubics)
    return cubics


def _hermite(
    left: FloatArray, right: FloatArray, begin: FloatArray, end: FloatArray, out: FloatArray
) -> None:
    """Fill in coefficients of cubics on 0 to 1 by powers, from values and slopes at both ends."""
    rise, both = right - left, begin + end
    out[0], out[1] = left, begin
    np.subtract(both, 2.0 * rise, out=out[3])
    np.subtract(rise - begin, out[3], out=out[2])


def _at_places(x: FloatArray, cubics: FloatArray, places: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Values and slopes of cubics on pieces of x (nodes, n), at places (m, 1); (rows, m, n) each."""
    size = x.shape[1]
    cell = np.add.reduce(x[1:-1] <= places[:, None], axis=1, dtype=np.intp)
    flat = cell * size + np.arange(size)
    low = x.reshape(-1).take(flat)
    width = x.reshape(-1).take(flat + size) - low
    u = (places - low) / width
    c = cubics.reshape(4, cubics.shape[1], -1).take(flat, axis=2)
    slope = (c[1] + u * (2.0 * c[2] + u * (3.0 * c[3]))) / width
    return c[0] + u * (c[1] + u * (c[2] + u * c[3])), slope
