"""A leaking stream let down to the air's pressure, and warmed to freezing there: pure fluids and blends.

Array-level; arrays of any one shape. A blend's vapor is the one in equilibrium with its liquid.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid, helmholtz
from lpgrelease.fluids.blend_isentrope import vapor_mass_fraction
from lpgrelease.fluids.equilibrium import VAPOR, flash_enthalpy, flash_pressure
from lpgrelease.quantities import FloatArray

__all__ = ["LetDown", "let_down_liquid", "let_down_vapor", "require_saturated_blend"]


class LetDown(NamedTuple):
    """Temperature, vapor mass fraction, and the stream's enthalpy once warmed to freezing [J/kg]."""

    temperature: FloatArray
    vapor_fraction: FloatArray
    enthalpy: FloatArray
    at_freezing: FloatArray


def require_saturated_blend(fluid: Fluid, phase: str, tank_temperature: object) -> None:
    """Refuse a tank temperature for the vapor of a blend, whose composition follows from saturation."""
    if fluid.is_blend and phase == "vapor" and tank_temperature is not None:
        raise InputError("tank_temperature must be left out where vapor of a blend leaks: it is saturated")


def let_down_liquid(
    fluid: Fluid,
    enthalpy: FloatArray,
    *,
    pressure: FloatArray,
    boiling: FloatArray,
    at_freezing: FloatArray,
) -> LetDown:
    """Stream of the fluid's own composition at `enthalpy` [J/kg]; `boiling` is its boiling point there."""
    if fluid.is_blend:
        shape = np.broadcast_shapes(enthalpy.shape, pressure.shape)
        h, p = (np.ravel(np.broadcast_to(a, shape)) for a in (enthalpy, pressure))
        state = fluid.blend.flash_enthalpy(p, h)
        return LetDown(
            state.temperature.reshape(shape),
            fluid.blend.vapor_mass_fraction(state).reshape(shape),
            enthalpy,
            at_freezing,
        )
    h_l, latent, h_v, rho = fluid.saturated(
        boiling, "liquid_enthalpy", "latent_heat", "vapor_enthalpy", "vapor_density"
    )
    fraction = np.clip((enthalpy - h_l) / latent, 0.0, 1.0)
    dry = np.maximum(enthalpy, h_v)
    flat = (np.ravel(a) for a in np.broadcast_arrays(pressure, dry, boiling, rho))
    T, _ = helmholtz.gas_from_enthalpy(fluid.table.equation, *flat)
    temperature = np.where(enthalpy <= h_v, boiling, T.reshape(dry.shape))
    return LetDown(temperature, fraction, enthalpy, at_freezing)


def let_down_vapor(
    fluid: Fluid,
    tank: FloatArray,
    *,
    pressure: FloatArray,
    freezing: FloatArray,
) -> LetDown:
    """Vapor above a blend's liquid at the bubble temperature `tank`, let down to `pressure`."""
    shape = np.broadcast_shapes(tank.shape, pressure.shape, freezing.shape)
    t, p, t_f = (np.ravel(np.broadcast_to(a, shape)) for a in (tank, pressure, freezing))
    table = fluid.blend
    point = table.bubble(temperature=t)
    y, m = point.incipient, table.mixture.mass(point.incipient)
    h = table.mixture.phase(t, point.pressure, y, VAPOR)[1].enthalpy
    state = table.require(flash_enthalpy(table.mixture, y, p, h))
    warmed = table.require(flash_pressure(table.mixture, y, t_f, p))
    fraction = vapor_mass_fraction(table.mixture, y, state)
    values = (state.temperature, fraction, h / m, warmed.enthalpy / m)
    return LetDown(*(value.reshape(shape) for value in values))
