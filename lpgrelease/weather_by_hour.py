"""`WeatherByHour`: weather that changes while an incident lasts, as a table by time."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.results import Provenance, Result, plain, quantity, result
from lpgrelease.weather import Weather

__all__ = [
    "MOST_HOURS",
    "NUMBERS",
    "WeatherByHour",
    "ambient_at",
    "weather_at",
    "weather_at_start",
    "weather_pieces",
]

MOST_HOURS = 1000
"""Longest table: six weeks by the hour."""
NUMBERS = tuple(field.name for field in dataclasses.fields(Weather) if "unit" in field.metadata)


@result
class WeatherByHour(Result):
    """Weather by time: each holds from its own time until the next, the last one for good.

    Parameters
    ----------
    times : sequence of numbers, array or quantity
        From which each weather holds [s] since the start of the leak; the first is 0, then each later than
        the one before. The same for all scenarios.
    weathers : sequence of Weather
        One for each time; their numbers may be arrays, which broadcast to the scenarios.

    Raises
    ------
    InputError, OutOfRangeError
        Wrong kinds; times that do not begin with 0 or do not rise; not as many weathers as times.

    Notes
    -----
    A forecast of the weather comes in steps like this. The finer the steps, the closer a slow change is
    followed; nothing is smoothed between them.

    Examples
    --------
    >>> night, day = Weather(air_temperature=278.0), Weather(air_temperature=288.0, solar_irradiance=400.0)
    >>> forecast = WeatherByHour(times=[0.0, 6 * 3600.0], weathers=[night, day])
    >>> [float(forecast.at(hours * 3600.0).air_temperature) for hours in (0, 5, 6, 30)]
    [278.0, 278.0, 288.0, 288.0]
    """

    times: QuantityLike = quantity("s", "from which each weather holds, since the start", dims=("hour",))
    weathers: Sequence[Weather] = plain("the weather from each time on")
    provenance: Provenance = plain("where the numbers come from", default=Provenance("weather as given"))

    def __post_init__(self) -> None:
        """Check the table and take its times to SI."""
        times = np.asarray(to_si(self.times, "s", "times", lower=0.0))
        if times.ndim != 1 or not 1 <= times.size <= MOST_HOURS:
            raise InputError(f"times must be a list of 1 to {MOST_HOURS} times, got shape {times.shape}")
        if times[0] != 0.0 or np.any(np.diff(times) <= 0.0):
            raise InputError("times must begin with 0 and rise")
        object.__setattr__(self, "times", times)
        given = self.weathers
        if not isinstance(given, list | tuple) or not all(isinstance(each, Weather) for each in given):
            raise InputError(f"weathers must be a sequence of Weather, got {given!r}")
        if len(given) != times.size:
            raise InputError(f"weathers: {len(given)} of them for {times.size} times")
        object.__setattr__(self, "weathers", tuple(given))
        broadcast(
            **{f"{name} of weather {i}": getattr(w, name) for i, w in enumerate(given) for name in NUMBERS}
        )

    def at(self, time: QuantityLike) -> Weather:
        """Return the weather that holds at a time.

        Parameters
        ----------
        time : number, array or quantity
            Since the start of the leak [s]; arrays broadcast with the numbers of the weathers.

        Returns
        -------
        Weather

        Raises
        ------
        InputError, OutOfRangeError
            Not a time; several times at which the stability classes differ.
        """
        when = to_si(time, "s", "time", lower=0.0)
        broadcast(time=when, **{name: getattr(w, name) for w in self.weathers for name in NUMBERS})
        index = np.searchsorted(self.times, when, side="right") - 1
        chosen = np.unique(index)
        if chosen.size == 1:
            first: Weather = self.weathers[int(chosen[0])]
            return first
        classes = {self.weathers[i].stability for i in chosen} or {self.weathers[0].stability}
        if len(classes) > 1:
            raise InputError("time: the stability class differs between these times; ask for them one by one")
        numbers: dict[str, Any] = {name: self._row(name, index) for name in NUMBERS}
        return Weather(**numbers, stability=classes.pop(), provenance=self.weathers[0].provenance)

    def _row(self, name: str, index: np.ndarray[Any, np.dtype[np.intp]]) -> FloatArray:
        """One number of the weather at each time of `index`."""
        value = np.asarray(getattr(self.weathers[0], name), dtype=np.float64)
        for i, weather in enumerate(self.weathers[1:], start=1):
            value = np.where(index >= i, getattr(weather, name), value)
        return value


def weather_at(weather: Weather | WeatherByHour, time: float) -> Weather:
    """Return the weather that holds at a time [s].

    Examples
    --------
    >>> float(weather_at(Weather(wind_speed=3.0), 60.0).wind_speed)
    3.0
    """
    return weather.at(time) if isinstance(weather, WeatherByHour) else weather


def weather_at_start(weather: Weather | WeatherByHour) -> Weather:
    """Return the weather with which it begins.

    Examples
    --------
    >>> float(weather_at_start(Weather(wind_speed=3.0)).wind_speed)
    3.0
    """
    return weather.weathers[0] if isinstance(weather, WeatherByHour) else weather


def weather_pieces(weather: Weather | WeatherByHour) -> Iterator[tuple[float, float, Weather]]:
    """Yield from when to when [s] each weather holds, and itself; the last one until infinity.

    Examples
    --------
    >>> table = WeatherByHour(times=[0.0, 60.0], weathers=[Weather(), Weather(wind_speed=5.0)])
    >>> [(begins, ends) for begins, ends, _ in weather_pieces(table)]
    [(0.0, 60.0), (60.0, inf)]
    """
    if isinstance(weather, Weather):
        yield 0.0, float("inf"), weather
        return
    ends = [*(float(t) for t in weather.times[1:]), float("inf")]
    yield from zip((float(t) for t in weather.times), ends, weather.weathers, strict=True)


def ambient_at(weather: Weather | WeatherByHour, times: FloatArray) -> FloatArray:
    """Pressure of the air [Pa] at times (..., m), the scenarios' axes leading.

    Examples
    --------
    >>> high, low = Weather(ambient_pressure=1e5), Weather(ambient_pressure=9.7e4)
    >>> ambient_at(WeatherByHour(times=[0.0, 60.0], weathers=[high, low]), np.array([0.0, 59.0, 61.0]))
    array([100000., 100000.,  97000.])
    """
    found = np.zeros(times.shape)
    for begins, _, piece in weather_pieces(weather):
        found = np.where(times >= begins, np.asarray(piece.ambient_pressure)[..., None], found)
    return found
