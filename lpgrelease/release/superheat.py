"""Superheated vapor near saturation as polynomials, for paths that ask for it thousands of times.

Built once per fluid from its reference equation of state; array-level, unchecked.

Notes
-----
At the saturation temperature T_s of its pressure and the superheat enthalpy y = h - h_v(p), scaled to run
from -1 to 1, each of p v/(R T_s), T/T_s and (s - s_v)/R is a polynomial in y; its coefficients are
interpolated in T_s by the cubic through four nodes.

y grows as vapor expands along a line, by the fall of h_v: from 28 bar to the air's pressure propane gains
100 kJ/kg, as much as 60 K of superheat. Lines have a patch of their own that reaches far enough for it.
"""

from __future__ import annotations

import dataclasses
from functools import lru_cache

import numpy as np

from lpgrelease.fluids import helmholtz
from lpgrelease.fluids.table import FluidTable
from lpgrelease.quantities import FloatArray

__all__ = ["HIGHEST_REDUCED_PRESSURE", "SUPERHEAT", "SuperheatPatch", "line_patch", "superheat_patch"]

HIGHEST_REDUCED_PRESSURE = 0.7
"""Above this part of the critical pressure the polynomials are not offered."""
SUPERHEAT = 120.0
"""Superheat served [K]: of a tank's vapor times its heat capacity at the normal boiling point (less at higher
pressure, where it is larger), at a line's inlet at any pressure."""
ORDER = 8
LINE_ORDER = 12
NODES = 96
LOWEST_AIR_PRESSURE = 5e4
"""Ambient pressure [Pa] down to which a line serves `SUPERHEAT`."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class SuperheatPatch:
    """Coefficients (3, order, NODES) over saturation temperatures from `start` in steps of `width` [K]."""

    start: float
    width: float
    largest: float
    gas_constant: float
    coefficients: FloatArray

    def at(self, saturation_temperature: FloatArray) -> FloatArray:
        """Polynomials in the scaled superheat at given pressures, shape (3, order, *pressures)."""
        position = (saturation_temperature - self.start) / self.width
        cell = np.clip(np.floor(position), 1.0, NODES - 3.0)
        u = position - cell
        weights = (
            -u * (u - 1.0) * (u - 2.0) / 6.0,
            (u + 1.0) * (u - 1.0) * (u - 2.0) / 2.0,
            -(u + 1.0) * u * (u - 2.0) / 2.0,
            (u + 1.0) * u * (u - 1.0) / 6.0,
        )
        index = cell.astype(np.intp)
        total = np.zeros((*self.coefficients.shape[:2], *saturation_temperature.shape))
        for offset, weight in enumerate(weights):
            total += weight * self.coefficients[:, :, index + (offset - 1)]
        return total

    def scaled(self, superheat: FloatArray) -> FloatArray:
        """Superheat enthalpy h - h_v [J/kg] as the polynomials' variable."""
        variable: FloatArray = 2.0 * superheat / self.largest - 1.0
        return variable


@lru_cache(maxsize=64)
def superheat_patch(table: FluidTable) -> SuperheatPatch:
    """Patch of one fluid for the vapor space of a tank."""
    boiling = table.saturation_temperature(np.array([101325.0]))
    largest = float(SUPERHEAT * table.saturated(boiling, "vapor_heat_capacity")[0][0])
    return _fitted(table, largest, ORDER)


@lru_cache(maxsize=64)
def line_patch(table: FluidTable) -> SuperheatPatch:
    """Patch of one fluid for lines: `SUPERHEAT` at the inlet, and what expansion adds on the way down."""
    ends = np.array([LOWEST_AIR_PRESSURE, HIGHEST_REDUCED_PRESSURE * table.critical_pressure])
    low, high = table.saturation_temperature(ends)
    t_s = np.linspace(max(low, table.lowest_temperature), high, NODES)
    p, h_v = table.saturated(t_s, "pressure", "vapor_enthalpy")
    t = np.minimum(t_s + SUPERHEAT, table.highest_gas_temperature)
    rho = helmholtz.density_from_pressure(table.equation, t, p, p / (table.gas_constant * t))
    h = helmholtz.evaluate(table.equation, t, rho).enthalpy
    return _fitted(table, float(h.max() - h_v.min()), LINE_ORDER)


def _fitted(table: FluidTable, largest: float, order: int) -> SuperheatPatch:
    """Polynomials up to `largest` [J/kg], from the fluid's cold end to `HIGHEST_REDUCED_PRESSURE`."""
    ends = np.array([2e3, HIGHEST_REDUCED_PRESSURE * 1.02 * table.critical_pressure])
    low, high = table.saturation_temperature(ends)
    low = max(low, table.lowest_temperature)
    nodes = np.cos(np.pi * (np.arange(order) + 0.5) / order)
    t_s = np.linspace(low, high, NODES)
    p, rho_v, h_v, s_v, c_v = table.saturated(
        t_s, "pressure", "vapor_density", "vapor_enthalpy", "vapor_entropy", "vapor_heat_capacity"
    )
    values = np.empty((3, order, NODES))
    for i, node in enumerate(nodes):
        superheat = 0.5 * (node + 1.0) * largest
        stretch = 1.0 + superheat / (c_v * t_s)
        t, rho = helmholtz.gas_from_enthalpy(
            table.equation, p, h_v + superheat, t_s * stretch, rho_v / stretch
        )
        gas = helmholtz.evaluate(table.equation, t, rho)
        values[0, i] = p / (rho * table.gas_constant * t_s)
        values[1, i] = t / t_s
        values[2, i] = (gas.entropy - s_v) / table.gas_constant
    solve = np.linalg.inv(np.vander(nodes, increasing=True))
    coefficients = np.zeros_like(values)
    for power in range(order):
        for i in range(order):
            coefficients[:, power] += solve[power, i] * values[:, i]
    return SuperheatPatch(low, (high - low) / (NODES - 1), largest, table.gas_constant, coefficients)
