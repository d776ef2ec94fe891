"""Rates of the temperatures of vapor and walls, by equations (3) and (4) of `lpgrelease.tank.zones`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.tank.outside import WallHeat
from lpgrelease.tank.zone_state import (
    ALONG,
    ALONG_SHARE,
    FOG_RATE,
    FOG_ROOM,
    FOG_WITHIN,
    LEAST_SHARE,
    SUPERHEAT,
    TEMPERATURE,
    WALLS,
    Now,
)

if TYPE_CHECKING:
    from lpgrelease.tank.zones import Zones

__all__ = ["two_temperatures", "wall_temperatures"]


def two_temperatures(
    zones: Zones, now: Now, rates: FloatArray, inward: FloatArray, still: FloatArray
) -> None:
    """Fill the rates of liquid temperature and superheat, by equations (4).

    `inward` is the heat into liquid and vapor [W], `still` the conductance between them [W/K].
    """
    phases, vapor = now.phases, now.vapor
    assert vapor is not None
    eta, (_, mass) = now.superheat, phases.masses
    latent, v_eta = phases.latent, vapor.volume_by_superheat
    # hardly any vapor still takes what a cold wall or cold vapor draws from it
    makes = np.maximum(mass, FOG_ROOM * zones.volume / phases.volumes[1])
    fog = makes * np.maximum(FOG_RATE / vapor.temperature_by_superheat, FOG_RATE)
    fog = fog * np.minimum(np.maximum(-eta / FOG_WITHIN, 0.0), 1.0)
    across = (still + fog) * (vapor.temperature - now.temperature)
    q_l, q_v = inward[0] + across, inward[1] - across
    of_liquid, of_vapor = now.outflows * phases.volumes
    a, b = now.isobaric
    w = (phases.apart - v_eta * eta) / latent
    rate = (of_liquid + of_vapor - v_eta * q_v - w * q_l) / (phases.stretch - v_eta * b - a * w)
    evaporates = (q_l - a * rate) / latent
    rates[TEMPERATURE] = rate
    rates[SUPERHEAT] = (q_v - evaporates * eta - b * rate) / np.maximum(mass, 1e-9)


def wall_temperatures(zones: Zones, now: Now, rates: FloatArray, heat: WallHeat) -> None:
    """Fill the rates of the walls' temperatures, by equations (3)."""
    phases, levels = now.phases, now.levels
    assert now.shares is not None
    out = (now.outflows[0] + now.outflows[1]) * phases.volumes[1]
    filling = phases.filled_slope * rates[TEMPERATURE] - out * phases.share
    if now.vapor is not None:
        grows = phases.masses[1] * now.vapor.volume_by_superheat * rates[SUPERHEAT]
        filling = filling + phases.share * grows
    wetting = levels.wetted_slope * filling * zones.wall_capacity
    apart = now.walls[1] - now.walls[0]
    moved = np.empty(heat.left.shape)
    # between metal that is wetted and metal that falls dry no corner, at which a tank at rest would stand
    either = np.sqrt(np.square(wetting) + np.square(ALONG + ALONG_SHARE * zones.outside.edge))
    moved[0], moved[1] = 0.5 * (wetting + either) * apart, 0.5 * (wetting - either) * apart
    metal = np.maximum(zones.wall_capacity, 1e-3)
    rates[WALLS] = (heat.left + moved) / (np.maximum(now.shares, LEAST_SHARE) * metal)
