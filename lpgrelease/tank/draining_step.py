"""Steps of a march in temperature while liquid leaks (`lpgrelease.tank.draining`).

Notes
-----
Place s on the way counts the even steps of the road. A step first takes the flows at its start for those at
all its points (`lpgrelease.tank.lobatto`), and closes mass and energy to each of them exactly as the
quadrature does; so it finds the masses there, with them flows, and closes anew.
"""

from __future__ import annotations

import dataclasses
from typing import Any, NamedTuple, Self

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.release.liquid import flux_driven_by, incompressible_flux
from lpgrelease.results import BoolArray, IntArray
from lpgrelease.summing import add_rows
from lpgrelease.tank.lobatto import PLACES, POINTS, integrals
from lpgrelease.tank.road import Road
from lpgrelease.tank.venting import PROPERTIES, SLOPES, Inventory, Venting

__all__ = ["Front", "Piece", "Way", "advance", "at_start"]

PASSES = 3
"""Times the flows are found; each gains two digits and more."""
LANDED = 1e-7
"""The level has come to a hole when so little of the volume is left between them."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Way:
    """Temperatures by place along a road: even steps of a measure up to the corner, and from it."""

    steps: int
    start: FloatArray
    end: FloatArray
    rest: FloatArray
    is_square: BoolArray
    corner: FloatArray
    measures: FloatArray
    """At start and corner, and its rise by step before and after, (5, n)."""

    @classmethod
    def along(cls, road: Road, steps: int) -> Self:
        """Lay out steps along a road."""
        corner, measures = road.laid_out(steps)
        return cls(steps, road.start, road.end, road.rest, road.is_square, corner, measures)

    def at(self, place: FloatArray, is_before: BoolArray) -> tuple[FloatArray, FloatArray]:
        """Temperature at places (..., n), and its derivative by the measure; `is_before`: on which side."""
        y0, y1, early, late = self.measures
        slope = np.where(is_before, early, late)
        y = np.where(is_before, y0, y1 - slope * self.corner) + slope * place
        if self.is_square.any():
            distance = np.where(self.is_square, y * y, np.exp(np.where(self.is_square, 0.0, y)))
            by_measure = np.where(self.is_square, 2.0 * y, distance)
        else:
            distance = by_measure = np.exp(y)
        temperature = self.rest + distance
        temperature = np.where(place == 0.0, self.start, temperature)
        return np.where(place == self.steps, self.end, temperature), by_measure

    def take(self, index: IntArray) -> Self:
        """Return the scenarios `index` alone."""
        names = [f.name for f in dataclasses.fields(self)][1:]
        taken: dict[str, Any] = {name: np.take(getattr(self, name), index, axis=-1) for name in names}
        return dataclasses.replace(self, **taken)


class _Nodes(NamedTuple):
    """Of the scenarios at temperatures (..., n): what does not depend on the mass."""

    slope: FloatArray
    """dT by the way's measure."""
    pressure: FloatArray
    vapor_flow: FloatArray
    """Through each opening if it is dry, (..., J, n)."""
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
    """At a node with a mass: through each opening (J, ..., n), what they carry, and time by the measure."""

    through: FloatArray
    total: FloatArray
    carried: FloatArray
    time: FloatArray


class Front(NamedTuple):
    """Where the march stands: scenarios, places, the next aims, states, nodes, flows, liquid volumes."""

    who: IntArray
    place: FloatArray
    aim: FloatArray
    state: FloatArray
    nodes: _Nodes
    flows: _Flows
    filled: FloatArray

    def take(self, index: IntArray) -> Front:
        """Return the scenarios `index` alone."""
        nodes = _Nodes(*(field[..., index] for field in self.nodes))
        flows = _Flows(*(np.take(field, index, axis=-1) for field in self.flows))
        place, aim, filled = self.place[index], self.aim[index], self.filled[index]
        return Front(self.who[index], place, aim, np.take(self.state, index, axis=-1), nodes, flows, filled)


class Piece(NamedTuple):
    """What was tried in a step: of which scenarios, from where to where (n,), and which `moved`.

    The states it begins with (components, n), and what stands at its points, the last its end:
    (components, 5, n), (..., 5, n), (J, 5, n).
    """

    who: IntArray
    place: FloatArray
    aim: FloatArray
    moved: BoolArray
    start: FloatArray
    states: FloatArray
    inventory: Inventory
    wet: BoolArray


def _nodes(venting: Venting, way: Way, place: FloatArray, is_before: BoolArray) -> tuple[FloatArray, _Nodes]:
    t, slope = way.at(place, is_before)
    p, h_v, s_v, choked, ratio, rho_l, rho_v, h_l, a, b, a_slope, b_slope = venting.table.saturated(
        t, *PROPERTIES, *SLOPES
    )
    flux = venting.nozzle.flux(p, h_v, s_v, choked, ratio)[0]
    shares = np.moveaxis(venting.vapor_shares(p), 0, -2) if any(venting.lines) else venting.area
    return t, _Nodes(
        slope,
        p,
        shares * flux[..., None, :],
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


def _flows(venting: Venting, nodes: _Nodes, mass: FloatArray, level: FloatArray) -> _Flows:
    """Flows with `mass` in the tank up to `level`, liquid or vapor as the openings are wet or dry."""
    through = np.empty((len(venting.wet), *level.shape))
    for j, (wet, line) in enumerate(zip(venting.wet, venting.lines, strict=True)):
        through[j] = nodes.vapor_flow[..., j, :]
        if wet.any():
            head, density = level - venting.height[j], nodes.liquid_density
            if line is None:
                flux = incompressible_flux(density, nodes.pressure, venting.nozzle.pressure, head)
            else:
                flux = flux_driven_by(line.liquid_drive(density, nodes.pressure, head), density)
            np.copyto(through[j], venting.area[j] * flux, where=wet)
    return _carrying(venting, nodes, mass, through)


def _carrying(venting: Venting, nodes: _Nodes, mass: FloatArray, through: FloatArray) -> _Flows:
    """Say what flows `through` the openings take along."""
    total = add_rows(through)
    carried = total * nodes.vapor_enthalpy
    for row, wet in zip(through, venting.wet, strict=True):
        if wet.any():
            carried -= np.where(wet, row, 0.0) * nodes.latent
    net = nodes.heat - carried + total * nodes.per_mass
    time = nodes.slope * (mass * nodes.slope_per_mass + nodes.fixed_slope) / net
    return _Flows(through, total, carried, time)


def _filled(venting: Venting, nodes: _Nodes, mass: FloatArray) -> FloatArray:
    """Volume of the liquid."""
    filled: FloatArray = (mass - venting.volume * nodes.vapor_density) / (
        nodes.liquid_density - nodes.vapor_density
    )
    return filled


def _step(venting: Venting, front: Front, ahead: _Nodes) -> tuple[FloatArray, _Flows]:
    """Return what a step adds to the state up to its points (components, 5, n), and the flows there."""
    assert venting.levels is not None
    begin, first = front.flows, front.nodes
    mass = venting.mass - add_rows(front.state[2:-2])
    gain = mass * (ahead.per_mass - first.per_mass) + (ahead.fixed - first.fixed)
    took = gain / (first.heat - begin.carried + begin.total * ahead.per_mass)
    there = mass - begin.total * took
    looked_up = _filled(venting, ahead, there)
    level, rise = venting.levels.level_and_rise(looked_up)
    flows = _flows(venting, ahead, there, level)
    for _ in range(PASSES - 1):
        means = _Means.of(begin.time, flows.time)
        through = means(begin.total, flows.total)
        net = means(first.heat - begin.carried, ahead.heat - flows.carried)
        there = mass - through * (gain / (net + through * ahead.per_mass))
        flows = _flows(venting, ahead, there, level + rise * (_filled(venting, ahead, there) - looked_up))
    means = _Means.of(begin.time, flows.time)
    each = [means(one, more) for one, more in zip(begin.through, flows.through, strict=True)]
    heat, carried = means(first.heat, ahead.heat), means(begin.carried, flows.carried)
    took = gain / (heat - carried + add_rows(np.array(each)) * ahead.per_mass)
    return np.array(
        [took, np.zeros_like(took), *(one * took for one in each), heat * took, carried * took]
    ), flows


class _Means(NamedTuple):
    """Means over time, from a step's start to its points."""

    weights: tuple[FloatArray, FloatArray]
    per_whole: FloatArray

    @classmethod
    def of(cls, start: FloatArray, points: FloatArray) -> Self:
        """Weigh by the time by the measure at the start (n,) and the points (5, n)."""
        return cls((start, points), 1.0 / integrals([start, *points]))

    def __call__(self, start: FloatArray, points: FloatArray) -> FloatArray:
        return integrals([self.weights[0] * start, *(self.weights[1] * points)]) * self.per_whole


def _standing(venting: Venting, state: FloatArray, nodes: _Nodes, through: FloatArray) -> Inventory:
    """Say what stands in the tanks and flows."""
    mass = venting.mass - add_rows(state[2:-2])
    filled = _filled(venting, nodes, mass)
    liquid = filled * nodes.liquid_density
    off = mass * nodes.per_mass + nodes.fixed - venting.energy - (state[-2] - state[-1])
    return Inventory(nodes.pressure, filled, liquid, mass - liquid, through, off)


def at_start(venting: Venting, way: Way, state: FloatArray) -> tuple[Front, Piece]:
    """Return the front at the start of the way, in states (components, n), and a piece of one point there."""
    assert venting.levels is not None
    n = venting.volume.size
    place, mass = np.zeros(n), venting.mass - add_rows(state[2:-2])
    nodes = _nodes(venting, way, place, place < way.corner)[1]
    filled = _filled(venting, nodes, mass)
    flows = _flows(venting, nodes, mass, venting.levels.level(filled))
    standing = _standing(venting, state, nodes, flows.through)
    here = Inventory(*(field[..., None, :] for field in standing))
    who, moved = np.arange(n), np.ones(n, dtype=np.bool_)
    begin = Piece(who, place, place, moved, state, state[:, None], here, venting.wet[:, None])
    return Front(who, place, np.ones(n), state, nodes, flows, filled), begin


def advance(venting: Venting, way: Way, front: Front) -> tuple[Venting, Front, Piece, BoolArray]:
    """Try a step to the aims; the openings then, the front, the piece gone, and which cannot go on."""
    length = front.aim - front.place
    places = front.place + PLACES[1:, None] * length
    places[-1] = front.aim
    t, ahead = _nodes(venting, way, places, front.place < way.corner)
    more, flows = _step(venting, front, ahead)
    states = front.state[:, None] + more
    states[1] = t
    standing = _standing(venting, states, ahead, flows.through)
    filled = standing.liquid_volume
    # the highest hole that the level stands above; below everything where there is none
    hole = np.where(venting.wet, venting.empties_at, -venting.volume).max(axis=0)
    near = LANDED * venting.volume
    moved = filled[-1] - hole >= -near
    fails = (length > 0.0) & ~(more[0] > 0.0).all(axis=0)
    if any(venting.lines):
        # a line that liquid no longer climbs: a corner that no step finds
        ceases = (front.flows.through > 0.0) & (flows.through <= 0.0).any(axis=1)
        fails |= (venting.wet & ceases).any(axis=0)
    lands = venting.wet & (filled[-1] <= venting.empties_at + near) & moved
    wet = np.repeat(venting.wet[:, None], POINTS, axis=1)
    if lands.any():
        venting = dataclasses.replace(venting, wet=venting.wet & ~lands)
        np.copyto(flows.through[:, -1], ahead.vapor_flow[-1], where=lands)
        wet[:, -1] = venting.wet
    piece = Piece(front.who, front.place, front.aim, moved, front.state, states, standing, wet)
    nodes = ahead.row(POINTS - 1)
    mass = standing.liquid_mass[-1] + standing.vapor_mass[-1]
    flows = _carrying(venting, nodes, mass, flows.through[:, -1])
    aim = np.minimum(np.floor(front.aim) + 1.0, way.steps)
    after = Front(front.who, front.aim.copy(), aim, states[:, -1], nodes, flows, filled[-1])
    stay = np.flatnonzero(~moved)
    if stay.size:
        share = _first_zero(np.array([front.filled[stay], *filled[:, stay]]) - hole[stay])
        _put_back(after, front, stay)
        aim[stay] = front.place[stay] + share * length[stay]
    return venting, after, piece, fails


def _first_zero(over: FloatArray) -> FloatArray:
    """Part of a step at which falling values (6, n) at its points come to zero, if they do (n,)."""
    total = np.zeros(over.shape[1])
    for i, place in enumerate(PLACES):
        term = np.full(total.shape, place)
        for k in range(len(PLACES)):
            if k != i:
                apart = over[k] - over[i]
                term = term * (over[k] / np.where(apart != 0.0, apart, 1.0))
        total = total + term
    fall = over[0] - over[-1]
    straight = over[0] / np.where(fall > 0.0, fall, 1.0)
    return np.where((total > 0.0) & (total < 1.0), total, straight)


def _put_back(after: Front, before: Front, index: IntArray) -> None:
    """Put the scenarios `index`, which did not move, back where they were, in arrays of `after`'s own."""
    pairs = [(after.place, before.place), (after.state, before.state), (after.filled, before.filled)]
    pairs += [*zip(after.nodes, before.nodes, strict=True), *zip(after.flows, before.flows, strict=True)]
    for into, was in pairs:
        into[..., index] = was[..., index]
