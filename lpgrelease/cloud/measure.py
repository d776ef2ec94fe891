"""Numbers of a marched cloud: distances, widths and heights of its contours, gas inside the limits, times."""

from __future__ import annotations

import dataclasses
from typing import ClassVar, Final

import numpy as np
from numpy.typing import NDArray

from lpgrelease.cloud.cloud import LEVELS
from lpgrelease.cloud.march import DEPTH_OF_SPREAD, CloudProblem, CloudTrack
from lpgrelease.cloud.section import crosswind_profile, layer_content, offsets
from lpgrelease.quantities import FloatArray
from lpgrelease.weather import AIR_MOLAR_MASS

__all__ = ["Measures", "measure"]

UNCERTAINTY: Final = 2.0
"""Factor in concentration within which such models meet most trials."""
TAIL: Final = 2.0
"""Spreads by which the end of a cloud trails behind its mean flow."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Measures:
    """Results of a block; scenarios on the last axis, levels or planes before them."""

    distance: FloatArray
    distance_low: FloatArray
    distance_high: FloatArray
    radius: FloatArray
    radius_high: FloatArray
    upwind: FloatArray
    width: FloatArray
    height: FloatArray
    flammable_mass: FloatArray
    arrival_time: FloatArray
    clearing_time: FloatArray
    served: NDArray[np.intp]
    level_distance: FloatArray
    level_width: FloatArray
    level_height: FloatArray
    plane_distance: FloatArray
    plane_time: FloatArray
    plane_speed: FloatArray
    plane_half_width: FloatArray
    plane_depth: FloatArray
    plane_edge_spread: FloatArray
    plane_mole_fraction: FloatArray
    plane_temperature: FloatArray
    plane_density: FloatArray
    plane_drops: FloatArray
    plane_served: NDArray[np.intp]

    SCENARIO_FIELDS: ClassVar = (
        "distance",
        "distance_low",
        "distance_high",
        "radius",
        "radius_high",
        "upwind",
        "width",
        "height",
        "flammable_mass",
        "arrival_time",
        "clearing_time",
    )
    LEVEL_FIELDS: ClassVar = ("level_distance", "level_width", "level_height")


def measure(
    track: CloudTrack,
    problem: CloudProblem,
    molar_mass: float,
    limits: tuple[float, float],
    fraction: FloatArray,
    upwind: FloatArray,
) -> Measures:
    """All numbers of a block of scenarios, from its planes; `upwind`: extent of the source there [m]."""
    core = 1.0 / (1.0 + track.air_ratio * (molar_mass / float(AIR_MOLAR_MASS)))
    b, s, h = track.half_width, track.edge_spread, track.depth
    axis = core * crosswind_profile(np.zeros_like(b), b, s)
    places, strip = offsets(b, s)
    profile = crosswind_profile(places, b, s)
    low, high = limits
    wanted = fraction * low
    distance, at = _distance(track.distance, axis, wanted)
    widths, heights, reaches, radii = [], [], [], []
    levels = (np.full_like(wanted, level * low) for level in LEVELS)
    for threshold in (wanted, wanted / UNCERTAINTY, *levels):
        edge = _edge(core * profile, axis, threshold, places, strip)
        reach, tip = _distance(track.distance, axis, threshold)
        widths.append(2.0 * np.max(edge, axis=0))
        heights.append(_height(axis, threshold, h))
        reaches.append(reach)
        radii.append(np.maximum(_radius(track.distance, edge, reach, tip, b), upwind))
    return Measures(
        distance=distance,
        distance_low=_distance(track.distance, axis, wanted * UNCERTAINTY)[0],
        distance_high=reaches[1],
        radius=radii[0],
        radius_high=radii[1],
        upwind=upwind,
        width=widths[0],
        height=heights[0],
        flammable_mass=_flammable_mass(track, core, profile, strip, low, high),
        arrival_time=_at(track.time, at),
        clearing_time=_clearing_time(track, problem, axis, wanted),
        served=np.take_along_axis(track.served, at[0][None] - 1, axis=0)[0],
        level_distance=np.stack(reaches[2:]),
        level_width=np.stack(widths[2:]),
        level_height=np.stack(heights[2:]),
        plane_distance=track.distance,
        plane_time=track.time,
        plane_speed=track.speed,
        plane_half_width=b,
        plane_depth=h,
        plane_edge_spread=s,
        plane_mole_fraction=core,
        plane_temperature=track.temperature,
        plane_density=track.density,
        plane_drops=track.drops,
        plane_served=track.served,
    )


Place = tuple[NDArray[np.intp], FloatArray]


def _distance(x: FloatArray, axis: FloatArray, threshold: FloatArray) -> tuple[FloatArray, Place]:
    """Where the concentration on the axis first falls below a threshold, and between which planes that is."""
    below = axis < threshold
    after = np.maximum(np.where(below.any(axis=0), np.argmax(below, axis=0), axis.shape[0] - 1), 1)
    before = np.log(_pick(axis, after - 1))
    drop = before - np.log(_pick(axis, after))
    share = np.clip((before - np.log(threshold)) / np.where(drop > 0.0, drop, 1.0), 0.0, 1.0)
    place = (after, share)
    return _at(x, place), place


def _at(values: FloatArray, place: Place) -> FloatArray:
    after, share = place
    low = _pick(values, after - 1)
    return np.asarray(low + share * (_pick(values, after) - low))


def _pick(values: FloatArray, plane: NDArray[np.intp]) -> FloatArray:
    return np.asarray(np.take_along_axis(values, plane[None], axis=0)[0])


def _edge(
    field: FloatArray, axis: FloatArray, threshold: FloatArray, places: FloatArray, strip: FloatArray
) -> FloatArray:
    """Half-width of a contour in every plane, 0 beyond it: between strips linear in concentration."""
    inside = (field >= threshold).sum(axis=0)
    inner = np.maximum(inside - 1, 0)[None]
    outer = np.minimum(inside, field.shape[0] - 1)[None]
    high = np.where(inside > 0, np.take_along_axis(field, inner, axis=0)[0], axis)
    low = np.take_along_axis(field, outer, axis=0)[0]
    start = np.where(inside > 0, np.take_along_axis(places, inner, axis=0)[0], 0.0)
    step = np.where(inside > 0, strip, 0.5 * strip)
    gap = np.maximum(high - low, 1e-300)
    edge = start + step * np.clip((high - threshold) / gap, 0.0, 1.0)
    return np.where(axis >= threshold, edge, 0.0)


def _radius(
    x: FloatArray, edge: FloatArray, reach: FloatArray, tip: Place, half_width: FloatArray
) -> FloatArray:
    """Distance from the middle of the source to the farthest point of a contour.

    Its edge lies in every plane, and goes on from the last plane inside, as the core widens, to its tip: a
    cloud with sharp edges ends as a box does.
    """
    last = tip[0] - 1
    corner = _pick(edge, last) * _at(half_width, tip) / _pick(half_width, last)
    inside = np.where(edge > 0.0, np.sqrt(x * x + edge * edge), 0.0)
    return np.asarray(np.maximum(np.max(inside, axis=0), np.sqrt(reach * reach + corner * corner)))


def _height(axis: FloatArray, threshold: FloatArray, depth: FloatArray) -> FloatArray:
    """Height of a contour where it is highest."""
    above = axis > threshold
    ratio = np.where(above, axis, 1.0) / np.where(above, threshold, 1.0)
    return np.asarray(np.max(depth / DEPTH_OF_SPREAD * np.sqrt(2.0 * np.log(ratio)), axis=0))


def _flammable_mass(
    track: CloudTrack, core: FloatArray, profile: FloatArray, strip: FloatArray, low: float, high: float
) -> FloatArray:
    """Gas between the limits [kg]: strips across, trapezoids along."""
    gas = track.density / (1.0 + track.air_ratio)
    across = np.zeros_like(core)
    for part in profile:
        inside = layer_content(part, low / core, track.depth) - layer_content(part, high / core, track.depth)
        across = across + inside
    line = 2.0 * gas * strip * across
    total = np.zeros(core.shape[1:])
    for i in range(core.shape[0] - 1):
        total = total + 0.5 * (line[i] + line[i + 1]) * (track.distance[i + 1] - track.distance[i])
    return total


def _clearing_time(
    track: CloudTrack, problem: CloudProblem, axis: FloatArray, threshold: FloatArray
) -> FloatArray:
    """Time from the end of the leak until no plane holds the threshold any more."""
    spread = track.edge_spread / problem.lateral_factor
    passed = track.time + TAIL * spread / track.speed
    return np.asarray(np.max(np.where(axis >= threshold, passed, 0.0), axis=0))
