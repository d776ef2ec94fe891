"""Reference equations of state in Helmholtz energy, away from saturation.

The coefficients of the published equations are shipped as data; this module only evaluates them.
Temperatures [K], densities [kg/m3], mass-specific results in SI. Array-level, unchecked.

Notes
-----
With tau = T_r/T, delta = rho/rho_r and alpha = a/(R T) = alpha0 + alphar (span2000multiparameter)::

    p   = rho R T (1 + delta alphar_delta)
    h   = R T (1 + tau (alpha0_tau + alphar_tau) + delta alphar_delta)
    s   = R (tau (alpha0_tau + alphar_tau) - alpha0 - alphar)
    c_v = -R tau**2 (alpha0_tautau + alphar_tautau)
    c_p = c_v + R (1 + delta alphar_delta - delta tau alphar_deltatau)**2 / D
    w^2 = (c_p/c_v) R T D,   D = 1 + 2 delta alphar_delta + delta**2 alphar_deltadelta

Every residual term is n tau^t delta^d exp(-g delta^l - eta (delta - eps)^2 - beta (tau - gamma)^2), and the
form of gao2023ammonia replaces the last square by -1/(beta (tau - gamma)^2 + b). Carbon dioxide has the
further terms of `critical_terms`.
"""

from __future__ import annotations

import dataclasses
from typing import NamedTuple

import numpy as np

from lpgrelease.fluids.critical_terms import add_critical_terms
from lpgrelease.quantities import FloatArray

__all__ = [
    "Equation",
    "SinglePhase",
    "density_from_entropy",
    "density_from_pressure",
    "evaluate",
    "gas_from_enthalpy",
    "gas_from_entropy",
    "liquid_from_entropy",
]


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Equation:
    """Coefficients of one fluid's Helmholtz energy equation.

    Parameters
    ----------
    gas_constant : float
        Specific gas constant [J/kg/K].
    reducing_temperature, reducing_density : float
        [K], [kg/m3].
    lead : tuple of three floats
        Constant, factor of tau and factor of ln(tau) in the ideal part.
    planck_einstein : ndarray, shape (terms, 2)
        n, theta of each n ln(1 - exp(-theta tau)).
    residual : ndarray, shape (terms, 10)
        n, t, d, g, l, eta, eps, beta, gamma, b of each residual term; b = 0 marks the Gaussian form.
    ideal_powers : ndarray, shape (terms, 2)
        n, t of each n tau^t in the ideal part.
    critical : ndarray, shape (terms, 8)
        Terms for `add_critical_terms`.
    """

    gas_constant: float
    reducing_temperature: float
    reducing_density: float
    lead: tuple[float, float, float]
    planck_einstein: FloatArray
    residual: FloatArray
    ideal_powers: FloatArray = dataclasses.field(default_factory=lambda: np.zeros((0, 2)))
    critical: FloatArray = dataclasses.field(default_factory=lambda: np.zeros((0, 8)))


class SinglePhase(NamedTuple):
    """Properties at one temperature and density.

    `stiffness` is d ln p/d ln rho and `entropy_slope` -ds/d ln rho, both at constant temperature;
    `thermal_stiffness` is d ln p/d ln T at constant density.
    """

    pressure: FloatArray
    enthalpy: FloatArray
    entropy: FloatArray
    heat_capacity: FloatArray
    speed_of_sound: FloatArray
    stiffness: FloatArray
    entropy_slope: FloatArray
    thermal_stiffness: FloatArray
    isochoric_heat_capacity: FloatArray


CALORIC_STEPS = 8
"""Newton steps from a start near saturation to a state off it: quadratic, round-off after 5 or 6."""
BLOCK = 512
"""Points evaluated at once, so that the terms of all fit the processor's cache."""


def _ideal(eos: Equation, tau: FloatArray, delta: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    constant, linear, logarithmic = eos.lead
    log_tau = np.log(tau)
    value = np.log(delta) + constant + linear * tau + logarithmic * log_tau
    first = linear * tau + logarithmic
    second = np.full_like(tau, -logarithmic)
    for n, theta in eos.planck_einstein.tolist():
        x = theta * tau
        decay = np.exp(-x)
        rest = 1.0 - decay
        value = value + n * np.log(rest)
        first = first + n * x * decay / rest
        second = second - n * x * x * decay / (rest * rest)
    for n, t in eos.ideal_powers.tolist():
        term = n * np.power(tau, t)
        value = value + term
        first = first + t * term
        second = second + t * (t - 1.0) * term
    return value, first, second


def _residual(eos: Equation, tau: FloatArray, delta: FloatArray) -> list[FloatArray]:
    """Sum of the residual terms; by delta, tau, delta delta, delta tau, tau tau (times delta, tau)."""
    n, t, d, g, l, eta, eps, beta, gamma, b = eos.residual.T[:, :, None]  # noqa: E741 the paper's symbol
    log_tau, log_delta = np.log(tau), np.log(delta)
    power = g * np.exp(l * log_delta)
    gap = delta - eps
    width = tau - gamma
    bell = beta * width * width
    inverse = np.where(b > 0.0, 1.0 / np.where(b > 0.0, bell + b, 1.0), 0.0)
    pull = np.where(b > 0.0, inverse * inverse, 1.0)
    shape = np.where(b > 0.0, inverse, -bell)
    term = n * np.exp(t * log_tau + d * log_delta - power - eta * gap * gap + shape)
    by_delta = d - l * power - 2.0 * eta * delta * gap
    by_delta2 = by_delta * (by_delta - 1.0) - l * l * power - 2.0 * eta * delta * (delta + gap)
    slope = -2.0 * beta * tau * width * pull
    by_tau = t + slope
    curve = tau * tau * pull * np.where(b > 0.0, 8.0 * beta * bell * inverse - 2.0 * beta, -2.0 * beta)
    by_tau2 = by_tau * (by_tau - 1.0) + slope + curve
    parts = (term, term * by_delta, term * by_tau, term * by_delta2, term * by_delta * by_tau, term * by_tau2)
    # a running sum keeps one order of addition whatever the number of points
    sums = [np.add.accumulate(part, axis=0)[-1] for part in parts]
    return add_critical_terms(eos.critical, tau, delta, sums) if eos.critical.size else sums


def evaluate(eos: Equation, temperature: FloatArray, density: FloatArray) -> SinglePhase:
    """Properties of the single phase at `temperature` and `density` (arrays of one shape, 1-d)."""
    if temperature.size <= BLOCK:
        return _evaluate(eos, temperature, density)
    blocks = [slice(start, start + BLOCK) for start in range(0, temperature.size, BLOCK)]
    parts = [_evaluate(eos, temperature[block], density[block]) for block in blocks]
    return SinglePhase(*(np.concatenate(fields) for fields in zip(*parts, strict=True)))


def _evaluate(eos: Equation, temperature: FloatArray, density: FloatArray) -> SinglePhase:
    tau, delta = eos.reducing_temperature / temperature, density / eos.reducing_density
    ideal, ideal_t, ideal_tt = _ideal(eos, tau, delta)
    r, r_d, r_t, r_dd, r_dt, r_tt = _residual(eos, tau, delta)
    gas = eos.gas_constant
    rt = gas * temperature
    compress = 1.0 + r_d
    stiff = 1.0 + 2.0 * r_d + r_dd
    mixed = compress - r_dt
    isochoric = -(ideal_tt + r_tt)
    isobaric = isochoric + mixed * mixed / stiff
    return SinglePhase(
        pressure=density * rt * compress,
        enthalpy=rt * (compress + ideal_t + r_t),
        entropy=gas * (ideal_t + r_t - ideal - r),
        heat_capacity=gas * isobaric,
        speed_of_sound=np.sqrt(np.maximum(isobaric / isochoric * rt * stiff, 0.0)),
        stiffness=stiff / compress,
        entropy_slope=gas * mixed,
        thermal_stiffness=mixed / compress,
        isochoric_heat_capacity=gas * isochoric,
    )


def density_from_pressure(
    eos: Equation, temperature: FloatArray, pressure: FloatArray, start: FloatArray, *, iterations: int = 12
) -> FloatArray:
    """Density at (T, p) by Newton steps in ln(rho) from `start`, a fixed number of them."""
    density = start
    for _ in range(iterations):
        state = evaluate(eos, temperature, density)
        step = (pressure / state.pressure - 1.0) / state.stiffness
        density = density * np.exp(np.clip(step, -0.5, 0.5))
    return density


def density_from_entropy(
    eos: Equation, temperature: FloatArray, entropy: FloatArray, start: FloatArray, *, iterations: int = 8
) -> FloatArray:
    """Density at (T, s) by Newton steps in ln(rho) from `start`, a fixed number of them."""
    density = start
    for _ in range(iterations):
        state = evaluate(eos, temperature, density)
        step = (state.entropy - entropy) / state.entropy_slope
        density = density * np.exp(np.clip(step, -1.0, 1.0))
    return density


def gas_from_entropy(
    eos: Equation, pressure: FloatArray, entropy: FloatArray, temperature: FloatArray, density: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Temperature and density of a gas at (p, s) by Newton steps from a start, a fixed number of them."""
    for _ in range(CALORIC_STEPS):
        state = evaluate(eos, temperature, density)
        log_p = np.log(pressure / state.pressure)
        gap = entropy - state.entropy
        temperature, density = _caloric_step(state, log_p, gap, temperature, density)
    return temperature, density


def liquid_from_entropy(
    eos: Equation, pressure: FloatArray, entropy: FloatArray, temperature: FloatArray, density: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Temperature and density of a compressed liquid at (p, s), as `gas_from_entropy`.

    In the pressure itself, which is all but linear in the density of a liquid; in its logarithm a cold one,
    that boils at a pascal and stands under a million, would take a hundred steps.
    """
    for _ in range(CALORIC_STEPS):
        state = evaluate(eos, temperature, density)
        ratio, gap = pressure / state.pressure - 1.0, entropy - state.entropy
        temperature, density = _caloric_step(state, ratio, gap, temperature, density)
    return temperature, density


def gas_from_enthalpy(
    eos: Equation, pressure: FloatArray, enthalpy: FloatArray, temperature: FloatArray, density: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Temperature and density of a gas at (p, h) by Newton steps from a start, a fixed number of them."""
    for _ in range(CALORIC_STEPS):
        state = evaluate(eos, temperature, density)
        missing = (
            enthalpy - state.enthalpy - (pressure - state.pressure) / density
        ) / temperature  # dh = T ds + v dp
        log_p = np.log(pressure / state.pressure)
        temperature, density = _caloric_step(state, log_p, missing, temperature, density)
    return temperature, density


def _caloric_step(
    state: SinglePhase,
    log_p: FloatArray,
    entropy_gap: FloatArray,
    temperature: FloatArray,
    density: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """One Newton step in (ln T, ln rho), `log_p` the missing part of ln(p).

    d ln p = stiffness d ln rho + thermal_stiffness d ln T;  ds = c_v d ln T - entropy_slope d ln rho.
    """
    ratio = state.entropy_slope / state.stiffness
    step_t = (entropy_gap + ratio * log_p) / (state.isochoric_heat_capacity + ratio * state.thermal_stiffness)
    step_t = np.clip(step_t, -0.3, 0.3)
    step_rho = np.clip((log_p - state.thermal_stiffness * step_t) / state.stiffness, -1.0, 1.0)
    return temperature * np.exp(step_t), density * np.exp(step_rho)
