"""Isentropes of mixtures at equilibrium, and the state of largest mass flux on them; per mole, arrays (n,).

Notes
-----
The pressure of largest flux G = sqrt(2 (h0 - h))/v is found on a grid of pressures between `LOWEST_RATIO` p0
and p0, all at once, narrowed `ROUNDS` times around the best; the flux at its maximum is flat, or has a corner
where the isentrope meets the bubble or dew line.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from lpgrelease.fluids.equilibrium import Split, flash_entropy
from lpgrelease.fluids.mixture import Mixture
from lpgrelease.quantities import FloatArray

__all__ = ["Throat", "choking_point", "flux_at", "vapor_mass_fraction"]

LOWEST_RATIO = 0.25
"""No fluid served chokes below this ratio of pressures."""
POINTS = 21
ROUNDS = 3


class Throat(NamedTuple):
    """Largest flux [kg/m2/s] and the state where it occurs."""

    flux: FloatArray
    state: Split


def flux_at(mixture: Mixture, z: FloatArray, enthalpy: FloatArray, state: Split) -> FloatArray:
    """Mass flux [kg/m2/s] from rest at `enthalpy` [J/mol] through a throat at `state`."""
    drop = np.maximum(enthalpy - state.enthalpy, 0.0)
    flux: FloatArray = np.sqrt(2.0 * drop * mixture.mass(z)) / state.volume
    return flux


def choking_point(
    mixture: Mixture, z: FloatArray, *, enthalpy: FloatArray, entropy: FloatArray, pressure: FloatArray
) -> Throat:
    """Largest flux on the isentrope from rest at (h0, s0, p0) of feeds z (nc, n)."""
    count = pressure.size
    low, high = np.full(count, LOWEST_RATIO), np.ones(count)
    shares = np.linspace(0.0, 1.0, POINTS)[:, None]
    best = high
    for _ in range(ROUNDS):
        ratio = low + shares * (high - low)
        state = flash_entropy(
            mixture,
            np.tile(z, POINTS),
            np.ravel(ratio * pressure),
            np.tile(entropy, POINTS),
        )
        flux = flux_at(mixture, np.tile(z, POINTS), np.tile(enthalpy, POINTS), state)
        flux = np.where(state.found, flux, -1.0).reshape(POINTS, count)
        index = np.argmax(flux, axis=0)
        best = np.take_along_axis(ratio, index[None], axis=0)[0]
        width = (high - low) / (POINTS - 1)
        low, high = np.maximum(best - width, low), np.minimum(best + width, high)
    state = flash_entropy(mixture, z, best * pressure, entropy)
    return Throat(flux_at(mixture, z, enthalpy, state), state)


def vapor_mass_fraction(mixture: Mixture, z: FloatArray, state: Split) -> FloatArray:
    """Vapor mass fraction of a state of feed z."""
    fraction: FloatArray = state.vapor_fraction * mixture.mass(state.vapor) / mixture.mass(z)
    return fraction
