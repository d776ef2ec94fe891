"""Temperatures of columns of ground that balance the heat of every node: plain functions of SI arrays."""

from __future__ import annotations

from typing import Final

import numpy as np

from lpgrelease.elementwise import every, some
from lpgrelease.ground.cells import CellProperties, LocalHeat, local_heat
from lpgrelease.ground.tridiagonal import solve_tridiagonal
from lpgrelease.quantities import FloatArray

__all__ = ["balance_nodes"]

LARGE_CORRECTION: Final = 2.0
"""A column of which Newton's method moves a node by more [K], or across the freezing point, takes another."""
ITERATIONS: Final = 12
JUST_BEYOND: Final = 1e-3
"""Where a node stops that would cross the freezing point [K]."""


def balance_nodes(
    cells: CellProperties,
    theta: FloatArray,
    target: FloatArray,
    length: FloatArray,
    sink: FloatArray,
    g: FloatArray,
) -> FloatArray:
    """Find the temperatures at the end of a step, by Newton's method from `theta`, which changes.

    Parameters
    ----------
    cells : CellProperties
    theta : ndarray, shape (cells + 1, columns)
        Above the freezing point at the nodes, surface first, the fixed deep one last [K].
    target : ndarray, shape (cells, columns)
        Heat of each node but for what flows to it in the step [J/m2].
    length, sink, g : ndarray, shape (columns,)
        Of the step [s]; temperature above the freezing point of what touches the surface [K], and the
        conductance between [W/m2/K].

    Returns
    -------
    ndarray, shape (cells, columns)
        Rise of theta by the temperature of what touches the surface.

    Notes
    -----
    One iteration where it moves no node far nor across the freezing point; a node that crosses it stops just
    beyond, and another follows.
    """
    response, which, here = target, None, theta
    for _ in range(ITERATIONS):
        rise, by_sink = _newton(local_heat(cells, here), target, length, sink - here[0], g)
        old = here[:-1]
        new = old + rise
        crossed, moved = np.signbit(old) != np.signbit(new), np.abs(rise) > LARGE_CORRECTION
        going = some(crossed | moved)
        if going:
            crossed &= cells.wet
            far = (crossed | moved).any(axis=0) & cells.bent
            going = some(far)
        if going:
            new = np.where(crossed, np.copysign(JUST_BEYOND, new), new)
        if which is None:
            theta[:-1], response = new, by_sink
        else:
            theta[:-1, which], response[:, which] = new, by_sink
        if not going:
            break
        if not every(far):
            left = np.nonzero(far)[0]
            which = left if which is None else which[left]
            cells, target = cells.select(left), target[:, left]
            length, sink, g = length[left], sink[left], g[left]
        here = theta if which is None else theta[:, which]
    return response


def _newton(
    here: LocalHeat, target: FloatArray, length: FloatArray, gap: FloatArray, g: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Rise of theta to balance every node, and the rise of that by the temperature at the surface."""
    up, above, below = length * here.flux, length * here.above, length * here.below
    # a cell adds to the diagonals of its two nodes, and links them
    to_above, by_above, by_below, to_below = above, above, below, below
    if here.melting is not None:
        m = here.melting
        to_above = above + m.part_above * m.by_above
        by_above = to_above - m.by_above
        by_below = below - m.part_above * m.by_below
        to_below = by_below + m.by_below
    surface, diagonal = length * g, here.own + to_above
    diagonal[1:] += to_below[:-1]
    diagonal[0] += surface
    right = target - here.stored + up
    right[1:] -= up[:-1]
    right[0] += surface * gap
    return solve_tridiagonal(diagonal, by_above, by_below, right, surface)
