"""Fires: burning pools, burn pits and vapor flares, the heat they send out and where to stand."""

from lpgrelease.fire.flare import FlareHistory, VaporFlare, flare_history, vapor_flare
from lpgrelease.fire.harm import HeatThreshold, heat_thresholds, thermal_dose, time_to_harm
from lpgrelease.fire.heating import VesselHeating, vessel_heating
from lpgrelease.fire.pit import BurnPit, burn_pit
from lpgrelease.fire.pool import PoolFire, pool_fire
from lpgrelease.fire.radiation import Fire
from lpgrelease.fire.still import StillPoolFire, still_pool_fire

__all__ = [
    "BurnPit",
    "Fire",
    "FlareHistory",
    "HeatThreshold",
    "PoolFire",
    "StillPoolFire",
    "VaporFlare",
    "VesselHeating",
    "burn_pit",
    "flare_history",
    "heat_thresholds",
    "pool_fire",
    "still_pool_fire",
    "thermal_dose",
    "time_to_harm",
    "vapor_flare",
    "vessel_heating",
]
