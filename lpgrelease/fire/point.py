"""The oldest model of a flame: a point that radiates alike in all directions."""

from __future__ import annotations

import math

import numpy as np

from lpgrelease.quantities import FloatArray

__all__ = ["point_source_distance", "point_source_flux"]


def point_source_flux(
    radiated_power: FloatArray | float, distance: FloatArray | float, transmissivity: FloatArray | float = 1.0
) -> FloatArray:
    """Heat flux on a surface that faces a radiating point [W/m2].

    Notes
    -----
    q = tau X/(4 pi r^2), X the radiated power, r the distance. References: api2014flares, from memory.

    Examples
    --------
    >>> f"{point_source_flux(1e6, 10.0):.1f}"
    '795.8'
    """
    r = np.asarray(distance)
    flux: FloatArray = np.divide(np.multiply(radiated_power, transmissivity), 4.0 * math.pi * r * r)
    return flux


def point_source_distance(
    radiated_power: FloatArray | float,
    heat_flux: FloatArray | float,
    transmissivity: FloatArray | float = 1.0,
) -> FloatArray:
    """Distance from a radiating point at which a surface that faces it gets a heat flux [m].

    Examples
    --------
    >>> f"{point_source_distance(1e6, 795.8):.2f}"
    '10.00'
    """
    return np.sqrt(
        np.divide(np.multiply(radiated_power, transmissivity), 4.0 * math.pi * np.asarray(heat_flux))
    )
