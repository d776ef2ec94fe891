"""Marching in temperature while liquid leaks: tanks that vent down to a stop with holes below the level.

As `lpgrelease.tank.quadrature`, for tanks whose vents cool them to the stop whatever leaks besides. Flow of
liquid depends on the level, so mass on the way is put back into the rates in more sweeps; where the level
passes a hole, flow has a corner, and the way is laid out anew with a step's end there.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from lpgrelease.marching import IntArray
from lpgrelease.quantities import FloatArray
from lpgrelease.release.liquid import incompressible_flux
from lpgrelease.release.nozzle import SATURATED_VAPOR_INLET
from lpgrelease.results import BoolArray
from lpgrelease.tank.levels import LevelTable
from lpgrelease.tank.quadrature import FEWEST_STEPS, PARTS, SIMPSON
from lpgrelease.tank.road import LEAST_DISTANCE, Road, find_road
from lpgrelease.tank.venting import GAUGE_PRESSURE, Inventory, Venting, add_rows

__all__ = ["Drained", "drain_in_temperature"]

SWEEPS = 4
"""Times the mass on the way is put back into the rates."""
PASSES = 3
"""Times the way is laid out anew, so that its corners are ends of steps."""
STILL = 0.02
"""A corner whose temperature moves no more than this [K] between the last two passes is found."""
CONVERGED = 3e-5
"""Mass of a step's end that moves no more than this share of all in the last sweep has converged."""
ASTRAY = 2e-4
"""Share of the volume by which the level may be on the wrong side of a hole at a step's end."""
NEAR_END = 0.003
"""Share of the way within which of its ends a corner is left where it is."""
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
    levels = LevelTable.prepare(part.tank, surfaces=False)
    found = _integrate(part, levels, *_lay_out(road, road.corner[None], points), sweeps=SWEEPS)
    passes = (~np.isnan(found.passages)).any(axis=0)
    straight = _kept(found, np.flatnonzero(~passes), part, road, stride)
    late = np.flatnonzero(passes)
    if not late.size:
        return straight._replace(served=chosen[straight.served])
    part, road, levels = part.take(late), road.take(late), levels.take(late)
    passages = found.passages[:, late]
    for _ in range(PASSES):
        before = passages
        way = _lay_out(road, np.concatenate([road.corner[None], passages]), points)
        found = _integrate(part, levels, *way, sweeps=SWEEPS)
        passages = found.passages
    moved = np.abs(passages - before)
    still = ((moved <= STILL) | (np.isnan(passages) & np.isnan(before))).all(axis=0)
    still &= _inside(road, passages)
    turned = _kept(found, np.flatnonzero(still), part, road, stride)
    return _joined(straight, turned._replace(served=late[turned.served]), chosen)


def _kept(found: _Found, index: IntArray, venting: Venting, road: Road, stride: int) -> Drained:
    """Of the scenarios `index` those that hold, at every `stride`-th point."""
    in_time = found.states[-1, 0, index] <= venting.duration[index]
    kept = index[found.good[index] & in_time]
    return Drained(
        found.states[::stride][..., kept],
        found.inventory.take(slice(None, None, stride), kept),
        found.modes[::stride][..., kept],
        np.full(kept.size, GAUGE_PRESSURE),
        road.rest[kept],
        kept,
    )


def _joined(one: Drained, other: Drained, chosen: IntArray) -> Drained:
    """Both together, as served of those `chosen` first."""
    inventory = Inventory(
        *(np.concatenate(pair, axis=-1) for pair in zip(one.inventory, other.inventory, strict=True))
    )
    return Drained(
        np.concatenate([one.states, other.states], axis=-1),
        inventory,
        np.concatenate([one.modes, other.modes], axis=-1),
        np.concatenate([one.codes, other.codes]),
        np.concatenate([one.rest, other.rest]),
        chosen[np.concatenate([one.served, other.served])],
    )


def _lay_out(road: Road, corners: FloatArray, points: int) -> tuple[FloatArray, list[FloatArray]]:
    """Temperatures of all nodes (2 steps + 1, n), and Simpson's weights times dT by step.

    `corners` (corners, n): temperatures that shall be ends of steps; NaN for none.
    """
    steps = -(-FEWEST_STEPS // (points - 1)) * (points - 1)
    measure, back = _measures(road)
    y0, y1 = measure(road.start), measure(road.end)
    share = (measure(np.where(np.isnan(corners), road.end, corners)) - y0) / (y1 - y0)
    real = (share > NEAR_END) & (share < 1.0 - NEAR_END)
    share = np.sort(np.where(real, share, 1.0), axis=0)
    edges, places = [np.zeros_like(y0)], [y0]
    count = share.shape[0]
    for i, each in enumerate(share):
        room = steps - 2.0 * (count - i)
        step = np.clip(np.rint(steps * each), edges[-1] + 2.0, room)
        edges.append(np.where(each < 1.0, step, steps))
        places.append(np.where(each < 1.0, y0 + each * (y1 - y0), y1))
    edges.append(np.full_like(y0, steps))
    places.append(y1)
    index = np.arange(steps)[:, None]
    nodes, slopes = [], []
    for offset in SIMPSON:
        y, slope = np.zeros((2, steps, y0.size))
        for a, b, ya, yb in zip(edges[:-1], edges[1:], places[:-1], places[1:], strict=True):
            here = (index >= a) & (index < b)
            per_step = (yb - ya) / np.where(b > a, b - a, 1.0)
            y = np.where(here, ya + (index + offset - a) * per_step, y)
            slope = np.where(here, per_step, slope)
        distance, by_step = back(y, slope)
        nodes.append(road.rest + distance)
        slopes.append(by_step)
    temperature = np.empty((2 * steps + 1, y0.size))
    temperature[:-1:2], temperature[1::2] = nodes[0], nodes[1]
    temperature[0], temperature[-1] = road.start, road.end
    return temperature, [w * s for w, s in zip(SIMPSON.values(), slopes, strict=True)]


def _inside(road: Road, corners: FloatArray) -> BoolArray:
    """Whether all corners are far enough from the ends to be ends of steps."""
    measure, _ = _measures(road)
    y0, y1 = measure(road.start), measure(road.end)
    share = (measure(np.where(np.isnan(corners), road.end, corners)) - y0) / (y1 - y0)
    return np.asarray((np.isnan(corners) | ((share > NEAR_END) & (share < 1.0 - NEAR_END))).all(axis=0))


def _measures(
    road: Road,
) -> tuple[
    Callable[[FloatArray], FloatArray], Callable[[FloatArray, FloatArray], tuple[FloatArray, FloatArray]]
]:
    """Return the measure in which steps are even, and the way back: distance from rest and its derivative."""

    def measure(temperature: FloatArray) -> FloatArray:
        distance = np.maximum(np.abs(temperature - road.rest), LEAST_DISTANCE)
        return np.where(road.is_square, np.sqrt(distance), np.log(distance))

    def back(y: FloatArray, slope: FloatArray) -> tuple[FloatArray, FloatArray]:
        distance = np.where(road.is_square, y * y, np.exp(np.where(road.is_square, 0.0, y)))
        return distance, slope * np.where(road.is_square, 2.0 * y, distance)

    return measure, back


class _Found(NamedTuple):
    states: FloatArray
    inventory: Inventory
    modes: BoolArray
    good: BoolArray
    passages: FloatArray


def _integrate(
    venting: Venting,
    levels: LevelTable,
    temperature: FloatArray,
    by_step: list[FloatArray],
    *,
    sweeps: int,
) -> _Found:
    """States at every second one of `temperature` (2 steps + 1, n), and where the level passes holes."""
    values = venting.table.saturated(temperature, *NODES)
    p, h_v, s_v, choked, ratio, a, b, a_slope, b_slope, rho_l, rho_v, h_l = values
    vapor_flux = venting.nozzle.flux(p, h_v, s_v, choked, ratio)[0]
    heat = venting.heat.rate(temperature)
    fixed = venting.volume * b_slope + venting.wall_capacity
    ends, a_end, b_end = temperature[::2], a[::2], b[::2]
    gain_a = a_end[1:] - a_end[:-1]
    gain_b = venting.volume * (b_end[1:] - b_end[:-1]) + venting.wall_capacity * (ends[1:] - ends[:-1])
    share = (temperature[1::2] - ends[:-1]) / (ends[1:] - ends[:-1])
    per_volume = 1.0 / (rho_l - rho_v)
    area, wet = venting.area[:, None], venting.wet[:, None]
    mass = np.empty_like(temperature)
    mass[...] = venting.mass
    for _ in range(sweeps):
        earlier = mass[::2].copy()
        filled = (mass - venting.volume * rho_v) * per_volume
        stands = wet & (filled[1::2] > venting.empties_at[:, None])
        stands = np.logical_and.accumulate(stands, axis=1)
        head = levels.level(filled) - venting.height[:, None]
        liquid_flux = incompressible_flux(rho_l, p, venting.nozzle.pressure, head)
        flows, weights = [], []
        m, q, e = (np.zeros_like(share) for _ in range(3))
        for part, w in zip(PARTS, by_step, strict=True):
            through = area * np.where(stands, liquid_flux[:, part], vapor_flux[part])
            flow = add_rows(through)
            carried = flow * h_v[part] - add_rows(np.where(stands, through, 0.0)) * (h_v[part] - h_l[part])
            net = heat[part] - carried + flow * a[part]
            weight = w * (mass[part] * a_slope[part] + fixed[part]) / net
            flows.append(weight * through)
            weights.append(weight)
            m, q, e = m + weight * flow, q + weight * heat[part], e + weight * carried
        total = weights[0] + weights[1] + weights[2]
        m, q, e = m / total, q / total, e / total
        per_energy = 1.0 / (q - e + m * a_end[1:])
        at_end = mass[::2]
        for k in range(len(total)):
            at_end[k + 1] = at_end[k] - m[k] * per_energy[k] * (at_end[k] * gain_a[k] + gain_b[k])
        mass[1::2] = at_end[:-1] + share * (at_end[1:] - at_end[:-1])
    by_opening = (flows[0] + flows[1] + flows[2]) / total
    took = (mass[:-2:2] * gain_a + gain_b) * per_energy
    states = np.zeros((ends.shape[0], venting.area.shape[0] + 4, ends.shape[1]))
    for row, step in ((0, took), (-2, q * took), (-1, e * took)):
        for k, each in enumerate(step):
            np.add(states[k, row], each, out=states[k + 1, row])
    for k, each in enumerate(np.moveaxis(by_opening * took, 0, 1)):
        np.add(states[k, 2:-2], each, out=states[k + 1, 2:-2])
    states[:, 1] = ends
    modes = np.concatenate([stands, stands[:, -1:]], axis=1)
    still = np.asarray((np.abs(mass[::2] - earlier) <= CONVERGED * venting.mass).all(axis=0))
    good = np.asarray((took > 0.0).all(axis=0)) & still
    return _described(venting, values, states, modes, (vapor_flux, liquid_flux), good)


def _described(
    venting: Venting,
    values: tuple[FloatArray, ...],
    states: FloatArray,
    modes: BoolArray,
    on_the_way: tuple[FloatArray, ...],
    good: BoolArray,
) -> _Found:
    """Say what stood then, whether it holds, and where the level passes holes."""
    p, _, _, _, _, a, b, _, _, rho_l, rho_v, _ = (v[::2] for v in values)
    vapor_flux, liquid_flux = on_the_way
    released = states[:, 2:-2]
    mass = venting.mass - add_rows(np.moveaxis(released, 1, 0))
    v_l, v_v = 1.0 / rho_l, 1.0 / rho_v
    vapor = (venting.volume - mass * v_l) / (v_v - v_l)
    liquid = mass - vapor
    filled = liquid * v_l
    ends = states[:, 1]
    off = mass * a + venting.volume * b + venting.wall_capacity * ends - venting.energy
    off -= states[:, -2] - states[:, -1]
    flow = venting.area[:, None] * np.where(modes, liquid_flux[:, ::2], vapor_flux[::2])
    inventory = Inventory(p, filled, liquid, vapor, flow, off)
    good = good & ((filled > 0.0) & (filled < venting.volume)).all(axis=0)
    # liquid passes a hole as long as the level is above it, and no longer
    over = (filled - venting.empties_at[:, None]) * np.where(modes, 1.0, -1.0)
    over = np.minimum(
        over[:, :-1], (filled[1:] - venting.empties_at[:, None]) * np.where(modes[:, :-1], 1.0, -1.0)
    )
    good &= (~venting.wet[:, None] | (over > -ASTRAY * venting.volume)).all(axis=(0, 1))
    for most, wet in zip(venting.fills_at, venting.wet, strict=True):
        good &= wet | (filled < most).all(axis=0)
    return _Found(states, inventory, np.moveaxis(modes, 0, 1), good, _passages(venting, filled, ends))


def _passages(venting: Venting, filled: FloatArray, temperature: FloatArray) -> FloatArray:
    """Temperature at which the level passes each hole that is below it at first, (J, n); NaN for none."""
    who = np.arange(filled.shape[1])
    found = []
    for empties, wet in zip(venting.empties_at, venting.wet, strict=True):
        over = filled - empties
        passed = wet & (over <= 0.0).any(axis=0)
        k = np.maximum(np.argmax(over <= 0.0, axis=0), 1)
        before, after = over[k - 1, who], over[k, who]
        share = before / np.where(before > after, before - after, 1.0)
        at = temperature[k - 1, who] + share * (temperature[k, who] - temperature[k - 1, who])
        found.append(np.where(passed, at, np.nan))
    return np.array(found).reshape(len(venting.empties_at), filled.shape[1])
