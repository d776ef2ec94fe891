"""Shape of a pool's flame: length, tilt and drag in wind, and how bright it is.

One published correlation, one function; plain, elementwise functions of SI arrays, without checks.
"""

from __future__ import annotations

import numpy as np

from lpgrelease.constants import STANDARD_GRAVITY
from lpgrelease.quantities import FloatArray

__all__ = [
    "dimensionless_wind",
    "drag_ratio_moorhouse",
    "emissive_power_mudan",
    "flame_length_heskestad",
    "flame_length_thomas",
    "flame_length_thomas_wind",
    "tilt_aga",
    "tilt_thomas",
    "wind_at_height",
]

_G = float(STANDARD_GRAVITY)


def _power(base: FloatArray, exponent: float) -> FloatArray:
    power: FloatArray = np.exp(exponent * np.log(base))
    return power


def wind_at_height(wind_speed: FloatArray, height: float) -> FloatArray:
    """Wind [m/s] at a height [m] over open ground, from that at 10 m, by the one-seventh power.

    Common practice, no source; the true exponent lies between 0.1 and 0.3.

    Examples
    --------
    >>> f"{wind_at_height(10.0, 1.6):.2f}"
    '7.70'
    """
    lower: FloatArray = np.multiply(wind_speed, (height / 10.0) ** (1.0 / 7.0))
    return lower


def dimensionless_wind(
    wind_speed: FloatArray, burning_flux: FloatArray, diameter: FloatArray, vapor_density: FloatArray
) -> FloatArray:
    """Wind over the speed that the fire's own buoyancy makes.

    Notes
    -----
    u* = u_w/(g m'' D/rho_v)^(1/3), rho_v of the fuel's vapor at its boiling point. References:
    mudan1984radiation, from memory.
    """
    own = np.cbrt(_G * burning_flux * diameter / vapor_density)
    ratio: FloatArray = wind_speed / own
    return ratio


def flame_length_thomas(
    burning_flux: FloatArray, diameter: FloatArray, air_density: FloatArray
) -> FloatArray:
    """Mean visible length of a pool's flame in still air [m].

    From wooden cribs, used for pools ever since; for length over diameter of about 0.5 to 10.

    Notes
    -----
    L/D = 42 [m''/(rho_a sqrt(g D))]^0.61. References: thomas1963flames.

    Examples
    --------
    >>> f"{flame_length_thomas(0.099, 10.0, 1.2) / 10.0:.3f}"
    '2.264'
    """
    return 42.0 * diameter * _power(burning_flux / (air_density * np.sqrt(_G * diameter)), 0.61)


def flame_length_thomas_wind(
    burning_flux: FloatArray, diameter: FloatArray, air_density: FloatArray, u_star: FloatArray
) -> FloatArray:
    """Mean visible length of a pool's flame in wind [m], for u* of 1 or more.

    Notes
    -----
    L/D = 55 [m''/(rho_a sqrt(g D))]^0.67 u*^-0.21. References: thomas1963flames; mudan1984radiation, from
    memory.

    Examples
    --------
    >>> f"{flame_length_thomas_wind(0.099, 10.0, 1.2, 2.0) / 10.0:.3f}"
    '1.923'
    """
    ratio = burning_flux / (air_density * np.sqrt(_G * diameter))
    return 55.0 * diameter * _power(ratio, 0.67) * _power(u_star, -0.21)


def flame_length_heskestad(heat_release_rate: FloatArray, diameter: FloatArray) -> FloatArray:
    """Mean visible length of a fire's flame in still air [m], from its heat [W].

    Zero where the formula falls below it: the flame breaks up into several.

    Notes
    -----
    L = 0.235 Q^(2/5) - 1.02 D, Q in kW: of all the heat, L where the flame is seen half of the time.
    References: heskestad1984heights.

    Examples
    --------
    >>> f"{flame_length_heskestad(57e6, 4.0):.1f}"
    '14.7'
    """
    kilowatts = np.maximum(np.divide(heat_release_rate, 1e3), np.finfo(float).tiny)
    return np.maximum(0.235 * _power(kilowatts, 0.4) - 1.02 * diameter, 0.0)


def tilt_aga(u_star: FloatArray) -> FloatArray:
    """Lean of a pool's flame from the vertical [rad], from tests with liquefied natural gas.

    Notes
    -----
    cos(theta) = 1 for u* up to 1, u*^(-1/2) above; u_w 1.6 m above the ground.
    References: aga1974lng, from memory; mudan1984radiation, from memory.

    Examples
    --------
    >>> f"{np.degrees(tilt_aga(2.0)):.1f}"
    '45.0'
    """
    return np.arccos(1.0 / np.sqrt(np.maximum(u_star, 1.0)))


def tilt_thomas(u_star: FloatArray) -> FloatArray:
    """Lean of a flame from the vertical [rad], from wooden cribs.

    Notes
    -----
    cos(theta) = 0.7 u*^-0.49, upright where that exceeds 1. References: thomas1963flames, from memory;
    mudan1984radiation, from memory.

    Examples
    --------
    >>> f"{np.degrees(tilt_thomas(2.0)):.1f}"
    '60.1'
    """
    return np.arccos(np.minimum(0.7 * _power(np.maximum(u_star, 1e-3), -0.49), 1.0))


def drag_ratio_moorhouse(wind_speed: FloatArray, diameter: FloatArray) -> FloatArray:
    """Length of a flame's base downwind over the pool's diameter: wind drags it over the rim.

    From pools of liquefied natural gas up to 15 m; 1 or more.

    Notes
    -----
    D'/D = 1.5 Fr^0.069, Fr = u^2/(g D), u 10 m above the ground. References: moorhouse1982scaling, from
    memory.

    Examples
    --------
    >>> f"{drag_ratio_moorhouse(5.0, 10.0):.2f}"
    '1.37'
    """
    froude = np.maximum(np.multiply(wind_speed, wind_speed) / (_G * diameter), 1e-12)
    return np.maximum(1.5 * _power(froude, 0.069), 1.0)


def emissive_power_mudan(diameter: FloatArray) -> FloatArray:
    """Surface emissive power of a smoky pool fire [W/m2], by its diameter [m]: bright patches and smoke.

    From fires of kerosene, gasoline and the like of 1 to 80 m; measured values scatter by a factor of two.
    Clean flames (small ones, liquefied natural gas) are brighter.

    Notes
    -----
    E = 140 exp(-0.12 D) + 20 (1 - exp(-0.12 D)) kW/m2. References: mudan1984radiation, from memory.

    Examples
    --------
    >>> f"{emissive_power_mudan(4.0):.0f}"
    '94254'
    """
    clear = np.exp(-0.12 * np.asarray(diameter))
    return 1e3 * (140.0 * clear + 20.0 * (1.0 - clear))
