"""`still_pool_fire`: a pool that lies still and burns, and why it does not run away."""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np

from lpgrelease.burning import burning_rates
from lpgrelease.errors import InputError
from lpgrelease.fire.pit import burn_off
from lpgrelease.fire.pool import SOURCES, check_diameter, flame_of_pool
from lpgrelease.fire.radiation import CAUTIONS, RADIATION_MODELS, Fire
from lpgrelease.fluids import Fluid
from lpgrelease.ground import Ground
from lpgrelease.quantities import (
    MOST_POINTS,
    FloatArray,
    QuantityLike,
    broadcast,
    require_flag,
    require_kind,
    require_whole,
    require_word,
    to_si,
)
from lpgrelease.results import Provenance, quantity, result
from lpgrelease.weather import Weather

__all__ = ["StillPoolFire", "still_pool_fire"]

_FIRST: Final = 60.0


@result
class StillPoolFire(Fire):
    """A pool that lies still and burns; as a fire it is the one late in its life."""

    diameter: FloatArray = quantity("m", "diameter of the pool")
    burning_flux: FloatArray = quantity("kg/m**2/s", "mass burned on each area, ground grown cold")
    first_burning_flux: FloatArray = quantity(
        "kg/m**2/s", "mass burned on each area one minute after ignition"
    )
    burn_off_time: FloatArray = quantity("s", "from ignition until all is burned")
    time: FloatArray = quantity("s", "time since ignition", dims=("time",))
    mass: FloatArray = quantity("kg", "liquid left", dims=("time",))
    burning_rate: FloatArray = quantity("kg/s", "mass burned", dims=("time",))


def still_pool_fire(
    fluid: Fluid,
    *,
    mass: QuantityLike,
    diameter: QuantityLike,
    temperature: QuantityLike | None = None,
    age: QuantityLike = 0.0,
    ground: Ground | None = None,
    weather: Weather | None = None,
    points: int = 33,
    burning: str = "babrauskas",
    length: str = "thomas",
    tilt: str = "aga",
    emission: str = "smoke obscured",
    radiated_fraction: QuantityLike = 0.3,
    radiation: str = "solid flame",
    extrapolate: bool = False,
) -> StillPoolFire:
    """Burn a pool that lies still in its bed: flame heat and ground heat, rate and burn-off time.

    Parameters
    ----------
    fluid : Fluid
    mass : number, array or quantity
        Liquid at ignition [kg].
    diameter : number, array or quantity
        Of the pool [m], 0.2 to 100, the same until it is gone.
    temperature : number, array or quantity, optional
        Of the pool at ignition [K], boiling or colder (a pool in wind is far colder); None: boiling.
    age : number, array or quantity
        Time that the pool has lain there when it is lit [s].
    ground, weather
        As for :func:`burn_pit`.
    points : int
        Points in time of each history, at least 2.
    burning, length, tilt, emission, radiated_fraction, radiation, extrapolate
        As for :func:`pool_fire`.

    Returns
    -------
    StillPoolFire

    Raises
    ------
    InputError, OutOfRangeError
        Bad arguments; a pool above its boiling point.

    Warns
    -----
    ValidityWarning
        As for :func:`pool_fire`.

    Notes
    -----
    m''(t) (L + c (T_b - T)) = q + A/sqrt(t + age), q the flame's heat as for :func:`burn_pit`, A the ground's
    coefficient at the pool's temperature: each kilogram is warmed to boiling and boiled.
    **It does not run away.** The flame's heat depends on the diameter alone and the liquid cannot be warmer
    than boiling, so nothing feeds back; the ground's heat only falls. The rate falls to that of a still
    boiling pool from above, or, for a cold pool, to less.

    See Also
    --------
    burn_pit, pool_fire

    References
    ----------
    babrauskas1983burning, carslaw1959conduction (ground), and those of :func:`pool_fire`.

    Examples
    --------
    >>> import lpgrelease as lr
    >>> pool = still_pool_fire(lr.Fluid("propane"), mass=200.0, diameter=3.0, age=600.0,
    ...     ground=lr.Ground.named("moist sand"))
    >>> print(f"gone in {pool.burn_off_time / 60:.1f} min")
    gone in 4.4 min
    """
    weather = Weather() if weather is None else weather
    require_kind(fluid, Fluid, "fluid")
    require_kind(weather, Weather, "weather")
    if ground is not None:
        require_kind(ground, Ground, "ground")
    require_flag(extrapolate, "extrapolate")
    require_word(radiation, RADIATION_MODELS, "radiation")
    require_whole(points, 2, MOST_POINTS, "points")
    D, outside = check_diameter(diameter, extrapolate)
    chi = to_si(radiated_fraction, "", "radiated_fraction", lower=0.05, upper=0.6, why="measured shares")
    M, D, old, chi, p, T_air, *_ = broadcast(
        mass=to_si(mass, "kg", "mass", lower=0.0, open_lower=True),
        diameter=D,
        age=to_si(age, "s", "age", lower=0.0),
        radiated_fraction=chi,
        ambient_pressure=fluid.pressure_range(weather.ambient_pressure, "ambient_pressure of the weather"),
        air_temperature=weather.air_temperature,
        wind_speed=weather.wind_speed,
        temperature=np.zeros(()) if temperature is None else to_si(temperature, "K", "temperature"),
    )
    boiling = fluid.saturation_temperature(np.atleast_1d(p)).reshape(p.shape)
    T = boiling if temperature is None else _cold(fluid, temperature, boiling)
    latent, h_b = fluid.saturated(boiling, "latent_heat", "liquid_enthalpy")
    (h,) = fluid.saturated(T, "liquid_enthalpy")
    per_mass = latent + h_b - h
    ground = Ground.named("moist sand") if ground is None else ground
    own = T_air if ground.temperature is None else ground.temperature
    A = np.maximum(ground.heat_coefficient(T, ground_temperature=own), 0.0) + np.zeros_like(D)
    q, area = burning_rates(fluid, D, latent, burning) * latent, 0.25 * math.pi * D * D
    fire = flame_of_pool(
        fluid,
        D,
        q / per_mass,
        weather,
        length=length,
        tilt=tilt,
        emission=emission,
        chi=chi,
        radiation=radiation,
    )
    fire.pop("flame_base_length")
    history = _still_history(M, old, q, A, area, per_mass, points)
    sources = [key for name in (burning, length, tilt, emission) for key in SOURCES[name]]
    return StillPoolFire(
        **fire,
        diameter=np.array(D)[()],
        burning_flux=(q / per_mass)[()],
        first_burning_flux=((q + A / np.sqrt(old + _FIRST)) / per_mass)[()],
        **history,
        weather=weather,
        radiation=radiation,
        cautions=(
            *fluid.cautions,
            *CAUTIONS,
            "Liquid burns off unevenly: what is left of a pool re-lights from any spark.",
        ),
        provenance=Provenance(
            f"still pool fire: burning by {burning}, length by {length}, tilt by {tilt}, {emission}, "
            f"{radiation}",
            tuple(dict.fromkeys((*sources, "carslaw1959conduction", "wayne1991formula"))),
            fluid.credit,
            outside,
        ),
    )


def _still_history(
    M: FloatArray,
    old: FloatArray,
    q: FloatArray,
    A: FloatArray,
    area: FloatArray,
    per_mass: FloatArray,
    points: int,
) -> dict[str, Any]:
    """Work out burn-off time, mass left and rate in closed form."""
    gone = burn_off(M, q * area / per_mass, A * area / per_mass, old)
    share = np.linspace(0.0, 1.0, points)
    t = gone[..., None] * share * share
    old_, q_, A_, S_, heat_ = (v[..., None] for v in np.broadcast_arrays(old, q, A, area, per_mass))
    used = (q_ * t + 2.0 * A_ * (np.sqrt(t + old_) - np.sqrt(old_))) * S_ / heat_
    early = np.maximum(t + old_, 1e-3 * gone[..., None])
    return {
        "burn_off_time": gone[()],
        "time": t,
        "mass": np.maximum(np.broadcast_to(M, gone.shape)[..., None] - used, 0.0),
        "burning_rate": (q_ + A_ / np.sqrt(early)) * S_ / heat_,
    }


def _cold(fluid: Fluid, temperature: QuantityLike, boiling: FloatArray) -> FloatArray:
    T = fluid.saturation_range(temperature, "temperature")
    T, T_b = broadcast(temperature=T, boiling_point=boiling)
    if np.any(T_b * (1.0 + 1e-9) < T):
        raise InputError("temperature: a pool in the open is no warmer than its boiling point")
    return np.minimum(T, T_b)
