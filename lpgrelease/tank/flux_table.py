"""What openings of many tanks pass at a pressure inside, tabulated for a march.

Notes
-----
The flux of saturated vapor through an ideal nozzle into the air over the pressure inside, and of each line
its two coefficients (`lpgrelease.tank.outlets`), at even nodes of (ln(p/p_amb)/ln(p_c/p_amb))**(1/4), in
which the flux starts as a square; the cubic through the four nodes around. Within 1e-4, most so where the
nozzle begins to choke.
"""

from __future__ import annotations

import dataclasses
from typing import Self

import numpy as np

from lpgrelease.fluids.table import FluidTable
from lpgrelease.quantities import FloatArray
from lpgrelease.release.nozzle import SATURATED_VAPOR_INLET, SaturatedVaporNozzle
from lpgrelease.results import IntArray, scenarios_of
from lpgrelease.tank.cells import cubics, values_in
from lpgrelease.tank.outlets import PreparedLine

__all__ = ["OpeningFluxes"]

CELLS = 128


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class OpeningFluxes:
    """Of n tanks.

    Parameters
    ----------
    ambient_pressure, span : ndarray, shape (n,)
        p_amb [Pa], ln(p_c/p_amb) over the fourth power of the number of pieces.
    pieces : ndarray, shape (4, rows, CELLS, n)
        Coefficients of powers of the place within a piece, 0 to 1: of the nozzle's flux over the pressure
        [s/m], then of each line for vapor and for liquid.
    """

    ambient_pressure: FloatArray
    span: FloatArray
    pieces: FloatArray

    @classmethod
    def prepare(
        cls, table: FluidTable, nozzle: SaturatedVaporNozzle, lines: tuple[PreparedLine | None, ...]
    ) -> Self:
        """Tabulate openings into the air of `nozzle`."""
        p_amb = nozzle.pressure
        span = np.log(table.critical_pressure / p_amb)
        w = np.arange(CELLS + 1)[:, None] / CELLS
        p = p_amb * np.exp(np.square(np.square(w)) * span)
        p[0] = p_amb
        t = np.minimum(
            table.saturation_temperature(np.minimum(p, table.critical_pressure)), table.highest_temperature
        )
        rows = [nozzle.flux(*table.saturated(t, *SATURATED_VAPOR_INLET))[0] / p]
        rows[0][0] = 0.0
        for line in lines:
            rows += [] if line is None else [line.vapor.at(p), line.liquid_coefficient(p)]
        inner = np.stack(rows)
        # below the air's pressure as above it; beyond the last node straight on
        values = np.concatenate([inner[:, 1:2], inner, 2.0 * inner[:, -1:] - inner[:, -2:-1]], axis=1)
        pieces = np.ascontiguousarray(cubics(values.swapaxes(0, 1)).swapaxes(1, 2))
        return cls(p_amb, span / CELLS**4, pieces)

    def at(self, pressure: FloatArray) -> FloatArray:
        """Rows (rows, ..., n) at pressures inside (..., n) [Pa]; no flux at or below the air's."""
        ratio = np.maximum(pressure / self.ambient_pressure, 1.0)
        position = np.sqrt(np.sqrt(np.log(ratio) / self.span))
        cell = np.minimum(np.floor(position), CELLS - 1.0)
        c = values_in(self.pieces, cell.astype(np.intp))
        u = np.empty(c.shape[1:])
        u[:] = position - cell
        value: FloatArray = c[0] + u * (c[1] + u * (c[2] + u * c[3]))
        # next to where a line that rises begins to pass anything, a cubic swings below nothing
        return np.maximum(value, 0.0, out=value)

    def take(self, index: IntArray) -> Self:
        """Return the tanks `index` alone."""
        return scenarios_of(self, index)
