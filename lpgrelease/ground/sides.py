"""Heat that flows in from the ground beside a cold pool: plain functions of SI arrays."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from lpgrelease.elementwise import larger
from lpgrelease.quantities import FloatArray

__all__ = ["LEAST_POTENTIAL", "side_heat_flux"]

LEAST_POTENTIAL: Final = 1e-12
"""Guards a quotient [W/m]; where there is no potential there is no side heat."""
_LATE: Final = 4.0 / math.pi - 1.0
_DECAY: Final = 0.7823 * math.sqrt(math.pi) / 2.0


def side_heat_flux(flux: FloatArray, potential: FloatArray, radius: FloatArray) -> FloatArray:
    """Mean heat flux that a disc on the ground takes from beside it, beyond that from straight below [W/m2].

    Parameters
    ----------
    flux : ndarray
        From straight below, now [W/m2].
    potential : ndarray
        Integral of the conductivity from the temperature of the ground's surface under the disc to that of
        the undisturbed ground [W/m]; `GroundColumns.potential`. Where it is not positive there is no side
        heat.
    radius : ndarray
        Of the disc [m].

    Notes
    -----
    A disc held at a temperature on a half-space whose other surface is insulated takes
    4 k R dT (0.7854 + 0.8862 x + 0.2146 exp(-0.7823 x)), x = R / (2 sqrt(alpha t)), within 0.6 % for all
    times: found for the current of a disc electrode, whose equations are the same. The middle term is the
    heat from straight below, k dT / sqrt(pi alpha t) per area; here x is taken from it,
    x = flux R sqrt(pi) / (2 k dT), so that no age is needed, and k dT is the potential, so that ground that
    freezes is served too: q_side = (k dT / R) (1 + 0.2732 exp(-0.6933 flux R / (k dT))). Sunshine and air
    warm the ground beside a pool; that heat is left out. References: shoup1982disk, Eq. 3, from memory.

    Examples
    --------
    >>> f"{side_heat_flux(np.array(100.0), np.array(120.0), np.array(2.0)):.1f}"
    '65.2'
    """
    ratio = larger(flux, 0.0) * radius / larger(potential, LEAST_POTENTIAL)
    drive: FloatArray = larger(potential, 0.0) / radius
    return drive * (1.0 + _LATE * np.exp(-_DECAY * ratio))
