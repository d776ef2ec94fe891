"""The space above the liquid: superheated vapor, or vapor and a permanent gas; and what it passes.

Notes
-----
Superheated vapor is served by the fluid's reference equation (`SuperheatPatch`) at the saturation temperature
T of its pressure and the superheat eta = h - h_v(T). Its flux is that of saturated vapor at the same
pressure times sqrt(v_v(T)/v): at one pressure an ideal gas of one heat capacity ratio flows as the root of
its density (shapiro1953dynamics); 1 to 5 % low for propane and butane superheated by
20 to 110 K at 15 to 17 bar, up to 7 % for ammonia and near the critical pressure.

Vapor at its saturation pressure with a gas beside it (Dalton's law, the vapor saturated at the liquid's
temperature): an ideal mixture of the densities' sum, its heat capacity ratio by moles, at the pressures' sum,

    G = sqrt(P rho) psi(gamma, p_amb/P) (1 + y (C - 1))

psi the ideal gas's flow function (shapiro1953dynamics), y the mole fraction of vapor, C the choked flux of
the real vapor over that of an ideal gas of its density. Without gas this is within about 1 % of the real
vapor's flux. Dalton's law is good to a few per cent up to about 10 bar.
"""

from __future__ import annotations

import dataclasses
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np

from lpgrelease.constants import GAS_CONSTANT
from lpgrelease.errors import InputError
from lpgrelease.fluids.piecewise import BLOCK
from lpgrelease.fluids.table import FluidTable
from lpgrelease.quantities import FloatArray
from lpgrelease.release.superheat import NODES, ORDER, SuperheatPatch, superheat_patch
from lpgrelease.tank.cells import cubics
from lpgrelease.tank.last_pascals import LEAST_OF_GAS, eased

__all__ = [
    "GASES",
    "HIGHEST_GAS_PRESSURE",
    "PermanentGas",
    "SuperheatedVapor",
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
POWERS: Final = 2.0 * np.arange(1.0, ORDER)[:, None, None]
"""Factors of the terms of a derivative by a variable that runs from -1 to 1."""


def gas_named(name: str) -> PermanentGas:
    """Return the permanent gas called `name`."""
    if not isinstance(name, str) or name not in GASES:
        raise InputError(f"pad_gas must be one of {', '.join(GASES)}, got {name!r}")
    return GASES[name]


class VaporState(NamedTuple):
    """Superheated vapor, and its derivatives at constant pressure and at constant superheat."""

    volume: FloatArray
    temperature: FloatArray
    volume_by_superheat: FloatArray
    temperature_by_superheat: FloatArray
    volume_slope: FloatArray
    """By the saturation temperature, along saturation."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class SuperheatedVapor:
    """Vapor of one fluid at a saturation temperature and a superheat.

    Parameters
    ----------
    patch : SuperheatPatch
    hottest : float
        Highest saturation temperature served [K].
    most : float
        Largest superheat served [J/kg].
    cubics : ndarray, shape (4, 2, ORDER, NODES - 3)
        Of powers of the place between two nodes of temperature, for p v/(R T_s) and T/T_s, and in each for
        every power of the scaled superheat.
    """

    patch: SuperheatPatch
    hottest: float
    most: float
    cubics: FloatArray

    @classmethod
    def of(cls, table: FluidTable) -> SuperheatedVapor:
        """Take the patch of the fluid of `table`."""
        return _superheated(table)

    def at(
        self,
        saturation_temperature: FloatArray,
        pressure: FloatArray,
        pressure_slope: FloatArray,
        superheat: FloatArray,
    ) -> VaporState:
        """State at equal-shaped T [K], its saturation pressure [Pa] and dp/dT, and eta [J/kg]."""
        t = saturation_temperature
        position = ((t - (self.patch.start + self.patch.width)) / self.patch.width).reshape(-1)
        place = self.patch.scaled(superheat).reshape(-1)
        found = np.empty((5, t.size))
        for begin in range(0, t.size, BLOCK):
            block = slice(begin, begin + BLOCK)
            self._evaluate(position[block], place[block], found[:, block])
        z_slope, z, ratio, z_by, ratio_by = found.reshape(5, *t.shape)
        per = self.patch.gas_constant * t / pressure
        volume = z * per
        slope = z_slope * per + volume * (1.0 / t - pressure_slope / pressure)
        return VaporState(volume, ratio * t, z_by * per, ratio_by * t, slope)

    def _evaluate(self, position: FloatArray, place: FloatArray, found: FloatArray) -> None:
        """Fill the slope by T_s of p v/(R T_s), it and T/T_s, then the slopes of these two by superheat.

        At a block of places, by Horner's scheme in temperature, then in superheat.
        """
        cell = np.minimum(np.maximum(np.floor(position), 0.0), NODES - 4.0)
        cubic = self.cubics.take(cell.astype(np.intp), axis=3)
        # arrays of one shape are the quickest to multiply
        u, x = np.empty(cubic.shape[1:]), np.empty(found.shape)
        u[:], x[:] = position - cell, place
        twice = cubic[3] * u + cubic[2]
        once = twice * u + cubic[1]
        terms = np.empty((ORDER, 5, position.size))
        terms[:, 0] = ((cubic[3, 0] * u[0] + twice[0]) * u[0] + once[0]) / self.patch.width
        terms[:, 1:3] = (once * u + cubic[0]).swapaxes(0, 1)
        terms[:-1, 3:], terms[-1, 3:] = terms[1:, 1:3] * (POWERS / self.patch.largest), 0.0
        value = terms[-1] * x
        for term in terms[-2:0:-1]:
            value += term
            value *= x
        np.add(value, terms[0], out=found)


@lru_cache(maxsize=64)
def _superheated(table: FluidTable) -> SuperheatedVapor:
    """Prepare the patch's interpolation in temperature, the cubic through four nodes, as powers."""
    patch = superheat_patch(table)
    pieces = cubics(patch.coefficients[:2].transpose(2, 0, 1))
    by_power = np.ascontiguousarray(pieces.transpose(0, 2, 3, 1))
    return SuperheatedVapor(patch, patch.start + patch.width * (NODES - 2.0), patch.largest, by_power)


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
