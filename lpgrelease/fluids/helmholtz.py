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
form of gao2023ammonia replaces the last square by -1/(beta (tau - gamma)^2 + b).
"""

from __future__ import annotations

import dataclasses
from typing import NamedTuple

import numpy as np

from lpgrelease.quantities import FloatArray

__all__ = [
    "Equation",
    "SinglePhase",
    "density_from_entropy",
    "density_from_pressure",
    "evaluate",
    "gas_from_enthalpy",
    "gas_from_entropy",
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
    """

    gas_constant: float
    reducing_temperature: float
    reducing_density: float
    lead: tuple[float, float, float]
    planck_einstein: FloatArray
    residual: FloatArray


class SinglePhase(NamedTuple):
    """Properties at one T and rho; the last two are d ln p/d ln rho and -ds/d ln rho at constant T."""

    pressure: FloatArray
    enthalpy: FloatArray
    entropy: FloatArray
    heat_capacity: FloatArray
    speed_of_sound: FloatArray
    stiffness: FloatArray
    entropy_slope: FloatArray


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
    return value, first, second


def _residual(eos: Equation, tau: FloatArray, delta: FloatArray) -> list[FloatArray]:
    log_tau, log_delta = np.log(tau), np.log(delta)
    total: list[FloatArray] = [np.zeros_like(tau) for _ in range(6)]
    for n, t, d, g, l, eta, eps, beta, gamma, b in eos.residual.tolist():  # noqa: E741 the paper's symbol
        exponent = t * log_tau + d * log_delta
        by_delta, by_delta2 = d, 0.0
        by_tau, by_tau2 = t, 0.0
        if g:
            power = np.exp(l * log_delta)
            exponent = exponent - power
            by_delta, by_delta2 = by_delta - l * power, by_delta2 - l * l * power
        if eta:
            gap = delta - eps
            exponent = exponent - eta * gap * gap
            by_delta = by_delta - 2.0 * eta * delta * gap
            by_delta2 = by_delta2 - 2.0 * eta * delta * (2.0 * delta - eps)
        if beta and not b:
            gap = tau - gamma
            exponent = exponent - beta * gap * gap
            by_tau = by_tau - 2.0 * beta * tau * gap
            by_tau2 = by_tau2 - 2.0 * beta * tau * (2.0 * tau - gamma)
        if b:
            gap = tau - gamma
            width = beta * gap * gap + b
            slope = -2.0 * beta * gap / (width * width)
            curve = (8.0 * beta * beta * gap * gap / width - 2.0 * beta) / (width * width)
            exponent = exponent + 1.0 / width
            by_tau = by_tau + tau * slope
            by_tau2 = by_tau2 + tau * slope + tau * tau * curve
        term = n * np.exp(exponent)
        total[0] += term
        total[1] += term * by_delta
        total[2] += term * by_tau
        total[3] += term * (by_delta * by_delta + by_delta2 - by_delta)
        total[4] += term * by_delta * by_tau
        total[5] += term * (by_tau * by_tau + by_tau2 - by_tau)
    return total


def evaluate(eos: Equation, temperature: FloatArray, density: FloatArray) -> SinglePhase:
    """Properties of the single phase at `temperature` and `density` (arrays of one shape, at least 1-d)."""
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
    """Temperature and density of a gas at (p, s) from a start: fixed number of steps along the isobar."""
    for _ in range(10):
        density = density_from_pressure(eos, temperature, pressure, density, iterations=2)
        state = evaluate(eos, temperature, density)
        step = np.clip((entropy - state.entropy) / state.heat_capacity, -0.2, 0.2)  # ds = c_p dT/T
        temperature, density = temperature * np.exp(step), density * np.exp(-step)
    return temperature, density_from_pressure(eos, temperature, pressure, density, iterations=3)


def gas_from_enthalpy(
    eos: Equation, pressure: FloatArray, enthalpy: FloatArray, temperature: FloatArray, density: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Temperature and density of a gas at (p, h) from a start: fixed number of steps along the isobar."""
    for _ in range(10):
        density = density_from_pressure(eos, temperature, pressure, density, iterations=2)
        state = evaluate(eos, temperature, density)
        step = np.clip(
            (enthalpy - state.enthalpy) / state.heat_capacity / temperature, -0.2, 0.2
        )  # dh = c_p dT
        temperature, density = temperature * (1.0 + step), density / (1.0 + step)
    return temperature, density_from_pressure(eos, temperature, pressure, density, iterations=3)
