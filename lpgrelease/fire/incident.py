"""The heat flux that surfaces receive from flames: SI arrays of one dimension, unchecked."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from lpgrelease.fire.air import transmissivity_wayne
from lpgrelease.fire.point import point_source_flux
from lpgrelease.fire.view_factor import Flame, Vector, inside_flame, view_factor
from lpgrelease.quantities import FloatArray

__all__ = ["BLOCK", "Source", "Targets", "in_blocks", "incident_flux", "take"]

BLOCK: Final = 16384
"""Targets worked on at once, so that their arrays stay in the processor's cache."""


class Source(NamedTuple):
    """What radiates, and the air before it: SI arrays of one dimension."""

    flame: Flame
    emissive_power: FloatArray
    """Of the flame's surface [W/m2]."""
    radiated_power: FloatArray
    """Of the whole flame [W]."""
    water: FloatArray
    carbon_dioxide: FloatArray
    """Decimal logarithms of the amounts in 1 m of air."""


class Targets(NamedTuple):
    """Where and how surfaces stand: SI arrays of one dimension."""

    distance: FloatArray
    cosine: FloatArray
    sine: FloatArray
    height: FloatArray
    normal: Vector | None


def _part(array: FloatArray, block: slice | np.ndarray) -> FloatArray:
    return array if array.size == 1 else array[block]


def take(source: Source, targets: Targets, block: slice | np.ndarray) -> tuple[Source, Targets]:
    """Take the scenarios and targets of one block."""
    flame = Flame(*(_part(a, block) for a in source.flame))
    normal = targets.normal and (
        _part(targets.normal[0], block),
        _part(targets.normal[1], block),
        _part(targets.normal[2], block),
    )
    return (
        Source(flame, *(_part(a, block) for a in source[1:])),
        Targets(
            _part(targets.distance, block),
            _part(targets.cosine, block),
            _part(targets.sine, block),
            _part(targets.height, block),
            normal,
        ),
    )


def in_blocks(source: Source, targets: Targets, model: str, count: int) -> FloatArray:
    """Heat flux on many targets [W/m2], a block after the other."""
    flux = np.empty(count)
    for start in range(0, count, BLOCK):
        block = slice(start, min(start + BLOCK, count))
        flux[block] = incident_flux(*take(source, targets, block), model)
    return flux


def incident_flux(source: Source, targets: Targets, model: str) -> FloatArray:
    """Heat flux on the targets [W/m2]; arrays of one dimension that broadcast, unchecked."""
    x, y, z = targets.distance * targets.cosine, targets.distance * targets.sine, targets.height
    x, y, z = np.broadcast_arrays(x, y, z)
    flame = source.flame
    if model == "point source":
        return _from_point(source, x, y, z, targets.normal)
    seen = view_factor(x, y, z, flame, targets.normal)
    tau = transmissivity_wayne(source.water, source.carbon_dioxide, _path(x, y, z, flame))
    return source.emissive_power * np.where(seen < 1.0, seen * tau, 1.0)


def _path(x: FloatArray, y: FloatArray, z: FloatArray, flame: Flame) -> FloatArray:
    """Shortest way from the flame to a target: to the nearest point of its axis, less the radius there."""
    along_x, along_z = flame.tip_x - flame.base_x, flame.tip_z - flame.base_z
    from_x, from_z = x - flame.base_x, z - flame.base_z
    part = (from_x * along_x + from_z * along_z) / (along_x * along_x + along_z * along_z)
    part = np.minimum(np.maximum(part, 0.0), 1.0)
    off_x, off_z = from_x - part * along_x, from_z - part * along_z
    radius = flame.base_radius + part * (flame.tip_radius - flame.base_radius)
    return np.sqrt(off_x * off_x + y * y + off_z * off_z) - radius


def _from_point(
    source: Source, x: FloatArray, y: FloatArray, z: FloatArray, normal: Vector | None
) -> FloatArray:
    flame = source.flame
    to_x, to_y = 0.5 * (flame.base_x + flame.tip_x) - x, -y
    to_z = 0.5 * (flame.base_z + flame.tip_z) - z
    distance = np.sqrt(np.maximum(to_x * to_x + to_y * to_y + to_z * to_z, 1e-12))
    facing: FloatArray | float = 1.0
    if normal is not None:
        facing = (normal[0] * to_x + normal[1] * to_y + normal[2] * to_z) / distance
        facing = np.maximum(facing, 0.0)
    tau = transmissivity_wayne(source.water, source.carbon_dioxide, distance)
    flux = facing * point_source_flux(source.radiated_power, distance, tau)
    return np.where(inside_flame(x, y, z, flame), source.emissive_power, flux)
