"""View factors of a leaning flame to surfaces anywhere, in closed form.

A flame is a frustum with parallel ends: a cylinder or a part of a cone, upright or leaning. Its outline as
seen from a target consists of two arcs and two straight lines, and the radiation that arrives is a line
integral along that outline. All of its parts are elementary functions, so nothing is integrated
numerically. Plain, elementwise functions of SI arrays, without checks.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = ["Flame", "along_line", "flame_area", "inside_flame", "is_cut", "view_factor", "view_vector"]

_ARC_TANGENT = (
    1.0,
    -0.3333333333332844,
    0.1999999999885511,
    -0.14285714180976467,
    0.11111106180455946,
    -0.09090773074808413,
    0.07689953496306848,
    -0.0664023393042932,
    0.05688349226808552,
    -0.04348052215715138,
    0.021135373157677034,
)
"""arctan(v)/v in powers of v^2 for v up to tan(pi/8): interpolated in Chebyshev's points, off by 4e-17."""
_TINY = 1e-150
_ON_AXIS = 1e-7
"""Nearest to the axis of a disc that is resolved, in radii."""
_ON_RIM = 1e-15
_PARALLEL = 1e-12
"""Below this a line counts as level with the ends, or as running along the side."""
_ROUND_OFF = 1e-7
"""Below this a turn may be none at all or a whole one; which, the arc it belongs to tells."""
_EDGES = 48
"""Straight edges that stand for an arc where the target's plane cuts the flame."""
_AREA_POINTS = 32

Vector = tuple[FloatArray, FloatArray, FloatArray]


class Flame(NamedTuple):
    """A frustum with round, parallel ends that leans along x; the fire's axis on the ground is the origin.

    Parameters
    ----------
    base_x, base_z, base_radius : ndarray
        Middle and radius of the lower end [m].
    tip_x, tip_z, tip_radius : ndarray
        Middle and radius of the upper end [m]; further out than the lower one along the ends' normal.
    end_tilt : ndarray
        Tilt of both ends from level, downwind [rad]: 0 for a pool's flame, that of its axis for a jet's.
    """

    base_x: FloatArray
    base_z: FloatArray
    base_radius: FloatArray
    tip_x: FloatArray
    tip_z: FloatArray
    tip_radius: FloatArray
    end_tilt: FloatArray = np.zeros(())

    def __repr__(self) -> str:
        return "leaning frustum"


def flame_area(flame: Flame, *, with_base: bool) -> FloatArray:
    """Surface of a flame [m2]: its side, its upper end, and its lower end if that radiates too.

    Notes
    -----
    Side: (R1 + R2)/2 times the integral over the azimuth phi of sqrt(H^2 + (a cos phi + R2 - R1)^2), a the
    horizontal and H the vertical distance between the ends; by the trapezoid rule, exact to rounding for
    an upright flame and to 1e-6 where it leans 80 degrees.

    Examples
    --------
    >>> cylinder = Flame(0.0, 0.0, 2.0, 0.0, 10.0, 2.0)
    >>> f"{flame_area(cylinder, with_base=False) / math.pi:.6f}"
    '44.000000'
    """
    own = _own_frame(flame)
    height, lean, wider = own.tip_z, own.tip_x, own.tip_radius - own.base_radius
    total = np.zeros_like(height)
    for i in range(_AREA_POINTS):
        across = lean * math.cos(2.0 * math.pi * (i + 0.5) / _AREA_POINTS) + wider
        total = total + np.sqrt(height * height + across * across)
    side = 0.5 * (flame.base_radius + flame.tip_radius) * total * (2.0 * math.pi / _AREA_POINTS)
    ends = flame.tip_radius * flame.tip_radius
    if with_base:
        ends = ends + flame.base_radius * flame.base_radius
    return side + math.pi * ends


def inside_flame(x: FloatArray, y: FloatArray, z: FloatArray, flame: Flame) -> BoolArray:
    """Whether a point lies in the flame or on its surface."""
    x, z = _turned(x - flame.base_x, z - flame.base_z, flame.end_tilt)
    own = _own_frame(flame)
    return _inside(z, own, _level_section(x, y, z, own))


def _turned(x: FloatArray, z: FloatArray, angle: FloatArray | float) -> tuple[FloatArray, FloatArray]:
    """Components along and across ends that are tilted by `angle`."""
    cosine, sine = np.cos(angle), np.sin(angle)
    return x * cosine - z * sine, x * sine + z * cosine


def _own_frame(flame: Flame) -> Flame:
    """Return the flame where its ends are level and its foot is the origin."""
    nought = np.zeros_like(flame.base_x)
    x, z = _turned(flame.tip_x - flame.base_x, flame.tip_z - flame.base_z, flame.end_tilt)
    return Flame(nought, nought, flame.base_radius, x, z, flame.tip_radius)


def along_line(cosine: FloatArray, sine: FloatArray, height: FloatArray, flame: Flame) -> FloatArray:
    """Distances at which a level line from the fire's axis may enter or leave a flame [m].

    Rows, sorted, of four: where it meets the flame's side, prolonged if need be, and the planes of its ends.
    If the line runs through the flame, then between two rows that follow one another. Where it does not meet
    the side, two are where it comes nearest.

    Notes
    -----
    In the flame's own frame all parts of |P - c|^2 = R^2 are straight lines in the distance, so it is a
    quadratic. A line level with the ends stays between them: their two are 0 and beyond the flame.
    """
    at_x, at_z = _turned(-flame.base_x, height - flame.base_z, flame.end_tilt)
    per_x, per_z = _turned(cosine, np.zeros(()), flame.end_tilt)
    own = _own_frame(flame)
    part, per_part = at_z / own.tip_z, per_z / own.tip_z
    wider = own.tip_radius - own.base_radius
    x, per_x = at_x - part * own.tip_x, per_x - per_part * own.tip_x
    radius, per_radius = own.base_radius + part * wider, per_part * wider
    a = per_x * per_x + sine * sine - per_radius * per_radius
    b, c = x * per_x - radius * per_radius, x * x - radius * radius
    root = np.sqrt(np.maximum(b * b - a * c, 0.0))
    a = np.where(np.abs(a) < _PARALLEL, _PARALLEL, a)
    level = np.abs(per_part) < _PARALLEL
    per_part = np.where(level, 1.0, per_part)
    all_of_it = np.abs(flame.base_x) + np.abs(flame.tip_x) + flame.base_radius + flame.tip_radius
    ends = np.where(level, 0.0, -part / per_part), np.where(level, all_of_it, (1.0 - part) / per_part)
    rows: FloatArray = np.stack(np.broadcast_arrays((-b - root) / a, (root - b) / a, *ends))
    return np.sort(rows, axis=0)


def _inside(z: FloatArray, flame: Flame, section: _Section) -> BoolArray:
    inside: BoolArray = (section.distance <= section.radius) & (z >= flame.base_z) & (z <= flame.tip_z)
    return inside


def view_vector(x: FloatArray, y: FloatArray, z: FloatArray, flame: Flame) -> Vector:
    """Vector whose projection on a surface's normal is its view factor, where the surface sees it all.

    Its length is the view factor of the surface that faces the flame. x points downwind, z up [m].

    Notes
    -----
    F = (1/(2 pi)) times the integral of (r x dr)/r^2 along the flame's outline, r from the target
    [howell2020radiation, contour integral, from memory]. A generator at azimuth phi belongs to the outline
    where (P - c).e(phi) = R, c and R the middle and the radius of the flame's section, prolonged if need
    be, at the target's own level, e the level unit vector at phi. On an arc r^2 = A + B cos(theta), and
    with tan(theta'/2) = sqrt((A - B)/(A + B)) tan(theta/2) the integral of 1/r^2 is the change of theta'
    over sqrt(A^2 - B^2). A point in the flame gets zero.

    Examples
    --------
    An upright cylinder, 4 m wide and 10 m high, seen from the ground 8 m from its axis:

    >>> target = (np.array([8.0]), np.array([0.0]), np.array([0.0]))
    >>> level, _, up = view_vector(*target, Flame(0.0, 0.0, 2.0, 0.0, 10.0, 2.0))
    >>> f"{-level[0]:.6f} {up[0]:.6f}"
    '0.115977 0.057336'
    """
    x, z = _turned(x - flame.base_x, z - flame.base_z, flame.end_tilt)
    own = _own_frame(flame)
    vector = _vector(x, y, z, own, _level_section(x, y, z, own))
    back_x, back_z = _turned(vector[0], vector[2], np.negative(flame.end_tilt))
    return back_x, vector[1], back_z


class _Section(NamedTuple):
    """The flame's section, prolonged if need be, at the target's level: unit vector from its middle."""

    away_x: FloatArray
    away_y: FloatArray
    radius: FloatArray
    distance: FloatArray


def _level_section(x: FloatArray, y: FloatArray, z: FloatArray, flame: Flame) -> _Section:
    part = (z - flame.base_z) / (flame.tip_z - flame.base_z)
    radius = flame.base_radius + part * (flame.tip_radius - flame.base_radius)
    from_x = x - (flame.base_x + part * (flame.tip_x - flame.base_x))
    distance = np.sqrt(from_x * from_x + y * y)
    safe = np.maximum(distance, _TINY)
    return _Section(from_x / safe, y / safe, radius, distance)


def _vector(x: FloatArray, y: FloatArray, z: FloatArray, flame: Flame, section: _Section) -> Vector:
    away_x, away_y, radius, distance = section
    cosine = np.minimum(np.maximum(radius / np.maximum(distance, _TINY), -1.0), 1.0)
    sine = np.sqrt((1.0 - cosine) * (1.0 + cosine))
    swept = 2.0 * _turn(cosine, sine)
    along_x, along_y, across_x, across_y = (
        cosine * away_x,
        cosine * away_y,
        sine * away_x,
        sine * away_y,
    )
    first = (along_x + across_y, along_y - across_x)
    last = (along_x - across_y, along_y + across_x)
    lower = _lower_arc(flame, (x, y, z), first, last, swept)
    low = _arc_ends(flame.base_x - x, -y, flame.base_z - z, flame.base_radius, first, last)
    upper = _arc(flame.tip_x - x, -y, flame.tip_z - z, flame.tip_radius, first, last, swept, z > flame.tip_z)
    high = _arc_ends(flame.tip_x - x, -y, flame.tip_z - z, flame.tip_radius, first, last)
    up, down = _edge(low[1], high[1]), _edge(low[0], high[0])
    share = -1.0 / (2.0 * math.pi)
    return tuple(  # type: ignore[return-value]
        share * (lower[i] - upper[i] + up[i] - down[i]) for i in range(3)
    )


Point = tuple[FloatArray, FloatArray, FloatArray, FloatArray]
Level = tuple[FloatArray, FloatArray]


def _lower_arc(flame: Flame, at: Vector, first: Level, last: Level, swept: FloatArray) -> Vector:
    """Integral along the arc of the lower end; seen from its own level that is an angle, no more."""
    x, y, z = at
    on_level = z == flame.base_z
    angle = swept - math.pi
    if on_level.all():
        nothing = np.zeros_like(angle)
        return nothing, nothing, angle
    middle = (flame.base_x - x, -y, flame.base_z - z)
    general = _arc(*middle, flame.base_radius, first, last, swept, z < flame.base_z)
    if not on_level.any():
        return general
    level = (np.zeros_like(angle), np.zeros_like(angle), angle)
    return tuple(np.where(on_level, a, b) for a, b in zip(level, general, strict=True))  # type: ignore[return-value]


def _arc_ends(
    middle_x: FloatArray,
    middle_y: FloatArray,
    height: FloatArray,
    radius: FloatArray,
    first: Level,
    last: Level,
) -> tuple[Point, Point]:
    """Both ends of an arc, seen from the target, with their squared distance."""
    ends = []
    for direction in (first, last):
        x, y = middle_x + radius * direction[0], middle_y + radius * direction[1]
        ends.append((x, y, height, np.maximum(x * x + y * y + height * height, _TINY)))
    return ends[0], ends[1]


def _arc(
    middle_x: FloatArray,
    middle_y: FloatArray,
    height: FloatArray,
    radius: FloatArray,
    first: Level,
    last: Level,
    swept: FloatArray,
    far: BoolArray,
) -> Vector:
    """Integral of (r x dr)/r^2 along an arc from `first` to `last`, the near one or the far one."""
    level = np.sqrt(middle_x * middle_x + middle_y * middle_y)
    on_axis = level < _ON_AXIS * radius
    safe = np.where(on_axis, 1.0, level)
    away_x, away_y = np.where(on_axis, 1.0, middle_x / safe), np.where(on_axis, 0.0, middle_y / safe)
    level = np.maximum(level, _ON_AXIS * radius)
    A, B = level * level + height * height + radius * radius, 2.0 * radius * level
    apart = level - radius
    S = np.maximum(np.sqrt((apart * apart + height * height) * (A + B)), _ON_RIM * A)
    c1, s1 = first[0] * away_x + first[1] * away_y, away_x * first[1] - away_y * first[0]
    c2, s2 = last[0] * away_x + last[1] * away_y, away_x * last[1] - away_y * last[0]
    least = 1e-30 * A
    d1, d2 = np.maximum(A + B * c1, least), np.maximum(A + B * c2, least)
    C1, S1, C2, S2 = A * c1 + B, S * s1, A * c2 + B, S * s2
    scale = 1.0 / (d1 * d2)
    turned = _turn((C1 * C2 + S1 * S2) * scale, (C1 * S2 - S1 * C2) * scale)
    round_off = np.where(swept > math.pi, _ROUND_OFF, -_ROUND_OFF)
    turned = np.where(turned < round_off, turned + 2.0 * math.pi, turned)
    whole = np.where(far, 2.0 * math.pi, 0.0)
    turned, swept = turned - whole, swept - whole
    plain = turned / S
    lift = -height * radius / B
    with_cosine, with_sine = lift * (swept - A * plain), -lift * np.log(d2 / d1)
    return (
        with_cosine * away_x - with_sine * away_y,
        with_cosine * away_y + with_sine * away_x,
        0.5 * (swept + (2.0 * radius * radius - A) * plain),
    )


def _edge(start: Point, end: Point) -> Vector:
    """Integral of (r x dr)/r^2 along a straight line."""
    x = start[1] * end[2] - start[2] * end[1]
    y = start[2] * end[0] - start[0] * end[2]
    z = start[0] * end[1] - start[1] * end[0]
    area = np.sqrt(x * x + y * y + z * z)
    scale = 1.0 / np.sqrt(start[3] * end[3])
    dot = start[0] * end[0] + start[1] * end[1] + start[2] * end[2]
    share = _turn(dot * scale, area * scale) / np.maximum(area, _TINY)
    return share * x, share * y, share * z


def _turn(cosine: FloatArray, sine: FloatArray) -> FloatArray:
    """Angle from -pi to pi of a unit vector; faster than numpy.arctan2 and as accurate."""
    sine = np.where(np.abs(sine) < _TINY, _TINY, sine)
    both = np.where(cosine < 0.0, sine * sine / (1.0 + np.abs(cosine)), 1.0 + cosine)
    quarter = sine / (both + np.sqrt(both + both))
    v = quarter / (1.0 + np.sqrt(1.0 + quarter * quarter))
    s = v * v
    total = _ARC_TANGENT[-1] * s
    for coefficient in _ARC_TANGENT[-2:0:-1]:
        total += coefficient
        total *= s
    angle: FloatArray = 8.0 * v * (1.0 + total)
    return angle


def is_cut(x: FloatArray, y: FloatArray, z: FloatArray, flame: Flame, normal: Vector) -> BoolArray:
    """Whether the plane of a target leaves a part of the flame behind it."""
    x, z = _turned(x - flame.base_x, z - flame.base_z, flame.end_tilt)
    normal_x, normal_z = _turned(normal[0], normal[2], flame.end_tilt)
    return _is_cut(x, y, z, _own_frame(flame), (normal_x, normal[1], normal_z))


def _is_cut(x: FloatArray, y: FloatArray, z: FloatArray, flame: Flame, normal: Vector) -> BoolArray:
    nx, ny, nz = normal
    level = np.sqrt(nx * nx + ny * ny)
    lowest = np.minimum(
        nx * (flame.base_x - x) - ny * y + nz * (flame.base_z - z) - flame.base_radius * level,
        nx * (flame.tip_x - x) - ny * y + nz * (flame.tip_z - z) - flame.tip_radius * level,
    )
    size = np.abs(x) + np.abs(y) + np.abs(z) + flame.base_radius + flame.tip_radius
    cut: BoolArray = lowest < -1e-9 * size
    return cut


def view_factor(
    x: FloatArray, y: FloatArray, z: FloatArray, flame: Flame, normal: Vector | None = None
) -> FloatArray:
    """View factor of a small surface at (x, y, z) to the flame, from 0 to 1.

    Arrays of one dimension. Exact where the whole flame lies before the surface; where the surface's
    plane cuts the flame, the outline is cut there, with its arcs taken as 48 straight edges each: good
    to 1 part in 1000. A surface in the flame sees nothing else: 1.

    Parameters
    ----------
    x, y, z : ndarray
        Position [m]: downwind, across the wind, up.
    flame : Flame
    normal : tuple of ndarray, optional
        Unit normal of the surface; None: along `view_vector`, the surface that faces the flame.

    Examples
    --------
    Under the middle of a flame that hangs 3 m above the ground, facing up:

    >>> target = (np.array([0.0]), np.array([0.0]), np.array([0.0]))
    >>> up = (np.array([0.0]), np.array([0.0]), np.array([1.0]))
    >>> f"{view_factor(*target, Flame(0.0, 3.0, 1.0, 0.0, 9.0, 1.0), up)[0]:.6f}"
    '0.100000'
    """
    x, z = _turned(x - flame.base_x, z - flame.base_z, flame.end_tilt)
    if normal is not None:
        normal_x, normal_z = _turned(normal[0], normal[2], flame.end_tilt)
        normal = (normal_x, normal[1], normal_z)
    flame = _own_frame(flame)
    section = _level_section(x, y, z, flame)
    vector = _vector(x, y, z, flame, section)
    if normal is None:
        seen = np.sqrt(vector[0] * vector[0] + vector[1] * vector[1] + vector[2] * vector[2])
        share = 1.0 / np.maximum(seen, _TINY)
        normal = (vector[0] * share, vector[1] * share, vector[2] * share)
    else:
        seen = vector[0] * normal[0] + vector[1] * normal[1] + vector[2] * normal[2]
    inside = _inside(z, flame, section)
    cut = _is_cut(x, y, z, flame, normal) & ~inside
    if cut.any():
        chosen = np.flatnonzero(cut)
        at = [np.broadcast_to(a, seen.shape)[chosen] for a in (x, y, z, *flame, *normal)]
        seen[chosen] = _cut_view(at[0], at[1], at[2], Flame(*at[3:10]), (at[10], at[11], at[12]))
    factor: FloatArray = np.where(inside, 1.0, np.clip(seen, 0.0, 1.0))
    return factor


def _cut_view(x: FloatArray, y: FloatArray, z: FloatArray, flame: Flame, normal: Vector) -> FloatArray:
    """View factor of the part of the flame in front of the target's plane.

    Walks round the outline; where it goes behind the plane and comes back, a chord in the plane closes it.
    """
    start, *rest = _outline(x, y, z, flame)
    total, away = np.zeros_like(x), np.zeros(x.shape, dtype=bool)
    left = first = start
    for end in (*rest, start):
        before, after = _dot(start, normal), _dot(end, normal)
        part = np.clip(before / np.where(before == after, 1.0, before - after), 0.0, 1.0)
        crossing = [a + part * (b - a) for a, b in zip(start, end, strict=True)]
        leaves, enters = (before >= 0.0) & (after < 0.0), (before < 0.0) & (after >= 0.0)
        seen = np.where(
            (before >= 0.0) | (after >= 0.0),
            _edge_view(_choose(enters, crossing, start), _choose(leaves, crossing, end), normal),
            0.0,
        )
        total = total + seen + np.where(enters & away, _edge_view(left, crossing, normal), 0.0)
        first = _choose(enters & ~away, crossing, first)
        left = _choose(leaves, crossing, left)
        away = (away | leaves) & ~enters
        start = end
    total = total + np.where(away, _edge_view(left, first, normal), 0.0)
    return np.maximum(-total, 0.0) / (2.0 * math.pi)


def _choose(where: BoolArray, these: list[FloatArray], others: list[FloatArray]) -> list[FloatArray]:
    return [np.where(where, a, b) for a, b in zip(these, others, strict=True)]


def _dot(a: list[FloatArray], b: Vector) -> FloatArray:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _edge_view(start: list[FloatArray], end: list[FloatArray], normal: Vector) -> FloatArray:
    """Share of an edge in the contour integral, along the normal."""
    points = []
    for p in (start, end):
        points.append((p[0], p[1], p[2], np.maximum(p[0] * p[0] + p[1] * p[1] + p[2] * p[2], _TINY)))
    x, y, z = _edge(points[0], points[1])
    return x * normal[0] + y * normal[1] + z * normal[2]


def _outline(x: FloatArray, y: FloatArray, z: FloatArray, flame: Flame) -> list[list[FloatArray]]:
    """Corners of the outline as seen from the target, relative to it."""
    away_x, away_y, radius, distance = _level_section(x, y, z, flame)
    middle = np.arctan2(away_y, away_x)
    half = np.arccos(np.clip(radius / np.maximum(distance, _TINY), -1.0, 1.0))
    corners = []
    ends = [(flame.base_x, flame.base_z, flame.base_radius, z < flame.base_z, 1.0)]
    ends.append((flame.tip_x, flame.tip_z, flame.tip_radius, z > flame.tip_z, -1.0))
    for end_x, end_z, end_radius, far, sense in ends:
        reach = np.where(far, half - math.pi, half)
        for i in range(_EDGES + 1):
            angle = middle + np.where(far, math.pi, 0.0) + sense * reach * (2.0 * i / _EDGES - 1.0)
            corner = [end_x + end_radius * np.cos(angle) - x, end_radius * np.sin(angle) - y, end_z - z]
            corners.append(corner)
    return corners
