"""Flow where next to nothing drives it.

A root is steepest at nothing, where a tank at rest would keep a march busy with micropascals. So over the
last pascal flow goes nearly as the drive itself, by a factor that is smooth and 1 from there on.
"""

from __future__ import annotations

import numpy as np

from lpgrelease.quantities import FloatArray

__all__ = ["LEAST_DRIVE", "LEAST_OF_GAS", "eased", "eased_slope"]

LEAST_DRIVE = 1.0
"""Below that [Pa] flow goes nearly as the drive, not as its root; common practice, no source."""
LEAST_OF_GAS = 20.0
"""The same where a gas shares the space with the vapor and air may come in."""


def eased(drive: FloatArray, least: float = LEAST_DRIVE) -> FloatArray:
    """Return what makes of the root of `drive` [Pa] nearly the drive itself; 1 from `least` on."""
    share = np.minimum(np.maximum(drive / least, 0.0), 1.0)
    factor: FloatArray = np.sqrt(share) * (1.5 - 0.5 * share)
    return factor


def eased_slope(drive: FloatArray, least: float = LEAST_DRIVE) -> FloatArray:
    """Slope by the drive of the logarithm of :func:`eased` [1/Pa]; 0 without drive."""
    share = drive / least
    within = (share > 0.0) & (share < 1.0)
    safe = np.where(within, share, 1.0)
    slope: FloatArray = np.where(within, (0.5 / safe - 0.5 / (1.5 - 0.5 * safe)) / least, 0.0)
    return slope
