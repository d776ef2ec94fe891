"""Bubble and dew points of mixtures.

Per mole in SI; components on the first axis, states on the last. Array-level; points without a solution are
marked, never guessed.

Notes
-----
Newton's method in ln K and ln p or ln T on equal fugacities of every component (michelsen2007thermodynamic,
chapter 12).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lpgrelease.fluids.cubic import R, isothermal, phase, root, volume
from lpgrelease.fluids.mixture import Mixture
from lpgrelease.fluids.newton import quietly, solve, solve_linear
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray
from lpgrelease.summing import add_rows

__all__ = ["LIQUID", "VAPOR", "Point", "bubble_point", "dew_point"]

LIQUID, VAPOR = 0, 1
LEAST_VOLUME_RATIO = 1.2
"""Phases whose volumes are closer than this are taken to be one phase, found twice."""
APPROACHES = 12
SMALL = 1e-3
"""Steps towards a point at a pressure that Newton's method missed, and the part of T for its slopes."""


class Point(NamedTuple):
    """Bubble or dew points: T, p, ln K, mole fractions of the phase that appears, whether it was found.

    `volumes` (2, n) are the molar ones of liquid and vapor as the cubic has them.
    """

    temperature: FloatArray
    pressure: FloatArray
    log_ratio: FloatArray
    incipient: FloatArray
    found: BoolArray
    volumes: FloatArray

    @property
    def volume_ratio(self) -> FloatArray:
        """Molar volume of the vapor over that of the liquid."""
        return np.asarray(self.volumes[VAPOR] / self.volumes[LIQUID])

    def replaced(self, where: NDArray[np.intp], others: Point) -> Point:
        """Replace the points at `where` by `others`."""
        fields = {name: np.array(values) for name, values in self._asdict().items()}
        for name, values in others._asdict().items():
            fields[name][..., where] = values
        return Point(**fields)


def bubble_point(
    mixture: Mixture,
    x: FloatArray,
    *,
    temperature: FloatArray | None = None,
    pressure: FloatArray | None = None,
) -> Point:
    """Point where liquid of mole fractions x (nc, n) begins to boil, at T or at p (n,)."""
    return _point(mixture, x, 1.0, temperature, pressure)


def dew_point(
    mixture: Mixture,
    y: FloatArray,
    *,
    temperature: FloatArray | None = None,
    pressure: FloatArray | None = None,
) -> Point:
    """Point where vapor of mole fractions y (nc, n) begins to condense, at T or at p (n,)."""
    return _point(mixture, y, -1.0, temperature, pressure)


@quietly
def _point(
    mixture: Mixture, z: FloatArray, sense: float, temperature: FloatArray | None, pressure: FloatArray | None
) -> Point:
    log_t, log_p, log_k = _wilson_point(mixture, z, sense, temperature, pressure)
    start = np.concatenate([log_k, log_t[None], log_p[None]])
    point = _point_from(mixture, z, sense, temperature, pressure, start)
    if pressure is None or point.found.all():
        return point
    missed = np.flatnonzero(~point.found)
    start = _approach(mixture, z[:, missed], sense, pressure[missed], np.exp(log_t[missed]))
    again = _point_from(mixture, z[:, missed], sense, None, pressure[missed], start)
    return point.replaced(missed, again)


def _approach(
    mixture: Mixture, z: FloatArray, sense: float, pressure: FloatArray, temperature: FloatArray
) -> FloatArray:
    """Start near the point at `pressure`, by points at temperatures: they are found closer to critical.

    Newton's method on ln p(T); a temperature without a point is too high and is lowered.
    """
    t = 0.97 * temperature
    start = np.full((z.shape[0] + 2, t.size), np.nan)
    for _ in range(APPROACHES):
        here, aside = (_point(mixture, z, sense, each, None) for each in (t, t * (1.0 - SMALL)))
        found = here.found & aside.found
        rise = np.where(found, np.log(here.pressure / aside.pressure), 1.0)
        reached = np.concatenate([here.log_ratio, np.log(t)[None], np.log(pressure)[None]])
        start = np.where(found, reached, start)
        change = SMALL * np.log(pressure / here.pressure) / np.where(rise > 0.0, rise, 1.0)
        t = t * np.where(found, 1.0 + np.clip(np.where(found, change, 0.0), -0.1, 0.02), 0.99)
    return start


def _point_from(
    mixture: Mixture,
    z: FloatArray,
    sense: float,
    temperature: FloatArray | None,
    pressure: FloatArray | None,
    start: FloatArray,
) -> Point:
    fixed_t = temperature is not None

    def step(unknown: FloatArray, z: FloatArray) -> tuple[FloatArray, FloatArray]:
        return _point_step(mixture, unknown, z, sense, fixed_t)

    unknown, found = solve(step, start, (z,))
    log_k = unknown[:-2]
    incipient = z * np.exp(sense * log_k)
    incipient = incipient / add_rows(incipient)
    t = temperature if temperature is not None else np.exp(unknown[-2])
    p = pressure if pressure is not None else np.exp(unknown[-1])
    x, y = (z, incipient) if sense > 0.0 else (incipient, z)
    volumes = np.array([volume(mixture.cubic, t, p, w, side) for w, side in ((x, LIQUID), (y, VAPOR))])
    point = Point(t, p, log_k, incipient, found, volumes)
    return point._replace(found=found & (point.volume_ratio > LEAST_VOLUME_RATIO))


def _point_step(
    mixture: Mixture, unknown: FloatArray, z: FloatArray, sense: float, fixed_t: bool
) -> tuple[FloatArray, FloatArray]:
    log_k, t, p = unknown[:-2], np.exp(unknown[-2]), np.exp(unknown[-1])
    count = log_k.shape[0]
    amount = z * np.exp(sense * log_k)
    total = add_rows(amount)
    w = amount / total
    x, y = (z, w) if sense > 0.0 else (w, z)
    matrix = np.empty((count + 1, count + 1, t.size))
    residual = np.empty((count + 1, t.size))
    slopes = _at_temperature if fixed_t else _at_pressure
    residual[:count], matrix[:count, :count], matrix[:count, count] = slopes(mixture, t, p, x, y, sense)
    residual[:count] += log_k
    matrix[:count, :count] *= w
    for i in range(count):
        matrix[i, i] += 1.0
    matrix[count, :count] = sense * w
    matrix[count, count] = 0.0
    residual[count] = np.log(total)
    solved = solve_linear(matrix, -residual)
    change = np.zeros_like(unknown)
    limit = 0.5 if fixed_t else 0.08
    # one factor shortens the whole step, so that its direction stays
    factor = np.minimum(1.0, limit / np.maximum(np.abs(solved[count]), 1e-300))
    factor = np.minimum(factor, 2.0 / np.maximum(np.max(np.abs(solved[:count]), axis=0), 1e-300))
    change[:count] = solved[:count] * factor
    change[-1 if fixed_t else -2] = solved[count] * factor
    return np.max(np.abs(residual), axis=0), change


def _at_temperature(
    mixture: Mixture, t: FloatArray, p: FloatArray, x: FloatArray, y: FloatArray, sense: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """ln(phi_v/phi_l), its slopes by the moles of the phase that appears, and by ln p."""
    given, appears = ((x, LIQUID), (y, VAPOR)) if sense > 0.0 else ((y, VAPOR), (x, LIQUID))
    old = root(mixture.cubic, t, p, *given)
    new, by_mole = isothermal(mixture.cubic, t, p, *appears)
    by_p = sense * p / (R * t) * (new.volume_by_mole - old.volume_by_mole)
    return sense * (new.log_fugacity - old.log_fugacity), by_mole, by_p


def _at_pressure(
    mixture: Mixture, t: FloatArray, p: FloatArray, x: FloatArray, y: FloatArray, sense: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the same with the slope by ln T."""
    liquid, vapor = phase(mixture.cubic, t, p, x, LIQUID), phase(mixture.cubic, t, p, y, VAPOR)
    by_mole = (vapor if sense > 0.0 else liquid).log_fugacity_by_mole
    by_t = t * (vapor.log_fugacity_by_temperature - liquid.log_fugacity_by_temperature)
    return vapor.log_fugacity - liquid.log_fugacity, by_mole, by_t


def _wilson_point(
    mixture: Mixture, z: FloatArray, sense: float, temperature: FloatArray | None, pressure: FloatArray | None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Start: ideal solution of components whose vapor pressure follows from T_c, p_c and omega."""
    t_c, p_c, w = mixture.cubic.critical_temperature, mixture.critical_pressure, mixture.acentric_factor

    def log_saturation(log_t: FloatArray) -> FloatArray:
        return np.log(p_c) + 5.373 * (1.0 + w) * (1.0 - t_c / np.exp(log_t))

    def log_pressure(log_t: FloatArray) -> FloatArray:
        return sense * np.log(add_rows(z * np.exp(sense * log_saturation(log_t))))

    if temperature is not None:
        log_t = np.log(temperature)
        log_p = log_pressure(log_t)
    else:
        log_p = np.log(pressure)  # type: ignore[arg-type]
        log_t = np.log(add_rows(z * t_c) * 0.7)
        for _ in range(12):
            value = log_pressure(log_t)
            slope = (log_pressure(log_t + 1e-6) - value) / 1e-6
            log_t = log_t + np.clip((log_p - value) / slope, -0.2, 0.2)
    return log_t, log_p, log_saturation(log_t) - log_p
