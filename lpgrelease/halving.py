"""Halving of many brackets at once: slow, and sure."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = ["halved", "halved_to_middle"]


def halved(
    below: Callable[[FloatArray], BoolArray], low: FloatArray, high: FloatArray, times: int
) -> tuple[FloatArray, FloatArray]:
    """Narrow brackets around where `below` turns from true to false, from the side of `low`.

    Elementwise, so that a scenario's answer does not depend on its neighbors. Of one where `below` holds, or
    fails, throughout, both ends go to `high`, or to `low`.

    Examples
    --------
    >>> low, high = halved(lambda x: x * x < 2.0, np.zeros(1), np.full(1, 2.0), 40)
    >>> print(f"{low[0]:.6f}, {high[0] - low[0]:.0e}")
    1.414214, 2e-12
    """
    for _ in range(times):
        middle = 0.5 * (low + high)
        there = below(middle)
        low, high = np.where(there, middle, low), np.where(there, high, middle)
    return low, high


def halved_to_middle(
    below: Callable[[FloatArray], BoolArray], low: FloatArray, high: FloatArray, times: int
) -> FloatArray:
    """Return the middle of what `halved` leaves."""
    low, high = halved(below, low, high, times)
    middle: FloatArray = 0.5 * (low + high)
    return middle
