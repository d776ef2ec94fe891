"""Sums whose order, and so whose last bit, depends on nothing but the number of terms.

The order of `np.sum` may depend on the array's shape, where there are many terms: the answer of a scenario
would depend on its neighbors. Fewer than eight it adds one after the other, in whatever array they stand.
"""

from __future__ import annotations

import numpy as np

from lpgrelease.quantities import FloatArray

__all__ = ["add_along", "add_powers", "add_products", "add_rows"]

FEW = 7
"""Terms that NumPy adds one after the other along any axis."""


def add_rows(rows: FloatArray) -> FloatArray:
    """Sum over the first axis, one row after the other; of no rows, zeros."""
    if not len(rows):
        return np.zeros(rows.shape[1:])
    if 2 < len(rows) <= FEW:
        return np.add.reduce(rows, axis=0)  # type: ignore[no-any-return]
    total: FloatArray = rows[0]
    for row in rows[1:]:
        total = total + row
    return total


def add_along(values: FloatArray, axis: int) -> FloatArray:
    """Sum along an axis that may be long, term by term; it has one term at least."""
    if values.shape[axis] <= FEW:
        return np.add.reduce(values, axis=axis)  # type: ignore[no-any-return]
    return np.add.accumulate(values, axis=axis).take(-1, axis=axis)  # type: ignore[no-any-return]


def add_products(matrix: FloatArray, vector: FloatArray) -> FloatArray:
    """Sum over j of matrix[:, j] vector[j], in the order of j."""
    total: FloatArray = matrix[:, 0] * vector[0]
    for j in range(1, vector.shape[0]):
        total = total + matrix[:, j] * vector[j]
    return total


def add_powers(coefficients: FloatArray, x: FloatArray) -> FloatArray:
    """Polynomials at x (...), of coefficients (powers, ...), lowest power first; they broadcast with x."""
    powers = np.ones((len(coefficients), *(1,) * (coefficients.ndim - 1 - x.ndim), *x.shape))
    powers[1:] = x
    return add_along(coefficients * np.multiply.accumulate(powers), 0)
