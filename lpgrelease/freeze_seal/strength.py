"""What ice carries: strength and adhesion as published ranges, and the loads at which a plug gives way.

Strengths of ice scatter widely. Each is kept here as the low and the high end of a published range;
a plug is judged by the low end, lowered further by :func:`scatter_reduction`. Plain functions of SI
floats or arrays: elementwise, broadcasting, without checks.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from lpgrelease.constants import Constant
from lpgrelease.quantities import FloatArray

__all__ = ["bending_pressure", "blister_pressure", "scatter_reduction"]

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
