"""What feeds a cloud: vapor from a pool or a slow leak, or a jet that may carry drops."""

from __future__ import annotations

import numpy as np

from lpgrelease.constants import STANDARD_ATMOSPHERE
from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.pool import PoolHistory
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, require_kind, to_si
from lpgrelease.release.jet import expanded_velocity
from lpgrelease.release.rate import ReleaseRate, throat_density
from lpgrelease.results import Provenance, Result, plain, quantity, result

__all__ = ["GasSource", "jet_source", "pool_source", "refuse_other_fluid"]

ASSUMED = "; composition assumed"
"""After this a credit names the grade whose composition it is."""


@result
class GasSource(Result):
    """Steady source of gas on or near the ground.

    Parameters
    ----------
    mass_flow : number, array or quantity
        Of gas and of drops that stay in the air [kg/s], above 0.
    temperature : number, array or quantity, optional
        Of the gas as it enters the air [K]; None takes the boiling point at the ambient pressure. Drops are
        at that point: where there are any, `flammable_reach` refuses another temperature.
    liquid_fraction : number or array
        Mass of drops over mass of gas and drops, 0 to 0.99.
    velocity : number, array or quantity
        Of a jet that blows downwind along the ground, once expanded to the ambient pressure [m/s], 0 to 600;
        0 for a source without momentum.
    diameter : number, array or quantity, optional
        Of a source without momentum [m], as a pool. None, and a smaller one, is taken as (q/u)^(1/2), q the
        volume flow. A jet needs none.
    height : number, array or quantity
        Of a jet above the ground [m], 0 to 10.
    duration : number, array or quantity, optional
        [s]; None for a source that lasts.

    Raises
    ------
    InputError, OutOfRangeError
        Wrong kind; outside the ranges above.

    Examples
    --------
    >>> GasSource(mass_flow=0.5, diameter=3.0).mass_flow
    np.float64(0.5)
    """

    mass_flow: QuantityLike = quantity("kg/s", "mass flow of gas and airborne drops")
    temperature: QuantityLike | None = quantity("K", "temperature of the gas at its source", default=None)
    liquid_fraction: QuantityLike = quantity("", "mass fraction of drops", default=0.0)
    velocity: QuantityLike = quantity("m/s", "velocity of the expanded jet", default=0.0)
    diameter: QuantityLike | None = quantity("m", "diameter of a source without momentum", default=None)
    height: QuantityLike = quantity("m", "height of a jet above the ground", default=0.0)
    duration: QuantityLike | None = quantity("s", "how long the source lasts", default=None)
    provenance: Provenance = plain("where the numbers come from", default=Provenance("source as given"))

    def __post_init__(self) -> None:
        """Turn every number into SI arrays and check it."""
        limits: dict[str, tuple[str, float, float | None, bool, str]] = {
            "mass_flow": ("kg/s", 0.0, None, True, "gas must flow"),
            "temperature": ("K", 60.0, 500.0, False, "gas from a cold pool to a warm vent"),
            "liquid_fraction": ("", 0.0, 0.99, False, "drops need some vapor between them"),
            "velocity": ("m/s", 0.0, 600.0, False, "expanded jets of liquefied gas"),
            "diameter": ("m", 0.0, 1000.0, True, "a pool"),
            "height": ("m", 0.0, 10.0, False, "a leak near the ground"),
            "duration": ("s", 0.0, None, True, "a time"),
        }
        arrays = {}
        for name, (unit, lower, upper, open_lower, why) in limits.items():
            value = getattr(self, name)
            if value is not None:
                arrays[name] = to_si(
                    value, unit, name, lower=lower, upper=upper, open_lower=open_lower, why=why
                )
                object.__setattr__(self, name, arrays[name])
        broadcast(**arrays)


def refuse_other_fluid(made: Provenance, fluid: Fluid, name: str) -> None:
    """Refuse a pool, a release or a source that was made with the properties of another fluid.

    What was given by hand says none and passes, and so do fluids that one source serves, as the butanes.

    Examples
    --------
    >>> refuse_other_fluid(Provenance("by hand"), Fluid("propane"), "source")
    """
    own, theirs = (text.partition(ASSUMED)[0] for text in (fluid.credit, made.properties))
    if theirs not in {"", "as given", own}:
        raise InputError(f"{name}: made with the properties of another fluid than {fluid.name} ({theirs})")


def pool_source(pool: PoolHistory) -> GasSource:
    """Vapor of a pool while it gives most: its highest rate of evaporation and its size at that time.

    Parameters
    ----------
    pool : PoolHistory

    Returns
    -------
    GasSource
        Of the shape of the scenarios. It lasts as long as at least half of the highest rate comes.

    Raises
    ------
    InputError
        Not a pool, or one that never gives vapor.

    Notes
    -----
    The vapor that flashes before it lands is not part of it. The size is the larger of those before and after
    the step of the highest rate.

    Examples
    --------
    >>> import lpgrelease as lr
    >>> pool = lr.pool_history(lr.Fluid("propane"), lr.Spill(mass_flow=0.5, duration=900.0),
    ...     ground=lr.Ground.named("moist sand"), duration=1800.0)
    >>> print(f"{pool_source(pool).mass_flow:.2f} kg/s")
    0.26 kg/s
    """
    if not isinstance(pool, PoolHistory):
        raise InputError(f"pool: {type(pool).__name__} is no PoolHistory")
    rate = np.asarray(pool.evaporation_rate)
    at = np.argmax(rate, axis=-1)[..., None]
    highest = np.take_along_axis(rate, at, axis=-1)[..., 0]
    if highest.size == 0 or highest.min() <= 0.0:
        raise InputError("pool: it gives no vapor")
    steps = np.diff(np.asarray(pool.time), axis=-1)
    strong = rate[..., 1:] >= 0.5 * highest[..., None]
    duration = np.where(strong, steps, 0.0)
    total = duration[..., 0]
    for i in range(1, duration.shape[-1]):  # elementwise sums, the same for any number of scenarios
        total = total + duration[..., i]
    return GasSource(
        mass_flow=highest[()],
        temperature=np.take_along_axis(np.asarray(pool.temperature), at, axis=-1)[..., 0][()],
        diameter=2.0 * np.take_along_axis(np.asarray(pool.radius), at, axis=-1)[..., 0][()],
        duration=total[()],
        provenance=Provenance(
            "strongest evaporation of a pool", pool.provenance.sources, pool.provenance.properties
        ),
    )


def jet_source(
    fluid: Fluid,
    release: ReleaseRate,
    *,
    temperature: QuantityLike,
    vapor_fraction: QuantityLike = 0.0,
    discharge_coefficient: QuantityLike = 0.62,
    captured_fraction: QuantityLike = 0.0,
    height: QuantityLike = 0.0,
    ambient_pressure: QuantityLike = STANDARD_ATMOSPHERE,
    duration: QuantityLike | None = None,
) -> GasSource:
    """Jet from an opening, expanded to the ambient pressure, with the drops that fly on.

    Parameters
    ----------
    fluid : Fluid
    release : ReleaseRate
        Of `vapor_release`, `liquid_release` or `two_phase_release`.
    temperature : number, array or quantity
        Inside the container, on its saturation line [K].
    vapor_fraction : number or array
        Vapor mass fraction inside: 1 for a vapor release, 0 for liquid.
    discharge_coefficient : number or array
        Of the opening, 0.3 to 1.
    captured_fraction : number or array
        Share of the liquid left after the flash that falls to the ground, 0 to 1.
    height : number, array or quantity
        Of the opening above the ground [m].
    ambient_pressure : number, array or quantity
        [Pa], absolute.
    duration : number, array or quantity, optional
        [s].

    Returns
    -------
    GasSource

    Raises
    ------
    InputError, OutOfRangeError
        Bad arguments; a release of another fluid, or by the model "length", which says nothing of a throat.

    Notes
    -----
    Momentum: u_e = v + (p_t - p_a)/G with v = G/rho_t, rho_t as the release has it and G the flux of the
    ideal nozzle; without friction of air on the expansion. Heat: without heat or work from rest inside to
    rest outside, so that the jet's speed turns to heat as it slows. References: crowl2019safety, chapter 4;
    leung1986omega.

    Examples
    --------
    >>> from lpgrelease import Fluid, Opening, two_phase_release
    >>> propane, hole = Fluid("propane"), Opening(diameter=0.012)
    >>> out = two_phase_release(propane, hole, temperature=293.15, vapor_fraction=0.0)
    >>> jet = jet_source(propane, out, temperature=293.15)
    >>> print(f"{jet.velocity:.0f} m/s, {jet.liquid_fraction:.2f} drops")
    129 m/s, 0.64 drops
    """
    require_kind(fluid, Fluid, "fluid")
    require_kind(release, ReleaseRate, "release")
    p_a = fluid.pressure_range(ambient_pressure, "ambient_pressure")
    t = fluid.saturation_range(temperature, "temperature")
    x = to_si(vapor_fraction, "", "vapor_fraction", lower=0.0, upper=1.0)
    cd = to_si(discharge_coefficient, "", "discharge_coefficient", lower=0.3, upper=1.0)
    captured = to_si(captured_fraction, "", "captured_fraction", lower=0.0, upper=1.0, why="a share")
    p_a, t, x, cd, captured, flow, flux = broadcast(
        ambient_pressure=p_a,
        temperature=t,
        vapor_fraction=x,
        discharge_coefficient=cd,
        captured_fraction=captured,
        mass_flow=release.mass_flow,
        mass_flux=release.mass_flux,
    )
    refuse_other_fluid(release.provenance, fluid, "release")
    velocity = _expanded_velocity(fluid, release, flux / cd, p_a)
    liquid, warm = _after_flash(fluid, t, x, p_a)
    airborne = 1.0 - captured * liquid
    drops = liquid * (1.0 - captured) / np.where(airborne > 0.0, airborne, 1.0)
    return GasSource(
        mass_flow=(flow * airborne)[()],
        temperature=warm[()],
        liquid_fraction=np.minimum(drops, 0.99)[()],
        velocity=velocity[()],
        height=height,
        duration=duration,
        provenance=Provenance("expanded jet", ("crowl2019safety", "leung1986omega"), fluid.credit),
    )


def _expanded_velocity(
    fluid: Fluid, release: ReleaseRate, ideal_flux: FloatArray, p_a: FloatArray
) -> FloatArray:
    fluid.saturation_range(release.throat_temperature, "release of this fluid: throat_temperature")
    flows = ideal_flux > 0.0
    flux = np.where(flows, ideal_flux, 1.0)
    velocity = expanded_velocity(flux, throat_density(release), release.throat_pressure, p_a)
    return np.where(flows, velocity, 0.0)


def _after_flash(
    fluid: Fluid, t: FloatArray, x: FloatArray, p_a: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Mass fraction of liquid and temperature at the ambient pressure, at the enthalpy inside."""
    shape = t.shape
    t, x, p_a = np.ravel(t), np.ravel(x), np.ravel(p_a)
    h_l, latent = fluid.saturated(t, "liquid_enthalpy", "latent_heat")
    boiling = fluid.saturation_temperature(p_a)
    h_lb, latent_b, cp = fluid.saturated(boiling, "liquid_enthalpy", "latent_heat", "vapor_heat_capacity")
    quality = (h_l + x * latent - h_lb) / latent_b
    warm = boiling + np.maximum(quality - 1.0, 0.0) * latent_b / cp
    return (1.0 - np.clip(quality, 0.0, 1.0)).reshape(shape), warm.reshape(shape)
