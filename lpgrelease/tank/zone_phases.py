"""The liquid and the vapor of a tank with additions (`lpgrelease.tank.zones`), and how they go with T."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from lpgrelease.fluids.table import FluidTable
from lpgrelease.quantities import FloatArray
from lpgrelease.tank.superheated import VaporState

if TYPE_CHECKING:
    from lpgrelease.tank.zones import Zones

__all__ = ["Phases", "contents_rows", "inventory_rows", "mixture_rows", "phases_of"]


class Phases(NamedTuple):
    """What the two phases are like at T, and slopes by T along saturation, the vapor's superheat staying.

    Pairs (2, points, n) are of liquid and vapor, so that both are worked out at once.
    """

    pressures: FloatArray
    """Twice the same."""
    enthalpies: FloatArray
    latent: FloatArray
    """Of evaporation, to saturated vapor [J/kg]."""
    volumes: FloatArray
    """v_l and v [m3/kg]."""
    saturated_volume: FloatArray
    """Of saturated vapor [m3/kg]."""
    masses: FloatArray
    """m_l and m_v [kg]."""
    spaces: FloatArray
    """V_l and V_v [m3]."""
    pressure_slopes: FloatArray
    enthalpy_slopes: FloatArray
    inventory: FloatArray
    """Of one temperature, energy per mass and per volume: rows of `inventory_rows`."""
    inventory_slopes: FloatArray
    further: FloatArray
    """Rows of `mixture_rows` where there is gas, then of `transfer_rows` where there are two walls."""
    apart: FloatArray
    """v - v_l."""
    stretch: FloatArray
    """How both phases' volume grows, the masses staying [m3/K]."""
    share: FloatArray
    """v_l/(v - v_l)."""
    filled_slope: FloatArray
    """Of V_l, mass and volume of the tank staying [m3/K]."""

    @property
    def pressure(self) -> FloatArray:
        """Of the vapor [Pa]."""
        pressure: FloatArray = self.pressures[0]
        return pressure

    @property
    def filled(self) -> FloatArray:
        """V_l [m3]."""
        filled: FloatArray = self.spaces[0]
        return filled


def phases_of(
    zones: Zones, t: FloatArray, mass: FloatArray, superheat: FloatArray
) -> tuple[Phases, VaporState | None]:
    """Return the phases at the liquid's temperature, and the vapor's state where it has its own."""
    values, slopes = zones.curve.at(t)
    enthalpies, volumes = values[2:4], 1.0 / values[4:6]
    volume_slopes = -slopes[4:6] * (volumes * volumes)
    latent, saturated, vapor = enthalpies[1] - enthalpies[0], volumes[1].copy(), None
    if zones.vapor is not None:
        at = np.minimum(t, zones.vapor.hottest)
        vapor = zones.vapor.at(at, values[0], slopes[0], superheat)
        enthalpies[1] += superheat
        volumes[1], volume_slopes[1] = vapor.volume, vapor.volume_slope
    apart = volumes[1] - volumes[0]
    masses = np.empty(volumes.shape)
    masses[1] = (zones.volume - mass * volumes[0]) / apart
    masses[0] = mass - masses[1]
    moved = masses * volume_slopes
    stretch, share = moved[0] + moved[1], volumes[0] / apart
    phases = Phases(
        pressures=values[:2],
        enthalpies=enthalpies,
        latent=latent,
        volumes=volumes,
        saturated_volume=saturated,
        masses=masses,
        spaces=masses * volumes,
        pressure_slopes=slopes[:2],
        enthalpy_slopes=slopes[2:4],
        inventory=values[6:8],
        inventory_slopes=slopes[6:8],
        further=values[len(slopes) :],
        apart=apart,
        stretch=stretch,
        share=share,
        filled_slope=moved[0] + share * stretch,
    )
    return phases, vapor


def contents_rows(table: FluidTable, temperature: FloatArray) -> tuple[FloatArray, ...]:
    """Return what `Phases` are made of, along saturation: three pairs of liquid and vapor."""
    rows = ("liquid_enthalpy", "vapor_enthalpy", "liquid_density", "vapor_density")
    pressure, *others = table.saturated(temperature, "pressure", *rows)
    return pressure, pressure, *others


def inventory_rows(table: FluidTable, temperature: FloatArray) -> tuple[FloatArray, ...]:
    """Return what the energy of contents of one temperature is made of, along saturation."""
    return table.saturated(temperature, "inventory_energy_per_mass", "inventory_energy_per_volume")


def mixture_rows(table: FluidTable, temperature: FloatArray) -> tuple[FloatArray, ...]:
    """Return what the vapor's flux beside a gas is made of, along saturation."""
    return table.saturated(temperature, "vapor_critical_flux", "vapor_heat_capacity")
