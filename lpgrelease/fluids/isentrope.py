"""States along an isentrope at equilibrium, and the state of largest mass flux on it.

Temperature is the parameter: it falls with pressure on every isentrope, wet or dry, and at a given
temperature the wet state is explicit in the saturation table. Array-level, unchecked; arrays are 1-d.

Notes
-----
Wet (x <= 1): x = (s0 - s_l) T/L, h = h_l + x L, v = v_l + x (v_v - v_l), p = p_sat(T).
Dry (s0 > s_v): density from s(T, rho) = s0 in the reference equation.
Flux through an ideal nozzle from rest: G = sqrt(2 (h0 - h))/v (leung1986omega gives the homogeneous
equilibrium case; the maximum over the isentrope is the choked flux of any real fluid).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from lpgrelease.fluids import helmholtz
from lpgrelease.fluids.blend import BlendTable
from lpgrelease.fluids.table import FluidTable
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = ["IsentropeState", "choking_state", "state_at_pressure", "state_at_temperature"]

GOLDEN = 0.5 * (5.0**0.5 - 1.0)
SECTIONS = 40
"""Golden sections: the bracket shrinks to 4e-9 of its width, and the flux is flat at its maximum."""
HOT_ITERATIONS = 16
"""Newton steps from up to ten times the density sought."""


class IsentropeState(NamedTuple):
    """Equilibrium state on an isentrope; vapor mass fraction 1 where it is dry."""

    temperature: FloatArray
    pressure: FloatArray
    enthalpy: FloatArray
    specific_volume: FloatArray
    vapor_fraction: FloatArray


def _wet(
    table: FluidTable, entropy: FloatArray, temperature: FloatArray
) -> tuple[IsentropeState, FloatArray]:
    p, rho_l, rho_v, h_l, latent, s_l = table.saturated(
        temperature,
        "pressure",
        "liquid_density",
        "vapor_density",
        "liquid_enthalpy",
        "latent_heat",
        "liquid_entropy",
    )
    x = (entropy - s_l) * temperature / latent
    v_l = 1.0 / rho_l
    state = IsentropeState(temperature, p, h_l + x * latent, v_l + x * (1.0 / rho_v - v_l), x)
    return state, rho_v


def state_at_temperature(table: FluidTable, entropy: FloatArray, temperature: FloatArray) -> IsentropeState:
    """State of entropy `entropy` [J/kg/K] at `temperature` [K]."""
    below = np.minimum(temperature, table.highest_temperature)
    state, rho_v = _wet(table, entropy, below)
    dry = (state.vapor_fraction > 1.0) | (temperature > below)
    if not dry.any():
        return state
    t, s = temperature[dry], entropy[dry]
    latent, s_l = table.saturated(below[dry], "latent_heat", "liquid_entropy")
    excess = s - s_l - latent / below[dry]
    start = rho_v[dry] * np.exp(-excess / table.gas_constant)
    density = helmholtz.density_from_entropy(table.equation, t, s, start, iterations=7)
    hot = t > below[dry]
    if hot.any():
        density[hot] = _density_above_critical(table, t[hot], s[hot])
    return _with_dry(state, dry, t, density, helmholtz.evaluate(table.equation, t, density))


def _density_above_critical(table: FluidTable, temperature: FloatArray, entropy: FloatArray) -> FloatArray:
    """Density at (T, s) above the saturation line's end, by Newton steps from the ideal gas of that entropy.

    The real gas of an entropy is thinner than the ideal one, and s falls ever faster in ln(rho): the steps
    come from one side. The cap keeps the start where the equation is fitted.
    """
    thin = np.full_like(temperature, 1e-6 * table.equation.reducing_density)
    spread = helmholtz.evaluate(table.equation, temperature, thin).entropy - entropy
    most = np.log(3e6)
    start = thin * np.exp(np.minimum(spread / table.gas_constant, most))
    return helmholtz.density_from_entropy(
        table.equation, temperature, entropy, start, iterations=HOT_ITERATIONS
    )


def state_at_pressure(
    table: FluidTable | BlendTable, entropy: FloatArray, pressure: FloatArray
) -> IsentropeState:
    """State of entropy `entropy` [J/kg/K] at `pressure` [Pa] (inside the saturation table's range)."""
    if isinstance(table, BlendTable):
        return _of_blend(table, entropy, pressure)
    t_sat = table.saturation_temperature(pressure)
    state, rho_v = _wet(table, entropy, t_sat)
    state = state._replace(pressure=pressure)
    dry = state.vapor_fraction > 1.0
    if not dry.any():
        return state
    t, s = t_sat[dry], entropy[dry]
    latent, s_l, c_p = table.saturated(t, "latent_heat", "liquid_entropy", "vapor_heat_capacity")
    stretch = np.exp(np.minimum((s - s_l - latent / t) / c_p, 1.0))
    t, density = helmholtz.gas_from_entropy(
        table.equation, pressure[dry], s, t * stretch, rho_v[dry] / stretch
    )
    return _with_dry(state, dry, t, density, helmholtz.evaluate(table.equation, t, density))


def _of_blend(table: BlendTable, entropy: FloatArray, pressure: FloatArray) -> IsentropeState:
    state, m = table.flash_entropy(pressure, entropy), table.molar_mass
    return IsentropeState(
        state.temperature, pressure, state.enthalpy / m, state.volume / m, table.vapor_mass_fraction(state)
    )


def _with_dry(
    state: IsentropeState, dry: BoolArray, t: FloatArray, density: FloatArray, gas: helmholtz.SinglePhase
) -> IsentropeState:
    def merge(field: FloatArray, values: FloatArray | float) -> FloatArray:
        merged = np.array(field)
        merged[dry] = values
        return merged

    return IsentropeState(
        merge(state.temperature, t),
        merge(state.pressure, gas.pressure),
        merge(state.enthalpy, gas.enthalpy),
        merge(state.specific_volume, 1.0 / density),
        merge(state.vapor_fraction, 1.0),
    )


def choking_state(
    table: FluidTable,
    enthalpy: FloatArray,
    entropy: FloatArray,
    temperature: FloatArray,
    *,
    sections: int = SECTIONS,
) -> tuple[FloatArray, IsentropeState]:
    """Largest mass flux [kg/m2/s] on the isentrope from rest at (h0, s0), and the state where it occurs.

    Parameters
    ----------
    table : FluidTable
    enthalpy, entropy, temperature : ndarray, shape (n,)
        Stagnation h0 [J/kg], s0 [J/kg/K] and T0 [K].
    sections : int
        Golden sections.

    Notes
    -----
    Golden sections over temperature between 0.55 T0 (or the table's lower end) and T0. Where the isentrope
    meets the saturation line the flux has a corner; it may be the maximum, and the sections find it.
    """

    def flux(t: FloatArray) -> tuple[FloatArray, IsentropeState]:
        state = state_at_temperature(table, entropy, t)
        drop = np.maximum(enthalpy - state.enthalpy, 0.0)
        return np.sqrt(2.0 * drop) / state.specific_volume, state

    low = np.maximum(0.55 * temperature, table.lowest_temperature)
    high = temperature
    left, right = high - GOLDEN * (high - low), low + GOLDEN * (high - low)
    flux_left, flux_right = flux(left)[0], flux(right)[0]
    for _ in range(sections):
        go_left = flux_left > flux_right
        low, high = np.where(go_left, low, left), np.where(go_left, right, high)
        probe = np.where(go_left, high - GOLDEN * (high - low), low + GOLDEN * (high - low))
        flux_probe = flux(probe)[0]
        left, right = np.where(go_left, probe, right), np.where(go_left, left, probe)
        flux_left, flux_right = (
            np.where(go_left, flux_probe, flux_right),
            np.where(go_left, flux_left, flux_probe),
        )
    return flux(0.5 * (low + high))
