"""The first part of histories that come to rest while liquid leaks on: down to near the rest.

There the vents cool a tank one way, so that temperatures are known beforehand
(`lpgrelease.tank.draining_step`). Steps are kept as those of `lpgrelease.collocation` are.
"""

from __future__ import annotations

import dataclasses
from typing import NamedTuple

import numpy as np

from lpgrelease.collocation.radau import RULE
from lpgrelease.marching import IntArray
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray
from lpgrelease.summing import add_along, add_rows
from lpgrelease.tank.draining import LARGEST_LOSS, LEAST_LIQUID, march
from lpgrelease.tank.draining_step import Front, Piece, Way
from lpgrelease.tank.lobatto import PLACES
from lpgrelease.tank.road import find_road
from lpgrelease.tank.venting import SETTLED, Inventory, Venting

__all__ = ["Cooled", "cool_down"]

STEPS = 10
"""Seven would do for the end; polynomials through what stands at their points tell what is between."""
HAND_OVER = 0.1
"""So far [K] from the rest of a tank that leaked nothing: most leaks move the rest by less."""


class Step(NamedTuple):
    """A step that scenarios made: knots (components, points + 1, m), end (components, m), openings (J, m)."""

    who: IntArray
    knots: FloatArray
    end: FloatArray
    wet: BoolArray

    def take(self, index: IntArray) -> Step:
        """Return the scenarios `index` of these alone."""
        return Step(self.who[index], self.knots[..., index], self.end[:, index], self.wet[:, index])


class Cooled(NamedTuple):
    """Steps made, and where they led: states (components, n), openings (J, n), and which scenarios cooled."""

    steps: list[Step]
    state: FloatArray
    wet: BoolArray
    cooled: BoolArray


def _between() -> FloatArray:
    """Values at a step's start and at Radau's points, from those at Lobatto's (7, 6)."""
    powers = np.arange(PLACES.size)
    at = np.concatenate([[0.0], RULE.nodes])
    between = np.linalg.solve((PLACES[:, None] ** powers).T, (at[:, None] ** powers).T).T
    return np.asarray(between, dtype=np.float64)


BETWEEN = _between()


def cool_down(venting: Venting, temperature: FloatArray) -> Cooled:
    """Make steps from `temperature` (n,), above the boiling point in the open, to near the rest.

    A scenario that does not come there in order, or not within its duration, stays where it was.
    """
    boiling = venting.table.saturation_temperature(venting.nozzle.pressure)
    dry_area = np.where(venting.wet, 0.0, venting.area)
    road = find_road(dataclasses.replace(venting, area=dry_area, levels=None), temperature, boiling)
    end = road.rest + HAND_OVER
    comes = road.valid & (road.codes == SETTLED) & (temperature > end + HAND_OVER)
    comes &= (add_rows(dry_area) > 0.0) & ((venting.stop_sign <= 0.0) | (venting.stop_temperature < end))
    chosen = np.flatnonzero(comes)
    trail = _Trail(venting, temperature)
    if chosen.size:
        trail.part, trail.who = venting.take(chosen), chosen
        way = Way.along(dataclasses.replace(road, end=end).take(chosen), STEPS)
        came = march(trail.part, way, trail)
        trail.good[chosen] &= came
    cooled = comes & trail.good & (trail.state[0] < venting.duration)
    state = np.zeros_like(trail.state)
    state[1] = temperature
    kept = [step.take(np.flatnonzero(cooled[step.who])) for step in trail.steps]
    return Cooled(
        kept, np.where(cooled, trail.state, state), np.where(cooled, trail.wet, venting.wet), cooled
    )


class _Trail:
    """Keeps the steps of a march."""

    def __init__(self, venting: Venting, temperature: FloatArray) -> None:
        self.part, self.who = venting, np.arange(temperature.size)
        self.steps: list[Step] = []
        self.state = np.zeros((venting.wet.shape[0] + 4, temperature.size))
        self.state[1] = temperature
        self.wet = venting.wet.copy()
        self.good = np.ones(temperature.size, dtype=np.bool_)

    def begin(self, state: FloatArray, standing: Inventory, wet: BoolArray) -> None:
        """Nothing: the start is known."""

    def add(self, front: Front, moved: BoolArray, piece: Piece) -> None:
        """Put down the piece that the scenarios `moved` of the front have gone."""
        index = np.flatnonzero(moved & (front.aim > front.place))
        here, who = front.who[index], self.who[front.who[index]]
        values = np.concatenate([front.state[:, None, index], piece.states[..., index]], axis=1)
        knots = add_along(BETWEEN[:, :, None] * values[:, None], 2)
        wet = piece.wet[0][:, index]
        self.steps.append(Step(who, knots, values[:, -1], wet))
        self.state[:, who], self.wet[:, who] = values[:, -1], piece.wet[-1][:, index]
        filled, volume = piece.inventory.liquid_volume[:, index], self.part.volume[here]
        most = np.where(wet, volume, np.minimum(self.part.fills_at[:, here], volume)).min(axis=0)
        good = ((filled > LEAST_LIQUID * volume) & (filled < most)).all(axis=0)
        mass = self.part.mass[here] - add_rows(values[2:-2, :: PLACES.size - 1])
        self.good[who] &= good & (mass[0] - mass[1] <= LARGEST_LOSS * mass[0])
