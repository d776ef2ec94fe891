"""Where the temperature of a tank goes that vents vapor only, or is shut.

Every rate is then a function of temperature alone, so temperature moves one way: to the stop, or towards
the temperature of rest, where the heat from outside is what boiling takes up.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.release.nozzle import SATURATED_VAPOR_INLET
from lpgrelease.results import BoolArray, IntArray, scenarios_of
from lpgrelease.summing import add_rows
from lpgrelease.tank.lobatto import places
from lpgrelease.tank.venting import GAUGE_PRESSURE, NEVER, SETTLED, SETTLED_WITHIN, Venting

__all__ = ["LEAST_DISTANCE", "Road", "find_road", "rest_when_dry"]

FIRST_STEPS, MORE_STEPS = 5, 10
"""Steps to a root for all, and for those still on their way."""
HOME, NEAR_ENOUGH = 1e-12, 1e-9
"""Of the larger net heat at the ends: what counts as none, and what is taken for it after all steps."""
CHOKE_STEPS = 3
LEAST_DISTANCE = 1e-7
"""The way ends this far [K] short of a rest: there the rates vanish, and their ratios lose their digits."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Road:
    """Temperatures from `start` to `end`, none beyond `rest`; each (n,).

    Parameters
    ----------
    start, end, rest : ndarray
        [K]; `end` lies between the other two.
    corner : ndarray
        Temperature at which choking ends [K]: the flux has a corner there.
    is_square : ndarray of bool
        The way is even in sqrt|T - rest| (it ends in finite time), not in ln|T - rest|.
    codes : ndarray of int
        Why a history that comes to `end` ends there.
    valid : ndarray of bool
        Whether temperature moves one way, to a stop or a rest.
    resting : ndarray of bool
        Whether `start` is as near to the rest as counts as settled: there is no way to go.
    """

    start: FloatArray
    end: FloatArray
    rest: FloatArray
    corner: FloatArray
    is_square: BoolArray
    codes: IntArray
    valid: BoolArray
    resting: BoolArray

    @property
    def side(self) -> FloatArray:
        """+1 where temperature comes down, -1 where it rises."""
        return np.where(self.start > self.rest, 1.0, -1.0)

    def laid_out(self, steps: int) -> tuple[FloatArray, FloatArray]:
        """Lay out even steps: how many come before the corner (n,), and their measure (4, n).

        That is the measure at the start and at the corner, and its rise by step before and after. The
        corner, where it is on the way, is an end of a step: three eighths to half of them lie before it, by
        its place on the way.
        """
        first, last = (np.maximum(np.abs(t - self.rest), LEAST_DISTANCE) for t in (self.start, self.end))
        low, high = np.minimum(self.start, self.end), np.maximum(self.start, self.end)
        margin = 0.02 * (high - low)
        on_the_way = (self.corner > low + margin) & (self.corner < high - margin)
        middle = np.where(on_the_way, np.abs(self.corner - self.rest), 1.0)
        y0, y1, y2 = (np.where(self.is_square, np.sqrt(d), np.log(d)) for d in (first, middle, last))
        y1 = np.where(on_the_way, y1, 0.5 * (y0 + y2))
        share = (y1 - y0) / (y2 - y0)
        before = np.clip(np.rint(steps * share), -(-3 * steps // 8), steps // 2)
        return before, np.array([y0, y1, (y1 - y0) / before, (y2 - y1) / (steps - before)])

    def distances(self, steps: int) -> tuple[FloatArray, FloatArray]:
        """|T - rest| at the points of the steps (`lpgrelease.tank.lobatto`), and its slope by the measure."""
        before, (y0, y1, early, late) = self.laid_out(steps)
        place = places(steps)[:, None]
        is_before = place < before
        y = np.where(is_before, y0, y1 - before * late) + place * np.where(is_before, early, late)
        if self.is_square.any():
            distance = np.where(self.is_square, y * y, np.exp(np.where(self.is_square, 0.0, y)))
            slope = np.where(self.is_square, 2.0 * y, distance)
        else:
            distance = slope = np.exp(y)
        return distance, slope

    def take(self, index: IntArray) -> Road:
        """Return the scenarios `index` alone."""
        return scenarios_of(self, index)


def _net_heat(venting: Venting, temperature: FloatArray) -> FloatArray:
    """N [W] of equation (2) with every opening passing vapor."""
    values = venting.table.saturated(temperature, *SATURATED_VAPOR_INLET, "inventory_energy_per_mass")
    flow = venting.vapor_flow(values)
    return venting.heat.rate(temperature) - flow * (values[1] - values[5])


def _root(
    venting: Venting, base: FloatArray, one: FloatArray, other: tuple[FloatArray, FloatArray]
) -> tuple[FloatArray, BoolArray]:
    """Temperature between `one` and `other` where N vanishes, and whether there is one.

    N at `other` comes with it. In sqrt(T - base): near its boiling point a venting tank's N goes like
    sqrt(T - T_b), elsewhere nearly linearly. The few that the first steps do not bring home take more, by
    themselves.
    """
    bracket = np.array([np.sqrt(one - base), np.sqrt(other[0] - base), _net_heat(venting, one), other[1]])
    found = bracket[2] * bracket[3] < 0.0
    largest = np.maximum(np.abs(bracket[2]), np.abs(bracket[3]))
    home = np.where(found, HOME * largest, np.inf)
    bracket = _close_in(venting, base, bracket, home, FIRST_STEPS)
    late = np.flatnonzero(np.abs(bracket[3]) > home)
    if late.size:
        bracket[:, late] = _close_in(venting.take(late), base[late], bracket[:, late], home[late], MORE_STEPS)
    y = bracket[1]
    return base + y * y, found & (np.abs(bracket[3]) <= NEAR_ENOUGH * largest)


def _close_in(
    venting: Venting, base: FloatArray, bracket: FloatArray, home: FloatArray, steps: int
) -> FloatArray:
    """Anderson and Bjorck's regula falsi; `bracket`: y and N at the older and the newer point, (4, n).

    What has come `home` stays: of round-off a step would make a leap.
    """
    y_old, y_new, f_old, f_new = bracket
    for _ in range(steps):
        stays = np.abs(f_new) <= home
        if stays.all():
            break
        gap = np.where(f_new != f_old, f_new - f_old, 1.0)
        y = (y_old * f_new - y_new * f_old) / gap
        y = np.where(stays, y_new, np.clip(y, np.minimum(y_old, y_new), np.maximum(y_old, y_new)))
        f = _net_heat(venting, base + y * y)
        beyond = f * f_new < 0.0
        weight = 1.0 - f / np.where(f_new != 0.0, f_new, 1.0)
        weight = np.where(beyond, 1.0, np.where(weight > 0.0, weight, 0.5))
        y_old, f_old = np.where(beyond, y_new, y_old), np.where(beyond, f_new, f_old) * weight
        y_new, f_new = y, f
    return np.array([y_old, y_new, f_old, f_new])


def find_road(venting: Venting, start: FloatArray, boiling: FloatArray) -> Road:
    """Where each scenario's temperature goes from `start`; `boiling` is the boiling point in the open [K]."""
    table = venting.table
    is_open = add_rows(venting.area) > 0.0
    at_start = _net_heat(venting, start)
    cooling = at_start < 0.0
    base = np.where(is_open, boiling, table.lowest_temperature)
    reach = np.where(cooling, base, table.highest_temperature)
    at_boiling = venting.heat.rate(boiling)
    # no heat from outside, or the air is colder than the boiling point: nothing stops it above that
    is_square = is_open & cooling & (at_boiling <= 0.0)
    rest, found = boiling, is_square
    if not is_square.all():
        root, found = _root(venting, base, np.where(is_square, start, reach), (start, at_start))
        rest = np.where(is_square, boiling, root)
    stop, sign = venting.stop_temperature, venting.stop_sign
    reaches = np.where(cooling, (sign > 0.0) & (stop >= rest), (sign < 0.0) & (stop < rest))
    gap = np.where(is_square, LEAST_DISTANCE, 0.5 * SETTLED_WITHIN)
    end = np.where(reaches, stop, rest + np.where(cooling, gap, -gap))
    end = np.where(cooling, np.maximum(end, rest + LEAST_DISTANCE), end)
    valid = (is_square | found) & (np.abs(start - end) > SETTLED_WITHIN) & (cooling == (start > end))
    # below its boiling point a tank in colder air goes on cooling: no rest there
    valid &= reaches | ~is_square | (at_boiling == 0.0)
    codes = np.where(reaches, GAUGE_PRESSURE, SETTLED)
    resting = found & ~is_square & ~reaches & (np.abs(start - rest) <= SETTLED_WITHIN)
    return Road(start, end, rest, _choking_ends(venting, boiling), is_square, codes, valid, resting)


def _passes_its_stop(venting: Venting, temperature: FloatArray) -> BoolArray:
    """Whether each moves towards its stop both at `temperature` and at the stop: its rest lies beyond."""
    sign = venting.stop_sign
    at_start, at_stop = _net_heat(venting, np.array([temperature, venting.stop_temperature]))
    return np.asarray((sign * at_start < 0.0) & (sign * at_stop < 0.0))


def rest_when_dry(venting: Venting, temperature: FloatArray) -> FloatArray:
    """Temperature at which each settles once all its openings pass vapor, or `NEVER` if it does not (n,).

    For tanks at `temperature` (n,) above their boiling points in the open.
    """
    boiling = venting.table.saturation_temperature(venting.nozzle.pressure)
    rest = np.full(temperature.shape, NEVER)
    passes = _passes_its_stop(venting, temperature)
    warm = np.flatnonzero(venting.stops_settled & (temperature > boiling) & ~passes)
    if warm.size:
        dry = dataclasses.replace(venting, wet=np.zeros_like(venting.wet)).take(warm)
        road = find_road(dry, temperature[warm], boiling[warm])
        rest[warm] = np.where(road.valid & (road.codes == SETTLED), road.rest, NEVER)
    return rest


def _choking_ends(venting: Venting, boiling: FloatArray) -> FloatArray:
    """Temperature at which the flow of saturated vapor ceases to choke, by fixed-point steps."""
    temperature = boiling
    for _ in range(CHOKE_STEPS):
        ratio = venting.table.saturated(temperature, "vapor_critical_ratio")[0]
        pressure = np.minimum(venting.nozzle.pressure / ratio, 0.99 * venting.table.critical_pressure)
        temperature = venting.table.saturation_temperature(pressure)
    return temperature
