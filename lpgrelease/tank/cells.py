"""Tables of many tanks over even cells: their cubics, and reading of each tank its own cell."""

from __future__ import annotations

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.results import IntArray

__all__ = ["cubics", "values_in"]


def cubics(values: FloatArray) -> FloatArray:
    """Coefficients (4, cells, ...) of cubics, each through the four nodes around it, of values at even nodes.

    Of powers of the place in a cell, 0 to 1; of `values` (cells + 3, ...) the first and the last lie outside.
    """
    before, here, after, beyond = (values[i : len(values) - 3 + i] for i in range(4))
    return np.stack(
        [
            here,
            after - before / 3.0 - 0.5 * here - beyond / 6.0,
            0.5 * (before + after) - here,
            (beyond - before) / 6.0 + 0.5 * (here - after),
        ]
    )


def values_in(table: FloatArray, cell: IntArray, columns: IntArray | None = None) -> FloatArray:
    """Values (*rows, ..., n) of a table (*rows, cells, m) in the cells (..., n), of `columns` (n,) or all."""
    *rows, cells, size = table.shape
    place = cell if size == 1 else cell * size + (np.arange(size) if columns is None else columns)
    return table.reshape(*rows, cells * size).take(place, axis=-1)
