"""What stands at the end of a line's rise or fall, on the isentrope. Array-level, unchecked."""

from __future__ import annotations

import numpy as np

from lpgrelease.fluids.isentrope import state_at_temperature
from lpgrelease.fluids.table import FluidTable
from lpgrelease.halving import halved_to_middle
from lpgrelease.quantities import FloatArray
from lpgrelease.release.inlet import HALVINGS, boiling_temperature
from lpgrelease.results import BoolArray

__all__ = ["raised_liquid", "raised_mixture"]


def raised_mixture(
    table: FluidTable, t: FloatArray, s: FloatArray, work: FloatArray, head: FloatArray
) -> tuple[FloatArray, BoolArray]:
    """Temperature where a mixture has the enthalpy `head`, and whether a fall turns it to liquid before.

    Then the temperature is that at which the last vapor is gone: below it the wet states end, above it their
    formulas go on to vapor fractions below zero.
    """
    highest = np.full(t.shape, table.highest_temperature)
    (s_end,) = table.saturated(highest, "liquid_entropy")
    full = boiling_temperature(table, s, highest)
    (h_full,) = table.saturated(full, "liquid_enthalpy")
    falls = work < 0.0
    liquid = falls & (s < s_end) & (h_full <= head)
    cold = np.full(t.shape, table.lowest_temperature)
    wet = halved_to_middle(
        lambda x: state_at_temperature(table, s, x).enthalpy < head,
        np.where(falls, t, cold),
        np.where(falls, full, t),
        HALVINGS,
    )
    return np.where(liquid, full, wet), liquid


def raised_liquid(
    table: FluidTable,
    t: FloatArray,
    p: FloatArray,
    h: FloatArray,
    s: FloatArray,
    work: FloatArray,
    p_s: FloatArray,
) -> tuple[FloatArray, ...]:
    """Pressure, boiling pressures (see `LineInlet`), temperature, liquid volume."""
    t_b = np.where(p > p_s, boiling_temperature(table, s, t), t)
    p_b, rho_b, h_b = table.saturated(t_b, "pressure", "liquid_density", "liquid_enthalpy")
    volume = np.where(p > p_b * (1.0 + 1e-9), (h - h_b) / np.where(p > p_b, p - p_b, 1.0), 1.0 / rho_b)
    top = p - work / volume
    boils, t_wet = top < p_b, t_b
    if boils.any():
        cold = np.full(t.shape, table.lowest_temperature)
        t_wet = halved_to_middle(
            lambda x: state_at_temperature(table, s, x).enthalpy < h - work, cold, t_b, HALVINGS
        )
    hottest = np.minimum(t_b + 30.0, table.highest_temperature)
    t_h = halved_to_middle(
        lambda x: table.saturated(x, "liquid_enthalpy")[0] < h - work, t_b, hottest, HALVINGS
    )
    p_wet, p_h = table.saturated(t_wet, "pressure")[0], table.saturated(t_h, "pressure")[0]
    return (
        np.where(boils, p_wet, top),
        np.where(boils, p_wet, p_b),
        np.where(boils, p_wet, np.clip(p_h, p_b, np.maximum(top, p_b))),
        np.where(boils, t_wet, t),
        np.where(boils, 1.0 / rho_b, volume),
    )
