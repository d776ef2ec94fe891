"""Energy of a tank with additions, how it goes with the liquid's temperature, and what leaves of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.summing import add_rows
from lpgrelease.tank.levels import Levels
from lpgrelease.tank.zone_phases import Phases
from lpgrelease.tank.zone_state import FAINT, TEMPERATURE, WALLS, Now

if TYPE_CHECKING:
    from lpgrelease.tank.zones import Zones

__all__ = ["energy_of", "enthalpy_rate", "put_back", "with_level"]


def with_level(
    zones: Zones, capacity: FloatArray, phases: Phases, walls: FloatArray, levels: Levels
) -> FloatArray:
    """How the energy goes with T, the level following [J/K]: metal changes over from wall to wall.

    In a tank that is nearly empty that is most of it.
    """
    if not zones.outside.two_walls:
        return capacity
    wetting = levels.wetted_slope * (walls[0] - walls[1]) * phases.filled_slope
    slope: FloatArray = capacity + zones.wall_capacity * wetting
    return slope


def energy_of(
    zones: Zones,
    t: FloatArray,
    phases: Phases,
    mass: FloatArray,
    gas: FloatArray,
    walls: FloatArray,
    shares: FloatArray | None,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Energy of contents and metal [J], how it goes with T [J/K], the level staying; and `Now.isobaric`."""
    if zones.vapor is None:
        isobaric = np.zeros((2, *t.shape))
        energy, capacity = (
            mass * per_mass + zones.volume * per_volume
            for per_mass, per_volume in (phases.inventory, phases.inventory_slopes)
        )
    else:
        inner = phases.enthalpies - phases.pressures * phases.volumes
        of_liquid, of_vapor = phases.masses * inner
        energy = of_liquid + of_vapor
        isobaric = phases.masses * (phases.enthalpy_slopes - phases.pressure_slopes * phases.volumes)
        # less what stretches it at its pressure, and what evaporates for it
        evaporates = phases.stretch / phases.apart
        capacity = isobaric[0] + isobaric[1] - phases.pressure * phases.stretch
        capacity = capacity - evaporates * (inner[1] - inner[0])
    if zones.gas is not None:
        energy, capacity = energy + gas * zones.gas.isochoric * t, capacity + gas * zones.gas.isochoric
    if shares is not None:
        wet, dry = shares * walls
        return energy + zones.wall_capacity * (wet + dry), capacity, isobaric
    return energy + zones.wall_capacity * t, capacity + zones.wall_capacity, isobaric


def enthalpy_rate(zones: Zones, now: Now) -> tuple[FloatArray, FloatArray]:
    """Enthalpy that leaves [W]; and what transfers bring beyond that of liquid and vapor, (2, points, n)."""
    enthalpies, further = now.phases.enthalpies, np.zeros(now.outflows.shape)
    if zones.gas is not None:
        enthalpies = enthalpies.copy()
        enthalpies[0] += now.gas_pressure * now.phases.volumes[0]
    for rate, given, liquid in zip(
        zones.transfer_rates, zones.transfer_enthalpies, zones.transfer_liquid, strict=True
    ):
        row = 0 if liquid else 1
        brings = np.maximum(rate, 0.0) * (given - enthalpies[row])
        if not liquid:
            # vapor that comes in colder makes fog, which falls into the liquid
            further[0] += np.minimum(brings, 0.0)
            brings = np.maximum(brings, 0.0)
        further[row] += brings
    as_liquid, as_vapor = now.outflows * enthalpies - further
    leaves = as_liquid + as_vapor
    if zones.gas is not None:
        # air that comes in has its own temperature
        carried = np.where(now.gas_flow > 0.0, now.temperature, zones.air_temperature)
        leaves = leaves + add_rows(now.gas_flow * (zones.gas.heat_capacity * carried))
    return leaves, further


def put_back(zones: Zones, now: Now, state: FloatArray) -> FloatArray:
    """Return `state` (components, points, n) put back on the balance of energy.

    By T; with two walls by the least change of all three temperatures, and by the walls the more, the nearer
    the gauge is to zero, for there the flow hangs on T, and the more of the energy is the metal's that the
    level passes, for there the energy jumps with T.
    """
    fixed = state.copy()
    if now.shares is None:
        fixed[TEMPERATURE] -= now.off / now.energy_slope
        return fixed
    metal = now.shares * zones.wall_capacity
    drive = FAINT / np.maximum(np.abs(now.pressure - zones.nozzle.pressure), 1e-3)
    liquid = now.energy_slope
    follows = 2.0 * (liquid / now.capacity - 1.0)
    taken = metal * (1.0 + drive * drive + np.square(follows * follows))
    part = now.off / (liquid * liquid + metal[0] * taken[0] + metal[1] * taken[1])
    fixed[TEMPERATURE] -= part * liquid
    fixed[WALLS] -= part * taken
    return fixed
