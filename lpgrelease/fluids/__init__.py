"""Fluid properties: the only door to CoolProp and thermo."""

from lpgrelease.fluids.fluid import Fluid
from lpgrelease.fluids.states import SaturationState, SinglePhaseState, TransportState

__all__ = ["Fluid", "SaturationState", "SinglePhaseState", "TransportState"]
