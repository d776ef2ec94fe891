"""From inputs to marches: everything of one axis of scenarios, in blocks."""

from __future__ import annotations

import dataclasses
from typing import Any, Final

import numpy as np

from lpgrelease.conduction import Contact
from lpgrelease.constants import FREEZING_POINT_OF_WATER
from lpgrelease.elementwise import larger, smaller, where
from lpgrelease.fluids import Fluid
from lpgrelease.ground import Ground, conduction_properties
from lpgrelease.ground.column import GroundColumns
from lpgrelease.pool.blend import BlendLiquid
from lpgrelease.pool.boiling_rings import BoilingRings
from lpgrelease.pool.burn import PoolFlame
from lpgrelease.pool.changing import NUMBERS, ChangingSurface, later_weather, with_later
from lpgrelease.pool.columns import ColumnRings
from lpgrelease.pool.contact import BoilingContact
from lpgrelease.pool.evaporate import PoolSurface, diffusion_volume_of
from lpgrelease.pool.inputs import Spill
from lpgrelease.pool.landing import Landing, flat_last, spill_shapes
from lpgrelease.pool.level import Room
from lpgrelease.pool.liquid import PureLiquid
from lpgrelease.pool.march import Rings, march, start_of
from lpgrelease.pool.problem import PoolProblem, PoolState, PoolTrack
from lpgrelease.pool.rings import HalfSpaceRings
from lpgrelease.pool.schedule import feed_events
from lpgrelease.pool.sites import Basin, Hollow, OpenGround, Site
from lpgrelease.quantities import FloatArray, broadcast
from lpgrelease.results import BoolArray, IntArray
from lpgrelease.weather import Weather
from lpgrelease.weather_by_hour import WeatherByHour, weather_at_start

__all__ = ["conduction_potential", "flat_inputs", "march_all", "room_of", "surface_over"]

BLOCK: Final = 512
LARGEST: Final = 8_000_000
"""Numbers that the rings of a block may take."""
CONDUCTION: Final = (
    "conductivity",
    "heat_capacity",
    "frozen_conductivity",
    "frozen_heat_capacity",
    "water_mass_fraction",
)


def flat_inputs(
    spill: Spill,
    ground: Ground,
    weather: Weather | WeatherByHour,
    site: Site,
    length: FloatArray,
    **more: FloatArray,
) -> tuple[dict[str, FloatArray], tuple[int, ...]]:
    """Every input that has no axis of its own, broadcast and flattened to one axis of scenarios."""
    now, exposure = weather_at_start(weather), site.exposure
    air, cover = now.air_temperature, exposure.cover_temperature
    given: dict[str, Any] = dict(spill_shapes(spill))
    given |= {
        **more,
        "history": length,
        "ground_temperature": air if ground.temperature is None else ground.temperature,
        "minimum_depth": ground.minimum_depth,
        "cover_temperature": air if cover is None else cover,
    }
    given |= {name: getattr(now, name) for name in (*NUMBERS, "ambient_pressure")}
    given |= later_weather(weather, cover)
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


def room_of(site: Site, shape: tuple[int, ...]) -> Room | None:
    """Shape of the ground, knots first, of all scenarios."""
    if isinstance(site, OpenGround):
        return None
    if isinstance(site, Basin):
        knots = [flat_last(x, shape) for x in (site.depth, site.area, site.wetted_area)]
        return Room.prepare(*knots)
    area, depth = (np.broadcast_to(x, shape).reshape(-1) for x in (site.area, site.depth))
    both = np.stack([area, area])
    return Room.prepare(np.stack([np.zeros_like(depth), depth]), both, both)


def march_all(
    fluid: Fluid,
    ground: Ground,
    room: Room | None,
    arrays: dict[str, FloatArray],
    landing: Landing,
    times: FloatArray,
    shape: tuple[int, ...],
    burning: str,
    changes: FloatArray,
    curve: BoilingContact | None,
) -> PoolTrack:
    """March all scenarios, block by block: those on uniform ground that is wetted once, and the others."""
    uniform = _uniform(ground, landing)
    soil = None if uniform.all() else GroundColumns.prepare(ground, shape)
    tracks, order = [], []
    for kind in (True, False):
        members = np.nonzero(uniform == kind)[0]
        # rings of every step, each with its history
        size = max(1, min(BLOCK, LARGEST // times.shape[0] ** 2))
        for i in range(0, members.size, size):
            order.append(members[i : i + size])
            # one scenario has arrays of shape (), which are quicker than those of one element
            block = order[-1] if order[-1].size > 1 else order[-1][0]
            problem = _problem(fluid, arrays, landing, room, times[:, block], block, burning, changes)
            start = start_of(problem)
            rings = _rings(_under(soil, block, kind), arrays, problem, start, times[:, block], block, curve)
            tracks.append(march(problem, times[:, block], start, rings))
    if not tracks:
        return march_nothing(times.shape, len(landing.feed.parts))
    back = np.argsort(np.concatenate(order))

    def joined(name: str) -> FloatArray:
        parts = [getattr(track, name) for track in tracks]
        blocks = [x[..., None] if block.size == 1 else x for x, block in zip(parts, order, strict=True)]
        whole: FloatArray = np.concatenate(blocks, axis=-1)[..., back]
        return whole

    names = [f.name for f in dataclasses.fields(PoolTrack) if getattr(tracks[0], f.name) is not None]
    return PoolTrack(**{name: joined(name) for name in names})


def _under(soil: GroundColumns | None, block: IntArray, uniform: bool) -> GroundColumns | None:
    """Columns under some of the scenarios; None where the ground is a half-space."""
    if uniform or soil is None:
        return None
    columns = np.atleast_1d(block)
    return GroundColumns(soil.cells.select(columns), (columns.size,))


def march_nothing(shape: tuple[int, ...], components: int) -> PoolTrack:
    """Return the track of no scenarios, of a blend of so many `components` or of a pure fluid if none."""
    names = [f.name for f in dataclasses.fields(PoolTrack)]
    whole = {name: np.zeros(shape) for name in names if not name.startswith("parts")}
    whole["gone_at"] = np.zeros(shape[1:])
    if components:
        of_parts = (shape[0], components, *shape[1:])
        whole |= {name: np.zeros(of_parts) for name in names if name.startswith("parts")}
    return PoolTrack(**whole)


def _uniform(ground: Ground, landing: Landing) -> BoolArray:
    """Which scenarios lie on a half-space of constant properties that is wetted once."""
    _, real = feed_events(landing.feed)
    once = np.count_nonzero(real, axis=0) <= 2
    plain_ground = ground.below is None and not (
        np.any(ground.conductivity_slope) or np.any(ground.heat_capacity_slope)
    )
    uniform: BoolArray = once & plain_ground
    return uniform


def _problem(
    fluid: Fluid,
    arrays: dict[str, FloatArray],
    landing: Landing,
    room: Room | None,
    times: FloatArray,
    block: IntArray,
    burning: str,
    changes: FloatArray,
) -> PoolProblem:
    """Gather what the march of one block of scenarios needs."""
    a = {name: values[block] for name, values in arrays.items()}
    at = landing.select(block)
    liquid: PureLiquid | BlendLiquid
    if at.shares is None:
        liquid = PureLiquid.prepare(fluid, a["ambient_pressure"])
    else:
        liquid = BlendLiquid.prepare(fluid, a["ambient_pressure"], at.shares)
    totals = at.feed.totals(times)
    names = ("liquid_density", "liquid_viscosity")
    density, viscosity = fluid.saturated(liquid.boiling_point, *names)
    near, far = conduction_potential(a, liquid.boiling_point)
    lit = a.get("ignited_at")
    surface, changing = surface_over(fluid, a, liquid.boiling_point), None
    if changes.size:
        every = surface_over(fluid, with_later(a, changes.size), liquid.boiling_point)
        changing = ChangingSurface.prepare(every, changes, times)
    return PoolProblem(
        liquid=liquid,
        surface=surface,
        room=None if room is None else room.select(block),
        vapor_fill=a["vapor_fill"] if a["vapor_fill"].any() else None,
        minimum_depth=a["minimum_depth"],
        kinematic_viscosity=viscosity / density,
        sides_near=near,
        sides_far=far,
        landing_temperature=at.temperature,
        initial_mass=at.at_once,
        fed=totals["landed"],
        fed_enthalpy=totals["landed_enthalpy"],
        feed_end=at.feed.end,
        initial_parts=None if at.shares is None else at.at_once * at.shares,
        fed_parts=None
        if at.shares is None
        else np.stack([totals[f"part {k}"] for k in range(len(at.feed.parts))]),
        flame=None if lit is None else PoolFlame.prepare(fluid, lit, liquid.boiling_point, burning),
        changing=changing,
    )


def surface_over(fluid: Fluid, a: dict[str, FloatArray], boiling_point: FloatArray) -> PoolSurface:
    """Exchange with the surroundings over pools of a fluid."""
    return PoolSurface.prepare(
        a,
        boiling_point=boiling_point,
        molar_mass=np.full_like(boiling_point, fluid.molar_mass),
        diffusion_volume=diffusion_volume_of(fluid),
        vapor_conductivity=fluid.saturated(boiling_point, "vapor_conductivity")[0],
    )


def _rings(
    soil: GroundColumns | None,
    arrays: dict[str, FloatArray],
    problem: PoolProblem,
    start: PoolState,
    times: FloatArray,
    block: IntArray,
    curve: BoilingContact | None,
) -> Rings:
    """Ground under the pools of a block of scenarios; `soil` None is a half-space."""
    warm, liquid = arrays["ground_temperature"][block], problem.liquid
    boiling = None if curve is None else curve.select(block, liquid.boiling_point)
    if soil is None:
        properties = {name: arrays[f"ground {name}"][block] for name in CONDUCTION}
        table, T = Contact.prepare(warm, properties), start.liquid.temperature
        if boiling is None:
            return HalfSpaceRings(table, times, T, start.wetted)
        return BoilingRings(table, boiling, times, T, start.wetted, ground_temperature=warm)
    wide = larger(start.wetted, 1.0)
    steps = range(times.shape[0] - 1)
    if problem.changing is None:
        air = [problem.surface.bare_ground(wide)] * len(steps)
    else:
        air = list(zip(*problem.changing.surface.bare_ground(wide), strict=True))
    return ColumnRings(soil, times, start.wetted, ground_temperature=warm, air=air, boiling=boiling)


def conduction_potential(
    a: dict[str, FloatArray], boiling_point: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Conductivity of the ground at a boiling point, and its integral from there to undisturbed ground.

    [W/m/K, W/m]; frozen below the freezing point where the ground holds water.
    """
    k, frozen, Tg = a["ground conductivity"], a["ground frozen_conductivity"], a["ground_temperature"]
    frozen = where(a["ground water_mass_fraction"] > 0.0, frozen, k)
    melting = float(FREEZING_POINT_OF_WATER)
    cold = smaller(Tg, melting) - smaller(boiling_point, melting)
    warm = larger(Tg, melting) - larger(boiling_point, melting)
    return where(boiling_point < melting, frozen, k), frozen * cold + k * warm
