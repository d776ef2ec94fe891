"""The ideal nozzle: isentropic flow from rest, at equilibrium, real fluid. Array-level, unchecked.

Notes
-----
From rest at (h0, s0) the mass flux through a throat at pressure p on the isentrope is
G = sqrt(2 (h0 - h(p, s0)))/v(p, s0); the flow is choked where the largest flux lies above the ambient
pressure. The isentrope may enter the two-phase region: condensation in the throat is included, at
equilibrium (leung1986omega treats the same model in reduced form).
"""

from __future__ import annotations

import dataclasses
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lpgrelease.fluids.isentrope import choking_state, state_at_pressure
from lpgrelease.fluids.table import FluidTable
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray, scenarios_of

__all__ = ["SATURATED_VAPOR_INLET", "NozzleFlow", "SaturatedVaporNozzle", "isentropic_nozzle"]


class NozzleFlow(NamedTuple):
    """Flux of an ideal nozzle and the state of its throat."""

    flux: FloatArray
    choked: BoolArray
    pressure: FloatArray
    temperature: FloatArray
    vapor_fraction: FloatArray

    def reshaped(self, shape: tuple[int, ...]) -> NozzleFlow:
        """Return the same with every field in `shape`."""
        return NozzleFlow(
            self.flux.reshape(shape),
            self.choked.reshape(shape),
            self.pressure.reshape(shape),
            self.temperature.reshape(shape),
            self.vapor_fraction.reshape(shape),
        )


def isentropic_nozzle(
    table: FluidTable,
    *,
    enthalpy: FloatArray,
    entropy: FloatArray,
    temperature: FloatArray,
    pressure: FloatArray,
    back_pressure: FloatArray,
) -> NozzleFlow:
    """Flow from rest at (h0, s0, T0, p0) to `back_pressure`; 1-d arrays of one length."""
    flux, throat = choking_state(table, enthalpy, entropy, temperature)
    choked = back_pressure <= throat.pressure
    outside = state_at_pressure(table, entropy, np.minimum(back_pressure, pressure))
    drop = np.maximum(enthalpy - outside.enthalpy, 0.0)
    flux = np.where(choked, flux, np.sqrt(2.0 * drop) / outside.specific_volume)
    x = np.where(choked, throat.vapor_fraction, outside.vapor_fraction)
    return NozzleFlow(
        flux=np.where(back_pressure < pressure, flux, 0.0),
        choked=choked & (back_pressure < pressure),
        pressure=np.where(choked, throat.pressure, back_pressure),
        temperature=np.where(choked, throat.temperature, outside.temperature),
        vapor_fraction=np.clip(x, 0.0, 1.0),  # round-off at the edge of the wet region
    )


SATURATED_VAPOR_INLET = (
    "pressure",
    "vapor_enthalpy",
    "vapor_entropy",
    "vapor_critical_flux",
    "vapor_critical_ratio",
)
"""Saturation properties that `SaturatedVaporNozzle.flux` takes, in order."""

DRY_NODES = 0.5 - 0.5 * np.cos(np.pi * np.arange(5) / 4.0)
DRY_POWERS = np.linalg.inv(np.vander(DRY_NODES, increasing=True))
DRY_SHARES = np.array([[0.25], [0.5], [0.75], [1.0]])
"""Of the range of inlet temperatures, where the entropy of saturated vapor is looked at."""
HIGHEST_UNCHOKED_RATIO = 1.8
"""Saturated vapor of every fluid served chokes below this ratio of inlet to ambient pressure."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class SaturatedVaporNozzle:
    """Flow of saturated vapor into a fixed ambient pressure, prepared once for many inlet temperatures.

    The choked flux is tabulated with the fluid. Unchoked, the throat stands at the ambient pressure, where
    enthalpy and volume are linear in entropy if wet and a quartic through five exact states if dry.
    Shapes: every field has the shape of the ambient pressure, (n,); the two quartics (5, n).
    """

    pressure: FloatArray
    entropy_liquid: FloatArray
    entropy_to_fraction: FloatArray
    enthalpy_liquid: FloatArray
    latent_heat: FloatArray
    volume_liquid: FloatArray
    volume_gain: FloatArray
    entropy_vapor: FloatArray
    dry_range: FloatArray
    dry_enthalpy: FloatArray
    dry_volume: FloatArray

    @classmethod
    def prepare(cls, table: FluidTable, back_pressure: FloatArray) -> SaturatedVaporNozzle:
        """Prepare for `back_pressure` [Pa], shape (n,); equal ones once."""
        kinds, which = np.unique(back_pressure, return_inverse=True)
        if kinds.size < back_pressure.size:
            return cls.prepare(table, kinds).take(which)
        top = np.minimum(HIGHEST_UNCHOKED_RATIO * back_pressure, 0.99 * table.critical_pressure)
        t, warmest = table.saturation_temperature(np.array([back_pressure, top]))
        warmest = np.minimum(warmest, table.highest_temperature)
        s_l, h_l, latent, rho_l, rho_v = table.saturated(
            t, "liquid_entropy", "liquid_enthalpy", "latent_heat", "liquid_density", "vapor_density"
        )
        s_v = s_l + latent / t
        s_inlets = table.saturated(t + DRY_SHARES * (warmest - t), "vapor_entropy")[0]
        dry_range = np.maximum((s_inlets - s_v).max(axis=0), 0.0)
        enthalpy, volume = np.zeros((2, 5, t.size))
        some = np.flatnonzero(dry_range > 0.0)
        if some.size:
            entropy = s_v[some] + DRY_NODES[:, None] * dry_range[some]
            state = state_at_pressure(table, entropy, np.broadcast_to(back_pressure[some], entropy.shape))
            enthalpy[:, some] = _interpolating(state.enthalpy)
            volume[:, some] = _interpolating(state.specific_volume)
        return cls(
            pressure=back_pressure,
            entropy_liquid=s_l,
            entropy_to_fraction=t / latent,
            enthalpy_liquid=h_l,
            latent_heat=latent,
            volume_liquid=1.0 / rho_l,
            volume_gain=1.0 / rho_v - 1.0 / rho_l,
            entropy_vapor=s_v,
            dry_range=dry_range,
            dry_enthalpy=enthalpy,
            dry_volume=volume,
        )

    def take(self, index: NDArray[np.intp]) -> SaturatedVaporNozzle:
        """Return the same for the scenarios `index`."""
        return scenarios_of(self, index)

    def flux(
        self,
        pressure: FloatArray,
        enthalpy: FloatArray,
        entropy: FloatArray,
        critical_flux: FloatArray,
        critical_ratio: FloatArray,
    ) -> tuple[FloatArray, BoolArray]:
        """Flux [kg/m2/s] and whether it is choked.

        The arguments are `SATURATED_VAPOR_INLET` at the inlet's temperature.
        """
        x = (entropy - self.entropy_liquid) * self.entropy_to_fraction
        h = self.enthalpy_liquid + x * self.latent_heat
        v = self.volume_liquid + x * self.volume_gain
        dry = (x > 1.0) & (self.dry_range > 0.0)
        if dry.any():
            u = (entropy - self.entropy_vapor) / np.where(self.dry_range > 0.0, self.dry_range, 1.0)
            u = np.minimum(u, 1.0)
            h = np.where(dry, _horner(self.dry_enthalpy, u), h)
            v = np.where(dry, _horner(self.dry_volume, u), v)
        choked = self.pressure <= critical_ratio * pressure
        flux = np.where(choked, critical_flux, np.sqrt(2.0 * np.maximum(enthalpy - h, 0.0)) / v)
        return np.where(self.pressure < pressure, flux, 0.0), choked


def _interpolating(values: FloatArray) -> FloatArray:
    coefficients = np.zeros_like(values)
    for power, value in zip(DRY_POWERS.T, values, strict=True):
        coefficients += power[:, None] * value
    return coefficients


def _horner(coefficients: FloatArray, u: FloatArray) -> FloatArray:
    value: FloatArray = coefficients[4] * u
    for power in (3, 2, 1):
        value = (value + coefficients[power]) * u
    total: FloatArray = value + coefficients[0]
    return total
