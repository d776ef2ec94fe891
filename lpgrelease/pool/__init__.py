"""A pool of liquefied gas on the ground: how it spreads, cools, evaporates, and when it is gone."""

from lpgrelease.pool.history import PoolHistory, pool_history
from lpgrelease.pool.inputs import Hollow, OpenGround, Spill

__all__ = ["Hollow", "OpenGround", "PoolHistory", "Spill", "pool_history"]
