"""Heat out of a half-space of ground that is suddenly cooled at its surface, with or without freezing.

A constant contact temperature draws the flux A / sqrt(t). Pore water that freezes changes A and nothing
else (Neumann's similarity solution). Plain, elementwise functions of SI arrays.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from lpgrelease.constants import FREEZING_POINT_OF_WATER
from lpgrelease.errors import ConvergenceError
from lpgrelease.quantities import FloatArray

__all__ = ["Contact", "contact_coefficient", "half_space_coefficient", "neumann_coefficient"]

_NEWTON_STEPS = 12
_LARGEST_ROOT = 6.0
_ROOT_TOLERANCE = 1e-10
_TINY = float(np.finfo(float).tiny)

_BELOW, _ABOVE = 160.0 * (np.arange(48, 0, -1) / 48) ** 2, 64.0 * (np.arange(17) / 16) ** 2
_AXIS: Final = float(FREEZING_POINT_OF_WATER) + np.concatenate([-_BELOW, _ABOVE])
_AXIS.setflags(write=False)
_INSIDE: Final = _AXIS[1:-1]
"""Temperatures of the table of :class:`Contact` [K], close together near the freezing point."""


def half_space_coefficient(
    conductivity: FloatArray, volumetric_heat_capacity: FloatArray, temperature_difference: FloatArray
) -> FloatArray:
    """Coefficient A of the flux A / sqrt(t) into the surface of a half-space [W s^0.5/m2].

    Notes
    -----
    A = k dT / sqrt(pi alpha) = dT sqrt(k C / pi). References: carslaw1959conduction, section 2.4.

    Examples
    --------
    >>> f"{half_space_coefficient(0.92, 0.92 / 4.16e-7, 184.0) / 10**0.5 / 1e3:.1f} kW/m2"
    '46.8 kW/m2'
    """
    return temperature_difference * np.sqrt(conductivity * volumetric_heat_capacity / math.pi)


def neumann_coefficient(
    near_difference: FloatArray,
    far_difference: FloatArray,
    *,
    near_conductivity: FloatArray,
    near_heat_capacity: FloatArray,
    far_conductivity: FloatArray,
    far_heat_capacity: FloatArray,
    latent_heat: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Flux coefficient and front of a half-space that changes phase behind a moving front.

    "Near" is the phase between the surface and the front (frozen ground under a cold pool), "far" the
    phase beyond it.

    Parameters
    ----------
    near_difference, far_difference : float or ndarray
        From the surface to the melting point, and from there to the undisturbed ground [K], 0 or more.
    near_conductivity, far_conductivity : float or ndarray
        [W/m/K].
    near_heat_capacity, far_heat_capacity : float or ndarray
        Per volume [J/m3/K].
    latent_heat : float or ndarray
        Per volume [J/m3], 0 or more.

    Returns
    -------
    coefficient, root : ndarray
        A of the surface flux A / sqrt(t) [W s^0.5/m2], and lambda: the front is at
        2 lambda sqrt(alpha_near t).

    Raises
    ------
    ConvergenceError
        The transcendental equation was not solved.

    Notes
    -----
    l sqrt(alpha_n) lambda = a exp(-lambda^2) / erf(lambda) - b / erfcx(lambda sqrt(alpha_n / alpha_f)),
    A = a / erf(lambda), a = dT_n sqrt(k_n C_n / pi), b = dT_f sqrt(k_f C_f / pi). Newton's method
    on logarithms until a step is below 1e-10 of the root. The volume change of freezing water is left out.
    References: carslaw1959conduction, section 11.2 (Neumann's solution).

    Examples
    --------
    >>> A, root = neumann_coefficient(42.0, 27.0, near_conductivity=2.7811, near_heat_capacity=1.936e6,
    ...     far_conductivity=1.8694, far_heat_capacity=2.6195e6, latent_heat=106.75e6)
    >>> f"{A:.0f} {root:.6f}"
    '128164 0.400644'
    """
    a = half_space_coefficient(near_conductivity, near_heat_capacity, near_difference)
    b = half_space_coefficient(far_conductivity, far_heat_capacity, far_difference)
    alpha = near_conductivity / near_heat_capacity
    c = latent_heat * np.sqrt(alpha)
    ratio = np.sqrt(alpha * far_heat_capacity / far_conductivity)
    root = _neumann_root(a, b, c, ratio)
    with_front = a > 0.0
    return np.where(with_front, a / np.where(with_front, _erf(root), 1.0), b)[()], root[()]


def _neumann_root(a: FloatArray, b: FloatArray, c: FloatArray, ratio: FloatArray) -> FloatArray:
    """Solve by Newton's method; each case stops by itself."""
    shape = np.broadcast_shapes(*(np.shape(row) for row in (a, b, c, ratio)))
    rows = [np.broadcast_to(row, shape).ravel() for row in (a, b, c, ratio)]
    x = np.zeros(rows[0].shape)
    which = np.flatnonzero(rows[0] > 0.0)
    rows = [row[which] for row in rows]
    q = rows[0] * (math.sqrt(math.pi) / 2.0)
    start = rows[1] + np.sqrt(rows[1] * rows[1] + 4.0 * rows[2] * q)
    x[which] = np.maximum(2.0 * q / np.maximum(start, 2.0 * q / _LARGEST_ROOT), _TINY)
    for _ in range(_NEWTON_STEPS):
        old = x[which]
        x[which] = new = _nearer(old, *rows)
        step = np.abs(new - old) / old
        far = step > _ROOT_TOLERANCE
        which, rows = which[far], [row[far] for row in rows]
        if not which.size:
            break
    worst = step[far][x[which] < 0.9 * _LARGEST_ROOT]
    if worst.size:
        raise ConvergenceError("front of freezing ground", float(worst.max()))
    return x.reshape(shape)


def _nearer(x: FloatArray, a: FloatArray, b: FloatArray, c: FloatArray, ratio: FloatArray) -> FloatArray:
    """One step of Newton's method from x, on logarithms: the sides may differ by many powers of ten."""
    erf, gauss, scaled = _erf(x), np.exp(-x * x), _erfcx(ratio * x)
    per_erf = (2.0 / math.sqrt(math.pi)) * gauss / erf
    given, taken = a * gauss / erf, np.maximum(c * x + b / scaled, _TINY)
    rise = c + b * ratio * (2.0 / math.sqrt(math.pi) - 2.0 * ratio * x * scaled) / (scaled * scaled)
    slope = x * (rise / taken + 2.0 * x + per_erf)
    return np.minimum(x * np.exp((np.log(given) - np.log(taken)) / slope), _LARGEST_ROOT)


_scalar_erf, _scalar_erfc = np.frompyfunc(math.erf, 1, 1), np.frompyfunc(math.erfc, 1, 1)


def _erf(x: FloatArray) -> FloatArray:
    """Error function, element by element."""
    return np.asarray(_scalar_erf(x), dtype=np.float64)


def _erfcx(x: FloatArray) -> FloatArray:
    """exp(x^2) erfc(x) for 0 <= x <= 12, good to 2e-14."""
    return np.exp(x * x) * np.asarray(_scalar_erfc(x), dtype=np.float64)


def contact_coefficient(
    contact: FloatArray,
    start: FloatArray,
    conductivity: FloatArray,
    capacity: FloatArray,
    frozen_conductivity: FloatArray,
    frozen_capacity: FloatArray,
    latent: FloatArray,
) -> FloatArray:
    """Return A of A / sqrt(t), with or without a front; arguments of one shape, of one dimension or more."""
    melting = float(FREEZING_POINT_OF_WATER)
    cold_side = contact < melting
    cold_start = start < melting
    moving = (latent > 0.0) & (cold_side != cold_start)
    frozen = (latent > 0.0) & cold_side & cold_start
    plain_flux = half_space_coefficient(
        np.where(frozen, frozen_conductivity, conductivity),
        np.where(frozen, frozen_capacity, capacity),
        start - contact,
    )
    if not moving.any():
        return plain_flux
    cold = cold_side[moving]
    thawed = conductivity[moving], capacity[moving]
    ice = frozen_conductivity[moving], frozen_capacity[moving]
    near_k, near_c = (np.where(cold, one, other) for one, other in zip(ice, thawed, strict=True))
    far_k, far_c = (np.where(cold, other, one) for one, other in zip(ice, thawed, strict=True))
    front_flux, _ = neumann_coefficient(
        np.abs(melting - contact[moving]),
        np.abs(start[moving] - melting),
        near_conductivity=near_k,
        near_heat_capacity=near_c,
        far_conductivity=far_k,
        far_heat_capacity=far_c,
        latent_heat=latent[moving],
    )
    plain_flux[moving] = np.where(cold, front_flux, -front_flux)
    return plain_flux


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Contact:
    """The coefficient A of many scenarios as a function of contact temperature, tabulated once.

    Straight lines between values that lie close together near the freezing point, where A bends, and
    3 to 7 K apart far from it; exact for ground that does not freeze. Make it with :meth:`prepare`.
    """

    values: FloatArray
    """A [W s^0.5/m2]: table axis first, scenarios last."""
    slopes: FloatArray
    """dA/dT between them [W s^0.5/m2/K]."""
    column: NDArray[np.intp]
    """Number of each scenario."""

    @classmethod
    def prepare(cls, ground_temperature: FloatArray, properties: Mapping[str, FloatArray]) -> Contact:
        """Tabulate for `conduction_properties` and a ground temperature [K], all of shape (scenarios,)."""
        axis = _AXIS.reshape(-1, *[1] * ground_temperature.ndim)
        grid = np.broadcast_to(axis, (_AXIS.size, *ground_temperature.shape))
        full = [np.broadcast_to(value, grid.shape) for value in (ground_temperature, *properties.values())]
        values = contact_coefficient(grid, *full)
        column = np.arange(values[0].size).reshape(values.shape[1:])[()]
        return cls(values, np.diff(values, axis=0) / np.diff(axis, axis=0), column)

    def line(self, contact_temperature: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return A and its slope dA/dT at temperatures of shape (..., scenarios)."""
        # searched without the ends of the axis: what lies beyond takes the first or last cell
        cell = np.searchsorted(_INSIDE, contact_temperature, side="right")
        here = cell * self.column.size + self.column
        slope = self.slopes.take(here)
        return self.values.take(here) + slope * (contact_temperature - _AXIS.take(cell)), slope
