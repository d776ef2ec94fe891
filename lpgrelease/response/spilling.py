"""What leaks as liquid, how it feeds the pool over time, and how long the ground stays wet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from lpgrelease.pool import PoolHistory, Spill, pool_history
from lpgrelease.quantities import FloatArray
from lpgrelease.response.inputs import Incident
from lpgrelease.response.ledger import liquid_share, running_total
from lpgrelease.results import BoolArray
from lpgrelease.summing import add_rows

__all__ = ["Spilt", "add_openings", "knots", "on_the_ground", "spilt_by", "watch_pool"]

EVERY = 4
"""The pool's feed has a step for every so many points of the tank."""
NODES = 81
POOL_WATCHED = 86400.0
"""How long the ground is watched after the last of the forecast [s]."""


class Spilt(NamedTuple):
    """What leaked as liquid, and the spill it makes."""

    spill: Spill
    leak_until: FloatArray
    leaked_liquid: FloatArray
    fed: BoolArray


def knots(points: Sequence[int], every: int = EVERY) -> np.ndarray[Any, np.dtype[np.intp]]:
    """Points of the joined axis of time between which the feed of the pool is steady.

    Examples
    --------
    >>> knots([5, 9], every=4)
    array([ 0,  4,  5,  9, 13])
    """
    found, start = [], 0
    for count in points:
        found.append(start + np.append(np.arange(0, count - 1, every), count - 1))
        start += count
    return np.concatenate(found)


def spilt_by(
    incident: Incident, histories: dict[str, Any], kept: np.ndarray[Any, np.dtype[np.intp]]
) -> Spilt:
    """Find what leaked as liquid, as steps of steady flow and temperature that keep its mass."""
    h = histories
    time = h["time"][..., None, :]
    liquid, part = liquid_share(time, h["leak_flow"], h["leak_passes_liquid"], h["leaked"])
    starts_wet = h["leak_passes_liquid"][..., :-1]
    ends = time[..., :-1] + np.where(starts_wet, part, 1.0) * np.diff(time)
    leak_until = np.max(np.where(liquid > 0.0, ends, 0.0), axis=-1, initial=0.0)
    total = running_total(add_openings(liquid))
    at, mass, warm = h["time"][..., kept], total[..., kept], h["temperature"][..., kept]
    length, step = np.diff(at), np.diff(mass)
    flow = np.where(length > 0.0, step / np.where(length > 0.0, length, 1.0), 0.0)
    spill = Spill(
        time=_twice(at)[..., 1:-1],
        mass_flow=_twice(flow),
        temperature=_twice(0.5 * (warm[..., :-1] + warm[..., 1:])),
        captured_fraction=np.asarray(incident.captured_fraction)[..., None],
    )
    return Spilt(spill, leak_until, running_total(liquid), mass[..., -1] > 0.0)


def _twice(values: FloatArray) -> FloatArray:
    """Every entry of the last axis, twice."""
    return np.repeat(values, 2, axis=-1)


def watch_pool(
    incident: Incident, spilt: Spilt, end: FloatArray, ignited_at: FloatArray | None = None
) -> PoolHistory:
    """Follow the pool until some time after the end of the forecast [s].

    `ignited_at`: when it is lit, inf where it is not; None: nobody would light it.
    """
    length = end + POOL_WATCHED
    lit: dict[str, Any] = {}
    if ignited_at is not None:  # beyond the history is never
        lit["ignited_at"] = np.minimum(ignited_at, 2.0 * length)
    return pool_history(
        incident.contents.fluid,
        spilt.spill,
        ground=incident.ground,
        weather=incident.weather,
        site=incident.site,
        duration=length,
        nodes=NODES,
        **lit,
    )


def on_the_ground(
    goes_on: BoolArray, histories: dict[str, Any], spilt: Spilt, pool: PoolHistory
) -> dict[str, Any]:
    """Return what fell on the ground and how long it stays: at least as long as liquid leaks.

    `goes_on`: whether the tank's story does when the forecast ends.
    """
    until = np.max(spilt.leak_until, axis=-1, initial=0.0)
    h = histories
    runs = h["leak_passes_liquid"][..., -1] & (h["leak_flow"][..., -1] > 0.0)
    still = runs.any(axis=-1) & goes_on
    gone = np.where(still, np.inf, np.maximum(pool.gone_at, until))
    return {
        "leaked_liquid": spilt.leaked_liquid,
        "liquid_leaks_until": spilt.leak_until,
        "pool_fed_until": until[()],
        "pool_diameter": 2.0 * pool.radius.max(axis=-1),
        "liquid_still_leaks": still[()],
        "pool_gone_at": np.where(spilt.fed, gone, 0.0)[()],
    }


def add_openings(values: FloatArray) -> FloatArray:
    """Sum over openings, in their order; they stand along the axis before the last."""
    return add_rows(np.moveaxis(values, -2, 0))
