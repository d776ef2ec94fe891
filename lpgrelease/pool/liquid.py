"""The liquid of a pool as the march sees it."""

from __future__ import annotations

import dataclasses
from typing import Final

import numpy as np

from lpgrelease.elementwise import where
from lpgrelease.fluids import Fluid
from lpgrelease.quantities import FloatArray

__all__ = ["FIELDS", "NEAR", "LiquidState", "PureLiquid", "add_parts", "cooling", "warmth"]

NEAR: Final = 0.1
FIELDS: Final = (
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
    vapor_molar_mass: FloatArray | None = None
    """Of a blend [kg/mol]; this and what follows is None for a pure fluid."""
    vapor_share: FloatArray | None = None
    """Mass shares in the vapor, (components, scenarios)."""
    part_enthalpy: FloatArray | None = None
    part_latent: FloatArray | None = None
    """Of the components, (components, scenarios) [J/kg]."""
    steepness: FloatArray | None = None
    """T^2 d ln p / dT at the boiling point [K]."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class PureLiquid:
    """A pure fluid under the ambient pressure of each scenario."""

    fluid: Fluid
    pressure: FloatArray
    boiling_point: FloatArray
    clapeyron: FloatArray
    """At the boiling point [K]."""

    @property
    def lowest_temperature(self) -> float:
        """Lowest temperature that the table holds [K]."""
        return self.fluid.lowest_temperature

    @classmethod
    def prepare(cls, fluid: Fluid, pressure: FloatArray) -> PureLiquid:
        """Find the boiling points."""
        boiling = fluid.saturation_temperature(pressure)
        (slope,) = fluid.saturated(boiling, "clapeyron")
        return cls(fluid, pressure, boiling, boiling * slope / pressure)

    def at(
        self,
        temperature: FloatArray,
        parts: FloatArray | None = None,
        evaporated: FloatArray | float = 0.0,
        *,
        like: LiquidState | None = None,
        same: bool = False,
    ) -> LiquidState:
        """Properties at a temperature [K]; what else a blend needs is not looked at."""
        T, Tb = temperature, self.boiling_point
        p, h, latent, c, c_vapor, density = self.fluid.saturated(T, *FIELDS)
        far = Tb - T > NEAR
        gap = where(far, 1.0 / where(far, T, 1.0) - 1.0 / Tb, 1.0)
        clapeyron = where(far, np.log(self.pressure / p) / gap, self.clapeyron)
        return LiquidState(T, h, latent, c, c_vapor, density, Tb, clapeyron)


def add_parts(rows: FloatArray) -> FloatArray:
    """Sum over components, in their order."""
    total: FloatArray = rows[0]
    for row in rows[1:]:
        total = total + row
    return total


def warmth(mass: FloatArray, parts: FloatArray | None, liquid: LiquidState) -> FloatArray:
    """Enthalpy of a mass of liquid at the temperature of `liquid` [J]; of components `parts` in a blend."""
    if parts is None or liquid.part_enthalpy is None:
        return mass * liquid.enthalpy
    return add_parts(parts * liquid.part_enthalpy)


def cooling(mass: FloatArray, parts: FloatArray | None, start: LiquidState, end: LiquidState) -> FloatArray:
    """Heat that liquid gives up from one temperature to another [J]."""
    if parts is None or start.part_enthalpy is None or end.part_enthalpy is None:
        return mass * (start.enthalpy - end.enthalpy)
    return add_parts(parts * (start.part_enthalpy - end.part_enthalpy))
