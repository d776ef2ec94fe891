"""Heat from outside into a tank and through its walls into what is in it, for a march.

Notes
-----
Without two walls all metal is at the contents' temperature T and the heat is A q(T), as in
`lpgrelease.tank.venting`. With them the wetted metal gives its heat to the liquid by boiling
(cooper1984boiling) or, where that is more, by free convection, and the dry metal to the vapor by free
convection, Nu = 0.11 Ra**(1/3) on either side (churchill1975plate at large Ra); along the metal at the water-
line flows k d W (T_d - T_w)/l, l = sqrt(k d/h) the length over which a fin of coefficient h decays.

Insulation lies between the outside's exchange and the metal: the skin's temperature T_s, where
q(T_s) = (T_s - T_w)/R, by a fixed number of Newton steps. What touches ground or water takes K (T_g - T_w) by
the wetted metal. A fire gives the wetted surface in its reach what `lpgrelease.tank.fire_exposure` says, and
the dry wall a flux that the caller names.
"""

from __future__ import annotations

import dataclasses
from typing import Any, Final, NamedTuple, Self

import numpy as np

from lpgrelease.constants import STANDARD_GRAVITY
from lpgrelease.fluids.curve import saturation_curve
from lpgrelease.fluids.table import FluidTable
from lpgrelease.marching import IntArray
from lpgrelease.quantities import FloatArray
from lpgrelease.tank.fire_exposure import EXPONENT
from lpgrelease.tank.levels import Levels
from lpgrelease.tank.venting import HeatFromOutside
from lpgrelease.tank.wall import boiling_flux
from lpgrelease.tank.wall_flux import FluxTable

__all__ = ["Surroundings", "WallHeat"]

SKIN_STEPS: Final = 3
"""Newton steps on the skin's temperature."""
TURBULENT: Final = 0.11
"""Nu = 0.11 Ra**(1/3): what churchill1975plate comes to at large Ra and Pr near 1."""
TRANSPORT: Final = ("viscosity", "conductivity", "heat_capacity")
NUCLEATION: Final = 1.0 / 0.33
"""Power of the superheat in the flux of boiling."""


class WallHeat(NamedTuple):
    """Heat rates [W]: from outside, into the liquid, into the vapor, and left in wetted and dry metal."""

    outside: FloatArray
    liquid: FloatArray
    vapor: FloatArray
    wet: FloatArray
    dry: FloatArray


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Surroundings:
    """Everything around n tanks; fields of shape (n,) unless said.

    Parameters
    ----------
    heat : HeatFromOutside
        Overall conductance or exchange with the weather, of the bare surface.
    surface : ndarray
        Inside surface A [m2].
    resistance : ndarray
        Of insulation [m2 K/W].
    contact, contact_temperature : ndarray
        Conductance to ground or water [W/K], and its temperature [K].
    fire, fire_reach, dry_flux : ndarray
        Factor of the fire's heat (C F) [W/m2**1.64], largest surface in its reach [m2], flux into the dry
        wall [W/m2].
    two_walls : bool
    wet_coefficient, dry_coefficient, surface_coefficient : ndarray or None
        Wetted wall to liquid, dry wall to vapor, vapor to liquid [W/m2/K]; None: by correlations.
    edge : ndarray
        Conductance along the metal at the waterline [W/K].
    fluxes : FluxTable, optional
        The flux from air, sky and sun, tabulated; without it each call works it out.
    """

    heat: HeatFromOutside
    surface: FloatArray
    resistance: FloatArray
    contact: FloatArray
    contact_temperature: FloatArray
    fire: FloatArray
    fire_reach: FloatArray
    dry_flux: FloatArray
    two_walls: bool
    wet_coefficient: FloatArray | None
    dry_coefficient: FloatArray | None
    surface_coefficient: FloatArray | None
    edge: FloatArray
    fluxes: FluxTable | None = None

    def tabulated(self) -> Self:
        """Return the same with its flux tabulated."""
        return dataclasses.replace(self, fluxes=FluxTable.prepare(self._flux, self.heat.air_temperature))

    def flux(self, wall: FloatArray) -> FloatArray:
        """Heat flux into metal at `wall` (..., n) from the air, sky and sun [W/m2]."""
        if self.fluxes is None:
            return self._flux(wall)
        flux, outside = self.fluxes.at(wall)
        return np.where(outside, self._flux(wall), flux) if outside.any() else flux

    def _flux(self, wall: FloatArray) -> FloatArray:
        if not self.resistance.any():
            return self.heat.rate(wall) / self.surface
        # Newton's steps for the skin where what comes in passes the insulation; not as a difference of skin
        # and wall over the resistance, which a thin one leaves no digit of
        skin, flux = wall, np.zeros(wall.shape)
        for _ in range(SKIN_STEPS):
            q, above = self.heat.rate(np.array([skin, skin + 0.05])) / self.surface
            slope = (above - q) / 0.05
            flux = (q + slope * (wall - skin)) / (1.0 - self.resistance * slope)
            skin = wall + self.resistance * flux
        return flux

    def fire_heat(self, wetted: FloatArray) -> FloatArray:
        """Heat of a fire into the wetted surface (..., n) [W]."""
        if not self.fire.any():
            return np.zeros(wetted.shape)
        heat: FloatArray = self.fire * np.power(np.clip(wetted, 0.0, self.fire_reach), float(EXPONENT))
        return heat

    def into_one(self, temperature: FloatArray, wetted_share: FloatArray) -> FloatArray:
        """Heat [W] where all metal is at the contents' `temperature` (..., n)."""
        wetted = wetted_share * self.surface
        return (
            self.surface * self.flux(temperature)
            + self.contact * (self.contact_temperature - temperature)
            + self.fire_heat(wetted)
            + self.dry_flux * (self.surface - wetted)
        )

    def into_two(
        self,
        table: FluidTable,
        temperature: FloatArray,
        vapor_temperature: FloatArray,
        walls: FloatArray,
        levels: Levels,
        vapor_volume: FloatArray,
    ) -> tuple[WallHeat, FloatArray]:
        """Heat rates with two walls (2, ..., n), and the conductance from vapor to the liquid's surface."""
        wet, dry = walls
        wet_area = levels.wetted_share * self.surface
        dry_area = self.surface - wet_area
        q_wet, q_dry = self.flux(walls)
        boil, convect, still = self._coefficients(
            table, temperature, vapor_temperature, walls, levels, vapor_volume
        )
        contact = self.contact * (self.contact_temperature - wet)
        fire = self.fire_heat(wet_area)
        dry_fire = self.dry_flux * dry_area
        along = self.edge * (dry - wet)
        to_liquid = wet_area * boil * (wet - temperature)
        to_vapor = dry_area * convect * (dry - vapor_temperature)
        outside = wet_area * q_wet + contact + fire
        heat = WallHeat(
            outside=outside + dry_area * q_dry + dry_fire,
            liquid=to_liquid,
            vapor=to_vapor,
            wet=outside - to_liquid + along,
            dry=dry_area * q_dry + dry_fire - to_vapor - along,
        )
        return heat, still * levels.free_surface

    def _coefficients(
        self,
        table: FluidTable,
        temperature: FloatArray,
        vapor_temperature: FloatArray,
        walls: FloatArray,
        levels: Levels,
        vapor_volume: FloatArray,
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Of wetted wall, dry wall and the liquid's surface [W/m2/K]."""
        natural, nucleate, k_v, group = saturation_curve(table, transfer_rows).at(temperature)
        boil = self.wet_coefficient
        if boil is None:
            hotter = walls[0] - temperature
            over = np.abs(hotter)
            pool = nucleate * np.power(np.maximum(hotter, 0.0), NUCLEATION) / np.maximum(over, 1e-12)
            boil = np.maximum(natural * np.cbrt(over), pool)
        group = group / (vapor_volume * vapor_volume * vapor_temperature)
        convect = self.dry_coefficient
        if convect is None:
            convect = TURBULENT * k_v * np.cbrt(group * np.abs(walls[1] - vapor_temperature))
        if self.surface_coefficient is not None:
            return boil, convect, self.surface_coefficient
        # hot vapor above cold liquid is stable: Nu = 0.27 Ra**(1/4) on area over perimeter
        width = 0.25 * np.sqrt(np.maximum(levels.free_surface, 1e-12))
        rayleigh = group * np.abs(vapor_temperature - temperature) * width * width * width
        still = (0.27 * np.sqrt(np.sqrt(rayleigh)) + 1.0) * k_v / width
        return boil, convect, still

    def take(self, index: IntArray) -> Self:
        """Return the scenarios `index` alone."""
        chosen: dict[str, Any] = {}
        for f in dataclasses.fields(self):
            value = getattr(self, f.name)
            chosen[f.name] = value[index] if isinstance(value, np.ndarray) else value
        chosen["heat"] = self.heat.take(index)
        if self.fluxes is not None:
            chosen["fluxes"] = self.fluxes.take(index)
        return dataclasses.replace(self, **chosen)


def transfer_rows(table: FluidTable, temperature: FloatArray) -> tuple[FloatArray, ...]:
    """Return what coefficients inside are made of, along saturation.

    Of free convection in the liquid over the cube root of the difference, of boiling over its power of the
    difference; the vapor's conductivity, and Ra = group (difference) (length)**3 / (v**2 T) of vapor.
    """
    rho, p, mu_l, k_l, c_l, mu_v, k_v, c_v = table.saturated(
        temperature,
        "liquid_density",
        "pressure",
        *(f"{phase}_{name}" for phase in ("liquid", "vapor") for name in TRANSPORT),
    )
    slope = saturation_curve(table, liquid_density).with_slopes(temperature)[1][0]
    group = STANDARD_GRAVITY * rho * c_l * -slope / (mu_l * k_l)
    nucleate = boiling_flux(np.ones(1), p / table.critical_pressure, np.asarray(table.molar_mass))
    return TURBULENT * k_l * np.cbrt(group), nucleate, k_v, STANDARD_GRAVITY * c_v / (mu_v * k_v)


def liquid_density(table: FluidTable, temperature: FloatArray) -> tuple[FloatArray, ...]:
    """Return the liquid's density alone, along saturation."""
    return table.saturated(temperature, "liquid_density")
