"""Holding a cold tank at a gauge pressure: vapor to let out, for how long; and how fast pressure returns."""

from __future__ import annotations

import warnings
from collections.abc import Callable

import numpy as np

from lpgrelease.errors import InputError, ValidityWarning
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, require_kind, to_si
from lpgrelease.results import BoolArray, IntArray, Provenance, Result, StringArray, plain, quantity, result
from lpgrelease.tank.additions import TankWall
from lpgrelease.tank.contents import Contents
from lpgrelease.tank.gather import Gathered, gather, heat_from_outside
from lpgrelease.tank.history import TankHistory, tank_history
from lpgrelease.tank.vapor_alone import VaporAlone, warming_time
from lpgrelease.tank.venting import take_tank
from lpgrelease.tank.zones_solve import surroundings
from lpgrelease.weather import Weather

__all__ = ["LiquidFull", "SteadyHold", "liquid_full", "pressure_return", "steady_hold"]

CAUTIONS = (
    "Heat that comes in cannot be shut off: vapor must leave somewhere safe for as long as liquid is left.",
    "Wind, sun and rain change the heat; frost falls off. Watch the gauge, not the clock.",
)
COLD_END = "cold end of the property tables"
"""Why a history ends that goes on cooling: its pressure falls."""
_AIR = (
    "air_temperature",
    "wind_speed",
    "relative_humidity",
    "solar_irradiance",
    "cloud_cover",
    "ambient_pressure",
)


@result
class SteadyHold(Result):
    """A tank held at one pressure by letting out what boils; all fields share the scenarios' shape."""

    temperature: FloatArray = quantity("K", "saturation temperature at the pressure held")
    heat_rate: FloatArray = quantity("W", "heat from outside")
    vapor_rate: FloatArray = quantity("kg/s", "vapor to let out")
    time_until_dry: FloatArray = quantity("s", "until the liquid is gone; infinite where no heat comes in")
    cautions: tuple[str, ...] = plain("what to bear in mind")


def steady_hold(
    contents: Contents,
    *,
    weather: Weather | None = None,
    gauge_pressure: QuantityLike = 0.0,
    wall: TankWall | None = None,
) -> SteadyHold:
    """Vapor rate that keeps a tank at a gauge pressure against its heat gain, and the time until it is dry.

    Parameters
    ----------
    contents : Contents
        What is in the tank when it has come to that pressure; of it only tank, fluid and mass count. A pure
        fluid: the boiling point of a blend climbs as its light ends leave, and nothing is at rest.
    weather : Weather, optional
    gauge_pressure : number, array or quantity
        To hold [Pa]; 0 by default.
    wall : TankWall, optional
        Insulation, and contact with ground or water. None: bare.

    Returns
    -------
    SteadyHold

    Raises
    ------
    InputError, OutOfRangeError
        Contents that are a blend's; bad arguments.

    Notes
    -----
    From equation (2) of `lpgrelease.tank.venting` at rest: m = Q/(h_v - a), a little less than Q/L, as some
    of the vapor stays and fills the room of the liquid. All metal at the liquid's temperature, also where
    `wall` has two: the dry wall passes less (`equilibrium_numbers`), so this is the largest rate. The liquid
    is gone when the mass has come down to that of vapor alone.

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
    require_kind(weather, Weather, "weather")
    fluid, tank = contents.fluid, contents.tank
    if fluid.is_blend:
        raise InputError(
            f"contents must be of a pure fluid, got {fluid.name}: no steady rate holds a blend at a "
            "pressure, for it gets warmer as its light ends leave; march it with tank_history"
        )
    gauge = to_si(gauge_pressure, "Pa", "gauge_pressure", lower=0.0)
    broadcast(gauge_pressure=gauge, contents=contents.mass, **{name: getattr(weather, name) for name in _AIR})
    gauge, air = broadcast(gauge_pressure=gauge, ambient_pressure=weather.ambient_pressure)
    pressure = fluid.pressure_range(gauge + air, "gauge_pressure + ambient_pressure")
    T = fluid.saturation_temperature(np.asarray(pressure))
    heat = _heat_into(contents, T, weather, wall)
    h_v, a, rho_v = fluid.saturated(T, "vapor_enthalpy", "inventory_energy_per_mass", "vapor_density")
    rate = np.maximum(heat, 0.0) / (h_v - a)
    left = np.maximum(contents.mass - tank.volume * rho_v, 0.0)
    flows = rate > 0.0
    dry = np.where(flows, left / np.where(flows, rate, 1.0), np.inf)
    T, heat, rate, dry = broadcast(temperature=T, heat=heat, rate=rate, dry=dry)
    return SteadyHold(
        temperature=np.array(T)[()],
        heat_rate=np.array(heat)[()],
        vapor_rate=np.array(rate)[()],
        time_until_dry=np.array(dry)[()],
        cautions=CAUTIONS,
        provenance=Provenance("equilibrium inventory at rest", (), fluid.credit),
    )


def _heat_into(contents: Contents, T: FloatArray, weather: Weather, wall: TankWall | None) -> FloatArray:
    """Heat from outside [W] into tanks whose metal is at T."""
    held = Contents(contents.tank, contents.fluid, fill=contents.fill, temperature=T)
    asked = gather(held, (), weather, (None, 1.0, ()), (wall, None, (), False))
    t = asked.numbers["temperature"]
    return _into_metal(asked, np.arange(t.size))(t).reshape(asked.shape)


def _into_metal(asked: Gathered, which: IntArray) -> Callable[[FloatArray], FloatArray]:
    """Return what gives the heat from outside [W] into the tanks `which` (m,), their metal at (..., m)."""
    numbers = {name: values[..., which] for name, values in asked.numbers.items()}
    tank = take_tank(asked.tank, which)
    around = surroundings(heat_from_outside(tank, numbers), tank, asked.additions, numbers)
    return lambda temperature: around.into_one(temperature, np.zeros(temperature.shape))


def pressure_return(
    contents: Contents,
    *,
    gauge_pressure: QuantityLike,
    weather: Weather | None = None,
    wall: TankWall | None = None,
) -> FloatArray:
    """Time in which a shut tank's pressure comes up to a gauge pressure [s]; infinite where it never does.

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
        [s], of the broadcast shape; 0 where the pressure is that high already. Of a tank that liquid fills
        before: when it is full, for pressure then rises by bars per kelvin (`liquid_full`) and may come to
        any height within minutes.

    Raises
    ------
    InputError, OutOfRangeError

    Warns
    -----
    ValidityWarning
        Of tanks that liquid fills first, and of those of which no more can be told than that the pressure is
        not back before a time: the one returned.

    Notes
    -----
    A tank that only warms is warmest at its surface: its pressure may come back faster than this. Where the
    last liquid goes before, vapor warms on at constant volume (`lpgrelease.tank.vapor_alone`); of a blend, or
    beside a gas, no more is told than the time of that.

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
    require_kind(weather, Weather, "weather")
    run = tank_history(contents, weather=weather, stop_at_gauge_pressure=gauge_pressure, wall=wall, points=2)
    shape = run.time.shape[:-1]
    gauge = contents.gauge_pressure(ambient_pressure=weather.ambient_pressure)
    sought = to_si(gauge_pressure, "Pa", "gauge_pressure")
    below = np.ravel(np.broadcast_to(gauge < sought, shape))
    time = np.where(below, np.ravel(run.time[..., -1]), 0.0)
    ended = np.ravel(run.stopped_by)
    time[below & ((ended == "settled") | (ended == COLD_END))] = np.inf
    rest = np.flatnonzero(below & ~np.isin(ended, ("gauge pressure", "settled", COLD_END)))
    if rest.size:
        asked = gather(run.final, (), weather, (None, 1.0, ()), (wall, None, (), False))
        absolute = np.ravel(np.broadcast_to(sought + weather.ambient_pressure, shape))[rest]
        time[rest], told = _beyond_the_history(run, asked, absolute, rest)
        _warn_of(ended[rest], time[rest], told)
    return time.reshape(shape)[()]


def _beyond_the_history(
    run: TankHistory, asked: Gathered, sought: FloatArray, which: IntArray
) -> tuple[FloatArray, BoolArray]:
    """Return when the tanks `which` (m,) come to absolute pressures (m,) [s], and whether that is told.

    Their histories ended below, neither settled nor at the cold end; what is not told is that end.
    """

    def last(name: str) -> FloatArray:
        values: FloatArray = getattr(run, name)[..., -1].reshape(-1)
        return values[which]

    ended, time, t = np.ravel(run.stopped_by)[which], last("time"), last("temperature")
    heat = _into_metal(asked, which)
    time = np.where((ended == "liquid full") & (heat(t) <= 0.0), np.inf, time)
    told = np.isinf(time)
    fluid = run.final.fluid
    alone = (ended == "liquid gone") & (last("gas_mass") <= 0.0) & (not fluid.is_blend)
    if alone.any():
        some = np.flatnonzero(alone)
        tank = take_tank(asked.tank, which[some])
        now = (last(name)[some] for name in ("vapor_mass", "pressure", "vapor_temperature"))
        mass, pressure, vapor_temperature = now
        metal = last("dry_wall_temperature")[some]
        vapor = VaporAlone(mass, tank.volume, pressure, vapor_temperature, metal, tank.wall_capacity)
        more, known = warming_time(fluid, vapor, sought[some], _into_metal(asked, which[some]))
        time[some], told[some] = time[some] + np.where(known, more, 0.0), known
    return time, told


def _warn_of(ended: StringArray, time: FloatArray, told: BoolArray) -> None:
    """Warn of the tanks whose pressure comes back no one can tell when."""
    full = ~told & (ended == "liquid full")
    if full.any():
        warnings.warn(
            f"{full.sum()} tank(s) become liquid-full before that pressure, the first after "
            f"{time[full].min():.0f} s: pressure then rises by bars per kelvin and may come to any height "
            "within minutes; the time returned is that of liquid full. Liquid must leave it",
            ValidityWarning,
            stacklevel=3,
        )
    other = ~told & ~full
    if other.any():
        warnings.warn(
            f"of {other.sum()} tank(s) no more is known than that the pressure is not back before the time "
            f"returned: {', '.join(sorted(set(ended[other].tolist())))}",
            ValidityWarning,
            stacklevel=3,
        )


@result
class LiquidFull(Result):
    """A tank that liquid fills to the last; all fields share the scenarios' shape."""

    pressure_rise: FloatArray = quantity("Pa/K", "rise of pressure with temperature, shut in a rigid shell")
    pressure_rate: FloatArray = quantity("Pa/s", "rise of pressure at the heat given")
    relief_volume: FloatArray = quantity("m**3/s", "liquid to let out so that pressure stays")
    relief_mass: FloatArray = quantity("kg/s", "the same by mass")
    cautions: tuple[str, ...] = plain("what to bear in mind")


def liquid_full(contents: Contents, *, heat: QuantityLike) -> LiquidFull:
    """How fast pressure rises in a tank that liquid fills, and what must be let out so that it does not.

    Parameters
    ----------
    contents : Contents
        Tank, fluid and temperature; its fill does not count. Pressure is that of saturation and of the pad.
    heat : number, array or quantity
        That comes in [W].

    Returns
    -------
    LiquidFull

    Raises
    ------
    InputError, OutOfRangeError

    Notes
    -----
    (dp/dT)_v = alpha/kappa, with expansion and compressibility by differences of the equation of state; with
    the wall's heat capacity dT/dt = Q/(M c_v + C_w), c_v = c_p - T alpha**2/(kappa rho). To hold the pressure
    liquid leaves by volume at alpha Q/(rho c_p) (api2014flares, from memory; the wall left out: the safe
    side). The shell is taken as rigid, where steel gives way a little.

    Examples
    --------
    >>> import lpgrelease as lr
    >>> tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0)
    >>> full = lr.Contents(tank, lr.Fluid("propane"), fill=1.0, temperature=288.15)
    >>> state = liquid_full(full, heat=5000.0)
    >>> print(f"{state.pressure_rise / 1e5:.1f} bar per kelvin")
    5.8 bar per kelvin
    """
    if not isinstance(contents, Contents):
        raise InputError(f"contents must be Contents, got {contents!r}")
    fluid, tank, T = contents.fluid, contents.tank, contents.temperature
    Q = to_si(heat, "W", "heat", lower=0.0)
    (rho, c_p), (warm, _), (pressed, _) = (
        contents._liquid_at(dT, dp) for dT, dp in ((0.0, 0.0), (-0.02, 0.0), (0.0, 2e4))
    )
    alpha = (warm - rho) / (0.02 * rho)
    kappa = (pressed - rho) / (2e4 * rho)
    rise = alpha / kappa
    capacity = rho * tank.volume * (c_p - T * alpha * alpha / (kappa * rho)) + tank.wall_capacity
    out = alpha * Q / (rho * c_p)
    rise, rate, out, mass = broadcast(rise=rise, rate=rise * Q / capacity, out=out, mass=out * rho)
    return LiquidFull(
        pressure_rise=np.array(rise)[()],
        pressure_rate=np.array(rate)[()],
        relief_volume=np.array(out)[()],
        relief_mass=np.array(mass)[()],
        cautions=("A tank full of liquid bursts by a few kelvin more: liquid must leave it.",),
        provenance=Provenance("liquid alone in a rigid shell", ("api2014flares",), fluid.credit),
    )
