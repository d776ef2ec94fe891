"""`burn_pit`: liquid fed into a burning pit, what flashes, what burns, how high it stands."""

from __future__ import annotations

import math
from typing import Any, Final, NamedTuple

import numpy as np

from lpgrelease.burning import burning_rates
from lpgrelease.errors import ConvergenceError, OutOfRangeError
from lpgrelease.fire.pool import SOURCES, check_diameter, flame_of_pool
from lpgrelease.fire.radiation import CAUTIONS, RADIATION_MODELS, Fire
from lpgrelease.flashing import flash
from lpgrelease.fluids import Fluid
from lpgrelease.ground import Ground
from lpgrelease.halving import halved
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
from lpgrelease.results import BoolArray, Provenance, quantity, result
from lpgrelease.weather import Weather

__all__ = ["BurnPit", "burn_off", "burn_pit"]

_DURATION: Final = 3600.0
_LARGEST_IMBALANCE: Final = 1e-9
_HALVINGS: Final = 80
_WIDEST: Final = 100.0

PIT_CAUTIONS: Final = (
    *CAUTIONS,
    "Light the pit first, then open the valve: vapor that gathers before it is lit burns back as a flash.",
    "Lay the hose so that its end points into the pit from upwind and cannot whip or burn through; keep the "
    "valve, and a way to shut it, outside the distance at which a person can stand. Put no water on the pit.",
    "Dig the pit away from and downhill of the container, ditches and drains; keep it well below its rim.",
)


@result
class BurnPit(Fire):
    """A pit that is fed with liquid and burns; as a fire it is the steady one, late in the feed."""

    diameter: FloatArray = quantity("m", "diameter of the pit")
    feed_rate: FloatArray = quantity("kg/s", "liquid fed")
    flash_fraction: FloatArray = quantity("", "share of the feed that flashes to vapor and burns at once")
    landing_temperature: FloatArray = quantity("K", "temperature of what lands")
    burning_flux: FloatArray = quantity("kg/m**2/s", "still pool of that diameter: mass burned on each area")
    burning_capacity: FloatArray = quantity("kg/s", "most that the pit burns of this feed, ground grown cold")
    burning_rate: FloatArray = quantity("kg/s", "mass burned late in the feed")
    fire_diameter: FloatArray = quantity("m", "of the burning pool: less than the pit where it burns all")
    just_burning_diameter: FloatArray = quantity("m", "pit that just burns what comes; infinite above 100 m")
    overflows_at: FloatArray = quantity("s", "when the pit is full; infinite where it never is")
    burn_off_time: FloatArray = quantity("s", "from the end of the feed until all is burned")
    time: FloatArray = quantity("s", "time since the feed began", dims=("time",))
    liquid_mass: FloatArray = quantity("kg", "liquid in the pit", dims=("time",))
    level: FloatArray = quantity("m", "depth of the liquid", dims=("time",))
    mass_burned: FloatArray = quantity("kg", "burned, flash included", dims=("time",))
    mass_overflowed: FloatArray = quantity("kg", "run over the rim", dims=("time",))
    heat_from_flame: FloatArray = quantity("J", "heat the flame gave the liquid", dims=("time",))
    heat_from_ground: FloatArray = quantity("J", "heat the ground gave the liquid", dims=("time",))
    heat_with_feed: FloatArray = quantity("J", "feed's heat above boiling liquid", dims=("time",))
    mass_imbalance: FloatArray = quantity("", "largest mass error over the mass fed")
    energy_imbalance: FloatArray = quantity("", "largest heat error over the heat of boiling the feed")


class _Feed(NamedTuple):
    """What happens to each kilogram, and what warms the pool: flat SI arrays."""

    rate: FloatArray
    flashed: FloatArray
    landing: FloatArray
    excess: FloatArray
    """Enthalpy of the feed above that of boiling liquid [J/kg], below zero for a cold one."""
    latent: FloatArray
    density: FloatArray
    area: FloatArray
    flame_flux: FloatArray
    """Heat that the flame gives each area of liquid [W/m2]."""
    ground: FloatArray
    """Coefficient A of the ground's flux A/sqrt(t) [W s^0.5/m2]."""


def burn_pit(
    fluid: Fluid,
    *,
    feed_rate: QuantityLike,
    feed_temperature: QuantityLike | None = None,
    diameter: QuantityLike,
    depth: QuantityLike = 1.0,
    ground: Ground | None = None,
    weather: Weather | None = None,
    duration: QuantityLike = _DURATION,
    points: int = 33,
    burning: str = "babrauskas",
    length: str = "thomas",
    tilt: str = "aga",
    emission: str = "smoke obscured",
    radiated_fraction: QuantityLike = 0.3,
    radiation: str = "solid flame",
    extrapolate: bool = False,
) -> BurnPit:
    """Feed liquid into a burning pit: what flashes, what burns, how high it stands, when it is burned off.

    Parameters
    ----------
    fluid : Fluid
    feed_rate : number, array or quantity
        Liquid fed [kg/s].
    feed_temperature : number, array or quantity, optional
        Of the liquid, saturated, in the container [K]; None takes the air's.
    diameter : number, array or quantity
        Of the pit [m], 0.2 to 100; for another shape that of the same area. Its sides are upright.
    depth : number, array or quantity
        From floor to rim [m].
    ground : Ground, optional
        Under the pit; None: moist sand at the temperature of the air.
    weather : Weather, optional
    duration : number, array or quantity
        Of the feed [s].
    points : int
        Points in time of each history, at least 2, denser at first.
    burning, length, tilt, emission, radiated_fraction, radiation, extrapolate
        As for :func:`pool_fire`.

    Returns
    -------
    BurnPit

    Raises
    ------
    InputError, OutOfRangeError, ConvergenceError
        Bad arguments, as for :func:`pool_fire`; a mass or heat balance that does not close to 1e-9.

    Warns
    -----
    ValidityWarning
        As for :func:`pool_fire`.

    Notes
    -----
    The flame gives each area of liquid the heat q that burns a still boiling pool at its published rate:
    q = m'' L. The floor gives A/sqrt(t) from the start of the feed. That, and the heat of the feed above
    that of boiling liquid, make vapor: L times vapor made = q S + A S/sqrt(t) + F (h_feed - h_boiling),
    S the pit's area, F the feed: a stirred and fed pit burns faster than a still one by just that. No more
    can burn than there is: an empty pit burns what comes, the pool smaller than the pit. Level, overflow and
    burn-off are closed forms in sqrt(t); mass and heat close to rounding.

    The sides give no heat, and flames in a deep pit may lack air; both are left out. The dry floor of an
    overly large pit is taken to give up its heat as if it were covered.

    See Also
    --------
    pool_fire, still_pool_fire

    References
    ----------
    babrauskas1983burning, carslaw1959conduction (ground), and those of :func:`pool_fire`.

    Examples
    --------
    >>> import lpgrelease as lr
    >>> pit = burn_pit(lr.Fluid("propane"), feed_rate=1.0, feed_temperature=288.15, diameter=4.0,
    ...     ground=lr.Ground.named("moist sand"))
    >>> print(f"{pit.flash_fraction:.2f} flashes; burns {pit.burning_rate:.2f} of at most "
    ...     f"{pit.burning_capacity:.2f} kg/s; {pit.just_burning_diameter:.1f} m would do")
    0.32 flashes; burns 1.00 of at most 1.56 kg/s; 3.0 m would do
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
    given = weather.air_temperature if feed_temperature is None else feed_temperature
    chi = to_si(radiated_fraction, "", "radiated_fraction", lower=0.05, upper=0.6, why="measured shares")
    F, T, D, H, end, chi, p, T_air, *_ = broadcast(
        feed_rate=to_si(feed_rate, "kg/s", "feed_rate", lower=0.0, open_lower=True),
        feed_temperature=fluid.saturation_range(given, "feed_temperature"),
        diameter=D,
        depth=to_si(depth, "m", "depth", lower=0.0, open_lower=True),
        duration=to_si(duration, "s", "duration", lower=0.0, open_lower=True),
        radiated_fraction=chi,
        ambient_pressure=fluid.pressure_range(weather.ambient_pressure, "ambient_pressure of the weather"),
        air_temperature=weather.air_temperature,
        wind_speed=weather.wind_speed,
    )
    feed = _prepare(fluid, F, T, p, D, T_air, ground, burning)
    capacity = _boiled(feed)
    _require_boiling(feed, capacity)
    steady = np.minimum(capacity, F)
    widest = _just_burning(fluid, feed, burning)
    pool = np.minimum(D, np.maximum(widest, 1e-3))
    flux = steady / (0.25 * math.pi * pool * pool)
    fire = flame_of_pool(
        fluid, pool, flux, weather, length=length, tilt=tilt, emission=emission, chi=chi, radiation=radiation
    )
    fire.pop("flame_base_length")
    history = _pit_history(feed, H, end, points)
    sources = [key for name in (burning, length, tilt, emission) for key in SOURCES[name]]
    single: dict[str, Any] = {
        "diameter": D,
        "feed_rate": F,
        "flash_fraction": feed.flashed,
        "landing_temperature": feed.landing,
        "burning_flux": feed.flame_flux / feed.latent,
        "burning_capacity": capacity,
        "burning_rate": steady,
        "fire_diameter": pool,
        "just_burning_diameter": widest,
    }
    return BurnPit(
        **fire,
        **{name: np.array(value)[()] for name, value in single.items()},  # type: ignore[arg-type]
        **history,
        weather=weather,
        radiation=radiation,
        cautions=(*fluid.cautions, *PIT_CAUTIONS),
        provenance=Provenance(
            f"burn pit: burning by {burning}, length by {length}, tilt by {tilt}, {emission}, {radiation}",
            tuple(dict.fromkeys((*sources, "carslaw1959conduction", "wayne1991formula"))),
            fluid.credit,
            outside,
        ),
    )


def _require_boiling(feed: _Feed, capacity: FloatArray) -> None:
    """Refuse a feed so cold and large that the flame cannot bring it to boil."""
    if np.any(capacity <= 0.0):
        worst = np.ravel(capacity <= 0.0).argmax()
        rate, most = (
            np.ravel(feed.rate),
            np.ravel(feed.flame_flux * feed.area / np.minimum(feed.excess, -1e-9) * -1),
        )
        why = "the flame cannot bring more of so cold a feed to boil"
        raise OutOfRangeError("feed_rate", float(rate[worst]), "kg/s", 0.0, float(most[worst]), why)


def _prepare(
    fluid: Fluid,
    F: FloatArray,
    T: FloatArray,
    p: FloatArray,
    D: FloatArray,
    T_air: FloatArray,
    ground: Ground | None,
    burning: str,
) -> _Feed:
    boiling = fluid.saturation_temperature(np.atleast_1d(p)).reshape(p.shape)
    latent, density, h_boiling = fluid.saturated(boiling, "latent_heat", "liquid_density", "liquid_enthalpy")
    (h_feed,) = fluid.saturated(T, "liquid_enthalpy")
    landed = flash(fluid, temperature=T, ambient_pressure=p)
    ground = Ground.named("moist sand") if ground is None else ground
    own = T_air if ground.temperature is None else ground.temperature
    flux = burning_rates(fluid, D, latent, burning)
    return _Feed(
        rate=F,
        flashed=landed.vapor_fraction,
        landing=landed.temperature,
        excess=np.minimum(h_feed - h_boiling, latent),
        latent=latent,
        density=density,
        area=0.25 * math.pi * D * D,
        flame_flux=flux * latent,
        ground=np.maximum(ground.heat_coefficient(boiling, ground_temperature=own), 0.0) + np.zeros_like(D),
    )


def _just_burning(fluid: Fluid, feed: _Feed, burning: str) -> FloatArray:
    """Diameter at which flame and feed just boil off all that comes, on cold ground; by halving."""
    wanted = feed.rate * (feed.latent - feed.excess)
    low, high = np.zeros_like(feed.area), np.full_like(feed.area, _WIDEST)

    def too_narrow(wide: FloatArray) -> BoolArray:
        flux = burning_rates(fluid, wide, feed.latent, burning) * feed.latent
        return np.asarray(~(flux * (0.25 * math.pi) * wide * wide >= wanted))

    _, high = halved(too_narrow, low, high, _HALVINGS)
    return np.where(high >= _WIDEST, np.inf, high)


def _pit_history(feed: _Feed, depth: FloatArray, end: FloatArray, points: int) -> dict[str, Any]:
    """Work out the histories in closed form: M(t) = a t - 2 b sqrt(t) held between 0 and the rim."""
    shape = np.broadcast_shapes(feed.area.shape, depth.shape, end.shape)
    share = np.linspace(0.0, 1.0, points)
    t = np.broadcast_to(end, shape)[..., None] * share * share
    a, b = feed.rate - _boiled(feed), feed.ground * feed.area / feed.latent
    full = feed.density * feed.area * depth
    a, b, full, F = (np.broadcast_to(v, shape)[..., None] for v in (a, b, full, feed.rate))
    root = np.sqrt(t)
    lowest = np.where(a > 0.0, np.minimum(root, b / np.where(a > 0.0, a, 1.0)), root)

    def free(root: FloatArray) -> FloatArray:
        return np.asarray(a * root * root - 2.0 * b * root)

    # both by one formula: where all burns as it comes nothing is left, not even round-off
    unbounded = np.maximum(free(root) - free(lowest), 0.0)
    mass = np.minimum(unbounded, full)
    over = unbounded - mass
    burned = F * t - mass - over
    latent, excess = (np.broadcast_to(v, shape)[..., None] for v in (feed.latent, feed.excess))
    carried = F * t * excess
    flame, ground = _shares(feed, shape, t, burned * latent - carried)
    mass_error = np.abs(F * t - burned - mass - over).max(axis=-1) / (F * t)[..., -1]
    heat_error = np.abs(flame + ground + carried - burned * latent).max(axis=-1) / (F * t * latent)[..., -1]
    for what, error in (("mass", mass_error), ("heat", heat_error)):
        if not np.all(error < _LARGEST_IMBALANCE):
            raise ConvergenceError(f"the {what} of a burn pit does not close", float(np.max(error)))
    rim = _reaches(a[..., 0], b[..., 0], full[..., 0])
    rate = np.broadcast_to(feed.flame_flux * feed.area / feed.latent, shape)
    return {
        "time": t,
        "liquid_mass": mass,
        "level": mass / np.broadcast_to(feed.density * feed.area, shape)[..., None],
        "mass_burned": burned,
        "mass_overflowed": over,
        "heat_from_flame": flame,
        "heat_from_ground": ground,
        "heat_with_feed": carried,
        "overflows_at": np.where(rim <= np.broadcast_to(end, shape), rim, np.inf)[()],
        "burn_off_time": burn_off(mass[..., -1], rate, b[..., 0], np.broadcast_to(end, shape))[()],
        "mass_imbalance": mass_error[()],
        "energy_imbalance": heat_error[()],
    }


def _boiled(feed: _Feed) -> FloatArray:
    """Vapor that flame and feed make without the ground [kg/s]."""
    return (feed.flame_flux * feed.area + feed.rate * feed.excess) / feed.latent


def _shares(
    feed: _Feed, shape: tuple[int, ...], t: FloatArray, taken: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Heat taken from flame and from ground: in proportion to what each could give."""
    flame = np.broadcast_to(feed.flame_flux * feed.area, shape)[..., None] * t
    ground = 2.0 * np.broadcast_to(feed.ground * feed.area, shape)[..., None] * np.sqrt(t)
    offered = flame + ground
    part = taken / np.where(offered > 0.0, offered, 1.0)
    return flame * part, ground * part


def _reaches(a: FloatArray, b: FloatArray, full: FloatArray) -> FloatArray:
    """Time at which the pit is full: a root of a t - 2 b sqrt(t) + b^2/a = full; infinite where none."""
    rising = a > 0.0
    safe = np.where(rising, a, 1.0)
    root = b / safe + np.sqrt(full / safe)
    return np.where(rising, root * root, np.inf)


def burn_off(mass: FloatArray, rate: FloatArray, b: FloatArray, end: FloatArray) -> FloatArray:
    """Time from the end of the feed until `mass` is gone: rate x + 2 b (sqrt(end + x) - sqrt(end)) = mass."""
    start = np.sqrt(end)
    total = mass + rate * end + 2.0 * b * start
    root = total / (b + np.sqrt(b * b + rate * total))
    return np.where(mass > 0.0, np.maximum(root * root - end, 0.0), 0.0)
