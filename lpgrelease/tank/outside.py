"""Heat from outside into a tank and through its walls into what is in it, for a march.

Notes
-----
Without two walls all metal is at the contents' temperature T and the heat is A q(T), as in
`lpgrelease.tank.venting`. With them the wetted metal gives its heat to the liquid by boiling
(cooper1984boiling) or, where that is more, by free convection, and the dry metal to the vapor by free
convection, Nu = 0.11 Ra**(1/3) on either side (churchill1975plate at large Ra); along the metal at the water-
line flows k d W (T_d - T_w)/l, l = sqrt(k d/h) the length over which a fin of coefficient h decays. The dry
metal shines on the liquid, whose surface A_s is taken as black, through vapor taken as clear, as two surfaces
of an enclosure do (incropera2011fundamentals, section 13.3):

    Q = sigma (T_d**4 - T**4)/(1/A_s + (1 - eps)/(eps A_d))

Insulation lies between the outside's exchange and the metal: the skin's temperature T_s, where
q(T_s) = (T_s - T_w)/R, by a fixed number of Newton steps. What touches ground or water takes K (T_g - T_w) by
the wetted metal. A fire gives the wetted surface in its reach what `lpgrelease.tank.fire_exposure` says, and
the dry wall a flux that the caller names.
"""

from __future__ import annotations

import dataclasses
import math
from typing import Final, NamedTuple, Self

import numpy as np

from lpgrelease.constants import STANDARD_GRAVITY, STEFAN_BOLTZMANN
from lpgrelease.elementwise import some
from lpgrelease.fluids.curve import saturation_curve
from lpgrelease.fluids.table import FluidTable
from lpgrelease.quantities import FloatArray
from lpgrelease.results import IntArray, scenarios_of
from lpgrelease.tank.fire_exposure import EXPONENT
from lpgrelease.tank.venting import HeatFromOutside
from lpgrelease.tank.wall import HIGHEST_BOILING, boiling_flux
from lpgrelease.tank.wall_flux import FluxTable

__all__ = ["Surroundings", "WallHeat"]

SKIN_STEPS: Final = 3
"""Newton steps on the skin's temperature."""
TURBULENT: Final = 0.11
"""Nu = 0.11 Ra**(1/3): what churchill1975plate comes to at large Ra and Pr near 1."""
TRANSPORT: Final = ("viscosity", "conductivity", "heat_capacity")
STABLE: Final = 0.27 * math.sqrt(2.0)
"""Of Nu = 0.27 Ra**(1/4), times 4 (1/4)**(3/4)."""
NUCLEATION: Final = 1.0 / 0.33
"""Power of the superheat in the flux of boiling."""


class WallHeat(NamedTuple):
    """Heat rates [W]: from outside; of wetted and dry metal (2, ..., n) what they give inward, and keep."""

    outside: FloatArray
    inward: FloatArray
    left: FloatArray


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
    contact : ndarray or None
        Conductance to ground or water [W/K]; None where there is none.
    contact_temperature : ndarray
        Of ground or water [K].
    fire : ndarray or None
        Factor of the fire's heat (C F) [W/m2**1.64]; None where there is none.
    fire_reach, dry_flux : ndarray
        Largest surface in the fire's reach [m2], flux into the dry wall [W/m2].
    two_walls : bool
    wet_coefficient, dry_coefficient, surface_coefficient : ndarray or None
        Wetted wall to liquid, dry wall to vapor, vapor to liquid [W/m2/K]; None: by correlations.
    inside_emissivity : ndarray
        eps of the dry wall.
    edge : ndarray
        Conductance along the metal at the waterline [W/K].
    fluxes : FluxTable, optional
        The flux from air, sky and sun, tabulated; without it each call works it out.
    """

    heat: HeatFromOutside
    surface: FloatArray
    resistance: FloatArray
    contact: FloatArray | None
    contact_temperature: FloatArray
    fire: FloatArray | None
    fire_reach: FloatArray
    dry_flux: FloatArray
    two_walls: bool
    wet_coefficient: FloatArray | None
    dry_coefficient: FloatArray | None
    surface_coefficient: FloatArray | None
    inside_emissivity: FloatArray
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
        return np.where(outside, self._flux(wall), flux) if some(outside) else flux

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

    def _onto(self, wetted: FloatArray) -> FloatArray:
        """Heat of a fire into the wetted surface (..., n) [W]."""
        reached = np.minimum(np.maximum(wetted, 0.0), self.fire_reach)
        heat: FloatArray = self.fire * np.power(reached, float(EXPONENT))
        return heat

    def into_one(self, temperature: FloatArray, wetted_share: FloatArray) -> FloatArray:
        """Heat [W] where all metal is at the contents' `temperature` (..., n)."""
        heat = self.surface * self.flux(temperature)
        if self.contact is not None:
            heat = heat + self.contact * (self.contact_temperature - temperature)
        if self.fire is not None:
            wetted = wetted_share * self.surface
            heat = heat + self._onto(wetted) + self.dry_flux * (self.surface - wetted)
        return heat

    def into_two(
        self,
        temperature: FloatArray,
        vapor_temperature: FloatArray,
        walls: FloatArray,
        shares: FloatArray,
        free_surface: FloatArray,
        vapor_volume: FloatArray,
        transfer: FloatArray,
    ) -> tuple[WallHeat, FloatArray]:
        """Heat rates with two walls (2, ..., n), and the conductance from vapor to the liquid's surface.

        `shares` are the walls' of all metal, `transfer` holds the rows of `transfer_rows`.
        """
        areas = shares * self.surface
        coming = areas * self.flux(walls)
        if self.contact is not None:
            coming[0] += self.contact * (self.contact_temperature - walls[0])
        if self.fire is not None:
            coming[0] += self._onto(areas[0])
            coming[1] += self.dry_flux * areas[1]
        hotter = np.empty(walls.shape)
        hotter[0], hotter[1] = walls[0] - temperature, walls[1] - vapor_temperature
        group = transfer[-1] / (vapor_volume * vapor_volume * vapor_temperature)
        inward = areas * self._coefficients(hotter, group, transfer) * hotter
        left, along = coming - inward, self.edge * (walls[1] - walls[0])
        left[0] += along
        left[1] -= along
        shines = self._shines(areas[1], free_surface) * (_fourth(walls[1]) - _fourth(temperature))
        inward[0] += shines
        left[1] -= shines
        still = self._still(vapor_temperature - temperature, group, transfer[-2], free_surface)
        return WallHeat(coming[0] + coming[1], inward, left), still

    def _coefficients(self, hotter: FloatArray, group: FloatArray, transfer: FloatArray) -> FloatArray:
        """Of wetted and of dry wall [W/m2/K], `hotter` than what they touch."""
        apart = np.abs(hotter)
        apart[1] *= group
        coefficients = transfer[:2] * np.cbrt(apart)
        boiling = transfer[2] * np.power(np.maximum(hotter[0], 0.0), NUCLEATION - 1.0)
        np.maximum(coefficients[0], boiling, out=coefficients[0])
        for row, given in enumerate((self.wet_coefficient, self.dry_coefficient)):
            if given is not None:
                coefficients[row] = given
        return coefficients

    def _shines(self, dry_area: FloatArray, free_surface: FloatArray) -> FloatArray:
        """Heat from the dry wall to the liquid's surface, over the difference of fourth powers [W/K4]."""
        gray, eps = self.inside_emissivity * dry_area, self.inside_emissivity
        shared = gray + (1.0 - eps) * free_surface
        exchange: FloatArray = float(STEFAN_BOLTZMANN) * gray * free_surface / np.maximum(shared, 1e-9)
        return exchange

    def _still(
        self, hotter: FloatArray, group: FloatArray, conductivity: FloatArray, free_surface: FloatArray
    ) -> FloatArray:
        """Conductance from vapor, `hotter` than the liquid, to the liquid's surface [W/K]."""
        if self.surface_coefficient is not None:
            return self.surface_coefficient * free_surface
        # hot vapor above cold liquid is stable: Nu = 1 + 0.27 Ra**(1/4) on area over perimeter, which is a
        # quarter of the area's root
        root = np.sqrt(np.maximum(free_surface, 0.0))
        fourth = np.sqrt(np.sqrt(group * np.abs(hotter) * (root * root * root)))
        conductance: FloatArray = (STABLE * fourth + 4.0) * conductivity * root
        return conductance

    def take(self, index: IntArray) -> Self:
        """Return the scenarios `index` alone."""
        return scenarios_of(self, index)


def _fourth(temperature: FloatArray) -> FloatArray:
    squared = temperature * temperature
    return squared * squared


def transfer_rows(table: FluidTable, temperature: FloatArray) -> tuple[FloatArray, ...]:
    """Return what coefficients inside are made of, along saturation.

    Coefficients of free convection in the liquid over the cube root of the difference, in the vapor over that
    of Ra/(length)**3, of boiling over the difference's power, beyond its range as at the end of that; the
    vapor's conductivity, and Ra = group (difference) (length)**3 / (v**2 T) of vapor.
    """
    rho, p, mu_l, k_l, c_l, mu_v, k_v, c_v = table.saturated(
        temperature,
        "liquid_density",
        "pressure",
        *(f"{phase}_{name}" for phase in ("liquid", "vapor") for name in TRANSPORT),
    )
    slope = saturation_curve(table, (liquid_density,), ()).at(temperature)[1][0]
    group = STANDARD_GRAVITY * rho * c_l * -slope / (mu_l * k_l)
    reduced = np.minimum(p / table.critical_pressure, HIGHEST_BOILING)
    nucleate = boiling_flux(np.ones(1), reduced, np.asarray(table.molar_mass))
    natural = TURBULENT * k_l * np.cbrt(group)
    return natural, TURBULENT * k_v, nucleate, k_v, STANDARD_GRAVITY * c_v / (mu_v * k_v)


def liquid_density(table: FluidTable, temperature: FloatArray) -> tuple[FloatArray, ...]:
    """Return the liquid's density alone, along saturation."""
    return table.saturated(temperature, "liquid_density")
