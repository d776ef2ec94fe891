"""Rates of the temperatures of vapor and walls, by equations (3) and (4) of `lpgrelease.tank.zones`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.summing import add_rows
from lpgrelease.tank.outside import WallHeat
from lpgrelease.tank.zone_state import (
    DRY_WALL,
    FIRST_RELEASED,
    FOG_TIME,
    LEAST_SHARE,
    RELEASED,
    SUPERHEAT,
    TEMPERATURE,
    WET_WALL,
    Now,
    per_point,
)

if TYPE_CHECKING:
    from lpgrelease.tank.zones import Zones

__all__ = ["two_temperatures", "wall_temperatures"]


def two_temperatures(
    zones: Zones,
    now: Now,
    rates: FloatArray,
    heat: WallHeat,
    still: FloatArray,
    enthalpy: FloatArray,
    h_l: FloatArray,
) -> None:
    """Fill the rates of liquid temperature and superheat, by equations (4)."""
    phases, vapor = now.phases, now.vapor
    assert vapor is not None
    eta = now.superheat
    latent = phases.vapor_enthalpy - phases.liquid_enthalpy
    by_kelvin = np.maximum(1.0 / vapor.temperature_by_superheat, 1.0)
    fog = np.where(eta < 0.0, phases.vapor * by_kelvin / FOG_TIME, 0.0)
    across = (still + fog) * (vapor.temperature - now.temperature)
    out_liquid = add_rows(np.where(per_point(zones.wet), now.flow, 0.0))
    out = add_rows(rates[RELEASED])
    q_l, q_v = heat.liquid + across, heat.vapor - across
    # what a transfer brings in has its own enthalpy
    h_v, openings = phases.vapor_enthalpy + eta, zones.area.shape[0]
    for row, liquid in enumerate(zones.transfer_liquid):
        leaves = rates[FIRST_RELEASED + openings + row]
        brought = leaves * (enthalpy[openings + row] - (h_l if liquid else h_v))
        if liquid:
            out_liquid, q_l = out_liquid + leaves, q_l - brought
        else:
            q_v = q_v - brought
    v_l, v, v_eta = phases.liquid_volume, phases.vapor_volume, vapor.volume_by_superheat
    space, p_slope = phases.vapor * v, phases.pressure_slope
    a = phases.liquid * phases.liquid_enthalpy_slope - phases.filled * p_slope
    b = phases.vapor * phases.vapor_enthalpy_slope - space * p_slope
    w = v - v_l - v_eta * eta
    room = phases.liquid * phases.liquid_volume_slope + phases.vapor * phases.vapor_volume_slope
    rate = (out_liquid * v_l + (out - out_liquid) * v - v_eta * q_v - w * q_l / latent) / (
        room - v_eta * b - a * w / latent
    )
    evaporates = (q_l - a * rate) / latent
    rates[TEMPERATURE] = rate
    rates[SUPERHEAT] = (q_v - evaporates * eta - b * rate) / np.maximum(phases.vapor, 1e-9)


def wall_temperatures(zones: Zones, now: Now, rates: FloatArray, heat: WallHeat) -> None:
    """Fill the rates of the walls' temperatures, by equations (3)."""
    phases, levels = now.phases, now.levels
    v_l, v = phases.liquid_volume, phases.vapor_volume
    share = v_l / (v - v_l)
    filling = phases.filled_slope * rates[TEMPERATURE] - add_rows(rates[RELEASED]) * (v * share)
    if now.vapor is not None:
        filling = filling + share * phases.vapor * now.vapor.volume_by_superheat * rates[SUPERHEAT]
    wetting = levels.wetted_slope * filling * zones.wall_capacity
    apart = now.walls[1] - now.walls[0]
    share = levels.wetted_share
    metal = np.maximum(zones.wall_capacity, 1e-3)
    to_wet = heat.wet + np.maximum(wetting, 0.0) * apart
    to_dry = heat.dry + np.minimum(wetting, 0.0) * apart
    rates[WET_WALL] = to_wet / (np.maximum(share, LEAST_SHARE) * metal)
    rates[DRY_WALL] = to_dry / (np.maximum(1.0 - share, LEAST_SHARE) * metal)
