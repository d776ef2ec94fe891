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


Rows = Callable[[FluidTable, FloatArray], tuple[FloatArray, ...]]


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
        Of powers of the place within a segment, -1/2 to 1/2.
    sloped : int
        Number of rows, the first, of which slopes are asked for.

    Notes
    -----
    Within 1e-10 of what was tabulated, above some 0.4 of the critical temperature; slopes within 1e-7.
    """

    critical_temperature: float
    width: float
    coefficients: FloatArray
    sloped: int

    def at(self, temperature: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Values (rows, ...) at temperatures (...) [K], and the first rows' slopes by temperature."""
        theta = np.sqrt(1.0 - temperature.reshape(-1) / self.critical_temperature)
        values = np.empty((self.coefficients.shape[1], theta.size))
        slopes = np.empty((self.sloped, theta.size))
        for begin in range(0, theta.size, BLOCK):
            block = slice(begin, begin + BLOCK)
            self._evaluate(theta[block], values[:, block], slopes[:, block])
        slopes /= (-2.0 * self.width * self.critical_temperature) * theta
        shape = temperature.shape
        return values.reshape(len(values), *shape), slopes.reshape(len(slopes), *shape)

    def _evaluate(self, theta: FloatArray, values: FloatArray, slopes: FloatArray) -> None:
        """Fill values, and slopes by the place, at a block of places: Horner's scheme and its derivative."""
        position = theta / self.width
        middle = np.minimum(np.floor(position), self.coefficients.shape[2] - 1.0) + 0.5
        terms = self.coefficients.take(middle.astype(np.intp), axis=2)
        # as many as there are values: products of arrays of one shape are the quickest
        u = np.empty(values.shape)
        u[:] = position - middle
        value, slope = terms[-1] * u, terms[-1, : self.sloped]
        some, along = value[: self.sloped], u[: self.sloped]
        value += terms[-2]
        for term in terms[-3::-1]:
            slope = slope * along
            slope += some
            value *= u
            value += term
        values[:], slopes[:] = value, slope


@lru_cache(maxsize=128)
def saturation_curve(
    table: FluidTable, sloped: tuple[Rows, ...], others: tuple[Rows, ...]
) -> SaturationCurve:
    """Tabulate what modules' functions make of table and temperatures (n,) [K], once per fluid.

    The rows of `sloped` come first, and have slopes.
    """
    width, segments = table.saturation.width, table.saturation.coefficients.shape[2]
    theta = fitting_points(0.0, width, segments)
    t = table.critical_temperature * (1.0 - theta * theta)
    t = np.maximum(t, table.lowest_temperature).reshape(-1)
    first, second = ([row for rows in some for row in rows(table, t)] for some in (sloped, others))
    fitted = fit(np.stack([row.reshape(theta.shape) for row in (*first, *second)]))
    halves = fitted * np.exp2(np.arange(DEGREE + 1.0))[:, None, None]
    return SaturationCurve(table.critical_temperature, width, halves, len(first))
