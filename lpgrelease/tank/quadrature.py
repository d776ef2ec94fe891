"""Marching in temperature: tanks that vent vapor only, or are shut, from one temperature to another.

The temperatures of all steps are known beforehand (`lpgrelease.tank.road`), so all properties come from
the tables at once, and time and mass follow by quadrature.

Notes
-----
With N = Q' - mdot (h_v - a) the net heat of equation (2) in `lpgrelease.tank.venting`, a step from T_0 to
T_1 takes the time dt and lets out the mass -dM for which mass and energy close exactly:

    dM = -m dt,    (M + dM) a_1 - M a_0 + V (B_1 - B_0) + C_w (T_1 - T_0) = (q - e) dt

m, q and e are the means over the step's time of flow, heat rate and enthalpy rate, by Lobatto's rule
weighted with dt/dT = C/N (`lpgrelease.tank.lobatto`), and so to each of the rule's points from the step's
start. Steps are even in ln|T - T_r| (heat from outside: T nears the rest
T_r exponentially) or in sqrt(T - T_b) (none: it comes to the boiling point in finite time), with a
step's end where choking ends, since the flux has a corner there. Error of tenth order. A duration is met by
Newton's method on the last temperature; at rest, flows are constant and time is linear in mass.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.release.nozzle import SATURATED_VAPOR_INLET
from lpgrelease.results import BoolArray, IntArray
from lpgrelease.summing import add_rows
from lpgrelease.tank.lobatto import POINTS, integrals, laid_out
from lpgrelease.tank.road import Road, find_road
from lpgrelease.tank.venting import DURATION, LIQUID_GONE, SETTLED, Inventory, Venting

__all__ = ["FEWEST_TO_HOLD", "Quadrature", "march_in_temperature"]

SWEEPS = 3
"""Times the mass on the way is put back into the weights; each sweep gains three digits."""
FEWEST_TO_HOLD = 3
"""Points of a history, at least: the start, the coming to rest, the end."""
DURATION_STEPS = 5
"""Newton steps on the temperature at which a duration ends: quadratic from a few per cent."""

LEAST_WAY = 1e-7
"""A way to the end of a duration is at least so long [K]."""

NODES = (
    *SATURATED_VAPOR_INLET,
    "inventory_energy_per_mass",
    "inventory_energy_per_volume",
    "inventory_slope_per_mass",
    "inventory_slope_per_volume",
    "liquid_density",
    "vapor_density",
)


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Quadrature:
    """Histories by quadrature, of those scenarios that could be had so.

    Parameters
    ----------
    states : ndarray, shape (steps + 1, openings + 4, n)
        Time, temperature, released masses, heat gained and enthalpy released.
    inventory : Inventory
        What stands in the tanks then; fields of shape (..., steps + 1, n).
    codes : ndarray, shape (n,)
        Why each ended.
    rest : ndarray, shape (n,)
        Temperature of rest [K].
    served : ndarray of int, shape (n,)
        Which of the scenarios asked for these are: temperature moves one way, no liquid leaves, and no
        other event comes first.
    """

    states: FloatArray
    inventory: Inventory
    codes: IntArray
    rest: FloatArray
    served: IntArray


def march_in_temperature(venting: Venting, temperature: FloatArray, points: int) -> Quadrature:
    """Histories from `temperature` (n,), at `points` points each, of those that can be had so."""
    boiling = venting.table.saturation_temperature(venting.nozzle.pressure)
    warm = np.flatnonzero((temperature > boiling) | (add_rows(venting.area) == 0.0))
    road = find_road(venting.take(warm), temperature[warm], boiling[warm])
    still = np.flatnonzero(road.resting & ~road.valid & ~venting.stops_settled[warm])
    if still.size:
        rested = _hold(venting.take(warm[still]), road.take(still), points, moves=False)
        rested = dataclasses.replace(rested, served=warm[still[rested.served]])
    chosen, road = warm[road.valid], road.take(np.flatnonzero(road.valid))
    part = venting.take(chosen)
    states, now, good = _along(part, road, points)
    took = states[-1, 0]
    in_time = took <= part.duration
    done = good & in_time & (part.stops_settled | (road.codes != SETTLED))
    if done.all() and not still.size:
        return Quadrature(states, now, road.codes, road.rest, chosen)
    found = [Quadrature(states[..., done], now.take(done), road.codes[done], road.rest[done], chosen[done])]
    if still.size:
        found.append(rested)
    late, rests = np.flatnonzero(good & ~in_time), np.flatnonzero(good & in_time & ~done)
    if late.size:
        solved = _until(part.take(late), road.take(late), states[..., late], points)
        found.append(dataclasses.replace(solved, served=chosen[late[solved.served]]))
    if rests.size:
        solved = _hold(part.take(rests), road.take(rests), points)
        found.append(dataclasses.replace(solved, served=chosen[rests[solved.served]]))
    return Quadrature(
        states=np.concatenate([f.states for f in found], axis=-1),
        inventory=_joined([f.inventory for f in found], axis=-1),
        codes=np.concatenate([f.codes for f in found]),
        rest=np.concatenate([f.rest for f in found]),
        served=np.concatenate([f.served for f in found]),
    )


def _joined(parts: list[Inventory], axis: int) -> Inventory:
    return Inventory(*(np.concatenate(fields, axis=axis) for fields in zip(*parts, strict=True)))


def _until(venting: Venting, road: Road, states: FloatArray, points: int) -> Quadrature:
    """Histories that a duration ends on the way; `states` are those of the whole way."""
    duration = venting.duration
    late = states[:, 0] > duration
    step = np.argmax(late, axis=0)
    who = np.arange(duration.size)
    before, after = states[step - 1, :2, who].T, states[step, :2, who].T
    share = (duration - before[0]) / (after[0] - before[0])
    # temperatures that differ by less have no ratios; such histories are not served
    nearest = road.start + np.sign(road.end - road.start) * LEAST_WAY
    low, high = np.minimum(nearest, road.end), np.maximum(nearest, road.end)
    end = np.clip(before[1] + share * (after[1] - before[1]), low, high)
    for _ in range(DURATION_STEPS):
        shorter = dataclasses.replace(road, end=end)
        states, now, good = _along(venting, shorter, points)
        last = states[-1]
        rate = venting.motion(last[1], last[2:-2], last[-2] - last[-1])[1].temperature_rate
        miss = duration - last[0]
        end = np.clip(end + rate * miss, low, high)
    states[-1, 0] = np.where(good, duration, states[-1, 0])
    kept = np.flatnonzero(
        good & (np.abs(miss) <= 1e-9 * duration) & (np.abs(shorter.end - road.start) > 10.0 * LEAST_WAY)
    )
    return Quadrature(states[..., kept], now.take(kept), np.full(kept.size, DURATION), road.rest[kept], kept)


def _hold(venting: Venting, road: Road, points: int, *, moves: bool = True) -> Quadrature:
    """Histories that come to rest and stay there, until the duration ends or the liquid is gone.

    Without `moves` they are at rest from the start.
    """
    moving = points - points // 2 if moves else 1
    if moves:
        states, moved, good = _along(venting, road, moving)
    else:
        states = np.zeros((1, venting.area.shape[0] + 4, road.start.size))
        states[:, 1] = road.start
        moved = venting.inventory(states[:, 1], np.moveaxis(states[:, 2:-2], 1, 0), states[:, 0])
        good = np.ones(road.start.size, dtype=np.bool_)
    last, rest = states[-1], road.rest
    at_rest = last.copy()
    at_rest[1] = rest
    now = venting.inventory(rest, last[2:-2], last[-2] - last[-1])
    rho_v, h_v, a = venting.table.saturated(
        rest, "vapor_density", "vapor_enthalpy", "inventory_energy_per_mass"
    )
    flow = add_rows(now.mass_flow)
    stays = (venting.mass - add_rows(last[2:-2])) - venting.volume * rho_v
    span = venting.duration - last[0]
    dry_after = np.where(flow > 0.0, stays / np.where(flow > 0.0, flow, 1.0), np.inf)
    length = np.minimum(span, dry_after)
    held = np.repeat(at_rest[None], points - moving, axis=0)
    time = length * (np.arange(1, points - moving + 1) / (points - moving))[:, None]
    held[:, 0] += time
    held[:, 2:-2] += now.mass_flow * time[:, None]
    # heat is what closes the energy balance: the flow's, and the hair by which the way ended short of rest
    held[:, -2] += now.energy_off + flow * (h_v - a) * time
    held[:, -1] += flow * h_v * time
    runs_dry = dry_after < span
    held[-1, 0] = np.where(runs_dry, held[-1, 0], venting.duration)
    codes = np.where(runs_dry, LIQUID_GONE, DURATION)
    kept = np.flatnonzero(good & (stays > 0.0))
    stood = venting.inventory(held[:, 1], np.moveaxis(held[:, 2:-2], 1, 0), held[:, -2] - held[:, -1])
    inventory = _joined([moved, stood], axis=-2)
    states = np.concatenate([states, held])
    return Quadrature(states[..., kept], inventory.take(kept), codes[kept], rest[kept], kept)


def _along(venting: Venting, road: Road, points: int) -> tuple[FloatArray, Inventory, BoolArray]:
    """States and inventories at `points` points along the road, and whether they hold."""
    steps, rows = laid_out(points)
    distance, slope = road.distances(steps)
    temperature = road.rest + road.side * distance
    temperature[0], temperature[-1] = road.start, road.end
    states, inventory, good = _integrate(venting, temperature, slope)
    if rows.size <= POINTS * steps:
        states, inventory = states[rows], inventory.take(rows, slice(None))
    return states, inventory, good


def _integrate(
    venting: Venting, temperature: FloatArray, slope: FloatArray
) -> tuple[FloatArray, Inventory, BoolArray]:
    """States and inventories at the points (5 steps + 1, n) of all steps, and which scenarios hold.

    `slope`: of temperature by the measure in which steps are even.
    """
    p, h_v, s_v, choked, ratio, a, b, a_slope, b_slope, rho_l, rho_v = venting.table.saturated(
        temperature, *NODES
    )
    flow = venting.vapor_flow((p, h_v, s_v, choked, ratio))
    heat = venting.heat.rate(temperature)
    net = heat - flow * h_v
    per_net = slope / (net + flow * a)
    fixed = venting.volume * b + venting.wall_capacity * temperature
    gains = _since_start(a), _since_start(fixed)
    slopes = a_slope * per_net, (venting.volume * b_slope + venting.wall_capacity) * per_net
    a_at = _by_step(a[1:])
    mass = np.empty_like(temperature)
    mass[...] = venting.mass
    for _ in range(SWEEPS):
        weight = mass * slopes[0] + slopes[1]
        per_total = 1.0 / integrals(_at_points(weight))
        m = integrals(_at_points(weight * flow)) * per_total
        e = integrals(_at_points(weight * net)) * per_total
        per_energy = 1.0 / (e + m * a_at)
        took = _steps_on(mass, (m, per_energy), gains)
    q = integrals(_at_points(weight * heat)) * per_total
    states = np.zeros((len(temperature), venting.area.shape[0] + 4, temperature.shape[1]))
    for row, step in ((0, took), (-2, q * took), (-1, (q - e) * took)):
        _add_up(states[:, row], step)
    states[:, 1] = temperature
    shares = _shares(venting, p)
    if shares.shape[1] == 1:
        states[:, 2:-2] = np.moveaxis(shares * (venting.mass - mass), 0, 1)
    else:
        for j, share in enumerate(shares):
            _add_up(states[:, 2 + j], integrals(_at_points(weight * flow * share)) * per_total * took)
    v_l, v_v = 1.0 / rho_l, 1.0 / rho_v
    vapor = (venting.volume - mass * v_l) / (v_v - v_l)
    liquid = mass - vapor
    off = mass * a + fixed - venting.energy - (states[:, -2] - states[:, -1])
    now = Inventory(p, liquid * v_l, liquid, vapor, shares * flow, off)
    return states, now, (took > 0.0).all(axis=(0, 1)) & _stays_dry(venting, now.liquid_volume)


def _at_points(values: FloatArray) -> list[FloatArray]:
    """Values at each of the points of all steps, their starts first, (steps, n), from those at all points."""
    return [values[:-1:POINTS], *(values[i::POINTS] for i in range(1, POINTS + 1))]


def _by_step(values: FloatArray) -> FloatArray:
    """Values (5 steps, n) by step (steps, 5, n)."""
    return values.reshape(len(values) // POINTS, POINTS, values.shape[-1])


def _since_start(values: FloatArray) -> FloatArray:
    """Return what values at all points have gained since their step's start (steps, 5, n)."""
    return _by_step(values[1:]) - values[:-1:POINTS, None]


def _steps_on(
    mass: FloatArray, means: tuple[FloatArray, FloatArray], gains: tuple[FloatArray, FloatArray]
) -> FloatArray:
    """Fill in the mass at all points, by what closes mass and energy; the time since each step's start.

    `means`: flow, and one over what energy it takes from those that stay; `gains`: of a and of what is there
    whatever the mass; all (steps, 5, n).
    """
    (m, per_energy), (gain_a, gain_b) = means, gains
    for k in range(len(m)):
        start = mass[POINTS * k]
        gain = start * gain_a[k, -1] + gain_b[k, -1]
        np.subtract(start, m[k, -1] * (gain * per_energy[k, -1]), out=mass[POINTS * (k + 1)])
    start = mass[:-1:POINTS, None]
    took: FloatArray = (start * gain_a + gain_b) * per_energy
    _by_step(mass[1:])[:, :-1] = (start - m * took)[:, :-1]
    return took


def _add_up(row: FloatArray, since_start: FloatArray) -> None:
    """Fill in a component at all points (5 steps + 1, n) from what it gained since its step's start."""
    for k, step in enumerate(since_start):
        np.add(row[POINTS * k], step, out=row[POINTS * k + 1 : POINTS * (k + 1) + 1])


def _shares(venting: Venting, pressure: FloatArray) -> FloatArray:
    """Share of each opening in the flow at all nodes, (J, nodes, n), or (J, 1, n) where it is constant."""
    if not any(venting.lines):
        area = add_rows(venting.area)
        return (venting.area / np.where(area > 0.0, area, 1.0))[:, None]
    each = venting.vapor_shares(pressure)
    total = add_rows(each)
    return each / np.where(total > 0.0, total, 1.0)


def _stays_dry(venting: Venting, liquid_volume: FloatArray) -> BoolArray:
    """Whether liquid is left all the time, and never rises to an opening or fills the tank."""
    stays = ((liquid_volume > 0.0) & (liquid_volume < venting.volume)).all(axis=0)
    for most in venting.fills_at:
        stays &= (liquid_volume < most).all(axis=0)
    return np.asarray(stays)
