"""Heads of cylindrical vessels, scaled to a vessel of unit inside diameter.

Everything here is a plain function of arrays, elementwise and unchecked. A *lying* head closes a
horizontal vessel: its functions give **both** heads together below the fraction ``x`` of the
diameter, up to one half; above that, symmetry serves. A *standing* head is the bottom of a vertical
vessel, below the height ``y`` over its lowest point, up to its depth.
"""

from __future__ import annotations

import dataclasses
import functools
import math
from collections.abc import Callable
from typing import Final

import numpy as np

from lpgrelease.quantities import FloatArray

__all__ = ["HEADS", "Flat", "Head", "Spheroid", "Torispherical", "segment_area", "segment_half_angle"]

_PI = math.pi
_SERIES_BELOW = 0.05
_SERIES: Final = tuple(
    2.0 * math.prod((j - 0.5) / (j + 1.0) for j in range(k)) / (k + 1.5) for k in range(11)
)


def segment_half_angle(x: FloatArray) -> FloatArray:
    """Half the angle that the wetted arc of a circle spans [rad], at the fraction x of its height."""
    return 2.0 * np.arcsin(np.sqrt(x))


def segment_area(x: FloatArray) -> FloatArray:
    """Area of a circular segment, unit diameter, lower half (x up to 1/2).

    The closed form loses digits near the bottom, so below x = 0.05 the power series of the integral
    of the chord 2 sqrt(x (1 - x)) serves, to the last digits of a double.
    """
    small = np.minimum(x, _SERIES_BELOW)
    series = np.full_like(small, _SERIES[-1])
    for coefficient in _SERIES[-2::-1]:
        series = series * small + coefficient
    series = series * (small * np.sqrt(small))
    closed = 0.25 * segment_half_angle(x) - (0.5 - x) * np.sqrt(x * (1.0 - x))
    return np.where(x < _SERIES_BELOW, series, closed)


class Head:
    """What every head offers; see the module's docstring.

    Attributes
    ----------
    depth, volume, area : float
        Of one head, in units of the diameter, its cube and its square.
    """

    depth: float
    volume: float
    area: float

    def lying_volume(self, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Volume below x and its derivative, the free surface."""
        raise NotImplementedError

    def lying_area(self, x: FloatArray) -> FloatArray:
        """Wetted inside surface below x."""
        raise NotImplementedError

    def standing_volume(self, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Volume below y and its derivative, the free surface."""
        raise NotImplementedError

    def standing_area(self, y: FloatArray) -> FloatArray:
        """Wetted inside surface below y."""
        raise NotImplementedError


class Flat(Head):
    """A flat plate. Standing, it counts as wet as soon as there is any liquid."""

    depth = 0.0
    volume = 0.0
    area = _PI / 4.0

    def lying_volume(self, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return nothing."""
        return np.zeros_like(x), np.zeros_like(x)

    def lying_area(self, x: FloatArray) -> FloatArray:
        """Return two circular segments."""
        return 2.0 * segment_area(x)

    def standing_volume(self, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return no volume, over the full cross-section."""
        return np.zeros_like(y), np.full_like(y, self.area)

    def standing_area(self, y: FloatArray) -> FloatArray:
        """Return the plate's area."""
        return np.full_like(y, self.area)


class Spheroid(Head):
    """Half an ellipsoid of revolution of given depth: 1/4 is the 2:1 head, 1/2 the hemisphere.

    Depths from just above 0 to 1/2, in units of the diameter.
    """

    def __init__(self, depth: float) -> None:
        self.depth = depth
        self.volume = _PI * depth / 6.0
        self._stretch = math.sqrt(0.25 - depth * depth) / (depth * depth)
        self.area = float(self.standing_area(np.float64(depth)))  # type: ignore[arg-type]

    def lying_volume(self, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Squeeze a spherical segment along the axis."""
        ratio = 2.0 * self.depth * _PI
        return ratio * x * x * (1.5 - x) / 3.0, ratio * x * (1.0 - x)

    def lying_area(self, x: FloatArray) -> FloatArray:
        """Use the closed form of a sphere; else a table, as the integral is not elementary."""
        if self._stretch == 0.0:
            return _PI * x
        return _spheroid_area(self.depth)(x)[0]

    def standing_volume(self, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Squeeze a spherical segment along the vertical."""
        ratio = _PI / (4.0 * self.depth * self.depth)
        return ratio * y * y * (self.depth - y / 3.0), ratio * y * (2.0 * self.depth - y)

    def standing_area(self, y: FloatArray) -> FloatArray:
        """Return a zone of an oblate spheroid."""
        if self._stretch == 0.0:
            return _PI * y
        return _PI * (self._zone(self.depth) - self._zone(self.depth - y))

    def _zone(self, u: FloatArray | float) -> FloatArray:
        scaled = np.multiply(self._stretch, u)
        return 0.5 * (u * np.sqrt(1.0 + scaled * scaled) + np.arcsinh(scaled) / self._stretch)


class Torispherical(Head):
    """A dish of radius D joined to the shell by a knuckle of radius 0.06 D.

    The least knuckle that the ASME code allows with the widest dish ("flanged and dished").
    References: asme2021vessels, UG-32.
    """

    dish = 1.0
    knuckle = 0.06

    def __init__(self) -> None:
        self.center = 0.5 - self.knuckle
        self.joint = self.center * self.dish / (self.dish - self.knuckle)
        self.depth = self.dish - math.sqrt((self.dish - self.knuckle) ** 2 - self.center**2)
        self.joint_height = self.dish - math.sqrt(self.dish**2 - self.joint**2)
        end = np.float64(self.depth)
        self.volume = float(self.standing_volume(end)[0])  # type: ignore[arg-type]
        self.area = float(self.standing_area(end))  # type: ignore[arg-type]

    def lying_volume(self, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Read a table, as the integral is not elementary."""
        return _torispherical_volume()(x)

    def lying_area(self, x: FloatArray) -> FloatArray:
        """Read a table, as the integral is not elementary."""
        return _torispherical_area()(x)[0]

    def standing_volume(self, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Add a zone of the torus to a spherical segment."""
        low, u = np.minimum(y, self.joint_height), self._over_tangent(y)
        dished = _PI * low * low * (self.dish - low / 3.0)
        outer = self.center + np.sqrt(self.knuckle**2 - u * u)
        volume = dished + _PI * (
            self._torus_volume(self._over_tangent(self.joint_height)) - self._torus_volume(u)
        )
        surface = np.where(y < self.joint_height, low * (2.0 * self.dish - low), outer * outer)
        return volume, _PI * surface

    def standing_area(self, y: FloatArray) -> FloatArray:
        """Add a zone of the torus to a spherical cap."""
        low = np.minimum(y, self.joint_height)
        zone = self._torus_area(self._over_tangent(self.joint_height)) - self._torus_area(
            self._over_tangent(y)
        )
        return 2.0 * _PI * (self.dish * low + zone)

    def _over_tangent(self, y: FloatArray | float) -> FloatArray:
        return self.depth - np.maximum(y, self.joint_height)

    def _torus_volume(self, u: FloatArray) -> FloatArray:
        c, k = self.center, self.knuckle
        bulge = u * np.sqrt(k * k - u * u) + k * k * np.arcsin(u / k)
        return (c * c + k * k) * u + c * bulge - u * u * u / 3.0

    def _torus_area(self, u: FloatArray) -> FloatArray:
        return self.knuckle * (self.center * np.arcsin(u / self.knuckle) + u)


HEADS: Final[dict[str, Head]] = {
    "flat": Flat(),
    "elliptical": Spheroid(0.25),
    "torispherical": Torispherical(),
    "hemispherical": Spheroid(0.5),
}

# ---------------------------------------------------------------------------------------------
# Lying heads without a closed form: one quadrature each, kept as a table.
#
# A horizontal slice at distance y below the axis meets the head along the half-width w of the
# vessel; with r^2 = y^2 + w^2 both heads add 4 times the integral of a weight over w, the weight
# being the local depth of the head (volume) or the slope factor sqrt(1 + depth'(r)^2) (surface).
# The slices are then summed from the bottom up in s = sqrt(x), in which both are smooth.

_PANELS = 512
_Weight = Callable[[FloatArray, FloatArray], FloatArray]
"""Weight from r and the gap R^2 - r^2, the latter free of cancellation."""


@dataclasses.dataclass(frozen=True, slots=True)
class _Table:
    """A function f = x^power g(s), s = sqrt(x), g by cubic Hermite pieces on a uniform grid."""

    power: int
    step: float
    values: FloatArray
    slopes: FloatArray
    """Slope of g times the step."""

    def __call__(self, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return f and df/dx."""
        s = np.sqrt(x)
        position = s / self.step
        i = np.minimum(position.astype(np.intp), _PANELS - 1)
        t = position - i
        g0, m0, m1 = self.values[i], self.slopes[i], self.slopes[i + 1]
        rise = self.values[i + 1] - g0
        c2, c3 = 3.0 * rise - 2.0 * m0 - m1, m0 + m1 - 2.0 * rise
        g = g0 + t * (m0 + t * (c2 + t * c3))
        slope = (m0 + t * (2.0 * c2 + t * (3.0 * c3))) / self.step
        lead = x if self.power == 2 else np.ones_like(x)
        return lead * x * g, lead * (self.power * g + 0.5 * s * slope)


def _tabulate(power: int, start: float, pieces: tuple[tuple[float, float, _Weight], ...]) -> _Table:
    """Integrate the slices; `start` is the limit of f / x^power at the bottom."""
    nodes, weights = _gauss(8)
    s = np.linspace(0.0, math.sqrt(0.5), _PANELS + 1)
    step = s[1]
    inner = s[:-1, None] + step * nodes
    panels = step * (weights * 2.0 * inner * _slice(inner, pieces)).sum(axis=1)
    totals, ends = np.cumsum(panels), s[1:]
    values = totals / ends ** (2 * power)
    slopes = (2.0 * ends * _slice(ends, pieces) - 2 * power * totals / ends) / ends ** (2 * power)
    return _Table(power, float(step), np.append(start, values), step * np.append(0.0, slopes))


def _slice(s: FloatArray, pieces: tuple[tuple[float, float, _Weight], ...]) -> FloatArray:
    """4 times the integral of the weight along one slice, ring by ring."""
    nodes, weights = _gauss(32)
    depth = s * s
    y = 0.5 - depth
    total = np.zeros_like(s)
    for inner, outer, weight in pieces:
        beyond = 0.25 - outer * outer
        widths = [np.sqrt(np.maximum(depth * (1.0 - depth) - (0.25 - r * r), 0.0)) for r in (inner, outer)]
        low, top = widths[0][..., None], widths[1][..., None]
        span = top - low
        w = top - span * nodes * nodes
        gap = span * nodes * nodes * (top + w) + beyond
        r = np.sqrt(y[..., None] ** 2 + w * w)
        total += 4.0 * (weights * 2.0 * nodes * span * weight(r, gap)).sum(axis=-1)
    return total


def _gauss(count: int) -> tuple[FloatArray, FloatArray]:
    nodes, weights = np.polynomial.legendre.leggauss(count)
    return 0.5 * (nodes + 1.0), 0.5 * weights


@functools.cache
def _spheroid_area(depth: float) -> _Table:
    squeeze = 4.0 * depth * depth

    def slope(r: FloatArray, gap: FloatArray) -> FloatArray:
        return np.sqrt(1.0 + squeeze * r * r / gap)

    return _tabulate(1, 2.0 * _PI * depth, ((0.0, 0.5, slope),))


def _torispherical_start() -> float:
    return _PI * math.sqrt(0.5 * Torispherical.knuckle)


@functools.cache
def _torispherical_volume() -> _Table:
    head = Torispherical()

    def dish(r: FloatArray, gap: FloatArray) -> FloatArray:
        return np.sqrt(head.dish**2 - r * r) + (head.depth - head.dish)

    def knuckle(r: FloatArray, gap: FloatArray) -> FloatArray:
        return np.sqrt(gap / (0.5 + r) * (head.knuckle + r - head.center))

    return _tabulate(2, _torispherical_start(), ((0.0, head.joint, dish), (head.joint, 0.5, knuckle)))


@functools.cache
def _torispherical_area() -> _Table:
    head = Torispherical()

    def dish(r: FloatArray, gap: FloatArray) -> FloatArray:
        return head.dish / np.sqrt(head.dish**2 - r * r)

    def knuckle(r: FloatArray, gap: FloatArray) -> FloatArray:
        return head.knuckle / np.sqrt(gap / (0.5 + r) * (head.knuckle + r - head.center))

    return _tabulate(1, 2.0 * _torispherical_start(), ((0.0, head.joint, dish), (head.joint, 0.5, knuckle)))
