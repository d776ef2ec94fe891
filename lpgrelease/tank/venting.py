"""The equations of a tank that leaks, vents and takes up heat, for many tanks at once.

State: time t, temperature T, the mass each opening has released, heat gained Q and enthalpy released H.

Notes
-----
Liquid, vapor and wall share one temperature T; V is fixed. With mass M = M0 - sum of what was released,

    U(M, T) = M a(T) + V B(T) + C_w T = U0 + Q - H                                           (1)
    B = T dp/dT - p,   a = h_l - v_l T dp/dT   (linear in M and V: both phases are saturated)
    (M a' + V B' + C_w) dT/dt = dQ/dt - sum of mdot_j (h_j - a)                               (2)
    dM/dt = -sum of mdot_j,   dH/dt = sum of mdot_j h_j

h_j is that of the phase standing at the opening. T is integrated by (2) and put back on (1) after each
step by one Newton correction, so that mass and energy close to round-off.
"""

from __future__ import annotations

import dataclasses
from typing import Any, NamedTuple, Self

import numpy as np

from lpgrelease.fluids.table import FluidTable
from lpgrelease.quantities import FloatArray
from lpgrelease.release.liquid import flux_driven_by, incompressible_flux
from lpgrelease.release.nozzle import SATURATED_VAPOR_INLET, SaturatedVaporNozzle
from lpgrelease.results import BoolArray, IntArray, scenarios_of
from lpgrelease.summing import add_rows
from lpgrelease.tank.levels import LevelTable
from lpgrelease.tank.outlets import PreparedLine
from lpgrelease.tank.shapes import Tank
from lpgrelease.weather import OutsideExchange

__all__ = [
    "COLD_END",
    "DURATION",
    "GAUGE_PRESSURE",
    "GOES_ON",
    "HOT_END",
    "LIQUID_FULL",
    "LIQUID_GONE",
    "NEVER",
    "PROPERTIES",
    "REASONS",
    "SETTLED",
    "SETTLED_WITHIN",
    "SLOPES",
    "TERMINAL",
    "HeatFromOutside",
    "Inventory",
    "Venting",
    "rest_temperature",
    "take_tank",
]

REASONS = (
    "",
    "gauge pressure",
    "duration",
    "liquid gone",
    "liquid full",
    "cold end of the property tables",
    "hot end of the property tables",
    "settled",
)
"""Why a history ended, by code; code 0 goes on."""
GOES_ON, GAUGE_PRESSURE, DURATION, LIQUID_GONE, LIQUID_FULL, COLD_END, HOT_END, SETTLED = range(8)
TERMINAL = (GAUGE_PRESSURE, DURATION, LIQUID_GONE, LIQUID_FULL, COLD_END, HOT_END)
"""Codes of the first six events, in order; the events after them are the openings."""

NEVER = 1e300
"""Stands for a time or a distance to an event that does not come; finite, so that differences are."""
SETTLED_WITHIN = 1e-3
"""A history has settled once its temperature is this near [K] to the one it tends to."""

PROPERTIES = (
    *SATURATED_VAPOR_INLET,
    "liquid_density",
    "vapor_density",
    "liquid_enthalpy",
    "inventory_energy_per_mass",
    "inventory_energy_per_volume",
)
SLOPES = ("inventory_slope_per_mass", "inventory_slope_per_volume")


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class HeatFromOutside:
    """Heat into the wall [W]: either an overall coefficient or the exchange with the weather."""

    air_temperature: FloatArray
    conductance: FloatArray
    area: FloatArray
    exchange: OutsideExchange | None

    def rate(self, temperature: FloatArray) -> FloatArray:
        """Heat rate [W] at the wall's `temperature` [K]."""
        overall = self.conductance * (self.air_temperature - temperature)
        return (
            overall if self.exchange is None else overall + self.area * self.exchange.heat_flux(temperature)
        )

    def take(self, index: IntArray) -> HeatFromOutside:
        """Return the scenarios `index` alone."""
        exchange = None if self.exchange is None else scenarios_of(self.exchange, index)
        return dataclasses.replace(scenarios_of(self, index), exchange=exchange)


class Inventory(NamedTuple):
    """What is in the tank, and what flows at that moment."""

    pressure: FloatArray
    liquid_volume: FloatArray
    liquid_mass: FloatArray
    vapor_mass: FloatArray
    mass_flow: FloatArray
    energy_off: FloatArray
    """Energy by equation (1), left minus right [J]."""

    def take(self, *index: Any) -> Inventory:
        """Return the same for some points and scenarios, the last axes of every field."""
        return Inventory(*(field[..., *index] for field in self))


class Motion(NamedTuple):
    """How it changes."""

    heat_rate: FloatArray
    enthalpy_rate: FloatArray
    temperature_rate: FloatArray
    capacity: FloatArray


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Venting:
    """Tanks of one fluid and one kind of shape, n of them, each with J openings.

    Parameters
    ----------
    table : FluidTable
    tank : Tank
        Fields of shape (n,).
    heat : HeatFromOutside
    nozzle : SaturatedVaporNozzle
        Prepared for each ambient pressure.
    volume, mass, energy, wall_capacity : ndarray, shape (n,)
        V [m3], M0 [kg], U0 [J], C_w [J/K].
    stop_temperature, stop_sign : ndarray, shape (n,)
        Saturation temperature at the stop pressure, and +1 where it is reached from above, -1 from below,
        0 where there is none.
    duration : ndarray, shape (n,)
        [s]; `NEVER` where there is none.
    stops_settled : ndarray of bool, shape (n,)
    area, height, empties_at, fills_at : ndarray, shape (J, n)
        C_d A [m2], height [m], and the liquid volumes [m3] at which an opening passes to vapor and to liquid.
    wet : ndarray of bool, shape (J, n)
        Whether liquid stands at the opening.
    lines : tuple
        Of each opening that is a line, what it passes; None of the others. A line's area is that of its bore.
    levels : LevelTable, optional
        Serves the levels; None: the tank itself does.
    """

    table: FluidTable
    tank: Tank
    heat: HeatFromOutside
    nozzle: SaturatedVaporNozzle
    volume: FloatArray
    mass: FloatArray
    energy: FloatArray
    wall_capacity: FloatArray
    stop_temperature: FloatArray
    stop_sign: FloatArray
    duration: FloatArray
    stops_settled: BoolArray
    area: FloatArray
    height: FloatArray
    empties_at: FloatArray
    fills_at: FloatArray
    wet: BoolArray
    lines: tuple[PreparedLine | None, ...]
    levels: LevelTable | None = None

    def unmoved(self, temperature: FloatArray) -> FloatArray:
        """States (components, n) at `temperature` (n,) from which nothing has gone yet."""
        state = np.zeros((self.wet.shape[0] + 4, temperature.size))
        state[1] = temperature
        return state

    def inventory(self, temperature: FloatArray, released: FloatArray, gained: FloatArray) -> Inventory:
        """Return what stands in the tank and flows.

        Parameters
        ----------
        temperature, gained : ndarray, shape (..., n)
            T [K] and Q - H [J].
        released : ndarray, shape (J, ..., n)
            Mass each opening has released [kg].
        """
        t = np.clip(temperature, self.table.lowest_temperature, self.table.highest_temperature)
        return self._standing(t, released, gained, self.table.saturated(t, *PROPERTIES))

    def motion(
        self, temperature: FloatArray, released: FloatArray, gained: FloatArray
    ) -> tuple[Inventory, Motion]:
        """Return what stands in the tank and flows, and how it changes; arguments as for `inventory`."""
        t = np.clip(temperature, self.table.lowest_temperature, self.table.highest_temperature)
        *values, a_slope, b_slope = self.table.saturated(t, *PROPERTIES, *SLOPES)
        now = self._standing(t, released, gained, tuple(values))
        _, h_v, _, _, _, _, _, h_l, a, _ = values
        mass = now.liquid_mass + now.vapor_mass
        capacity = mass * a_slope + self.volume * b_slope + self.wall_capacity
        enthalpy = np.where(self.wet, h_l, h_v) if self.wet.any() else h_v
        heat = self.heat.rate(t)
        rate = (heat - add_rows(now.mass_flow * (enthalpy - a))) / capacity
        return now, Motion(heat, add_rows(now.mass_flow * enthalpy), rate, capacity)

    def _standing(
        self, t: FloatArray, released: FloatArray, gained: FloatArray, values: tuple[FloatArray, ...]
    ) -> Inventory:
        """Inventory from `PROPERTIES` at t."""
        p, h_v, s_v, choked_flux, choked_ratio, rho_l, rho_v, _, a, b = values
        mass = self.mass - add_rows(released)
        v_l, v_v = 1.0 / rho_l, 1.0 / rho_v
        vapor = (self.volume - mass * v_l) / (v_v - v_l)
        liquid = mass - vapor
        liquid_volume = liquid * v_l
        off = mass * a + self.volume * b + self.wall_capacity * t - self.energy - gained
        vapor_flux = self.nozzle.flux(p, h_v, s_v, choked_flux, choked_ratio)[0]
        flow = self._rows(self.area, t.ndim) * vapor_flux
        for j, line in enumerate(self.lines):
            if line is not None:
                flow[j] *= line.vapor.at(p)
        if self.wet.any():
            liquid_flux = self._liquid_flux(p, rho_l, liquid_volume)
            flow = np.where(self.wet, self._rows(self.area, t.ndim) * liquid_flux, flow)
        return Inventory(p, liquid_volume, liquid, vapor, flow, off)

    def _rows(self, values: FloatArray, ndim: int) -> FloatArray:
        """Values (J, n) of the openings, ready to meet arrays (..., n) of `ndim` axes."""
        return values.reshape(values.shape[0], *(1,) * (ndim - 1), values.shape[1])

    def _liquid_flux(
        self, pressure: FloatArray, density: FloatArray, liquid_volume: FloatArray
    ) -> FloatArray:
        """Flux of liquid [kg/m2/s] through every opening, (J, ..., n); it means something only where wet."""
        if self.levels is not None:
            level = self.levels.level(liquid_volume)
        else:
            some = self.wet.any(axis=0)
            level = np.zeros_like(liquid_volume)
            scenario = np.broadcast_to(np.arange(self.volume.size), some.shape)[some]
            inside = np.clip(liquid_volume[some], 0.0, self.volume[scenario])
            level[some] = take_tank(self.tank, scenario).level_at(inside)
        head = np.where(self.wet, level - self._rows(self.height, level.ndim), 0.0)
        flux = incompressible_flux(density, pressure, self.nozzle.pressure, head)
        for j, line in enumerate(self.lines):
            if line is not None:
                flux[j] = flux_driven_by(line.liquid_drive(density, pressure, head[j]), density)
        return flux

    def vapor_flow(self, values: tuple[FloatArray, ...]) -> FloatArray:
        """Flow [kg/s] with vapor at every opening; `values` begin with `SATURATED_VAPOR_INLET`."""
        flux = self.nozzle.flux(*values[:5])[0]
        if any(self.lines):
            return add_rows(self.vapor_shares(values[0])) * flux
        return add_rows(self.area) * flux

    def vapor_shares(self, pressure: FloatArray) -> FloatArray:
        """Area [m2] of an ideal nozzle that passes what each opening does of vapor, (J, ..., n)."""
        shares = np.broadcast_to(
            self._rows(self.area, pressure.ndim), (self.area.shape[0], *pressure.shape)
        ).copy()
        for j, line in enumerate(self.lines):
            if line is not None:
                shares[j] *= line.vapor.at(pressure)
        return shares

    def take(self, index: IntArray) -> Self:
        """Return the scenarios `index` alone."""
        if index.size == self.volume.size and np.array_equal(index, np.arange(index.size)):
            return self
        own: dict[str, Any] = {
            f.name: np.take(getattr(self, f.name), index, axis=-1)
            for f in dataclasses.fields(self)
            if f.name not in ("table", "tank", "heat", "nozzle", "lines", "levels")
        }
        tank, heat, nozzle = take_tank(self.tank, index), self.heat.take(index), self.nozzle.take(index)
        lines = tuple(None if line is None else line.take(index) for line in self.lines)
        levels = None if self.levels is None else self.levels.take(index)
        return dataclasses.replace(
            self, tank=tank, heat=heat, nozzle=nozzle, lines=lines, levels=levels, **own
        )


def rest_temperature(
    before: FloatArray, after: FloatArray, rate_before: FloatArray, rate_after: FloatArray
) -> FloatArray:
    """Temperature where the rate would vanish, by the secant through two points; `NEVER` if it runs away."""
    change = after - before
    slope = np.where(change != 0.0, (rate_after - rate_before) / np.where(change != 0.0, change, 1.0), 0.0)
    rest = np.where(slope < 0.0, after - rate_after / np.where(slope < 0.0, slope, 1.0), NEVER)
    return np.where(rate_after == 0.0, after, rest)


def take_tank(tank: Tank, index: IntArray) -> Tank:
    """Return the tanks `index` of a shape whose fields are (n,) arrays."""
    return scenarios_of(tank, index)
