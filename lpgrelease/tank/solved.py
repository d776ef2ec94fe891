"""Histories of many tanks as they were solved, and putting those of parts together."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray, IntArray
from lpgrelease.tank.venting import Inventory

__all__ = ["Parts", "Solved"]


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """Histories of a block: states (points, openings + 4, n), inventories, phases at openings, ends."""

    states: FloatArray
    inventory: Inventory
    modes: BoolArray
    codes: IntArray
    rest: FloatArray

    def take(self, index: IntArray) -> Solved:
        """Return the scenarios `index` alone."""
        return Solved(
            self.states[..., index],
            self.inventory.take(index),
            self.modes[..., index],
            self.codes[index],
            self.rest[index],
        )


class Parts:
    """Histories of parts of n scenarios."""

    def __init__(self, n: int) -> None:
        self.solved = np.zeros(n, dtype=np.bool_)
        self.made: list[tuple[IntArray, Solved]] = []

    def add(self, who: IntArray, part: Solved) -> None:
        """Put down the histories of scenarios `who`."""
        self.solved[who] = True
        self.made.append((who, part))

    def joined(self) -> Solved:
        """Return the histories of all."""
        made = [part for part in self.made if part[0].size] or self.made[:1]
        order = np.argsort(np.concatenate([who for who, _ in made]))
        parts = [part for _, part in made]
        if len(parts) == 1 and np.array_equal(order, np.arange(order.size)):
            return parts[0]
        inventories = zip(*(part.inventory for part in parts), strict=True)
        return Solved(
            _in_order([part.states for part in parts], order),
            Inventory(*(_in_order(fields, order) for fields in inventories)),
            *(
                _in_order([getattr(part, name) for part in parts], order)
                for name in ("modes", "codes", "rest")
            ),
        )


def _in_order(parts: Sequence[np.ndarray], order: IntArray) -> np.ndarray:
    """Join arrays along their last axis, and take `order` of it.

    Row by row: memory that is used again is the quickest.
    """
    if (order[1:] > order[:-1]).all():
        return np.concatenate(parts, axis=-1)
    joined = np.empty((*parts[0].shape[:-1], order.size), dtype=parts[0].dtype)
    for row in np.ndindex(joined.shape[:-2]):
        whole = np.concatenate([part[row] for part in parts], axis=-1)
        np.take(whole, order, axis=-1, out=joined[row], mode="clip")
    return joined
