"""From a spill to the history of its pool."""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np

from lpgrelease.burning import BURNING_MODELS
from lpgrelease.errors import ConvergenceError, InputError
from lpgrelease.fluids import Fluid
from lpgrelease.ground import Ground
from lpgrelease.pool.assemble import flat_inputs, march_all, room_of
from lpgrelease.pool.burn import FLAME_SOURCES, burned_off
from lpgrelease.pool.cautions import cautions_of
from lpgrelease.pool.changing import add_changes, changes_of
from lpgrelease.pool.contact import CONTACTS, BoilingContact
from lpgrelease.pool.estimate import longest_life
from lpgrelease.pool.inputs import Spill
from lpgrelease.pool.landing import Landing, land
from lpgrelease.pool.problem import PoolTrack
from lpgrelease.pool.schedule import add_event, feed_events, time_nodes
from lpgrelease.pool.sites import Basin, Hollow, OpenGround, Site
from lpgrelease.quantities import FloatArray, QuantityLike, require_whole, require_word, to_si
from lpgrelease.results import Provenance, Result, plain, quantity, result
from lpgrelease.weather import Weather
from lpgrelease.weather_by_hour import WeatherByHour

__all__ = ["PoolHistory", "pool_history"]

BALANCE_TOLERANCE: Final = 1e-9
LONGEST: Final = 3.2e9
"""Pools are watched for a hundred years at most [s]."""
PATIENCE: Final = "a hundred years at most"
SOURCES: Final = (
    "carslaw1959conduction",
    "shaw1978evaporation",
    "briscoe1980spread",
    "mackay1973evaporation",
    "brighton1985evaporation",
    "poling2000properties",
)

BOILING_SOURCES: Final = ("rohsenow1952boiling", "berenson1961film", "incropera2011fundamentals")


@result
class PoolHistory(Result):
    """How a pool grew, cooled, evaporated and went; all masses and heats are sums since the start."""

    time: FloatArray = quantity("s", "time since the spill began", dims=("time",))
    mass: FloatArray = quantity("kg", "liquid on the ground", dims=("time",))
    area: FloatArray = quantity(
        "m**2", "on which liquid lies, or boils off or burns as it lands", dims=("time",)
    )
    radius: FloatArray = quantity("m", "radius of a round pool of that area", dims=("time",))
    depth: FloatArray = quantity("m", "mean depth, 0 where there is no pool", dims=("time",))
    temperature: FloatArray = quantity("K", "of the liquid; after the end its last", dims=("time",))
    evaporation_rate: FloatArray = quantity(
        "kg/s", "vapor that does not burn, mean over the step that ends here", dims=("time",)
    )
    mass_spilled: FloatArray = quantity("kg", "left the container", dims=("time",))
    mass_flashed: FloatArray = quantity("kg", "vapor at once on release", dims=("time",))
    mass_airborne: FloatArray = quantity("kg", "liquid that stayed in the air", dims=("time",))
    mass_evaporated: FloatArray = quantity("kg", "vapor from the pool that did not burn", dims=("time",))
    mass_overflowed: FloatArray = quantity("kg", "liquid that ran over the rim", dims=("time",))
    mass_burned: FloatArray = quantity("kg", "vapor from the pool that burned", dims=("time",))
    burning_rate: FloatArray = quantity(
        "kg/s", "mean over the step that ends here, 0 at the start", dims=("time",)
    )
    heat_from_ground: FloatArray = quantity("J", "heat from the ground under the pool", dims=("time",))
    heat_from_beside: FloatArray = quantity("J", "heat through the ground from beside it", dims=("time",))
    heat_from_air: FloatArray = quantity("J", "heat by convection from the air", dims=("time",))
    heat_from_longwave: FloatArray = quantity("J", "heat by net long-wave radiation", dims=("time",))
    heat_from_sun: FloatArray = quantity("J", "sunshine taken up", dims=("time",))
    heat_from_frost: FloatArray = quantity("J", "freezing moisture, rain and snow", dims=("time",))
    heat_from_flame: FloatArray = quantity("J", "heat of the flame to the liquid", dims=("time",))
    mass_ice: FloatArray = quantity("kg", "frost, frozen rain and snow in the pool", dims=("time",))
    flash_fraction: FloatArray = quantity("", "mass fraction that flashes on release")
    landing_temperature: FloatArray = quantity("K", "temperature of the liquid that lands")
    gone_at: FloatArray = quantity("s", "time the pool is gone; inf where it outlasts the duration")
    component_mass: FloatArray = quantity(
        "kg", "on the ground, of each component of a blend", dims=("component", "time"), default=None
    )
    component_evaporated: FloatArray = quantity(
        "kg", "vapor of each component that did not burn", dims=("component", "time"), default=None
    )
    component_burned: FloatArray = quantity(
        "kg", "what burned, of each component of a blend", dims=("component", "time"), default=None
    )
    component_overflowed: FloatArray = quantity(
        "kg", "what ran over the rim, of each component", dims=("component", "time"), default=None
    )
    components: tuple[str, ...] = plain("components of a blend, in order", default=())
    mass_imbalance: FloatArray = quantity("", "largest imbalance over the mass spilled")
    energy_imbalance: FloatArray = quantity("", "largest imbalance over the heat moved")
    cautions: tuple[str, ...] = plain("what to keep in mind before acting on it", default=())


def pool_history(
    fluid: Fluid,
    spill: Spill,
    *,
    ground: Ground,
    duration: QuantityLike,
    weather: Weather | WeatherByHour | None = None,
    site: Site | None = None,
    ignited_at: QuantityLike | None = None,
    burning: str = "babrauskas",
    contact: str = "boiling",
    nodes: int = 61,
) -> PoolHistory:
    """History of a pool of liquefied gas on the ground.

    The liquid flashes to the ambient pressure, lands, spreads on its own weight down to the depth the
    ground's relief holds, and evaporates with the heat of the ground, the air, the sky and the sun. Every
    ring of ground has its own age. In wind the pool cools below its boiling point and then evaporates
    by mass transfer; the same equations serve a liquid that does not boil at all.

    Parameters
    ----------
    fluid : Fluid
        Pure, or a blend.
    spill : Spill
        What lands, how fast, how warm.
    ground : Ground
        What it lands on.
    duration : number, array or quantity
        Length of the history [s].
    weather : Weather or WeatherByHour, optional
        None takes ``Weather()``. A weather that changes with time adds a time node for each change; the air's
        pressure stays what it is at the start.
    site : OpenGround, Hollow or Basin, optional
        None takes ``OpenGround()``.
    ignited_at : number, array or quantity, optional
        When the pool is lit [s]; it burns from then on, for good. None, and a time beyond the history, is
        never.
    burning : {"babrauskas", "burgess-hertzberg"}
        As for :func:`pool_fire`.
    contact : {"boiling", "perfect"}
        Whether the ground's surface is as much warmer than the liquid as boiling needs to carry its heat, or
        as cold as the liquid.
    nodes : int
        Time nodes of every scenario, 41 to 2001. Each scenario has its own times, dense after the start
        of the spill and after its end.

    Returns
    -------
    PoolHistory
        Histories of shape (..., nodes), with a node more for every change of the weather.

    Raises
    ------
    InputError, OutOfRangeError
        Wrong kinds, shapes that do not broadcast, a liquid warmer than its table or colder than it.
    ConvergenceError
        A step was not solved, or the books do not close.

    Notes
    -----
    * Ground: every ring of it has its own age. On uniform ground wetted once, with S the area of a ring and
      A(T) the coefficient of the flux A / sqrt(age) at the temperature of its surface (freezing water
      included), the heat flow is the integral of d[S A] / sqrt(t - tau): exact for rings of every age and any
      course of temperature while A is linear in T; where water freezes exact for constant T. Layered
      ground, and ground wetted in several episodes, is a set of columns solved by finite volumes, which warm
      up under the air while they are dry. Heat from beside the pool comes on top (`side_heat_flux`).
    * Spreading by gravity and inertia, never faster than by gravity and viscosity. The relief holds the last
      `minimum_depth` in place: once a pool that is not fed any more has sunk to it, nothing flows, and every
      ring dries with the heat of its own ground, the youngest, outermost one first.
    * Energy: M c dT/dt = ground + S (h F (T_air - T) + long-wave + sun + frost) - m L, and
      m = k rho S ln(1 / (1 - p_s / p)); time steps implicit in temperature and area, first order.
    * The pool is of one temperature: heat comes from below, so that it stirs itself, as its feed does too.
    * Ground and liquid: a film of vapor while the ground is hot enough, then bubbles or, where they give
      less, the liquid's own convection, by the correlations of `boiling_flux` at the boiling point. Perfect
      contact gives 5 to 15 % more heat in the first hour, a pool that is narrower by a few percent, and small
      spills that are gone up to a quarter sooner.
    * k by Mackay and Matsugu, h from it by Chilton and Colburn, F by Ackermann, both with the limit of
      still air. In a calm the pool's own vapor shelters it: `Exposure` describes that.
    * A pool that burns loses what its flame's heat turns to vapor, at the published rate of a still pool
      of its diameter, and what the ground boils besides; all of it burns. The flame stands for air, sky, sun
      and rain, of which nothing more reaches the liquid. Liquid colder than boiling is not warmed by the
      flame, which heats the surface alone. What flashes and stays airborne while it is fed is not counted as
      burned, nor vapor that lay about when it was lit. Diameters below 0.2 m are an extrapolation.
    * 61 nodes give the time the pool is gone within 2 % and its widest radius within 0.5 % of 641 nodes. They
      lie where the pool is: an upper bound of its life, from heat alone, takes nine tenths of them.

    References: carslaw1959conduction; shaw1978evaporation; briscoe1980spread; mackay1973evaporation;
    brighton1985evaporation; poling2000properties; babrauskas1983burning and burgess1974radiation (burning).

    Examples
    --------
    >>> pool = pool_history(
    ...     Fluid("propane"), Spill(mass_flow=0.5, duration=900.0), ground=Ground.named("moist sand"),
    ...     weather=Weather(air_temperature=300.15, wind_speed=2.0), duration=3600.0)
    >>> f"{pool.radius.max():.1f} m"
    '2.2 m'
    """
    weather = Weather() if weather is None else weather
    site = OpenGround() if site is None else site
    _check_kinds(fluid, spill, ground, weather, site, nodes)
    require_word(contact, CONTACTS, "contact")
    length = to_si(duration, "s", "duration", lower=0.0, upper=LONGEST, open_lower=True, why=PATIENCE)
    arrays, shape = flat_inputs(spill, ground, weather, site, length, **_ignition(ignited_at, burning))
    landing = land(fluid, spill, arrays, shape)
    room = room_of(site, shape)
    landed = landing.at_once + landing.feed.totals(landing.feed.time[-1:])["landed"][0]
    curve = None
    if contact == "boiling":
        boiling = fluid.saturation_temperature(arrays["ambient_pressure"])
        curve = BoilingContact.prepare(fluid, boiling, arrays["ground_temperature"])
    gone = longest_life(fluid, arrays, landing, room, landed, curve)
    events, real = feed_events(landing.feed)
    if ignited_at is not None:
        gone = np.minimum(gone, burned_off(fluid, arrays, landing, room, landed, burning))
        events, real = add_event(events, real, arrays["ignited_at"])
    changes = changes_of(weather)
    times = add_changes(time_nodes(events, real, arrays["history"], nodes, gone), changes)
    track = march_all(fluid, ground, room, arrays, landing, times, shape, burning, changes, curve)
    return _report(
        fluid, ground, landing, times, track, shape, None if ignited_at is None else burning, contact
    )


def _check_kinds(fluid: Any, spill: Any, ground: Any, weather: Any, site: Any, nodes: Any) -> None:
    wanted: dict[str, tuple[Any, Any]] = {
        "fluid": (fluid, Fluid),
        "spill": (spill, Spill),
        "ground": (ground, Ground),
        "weather": (weather, (Weather, WeatherByHour)),
        "site": (site, (OpenGround, Hollow, Basin)),
    }
    for name, (value, kinds) in wanted.items():
        if not isinstance(value, kinds):
            raise InputError(f"{name}: {type(value).__name__} is no {getattr(kinds, '__name__', name)}")
    require_whole(nodes, 41, 2001, "nodes")


def _ignition(ignited_at: QuantityLike | None, burning: str) -> dict[str, FloatArray]:
    require_word(burning, BURNING_MODELS, "burning")
    return {} if ignited_at is None else {"ignited_at": to_si(ignited_at, "s", "ignited_at", lower=0.0)}


def _report(
    fluid: Fluid,
    ground: Ground,
    landing: Landing,
    times: FloatArray,
    track: PoolTrack,
    shape: tuple[int, ...],
    burning: str | None,
    contact: str,
) -> PoolHistory:
    def shaped(values: FloatArray) -> FloatArray:
        return np.ascontiguousarray(values.T).reshape(*shape, times.shape[0])

    def single(values: FloatArray) -> FloatArray:
        return values.reshape(shape)[()]

    mass, area, evaporated = track.mass, track.lying, track.evaporated
    totals = landing.feed.totals(times)
    spilled = landing.spilled_at_once + totals["spilled"]
    flashed = landing.flashed_at_once + totals["flashed"]
    at_once = landing.spilled_at_once - landing.flashed_at_once - landing.at_once
    # a difference that is zero where all lands may come out a hair below
    airborne = np.maximum(at_once + (totals["spilled"] - totals["flashed"] - totals["landed"]), 0.0)
    landed = landing.at_once + totals["landed"]
    zero = np.zeros_like(mass)
    burned = zero if track.burned is None else track.burned
    imbalance = np.abs(landed - mass - evaporated - burned - track.overflow)
    mass_residual = np.max(imbalance, axis=0) / np.maximum(spilled[-1], np.finfo(float).tiny)
    energy_scale = np.maximum(track.energy_scale[-1], np.finfo(float).tiny)
    energy_residual = np.max(np.abs(track.energy_error), axis=0) / energy_scale
    _check_books(mass_residual, energy_residual)
    steps = np.maximum(np.diff(times, axis=0), np.finfo(float).tiny)
    depth = np.where(area > 0.0, mass / track.density / np.where(area > 0.0, area, 1.0), 0.0)
    flame = () if burning is None else FLAME_SOURCES[burning]
    boiling = BOILING_SOURCES if contact == "boiling" else ()
    histories = {
        "time": times,
        "mass": mass,
        "area": area,
        "radius": np.sqrt(area / math.pi),
        "depth": depth,
        "temperature": track.temperature,
        "evaporation_rate": _rate(evaporated, steps),
        "mass_spilled": spilled,
        "mass_flashed": flashed,
        "mass_airborne": airborne,
        "mass_evaporated": evaporated,
        "mass_overflowed": track.overflow,
        "mass_burned": burned,
        "burning_rate": zero if track.burned is None else _rate(burned, steps),
        "heat_from_ground": track.heat_ground,
        "heat_from_beside": track.heat_beside,
        "heat_from_air": track.heat_air,
        "heat_from_longwave": track.heat_longwave,
        "heat_from_sun": track.heat_sun,
        "heat_from_frost": track.heat_frost,
        "heat_from_flame": zero if track.heat_flame is None else track.heat_flame,
        "mass_ice": track.ice,
    }
    return PoolHistory(
        **{name: shaped(values) for name, values in histories.items()},
        **_components(track, shape),
        components=fluid.components if fluid.is_blend else (),
        flash_fraction=single(landing.flash_fraction),
        landing_temperature=single(landing.temperature),
        gone_at=single(track.gone_at),
        mass_imbalance=single(mass_residual),
        energy_imbalance=single(energy_residual),
        cautions=(*cautions_of(fluid), *(() if burning is None else BURNING_CAUTIONS)),
        provenance=Provenance(
            f"ring-by-ring pool on {ground.name}",
            tuple(dict.fromkeys((*SOURCES, *boiling, *flame, *ground.provenance.sources))),
            fluid.credit,
        ),
    )


def _rate(total: FloatArray, steps: FloatArray) -> FloatArray:
    """Mean over the step that ends at each node."""
    rate = np.zeros_like(total)
    rate[1:] = np.diff(total, axis=0) / steps
    return rate


def _components(track: PoolTrack, shape: tuple[int, ...]) -> dict[str, FloatArray]:
    """Histories of the components of a blend: scenarios, components, time."""
    if track.parts is None or track.parts_evaporated is None or track.parts_overflow is None:
        return {}
    histories = {
        "component_mass": track.parts,
        "component_evaporated": track.parts_evaporated,
        "component_overflowed": track.parts_overflow,
        "component_burned": np.zeros_like(track.parts) if track.parts_burned is None else track.parts_burned,
    }
    return {
        name: np.ascontiguousarray(np.moveaxis(values, (0, 1, 2), (2, 1, 0))).reshape(
            *shape, values.shape[1], values.shape[0]
        )
        for name, values in histories.items()
    }


def _check_books(mass_residual: FloatArray, energy_residual: FloatArray) -> None:
    for name, residual in (("mass", mass_residual), ("energy", energy_residual)):
        if residual.size and not residual.max() <= BALANCE_TOLERANCE:
            raise ConvergenceError(f"{name} balance of a pool", float(residual.max()))


BURNING_CAUTIONS: Final = (
    "A pool is never lit before everybody is out of all the vapor it has given: that burns first, in a "
    "flash. Only whom the authority in charge has trained and told to may light one.",
)
