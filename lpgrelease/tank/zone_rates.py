"""Rates of the temperatures of vapor and walls, by equations (3) and (4) of `lpgrelease.tank.zones`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.tank.outside import WallHeat
from lpgrelease.tank.venting import add_rows
from lpgrelease.tank.zone_state import (
    DRY_WALL,
    FOG_TIME,
    LEAST_SHARE,
    RELEASED,
    STEP,
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
    phases, warmer, vapor = now.phases, now.warmer, now.vapor
    assert warmer is not None
    assert vapor is not None
    eta = now.superheat
    latent = phases.vapor_enthalpy - phases.liquid_enthalpy
    by_kelvin = np.maximum(1.0 / vapor.temperature_by_superheat, 1.0)
    fog = np.where(eta < 0.0, phases.vapor * by_kelvin / FOG_TIME, 0.0)
    across = (still + fog) * (vapor.temperature - now.temperature)
    liquid_leaves = np.zeros_like(rates[RELEASED], dtype=np.bool_)
    openings = zones.area.shape[0]
    liquid_leaves[:openings] = per_point(zones.wet)
    for row, liquid in enumerate(zones.transfer_liquid):
        liquid_leaves[openings + row] = liquid
    out = rates[RELEASED]
    out_liquid = add_rows(np.where(liquid_leaves, out, 0.0))
    out_vapor = add_rows(np.where(liquid_leaves, 0.0, out))
    # what comes in brings its own enthalpy
    h_v = phases.vapor_enthalpy + eta
    q_l = heat.liquid + across - add_rows(np.where(liquid_leaves, out * (enthalpy - h_l), 0.0))
    q_v = heat.vapor - across - add_rows(np.where(liquid_leaves, 0.0, out * (enthalpy - h_v)))
    v_l, v, v_eta = phases.liquid_volume, phases.vapor_volume, vapor.volume_by_superheat
    p_slope = (warmer.pressure - phases.pressure) / STEP
    a = phases.liquid * (warmer.liquid_enthalpy - phases.liquid_enthalpy) / STEP - phases.filled * p_slope
    space = phases.vapor * v
    b = phases.vapor * (warmer.vapor_enthalpy - phases.vapor_enthalpy) / STEP - space * p_slope
    w = v - v_l - v_eta * eta
    room = phases.liquid * (warmer.liquid_volume - v_l) / STEP
    room = room + phases.vapor * (warmer.vapor_volume - v) / STEP
    rate = (out_liquid * v_l + out_vapor * v - v_eta * q_v - w * q_l / latent) / (
        room - v_eta * b - a * w / latent
    )
    evaporates = (q_l - a * rate) / latent
    rates[TEMPERATURE] = rate
    rates[SUPERHEAT] = (q_v - evaporates * eta - b * rate) / np.maximum(phases.vapor, 1e-9)


def wall_temperatures(zones: Zones, now: Now, rates: FloatArray, heat: WallHeat) -> None:
    """Fill the rates of the walls' temperatures, by equations (3)."""
    phases, warmer, levels = now.phases, now.warmer, now.levels
    assert warmer is not None
    v_l, v = phases.liquid_volume, phases.vapor_volume
    filling = (warmer.filled - phases.filled) / STEP * rates[TEMPERATURE]
    filling = filling - add_rows(rates[RELEASED]) * v_l * v / (v - v_l)
    if now.vapor is not None:
        by_vapor = v_l * phases.vapor / (v - v_l)
        filling = filling + by_vapor * now.vapor.volume_by_superheat * rates[SUPERHEAT]
    wetting = levels.wetted_slope * filling * zones.wall_capacity
    apart = now.walls[1] - now.walls[0]
    share = levels.wetted_share
    metal = np.maximum(zones.wall_capacity, 1e-3)
    to_wet = heat.wet + np.maximum(wetting, 0.0) * apart
    to_dry = heat.dry + np.minimum(wetting, 0.0) * apart
    rates[WET_WALL] = to_wet / (np.maximum(share, LEAST_SHARE) * metal)
    rates[DRY_WALL] = to_dry / (np.maximum(1.0 - share, LEAST_SHARE) * metal)
