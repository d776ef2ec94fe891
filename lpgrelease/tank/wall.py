"""The wall of a tank in two parts: wetted by boiling liquid, and dry, over vapor that hardly cools it.

Plain functions of SI arrays, elementwise and unchecked, for inner loops: coefficients inside, layers outside,
conduction along the metal from the dry wall to the wetted one, and the numbers that tell when one temperature
for everything is enough.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np

from lpgrelease.constants import STANDARD_GRAVITY
from lpgrelease.quantities import FloatArray
from lpgrelease.tank.shapes import HorizontalTank, Tank
from lpgrelease.weather import OutsideExchange

__all__ = [
    "HIGHEST_BOILING",
    "EquilibriumNumbers",
    "boiling_coefficient",
    "boiling_flux",
    "conduction_to_wetted_wall",
    "equilibrium_numbers",
    "free_convection_coefficient",
    "layer_resistance",
    "skin_temperature",
    "waterline",
]

_SKIN_STEPS: Final = 4
HIGHEST_BOILING: Final = 0.9
"""Reduced pressure up to which the law of boiling holds; it grows without bound towards 1."""


def boiling_coefficient(
    flux: FloatArray, reduced_pressure: FloatArray, molar_mass: FloatArray, *, roughness: float = 1.0
) -> FloatArray:
    """Coefficient of nucleate pool boiling [W/m2/K].

    Parameters
    ----------
    flux : float or ndarray
        Heat flux into the liquid, q [W/m2]; a bare wall gives some hundred, far below the peak of some 1e5.
    reduced_pressure : float or ndarray
        p_r, 0.001 to 0.9 (`HIGHEST_BOILING`).
    molar_mass : float or ndarray
        [kg/mol].
    roughness : float
        R_p [um]; 1 where it is not known.

    Notes
    -----
    h = 55 p_r^(0.12 - 0.2 log10 R_p) (-log10 p_r)^-0.55 M^-0.5 q^0.67, M in g/mol.
    References: cooper1984boiling.

    Examples
    --------
    >>> print(f"{boiling_coefficient(1000.0, 0.2, 0.0441):.0f} W/m2/K")
    851 W/m2/K
    """
    return _boiling_factor(reduced_pressure, molar_mass, roughness) * np.power(flux, 0.67)


def boiling_flux(
    superheat: FloatArray, reduced_pressure: FloatArray, molar_mass: FloatArray, *, roughness: float = 1.0
) -> FloatArray:
    """Heat flux from a wall into a boiling pool [W/m2]: :func:`boiling_coefficient` solved for the flux.

    Parameters
    ----------
    superheat : float or ndarray
        Of the wall over the liquid [K]; 0 where the wall is colder.

    Notes
    -----
    q = (c dT)^(1 / 0.33).

    Examples
    --------
    >>> print(f"{boiling_flux(1000.0 / 850.7, 0.2, 0.0441):.0f}")
    1000
    """
    factor = _boiling_factor(reduced_pressure, molar_mass, roughness)
    return np.power(factor * np.maximum(superheat, 0.0), 1.0 / 0.33)


def _boiling_factor(p_r: FloatArray, molar_mass: FloatArray, roughness: float) -> FloatArray:
    exponent = 0.12 - 0.2 * math.log10(roughness)
    steep = np.power(-np.log10(p_r), -0.55)
    return 55.0 * np.power(p_r, exponent) * steep / np.sqrt(np.multiply(1000.0, molar_mass))


def free_convection_coefficient(
    difference: FloatArray,
    height: FloatArray,
    *,
    temperature: FloatArray,
    density: FloatArray,
    viscosity: FloatArray,
    conductivity: FloatArray,
    heat_capacity: FloatArray,
    expansion: FloatArray | None = None,
) -> FloatArray:
    """Coefficient of free convection on an upright wall, mean over its height [W/m2/K].

    For the vapor over the liquid, and for liquid that does not boil.

    Parameters
    ----------
    difference : float or ndarray
        Between wall and fluid [K], of either sign.
    height : float or ndarray
        Of the wall that the fluid touches, L [m].
    temperature, density, viscosity, conductivity, heat_capacity : float or ndarray
        Of the fluid [K], [kg/m3], [Pa s], [W/m/K], [J/kg/K].
    expansion : float or ndarray, optional
        Volume expansion [1/K]; None: that of an ideal gas, 1 / T. Dense vapor expands more.

    Notes
    -----
    Nu = {0.825 + 0.387 Ra^(1/6) [1 + (0.492/Pr)^(9/16)]^(-8/27)}^2, Ra up to 1e12; beyond it keeps to
    Ra^(1/3). Under a curved top, warm vapor lies still: there this is an upper bound.
    References: churchill1975plate; incropera2011fundamentals, Eq. 9.26.

    Examples
    --------
    >>> h = free_convection_coefficient(20.0, 1.0, temperature=250.0, density=2.3, viscosity=6.9e-6,
    ...     conductivity=0.0135, heat_capacity=1500.0)
    >>> print(f"{h:.1f} W/m2/K")
    6.3 W/m2/K
    """
    beta = np.divide(1.0, temperature) if expansion is None else expansion
    Pr = heat_capacity * viscosity / conductivity
    grashof = float(STANDARD_GRAVITY) * beta * np.abs(difference) * np.square(density / viscosity)
    Ra = grashof * (height * height * height) * Pr
    factor = 0.387 / np.power(1.0 + np.power(0.492 / Pr, 9.0 / 16.0), 8.0 / 27.0)
    root = 0.825 + factor * np.cbrt(np.sqrt(Ra))
    return root * root * conductivity / height


def layer_resistance(thickness: FloatArray, conductivity: FloatArray, diameter: FloatArray) -> FloatArray:
    """Resistance of insulation around a cylinder, on the area of the wall below it [m2 K/W].

    Resistances of layers in series add up; a thin jacket adds none, but its paint is what the weather sees.

    Notes
    -----
    R = D / (2 k) ln(1 + 2 t / D). References: incropera2011fundamentals, section 3.3.

    Examples
    --------
    >>> print(f"{layer_resistance(0.1, 0.035, 2.4):.3f}")
    2.744
    """
    return diameter / (2.0 * conductivity) * np.log1p(2.0 * thickness / diameter)


def skin_temperature(
    exchange: OutsideExchange, wall_temperature: FloatArray, resistance: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Outside temperature of an insulated wall [K], and the heat flux into the wall [W/m2].

    Parameters
    ----------
    exchange : OutsideExchange
        Prepared for the outside of the insulation: its diameter and paint.
    wall_temperature : float or ndarray
        T_w [K].
    resistance : float or ndarray
        Of all layers, R [m2 K/W], on the wall's area; 0 gives the bare wall.

    Notes
    -----
    T_s - T_w = R q(T_s), by a fixed number of steps of Newton's method. The outside area is taken as that of
    the wall.

    Examples
    --------
    >>> from lpgrelease import Weather
    >>> exchange = OutsideExchange.prepare(Weather(), 2.6)
    >>> skin, flux = skin_temperature(exchange, 231.0, 2.745)
    >>> print(f"{skin:.1f} K, {flux:.1f} W/m2")
    288.8 K, 21.1 W/m2
    """
    T_s = exchange.air_temperature
    for _ in range(_SKIN_STEPS):
        h = exchange.convection_coefficient(T_s)
        slope = h + 4.0 * exchange.emitted * (T_s * T_s * T_s)
        off = T_s - wall_temperature - resistance * exchange.heat_flux(T_s)
        T_s = T_s - off / (1.0 + resistance * slope)
    return T_s, exchange.heat_flux(T_s)


def conduction_to_wetted_wall(
    conductivity: FloatArray, thickness: FloatArray, coefficient: FloatArray, length: FloatArray
) -> FloatArray:
    """Heat that comes down the dry wall into the wetted one, per meter of waterline and kelvin [W/m/K].

    Parameters
    ----------
    conductivity, thickness : float or ndarray
        Of the metal, k [W/m/K] and t [m].
    coefficient : float or ndarray
        Of inside and outside together, h [W/m2/K].
    length : float or ndarray
        Of the dry wall from the liquid to the top, ell [m].

    Notes
    -----
    A fin: k t m tanh(m ell), m = sqrt(h / (k t)); per kelvin between the wall far from the liquid and that at
    it.
    References: incropera2011fundamentals, Table 3.4.

    Examples
    --------
    >>> print(f"{conduction_to_wetted_wall(50.0, 0.010, 15.0, 0.8):.2f} W/m/K")
    2.74 W/m/K
    """
    kt = conductivity * thickness
    m = np.sqrt(coefficient / kt)
    return kt * m * np.tanh(m * length)


def waterline(tank: Tank, level: FloatArray) -> FloatArray:
    """Length of the line along which the liquid's surface meets the wall [m].

    Exact for a sphere, a standing tank and a lying one with flat or spheroidal heads (to 0.1 %); for one with
    torispherical heads as if they were spheroidal. For a tilted tank that of a circle of the surface's area,
    which is too short.

    Notes
    -----
    Lying: twice the length and an ellipse as wide as the surface at the tangent line, its perimeter by
    pi (3 (a + b) - sqrt((3 a + b) (a + 3 b))), Ramanujan's (from memory).

    Examples
    --------
    >>> from lpgrelease import SphericalTank
    >>> print(f"{waterline(SphericalTank(diameter=2.0), 1.0):.4f}")
    6.2832
    >>> print(f"{waterline(HorizontalTank(diameter=2.0, length=6.0), 1.0):.3f}")
    16.844
    """
    if not isinstance(tank, HorizontalTank):
        return np.sqrt(4.0 * math.pi * tank.free_surface_at(level))
    a = np.sqrt(np.maximum(level * (tank.diameter - level), 0.0))
    b = 2.0 * tank._head.depth * a
    ends = math.pi * (3.0 * (a + b) - np.sqrt((3.0 * a + b) * (a + 3.0 * b))) if tank._head.depth else 4.0 * a
    return 2.0 * tank.length + ends  # type: ignore[no-any-return]


class EquilibriumNumbers(NamedTuple):
    """How far a tank is from one temperature, each number small where one is enough."""

    wet_lag: FloatArray
    """Wetted wall over the liquid, as a share of the difference from the air."""
    dry_lag: FloatArray
    """Dry wall over the vapor, as a share of the difference from the air."""
    slowness: FloatArray
    """Time in which the dry wall follows over the time in which the tank's temperature changes."""


def equilibrium_numbers(
    outside: FloatArray,
    to_liquid: FloatArray,
    to_vapor: FloatArray,
    *,
    wall_capacity: FloatArray,
    duration: FloatArray,
) -> EquilibriumNumbers:
    """Numbers that tell whether one temperature for liquid, vapor and wall is enough.

    Parameters
    ----------
    outside, to_liquid, to_vapor : float or ndarray
        Coefficients from the air to the wall, and from the wall to liquid and to vapor [W/m2/K].
    wall_capacity : float or ndarray
        Of the wall per area, rho c t [J/m2/K].
    duration : float or ndarray
        Over which the tank's temperature changes [s].

    Notes
    -----
    Lags h_o / (h_o + h_i); slowness rho c t / ((h_o + h_v) duration). A wall that lags gives the liquid more
    or less heat than one that does not, in the proportion of its lag. Where a number is below a tenth, so is
    the error in the heat that part passes. The wetted wall always passes this; the dry wall of a bare tank
    seldom does: it stays near the temperature of the air, and the heat that it passes is smaller than its
    area times the flux at the liquid's temperature by the dry lag.

    Examples
    --------
    >>> numbers = equilibrium_numbers(10.0, 800.0, 8.0, wall_capacity=3.6e4, duration=600.0)
    >>> print(*(f"{n:.2f}" for n in numbers))
    0.01 0.56 3.33
    """
    return EquilibriumNumbers(
        outside / (outside + to_liquid),
        outside / (outside + to_vapor),
        wall_capacity / ((outside + to_vapor) * duration),
    )
