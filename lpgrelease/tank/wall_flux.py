"""Heat flux from outside into the metal of many tanks against its temperature, tabulated.

A march asks for it thousands of times, and behind insulation each time by Newton's method.

Notes
-----
Even nodes of y, sign and root of the wall's temperature less the air's, so that they crowd where free
convection turns; the cubic through the four nodes around. Within 2e-3 W/m2 of the flux, and within 0.1 W/m2
where the wall is as warm as the air.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Self

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.results import IntArray, scenarios_of
from lpgrelease.tank.cells import cubics, values_in

__all__ = ["FluxTable"]

LOWEST, WIDTH, NODES = -15.0, 0.25, 184
"""Of y [K**(1/2)]: from 225 K below the air to 900 K above it."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class FluxTable:
    """Of n tanks.

    Parameters
    ----------
    air_temperature : ndarray, shape (n,)
        [K].
    pieces : ndarray, shape (4, NODES - 3, n)
        Coefficients of powers of the place within a piece, 0 to 1, of the flux [W/m2].
    """

    air_temperature: FloatArray
    pieces: FloatArray

    @classmethod
    def prepare(cls, flux: Callable[[FloatArray], FloatArray], air_temperature: FloatArray) -> Self:
        """Tabulate `flux`, of wall temperatures (NODES, n)."""
        y = (LOWEST + WIDTH * np.arange(NODES))[:, None]
        values = flux(np.maximum(air_temperature + y * np.abs(y), 1.0))
        return cls(air_temperature, cubics(values))

    def at(self, wall: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Flux at wall temperatures (..., n), and where it is outside the table."""
        over = wall - self.air_temperature
        position = (np.copysign(np.sqrt(np.abs(over)), over) - (LOWEST + WIDTH)) / WIDTH
        cell = np.floor(position)
        inside = np.minimum(np.maximum(cell, 0.0), NODES - 4.0)
        u = position - inside
        c = values_in(self.pieces, inside.astype(np.intp))
        return c[0] + u * (c[1] + u * (c[2] + u * c[3])), cell != inside

    def take(self, index: IntArray) -> Self:
        """Return the tanks `index` alone."""
        return scenarios_of(self, index)
