"""Superheated vapor near saturation: one state, and polynomials for paths that ask for thousands.

Built once per fluid from its reference equation of state; array-level, unchecked.

Notes
-----
At the saturation temperature T_s of its pressure and the superheat enthalpy y = h - h_v(p), scaled to run
from -1 to 1, each of p v/(R T_s), T/T_s and (s - s_v)/R is a polynomial in y; its coefficients are
interpolated in T_s by the cubic through four nodes.

y grows as vapor expands along a line, by the fall of h_v: from 28 bar to the air's pressure propane gains
100 kJ/kg, as much as 60 K of superheat, and the polynomials reach that far.
"""

from __future__ import annotations

import dataclasses
from functools import lru_cache

import numpy as np

from lpgrelease.fluids import helmholtz
from lpgrelease.fluids.table import FluidTable
from lpgrelease.quantities import FloatArray

__all__ = ["HIGHEST_REDUCED_PRESSURE", "SUPERHEAT", "SuperheatPatch", "superheat_patch", "superheated"]

HIGHEST_REDUCED_PRESSURE = 0.7
"""Above this part of the critical pressure the polynomials are not offered."""
SUPERHEAT = 120.0
"""Superheat served at a line's inlet [K]."""
ORDER = 12
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


def superheated(
    table: FluidTable, saturation_temperature: FloatArray, superheat: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Pressure [Pa], temperature [K], density [kg/m3] of vapor at `superheat` h - h_v [J/kg]; unchecked."""
    t_s = saturation_temperature
    p, rho_v, h_v, c_v = table.saturated(
        t_s, "pressure", "vapor_density", "vapor_enthalpy", "vapor_heat_capacity"
    )
    stretch = 1.0 + superheat / (c_v * t_s)
    t, rho = helmholtz.gas_from_enthalpy(table.equation, p, h_v + superheat, t_s * stretch, rho_v / stretch)
    return p, t, rho


@lru_cache(maxsize=64)
def superheat_patch(table: FluidTable) -> SuperheatPatch:
    """Patch of one fluid for lines: `SUPERHEAT` at the inlet, and what expansion adds on the way down."""
    ends = np.array([LOWEST_AIR_PRESSURE, HIGHEST_REDUCED_PRESSURE * table.critical_pressure])
    low, high = table.saturation_temperature(ends)
    t_s = np.linspace(max(low, table.lowest_temperature), high, NODES)
    p, h_v = table.saturated(t_s, "pressure", "vapor_enthalpy")
    t = np.minimum(t_s + SUPERHEAT, table.highest_gas_temperature)
    rho = helmholtz.density_from_pressure(table.equation, t, p, p / (table.gas_constant * t))
    h = helmholtz.evaluate(table.equation, t, rho).enthalpy
    return _fitted(table, float(h.max() - h_v.min()))


def _fitted(table: FluidTable, largest: float) -> SuperheatPatch:
    """Polynomials up to `largest` [J/kg], from the fluid's cold end to `HIGHEST_REDUCED_PRESSURE`."""
    ends = np.array([2e3, HIGHEST_REDUCED_PRESSURE * 1.02 * table.critical_pressure])
    low, high = table.saturation_temperature(ends)
    low = max(low, table.lowest_temperature)
    nodes = np.cos(np.pi * (np.arange(ORDER) + 0.5) / ORDER)
    t_s = np.linspace(low, high, NODES)
    (s_v,) = table.saturated(t_s, "vapor_entropy")
    values = np.empty((3, ORDER, NODES))
    for i, node in enumerate(nodes):
        p, t, rho = superheated(table, t_s, 0.5 * (node + 1.0) * largest)
        values[0, i] = p / (rho * table.gas_constant * t_s)
        values[1, i] = t / t_s
        values[2, i] = (helmholtz.evaluate(table.equation, t, rho).entropy - s_v) / table.gas_constant
    coefficients = np.linalg.solve(np.vander(nodes, increasing=True), values)
    return SuperheatPatch(low, (high - low) / (NODES - 1), largest, table.gas_constant, coefficients)
