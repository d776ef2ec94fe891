"""Vapor and a permanent gas above the liquid, and what they pass.

Notes
-----
Vapor at its saturation pressure with a gas beside it (Dalton's law, the vapor saturated at the liquid's
temperature): an ideal mixture of the densities' sum, its heat capacity ratio by moles, at the pressures' sum,

    G = sqrt(P rho) psi(gamma, p_amb/P) (1 + y (C - 1))

psi the ideal gas's flow function (shapiro1953dynamics), y the mole fraction of vapor, C the choked flux of
the real vapor over that of an ideal gas of its density. Without gas this is within about 1 % of the real
vapor's flux. Dalton's law is good to a few per cent up to about 10 bar.
"""

from __future__ import annotations

import dataclasses
from typing import Final, NamedTuple

import numpy as np

from lpgrelease.constants import GAS_CONSTANT
from lpgrelease.errors import InputError
from lpgrelease.quantities import FloatArray
from lpgrelease.tank.last_pascals import LEAST_OF_GAS, eased

__all__ = [
    "GASES",
    "HIGHEST_GAS_PRESSURE",
    "PermanentGas",
    "gas_named",
    "ideal_flux",
    "mixture_flux",
]


@dataclasses.dataclass(frozen=True, slots=True)
class PermanentGas:
    """A gas that never condenses here, ideal, of constant heat capacity.

    Parameters
    ----------
    name : str
    molar_mass : float
        [kg/mol].
    heat_capacity : float
        Isobaric [J/kg/K].
    """

    name: str
    molar_mass: float
    heat_capacity: float

    @property
    def constant(self) -> float:
        """Specific gas constant R [J/kg/K]."""
        return float(GAS_CONSTANT) / self.molar_mass

    @property
    def isochoric(self) -> float:
        """Isochoric heat capacity [J/kg/K]."""
        return self.heat_capacity - self.constant


GASES: Final = {
    "nitrogen": PermanentGas("nitrogen", 0.0280134, 1041.0),
    "air": PermanentGas("air", 0.0289655, 1006.0),
}
"""Molar mass of air picard2008air, all else at 300 K incropera2011fundamentals, Table A.4, from memory."""


HIGHEST_GAS_PRESSURE: Final = 5e6
"""Partial pressure up to which gases are near ideal [Pa]; common practice, no source."""


def gas_named(name: str) -> PermanentGas:
    """Return the permanent gas called `name`."""
    if not isinstance(name, str) or name not in GASES:
        raise InputError(f"pad_gas must be one of {', '.join(GASES)}, got {name!r}")
    return GASES[name]


def ideal_flux(
    pressure: FloatArray,
    density: FloatArray,
    ratio: FloatArray,
    back_pressure: FloatArray,
) -> FloatArray:
    """Flux of an ideal gas [kg/m2/s] from rest at `pressure` and `density`; zero without drive.

    `ratio` is the heat capacity ratio gamma.
    """
    r = np.clip(back_pressure / pressure, 1e-12, 1.0)
    one = ratio - 1.0
    critical = np.power(2.0 / (ratio + 1.0), ratio / one)
    r = np.maximum(r, critical)
    psi = np.sqrt(2.0 * ratio / one * (np.power(r, 2.0 / ratio) - np.power(r, (ratio + 1.0) / ratio)))
    flux: FloatArray = np.sqrt(pressure * density) * psi * eased(pressure - back_pressure, LEAST_OF_GAS)
    return flux


def choked_constant(ratio: FloatArray) -> FloatArray:
    """Return psi of choked flow."""
    power = 0.5 * (ratio + 1.0) / (ratio - 1.0)
    psi: FloatArray = np.sqrt(ratio) * np.power(2.0 / (ratio + 1.0), power)
    return psi


class Mixture(NamedTuple):
    """Flux of the vapor space and the parts of it [kg/m2/s]."""

    vapor: FloatArray
    gas: FloatArray


def mixture_flux(
    gas: PermanentGas,
    *,
    vapor_pressure: FloatArray,
    vapor_density: FloatArray,
    vapor_heat_capacity: FloatArray,
    vapor_constant: float,
    vapor_choked_flux: FloatArray,
    gas_pressure: FloatArray,
    gas_density: FloatArray,
    back_pressure: FloatArray,
) -> Mixture:
    """Flux of saturated vapor and gas together."""
    total, density = vapor_pressure + gas_pressure, vapor_density + gas_density
    y = vapor_pressure / total
    # heat capacities over R, by moles
    of_vapor = vapor_heat_capacity / vapor_constant
    of_gas = gas.heat_capacity / gas.constant
    capacity = y * of_vapor + (1.0 - y) * of_gas
    real = vapor_choked_flux / (
        np.sqrt(vapor_pressure * vapor_density) * choked_constant(of_vapor / (of_vapor - 1.0))
    )
    flux = ideal_flux(total, density, capacity / (capacity - 1.0), back_pressure)
    flux = flux * (1.0 + y * (real - 1.0))
    share = vapor_density / density
    return Mixture(flux * share, flux * (1.0 - share))


def inflow_flux(
    gas: PermanentGas, air_temperature: FloatArray, ambient_pressure: FloatArray, pressure: FloatArray
) -> FloatArray:
    """Flux of air into a tank below the air's pressure [kg/m2/s]."""
    density = ambient_pressure / (gas.constant * air_temperature)
    ratio = gas.heat_capacity / gas.isochoric
    return ideal_flux(ambient_pressure, density, np.asarray(ratio), pressure)
