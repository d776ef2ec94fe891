"""Sums whose order, and so whose last bit, depends on nothing but the number of terms.

The order of `np.sum` may depend on the array's shape: the answer of a scenario would depend on its neighbors.
"""

from __future__ import annotations

import numpy as np

from lpgrelease.quantities import FloatArray

__all__ = ["add_along", "add_products", "add_rows"]

MANY = 2_000
"""Values beyond which adding rows beats `np.add.accumulate`."""


def add_rows(rows: FloatArray) -> FloatArray:
    """Sum over the first axis, one row after the other; of no rows, zeros."""
    if not len(rows):
        return np.zeros(rows.shape[1:])
    total: FloatArray = rows[0]
    for row in rows[1:]:
        total = total + row
    return total


def add_along(values: FloatArray, axis: int) -> FloatArray:
    """Sum along an axis, term by term; it has one term at least."""
    if values.size > MANY:
        rows = np.moveaxis(values, axis, 0)
        total: FloatArray = rows[0].copy()
        for row in rows[1:]:
            total += row
        return total
    # the same in two calls, which count where there is little to add
    return np.add.accumulate(values, axis=axis).take(-1, axis=axis)  # type: ignore[no-any-return]


def add_products(matrix: FloatArray, vector: FloatArray) -> FloatArray:
    """Sum over j of matrix[:, j] vector[j], in the order of j."""
    total: FloatArray = matrix[:, 0] * vector[0]
    for j in range(1, vector.shape[0]):
        total = total + matrix[:, j] * vector[j]
    return total
