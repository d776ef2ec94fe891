"""Marching in temperature while liquid leaks: tanks that vent down to a stop with holes below the level.

As in `lpgrelease.tank.quadrature` temperatures are known beforehand, for the vents cool the tank to the stop
whatever leaks besides. Flow of liquid depends on the level, so mass is carried along step by step
(`lpgrelease.tank.draining_step`). Where the level passes a hole, flow has a corner: the step is cut to end
there, and goes on with vapor at the hole.
"""

from __future__ import annotations

import dataclasses
from typing import NamedTuple

import numpy as np

from lpgrelease.marching import IntArray
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray
from lpgrelease.summing import add_rows
from lpgrelease.tank.draining_step import Front, Piece, Record, Way, advance, at_start
from lpgrelease.tank.lobatto import PLACES, POINTS, laid_out
from lpgrelease.tank.road import find_road
from lpgrelease.tank.venting import GAUGE_PRESSURE, Inventory, Venting

__all__ = ["LARGEST_LOSS", "LEAST_LIQUID", "Drained", "drain_in_temperature", "march"]

LARGEST_LOSS = 0.6
"""Of the mass in a tank in one step; where more leaves, steps that fit themselves serve."""
LEAST_LIQUID = 1e-6
"""Of the volume: where less is left, others tell when it is gone."""
MOST_CUTS = 40
"""Trials beyond the steps, for the cuts at holes."""
COMPACT_BELOW = 0.8
"""Scenarios that have come to the end are dropped from the arrays once fewer than this fraction still go."""
PICKS = tuple(
    tuple(int(POINTS * (i + 1) / number + 0.5) - 1 for i in range(number)) for number in range(POINTS + 1)
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
    record = _Rows(part, POINTS * steps + 1)
    good = march(part, Way.along(road, steps), record)
    good &= _largest_loss(part, record) <= LARGEST_LOSS
    good &= record.states[-1, 0] <= part.duration
    kept = np.flatnonzero(good & _holds(part, record))
    states, modes = record.states[rows][..., kept], record.modes[rows][..., kept]
    inventory = record.inventory.take(rows[:, None], kept)
    codes = np.full(kept.size, GAUGE_PRESSURE)
    return Drained(states, inventory, modes, codes, road.rest[kept], chosen[kept])


def _largest_loss(venting: Venting, record: _Rows) -> FloatArray:
    """Largest share of its mass that a tank loses in one step (n,)."""
    left = venting.mass - add_rows(np.moveaxis(record.states[::POINTS, 2:-2], 1, 0))
    return np.asarray(((left[:-1] - left[1:]) / left[:-1]).max(axis=0))


def _holds(venting: Venting, record: _Rows) -> BoolArray:
    """Whether liquid is left all the time, and never fills the tank or rises to an opening."""
    filled = record.inventory.liquid_volume
    holds = ((filled > LEAST_LIQUID * venting.volume) & (filled < venting.volume)).all(axis=0)
    for most, wet in zip(venting.fills_at, venting.wet, strict=True):
        holds &= wet | (filled < most).all(axis=0)
    return np.asarray(holds)


class _Rows:
    """What stood at the points of every step."""

    def __init__(self, venting: Venting, points: int) -> None:
        openings, n = venting.wet.shape
        shapes = [(points, n)] * 4 + [(openings, points, n), (points, n)]
        self.states = np.zeros((points, openings + 4, n))
        self.inventory = Inventory(*(np.zeros(shape) for shape in shapes))
        self.modes = np.zeros((points, openings, n), dtype=np.bool_)

    @property
    def _fields(self) -> tuple[FloatArray | BoolArray, ...]:
        """All that is kept, with the points on the last axis but one."""
        return self.states.swapaxes(0, 1), self.modes.swapaxes(0, 1), *self.inventory

    def begin(self, state: FloatArray, standing: Inventory, wet: BoolArray) -> None:
        """Put down the start."""
        for into, values in zip(self._fields, (state, wet, *standing), strict=True):
            into[..., 0, :] = values

    def add(self, front: Front, moved: BoolArray, piece: Piece) -> None:
        """Put down the piece that the scenarios `moved` of the front have gone."""
        pieces = piece.states, piece.wet.swapaxes(0, 1), *piece.inventory
        first = _passed(front.place)
        count = np.where(moved, _passed(front.aim) - first, 0)
        if front.who.size == self.states.shape[-1]:
            # whole steps side by side; scenarios that are behind have their own rows below
            lead = int(first.max(initial=0, where=count == POINTS))
            whole = (count == POINTS) & (first == lead)
            rows, beyond = slice(lead + 1, lead + POINTS + 1), np.flatnonzero(~whole & (first > lead))
            for into, values in zip(self._fields, pieces, strict=True):
                kept = into[..., rows, beyond]
                into[..., rows, :] = values
                into[..., rows, beyond] = kept
            count = np.where(whole, 0, count)
        for number, picks in enumerate(PICKS):
            index = np.flatnonzero(count == number)
            for i, pick in enumerate(picks if index.size else ()):
                row, who = first[index] + 1 + i, front.who[index]
                for into, values in zip(self._fields, pieces, strict=True):
                    into[..., row, who] = values[..., pick, index]


def _passed(place: FloatArray) -> IntArray:
    """How many points of the even steps a scenario has passed that stands at a place (n,)."""
    whole = np.floor(place)
    within = (place - whole >= PLACES[1:POINTS, None]).sum(axis=0)
    return np.asarray(POINTS * whole.astype(np.intp) + within)


def march(venting: Venting, way: Way, record: Record) -> BoolArray:
    """March all to the end of the way; which came there forward in time (n,)."""
    came = np.zeros(venting.volume.size, dtype=np.bool_)
    front, standing = at_start(venting, way)
    record.begin(front.state, standing, venting.wet)
    for _ in range(way.steps + MOST_CUTS):
        venting, front, fails = advance(venting, way, front, record)
        going = ~fails & (front.place < way.steps)
        came[front.who[~fails & ~going]] = True
        if not going.any():
            break
        if going.mean() < COMPACT_BELOW or fails.any():
            keep = np.flatnonzero(going)
            venting, way, front = venting.take(keep), way.take(keep), front.take(keep)
    return came
