"""From a spill to the history of its pool."""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np

from lpgrelease.conduction import Contact
from lpgrelease.constants import FREEZING_POINT_OF_WATER
from lpgrelease.errors import ConvergenceError, InputError, OutOfRangeError
from lpgrelease.fluids import Fluid
from lpgrelease.ground import Ground, conduction_properties
from lpgrelease.ground.column import GroundColumns
from lpgrelease.pool.columns import ColumnRings
from lpgrelease.pool.evaporate import PoolSurface, diffusion_volume_fuller
from lpgrelease.pool.inputs import Spill
from lpgrelease.pool.landing import Landing, flat_last, land, spill_shapes
from lpgrelease.pool.level import Room
from lpgrelease.pool.liquid import PureLiquid
from lpgrelease.pool.march import march, start_of
from lpgrelease.pool.problem import PoolProblem, PoolState, PoolTrack
from lpgrelease.pool.rings import HalfSpaceRings
from lpgrelease.pool.schedule import feed_events, time_nodes
from lpgrelease.pool.sites import Basin, Hollow, OpenGround, Site
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.results import Provenance, Result, plain, quantity, result
from lpgrelease.weather import Weather

__all__ = ["PoolHistory", "pool_history"]

BLOCK: Final = 512
CONDUCTION: Final = (
    "conductivity",
    "heat_capacity",
    "frozen_conductivity",
    "frozen_heat_capacity",
    "water_mass_fraction",
)
BALANCE_TOLERANCE: Final = 1e-9
SOURCES: Final = (
    "carslaw1959conduction",
    "shaw1978evaporation",
    "briscoe1980spread",
    "mackay1973evaporation",
    "brighton1985evaporation",
    "poling2000properties",
)


@result
class PoolHistory(Result):
    """How a pool grew, cooled, evaporated and went; all masses and heats are sums since the start."""

    time: FloatArray = quantity("s", "time since the spill began", dims=("time",))
    mass: FloatArray = quantity("kg", "liquid on the ground", dims=("time",))
    area: FloatArray = quantity("m**2", "area of the pool", dims=("time",))
    radius: FloatArray = quantity("m", "radius of a round pool of that area", dims=("time",))
    depth: FloatArray = quantity("m", "mean depth, 0 where there is no pool", dims=("time",))
    temperature: FloatArray = quantity("K", "of the liquid; after the end its last", dims=("time",))
    evaporation_rate: FloatArray = quantity(
        "kg/s", "mean over the step that ends here, 0 at the start", dims=("time",)
    )
    mass_spilled: FloatArray = quantity("kg", "left the container", dims=("time",))
    mass_flashed: FloatArray = quantity("kg", "vapor at once on release", dims=("time",))
    mass_airborne: FloatArray = quantity("kg", "liquid that stayed in the air", dims=("time",))
    mass_evaporated: FloatArray = quantity("kg", "vapor from the pool", dims=("time",))
    mass_overflowed: FloatArray = quantity("kg", "liquid that ran over the rim", dims=("time",))
    heat_from_ground: FloatArray = quantity("J", "heat from the ground under the pool", dims=("time",))
    heat_from_beside: FloatArray = quantity("J", "heat through the ground from beside it", dims=("time",))
    heat_from_air: FloatArray = quantity("J", "heat by convection from the air", dims=("time",))
    heat_from_longwave: FloatArray = quantity("J", "heat by net long-wave radiation", dims=("time",))
    heat_from_sun: FloatArray = quantity("J", "sunshine taken up", dims=("time",))
    heat_from_frost: FloatArray = quantity("J", "freezing moisture, rain and snow", dims=("time",))
    mass_ice: FloatArray = quantity("kg", "frost, frozen rain and snow in the pool", dims=("time",))
    flash_fraction: FloatArray = quantity("", "mass fraction that flashes on release")
    landing_temperature: FloatArray = quantity("K", "temperature of the liquid that lands")
    gone_at: FloatArray = quantity("s", "time the pool is gone; inf where it outlasts the duration")
    mass_balance_residual: FloatArray = quantity("", "largest imbalance over the mass spilled")
    energy_balance_residual: FloatArray = quantity("", "largest imbalance over the heat moved")
    cautions: tuple[str, ...] = plain("what to keep in mind before acting on it", default=())


def pool_history(
    fluid: Fluid,
    spill: Spill,
    *,
    ground: Ground,
    duration: QuantityLike,
    weather: Weather | None = None,
    site: Site | None = None,
    nodes: int = 201,
) -> PoolHistory:
    """History of a pool of liquefied gas on the ground.

    The liquid flashes to the ambient pressure, lands, spreads on its own weight down to the depth the
    ground's relief holds, and evaporates with the heat of the ground, the air, the sky and the sun. Every
    ring of ground has its own age. In wind the pool cools below its boiling point and then evaporates
    by mass transfer; the same equations serve a liquid that does not boil at all.

    Parameters
    ----------
    fluid : Fluid
        A pure fluid.
    spill : Spill
        What lands, how fast, how warm.
    ground : Ground
        What it lands on.
    duration : number, array or quantity
        Length of the history [s].
    weather : Weather, optional
        None takes ``Weather()``.
    site : OpenGround, Hollow or Basin, optional
        None takes ``OpenGround()``.
    nodes : int
        Time nodes of every scenario, 41 to 2001. Each scenario has its own times, dense after the start
        of the spill and after its end.

    Returns
    -------
    PoolHistory
        Histories of shape (..., nodes).

    Raises
    ------
    InputError, OutOfRangeError
        Wrong kinds, shapes that do not broadcast, a liquid warmer than its table or colder than it.
    ConvergenceError
        A step was not solved, or the books do not close.

    Notes
    -----
    * Ground: with S the area and A(T) the coefficient of the flux A / sqrt(age) at the pool's temperature
      (freezing water included), the heat flow is the integral of d[S A] / sqrt(t - tau): exact for rings
      of every age and any course of temperature while A is linear in T; where water freezes exact for
      constant T. No heat flows sideways in the ground.
    * The relief holds the last `minimum_depth` in place: once a pool that is not fed any more has sunk to
      it, nothing flows, and every ring dries with the heat of its own ground, the youngest, outermost one
      first.
    * Energy: M c dT/dt = ground + S (h F (T_air - T) + long-wave + sun) - m L, and
      m = k rho S ln(1 / (1 - p_s / p)); time steps implicit in temperature and area, first order.
    * The pool is of one temperature; contact with the ground is perfect from the first instant, which
      overstates the heat of the first seconds to two minutes (film boiling).
    * k by Mackay and Matsugu, h from it by Chilton and Colburn, F by Ackermann, both with the limit of
      still air. In a calm the pool's own vapor shelters it, which is not described.
    * 201 nodes give the time the pool is gone within 2 % and its widest radius within 0.5 % of 641 nodes.

    References: carslaw1959conduction; shaw1978evaporation; briscoe1980spread; mackay1973evaporation;
    brighton1985evaporation; poling2000properties.

    Examples
    --------
    >>> pool = pool_history(
    ...     Fluid("propane"), Spill(mass_flow=0.5, duration=900.0), ground=Ground.named("moist sand"),
    ...     weather=Weather(air_temperature=300.15, wind_speed=2.0), duration=3600.0)
    >>> f"{pool.radius.max():.1f} m"
    '2.1 m'
    """
    weather = Weather() if weather is None else weather
    site = OpenGround() if site is None else site
    _check_kinds(fluid, spill, ground, weather, site, nodes)
    length = to_si(duration, "s", "duration", lower=0.0, open_lower=True)
    arrays, shape = _arrays(spill, ground, weather, site, length)
    landing = land(fluid, spill, arrays, shape)
    times = time_nodes(*feed_events(landing.feed), arrays["history"], nodes)
    room = _room(site, shape)
    soil = None if _uniform(ground, landing) else GroundColumns.prepare(ground, shape)
    tracks = []
    for i in range(0, times.shape[1], BLOCK):
        block = slice(i, i + BLOCK)
        problem = _problem(fluid, arrays, landing, room, times[:, block], block)
        start = start_of(problem)
        rings = _rings(soil, arrays, problem, start, times[:, block], block)
        tracks.append(march(problem, times[:, block], start, rings))
    return _report(fluid, ground, arrays, landing, times, tracks, shape)


def _check_kinds(fluid: Any, spill: Any, ground: Any, weather: Any, site: Any, nodes: Any) -> None:
    wanted: dict[str, tuple[Any, Any]] = {
        "fluid": (fluid, Fluid),
        "spill": (spill, Spill),
        "ground": (ground, Ground),
        "weather": (weather, Weather),
        "site": (site, (OpenGround, Hollow, Basin)),
    }
    for name, (value, kinds) in wanted.items():
        if not isinstance(value, kinds):
            raise InputError(f"{name}: {type(value).__name__} is no {getattr(kinds, '__name__', 'site')}")
    if isinstance(nodes, bool) or not isinstance(nodes, int):
        raise InputError(f"nodes must be a whole number, got {nodes!r}")
    if not 41 <= nodes <= 2001:
        raise OutOfRangeError("nodes", nodes, "", 41, 2001, "time nodes of a history")


def _arrays(
    spill: Spill, ground: Ground, weather: Weather, site: Site, length: FloatArray
) -> tuple[dict[str, FloatArray], tuple[int, ...]]:
    """Every input that has no axis of its own, broadcast and flattened to one axis of scenarios."""
    air, exposure = weather.air_temperature, site.exposure
    cover = exposure.cover_temperature
    given: dict[str, Any] = dict(spill_shapes(spill))
    given |= {
        "history": length,
        "ground_temperature": air if ground.temperature is None else ground.temperature,
        "minimum_depth": ground.minimum_depth,
        "cover_temperature": air if cover is None else cover,
    }
    names = ("air_temperature", "wind_speed", "relative_humidity", "solar_irradiance", "cloud_cover")
    given |= {name: getattr(weather, name) for name in (*names, "ambient_pressure")}
    names = ("wind_share", "sun_share", "sky_share", "vapor_fill", "precipitation")
    given |= {name: getattr(exposure, name) for name in names}
    given |= {f"ground {name}": value for name, value in conduction_properties(ground).items()}
    if isinstance(site, Hollow):
        given |= {"site area": site.area, "site depth": site.depth}
    if isinstance(site, Basin):
        given |= {"site area": site.area[..., 0], "site depth": site.depth[..., 0]}
    shaped = broadcast(**given)
    shape = shaped[0].shape
    arrays = {name: np.ascontiguousarray(a).reshape(-1) for name, a in zip(given, shaped, strict=True)}
    return arrays, shape


def _room(site: Site, shape: tuple[int, ...]) -> Room | None:
    """Shape of the ground, knots first, of all scenarios."""
    if isinstance(site, OpenGround):
        return None
    if isinstance(site, Basin):
        knots = [flat_last(x, shape) for x in (site.depth, site.area, site.wetted_area)]
        return Room.prepare(*knots)
    area, depth = (np.broadcast_to(x, shape).reshape(-1) for x in (site.area, site.depth))
    both = np.stack([area, area])
    return Room.prepare(np.stack([np.zeros_like(depth), depth]), both, both)


def _problem(
    fluid: Fluid,
    a: dict[str, FloatArray],
    landing: Landing,
    room: Room | None,
    times: FloatArray,
    block: slice,
) -> PoolProblem:
    """Gather what the march of one block of scenarios needs."""
    a = {name: values[block] for name, values in a.items()}
    liquid = PureLiquid.prepare(fluid, a["ambient_pressure"])
    at = landing.select(block)
    totals = at.feed.totals(times)
    names = ("liquid_density", "liquid_viscosity", "vapor_conductivity")
    density, viscosity, vapor_conductivity = fluid.saturated(liquid.boiling_point, *names)
    near, far = conduction_potential(a, liquid.boiling_point)
    return PoolProblem(
        liquid=liquid,
        surface=PoolSurface.prepare(
            a,
            boiling_point=liquid.boiling_point,
            molar_mass=np.full_like(liquid.boiling_point, fluid.molar_mass),
            diffusion_volume=diffusion_volume_fuller(fluid.substance.formula),
            vapor_conductivity=vapor_conductivity,
        ),
        room=None if room is None else room.select(block),
        vapor_fill=a["vapor_fill"],
        minimum_depth=a["minimum_depth"],
        kinematic_viscosity=viscosity / density,
        sides_near=near,
        sides_far=far,
        landing_temperature=at.temperature,
        initial_mass=at.at_once,
        fed=totals["landed"],
        fed_enthalpy=totals["landed_enthalpy"],
        feed_end=at.feed.end,
    )


def _uniform(ground: Ground, landing: Landing) -> bool:
    """Whether the ground is one half-space of constant properties that is wetted once."""
    slopes = (ground.conductivity_slope, ground.heat_capacity_slope)
    constant = ground.below is None and not any(np.any(slope) for slope in slopes)
    _, real = feed_events(landing.feed)
    return constant and bool(np.all(np.count_nonzero(real, axis=0) <= 2))


def _rings(
    soil: GroundColumns | None,
    a: dict[str, FloatArray],
    problem: PoolProblem,
    start: PoolState,
    times: FloatArray,
    block: slice,
) -> HalfSpaceRings | ColumnRings:
    """Ground under the pools of a block of scenarios."""
    if soil is None:
        properties = {name: a[f"ground {name}"][block] for name in CONDUCTION}
        contact = Contact.prepare(a["ground_temperature"][block], properties)
        return HalfSpaceRings(contact, times, start.liquid.temperature, start.wetted)
    size = times.shape[1]
    columns = np.arange(block.start, block.start + size)
    return ColumnRings(
        GroundColumns(soil.cells.select(columns), (size,)),
        times,
        start.wetted,
        ground_temperature=a["ground_temperature"][block],
        air=problem.surface.bare_ground(np.maximum(start.wetted, 1.0)),
    )


def conduction_potential(
    a: dict[str, FloatArray], boiling_point: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Conductivity of the ground at a boiling point, and its integral from there to undisturbed ground.

    [W/m/K, W/m]; frozen below the freezing point where the ground holds water.
    """
    k, frozen, Tg = a["ground conductivity"], a["ground frozen_conductivity"], a["ground_temperature"]
    frozen = np.where(a["ground water_mass_fraction"] > 0.0, frozen, k)
    melting = float(FREEZING_POINT_OF_WATER)
    cold = np.minimum(Tg, melting) - np.minimum(boiling_point, melting)
    warm = np.maximum(Tg, melting) - np.maximum(boiling_point, melting)
    return np.where(boiling_point < melting, frozen, k), frozen * cold + k * warm


def _report(
    fluid: Fluid,
    ground: Ground,
    arrays: dict[str, FloatArray],
    landing: Landing,
    times: FloatArray,
    blocks: list[PoolTrack],
    shape: tuple[int, ...],
) -> PoolHistory:
    def joined(name: str) -> FloatArray:
        return np.concatenate([getattr(block, name) for block in blocks], axis=-1)

    def shaped(values: FloatArray) -> FloatArray:
        return np.ascontiguousarray(values.T).reshape(*shape, times.shape[0])

    def single(values: FloatArray) -> FloatArray:
        return values.reshape(shape)[()]

    mass, area, evaporated, overflow = (joined(n) for n in ("mass", "area", "evaporated", "overflow"))
    totals = landing.feed.totals(times)
    spilled = landing.spilled_at_once + totals["spilled"]
    flashed = landing.flashed_at_once + totals["flashed"]
    at_once = landing.spilled_at_once - landing.flashed_at_once - landing.at_once
    airborne = at_once + (totals["spilled"] - totals["flashed"] - totals["landed"])
    landed = landing.at_once + totals["landed"]
    imbalance = np.abs(landed - mass - evaporated - overflow)
    mass_residual = np.max(imbalance, axis=0) / np.maximum(spilled[-1], np.finfo(float).tiny)
    energy_scale = np.maximum(joined("energy_scale")[-1], np.finfo(float).tiny)
    energy_residual = np.max(np.abs(joined("energy_error")), axis=0) / energy_scale
    _check_books(mass_residual, energy_residual)
    rate = np.zeros_like(mass)
    rate[1:] = np.diff(evaporated, axis=0) / np.maximum(np.diff(times, axis=0), np.finfo(float).tiny)
    depth = np.where(area > 0.0, mass / joined("density") / np.where(area > 0.0, area, 1.0), 0.0)
    histories = {
        "time": times,
        "mass": mass,
        "area": area,
        "radius": np.sqrt(area / math.pi),
        "depth": depth,
        "temperature": joined("temperature"),
        "evaporation_rate": rate,
        "mass_spilled": spilled,
        "mass_flashed": flashed,
        "mass_airborne": airborne,
        "mass_evaporated": evaporated,
        "mass_overflowed": overflow,
        "heat_from_ground": joined("heat_ground"),
        "heat_from_beside": joined("heat_beside"),
        "heat_from_air": joined("heat_air"),
        "heat_from_longwave": joined("heat_longwave"),
        "heat_from_sun": joined("heat_sun"),
        "heat_from_frost": joined("heat_frost"),
        "mass_ice": joined("ice"),
    }
    return PoolHistory(
        **{name: shaped(values) for name, values in histories.items()},
        flash_fraction=single(landing.flash_fraction),
        landing_temperature=single(landing.temperature),
        gone_at=single(joined("gone_at")),
        mass_balance_residual=single(mass_residual),
        energy_balance_residual=single(energy_residual),
        cautions=CAUTIONS,
        provenance=Provenance(
            f"ring-by-ring pool on {ground.name}",
            tuple(dict.fromkeys((*SOURCES, *ground.provenance.sources))),
            fluid.served_by,
        ),
    )


def _check_books(mass_residual: FloatArray, energy_residual: FloatArray) -> None:
    for name, residual in (("mass", mass_residual), ("energy", energy_residual)):
        if residual.size and not residual.max() <= BALANCE_TOLERANCE:
            raise ConvergenceError(f"{name} balance of a pool", float(residual.max()))


CAUTIONS: Final = (
    "An estimate, not an instruction: the share of liquid that lands, the depth the relief holds and the "
    "moisture of the ground each change the size of the pool severalfold.",
    "Vapor fills low ground around a pool and can be lit far from it; approach from uphill and upwind with "
    "a monitor. The authority in charge and licensed practice decide.",
    "A sheltered or calm hollow full of vapor keeps its liquid much longer than this says.",
)
