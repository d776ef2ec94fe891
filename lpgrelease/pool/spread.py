"""How a pool of liquid spreads over level ground: plain functions of SI arrays."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from lpgrelease.constants import STANDARD_GRAVITY
from lpgrelease.elementwise import larger, smaller
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = ["initial_area", "mean_spreading_volume", "spread_gravity_inertia", "spread_gravity_viscous"]


_TINY: Final = float(np.finfo(float).tiny)
VISCOUS_COEFFICIENT: Final = 1024.0 / (81.0 * math.pi**3)
"""Eighth power of Huppert's constant 0.894 of a given volume."""


def initial_area(volume: FloatArray) -> FloatArray:
    """Area of liquid let go at once, before it begins to spread [m2].

    A cylinder as high as its radius: r = (V / pi)^(1/3); common practice, no source. The choice is
    forgotten as soon as the pool is a few times wider.

    Examples
    --------
    >>> f"{initial_area(np.array(1.0)):.3f}"
    '1.465'
    """
    r = np.cbrt(volume / math.pi)
    return math.pi * r * r


def mean_spreading_volume(before: FloatArray, after: FloatArray) -> FloatArray:
    """Volume that spreads a pool as far as one that changes steadily from `before` to `after` [m3].

    Its square root is the mean of sqrt(V) over the step, so that a steady feed spreads exactly.

    Examples
    --------
    >>> f"{mean_spreading_volume(np.array(0.0), np.array(9.0)):.1f}"
    '4.0'
    """
    a, b = np.sqrt(before), np.sqrt(after)
    root = (2.0 / 3.0) * (a * a + a * b + b * b) / larger(a + b, _TINY)
    return root * root  # type: ignore[no-any-return]


def spread_gravity_inertia(
    area: FloatArray,
    volume_before: FloatArray,
    volume_after: FloatArray,
    *,
    minimum_depth: FloatArray,
    time_step: FloatArray,
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Area after a time step of a round pool whose edge runs on its own weight.

    Parameters
    ----------
    area : ndarray
        At the start [m2].
    volume_before, volume_after : ndarray
        Of the liquid at the start and at the end of the step [m3], 0 or more.
    minimum_depth : ndarray
        Depth h_min at which the spreading stops [m]; 0 never stops.
    time_step : ndarray
        [s].

    Returns
    -------
    area : ndarray
        If the edge moves through the whole step [m2], never smaller than before.
    rest_volume : ndarray
        Volume at the time the edge came to rest, or at the end if it grew later [m3].
    settled : ndarray
        Whether the edge came to rest, so that the area is `rest_volume` / `minimum_depth`.

    Notes
    -----
    dr/dt = sqrt(2 g (h - h_min)), h = V / (pi r^2) (front speed coefficient 1), solved exactly for
    constant V: with u = sqrt(V/pi - h_min r^2), du/dt = -h_min sqrt(2 g) and
    r^2 = r_0^2 + 2 u sqrt(2 g) t - 2 g h_min t^2 until u = 0. A changing V enters by its mean, exact for
    h_min = 0. Bed friction is left out; h_min stands in for it: against shallow-water equations with
    friction the law is within 20 % for the first seconds and too fast afterwards (independent computation).
    References: shaw1978evaporation; briscoe1980spread (both from memory).

    Examples
    --------
    >>> ten, zero = np.array(10.0), np.array(0.0)
    >>> area, _, _ = spread_gravity_inertia(zero, ten, ten, minimum_depth=zero, time_step=ten)
    >>> f"{np.sqrt(area / np.pi):.2f} m"
    '12.57 m'
    """
    g = float(STANDARD_GRAVITY)
    h, t, w = minimum_depth, time_step, math.sqrt(2.0 * g)
    y = area / math.pi
    u = np.sqrt(larger(mean_spreading_volume(volume_before, volume_after) / math.pi - h * y, 0.0))
    share = smaller(u / larger(w * h * t, _TINY), 1.0)
    moving = y + t * (2.0 * w * u - 2.0 * g * h * t)
    rest_volume = volume_after + larger(volume_before - volume_after, 0.0) * (1.0 - share)
    settled = (share < 1.0) & (h > 0.0)
    return math.pi * larger(moving, y), rest_volume, settled


def spread_gravity_viscous(
    area: FloatArray,
    volume_before: FloatArray,
    volume_after: FloatArray,
    *,
    kinematic_viscosity: FloatArray,
    time_step: FloatArray,
) -> FloatArray:
    """Area after a time step of a round pool that its own weight spreads against viscous drag.

    Parameters
    ----------
    area : ndarray
        At the start [m2].
    volume_before, volume_after : ndarray
        Of the liquid at the start and at the end of the step [m3], 0 or more.
    kinematic_viscosity : ndarray
        Of the liquid [m2/s].
    time_step : ndarray
        [s].

    Returns
    -------
    ndarray
        [m2], never smaller than before.

    Notes
    -----
    d(r^8)/dt = (1024 / (81 pi^3)) g V^3 / (3 nu), solved for V linear in time: the similarity solution
    r = 0.894 (g V^3 / (3 nu))^(1/8) t^(1/8) for a given volume. For a steady feed Q from nothing it gives
    r = 0.752 (g Q^3 / (3 nu))^(1/8) t^(1/2), 5 % more than the similarity solution's 0.715. Laminar, on a
    smooth level plane; a liquefied gas is so thin that this matters below a few millimeters of depth only.
    References: huppert1982viscous, Eqs. 2.17 and 2.27 to 2.29 (constants from memory).

    Examples
    --------
    >>> area = spread_gravity_viscous(*(np.array(x) for x in (0.0, 1e-3, 1e-3)),
    ...     kinematic_viscosity=np.array(1e-3), time_step=np.array(60.0))
    >>> f"{np.sqrt(area / np.pi):.3f} m"
    '0.308 m'
    """
    a, b = volume_before, volume_after
    cube = 0.25 * (a + b) * (a * a + b * b)
    y = area / math.pi
    fourth = y * y * y * y
    pushed = VISCOUS_COEFFICIENT * float(STANDARD_GRAVITY) / 3.0 * cube * time_step / kinematic_viscosity
    return math.pi * np.sqrt(np.sqrt(fourth + pushed))
