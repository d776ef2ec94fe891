"""Feed over time, and the time nodes that follow it: plain functions of SI arrays, time first."""

from __future__ import annotations

import dataclasses
from typing import Final

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.quantities import FloatArray

__all__ = ["Feed", "add_event", "feed_events", "time_nodes"]

_TINY: Final = float(np.finfo(float).tiny)
LEAST_STEPS: Final = 10
AFTER: Final = 10
"""One step in so many is kept for after the pool is expected to be gone."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Feed:
    """Flows at knots in time, linear between them, nothing outside: (knots, scenarios)."""

    time: FloatArray
    spilled: FloatArray
    """What leaves the container [kg/s]."""
    flashed: FloatArray
    landed: FloatArray
    landed_enthalpy: FloatArray
    """Enthalpy that lands [W]."""
    parts: tuple[FloatArray, ...] = ()
    """Components of a blend that land [kg/s]."""

    @property
    def start(self) -> FloatArray:
        """Time of the first liquid that lands; of the first knot where none does [s]."""
        return _edge(self, first=True)

    @property
    def end(self) -> FloatArray:
        """Time of the last liquid that lands [s]."""
        return _edge(self, first=False)

    def totals(self, times: FloatArray) -> dict[str, FloatArray]:
        """Amounts since the start at nodes (nodes, scenarios)."""
        names = ("spilled", "flashed", "landed", "landed_enthalpy")
        flows = {name: getattr(self, name) for name in names}
        flows |= {f"part {k}": part for k, part in enumerate(self.parts)}
        total = {name: np.zeros_like(times) for name in flows}
        for i in range(self.time.shape[0] - 1):
            length = self.time[i + 1] - self.time[i]
            part = np.clip(times - self.time[i], 0.0, length)
            share = part / np.where(length > 0.0, length, 1.0)
            for name, flow in flows.items():
                first, last = flow[i], flow[i + 1]
                total[name] += part * (first + 0.5 * (last - first) * share)
        return total


def _edge(feed: Feed, *, first: bool) -> FloatArray:
    """First or last moment of any flow that lands."""
    wet = feed.landed > 0.0
    found, edge = np.zeros(wet.shape[1:], dtype=bool), np.zeros(wet.shape[1:])
    order = range(wet.shape[0] - 1)
    for i in order if first else reversed(order):
        flows = (wet[i] | wet[i + 1]) & (feed.time[i + 1] > feed.time[i]) & ~found
        edge = np.where(flows, feed.time[i if first else i + 1], edge)
        found |= flows
    return edge[()]


def feed_events(feed: Feed) -> tuple[FloatArray, FloatArray]:
    """Find when liquid begins or ceases to land, and which of these are real (0 or 1): (events, n)."""
    wet = feed.landed > 0.0
    flows = (wet[:-1] | wet[1:]) & (feed.time[1:] > feed.time[:-1])
    edge = np.zeros(wet.shape, dtype=bool)
    last = np.zeros(wet.shape[1], dtype=bool)
    for i in range(flows.shape[0]):
        lasting = feed.time[i + 1] > feed.time[i]
        edge[i] = lasting & (flows[i] != last)
        last = np.where(lasting, flows[i], last)
    edge[-1] = last
    used = edge.any(axis=1)
    return feed.time[used], edge[used].astype(float)


def add_event(events: FloatArray, real: FloatArray, time: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Add a time to events, real where none of them is there already: (events, n)."""
    known = (np.where(real > 0.0, events, np.nan) == time).any(axis=0)
    return np.concatenate([events, time[None]]), np.concatenate([real, np.where(known, 0.0, 1.0)[None]])


def time_nodes(
    events: FloatArray, real: FloatArray, duration: FloatArray, nodes: int, gone: FloatArray | None = None
) -> FloatArray:
    """Time nodes (nodes, scenarios) [s], dense after every event, which is one of them.

    The steps are shared evenly among the stretches between the events, the start and the end; what lies after
    `gone`, by which time a pool is expected to be gone, has a tenth of them.

    Raises
    ------
    InputError
        Less than ten steps for a stretch.
    """
    gone = np.full_like(duration, np.inf) if gone is None else gone
    real = np.where((events > 0.0) & (events < duration), real, 0.0)
    last = np.max(np.where(real > 0.0, events, 0.0), axis=0, initial=0.0)
    short = (gone > last) & (gone < duration)
    end = np.where(short, gone, duration)
    order = np.argsort(np.where(real > 0.0, events, np.inf), axis=0, kind="stable")
    marks = np.take_along_axis(np.where(real > 0.0, events, end), order, axis=0)
    marks = np.concatenate([np.zeros((1, duration.size)), marks, end[None]])
    stretches = (np.count_nonzero(real, axis=0) + 1).astype(np.intp)
    steps = np.where(short, (nodes - 1) - (nodes - 1) // AFTER, nodes - 1)
    if stretches.size and np.any(steps < LEAST_STEPS * stretches):
        most = int(stretches.max())
        raise InputError(
            f"nodes: {most} stretches between starts and ends of the feed need "
            f"{LEAST_STEPS * most * AFTER // (AFTER - 1) + 2} or more, got {nodes}"
        )
    j = np.arange(nodes, dtype=np.intp)[:, None]
    which = np.minimum(j * stretches // steps, stretches - 1)
    first = -(-which * steps // stretches)
    after = -(-(which + 1) * steps // stretches)
    x = np.minimum((j - first) / np.maximum(after - first, 1), 1.0)
    start = np.take_along_axis(marks, which, axis=0)
    stop = np.take_along_axis(marks, which + 1, axis=0)
    rise = np.where(j == first, start, start + (stop - start) * (x * x * x))
    s = np.clip((j - steps) / np.maximum(nodes - 1 - steps, 1), 0.0, 1.0)
    late = np.where(j >= nodes - 1, duration, end + (duration - end) * (s * s * s))
    return np.where(j >= steps, np.where(j == steps, end, late), rise)
