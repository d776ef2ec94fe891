"""What a round watches in a tank: of each kind the nearest value at which something may begin or end."""

from __future__ import annotations

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.response.conditions import OF_TANK
from lpgrelease.response.rounds import TARGETS, Round
from lpgrelease.results import BoolArray, StringArray

__all__ = ["Watched", "met"]

ONCE_SETTLED = ("gauge_at_most", "gauge_at_least", "temperature_at_most", "temperature_at_least")
"""What a tank that has come to rest does not reach."""


class Watched:
    """Values that are waited for; of several of a kind the nearest counts. Arrays (n,)."""

    def __init__(self, values: dict[str, FloatArray]) -> None:
        self._values = values
        n = values["gauge"].size
        self._found = {name: np.full(n, _never(name)) for name in TARGETS}

    def add(self, name: str, where: BoolArray, limit: FloatArray) -> None:
        """Wait for a value where it is still ahead."""
        value, found = self._values[OF_TANK[name]], self._found[name]
        if name.endswith("most"):
            self._found[name] = np.where(where & (value > limit), np.maximum(found, limit), found)
        else:
            self._found[name] = np.where(where & (value < limit), np.minimum(found, limit), found)

    def unless(self, settled: BoolArray) -> dict[str, FloatArray]:
        """Return what is waited for; infinite: nothing, as pressure and temperature of a tank at rest."""
        rests = {name: np.where(settled, _never(name), self._found[name]) for name in ONCE_SETTLED}
        return self._found | rests


def _never(name: str) -> float:
    return -np.inf if name.endswith("most") else np.inf


def met(
    asked: Round, reasons: StringArray, ended: dict[str, FloatArray], ambient: FloatArray
) -> dict[str, FloatArray]:
    """Return the values at which marches have ended, by what is watched; NaN where it was something else.

    `ended`: gauge pressure and temperature at the end (n,): where two values of one kind were waited for, the
    one it came to.
    """
    exact: dict[str, FloatArray] = {}
    for name, (_, reason) in TARGETS.items():
        target, watched = asked.targets[name], OF_TANK[name]
        hit = asked.moves & (reasons == reason) & np.isfinite(target)
        if watched in ended:
            sought = np.where(hit, target, 0.0)
            near = {"gauge": 1.0 + 1e-4 * ambient + 1e-3 * np.abs(sought), "temperature": 1e-3}[watched]
            hit = hit & (np.abs(ended[watched] - sought) <= near)
        exact[watched] = np.where(hit, target, exact.get(watched, np.nan))
    return exact
