"""Marching in temperature while liquid leaks: tanks that vent down to a stop with holes below the level.

As in `lpgrelease.tank.quadrature` temperatures are known beforehand, for the vents cool the tank to the stop
whatever leaks besides. Flow of liquid depends on the level, so mass is carried along step by step. Where the
level passes a hole, flow has a corner: the step is cut to end there, and goes on with vapor at the hole.

Notes
-----
Place s on the way counts the even steps of the road. A step from s_0 to s_1 takes the flow at its middle with
the mass by Euler's rule; at its end, with the mass by the middle's; at its middle again, with the mass by the
cubic through both ends; and closes mass and energy exactly as the quadrature does. Fourth order.
"""

from __future__ import annotations

import dataclasses
from typing import Any, NamedTuple, Self

import numpy as np

from lpgrelease.marching import IntArray
from lpgrelease.quantities import FloatArray
from lpgrelease.release.liquid import incompressible_flux
from lpgrelease.release.nozzle import SATURATED_VAPOR_INLET
from lpgrelease.results import BoolArray
from lpgrelease.summing import add_rows
from lpgrelease.tank.quadrature import FEWEST_STEPS
from lpgrelease.tank.road import Road, find_road
from lpgrelease.tank.venting import GAUGE_PRESSURE, Inventory, Venting

__all__ = ["Drained", "drain_in_temperature"]

LANDED = 1e-7
"""The level has come to a hole when so little of the volume is left between them."""
LARGEST_LOSS = 0.3
"""Of the mass in a tank in one step; where more leaves, steps that fit themselves serve."""
MOST_CUTS = 40
"""Trials beyond the steps, for the cuts at holes."""
COMPACT_BELOW = 0.8
"""Scenarios that have come to the end are dropped from the arrays once fewer than this fraction still go."""
NODES = (
    *SATURATED_VAPOR_INLET,
    "inventory_energy_per_mass",
    "inventory_energy_per_volume",
    "inventory_slope_per_mass",
    "inventory_slope_per_volume",
    "liquid_density",
    "vapor_density",
    "liquid_enthalpy",
)


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
    vents = dataclasses.replace(venting, area=dry_area).take(chosen)
    road = find_road(vents, temperature[chosen], boiling[chosen])
    reaches = np.flatnonzero(road.valid & (road.codes == GAUGE_PRESSURE))
    chosen, road = chosen[reaches], road.take(reaches)
    part = venting.take(chosen)
    stride = -(-FEWEST_STEPS // (points - 1))
    record, good = _march(part, _Way.along(road, stride * (points - 1)))
    good &= _largest_loss(part, record) <= LARGEST_LOSS
    good &= record.states[-1, 0] <= part.duration
    kept = np.flatnonzero(good & _holds(part, record))
    states, modes = record.states[::stride, :, kept], record.modes[::stride, :, kept]
    inventory = record.inventory.take(slice(None, None, stride), kept)
    codes = np.full(kept.size, GAUGE_PRESSURE)
    return Drained(states, inventory, modes, codes, road.rest[kept], chosen[kept])


def _largest_loss(venting: Venting, record: _Record) -> FloatArray:
    """Largest share of its mass that a tank loses in one step (n,)."""
    left = venting.mass - add_rows(np.moveaxis(record.states[:, 2:-2], 1, 0))
    return np.asarray(((left[:-1] - left[1:]) / left[:-1]).max(axis=0))


def _holds(venting: Venting, record: _Record) -> BoolArray:
    """Whether liquid is left all the time, and never fills the tank or rises to an opening."""
    filled = record.inventory.liquid_volume
    holds = ((filled > 0.0) & (filled < venting.volume)).all(axis=0)
    for most, wet in zip(venting.fills_at, venting.wet, strict=True):
        holds &= wet | (filled < most).all(axis=0)
    return np.asarray(holds)


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class _Way:
    """Temperatures by place along a road: even steps of a measure up to the corner, and from it."""

    steps: int
    start: FloatArray
    end: FloatArray
    rest: FloatArray
    is_square: BoolArray
    corner: FloatArray
    measures: FloatArray
    """At start and corner, and its rise by step before and after, (4, n)."""

    @classmethod
    def along(cls, road: Road, steps: int) -> Self:
        corner, measures = road.laid_out(steps)
        return cls(steps, road.start, road.end, road.rest, road.is_square, corner, measures)

    @property
    def turn(self) -> FloatArray:
        """Factor on the slope at the corner."""
        return np.asarray(self.measures[3] / self.measures[2])

    def at(self, place: FloatArray, is_before: BoolArray) -> tuple[FloatArray, FloatArray]:
        """Temperature at places (..., n), and its derivative by place; `is_before`: on which side."""
        y0, y1, early, late = self.measures
        slope = np.where(is_before, early, late)
        y = np.where(is_before, y0, y1) + slope * np.where(is_before, place, place - self.corner)
        distance = np.where(self.is_square, y * y, np.exp(np.where(self.is_square, 0.0, y)))
        temperature = self.rest + distance
        temperature = np.where(place == 0.0, self.start, temperature)
        temperature = np.where(place == self.steps, self.end, temperature)
        return temperature, slope * np.where(self.is_square, 2.0 * y, distance)

    def take(self, index: IntArray) -> Self:
        """Return the scenarios `index` alone."""
        names = [f.name for f in dataclasses.fields(self)][1:]
        taken: dict[str, Any] = {name: np.take(getattr(self, name), index, axis=-1) for name in names}
        return dataclasses.replace(self, **taken)


class _Nodes(NamedTuple):
    """Of the scenarios at temperatures (..., n): what does not depend on the mass."""

    slope: FloatArray
    """dT by place [K]."""
    pressure: FloatArray
    vapor_flux: FloatArray
    heat: FloatArray
    vapor_enthalpy: FloatArray
    latent: FloatArray
    per_mass: FloatArray
    fixed: FloatArray
    """Energy that is there whatever the mass [J]."""
    slope_per_mass: FloatArray
    fixed_slope: FloatArray
    liquid_density: FloatArray
    vapor_density: FloatArray

    def row(self, i: int) -> _Nodes:
        return _Nodes(*(field[i] for field in self))


class _Flows(NamedTuple):
    """At a node with a mass: through each opening (J, n), and by place: time, and what time takes along."""

    through: FloatArray
    total: FloatArray
    carried: FloatArray
    time: FloatArray


class _Record:
    """What stood at the end of every step."""

    def __init__(self, venting: Venting, points: int) -> None:
        openings, n = venting.wet.shape
        shapes = [(points, n)] * 4 + [(openings, points, n), (points, n)]
        self.states = np.zeros((points, openings + 4, n))
        self.inventory = Inventory(*(np.zeros(shape) for shape in shapes))
        self.modes = np.zeros((points, openings, n), dtype=np.bool_)

    def add(self, venting: Venting, front: _Front, index: IntArray) -> None:
        """Put down what stands in the scenarios `index` of the front."""
        if not index.size:
            return
        row, who = front.place[index].astype(np.intp), front.who[index]
        now = _standing(venting, front)
        last = row.max()
        if front.who.size == self.states.shape[-1] and front.place.max() <= last:
            # a whole row at once: those that are behind come to it later, and have their own rows below
            self.states[last], self.modes[last] = front.state, venting.wet
            for into, values in zip(self.inventory, now, strict=True):
                into[..., last, :] = values
            behind = row < last
            row, who, index = row[behind], who[behind], index[behind]
        self.states[row, :, who] = front.state[:, index].T
        self.modes[row, :, who] = venting.wet[:, index].T
        for into, values in zip(self.inventory, now, strict=True):
            into[..., row, who] = values[..., index]


def _nodes(venting: Venting, way: _Way, place: FloatArray, is_before: BoolArray) -> tuple[FloatArray, _Nodes]:
    t, slope = way.at(place, is_before)
    p, h_v, s_v, choked, ratio, a, b, a_slope, b_slope, rho_l, rho_v, h_l = venting.table.saturated(t, *NODES)
    return t, _Nodes(
        slope,
        p,
        venting.nozzle.flux(p, h_v, s_v, choked, ratio)[0],
        venting.heat.rate(t),
        h_v,
        h_v - h_l,
        a,
        venting.volume * b + venting.wall_capacity * t,
        a_slope,
        venting.volume * b_slope + venting.wall_capacity,
        rho_l,
        rho_v,
    )


def _flows(venting: Venting, nodes: _Nodes, mass: FloatArray) -> _Flows:
    """Flows with `mass` in the tank, liquid or vapor as the openings are wet or dry."""
    assert venting.levels is not None
    head = venting.levels.level(_filled(venting, nodes, mass)) - venting.height
    flux = incompressible_flux(nodes.liquid_density, nodes.pressure, venting.nozzle.pressure, head)
    through = venting.area * np.where(venting.wet, flux, nodes.vapor_flux)
    return _carrying(venting, nodes, mass, through)


def _carrying(venting: Venting, nodes: _Nodes, mass: FloatArray, through: FloatArray) -> _Flows:
    """Say what flows `through` the openings take along."""
    total = add_rows(through)
    carried = total * nodes.vapor_enthalpy - add_rows(np.where(venting.wet, through, 0.0)) * nodes.latent
    net = nodes.heat - carried + total * nodes.per_mass
    time = nodes.slope * (mass * nodes.slope_per_mass + nodes.fixed_slope) / net
    return _Flows(through, total, carried, time)


def _filled(venting: Venting, nodes: _Nodes, mass: FloatArray) -> FloatArray:
    """Volume of the liquid."""
    filled: FloatArray = (mass - venting.volume * nodes.vapor_density) / (
        nodes.liquid_density - nodes.vapor_density
    )
    return filled


def _step(
    venting: Venting, start: tuple[_Nodes, _Flows], ahead: _Nodes, mass: FloatArray, length: FloatArray
) -> tuple[FloatArray, _Flows]:
    """Return what a step adds to the state, and the flows at its end; `ahead`: at its middle and end."""
    first, begin = start
    middle, last = ahead.row(0), ahead.row(1)
    loss = begin.total * begin.time
    half = _flows(venting, middle, mass - 0.5 * length * loss)
    end = _flows(venting, last, mass - length * half.total * half.time)
    lost = end.total * end.time
    after = mass - length * (loss + 4.0 * half.total * half.time + lost) / 6.0
    half = _flows(venting, middle, 0.5 * (mass + after) - 0.125 * length * (loss - lost))
    weights = begin.time, 4.0 * half.time, end.time
    whole = weights[0] + weights[1] + weights[2]

    def mean(one: FloatArray, two: FloatArray, three: FloatArray) -> FloatArray:
        value: FloatArray = (weights[0] * one + weights[1] * two + weights[2] * three) / whole
        return value

    through = mean(begin.through, half.through, end.through)
    heat = mean(first.heat, middle.heat, last.heat)
    carried = mean(begin.carried, half.carried, end.carried)
    gain = mass * (last.per_mass - first.per_mass) + (last.fixed - first.fixed)
    took = gain / (heat - carried + add_rows(through) * last.per_mass)
    more = np.empty((len(through) + 4, mass.size))
    more[0], more[1], more[2:-2], more[-2], more[-1] = took, 0.0, through * took, heat * took, carried * took
    return more, end


def _standing(venting: Venting, front: _Front) -> Inventory:
    """Say what stands in the tanks and flows."""
    state, nodes = front.state, front.nodes
    mass = venting.mass - add_rows(state[2:-2])
    filled = _filled(venting, nodes, mass)
    liquid = filled * nodes.liquid_density
    off = mass * nodes.per_mass + nodes.fixed - venting.energy - (state[-2] - state[-1])
    return Inventory(nodes.pressure, filled, liquid, mass - liquid, front.flows.through, off)


class _Front(NamedTuple):
    """Where the march stands: scenarios, places, the next aims, states, nodes, flows, liquid volumes."""

    who: IntArray
    place: FloatArray
    aim: FloatArray
    state: FloatArray
    nodes: _Nodes
    flows: _Flows
    filled: FloatArray

    def take(self, index: IntArray) -> _Front:
        """Return the scenarios `index` alone."""
        nodes = _Nodes(*(field[index] for field in self.nodes))
        flows = _Flows(*(np.take(field, index, axis=-1) for field in self.flows))
        place, aim, filled = self.place[index], self.aim[index], self.filled[index]
        return _Front(self.who[index], place, aim, np.take(self.state, index, axis=-1), nodes, flows, filled)


def _march(venting: Venting, way: _Way) -> tuple[_Record, BoolArray]:
    """March all to the end of the way; what stood at the steps, and which came there forward in time."""
    n = venting.volume.size
    record, came = _Record(venting, way.steps + 1), np.zeros(n, dtype=np.bool_)
    state, place = np.zeros((venting.wet.shape[0] + 4, n)), np.zeros(n)
    state[1], nodes = _nodes(venting, way, place, place < way.corner)
    flows = _flows(venting, nodes, venting.mass)
    filled = _filled(venting, nodes, venting.mass)
    front = _Front(np.arange(n), place, np.ones(n), state, nodes, flows, filled)
    record.add(venting, front, np.arange(n))
    for _ in range(way.steps + MOST_CUTS):
        venting, front, moved, fails = _advance(venting, way, front)
        record.add(venting, front, np.flatnonzero(moved & (front.place % 1.0 == 0.0)))
        going = ~fails & (front.place < way.steps)
        came[front.who[~fails & ~going]] = True
        if not going.any():
            break
        if going.mean() < COMPACT_BELOW or fails.any():
            keep = np.flatnonzero(going)
            venting, way, front = venting.take(keep), way.take(keep), front.take(keep)
    return record, came


def _advance(venting: Venting, way: _Way, front: _Front) -> tuple[Venting, _Front, BoolArray, BoolArray]:
    """Try a step to the aims; the openings then, the front, which moved, and which cannot go on."""
    length = front.aim - front.place
    both = np.array([front.place + 0.5 * length, front.aim])
    t, ahead = _nodes(venting, way, both, front.place < way.corner)
    mass = venting.mass - add_rows(front.state[2:-2])
    more, flows = _step(venting, (front.nodes, front.flows), ahead, mass, length)
    state, nodes = front.state + more, ahead.row(1)
    state[1] = t[1]
    mass = venting.mass - add_rows(state[2:-2])
    filled = _filled(venting, nodes, mass)
    # the highest hole that the level stands above; below everything where there is none
    hole = np.where(venting.wet, venting.empties_at, -venting.volume).max(axis=0)
    over, above = filled - hole, front.filled - hole
    near = LANDED * venting.volume
    moved = over >= -near
    fails = (length > 0.0) & ~(more[0] > 0.0)
    lands = venting.wet & (filled <= venting.empties_at + near) & moved
    through = flows.through
    if lands.any():
        venting = dataclasses.replace(venting, wet=venting.wet & ~lands)
        through = np.where(lands, venting.area * nodes.vapor_flux, through)
    nodes = nodes._replace(slope=nodes.slope * np.where(front.aim == way.corner, way.turn, 1.0))
    flows = _carrying(venting, nodes, mass, through)
    share = above / np.where(moved, 1.0, above - over)
    aim = np.where(moved, np.minimum(np.floor(front.aim) + 1.0, way.steps), front.place + share * length)
    ahead_of = _Front(front.who, front.aim, aim, state, nodes, flows, filled)
    return venting, ahead_of if moved.all() else _chosen(moved, ahead_of, front), moved, fails


def _chosen(moved: BoolArray, after: _Front, before: _Front) -> _Front:
    """Of those that moved the front after the step, of the others that before it, with the new aim."""
    place, state, filled = (
        np.where(moved, *pair)
        for pair in ((after.place, before.place), (after.state, before.state), (after.filled, before.filled))
    )
    nodes = _Nodes(*(np.where(moved, *pair) for pair in zip(after.nodes, before.nodes, strict=True)))
    flows = _Flows(*(np.where(moved, *pair) for pair in zip(after.flows, before.flows, strict=True)))
    return _Front(before.who, place, after.aim, state, nodes, flows, filled)
