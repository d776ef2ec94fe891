"""The temperature a liquid takes where it evaporates into the open air: below its boiling point."""

from __future__ import annotations

from typing import Final

import numpy as np

from lpgrelease.fluids import Fluid
from lpgrelease.halving import halved
from lpgrelease.pool.evaporate import diffusion_volume_of, diffusivity_fuller
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray
from lpgrelease.weather import AIR_HEAT_CAPACITY, AIR_MOLAR_MASS, air_conductivity, air_density

__all__ = ["evaporation_temperature"]

_HALVINGS: Final = 34


def evaporation_temperature(
    fluid: Fluid, air_temperature: FloatArray, ambient_pressure: FloatArray
) -> FloatArray:
    """Temperature of a liquid that evaporates into moving air which alone brings the heat (wet bulb).

    Parameters
    ----------
    fluid : Fluid
    air_temperature : ndarray
        T_a [K].
    ambient_pressure : ndarray
        p [Pa], inside the fluid's table of saturation pressures.

    Returns
    -------
    ndarray
        T_w [K], below the boiling point and below the air; the air free of the fluid's vapor.

    Notes
    -----
    Film theory of heat and mass transfer at high rates, with the analogy h/(k c_a) = Le^(2/3):
    ln(1 + B_m) = Le^(2/3) (c_a/c_v) ln(1 + B_h), B_m = Y/(1 - Y), Y the vapor's mass fraction at the surface,
    B_h = c_v (T_a - T_w)/L. Le = k_a/(rho_a c_a D) of air at the mean of T_a and the boiling point; D by
    Fuller. Radiation and contact with the wall warm the liquid above T_w; where vapor fills the cloth it
    stays at its boiling point. A blend is taken with the vapor that its fresh liquid gives off. Found by
    halving. Where it would lie below the fluid's tables (ammonia in air colder than about -30 degC) their
    cold end is returned, which is warmer.

    References
    ----------
    bird2007transport, chapter 22 (film theory; from memory), poling2000properties.

    Examples
    --------
    >>> round(float(evaporation_temperature(Fluid("propane"), np.array(293.15), np.array(101325.0))))
    198
    """
    air_temperature, p = np.broadcast_arrays(air_temperature, ambient_pressure)
    boiling = np.asarray(fluid.saturation_temperature(p))
    film = 0.5 * (np.maximum(air_temperature, boiling) + boiling)
    D = diffusivity_fuller(film, p, fluid.molar_mass, diffusion_volume_of(fluid))
    lewis = air_conductivity(film) / (air_density(film, p) * AIR_HEAT_CAPACITY * D)
    (c_v,) = fluid.saturated(boiling, "vapor_heat_capacity")
    factor = np.cbrt(lewis * lewis) * AIR_HEAT_CAPACITY / c_v
    low = np.full_like(boiling, fluid.lowest_temperature)
    high = np.minimum(boiling, np.maximum(air_temperature, fluid.lowest_temperature))

    def too_cold(t: FloatArray) -> BoolArray:
        p_v, latent = fluid.saturated(t, "pressure", "latent_heat")
        # 1 + B_m = 1/(1 - Y) = 1 + x M_v/((1 - x) M_a)
        x = np.minimum(p_v / p, 1.0 - 1e-12)
        evaporates = np.log1p(x / (1.0 - x) * (fluid.molar_mass / AIR_MOLAR_MASS))
        warmed = factor * np.log1p(c_v * np.maximum(air_temperature - t, 0.0) / latent)
        return np.asarray(~(evaporates > warmed))

    return halved(too_cold, low, high, _HALVINGS)[1]
