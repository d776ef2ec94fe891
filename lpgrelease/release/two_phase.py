"""A boiling mixture, or liquid about to boil, through an opening: one function, several models."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple, TypeAlias

import numpy as np

from lpgrelease.constants import STANDARD_ATMOSPHERE
from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.fluids import Fluid, helmholtz
from lpgrelease.fluids.isentrope import state_at_pressure
from lpgrelease.fluids.table import FluidTable
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, require_word, to_si
from lpgrelease.release.blend import blend_equilibrium
from lpgrelease.release.inlet import TwoPhaseInlet, boiling_temperature, equilibrium_nozzle, two_phase_inlet
from lpgrelease.release.non_equilibrium import (
    BOILING_DELAY_EXPONENTS,
    EQUILIBRIUM_LENGTH,
    boiling_delay,
    equilibrium_rate_flux,
    frozen_nozzle,
    length_relaxed_flux,
)
from lpgrelease.release.nozzle import NozzleFlow
from lpgrelease.release.omega import (
    EXPANDED_TO,
    OmegaFlow,
    omega_from_densities,
    omega_nozzle,
    relative_volume,
)
from lpgrelease.release.opening import Opening
from lpgrelease.release.rate import (
    ReleaseRate,
    ambient,
    composition_of,
    make_rate,
    require_kinds,
    served_by,
)
from lpgrelease.release.throat import equilibrium_density

__all__ = ["two_phase_release"]


DEFAULT_DEVICE = "orifice"
NEWTON_STEPS = 10
"""At given entropy and density: round-off after 4, after 10 of vapor expanded a hundredfold."""
HIGHEST_DELAYED = 0.9
"""Of the critical temperature, up to which delayed boiling is served: its omega follows from the latent heat
(iso2010sizing, api2014sizing, from memory). From 0.93 to 0.97 on it passes less than equilibrium."""
BLEND_MODELS = ("homogeneous equilibrium", "omega")
"""The others rest on one boiling point and one latent heat."""


_Run: TypeAlias = tuple[NozzleFlow, FloatArray | None]
"""The flow, and the density in its throat by the model; None: it says nothing of a throat."""


class _Model(NamedTuple):
    """What a model says of itself, and how it runs."""

    why: str
    sources: tuple[str, ...]
    run: Callable[[Fluid, TwoPhaseInlet, FloatArray, str], _Run]


def two_phase_release(
    fluid: Fluid,
    opening: Opening,
    *,
    temperature: QuantityLike,
    vapor_fraction: QuantityLike = 0.0,
    pressure: QuantityLike | None = None,
    ambient_pressure: QuantityLike = STANDARD_ATMOSPHERE,
    model: str = "homogeneous equilibrium",
    length: QuantityLike | None = None,
    device: str = DEFAULT_DEVICE,
) -> ReleaseRate:
    """Flow of a liquid-vapor mixture, or of a liquid that boils on its way, from rest through an opening.

    Parameters
    ----------
    fluid : Fluid
    opening : Opening
    temperature : number, array or quantity
        Inside, T0 [K].
    vapor_fraction : number or array
        Vapor mass fraction inside, x0, 0 (saturated liquid) to 1 (saturated vapor).
    pressure : number, array or quantity, optional
        Inside, p0 [Pa], if the liquid is padded above saturation; None: saturated.
    ambient_pressure : number, array or quantity
        [Pa], absolute.
    model : str
        "homogeneous equilibrium": liquid and vapor at one velocity, in equilibrium throughout; passages
        longer than about 0.1 m. "omega": the same in reduced form. "homogeneous non-equilibrium": boiling
        delayed as in nozzles, valves and orifices of its `device`; saturated inlets up to 0.9 of the critical
        temperature only. "length": between
        metastable liquid and equilibrium by the passage's `length`; liquid inlets only. "frozen": no boiling
        at all; the largest rate.
    length : number, array or quantity, optional
        Of the passage [m], for the model "length".
    device : {"orifice", "safety valve", "long nozzle"}
        For the model "homogeneous non-equilibrium".

    Returns
    -------
    ReleaseRate
        Its provenance says which model ran and why. Where boiling lags behind, the throat's temperature is
        that of the vapor, and the liquid is warmer. The model "length" says nothing of a throat: where it is
        choked the saturation pressure stands in, `throat_density` is None, and `expanded_jet` refuses it.

    Raises
    ------
    InputError, OutOfRangeError

    Notes
    -----
    "homogeneous equilibrium" follows the isentrope itself, not a fit of it: G = C_d max over p >= p_amb of
    sqrt(2 (h0 - h))/v; a padded liquid stays liquid down to where it begins to boil. "omega" fits the
    isentrope at 90 % of the pressure where boiling begins (`omega_from_densities`, `omega_flow`). The others:
    `boiling_delay`, `length_relaxed_flux`, `frozen_nozzle`. A thin-walled hole passes more than equilibrium,
    up to `liquid_release`, which "frozen" gives for a liquid. Of a blend the fluid's composition is that of
    the whole mixture, liquid and vapor together; "homogeneous equilibrium" and "omega" serve it.

    References
    ----------
    leung1986omega, leung1990similarity, api2014sizing, diener2004sizing, iso2010sizing, fauske1985emergency,
    henry1971critical.

    Examples
    --------
    >>> from lpgrelease import Fluid, Opening, two_phase_release
    >>> hole = Opening(diameter=0.025, discharge_coefficient=1.0)
    >>> rate = two_phase_release(Fluid("propane"), hole, temperature=293.15, vapor_fraction=0.0)
    >>> print(f"{rate.mass_flux:.0f} kg/m2/s")
    6075 kg/m2/s
    >>> short = two_phase_release(Fluid("propane"), hole, temperature=293.15, model="length", length=0.02)
    >>> print(f"{short.mass_flux:.0f} kg/m2/s")
    13994 kg/m2/s
    """
    require_word(model, MODELS, "model")
    require_word(device, BOILING_DELAY_EXPONENTS, "device")
    require_kinds(fluid, opening)
    chosen = MODELS[model]
    if fluid.is_blend and model not in BLEND_MODELS:
        served = ", ".join(BLEND_MODELS)
        raise InputError(f"the model {model!r} is that of a pure fluid; of a blend served: {served}")
    p_amb = ambient(fluid, ambient_pressure)
    passage = _passage(model, length)
    if device != DEFAULT_DEVICE and model != "homogeneous non-equilibrium":
        raise InputError(f'device goes with the model "homogeneous non-equilibrium", not with {model!r}')
    inlet, shape = two_phase_inlet(fluid, temperature, vapor_fraction, pressure, p_amb)
    if passage.ndim:
        wide = broadcast(**{f: a.reshape(shape) for f, a in inlet._asdict().items()}, length=passage)
        shape = wide[0].shape
        inlet, passage = TwoPhaseInlet(*(np.ravel(a) for a in wide[:-1])), np.ravel(wide[-1])
    flow, density = chosen.run(fluid, inlet, passage, device)
    flow = flow.reshaped(shape)
    return make_rate(
        opening,
        served_by(fluid, f"{model}: {chosen.why}", *chosen.sources),
        ideal_flux=flow.flux,
        choked=flow.choked,
        throat_pressure=flow.pressure,
        throat_temperature=flow.temperature,
        throat_vapor_fraction=flow.vapor_fraction,
        throat_density=None if density is None else density.reshape(shape),
        total_enthalpy=inlet.enthalpy.reshape(shape),
        composition=composition_of(fluid),
    )


def _passage(model: str, length: QuantityLike | None) -> FloatArray:
    if model == "length" and length is None:
        raise InputError('the model "length" needs the length of the passage')
    if model != "length" and length is not None:
        raise InputError(f'length goes with the model "length", not with {model!r}')
    return to_si(0.0 if length is None else length, "m", "length", lower=0.0)


def _equilibrium(fluid: Fluid, inlet: TwoPhaseInlet, length: FloatArray, device: str) -> _Run:
    if fluid.is_blend:
        return blend_equilibrium(fluid, inlet)
    flow = equilibrium_nozzle(fluid.table, inlet)
    p = np.minimum(flow.pressure, inlet.pressure)
    return flow, equilibrium_density(fluid.table, p, flow.temperature, flow.vapor_fraction)


def _omega(fluid: Fluid, inlet: TwoPhaseInlet, length: FloatArray, device: str) -> _Run:
    table, padded = fluid.tables, inlet.subcooled
    p_b, rho0 = inlet.saturation_pressure, inlet.density
    if padded.any():
        t_b = boiling_temperature(table, inlet.entropy, inlet.temperature)
        p_b = np.where(padded, table.saturated(t_b, "pressure")[0], p_b)
    expanded = state_at_pressure(table, inlet.entropy, EXPANDED_TO * p_b)
    omega = omega_from_densities(rho0, expanded_density=1.0 / expanded.specific_volume)
    ratio = p_b / inlet.pressure
    flow = omega_nozzle(omega, inlet.pressure, rho0, ratio, inlet.back_pressure)
    density = rho0 / relative_volume(omega, ratio, flow.pressure_ratio)
    return _with_throat(fluid, inlet, flow, np.ones(p_b.shape)), density


def _delayed(fluid: Fluid, inlet: TwoPhaseInlet, length: FloatArray, device: str) -> _Run:
    if inlet.subcooled.any():
        raise InputError(
            'the model "homogeneous non-equilibrium" takes saturated inlets only: its authors\' extension to '
            'padded liquid could not be read; take "length", "omega" or "homogeneous equilibrium"'
        )
    hottest, limit = float(inlet.temperature.max(initial=0.0)), HIGHEST_DELAYED * fluid.critical_temperature
    if hottest > limit:
        why = "where the latent heat still tells how liquid expands as it boils"
        raise OutOfRangeError("temperature", hottest, "K", None, limit, why)
    result = boiling_delay(
        inlet.temperature,
        pressure=inlet.pressure,
        liquid_density=inlet.liquid_density,
        vapor_density=inlet.vapor_density,
        latent_heat=inlet.latent_heat,
        liquid_heat_capacity=inlet.liquid_heat_capacity,
        vapor_fraction=inlet.vapor_fraction,
        back_pressure=inlet.back_pressure,
        device=device,
    )
    volume = relative_volume(result.omega, np.ones(result.omega.shape), result.flow.pressure_ratio)
    return _with_throat(fluid, inlet, result.flow, result.delay), inlet.density / volume


def _with_throat(fluid: Fluid, inlet: TwoPhaseInlet, flow: OmegaFlow, delay: FloatArray) -> NozzleFlow:
    """Add the throat's temperature and vapor fraction, of which `delay` has formed beyond the inlet's."""
    p = np.where(flow.choked, flow.pressure_ratio * inlet.pressure, inlet.back_pressure)
    flows, x0 = inlet.back_pressure < inlet.pressure, inlet.vapor_fraction
    boils = p < inlet.saturation_pressure
    state = state_at_pressure(fluid.tables, inlet.entropy, np.minimum(p, inlet.saturation_pressure))
    x = np.clip(state.vapor_fraction, 0.0, 1.0)
    return NozzleFlow(
        flux=np.where(flows, flow.flux, 0.0),
        choked=flow.choked,
        pressure=p,
        temperature=np.where(boils, state.temperature, inlet.temperature),
        vapor_fraction=np.where(boils, x0 + delay * (x - x0), x0),
    )


def _by_length(fluid: Fluid, inlet: TwoPhaseInlet, length: FloatArray, device: str) -> _Run:
    worst = float(inlet.vapor_fraction.max(initial=0.0))
    if worst > 0.0:
        why = 'the model "length" takes liquid inlets only'
        raise OutOfRangeError("vapor_fraction", worst, "", 0.0, 0.0, why)
    rate = equilibrium_rate_flux(
        inlet.temperature,
        liquid_density=fluid.saturated(inlet.temperature, "liquid_density")[0],
        vapor_density=inlet.vapor_density,
        latent_heat=inlet.latent_heat,
        liquid_heat_capacity=inlet.liquid_heat_capacity,
    )
    flux, choked = length_relaxed_flux(
        rate,
        length=length,
        liquid_density=inlet.liquid_density,
        pressure=inlet.pressure,
        saturation_pressure=inlet.saturation_pressure,
        back_pressure=inlet.back_pressure,
    )
    back = inlet.back_pressure
    flow = NozzleFlow(
        flux=np.where(back < inlet.pressure, flux, 0.0),
        choked=choked,
        pressure=np.where(choked, inlet.saturation_pressure, back),
        temperature=inlet.temperature,
        vapor_fraction=inlet.vapor_fraction,
    )
    return flow, None


def _frozen(fluid: Fluid, inlet: TwoPhaseInlet, length: FloatArray, device: str) -> _Run:
    gas = helmholtz.evaluate(fluid.table.equation, inlet.temperature, inlet.vapor_density)
    k = inlet.vapor_density * gas.speed_of_sound**2 / inlet.saturation_pressure
    flow = frozen_nozzle(
        inlet.pressure,
        liquid_density=inlet.liquid_density,
        vapor_density=inlet.vapor_density,
        vapor_fraction=inlet.vapor_fraction,
        isentropic_exponent=k,
        back_pressure=inlet.back_pressure,
    )
    flows, x = inlet.back_pressure < inlet.pressure, inlet.vapor_fraction
    p = np.where(flow.choked, flow.pressure_ratio * inlet.pressure, inlet.back_pressure)
    rho = inlet.vapor_density * np.exp(np.log(flow.pressure_ratio) / k)
    t = np.array(inlet.temperature)
    some = np.flatnonzero(flows & (x > 0.0))
    t[some] = _vapor_temperature(fluid.table, gas.entropy[some], rho[some], t[some])
    throat = NozzleFlow(np.where(flows, flow.flux, 0.0), flow.choked, p, t, x)
    return throat, 1.0 / (x / rho + (1.0 - x) / inlet.liquid_density)


def _vapor_temperature(table: FluidTable, entropy: FloatArray, rho: FloatArray, t: FloatArray) -> FloatArray:
    """Temperature of vapor at (s, rho), metastable where it would condense, from a start: ds = c_v d ln T."""
    for _ in range(NEWTON_STEPS):
        state = helmholtz.evaluate(table.equation, t, rho)
        t = t * np.exp((entropy - state.entropy) / state.isochoric_heat_capacity)
    return t


MODELS = {
    "homogeneous equilibrium": _Model(
        f"a passage longer than about {EQUILIBRIUM_LENGTH} m, where flashing keeps up with the flow",
        ("leung1986omega", "fauske1985emergency"),
        _equilibrium,
    ),
    "omega": _Model(
        "equilibrium in reduced form, for comparison with sizing by it and away from the critical point",
        ("leung1986omega", "leung1990similarity", "api2014sizing"),
        _omega,
    ),
    "homogeneous non-equilibrium": _Model(
        "a short device, where boiling lags behind the pressure",
        ("diener2004sizing", "iso2010sizing"),
        _delayed,
    ),
    "length": _Model(
        f"a liquid in a passage shorter than {EQUILIBRIUM_LENGTH} m, between no boiling and equilibrium",
        ("fauske1985emergency", "crowl2019safety"),
        _by_length,
    ),
    "frozen": _Model(
        "a thin wall, passed before anything boils; the largest rate",
        ("henry1971critical", "crowl2019safety"),
        _frozen,
    ),
}
