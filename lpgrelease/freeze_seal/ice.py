"""Ice and water: the properties a frozen plug needs, how fast it grows and melts, what it carries.

Plain functions of SI floats or arrays: elementwise, broadcasting, without checks, fit for inner
loops. The arguments of each are physical lengths, temperatures [K] and pressures [Pa]; where an
answer does not exist the functions return infinity (never freezes, never melts), not NaN.

Strengths of ice scatter widely. Each is kept here as the low and the high end of a published range;
a plug is judged by the low end, lowered further by :func:`scatter_reduction`.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from lpgrelease.constants import FREEZING_POINT_OF_WATER, Constant
from lpgrelease.quantities import FloatArray

__all__ = [
    "bending_pressure",
    "blister_pressure",
    "freezing_heat",
    "freezing_time",
    "frozen_cloth_conductivity",
    "largest_ice_thickness",
    "melting_flux",
    "melting_time",
    "scatter_reduction",
    "water_surface_tension",
]

WATER_DENSITY: Final = Constant(
    999.8, "density of water at 0 degC", "kg/m**3", "haynes2014handbook, from memory", 0.1
)
WATER_HEAT_CAPACITY: Final = Constant(
    4200.0,
    "heat capacity of water, mean of 0 to 30 degC",
    "J/kg/K",
    "haynes2014handbook, from memory",
    20.0,
)
ICE_HEAT_CAPACITY: Final = Constant(
    2050.0, "isobaric heat capacity of ice at -10 degC", "J/kg/K", "haynes2014handbook, from memory", 60.0
)
ICE_CONDUCTIVITY: Final = Constant(
    2.2,
    "thermal conductivity of ice at 0 degC; tables give 1.9 to 2.3",
    "W/m/K",
    "slack1980ice, from memory",
    0.15,
)
ICE_LATENT_HEAT: Final = Constant(
    333.4e3, "latent heat of melting of ice at 0 degC", "J/kg", "feistel2006ice, from memory", 0.2e3
)
ICE_POISSON_RATIO: Final = Constant(
    0.33, "Poisson's ratio of polycrystalline ice", "", "gold1977ice, from memory", 0.03
)

ICE_TENSILE_STRENGTH: Final = (
    Constant(0.7e6, "tensile strength of ice, -10 to -20 degC, low end", "Pa", "petrovic2003ice, abstract"),
    Constant(3.1e6, "tensile strength of ice, -10 to -20 degC, high end", "Pa", "petrovic2003ice, abstract"),
)
ICE_FRACTURE_TOUGHNESS: Final = (
    Constant(50e3, "fracture toughness of ice, low end", "Pa*m**0.5", "petrovic2003ice, abstract"),
    Constant(150e3, "fracture toughness of ice, high end", "Pa*m**0.5", "petrovic2003ice, abstract"),
)
ICE_WEIBULL_MODULUS: Final = Constant(
    5.0, "Weibull modulus of the strength of ice", "", "petrovic2003ice, abstract"
)
ICE_ADHESION: Final = (
    Constant(0.1e6, "shear adhesion of ice, low end", "Pa", "makkonen2012adhesion, from memory"),
    Constant(1.0e6, "shear adhesion of ice, high end", "Pa", "makkonen2012adhesion, from memory"),
)
"""To metal or paint. One measured set inside it: 0.28 +- 0.08 MPa for ice frozen from bulk water on
aluminum, 0.78 +- 0.10 MPa for precipitation ice (ronneberg2019adhesion, abstract)."""


def water_surface_tension(temperature: ArrayLike) -> FloatArray:
    """Surface tension of water against its vapor or air.

    Parameters
    ----------
    temperature : array_like
        [K], 248 to 647.

    Returns
    -------
    float or ndarray
        Surface tension [N/m].

    Notes
    -----
    sigma = B tau^mu (1 + b tau), tau = 1 - T/T_c, with B 0.2358 N/m, b -0.625, mu 1.256 and
    T_c 647.096 K.

    References
    ----------
    iapws2014surface (coefficients from memory; the table there gives 75.65 mN/m at 0.01 degC).

    Examples
    --------
    >>> round(float(water_surface_tension(293.15)), 5)
    0.07274
    """
    tau = 1.0 - np.asarray(temperature, dtype=np.float64) / 647.096
    return 0.2358 * np.power(tau, 1.256) * (1.0 - 0.625 * tau)


def frozen_cloth_conductivity(porosity: ArrayLike) -> FloatArray:
    """Conductivity across a cloth whose pores are full of ice.

    Parameters
    ----------
    porosity : array_like
        Ice fraction by volume, 0 to 1.

    Returns
    -------
    float or ndarray
        [W/m/K].

    Notes
    -----
    k = k_ice phi / (2 - phi): fibers lie as cylinders across the heat flow and are taken not to conduct,
    so this is a low estimate.

    References
    ----------
    rayleigh1892obstacles (dilute cylinders; from memory).

    Examples
    --------
    >>> round(float(frozen_cloth_conductivity(0.9)), 3)
    1.8
    """
    phi = np.asarray(porosity, dtype=np.float64)
    return ICE_CONDUCTIVITY * phi / (2.0 - phi)


def freezing_heat(cold_temperature: ArrayLike, water_temperature: ArrayLike) -> FloatArray:
    """Heat to take from each kilogram of water to freeze it onto a cold face.

    Parameters
    ----------
    cold_temperature : array_like
        Temperature of the cold face [K]; above the freezing point counts as at it.
    water_temperature : array_like
        Temperature of the water before [K], at or above its freezing point.

    Returns
    -------
    float or ndarray
        [J/kg].

    Notes
    -----
    L_e = L + c_w (T_0 - T_f) + c_i (T_f - T_s)/3. One third is what the exact solution of Neumann
    asks for at small Stefan number (the ice cools as it grows, near the cold face first); the water's
    own heat is counted in full, which is too much by up to a tenth, on the slow side.

    Examples
    --------
    >>> round(float(freezing_heat(231.05, 300.15)) / 1e3, 1)
    475.6
    """
    cold = np.maximum(FREEZING_POINT_OF_WATER - np.asarray(cold_temperature, dtype=np.float64), 0.0)
    warm = np.asarray(water_temperature, dtype=np.float64) - FREEZING_POINT_OF_WATER
    return ICE_LATENT_HEAT + WATER_HEAT_CAPACITY * warm + ICE_HEAT_CAPACITY * cold / 3.0


def melting_flux(outside_temperature: ArrayLike, heat_transfer: ArrayLike) -> FloatArray:
    """Heat that the air brings to melting ice.

    Parameters
    ----------
    outside_temperature : array_like
        Of the air [K].
    heat_transfer : array_like
        From the air, radiation included [W/m2/K].

    Returns
    -------
    float or ndarray
        h (T_a - T_f) [W/m2]; none in freezing air.

    Examples
    --------
    >>> float(melting_flux(300.15, 15.0))
    405.0
    """
    warmer = np.maximum(np.asarray(outside_temperature, dtype=np.float64) - FREEZING_POINT_OF_WATER, 0.0)
    flux: FloatArray = np.asarray(heat_transfer, dtype=np.float64) * warmer
    return flux


def largest_ice_thickness(
    cold_temperature: ArrayLike,
    outside_temperature: ArrayLike,
    *,
    heat_transfer: ArrayLike,
    conductivity: ArrayLike,
) -> FloatArray:
    """Thickness at which ice on a cold face stops growing because the air outside brings as much heat.

    Parameters
    ----------
    cold_temperature, outside_temperature : array_like
        Of the cold face and of the air [K].
    heat_transfer : array_like
        From the air, radiation included [W/m2/K].
    conductivity : array_like
        Of the ice [W/m/K].

    Returns
    -------
    float or ndarray
        X_m = k (T_f - T_s)/(h (T_a - T_f)) [m]: 0 where the face is not below freezing, infinite in
        freezing air.

    Examples
    --------
    >>> round(float(largest_ice_thickness(231.05, 300.15, heat_transfer=15.0, conductivity=2.2)), 4)
    0.2287
    """
    cold = np.maximum(FREEZING_POINT_OF_WATER - np.asarray(cold_temperature, dtype=np.float64), 0.0)
    gain = np.asarray(heat_transfer) * np.maximum(
        np.asarray(outside_temperature) - FREEZING_POINT_OF_WATER, 0.0
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        grown = np.asarray(conductivity) * cold / gain
    return np.where(cold > 0.0, np.where(gain > 0.0, grown, np.inf), 0.0)


def freezing_time(
    thickness: ArrayLike,
    cold_temperature: ArrayLike,
    outside_temperature: ArrayLike,
    *,
    heat_transfer: ArrayLike,
    conductivity: ArrayLike,
    volumetric_heat: ArrayLike,
) -> FloatArray:
    """Time for ice to grow from a cold face through a wet layer whose far side the air warms (Stefan).

    Parameters
    ----------
    thickness : array_like
        Of the layer, X [m].
    cold_temperature, outside_temperature : array_like
        Of the cold face and of the air [K].
    heat_transfer, conductivity : array_like
        As for :func:`largest_ice_thickness`.
    volumetric_heat : array_like
        Heat to take from each cubic meter of layer [J/m3]; see :func:`freezing_heat`.

    Returns
    -------
    float or ndarray
        [s]; infinite where the ice would stop growing before it is through.

    Notes
    -----
    t = (q/(h T_a)) (-X - X_m ln(1 - X/X_m)), T_a and T_s counted from freezing, quasi-steady. Written
    as q X^2/(k |T_s|) G(X/X_m) with G(u) = (-u - ln(1 - u))/u^2, which tends to 1/2 as the air's heat
    vanishes: the time of Stefan, t = q X^2/(2 k |T_s|). In freezing air that value is kept: a slow
    estimate. Quasi-steady growth needs c_i |T_s|/L well below one (0.26 for propane).

    References
    ----------
    stefan1891ice for the law without convection; the rest follows from a heat balance.

    Examples
    --------
    >>> round(float(freezing_time(0.02, 231.05, 300.15, heat_transfer=15.0, conductivity=2.2,
    ...                           volumetric_heat=4.585e8)))
    1052
    """
    X = np.asarray(thickness, dtype=np.float64)
    cold = np.maximum(FREEZING_POINT_OF_WATER - np.asarray(cold_temperature, dtype=np.float64), 0.0)
    limit = largest_ice_thickness(
        cold_temperature, outside_temperature, heat_transfer=heat_transfer, conductivity=conductivity
    )
    grows = limit > X
    with np.errstate(divide="ignore", invalid="ignore"):
        u = np.where(grows, X / limit, 0.0)
        thin = np.asarray(volumetric_heat) * X * X / (np.asarray(conductivity) * cold)
    time: FloatArray = np.where(grows, thin * _growth_factor(u), np.inf)
    return time


def _growth_factor(u: FloatArray) -> FloatArray:
    """G(u) = (-u - ln(1 - u))/u^2, by its series where the difference would lose digits."""
    series = 0.5 + u * (1 / 3 + u * (0.25 + u * (0.2 + u * (1 / 6 + u / 7))))
    with np.errstate(divide="ignore", invalid="ignore"):
        closed = (-u - np.log1p(-u)) / (u * u)
    return np.where(u < 3e-3, series, closed)


def melting_time(
    thickness: ArrayLike,
    outside_temperature: ArrayLike,
    *,
    heat_transfer: ArrayLike,
    volumetric_heat: ArrayLike,
) -> FloatArray:
    """Time for the air to melt a layer of ice off its outer face, the ice being at its melting point.

    Parameters
    ----------
    thickness : array_like
        Of the ice [m].
    outside_temperature : array_like
        Of the air [K].
    heat_transfer : array_like
        From the air, radiation included [W/m2/K].
    volumetric_heat : array_like
        Latent heat in each cubic meter [J/m3].

    Returns
    -------
    float or ndarray
        q X/(h (T_a - T_f)) [s]; infinite in freezing air. Colder ice lasts longer.

    Examples
    --------
    >>> round(float(melting_time(0.01, 300.15, heat_transfer=15.0, volumetric_heat=3.06e8)) / 3600, 2)
    2.1
    """
    gain = np.asarray(heat_transfer) * np.maximum(
        np.asarray(outside_temperature) - FREEZING_POINT_OF_WATER, 0.0
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        time = np.asarray(volumetric_heat) * np.asarray(thickness) / gain
    return np.where(gain > 0.0, time, np.inf)


def scatter_reduction(failure_probability: ArrayLike) -> FloatArray:
    """Strength at a small probability of failure, over the median strength, for ice.

    Parameters
    ----------
    failure_probability : array_like
        0 to 1, both excluded.

    Returns
    -------
    float or ndarray
        (-ln(1 - P)/ln 2)^(1/m) with Weibull's modulus m = 5.

    References
    ----------
    petrovic2003ice, abstract, for the modulus (of strength in bulk; used here for bonds too).

    Examples
    --------
    >>> round(float(scatter_reduction(1e-3)), 3)
    0.27
    """
    P = np.asarray(failure_probability, dtype=np.float64)
    ratio: FloatArray = np.power(-np.log1p(-P) / np.log(2.0), 1.0 / ICE_WEIBULL_MODULUS)
    return ratio


def bending_pressure(thickness: ArrayLike, radius: ArrayLike, strength: ArrayLike) -> FloatArray:
    """Pressure at which a round plate of ice, held at its edge without clamping, cracks in bending.

    Parameters
    ----------
    thickness, radius : array_like
        Of the plate, h and c [m].
    strength : array_like
        Tensile strength [Pa].

    Returns
    -------
    float or ndarray
        p = 8 s h^2/(3 (3 + nu) c^2) [Pa].

    References
    ----------
    timoshenko1959plates (simply supported circular plate, uniform load; from memory).

    Examples
    --------
    >>> round(float(bending_pressure(0.02, 0.0425, 0.19e6)))
    33695
    """
    h, c = np.asarray(thickness, dtype=np.float64), np.asarray(radius, dtype=np.float64)
    return 8.0 * np.asarray(strength) * h * h / (3.0 * (3.0 + ICE_POISSON_RATIO) * c * c)


def blister_pressure(thickness: ArrayLike, radius: ArrayLike, toughness: ArrayLike) -> FloatArray:
    """Pressure that peels an ice layer further from a wall, starting at a round unbonded patch.

    Parameters
    ----------
    thickness, radius : array_like
        Of the ice, h, and of the patch under pressure, c [m].
    toughness : array_like
        Fracture toughness K of the bond [Pa m^0.5]; that of ice itself where the bond is the stronger.

    Returns
    -------
    float or ndarray
        [Pa].

    Notes
    -----
    G = ((1 - nu^2)/E) p^2 c [(3/32) ((c/h)^3 + 4 (c/h)/(1 - nu)) + 2/pi] with G = K^2 (1 - nu^2)/E, so
    E drops out. The cube is the clamped thin plate, 2/pi the crack in a half-space, the middle term shear.
    The wall is taken as stiff. Bonds of ice to clean metal break in the ice (raraty1958adhesion), but
    near the melting point they break at the wall at less energy (andrews1983ice): hold the plug cold.

    References
    ----------
    andrews1978blister (the formula, from memory; both limits were derived again), andrews1983ice.

    Examples
    --------
    >>> round(float(blister_pressure(0.02, 0.0425, 50e3)))
    146908
    """
    h, c = np.asarray(thickness, dtype=np.float64), np.asarray(radius, dtype=np.float64)
    with np.errstate(divide="ignore"):
        s = c / h
        shape = (3.0 / 32.0) * (s * s * s + 4.0 * s / (1.0 - ICE_POISSON_RATIO)) + 2.0 / np.pi
        pressure: FloatArray = np.asarray(toughness, dtype=np.float64) / np.sqrt(c * shape)
    return pressure
