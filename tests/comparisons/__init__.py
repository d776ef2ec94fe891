"""Every table of ``tests/published`` beside what the library gives, for the tests and the documentation."""

from . import of_blends, of_blowdown, of_cloud, of_fire, of_fluids, of_ground, of_release, of_tank
from .base import Comparison, Point, bias_and_scatter

__all__ = ["COMPARISONS", "NOT_COMPARED", "Comparison", "Point", "bias_and_scatter"]

COMPARISONS = (
    *of_fluids.COMPARISONS,
    *of_blends.COMPARISONS,
    *of_release.COMPARISONS,
    *of_tank.COMPARISONS,
    *of_blowdown.COMPARISONS,
    *of_ground.COMPARISONS,
    *of_fire.COMPARISONS,
    *of_cloud.COMPARISONS,
)

NOT_COMPARED = {
    "boiling_pool_on_water": "whole pools on water: for orientation; the flux is compared with "
    "boiling_on_water",
    "fanno_length": "checks the closed form of a test, which the line model is then held to",
    "fire_thresholds": "words and numbers that the library repeats: a test finds each",
    "pool_minimum_depth": "orientation for an input",
    "steam_water_nozzles": "an envelope of measurements: a test asks that the equilibrium flux lies in it",
}
"""Tables without a point by point comparison, and why."""
