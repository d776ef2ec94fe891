"""Weather, and the heat it brings to a bare vessel wall: convection, long-wave radiation and sun.

Apart from :class:`Weather`, whose arguments are checked once when it is made, everything here is a
plain function of SI arrays: elementwise, broadcasting, without checks, fit for inner loops. Powers
are taken with ``numpy.power`` and not ``**``, whose scalar and array forms may differ in the last bit.
"""

from __future__ import annotations

import dataclasses
import math
from typing import Final

import numpy as np

from lpgrelease.constants import (
    FREEZING_POINT_OF_WATER,
    GAS_CONSTANT,
    STANDARD_ATMOSPHERE,
    STANDARD_GRAVITY,
    STEFAN_BOLTZMANN,
    Constant,
)
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, require_word, to_si
from lpgrelease.results import Provenance, Result, plain, quantity, result

__all__ = [
    "OutsideExchange",
    "Weather",
    "air_conductivity",
    "air_density",
    "air_viscosity",
    "combined_nusselt",
    "forced_nusselt_cylinder",
    "longwave_exchange",
    "natural_nusselt_cylinder",
    "outside_heat_flux",
    "sky_emissivity",
    "water_vapor_pressure",
]

AIR_HEAT_CAPACITY: Final = Constant(
    1006.0,
    "isobaric heat capacity of dry air, 200 to 350 K",
    "J/kg/K",
    "incropera2011fundamentals, Table A.4",
    2.0,
)
AIR_MOLAR_MASS: Final = Constant(0.0289655, "molar mass of dry air", "kg/mol", "picard2008air", 1e-6)
PAINT_EMISSIVITY: Final = Constant(
    0.90,
    "long-wave emissivity of white paint",
    "",
    "incropera2011fundamentals, Table A.11, from memory",
    0.03,
)
WHITE_PAINT_ABSORPTIVITY: Final = Constant(
    0.25,
    "solar absorptance of white paint, average condition",
    "",
    "epa2020tanks, Table 7.1-6, from memory",
    0.08,
)
SUNLIT_FRACTION_CYLINDER: Final = Constant(
    float(1 / np.pi), "shadow of a long cylinder, sun square to the axis, over its whole side", "", "geometry"
)
SUNLIT_FRACTION_SPHERE: Final = Constant(0.25, "shadow of a sphere over its whole surface", "", "geometry")

_STABILITY_CLASSES = ("A", "B", "C", "D", "E", "F")
_RANGES: dict[str, tuple[str, float, float, str]] = {
    "air_temperature": ("K", 180.0, 335.0, "air near the ground"),
    "wind_speed": ("m/s", 0.0, 100.0, "wind near the ground"),
    "relative_humidity": ("", 0.0, 1.0, "a fraction"),
    "solar_irradiance": ("W/m**2", 0.0, 1500.0, "sunshine at the ground"),
    "cloud_cover": ("", 0.0, 1.0, "a fraction of the sky"),
    "ambient_pressure": ("Pa", 30e3, 110e3, "air pressure between the highest summits and the lowest land"),
}


@result
class Weather(Result):
    """Air, wind, sky and sun at the site.

    Every number may be an array or a pint quantity of any registry; the shapes must broadcast.

    Parameters
    ----------
    air_temperature : number, array or quantity
        [K], 180 to 335.
    wind_speed : number, array or quantity
        Mean wind [m/s], 0 to 100, 10 m above open ground; each model says if it needs another height.
    relative_humidity : number or array
        Over liquid water, 0 to 1.
    solar_irradiance : number, array or quantity
        Sunshine, direct and diffuse, on a horizontal plane [W/m2], 0 to 1500.
    cloud_cover : number or array
        Fraction of the sky that is covered, 0 to 1.
    ambient_pressure : number, array or quantity
        Absolute [Pa], 30e3 to 110e3.
    stability : {"A", "B", "C", "D", "E", "F"}, optional
        Pasquill's class; None leaves it to the model that needs one.

    Raises
    ------
    InputError
        Wrong kind or dimension, not finite, shapes that do not broadcast, an unknown class.
    OutOfRangeError
        Outside the ranges above.

    Examples
    --------
    >>> Weather(air_temperature=300.0)
    Weather
      air_temperature    300            K
      wind_speed         2              m/s
      relative_humidity  0.5
      solar_irradiance   0              W/m**2
      cloud_cover        0.5
      ambient_pressure   101325         Pa
      stability          None
      model              site as given
    """

    air_temperature: QuantityLike = quantity("K", "air temperature", default=293.15)
    wind_speed: QuantityLike = quantity("m/s", "mean wind speed at 10 m", default=2.0)
    relative_humidity: QuantityLike = quantity("", "relative humidity over liquid water", default=0.5)
    solar_irradiance: QuantityLike = quantity("W/m**2", "sunshine on a horizontal plane", default=0.0)
    cloud_cover: QuantityLike = quantity("", "covered fraction of the sky", default=0.5)
    ambient_pressure: QuantityLike = quantity(
        "Pa", "absolute air pressure", default=float(STANDARD_ATMOSPHERE)
    )
    stability: str | None = plain("Pasquill's stability class", default=None)
    provenance: Provenance = plain("where the numbers come from", default=Provenance("site as given"))

    def __post_init__(self) -> None:
        """Turn every number into SI arrays and check it."""
        arrays = {}
        for name, (unit, lower, upper, why) in _RANGES.items():
            arrays[name] = to_si(getattr(self, name), unit, name, lower=lower, upper=upper, why=why)
            object.__setattr__(self, name, arrays[name])
        broadcast(**arrays)
        if self.stability is not None:
            require_word(self.stability, _STABILITY_CLASSES, "stability")


def air_viscosity(temperature: FloatArray) -> FloatArray:
    """Dynamic viscosity of dry air [Pa s] by Sutherland's law, within 2 % from 170 to 1900 K.

    Notes
    -----
    mu = 1.716e-5 (T / 273)^1.5 (273 + 111) / (T + 111).
    References: white2006viscous, Table 1-2.

    Examples
    --------
    >>> f"{air_viscosity(300.0):.4g}"
    '1.847e-05'
    """
    T = temperature
    return (1.716e-5 * (273.0 + 111.0) / (273.0 * math.sqrt(273.0))) * (T * np.sqrt(T)) / (T + 111.0)


def air_conductivity(temperature: FloatArray) -> FloatArray:
    """Thermal conductivity of dry air [W/m/K] by Sutherland's law, within 2 % from 160 to 2000 K.

    That is the published claim; CoolProp 8.0 gives 2.1 % more at 230 K and 3.3 % more at 200 K.

    Notes
    -----
    k = 0.0241 (T / 273)^1.5 (273 + 194) / (T + 194).
    References: white2006viscous, Table 1-3.

    Examples
    --------
    >>> f"{air_conductivity(300.0):.4f}"
    '0.0262'
    """
    T = temperature
    return (0.0241 * (273.0 + 194.0) / (273.0 * math.sqrt(273.0))) * (T * np.sqrt(T)) / (T + 194.0)


def air_density(temperature: FloatArray, pressure: FloatArray) -> FloatArray:
    """Density of dry air [kg/m3] as an ideal gas, within 0.3 % from 200 K up at 1 atm.

    Moisture is left out: saturated air at 30 degC is 1.6 % lighter.

    Notes
    -----
    rho = p M / (R T). References: picard2008air (molar mass).

    Examples
    --------
    >>> f"{air_density(293.15, 101325.0):.4f}"
    '1.2041'
    """
    return pressure * (AIR_MOLAR_MASS / GAS_CONSTANT) / temperature


def water_vapor_pressure(temperature: FloatArray, relative_humidity: FloatArray) -> FloatArray:
    """Partial pressure of water in moist air [Pa], within 0.4 % from 233 to 323 K.

    Notes
    -----
    e = RH 610.94 exp(17.625 t / (243.04 + t)), t in degC, over liquid water.
    References: alduchov1996magnus, Eq. 21.

    Examples
    --------
    >>> f"{water_vapor_pressure(293.15, 1.0):.0f}"
    '2333'
    """
    t = temperature - float(FREEZING_POINT_OF_WATER)
    return relative_humidity * (610.94 * np.exp(17.625 * t / (243.04 + t)))


def sky_emissivity(
    air_temperature: FloatArray, relative_humidity: FloatArray, cloud_cover: FloatArray
) -> FloatArray:
    """Emissivity of the sky seen from the ground, relative to a black body at air temperature.

    Clear sky by Brutsaert, clouds by Unsworth and Monteith. Made for air above freezing and for
    sites near sea level; very dry or very cold air lies outside its data (0 for no moisture at all).
    At middling moisture within 5 % of Swinbank's clear sky, 5.31e-13 T^6 W/m2 (swinbank1963longwave).
    In hot and sultry air, above a dew point of about 312 K, Brutsaert's formula exceeds 1; no sky radiates
    more than a black body as warm as the air, so it is held at 1 there.

    Notes
    -----
    eps_0 = min(1.24 (e / T)^(1/7), 1), e in hPa [brutsaert1975longwave, Eq. 11; the bound is ours];
    eps = (1 - 0.84 c) eps_0 + 0.84 c [unsworth1975longwave].

    Examples
    --------
    >>> f"{sky_emissivity(293.15, 0.5, 0.0):.3f} {sky_emissivity(293.15, 0.5, 1.0):.3f}"
    '0.782 0.965'
    """
    e = water_vapor_pressure(air_temperature, relative_humidity) / 100.0
    clear = np.minimum(1.24 * np.power(e / air_temperature, 1.0 / 7.0), 1.0)
    return (1.0 - 0.84 * cloud_cover) * clear + 0.84 * cloud_cover


def longwave_exchange(
    surface_temperature: FloatArray,
    air_temperature: FloatArray,
    sky: FloatArray,
    emissivity: FloatArray,
    *,
    sky_fraction: float = 0.5,
) -> FloatArray:
    """Net long-wave radiation into a gray surface [W/m2], positive into it.

    The surface sees the sky with `sky_fraction` of its view and for the rest ground, taken black and
    at air temperature. One half is exact for a horizontal cylinder or a sphere over open level ground.

    Parameters
    ----------
    surface_temperature, air_temperature : float or ndarray
        [K].
    sky : float or ndarray
        Emissivity of the sky, from :func:`sky_emissivity`.
    emissivity : float or ndarray
        Of the surface, equal to its long-wave absorptivity.
    sky_fraction : float
        View factor of the sky.

    Notes
    -----
    q = eps sigma ((F eps_sky + 1 - F) T_air^4 - T_s^4). References: incropera2011fundamentals, section 12.

    Examples
    --------
    >>> f"{longwave_exchange(293.15, 293.15, 0.8, 0.9):.1f}"
    '-37.7'
    """
    incoming = (sky_fraction * sky + (1.0 - sky_fraction)) * _fourth(air_temperature)
    return emissivity * float(STEFAN_BOLTZMANN) * (incoming - _fourth(surface_temperature))


def forced_nusselt_cylinder(reynolds: FloatArray, prandtl: FloatArray) -> FloatArray:
    """Mean Nusselt number of a cylinder in cross flow, on the diameter, properties at film temperature.

    For Re Pr > 0.2; the data behind it reach Re of about 4e6 (from memory), with a spread of 20 % or
    more. A wind along the axis, or a vessel close to the ground, takes up less heat than this.

    Notes
    -----
    Nu = 0.3 + 0.62 Re^(1/2) Pr^(1/3) [1 + (0.4/Pr)^(2/3)]^(-1/4) [1 + (Re/282000)^(5/8)]^(4/5).
    References: churchill1977crossflow, Eq. 9; incropera2011fundamentals, Eq. 7.54.

    Examples
    --------
    >>> f"{forced_nusselt_cylinder(6071.0, 0.70):.1f}"
    '40.6'
    """
    return _forced_nusselt(reynolds, _forced_factor(prandtl))


def natural_nusselt_cylinder(rayleigh: FloatArray, prandtl: FloatArray) -> FloatArray:
    """Mean Nusselt number of a horizontal cylinder in still air, on the diameter, at film temperature.

    For Ra up to 1e12; beyond it keeps to Nu ~ Ra^(1/3), the accepted turbulent law.

    Notes
    -----
    Nu = {0.60 + 0.387 Ra^(1/6) [1 + (0.559/Pr)^(9/16)]^(-8/27)}^2.
    References: churchill1975cylinder; incropera2011fundamentals, Eq. 9.34.

    Examples
    --------
    >>> f"{natural_nusselt_cylinder(5.073e6, 0.697):.1f}"
    '23.1'
    """
    return _natural_nusselt(rayleigh, _natural_factor(prandtl))


def combined_nusselt(forced: FloatArray, natural: FloatArray) -> FloatArray:
    """Nusselt number of mixed convection where wind blows across a horizontal cylinder or a sphere.

    Notes
    -----
    Nu^4 = Nu_forced^4 + Nu_natural^4, the exponent recommended for flow square to buoyancy.
    References: incropera2011fundamentals, section 9.9.

    Examples
    --------
    >>> f"{combined_nusselt(40.0, 40.0):.2f}"
    '47.57'
    """
    return np.sqrt(np.sqrt(_fourth(forced) + _fourth(natural)))


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class OutsideExchange:
    """Heat from outside into a bare wall, with all that does not depend on its temperature prepared.

    Make it with :meth:`prepare`, once per weather and vessel, and call :meth:`heat_flux` in the loop.

    Notes
    -----
    The Prandtl number is taken at air temperature, all else at the film temperature: over a film
    30 K colder than the air this moves the convection by less than 0.5 %. Frost and condensation,
    which bring their latent heat to a cold wall, and rain are left out; a frosted wall is also
    nearly black to heat (emissivity 0.98) and a poor absorber of sunshine.
    """

    air_temperature: FloatArray
    diameter: FloatArray
    absorbed: FloatArray
    """Long-wave radiation and sunshine taken up [W/m2]."""
    emitted: FloatArray
    """Emissivity times the Stefan-Boltzmann constant [W/m2/K4]."""
    reynolds_group: FloatArray
    """u D rho T [kg K/m/s]: Re = group / (mu T)."""
    rayleigh_group: FloatArray
    """g D^3 (rho T)^2 Pr [kg2 K2/m2/s2]: Ra = group dT / ((mu T)^2 T)."""
    forced_factor: FloatArray
    natural_factor: FloatArray

    @classmethod
    def prepare(
        cls,
        weather: Weather,
        diameter: FloatArray,
        *,
        emissivity: FloatArray | float = PAINT_EMISSIVITY,
        absorptivity: FloatArray | float = WHITE_PAINT_ABSORPTIVITY,
        sunlit_fraction: FloatArray | float = SUNLIT_FRACTION_CYLINDER,
    ) -> OutsideExchange:
        """Work out the constants of one weather and vessel; SI arrays, unchecked.

        Parameters
        ----------
        weather : Weather
            The wind at 10 m is taken as it is.
        diameter : float or ndarray
            Of the cylinder or sphere [m].
        emissivity, absorptivity : float or ndarray
            Long-wave emissivity and solar absorptance of the surface.
        sunlit_fraction : float or ndarray
            Shadow area over surface area; the sunshine is spread over the whole surface.
        """
        Ta, D = weather.air_temperature, diameter
        rho_T = weather.ambient_pressure * (AIR_MOLAR_MASS / GAS_CONSTANT)
        Pr = AIR_HEAT_CAPACITY * air_viscosity(Ta) / air_conductivity(Ta)
        sky = sky_emissivity(Ta, weather.relative_humidity, weather.cloud_cover)
        longwave = longwave_exchange(np.zeros(()), Ta, sky, np.multiply(1.0, emissivity))
        return cls(
            air_temperature=Ta,
            diameter=D,
            absorbed=longwave + absorptivity * weather.solar_irradiance * sunlit_fraction,
            emitted=np.multiply(float(STEFAN_BOLTZMANN), emissivity),
            reynolds_group=weather.wind_speed * D * rho_T,
            rayleigh_group=STANDARD_GRAVITY * (D * D * D) * (rho_T * rho_T) * Pr,
            forced_factor=_forced_factor(Pr),
            natural_factor=_natural_factor(Pr),
        )

    def heat_flux(self, surface_temperature: FloatArray) -> FloatArray:
        """Heat flux into the wall [W/m2] at its outside temperature [K], positive inward."""
        difference = self.air_temperature - surface_temperature
        return (
            self.convection_coefficient(surface_temperature) * difference
            + self.absorbed
            - self.emitted * _fourth(surface_temperature)
        )

    def convection_coefficient(self, surface_temperature: FloatArray) -> FloatArray:
        """Coefficient of convection [W/m2/K] at a wall temperature [K]."""
        film = 0.5 * (self.air_temperature + surface_temperature)
        mu_T = air_viscosity(film) * film
        forced = _forced_nusselt(self.reynolds_group / mu_T, self.forced_factor)
        difference = np.abs(self.air_temperature - surface_temperature)
        rayleigh = self.rayleigh_group * difference / (mu_T * mu_T * film)
        natural = _natural_nusselt(rayleigh, self.natural_factor)
        return combined_nusselt(forced, natural) * air_conductivity(film) / self.diameter


def outside_heat_flux(
    weather: Weather,
    surface_temperature: FloatArray,
    diameter: FloatArray,
    emissivity: FloatArray | float = PAINT_EMISSIVITY,
    absorptivity: FloatArray | float = WHITE_PAINT_ABSORPTIVITY,
) -> FloatArray:
    """Heat flux into the bare wall of a horizontal cylinder [W/m2], positive inward.

    Wind and buoyancy, long-wave radiation from sky and ground, and sunshine, as a mean over the
    surface. SI arrays, unchecked; in a loop prepare an :class:`OutsideExchange` once instead.

    Examples
    --------
    >>> f"{outside_heat_flux(Weather(), 231.0, 1.0):.0f}"
    '684'
    """
    exchange = OutsideExchange.prepare(weather, diameter, emissivity=emissivity, absorptivity=absorptivity)
    return exchange.heat_flux(surface_temperature)


def _forced_factor(Pr: FloatArray) -> FloatArray:
    return 0.62 * np.cbrt(Pr) / np.power(1.0 + np.power(0.4 / Pr, 2.0 / 3.0), 0.25)


def _forced_nusselt(Re: FloatArray, factor: FloatArray) -> FloatArray:
    return 0.3 + factor * np.sqrt(Re) * np.power(1.0 + np.power(Re / 282000.0, 0.625), 0.8)


def _natural_factor(Pr: FloatArray) -> FloatArray:
    return 0.387 / np.power(1.0 + np.power(0.559 / Pr, 9.0 / 16.0), 8.0 / 27.0)


def _natural_nusselt(Ra: FloatArray, factor: FloatArray) -> FloatArray:
    root = 0.60 + factor * np.cbrt(np.sqrt(Ra))
    return root * root


def _fourth(x: FloatArray) -> FloatArray:
    square = x * x
    return square * square
