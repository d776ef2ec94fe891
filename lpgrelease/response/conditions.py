"""`When`: the condition on which a step of a plan begins or ends, and whether it holds."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, require_flag, to_si
from lpgrelease.results import BoolArray, Provenance, Result, plain, quantity, result

__all__ = ["DAY", "Now", "TankState", "When", "clock_seconds", "holds", "next_time", "ready", "whens_of"]

DAY = 86400.0
DAYLIGHT = 20.0
"""Sunshine above which it counts as day [W/m2]: about the sun on the horizon under an open sky, a choice."""
NUMBERS: dict[str, tuple[str, float | None, str]] = {
    "time": ("s", 0.0, "at the time"),
    "wait": ("s", 0.0, "so long after"),
    "gauge_at_most": ("Pa", 0.0, "gauge"),
    "gauge_at_least": ("Pa", 0.0, "gauge"),
    "temperature_at_most": ("K", 0.0, "temperature"),
    "temperature_at_least": ("K", 0.0, "temperature"),
    "level_at_most": ("m", 0.0, "level"),
    "liquid_at_most": ("kg", 0.0, "liquid mass"),
    "wind_at_least": ("m/s", 0.0, "wind"),
    "wind_at_most": ("m/s", 0.0, "wind"),
}
FLAGS = ("daylight", "settled", "ground_dry")
OF_TANK = {
    "gauge_at_most": "gauge",
    "gauge_at_least": "gauge",
    "temperature_at_most": "temperature",
    "temperature_at_least": "temperature",
    "level_at_most": "level",
    "liquid_at_most": "liquid_mass",
}
"""Conditions on the tank's state that a march can locate, and what of `Now` they look at."""


class TankState(NamedTuple):
    """What a function of one's own sees: arrays of one shape."""

    pressure: FloatArray
    """Absolute [Pa]."""
    temperature: FloatArray
    """[K]."""
    liquid_mass: FloatArray
    """[kg]."""
    vapor_mass: FloatArray
    """[kg]."""
    level: FloatArray
    """[m]."""


@result
class When(Result):
    """A condition for a step of a plan to begin, or to end: all that is given must hold at once.

    Where one of several conditions suffices, give the step a list of them.

    Parameters
    ----------
    time : number, array or quantity, optional
        At or after this time since the start of the leak [s].
    clock : str, number or quantity, optional
        At or after this time of day, as "06:30" or [s] since midnight, the first after the leak began; needs
        the incident's `clock`.
    after : str, optional
        Once the step of this name has ended, whether it was done or not.
    after_start : str, optional
        Once the step of this name has begun.
    wait : number, array or quantity
        So long after those [s].
    gauge_at_most, gauge_at_least : number, array or quantity, optional
        Gauge pressure [Pa].
    temperature_at_most, temperature_at_least : number, array or quantity, optional
        Of the liquid [K].
    level_at_most : number, array or quantity, optional
        Of the liquid [m], such as an opening's height.
    liquid_at_most : number, array or quantity, optional
        Liquid in the tank [kg].
    wind_at_least, wind_at_most : number, array or quantity, optional
        Wind of the incident's weather [m/s].
    daylight : bool
        While the incident's weather has sunshine, 20 W/m2 or more.
    settled : bool
        Once the tank has come to rest at what is open: its gauge will not change by itself any more.
    ground_dry : bool
        Once no liquid leaks or lies on the ground any more.
    function : callable, optional
        Takes a `TankState` and returns what is positive until the condition holds and negative after it,
        elementwise, smooth, and within 1e-6 of zero at that moment.

    Raises
    ------
    InputError, OutOfRangeError
        Nothing given, wrong kinds.

    Examples
    --------
    >>> dawn = When(clock="06:30", gauge_at_most=700.0)
    >>> dawn.told
    'the gauge reads at or below 0.10 psi (0.007 bar), and the clock shows 06:30 or later'
    """

    time: QuantityLike | None = quantity("s", "at or after this time", default=None)
    clock: QuantityLike | None = quantity("s", "at or after this time of day", default=None)
    after: str | None = plain("step that must have ended", default=None)
    after_start: str | None = plain("step that must have begun", default=None)
    wait: QuantityLike = quantity("s", "so long after that", default=0.0)
    gauge_at_most: QuantityLike | None = quantity("Pa", "gauge pressure at most", default=None)
    gauge_at_least: QuantityLike | None = quantity("Pa", "gauge pressure at least", default=None)
    temperature_at_most: QuantityLike | None = quantity("K", "temperature at most", default=None)
    temperature_at_least: QuantityLike | None = quantity("K", "temperature at least", default=None)
    level_at_most: QuantityLike | None = quantity("m", "level at most", default=None)
    liquid_at_most: QuantityLike | None = quantity("kg", "liquid at most", default=None)
    wind_at_least: QuantityLike | None = quantity("m/s", "wind at least", default=None)
    wind_at_most: QuantityLike | None = quantity("m/s", "wind at most", default=None)
    daylight: bool = plain("whether the sun must shine", default=False)
    settled: bool = plain("whether the tank must have settled", default=False)
    ground_dry: bool = plain("whether the ground must be dry", default=False)
    function: Callable[[TankState], Any] | None = plain("positive until it holds", default=None)
    provenance: Provenance = plain("where the numbers come from", default=Provenance("condition as given"))

    def __post_init__(self) -> None:
        """Take every number to SI and check it."""
        arrays: dict[str, Any] = {}
        for name, (unit, lower, _) in NUMBERS.items():
            if getattr(self, name) is not None:
                arrays[name] = to_si(getattr(self, name), unit, name, lower=lower)
        if self.clock is not None:
            arrays["clock"] = clock_seconds(self.clock, "clock")
        broadcast(**arrays)
        for name, value in arrays.items():
            object.__setattr__(self, name, value)
        for name in FLAGS:
            require_flag(getattr(self, name), name)
        for name in ("after", "after_start"):
            value = getattr(self, name)
            if value is not None and (not isinstance(value, str) or not value):
                raise InputError(f"{name} must be the name of a step, got {value!r}")
        if self.function is not None and not callable(self.function):
            raise InputError(f"function must be callable, got {self.function!r}")
        if np.any(np.asarray(self.wait) > 0.0) and self.after is None and self.after_start is None:
            raise InputError("wait: after which step? Give after or after_start")
        if not self.given:
            raise InputError("When needs at least one condition")

    @property
    def given(self) -> tuple[str, ...]:
        """Names of the conditions that are given."""
        names = [*(n for n in NUMBERS if n != "wait"), "clock", "after", "after_start", "function"]
        found = [name for name in names if getattr(self, name) is not None]
        return (*found, *(name for name in FLAGS if getattr(self, name)))

    @property
    def told(self) -> str:
        """What it says, in words, of one scenario."""
        from lpgrelease.response.words import condition_in_words

        return ", and ".join(condition_in_words(self, name) for name in self.given)


class Now(NamedTuple):
    """What conditions look at: arrays (n,), of steps (n, steps)."""

    time: FloatArray
    gauge: FloatArray
    temperature: FloatArray
    level: FloatArray
    liquid_mass: FloatArray
    vapor_mass: FloatArray
    pressure: FloatArray
    wind: FloatArray
    sunshine: FloatArray
    settled: BoolArray
    dry_at: FloatArray
    clock_at_start: FloatArray
    begins: FloatArray
    ends: FloatArray
    names: tuple[str, ...]

    def tank_state(self) -> TankState:
        """Return what a function of one's own sees."""
        return TankState(self.pressure, self.temperature, self.liquid_mass, self.vapor_mass, self.level)


def clock_seconds(value: Any, name: str) -> FloatArray:
    """Time of day [s] since midnight, of "06:30" or of a number.

    Examples
    --------
    >>> float(clock_seconds("06:30", "clock"))
    23400.0
    """
    if isinstance(value, str):
        found = re.fullmatch(r"([01]?\d|2[0-3]):([0-5]\d)", value)
        if not found:
            raise InputError(f"{name} must be a time of day such as '06:30', got {value!r}")
        return np.float64(int(found[1]) * 3600 + int(found[2]) * 60)  # type: ignore[return-value]
    return to_si(value, "s", name, lower=0.0, upper=DAY, why="a time of day")


def whens_of(given: Any, name: str) -> tuple[When, ...]:
    """Check a condition, or several of which one suffices; none is no condition."""
    if isinstance(given, When):
        return (given,)
    if not isinstance(given, list | tuple) or not all(isinstance(item, When) for item in given):
        raise InputError(f"{name} must be a When or a sequence of them, got {given!r}")
    return tuple(given)


def due_at(when: When, name: str, now: Now) -> FloatArray:
    """Return from when on a condition of time holds, (n,); infinite while that is not known."""
    never = np.full(now.time.shape, np.inf)
    if name == "time":
        return np.broadcast_to(np.asarray(when.time), never.shape)
    if name == "clock":
        return np.asarray(np.mod(np.asarray(when.clock) - now.clock_at_start, DAY) + np.zeros(never.shape))
    if name == "ground_dry":
        return now.dry_at
    rows = now.ends if name == "after" else now.begins
    row = rows[:, now.names.index(getattr(when, name))]
    return np.asarray(row + np.broadcast_to(when.wait, never.shape))


OF_STEPS = ("after", "after_start", "ground_dry")
"""Conditions that other steps, or the ground, have to meet."""
OF_TIME = ("time", "clock", "after", "after_start", "ground_dry")


def atom(when: When, name: str, now: Now) -> BoolArray:
    """Whether one of the conditions of `when` holds, (n,)."""
    if name in OF_TIME:
        return np.asarray(now.time >= due_at(when, name, now))
    if name == "settled":
        return now.settled
    if name == "daylight":
        return np.asarray(now.sunshine >= DAYLIGHT)
    if name == "function":
        assert when.function is not None
        return np.broadcast_to(np.asarray(when.function(now.tank_state())) <= 1e-6, now.time.shape)
    watched = now.wind if name.startswith("wind") else getattr(now, OF_TANK[name])
    limit = np.asarray(getattr(when, name))
    found = watched <= limit if name.endswith("at_most") else watched >= limit
    return np.asarray(found)


def holds(whens: Sequence[When], now: Now) -> BoolArray:
    """Whether one of several conditions holds, (n,)."""
    found = np.zeros(now.time.shape, dtype=np.bool_)
    for when in whens:
        every = np.ones(now.time.shape, dtype=np.bool_)
        for name in when.given:
            every = every & atom(when, name, now)
        found = found | every
    return found


def ready(when: When, now: Now) -> BoolArray:
    """Whether all that is not the tank's own state holds: only then is that state watched, (n,)."""
    every = np.ones(now.time.shape, dtype=np.bool_)
    for name in when.given:
        if name not in OF_TANK and name != "function":
            every = every & atom(when, name, now)
    return every


def next_time(whens: Sequence[When], now: Now) -> FloatArray:
    """Return the next moment at which a condition of time comes to hold, (n,); infinite where none does."""
    soonest = np.full(now.time.shape, np.inf)
    for when in whens:
        for name in when.given:
            if name in OF_TIME:
                due = due_at(when, name, now)
                soonest = np.minimum(soonest, np.where(due > now.time, due, np.inf))
    return soonest
