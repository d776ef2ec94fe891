"""Density in a throat at equilibrium: liquid, a wet mixture, or vapor."""

from __future__ import annotations

import numpy as np

from lpgrelease.fluids import helmholtz
from lpgrelease.fluids.table import FluidTable
from lpgrelease.quantities import FloatArray

__all__ = ["equilibrium_density"]


def equilibrium_density(
    table: FluidTable, pressure: FloatArray, temperature: FloatArray, vapor_fraction: FloatArray
) -> FloatArray:
    """Density [kg/m3] at (p, T, x), 1-d arrays of one length; wet ones at saturation. Unchecked."""
    p, t, x = pressure, temperature, vapor_fraction
    p_s, rho_l, rho_v = table.saturated(
        np.minimum(t, table.highest_temperature), "pressure", "liquid_density", "vapor_density"
    )
    rho = 1.0 / (x / rho_v + (1.0 - x) / rho_l)
    dry = x == 1.0
    single = dry | ((x == 0.0) & (p > p_s) & (t <= table.highest_temperature))
    if single.any():
        start = np.where(dry, p / (table.gas_constant * t), rho_l)[single]
        rho[single] = helmholtz.density_from_pressure(table.equation, t[single], p[single], start)
    return rho
