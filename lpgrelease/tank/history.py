"""`tank_history`: pressure, temperature and contents of a tank while it vents, leaks and takes up heat."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from lpgrelease.constants import ZERO_GAUGE_READING
from lpgrelease.errors import ConvergenceError, InputError, OutOfRangeError
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.release.line import Line
from lpgrelease.release.opening import Opening
from lpgrelease.results import BoolArray, Provenance, Result, StringArray, plain, quantity, result
from lpgrelease.tank.contents import Contents
from lpgrelease.tank.outlets import LINE_FIELDS
from lpgrelease.tank.shapes import Tank
from lpgrelease.tank.solve import describe, prepare, solve
from lpgrelease.tank.venting import (
    REASONS,
    HeatFromOutside,
    take_tank,
)
from lpgrelease.weather import OutsideExchange, Weather

__all__ = ["TankHistory", "tank_history"]

BLOCK = 5000
"""Scenarios marched at once: enough that the calls themselves cost little, few enough for some 100 MB."""
LARGEST_IMBALANCE = 1e-9
WEATHER = ("air_temperature", "wind_speed", "relative_humidity", "solar_irradiance", "cloud_cover")


@result
class TankHistory(Result):
    """History of tanks; leading axes are the scenarios, the last is time, openings stand before it."""

    time: FloatArray = quantity("s", "time since the start", dims=("time",))
    pressure: FloatArray = quantity("Pa", "absolute pressure", dims=("time",))
    temperature: FloatArray = quantity("K", "temperature of contents and wall", dims=("time",))
    liquid_mass: FloatArray = quantity("kg", "mass of the liquid", dims=("time",))
    vapor_mass: FloatArray = quantity("kg", "mass of the vapor", dims=("time",))
    liquid_volume: FloatArray = quantity("m**3", "volume of the liquid", dims=("time",))
    mass_flow: FloatArray = quantity("kg/s", "flow through each opening", dims=("opening", "time"))
    mass_released: FloatArray = quantity(
        "kg", "released by each opening since the start", dims=("opening", "time")
    )
    passes_liquid: BoolArray = quantity("", "whether liquid stands at the opening", dims=("opening", "time"))
    heat_gained: FloatArray = quantity("J", "heat from outside since the start", dims=("time",))
    enthalpy_released: FloatArray = quantity("J", "enthalpy of what was released", dims=("time",))
    plateau_pressure: FloatArray = quantity("Pa", "pressure it settles at; infinite where it did not settle")
    mass_imbalance: FloatArray = quantity("", "largest mass error over the initial mass")
    energy_imbalance: FloatArray = quantity(
        "", "largest energy error over the heat of evaporating the initial mass"
    )
    stopped_by: StringArray = plain("why each history ended")
    final: Contents = plain("the contents it ended with")


def tank_history(
    contents: Contents,
    *,
    openings: Sequence[Opening | Line] = (),
    weather: Weather | None = None,
    stop_at_gauge_pressure: QuantityLike | None = None,
    duration: QuantityLike | None = None,
    points: int = 33,
    progress: Callable[[int, int], None] | None = None,
) -> TankHistory:
    """March a tank at equilibrium through time, openings discharging what stands at their height.

    Parameters
    ----------
    contents : Contents
        Tank, fluid, fill and temperature at the start.
    openings : sequence of Opening or Line
        Vapor leaves through those above the liquid's level, liquid through those below; a line has friction
        (`line_release`). None: the tank is shut, warms or cools, and its pressure follows.
    weather : Weather, optional
        Air temperature and pressure; sun and wind where the tank's `heat_transfer` is None.
    stop_at_gauge_pressure : number, array or quantity, optional
        End when the pressure above that of the air comes to this [Pa], from above or from below. Without
        it and without `duration`: what reads as zero on a dial, a tenth of a psi (`ZERO_GAUGE_READING`).
    duration : number, array or quantity, optional
        End after this time [s].
    points : int
        Points in time of each history, at least 2; spread over the change of temperature, mass and time.
    progress : callable, optional
        Called as ``progress(done, total)`` with numbers of scenarios.

    Returns
    -------
    TankHistory
        Every numeric argument may be an array; they broadcast to the scenarios' shape (...,). Histories have
        shape (..., points), those of openings (..., openings, points).

    Raises
    ------
    InputError, OutOfRangeError
        Bad arguments; an opening above the tank.
    ConvergenceError
        A march does not end, or mass or energy do not close to 1e-9.

    Notes
    -----
    Equations (1) and (2) in `lpgrelease.tank.venting`. Liquid, vapor and wall share one temperature: boiling
    keeps up with venting, the liquid is stirred by it, and the wall follows. A dry wall above the liquid lags
    in truth, and a tank that only warms stratifies: its pressure may run ahead of this model.

    With heat coming in, pressure never comes down to that of the air: near it the vent passes ever less,
    and pressure settles where what boils away takes up the heat. A history that settles (temperature
    within 1 mK of the one it tends to, no liquid leaking) stops and says so, unless `duration` alone
    was given. A history also ends when no liquid is left, when the tank is liquid-full, or at the ends of
    the property tables. Air is not let in: a pressure below that of the air just draws nothing. A
    cold tank that drains by its head then stalls under its own vacuum where a real one lets air in and
    drains on: the liquid lost is understated. A liquid leak that goes on while the pressure has settled makes
    the march stiff: days of it take seconds.

    References
    ----------
    dormand1980family (integration), leung1986omega (vapor at the throat).

    Examples
    --------
    >>> import lpgrelease as lr
    >>> tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=170.0)
    >>> contents = lr.Contents(tank, lr.Fluid("propane"), fill=0.8, temperature=293.15)
    >>> vent = lr.Opening(diameter=0.0508, discharge_coefficient=0.85, height=1.04)
    >>> run = lr.tank_history(contents, openings=[vent], weather=lr.Weather(air_temperature=293.15))
    >>> print(f"{run.stopped_by} after {run.time[-1] / 60:.1f} min, {run.liquid_mass[-1]:.0f} kg left")
    gauge pressure after 7.5 min, 1055 kg left
    """
    if not isinstance(contents, Contents):
        raise InputError(f"contents must be Contents, got {contents!r}")
    if not isinstance(openings, Sequence) or not all(isinstance(each, Opening | Line) for each in openings):
        raise InputError(f"openings must be a sequence of openings, got {openings!r}")
    if not isinstance(points, int | np.integer) or points < 2:
        raise InputError(f"points must be a whole number of at least 2, got {points!r}")
    weather = Weather() if weather is None else weather
    if not isinstance(weather, Weather):
        raise InputError(f"weather must be Weather, got {weather!r}")
    if stop_at_gauge_pressure is None and duration is None:
        stop_at_gauge_pressure = ZERO_GAUGE_READING
    shape, tank, numbers = _gather(contents, openings, weather, stop_at_gauge_pressure, duration)
    heat = _heat(tank, numbers)
    count = tank.diameter.size
    are_lines = tuple(isinstance(opening, Line) for opening in openings)
    blocks = []
    for start in range(0, max(count, 1), BLOCK):
        end = min(start + BLOCK, count)
        chosen = np.arange(start, end)
        part = {name: values[..., chosen] for name, values in numbers.items()}
        venting = prepare(contents.fluid, take_tank(tank, chosen), heat.take(chosen), part, are_lines)
        blocks.append(describe(venting, solve(venting, part["temperature"], points)))
        if progress is not None:
            progress(end, count)
    joined = {name: np.concatenate([block[name] for block in blocks], axis=0) for name in blocks[0]}
    return _assemble(contents, tank, shape, joined)


def _gather(
    contents: Contents,
    openings: Sequence[Opening | Line],
    weather: Weather,
    stop: QuantityLike | None,
    duration: QuantityLike | None,
) -> tuple[tuple[int, ...], Tank, dict[str, FloatArray]]:
    """All numbers broadcast to the scenarios' shape and flattened; the tank's with them."""
    tank, fluid = contents.tank, contents.fluid
    named = {
        "fill": contents.fill,
        "temperature": contents.temperature,
        "air_pressure": fluid.pressure_range(weather.ambient_pressure, "ambient_pressure of the weather"),
    }
    named |= {name: getattr(weather, name) for name in WEATHER}
    if stop is not None:
        gauge_pressure = to_si(stop, "Pa", "stop_at_gauge_pressure", lower=0.0)
        air, above = broadcast(ambient_pressure=named["air_pressure"], stop_at_gauge_pressure=gauge_pressure)
        named["stop_pressure"] = fluid.pressure_range(
            air + above, "ambient_pressure + stop_at_gauge_pressure"
        )
    if duration is not None:
        named["duration"] = to_si(duration, "s", "duration", lower=0.0, open_lower=True)
    for i, opening in enumerate(openings):
        is_line = isinstance(opening, Line)
        named[f"area of opening {i}"] = opening.area if is_line else opening.effective_area
        for name in LINE_FIELDS[1:] if is_line else ():
            named[f"{name} of opening {i}"] = getattr(opening, name)
        named[f"diameter of opening {i}"] = opening.diameter
        _require_inside(opening, tank, f"height of opening {i}")
        named[f"height of opening {i}"] = opening.height
    of_tank = {f.name: getattr(tank, f.name) for f in dataclasses.fields(tank)}
    of_tank = {name: value for name, value in of_tank.items() if isinstance(value, (np.ndarray, np.floating))}
    arrays = broadcast(**named, **of_tank)
    shape = arrays[0].shape
    flat: dict[str, Any] = dict(
        zip([*named, *of_tank], (np.array(a).reshape(-1) for a in arrays), strict=True)
    )
    whole = object.__new__(type(tank))
    for f in dataclasses.fields(tank):
        object.__setattr__(whole, f.name, flat.pop(f.name) if f.name in of_tank else getattr(tank, f.name))
    of_lines = np.zeros((len(LINE_FIELDS), len(openings), whole.diameter.size))
    for i, opening in enumerate(openings):
        if isinstance(opening, Line):
            of_lines[0, i] = flat[f"diameter of opening {i}"]
            for row, name in enumerate(LINE_FIELDS[1:], start=1):
                of_lines[row, i] = flat.pop(f"{name} of opening {i}")
    flat["opening_line"] = of_lines
    for kind in ("area", "diameter", "height"):
        rows = [flat.pop(f"{kind} of opening {i}") for i in range(len(openings))]
        flat[f"opening_{kind}"] = np.array(rows).reshape(len(openings), whole.diameter.size)
    return shape, whole, flat


def _require_inside(opening: Opening | Line, tank: Tank, name: str) -> None:
    height, top = broadcast(height=opening.height, tank_height=tank.height)
    above = np.flatnonzero(np.ravel(height > top * (1.0 + 1e-12)))
    if above.size:
        value, bound = float(np.ravel(height)[above[0]]), float(np.ravel(top)[above[0]])
        raise OutOfRangeError(name, value, "m", 0.0, bound, "the tank's inside height")


def _heat(tank: Tank, numbers: dict[str, FloatArray]) -> HeatFromOutside:
    zeros = np.zeros(tank.diameter.size)
    if tank.heat_transfer is not None:
        return HeatFromOutside(numbers["air_temperature"], tank.heat_transfer, zeros, None)
    of_weather: dict[str, Any] = {name: numbers[name] for name in WEATHER}
    prepared = tank.outside_exchange(Weather(ambient_pressure=numbers["air_pressure"], **of_weather))
    fields = {f.name: getattr(prepared, f.name) + zeros for f in dataclasses.fields(prepared)}
    return HeatFromOutside(numbers["air_temperature"], zeros, tank.surface_area, OutsideExchange(**fields))


def _assemble(
    contents: Contents, tank: Tank, shape: tuple[int, ...], found: dict[str, np.ndarray]
) -> TankHistory:
    fluid = contents.fluid
    latent = fluid.saturated(contents.temperature, "latent_heat")[0]
    mass_imbalance = found.pop("mass_error").max(axis=-1)
    energy_imbalance = found.pop("energy_error").max(axis=-1).reshape(shape) / latent
    _require_balance("mass", mass_imbalance)
    _require_balance("energy", energy_imbalance)
    fill = np.clip(found["liquid_volume"][:, -1] / found.pop("volume"), 0.0, 1.0)
    final = Contents(
        contents.tank,
        fluid,
        fill=fill.reshape(shape)[()],
        temperature=found["temperature"][:, -1].reshape(shape)[()],
        provenance=Provenance("end of a tank history"),
    )
    stopped_by = np.array(REASONS)[found.pop("code")].reshape(shape)
    shaped = {name: values.reshape(shape + values.shape[1:])[()] for name, values in found.items()}
    return TankHistory(
        **shaped,
        mass_imbalance=mass_imbalance.reshape(shape)[()],
        energy_imbalance=energy_imbalance[()],
        stopped_by=stopped_by[()],
        final=final,
        provenance=Provenance(
            "equilibrium inventory; vapor by the isentropic nozzle, liquid metastable",
            ("dormand1980family", "leung1986omega", "crowl2019safety"),
            fluid.table.credit,
        ),
    )


def _require_balance(what: str, imbalance: FloatArray) -> None:
    worst = float(np.max(imbalance, initial=0.0))
    if not worst < LARGEST_IMBALANCE:
        raise ConvergenceError(f"the {what} of a tank history does not close", worst)
