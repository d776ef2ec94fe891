"""`vessel_heating`: what a flare or a pit does to the tank beside it, and how far it must burn."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.fire.radiation import Fire
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.results import BoolArray, Provenance, Result, plain, quantity, result
from lpgrelease.tank import Contents, SphericalTank
from lpgrelease.tank.shapes import Tank
from lpgrelease.weather import PAINT_EMISSIVITY

__all__ = ["VesselHeating", "side_area", "vessel_heating"]


@result
class VesselHeating(Result):
    """Heat on a tank beside a fire; all fields share the scenarios' shape."""

    heat_flux: FloatArray = quantity("W/m**2", "on the side that faces the flame")
    absorbed_heat: FloatArray = quantity("W", "taken from the fire by the whole tank")
    heat_from_outside: FloatArray = quantity("W", "from air, sky and sun, without the fire")
    cooling: FloatArray = quantity("W", "taken away by the vapor let off")
    holding_flow: FloatArray = quantity(
        "kg/s", "vapor to let off so that the tank does not warm; 0 if it cools"
    )
    warming_rate: FloatArray = quantity("K/s", "of contents and wall; below zero where they cool")
    pressure_rate: FloatArray = quantity("Pa/s", "rise of the pressure")
    stays_cool: BoolArray = quantity("", "whether the tank does not warm")
    nearest_distance: FloatArray = quantity(
        "m", "distance of the fire from which on the tank does not warm; infinite where it warms without it"
    )
    heat_transfer: FloatArray = quantity("W/K", "overall heat transfer that goes with the next field")
    equivalent_air_temperature: FloatArray = quantity(
        "K", "air that brings as much heat as the true one and the fire together"
    )
    cautions: tuple[str, ...] = plain("what to bear in mind")


CAUTIONS = (
    "An estimate, not an instruction. A flame that touches a tank above its liquid can break it within "
    "minutes, however little heat the tank as a whole takes up: no flame may reach the container.",
    "The wall above the liquid gets hotter than the contents; this says nothing of its strength.",
)


def side_area(tank: Tank) -> FloatArray:
    """Area of a tank's shadow on an upright wall [m2], its long side to the fire.

    Exact for a sphere and a plain cylinder; up to a tenth too large for one with heads.

    Examples
    --------
    >>> import lpgrelease as lr
    >>> f"{side_area(lr.SphericalTank(diameter=2.0)):.3f}"
    '3.142'
    """
    share = 4.0 if isinstance(tank, SphericalTank) else math.pi
    return tank.surface_area / share


def vessel_heating(
    fire: Fire,
    contents: Contents,
    *,
    distance: QuantityLike,
    direction: QuantityLike = "downwind",
    height: QuantityLike | None = None,
    vented_flow: QuantityLike = 0.0,
    absorptivity: QuantityLike = float(PAINT_EMISSIVITY),
) -> VesselHeating:
    """Heat that a tank receives from a fire, and the distance that keeps it from warming.

    Parameters
    ----------
    fire : Fire
        A pool fire, a pit or a flare; its weather is the tank's.
    contents : Contents
        Of the tank.
    distance : number, array or quantity
        From the fire's axis to the tank's middle [m], large against the tank.
    direction : {"downwind", "crosswind", "upwind"} or number, array or quantity
        From the fire to the tank.
    height : number, array or quantity, optional
        Of the tank's middle above the ground [m]; None: lying on the ground.
    vented_flow : number, array or quantity
        Vapor let off to the flare [kg/s]; its heat of evaporation cools the tank.
    absorptivity : number or array
        Of the tank for the heat of flames, 0 to 1; that of paint unless given.

    Returns
    -------
    VesselHeating

    Raises
    ------
    InputError, OutOfRangeError
        Bad arguments, or as for :meth:`lpgrelease.fire.Fire.heat_flux`.

    Notes
    -----
    Absorbed: absorptivity times the flux at the tank's middle times its side area, as from a small, far
    flame. The tank does not warm where the vapor let off takes away that and the heat from outside. Under a
    flame that burns above it, a tank may stay cool and yet warm farther off: `nearest_distance` lies beyond.

    To march on in time, call `tank_history` in the fire's weather with a `TankFire` whose environment factor
    is `absorbed_heat` over the heat of `fire_engulfment`, as below: the tank takes up that heat at first, as
    much when it is warmer, less as its wetted surface shrinks. All of it goes to the liquid, none to a wall
    of its own above it. A factor above 1 is refused: such a fire is not far off.

    heat_transfer (T_equivalent - T) is all the heat at the present temperature. It is to compare with, not to
    march in: flames soon bring the equivalent air above the 335 K where `Weather` ends.

    Examples
    --------
    >>> import lpgrelease as lr
    >>> from lpgrelease.fire import vapor_flare
    >>> tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=170.0)
    >>> cold = lr.Contents(tank, lr.Fluid("propane"), fill=0.5, temperature=250.0)
    >>> flare = vapor_flare(lr.Fluid("propane"), mass_flow=0.1, height=3.0)
    >>> heating = vessel_heating(flare, cold, distance=15.0, vented_flow=0.03)
    >>> print(f"{heating.absorbed_heat / 1e3:.1f} kW, stays cool: {heating.stays_cool}, "
    ...     f"nearest {heating.nearest_distance:.0f} m")
    3.7 kW, stays cool: True, nearest 13 m

    The next ten minutes, with nothing let off but a drip:

    >>> factor = heating.absorbed_heat / lr.fire_engulfment(cold).heat
    >>> drip = lr.Opening(diameter=1e-4, height=1.04)
    >>> run = lr.tank_history(cold, openings=[drip], weather=flare.weather, duration=600.0,
    ...     fire=lr.TankFire(environment_factor=factor))
    >>> print(f"{run.temperature[-1] - 250.0:.1f} K warmer")
    2.0 K warmer
    """
    if not isinstance(fire, Fire):
        raise InputError(f"fire must be a Fire, got {type(fire).__name__}")
    if not isinstance(contents, Contents):
        raise InputError(f"contents must be Contents, got {type(contents).__name__}")
    tank, T = contents.tank, contents.temperature
    middle = 0.5 * tank.height if height is None else to_si(height, "m", "height", lower=0.0)
    flow = to_si(vented_flow, "kg/s", "vented_flow", lower=0.0)
    absorbed_share = to_si(absorptivity, "", "absorptivity", lower=0.0, upper=1.0, open_lower=True)
    flux = fire.heat_flux(distance, direction=direction, height=middle)
    outside, transfer = _outside(tank, fire, T)
    latent, slope_above, slope_below = _properties(contents)
    heat = contents.liquid_mass * latent[1] + tank.wall_capacity
    named = broadcast(
        flux=flux,
        absorptivity=absorbed_share * side_area(tank),
        outside=outside,
        cooling=flow * latent[0],
        latent=latent[0],
        capacity=heat,
        slope=slope_above - slope_below,
        transfer=transfer,
        temperature=T,
    )
    q, area, Q_out, cooling, L, C, slope, UA, T = named
    absorbed = area * q
    net = absorbed + Q_out - cooling
    rate = net / C
    bearable = (cooling - Q_out) / area
    nearest = fire.standoff(np.maximum(bearable, 1e-6), direction=direction, height=middle)
    return VesselHeating(
        heat_flux=np.array(q)[()],
        absorbed_heat=absorbed[()],
        heat_from_outside=np.array(Q_out)[()],
        cooling=np.array(cooling)[()],
        holding_flow=np.maximum((absorbed + Q_out) / L, 0.0)[()],
        warming_rate=rate[()],
        pressure_rate=(rate * slope)[()],
        stays_cool=(net <= 0.0)[()],
        nearest_distance=np.where(bearable > 1e-6, nearest, np.inf)[()],
        heat_transfer=np.array(UA)[()],
        equivalent_air_temperature=(T + (absorbed + Q_out) / UA)[()],
        cautions=CAUTIONS,
        provenance=Provenance(
            "tank beside a fire: flux at its middle on its side area", fire.provenance.sources
        ),
    )


def _outside(tank: Tank, fire: Fire, T: FloatArray) -> tuple[Any, Any]:
    """Heat from air, sky and sun [W], and an overall heat transfer [W/K]."""
    weather = fire.weather
    if tank.heat_transfer is not None:
        return tank.heat_transfer * (weather.air_temperature - T), tank.heat_transfer
    exchange = tank.outside_exchange(weather)
    area = tank.surface_area
    return exchange.heat_flux(T) * area, exchange.convection_coefficient(T + 0.0) * area


def _properties(contents: Contents) -> tuple[tuple[FloatArray, FloatArray], FloatArray, FloatArray]:
    """Latent heat and heat capacity, and pressures half a kelvin above and below."""
    T, fluid = contents.temperature, contents.fluid
    latent, capacity = fluid.saturated(T, "latent_heat", "liquid_heat_capacity")
    low, high = fluid.lowest_temperature, fluid.highest_temperature
    above, below = np.minimum(T + 0.5, high), np.maximum(T - 0.5, low)
    width = above - below
    return (
        (latent, capacity),
        fluid.saturated(above, "pressure")[0] / width,
        fluid.saturated(below, "pressure")[0] / width,
    )
