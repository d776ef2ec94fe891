"""Marching in temperature: tanks that vent vapor only, or are shut, from one temperature to another.

As long as no liquid leaves, every rate is a function of temperature alone, and temperature moves one way
until the stop or the temperature of rest. So the temperatures of all steps are known beforehand, all
properties come from the tables at once, and time and mass follow by quadrature.

Notes
-----
With N = Q' - mdot (h_v - a) the net heat of equation (2) in `lpgrelease.tank.venting`, a step from T_0 to
T_1 takes the time dt and lets out the mass dM for which mass and energy close exactly:

    dM = -m dt,    (M + dM) a_1 - M a_0 + V (B_1 - B_0) + C_w (T_1 - T_0) = (q - e) dt

m, q and e are the means over the step's time of flow, heat rate and enthalpy rate, by Gauss's rule of two
points weighted with dt/dT = C/N. Steps are even in ln|T - T_r| (heat from outside: T nears the rest
T_r exponentially) or in sqrt(T - T_b) (none: it comes to the boiling point in finite time), with a
step's end where choking ends, since the flux has a corner there. Error of fourth order.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from lpgrelease.marching import IntArray
from lpgrelease.quantities import FloatArray
from lpgrelease.release.nozzle import SATURATED_VAPOR_INLET
from lpgrelease.results import BoolArray
from lpgrelease.tank.venting import GAUGE_PRESSURE, SETTLED, SETTLED_WITHIN, Venting, add_rows

__all__ = ["FEWEST_STEPS", "Quadrature", "march_in_temperature"]

FEWEST_STEPS = 32
GAUSS = (0.5 - 0.5 / 3.0**0.5, 0.5 + 0.5 / 3.0**0.5)
SWEEPS = 3
"""Times the mass at the Gauss points is put back into their weights; each sweep gains an order."""
ROOT_STEPS = 16
CHOKE_STEPS = 6
LEAST_DISTANCE = 1e-9
"""Steps end this far [K] from a rest that only an infinite number of them would reach."""

AT_ENDS = ("inventory_energy_per_mass", "inventory_energy_per_volume", "liquid_density", "vapor_density")
AT_GAUSS = (
    *SATURATED_VAPOR_INLET,
    "inventory_energy_per_mass",
    "inventory_slope_per_mass",
    "inventory_slope_per_volume",
)


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Quadrature:
    """Histories by quadrature, of those scenarios that could be had so.

    Parameters
    ----------
    states : ndarray, shape (steps + 1, openings + 4, n)
        Time, temperature, released masses, heat gained and enthalpy released.
    codes : ndarray, shape (n,)
        Why each ended.
    rest : ndarray, shape (n,)
        Temperature of rest [K].
    served : ndarray of int, shape (n,)
        Which of the scenarios asked for these are: temperature moves one way, no liquid leaves, and no
        other event comes first.
    """

    states: FloatArray
    codes: IntArray
    rest: FloatArray
    served: IntArray


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class _Road:
    """Temperatures from `start` to `end`; they shun `rest` and have a step's end at `corner`; (n,) each."""

    start: FloatArray
    end: FloatArray
    rest: FloatArray
    corner: FloatArray
    is_square: BoolArray
    codes: IntArray
    valid: BoolArray

    def distances(self, steps: int, offset: float) -> tuple[FloatArray, FloatArray]:
        """|T - rest| at `offset` (0 to 1) of every step, and its derivative by the number of steps."""
        first, last = (np.maximum(np.abs(t - self.rest), LEAST_DISTANCE) for t in (self.start, self.end))
        middle = np.maximum(np.abs(self.corner - self.rest), LEAST_DISTANCE)
        y0, y1, y2 = (np.where(self.is_square, np.sqrt(d), np.log(d)) for d in (first, middle, last))
        half = steps // 2
        share = ((np.arange(half) + offset) / half)[:, None]
        y = np.concatenate([y0 + (y1 - y0) * share, y1 + (y2 - y1) * share])
        slope = np.concatenate(
            [np.broadcast_to(d / half, share.shape[:1] + d.shape) for d in (y1 - y0, y2 - y1)]
        )
        distance = np.where(self.is_square, y * y, np.exp(np.where(self.is_square, 0.0, y)))
        return distance, slope * np.where(self.is_square, 2.0 * y, distance)

    def take(self, index: IntArray) -> _Road:
        """Return the scenarios `index` alone."""
        return _Road(*(getattr(self, f.name)[index] for f in dataclasses.fields(self)))


def march_in_temperature(venting: Venting, temperature: FloatArray, steps: int) -> Quadrature:
    """Histories from `temperature` (n,) in an even number of steps, of those that can be had so."""
    boiling = venting.table.saturation_temperature(venting.nozzle.pressure)
    warm = np.flatnonzero((temperature > boiling) | (add_rows(venting.area) == 0.0))
    road = _road(venting.take(warm), temperature[warm], boiling[warm])
    valid = np.flatnonzero(road.valid)
    chosen = warm[valid]
    part, road = venting.take(chosen), road.take(valid)
    side = np.where(road.start > road.rest, 1.0, -1.0)
    ends = np.empty((steps + 1, chosen.size))
    ends[:-1], ends[-1] = road.rest + side * road.distances(steps, 0.0)[0], road.end
    ends[0] = road.start
    gauss = [road.distances(steps, offset) for offset in GAUSS]
    t_gauss = np.array([road.rest + side * d for d, _ in gauss])
    by_step = np.array([slope for _, slope in gauss]) * side
    states, good = _integrate(part, ends, t_gauss, by_step)
    kept = np.flatnonzero(good)
    return Quadrature(states[..., kept], road.codes[kept], road.rest[kept], chosen[kept])


def _net_heat(venting: Venting, temperature: FloatArray) -> FloatArray:
    """N [W] of equation (2) with every opening passing vapor."""
    values = venting.table.saturated(temperature, *SATURATED_VAPOR_INLET, "inventory_energy_per_mass")
    flow = add_rows(venting.area) * venting.nozzle.flux(*values[:5])[0]
    return venting.heat.rate(temperature) - flow * (values[1] - values[5])


def _root(
    venting: Venting, base: FloatArray, one: FloatArray, other: FloatArray
) -> tuple[FloatArray, BoolArray]:
    """Temperature between `one` and `other` where N vanishes, and whether there is one.

    By Anderson and Bjorck's regula falsi in sqrt(T - base): near its boiling point a venting tank's N
    goes like sqrt(T - T_b), elsewhere nearly linearly.
    """
    y_old, y_new = np.sqrt(one - base), np.sqrt(other - base)
    f_old, f_new = _net_heat(venting, one), _net_heat(venting, other)
    least, most = np.minimum(y_old, y_new), np.maximum(y_old, y_new)
    found = f_old * f_new < 0.0
    size = np.maximum(np.abs(f_old), np.abs(f_new))
    for _ in range(ROOT_STEPS):
        gap = np.where(f_new != f_old, f_new - f_old, 1.0)
        y = np.clip((y_old * f_new - y_new * f_old) / gap, least, most)
        f = _net_heat(venting, base + y * y)
        beyond = f * f_new < 0.0
        weight = 1.0 - f / np.where(f_new != 0.0, f_new, 1.0)
        weight = np.where(beyond, 1.0, np.where(weight > 0.0, weight, 0.5))
        y_old, f_old = np.where(beyond, y_new, y_old), np.where(beyond, f_new, f_old) * weight
        y_new, f_new = y, f
    return base + y * y, found & (np.abs(f) <= 1e-9 * size)


def _road(venting: Venting, start: FloatArray, boiling: FloatArray) -> _Road:
    """Where each scenario's temperature goes; `valid` only where that is one way, to a stop or a rest."""
    table = venting.table
    is_open = add_rows(venting.area) > 0.0
    cooling = _net_heat(venting, start) < 0.0
    base = np.where(is_open, boiling, table.lowest_temperature)
    reach = np.where(
        is_open & cooling, boiling, np.where(cooling, table.lowest_temperature, table.highest_temperature)
    )
    valid = np.ones(start.shape, dtype=np.bool_)
    # no heat from outside, or the air is colder than the boiling point: nothing stops it above that
    is_square = is_open & cooling & (venting.heat.rate(boiling) <= 0.0)
    rest = boiling
    if not is_square.all():
        root, found = _root(venting, base, np.where(is_square, start, reach), start)
        rest = np.where(is_square, boiling, root)
        valid &= is_square | found
    stop, sign = venting.stop_temperature, venting.stop_sign
    reaches = np.where(cooling, (sign > 0.0) & (stop >= rest), (sign < 0.0) & (stop < rest))
    reaches &= ~is_square | (stop >= boiling)
    settled_at = rest + np.where(cooling, 0.5, -0.5) * SETTLED_WITHIN
    end = np.where(reaches, stop, settled_at)
    valid &= (np.abs(start - end) > 1e-3) & (np.where(cooling, start > end, start < end))
    valid &= reaches | ~is_square
    corner = _choking_ends(venting, boiling)
    low, high = np.minimum(start, end), np.maximum(start, end)
    margin = 0.02 * (high - low)
    inside = is_open & (corner > low + margin) & (corner < high - margin)
    codes = np.where(reaches, GAUGE_PRESSURE, SETTLED)
    d0, d1 = (np.maximum(np.abs(t - rest), LEAST_DISTANCE) for t in (start, end))
    even = np.where(is_square, 0.25 * np.square(np.sqrt(d0) + np.sqrt(d1)), np.sqrt(d0 * d1))
    corner = np.where(inside, corner, rest + np.where(start > rest, even, -even))
    return _Road(start, end, rest, corner, is_square, codes, valid)


def _choking_ends(venting: Venting, boiling: FloatArray) -> FloatArray:
    """Temperature at which the flow of saturated vapor ceases to choke, by fixed-point steps."""
    temperature = boiling
    for _ in range(CHOKE_STEPS):
        ratio = venting.table.saturated(temperature, "vapor_critical_ratio")[0]
        pressure = np.minimum(venting.nozzle.pressure / ratio, 0.99 * venting.table.critical_pressure)
        temperature = venting.table.saturation_temperature(pressure)
    return temperature


def _integrate(
    venting: Venting, ends: FloatArray, t_gauss: FloatArray, by_step: FloatArray
) -> tuple[FloatArray, BoolArray]:
    """States at the temperatures `ends` (steps + 1, n) by the Gauss points (2, steps, n); which hold."""
    a, b, rho_l, rho_v = venting.table.saturated(ends, *AT_ENDS)
    p, h_v, s_v, choked, ratio, a_g, a_slope, b_slope = venting.table.saturated(t_gauss, *AT_GAUSS)
    flow = add_rows(venting.area) * venting.nozzle.flux(p, h_v, s_v, choked, ratio)[0]
    heat = venting.heat.rate(t_gauss)
    net = heat - flow * (h_v - a_g)
    fixed = venting.volume * b_slope + venting.wall_capacity
    gain_a = a[1:] - a[:-1]
    gain_b = venting.volume * (b[1:] - b[:-1]) + venting.wall_capacity * (ends[1:] - ends[:-1])
    share = (t_gauss - ends[:-1]) / (ends[1:] - ends[:-1])
    mass = np.empty_like(ends)
    mass[...] = venting.mass
    for _ in range(SWEEPS):
        at_gauss = mass[:-1] + share * (mass[1:] - mass[:-1])
        weight = (at_gauss * a_slope + fixed) / net * by_step
        total = weight[0] + weight[1]
        m, q, e = ((weight[0] * x[0] + weight[1] * x[1]) / total for x in (flow, heat, flow * h_v))
        per_energy = 1.0 / (q - e + m * a[1:])
        for k in range(len(m)):
            mass[k + 1] = mass[k] - m[k] * per_energy[k] * (mass[k] * gain_a[k] + gain_b[k])
    took = (mass[:-1] * gain_a + gain_b) * per_energy
    states = np.zeros((ends.shape[0], venting.area.shape[0] + 4, ends.shape[1]))
    for row, step in ((0, took), (-2, q * took), (-1, e * took)):
        states[1:, row] = np.add.accumulate(step, axis=0)
    states[:, 1] = ends
    area = add_rows(venting.area)
    for j, own in enumerate(venting.area):
        states[:, 2 + j] = own / np.where(area > 0.0, area, 1.0) * (venting.mass - mass)
    vapor = (venting.volume - mass / rho_l) / (1.0 / rho_v - 1.0 / rho_l)
    liquid_volume = (mass - vapor) / rho_l
    valid = (weight > 0.0).all(axis=(0, 1)) & (states[-1, 0] <= venting.duration)
    valid &= ((liquid_volume > 0.0) & (liquid_volume < venting.volume)).all(axis=0)
    for most in venting.fills_at:
        valid &= (liquid_volume < most).all(axis=0)
    return states, valid
