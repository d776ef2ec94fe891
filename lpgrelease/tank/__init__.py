"""Tanks: shapes, contents and their history while they vent, leak and take up heat."""

from lpgrelease.tank.attitude import TiltedTank, opening_height, tilt
from lpgrelease.tank.contents import Contents
from lpgrelease.tank.history import TankHistory, tank_history
from lpgrelease.tank.shapes import HorizontalTank, SphericalTank, Tank, VerticalTank

__all__ = [
    "Contents",
    "HorizontalTank",
    "SphericalTank",
    "Tank",
    "TankHistory",
    "TiltedTank",
    "VerticalTank",
    "opening_height",
    "tank_history",
    "tilt",
]
