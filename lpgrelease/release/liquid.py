"""Liquid through an opening: metastable, incompressible."""

from __future__ import annotations

import numpy as np

from lpgrelease.constants import STANDARD_ATMOSPHERE, STANDARD_GRAVITY
from lpgrelease.fluids import Fluid
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.release.opening import Opening
from lpgrelease.release.rate import ReleaseRate, ambient, composition_of, make_rate, require_kinds, served_by

__all__ = ["driving_pressure", "flux_driven_by", "incompressible_flux", "liquid_release"]


def driving_pressure(
    density: FloatArray, pressure: FloatArray, back_pressure: FloatArray, head: FloatArray
) -> FloatArray:
    """Return what drives liquid out, p - p_back + rho g head [Pa]."""
    return pressure - back_pressure + density * STANDARD_GRAVITY * head


def incompressible_flux(
    density: FloatArray, pressure: FloatArray, back_pressure: FloatArray, head: FloatArray
) -> FloatArray:
    """Ideal flux sqrt(2 rho (p + rho g head - p_back)) [kg/m2/s], zero without drive. Unchecked."""
    return flux_driven_by(driving_pressure(density, pressure, back_pressure, head), density)


def flux_driven_by(drive: FloatArray, density: FloatArray) -> FloatArray:
    """Return sqrt(2 rho drive) [kg/m2/s], zero without drive."""
    flux: FloatArray = np.sqrt(2.0 * density * np.maximum(drive, 0.0))
    return flux


def liquid_release(
    fluid: Fluid,
    opening: Opening,
    *,
    temperature: QuantityLike,
    head: QuantityLike = 0.0,
    pressure: QuantityLike | None = None,
    ambient_pressure: QuantityLike = STANDARD_ATMOSPHERE,
) -> ReleaseRate:
    """Flow of liquid through a short opening, which it passes before it has time to boil.

    The largest rate a liquid-space hole can have; a long crack or pipe passes less (`two_phase_release`).

    Parameters
    ----------
    fluid : Fluid
    opening : Opening
    temperature : number, array or quantity
        Of the liquid, T [K].
    head : number, array or quantity
        Depth of liquid above the opening [m]; 0 or more.
    pressure : number, array or quantity, optional
        At the liquid's surface, p [Pa], if padded above saturation; None: saturation.
    ambient_pressure : number, array or quantity
        [Pa], absolute.

    Returns
    -------
    ReleaseRate
        Never choked; the throat is at ambient pressure, liquid, at the temperature inside.

    Raises
    ------
    InputError, OutOfRangeError

    Notes
    -----
    G = C_d sqrt(2 rho (p + rho g head - p_amb)) (crowl2019safety, chapter 4), rho of the liquid at T and p.
    Valid for sharp-edged holes and walls thin against 0.1 m, the length over which flashing catches up
    (fauske1985emergency). At zero gauge only the head drives it.

    References
    ----------
    crowl2019safety, fauske1985emergency.

    Examples
    --------
    >>> from lpgrelease import Fluid, Opening, liquid_release
    >>> hole = Opening(diameter=0.025)
    >>> rate = liquid_release(Fluid("propane"), hole, temperature=293.15, head=1.0)
    >>> print(f"{rate.mass_flow:.2f} kg/s")
    8.28 kg/s
    """
    require_kinds(fluid, opening)
    p_amb = ambient(fluid, ambient_pressure)
    t = fluid.saturation_range(temperature, "temperature")
    depth = to_si(head, "m", "head", lower=0.0)
    if pressure is None:
        p, rho, h = fluid.saturated(t, "pressure", "liquid_density", "liquid_enthalpy")
    else:
        state = fluid.liquid(temperature=t, pressure=pressure)
        p, rho, h = state.pressure, state.density, state.enthalpy
    t, p, rho, h, depth, p_amb = broadcast(
        temperature=t, pressure=p, density=rho, enthalpy=h, head=depth, ambient_pressure=p_amb
    )
    return make_rate(
        opening,
        served_by(fluid, "metastable incompressible liquid", "crowl2019safety", "fauske1985emergency"),
        ideal_flux=incompressible_flux(rho, p, p_amb, depth),
        choked=np.zeros(t.shape, dtype=np.bool_),
        throat_pressure=p_amb,
        throat_temperature=t,
        throat_vapor_fraction=np.zeros(t.shape),
        throat_density=rho,
        total_enthalpy=h + STANDARD_GRAVITY * depth,
        composition=composition_of(fluid),
    )
