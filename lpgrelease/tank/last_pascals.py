"""Flow where next to nothing drives it."""

from __future__ import annotations

import numpy as np

from lpgrelease.quantities import FloatArray

__all__ = ["eased"]

LEAST_DRIVE = 1.0
"""Below that [Pa] flow goes nearly as the drive, not as its root; common practice, no source."""
LEAST_OF_GAS = 20.0
"""The same where there is gas"""


def eased(drive: FloatArray, least: float = LEAST_DRIVE) -> FloatArray:
    """1 from `least` [Pa] on; below, what makes of the root of the drive nearly the drive itself.

    A root is steepest at nothing, where a tank at rest would keep a march busy with micropascals.
    """
    share = np.minimum(np.maximum(drive / least, 0.0), 1.0)
    factor: FloatArray = np.sqrt(share) * (1.5 - 0.5 * share)
    return factor
