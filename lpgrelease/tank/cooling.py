"""Parts of histories that come to rest and leak on the way: down to near the rest, and to it when all is dry.

There the vents cool a tank one way, so that temperatures are known beforehand
(`lpgrelease.tank.draining_step`). Steps are kept as those of `lpgrelease.collocation` are.
"""

from __future__ import annotations

import dataclasses
from typing import NamedTuple

import numpy as np

from lpgrelease.collocation.radau import RULE
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray, IntArray
from lpgrelease.summing import add_along, add_rows
from lpgrelease.tank.draining import march
from lpgrelease.tank.draining_step import Piece, Way
from lpgrelease.tank.lobatto import PLACES
from lpgrelease.tank.road import Road, find_road
from lpgrelease.tank.venting import GAUGE_PRESSURE, GOES_ON, SETTLED, Venting

__all__ = ["Cooled", "come_to_end", "cool_down"]

STEPS = 10
"""Seven would do for the end; polynomials through what stands at their points tell what is between."""
LAST_STEPS, LONGEST_LAST = 5, 500.0
"""Of tanks that leak no more, and how many times nearer to the rest they may lead."""
HAND_OVER = 0.1
"""So far [K] from the rest of a tank that leaked nothing: most leaks move the rest by less."""


class Step(NamedTuple):
    """A step that scenarios made: knots (components, points + 1, m), end (components, m), openings (J, m)."""

    who: IntArray
    knots: FloatArray
    end: FloatArray
    wet: BoolArray


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
    return _walk(venting, venting.unmoved(temperature), comes, dataclasses.replace(road, end=end), STEPS)


def come_to_end(venting: Venting, state: FloatArray) -> tuple[Cooled, IntArray]:
    """Make steps from states of tanks that leak no more to the stop or the rest; and codes of the ends.

    A scenario that does not cool to its end, or not within its duration, stays where it was, and goes on.
    """
    road = find_road(venting, state[1], venting.table.saturation_temperature(venting.nozzle.pressure))
    cools = road.valid & (venting.stops_settled | (road.codes == GAUGE_PRESSURE))
    cools &= (road.start > road.rest) & (road.start - road.rest <= LONGEST_LAST * (road.end - road.rest))
    found = _walk(venting, state, cools, road, LAST_STEPS)
    return found, np.where(found.cooled, road.codes, GOES_ON)


def _walk(venting: Venting, state: FloatArray, walks: BoolArray, road: Road, steps: int) -> Cooled:
    """Make steps from states (components, n) along a road, of those that walk it (n,)."""
    chosen = np.flatnonzero(walks)
    state, wet, cooled = state.copy(), venting.wet.copy(), np.zeros(walks.size, dtype=np.bool_)
    if not chosen.size:
        return Cooled([], state, wet, cooled)
    walk = march(venting.take(chosen), Way.along(road.take(chosen), steps), state[:, chosen])
    good = walk.good & (walk.end[0] < venting.duration[chosen])
    came = np.flatnonzero(good)
    cooled[chosen[came]] = True
    state[:, chosen[came]], wet[:, chosen[came]] = walk.end[:, came], walk.wet[:, came]
    return Cooled([_step(piece, good, chosen) for piece in walk.pieces[1:]], state, wet, cooled)


def _step(piece: Piece, good: BoolArray, chosen: IntArray) -> Step:
    """Return a piece of those that are `good` as a step of scenarios `chosen`."""
    index = np.flatnonzero(piece.moved & (piece.aim > piece.place) & good[piece.who])
    values = np.concatenate([piece.start[:, None, index], piece.states[..., index]], axis=1)
    knots = add_along(BETWEEN[:, :, None] * values[:, None], 2)
    return Step(chosen[piece.who[index]], knots, values[:, -1], piece.wet[:, 0, index])
