"""Tanks: shapes, contents and their history while they vent, leak and take up heat."""

from lpgrelease.tank.attitude import TiltedTank, opening_height, tilt
from lpgrelease.tank.contents import Contents
from lpgrelease.tank.fire_exposure import FireExposure, fire_engulfment
from lpgrelease.tank.history import TankHistory, tank_history
from lpgrelease.tank.relief import ReliefValve
from lpgrelease.tank.shapes import HorizontalTank, SphericalTank, Tank, VerticalTank
from lpgrelease.tank.swell import LevelSwell, level_swell

__all__ = [
    "Contents",
    "FireExposure",
    "HorizontalTank",
    "LevelSwell",
    "ReliefValve",
    "SphericalTank",
    "Tank",
    "TankHistory",
    "TiltedTank",
    "VerticalTank",
    "fire_engulfment",
    "level_swell",
    "opening_height",
    "tank_history",
    "tilt",
]
