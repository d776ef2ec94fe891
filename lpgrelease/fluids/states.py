"""Results of property calls."""

from __future__ import annotations

from lpgrelease.quantities import FloatArray
from lpgrelease.results import Result, quantity, result

__all__ = ["SaturationState", "SinglePhaseState", "TransportState"]


@result
class SaturationState(Result):
    """Liquid and vapor in equilibrium; every field has the shape of the call's argument."""

    pressure: FloatArray = quantity("Pa", "saturation pressure p, absolute")
    temperature: FloatArray = quantity("K", "saturation temperature T")
    liquid_density: FloatArray = quantity("kg/m**3", "density of the liquid")
    vapor_density: FloatArray = quantity("kg/m**3", "density of the vapor")
    liquid_enthalpy: FloatArray = quantity("J/kg", "specific enthalpy of the liquid")
    vapor_enthalpy: FloatArray = quantity("J/kg", "specific enthalpy of the vapor")
    latent_heat: FloatArray = quantity("J/kg", "heat of vaporization L")
    liquid_entropy: FloatArray = quantity("J/kg/K", "specific entropy of the liquid")
    vapor_entropy: FloatArray = quantity("J/kg/K", "specific entropy of the vapor")
    liquid_internal_energy: FloatArray = quantity("J/kg", "specific internal energy of the liquid")
    vapor_internal_energy: FloatArray = quantity("J/kg", "specific internal energy of the vapor")
    liquid_heat_capacity: FloatArray = quantity("J/kg/K", "isobaric heat capacity of the saturated liquid")
    vapor_heat_capacity: FloatArray = quantity("J/kg/K", "isobaric heat capacity of the saturated vapor")
    surface_tension: FloatArray = quantity("N/m", "surface tension")


@result
class TransportState(Result):
    """Transport properties of the saturated phases."""

    temperature: FloatArray = quantity("K", "saturation temperature T")
    liquid_viscosity: FloatArray = quantity("Pa*s", "dynamic viscosity of the liquid")
    vapor_viscosity: FloatArray = quantity("Pa*s", "dynamic viscosity of the vapor")
    liquid_conductivity: FloatArray = quantity("W/m/K", "thermal conductivity of the liquid")
    vapor_conductivity: FloatArray = quantity("W/m/K", "thermal conductivity of the vapor")
    liquid_heat_capacity: FloatArray = quantity("J/kg/K", "isobaric heat capacity of the saturated liquid")
    vapor_heat_capacity: FloatArray = quantity("J/kg/K", "isobaric heat capacity of the saturated vapor")
    surface_tension: FloatArray = quantity("N/m", "surface tension")


@result
class SinglePhaseState(Result):
    """Gas or liquid at a temperature and a pressure."""

    temperature: FloatArray = quantity("K", "temperature T")
    pressure: FloatArray = quantity("Pa", "pressure p, absolute")
    density: FloatArray = quantity("kg/m**3", "density")
    enthalpy: FloatArray = quantity("J/kg", "specific enthalpy")
    entropy: FloatArray = quantity("J/kg/K", "specific entropy")
    internal_energy: FloatArray = quantity("J/kg", "specific internal energy")
    heat_capacity: FloatArray = quantity("J/kg/K", "isobaric heat capacity")
    speed_of_sound: FloatArray = quantity("m/s", "speed of sound")
