"""All that a tank's history is asked for, checked and broadcast to the scenarios' shape, flattened."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from lpgrelease.constants import ZERO_GAUGE_READING
from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.fluids import Fluid
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, broadcast_shape, require_flag, to_si
from lpgrelease.release.line import Line
from lpgrelease.release.opening import Opening
from lpgrelease.results import unchecked
from lpgrelease.tank.additions import TankFire, TankWall, Transfer
from lpgrelease.tank.blend_contents import fractions_of
from lpgrelease.tank.contents import Contents
from lpgrelease.tank.outlets import LINE_FIELDS
from lpgrelease.tank.relief import ReliefValve
from lpgrelease.tank.shapes import Tank
from lpgrelease.tank.stops import StopAt
from lpgrelease.tank.vapor_space import gas_named
from lpgrelease.tank.venting import HeatFromOutside
from lpgrelease.tank.zones_solve import Additions
from lpgrelease.weather import OutsideExchange, Weather

__all__ = ["Gathered", "gather", "heat_from_outside"]

WEATHER = ("air_temperature", "wind_speed", "relative_humidity", "solar_irradiance", "cloud_cover")
VALVE_FIELDS = ("set_pressure", "full_pressure", "reseat_pressure")
WALL_FIELDS = (
    "insulation",
    "contact_conductance",
    "contact_temperature",
    "wet_coefficient",
    "dry_coefficient",
    "surface_coefficient",
    "inside_emissivity",
    "conductivity",
)
FIRE_FIELDS = ("environment_factor", "elevation", "dry_flux")
LEAST_ROOM = 2e-6
"""Share of the volume above the liquid at least, where liquid leaks: a blend counts as full from 1e-6 on."""


class Gathered(NamedTuple):
    """A request: the scenarios' shape, tank, numbers by name, and what was added to the plain history."""

    shape: tuple[int, ...]
    tank: Tank
    numbers: dict[str, FloatArray]
    additions: Additions
    are_lines: tuple[bool, ...]


def gather(
    contents: Contents,
    openings: Sequence[Opening | Line | ReliefValve],
    weather: Weather,
    limits: tuple[QuantityLike | None, QuantityLike | None, Sequence[StopAt]],
    extras: tuple[TankWall | None, TankFire | None, Sequence[Transfer], bool],
) -> Gathered:
    """Check and flatten a request.

    `limits`: gauge pressure, duration, stops. `extras`: wall, fire, transfers, whether air enters.
    """
    stop, duration, stops = limits
    _require_kinds(contents, openings, weather, stops, extras)
    if stop is None and duration is None and not stops:
        stop = ZERO_GAUGE_READING
    wall, fire, transfers, air_enters = extras
    padded = bool(np.any(np.asarray(contents.pad_pressure) > 0.0))
    additions = Additions(
        wall=wall,
        fire=fire,
        transfers=tuple(transfers),
        stops=tuple(stops),
        valves=tuple(j for j, each in enumerate(openings) if isinstance(each, ReliefValve)),
        air_enters=air_enters,
        gas=gas_named(contents.pad_gas if padded else "air") if padded or air_enters else None,
    )
    if additions and stop is not None:
        additions = dataclasses.replace(additions, stops=(StopAt(gauge_pressure=stop), *additions.stops))
    named = _named(contents, weather, stop, duration)
    for i, each in enumerate(openings):
        named |= _of_opening(each, i)
    named |= _of_additions(additions, contents.fluid)
    return _flattened(contents.tank, named, openings, additions)


def _require_kinds(
    contents: Contents,
    openings: Sequence[Opening | Line | ReliefValve],
    weather: Weather,
    stops: Sequence[StopAt],
    extras: tuple[TankWall | None, TankFire | None, Sequence[Transfer], bool],
) -> None:
    if not isinstance(contents, Contents):
        raise InputError(f"contents must be Contents, got {contents!r}")
    kinds = (Opening, Line, ReliefValve)
    if not isinstance(openings, Sequence) or not all(isinstance(each, kinds) for each in openings):
        raise InputError(f"openings must be a sequence of openings, got {openings!r}")
    if not isinstance(weather, Weather):
        raise InputError(f"weather must be Weather, got {weather!r}")
    if not isinstance(stops, Sequence) or not all(isinstance(stop, StopAt) for stop in stops):
        raise InputError(f"stop must be a sequence of StopAt, got {stops!r}")
    wall, fire, transfers, air_enters = extras
    if wall is not None and not isinstance(wall, TankWall):
        raise InputError(f"wall must be TankWall, got {wall!r}")
    if fire is not None and not isinstance(fire, TankFire):
        raise InputError(f"fire must be TankFire, got {fire!r}")
    if not isinstance(transfers, Sequence) or not all(isinstance(each, Transfer) for each in transfers):
        raise InputError(f"transfers must be a sequence of Transfer, got {transfers!r}")
    require_flag(air_enters, "air_enters")
    if wall is not None and wall.two_temperatures and not np.all(np.asarray(contents.tank.wall_mass) > 0.0):
        raise InputError("a wall with two temperatures needs the tank's wall_mass")


def _named(
    contents: Contents, weather: Weather, stop: QuantityLike | None, duration: QuantityLike | None
) -> dict[str, FloatArray]:
    fluid = contents.fluid
    named = {
        "fill": contents.fill,
        "temperature": contents.temperature,
        "pad_pressure": contents.pad_pressure,
        "air_pressure": fluid.pressure_range(weather.ambient_pressure, "ambient_pressure of the weather"),
    }
    named |= fractions_of(contents) | {name: getattr(weather, name) for name in WEATHER}
    if stop is not None:
        gauge_pressure = to_si(stop, "Pa", "stop_at_gauge_pressure", lower=0.0)
        air, above = broadcast(ambient_pressure=named["air_pressure"], stop_at_gauge_pressure=gauge_pressure)
        named["stop_pressure"] = fluid.pressure_range(
            air + above, "ambient_pressure + stop_at_gauge_pressure"
        )
    if duration is not None:
        named["duration"] = to_si(duration, "s", "duration", lower=0.0, open_lower=True)
    return named


def _of_opening(each: Opening | Line | ReliefValve, i: int) -> dict[str, FloatArray]:
    named: dict[str, FloatArray] = {}
    if isinstance(each, ReliefValve):
        named |= {f"{name} of opening {i}": getattr(each, name) for name in VALVE_FIELDS}
        each = each.opening
    is_line = isinstance(each, Line)
    named[f"area of opening {i}"] = each.area if is_line else each.effective_area
    for name in LINE_FIELDS[1:] if is_line else ():
        named[f"{name} of opening {i}"] = getattr(each, name)
    named[f"diameter of opening {i}"] = each.diameter
    named[f"height of opening {i}"] = each.height
    return named


def _of_additions(additions: Additions, fluid: Fluid) -> dict[str, FloatArray]:
    named = {}
    for what, source, fields in (
        ("wall", additions.wall, WALL_FIELDS),
        ("fire", additions.fire, FIRE_FIELDS),
    ):
        for name in fields if source is not None else ():
            if getattr(source, name) is not None:
                named[f"{name} of the {what}"] = getattr(source, name)
    for i, transfer in enumerate(additions.transfers):
        named[f"mass_flow of transfer {i}"] = transfer.mass_flow
        if transfer.temperature is not None:
            name = f"temperature of transfer {i}"
            named[name] = fluid.saturation_range(transfer.temperature, name)
    for i, stop in enumerate(additions.stops):
        named[f"stop {i}"] = stop.tolerance if stop.kind == "function" else getattr(stop, stop.kind)
    return named


def _flattened(
    tank: Tank,
    named: dict[str, FloatArray],
    openings: Sequence[Opening | Line | ReliefValve],
    additions: Additions,
) -> Gathered:
    fields = {f.name: getattr(tank, f.name) for f in dataclasses.fields(tank)}
    of_tank = {name: value for name, value in fields.items() if isinstance(value, (np.ndarray, np.floating))}
    given = named | of_tank
    shape = broadcast_shape(**given)
    rows = np.empty((len(given), *shape))
    for i, value in enumerate(given.values()):
        rows[i] = value
    flat: dict[str, Any] = dict(zip(given, rows.reshape(len(given), -1), strict=True))
    whole = unchecked(type(tank), fields | {name: flat.pop(name) for name in of_tank})
    of_lines = np.zeros((len(LINE_FIELDS), len(openings), whole.diameter.size))
    for i, each in enumerate(openings):
        if isinstance(each, Line):
            of_lines[0, i] = flat[f"diameter of opening {i}"]
            for row, name in enumerate(LINE_FIELDS[1:], start=1):
                of_lines[row, i] = flat.pop(f"{name} of opening {i}")
    flat["opening_line"] = of_lines
    for kind in ("area", "diameter", "height"):
        of_openings = [flat.pop(f"{kind} of opening {i}") for i in range(len(openings))]
        flat[f"opening_{kind}"] = np.array(of_openings).reshape(len(openings), whole.diameter.size)
    _require_inside(flat["opening_height"], whole.height, "height of opening {}")
    levels = [flat[f"stop {i}"] for i, stop in enumerate(additions.stops) if stop.kind == "level"]
    _require_inside(
        np.array(levels).reshape(len(levels), whole.diameter.size), whole.height, "level to stop at"
    )
    # a full tank that leaks makes room at once; were it no less than full, it would have ended as it began
    leaks = ((flat["opening_area"] > 0.0) & (flat["opening_height"] < whole.height)).any(axis=0)
    flat["fill"] = np.where(leaks, np.minimum(flat["fill"], 1.0 - LEAST_ROOM), flat["fill"])
    are_lines = tuple(isinstance(each, Line) for each in openings)
    return Gathered(shape, whole, flat, additions, are_lines)


def _require_inside(heights: FloatArray, top: FloatArray, name: str) -> None:
    """Raise unless all `heights` (rows, n), each called `name`, are on their tanks, `top` (n,) high."""
    above = heights > top * (1.0 + 1e-12)
    if above.any():
        i, k = np.argwhere(above)[0]
        value, bound = float(heights[i, k]), float(top[k])
        raise OutOfRangeError(name.format(i), value, "m", 0.0, bound, "the tank's inside height")


def heat_from_outside(tank: Tank, numbers: dict[str, FloatArray]) -> HeatFromOutside:
    """Heat into the bare surface, of tanks whose fields have shape (n,)."""
    zeros = np.zeros(tank.diameter.size)
    if tank.heat_transfer is not None:
        return HeatFromOutside(numbers["air_temperature"], tank.heat_transfer, zeros, None)
    of_weather = {f.name: numbers.get(f.name, f.default) for f in dataclasses.fields(Weather)}
    # its numbers were checked before they were flattened
    weather = unchecked(Weather, of_weather | {"ambient_pressure": numbers["air_pressure"]})
    prepared = tank.outside_exchange(weather)
    fields = {f.name: getattr(prepared, f.name) + zeros for f in dataclasses.fields(prepared)}
    return HeatFromOutside(numbers["air_temperature"], zeros, tank.surface_area, OutsideExchange(**fields))
