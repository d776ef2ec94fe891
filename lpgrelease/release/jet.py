"""What comes out: the jet behind an opening or a line, once it has expanded to the air's pressure."""

from __future__ import annotations

import numpy as np

from lpgrelease.constants import STANDARD_ATMOSPHERE
from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid, helmholtz
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast
from lpgrelease.release.line import Line
from lpgrelease.release.opening import Opening
from lpgrelease.release.rate import ReleaseRate, ambient, served_by
from lpgrelease.results import Result, quantity, result

__all__ = ["Jet", "expanded_jet"]


@result
class Jet(Result):
    """Jet at the ambient pressure, before air mixes in; all fields share one shape, zero where none flows."""

    velocity: FloatArray = quantity("m/s", "velocity")
    temperature: FloatArray = quantity("K", "temperature")
    vapor_fraction: FloatArray = quantity("", "vapor mass fraction; the rest is drops")
    density: FloatArray = quantity("kg/m**3", "density, drops and vapor together")
    diameter: FloatArray = quantity("m", "diameter")
    thrust: FloatArray = quantity("N", "force on the container, against the jet")
    exit_velocity: FloatArray = quantity("m/s", "velocity in the throat")


def expanded_jet(
    fluid: Fluid,
    source: Opening | Line,
    release: ReleaseRate,
    *,
    ambient_pressure: QuantityLike = STANDARD_ATMOSPHERE,
) -> Jet:
    """Velocity, temperature, vapor fraction and thrust of a jet expanded to the ambient pressure.

    Parameters
    ----------
    fluid : Fluid
    source : Opening or Line
        That of the release.
    release : ReleaseRate
        From `vapor_release`, `liquid_release`, `two_phase_release` or `line_release`.
    ambient_pressure : number, array or quantity
        That of the release [Pa], absolute.

    Returns
    -------
    Jet

    Raises
    ------
    InputError, OutOfRangeError

    Notes
    -----
    With the throat's state (t) and its flux G = mass_flux/C_d: u_t = G v_t, h0 = h_t + u_t**2/2; between the
    throat and the plane where the pressure is that of the air, without mixing and without wall,

    u = u_t + (p_t - p)/G,   h = h0 - u**2/2,   F = m u

    by momentum, energy and mass; T and x follow from h and p at equilibrium, so that a liquid that came
    out unboiled has boiled by then. The thrust is that of a jet that leaves freely; for a liquid or an
    unchoked jet u = u_t. Shocks inside the expansion change none of these.

    References
    ----------
    crowl2019safety, bosch2005methods (from memory).

    Examples
    --------
    >>> from lpgrelease import Fluid, Opening, liquid_release
    >>> propane, hole = Fluid("propane"), Opening(diameter=0.025)
    >>> jet = expanded_jet(propane, hole, liquid_release(propane, hole, temperature=293.15))
    >>> print(f"{jet.velocity:.0f} m/s, {jet.vapor_fraction:.2f} vapor, {jet.thrust:.0f} N")
    54 m/s, 0.35 vapor, 447 N
    """
    if not isinstance(fluid, Fluid):
        raise InputError(f"fluid must be a Fluid, got {fluid!r}")
    if not isinstance(source, (Opening, Line)):
        raise InputError(f"source must be an Opening or a Line, got {source!r}")
    if not isinstance(release, ReleaseRate):
        raise InputError(f"release must be a ReleaseRate, got {release!r}")
    parts = broadcast(
        mass_flux=release.mass_flux,
        mass_flow=release.mass_flow,
        throat_pressure=release.throat_pressure,
        throat_temperature=release.throat_temperature,
        throat_vapor_fraction=release.throat_vapor_fraction,
        discharge_coefficient=source.discharge_coefficient,
        ambient_pressure=ambient(fluid, ambient_pressure),
    )
    shape = parts[0].shape
    flux, flow, p_t, t_t, x_t, c_d, p = (np.ravel(a) for a in parts)
    flows = flux > 0.0
    ideal = np.where(flows, flux / c_d, 1.0)
    v_t, h_t = _throat(fluid, p_t, t_t, x_t)
    u_t = ideal * v_t
    u = u_t + np.maximum(p_t - p, 0.0) / ideal
    h = h_t + 0.5 * (u_t * u_t - u * u)
    t, x, v = _expanded(fluid, p, h, t_t)
    fields = {
        "velocity": np.where(flows, u, 0.0),
        "temperature": np.where(flows, t, t_t),
        "vapor_fraction": np.where(flows, x, x_t),
        "density": 1.0 / v,
        "diameter": np.sqrt(4.0 / np.pi * flow * v / np.where(flows, u, 1.0)),
        "thrust": np.where(flows, flow * u, 0.0),
        "exit_velocity": np.where(flows, u_t, 0.0),
    }
    return Jet(
        provenance=served_by(
            fluid, "momentum balance to ambient pressure", "crowl2019safety", "bosch2005methods"
        ),
        **{name: values.reshape(shape)[()] for name, values in fields.items()},
    )


def _throat(fluid: Fluid, p: FloatArray, t: FloatArray, x: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Specific volume and enthalpy in a throat: wet, dry, or liquid that has not boiled."""
    below = np.minimum(t, fluid.highest_temperature)
    p_s, rho_l, rho_v, h_l, latent = fluid.saturated(
        below, "pressure", "liquid_density", "vapor_density", "liquid_enthalpy", "latent_heat"
    )
    v_l = 1.0 / rho_l
    v = v_l + x * (1.0 / rho_v - v_l)
    h = h_l + x * latent + np.where(x == 0.0, (p - p_s) * v_l, 0.0)
    dry = x == 1.0
    if dry.any():
        # a dry throat holds gas at (T, p); on the saturation line both branches agree
        start = p[dry] / (fluid.table.gas_constant * t[dry])
        rho = helmholtz.density_from_pressure(fluid.table.equation, t[dry], p[dry], start)
        v[dry] = 1.0 / rho
        h[dry] = helmholtz.evaluate(fluid.table.equation, t[dry], rho).enthalpy
    return v, h


def _expanded(
    fluid: Fluid, p: FloatArray, h: FloatArray, t_throat: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Temperature, vapor fraction and specific volume at (p, h), at equilibrium."""
    t_b = fluid.saturation_temperature(p)
    rho_l, rho_v, h_l, latent = fluid.saturated(
        t_b, "liquid_density", "vapor_density", "liquid_enthalpy", "latent_heat"
    )
    x = (h - h_l) / latent
    cold, dry = x <= 0.0, x > 1.0
    (rho_cold,) = fluid.saturated(np.minimum(t_throat, t_b), "liquid_density")
    t = np.where(cold, np.minimum(t_throat, t_b), t_b)
    v = np.where(cold, 1.0 / rho_cold, 1.0 / rho_l + x * (1.0 / rho_v - 1.0 / rho_l))
    if dry.any():
        (c_p,) = fluid.saturated(t_b[dry], "vapor_heat_capacity")
        stretch = 1.0 + (x[dry] - 1.0) * latent[dry] / (c_p * t_b[dry])
        t[dry], rho = helmholtz.gas_from_enthalpy(
            fluid.table.equation, p[dry], h[dry], t_b[dry] * stretch, rho_v[dry] / stretch
        )
        v[dry] = 1.0 / rho
    return t, np.clip(x, 0.0, 1.0), v
