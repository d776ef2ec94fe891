"""`pool_fire`: a pool of boiling liquid that burns in the open, its flame and the heat it sends out."""

from __future__ import annotations

import math
import warnings
from typing import Any, Final

import numpy as np

from lpgrelease.burning import burning_rates
from lpgrelease.errors import OutOfRangeError, ValidityWarning
from lpgrelease.fire.radiation import CAUTIONS, RADIATION_MODELS, Fire
from lpgrelease.fire.shape import (
    dimensionless_wind,
    drag_ratio_moorhouse,
    emissive_power_mudan,
    flame_length_heskestad,
    flame_length_thomas,
    flame_length_thomas_wind,
    tilt_aga,
    tilt_thomas,
    wind_at_height,
)
from lpgrelease.fire.view_factor import Flame, flame_area
from lpgrelease.fluids import Fluid
from lpgrelease.quantities import (
    FloatArray,
    QuantityLike,
    broadcast,
    require_flag,
    require_kind,
    require_word,
    to_si,
)
from lpgrelease.results import Provenance, quantity, result
from lpgrelease.weather import Weather, air_density

__all__ = ["PoolFire", "check_diameter", "flame_of_pool", "pool_fire"]

DIAMETERS: Final = (0.2, 100.0)
_TILT_HEIGHT: Final = 1.6
_LENGTHS: Final = ("thomas", "heskestad")
_TILTS: Final = ("aga", "thomas", "none")
_EMISSIONS: Final = ("smoke obscured", "radiated fraction")
SOURCES: Final[dict[str, tuple[str, ...]]] = {
    "babrauskas": ("babrauskas1983burning",),
    "burgess-hertzberg": ("burgess1974radiation", "babrauskas1983burning"),
    "thomas": ("thomas1963flames",),
    "heskestad": ("heskestad1984heights",),
    "aga": ("aga1974lng", "moorhouse1982scaling"),
    "none": (),
    "smoke obscured": ("mudan1984radiation",),
    "radiated fraction": (),
}


@result
class PoolFire(Fire):
    """A pool fire; all numeric fields share the scenarios' shape."""

    diameter: FloatArray = quantity("m", "diameter of the pool")
    burning_flux: FloatArray = quantity("kg/m**2/s", "mass burned on each area of the pool")
    burning_rate: FloatArray = quantity("kg/s", "mass burned")
    regression_rate: FloatArray = quantity("m/s", "speed at which the liquid's surface sinks")
    flame_base_length: FloatArray = quantity("m", "length of the flame's base downwind, wind drag included")


def pool_fire(
    fluid: Fluid,
    *,
    diameter: QuantityLike,
    weather: Weather | None = None,
    burning: str = "babrauskas",
    length: str = "thomas",
    tilt: str = "aga",
    emission: str = "smoke obscured",
    radiated_fraction: QuantityLike = 0.3,
    radiation: str = "solid flame",
    extrapolate: bool = False,
) -> PoolFire:
    """Describe a round pool of boiling liquid that burns steadily, lit long ago, on ground grown cold.

    Parameters
    ----------
    fluid : Fluid
    diameter : number, array or quantity
        Of the pool [m], 0.2 to 100; for another shape that of the same area.
    weather : Weather, optional
        Wind at 10 m, temperature, pressure and humidity of the air.
    burning : {"babrauskas", "burgess-hertzberg"}
        Published burning constants, or the largest burning flux from the ratio of heats.
    length : {"thomas", "heskestad"}
        Thomas: in still air or, where the dimensionless wind is above 1, in wind. Heskestad: still air.
    tilt : {"aga", "thomas", "none"}
        Lean in wind. "none" also leaves out the drag of the flame's base.
    emission : {"smoke obscured", "radiated fraction"}
        Mudan's law for smoky flames, never more than the radiated fraction allows; or just that fraction.
    radiated_fraction : number or array
        Largest share of the heat of combustion that is radiated, 0.05 to 0.6; 0.2 to 0.4 were measured.
    radiation : {"solid flame", "point source"}
        How it is sent out: from the flame's surface, or from the middle of its axis.
    extrapolate : bool
        Leave the range of diameters, with a warning.

    Returns
    -------
    PoolFire
        Fields of the shape to which the arguments broadcast.

    Raises
    ------
    InputError, OutOfRangeError
        Bad arguments; a substance without published burning constants, or one whose pools do not burn.

    Warns
    -----
    ValidityWarning
        A diameter out of range, with `extrapolate`.

    Notes
    -----
    The flame is a leaning cylinder with level ends, as wide as its base is long: D' = D times the drag ratio,
    its upwind edge over that of the pool. Side and top radiate alike. The tilt takes the wind 1.6 m above the
    ground, a one-seventh power of height below that at 10 m. That wind also fans small pools, and that a
    sheltered pit lets flames stand upright, is left out.

    See Also
    --------
    burn_pit, still_pool_fire, vapor_flare

    References
    ----------
    babrauskas1983burning, thomas1963flames, heskestad1984heights, aga1974lng, moorhouse1982scaling,
    mudan1984radiation, wayne1991formula.

    Examples
    --------
    >>> from lpgrelease import Fluid, Weather
    >>> fire = pool_fire(Fluid("propane"), diameter=4.0, weather=Weather(wind_speed=3.0))
    >>> print(f"{fire.burning_rate:.2f} kg/s, flame {fire.flame_length:.1f} m, "
    ...     f"stand {fire.standoff(heat_flux=1600.0):.0f} m away")
    1.24 kg/s, flame 10.4 m, stand 32 m away
    """
    weather = Weather() if weather is None else weather
    require_kind(fluid, Fluid, "fluid")
    require_kind(weather, Weather, "weather")
    require_flag(extrapolate, "extrapolate")
    require_word(radiation, RADIATION_MODELS, "radiation")
    D, outside = check_diameter(diameter, extrapolate)
    chi = to_si(radiated_fraction, "", "radiated_fraction", lower=0.05, upper=0.6, why="measured shares")
    D, chi, ambient, *_ = broadcast(
        diameter=D,
        radiated_fraction=chi,
        ambient_pressure=fluid.pressure_range(weather.ambient_pressure, "ambient_pressure of the weather"),
        wind_speed=weather.wind_speed,
        air_temperature=weather.air_temperature,
    )
    boiling = fluid.saturation_temperature(np.atleast_1d(ambient)).reshape(D.shape)
    latent, rho_l = fluid.saturated(boiling, "latent_heat", "liquid_density")
    flux = burning_rates(fluid, D, latent, burning)
    fire = flame_of_pool(
        fluid, D, flux, weather, length=length, tilt=tilt, emission=emission, chi=chi, radiation=radiation
    )
    sources = [key for name in (burning, length, tilt, emission) for key in SOURCES[name]]
    return PoolFire(
        **fire,
        diameter=np.array(D)[()],
        burning_flux=flux[()],
        burning_rate=(flux * 0.25 * math.pi * D * D)[()],
        regression_rate=(flux / rho_l)[()],
        weather=weather,
        radiation=radiation,
        cautions=(*fluid.cautions, *CAUTIONS),
        provenance=Provenance(
            f"pool fire: burning by {burning}, length by {length}, tilt by {tilt}, {emission}, {radiation}",
            tuple(dict.fromkeys((*sources, "wayne1991formula"))),
            fluid.credit,
            outside,
        ),
    )


def check_diameter(diameter: QuantityLike, extrapolate: bool) -> tuple[FloatArray, tuple[str, ...]]:
    """Diameter in SI, and the range that was left, if any."""
    wide = to_si(diameter, "m", "diameter", lower=0.0, open_lower=True)
    low, high = DIAMETERS
    bad = np.ravel((wide < low) | (wide > high))
    if not bad.any():
        return wide, ()
    text = f"pool diameters of {low:g} to {high:g} m"
    if not extrapolate:
        worst = float(np.ravel(wide)[bad][0])
        raise OutOfRangeError("diameter", worst, "m", low, high, f"{text}; extrapolate=True leaves it")
    warnings.warn(f"outside {text}", ValidityWarning, stacklevel=3)
    return wide, (text,)


def flame_of_pool(
    fluid: Fluid,
    diameter: FloatArray,
    burning_flux: FloatArray,
    weather: Weather,
    *,
    length: str,
    tilt: str,
    emission: str,
    chi: FloatArray,
    radiation: str,
) -> dict[str, Any]:
    """Flame over a pool that burns `burning_flux`: the fields it has as a `Fire`, and its base."""
    require_word(length, _LENGTHS, "length")
    require_word(tilt, _TILTS, "tilt")
    require_word(emission, _EMISSIONS, "emission")
    D, ambient = diameter, np.asarray(weather.ambient_pressure)
    rho_a = air_density(np.asarray(weather.air_temperature), ambient)
    boiling = fluid.saturation_temperature(np.atleast_1d(ambient)).reshape(ambient.shape)
    (rho_v,) = fluid.saturated(boiling, "vapor_density")
    Q = burning_flux * (0.25 * math.pi * fluid.heat_of_combustion) * D * D
    u_star = dimensionless_wind(wind_at_height(weather.wind_speed, _TILT_HEIGHT), burning_flux, D, rho_v)
    if length == "heskestad":
        L = flame_length_heskestad(Q, D)
    else:
        in_wind = flame_length_thomas_wind(burning_flux, D, rho_a, np.maximum(u_star, 1.0))
        L = np.where(u_star > 1.0, in_wind, flame_length_thomas(burning_flux, D, rho_a))
    theta = np.zeros_like(L) if tilt == "none" else tilt_aga(u_star) if tilt == "aga" else tilt_thomas(u_star)
    drag = np.ones_like(L) if tilt == "none" else drag_ratio_moorhouse(weather.wind_speed, D)
    L = np.maximum(L, 1e-3 * D)
    flame = standing_flame(D, drag, L, theta)
    area = flame_area(flame, with_base=False)
    E = chi * Q / area
    if emission == "smoke obscured":
        E = np.minimum(E, emissive_power_mudan(D))
    radiated = chi * Q if radiation == "point source" else E * area
    fields = {
        "heat_release_rate": Q,
        "radiated_fraction": radiated / Q,
        "flame_length": L,
        "flame_tilt": theta,
        "surface_emissive_power": E,
        "radiated_power": radiated,
        "flame_base_length": drag * D,
    }
    arrays = np.broadcast_arrays(*fields.values(), *flame)
    shaped = [np.array(a)[()] for a in arrays]
    return dict(zip(fields, shaped, strict=False)) | {"flame": Flame(*shaped[len(fields) :])}


def standing_flame(D: FloatArray, drag: FloatArray, L: FloatArray, theta: FloatArray) -> Flame:
    """Leaning cylinder on the ground, as wide as its base is long, its upwind edge over the pool's."""
    radius = 0.5 * drag * D
    base = radius - 0.5 * D
    lean, rise = L * np.sin(theta), L * np.cos(theta)
    level = np.zeros_like(base)
    return Flame(base, level, radius, base + lean, rise, radius, level)
