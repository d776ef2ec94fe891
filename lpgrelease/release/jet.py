"""What comes out: the jet behind an opening or a line, once it has expanded to the air's pressure."""

from __future__ import annotations

import numpy as np

from lpgrelease.constants import STANDARD_ATMOSPHERE
from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.fluids import Fluid, helmholtz
from lpgrelease.fluids.blend_isentrope import vapor_mass_fraction
from lpgrelease.fluids.equilibrium import flash_enthalpy
from lpgrelease.fluids.table import FluidTable
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast
from lpgrelease.release.line import Line
from lpgrelease.release.opening import Opening
from lpgrelease.release.rate import ReleaseRate, ambient, served_by, throat_density
from lpgrelease.results import Result, quantity, result

__all__ = ["Jet", "expanded_jet", "expanded_velocity"]

COOLED = 5.0
"""No liquid cools by more [K] as it leaves the highest pressures served."""
NEWTON_STEPS = 5
"""Of a liquid's temperature at a given enthalpy: round-off after 4."""


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
        From `vapor_release`, `liquid_release`, `two_phase_release` or `line_release`; not by the model
        "length", which says nothing of a throat.
    ambient_pressure : number, array or quantity
        That of the release [Pa], absolute.

    Returns
    -------
    Jet

    Raises
    ------
    InputError, OutOfRangeError
        Among others for a release by the model "length" (take "homogeneous equilibrium" and "frozen", which
        bound its rate), for one of another fluid, and for one whose model fails so near the critical point
        that its speed would take more energy than there is.

    Notes
    -----
    With the throat's pressure p_t and specific volume v_t as the release's model has them, its flux
    G = mass_flux/C_d and the enthalpy h0 at rest inside: u_t = G v_t; between the throat and the plane where
    the pressure is that of the air, without mixing and without wall,

    u = u_t + (p_t - p)/G,   h = h0 - u**2/2,   F = m u

    by momentum, energy and mass; T and x follow from h and p at equilibrium (of a blend by its flash, of the
    composition that flows), so that a liquid that came out unboiled has boiled by then. The thrust is that
    of a jet that leaves freely; for a liquid or an unchoked jet u = u_t. Shocks inside the expansion change
    none of these.

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
    parts = broadcast(**_fields(fluid, source, release), ambient_pressure=ambient(fluid, ambient_pressure))
    shape = parts[0].shape
    flux, flow, p_t, t_t, x_t, rho_t, h0, c_d, p = (np.ravel(a) for a in parts)
    flows = flux > 0.0
    ideal = np.where(flows, flux / c_d, 1.0)
    u_t, u = ideal / rho_t, expanded_velocity(ideal, rho_t, p_t, p)
    t, x, v = np.array(t_t), np.array(x_t), 1.0 / rho_t
    some = np.flatnonzero(flows)
    h = (h0 - 0.5 * u * u)[some]
    if fluid.is_blend:
        z = _composition(release, shape)[:, some]
        t[some], x[some], v[some] = _expanded_blend(fluid, z, p[some], h)
    else:
        _refuse_too_fast(fluid, u[some], h0[some])
        t[some], x[some], v[some] = _expanded(fluid, p[some], h)
    fields = {
        "velocity": np.where(flows, u, 0.0),
        "temperature": t,
        "vapor_fraction": x,
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


def expanded_velocity(
    ideal_flux: FloatArray, density: FloatArray, throat_pressure: FloatArray, ambient_pressure: FloatArray
) -> FloatArray:
    """Speed [m/s] after expansion to the air: that in the throat, and the push of its pressure."""
    push = np.maximum(throat_pressure - ambient_pressure, 0.0)
    velocity: FloatArray = ideal_flux / density + push / ideal_flux
    return velocity


def _fields(fluid: Fluid, source: Opening | Line, release: ReleaseRate) -> dict[str, FloatArray]:
    """Fields of the release that make the jet; refuses what has no throat or is of another kind of fluid."""
    density = throat_density(release)
    if release.total_enthalpy is None:
        raise InputError("release of an ideal gas carries no enthalpy; take vapor_release")
    count = 0 if release.composition is None else release.composition.shape[-1]
    if count != (len(fluid.fractions) if fluid.is_blend else 0):
        raise InputError(f"release is not of this fluid: {fluid.name}")
    return {
        "mass_flux": release.mass_flux,
        "mass_flow": release.mass_flow,
        "throat_pressure": release.throat_pressure,
        "throat_temperature": release.throat_temperature,
        "throat_vapor_fraction": release.throat_vapor_fraction,
        "throat_density": density,
        "total_enthalpy": release.total_enthalpy,
        "discharge_coefficient": source.discharge_coefficient,
    }


def _refuse_too_fast(fluid: Fluid, u: FloatArray, h0: FloatArray) -> None:
    """Refuse jets with more kinetic energy than what flows has to give."""
    coldest, c = fluid.saturated(
        np.array(fluid.lowest_temperature), "liquid_enthalpy", "liquid_heat_capacity"
    )
    fastest = np.sqrt(2.0 * np.maximum(h0 - coldest + COOLED * c, 0.0))
    some = np.flatnonzero(u > fastest)
    if some.size:
        worst, why = some[0], "the model of the release gives more speed than there is energy"
        remedy = 'near the critical point take "homogeneous equilibrium"'
        limit = float(fastest[worst])
        raise OutOfRangeError("velocity of the jet", float(u[worst]), "m/s", None, limit, f"{why}; {remedy}")


def _composition(release: ReleaseRate, shape: tuple[int, ...]) -> FloatArray:
    """Mole fractions of the jet, (components, n)."""
    given = np.asarray(release.composition)
    return np.broadcast_to(given, (*shape, given.shape[-1])).reshape(-1, given.shape[-1]).T


def _expanded(fluid: Fluid, p: FloatArray, h: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Temperature, vapor fraction and specific volume at (p, h), at equilibrium."""
    t_b = fluid.saturation_temperature(p)
    rho_l, rho_v, h_l, latent, c_l, c_v = fluid.saturated(
        t_b,
        "liquid_density",
        "vapor_density",
        "liquid_enthalpy",
        "latent_heat",
        "liquid_heat_capacity",
        "vapor_heat_capacity",
    )
    x = (h - h_l) / latent
    t, v = np.array(t_b), 1.0 / rho_l + x * (1.0 / rho_v - 1.0 / rho_l)
    dry, cold = np.flatnonzero(x > 1.0), np.flatnonzero(x < 0.0)
    if dry.size:
        stretch = (1.0 + (x - 1.0) * latent / (c_v * t_b))[dry]
        t[dry], rho = helmholtz.gas_from_enthalpy(
            fluid.table.equation, p[dry], h[dry], t_b[dry] * stretch, rho_v[dry] / stretch
        )
        v[dry] = 1.0 / rho
    if cold.size:
        start = (t_b + (h - h_l) / c_l)[cold]
        t[cold], v[cold] = _cold_liquid(fluid.table, p[cold], h[cold], start)
    return t, np.clip(x, 0.0, 1.0), v


def _cold_liquid(
    table: FluidTable, p: FloatArray, h: FloatArray, t: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Temperature and specific volume of liquid below its boiling point at (p, h), from a start."""
    for _ in range(NEWTON_STEPS):
        (start,) = table.saturated(np.maximum(t, table.lowest_temperature), "liquid_density")
        rho = helmholtz.density_from_pressure(table.equation, t, p, start)
        state = helmholtz.evaluate(table.equation, t, rho)
        t = t + (h - state.enthalpy) / state.heat_capacity
    return t, 1.0 / rho


def _expanded_blend(
    fluid: Fluid, z: FloatArray, p: FloatArray, h: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Do as `_expanded` for mole fractions z (nc, n)."""
    mixture = fluid.blend.mixture
    m = mixture.mass(z)
    state = fluid.blend.require(flash_enthalpy(mixture, z, p, h * m))
    return state.temperature, vapor_mass_fraction(mixture, z, state), state.volume / m
