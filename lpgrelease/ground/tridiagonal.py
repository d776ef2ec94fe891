"""Many tridiagonal systems at once: plain functions of arrays."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from lpgrelease.quantities import FloatArray

__all__ = ["solve_tridiagonal"]

FEW: Final = 30
"""Systems up to which numbers one after the other take less time than arrays."""


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
    Elimination without pivoting: made for diagonals that dominate. A few systems are laid end to end, which
    their zeros keep apart, and solved number by number; many are solved row by row, every row an array. The
    operations are the same in the same order, so that no answer depends on how many there are.
    References: press2007recipes, section 2.4, from memory.

    Examples
    --------
    >>> one = np.ones((3, 1))
    >>> lower, upper = one.copy(), one.copy()
    >>> lower[0] = upper[-1] = 0.0
    >>> right = np.array([[6.0], [12.0], [14.0]])
    >>> solve_tridiagonal(lower, 4.0 * one, upper, np.stack([right, right]))[0].ravel()
    array([1., 2., 3.])
    """
    rows = (lower, diagonal, upper, right[0], right[1])
    n, systems = diagonal.shape
    if systems > FEW:
        return np.array(_sweep(*rows))
    laid = (row.T.ravel().tolist() for row in rows)
    return np.array(_sweep(*laid)).reshape(2, systems, n).swapaxes(1, 2)


def _sweep(
    lower: Any,
    diagonal: Any,
    upper: Any,
    one: Any,
    two: Any,
) -> tuple[list[Any], list[Any]]:
    """Eliminate downward and substitute upward; the entries are numbers or arrays of them."""
    if not len(diagonal):
        return [], []
    d, a, b, u = diagonal[0], one[0], two[0], upper[0]
    pivots, first, second = [d], [a], [b]
    for below, own, above, p, q in zip(lower[1:], diagonal[1:], upper[1:], one[1:], two[1:], strict=True):
        factor = below / d
        d, a, b, u = own - factor * u, p - factor * a, q - factor * b, above
        pivots.append(d)
        first.append(a)
        second.append(b)
    x, y = a / d, b / d
    xs, ys = [x], [y]
    for d, a, b, u in zip(pivots[-2::-1], first[-2::-1], second[-2::-1], upper[-2::-1], strict=True):
        x, y = (a - u * x) / d, (b - u * y) / d
        xs.append(x)
        ys.append(y)
    return xs[::-1], ys[::-1]
