"""Parts of cylindrical vessels below a plane at any angle to their axis, for a vessel of unit diameter.

Plain functions of arrays, elementwise and unchecked. The plane lies `level` above the point where the axis
meets the end of the part considered (for the shell: its middle); the axis rises along it with the sine S, and
C = sqrt(1 - S^2) >= 0. Closed forms but for torispherical heads and for the surface of spheroidal ones.

A *shell* is cut in segments of a circle whose height changes linearly along the axis. A *spheroidal head*
becomes half a unit ball by stretching it along its axis, and the plane another plane; half a ball cut by a
plane has a closed form (divergence theorem, and Gauss and Bonnet's for its spherical surface). Any other head
is a body of revolution, integrated along its meridian between the points where the plane begins and ceases to
cut its circles, in a variable that makes the square-root ends smooth.
"""

from __future__ import annotations

import dataclasses
import math
from typing import Final

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray
from lpgrelease.summing import add_rows
from lpgrelease.tank.heads import Flat, Head, Torispherical

__all__ = [
    "head_highest",
    "head_radius",
    "head_volume",
    "head_wetted_area",
    "shell_below",
]

_PI = math.pi
_NARROW: Final = 0.05
"""Where segments differ in height by less than this, quadrature keeps more digits than closed forms."""
_UPRIGHT: Final = 1e-9
"""An axis whose slope has a cosine below this stands upright."""
_TINY: Final = 1e-300


def _smooth_rule(count: int) -> tuple[FloatArray, FloatArray]:
    """Gauss's nodes and weights on 0 to 1 in v, x = v^2 (3 - 2 v): square-root ends become smooth."""
    nodes, weights = np.polynomial.legendre.leggauss(count)
    v, w = 0.5 * (nodes + 1.0), 0.5 * weights
    return v * v * (3.0 - 2.0 * v), 6.0 * w * v * (1.0 - v)


_SHELL_RULE: Final = _smooth_rule(8)
_HEAD_RULE: Final = _smooth_rule(12)
_SURFACE_RULE: Final = _smooth_rule(20)


def _segment(x: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Area of a circular segment of unit diameter, half its chord, and its half angle; x from 0 to 1.

    Good to round-off of the whole circle, where `segment_area` is good to round-off of itself.
    """
    low, high = np.sqrt(x), np.sqrt(1.0 - x)
    half_chord, half_angle = low * high, 2.0 * np.arctan2(low, high)
    return 0.25 * half_angle - (0.5 - x) * half_chord, half_chord, half_angle


def _within(x: FloatArray, low: FloatArray | float, high: FloatArray | float) -> FloatArray:
    """``np.clip`` at a fifth of its cost for a single number."""
    return np.minimum(np.maximum(x, low), high)


def _column(rule: FloatArray, like: FloatArray) -> FloatArray:
    """Nodes or weights along a new first axis."""
    return rule.reshape(-1, *(1,) * np.ndim(like))


def shell_below(
    length: FloatArray, level: FloatArray, C: FloatArray, S: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Volume of a cylinder below the plane, the plane's area within it, and its surface below; S >= 0.

    Notes
    -----
    With x the height of the segment, A its area, w its chord and phi its half angle, V = ell mean(A),
    surface = ell mean(w) / C, wetted = ell mean(phi) over the length on which the plane cuts the cylinder.
    """
    ends, cut, full = _cut(length, level, C, S)
    area, chord, half_angle = _mean_segment(ends, cut > 0.0)
    surface = cut * chord / np.maximum(C, _UPRIGHT)
    disk = np.where(np.abs(level) < 0.5 * length * S, 0.25 * _PI, 0.0)
    surface = np.where(C > _UPRIGHT, surface, disk)
    return cut * area + full * (0.25 * _PI), surface, cut * half_angle + full * _PI


def _cut(
    length: FloatArray, level: FloatArray, C: FloatArray, S: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Segment heights at both ends of the length that is cut (2, ...), that length, and the full length."""
    rise, half = length * S, 0.5 * C
    ends = np.array([level - 0.5 * rise, level + 0.5 * rise])
    # how far the upper end is covered, and the lower end free, of the rise
    beyond = _within(np.array([ends[1] - half, -half - ends[0]]), 0.0, rise) / np.where(rise > 0.0, rise, 1.0)
    share = np.maximum(1.0 - beyond[0] - beyond[1], 0.0)
    per = np.where(C > 0.0, 1.0 / np.where(C > 0.0, C, 1.0), 0.0)
    heights = _within(0.5 + _within(ends, -half, half) * per, 0.0, 1.0)
    return heights, share * length, beyond[0] * length


def _mean_segment(ends: FloatArray, counts: BoolArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean area, chord and half angle of segments, unit diameter, of heights from `ends[0]` to `ends[1]`.

    The integrals are (x - 1/2) A + (2/3) (x (1 - x))^(3/2) of the area A, A of the chord, and
    (x - 1/2) phi + sqrt(x (1 - x)) of the angle phi. They mean something only where `counts`.
    """
    A, c, angle = _segment(ends)
    off = ends - 0.5
    width = ends[1] - ends[0]
    narrow = width < _NARROW
    per = 1.0 / np.where(narrow, 1.0, width)
    integrals = off * A + (2.0 / 3.0) * (c * c * c), A, off * angle + c
    area, chord, half_angle = (np.asarray((each[1] - each[0]) * per) for each in integrals)
    narrow &= counts
    if narrow.any():
        first, span = ends[0][narrow], width[narrow]
        nodes, weights = (_column(rule, first) for rule in _SHELL_RULE)
        A, c, angle = _segment(first + nodes * span)
        for mean, part in ((area, A), (chord, 2.0 * c), (half_angle, angle)):
            mean[narrow] = add_rows(weights * part)
    return area, chord, half_angle


def head_highest(head: Head, C: FloatArray, S: FloatArray) -> FloatArray:
    """How far a head reaches over the middle of its base, its axis rising with S >= 0."""
    if isinstance(head, Torispherical):
        turn = math.atan2(head.depth - head.joint_height, head.joint - head.center)
        in_knuckle = S * math.cos(turn) <= C * math.sin(turn)
        knuckle = C * head.center + head.knuckle
        dish = head.dish - S * (head.dish - head.depth)
        return np.where(in_knuckle, knuckle, dish)
    return np.sqrt(0.25 * (C * C) + head.depth * head.depth * (S * S))


def head_radius(head: Head, beyond: FloatArray) -> FloatArray:
    """Radius of the head at a distance beyond its base, up to its depth."""
    if isinstance(head, Torispherical):
        y = head.depth - beyond
        dish = np.sqrt(np.maximum(y * (2.0 * head.dish - y), 0.0))
        u = np.minimum(beyond, head.knuckle)
        knuckle = head.center + np.sqrt(head.knuckle**2 - u * u)
        return np.where(y < head.joint_height, dish, knuckle)
    if head.depth == 0.0:
        return np.full_like(beyond, 0.5)
    z = beyond / head.depth
    return 0.5 * np.sqrt(np.maximum(1.0 - z * z, 0.0))


def head_volume(head: Head, level: FloatArray, C: FloatArray, S: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Volume of a head below the plane and the plane's area within it; S of either sign."""
    if isinstance(head, Torispherical):
        volume, section = _revolved(head, level, C, S, by_surface=False)
        beyond = level * np.sign(S)
        inside = (beyond >= 0.0) & (beyond <= head.depth)
        radius = np.where(inside, head_radius(head, _within(beyond, 0.0, head.depth)), 0.0)
        return volume, np.where(C > _UPRIGHT, section, _PI * radius * radius)
    if isinstance(head, Flat) or head.depth == 0.0:
        none = np.zeros_like(level + C)
        return none, none
    reach = np.sqrt(0.25 * (C * C) + head.depth * head.depth * (S * S))
    sine = np.abs(S) * head.depth / reach
    c = _within(level / reach, -1.0, 1.0)
    rising = S >= 0.0
    part, section = _half_ball(np.where(rising, c, -c), sine, 0.5 * C / reach)
    part = np.where(rising, part, 2.0 * _PI / 3.0 - part)
    scale = 0.25 * head.depth
    return scale * part, scale * section / reach


def _half_ball(c: FloatArray, sine: FloatArray, cosine: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Volume of half a unit ball below a plane at distance c, and the plane's area in it; the half rises.

    Notes
    -----
    V = (2 c gamma + 2 delta + c A) / 3: gamma is half the angle of the plane's circle that lies in the half,
    delta the angle at which it meets the base, A = rho^2 (gamma - sin gamma cos gamma) its area.
    """
    square = (1.0 - c) * (1.0 + c)
    rho = np.sqrt(square)
    per = np.maximum(rho * cosine, _TINY)
    cos_gamma = _within(-c * sine / per, -1.0, 1.0)
    gamma = np.arccos(cos_gamma)
    delta = np.arccos(_within(sine / np.maximum(rho, _TINY), 0.0, 1.0))
    area = square * (gamma - np.sqrt((1.0 - cos_gamma) * (1.0 + cos_gamma)) * cos_gamma)
    return (2.0 * c * gamma + 2.0 * delta + c * area) / 3.0, area


def head_wetted_area(head: Head, level: FloatArray, C: FloatArray, S: FloatArray) -> FloatArray:
    """Surface of a head below the plane; S of either sign. A flat plate at the plane counts as wet."""
    wetted: FloatArray = _revolved(head, level, C, S, by_surface=True)[0]
    return wetted


@dataclasses.dataclass(frozen=True, slots=True)
class _Arc:
    """A piece of a meridian: distance from the base s0 + a sin(t), radius r0 + b cos(t)."""

    s0: float
    a: float
    r0: float
    b: float
    start: float
    end: float


def _meridian(head: Head) -> tuple[_Arc, ...]:
    if isinstance(head, Torispherical):
        turn = math.atan2(head.depth - head.joint_height, head.joint - head.center)
        base = head.depth - head.dish
        return (
            _Arc(0.0, head.knuckle, head.center, head.knuckle, 0.0, turn),
            _Arc(base, head.dish, 0.0, head.dish, turn, 0.5 * _PI),
        )
    return (_Arc(0.0, head.depth, 0.0, 0.5, 0.0, 0.5 * _PI),)


def _revolved(head: Head, level: FloatArray, C: FloatArray, S: FloatArray, *, by_surface: bool) -> FloatArray:
    """Rows of the surface, or of volume and plane's area, below the plane: quadrature along the meridian."""
    level, C, S = np.broadcast_arrays(level, C, S)
    total = np.zeros((1 if by_surface else 2, *level.shape))
    nodes, weights = (part[:, None] for part in (_SURFACE_RULE if by_surface else _HEAD_RULE))
    for arc in _meridian(head):
        low, span = _intervals(arc, level, C, S)
        parts = np.zeros((len(total), *span.shape))
        # of most planes few intervals have a length, and one or two of them circles below the plane
        piece = np.nonzero((span > 0.0) & ~_is_dry(arc, low + 0.5 * span, level, C, S))
        here, width = piece[1:], span[piece]
        t = low[piece] + nodes * width
        for part, ring in zip(parts, _ring(arc, t, level[here], C[here], S[here], by_surface), strict=True):
            part[piece] = width * add_rows(weights * ring)
        total = total + add_rows(parts.swapaxes(0, 1))
    return total


def _ring(
    arc: _Arc, t: FloatArray, level: FloatArray, C: FloatArray, S: FloatArray, by_surface: bool
) -> tuple[FloatArray, ...]:
    """Surface, or volume and the plane's area, below the plane by angle t along the meridian."""
    sin, cos = np.sin(t), np.cos(t)
    radius = arc.r0 + arc.b * cos
    over = level - (arc.s0 + arc.a * sin) * S
    span = 2.0 * C * radius
    cuts = span > 0.0
    x = np.where(cuts, 0.5 + over / np.where(cuts, span, 1.0), np.where(over >= 0.0, 1.0, 0.0))
    x = _within(x, 0.0, 1.0)
    if by_surface:
        slope = np.sqrt(np.square(arc.a * cos) + np.square(arc.b * sin))
        return (4.0 * np.arctan2(np.sqrt(x), np.sqrt(1.0 - x)) * radius * slope,)
    advance = arc.a * cos
    area, half_chord, _ = _segment(x)
    chord = 4.0 * radius * half_chord / np.maximum(C, _UPRIGHT)
    return 4.0 * radius * radius * area * advance, chord * advance


def _is_dry(arc: _Arc, t: FloatArray, level: FloatArray, C: FloatArray, S: FloatArray) -> BoolArray:
    """Whether the whole circle at t stands over the plane."""
    return np.asarray(level - (arc.s0 + arc.a * np.sin(t)) * S < -C * (arc.r0 + arc.b * np.cos(t)))


def _intervals(arc: _Arc, level: FloatArray, C: FloatArray, S: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return starts and lengths (5, ...) of the arc's intervals; the plane touches circles at their ends."""
    reach = np.sqrt(np.square(C * arc.b) + np.square(S * arc.a))
    lean = np.arctan2(S * arc.a, C * arc.b)
    ends = np.empty((6, *level.shape))
    ends[0], ends[-1] = arc.start, arc.end
    for row, sign in ((1, 1.0), (3, -1.0)):
        w = (sign * (level - S * arc.s0) - C * arc.r0) / np.maximum(reach, _TINY)
        swing = np.arccos(_within(w, -1.0, 1.0))
        ends[row], ends[row + 1] = sign * lean + swing, sign * lean - swing
    ends[1:-1] = np.sort(_within(ends[1:-1], arc.start, arc.end), axis=0)
    return ends[:-1], ends[1:] - ends[:-1]
