"""Relief valves among the openings of a march: how they stand and when they switch."""

from __future__ import annotations

import dataclasses
from typing import Self

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray, IntArray, scenarios_of
from lpgrelease.tank.relief import lift_fraction, until_switch

__all__ = ["Valves"]


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Valves:
    """V relief valves of n tanks.

    Parameters
    ----------
    which : tuple of int
        Their places among the openings.
    set_pressure, full_pressure, reseat_pressure : ndarray, shape (V, n)
        Gauge [Pa].
    is_open : ndarray of bool, shape (V, n) or (V, points, n)
        Whether each has been wide open since it was last shut.
    """

    which: tuple[int, ...]
    set_pressure: FloatArray
    full_pressure: FloatArray
    reseat_pressure: FloatArray
    is_open: BoolArray

    def lift(self, gauge: FloatArray) -> FloatArray:
        """Lift, 0 to 1, at gauge pressures (points, n); (V, points, n)."""
        return lift_fraction(
            gauge,
            self._by_point(),
            set_pressure=self.set_pressure[:, None],
            full_pressure=self.full_pressure[:, None],
            reseat_pressure=self.reseat_pressure[:, None],
        )

    def signals(self, gauge: FloatArray) -> FloatArray:
        """Fall to zero where a valve switches, over its set pressure; (V, points, n)."""
        until = until_switch(
            gauge,
            self._by_point(),
            full_pressure=self.full_pressure[:, None],
            reseat_pressure=self.reseat_pressure[:, None],
        )
        return np.asarray(until / self.set_pressure[:, None])

    def switched(self, events: BoolArray) -> Self:
        """Return the valves after their events (V, n)."""
        return dataclasses.replace(self, is_open=self.is_open ^ events)

    def with_open(self, is_open: BoolArray) -> Self:
        """Return the valves standing so."""
        return dataclasses.replace(self, is_open=is_open)

    def take(self, index: IntArray) -> Self:
        """Return the scenarios `index` alone."""
        return scenarios_of(self, index)

    def _by_point(self) -> BoolArray:
        return self.is_open[:, None] if self.is_open.ndim == 2 else self.is_open
