"""Frost and dew on a cold tank: where they grow, and the heat they bring.

Plain functions of SI arrays, elementwise and unchecked, for inner loops.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from lpgrelease.constants import FREEZING_POINT_OF_WATER, SUBLIMATION_HEAT, Constant
from lpgrelease.quantities import FloatArray
from lpgrelease.weather import AIR_HEAT_CAPACITY, water_vapor_pressure

__all__ = ["frost_height", "frost_point", "moisture_heat_flux"]

_FREEZING: Final = float(FREEZING_POINT_OF_WATER)
CONDENSATION_HEAT: Final = Constant(
    2.50e6, "heat of condensation of water at 0 degC", "J/kg", "haynes2014handbook, from memory", 0.01e6
)
MASS_RATIO: Final = 0.622
"""Molar mass of water over that of dry air."""
LEWIS_NUMBER: Final = 0.85
"""Thermal over molecular diffusivity of water vapor in air (incropera2011fundamentals, Table A.8)."""
_LONG: Final = 300.0
"""A fin this many decay lengths long is as good as endless."""


def frost_point(air_temperature: FloatArray, relative_humidity: FloatArray) -> FloatArray:
    """Temperature below which a surface grows frost [K]: the frost point of the air, 0 degC at most.

    Parameters
    ----------
    air_temperature : float or ndarray
        [K].
    relative_humidity : float or ndarray
        Over liquid water, above 0 to 1.

    Notes
    -----
    Where e = 611.21 exp(22.587 t / (273.86 + t)) over ice equals the water vapor in the air.
    References: alduchov1996magnus, Eq. 23.

    Examples
    --------
    >>> print(f"{frost_point(293.15, 0.5):.2f} {frost_point(268.15, 0.5):.2f}")
    273.15 260.83
    """
    e = water_vapor_pressure(air_temperature, relative_humidity)
    x = np.log(e / 611.21)
    return np.minimum(_FREEZING + 273.86 * x / (22.587 - x), _FREEZING)


def _ice_vapor_pressure(temperature: FloatArray) -> FloatArray:
    t = temperature - _FREEZING
    return 611.21 * np.exp(22.587 * t / (273.86 + t))


def moisture_heat_flux(
    coefficient: FloatArray,
    surface_temperature: FloatArray,
    *,
    air_temperature: FloatArray,
    relative_humidity: FloatArray,
    pressure: FloatArray,
) -> FloatArray:
    """Heat that frost or dew brings to a cold wall [W/m2]; 0 where the wall is warmer than the dew point.

    Parameters
    ----------
    coefficient : float or ndarray
        Of convection outside, h [W/m2/K].
    surface_temperature : float or ndarray
        Of the wall, or of the frost on it, T_s [K].
    air_temperature, relative_humidity, pressure : float or ndarray
        Of the air [K], over water, and [Pa].

    Notes
    -----
    q = L h / (c_p Le^(2/3)) 0.622 (e - e_s(T_s)) / p: moisture comes to the wall as heat does, Le 0.85. Below
    0 degC as ice, above it as dew. Frost is left thin and without mist: fog that forms in the cold air at the
    wall, and frost that grows rough or insulates, are left out.
    References: incropera2011fundamentals, Eq. 6.60 (from memory); alduchov1996magnus.

    Examples
    --------
    >>> air = {"air_temperature": 293.15, "relative_humidity": 0.5, "pressure": 101325.0}
    >>> print(f"{moisture_heat_flux(10.0, 233.15, **air):.0f} W/m2")
    222 W/m2
    """
    frozen = np.less(surface_temperature, _FREEZING)
    over_ice = _ice_vapor_pressure(surface_temperature)
    e_s = np.where(frozen, over_ice, water_vapor_pressure(surface_temperature, np.ones(())))
    heat = np.where(frozen, float(SUBLIMATION_HEAT), float(CONDENSATION_HEAT))
    excess = np.maximum(water_vapor_pressure(air_temperature, relative_humidity) - e_s, 0.0)
    per_kelvin = float(AIR_HEAT_CAPACITY) * np.cbrt(LEWIS_NUMBER * LEWIS_NUMBER)
    return heat * coefficient / per_kelvin * MASS_RATIO * excess / pressure  # type: ignore[no-any-return]


def frost_height(
    wet_temperature: FloatArray,
    far_temperature: FloatArray,
    frost_temperature: FloatArray,
    *,
    decay: FloatArray,
    length: FloatArray,
) -> FloatArray:
    """Height over the liquid, along the wall, up to which the outside is colder than the frost point [m].

    The frost line on a tank shows its liquid level, too high by this.

    Parameters
    ----------
    wet_temperature, far_temperature, frost_temperature : float or ndarray
        Of the wetted wall, of the dry wall far from the liquid, and of :func:`frost_point` [K].
    decay : float or ndarray
        m = sqrt(h / (k t)) of the dry wall [1/m].
    length : float or ndarray
        Of the dry wall, ell [m]: the answer where all of it is frosted. 0 where not even the wetted wall is.

    Notes
    -----
    T(z) = T_far + (T_wet - T_far) cosh(m (ell - z)) / cosh(m ell), solved for z.

    Examples
    --------
    >>> print(f"{frost_height(250.0, 285.0, 273.15, decay=5.5, length=0.8):.3f} m")
    0.197 m
    """
    colder = np.less(wet_temperature, frost_temperature)
    warm_top = np.greater(far_temperature, frost_temperature)
    spans = colder & warm_top
    gap = np.where(spans, far_temperature - wet_temperature, 1.0)
    theta = np.where(spans, (far_temperature - frost_temperature) / gap, 1.0)
    reach = np.minimum(decay * length, _LONG)
    scaled = theta * np.cosh(reach)
    partly = scaled > 1.0
    z = (reach - np.arccosh(np.where(partly, scaled, 1.0))) / decay
    up_to = np.where(partly, np.clip(z, 0.0, length), length)
    return np.where(colder, np.where(warm_top, up_to, length), 0.0)
