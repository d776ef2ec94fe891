"""From what can be read on the spot to what a forecast needs: a gauge to contents, a rate to a hole."""

from __future__ import annotations

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.quantities import QuantityLike, broadcast, require_kind, to_si
from lpgrelease.release import Opening, liquid_release, vapor_release
from lpgrelease.tank import Contents
from lpgrelease.tank.shapes import Tank
from lpgrelease.weather import Weather

__all__ = ["contents_from_gauge", "leak_from_rate"]


def contents_from_gauge(
    tank: Tank,
    fluid: Fluid,
    *,
    fill: QuantityLike,
    gauge_pressure: QuantityLike,
    weather: Weather | None = None,
) -> Contents:
    """Contents of a tank whose gauge was read: the pressure is that of saturation and tells the temperature.

    Parameters
    ----------
    tank : HorizontalTank, VerticalTank or SphericalTank
    fluid : Fluid
    fill : number or array
        Liquid volume fraction, 0 to 1.
    gauge_pressure : number, array or quantity
        Above the air's [Pa].
    weather : Weather, optional
        Pressure of the air.

    Returns
    -------
    Contents

    Raises
    ------
    InputError, OutOfRangeError
        Wrong kinds; a pressure outside the fluid's table.

    Notes
    -----
    Not for a tank padded with air or nitrogen, nor for one whose top layer is warmer than the rest.

    Examples
    --------
    >>> import lpgrelease as lr
    >>> tank = lr.HorizontalTank(diameter=1.2, length=3.0)
    >>> contents = lr.contents_from_gauge(tank, lr.Fluid("propane"), fill=0.6, gauge_pressure=7.35e5)
    >>> print(f"{contents.temperature:.1f} K")
    293.1 K
    """
    if not isinstance(fluid, Fluid):
        raise InputError(f"fluid must be a Fluid, got {fluid!r}")
    weather = Weather() if weather is None else weather
    require_kind(weather, Weather, "weather")
    air = weather.ambient_pressure
    gauge = to_si(gauge_pressure, "Pa", "gauge_pressure")
    gauge, air = broadcast(gauge_pressure=gauge, ambient_pressure=air)
    pressure = fluid.pressure_range(gauge + air, "gauge_pressure + ambient_pressure")
    return Contents(
        tank, fluid, fill=fill, temperature=fluid.saturation_temperature(np.asarray(pressure))[()]
    )


def leak_from_rate(
    contents: Contents,
    *,
    mass_flow: QuantityLike,
    height: QuantityLike,
    discharge_coefficient: QuantityLike = 0.62,
    weather: Weather | None = None,
) -> Opening:
    """Hole that passes a flow that was measured: as liquid where liquid stands at it, otherwise as vapor.

    Parameters
    ----------
    contents : Contents
        When it was measured.
    mass_flow : number, array or quantity
        [kg/s], above 0.
    height : number, array or quantity
        Of the hole above the tank's lowest point [m].
    discharge_coefficient : number or array
    weather : Weather, optional
        Pressure of the air.

    Returns
    -------
    Opening

    Raises
    ------
    InputError, OutOfRangeError
        Wrong kinds; a tank at or below the air's pressure from which nothing flows.

    Examples
    --------
    >>> import lpgrelease as lr
    >>> tank = lr.HorizontalTank(diameter=1.2, length=3.0)
    >>> contents = lr.Contents(tank, lr.Fluid("propane"), fill=0.6, temperature=293.15)
    >>> leak = lr.leak_from_rate(contents, mass_flow=0.5, height=0.2)
    >>> print(f"{leak.diameter * 1e3:.1f} mm")
    6.1 mm
    """
    if not isinstance(contents, Contents):
        raise InputError(f"contents must be Contents, got {contents!r}")
    weather = Weather() if weather is None else weather
    require_kind(weather, Weather, "weather")
    flow = to_si(mass_flow, "kg/s", "mass_flow", lower=0.0, open_lower=True)
    unit = Opening(diameter=1.0, discharge_coefficient=discharge_coefficient, height=height)
    broadcast(
        mass_flow=flow,
        height=unit.height,
        discharge_coefficient=unit.discharge_coefficient,
        contents=contents.level,
        ambient_pressure=weather.ambient_pressure,
    )
    head = contents.level - np.asarray(unit.height)
    fluid, t, air = contents.fluid, contents.temperature, weather.ambient_pressure
    liquid = liquid_release(fluid, unit, temperature=t, head=np.maximum(head, 0.0), ambient_pressure=air)
    vapor = vapor_release(fluid, unit, temperature=t, ambient_pressure=air)
    most = np.where(head > 0.0, liquid.mass_flow, vapor.mass_flow)
    if not np.all(most > 0.0):
        raise InputError("mass_flow: nothing flows from a tank that is not above the pressure of the air")
    return Opening(
        diameter=np.sqrt(flow / most)[()], discharge_coefficient=discharge_coefficient, height=height
    )
