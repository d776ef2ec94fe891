"""Many tridiagonal systems at once, by cyclic reduction: plain functions of arrays."""

from __future__ import annotations

from typing import Final

import numpy as np

from lpgrelease.quantities import FloatArray

__all__ = ["solve_tridiagonal"]

SMALL: Final = 12
"""Rows at which halving ends: from there on a full matrix takes less time than more passes."""


def solve_tridiagonal(
    lower: FloatArray, diagonal: FloatArray, upper: FloatArray, right: FloatArray
) -> FloatArray:
    """Solve the systems for two right-hand sides.

    Parameters
    ----------
    lower, diagonal, upper : ndarray, shape (n, systems)
        Row i reads lower[i] x[i-1] + diagonal[i] x[i] + upper[i] x[i+1]; lower[0] and upper[n-1] are 0.
    right : ndarray, shape (2, n, systems)

    Returns
    -------
    ndarray, shape (2, n, systems)

    Notes
    -----
    Cyclic reduction takes every other row out until few are left, or an odd number, which are solved as full
    matrices. No pivoting in the reduction: made for diagonals that dominate. Every system is worked out by
    itself, so no answer depends on the others. References: hockney1981parallel, from memory.

    Examples
    --------
    >>> one = np.ones((3, 1))
    >>> lower, upper = one.copy(), one.copy()
    >>> lower[0] = upper[-1] = 0.0
    >>> right = np.array([[6.0], [12.0], [14.0]])
    >>> solve_tridiagonal(lower, 4.0 * one, upper, np.stack([right, right]))[0].ravel()
    array([1., 2., 3.])
    """
    rows = np.concatenate([lower[None], right, upper[None]])
    return _halve(rows, diagonal)


def _halve(rows: FloatArray, diagonal: FloatArray) -> FloatArray:
    """Solve `rows` of (lower, right, right, upper) by elimination of the odd ones."""
    n = diagonal.shape[0]
    if n % 2 or n <= SMALL:
        return _dense(rows, diagonal)
    odd = np.zeros((4, n // 2 + 1, *diagonal.shape[1:]))
    here, previous = odd[:, 1:], odd[:, :-1]
    np.divide(rows[:, 1::2], diagonal[1::2], out=here)
    even = rows[:, 0::2]
    above, below = even[0] * previous, even[3] * here
    pivot = diagonal[0::2] - above[3]
    pivot -= below[0]
    left = above
    np.negative(above[0], out=left[0])
    np.negative(below[3], out=left[3])
    left[1:3] += below[1:3]
    np.subtract(even[1:3], left[1:3], out=left[1:3])
    found = _halve(left, pivot)
    x = np.empty((2, *diagonal.shape))
    x[:, 0::2] = found
    between = x[:, 1::2]
    np.multiply(here[0], found, out=between)
    np.subtract(here[1:3], between, out=between)
    between[:, :-1] -= here[3, :-1] * found[:, 1:]
    return x


def _dense(rows: FloatArray, diagonal: FloatArray) -> FloatArray:
    """Solve `rows` of (lower, right, right, upper) as full matrices, each by itself."""
    n, systems = diagonal.shape
    matrices = np.zeros((systems, n * n))
    matrices[:, :: n + 1] = diagonal.T
    if n > 1:
        matrices[:, n :: n + 1] = rows[0, 1:].T
        matrices[:, 1 :: n + 1] = rows[3, :-1].T
    found = np.linalg.solve(matrices.reshape(systems, n, n), rows[1:3].transpose(2, 1, 0))
    return np.asarray(found.transpose(2, 1, 0), dtype=float)
