"""Relief valves among the openings of a march: how they stand, and when they begin to move.

Notes
-----
Lift L against gauge pressure g, set pressure g_s, overpressure o and blowdown b (`lpgrelease.tank.relief`): it
rises along L = (g - g_s)/(o g_s) and falls along L = (g - (1 - b) g_s)/(b g_s), each cut to 0 to 1, and between
the two lines it holds. A valve turns from rising to holding where the pressure's rate changes sign; rates
slower than `STILL` of the set pressure per second count as standing still.
"""

from __future__ import annotations

import dataclasses
from typing import Final, Self

import numpy as np

from lpgrelease.marching import IntArray
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = ["Valves"]

HOLDS, RISES, FALLS = 0.0, 1.0, 2.0
STILL: Final = 1e-7
FAR: Final = 1e300
"""Stands for the distance to an event that does not come."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Valves:
    """V relief valves of n tanks.

    Parameters
    ----------
    which : tuple of int
        Their places among the openings.
    set_pressure, overpressure, blowdown : ndarray, shape (V, n)
        Gauge [Pa]; shares of it.
    motion, held : ndarray, shape (V, n)
        How each moves, and the lift at which it holds.
    """

    which: tuple[int, ...]
    set_pressure: FloatArray
    overpressure: FloatArray
    blowdown: FloatArray
    motion: FloatArray
    held: FloatArray

    @classmethod
    def at_start(
        cls,
        which: tuple[int, ...],
        settings: tuple[FloatArray, FloatArray, FloatArray],
        gauge: FloatArray,
    ) -> Self:
        """Valves that have risen to `gauge` (n,); `settings`: set pressure, overpressure, blowdown, (V, n)."""
        set_pressure, overpressure, blowdown = settings
        lift = np.clip((gauge / set_pressure - 1.0) / overpressure, 0.0, 1.0)
        return cls(which, *settings, np.full(lift.shape, HOLDS), lift)

    def lift(self, gauge: FloatArray) -> FloatArray:
        """Lift, 0 to 1, at gauge pressures (points, n); (V, points, n)."""
        over = gauge / self.set_pressure[:, None] - 1.0
        rising = np.clip(over / self.overpressure[:, None], 0.0, 1.0)
        falling = np.clip(over / self.blowdown[:, None] + 1.0, 0.0, 1.0)
        motion, held = (x[:, None] if x.ndim == 2 else x for x in (self.motion, self.held))
        return np.where(motion == RISES, rising, np.where(motion == FALLS, falling, held + 0.0 * rising))

    def signals(self, gauge: FloatArray, rate: FloatArray) -> FloatArray:
        """Two per valve, (2 V, points, n): what would turn it upwards, and what downwards."""
        over = gauge / self.set_pressure[:, None] - 1.0
        speed = rate / self.set_pressure[:, None]
        motion, held = (x[:, None] if x.ndim == 2 else x for x in (self.motion, self.held))
        up = np.where(held < 1.0, self.overpressure[:, None] * held - over, FAR)
        down = np.where(held > 0.0, over - self.blowdown[:, None] * (held - 1.0), FAR)
        # what moves turns by the pressure's rate; what falls shuts at the end of the blowdown as well
        turns_down = np.where(motion == RISES, speed + STILL, FAR)
        turns_up = np.where(motion == FALLS, STILL - speed, FAR)
        shuts = np.where(motion == FALLS, over + self.blowdown[:, None], FAR)
        holds = motion == HOLDS
        return np.concatenate(
            [np.where(holds, up, turns_up), np.where(holds, down, np.minimum(turns_down, shuts))]
        )

    def landed(self, events: BoolArray, gauge: FloatArray) -> Self:
        """Return the valves after their events (2 V, n) at gauge pressures (n,)."""
        count = len(self.which)
        up, down = events[:count], events[count:]
        lift = self.lift(gauge[None])[:, 0]
        shut = gauge / self.set_pressure - 1.0 <= -self.blowdown + 1e-6
        held = np.where((self.motion == FALLS) & shut & down, 0.0, lift)
        turned = np.where(up, RISES, np.where(down, FALLS, HOLDS))
        motion = np.where(up | down, np.where(self.motion == HOLDS, turned, HOLDS), self.motion)
        return dataclasses.replace(self, motion=motion, held=np.where(up | down, held, self.held))

    def take(self, index: IntArray) -> Self:
        """Return the scenarios `index` alone."""
        parts = {
            f.name: getattr(self, f.name)[:, index] for f in dataclasses.fields(self) if f.name != "which"
        }
        return dataclasses.replace(self, **parts)

    def mode(self) -> FloatArray:
        """Motion and held lift, (2 V, n)."""
        return np.concatenate([self.motion, self.held])

    def in_mode(self, mode: FloatArray) -> Self:
        """Return the valves in a mode (2 V, n) that `mode` gave."""
        count = len(self.which)
        return dataclasses.replace(self, motion=mode[:count], held=mode[count:])
