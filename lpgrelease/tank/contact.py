"""Heat from what a tank lies on or stands in: ground, and water.

Plain functions of SI arrays, elementwise and unchecked, for inner loops.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from lpgrelease.constants import FREEZING_POINT_OF_WATER
from lpgrelease.quantities import FloatArray

__all__ = ["ground_contact_flux", "water_contact_flux"]

_FREEZING: Final = float(FREEZING_POINT_OF_WATER)


def ground_contact_flux(
    conductivity: FloatArray,
    diffusivity: FloatArray,
    difference: FloatArray,
    time: FloatArray,
    radius: FloatArray,
) -> FloatArray:
    """Heat flux from the ground into a patch of a tank that lies on it [W/m2].

    Parameters
    ----------
    conductivity, diffusivity : float or ndarray
        Of the ground, k [W/m/K] and a [m2/s].
    difference : float or ndarray
        Of the ground far away over the wall, taken as suddenly applied [K].
    time : float or ndarray
        Since then [s], above 0.
    radius : float or ndarray
        Of the disc of the same area, R [m].

    Notes
    -----
    q = 4 k dT / (pi R) [0.7854 + 0.8863 s + 0.2146 exp(-0.7823 s)], s = R / (2 sqrt(a t)): between the
    half-space of early and the disc of late times, within 0.6 %, the ground around being insulated. Freezing
    moisture is left out.
    References: shoup1982disc (from memory), for a disc that draws on a half-space by diffusion.

    Examples
    --------
    >>> print(f"{ground_contact_flux(1.5, 7e-7, 40.0, 3600.0, 0.5):.0f} W/m2")
    795 W/m2
    """
    s = radius / (2.0 * np.sqrt(diffusivity * time))
    shape = 0.7854 + 0.8863 * s + 0.2146 * np.exp(-0.7823 * s)
    return conductivity * difference * shape * (4.0 / math.pi) / radius


def water_contact_flux(
    coefficient: FloatArray, water_temperature: FloatArray, wall_temperature: FloatArray
) -> FloatArray:
    """Heat flux from water into the part of a tank that stands in it, once its ice has ceased to grow [W/m2].

    Parameters
    ----------
    coefficient : float or ndarray
        Of convection in the water [W/m2/K]: some hundred in still water, a thousand and more in a stream
        (common practice, no source).
    water_temperature, wall_temperature : float or ndarray
        [K].

    Notes
    -----
    q = h (T_water - max(T_wall, 0 degC)): on a wall below freezing ice grows until what it conducts is what
    the water brings to 0 degC; while it grows, the wall takes up the heat of freezing as well.

    Examples
    --------
    >>> print(f"{water_contact_flux(300.0, 283.15, 231.0):.0f} W/m2")
    3000 W/m2
    """
    return coefficient * (water_temperature - np.maximum(wall_temperature, _FREEZING))
