"""The cold a leak brings to a wet cloth, and the time it takes to freeze it."""

from __future__ import annotations

import dataclasses
from typing import Final

import numpy as np

from lpgrelease.constants import FREEZING_POINT_OF_WATER, STANDARD_GRAVITY
from lpgrelease.fluids import Fluid
from lpgrelease.freeze_seal import ice
from lpgrelease.freeze_seal.cloth import SealCase
from lpgrelease.quantities import FloatArray
from lpgrelease.release import liquid_release, vapor_release

__all__ = ["LARGEST_DISSOLVED", "Cold", "cold_at", "dissolved_fraction", "head_pressure"]

_DISSOLVED: Final = {"slightly": 1e-3, "partly": 0.25, "miscible": 1.0}
"""Mass fraction of cargo that water takes up when pressed against it: upper estimates, from memory.

With ammonia, ice is known up to about 33 % of ammonia by mass, at 175 K (choukroun2010ammonia)."""
LARGEST_DISSOLVED: Final = 0.01
"""Mass fraction that lowers the freezing point of water by about 1 K at most (cryoscopic constant)."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Cold:
    """What the leak does to the cloth at one tank pressure."""

    tank_temperature: FloatArray
    leak_temperature: FloatArray
    power: FloatArray
    heat_gain: FloatArray
    largest_thickness: FloatArray
    freeze_time: FloatArray


def dissolved_fraction(fluid: Fluid) -> float:
    """Mass fraction of the cargo that water takes up, an upper estimate."""
    return _DISSOLVED[fluid.substance.solubility_in_water]


def cold_at(case: SealCase, gauge_pressure: FloatArray) -> Cold:
    """Temperature and cold of the leak, and the time it takes to freeze the cloth."""
    pressure = case.ambient_pressure + gauge_pressure
    tank = case.tank_temperature
    if tank is None:
        tank = np.asarray(case.fluid.saturation_temperature(pressure))
    leak, power = (_liquid_leak if case.phase == "liquid" else _vapor_leak)(case, tank, pressure)
    conductivity = ice.frozen_cloth_conductivity(case.porosity)
    largest = ice.largest_ice_thickness(
        leak, case.air_temperature, heat_transfer=case.outside_heat_transfer, conductivity=conductivity
    )
    heat = case.porosity * ice.WATER_DENSITY * ice.freezing_heat(leak, case.water_temperature)
    conducted = ice.freezing_time(
        case.thickness, leak, case.air_temperature,
        heat_transfer=case.outside_heat_transfer, conductivity=conductivity, volumetric_heat=heat,
    )  # fmt: skip
    area = np.pi * (case.radius + case.overlap) * (case.radius + case.overlap)
    gain = area * ice.melting_flux(case.air_temperature, case.outside_heat_transfer)
    net = power - gain
    with np.errstate(divide="ignore"):
        supplied = np.where(net > 0.0, heat * case.thickness * area / net, np.inf)
    if dissolved_fraction(case.fluid) > LARGEST_DISSOLVED:
        supplied = np.full_like(supplied, np.inf)
    return Cold(tank, leak, power, gain, largest, np.maximum(conducted, supplied))


def _liquid_leak(case: SealCase, tank: FloatArray, pressure: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Temperature and captured cold of a liquid leak; infinite where the liquid behind it is cold."""
    leak = np.minimum(tank, case.boiling_temperature)
    psat, h = case.fluid.saturated(tank, "pressure", "liquid_enthalpy")
    flow = liquid_release(
        case.fluid, case.hole, temperature=tank, head=case.head,
        pressure=np.maximum(pressure, psat), ambient_pressure=case.ambient_pressure,
    ).mass_flow  # fmt: skip
    power = case.captured_cold * flow * np.maximum(_enthalpy_at_freezing(case) - h, 0.0)
    return leak, np.where(tank < FREEZING_POINT_OF_WATER, np.inf, power)


def _vapor_leak(case: SealCase, tank: FloatArray, pressure: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Temperature after expansion at constant enthalpy, and captured cold, of a vapor leak.

    The rate is taken a hair below saturation, where the general nozzle serves superheated vapor too.
    """
    psat, h = case.fluid.saturated(tank, "pressure", "vapor_enthalpy")
    p = np.minimum(pressure, psat * (1.0 - 1e-9))
    if case.tank_temperature is not None:
        h = case.fluid.gas(temperature=tank, pressure=p).enthalpy
    leak = _temperature_of_gas(case, h, tank)
    flow = vapor_release(
        case.fluid, case.hole, temperature=tank, pressure=p, ambient_pressure=case.ambient_pressure
    ).mass_flow
    return leak, case.captured_cold * flow * np.maximum(_enthalpy_at_freezing(case) - h, 0.0)


def _temperature_of_gas(case: SealCase, enthalpy: FloatArray, start: FloatArray) -> FloatArray:
    """Temperature at ambient pressure with this enthalpy: the boiling point where that leaves some liquid.

    Newton's iteration on a nearly straight line, five steps for every scenario.
    """
    coldest = case.boiling_temperature
    T = start
    for _ in range(5):
        at = np.maximum(T, coldest + 1e-3)
        gas = case.fluid.gas(temperature=at, pressure=case.ambient_pressure)
        T = np.maximum(at - (gas.enthalpy - enthalpy) / gas.heat_capacity, coldest)
    return T


def _enthalpy_at_freezing(case: SealCase) -> FloatArray:
    """Enthalpy of the vapor once warmed to freezing [J/kg]; minus infinity where it boils only above that."""
    boils = case.boiling_temperature < FREEZING_POINT_OF_WATER - 1e-3
    T = np.where(boils, float(FREEZING_POINT_OF_WATER), case.boiling_temperature + 1e-3)
    gas = case.fluid.gas(temperature=T, pressure=case.ambient_pressure)
    return np.where(boils, gas.enthalpy, -np.inf)


def head_pressure(case: SealCase, cold: Cold) -> FloatArray:
    """Pressure of the liquid standing above the hole [Pa]."""
    if case.phase == "vapor":
        return np.zeros_like(case.head)
    (density,) = case.fluid.saturated(cold.leak_temperature, "liquid_density")
    head: FloatArray = density * STANDARD_GRAVITY * case.head
    return head
