"""A boiling mixture through an opening."""

from __future__ import annotations

import numpy as np

from lpgrelease.constants import STANDARD_ATMOSPHERE
from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.quantities import QuantityLike, broadcast, to_si
from lpgrelease.release.nozzle import isentropic_nozzle
from lpgrelease.release.opening import Opening
from lpgrelease.release.rate import ReleaseRate, ambient, make_rate, require_kinds, served_by

__all__ = ["two_phase_release"]

MODELS = ("homogeneous equilibrium",)


def two_phase_release(
    fluid: Fluid,
    opening: Opening,
    *,
    temperature: QuantityLike,
    vapor_fraction: QuantityLike,
    ambient_pressure: QuantityLike = STANDARD_ATMOSPHERE,
    model: str = "homogeneous equilibrium",
) -> ReleaseRate:
    """Flow of a saturated liquid-vapor mixture from rest through an opening long enough for equilibrium.

    Parameters
    ----------
    fluid : Fluid
    opening : Opening
    temperature : number, array or quantity
        Saturation temperature inside, T0 [K].
    vapor_fraction : number or array
        Vapor mass fraction inside, x0, 0 (saturated liquid) to 1 (saturated vapor).
    ambient_pressure : number, array or quantity
        [Pa], absolute.
    model : {"homogeneous equilibrium"}
        Liquid and vapor at one velocity and in equilibrium throughout.

    Returns
    -------
    ReleaseRate

    Raises
    ------
    InputError, OutOfRangeError

    Notes
    -----
    The isentrope itself is followed, not a fit of it: G = C_d max over p >= p_amb of
    sqrt(2 (h0 - h))/v with h0 = h_l + x0 L and s0 = s_l + x0 L/T. Equilibrium needs about 0.1 m of
    passage (fauske1985emergency); a thin-walled hole passes more, up to `liquid_release`.

    References
    ----------
    leung1986omega, fauske1985emergency.

    Examples
    --------
    >>> from lpgrelease import Fluid, Opening, two_phase_release
    >>> hole = Opening(diameter=0.025, discharge_coefficient=1.0)
    >>> rate = two_phase_release(Fluid("propane"), hole, temperature=293.15, vapor_fraction=0.0)
    >>> print(f"{rate.mass_flux:.0f} kg/m2/s")
    6075 kg/m2/s
    """
    if model not in MODELS:
        raise InputError(f"model must be one of {', '.join(MODELS)}; got {model!r}")
    require_kinds(fluid, opening)
    p_amb = ambient(fluid, ambient_pressure)
    t = fluid.saturation_range(temperature, "temperature")
    x = to_si(vapor_fraction, "", "vapor_fraction", lower=0.0, upper=1.0, why="a mass fraction")
    t, x, p_amb = broadcast(temperature=t, vapor_fraction=x, ambient_pressure=p_amb)
    shape = t.shape
    t, x, p_amb = np.ravel(t), np.ravel(x), np.ravel(p_amb)
    p, h_l, latent, s_l = fluid.saturated(t, "pressure", "liquid_enthalpy", "latent_heat", "liquid_entropy")
    flow = isentropic_nozzle(
        fluid.table,
        enthalpy=h_l + x * latent,
        entropy=s_l + x * latent / t,
        temperature=t,
        pressure=p,
        back_pressure=p_amb,
    ).reshaped(shape)
    return make_rate(
        opening,
        served_by(fluid, model, "leung1986omega", "fauske1985emergency"),
        ideal_flux=flow.flux,
        choked=flow.choked,
        throat_pressure=flow.pressure,
        throat_temperature=flow.temperature,
        throat_vapor_fraction=flow.vapor_fraction,
    )
