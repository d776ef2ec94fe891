"""The liquid of a pool as the march sees it."""

from __future__ import annotations

import dataclasses
from typing import Final

import numpy as np

from lpgrelease.fluids import Fluid
from lpgrelease.quantities import FloatArray

__all__ = ["LiquidState", "PureLiquid"]

_NEAR: Final = 0.1
_FIELDS: Final = (
    "pressure",
    "liquid_enthalpy",
    "latent_heat",
    "liquid_heat_capacity",
    "vapor_heat_capacity",
    "liquid_density",
)


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class LiquidState:
    """Saturated liquid at a temperature, and the vapor it gives; every array has shape (scenarios,)."""

    temperature: FloatArray
    enthalpy: FloatArray
    latent: FloatArray
    heat_capacity: FloatArray
    vapor_heat_capacity: FloatArray
    density: FloatArray
    boiling_point: FloatArray
    clapeyron: FloatArray
    """Lambda of p_s = p exp(Lambda (1/T_b - 1/T)), exact at T_b and here [K]."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class PureLiquid:
    """A pure fluid under the ambient pressure of each scenario."""

    fluid: Fluid
    pressure: FloatArray
    boiling_point: FloatArray
    clapeyron: FloatArray
    """At the boiling point [K]."""

    @classmethod
    def prepare(cls, fluid: Fluid, pressure: FloatArray) -> PureLiquid:
        """Find the boiling points."""
        boiling = fluid.saturation_temperature(pressure)
        (slope,) = fluid.saturated(boiling, "clapeyron")
        return cls(fluid, pressure, boiling, boiling * slope / pressure)

    def at(self, temperature: FloatArray) -> LiquidState:
        """Properties at a temperature [K]."""
        T, Tb = temperature, self.boiling_point
        p, h, latent, c, c_vapor, density = self.fluid.saturated(T, *_FIELDS)
        far = Tb - T > _NEAR
        gap = np.where(far, 1.0 / np.where(far, T, 1.0) - 1.0 / Tb, 1.0)
        clapeyron = np.where(far, np.log(self.pressure / p) / gap, self.clapeyron)
        return LiquidState(T, h, latent, c, c_vapor, density, Tb, clapeyron)
