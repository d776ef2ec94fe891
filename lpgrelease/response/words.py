"""Conditions and what they wait for, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from lpgrelease.response import units

if TYPE_CHECKING:
    from lpgrelease.response.conditions import When

__all__ = ["condition_in_words", "conditions_in_words"]


def condition_in_words(when: When, name: str) -> str:
    """Return one of the conditions of `when`, of one scenario, in words."""
    value = getattr(when, name)
    if name in ("after", "after_start"):
        verb = "has ended" if name == "after" else "has begun"
        waits = float(when.wait)
        return f"'{value}' {verb}" + (f" {units.duration(waits)} ago" if waits > 0.0 else "")
    if name == "clock":
        minutes = int(float(value)) // 60
        return f"the clock shows {minutes // 60:02d}:{minutes % 60:02d} or later"
    if name == "time":
        return f"it is {units.duration(float(value))} after the leak began"
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
    first, second = tell(float(value))
    verb = "reads" if what == "gauge" else "is"
    return f"the {what} {verb} at or {'below' if side == 'most' else 'above'} {first} ({second})"


def conditions_in_words(whens: tuple[When, ...]) -> str:
    """Return conditions of which one suffices, in words."""
    return "; or ".join(when.told for when in whens)
