"""What ends the history of a tank with additions, or turns an opening over, and what is told of a moment."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.tank.vapor_space import HIGHEST_GAS_PRESSURE
from lpgrelease.tank.venting import NEVER
from lpgrelease.tank.zone_state import ENDS, GAS, GAS_UP_TO, SUPERHEAT, TEMPERATURE, TIME, Moment, Now

if TYPE_CHECKING:
    from lpgrelease.tank.zones import Zones

__all__ = ["moment_of", "signals_of"]


def signals_of(zones: Zones, now: Now, state: FloatArray) -> FloatArray:
    """Signals of the events, positive until they come, (events, points, n)."""
    t, filled = state[TEMPERATURE], now.phases.filled
    stops, openings, valves = len(zones.stops), zones.area.shape[0], len(zones.valves.which)
    signals = np.empty((ENDS + stops + openings + valves, *t.shape))
    signals[0] = zones.duration - state[TIME]
    signals[1] = filled
    signals[2] = zones.volume - filled
    signals[3] = t - zones.coldest
    if zones.vapor is None:
        signals[4], signals[5] = zones.hottest - t, NEVER
    else:
        signals[4] = min(zones.hottest, zones.vapor.hottest) - t
        signals[5] = zones.vapor.most - state[SUPERHEAT]
    signals[6] = NEVER
    if zones.gas is not None:
        # only gas shut in with ever more liquid comes there
        flows = zones.table.critical_pressure - now.pressure
        signals[6] = np.minimum(flows, GAS_UP_TO * HIGHEST_GAS_PRESSURE - now.gas_pressure)
    if stops:
        moment = moment_of(zones, now, state)
        for row, stop in enumerate(zones.stops, start=ENDS):
            signals[row] = stop.signal(moment, zones)
    passes = ENDS + stops + openings
    bounds, falling = zones.turns
    signals[ENDS + stops : passes] = (filled - bounds) * falling
    if valves:
        signals[passes:] = zones.valves.signals(now.pressure - zones.nozzle.pressure)
    return signals


def moment_of(zones: Zones, now: Now, state: FloatArray) -> Moment:
    """Return all that stands and flows."""
    phases = now.phases
    walls = now.walls if zones.outside.two_walls else (now.temperature, now.temperature)
    return Moment(
        time=state[TIME],
        temperature=state[TEMPERATURE],
        pressure=now.pressure,
        liquid_volume=phases.filled,
        liquid_mass=phases.masses[0],
        vapor_mass=phases.masses[1],
        gas_mass=np.maximum(state[GAS], 0.0),
        vapor_temperature=now.temperature if now.vapor is None else now.vapor.temperature,
        wet_wall_temperature=walls[0],
        dry_wall_temperature=walls[1],
        level=now.levels.level,
        mass_flow=now.flow,
        gas_flow=now.gas_flow,
        energy_off=now.off,
    )
