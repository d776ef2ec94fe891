"""A pool of liquefied gas on the ground: how it spreads, cools, evaporates, and when it is gone."""

from lpgrelease.pool.history import Hollow, OpenGround, PoolHistory, Spill, pool_history

__all__ = ["Hollow", "OpenGround", "PoolHistory", "Spill", "pool_history"]
