"""Temperature of a pool at the end of a time step, from the balance of heat and of vapor."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from lpgrelease.elementwise import every, larger, smaller, where
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = ["Film", "FilmBalance", "lowest_zeta", "solve_film"]

ITERATIONS: Final = 24
ENOUGH: Final = 1e-5
"""Relative imbalance of heat that ends the iteration."""
HIGHEST_ZETA: Final = 60.0
_TINY: Final = float(np.finfo(float).tiny)
_LARGEST_BLOWING: Final = 500.0


class FilmBalance(NamedTuple):
    """Heat of a step, linear in the temperature of the pool but for what the film of vapor bends.

    With d = T - T_0, x = ln(1 / (1 - p_s / p)) and F(phi) = phi / (exp(phi) - 1):
    B_0 - B_1 d + G F(beta x) (T_a - T) + W F(beta_w x) = (L_0 + L_1 d) C x.
    """

    reference: FloatArray
    """T_0 [K]."""
    heat: FloatArray
    """B_0 [J]."""
    heat_slope: FloatArray
    """B_1, positive [J/K]."""
    air: FloatArray
    """G: coefficient of convection times area and time [J/K]."""
    air_temperature: FloatArray
    frost: FloatArray
    """W: heat of moisture that freezes [J]."""
    carried: FloatArray
    """C: mass the film carries per x [kg]."""
    latent: FloatArray
    latent_slope: FloatArray
    blowing: FloatArray
    frost_blowing: FloatArray
    boiling_point: FloatArray
    clapeyron: FloatArray
    """Lambda of p_s = p exp(Lambda (1/T_b - 1/T)) [K]."""


class Film(NamedTuple):
    """The film of vapor over a pool at the end of a step."""

    zeta: FloatArray
    """Logarithm of x."""
    temperature: FloatArray
    convection: FloatArray
    """Share of the convection that reaches the liquid."""
    frost: FloatArray
    """Share of the moisture that does."""
    heat: FloatArray
    """All that the balance has on its left [J]."""
    carried: FloatArray
    """Mass that the film carries away [kg]."""
    latent: FloatArray


def lowest_zeta(boiling_point: FloatArray, clapeyron: FloatArray, lowest: float) -> FloatArray:
    """Zeta of the lowest temperature that the tables hold [K]."""
    return np.log(-np.log1p(-np.exp(clapeyron * (1.0 / boiling_point - 1.0 / lowest))))


def solve_film(b: FilmBalance, zeta: FloatArray, low: FloatArray, fixed: BoolArray) -> Film:
    """Solve the balance for zeta = ln x.

    Newton's method inside a bracket: on logarithms where the film governs (x may be anything near the boiling
    point), on the balance itself where the warmth of the liquid does. Each scenario stops by itself; those in
    `fixed` keep their `zeta`.
    """
    high: FloatArray | float = HIGHEST_ZETA
    zeta = smaller(larger(zeta, low), HIGHEST_ZETA)
    film, inside = _film(b, zeta)
    for _ in range(ITERATIONS):
        carried = larger(film.carried * film.latent, _TINY)
        fixed = fixed | (np.abs(film.heat - carried) <= ENOUGH * carried)
        if every(fixed):
            break
        new, low, high = _newton(zeta, low, high, film.heat, _slope(b, film, inside), carried)
        zeta = where(fixed, zeta, new)
        film, inside = _film(b, zeta)
    return film


class _Inside(NamedTuple):
    """What the film and its slope have in common."""

    x: FloatArray
    y: FloatArray
    """-p_s / p."""
    blowing: FloatArray
    frost_blowing: FloatArray
    through: FloatArray
    """Coefficient of what convection reaches the liquid, times area and time [J/K]."""
    air: FloatArray
    frost: FloatArray
    """Heats [J]."""


def _film(b: FilmBalance, zeta: FloatArray) -> tuple[Film, _Inside]:
    """Return the film at `zeta`."""
    x = np.exp(zeta)
    y = np.expm1(-x)
    T = 1.0 / (1.0 / b.boiling_point - np.log(-y) / b.clapeyron)
    phi = smaller(larger(b.blowing * x, 1e-9), _LARGEST_BLOWING)
    F = phi / np.expm1(phi)
    phi_w = smaller(larger(b.frost_blowing * x, 1e-9), _LARGEST_BLOWING)
    F_w = phi_w / np.expm1(phi_w)
    d, through = T - b.reference, b.air * F
    air, frost = through * (b.air_temperature - T), b.frost * F_w
    heat = b.heat - b.heat_slope * d + air + frost
    film = Film(zeta, T, F, F_w, heat, b.carried * x, b.latent + b.latent_slope * d)
    return film, _Inside(x, y, phi, phi_w, through, air, frost)


def _slope(b: FilmBalance, film: Film, inside: _Inside) -> FloatArray:
    """Rise of the film's heat by zeta [J]."""
    x, y, phi, phi_w, through, air, frost = inside
    T = film.temperature
    slope = T * T / b.clapeyron * (x * (1.0 + y) / -y)
    convection = air * (1.0 - film.convection - phi) + frost * (1.0 - film.frost - phi_w)
    total: FloatArray = convection - (b.heat_slope + through) * slope
    return total


def _newton(
    zeta: FloatArray,
    low: FloatArray,
    high: FloatArray | float,
    H: FloatArray,
    dH: FloatArray,
    carried: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray | float]:
    """One step towards H = `carried`, which rises as exp(zeta), inside a bracket that closes."""
    up = carried < H
    low, high = where(up, zeta, low), where(up, high, zeta)
    boiling = (H > 0.0) & (-dH < carried)
    straight = (H - carried) / smaller(dH - carried, -_TINY)
    H, carried = where(boiling, H, 1.0), where(boiling, carried, 1.0)
    curved = np.log(H / carried) / where(boiling, dH / H - 1.0, -1.0)
    new = zeta - where(boiling, curved, straight)
    inside = (new >= low) & (new <= high)
    return where(inside, new, 0.5 * (low + high)), low, high
