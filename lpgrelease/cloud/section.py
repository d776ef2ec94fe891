"""A plane across the cloud: how concentration falls off aside and upward, and what lies inside limits.

A core of half-width b whose edges have spread sideways by s, and a Gaussian upward: with b far above s a box,
with s far above b Gauss' plume; exactly the plume of a line source of width 2 b.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from lpgrelease.quantities import FloatArray

__all__ = ["crosswind_profile", "error_function", "layer_content", "offsets"]

OFFSETS: Final = 32
_A: Final = (0.254829592, -0.284496736, 1.421413741, -1.453152027, 1.061405429)


def error_function(x: FloatArray) -> FloatArray:
    """erf(x), within 1.5e-7.

    Notes
    -----
    References: abramowitz1964handbook, Eq. 7.1.26.

    Examples
    --------
    >>> print(f"{error_function(np.float64(1.0)):.6f}")
    0.842701
    """
    size = np.abs(x)
    t = 1.0 / (1.0 + 0.3275911 * size)
    series = t * (_A[0] + t * (_A[1] + t * (_A[2] + t * (_A[3] + t * _A[4]))))
    return np.asarray(np.copysign(1.0 - series * np.exp(-size * size), x))


def crosswind_profile(offset: FloatArray, half_width: FloatArray, edge_spread: FloatArray) -> FloatArray:
    """Concentration at a distance aside over that of the core before its edges spread.

    Notes
    -----
    [erf((b + y)/(2^(1/2) s)) + erf((b - y)/(2^(1/2) s))]/2.

    Examples
    --------
    >>> print(crosswind_profile(np.array([0.0, 2.0, 9.0]), np.float64(2.0), np.float64(0.1)))
    [1.  0.5 0. ]
    """
    scale = math.sqrt(2.0) * np.maximum(edge_spread, 1e-9)
    left, right = (half_width + offset) / scale, (half_width - offset) / scale
    return np.maximum(0.5 * (error_function(left) + error_function(right)), 0.0)


def offsets(half_width: FloatArray, edge_spread: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Middles of equal strips from the axis out to b + 5 s, on a new first axis, and a strip's width."""
    width = (half_width + 5.0 * edge_spread) / OFFSETS
    middle = np.arange(OFFSETS).reshape((OFFSETS,) + (1,) * np.ndim(half_width)) + 0.5
    return middle * width, width


def layer_content(profile: FloatArray, threshold: FloatArray, depth: FloatArray) -> FloatArray:
    """Gas above a point of the ground inside a threshold, over the concentration of the core [m].

    Notes
    -----
    The integral of F exp(-z^2/2 s^2) up to where it falls to the threshold c: F h erf([ln(F/c)]^(1/2)),
    h = (pi/2)^(1/2) s.
    """
    above = profile > threshold
    ratio = np.where(above, profile, 1.0) / np.where(above, threshold, 1.0)
    return np.where(above, profile * depth * error_function(np.sqrt(np.log(ratio))), 0.0)
