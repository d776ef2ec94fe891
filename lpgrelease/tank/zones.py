"""The equations of a tank with all that may be added: two walls, superheated vapor, gas, valves, transfers.

Notes
-----
Added to `lpgrelease.tank.venting`, each only where asked for:

Gas of mass G beside the saturated vapor (`lpgrelease.tank.vapor_space`): P = p(T) + p_g, p_g V_v = G R_g T,
and U gains G c_v T. Liquid leaves with h_l + p_g v_l.

Two walls, each at its own temperature, the metal shared as the inside surface is, s wet and 1 - s dry:

    s C_w dT_w/dt = A_w q(T_w) - A_w q_w(T_w - T) + X (T_d - T_w) + max(ds/dt, 0) C_w (T_d - T_w)       (3)
    (1 - s) C_w dT_d/dt = A_d q(T_d) - A_d h_d (T_d - T_v) - Q_r - X (T_d - T_w)
                          + max(-ds/dt, 0) C_w (T_w - T_d)

with q the heat flux from outside, q_w that of boiling, Q_r what the dry wall shines on the liquid
(`lpgrelease.tank.outside`), X the conductance along the metal at the waterline; metal that the level passes
changes over at its own temperature, so that the wall's energy is kept; max is rounded where the level rests.

Vapor at its own temperature, superheated by eta = h - h_v(T), T the liquid's, saturated at the one pressure.
With e what evaporates and Q_l, Q_v the heat that liquid and vapor take,

    (m_l h_l' - V_l p') dT/dt = Q_l - e L                                                              (4)
    m_v (h_v' dT/dt + deta/dt) - V_v p' dT/dt = Q_v - e eta
    d(m_l v_l + m_v v(T, eta))/dt = 0

primes along saturation. Vapor colder than saturated by more than `FOG_WITHIN` comes back to it at `FOG_RATE`.

After each step temperatures are put back on the balance of total energy (`lpgrelease.tank.zone_energy`).

A hole passes liquid until the level has come down to its middle, then vapor; from when the level first rises
to its top it passes both, liquid by the share of the way between that is covered.
"""

from __future__ import annotations

import dataclasses
from functools import cached_property
from typing import Self

import numpy as np

from lpgrelease.elementwise import every, some
from lpgrelease.fluids.curve import SaturationCurve
from lpgrelease.fluids.table import FluidTable
from lpgrelease.quantities import FloatArray
from lpgrelease.release.nozzle import SaturatedVaporNozzle
from lpgrelease.results import BoolArray, IntArray, scenarios_of
from lpgrelease.summing import add_rows
from lpgrelease.tank.flux_table import OpeningFluxes
from lpgrelease.tank.levels import LevelTable
from lpgrelease.tank.outlets import PreparedLine
from lpgrelease.tank.outside import Surroundings
from lpgrelease.tank.superheated import SuperheatedVapor
from lpgrelease.tank.valves import Valves
from lpgrelease.tank.vapor_space import PermanentGas
from lpgrelease.tank.venting import SETTLED_WITHIN, rest_temperature
from lpgrelease.tank.zone_energy import energy_of, enthalpy_rate, put_back, with_level
from lpgrelease.tank.zone_flows import flows
from lpgrelease.tank.zone_phases import phases_of
from lpgrelease.tank.zone_rates import two_temperatures, wall_temperatures
from lpgrelease.tank.zone_signals import moment_of, signals_of
from lpgrelease.tank.zone_state import (
    BALANCES,
    COLD_MARGIN,
    COLDEST_WALL,
    DRY_WALL,
    ENDS,
    FIRST_RELEASED,
    GAS,
    HOT_MARGIN,
    HOTTEST_WALL,
    LEAST_ROOM,
    RELEASED,
    REST,
    SUPERHEAT,
    TEMPERATURE,
    TIME,
    WALLS,
    WET_WALL,
    Moment,
    Now,
    Stop,
    per_point,
)

__all__ = ["Zones"]


@dataclasses.dataclass(frozen=True, eq=False)
class Zones:
    """Tanks of one fluid, n of them, each with J openings and then transfers; R rows of released mass.

    Parameters
    ----------
    table, curve, levels, nozzle, fluxes : FluidTable, SaturationCurve, LevelTable, SaturatedVaporNozzle, \
            OpeningFluxes
    outside : Surroundings
        Heat from outside, and the walls' exchange with the contents; says whether there are two walls.
    vapor : SuperheatedVapor, optional
        Given where the vapor has its own temperature.
    gas : PermanentGas, optional
        Given where there may be gas.
    air_enters : bool
        Air flows in where the tank's pressure is below it.
    volume, mass, energy, wall_capacity, duration, air_temperature : ndarray, shape (n,)
    stops : tuple of Stop
    area, height, empties_at, fills_at : ndarray, shape (J, n)
    lines : tuple
        As in `Venting`.
    valves : Valves
        Which openings are relief valves, and how they stand.
    transfer_rates, transfer_enthalpies : ndarray, shape (X, n)
        Mass into the tank [kg/s], and its enthalpy where it comes in [J/kg].
    transfer_liquid : tuple of bool
        What leaves by a transfer.
    wet, partly : ndarray of bool, shape (J, n)
        Openings under the liquid, and those to which it has risen: from then on the share of the hole that it
        covers passes liquid, so that a level that hangs there does not beat up and down.
    stops_settled : ndarray of bool, shape (n,)
    """

    table: FluidTable
    curve: SaturationCurve
    levels: LevelTable
    nozzle: SaturatedVaporNozzle
    fluxes: OpeningFluxes
    outside: Surroundings
    vapor: SuperheatedVapor | None
    gas: PermanentGas | None
    air_enters: bool
    volume: FloatArray
    mass: FloatArray
    energy: FloatArray
    wall_capacity: FloatArray
    duration: FloatArray
    air_temperature: FloatArray
    stops: tuple[Stop, ...]
    area: FloatArray
    height: FloatArray
    empties_at: FloatArray
    fills_at: FloatArray
    lines: tuple[PreparedLine | None, ...]
    valves: Valves
    transfer_rates: FloatArray
    transfer_enthalpies: FloatArray
    transfer_liquid: tuple[bool, ...]
    wet: BoolArray
    partly: BoolArray
    stops_settled: BoolArray

    # -- the march's protocol ----------------------------------------------------------------------------

    @cached_property
    def directions(self) -> tuple[int, ...]:
        """Components along which the rates change."""
        rows = [TEMPERATURE]
        if self.vapor is not None:
            rows.append(SUPERHEAT)
        if self.outside.two_walls:
            rows += [WET_WALL, DRY_WALL]
        if self.gas is not None:
            rows.append(GAS)
        if self.rows:
            rows.append(FIRST_RELEASED)
        return tuple(rows)

    @property
    def rows(self) -> int:
        """Number of openings and transfers."""
        return int(self.area.shape[0] + self.transfer_rates.shape[0])

    @cached_property
    def functionals(self) -> FloatArray:
        """One for each direction; that of the released mass is the sum of all that is released."""
        table = np.zeros((len(self.directions), FIRST_RELEASED + self.rows + 2))
        for into, row in zip(table, self.directions, strict=True):
            into[row] = 1.0
            if row == FIRST_RELEASED:
                into[RELEASED] = 1.0
        return table

    @cached_property
    def increments(self) -> FloatArray:
        """How far to move along each direction."""
        kelvin = np.full(self.volume.size, 1e-7)
        sizes = {
            SUPERHEAT: 1e4 * kelvin,
            GAS: 1e-9 * self.volume,
            FIRST_RELEASED: 1e-9 * self.mass,
        }
        return np.array([sizes.get(row, kelvin) for row in self.directions])

    def evaluate(self, state: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the state put back on the balance of energy, its rates and the events' signals."""
        now = self._now(state)
        rates = np.zeros(state.shape)
        rates[TIME] = 1.0
        openings = self.area.shape[0]
        rates[FIRST_RELEASED : FIRST_RELEASED + openings] = now.flow
        if self.transfer_liquid:
            rates[FIRST_RELEASED + openings : -2] = -self.transfer_rates[:, None]
        if self.gas is not None:
            rates[GAS] = -add_rows(now.gas_flow)
        if self.outside.two_walls:
            self._rates_of_two_walls(now, rates)
        else:
            self._rates_of_one_wall(now, rates)
        return put_back(self, now, state), rates, signals_of(self, now, state)

    def on_balance(self, state: FloatArray) -> FloatArray:
        """Return `state` (components, points, n) put back on the balance of energy."""
        return put_back(self, self._now(state), state)

    def landed(self, events: BoolArray, state: FloatArray) -> tuple[Self, IntArray]:
        """End scenarios by their events; turn over phases at openings, and valves."""
        terminal = ENDS + len(self.stops)
        codes = np.zeros(events.shape[1], dtype=np.intp)
        for code in range(terminal, 0, -1):
            codes = np.where(events[code - 1], code, codes)
        openings = self.area.shape[0]
        turned = events[terminal : terminal + openings]
        partly, wet = self.partly | turned & ~self.wet, self.wet & ~turned
        valves = self.valves.switched(events[terminal + openings :])
        return dataclasses.replace(self, wet=wet, partly=partly, valves=valves), codes

    def settled(
        self, before: FloatArray, after: FloatArray, rates: tuple[FloatArray, FloatArray]
    ) -> IntArray:
        """End where temperatures are near their rest and no liquid leaves or comes, or as much as goes."""
        rest = rest_temperature(before[1], after[1], rates[0][1], rates[1][1])
        stays = self.stops_settled & (np.abs(rest - after[1]) < 0.5 * SETTLED_WITHIN)
        if not stays.any():
            return np.zeros(stays.size, dtype=np.intp)
        gone = rates[1][RELEASED]
        leaves = gone[: self.area.shape[0]] > 0.0
        still = ~((self.wet | self.partly) & leaves).any(axis=0) & (self.transfer_rates == 0.0).all(axis=0)
        stays &= still | (np.abs(add_rows(gone)) <= BALANCES * add_rows(np.abs(gone)))
        stays &= (np.abs(rates[1][WALLS]) < 1e-6).all(axis=0) & (rates[1][GAS] == 0.0)
        return np.where(stays, REST, 0)

    def at_rest(
        self, before: FloatArray, after: FloatArray, rates: tuple[FloatArray, FloatArray]
    ) -> tuple[FloatArray, FloatArray]:
        """Where temperatures come to, and how near to it they count as there."""
        rest, within = after.copy(), np.full(after.shape, np.inf)
        there = rest_temperature(before[1], after[1], rates[0][1], rates[1][1])
        rest[TEMPERATURE] = np.where(np.abs(there - after[1]) < 0.5 * SETTLED_WITHIN, there, after[1])
        within[TEMPERATURE] = 0.5 * SETTLED_WITHIN
        if self.outside.two_walls:
            within[WALLS] = 0.5 * SETTLED_WITHIN
        return rest, within

    def take(self, index: IntArray) -> Self:
        """Return the scenarios `index` alone."""
        return scenarios_of(self, index)

    def mode(self) -> FloatArray:
        """Which openings stand in liquid, which do so partly, and how the valves stand."""
        return np.concatenate([self.wet, self.partly, self.valves.is_open]).astype(np.float64)

    def in_mode(self, mode: FloatArray) -> Self:
        """Return the tanks with openings and valves as `mode` told, (flags, n) or (flags, points, n)."""
        openings, told = self.area.shape[0], mode > 0.5
        valves = self.valves.with_open(told[2 * openings :])
        return dataclasses.replace(
            self, wet=told[:openings], partly=told[openings : 2 * openings], valves=valves
        )

    def covered(self, filled: FloatArray) -> FloatArray | BoolArray:
        """Share of each opening that passes liquid where liquid fills so much (points, n), (J, ..., n)."""
        if not some(self.partly):
            return self.wet
        room = np.maximum(self.fills_at - self.empties_at, LEAST_ROOM * self.volume)
        share = (filled - self.empties_at[:, None]) / room[:, None]
        share = np.minimum(np.maximum(share, 0.0), 1.0)
        return np.where(per_point(self.partly), share, per_point(self.wet))

    def moment(self, state: FloatArray) -> Moment:
        """Return all that stands and flows at states (components, points, n)."""
        return moment_of(self, self._now(state), state)

    @cached_property
    def hottest(self) -> float:
        """Temperature of the liquid at which a history ends [K]."""
        return self.table.highest_temperature - HOT_MARGIN

    @cached_property
    def coldest(self) -> float:
        """The same at the lower end."""
        return self.table.lowest_temperature + COLD_MARGIN

    @cached_property
    def passes(self) -> tuple[tuple[bool, bool], ...]:
        """Of each opening, whether it passes liquid anywhere, and whether vapor."""
        liquid = self.wet | self.partly
        return tuple((some(some_of), not every(wet)) for some_of, wet in zip(liquid, self.wet, strict=True))

    @cached_property
    def turns(self) -> tuple[FloatArray, FloatArray]:
        """Volume of liquid at which each opening turns over, and 1 where its liquid falls to it, else -1."""
        bounds = np.where(self.wet, self.empties_at, np.where(self.partly, -self.volume, self.fills_at))
        return bounds[:, None], np.where(self.wet | self.partly, 1.0, -1.0)[:, None]

    # -- what stands in the tank -------------------------------------------------------------------------

    def _now(self, state: FloatArray) -> Now:
        # somewhat beyond where a history ends, so that its end may be put back on the balance
        low, high = self.table.lowest_temperature, self.table.highest_temperature
        t = np.minimum(np.maximum(state[TEMPERATURE], low), high)
        superheat = state[SUPERHEAT]
        if self.vapor is not None:
            superheat = np.minimum(np.maximum(superheat, self.vapor.least), self.vapor.most)
        mass = self.mass - add_rows(state[RELEASED])
        phases, vapor = phases_of(self, t, mass, superheat)
        gas, gas_pressure, pressure = state[GAS], np.zeros(t.shape), phases.pressure
        space = gas
        if self.gas is not None:
            space = np.maximum(self.volume - phases.filled, 1e-6 * self.volume)
            gas = np.maximum(gas, 0.0)
            gas_pressure = gas * self.gas.constant * t / space
            pressure = pressure + gas_pressure
        levels = self.levels.at(phases.filled)
        flow, gas_flow, outflows = flows(self, phases, vapor, (gas, gas_pressure, space), levels)
        walls, shares = state[WALLS], None
        if self.outside.two_walls:
            walls = np.minimum(np.maximum(walls, COLDEST_WALL), HOTTEST_WALL)
            shares = np.empty(walls.shape)
            shares[0], shares[1] = levels.wetted_share, 1.0 - levels.wetted_share
        energy, capacity, isobaric = energy_of(self, t, phases, mass, gas, walls, shares)
        off = energy - self.energy - (state[-2] - state[-1])
        energy_slope = with_level(self, capacity, phases, walls, levels)
        return Now(
            t, superheat, gas, walls, shares, phases, vapor, gas_pressure, pressure, levels, flow, gas_flow,
            outflows, isobaric, capacity, energy_slope, off,
        )  # fmt: skip

    # -- rates -------------------------------------------------------------------------------------------

    def _rates_of_one_wall(self, now: Now, rates: FloatArray) -> None:
        """Fill the rates of temperature, heat and enthalpy."""
        rates[-2] = self.outside.into_one(now.temperature, now.levels.wetted_share)
        rates[-1], _ = enthalpy_rate(self, now)
        rates[TEMPERATURE] = self._one_temperature(now, rates, rates[-2])

    def _one_temperature(self, now: Now, rates: FloatArray, heat: FloatArray) -> FloatArray:
        """dT/dt where liquid and vapor share T and take `heat` [W]."""
        net = heat - rates[-1] + (now.outflows[0] + now.outflows[1]) * now.phases.inventory[0]
        if self.gas is not None:
            net = net - rates[GAS] * (self.gas.isochoric * now.temperature)
        return np.asarray(net / now.capacity)

    def _rates_of_two_walls(self, now: Now, rates: FloatArray) -> None:
        """Fill the rates with two walls."""
        phases, t = now.phases, now.temperature
        t_v = t if now.vapor is None else now.vapor.temperature
        assert now.shares is not None
        heat, still = self.outside.into_two(
            t, t_v, now.walls, now.shares, now.levels.free_surface, phases.volumes[1], phases.further[-5:]
        )
        rates[-2] = heat.outside
        rates[-1], further = enthalpy_rate(self, now)
        if self.vapor is None:
            rates[TEMPERATURE] = self._one_temperature(now, rates, heat.inward[0] + heat.inward[1])
        else:
            two_temperatures(self, now, rates, heat.inward + further, still)
        wall_temperatures(self, now, rates, heat)
