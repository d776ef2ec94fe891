"""Temperature of a pool at the end of a time step, from the balance of heat and of vapor."""

from __future__ import annotations

import dataclasses
from typing import Final

import numpy as np

from lpgrelease.conduction import Contact
from lpgrelease.fluids import Fluid
from lpgrelease.pool.evaporate import PoolSurface, blowing_factor_ackermann
from lpgrelease.quantities import FloatArray

__all__ = ["Film", "PoolProblem", "PoolState", "PoolStep", "solve_film"]

ITERATIONS: Final = 6
_TINY: Final = float(np.finfo(float).tiny)


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class PoolProblem:
    """What a march needs; every array has shape (scenarios,)."""

    fluid: Fluid
    surface: PoolSurface
    contact: Contact
    boiling_point: FloatArray
    pressure: FloatArray
    landing_temperature: FloatArray
    initial_mass: FloatArray
    feed_rate: FloatArray
    """Liquid that reaches the ground [kg/s]."""
    feed_end: FloatArray
    site_area: FloatArray
    site_depth: FloatArray
    minimum_depth: FloatArray


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class PoolState:
    """Pools at a node."""

    mass: FloatArray
    area: FloatArray
    temperature: FloatArray
    film: FloatArray
    """Logarithm of z = ln(1 / (1 - p_s / p)), where the last step ended."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class PoolStep:
    """One step's fixed quantities."""

    length: FloatArray
    fed: FloatArray
    history: FloatArray
    """Heat the ground gives in this step for all that went before [J]."""
    kernel: FloatArray
    """Heat per unit rise of area times A within this step [s^0.5]."""
    contact: FloatArray
    """Coefficient A of the ground at the temperature at the start [W s^0.5/m2]."""
    feed_enthalpy: FloatArray


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Film:
    """The film of vapor over a pool at the end of a step."""

    temperature: FloatArray
    zeta: FloatArray
    convection: FloatArray
    """Coefficient of convection, blowing included [W/m2/K]."""
    flux: FloatArray
    """Vapor that diffuses away [kg/m2/s]."""


def solve_film(
    p: PoolProblem,
    state: PoolState,
    step: PoolStep,
    area: FloatArray,
    mean_area: FloatArray,
    T_ref: FloatArray,
    zeta: FloatArray,
    start_enthalpy: FloatArray,
) -> Film:
    """Temperature at which the film carries away the vapor that the heat makes.

    Solved for zeta = ln z, z = ln(1 / (1 - y)), y = p_s / p: H(T) = C L z, with the heat H of the step and
    C = k rho S dt. Newton's method kept inside a bracket: on logarithms where the film governs (z may be
    anything near the boiling point), on the balance itself where the warmth of the liquid does.
    """
    names = ("pressure", "liquid_enthalpy", "latent_heat", "liquid_heat_capacity", "vapor_heat_capacity")
    pressure, h_ref, latent, c, c_vapor = p.fluid.saturated(T_ref, *names)
    Ta, Tb, lam = p.surface.air_temperature, p.boiling_point, _clapeyron(p, T_ref, pressure)
    coefficients = p.surface.coefficients(mean_area)
    surface, warmth = mean_area * step.length, (state.mass + step.fed) * c
    fixed = step.history - step.kernel * (state.area * step.contact) + surface * p.surface.absorbed_sun
    fixed = fixed + state.mass * (start_enthalpy - h_ref) + step.fed * (step.feed_enthalpy - h_ref)
    lowest = np.full_like(Tb, p.fluid.lowest_temperature)
    low = np.log(-np.log1p(-np.exp(lam * (1.0 / Tb - 1.0 / lowest))))
    high = np.full_like(low, 60.0)
    zeta = np.clip(zeta, low, high)
    for _ in range(ITERATIONS):
        T, slope = _temperature(zeta, Tb, lam)
        k_rho, h = p.surface.transfer(coefficients, T)
        z = np.exp(zeta)
        phi = k_rho * z * c_vapor / h
        F = blowing_factor_ackermann(phi)
        longwave, longwave_slope = p.surface.radiation(T)
        A, A_slope = p.contact.line(T)
        ground = fixed + step.kernel * (area * A) - warmth * (T - T_ref)
        H = ground + surface * (h * F * (Ta - T) + longwave)
        dH = (step.kernel * (area * A_slope) - warmth + surface * (longwave_slope - h * F)) * slope
        dH = dH + surface * h * (Ta - T) * F * (1.0 - F - phi)
        L = latent + (c_vapor - c) * (T - T_ref)
        zeta, low, high = _newton(zeta, low, high, H, dH, np.maximum(k_rho * surface * L * z, _TINY))
    T, _ = _temperature(zeta, Tb, lam)
    k_rho, h = p.surface.transfer(coefficients, T)
    flux = k_rho * np.exp(zeta)
    return Film(T, zeta, h * blowing_factor_ackermann(flux * c_vapor / h), flux)


def _newton(
    zeta: FloatArray, low: FloatArray, high: FloatArray, H: FloatArray, dH: FloatArray, carried: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """One step towards H = `carried`, which rises as exp(zeta), inside a bracket that closes."""
    up = carried < H
    low, high = np.where(up, zeta, low), np.where(up, high, zeta)
    boiling = (H > 0.0) & (-dH < carried)
    straight = (H - carried) / np.minimum(dH - carried, -_TINY)
    H, carried = np.where(boiling, H, 1.0), np.where(boiling, carried, 1.0)
    new = zeta - np.where(boiling, np.log(H / carried) / np.where(boiling, dH / H - 1.0, -1.0), straight)
    inside = (new >= low) & (new <= high)
    return np.where(inside, new, 0.5 * (low + high)), low, high


def _temperature(zeta: FloatArray, Tb: FloatArray, lam: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Temperature at which p_s / p = 1 - exp(-z), and its slope by zeta [K]."""
    z = np.exp(zeta)
    y = -np.expm1(-z)
    T = 1.0 / (1.0 / Tb - np.log(y) / lam)
    return T, T * T / lam * (z * np.exp(-z) / y)


def _clapeyron(p: PoolProblem, T: FloatArray, pressure: FloatArray) -> FloatArray:
    """Lambda of p_s = p exp(Lambda (1/T_b - 1/T)), exact at T_b and at T [K]."""
    Tb = p.boiling_point
    far = Tb - T > 0.1
    (at_boiling,) = p.fluid.saturated(Tb, "clapeyron")
    gap = np.where(far, 1.0 / np.where(far, T, 1.0) - 1.0 / Tb, 1.0)
    return np.where(far, np.log(p.pressure / pressure) / gap, Tb * at_boiling / p.pressure)
