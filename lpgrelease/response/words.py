"""Conditions and what they wait for, in words."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from lpgrelease.response import units

if TYPE_CHECKING:
    from lpgrelease.response.conditions import When

__all__ = ["condition_in_words", "conditions_in_words"]


def condition_in_words(when: When, name: str) -> str:
    """Return one of the conditions of `when` in words; of several scenarios, from the least to the most."""
    value = getattr(when, name)
    if name in ("after", "after_start"):
        verb = "has ended" if name == "after" else "has begun"
        ago = f" {_from_to(when.wait, units.duration)} ago" if np.any(np.asarray(when.wait) > 0.0) else ""
        return f"'{value}' {verb}{ago}"
    if name == "clock":
        return f"the clock shows {_from_to(value, _clock)} or later"
    if name == "time":
        return f"it is {_from_to(value, units.duration)} after the leak began"
    plain = {
        "daylight": "there is daylight",
        "settled": "the tank is at rest at what is open",
        "ground_dry": "no liquid leaks or lies on the ground",
        "function": "the function given holds",
    }
    if name in plain:
        return plain[name]
    what, _, side = name.partition("_at_")
    tell = {
        "gauge": units.pressure,
        "temperature": units.temperature,
        "level": units.length,
        "liquid": units.mass,
        "wind": units.speed,
    }[what]
    verb = "reads" if what == "gauge" else "is"
    told = _from_to(value, lambda number: "{} ({})".format(*tell(number)))
    return f"the {what} {verb} at or {'below' if side == 'most' else 'above'} {told}"


def _from_to(value: Any, tell: Callable[[float], str]) -> str:
    numbers = np.ravel(value)
    if not numbers.size:
        return "what no scenario says"
    low, high = float(numbers.min()), float(numbers.max())
    return tell(low) if low == high else f"{tell(low)} to {tell(high)}"


def _clock(seconds: float) -> str:
    minutes = int(seconds) // 60
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def conditions_in_words(whens: tuple[When, ...]) -> str:
    """Return conditions of which one suffices, in words."""
    return "; or ".join(when.told for when in whens)
