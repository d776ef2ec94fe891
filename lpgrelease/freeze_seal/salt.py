"""Salt in the cloth's water: it freezes colder, and brine stays between the crystals and weakens the ice.

Plain functions of SI floats or arrays: elementwise, broadcasting, without checks.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from lpgrelease.constants import FREEZING_POINT_OF_WATER
from lpgrelease.quantities import FloatArray

__all__ = ["HIGHEST_SALINITY", "brine_volume", "freezing_point", "saline_reduction"]

HIGHEST_SALINITY: Final = 0.04
"""Upper end of the data for the freezing point, mass fraction of sea salt."""
_COLDEST, _WARMEST = 22.9, 0.5
"""Ends of the range of the brine equation, kelvin below 0 degC."""


def freezing_point(salinity: ArrayLike) -> FloatArray:
    """Temperature at which sea water begins to freeze, at the pressure of the air.

    Parameters
    ----------
    salinity : array_like
        Mass fraction of sea salt, 0 to 0.04 [-]; the sea has about 0.035.

    Returns
    -------
    float or ndarray
        [K].

    Notes
    -----
    T_f = 273.15 - 0.0575 S + 1.710523e-3 S^1.5 - 2.154996e-4 S^2, S in parts per thousand. Table salt and
    road salt lower it by a little more for the same mass.

    References
    ----------
    unesco1983algorithms, p. 29 (coefficients looked up in two public codes that cite it, not in the report).

    Examples
    --------
    >>> round(float(freezing_point(0.035)) - 273.15, 3)
    -1.922
    """
    S = 1e3 * np.asarray(salinity, dtype=np.float64)
    fall = S * (0.0575 - 1.710523e-3 * np.sqrt(S) + 2.154996e-4 * S)
    point: FloatArray = FREEZING_POINT_OF_WATER - fall
    return point


def brine_volume(salinity: ArrayLike, temperature: ArrayLike) -> FloatArray:
    """Volume fraction of the ice that is liquid brine.

    Parameters
    ----------
    salinity : array_like
        Mass fraction of sea salt in the ice [-]; all that was in the water, since a cloth drains little.
    temperature : array_like
        Of the ice [K]. The equation holds from 0.5 to 22.9 K below 0 degC; colder ice is taken at its lower
        end (more brine than true: weak), warmer at its upper.

    Returns
    -------
    float or ndarray
        nu = S (49.185/|t| + 0.532)/1000, S in parts per thousand; at most 1.

    References
    ----------
    frankenstein1967brine.

    Examples
    --------
    >>> round(float(brine_volume(0.005, 263.15)), 4)
    0.0273
    """
    S = 1e3 * np.asarray(salinity, dtype=np.float64)
    t = np.clip(FREEZING_POINT_OF_WATER - np.asarray(temperature, dtype=np.float64), _WARMEST, _COLDEST)
    return np.minimum(S * (49.185 / t + 0.532) / 1e3, 1.0)


def saline_reduction(salinity: ArrayLike, temperature: ArrayLike) -> FloatArray:
    """Strength of ice from salt water over that of ice from fresh water.

    Parameters
    ----------
    salinity, temperature : array_like
        As for :func:`brine_volume`.

    Returns
    -------
    float or ndarray
        exp(-5.88 sqrt(nu)); found for bending of sea ice, used here for toughness and bond too.

    References
    ----------
    timco1994flexural.

    Examples
    --------
    >>> round(float(saline_reduction(0.035, 250.0)), 2)
    0.17
    """
    reduction: FloatArray = np.exp(-5.88 * np.sqrt(brine_volume(salinity, temperature)))
    return reduction
