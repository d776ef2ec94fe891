"""Tanks: shapes, contents and their history while they vent, leak and take up heat."""

from lpgrelease.tank.additions import TankFire, TankWall, Transfer
from lpgrelease.tank.attitude import TiltedTank, opening_height, tilt
from lpgrelease.tank.blend_contents import BlendContents
from lpgrelease.tank.contents import Contents
from lpgrelease.tank.fire_exposure import FireExposure, fire_engulfment
from lpgrelease.tank.history import TankHistory, tank_history
from lpgrelease.tank.holding import LiquidFull, SteadyHold, liquid_full, pressure_return, steady_hold
from lpgrelease.tank.relief import ReliefValve
from lpgrelease.tank.shapes import HorizontalTank, SphericalTank, Tank, VerticalTank
from lpgrelease.tank.stops import StopAt
from lpgrelease.tank.swell import LevelSwell, level_swell
from lpgrelease.tank.zone_state import Moment

__all__ = [
    "BlendContents",
    "Contents",
    "FireExposure",
    "HorizontalTank",
    "LevelSwell",
    "LiquidFull",
    "Moment",
    "ReliefValve",
    "SphericalTank",
    "SteadyHold",
    "StopAt",
    "Tank",
    "TankFire",
    "TankHistory",
    "TankWall",
    "TiltedTank",
    "Transfer",
    "VerticalTank",
    "fire_engulfment",
    "level_swell",
    "liquid_full",
    "opening_height",
    "pressure_return",
    "steady_hold",
    "tank_history",
    "tilt",
]
