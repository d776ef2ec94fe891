"""Weather that changes while pools lie: which holds in which step. Pieces or nodes first, scenarios last."""

from __future__ import annotations

import dataclasses
from typing import Any, Final

import numpy as np

from lpgrelease.pool.evaporate import PoolSurface
from lpgrelease.quantities import FloatArray
from lpgrelease.results import IntArray
from lpgrelease.weather import Weather
from lpgrelease.weather_by_hour import WeatherByHour

__all__ = ["ChangingSurface", "add_changes", "changes_of", "later_weather", "with_later"]

NUMBERS: Final = ("air_temperature", "wind_speed", "relative_humidity", "solar_irradiance", "cloud_cover")
COVER: Final = "cover_temperature"
SAME: Final = 1e-9
"""A change this close to a node, of its time, happens there."""


def changes_of(weather: Weather | WeatherByHour) -> FloatArray:
    """Return the times at which the weather changes [s]."""
    return np.asarray(weather.times[1:]) if isinstance(weather, WeatherByHour) else np.zeros(0)


def later_weather(weather: Weather | WeatherByHour, cover: FloatArray | None) -> dict[str, Any]:
    """Numbers of every weather but the first; the cover takes the air's temperature where it has none."""
    given: dict[str, Any] = {}
    later = weather.weathers[1:] if isinstance(weather, WeatherByHour) else ()
    for i, each in enumerate(later, start=1):
        given |= {f"{name} of weather {i}": getattr(each, name) for name in NUMBERS}
        given[f"{COVER} of weather {i}"] = each.air_temperature if cover is None else cover
    return given


def with_later(a: dict[str, FloatArray], changes: int) -> dict[str, FloatArray]:
    """Put an axis of all weathers before the numbers of the weather in `a`, inputs of one axis."""
    rows = range(1, changes + 1)
    stacked = {
        name: np.stack([a[name], *(a[f"{name} of weather {i}"] for i in rows)]) for name in (*NUMBERS, COVER)
    }
    return a | stacked


def add_changes(times: FloatArray, changes: FloatArray) -> FloatArray:
    """Add a node for every change [s] to nodes (nodes, scenarios).

    Where a change falls on a node, or outside the history, a part of the last step takes its place, so that
    every scenario has as many nodes whatever its batch.
    """
    if not changes.size:
        return times
    at = np.broadcast_to(changes[:, None], (changes.size, times.shape[1]))
    nearest = np.full(at.shape, np.inf)
    for row in times:
        nearest = np.minimum(nearest, np.abs(at - row))
    inside = (at < times[-1]) & (nearest > SAME * times[-1])
    spare = np.add.accumulate(~inside, axis=0)
    last, before = times[-1], times[-2]
    filler = before + (last - before) * (spare / (spare[-1] + 1.0))
    whole: FloatArray = np.sort(np.concatenate([times, np.where(inside, at, filler)]), axis=0)
    return whole


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class ChangingSurface:
    """What the surroundings do to pools under one weather after the other."""

    surface: PoolSurface
    """In every step, (steps, scenarios)."""
    which: IntArray
    """The weather of every step, (steps, scenarios)."""

    @classmethod
    def prepare(cls, surface: PoolSurface, changes: FloatArray, times: FloatArray) -> ChangingSurface:
        """Find the weather of every step between nodes `times`."""
        middle = 0.5 * (times[1:] + times[:-1])
        which = np.searchsorted(changes, middle.ravel(), side="right").reshape(middle.shape)
        shape = (changes.size + 1, *times.shape[1:])

        def of_steps(values: FloatArray) -> FloatArray:
            return np.take_along_axis(np.broadcast_to(values, shape), which, axis=0)

        names = [f.name for f in dataclasses.fields(PoolSurface)]
        return cls(PoolSurface(**{name: of_steps(getattr(surface, name)) for name in names}), which)

    def changes_at(self, j: int) -> bool:
        """Whether the weather of any scenario in step `j` is not that of the step before."""
        return j == 0 or not np.array_equal(self.which[j], self.which[j - 1])

    def at(self, j: int) -> PoolSurface:
        """Return what the surroundings do in step `j`."""
        return self.surface.select(j)
