"""What stands at rest before a two-phase release: a saturated mixture, or liquid padded above saturation."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from lpgrelease.errors import ConvergenceError, OutOfRangeError
from lpgrelease.fluids import Fluid, helmholtz
from lpgrelease.fluids.blend import BlendTable
from lpgrelease.fluids.isentrope import choking_state, state_at_pressure
from lpgrelease.fluids.table import FluidTable
from lpgrelease.halving import halved_to_middle
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.release.nozzle import NozzleFlow, isentropic_nozzle
from lpgrelease.results import BoolArray

__all__ = ["TwoPhaseInlet", "boiling_temperature", "equilibrium_nozzle", "isentrope_flux", "two_phase_inlet"]

HALVINGS = 60
"""Of the temperature at which a compressed liquid begins to boil."""
LARGEST_RESIDUAL = 1e-8
"""Of the density and temperature of a liquid let down, relative."""


class TwoPhaseInlet(NamedTuple):
    """State at rest; 1-d arrays of one length."""

    temperature: FloatArray
    vapor_fraction: FloatArray
    pressure: FloatArray
    saturation_pressure: FloatArray
    liquid_density: FloatArray
    vapor_density: FloatArray
    enthalpy: FloatArray
    entropy: FloatArray
    latent_heat: FloatArray
    liquid_heat_capacity: FloatArray
    back_pressure: FloatArray

    @property
    def subcooled(self) -> BoolArray:
        """Whether the liquid is padded above saturation."""
        padded: BoolArray = self.pressure > self.saturation_pressure
        return padded

    @property
    def density(self) -> FloatArray:
        """Of the mixture [kg/m3]."""
        x = self.vapor_fraction
        mixed: FloatArray = 1.0 / (x / self.vapor_density + (1.0 - x) / self.liquid_density)
        return mixed


def two_phase_inlet(
    fluid: Fluid,
    temperature: QuantityLike,
    vapor_fraction: QuantityLike,
    pressure: QuantityLike | None,
    back_pressure: FloatArray,
) -> tuple[TwoPhaseInlet, tuple[int, ...]]:
    """Check the arguments and return the inlet's state and the shape they broadcast to."""
    t = fluid.saturation_range(temperature, "temperature")
    x = to_si(vapor_fraction, "", "vapor_fraction", lower=0.0, upper=1.0, why="a mass fraction")
    names = (
        "pressure",
        "liquid_density",
        "vapor_density",
        "liquid_enthalpy",
        "liquid_entropy",
        "latent_heat",
        "liquid_heat_capacity",
    )
    if pressure is None:
        t, x, p_back = broadcast(temperature=t, vapor_fraction=x, ambient_pressure=back_pressure)
        shape = t.shape
        t, x, p_back = np.ravel(t), np.ravel(x), np.ravel(p_back)
        if fluid.is_blend:
            return _blend_inlet(fluid, t, x, p_back), shape
        p_s, rho_l, rho_v, h_l, s_l, latent, c_p = fluid.saturated(t, *names)
        p, h, s = p_s, h_l + x * latent, s_l + x * latent / t
    else:
        _refuse_vapor(x)
        liquid = fluid.liquid(temperature=t, pressure=pressure)
        t, x, p, p_back = broadcast(
            temperature=t, vapor_fraction=x, pressure=liquid.pressure, ambient_pressure=back_pressure
        )
        shape = t.shape
        rho_l, h, s = (
            np.ravel(np.broadcast_to(a, shape)) for a in (liquid.density, liquid.enthalpy, liquid.entropy)
        )
        t, x, p, p_back = np.ravel(t), np.ravel(x), np.ravel(p), np.ravel(p_back)
        p_s, _, rho_v, _, _, latent, c_p = fluid.saturated(t, *names)
    return TwoPhaseInlet(t, x, p, p_s, rho_l, rho_v, h, s, latent, c_p, p_back), shape


def _blend_inlet(fluid: Fluid, t: FloatArray, x: FloatArray, back: FloatArray) -> TwoPhaseInlet:
    """Return the inlet of a blend whose overall composition is the fluid's, part of it evaporated."""
    table = fluid.blend
    state, m = table.flash_vapor(t, x), table.molar_mass
    latent, c_p = table.saturated(t, "latent_heat", "liquid_heat_capacity")
    return TwoPhaseInlet(
        temperature=t,
        vapor_fraction=x,
        pressure=state.pressure,
        saturation_pressure=state.pressure,
        liquid_density=table.mixture.mass(state.liquid) / state.liquid_volume,
        vapor_density=table.mixture.mass(state.vapor) / state.vapor_volume,
        enthalpy=state.enthalpy / m,
        entropy=state.entropy / m,
        latent_heat=latent,
        liquid_heat_capacity=c_p,
        back_pressure=back,
    )


def _refuse_vapor(vapor_fraction: FloatArray) -> None:
    if np.size(vapor_fraction) and np.max(vapor_fraction) > 0.0:
        worst = float(np.max(vapor_fraction))
        raise OutOfRangeError(
            "vapor_fraction", worst, "", 0.0, 0.0, "with `pressure` the inlet is padded liquid"
        )


def boiling_temperature(
    table: FluidTable | BlendTable, entropy: FloatArray, temperature: FloatArray
) -> FloatArray:
    """Temperature at which liquid of `entropy` begins to boil as it expands, below `temperature` [K]."""
    low = np.full(temperature.shape, table.lowest_temperature)
    return halved_to_middle(
        lambda t: table.saturated(t, "liquid_entropy")[0] < entropy, low, temperature, HALVINGS
    )


def equilibrium_nozzle(table: FluidTable, inlet: TwoPhaseInlet) -> NozzleFlow:
    """Homogeneous equilibrium flow along the isentrope itself, from a saturated or a padded inlet."""
    padded = inlet.subcooled
    flow = isentropic_nozzle(
        table,
        enthalpy=inlet.enthalpy,
        entropy=inlet.entropy,
        temperature=inlet.temperature,
        pressure=inlet.saturation_pressure,
        back_pressure=inlet.back_pressure,
    )
    if not padded.any():
        return flow
    some = TwoPhaseInlet(*(field[padded] for field in inlet))
    for whole, part in zip(flow, _padded_nozzle(table, some), strict=True):
        whole[padded] = part
    return flow


def _padded_nozzle(table: FluidTable, inlet: TwoPhaseInlet) -> NozzleFlow:
    """From compressed liquid: liquid down to where it boils, equilibrium mixture below."""
    h0, s0 = inlet.enthalpy, inlet.entropy
    t_b = boiling_temperature(table, s0, inlet.temperature)
    p_b, rho_b = table.saturated(t_b, "pressure", "liquid_density")
    flux, throat = choking_state(table, h0, s0, t_b)
    boils = inlet.back_pressure < p_b
    choked = boils & (inlet.back_pressure <= throat.pressure)
    wet = state_at_pressure(table, s0, np.minimum(inlet.back_pressure, p_b))
    p_out = np.clip(inlet.back_pressure, p_b, inlet.pressure)
    t_out, rho_out, h_out = _let_down(table, p_out, s0, t_b, rho_b)
    unboiled = np.sqrt(2.0 * np.maximum(h0 - h_out, 0.0)) * rho_out
    boiled = np.sqrt(2.0 * np.maximum(h0 - wet.enthalpy, 0.0)) / wet.specific_volume
    flux = np.where(choked, flux, np.where(boils, boiled, unboiled))
    back = inlet.back_pressure
    return NozzleFlow(
        flux=np.where(back < inlet.pressure, flux, 0.0),
        choked=choked,
        pressure=np.where(choked, throat.pressure, back),
        temperature=np.where(choked, throat.temperature, np.where(boils, wet.temperature, t_out)),
        vapor_fraction=np.clip(
            np.where(choked, throat.vapor_fraction, np.where(boils, wet.vapor_fraction, 0.0)), 0.0, 1.0
        ),
    )


def _let_down(
    table: FluidTable, p: FloatArray, s: FloatArray, t_b: FloatArray, rho_b: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Temperature, density and enthalpy of a liquid of entropy `s` at `p`, from where it boils."""
    t, rho = helmholtz.liquid_from_entropy(table.equation, p, s, t_b, rho_b)
    state = helmholtz.evaluate(table.equation, t, rho)
    # the pressure of a cold liquid holds few digits; its density, which is what matters, all of them
    of_density = np.abs(state.pressure / p - 1.0) / np.maximum(state.stiffness, 1.0)
    missing = np.maximum(of_density, np.abs(state.entropy - s) / state.isochoric_heat_capacity)
    missing = np.where(np.isfinite(missing), missing, np.inf)
    worst = int(np.argmax(missing))
    if missing[worst] > LARGEST_RESIDUAL:
        where = {"pressure": float(p[worst]), "temperature": float(t_b[worst])}
        raise ConvergenceError("padded liquid let down to the ambient pressure", float(missing[worst]), where)
    return t, rho, state.enthalpy


def isentrope_flux(
    pressure: QuantityLike,
    *,
    enthalpy: QuantityLike,
    specific_volume: QuantityLike,
    stagnation_enthalpy: QuantityLike,
) -> tuple[FloatArray, FloatArray]:
    """Largest flux of an ideal nozzle, and its pressure, along a given isentrope of any substance.

    Parameters
    ----------
    pressure : array, shape (..., points)
        Falling along the isentrope, p [Pa].
    enthalpy, specific_volume : array, shape (..., points)
        h [J/kg] and v [m3/kg] there.
    stagnation_enthalpy : number or array, shape (...)
        h0 [J/kg].

    Returns
    -------
    flux, throat_pressure : float or ndarray, shape (...)
        [kg/m2/s], [Pa]: at the point of largest sqrt(2 (h0 - h))/v, refined by the parabola through it and
        its neighbors. A corner, as where a liquid begins to boil, wants a grid that holds it.

    Raises
    ------
    InputError, OutOfRangeError

    References
    ----------
    leung1986omega (homogeneous equilibrium), iso2005venturi (real gas).

    Examples
    --------
    >>> ratio = np.linspace(1.0, 0.3, 200)  # ideal gas, k 1.4, p0 1, v0 1: G = 0.6847
    >>> h, v = 3.5 * ratio ** (1 / 3.5), ratio ** (-1 / 1.4)
    >>> flux, throat = isentrope_flux(ratio, enthalpy=h, specific_volume=v, stagnation_enthalpy=3.5)
    >>> print(f"{flux:.4f} at {throat:.3f}")
    0.6847 at 0.528
    """
    p = to_si(pressure, "Pa", "pressure", lower=0.0, open_lower=True)
    h, h0 = to_si(enthalpy, "J/kg", "enthalpy"), to_si(stagnation_enthalpy, "J/kg", "stagnation_enthalpy")
    v = to_si(specific_volume, "m**3/kg", "specific_volume", lower=0.0, open_lower=True)
    p, h, v, h0 = broadcast(pressure=p, enthalpy=h, specific_volume=v, stagnation_enthalpy=h0[..., None])
    flux = np.sqrt(2.0 * np.maximum(h0 - h, 0.0)) / v
    best = np.clip(np.argmax(flux, axis=-1), 1, flux.shape[-1] - 2)[..., None]

    def take(a: FloatArray, offset: int) -> FloatArray:
        return np.take_along_axis(a, best + offset, axis=-1)[..., 0]

    left, middle, right = (take(flux, offset) for offset in (-1, 0, 1))
    curve = left - 2.0 * middle + right
    step = np.clip(0.5 * (left - right) / np.where(curve < 0.0, curve, -np.inf), -1.0, 1.0)
    peak = middle - 0.25 * (left - right) * step
    side = np.where(step > 0.0, take(p, 1), take(p, -1))
    return peak, take(p, 0) + np.abs(step) * (side - take(p, 0))
