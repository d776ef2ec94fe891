"""Sums whose order, and so whose last bit, depends on nothing but the number of terms."""

from __future__ import annotations

import numpy as np

from lpgrelease.quantities import FloatArray

__all__ = ["add_along"]


def add_along(values: FloatArray, axis: int) -> FloatArray:
    """Sum along an axis term by term (the order of `np.sum` may depend on the array's shape)."""
    total: FloatArray = np.add.accumulate(values, axis=axis).take(-1, axis=axis)
    return total
