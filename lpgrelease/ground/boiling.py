"""Heat from a warm surface into a liquid that boils on it: plain functions of SI arrays."""

from __future__ import annotations

import dataclasses
import math
from typing import Final

import numpy as np

from lpgrelease.constants import STANDARD_GRAVITY, Constant
from lpgrelease.fluids import Fluid
from lpgrelease.quantities import FloatArray

__all__ = [
    "BoilingLiquid",
    "boiling_flux",
    "convection_flux",
    "critical_flux_zuber",
    "film_flux_berenson",
    "film_flux_klimenko",
    "least_film_difference_berenson",
    "nucleate_flux_rohsenow",
]

SURFACE_FACTOR: Final = Constant(
    0.013, "Rohsenow's factor of liquid and surface", "", "rohsenow1952boiling, from memory", 0.005
)
_G: Final = float(STANDARD_GRAVITY)
_SATURATED: Final = (
    "liquid_density",
    "vapor_density",
    "latent_heat",
    "surface_tension",
    "liquid_viscosity",
    "liquid_conductivity",
    "liquid_heat_capacity",
    "vapor_heat_capacity",
)


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class BoilingLiquid:
    """Properties of a liquid at its temperature, and of its vapor in a film below it."""

    liquid_density: FloatArray
    vapor_density: FloatArray
    latent_heat: FloatArray
    surface_tension: FloatArray
    liquid_viscosity: FloatArray
    liquid_conductivity: FloatArray
    liquid_heat_capacity: FloatArray
    vapor_heat_capacity: FloatArray
    film_density: FloatArray
    film_viscosity: FloatArray
    film_conductivity: FloatArray
    expansion: FloatArray
    """Relative fall of the liquid's density by its temperature [1/K]."""

    @classmethod
    def prepare(cls, fluid: Fluid, temperature: FloatArray, surface_temperature: FloatArray) -> BoilingLiquid:
        """Look up a liquid at its temperature on a surface at another [K].

        Notes
        -----
        Density of the film as that of an ideal gas at the mean temperature; viscosity and conductivity as
        of saturated vapor there, beyond three quarters of the critical temperature in proportion to the
        temperature (common practice, no source).
        """
        values = dict(zip(_SATURATED, fluid.saturated(temperature, *_SATURATED), strict=True))
        (warmer,) = fluid.saturated(temperature + 1.0, "liquid_density")
        film = _film_properties(fluid, temperature, surface_temperature, values["vapor_density"])
        return cls(**values, **film, expansion=1.0 - warmer / values["liquid_density"])

    def on_surface(
        self, fluid: Fluid, temperature: FloatArray, surface_temperature: FloatArray
    ) -> BoilingLiquid:
        """Return the same liquid, at its `temperature`, on a surface at another temperature [K]."""
        film = _film_properties(fluid, temperature, surface_temperature, self.vapor_density)
        return dataclasses.replace(self, **film)

    @property
    def capillary_length(self) -> FloatArray:
        """Return sqrt(sigma / (g (rho_l - rho_v))) [m]."""
        length: FloatArray = np.sqrt(self.surface_tension / (_G * (self.liquid_density - self.film_density)))
        return length


def _film_properties(
    fluid: Fluid, temperature: FloatArray, surface_temperature: FloatArray, vapor_density: FloatArray
) -> dict[str, FloatArray]:
    film = 0.5 * (temperature + np.maximum(surface_temperature, temperature))
    known = np.minimum(film, 0.75 * fluid.critical_temperature)
    viscosity, conductivity = fluid.saturated(known, "vapor_viscosity", "vapor_conductivity")
    return {
        "film_density": vapor_density * (temperature / film),
        "film_viscosity": viscosity * (film / known),
        "film_conductivity": conductivity * (film / known),
    }


def convection_flux(liquid: BoilingLiquid, difference: FloatArray) -> FloatArray:
    """Heat flux that the liquid's own convection carries up from a level surface, without bubbles [W/m2].

    Notes
    -----
    Nu = 0.15 Ra^(1/3), turbulent, so that no length matters; fitted for Ra of 1e7 to 1e11.
    References: incropera2011fundamentals, Eq. 9.31, from memory.

    Examples
    --------
    >>> on = BoilingLiquid.prepare(Fluid("propane"), np.array(231.0), np.array(233.0))
    >>> f"{convection_flux(on, np.array(2.0)):.0f} W/m2"
    '408 W/m2'
    """
    p = liquid
    dT = np.maximum(difference, 0.0)
    viscosity = p.liquid_viscosity / p.liquid_density
    diffusivity = p.liquid_conductivity / (p.liquid_density * p.liquid_heat_capacity)
    flux: FloatArray = (
        0.15 * p.liquid_conductivity * np.cbrt(_G * p.expansion * dT / (viscosity * diffusivity))
    )
    return flux * dT


def nucleate_flux_rohsenow(liquid: BoilingLiquid, difference: FloatArray) -> FloatArray:
    """Heat flux of bubbles that rise from a surface warmer than the liquid by `difference` [W/m2].

    Notes
    -----
    q = mu L sqrt(g (rho_l - rho_v) / sigma) (c dT / (C_sf L Pr^1.7))^3 with C_sf = 0.013. Within a factor two
    at a given difference, 25 % in the difference at a given flux. References: rohsenow1952boiling, from
    memory.

    Examples
    --------
    >>> on = BoilingLiquid.prepare(Fluid("propane"), np.array(231.0), np.array(241.0))
    >>> f"{nucleate_flux_rohsenow(on, np.array(10.0)) / 1e3:.0f} kW/m2"
    '6 kW/m2'
    """
    p = liquid
    scale = p.liquid_viscosity * p.latent_heat
    scale = scale * np.sqrt(_G * (p.liquid_density - p.vapor_density) / p.surface_tension)
    steepness = _rohsenow_steepness(p)
    x = np.maximum(difference, 0.0) * steepness
    flux: FloatArray = scale * (x * x * x)
    return flux


def _rohsenow_steepness(p: BoilingLiquid) -> FloatArray:
    prandtl = p.liquid_heat_capacity * p.liquid_viscosity / p.liquid_conductivity
    steepness: FloatArray = p.liquid_heat_capacity / (
        float(SURFACE_FACTOR) * p.latent_heat * np.power(prandtl, 1.7)
    )
    return steepness


def critical_flux_zuber(liquid: BoilingLiquid) -> FloatArray:
    """Largest heat flux of nucleate boiling [W/m2].

    Notes
    -----
    0.131 L sqrt(rho_v) (sigma g (rho_l - rho_v))^(1/4). References: zuber1959hydrodynamic, from memory.

    Examples
    --------
    >>> on = BoilingLiquid.prepare(Fluid("propane"), np.array(231.0), np.array(241.0))
    >>> f"{critical_flux_zuber(on) / 1e3:.0f} kW/m2"
    '266 kW/m2'
    """
    p = liquid
    buoyancy = p.surface_tension * _G * (p.liquid_density - p.vapor_density)
    flux: FloatArray = 0.131 * p.latent_heat * np.sqrt(p.vapor_density) * np.sqrt(np.sqrt(buoyancy))
    return flux


def film_flux_berenson(liquid: BoilingLiquid, difference: FloatArray) -> FloatArray:
    """Heat flux through a film of vapor on a level surface [W/m2].

    Notes
    -----
    q = 0.425 (k^3 rho g (rho_l - rho) (L + c dT / 2) / (mu dT l))^(1/4) dT, l the capillary length and
    properties of the vapor at the film's mean temperature. Laminar; fitted to n-pentane and carbon
    tetrachloride within 10 %. References: berenson1961film, from memory.

    Examples
    --------
    >>> on = BoilingLiquid.prepare(Fluid("propane"), np.array(231.0), np.array(300.0))
    >>> f"{film_flux_berenson(on, np.array(69.0)) / 1e3:.0f} kW/m2"
    '11 kW/m2'
    """
    p = liquid
    dT = np.maximum(difference, 0.0)
    heat = p.latent_heat + 0.5 * p.vapor_heat_capacity * dT
    k = p.film_conductivity
    group = k * k * k * p.film_density * _G * (p.liquid_density - p.film_density) * heat
    group = group * (dT * dT * dT) / (p.film_viscosity * p.capillary_length)
    flux: FloatArray = 0.425 * np.sqrt(np.sqrt(group))
    return flux


def least_film_difference_berenson(liquid: BoilingLiquid) -> FloatArray:
    """Least temperature difference at which a film of vapor stays whole [K].

    Notes
    -----
    The flux of the film is there 0.09 rho L (sigma g (rho_l - rho) / (rho_l + rho)^2)^(1/4);
    dT = 0.127 (rho L / k) (g (rho_l - rho) / (rho_l + rho))^(2/3) l (mu / (g (rho_l - rho)))^(1/3).
    A rough or wavy surface, or one that conducts badly and cools where it is wetted, loses the film
    earlier. References: berenson1961film, from memory.

    Examples
    --------
    >>> on = BoilingLiquid.prepare(Fluid("propane"), np.array(231.0), np.array(280.0))
    >>> f"{least_film_difference_berenson(on):.0f} K"
    '69 K'
    """
    p = liquid
    lift = _G * (p.liquid_density - p.film_density)
    ratio = np.cbrt(lift / (p.liquid_density + p.film_density))
    difference: FloatArray = 0.127 * p.film_density * p.latent_heat / p.film_conductivity
    difference = difference * (ratio * ratio) * p.capillary_length
    return difference * np.cbrt(p.film_viscosity / lift)


def film_flux_klimenko(liquid: BoilingLiquid, difference: FloatArray) -> FloatArray:
    """Heat flux through a film of vapor on a level surface, laminar or turbulent [W/m2].

    Notes
    -----
    On the length l = 2 pi sqrt(sigma / (g (rho_l - rho))), with Ga = g l^3 rho (rho_l - rho) / mu^2 and
    B = L / (c dT): Nu = 0.19 (Ga Pr)^(1/3) max(1, 0.89 B^(1/3)) up to Ga = 1e8, beyond it
    Nu = 0.0086 Ga^(1/2) Pr^(1/3) max(1, 0.71 B^(1/2)). Fitted to water, cryogens and organic liquids within
    25 %. References: klimenko1981film, from memory.

    Examples
    --------
    >>> on = BoilingLiquid.prepare(Fluid("propane"), np.array(231.0), np.array(300.0))
    >>> f"{film_flux_klimenko(on, np.array(69.0)) / 1e3:.0f} kW/m2"
    '18 kW/m2'
    """
    p = liquid
    dT = np.maximum(difference, 1e-6)
    length = 2.0 * math.pi * p.capillary_length
    galileo = _G * (length * length * length) * p.film_density * (p.liquid_density - p.film_density)
    galileo = galileo / (p.film_viscosity * p.film_viscosity)
    prandtl = p.film_viscosity * p.vapor_heat_capacity / p.film_conductivity
    heats = p.latent_heat / (p.vapor_heat_capacity * dT)
    laminar = 0.19 * np.cbrt(galileo * prandtl) * np.maximum(1.0, 0.89 * np.cbrt(heats))
    turbulent = 0.0086 * np.sqrt(galileo) * np.cbrt(prandtl) * np.maximum(1.0, 0.71 * np.sqrt(heats))
    nusselt = np.where(galileo < 1e8, laminar, turbulent)
    flux: FloatArray = nusselt * p.film_conductivity / length * dT
    return flux


def boiling_flux(
    fluid: Fluid, temperature: FloatArray, surface_temperature: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Heat flux from a surface into a liquid that boils on it, and its exponent.

    Parameters
    ----------
    fluid : Fluid
    temperature, surface_temperature : ndarray
        Of the boiling liquid and of the surface, of one shape [K].

    Returns
    -------
    flux, exponent : ndarray
        q [W/m2], 0 where the surface is the colder; and n of q ~ dT^n there: 4/3 where the liquid only
        circulates, 3 where bubbles rise, negative where the film breaks, 3/4 of the film.

    Notes
    -----
    Convection or Rohsenow's bubbles, whichever gives more, up to the critical flux of Zuber; Berenson's film
    from its least difference up; between the two a straight line on logarithms (common practice, no
    source). To serve a column of ground: conductance q / dT where the exponent n is below 1; where it is
    more, conductance n q / dT to something at the surface's temperature less dT / n (Newton's method; the
    simple ratio would not converge). References: incropera2011fundamentals, rohsenow1952boiling,
    zuber1959hydrodynamic, berenson1961film, all from memory.

    Examples
    --------
    >>> flux, exponent = boiling_flux(Fluid("propane"), np.full(3, 231.0), np.array([241.0, 265.0, 300.0]))
    >>> [f"{x / 1e3:.0f}" for x in flux]
    ['6', '250', '11']
    """
    difference = np.maximum(surface_temperature - temperature, 0.0)
    liquid = BoilingLiquid.prepare(fluid, temperature, surface_temperature)
    least = least_film_difference_berenson(liquid)
    critical = critical_flux_zuber(liquid)
    at_one = nucleate_flux_rohsenow(liquid, np.ones_like(difference))
    highest = np.cbrt(critical / at_one)
    bottom = film_flux_berenson(liquid, least)
    exponent = np.log(bottom / critical) / np.log(np.maximum(least / highest, 1.0 + 1e-9))
    nucleate = difference <= np.minimum(highest, least)
    film = ~nucleate & (difference >= least)
    inside = np.clip(difference, highest, np.maximum(least, highest))
    between = critical * np.exp(exponent * np.log(inside / highest))
    flux = np.where(film, film_flux_berenson(liquid, difference), between)
    flux = np.where(nucleate, nucleate_flux_rohsenow(liquid, difference), flux)
    convection = convection_flux(liquid, difference)
    calm = nucleate & (convection > flux)
    exponent = np.where(calm, 4.0 / 3.0, np.where(nucleate, 3.0, np.where(film, 0.75, exponent)))
    return np.where(calm, convection, flux)[()], exponent[()]
