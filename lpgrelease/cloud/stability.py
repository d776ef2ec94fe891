"""The air near the ground: Pasquill's class from sun, cloud and wind, Obukhov length, wind profile.

Classes are counted 0 (A) to 5 (F) inside; the public functions give letters.
"""

from __future__ import annotations

import dataclasses
import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from lpgrelease.quantities import FloatArray, broadcast, require_kind
from lpgrelease.results import StringArray
from lpgrelease.weather import Weather

__all__ = ["CLASSES", "WindProfile", "inverse_obukhov_length_golder", "pasquill_class", "stability_index"]

CLASSES: Final = np.array(["A", "B", "C", "D", "E", "F"])
VON_KARMAN: Final = 0.40
_IRRADIANCE_STEPS: Final = np.array([175.0, 675.0, 925.0])  # W/m2
_DAY_WIND_STEPS: Final = np.array([2.0, 3.0, 5.0, 6.0])  # m/s
_DAY: Final = np.array(  # rows: wind; columns: irradiance from low to high
    [[3, 1, 0, 0], [3, 2, 1, 0], [3, 2, 1, 1], [3, 3, 2, 2], [3, 3, 3, 2]]
)
_NIGHT_WIND_STEPS: Final = np.array([2.0, 3.0, 5.0])
_NIGHT: Final = np.array([[5, 4], [5, 4], [4, 3], [3, 3]])  # columns: up to half covered, more
_OVERCAST: Final = 15.0 / 16.0

_GOLDER_A: Final = np.array([-0.096, -0.037, -0.002, 0.0, 0.004, 0.035])  # 1/m
_GOLDER_B: Final = np.array([0.029, 0.029, 0.018, 0.0, -0.018, -0.036])


def pasquill_class(weather: Weather) -> StringArray:
    """Pasquill's stability class of the air near the ground, A (very unstable) to F (stable).

    A class given in `weather` is taken as it is.

    Parameters
    ----------
    weather : Weather
        Wind at 10 m, sunshine on the ground, cloud cover.

    Returns
    -------
    ndarray of str
        "A" to "F", of the shape of the weather.

    Notes
    -----
    By day (any sunshine) from irradiance and wind [epa2000monitoring, Table 6-7, from memory]; its classes
    all lie within the cells of Pasquill's own table for strong, moderate and slight sunshine. By night from
    cloud and wind [pasquill1961estimation]: up to half the sky covered, or more; copies of the table differ
    at the half itself, which counts as clear here, the stabler class. A sky wholly covered (more than 15/16)
    gives D at any hour. Pasquill leaves the calm night below 2 m/s undefined (class G to
    some); it is given as the class of 2 to 3 m/s.

    References: pasquill1961estimation; epa2000monitoring.

    Examples
    --------
    >>> print(pasquill_class(Weather(wind_speed=2.5, solar_irradiance=[0.0, 400.0, 800.0], cloud_cover=0.2)))
    ['F' 'C' 'B']
    """
    require_kind(weather, Weather, "weather")
    return np.asarray(CLASSES[stability_index(weather)])[()]


def stability_index(weather: Weather) -> NDArray[np.intp]:
    """Class counted from 0 (A) to 5 (F), of the broadcast shape of wind, sunshine and cloud."""
    wind, sun, cloud = broadcast(
        wind_speed=weather.wind_speed,
        solar_irradiance=weather.solar_irradiance,
        cloud_cover=weather.cloud_cover,
    )
    if weather.stability is not None:
        return np.full(wind.shape, int(np.flatnonzero(weather.stability == CLASSES)[0]))
    day = _DAY[
        np.searchsorted(_DAY_WIND_STEPS, wind, side="right"),
        np.searchsorted(_IRRADIANCE_STEPS, sun, side="right"),
    ]
    night = _NIGHT[np.searchsorted(_NIGHT_WIND_STEPS, wind, side="right"), (cloud > 0.5).astype(int)]
    return np.where(cloud > _OVERCAST, 3, np.where(sun > 0.0, day, night))


def inverse_obukhov_length_golder(stability: NDArray[np.intp], roughness: FloatArray) -> FloatArray:
    """Reciprocal of the Monin-Obukhov length [1/m] from Pasquill's class (0 to 5) and roughness [m].

    Negative in unstable air. For roughness from about 1 mm to 0.5 m.

    Notes
    -----
    1/L = a + b log10(z0), z0 in m. References: golder1972relations (straight-line fit, from memory).

    Examples
    --------
    >>> print(f"{1.0 / inverse_obukhov_length_golder(np.array(5), np.float64(0.03)):.1f} m")
    11.1 m
    """
    return np.asarray(_GOLDER_A[stability] + _GOLDER_B[stability] * np.log10(roughness))


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class WindProfile:
    """Wind near the ground as a power law through the similarity profile at 1 and 10 m.

    Parameters
    ----------
    speed : float or ndarray
        At 10 m [m/s].
    friction_velocity : float or ndarray
        u* [m/s].
    exponent : float or ndarray
        n of u = u10 (z/10)^n.
    roughness_factor : float or ndarray
        u*/u10 over that of 3 cm roughness in the same class: 1 at 3 cm.
    """

    speed: FloatArray
    friction_velocity: FloatArray
    exponent: FloatArray
    roughness_factor: FloatArray

    @classmethod
    def prepare(cls, speed: FloatArray, stability: NDArray[np.intp], roughness: FloatArray) -> WindProfile:
        """Profile from the wind at 10 m [m/s], the class (0 to 5) and the roughness [m].

        Notes
        -----
        u = (u*/k) [ln(z/z0) - psi(z/L)], k = 0.40; psi = -5 z/L in stable air, Paulson's form in unstable
        air, as in garratt1992boundary, from memory. A power law gives the mean over a cloud's depth and its
        inverse in closed form.

        Examples
        --------
        >>> wind = WindProfile.prepare(np.float64(5.0), np.array(3), np.float64(0.03))
        >>> print(f"{wind.friction_velocity:.3f} m/s, exponent {wind.exponent:.3f}")
        0.344 m/s, exponent 0.219
        """
        high = _profile(10.0, stability, roughness)
        low = _profile(1.0, stability, roughness)
        smooth = _profile(10.0, stability, np.array(0.03))
        return cls(
            speed=speed,
            friction_velocity=VON_KARMAN * speed / high,
            exponent=np.log(high / low) / math.log(10.0),
            roughness_factor=smooth / high,
        )


def _profile(height: float, stability: NDArray[np.intp], roughness: FloatArray) -> FloatArray:
    """Wind at a height [m], as k u/u*."""
    zeta = height * inverse_obukhov_length_golder(stability, roughness)
    x = np.sqrt(np.sqrt(1.0 - 16.0 * np.minimum(zeta, 0.0)))
    unstable = (
        2.0 * np.log(0.5 * (1.0 + x)) + np.log(0.5 * (1.0 + x * x)) - 2.0 * np.arctan(x) + 0.5 * math.pi
    )
    return np.asarray(np.log(height / roughness) - np.where(zeta < 0.0, unstable, -5.0 * zeta))
