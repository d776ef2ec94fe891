"""Where not to stand: how far vapor can be lit, and how far flames scorch, in each phase of a forecast."""

from __future__ import annotations

import dataclasses
import functools
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from lpgrelease.cloud import flammable_reach
from lpgrelease.cloud.cloud import BROAD
from lpgrelease.errors import InputError
from lpgrelease.fire import pool_fire, vapor_flare
from lpgrelease.flashing import flash
from lpgrelease.fluids import Fluid
from lpgrelease.quantities import FloatArray
from lpgrelease.response.cautions import DISTANCES, LEAKS_ON, NO_FIRE_DISTANCE
from lpgrelease.response.dry import leaks_on, vapor_flow
from lpgrelease.response.inputs import flares_of
from lpgrelease.response.spilling import add_openings
from lpgrelease.results import BoolArray, Provenance, Result, plain, quantity, result
from lpgrelease.weather import Weather
from lpgrelease.weather_by_hour import NUMBERS, ambient_at

if TYPE_CHECKING:
    from lpgrelease.response.story import Forecast

__all__ = ["HEAT_FLUX", "Distances", "find_distances"]

HEAT_FLUX = 1580.0
"""Heat flux in which people in suitable clothing may stay [W/m2]: api2014flares."""
FRACTION = 0.5
"""Of the lower flammable limit: gusts bring twice the mean."""
LEAST_POOL = 0.2
"""Smallest pool for which a fire is described [m]; a smaller one counts as that wide."""
FLARE = ("flare_flow", "flare_length", "flare_standoff")
REACHES = ("half_limit_radius", "flare_standoff", "pool_fire_standoff", "pit_standoff")
"""Of which `stay_away` is the largest."""
FLAGS = ("calm", "broad")
NO_FLOW = 1e-6
"""Stands for no flow where a cloud must have one [kg/s]."""
POINTS_SHARE = 4
"""Every so many points of a phase are looked at."""


@result
class Distances(Result):
    """The largest distances in each phase over flat open ground; leading axes are the scenarios.

    `stay_away` holds on every side, the other distances of the cloud downwind.

    Flying parts of a tank that fails go farther than any of these.
    """

    gas_flow: FloatArray = quantity("kg/s", "vapor and drops that enter the air unburned", dims=("phase",))
    flammable: FloatArray = quantity("m", "how far it is at its lower flammable limit", dims=("phase",))
    half_limit: FloatArray = quantity("m", "how far it is at half of that", dims=("phase",))
    half_limit_high: FloatArray = quantity(
        "m", "the same if the cloud is twice as rich as computed", dims=("phase",)
    )
    half_limit_radius: FloatArray = quantity(
        "m", "radius around its source that holds that richer cloud, aside and upwind too", dims=("phase",)
    )
    flare_flow: FloatArray = quantity("kg/s", "vapor burned in the largest flare", dims=("phase",))
    flare_length: FloatArray = quantity("m", "of its flame", dims=("phase",))
    flare_standoff: FloatArray = quantity("m", "from its foot to 1.58 kW/m2", dims=("phase",))
    pool_diameter: FloatArray = quantity("m", "of the pool at its widest", dims=("phase",))
    pool_fire_standoff: FloatArray = quantity(
        "m", "from the middle of the pool to 1.58 kW/m2, should it be lit", dims=("phase",)
    )
    pit_standoff: FloatArray = quantity("m", "from the middle of the burn pit to 1.58 kW/m2", dims=("phase",))
    stay_away: FloatArray = quantity("m", "largest of the cloud's and the fires'", dims=("phase",))
    calm: BoolArray = quantity("", "wind too low for the cloud's model: gas may lie on all sides")
    broad: BoolArray = quantity("", "whether gas goes farther aside or upwind than downwind in some phase")
    burns: bool = plain("whether the cargo burns; nothing else is looked at")
    phase_names: tuple[str, ...] = plain("what the phases are called")
    cautions: tuple[str, ...] = plain("what to read before standing anywhere", default=(DISTANCES,))


def find_distances(story: Forecast) -> Distances:
    """Return the largest distances of each phase.

    The largest flow of gas of each phase feeds one steady cloud: vapor, flashed vapor and drops of all leaks,
    the most that the pool evaporates, and what is vented where it is not flared; after the last liquid a
    bound to the vapor that leaks on. A phase that takes no time has nothing else. Heat: api2014flares.
    """
    fluid, weathers = story.incident.contents.fluid, _weathers(story)
    gas, across = _gas(story), _pool_across(story)
    parts = [_nothing(np.zeros(np.broadcast_shapes(gas.shape, across.shape)))]
    if fluid.flammable:
        weather = weathers[0][1]
        parts += [_clouds(fluid, weathers, gas), _lit_pool(fluid, weather, across)]
        parts += [_flares(story, weather, _flare_flows(story)), _pit(story, gas.shape)]
    found: dict[str, Any] = {name: value for part in parts for name, value in part.fields.items()}
    reach = [found[name] for name in REACHES]
    sources = tuple(dict.fromkeys(key for part in parts for key in part.sources))
    outside = tuple(dict.fromkeys(text for part in parts for text in part.outside))
    model = "steady cloud of the largest flow, flare and pool fire"
    return Distances(
        gas_flow=gas,
        pool_diameter=across,
        stay_away=np.max(reach, axis=0),
        burns=fluid.flammable,
        phase_names=story.phase_names,
        cautions=_cautions(story, found),
        **found,
        provenance=Provenance(model, sources, fluid.credit, outside),
    )


def _cautions(story: Forecast, found: dict[str, Any]) -> tuple[str, ...]:
    fluid = story.incident.contents.fluid
    called_for = {
        NO_FIRE_DISTANCE: not fluid.flammable,
        LEAKS_ON: np.any(leaks_on(story)),
        BROAD: np.any(found["broad"]),
    }
    return (*fluid.cautions, *(text for text, holds in called_for.items() if holds), DISTANCES)


class _Part(NamedTuple):
    """Fields that one model serves, and its sources."""

    fields: dict[str, Any]
    sources: tuple[str, ...] = ()
    outside: tuple[str, ...] = ()


def _nothing(zero: FloatArray) -> _Part:
    """Return every distance at 0."""
    names = ("flammable", "half_limit", "half_limit_high", *REACHES, *FLARE)
    no = np.zeros(zero.shape[:-1], dtype=np.bool_)[()]
    return _Part(dict.fromkeys(names, zero) | dict.fromkeys(FLAGS, no))


def _clouds(fluid: Fluid, weathers: list[tuple[BoolArray, Weather]], gas: FloatArray) -> _Part:
    """Return the clouds; each stability class is computed for all phases and taken where it holds."""
    parts = [_cloud(fluid, weather, gas) for _, weather in weathers]
    fields = dict(parts[0].fields)
    for (holds, _), part in zip(weathers[1:], parts[1:], strict=True):
        fields = {name: np.where(holds, part.fields[name], value) for name, value in fields.items()}
    for flag in FLAGS:
        fields[flag] = np.asarray(fields[flag]).any(axis=-1)
    sources = tuple(dict.fromkeys(key for part in parts for key in part.sources))
    return _Part(fields, sources, tuple(dict.fromkeys(text for part in parts for text in part.outside)))


def _cloud(fluid: Fluid, weather: Weather, gas: FloatArray) -> _Part:
    flows = gas > 0.0
    source = np.where(flows, gas, NO_FLOW)
    cloud = flammable_reach(fluid, mass_flow=source, weather=weather, fraction=FRACTION)
    fields = {
        "flammable": np.where(flows, cloud.level_distance[..., 0], 0.0),
        "half_limit": np.where(flows, cloud.distance, 0.0),
        "half_limit_high": np.where(flows, cloud.distance_high, 0.0),
        "half_limit_radius": np.where(flows, cloud.radius_high, 0.0),
        "calm": np.broadcast_to(cloud.calm, gas.shape),
        "broad": flows & cloud.broad,
    }
    return _Part(fields, cloud.provenance.sources, cloud.provenance.outside_validity)


def _lit_pool(fluid: Fluid, weather: Weather, across: FloatArray) -> _Part:
    """Return the pool's fire, where one is known: some cargoes hardly burn as a pool."""
    try:
        lit = pool_fire(fluid, diameter=np.maximum(across, LEAST_POOL), weather=weather)
    except InputError:
        return _Part({})
    fields = {"pool_fire_standoff": np.where(across > 0.0, lit.standoff(HEAT_FLUX), 0.0)}
    return _Part(fields, (*lit.provenance.sources, "api2014flares"))


def _flares(story: Forecast, weather: Weather, flows: list[FloatArray]) -> _Part:
    """Return the largest of the flares."""
    parts, sources = [], ["api2014flares"]
    for opening, flow, (_, height) in zip(story.plan.vents, flows, story.plan.flares, strict=True):
        high = np.asarray(height)[..., None]
        wide = np.asarray(opening.diameter)[..., None]
        flare = vapor_flare(
            story.incident.contents.fluid, mass_flow=flow, height=high, diameter=wide, weather=weather
        )
        parts.append((flow, flare.flame_length, flare.standoff(HEAT_FLUX)))
        sources += flare.provenance.sources
    if not parts:
        return _Part({})
    rows = [functools.reduce(np.maximum, row) for row in zip(*parts, strict=True)]
    return _Part(dict(zip(FLARE, rows, strict=True)), tuple(sources))


def _pit(story: Forecast, shape: tuple[int, ...]) -> _Part:
    """Return the burn pit's, while liquid is pumped out."""
    if story.pit is None:
        return _Part({})
    burns = np.where(_pumps(story) & _lasts(story), 1.0, 0.0)
    far = np.broadcast_to(burns * np.asarray(story.pit.standoff(HEAT_FLUX))[..., None], shape)
    return _Part({"pit_standoff": far}, story.pit.provenance.sources)


def _pumps(story: Forecast) -> BoolArray:
    """Whether liquid is pumped out in each phase."""
    phases = len(story.phase_names)
    rows = story.transferred.reshape(*story.transferred.shape[:-1], phases, -1)
    pumps: BoolArray = rows[..., -1] > rows[..., 0]
    return pumps


def _lasts(story: Forecast) -> BoolArray:
    lasts: BoolArray = story.phase_end - story.phase_start > 1.0
    return lasts


def _largest(values: FloatArray, phases: int) -> FloatArray:
    """Largest of each phase's points, of rows on the joined axis of time."""
    found: FloatArray = values.reshape(*values.shape[:-1], phases, -1).max(axis=-1)
    return found


def _gas(story: Forecast) -> FloatArray:
    """Largest flow of gas and drops into the air in each phase [kg/s]."""
    incident, phases = story.incident, len(story.phase_names)
    fluid = incident.contents.fluid
    some = story.time[..., ::POINTS_SHARE]
    wet = story.leak_passes_liquid
    vapor = add_openings(np.where(wet, 0.0, story.leak_flow))
    liquid = add_openings(np.where(wet, story.leak_flow, 0.0))
    ambient = ambient_at(incident.weather, some)
    warm = story.temperature[..., ::POINTS_SHARE]
    boils = flash(fluid, temperature=warm, ambient_pressure=ambient).vapor_fraction
    share = np.repeat(boils, POINTS_SHARE, axis=-1)[..., : story.time.shape[-1]]
    drops = (1.0 - share) * (1.0 - np.asarray(incident.captured_fraction)[..., None])
    flow = vapor + liquid * (share + drops)
    unburned = np.array([0.0 if burns else 1.0 for burns, _ in flares_of(story.plan, fluid)])
    flow = flow + add_openings(story.vent_flow * unburned[:, None])
    flow = flow + add_openings(story.relief_flow)
    lasts = _lasts(story)
    from_tank = np.maximum(np.where(lasts, _largest(flow, phases), 0.0), vapor_flow(story))
    return from_tank + np.where(lasts, _in_phases(story, story.pool.evaporation_rate), 0.0)


def _in_phases(story: Forecast, values: FloatArray) -> FloatArray:
    """Largest in each phase of values on the pool's axis of time, those that begin in it included."""
    time = story.pool.time[..., None, :]
    start, end = story.phase_start[..., None], story.phase_end[..., None]
    inside = (time > start) & (np.concatenate([time[..., :1], time[..., :-1]], axis=-1) < end)
    found: FloatArray = np.where(inside, values[..., None, :], 0.0).max(axis=-1)
    return found


def _flare_flows(story: Forecast) -> list[FloatArray]:
    """Largest flow of each vent in each phase, where it is flared [kg/s]."""
    phases, rows = len(story.phase_names), np.moveaxis(story.vent_flow, -2, 0)
    flares = flares_of(story.plan, story.incident.contents.fluid)
    burns = [1.0 if flare else 0.0 for flare, _ in flares]
    return [
        share * np.where(_lasts(story), _largest(row, phases), 0.0)
        for share, row in zip(burns, rows, strict=True)
    ]


def _pool_across(story: Forecast) -> FloatArray:
    """Widest the pool is in each phase [m]."""
    return np.where(_lasts(story), 2.0 * _in_phases(story, story.pool.radius), 0.0)


def _weathers(story: Forecast) -> list[tuple[BoolArray, Weather]]:
    """Return the weather of each phase, once for each stability class, and in which phases that holds."""
    given, starts = story.incident.weather, story.phase_start
    if isinstance(given, Weather):
        return [(np.ones(starts.shape, dtype=np.bool_), _timed(given))]
    index = np.searchsorted(given.times, starts, side="right") - 1
    numbers: dict[str, Any] = {}
    for name in NUMBERS:
        row = np.zeros(starts.shape)
        for i, piece in enumerate(given.weathers):
            row = np.where(index == i, np.asarray(getattr(piece, name))[..., None], row)
        numbers[name] = row
    found = []
    for stability in dict.fromkeys(piece.stability for piece in given.weathers):
        own = [i for i, piece in enumerate(given.weathers) if piece.stability == stability]
        found.append((np.isin(index, own), Weather(**numbers, stability=stability)))
    return found


def _timed(weather: Weather) -> Weather:
    """Return the weather with an axis of length one for the phases behind its scenarios."""
    timed: dict[str, Any] = {
        field.name: np.asarray(getattr(weather, field.name))[..., None]
        for field in dataclasses.fields(weather)
        if "unit" in field.metadata and np.ndim(getattr(weather, field.name))
    }
    return dataclasses.replace(weather, **timed)
