"""Holding a cold tank at a gauge pressure: vapor to let out, for how long; and how fast pressure returns."""

from __future__ import annotations

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.results import Provenance, Result, plain, quantity, result
from lpgrelease.tank.additions import TankWall
from lpgrelease.tank.contents import Contents
from lpgrelease.tank.history import tank_history
from lpgrelease.weather import Weather

__all__ = ["SteadyHold", "pressure_return", "steady_hold"]

CAUTIONS = (
    "Heat that comes in cannot be shut off: vapor must leave somewhere safe for as long as liquid is left.",
    "Wind, sun and rain change the heat; frost falls off. Watch the gauge, not the clock.",
)


@result
class SteadyHold(Result):
    """A tank held at one pressure by letting out what boils; all fields share the scenarios' shape."""

    temperature: FloatArray = quantity("K", "saturation temperature at the pressure held")
    heat_gained: FloatArray = quantity("W", "heat from outside")
    vapor_rate: FloatArray = quantity("kg/s", "vapor to let out")
    time_until_dry: FloatArray = quantity("s", "until the liquid is gone; infinite where no heat comes in")
    cautions: tuple[str, ...] = plain("what to bear in mind")


def steady_hold(
    contents: Contents, *, weather: Weather | None = None, gauge_pressure: QuantityLike = 0.0
) -> SteadyHold:
    """Vapor rate that keeps a tank at a gauge pressure against its heat gain, and the time until it is dry.

    Parameters
    ----------
    contents : Contents
        What is in the tank when it has come to that pressure; of it only tank, fluid and mass count.
    weather : Weather, optional
    gauge_pressure : number, array or quantity
        To hold [Pa]; 0 by default.

    Returns
    -------
    SteadyHold

    Raises
    ------
    InputError, OutOfRangeError

    Notes
    -----
    From equation (2) of `lpgrelease.tank.venting` at rest: m = Q/(h_v - a), a little less than Q/L, as some
    of the vapor stays and fills the room of the liquid. All metal at the liquid's temperature: the dry wall
    of a bare tank passes less (`equilibrium_numbers`), so this is the largest rate. The liquid is gone when
    the mass has come down to that of vapor alone.

    Examples
    --------
    >>> import lpgrelease as lr
    >>> propane = lr.Fluid("propane")
    >>> tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=170.0)
    >>> cold = lr.Contents(tank, propane, fill=0.5, temperature=propane.normal_boiling_point)
    >>> hold = steady_hold(cold)
    >>> print(f"{hold.vapor_rate * 1e3:.1f} g/s for {hold.time_until_dry / 3600:.1f} h")
    24.7 g/s for 13.4 h
    """
    if not isinstance(contents, Contents):
        raise InputError(f"contents must be Contents, got {contents!r}")
    weather = Weather() if weather is None else weather
    fluid, tank = contents.fluid, contents.tank
    gauge = to_si(gauge_pressure, "Pa", "gauge_pressure", lower=0.0)
    gauge, air = broadcast(gauge_pressure=gauge, ambient_pressure=weather.ambient_pressure)
    pressure = fluid.pressure_range(gauge + air, "gauge_pressure + ambient_pressure")
    T = fluid.saturation_temperature(np.asarray(pressure))
    if tank.heat_transfer is not None:
        heat = tank.heat_transfer * (weather.air_temperature - T)
    else:
        heat = tank.surface_area * tank.outside_exchange(weather).heat_flux(T)
    h_v, a, rho_v = fluid.saturated(T, "vapor_enthalpy", "inventory_energy_per_mass", "vapor_density")
    rate = np.maximum(heat, 0.0) / (h_v - a)
    left = np.maximum(contents.mass - tank.volume * rho_v, 0.0)
    flows = rate > 0.0
    dry = np.where(flows, left / np.where(flows, rate, 1.0), np.inf)
    T, heat, rate, dry = broadcast(temperature=T, heat=heat, rate=rate, dry=dry)
    return SteadyHold(
        temperature=np.array(T)[()],
        heat_gained=np.array(heat)[()],
        vapor_rate=np.array(rate)[()],
        time_until_dry=np.array(dry)[()],
        cautions=CAUTIONS,
        provenance=Provenance("equilibrium inventory at rest", (), fluid.table.credit),
    )


def pressure_return(
    contents: Contents,
    *,
    gauge_pressure: QuantityLike,
    weather: Weather | None = None,
    wall: TankWall | None = None,
) -> FloatArray:
    """Time in which a shut tank's pressure comes up to a gauge pressure [s]; infinite where it does not.

    Parameters
    ----------
    contents : Contents
        When the vent is shut.
    gauge_pressure : number, array or quantity
        To come to [Pa].
    weather : Weather, optional
    wall : TankWall, optional
        As for `tank_history`.

    Returns
    -------
    float or ndarray
        [s], of the broadcast shape; 0 where the pressure is that high already.

    Raises
    ------
    InputError, OutOfRangeError

    Notes
    -----
    A tank that only warms is warmest at its surface: its pressure may come back faster than this.

    Examples
    --------
    >>> import lpgrelease as lr
    >>> propane = lr.Fluid("propane")
    >>> tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=170.0)
    >>> cold = lr.Contents(tank, propane, fill=0.5, temperature=propane.normal_boiling_point)
    >>> print(f"{pressure_return(cold, gauge_pressure=1e5) / 3600:.1f} h")
    1.7 h
    """
    if not isinstance(contents, Contents):
        raise InputError(f"contents must be Contents, got {contents!r}")
    weather = Weather() if weather is None else weather
    run = tank_history(contents, weather=weather, stop_at_gauge_pressure=gauge_pressure, wall=wall, points=2)
    gauge = contents.gauge_pressure(ambient_pressure=weather.ambient_pressure)
    now, sought, time = broadcast(
        now=gauge, gauge_pressure=to_si(gauge_pressure, "Pa", "gauge_pressure"), time=run.time[..., -1]
    )
    reached = np.where(run.stopped_by == "gauge pressure", time, np.inf)
    return np.where(now >= sought, 0.0, reached)[()]
