"""Many tridiagonal systems at once, by cyclic reduction: plain functions of arrays."""

from __future__ import annotations

from typing import Final

import numpy as np

from lpgrelease.quantities import FloatArray

__all__ = ["solve_tridiagonal"]

SMALL: Final = 8
"""Rows at which halving ends and all rows are reduced at once: fewer calls, more arithmetic."""


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
    Cyclic reduction takes every other row out until few are left; each pass of parallel cyclic reduction
    then doubles the distance between the unknowns that a row couples, until there is one in each. No
    pivoting: made for diagonals that dominate. Elementwise, so no system's answer depends on the others.
    References: hockney1981parallel, from memory.

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
        return _double(rows, diagonal)
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


def _double(rows: FloatArray, diagonal: FloatArray) -> FloatArray:
    """Solve `rows` of (lower, right, right, upper), all rows at once."""
    n = diagonal.shape[0]
    pad = 1
    while 2 * pad < n:
        pad *= 2
    old = np.zeros((4, n + 2 * pad, *diagonal.shape[1:]))
    spare = np.zeros_like(old)
    middle = slice(pad, pad + n)
    np.divide(rows, diagonal, out=old[:, middle])
    distance = 1
    while distance < n:
        own = old[:, middle]
        above = own[0] * old[:, pad - distance : pad - distance + n]
        below = own[3] * old[:, pad + distance : pad + distance + n]
        pivot = 1.0 - above[3]
        pivot -= below[0]
        new = spare[:, middle]
        np.negative(above[0], out=new[0])
        np.negative(below[3], out=new[3])
        np.subtract(own[1:3], above[1:3], out=new[1:3])
        new[1:3] -= below[1:3]
        new /= pivot
        old, spare = spare, old
        distance *= 2
    return old[1:3, middle]
