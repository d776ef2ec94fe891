"""Many tridiagonal systems at once: plain functions of arrays."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from lpgrelease.quantities import FloatArray

__all__ = ["solve_tridiagonal"]

FEW: Final = 12
"""Systems up to which numbers one after the other take less time than arrays."""


def solve_tridiagonal(
    diagonal: FloatArray, by_above: FloatArray, by_below: FloatArray, right: FloatArray, by_top: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Solve systems whose rows are linked to their neighbors, the first to something on top.

    Parameters
    ----------
    diagonal, by_above, by_below, right : ndarray, shape (n,) or (n, systems)
        Row i reads diagonal[i] x[i] = right[i] + by_above[i-1] x[i-1] + by_below[i] x[i+1]; the last of
        by_above and by_below do not count.
    by_top : ndarray, shape () or (systems,)
        Rise of right[0] by something on top.

    Returns
    -------
    x, rise : ndarray, shape (n,) or (n, systems)
        And the rise of x by what is on top.

    Notes
    -----
    Elimination without pivoting, made for diagonals that dominate; from the last row up, for then what is on
    top meets no other row on the way. A few systems are solved number by number; many row by row, every row
    an array. The operations are the same in the same order, so that no answer depends on how many there are.
    References: press2007recipes, section 2.4, from memory.

    Examples
    --------
    >>> links = np.ones(3)
    >>> solve_tridiagonal(4.0 * links, links, links, np.array([2.0, 4.0, 10.0]), np.array(56.0))
    (array([1., 2., 3.]), array([15.,  4.,  1.]))
    """
    n, upward = diagonal.shape[0], (diagonal[::-1], by_below[::-1], right[::-1], by_above[-2::-1])
    if diagonal.ndim == 1:
        x, shares = _sweep(float(by_top), *(row.tolist() for row in upward))
        return np.fromiter(x, np.float64, n), np.multiply.accumulate(np.fromiter(shares, np.float64, n))
    if diagonal.shape[1] > FEW:
        x, shares = _sweep(by_top, *map(list, upward))
        return np.array(x), np.multiply.accumulate(shares)
    each = zip(by_top.tolist(), *(row.T.tolist() for row in upward), strict=True)
    solved = np.array([_sweep(*system) for system in each]).reshape(-1, 2, n)
    first, second = np.ascontiguousarray(solved.transpose(1, 2, 0))
    return first, np.multiply.accumulate(second)


def _sweep(
    by_top: Any, diagonal: list[Any], by_below: list[Any], right: list[Any], by_above: list[Any]
) -> tuple[list[Any], list[Any]]:
    """Eliminate rows that come from the last one up, and substitute; entries are numbers or arrays of them.

    Returns x, and what each rises by one of the x above it, the first by what is on top.
    """
    shares, starts = [], []
    share = start = 0.0
    for own, b, p, a in zip(diagonal, by_below, right, [*by_above, by_top], strict=True):
        pivot = own - b * share
        shares.append(share := a / pivot)
        starts.append(start := (p + b * start) / pivot)
    shares.reverse()
    starts.reverse()
    x = 0.0
    return [x := start + share * x for start, share in zip(starts, shares, strict=True)], shares
