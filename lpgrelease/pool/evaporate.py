"""Heat and vapor between a pool and the air above it: plain functions of SI arrays."""

from __future__ import annotations

import dataclasses
import math
import re
from typing import Final, NamedTuple

import numpy as np

from lpgrelease.constants import (
    FREEZING_POINT_OF_WATER,
    GAS_CONSTANT,
    ICE_HEAT_CAPACITY,
    ICE_LATENT_HEAT,
    STEFAN_BOLTZMANN,
    SUBLIMATION_HEAT,
    WATER_HEAT_CAPACITY,
    Constant,
)
from lpgrelease.elementwise import larger, where
from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.quantities import FloatArray
from lpgrelease.weather import (
    AIR_HEAT_CAPACITY,
    AIR_MOLAR_MASS,
    air_conductivity,
    air_density,
    air_viscosity,
    longwave_exchange,
    sky_emissivity,
    water_vapor_pressure,
)

__all__ = [
    "Coefficients",
    "PoolSurface",
    "blowing_factor_ackermann",
    "diffusion_volume_fuller",
    "diffusion_volume_of",
    "diffusivity_fuller",
    "longwave_in",
    "mass_transfer_mackay_matsugu",
    "still_air_transfer_disc",
]

LIQUID_EMISSIVITY: Final = Constant(
    0.95, "long-wave emissivity of a pool of liquid", "", "common practice, no source", 0.04
)
LIQUID_ABSORPTIVITY: Final = Constant(
    0.90,
    "sunshine taken up by a shallow pool and the wet ground under it",
    "",
    "common practice, no source",
    0.1,
)
AIR_DIFFUSION_VOLUME: Final = Constant(
    19.7, "Fuller's diffusion volume of air", "", "poling2000properties, from memory"
)
WATER_MOLAR_MASS: Final = Constant(
    0.0180153, "molar mass of water", "kg/mol", "haynes2014handbook, from memory"
)
WATER_LEWIS_NUMBER: Final = Constant(
    0.85,
    "thermal diffusivity of air over the diffusivity of moisture in it, 25 degC",
    "",
    "incropera2011fundamentals, Tables A.4 and A.8, from memory",
    0.03,
)

_EMITTED: Final = float(LIQUID_EMISSIVITY) * float(STEFAN_BOLTZMANN)
_ICE, _MELTING, _SUBLIMATION = (
    float(constant) for constant in (ICE_HEAT_CAPACITY, FREEZING_POINT_OF_WATER, SUBLIMATION_HEAT)
)
_DISC: Final = 4.0 / math.pi
_ATOMIC_VOLUMES = {"C": 15.9, "H": 2.31, "O": 6.11, "N": 4.54, "F": 14.7, "Cl": 21.0}
_MOLECULAR_VOLUMES = {
    "CO": 18.0, "CO2": 26.9, "Cl2": 38.4, "F6S": 71.3, "H2": 6.12, "H2O": 13.1, "H3N": 20.7, "N2": 18.5,
    "N2O": 35.9, "O2": 16.3, "O2S": 41.8,
}  # fmt: skip
"""Molecules of the table, but for noble gases, bromine and deuterium. Increments do not serve them: they
would give nitrous oxide less than nitrogen alone."""


def diffusion_volume_fuller(formula: str) -> float:
    """Fuller's diffusion volume of a molecule from its formula.

    Raises
    ------
    InputError
        An element without an increment here (C, H, O, N, F and Cl have one).

    Notes
    -----
    Sum of atomic increments, but molecules that the table has by themselves as those (carbon monoxide and
    dioxide, chlorine, hydrogen, water, ammonia, nitrogen, nitrous oxide, oxygen, sulfur dioxide and
    hexafluoride). Formulas in the order of Hill: ammonia is H3N. The decrement of rings, -18.3, is not taken:
    formulas do not tell them. Of ethylene and propylene oxide it would make the diffusivity a fifth greater.
    That of nitrous oxide in air comes out at 1.22e-5 m2/s at 0 degC, 15 % below the 1.436e-5 of a review of
    measurements; by increments it would be 14 % above.
    References: poling2000properties, Table 11-1, from memory (nitrous oxide read in a program's copy of it);
    massman1998diffusivities (as a program cites it).

    Examples
    --------
    >>> f"{diffusion_volume_fuller('C3H8'):.2f}"
    '66.18'
    """
    if formula in _MOLECULAR_VOLUMES:
        return _MOLECULAR_VOLUMES[formula]
    parts = re.findall(r"([A-Z][a-z]?)(\d*)", formula)
    if not parts or any(element not in _ATOMIC_VOLUMES for element, _ in parts):
        raise InputError(f"no diffusion volume for {formula!r}; increments: {', '.join(_ATOMIC_VOLUMES)}")
    return sum(_ATOMIC_VOLUMES[element] * int(count or 1) for element, count in parts)


def diffusion_volume_of(fluid: Fluid) -> float:
    """Fuller's diffusion volume, of a blend the mean by moles."""
    pairs = zip(fluid.fractions, fluid.substances, strict=True)
    return sum(share * diffusion_volume_fuller(substance.formula) for share, substance in pairs)


def diffusivity_fuller(
    temperature: FloatArray,
    pressure: FloatArray,
    molar_mass: FloatArray | float,
    diffusion_volume: FloatArray | float,
) -> FloatArray:
    """Diffusivity of a dilute vapor in air [m2/s], usually within 5 to 10 %.

    Notes
    -----
    D = 0.00143 T^1.75 / (p M_AB^(1/2) (v_A^(1/3) + v_B^(1/3))^2) in cm2/s, bar, g/mol,
    M_AB = 2 / (1/M_A + 1/M_B). References: poling2000properties, Eq. 11-4.4, from memory.

    Examples
    --------
    >>> f"{diffusivity_fuller(np.array(298.15), np.array(101325.0), 0.0440956, 66.18):.3g}"
    '1.12e-05'
    """
    mean_mass = 2e3 / (1.0 / molar_mass + 1.0 / AIR_MOLAR_MASS)
    size = np.cbrt(diffusion_volume) + np.cbrt(float(AIR_DIFFUSION_VOLUME))
    factor = 1e-4 * 0.00143 * 1e5 / (np.sqrt(mean_mass) * (size * size))
    diffusivity: FloatArray = factor * np.power(temperature, 1.75) / pressure
    return diffusivity


def mass_transfer_mackay_matsugu(
    wind_speed: FloatArray, diameter: FloatArray, schmidt: FloatArray
) -> FloatArray:
    """Mass transfer coefficient of a pool in wind [m/s].

    Notes
    -----
    k = 0.0292 U^0.78 X^-0.11 Sc^-0.67 with U in m/h and X in m gives k in m/h; here 0.00482 in m/s.
    U at 10 m. Fitted to pans of water, cumene and gasoline 1.2 to 2.4 m wide in winds to about 7 m/s (from
    memory); wider pools are an extrapolation, weak through the exponent 0.11.
    References: mackay1973evaporation, from memory.

    Examples
    --------
    >>> f"{mass_transfer_mackay_matsugu(np.array(5.0), np.array(10.0), np.array(0.8)):.4f}"
    '0.0152'
    """
    factor = 0.0292 * 3600.0**0.78 / 3600.0
    wind: FloatArray = factor * np.power(wind_speed, 0.78)
    return wind * np.power(diameter, -0.11) * np.power(schmidt, -0.67)


def still_air_transfer_disc(diffusivity: FloatArray, radius: FloatArray) -> FloatArray:
    """Transfer coefficient of a disc on the ground in motionless air [unit of diffusivity per m].

    Notes
    -----
    A disc of radius R exchanges 4 D R with the half-space above it when all is steady: k = 4 D / (pi R).
    With a conductivity in place of D the coefficient of heat. References: carslaw1959conduction, section 8.2.

    Examples
    --------
    >>> f"{still_air_transfer_disc(np.array(1e-5), np.array(1.0)):.3g}"
    '1.27e-05'
    """
    return (4.0 / math.pi) * diffusivity / radius


def blowing_factor_ackermann(blowing: FloatArray) -> FloatArray:
    """Share of the convective heat that still reaches a surface from which vapor streams away.

    Parameters
    ----------
    blowing : ndarray
        phi = m'' c_p,vapor / h, 0 or more.

    Notes
    -----
    phi / (exp(phi) - 1): film theory (Ackermann 1937, from memory).

    Examples
    --------
    >>> f"{blowing_factor_ackermann(np.array(1.0)):.4f}"
    '0.5820'
    """
    phi = np.maximum(blowing, 1e-9)
    return phi * np.exp(-phi) / -np.expm1(-phi)


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class PoolSurface:
    """What the surroundings do to a pool's surface, prepared once per set of scenarios.

    Notes
    -----
    Chilton-Colburn makes the heat coefficient from the mass coefficient; both contain the limit of
    still air over a disc, so that no wind still evaporates. Schmidt and Prandtl numbers are taken at
    the film between air and boiling point, the density of the film at the pool's own temperature.
    Calm vapor in a hollow is a second resistance, crossed by diffusion (D / height) and conduction. The
    air's moisture freezes onto the pool at the rate that its heat coefficient and the analogy give, against
    the vapor that streams away; the ice sinks or floats and is counted apart. Rain and snow freeze and cool
    to the pool's temperature.
    """

    air_temperature: FloatArray
    wind_factor: FloatArray
    """Mass transfer coefficient in wind times d^0.11."""
    diffusivity: FloatArray
    colburn: FloatArray
    """(Sc / Pr)^(2/3)."""
    conductivity: FloatArray
    vapor_conductivity: FloatArray
    """Of the pool's own vapor [W/m/K]."""
    absorbed_longwave: FloatArray
    """Emissivity times the radiation of sky and cover [W/m2]."""
    absorbed_sun: FloatArray
    moisture: FloatArray
    """Ice that forms per heat coefficient and second, without blowing [kg K/J]."""
    moisture_blowing: FloatArray
    """Blowing of moisture over that of vapor: the ratio of their coefficients."""
    precipitation: FloatArray
    fusion: FloatArray
    """Heat of precipitation until it is ice at 0 degC [J/kg]."""
    molar_mass: FloatArray
    vapor_factor: FloatArray
    """2 p M / R: twice the film's density of vapor times its temperature [kg K/m3]."""
    air_factor: FloatArray
    """The same of air, times its heat capacity and the analogy's (Sc / Pr)^(2/3) [J/m3]."""

    @classmethod
    def prepare(
        cls,
        weather: dict[str, FloatArray],
        *,
        boiling_point: FloatArray,
        molar_mass: FloatArray,
        diffusion_volume: float | FloatArray,
        vapor_conductivity: FloatArray,
    ) -> PoolSurface:
        """Work out the constants from arrays of weather and exposure, all of shape (scenarios,)."""
        Ta, p = weather["air_temperature"], weather["ambient_pressure"]
        film = 0.5 * (Ta + boiling_point)
        D = diffusivity_fuller(film, p, molar_mass, diffusion_volume)
        nu = air_viscosity(film) / air_density(film, p)
        colburn = np.power(nu / D / (AIR_HEAT_CAPACITY * air_viscosity(film) / air_conductivity(film)), 2 / 3)
        wind = weather["wind_speed"] * weather["wind_share"]
        wet = water_vapor_pressure(Ta, weather["relative_humidity"]) / p
        lewis = float(WATER_LEWIS_NUMBER) ** (2.0 / 3.0)
        above = np.maximum(Ta - float(FREEZING_POINT_OF_WATER), 0.0)
        per_mole = 2.0 * p / float(GAS_CONSTANT)
        melted = where(above > 0.0, float(ICE_LATENT_HEAT) + float(WATER_HEAT_CAPACITY) * above, 0.0)
        return cls(
            air_temperature=Ta,
            wind_factor=mass_transfer_mackay_matsugu(wind, np.ones_like(Ta)[()], nu / D),
            diffusivity=D,
            colburn=colburn,
            conductivity=air_conductivity(film),
            vapor_conductivity=np.asarray(vapor_conductivity)[()],
            absorbed_longwave=longwave_in(weather),
            absorbed_sun=float(LIQUID_ABSORPTIVITY) * weather["solar_irradiance"] * weather["sun_share"],
            moisture=wet * float(WATER_MOLAR_MASS / AIR_MOLAR_MASS) / (float(AIR_HEAT_CAPACITY) * lewis),
            moisture_blowing=lewis / colburn,
            precipitation=weather["precipitation"],
            fusion=melted,
            molar_mass=np.asarray(molar_mass)[()],
            vapor_factor=per_mole * molar_mass,
            air_factor=per_mole * float(AIR_MOLAR_MASS * AIR_HEAT_CAPACITY) * colburn,
        )

    def select(self, row: int) -> PoolSurface:
        """Return one row of surroundings in rows."""
        return PoolSurface(*(getattr(self, f.name)[row] for f in dataclasses.fields(self)))

    def coefficients(self, area: FloatArray, still_vapor: FloatArray | float = 0.0) -> Coefficients:
        """Return what :meth:`transfer` needs for pools of an area under a height of calm vapor [m]."""
        radius = np.sqrt(area / math.pi)
        disc = _DISC / radius
        forced = self.wind_factor * np.power(2.0 * radius, -0.11)
        k = larger(forced + disc * self.diffusivity, 1e-30)
        k = 1.0 / (1.0 / k + still_vapor / self.diffusivity)
        calm = still_vapor / self.vapor_conductivity
        return Coefficients(k * self.vapor_factor, forced * self.air_factor, disc * self.conductivity, calm)

    def transfer(self, coefficients: Coefficients, temperature: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return k rho of the vapor [kg/m2/s] and h [W/m2/K] over a pool of a temperature."""
        twice_film = temperature + self.air_temperature
        h = coefficients.forced / twice_film + coefficients.still
        return coefficients.vapor / twice_film, h / (1.0 + h * coefficients.calm)

    def radiation(self, temperature: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the net long-wave radiation into the pool [W/m2] and its slope by temperature."""
        emitted = _EMITTED * temperature * temperature * temperature
        return self.absorbed_longwave - emitted * temperature, -4.0 * emitted

    def ice_heat(self, temperature: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Heat of moisture that freezes and of rain or snow, down to a temperature [J/kg of each]."""
        cooled = _ICE * (_MELTING - temperature)
        return _SUBLIMATION + cooled, self.fusion + cooled

    def bare_ground(self, area: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Coefficient of heat [W/m2/K] over dry ground and the temperature it tends to [K].

        Convection as over the pool without blowing, radiation linear about the air's temperature, the sun
        with the same absorptivity: ground is as dark and as black as a shallow pool.
        """
        Ta = self.air_temperature
        _, h = self.transfer(self.coefficients(area), Ta)
        longwave, slope = self.radiation(Ta)
        total = h - slope
        return total, Ta + (longwave + self.absorbed_sun) / total


class Coefficients(NamedTuple):
    """Transfer over pools of given areas, but for their temperatures."""

    vapor: FloatArray
    forced: FloatArray
    still: FloatArray
    calm: FloatArray
    """Resistance of the calm vapor to heat [m2 K/W]."""


def longwave_in(weather: dict[str, FloatArray]) -> FloatArray:
    """Radiation of sky and cover that a pool takes up [W/m2]; the cover is taken black."""
    Ta, cover = weather["air_temperature"], weather["cover_temperature"]
    sky = sky_emissivity(Ta, weather["relative_humidity"], weather["cloud_cover"])
    black = np.full_like(Ta, LIQUID_EMISSIVITY)
    from_sky = longwave_exchange(np.zeros_like(Ta), Ta, sky, black, sky_fraction=1.0)
    from_cover = longwave_exchange(np.zeros_like(Ta), cover, np.ones_like(Ta), black, sky_fraction=1.0)
    share = weather["sky_share"]
    return share * from_sky + (1.0 - share) * from_cover
