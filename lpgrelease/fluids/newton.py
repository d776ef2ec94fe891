"""Newton's method for many small systems at once; each stops by its own residual.

Arrays (unknowns, states). Array-level, unchecked.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray
from lpgrelease.small_systems import solved

__all__ = ["Step", "quietly", "solve", "solve_linear"]

TOLERANCE = 1e-8
"""A step from a residual this small lands at round-off: the method is quadratic."""
MOST_STEPS = 25
"""States of ordinary blends take up to 16; what takes more runs away."""
BLOCK = 1024
"""States solved at once, so that their arrays fit the processor's cache."""
quietly = np.errstate(all="ignore")
"""A state that runs away, as where there is no second phase, ends in NaN without a warning: not found."""
Step = Callable[..., tuple[FloatArray, FloatArray]]


def solve(step: Step, start: FloatArray, given: tuple[FloatArray, ...]) -> tuple[FloatArray, BoolArray]:
    """Newton's method on unknowns (m, n); `step` returns residual sizes (n,) and changes (m, n)."""
    unknown = np.array(start)
    found: NDArray[np.bool_] = np.zeros(start.shape[1], dtype=np.bool_)
    for first in range(0, start.shape[1], BLOCK):
        active = np.arange(first, min(first + BLOCK, start.shape[1]))
        for _ in range(MOST_STEPS):
            if not active.size:
                break
            size, change = step(unknown[:, active], *(each[..., active] for each in given))
            unknown[:, active] += change
            found[active] = size < TOLERANCE
            active = active[(size >= TOLERANCE) & np.isfinite(size)]
    return unknown, found


def solve_linear(matrix: FloatArray, right: FloatArray) -> FloatArray:
    """Solve matrix (m, m, n) x = right (m, n) state by state; NaN where there is no solution."""
    return solved(matrix.transpose(2, 0, 1), right.T[:, :, None])[:, :, 0].T
