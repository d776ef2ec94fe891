"""A pool of liquefied gas on the ground: how it spreads, cools, evaporates, and when it is gone."""

from lpgrelease.pool.exposure import Exposure
from lpgrelease.pool.history import PoolHistory, pool_history
from lpgrelease.pool.inputs import Spill
from lpgrelease.pool.lasting import (
    LastingPool,
    PoolMoment,
    feed_for_lasting_pool,
    lasting_depth,
    pool_at,
)
from lpgrelease.pool.sites import Basin, Hollow, OpenGround
from lpgrelease.pool.steady import SustainingFeed, sustaining_feed

__all__ = [
    "Basin",
    "Exposure",
    "Hollow",
    "LastingPool",
    "OpenGround",
    "PoolHistory",
    "PoolMoment",
    "Spill",
    "SustainingFeed",
    "feed_for_lasting_pool",
    "lasting_depth",
    "pool_at",
    "pool_history",
    "sustaining_feed",
]
