"""The farthest distance at which a fire gives a heat flux: SI arrays of one dimension, unchecked.

Flux need not fall with distance: under a flame it first rises, and a leaning flame seen along its axis is
small. So the search goes inward over points and looks for the maxima between them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np

from lpgrelease.fire.incident import BLOCK, Source, Targets, incident_flux, take
from lpgrelease.fire.view_factor import Vector, along_line
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = ["farthest_distance"]

_POINTS: Final = 24
_GOLDEN: Final = 0.5 * (3.0 - math.sqrt(5.0))
_CUTS: Final = 32
"""To 2e-7 of the bracket: of a smooth maximum the flux is then known to 1e-12."""
_STEEPER: Final = 3.0
_AT_ONCE: Final = 1024
_STEPS: Final = 90
_CLOSE: Final = 1e-12
_BESIDE: Final = 1e-6
"""How far beside the flame's surface is looked at, in reaches of the flame."""


def farthest_distance(source: Source, targets: Targets, model: str, count: int) -> FloatArray:
    """Outermost distance [m] at which the flux comes to the wanted one (given in place of the distance)."""
    found = np.empty(count)
    for start in range(0, count, BLOCK):
        block = slice(start, min(start + BLOCK, count))
        part, goal = take(source, targets, block)
        wanted = np.broadcast_to(goal.distance, (block.stop - start,))
        low, high = _bracket(part, goal, model, wanted, _points(part, goal, wanted))
        found[block] = np.maximum(_close_in(part, goal, model, wanted, low, high), 0.0)
    return found


def _misses(
    source: Source, targets: Targets, model: str, wanted: FloatArray, distance: FloatArray
) -> FloatArray:
    """Positive where the flux is below the wanted one; close to a straight line in distance."""
    flux = incident_flux(source, targets._replace(distance=distance), model)
    return np.sqrt(wanted / np.maximum(flux, 1e-12 * wanted)) - 1.0


def _points(source: Source, targets: Targets, wanted: FloatArray) -> FloatArray:
    """Distances to look at, from outside in, one scenario a column.

    The first is where the flame, were all of it seen square on, could not give the flux; then ever closer
    ones to the reach of the flame, even ones to a step beyond the axis, points in the flame if the line of
    targets runs through it, and beside its surface.
    """
    flame = source.flame
    reach = np.maximum(np.abs(flame.base_x) + flame.base_radius, np.abs(flame.tip_x) + flame.tip_radius)
    reach = reach + np.zeros_like(wanted)
    beyond = np.sqrt(source.radiated_power / (math.pi * wanted))
    share = (np.arange(_POINTS, -2, -1) / _POINTS)[:, None]
    ends = np.clip(along_line(targets.cosine, targets.sine, targets.height, flame), 0.0, reach)
    rows = [reach + share[:-1] * share[:-1] * beyond, reach * share[1:]]
    rows += [0.5 * (ends[1:] + ends[:-1]), ends + _BESIDE * reach]
    return np.sort(np.concatenate(rows), axis=0)[::-1]


def _bracket(
    source: Source, targets: Targets, model: str, wanted: FloatArray, points: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Distances where the flux is reached and, next outside, where it is not; 0 and 0: nowhere."""
    low, high = np.zeros_like(wanted), np.zeros_like(wanted)
    open_ = np.ones(wanted.shape, dtype=bool)
    x1, x2 = np.full(wanted.shape, np.inf), np.full(wanted.shape, np.inf)
    f1, f2 = x1.copy(), x1.copy()
    apart = -_BESIDE * points[-1]
    for row, at_row in _looked_at(source, targets, model, wanted, points, open_):
        i = np.flatnonzero(open_ & (row < x1 - apart))
        x, f = row[i], at_row[i]
        hit = f <= 0.0
        low[i[hit]], high[i[hit]] = x[hit], x1[i[hit]]
        top = (f1[i] <= f2[i]) & (f1[i] <= f) & ((f1[i] < f2[i]) | (f1[i] < f)) & np.isfinite(x2[i])
        if top.any():
            j = i[top]
            part, goal = take(source, targets, j)
            at, misses = (x[top], x1[j], x2[j]), (f[top], f1[j], f2[j])
            low[j], high[j] = _about_maximum(part, goal, model, wanted[j], at, misses)
        open_[i] = high[i] == 0.0
        x2[i], f2[i], x1[i], f1[i] = x1[i], f1[i], x, f
    return low, high


def _looked_at(
    source: Source, targets: Targets, model: str, wanted: FloatArray, points: FloatArray, open_: BoolArray
) -> Iterator[tuple[FloatArray, FloatArray]]:
    """Rows of `points` and what is missed there, of those still open; of few scenarios many rows at once."""
    rows = max(1, _AT_ONCE // wanted.size)
    for start in range(0, len(points), rows):
        i = np.flatnonzero(open_)
        if not i.size:
            return
        part = points[start : start + rows]
        chosen = np.tile(i, len(part))
        missed = np.full(part.shape, np.inf)
        found = _misses(*take(source, targets, chosen), model, wanted[chosen], part[:, i].ravel())
        missed[:, i] = found.reshape(len(part), -1)
        yield from zip(part, missed, strict=True)


def _about_maximum(
    source: Source, targets: Targets, model: str, wanted: FloatArray, x: Vector, misses: Vector
) -> tuple[FloatArray, FloatArray]:
    """Golden cuts about a maximum of the flux until it comes to the wanted one; a bracket, or 0 and 0.

    It lies between the outer two of three distances. Given up where even straight lines thrice as steep as
    those through an outer and the middle one miss the wanted flux: what bends upward lies above such lines.
    """
    low, high = np.zeros_like(wanted), np.zeros_like(wanted)
    i, (a, b, c), (fa, fb, fc) = np.arange(wanted.size), x, misses
    for _ in range(_CUTS):
        drop = np.maximum((fa - fb) * (c - b) / (b - a), (fc - fb) * (b - a) / (c - b))
        hopeful = fb <= _STEEPER * drop
        i = i[hopeful]
        a, b, c, fa, fb, fc = (v[hopeful] for v in (a, b, c, fa, fb, fc))
        if not i.size:
            break
        out = c - b > b - a
        new = b + _GOLDEN * np.where(out, c - b, a - b)
        f = _misses(*take(source, targets, i), model, wanted[i], new)
        hit, better = f <= 0.0, f < fb
        low[i[hit]], high[i[hit]] = new[hit], np.where(out, c, b)[hit]
        inward, outward = out == better, out != better
        a, fa = np.where(inward, np.where(out, b, new), a), np.where(inward, np.where(out, fb, f), fa)
        c, fc = np.where(outward, np.where(out, new, b), c), np.where(outward, np.where(out, f, fb), fc)
        b, fb = np.where(better, new, b), np.where(better, f, fb)
        i = i[~hit]
        a, b, c, fa, fb, fc = (v[~hit] for v in (a, b, c, fa, fb, fc))
    return low, high


def _close_in(
    source: Source,
    targets: Targets,
    model: str,
    wanted: FloatArray,
    low: FloatArray,
    high: FloatArray,
) -> FloatArray:
    """Root of `_misses` between `low` and `high`: secants kept in the bracket, every third step halves."""
    low, high = low.copy(), high.copy()
    at_low = _misses(source, targets, model, wanted, low)
    at_high = _misses(source, targets, model, wanted, high)
    active = np.flatnonzero(high > low)
    for step in range(_STEPS):
        if not active.size:
            break
        a, b, fa, fb = low[active], high[active], at_low[active], at_high[active]
        cut = b - fb * (b - a) / np.where(fb == fa, 1.0, fb - fa)
        middle = 0.5 * (a + b)
        new = middle if step % 3 == 2 else np.where((cut > a) & (cut < b), cut, middle)
        part, goal = take(source, targets, active)
        value = _misses(part, goal, model, wanted[active], new)
        near = value <= 0.0
        low[active], at_low[active] = np.where(near, new, a), np.where(near, value, fa)
        high[active], at_high[active] = np.where(near, b, new), np.where(near, fb, value)
        done = (np.abs(value) < _CLOSE) | (high[active] - low[active] <= 4e-16 * high[active])
        low[active] = np.where(done, new, low[active])
        active = active[~done]
    return low
