"""Whether a wet cloth freezes on a leak of a tank as it stands."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

from lpgrelease.fluids import Fluid
from lpgrelease.freeze_seal import FreezeSeal, WetCloth, assess_freeze_seal
from lpgrelease.release import Opening
from lpgrelease.results import BoolArray, Result
from lpgrelease.tank import Contents
from lpgrelease.weather import Weather

__all__ = ["assess_leak", "merge"]


def assess_leak(
    fluid: Fluid,
    contents: Contents,
    leak: Opening,
    wet: BoolArray,
    cloth: WetCloth | None,
    weather: Weather,
) -> FreezeSeal:
    """Assess one leak as a leak of liquid and of vapor, and keep what stands at it.

    Below the air's pressure a tank is assessed at zero gauge and, for vapor, at the boiling point: nothing
    flows and nothing cools the cloth.
    """
    boiling = fluid.saturation_temperature(np.asarray(weather.ambient_pressure))
    common: dict[str, Any] = {
        "gauge_pressure": np.maximum(contents.gauge_pressure(ambient_pressure=weather.ambient_pressure), 0.0),
        "cloth": cloth,
        "weather": weather,
    }
    head = np.maximum(contents.level - leak.height, 0.0)
    liquid = assess_freeze_seal(
        fluid, leak, phase="liquid", tank_temperature=contents.temperature, head=head, **common
    )
    warm = None if fluid.is_blend else np.maximum(contents.temperature, boiling)
    vapor = assess_freeze_seal(fluid, leak, phase="vapor", tank_temperature=warm, **common)
    if wet.all() or not wet.any():
        return liquid if wet.any() else vapor
    merged: FreezeSeal = merge(wet, liquid, vapor)
    return merged


def merge(choice: BoolArray, first: Any, second: Any) -> Any:
    """`first` where `choice`, else `second`, field by field; words of both."""
    if isinstance(first, Result):
        changed = {
            f.name: merge(choice, getattr(first, f.name), getattr(second, f.name))
            for f in dataclasses.fields(first)
        }
        return dataclasses.replace(first, **changed)
    if isinstance(first, (np.ndarray, np.generic)):
        return np.where(choice, first, second)
    if isinstance(first, tuple):
        if first and isinstance(first[0], str):
            return tuple(dict.fromkeys((*first, *second)))
        return tuple(merge(choice, a, b) for a, b in zip(first, second, strict=True))
    return first
