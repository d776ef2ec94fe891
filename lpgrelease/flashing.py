"""Flashing: how much of a liquid turns to vapor when its pressure is let down at once."""

from __future__ import annotations

import numpy as np

from lpgrelease.constants import STANDARD_ATMOSPHERE
from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid, helmholtz
from lpgrelease.fluids.isentrope import state_at_pressure
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast
from lpgrelease.results import Provenance, Result, quantity, result

__all__ = ["Flash", "flash"]

PATHS = ("isenthalpic", "isentropic")


@result
class Flash(Result):
    """Liquid let down to the ambient pressure; all fields share one shape."""

    vapor_fraction: FloatArray = quantity("", "vapor mass fraction x")
    temperature: FloatArray = quantity("K", "temperature after the flash")
    pressure: FloatArray = quantity("Pa", "pressure after the flash, absolute")
    enthalpy_drop: FloatArray = quantity("J/kg", "specific enthalpy turned into kinetic energy")


def flash(
    fluid: Fluid,
    *,
    temperature: QuantityLike,
    ambient_pressure: QuantityLike = STANDARD_ATMOSPHERE,
    pressure: QuantityLike | None = None,
    path: str = "isenthalpic",
) -> Flash:
    """Vapor mass fraction of a liquid let down to a lower pressure without heat from outside.

    Parameters
    ----------
    fluid : Fluid
    temperature : number, array or quantity
        Of the liquid before, T0 [K].
    ambient_pressure : number, array or quantity
        Pressure after, p [Pa], absolute.
    pressure : number, array or quantity, optional
        Of the liquid before, p0 [Pa], if padded above saturation; None: saturated.
    path : {"isenthalpic", "isentropic"}
        "isenthalpic": the jet's speed is turned back into heat (what lands or drifts away). "isentropic":
        the jet keeps it (what leaves the opening); its enthalpy drop is the kinetic energy.

    Returns
    -------
    Flash

    Raises
    ------
    InputError, OutOfRangeError

    Notes
    -----
    Isenthalpic: x = (h0 - h_l(T_b))/L(T_b); isentropic: x = (s0 - s_l(T_b)) T_b/L(T_b); T_b the saturation
    temperature at the ambient pressure. A liquid too cold for that does not flash: x = 0, and it keeps
    its temperature (throttling moves that of a liquid by less than 0.1 K per bar); its isentropic enthalpy
    drop is (p0 - p)/rho0. A liquid hot enough to
    vaporize altogether ends as superheated vapor: x = 1, with its temperature from the equation of state. A
    blend is solved for both phases at (p, h) or (p, s), each with its own composition.

    References
    ----------
    crowl2019safety, chapter 4.

    Examples
    --------
    >>> from lpgrelease import Fluid, flash
    >>> state = flash(Fluid("propane"), temperature=293.15)
    >>> print(f"{state.vapor_fraction:.4f} at {state.temperature:.2f} K")
    0.3555 at 231.04 K
    """
    if not isinstance(fluid, Fluid):
        raise InputError(f"fluid must be a Fluid, got {fluid!r}")
    if not isinstance(path, str) or path not in PATHS:
        raise InputError(f"path must be one of {', '.join(PATHS)}; got {path!r}")
    p_amb = fluid.pressure_range(ambient_pressure, "ambient_pressure")
    t = fluid.saturation_range(temperature, "temperature")
    if pressure is None:
        p0, rho0, h0, s0 = fluid.saturated(
            t, "pressure", "liquid_density", "liquid_enthalpy", "liquid_entropy"
        )
    else:
        before = fluid.liquid(temperature=t, pressure=pressure)
        p0, rho0, h0, s0 = before.pressure, before.density, before.enthalpy, before.entropy
    t, p0, rho0, h0, s0, p_amb = broadcast(
        temperature=t, pressure=p0, density=rho0, enthalpy=h0, entropy=s0, ambient_pressure=p_amb
    )
    shape = t.shape
    push = np.maximum(p0 - p_amb, 0.0) / rho0
    x, t_after, drop = _let_down(fluid, path, *(np.ravel(a) for a in (t, h0, s0, p_amb, push)))
    return Flash(
        vapor_fraction=x.reshape(shape)[()],
        temperature=t_after.reshape(shape)[()],
        pressure=np.array(p_amb)[()],
        enthalpy_drop=drop.reshape(shape)[()],
        provenance=Provenance(
            f"{path} flash",
            ("crowl2019safety",),
            fluid.credit,
        ),
    )


def _let_down(
    fluid: Fluid,
    path: str,
    t: FloatArray,
    h0: FloatArray,
    s0: FloatArray,
    p: FloatArray,
    push: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    if fluid.is_blend:
        blend = fluid.blend
        isentropic = path == "isentropic"
        after = blend.flash_entropy(p, s0) if isentropic else blend.flash_enthalpy(p, h0)
        drop = h0 - after.enthalpy / blend.molar_mass if isentropic else np.zeros_like(h0)
        return blend.vapor_mass_fraction(after), after.temperature, np.maximum(drop, 0.0)
    t_b = fluid.saturation_temperature(p)
    boils = t > t_b
    if path == "isentropic":
        state = state_at_pressure(fluid.table, s0, p)
        fraction, t_after, drop = state.vapor_fraction, state.temperature, h0 - state.enthalpy
        drop = np.where(boils, np.maximum(drop, 0.0), push)
    else:
        h_l, latent = fluid.saturated(t_b, "liquid_enthalpy", "latent_heat")
        fraction, t_after, drop = (h0 - h_l) / latent, t_b, np.zeros_like(h0)
        boils = fraction > 0.0
        dry = fraction > 1.0
        if dry.any():
            t_after = t_after.copy()
            t_after[dry] = _superheated(fluid, p[dry], h0[dry], t_b[dry])
    x = np.where(boils, np.clip(fraction, 0.0, 1.0), 0.0)
    return x, np.where(boils, t_after, t), drop


def _superheated(fluid: Fluid, p: FloatArray, h: FloatArray, t_b: FloatArray) -> FloatArray:
    (rho,) = fluid.saturated(t_b, "vapor_density")
    t, _ = helmholtz.gas_from_enthalpy(fluid.table.equation, p, h, t_b, rho)
    return t
