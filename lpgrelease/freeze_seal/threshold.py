"""What cargo, water and the air's pressure alone decide: the cold at freezing, how cold a tank must be."""

from __future__ import annotations

from typing import Final

import numpy as np

from lpgrelease.fluids import Fluid
from lpgrelease.quantities import FloatArray

__all__ = ["enthalpy_at_freezing", "vapor_threshold"]

_HALVINGS: Final = 34


def enthalpy_at_freezing(
    fluid: Fluid, boiling: FloatArray, freezing: FloatArray, ambient_pressure: FloatArray
) -> FloatArray:
    """Enthalpy of the vapor once warmed to freezing [J/kg]; minus infinity where it boils only above that."""
    boils = boiling < freezing - 1e-3
    T = np.where(boils, freezing, boiling + 1e-3)
    gas = fluid.gas(temperature=T, pressure=ambient_pressure)
    return np.where(boils, gas.enthalpy, -np.inf)


def vapor_threshold(fluid: Fluid, boiling: FloatArray, limit: FloatArray) -> FloatArray:
    """Highest absolute saturation pressure of a tank whose vapor arrives below freezing [Pa].

    `limit` is the enthalpy of vapor at freezing. 0 where the cargo boils above freezing; infinite where all
    its vapor arrives cold.
    """
    low = np.array(boiling + np.zeros_like(limit))
    high = np.full_like(low, 0.9 * fluid.critical_temperature)  # below the maximum of the vapor's enthalpy
    always = fluid.saturated(high, "vapor_enthalpy")[0] <= limit
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        cold = fluid.saturated(middle, "vapor_enthalpy")[0] <= limit
        low, high = np.where(cold, middle, low), np.where(cold, high, middle)
    pressure = np.asarray(fluid.saturated(low, "pressure")[0])
    return np.where(np.isfinite(limit), np.where(always, np.inf, pressure), 0.0)
