"""How much of an ideal nozzle's flow a line passes, prepared once per line for a tank's whole history."""

from __future__ import annotations

import dataclasses
from typing import Self

import numpy as np
from numpy.typing import NDArray

from lpgrelease.constants import STANDARD_GRAVITY
from lpgrelease.fluids.table import FluidTable
from lpgrelease.quantities import FloatArray
from lpgrelease.release.line import flowing, line_inlet, line_shape
from lpgrelease.release.superheat import HIGHEST_REDUCED_PRESSURE
from lpgrelease.results import scenarios_of

__all__ = ["LineCoefficient"]

NODES = 32
"""Inlet pressures at which each line is solved."""
LOWEST_EXCESS = 1e-4
"""Least ratio of gauge to ambient pressure that is solved; the coefficient is level below it."""
COLUMN_STEPS = 4
"""To the pressure under a column of vapor, whose temperature hardly depends on it."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class LineCoefficient:
    """Flux of saturated vapor over a line's bore by that of an ideal nozzle, against the inlet's pressure.

    Multiply `SaturatedVaporNozzle.flux` by `at(pressure)` and by the area of the bore. Elementwise and
    free of checks: a scenario's answer does not depend on its neighbors.

    Notes
    -----
    Cubic between nodes in w = (ln(p/p_0)/ln(p_max/p_0))**(1/4), with slopes that make it monotone where
    the nodes are; p_0 is the pressure that a column of vapor as high as the line's rise needs, that of the
    air where it does not rise. Within 1.5e-3 of `line_release`; with a rise 1.5e-2 up to 1 kPa above p_0, and
    more in the first 50 Pa.

    Parameters
    ----------
    begins, span : ndarray, shape (n,)
        p_0 [Pa], ln(p_max/p_0).
    values, slopes : ndarray, shape (NODES, n)
        Coefficient and its slope per node.
    """

    begins: FloatArray
    span: FloatArray
    values: FloatArray
    slopes: FloatArray

    @classmethod
    def prepare(
        cls,
        table: FluidTable,
        *,
        diameter: FloatArray,
        length: FloatArray,
        roughness: FloatArray,
        fittings: FloatArray,
        rise: FloatArray,
        discharge_coefficient: FloatArray,
        ambient_pressure: FloatArray,
    ) -> Self:
        """Solve every line at `NODES` inlet pressures; arguments of shape (n,), as in `Line`.

        Equal lines are solved once.
        """
        given = (diameter, length, roughness, fittings, rise, discharge_coefficient, ambient_pressure)
        kinds, which = np.unique(np.stack(given), axis=1, return_inverse=True)
        diameter, length, roughness, fittings, rise, discharge_coefficient, ambient_pressure = kinds
        size = ambient_pressure.size
        top = 0.999 * HIGHEST_REDUCED_PRESSURE * table.critical_pressure
        begins = _climbs_from(table, ambient_pressure, rise)
        span = np.log(top / begins)
        w = np.linspace(0.0, 1.0, NODES)[:, None]
        excess = np.maximum(w**4 * span, LOWEST_EXCESS)
        p = (begins * np.exp(excess)).reshape(-1)

        def rows(values: FloatArray) -> FloatArray:
            return np.broadcast_to(values, (NODES, size)).reshape(-1)

        t = table.saturation_temperature(p)
        h, s = table.saturated(t, "vapor_enthalpy", "vapor_entropy")
        whole, level = np.ones(p.size), np.zeros(p.size)
        p_amb = rows(ambient_pressure)
        inlet = line_inlet(table, t, p, whole, h, s, p_amb, rows(rise))
        free = line_inlet(table, t, p, whole, h, s, p_amb, level).nozzle_flux
        shape = line_shape(
            rows(diameter), rows(length), rows(roughness), rows(fittings), rows(discharge_coefficient)
        )
        values = (flowing(table, inlet, shape).flux / free).reshape(NODES, size)
        # what has to climb begins as the root of what is over
        values = np.where(rise > 0.0, values * np.sqrt(w**4 * span / excess), values)
        every = np.ravel(which)
        slopes = _monotone_slopes(values)
        return cls(begins[every], span[every], values[:, every], slopes[:, every])

    def at(self, pressure: FloatArray) -> FloatArray:
        """Coefficient at inlet pressures (..., n) [Pa]; outside the nodes that of the nearest one.

        It is 0 up to where vapor climbs the line's rise.
        """
        ratio = np.log(np.maximum(pressure / self.begins, 1.0)) / self.span
        position = np.sqrt(np.sqrt(np.minimum(ratio, 1.0))) * (NODES - 1)
        cell = np.minimum(np.floor(position), NODES - 2.0)
        u = position - cell
        index = cell.astype(np.intp)
        column = np.broadcast_to(np.arange(self.span.size), index.shape)
        left, right = self.values[index, column], self.values[index + 1, column]
        begin, end = self.slopes[index, column], self.slopes[index + 1, column]
        rest = 1.0 - u
        value: FloatArray = rest * rest * ((1.0 + 2.0 * u) * left + u * begin) + u * u * (
            (1.0 + 2.0 * rest) * right - rest * end
        )
        return value

    def take(self, index: NDArray[np.intp]) -> LineCoefficient:
        """Return the lines `index` alone."""
        return scenarios_of(self, index)


def _climbs_from(table: FluidTable, ambient_pressure: FloatArray, rise: FloatArray) -> FloatArray:
    """Pressure [Pa] inside from which on saturated vapor flows out, as `line_inlet` has it."""
    begins = ambient_pressure
    for _ in range(COLUMN_STEPS):
        height = table.gas_constant * table.saturation_temperature(begins) / STANDARD_GRAVITY
        begins = ambient_pressure / np.maximum(1.0 - np.maximum(rise, 0.0) / height, 0.1)
    return begins


def _monotone_slopes(values: FloatArray) -> FloatArray:
    """Slopes per node: harmonic mean of the neighboring secants, zero at a turn."""
    secant = values[1:] - values[:-1]
    product = secant[1:] * secant[:-1]
    total = secant[1:] + secant[:-1]
    slopes = np.zeros_like(values)
    slopes[1:-1] = np.where(product > 0.0, 2.0 * product / np.where(product > 0.0, total, 1.0), 0.0)
    slopes[0], slopes[-1] = secant[0], secant[-1]
    return slopes
