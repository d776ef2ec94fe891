"""Ice and water: the properties a frozen plug needs, how fast it grows and melts.

Plain functions of SI floats or arrays: elementwise, broadcasting, without checks, fit for inner
loops. The arguments of each are physical lengths, temperatures [K] and powers; where an answer does
not exist the functions return infinity (never freezes, never melts), not NaN. What ice carries is in
`lpgrelease.freeze_seal.strength`, what salt changes in `lpgrelease.freeze_seal.salt`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from lpgrelease.constants import (
    FREEZING_POINT_OF_WATER,
    ICE_CONDUCTIVITY,
    ICE_HEAT_CAPACITY,
    ICE_LATENT_HEAT,
    WATER_HEAT_CAPACITY,
)
from lpgrelease.quantities import FloatArray

__all__ = [
    "freezing_heat",
    "freezing_time",
    "frozen_cloth_conductivity",
    "largest_ice_thickness",
    "melting_flux",
    "melting_time",
    "water_surface_tension",
]


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


def _below(temperature: ArrayLike, freezing_temperature: ArrayLike) -> FloatArray:
    """Kelvin below freezing, 0 above it."""
    cold: FloatArray = np.maximum(
        np.asarray(freezing_temperature) - np.asarray(temperature, dtype=np.float64), 0.0
    )
    return cold


def _above(temperature: ArrayLike, freezing_temperature: ArrayLike) -> FloatArray:
    """Kelvin above freezing, 0 below it."""
    warm: FloatArray = np.maximum(
        np.asarray(temperature, dtype=np.float64) - np.asarray(freezing_temperature), 0.0
    )
    return warm


def freezing_heat(
    cold_temperature: ArrayLike,
    water_temperature: ArrayLike,
    *,
    freezing_temperature: ArrayLike = float(FREEZING_POINT_OF_WATER),
) -> FloatArray:
    """Heat to take from each kilogram of water to freeze it onto a cold face.

    Parameters
    ----------
    cold_temperature : array_like
        Temperature of the cold face [K]; above the freezing point counts as at it.
    water_temperature : array_like
        Temperature of the water before [K], at or above its freezing point.
    freezing_temperature : array_like
        Of the water [K]; salt lowers it.

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
    cold = _below(cold_temperature, freezing_temperature)
    warm = _above(water_temperature, freezing_temperature)
    return ICE_LATENT_HEAT + WATER_HEAT_CAPACITY * warm + ICE_HEAT_CAPACITY * cold / 3.0


def melting_flux(
    outside_temperature: ArrayLike,
    heat_transfer: ArrayLike,
    *,
    freezing_temperature: ArrayLike = float(FREEZING_POINT_OF_WATER),
) -> FloatArray:
    """Heat that the air brings to melting ice.

    Parameters
    ----------
    outside_temperature : array_like
        Of the air [K].
    heat_transfer : array_like
        From the air, radiation included [W/m2/K].
    freezing_temperature : array_like
        Of the water [K]; salt lowers it.

    Returns
    -------
    float or ndarray
        h (T_a - T_f) [W/m2]; none in freezing air.

    Examples
    --------
    >>> float(melting_flux(300.15, 15.0))
    405.0
    """
    warmer = _above(outside_temperature, freezing_temperature)
    flux: FloatArray = np.asarray(heat_transfer, dtype=np.float64) * warmer
    return flux


def largest_ice_thickness(
    cold_temperature: ArrayLike,
    outside_temperature: ArrayLike,
    *,
    heat_transfer: ArrayLike,
    conductivity: ArrayLike,
    freezing_temperature: ArrayLike = float(FREEZING_POINT_OF_WATER),
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
    freezing_temperature : array_like
        Of the water [K]; salt lowers it.

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
    cold = _below(cold_temperature, freezing_temperature)
    gain = melting_flux(outside_temperature, heat_transfer, freezing_temperature=freezing_temperature)
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
    freezing_temperature: ArrayLike = float(FREEZING_POINT_OF_WATER),
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
    freezing_temperature : array_like
        Of the water [K]; salt lowers it.

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
    cold = _below(cold_temperature, freezing_temperature)
    limit = largest_ice_thickness(
        cold_temperature,
        outside_temperature,
        heat_transfer=heat_transfer,
        conductivity=conductivity,
        freezing_temperature=freezing_temperature,
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
    with np.errstate(invalid="ignore"):
        closed = (-u - np.log1p(-u)) / (u * u)
    return np.where(u < 3e-3, series, closed)


def melting_time(
    thickness: ArrayLike,
    outside_temperature: ArrayLike,
    *,
    heat_transfer: ArrayLike,
    volumetric_heat: ArrayLike,
    freezing_temperature: ArrayLike = float(FREEZING_POINT_OF_WATER),
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
    freezing_temperature : array_like
        Of the water [K]; salt lowers it.

    Returns
    -------
    float or ndarray
        q X/(h (T_a - T_f)) [s]; infinite in freezing air. Colder ice lasts longer.

    Examples
    --------
    >>> round(float(melting_time(0.01, 300.15, heat_transfer=15.0, volumetric_heat=3.06e8)) / 3600, 2)
    2.1
    """
    gain = melting_flux(outside_temperature, heat_transfer, freezing_temperature=freezing_temperature)
    with np.errstate(divide="ignore", invalid="ignore"):
        time = np.asarray(volumetric_heat) * np.asarray(thickness) / gain
    return np.where(gain > 0.0, time, np.inf)
