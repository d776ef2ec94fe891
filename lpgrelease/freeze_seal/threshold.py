"""What cargo, water and the air's pressure alone decide: the cold at freezing, how cold a tank must be."""

from __future__ import annotations

from typing import Final

import numpy as np

from lpgrelease.fluids import Fluid
from lpgrelease.freeze_seal.let_down import let_down_vapor
from lpgrelease.halving import halved
from lpgrelease.quantities import FloatArray

__all__ = ["enthalpy_at_freezing", "fluid_threshold", "vapor_threshold"]

_HALVINGS: Final = 34
TEMPERATURES: Final = 65
"""Tank temperatures at which the vapor of a blend is looked at."""


def enthalpy_at_freezing(
    fluid: Fluid, boiling: FloatArray, freezing: FloatArray, ambient_pressure: FloatArray
) -> FloatArray:
    """Enthalpy of the cargo once warmed to freezing [J/kg]; minus infinity where it boils only above that.

    A blend need not have boiled away at freezing: its heavy ends may stay liquid.
    """
    boils = boiling < freezing - 1e-3
    T = np.where(boils, freezing, boiling + 1e-3)
    if fluid.is_blend:
        t, p = np.broadcast_arrays(T, ambient_pressure)
        state = fluid.blend.flash_pressure(np.ravel(t), np.ravel(p))
        enthalpy = (state.enthalpy / fluid.molar_mass).reshape(t.shape)
    else:
        enthalpy = fluid.gas(temperature=T, pressure=ambient_pressure).enthalpy
    return np.where(boils, enthalpy, -np.inf)


def fluid_threshold(fluid: Fluid, freezing: FloatArray) -> FloatArray:
    """Absolute saturation pressure at freezing [Pa]; infinite where the liquid is colder at any pressure.

    So it is where the fluid's saturation ends below freezing: methane and nitrogen are critical there.
    """
    top = fluid.highest_temperature
    (pressure,) = fluid.saturated(np.minimum(freezing, top), "pressure")
    return np.where(freezing <= top, pressure, np.inf)


def vapor_threshold(
    fluid: Fluid,
    boiling: FloatArray,
    limit: FloatArray,
    *,
    freezing: FloatArray,
    ambient_pressure: FloatArray,
) -> FloatArray:
    """Highest absolute saturation pressure of a tank whose vapor arrives below freezing [Pa].

    `limit` is the enthalpy of vapor at freezing. 0 where the cargo boils above freezing; infinite where all
    its vapor arrives cold.
    """
    if fluid.is_blend:
        return _blend_threshold(fluid, boiling, freezing, ambient_pressure)
    low = np.array(boiling + np.zeros_like(limit))
    high = np.full_like(low, 0.9 * fluid.critical_temperature)  # below the maximum of the vapor's enthalpy
    always = fluid.saturated(high, "vapor_enthalpy")[0] <= limit
    low, _ = halved(lambda t: fluid.saturated(t, "vapor_enthalpy")[0] <= limit, low, high, _HALVINGS)
    pressure = np.asarray(fluid.saturated(low, "pressure")[0])
    return np.where(np.isfinite(limit), np.where(always, np.inf, pressure), 0.0)


def _blend_threshold(
    fluid: Fluid, boiling: FloatArray, freezing: FloatArray, ambient_pressure: FloatArray
) -> FloatArray:
    """Return the same for the vapor above a blend, from a row of tank temperatures, linear between them."""
    boiling, freezing, ambient = np.broadcast_arrays(boiling, freezing, ambient_pressure)
    shares = np.linspace(0.0, 1.0, TEMPERATURES).reshape(-1, *(1,) * boiling.ndim)
    tank = boiling + shares * (0.97 * fluid.highest_temperature - boiling)
    stream = let_down_vapor(fluid, tank, pressure=ambient, freezing=freezing)
    excess = stream.enthalpy - stream.at_freezing
    warm = excess > 0.0
    first = np.argmax(warm, axis=0)[None]
    before = np.maximum(first - 1, 0)
    e_0, e_1 = (np.take_along_axis(excess, i, axis=0)[0] for i in (before, first))
    t_0, t_1 = (np.take_along_axis(tank, i, axis=0)[0] for i in (before, first))
    crosses = warm.any(axis=0) & ~warm[0]
    share = np.where(crosses, e_0 / np.where(crosses, e_0 - e_1, 1.0), 0.0)
    pressure = fluid.saturated(t_0 + share * (t_1 - t_0), "pressure")[0]
    found = np.where(warm[0], 0.0, np.where(warm.any(axis=0), pressure, np.inf))
    return np.where(boiling < freezing - 1e-3, found, 0.0)
