"""Liquid and vapor of a blend in a closed volume: equilibrium residuals, energy, and all their derivatives.

Per tank, SI, unchecked, elementwise over states (the last axis). The unknowns are

    w = (l_1 .. l_c, v_1 .. v_c, T, V_l/V)

moles of every component in liquid and vapor, one temperature, and the share of the volume that is liquid: the
volume closes by itself, and no cubic equation has to be solved. Derivatives are by ln l, ln v, ln T and
V_l/V.

Notes
-----
The Peng-Robinson equation as in `lpgrelease.fluids.cubic`, with the volumes and calorics of
`lpgrelease.fluids.mixture`: W = V + sum m_i c_i(T) is the equation's own volume of a phase of moles m_i. With
F = A_res/(RT) (michelsen2007thermodynamic, chapter 3), in each phase

    ln f_i = ln(m_i R T/W) + F_i,    p = N R T/(W - B) - D/((W + d1 B)(W + d2 B))
    U = sum m_i (h_i0 - R T) + R f (T D_T - D) + p T sum m_i c_i'

Phases are on the second axis: arrays of components are (nc, 2, n).
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from lpgrelease.fluids.cubic import D1, D2, R
from lpgrelease.fluids.mixture import HEAT_CAPACITY_SCALE, REFERENCE_TEMPERATURE, Mixture
from lpgrelease.quantities import FloatArray
from lpgrelease.summing import add_products, add_rows

__all__ = ["Standing", "standing"]


class Standing(NamedTuple):
    """What stands in tanks of unknowns w (2 nc + 2, n).

    Parameters
    ----------
    pressure : ndarray, shape (n,)
        Of the vapor [Pa].
    volume, enthalpy : ndarray, shape (2, n)
        Of liquid and vapor [m3], [J].
    rows : ndarray, shape (2 nc + 2, n)
        Logarithm of the moles of each component; energy over R; differences of ln f_i and of pressure over
        the vapor's (vapor less liquid), which are zero at equilibrium.
    matrix : ndarray, shape (2 nc + 2, 2 nc + 2, n)
        Derivatives of the rows by the unknowns.
    log_pressure_slope : ndarray, shape (2 nc + 2, n)
    enthalpy_slope : ndarray, shape (2, 2 nc + 2, n)
    """

    pressure: FloatArray
    volume: FloatArray
    enthalpy: FloatArray
    rows: FloatArray
    matrix: FloatArray
    log_pressure_slope: FloatArray
    enthalpy_slope: FloatArray


@lru_cache(maxsize=64)
def _ideal_terms(mixture: Mixture) -> tuple[FloatArray, FloatArray]:
    """Coefficients (powers, 2 nc, 1) of h/T and of c_p by powers of T/300 K, and h's constant (nc, 1)."""
    c = mixture.heat_capacity
    over = c / np.arange(1.0, len(c) + 1.0)[:, None, None]
    u = REFERENCE_TEMPERATURE / HEAT_CAPACITY_SCALE
    start = np.zeros_like(c[0])
    for term in over[::-1]:
        start = start * u + term
    return np.concatenate([over, c], axis=1), start * REFERENCE_TEMPERATURE


def _ideal(mixture: Mixture, temperature: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Enthalpy and heat capacity of each component as an ideal gas, (nc, n)."""
    terms, start = _ideal_terms(mixture)
    u = temperature / HEAT_CAPACITY_SCALE
    value = terms[-1] * np.ones_like(u)
    for term in terms[-2::-1]:
        value = value * u + term
    count = start.shape[0]
    return value[:count] * temperature - start, value[count:]


class _Fixed(NamedTuple):
    """What temperature alone decides, (nc, 1, n): roots of a_i, their slope, translations, ideal gas."""

    root: FloatArray
    slope: FloatArray
    c: FloatArray
    c_t: FloatArray
    c_tt: FloatArray
    energy: FloatArray
    heat: FloatArray


def _fixed(mixture: Mixture, t: FloatArray) -> _Fixed:
    eos = mixture.cubic
    whole = np.sqrt(eos.attraction)
    reduced = np.sqrt(t / eos.critical_temperature)
    root = whole * (1.0 + eos.slope * (1.0 - reduced))
    slope = whole * eos.slope * reduced * (-0.5 / t)
    h_0, c_p = _ideal(mixture, t)
    rows = (root, slope, *mixture.shift(t), h_0 - R * t, c_p - R)
    return _Fixed(*(row[:, None] for row in rows))


class _Equation(NamedTuple):
    """Both phases: p, ln f_i (less what is common to both) and U, with slopes.

    `_m` by the moles of a component, `_t` by temperature, `_v` by the phase's volume.
    """

    p: FloatArray
    p_m: FloatArray
    p_t: FloatArray
    p_v: FloatArray
    log_f: FloatArray
    log_f_m: FloatArray
    log_f_t: FloatArray
    log_f_v: FloatArray
    energy: FloatArray
    energy_m: FloatArray
    energy_t: FloatArray
    energy_v: FloatArray


def _equation(mixture: Mixture, t: FloatArray, m: FloatArray, space: FloatArray) -> _Equation:
    """Evaluate phases of moles m (nc, 2, n) in `space` (2, n); `log_f` lacks ln m_i, `log_f_m` its 1/m_i."""
    eos = mixture.cubic
    mixed = eos.one_minus_k[..., None]
    of_t = _fixed(mixture, t)
    b_i, c_i, rt, per_t = eos.covolume[:, None], of_t.c, R * t, 1.0 / t
    n, b = add_rows(m), add_rows(b_i * m)
    shift, shift_t, shift_tt = add_rows(c_i * m), add_rows(of_t.c_t * m), add_rows(of_t.c_tt * m)
    pull, pull_t = add_products(mixed, of_t.root * m), add_products(mixed, of_t.slope * m)
    d_i, d_it = 2.0 * of_t.root * pull, 2.0 * (of_t.slope * pull + of_t.root * pull_t)
    d, d_t = 0.5 * add_rows(d_i * m), 0.5 * add_rows(d_it * m)
    # a root of a_i is linear in sqrt(T): its second derivative is -1/(2T) times the first
    d_tt = 2.0 * add_rows(m * of_t.slope * pull_t) - 0.5 * d_t * per_t
    w = space + shift
    free = 1.0 / (w - b)
    f, f_w, f_b, f_bw, f_bb, inverse = _attraction(w, b)
    p = n * rt * free - d * inverse
    p_w = (d * inverse) * (2.0 * (w + b)) * inverse - n * rt * free * free
    log_f = (n * free - d * per_t * f_b) * b_i - f * per_t * d_i - np.log(w - b)
    log_f_w = -free - (n * free * free + d * per_t * f_bw) * b_i - f_w * per_t * d_i
    log_f_t = ((f * per_t) * d_i - f * d_it - (f_b * (d_t - d * per_t)) * b_i) * per_t
    cross = ((-f_b * per_t) * b_i)[:, None] * d_i[None]
    log_f_m = cross + cross.swapaxes(0, 1) + free * (b_i[:, None] + b_i[None])
    log_f_m += (n * free * free - d * per_t * f_bb) * (b_i[:, None] * b_i[None])
    log_f_m -= (2.0 * f * per_t) * (mixed * (of_t.root[:, None] * of_t.root[None]))
    p_m, p_t = -rt * log_f_w, n * R * free - d_t * inverse
    gap = R * (t * d_t - d)
    energy_m = of_t.energy + f_b * gap * b_i + (R * f) * (t * d_it - d_i) + t * (of_t.c_t * p + shift_t * p_m)
    energy_w = f_w * gap + t * shift_t * p_w
    energy_t = add_rows(of_t.heat * m) + R * f * t * d_tt + p * (shift_t + t * shift_tt) + t * shift_t * p_t
    # from constant W to constant volume of the phase
    return _Equation(
        p=p,
        p_m=p_m + p_w * c_i,
        p_t=p_t + p_w * shift_t,
        p_v=p_w,
        log_f=log_f,
        log_f_m=log_f_m + log_f_w[:, None] * c_i[None],
        log_f_t=log_f_t + log_f_w * shift_t,
        log_f_v=log_f_w,
        energy=add_rows(of_t.energy * m) + f * gap + p * t * shift_t,
        energy_m=energy_m + energy_w * c_i,
        energy_t=energy_t + energy_w * shift_t,
        energy_v=energy_w,
    )


def _attraction(w: FloatArray, b: FloatArray) -> tuple[FloatArray, ...]:
    """F and its derivatives by W, B, (B, W), (B, B), and 1/((W + d1 B)(W + d2 B))."""
    low, high, per_b = w + D2 * b, w + D1 * b, 1.0 / b
    inverse = 1.0 / (low * high)
    f = np.log(high / low) * per_b / ((D1 - D2) * R)
    f_w = inverse / -R
    f_b = -(f + w * f_w) * per_b
    f_ww = 2.0 * (w + b) * inverse * inverse / R
    f_bw = -(2.0 * f_w + w * f_ww) * per_b
    return f, f_w, f_b, f_bw, -(2.0 * f_b + w * f_bw) * per_b, inverse


def standing(mixture: Mixture, w: FloatArray, volume: FloatArray, wall_capacity: FloatArray) -> Standing:
    """Evaluate tanks of `volume` [m3] and `wall_capacity` [J/K], each (n,)."""
    count = mixture.cubic.covolume.shape[0]
    t, m = w[-2], w[:-2].reshape(2, count, -1).swapaxes(0, 1)
    space = np.empty((2, t.size))
    space[0] = w[-1] * volume
    space[1] = volume - space[0]
    eq = _equation(mixture, t, m, space)
    p, log_m = eq.p[1], np.log(m)
    rows = np.empty((2 * count + 2, t.size))
    whole = m[:, 0] + m[:, 1]
    rows[:count] = np.log(whole)
    rows[count] = (eq.energy[0] + eq.energy[1] + wall_capacity * t) / R
    rows[count + 1 : -1] = eq.log_f[:, 1] - eq.log_f[:, 0] + (log_m[:, 1] - log_m[:, 0])
    rows[-1] = (p - eq.p[0]) / p
    matrix = np.zeros((2 * count + 2, 2 * count + 2, t.size))
    by_m = np.concatenate([-eq.log_f_m[:, :, 0] * m[:, 0], eq.log_f_m[:, :, 1] * m[:, 1]], axis=1)
    matrix[count + 1 : -1, :-2] = by_m
    for i in range(count):
        matrix[i, i], matrix[i, count + i] = m[i, 0] / whole[i], m[i, 1] / whole[i]
        matrix[count + 1 + i, i] -= 1.0
        matrix[count + 1 + i, count + i] += 1.0
    pressure, energy = (
        _slopes(eq.p_m, eq.p_t, eq.p_v, m, t, volume),
        _slopes(eq.energy_m, eq.energy_t, eq.energy_v, m, t, volume),
    )
    matrix[count] = (energy[0] + energy[1]) / R
    matrix[count, -2] += wall_capacity * t / R
    matrix[count + 1 : -1, -2] = (eq.log_f_t[:, 1] - eq.log_f_t[:, 0]) * t
    matrix[count + 1 : -1, -1] = -(eq.log_f_v[:, 1] + eq.log_f_v[:, 0]) * volume
    log_p_slope = pressure[1] / p
    matrix[-1] = log_p_slope - pressure[0] / p
    enthalpy_slope = energy + space[:, None] * pressure[1]
    enthalpy_slope[0, -1] += p * volume
    enthalpy_slope[1, -1] -= p * volume
    return Standing(p, space, eq.energy + p * space, rows, matrix, log_p_slope, enthalpy_slope)


def _slopes(
    by_moles: FloatArray,
    by_temperature: FloatArray,
    by_volume: FloatArray,
    m: FloatArray,
    t: FloatArray,
    volume: FloatArray,
) -> FloatArray:
    """Take derivatives of a property of liquid and of vapor by the unknowns, (2, 2 nc + 2, n)."""
    count = m.shape[0]
    out = np.zeros((2, 2 * count + 2, t.size))
    moved = by_moles * m
    out[0, :count], out[1, count:-2] = moved[:, 0], moved[:, 1]
    out[:, -2] = by_temperature * t
    out[0, -1], out[1, -1] = by_volume[0] * volume, -by_volume[1] * volume
    return out
