"""Properties along saturation as polynomials of their own, many at once and with their slopes.

For marches that ask for the same ones thousands of times: one look-up instead of a derivation for each.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from functools import lru_cache

import numpy as np

from lpgrelease.fluids.piecewise import BLOCK, DEGREE, fit, fitting_points
from lpgrelease.fluids.table import FluidTable
from lpgrelease.quantities import FloatArray

__all__ = ["SaturationCurve", "saturation_curve"]


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class SaturationCurve:
    """Rows of properties over temperature, on the segments of a fluid's table.

    Parameters
    ----------
    critical_temperature : float
        T_c [K].
    width : float
        Of a segment of theta = sqrt(1 - T/T_c).
    coefficients : ndarray, shape (degree + 1, rows, segments)
        Of powers of the place within a segment, -1 to 1.

    Notes
    -----
    Within 1e-10 of what was tabulated, above some 0.4 of the critical temperature; slopes within 1e-7.
    """

    critical_temperature: float
    width: float
    coefficients: FloatArray

    def at(self, temperature: FloatArray) -> FloatArray:
        """Values (rows, ...) at temperatures (...) [K]."""
        value: FloatArray = self._evaluate(temperature, with_slopes=False)[0]
        return value

    def with_slopes(self, temperature: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Values and their slopes by temperature, (rows, ...) each, at temperatures (...) [K]."""
        value, slope = self._evaluate(temperature, with_slopes=True)
        return value, slope

    def _evaluate(self, temperature: FloatArray, *, with_slopes: bool) -> FloatArray:
        theta = np.sqrt(1.0 - temperature.reshape(-1) / self.critical_temperature)
        position = theta / self.width
        start = np.minimum(np.floor(position), self.coefficients.shape[2] - 1.0)
        local, index = 2.0 * (position - start) - 1.0, start.astype(np.intp)
        rows = self.coefficients.shape[1]
        found = np.empty((2 if with_slopes else 1, rows, theta.size))
        for begin in range(0, theta.size, BLOCK):
            block = slice(begin, begin + BLOCK)
            u, here = local[block], self.coefficients.take(index[block], axis=2)
            value, slope = here[DEGREE] * u + here[DEGREE - 1], here[DEGREE]
            for power in range(DEGREE - 2, -1, -1):
                if with_slopes:
                    slope = slope * u + value
                value = value * u + here[power]
            found[0, :, block] = value
            if with_slopes:
                found[1, :, block] = slope / (-self.width * self.critical_temperature * theta[block])
        return found.reshape(*found.shape[:2], *temperature.shape)


@lru_cache(maxsize=128)
def saturation_curve(
    table: FluidTable, rows: Callable[[FluidTable, FloatArray], tuple[FloatArray, ...]]
) -> SaturationCurve:
    """Tabulate `rows`, a module's function of table and temperatures (n,) [K], once per fluid."""
    segments = table.saturation.coefficients.shape[2]
    theta = fitting_points(0.0, table.saturation.width, segments)
    t = table.critical_temperature * (1.0 - theta * theta)
    t = np.maximum(t, table.lowest_temperature)
    values = np.stack([row.reshape(t.shape) for row in rows(table, t.reshape(-1))])
    return SaturationCurve(table.critical_temperature, table.saturation.width, fit(values))
