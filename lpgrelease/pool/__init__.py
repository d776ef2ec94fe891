"""A pool of liquefied gas on the ground: how it spreads, cools, evaporates, and when it is gone."""

from lpgrelease.pool.exposure import Exposure
from lpgrelease.pool.history import PoolHistory, pool_history
from lpgrelease.pool.inputs import Spill
from lpgrelease.pool.sites import Basin, Hollow, OpenGround

__all__ = ["Basin", "Exposure", "Hollow", "OpenGround", "PoolHistory", "Spill", "pool_history"]
