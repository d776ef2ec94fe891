"""Transmissivity of moist air to the heat of a flame."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.weather import Weather, water_vapor_pressure

__all__ = ["transmissivity_bagster", "transmissivity_wayne", "wayne_coefficients"]

_PASCAL_PER_MILLIMETER: Final = 133.322
_SHORTEST, _LONGEST = 1.0, 1000.0
_WATER_VERTEX = -0.01171 / (2.0 * 0.02368)
"""Below this logarithm Wayne's term of water vapor would fall again; there it is held."""


def transmissivity_bagster(water_vapor_pressure: FloatArray, path: FloatArray) -> FloatArray:
    """Transmissivity of air by its water vapor alone.

    Parameters
    ----------
    water_vapor_pressure : float or ndarray
        Partial pressure p of water in the air [Pa].
    path : float or ndarray
        Length X of the way through the air [m].

    Notes
    -----
    tau = 2.02 (p X)^-0.09, for 1e4 < p X < 1e5 Pa m; shorter ways are taken to lose nothing where the
    formula would exceed 1. References: bagster1989thermal, from memory; bosch2005methods, chapter 6, from
    memory.

    Examples
    --------
    >>> f"{transmissivity_bagster(1580.0, 65.6):.3f}"
    '0.714'
    """
    crossed = np.maximum(np.multiply(water_vapor_pressure, path), np.finfo(float).tiny)
    return np.minimum(2.02 * np.exp(-0.09 * np.log(crossed)), 1.0)


def wayne_coefficients(weather: Weather) -> tuple[FloatArray, FloatArray]:
    """Decimal logarithms of Wayne's amounts of water vapor and carbon dioxide in 1 m of air."""
    T = np.asarray(weather.air_temperature, dtype=float)
    millimeters = water_vapor_pressure(T, weather.relative_humidity) / _PASCAL_PER_MILLIMETER
    water = np.log10(np.maximum(millimeters * 288.651 / T, 1e-9))
    return water, np.log10(273.0 / T)


def transmissivity_wayne(water: FloatArray, carbon_dioxide: FloatArray, path: FloatArray) -> FloatArray:
    """Transmissivity of air by water vapor and carbon dioxide to a black flame of 1500 K.

    Parameters
    ----------
    water, carbon_dioxide : ndarray
        From :func:`wayne_coefficients`.
    path : ndarray
        Length L of the way through the air [m]; the values at 1 m and at 1000 m are held beyond.

    Notes
    -----
    tau = 1.006 - 0.01171 log X_w - 0.02368 (log X_w)^2 - 0.03188 log X_c + 0.001164 (log X_c)^2, logarithms
    to base 10, X_w = RH L S 288.651/T with S the saturation pressure in mmHg, X_c = 273 L/T, at 330 ppm of
    carbon dioxide. Made for 10 to 1000 m. Where X_w is so small that its terms would turn round (0.6 mmHg m
    or less), they are held at their largest, and tau never exceeds 1.
    References: wayne1991formula, from memory.

    Examples
    --------
    >>> water, carbon_dioxide = wayne_coefficients(Weather(air_temperature=293.15, relative_humidity=0.5))
    >>> for path in (10.0, 100.0):
    ...     print(f"{path:.0f} m: {transmissivity_wayne(water, carbon_dioxide, np.array(path)):.3f}")
    10 m: 0.865
    100 m: 0.709
    """
    length = np.log(np.minimum(np.maximum(path, _SHORTEST), _LONGEST)) * (1.0 / math.log(10.0))
    w = np.maximum(water + length, _WATER_VERTEX)
    c = carbon_dioxide + length
    tau = 1.006 - w * (0.01171 + 0.02368 * w) - c * (0.03188 - 0.001164 * c)
    return np.minimum(tau, 1.0)
