"""Wet cloths on the leaks of a tank: whether they freeze as it stands, and which leaks they have shut."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import Any

import numpy as np

from lpgrelease.fluids import Fluid
from lpgrelease.freeze_seal import FreezeSeal, WetCloth, assess_freeze_seal
from lpgrelease.quantities import FloatArray
from lpgrelease.release import Opening
from lpgrelease.results import BoolArray, Result
from lpgrelease.tank import Contents
from lpgrelease.weather import Weather

__all__ = ["Cloths"]

LITTLE_BELOW = 1e-3
"""A cloth is laid at a gauge pressure this part below the highest at which it freezes and holds."""
LOOKS_AGAIN = 0.25
"""What a cloth bears depends on how cold the tank is: it is assessed anew when the gauge is down to this."""


class Cloths:
    """The cloths on all leaks while a course of events goes on: arrays (n, leaks)."""

    def __init__(self, leaks: Sequence[Opening], fluid: Fluid, n: int) -> None:
        self._leaks, self._fluid = leaks, fluid
        none = np.zeros((n, len(leaks)), dtype=np.bool_)
        self.wet: BoolArray = none
        """Whether liquid stands at the leak."""
        self.shut: BoolArray = none
        """Whether it is frozen shut."""
        self._laid, self._freezes = none.copy(), none.copy()
        self._found: list[FreezeSeal | None] = [None] * len(leaks)

    def assess(self, cloth: WetCloth | None, contents: Contents, weather: Weather) -> tuple[FreezeSeal, ...]:
        """Assess a cloth on every leak of the tank as it stands now."""
        return tuple(
            assess_leak(self._fluid, contents, leak, self.wet[:, i], cloth, weather)
            for i, leak in enumerate(self._leaks)
        )

    def bear(self, found: Sequence[FreezeSeal], gauge: FloatArray) -> FloatArray:
        """Return the gauge pressure to wait for, where only the pressure is too high; else infinite (n,)."""
        below = np.full(gauge.shape, np.inf)
        for i, seal in enumerate(found):
            highest = np.asarray(seal.highest_gauge_pressure)
            too_high = ~np.asarray(seal.feasible) & (highest > 0.0) & (gauge > highest)
            reached = np.minimum(below, np.maximum((1.0 - LITTLE_BELOW) * highest, LOOKS_AGAIN * gauge))
            below = np.where(too_high & ~self.shut[:, i], reached, below)
        return below

    def lay(self, found: Sequence[FreezeSeal], where: BoolArray) -> FloatArray:
        """Lay cloths on the open leaks of some scenarios (n,); return the time until the last has frozen."""
        until = np.zeros(where.shape)
        for i, seal in enumerate(found):
            now, kept = where & ~self.shut[:, i], self._found[i]
            self._found[i] = seal if kept is None else merge(now | ~self._laid[:, i], seal, kept)
            self._laid[:, i] |= now
            freezes = now & np.asarray(seal.feasible)
            self._freezes[:, i] = np.where(now, freezes, self._freezes[:, i])
            until = np.maximum(until, np.where(freezes, seal.freeze_time, 0.0))
        return until

    def freeze(self, due: BoolArray) -> None:
        """Shut the leaks whose cloths have frozen, in some scenarios (n,)."""
        self.shut = self.shut | (self._freezes & due[:, None])

    def told(self, cloth: WetCloth | None, contents: Contents, weather: Weather) -> tuple[FreezeSeal, ...]:
        """Return the assessment of each leak: of when the cloth was laid or, where none was, of now."""
        if self._laid.all() and self._laid.size:
            return tuple(laid for laid in self._found if laid is not None)
        pairs = zip(self._found, self.assess(cloth, contents, weather), strict=True)
        return tuple(
            now if laid is None else merge(self._laid[:, i], laid, now) for i, (laid, now) in enumerate(pairs)
        )


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
    found: list[FreezeSeal] = []
    if wet.any():
        head = np.maximum(contents.level - leak.height, 0.0)
        found.append(
            assess_freeze_seal(
                fluid, leak, phase="liquid", tank_temperature=contents.temperature, head=head, **common
            )
        )
    if not wet.all() or not found:
        warm = None if fluid.is_blend else np.maximum(contents.temperature, boiling)
        found.append(assess_freeze_seal(fluid, leak, phase="vapor", tank_temperature=warm, **common))
    whole: FreezeSeal = merge(wet, *found) if len(found) > 1 else found[0]
    return whole


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
