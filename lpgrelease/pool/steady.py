"""The pool that neither grows nor shrinks: what feed keeps it alive for ever."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.ground import Ground
from lpgrelease.pool.assemble import conduction_potential, flat_inputs, surface_over
from lpgrelease.pool.cautions import cautions_of
from lpgrelease.pool.evaporate import PoolSurface
from lpgrelease.pool.film import Film, FilmBalance, lowest_zeta, solve_film
from lpgrelease.pool.inputs import Spill
from lpgrelease.pool.landing import land
from lpgrelease.pool.liquid import PureLiquid
from lpgrelease.pool.sites import Hollow
from lpgrelease.quantities import FloatArray, QuantityLike, require_kind, to_si
from lpgrelease.results import Provenance, Result, plain, quantity, result
from lpgrelease.weather import Weather

__all__ = ["SustainingFeed", "sustaining_feed"]

ROUNDS: Final = 12
DISC: Final = 4.0 / math.pi
"""Steady heat flux into a cold disc on a half-space over k dT / R."""


@result
class SustainingFeed(Result):
    """The steady feed that a pool lives on for ever, and how it then lies there."""

    mass_flow: FloatArray = quantity("kg/s", "from the leak, before the flash")
    landed_flow: FloatArray = quantity("kg/s", "liquid that has to land")
    mass_flux: FloatArray = quantity("kg/m**2/s", "vapor from the pool")
    temperature: FloatArray = quantity("K", "of the pool")
    heat_flux_ground: FloatArray = quantity("W/m**2", "steady heat through the ground from all around")
    heat_flux_air: FloatArray = quantity("W/m**2", "convection from the air")
    heat_flux_longwave: FloatArray = quantity("W/m**2", "net long-wave radiation")
    heat_flux_sun: FloatArray = quantity("W/m**2", "sunshine taken up")
    heat_flux_frost: FloatArray = quantity("W/m**2", "freezing moisture, rain and snow")
    cautions: tuple[str, ...] = plain("what to keep in mind before acting on it", default=())


def sustaining_feed(
    fluid: Fluid,
    *,
    site: Hollow,
    ground: Ground,
    weather: Weather | None = None,
    temperature: QuantityLike | None = None,
    captured_fraction: QuantityLike = 1.0,
    level: QuantityLike = 0.0,
) -> SustainingFeed:
    """Steady feed that keeps a pool over the whole floor of a hollow alive for ever.

    A feed below it lets any pool dry up in the end, however deep; a feed above it fills the hollow in the
    end, however warm the ground was.

    Parameters
    ----------
    fluid : Fluid
        A pure fluid.
    site : Hollow
        Its area is the pool's.
    ground : Ground
        The temperature of the undisturbed ground stays.
    weather : Weather, optional
    temperature, captured_fraction
        As for `Spill`.
    level : number, array or quantity
        Of the liquid above the floor [m]; only for how much calm vapor lies over it.

    Returns
    -------
    SustainingFeed

    Raises
    ------
    InputError, OutOfRangeError

    Notes
    -----
    The balance of `pool_history` with nothing changing: q_ground + q_air + q_longwave + q_sun + q_frost =
    m'' (L + h_l - h_fed). The ground gives the steady 4 k dT / (pi R) of a disc on a half-space, with the
    integral of the conductivity for k dT, frozen and unfrozen: nothing at all for a pool without end.
    References: carslaw1959conduction, section 8.2; brighton1985evaporation; mackay1973evaporation.

    Examples
    --------
    >>> need = sustaining_feed(Fluid("propane"), site=Hollow(area=4.0, depth=0.5),
    ...     ground=Ground.named("clay"), weather=Weather(air_temperature=300.15))
    >>> print(f"{need.mass_flow * 1e3:.0f} g/s, pool at {need.temperature - 273.15:.0f} degC")
    30 g/s, pool at -66 degC
    """
    weather = Weather() if weather is None else weather
    for name, value, kind in (("fluid", fluid, Fluid), ("site", site, Hollow), ("ground", ground, Ground)):
        if not isinstance(value, kind):
            raise InputError(f"{name}: {type(value).__name__} is no {kind.__name__}")
    require_kind(weather, Weather, "weather")
    share = to_si(captured_fraction, "", "captured_fraction", lower=0.0, upper=1.0, open_lower=True)
    if fluid.is_blend:
        raise InputError("fluid: a pure fluid; a blend's pool has no steady composition but that of its feed")
    height = to_si(level, "m", "level", lower=0.0)
    spill = Spill(mass_flow=height * 0.0 + 1.0, temperature=temperature, captured_fraction=share)
    a, shape = flat_inputs(spill, ground, weather, site, np.broadcast_to(1.0, np.shape(height)))
    landing = land(fluid, spill, a, shape)
    liquid = PureLiquid.prepare(fluid, a["ambient_pressure"])
    surface = surface_over(fluid, a, liquid.boiling_point)
    above = a["site depth"] - np.broadcast_to(height, shape).reshape(-1)
    landed_share, landed_enthalpy = landing.feed.landed[0], landing.feed.landed_enthalpy[0]
    if np.any(landed_share <= 0.0):
        raise InputError("temperature: so warm a liquid flashes whole, and nothing of the feed lands")
    near, far = conduction_potential(a, liquid.boiling_point)
    per_radius = DISC / np.sqrt(a["site area"] / math.pi)
    balance, film = _settle(
        liquid,
        surface,
        area=a["site area"],
        still_vapor=a["vapor_fill"] * np.maximum(above, 0.0),
        ground=(near * per_radius, far * per_radius),
        fed_enthalpy=landed_enthalpy / landed_share,
    )

    def single(values: FloatArray) -> FloatArray:
        return np.broadcast_to(values, (len(landed_share),)).reshape(shape)[()]

    flux, T = film.carried, film.temperature
    rain = surface.ice_heat(T)[1]
    return SustainingFeed(
        mass_flow=single(flux * a["site area"] / landed_share),
        landed_flow=single(flux * a["site area"]),
        mass_flux=single(flux),
        temperature=single(T),
        heat_flux_ground=single(per_radius * (far + near * (liquid.boiling_point - T))),
        heat_flux_air=single(balance.air * film.convection * (a["air_temperature"] - T)),
        heat_flux_longwave=single(surface.radiation(T)[0]),
        heat_flux_sun=single(surface.absorbed_sun),
        heat_flux_frost=single(balance.frost * film.frost + surface.precipitation * rain),
        cautions=cautions_of(fluid),
        provenance=Provenance(
            "steady pool", ("carslaw1959conduction", "mackay1973evaporation", "brighton1985evaporation")
        ),
    )


def _settle(
    liquid: PureLiquid,
    surface: PoolSurface,
    *,
    area: FloatArray,
    still_vapor: FloatArray,
    ground: tuple[FloatArray, FloatArray],
    fed_enthalpy: FloatArray,
) -> tuple[FilmBalance, Film]:
    """Find the temperature at which nothing changes, per area and second."""
    near, far = ground
    T, zeta = liquid.boiling_point, np.zeros_like(area)
    coefficients = surface.coefficients(area, still_vapor)
    for _ in range(ROUNDS):
        state = liquid.at(T)
        k_rho, h = surface.transfer(coefficients, T)
        longwave, slope = surface.radiation(T)
        frost, rain = surface.ice_heat(T)
        balance = FilmBalance(
            reference=T,
            heat=far
            + near * (liquid.boiling_point - T)
            + longwave
            + surface.absorbed_sun
            + surface.precipitation * rain,
            heat_slope=near - slope,
            air=h,
            air_temperature=surface.air_temperature,
            frost=h * surface.moisture * frost,
            carried=k_rho,
            latent=state.latent + state.enthalpy - fed_enthalpy,
            latent_slope=state.vapor_heat_capacity,
            blowing=k_rho * state.vapor_heat_capacity / h,
            frost_blowing=surface.moisture_blowing,
            boiling_point=state.boiling_point,
            clapeyron=state.clapeyron,
        )
        low = lowest_zeta(state.boiling_point, state.clapeyron, liquid.fluid.lowest_temperature)
        film = solve_film(balance, zeta, low, np.zeros(area.shape, dtype=bool))
        T, zeta = film.temperature, film.zeta
    return balance, film
