"""The ideal nozzle for the vapor of a blend, prepared once for every vapor that its liquid can give off.

Notes
-----
Along an isentrope dh = v dp, so that with L = ln(p0/p) and the volume v/v0 = exp(P(L)) the flux from rest is

    G = sqrt(p0/v0) Psi(L),   Psi = sqrt(2 I) exp(-P),   I = integral from 0 to L of exp(P(l) - l) dl

and the flow is choked where Psi is largest. P is a cubic through three exact states of the isentrope at
equilibrium (`flash_entropy`; vapor that condenses on its way is included). Its coefficients and the choking
point change little from one vapor to the next, so they are tabulated over reduced temperature T/T_k and T_k,
where T_k = sum of y_i T_ci (kay1936density), along the vapors that the liquid gives off from
its first to its last drop (constant relative volatilities). leung1986omega treats the same model in reduced
form.
"""

from __future__ import annotations

import dataclasses
from functools import lru_cache

import numpy as np

from lpgrelease.errors import ConvergenceError
from lpgrelease.fluids.equilibrium import bubble_point, dew_point, flash_entropy
from lpgrelease.fluids.mixture import Mixture, load_mixture
from lpgrelease.halving import halved_to_middle
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray
from lpgrelease.summing import add_along, add_powers, add_rows

__all__ = ["HIGHEST_REDUCED_TEMPERATURE", "LOWEST_REDUCED_TEMPERATURE", "BlendNozzle", "blend_nozzle"]

LOWEST_REDUCED_TEMPERATURE, HIGHEST_REDUCED_TEMPERATURE = 0.5, 0.93
"""Range of T/T_k of the table."""
DEGREE = 6
"""Of the polynomial in reduced temperature."""
VAPORS = 5
"""Vapors tabulated, from the lightest to the heaviest."""
LAST_LOG_RATIOS = np.array([-0.2, -0.4, -0.75])
"""ln(p/p0) of the exact states; every vapor served chokes before the last."""
GAUSS = 0.5 + 0.5 * np.polynomial.legendre.leggauss(4)[0], 0.5 * np.polynomial.legendre.leggauss(4)[1]
"""Places between 0 and 1, and their weights."""
CHOKE_STEPS = 30
LAST_SHARE = 1e-3
"""The last vapor comes from liquid with hardly more than this of anything but what boils last."""
PATH = np.concatenate([[-0.01, 0.0], np.geomspace(1e-3, 1.0, 60)])
"""Places on the way from the first vapor to the last, where the tabulated ones are looked for."""
LEAST_STEP = 2e-3
"""Vapors closer than this in T_k, over the largest, are one."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class BlendNozzle:
    """Flux numbers of a blend's vapors.

    Parameters
    ----------
    critical_temperature : ndarray, shape (nc, 1)
        T_ci [K].
    nodes : ndarray, shape (vapors,)
        T_k of the tabulated vapors [K], rising; a single one where all are alike.
    coefficients : ndarray, shape (DEGREE + 1, vapors, 4)
        By the powers of scaled reduced temperature and of (T_k - first)/last: of P's three coefficients, and
        of L where it chokes.
    """

    critical_temperature: FloatArray
    nodes: FloatArray
    coefficients: FloatArray

    def kay(self, y: FloatArray) -> FloatArray:
        """T_k [K] of vapors (nc, ...)."""
        shape = (-1,) + (1,) * (y.ndim - 1)
        return add_rows(self.critical_temperature.reshape(shape) * y)

    def expansion(self, temperature: FloatArray, kay: FloatArray) -> FloatArray:
        """P's three coefficients and the choking L of vapors at T and T_k, each (...); (4, ...)."""
        low, high = LOWEST_REDUCED_TEMPERATURE, HIGHEST_REDUCED_TEMPERATURE
        reduced = np.minimum(np.maximum(temperature / kay, low), high)
        u = (reduced - 0.5 * (low + high)) * (2.0 / (high - low))
        w = np.minimum(np.maximum(kay, self.nodes[0]), self.nodes[-1])
        w = (w - self.nodes[0]) / self.nodes[-1]
        by_kay = add_powers(self.coefficients.reshape(*self.coefficients.shape, *(1,) * u.ndim), u)
        value: FloatArray = by_kay[-1]
        for c in by_kay[-2::-1]:
            value = value * w + c
        return value

    def flux_number(
        self, temperature: FloatArray, y: FloatArray, log_ratio: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Psi = G/sqrt(p0 rho0) and d ln Psi/d ln p0 of vapors (nc, ...) at T, with ln(p0/p_amb), each (...).

        Both are zero without drive; the second is zero where the flow is choked.
        """
        *cubic, choke = self.expansion(temperature, self.kay(y))
        drive = np.maximum(log_ratio, 0.0)
        at = np.minimum(drive, choke)
        psi, slope = _flux_number(cubic, np.where(at > 0.0, at, 1.0))
        free = (drive > 0.0) & (drive < choke)
        return np.where(drive > 0.0, psi, 0.0), np.where(free, slope, 0.0)


def _flux_number(cubic: list[FloatArray], span: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Psi and d ln Psi/dL at L = `span`."""
    a, b, c = cubic
    places, weights = (each.reshape(-1, *(1,) * span.ndim) for each in GAUSS)
    at = places * span
    integral = add_along(weights * np.exp(at * (a - 1.0 + at * (b + at * c))), 0) * span
    log_volume = span * (a + span * (b + span * c))
    slope = 0.5 * np.exp(log_volume - span) / integral - (a + span * (2.0 * b + span * 3.0 * c))
    return np.sqrt(2.0 * integral) * np.exp(-log_volume), slope


@lru_cache(maxsize=64)
def blend_nozzle(components: tuple[str, ...], fractions: tuple[float, ...]) -> BlendNozzle:
    """Tabulate the vapors of a liquid of `components` with mole `fractions`.

    Raises
    ------
    ConvergenceError
        A state of an isentrope is not found.
    """
    mixture = load_mixture(components)
    y, kay = _vapors(mixture, np.array(fractions)[:, None])
    angle = np.cos(np.pi * np.arange(DEGREE + 1) / DEGREE)
    low, high = LOWEST_REDUCED_TEMPERATURE, HIGHEST_REDUCED_TEMPERATURE
    reduced = 0.5 * (low + high) + 0.5 * (high - low) * angle
    t = (reduced[:, None] * kay).reshape(-1)
    every = np.tile(y, DEGREE + 1)
    volume, exact = _isentropes(mixture, every, t)
    cubic = _cubic(np.log(exact / volume))
    choke = _choking(cubic)
    values = np.array([*cubic, choke]).reshape(4, DEGREE + 1, kay.size)
    by_angle = np.linalg.inv(np.vander(angle, increasing=True))
    by_kay = np.linalg.inv(np.vander((kay - kay[0]) / kay[-1], increasing=True))
    coefficients = np.einsum("pi,fik,qk->pqf", by_angle, values, by_kay)
    return BlendNozzle(mixture.cubic.critical_temperature, kay, coefficients)


def _vapors(mixture: Mixture, x: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Vapors (nc, VAPORS) that a liquid x (nc, 1) gives off from first to last drop, and their T_k."""
    t_c = mixture.cubic.critical_temperature
    first = bubble_point(mixture, x, temperature=0.7 * add_rows(t_c * x))
    _require(first.found)
    volatility = np.exp(first.log_ratio)
    excess = volatility - np.min(volatility)
    # ln(l_i/l_i0) = -K_i s; the longest s leaves hardly more than the least volatile component
    held = np.log(np.maximum(x, LAST_SHARE) / LAST_SHARE)
    longest = np.max(np.where(excess > 1e-3, held / np.maximum(excess, 1e-3), 0.0))
    amount = x * np.exp(-excess * longest * PATH)
    liquid = amount / add_rows(amount)
    found = bubble_point(mixture, liquid, temperature=0.7 * add_rows(t_c * liquid))
    _require(found.found)
    y, kay = found.incipient, add_rows(t_c * found.incipient)
    wanted = np.linspace(np.min(kay), np.max(kay), VAPORS)
    chosen = np.array(sorted({int(np.argmin(np.abs(kay - each))) for each in wanted}, key=kay.__getitem__))
    apart = np.diff(kay[chosen], prepend=-np.inf) > LEAST_STEP * np.max(kay)
    return y[:, chosen[apart]], kay[chosen[apart]]


def _isentropes(mixture: Mixture, y: FloatArray, temperature: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Volume of saturated vapors y (nc, n) at T (n,), and volumes on their isentropes (3, n)."""
    start = dew_point(mixture, y, temperature=temperature)
    _require(start.found)
    inlet = mixture.phase(temperature, start.pressure, y, 1)[1]
    p = np.exp(LAST_LOG_RATIOS)[:, None] * start.pressure
    size = LAST_LOG_RATIOS.size
    below = flash_entropy(mixture, np.tile(y, size), p.reshape(-1), np.tile(inlet.entropy, size))
    _require(below.found)
    return inlet.volume, below.volume.reshape(size, -1)


def _require(found: BoolArray) -> None:
    if not np.all(found):
        raise ConvergenceError("states of a blend's vapor on its way through a nozzle", float(np.sum(~found)))


def _cubic(log_volume: FloatArray) -> list[FloatArray]:
    """Coefficients of P through ln(v/v0) (3, n) at `LAST_LOG_RATIOS`."""
    spans = -LAST_LOG_RATIOS
    inverse = np.linalg.inv(np.array([spans, spans**2, spans**3]).T)
    return [sum(inverse[k, i] * log_volume[i] for i in range(3)) for k in range(3)]


def _choking(cubic: list[FloatArray]) -> FloatArray:
    """L where Psi is largest: d ln Psi/dL falls through zero."""
    low, high = np.full_like(cubic[0], 0.2), np.full_like(cubic[0], -LAST_LOG_RATIOS[-1])
    return halved_to_middle(lambda place: _flux_number(cubic, place)[1] > 0.0, low, high, CHOKE_STEPS)
