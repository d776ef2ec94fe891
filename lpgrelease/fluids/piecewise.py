"""Piecewise polynomials of several fields over one axis of equal segments."""

from __future__ import annotations

import dataclasses
from functools import lru_cache

import numpy as np

from lpgrelease.quantities import FloatArray

__all__ = ["DEGREE", "NODES", "PiecewisePolynomial", "fit", "fitting_points"]

DEGREE = 5
NODES = np.cos(np.pi * (np.arange(DEGREE + 1) + 0.5) / (DEGREE + 1))
VANDERMONDE = np.vander(NODES, DEGREE + 1, increasing=True)

BLOCK = 2048
"""Points evaluated at once, so that the working set of all fields stays in the processor's cache."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class PiecewisePolynomial:
    """Fields tabulated as polynomials on equal segments of an axis that starts at `origin`.

    Parameters
    ----------
    coefficients : ndarray, shape (degree + 1, fields, segments)
        Ascending powers of the local coordinate, which runs from -1 to 1 over a segment.
    origin, width : float
        Start of the first segment and width of each.

    Notes
    -----
    Only elementwise operations are used, in one order, so a point's value is the same to the bit
    whatever stands beside it in the array.
    """

    coefficients: FloatArray
    origin: float
    width: float

    def evaluate(self, axis: FloatArray, rows: tuple[int, ...]) -> FloatArray:
        """Values of the fields `rows` at points `axis` of shape (n,) or (); rows first."""
        chosen = _rows_of(self, rows)
        position = (axis - self.origin) / self.width
        if axis.size <= BLOCK:
            return _horner(chosen, position)
        out = np.empty((len(rows), axis.size))
        for start in range(0, axis.size, BLOCK):
            block = slice(start, start + BLOCK)
            _horner(chosen, position[block], out[:, block])
        return out


def fitting_points(start: float, width: float, segments: int) -> FloatArray:
    """Points (segments, degree + 1) at which to evaluate fields that are to be fitted."""
    return start + width * (np.arange(segments)[:, None] + 0.5 + NODES / 2)


def fit(values: FloatArray) -> FloatArray:
    """Coefficients (degree + 1, fields, segments) from values (fields, segments, degree + 1) there."""
    solved = np.linalg.solve(VANDERMONDE, np.moveaxis(values, -1, 0).reshape(DEGREE + 1, -1))
    return solved.reshape(DEGREE + 1, *values.shape[:2])


@lru_cache(maxsize=512)
def _rows_of(table: PiecewisePolynomial, rows: tuple[int, ...]) -> FloatArray:
    return np.ascontiguousarray(table.coefficients[:, list(rows), :])


def _horner(coefficients: FloatArray, position: FloatArray, out: FloatArray | None = None) -> FloatArray:
    start = np.minimum(np.floor(position), coefficients.shape[2] - 1.0)
    local = np.asarray(2.0 * (position - start) - 1.0)  # arrays multiply those faster than numbers
    here = coefficients.take(start.astype(np.intp), axis=2)
    value = here[-1]  # contiguous, as `out` need not be
    value *= local
    for power in here[-2:0:-1]:
        value += power
        value *= local
    total: FloatArray = np.add(value, here[0], out)
    return total
