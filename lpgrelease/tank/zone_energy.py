"""Energy of a tank with additions, and how it goes with the liquid's temperature: `lpgrelease.tank.zones`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.tank.levels import Levels
from lpgrelease.tank.zone_state import Phases

if TYPE_CHECKING:
    from lpgrelease.tank.zones import Zones

__all__ = ["energy_of", "with_level"]


def with_level(
    zones: Zones, capacity: FloatArray, phases: Phases, walls: FloatArray, levels: Levels
) -> FloatArray:
    """How the energy goes with T, the level following [J/K]: metal changes over from wall to wall.

    In a tank that is nearly empty that is most of it.
    """
    if not zones.outside.two_walls:
        return capacity
    wetting = levels.wetted_slope * (walls[0] - walls[1]) * phases.filled_slope
    slope = capacity + zones.wall_capacity * wetting
    return np.where(slope > 0.5 * capacity, slope, capacity)


def energy_of(
    zones: Zones,
    t: FloatArray,
    phases: Phases,
    superheat: FloatArray,
    gas: FloatArray,
    walls: FloatArray,
    levels: Levels,
) -> tuple[FloatArray, FloatArray]:
    """Energy of contents and metal [J], and how it goes with T [J/K], the level staying."""
    if zones.vapor is None:
        mass = phases.liquid + phases.vapor
        energy = mass * phases.per_mass + zones.volume * phases.per_volume
        capacity = mass * phases.per_mass_slope + zones.volume * phases.per_volume_slope
    else:
        p, p_slope = phases.pressure, phases.pressure_slope
        v_l, v = phases.liquid_volume, phases.vapor_volume
        of_liquid = phases.liquid_enthalpy - p * v_l
        of_vapor = phases.vapor_enthalpy + superheat - p * v
        energy = phases.liquid * of_liquid + phases.vapor * of_vapor
        by_liquid = phases.liquid_enthalpy_slope - p_slope * v_l - p * phases.liquid_volume_slope
        by_vapor = phases.vapor_enthalpy_slope - p_slope * v - p * phases.vapor_volume_slope
        capacity = phases.liquid * by_liquid + phases.vapor * by_vapor
        capacity = capacity + phases.vapor_slope * (of_vapor - of_liquid)
    if zones.gas is not None:
        energy, capacity = energy + gas * zones.gas.isochoric * t, capacity + gas * zones.gas.isochoric
    if zones.outside.two_walls:
        share = levels.wetted_share
        metal = share * walls[0] + (1.0 - share) * walls[1]
        return energy + zones.wall_capacity * metal, capacity
    return energy + zones.wall_capacity * t, capacity + zones.wall_capacity
