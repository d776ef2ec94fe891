"""What shape of ground a pool lies on."""

from __future__ import annotations

import math

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.pool.exposure import Exposure, exposure_of
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.results import Provenance, Result, plain, quantity, result

__all__ = ["Basin", "Hollow", "OpenGround", "Site"]

_BOWL_POINTS = 9


@result
class OpenGround(Result):
    """Level ground without an edge: the pool spreads until the ground's relief holds it.

    Parameters
    ----------
    exposure : Exposure, optional
        None is open sky, sun and wind.

    Raises
    ------
    InputError
        No exposure, or one with calm vapor, which needs a rim.

    Examples
    --------
    >>> OpenGround().exposure.wind_share
    np.float64(1.0)
    """

    exposure: Exposure = plain("wind, sun, sky and cover", default=None)
    provenance: Provenance = plain("where the numbers come from", default=Provenance("level open ground"))

    def __post_init__(self) -> None:
        """Fill in open sky."""
        object.__setattr__(self, "exposure", exposure_of(self.exposure, rim=False))


@result
class Hollow(Result):
    """A hollow, ditch or bund with a flat floor and upright sides; or a slope that holds a known area.

    Parameters
    ----------
    area : number, array or quantity
        Of its floor [m2]. On a slope or in a ditch the area that the liquid wets is given here.
    depth : number, array or quantity
        From floor to rim [m]; what would stand above the rim overflows and is booked apart.
    exposure : Exposure, optional
        None is open sky, sun and wind.

    Raises
    ------
    InputError, OutOfRangeError
        Wrong kind or dimension, shapes that do not broadcast, not positive.

    Notes
    -----
    The sides give no heat: right for a hollow much wider than deep. `Basin.pit` counts them.

    Examples
    --------
    >>> Hollow(area=4.0, depth=0.3).depth
    np.float64(0.3)
    """

    area: QuantityLike = quantity("m**2", "area of the floor")
    depth: QuantityLike = quantity("m", "depth below the rim")
    exposure: Exposure = plain("wind, sun, sky and cover", default=None)
    provenance: Provenance = plain("where the numbers come from", default=Provenance("hollow as given"))

    def __post_init__(self) -> None:
        """Turn every number into SI arrays and check it."""
        area = to_si(self.area, "m**2", "area", lower=0.0, open_lower=True)
        depth = to_si(self.depth, "m", "depth", lower=0.0, open_lower=True)
        broadcast(area=area, depth=depth)
        object.__setattr__(self, "area", area)
        object.__setattr__(self, "depth", depth)
        object.__setattr__(self, "exposure", exposure_of(self.exposure, rim=True))


@result
class Basin(Result):
    """A hollow of any shape, from how its area grows with depth.

    Parameters
    ----------
    depth : array or quantity
        Heights above the lowest point [m], rising from 0 along the last axis; the last is the rim.
    area : array or quantity
        Of the liquid's surface at those heights [m2], along the last axis; never falling, the first may be
        0. In between the area is linear in height.
    wetted_area : array or quantity, optional
        Ground under the liquid at those heights [m2], sides included. None takes round contours.
    exposure : Exposure, optional
        None is open sky, sun and wind.

    Raises
    ------
    InputError, OutOfRangeError
        Wrong kind or dimension, shapes that do not broadcast, fewer than two points, not rising.

    Notes
    -----
    What would stand above the rim overflows and is booked apart. The sides give heat like the floor, each
    part since it was wetted. Round contours have the shortest sides: for a long ditch take
    :meth:`ditch` or give `wetted_area`.

    Examples
    --------
    >>> Basin(depth=[0.0, 0.2, 0.5], area=[0.5, 2.0, 6.0]).wetted_area.round(2)
    array([0.5 , 2.18, 6.67])
    """

    depth: QuantityLike = quantity("m", "height above the lowest point")
    area: QuantityLike = quantity("m**2", "area of the surface at that height")
    wetted_area: QuantityLike = quantity("m**2", "ground under the liquid", default=None)
    exposure: Exposure = plain("wind, sun, sky and cover", default=None)
    provenance: Provenance = plain("where the numbers come from", default=Provenance("basin as given"))

    def __post_init__(self) -> None:
        """Turn every number into SI arrays and check it."""
        given = {
            "depth": to_si(self.depth, "m", "depth", lower=0.0),
            "area": to_si(self.area, "m**2", "area", lower=0.0),
        }
        if self.wetted_area is not None:
            given["wetted_area"] = to_si(self.wetted_area, "m**2", "wetted_area", lower=0.0)
        arrays = dict(zip(given, broadcast(**given), strict=True))
        _check_curve(arrays)
        if self.wetted_area is None:
            arrays["wetted_area"] = _round_sides(arrays["depth"], arrays["area"])
        for name, value in arrays.items():
            object.__setattr__(self, name, value)
        object.__setattr__(self, "exposure", exposure_of(self.exposure, rim=True))

    @classmethod
    def pit(cls, area: QuantityLike, depth: QuantityLike, *, exposure: Exposure | None = None) -> Basin:
        """Round pit with a flat floor and upright sides that give heat.

        Examples
        --------
        >>> Basin.pit(area=1.0, depth=0.5).wetted_area.round(2)
        array([1.  , 2.77])
        """
        a, h = _two(area=(area, "m**2"), depth=(depth, "m"))
        return cls(
            depth=np.stack([np.zeros_like(h), h], axis=-1),
            area=np.stack([a, a], axis=-1),
            exposure=exposure_of(exposure, rim=True),
        )

    @classmethod
    def bowl(cls, diameter: QuantityLike, depth: QuantityLike, *, exposure: Exposure | None = None) -> Basin:
        """Round bowl, a spherical cap of a rim diameter and a depth of at most half of it.

        Examples
        --------
        >>> f"{Basin.bowl(diameter=2.0, depth=0.3).area[-1]:.2f} m2"
        '3.14 m2'
        """
        d, h = _two(diameter=(diameter, "m"), depth=(depth, "m"))
        if np.any(h > 0.5 * d):
            raise InputError("depth of a bowl: at most half of its diameter")
        R = (0.25 * d * d + h * h) / (2.0 * h)
        z = h[..., None] * np.linspace(0.0, 1.0, _BOWL_POINTS) ** 2
        return cls(
            depth=z,
            area=math.pi * z * (2.0 * R[..., None] - z),
            wetted_area=2.0 * math.pi * R[..., None] * z,
            exposure=exposure_of(exposure, rim=True),
        )

    @classmethod
    def ditch(
        cls,
        length: QuantityLike,
        width: QuantityLike,
        depth: QuantityLike,
        *,
        bank_slope: QuantityLike = 1.0,
        exposure: Exposure | None = None,
    ) -> Basin:
        """Ditch with a flat floor and sloping banks, closed at both ends by upright walls.

        Parameters
        ----------
        length, width, depth : number, array or quantity
            Length, width of the floor, height of the banks [m].
        bank_slope : number or array
            Rise over run of the banks, positive.
        exposure : Exposure, optional

        Examples
        --------
        >>> Basin.ditch(length=5.0, width=0.4, depth=0.5).area
        array([2., 7.])
        """
        slope = to_si(bank_slope, "", "bank_slope", lower=0.0, open_lower=True)
        le, w, h = _two(length=(length, "m"), width=(width, "m"), depth=(depth, "m"))
        le, w, h, slope = broadcast(length=le, width=w, depth=h, bank_slope=slope)
        run = h / slope
        banks = 2.0 * le * np.hypot(run, h) + 2.0 * h * (w + run)
        return cls(
            depth=np.stack([np.zeros_like(h), h], axis=-1),
            area=np.stack([le * w, le * (w + 2.0 * run)], axis=-1),
            wetted_area=np.stack([le * w, le * w + banks], axis=-1),
            exposure=exposure_of(exposure, rim=True),
        )


Site = OpenGround | Hollow | Basin


def _two(**given: tuple[QuantityLike, str]) -> tuple[FloatArray, ...]:
    arrays = {name: to_si(v, unit, name, lower=0.0, open_lower=True) for name, (v, unit) in given.items()}
    return broadcast(**arrays)


def _check_curve(arrays: dict[str, FloatArray]) -> None:
    z, areas = arrays["depth"], arrays["area"]
    if z.ndim == 0 or z.shape[-1] < 2:
        raise InputError("depth: a basin needs two points or more along the last axis")
    if np.any(z[..., 0] != 0.0) or np.any(np.diff(z, axis=-1) <= 0.0):
        raise InputError("depth: must rise from 0 along the last axis")
    if np.any(np.diff(areas, axis=-1) < 0.0) or np.any(areas[..., -1] <= 0.0):
        raise InputError("area: must not fall with depth, and must be positive at the rim")
    if "wetted_area" in arrays and np.any(arrays["wetted_area"] < areas * (1.0 - 1e-12)):
        raise InputError("wetted_area: is never smaller than the area of the surface")


def _round_sides(depth: FloatArray, area: FloatArray) -> FloatArray:
    """Ground under the liquid where every contour is a circle: frustums."""
    r = np.sqrt(area / math.pi)
    sides = math.pi * (r[..., 1:] + r[..., :-1]) * np.hypot(np.diff(r, axis=-1), np.diff(depth, axis=-1))
    total = np.empty_like(area)
    total[..., 0] = area[..., 0]
    total[..., 1:] = area[..., :1] + np.add.accumulate(sides, axis=-1)
    return total
