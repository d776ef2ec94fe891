"""What each argument of the assessment of a freeze seal must be."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from lpgrelease.fluids import Fluid
from lpgrelease.freeze_seal.cloth import WetCloth
from lpgrelease.freeze_seal.metal import MetalWall
from lpgrelease.quantities import FloatArray, require_flag, require_kind, to_si
from lpgrelease.release.opening import Opening
from lpgrelease.weather import Weather

__all__ = ["in_si"]

KINDS: Final = {"fluid": Fluid, "hole": Opening, "cloth": WetCloth, "wall": MetalWall, "weather": Weather}
NUMBERS: Final[dict[str, tuple[str, dict[str, Any]]]] = {
    "gauge_pressure": ("Pa", {"lower": 0.0, "why": "a leak runs outward"}),
    "tank_temperature": ("K", {"lower": 0.0}),
    "head": ("m", {"lower": 0.0}),
    "ambient_pressure": ("Pa", {"lower": 0.0, "open_lower": True}),
    "outside_heat_transfer": ("W/m**2/K", {"lower": 0.0, "open_lower": True}),
    "captured_cold": ("", {"lower": 0.0, "upper": 1.0}),
    "time_available": ("s", {"lower": 0.0}),
    "failure_probability": ("", {"lower": 1e-12, "upper": 0.5, "why": "a small probability"}),
    "vapor_fraction": ("", {"lower": 0.0, "upper": 1.0, "why": "a mass fraction"}),
}
"""Unit and range."""
MAY_BE_NONE: Final = ("cloth", "wall", "weather", "tank_temperature", "ambient_pressure")


def in_si(arguments: Mapping[str, Any]) -> dict[str, FloatArray]:
    """Numbers of those arguments of `assess_freeze_seal` that are given, in SI; all are checked.

    Raises
    ------
    InputError, OutOfRangeError
        Any of them is of the wrong kind, or outside its range.
    """
    given = {name: v for name, v in arguments.items() if not (v is None and name in MAY_BE_NONE)}
    for name, kind in KINDS.items():
        if name in given:
            require_kind(given[name], kind, name)
    if "open_to_air" in given:
        require_flag(given["open_to_air"], "open_to_air")
    return {
        name: to_si(given[name], unit, name, **limits)
        for name, (unit, limits) in NUMBERS.items()
        if name in given
    }
