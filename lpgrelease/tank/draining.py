"""Marching in temperature while liquid leaks: tanks that vent down to a stop with holes below the level.

As in `lpgrelease.tank.quadrature` temperatures are known beforehand, for the vents cool the tank to the stop
whatever leaks besides. Flow of liquid depends on the level, so mass is carried along step by step
(`lpgrelease.tank.draining_step`). Where the level passes a hole, flow has a corner: the step is cut to end
there, and goes on with vapor at the hole.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray, IntArray
from lpgrelease.summing import add_rows
from lpgrelease.tank.draining_step import Piece, Way, advance, at_start
from lpgrelease.tank.lobatto import PLACES, POINTS, laid_out
from lpgrelease.tank.road import find_road
from lpgrelease.tank.venting import GAUGE_PRESSURE, Inventory, Venting

__all__ = ["Drained", "Walk", "drain_in_temperature", "march"]

LARGEST_LOSS = 0.6
"""Of the mass in a tank in one step; where more leaves, steps that fit themselves serve."""
LEAST_LIQUID = 1e-6
"""Of the volume: where less is left, others tell when it is gone."""
MOST_CUTS = 40
"""Trials beyond the steps, for the cuts at holes."""
COMPACT_BELOW = 0.8
"""Scenarios that have come to the end are dropped from the arrays once fewer than this fraction still go."""
PICKS = tuple(
    np.array([int(POINTS * (i + 1) / number + 0.5) - 1 for i in range(number)], dtype=np.intp)
    for number in range(POINTS + 1)
)
"""Which points of a piece of a step are kept, by how many."""


class Drained(NamedTuple):
    """Histories of those scenarios that could be had so; as `Quadrature`, with the phases at the openings."""

    states: FloatArray
    inventory: Inventory
    modes: BoolArray
    codes: IntArray
    rest: FloatArray
    served: IntArray


class Walk(NamedTuple):
    """The way that tanks went: its pieces, the first of which is the start, and where it led.

    States (components, n) and openings (J, n) at its end, and which came there forward in time, with liquid
    left all the time that neither filled the tank nor rose to an opening.
    """

    pieces: list[Piece]
    end: FloatArray
    wet: BoolArray
    good: BoolArray


def drain_in_temperature(venting: Venting, temperature: FloatArray, points: int) -> Drained:
    """Histories from `temperature` (n,), at `points` points each, of those that can be had so."""
    boiling = venting.table.saturation_temperature(venting.nozzle.pressure)
    dry_area = np.where(venting.wet, 0.0, venting.area)
    falls = (venting.stop_sign > 0.0) & (temperature > np.maximum(boiling, venting.stop_temperature))
    chosen = np.flatnonzero(falls & (add_rows(dry_area) > 0.0))
    vents = dataclasses.replace(venting, area=dry_area, levels=None).take(chosen)
    road = find_road(vents, temperature[chosen], boiling[chosen])
    reaches = np.flatnonzero(road.valid & (road.codes == GAUGE_PRESSURE))
    chosen, road = chosen[reaches], road.take(reaches)
    part = venting.take(chosen)
    steps, rows = laid_out(points)
    walk = march(part, Way.along(road, steps), part.unmoved(temperature[chosen]))
    kept = np.flatnonzero(walk.good & (walk.end[0] <= part.duration))
    source = _places_of(walk.pieces, POINTS * steps + 1)[rows][:, kept]
    inventories = zip(*(piece.inventory for piece in walk.pieces), strict=True)
    return Drained(
        np.moveaxis(_picked([piece.states for piece in walk.pieces], source), 1, 0),
        Inventory(*(_picked(fields, source) for fields in inventories)),
        np.moveaxis(_picked([piece.wet for piece in walk.pieces], source), 1, 0),
        np.full(kept.size, GAUGE_PRESSURE),
        road.rest[kept],
        chosen[kept],
    )


def _places_of(pieces: list[Piece], points: int) -> IntArray:
    """Where among the points of all pieces those of the even steps stand (points, n)."""
    begin = pieces[0].who.size
    source = np.zeros((points, begin), dtype=np.intp)
    source[0] = np.arange(begin)
    for piece in pieces[1:]:
        first = _passed(piece.place)
        count = np.where(piece.moved, _passed(piece.aim) - first, 0)
        for number, picks in enumerate(PICKS):
            index = np.flatnonzero(count == number)
            rows = first[index] + 1 + np.arange(number)[:, None]
            source[rows, piece.who[index]] = begin + piece.who.size * picks[:, None] + index
        begin += POINTS * piece.who.size
    return source


def _passed(place: FloatArray) -> IntArray:
    """How many points of the even steps a scenario has passed that stands at a place (n,)."""
    whole = np.floor(place)
    within = (place - whole >= PLACES[1:POINTS, None]).sum(axis=0)
    return np.asarray(POINTS * whole.astype(np.intp) + within)


def _picked(fields: Sequence[np.ndarray], source: IntArray) -> np.ndarray:
    """Values (..., points, n) of fields (..., 5, m) of all pieces at `source` (points, n).

    Row by row: memory that is used again is the quickest.
    """
    rows = fields[0].shape[:-2]
    picked = np.empty((*rows, *source.shape), dtype=fields[0].dtype)
    for row in np.ndindex(rows):
        whole = np.concatenate([field[row].reshape(-1) for field in fields])
        np.take(whole, source, out=picked[row], mode="clip")
    return picked


def march(venting: Venting, way: Way, state: FloatArray) -> Walk:
    """March all from states (components, n) at the start of a way to its end."""
    end, wet = state.copy(), venting.wet.copy()
    came, holds = np.zeros(state.shape[1], dtype=np.bool_), np.ones(state.shape[1], dtype=np.bool_)
    front, begin = at_start(venting, way, state)
    pieces = [begin]
    for _ in range(way.steps + MOST_CUTS):
        before = venting
        venting, front, piece, fails = advance(venting, way, front)
        pieces.append(piece)
        holds[front.who] &= ~piece.moved | _holds(before, piece)
        done = ~fails & (front.place >= way.steps)
        came[front.who[done]] = True
        end[:, front.who[done]], wet[:, front.who[done]] = front.state[:, done], venting.wet[:, done]
        keep = np.flatnonzero(~fails & ~done)
        if not keep.size:
            break
        if keep.size < COMPACT_BELOW * done.size or fails.any():
            venting, way, front = venting.take(keep), way.take(keep), front.take(keep)
    return Walk(pieces, end, wet, came & holds)


def _holds(venting: Venting, piece: Piece) -> BoolArray:
    """Whether liquid is left, not too much leaves, and none fills the tank or rises to an opening."""
    filled, volume = piece.inventory.liquid_volume, venting.volume
    most = np.where(venting.wet, volume, np.minimum(venting.fills_at, volume)).min(axis=0)
    holds = ((filled > LEAST_LIQUID * volume) & (filled < most)).all(axis=0)
    loss = add_rows(piece.states[2:-2, -1] - piece.start[2:-2])
    return np.asarray(holds & (loss <= LARGEST_LOSS * (venting.mass - add_rows(piece.start[2:-2]))))
