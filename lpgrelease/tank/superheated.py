"""Superheated vapor above a liquid: its state, and what it passes.

Notes
-----
Served by the fluid's reference equation at the saturation temperature T of its pressure and the superheat
eta = h - h_v(T): each of p v/(R T), of its temperature over T and of (F - 1)(eta + eta_0)/eta, F below, is a
polynomial in a variable that runs from -1 to 1 with the logarithm of eta, its coefficients interpolated in T
by the cubic through four nodes.

At one pressure an ideal gas of one heat capacity ratio flows as the root of its density
(shapiro1953dynamics), so that the flux is

    G = G_v(p) sqrt(v_v(T)/v) (1 + (F - 1) w)

with G_v the flux of saturated vapor, F the choked flux by the isentrope of the superheated vapor
(`lpgrelease.fluids.isentrope.choking_state`) over what the first two factors make of it, 0.98 to 1.1, and w
the share of it that counts, with f = 1 - p_amb/p

    w = f**3/(f**3 + 0.2**3)

which is 0 without drive and near 1 where the flow chokes.
"""

from __future__ import annotations

import dataclasses
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np

from lpgrelease.fluids import helmholtz
from lpgrelease.fluids.isentrope import choking_state
from lpgrelease.fluids.piecewise import BLOCK
from lpgrelease.fluids.table import FluidTable
from lpgrelease.quantities import FloatArray
from lpgrelease.release.superheat import HIGHEST_REDUCED_PRESSURE, superheated
from lpgrelease.tank.cells import cubics

__all__ = ["SuperheatedVapor", "VaporState", "share_of_choking"]

HIGHEST_SUPERHEAT: Final = 400.0
"""Superheat served [K], less where the reference equation ends; see `LEAST_SERVED`."""
LEAST_SERVED: Final = 120.0
"""At least so much is served [K], by the heat capacity at the normal boiling point."""
FOG: Final = 6.0
"""Below saturation served [K], so counted: vapor on its way to fog."""
ONSET: Final = 0.5
"""eta_0, over `FOG`: by so much superheat a throat becomes dry."""
BEND: Final = 0.1
"""Of the range of superheat, at which the variable turns from straight to logarithmic."""
ORDER, NODES, FLUX_NODES, SECTIONS = 10, 96, 16, 14
LOWEST_PRESSURE: Final = 2e3
HALF: Final = 0.2
"""Fall of pressure, over that inside, at which half of F counts: about half of that at which vapor chokes."""
SPREAD: Final = float(np.log1p(1.0 / BEND))
POWERS: Final = np.arange(1.0, ORDER)[:, None, None]
"""Factors of the terms of a derivative."""


class VaporState(NamedTuple):
    """Superheated vapor, and its derivatives at constant pressure and at constant superheat."""

    volume: FloatArray
    temperature: FloatArray
    choked_flux: FloatArray
    """F."""
    volume_by_superheat: FloatArray
    temperature_by_superheat: FloatArray
    volume_slope: FloatArray
    """By the saturation temperature, along saturation."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class SuperheatedVapor:
    """Vapor of one fluid at a saturation temperature and a superheat.

    Parameters
    ----------
    gas_constant : float
        Specific [J/kg/K].
    start, width : float
        Saturation temperatures of the nodes, from the second on [K].
    hottest : float
        Highest saturation temperature served [K].
    least, most : float
        Superheat served [J/kg].
    cubics : ndarray, shape (4, 3, ORDER, NODES - 3)
        Of powers of the place between two nodes of temperature, for p v/(R T), for temperature over T and for
        what F is made of, and in each for every power of the variable.
    """

    gas_constant: float
    start: float
    width: float
    hottest: float
    least: float
    most: float
    cubics: FloatArray

    @classmethod
    def of(cls, table: FluidTable) -> SuperheatedVapor:
        """Prepare the fluid of `table`, once."""
        return _prepared(table)

    def at(
        self,
        saturation_temperature: FloatArray,
        pressure: FloatArray,
        pressure_slope: FloatArray,
        superheat: FloatArray,
    ) -> VaporState:
        """State at equal-shaped T [K], its saturation pressure [Pa] and dp/dT, and eta [J/kg]."""
        t = saturation_temperature
        bend = BEND * (self.most - self.least)
        over = superheat - self.least + bend
        position = ((t - self.start) / self.width).reshape(-1)
        place = (2.0 / SPREAD * np.log(over / bend) - 1.0).reshape(-1)
        found = np.empty((6, t.size))
        for begin in range(0, t.size, BLOCK):
            block = slice(begin, begin + BLOCK)
            self._evaluate(position[block], place[block], found[:, block])
        z_slope, z, ratio, gain, z_by, ratio_by = found.reshape(6, *t.shape)
        above = np.maximum(superheat, 0.0)
        choked = 1.0 + gain * (above / (above - ONSET * self.least))
        per = self.gas_constant * t / pressure
        by = 2.0 / SPREAD / over
        volume = z * per
        slope = z_slope * per + volume * (1.0 / t - pressure_slope / pressure)
        return VaporState(volume, ratio * t, choked, z_by * per * by, ratio_by * t * by, slope)

    def _evaluate(self, position: FloatArray, place: FloatArray, found: FloatArray) -> None:
        """Fill the slope by T of p v/(R T), all three, and the slopes of the first two by the variable.

        At a block of places, by Horner's scheme in temperature, then in superheat.
        """
        cell = np.minimum(np.maximum(np.floor(position), 0.0), NODES - 4.0)
        cubic = self.cubics.take(cell.astype(np.intp), axis=3)
        # arrays of one shape are the quickest to multiply
        u, x = np.empty(cubic.shape[1:]), np.empty(found.shape)
        u[:], x[:] = position - cell, place
        twice = cubic[3] * u + cubic[2]
        once = twice * u + cubic[1]
        terms = np.empty((ORDER, 6, position.size))
        terms[:, 0] = ((cubic[3, 0] * u[0] + twice[0]) * u[0] + once[0]) / self.width
        terms[:, 1:4] = (once * u + cubic[0]).swapaxes(0, 1)
        terms[:-1, 4:], terms[-1, 4:] = terms[1:, 1:3] * POWERS, 0.0
        value = terms[-1] * x
        for term in terms[-2:0:-1]:
            value += term
            value *= x
        np.add(value, terms[0], out=found)


def share_of_choking(pressure: FloatArray, ambient_pressure: FloatArray) -> FloatArray:
    """Return w at pressures inside (..., n) [Pa]."""
    fall = np.maximum(1.0 - ambient_pressure / pressure, 0.0)
    cube = fall * fall * fall
    share: FloatArray = cube / (cube + HALF**3)
    return share


@lru_cache(maxsize=64)
def _prepared(table: FluidTable) -> SuperheatedVapor:
    ends = np.array([LOWEST_PRESSURE, HIGHEST_REDUCED_PRESSURE * 1.02 * table.critical_pressure])
    low, high = table.saturation_temperature(ends)
    low = max(low, table.lowest_temperature)
    t_s = np.linspace(low, high, NODES)
    per_kelvin = _heat_capacity(table)
    least, most = -FOG * per_kelvin, max(_most(table, t_s), LEAST_SERVED * per_kelvin)
    nodes = np.cos(np.pi * (np.arange(ORDER) + 0.5) / ORDER)
    superheat = least + BEND * (most - least) * np.expm1(0.5 * SPREAD * (nodes + 1.0))
    values = np.empty((3, ORDER, NODES))
    for i, eta in enumerate(superheat):
        p, t, rho = superheated(table, t_s, eta)
        values[0, i] = p / (rho * table.gas_constant * t_s)
        values[1, i] = t / t_s
    values[2] = _choked_flux(table, t_s, superheat, -ONSET * least)
    powers = np.linalg.solve(np.vander(nodes, increasing=True), values)
    width = (high - low) / (NODES - 1)
    by_power = np.ascontiguousarray(cubics(powers.transpose(2, 0, 1)).transpose(0, 2, 3, 1))
    return SuperheatedVapor(
        table.gas_constant, low + width, width, low + width * (NODES - 2.0), least, most, by_power
    )


def _heat_capacity(table: FluidTable) -> float:
    """Of saturated vapor at the normal boiling point [J/kg/K]."""
    boiling = table.saturation_temperature(np.array([101325.0]))
    return float(table.saturated(boiling, "vapor_heat_capacity")[0][0])


def _most(table: FluidTable, t_s: FloatArray) -> float:
    """Superheat [J/kg] up to `HIGHEST_SUPERHEAT` and to where the equation ends, at every node."""
    p, h_v = table.saturated(t_s, "pressure", "vapor_enthalpy")
    t = np.minimum(t_s + HIGHEST_SUPERHEAT, table.highest_gas_temperature)
    rho = helmholtz.density_from_pressure(table.equation, t, p, p / (table.gas_constant * t))
    return float((helmholtz.evaluate(table.equation, t, rho).enthalpy - h_v).min())


def _choked_flux(table: FluidTable, t_s: FloatArray, superheat: FloatArray, onset: float) -> FloatArray:
    """(F - 1)(eta + eta_0)/eta at superheats and saturation temperatures, (ORDER, NODES), from few of these.

    Below saturation as next to it, and below where throats leave the tables as at that.
    """
    low = max(t_s[0], min(table.lowest_nozzle_temperature, t_s[-1] - 1.0))
    x = np.cos(np.pi * (np.arange(FLUX_NODES) + 0.5) / FLUX_NODES)
    t = low + 0.5 * (x + 1.0) * (t_s[-1] - low)
    h_v, rho_v, saturated = table.saturated(t, "vapor_enthalpy", "vapor_density", "vapor_critical_flux")
    found = np.empty((superheat.size, t.size))
    for row, eta in zip(found, np.maximum(superheat, 0.2 * onset), strict=True):
        _, hot, rho = superheated(table, t, eta)
        entropy = helmholtz.evaluate(table.equation, hot, rho).entropy
        flux, _ = choking_state(table, h_v + eta, entropy, hot, sections=SECTIONS)
        row[:] = (flux / (saturated * np.sqrt(rho / rho_v)) - 1.0) * (1.0 + onset / eta)
    powers = np.linalg.solve(np.vander(x, increasing=True), found.T)
    at = np.maximum(2.0 * (t_s - low) / (t_s[-1] - low) - 1.0, -1.0)
    return np.asarray((np.vander(at, FLUX_NODES, increasing=True) @ powers).T)
