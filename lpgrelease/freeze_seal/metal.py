"""The metal around the hole: the heat a warm wall conducts under the cloth."""

from __future__ import annotations

import numpy as np

from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.results import Provenance, Result, plain, quantity, result

__all__ = ["MetalWall", "bessel_k0", "bessel_k1", "edge_heat"]

INSIDE_HEAT_TRANSFER = {"liquid": 500.0, "two-phase": 500.0, "vapor": 10.0}
"""From the contents to the wall [W/m2/K], inside the ranges of incropera2011fundamentals, Table 1.1, for
free convection (gases 2 to 25, liquids 50 to 1000; from memory)."""

_WALL: dict[str, tuple[str, float, float, str]] = {
    "thickness": ("m", 1e-4, 0.5, "the shell of a container"),
    "conductivity": ("W/m/K", 0.1, 500.0, "a metal"),
    "heat_capacity": ("J/m**3/K", 1e5, 1e7, "a metal, per volume"),
}


@result
class MetalWall(Result):
    """The wall around the hole.

    Parameters
    ----------
    thickness : number, array or quantity
        [m], 1e-4 to 0.5.
    conductivity : number, array or quantity
        [W/m/K]; carbon steels have 40 to 60 (incropera2011fundamentals, Table A.1, from memory).
    heat_capacity : number, array or quantity
        Per volume [J/m3/K]; steel 3.4e6 to 3.9e6 (same table).
    temperature : number, array or quantity, optional
        Of the wall before the cloth is laid [K]; None: that of what is behind the hole. Above the liquid a
        wall in the sun is warmer than the contents.
    inside_heat_transfer : number, array or quantity, optional
        From the contents to the wall [W/m2/K]; None: 10 for vapor, 500 for liquid and mixture, assumed.

    Raises
    ------
    InputError, OutOfRangeError

    Examples
    --------
    >>> float(MetalWall(thickness=0.012).thickness)
    0.012
    """

    thickness: QuantityLike = quantity("m", "thickness of the wall", default=0.008)
    conductivity: QuantityLike = quantity("W/m/K", "thermal conductivity", default=50.0)
    heat_capacity: QuantityLike = quantity("J/m**3/K", "heat capacity of a volume", default=3.6e6)
    temperature: QuantityLike | None = quantity("K", "before the cloth is laid", default=None)
    inside_heat_transfer: QuantityLike | None = quantity("W/m**2/K", "from the contents", default=None)
    provenance: Provenance = plain("where the numbers come from", default=Provenance("wall as given"))

    def __post_init__(self) -> None:
        """Turn every number into SI and check it."""
        taken = {}
        for name, (unit, lower, upper, why) in _WALL.items():
            taken[name] = to_si(getattr(self, name), unit, name, lower=lower, upper=upper, why=why)
        if self.temperature is not None:
            taken["temperature"] = to_si(
                self.temperature,
                "K",
                "temperature of the wall",
                lower=100.0,
                upper=500.0,
                why="a tank's wall",
            )
        if self.inside_heat_transfer is not None:
            taken["inside_heat_transfer"] = to_si(
                self.inside_heat_transfer, "W/m**2/K", "inside_heat_transfer", lower=0.0
            )
        for name, value in taken.items():
            object.__setattr__(self, name, value)
        broadcast(**taken)


def edge_heat(
    excess: FloatArray,
    radius: FloatArray,
    *,
    thickness: FloatArray,
    conductivity: FloatArray,
    heat_transfer: FloatArray,
) -> FloatArray:
    """Heat that a large thin wall conducts into the edge of a disc of it that is kept colder.

    Parameters
    ----------
    excess : ndarray
        Temperature of the wall far away over that of the disc [K].
    radius : ndarray
        Of the disc, R [m].
    thickness, conductivity : ndarray
        Of the wall, delta [m] and k [W/m/K].
    heat_transfer : ndarray
        Both sides of the wall together, h [W/m2/K], above 0.

    Returns
    -------
    ndarray
        Q = 2 pi R delta k m (T - T_0) K1(m R)/K0(m R), m = sqrt(h/(k delta)) [W].

    Notes
    -----
    The annular fin, its outer radius far away: the wall keeps its temperature where the sides feed it.

    References
    ----------
    incropera2011fundamentals, section 3.6.4 (annular fins; from memory).

    Examples
    --------
    >>> heat = edge_heat(20.0, 0.05, thickness=0.008, conductivity=50.0, heat_transfer=25.0)
    >>> round(float(heat), 1)
    39.1
    """
    m = np.sqrt(heat_transfer / (conductivity * thickness))
    x = m * radius
    ratio = bessel_k1(x) / bessel_k0(x)
    heat: FloatArray = 2.0 * np.pi * x * thickness * conductivity * excess * ratio
    return heat


def bessel_k0(x: FloatArray) -> FloatArray:
    """Return the modified Bessel function K0, times exp(x) for x above 2, of x > 0, to 2e-7 [-].

    Notes
    -----
    References: abramowitz1964handbook, 9.8.1, 9.8.5 and 9.8.6.

    Examples
    --------
    >>> round(float(bessel_k0(1.0)), 6)
    0.421024
    """
    low = np.minimum(x, 2.0)
    y = 0.25 * low * low
    small = -np.log(0.5 * low) * _i0(low) + _horner(
        y, -0.57721566, 0.42278420, 0.23069756, 0.03488590, 0.00262698, 0.00010750, 0.00000740
    )
    z = 2.0 / np.maximum(x, 2.0)
    large = _horner(z, 1.25331414, -0.07832358, 0.02189568, -0.01062446, 0.00587872, -0.00251540, 0.00053208)
    return np.where(x <= 2.0, small, large / np.sqrt(np.maximum(x, 2.0)))


def bessel_k1(x: FloatArray) -> FloatArray:
    """Return the modified Bessel function K1, times exp(x) for x above 2, of x > 0, to 3e-7 [-].

    Notes
    -----
    References: abramowitz1964handbook, 9.8.3, 9.8.7 and 9.8.8.

    Examples
    --------
    >>> round(float(bessel_k1(1.0)), 6)
    0.601907
    """
    low = np.minimum(x, 2.0)
    y = 0.25 * low * low
    small = (
        np.log(0.5 * low) * _i1(low)
        + _horner(y, 1.0, 0.15443144, -0.67278579, -0.18156897, -0.01919402, -0.00110404, -0.00004686) / low
    )
    z = 2.0 / np.maximum(x, 2.0)
    large = _horner(z, 1.25331414, 0.23498619, -0.03655620, 0.01504268, -0.00780353, 0.00325614, -0.00068245)
    return np.where(x <= 2.0, small, large / np.sqrt(np.maximum(x, 2.0)))


def _i0(x: FloatArray) -> FloatArray:
    t = (x / 3.75) * (x / 3.75)
    return _horner(t, 1.0, 3.5156229, 3.0899424, 1.2067492, 0.2659732, 0.0360768, 0.0045813)


def _i1(x: FloatArray) -> FloatArray:
    t = (x / 3.75) * (x / 3.75)
    series = _horner(t, 0.5, 0.87890594, 0.51498869, 0.15084934, 0.02658733, 0.00301532, 0.00032411)
    return x * series


def _horner(x: FloatArray, *coefficients: float) -> FloatArray:
    """Return the polynomial with `coefficients` in rising order."""
    total = np.full_like(np.asarray(x, dtype=np.float64), coefficients[-1])
    for coefficient in coefficients[-2::-1]:
        total = total * x + coefficient
    return total
