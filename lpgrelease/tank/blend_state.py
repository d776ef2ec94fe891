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
F = A_res/(RT) and f as there (michelsen2007thermodynamic, chapter 3), in each phase

    ln f_i = ln(m_i R T/W) + F_i,    p = N R T/(W - B) - D/((W + d1 B)(W + d2 B))
    U = sum m_i (h_i0 - R T) + R f (T D_T - D) + p T sum m_i c_i'

Phases are on the first axis: arrays of components are (2, nc, n). U = A - T dA/dT gives the slopes of U at
constant volume from those of p and ln f_i.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from lpgrelease.fluids.cubic import D1, D2, R
from lpgrelease.fluids.mixture import HEAT_CAPACITY_SCALE, REFERENCE_TEMPERATURE, Mixture
from lpgrelease.quantities import FloatArray
from lpgrelease.summing import add_along, add_powers

__all__ = ["Standing", "diagonal", "standing"]


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
    """Coefficients of h/T and of c_p by powers of T/300 K - 1, and h's constant (nc, 1).

    (powers, 2, 2 nc, 1): by powers of (T/300 K - 1)^2, for the even and the odd ones of T/300 K - 1.
    """
    c = mixture.heat_capacity
    over = c / np.arange(1.0, len(c) + 1.0)[:, None, None]
    u = REFERENCE_TEMPERATURE / HEAT_CAPACITY_SCALE
    start = np.zeros_like(c[0])
    for term in over[::-1]:
        start = start * u + term
    terms = np.concatenate([over, c], axis=1)
    # around zero large terms cancel; Taylor's shift, by Horner's scheme
    for first in range(len(terms) - 1):
        for k in range(len(terms) - 2, first - 1, -1):
            terms[k] += terms[k + 1]
    return terms.reshape(-1, 2, *terms.shape[1:]), start * REFERENCE_TEMPERATURE


def _ideal(mixture: Mixture, temperature: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Enthalpy and heat capacity of each component as an ideal gas, (nc, n)."""
    terms, start = _ideal_terms(mixture)
    u = temperature / HEAT_CAPACITY_SCALE - 1.0
    even, odd = add_powers(terms, u * u)
    value = even + odd * u
    count = start.shape[0]
    return value[:count] * temperature - start, value[count:]


@lru_cache(maxsize=64)
def _root_terms(mixture: Mixture) -> tuple[FloatArray, FloatArray]:
    """Roots of a_i at T = 0, and their slope by the root of T, (nc, 1)."""
    eos = mixture.cubic
    whole = np.sqrt(eos.attraction)
    return whole * (1.0 + eos.slope), -whole * eos.slope / np.sqrt(eos.critical_temperature)


def _of_temperature(mixture: Mixture, t: FloatArray) -> FloatArray:
    """Evaluate what temperature alone decides for each component, (8, nc, n).

    Root of a_i with its slope, translation with two slopes, energy of the ideal gas with its slope; slopes
    are T d/dT and T^2 d2/dT2. The covolume stands last, so that one sum serves all of them.
    """
    cold, by_root = _root_terms(mixture)
    rows = np.empty((8, cold.shape[0], t.size))
    fall = by_root * np.sqrt(t)
    rows[0], rows[1] = cold + fall, 0.5 * fall
    rows[2], rows[3], rows[4] = mixture.shift(t)
    rows[3] *= t
    rows[4] *= t * t
    h_0, c_p = _ideal(mixture, t)
    rows[5], rows[6] = h_0 - R * t, (c_p - R) * t
    rows[7] = mixture.cubic.covolume
    return rows


class _Equation(NamedTuple):
    """Both phases: p and U (2, n), ln f_i less what is common to both (2, nc, n), with slopes.

    `_m` by ln m_i of a component, `_t` by ln T, `_v` by the phase's volume.
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
    """Evaluate phases of moles m (2, nc, n) in `space` (2, n); `log_f` lacks ln m_i, `log_f_m` its 1.

    Slopes by the phase's volume and by W are the same; those by ln T and ln m_i are at constant W first.
    """
    of_t = _of_temperature(mixture, t)
    root, root_t, b_i, rt = of_t[0], of_t[1], of_t[7], R * t
    every = of_t[:, None] * m
    n = add_along(m, 1)[:, None]
    _, _, shift, shift_t, shift_tt, ideal, heat, b = add_along(every, 2)[:, :, None]
    # attraction of i by each j; a root of a_i is linear in sqrt(T): its second slope is -1/2 times the first
    each = mixture.cubic.one_minus_k * every[:2, :, None]
    pull, pull_t = both = add_along(each, 3)
    d, rest = add_along(every[:2] * both, 2)[:, :, None]
    d_t = 2.0 * add_along(every[1] * pull, 1)[:, None]
    d_i, d_it = 2.0 * root * pull, 2.0 * (root_t * pull + root * pull_t)
    w = space[:, None] + shift
    free = 1.0 / (w - b)
    f, f_w, f_b, f_bw, f_bb, inverse = _attraction(w, b, rt)
    crowd = n * free
    pushes, pulls, thick = crowd * rt, d * inverse, crowd * free
    p, p_t = pushes - pulls, pushes - d_t * inverse
    p_w = (2.0 * pulls) * (w + b) * inverse - pushes * free
    log_f = (crowd - d * f_b) * b_i - f * d_i + np.log(free)
    log_f_w = (-thick - d * f_bw) * b_i - f_w * d_i - free
    log_f_t = f * (d_i - d_it) - (f_b * (d_t - d)) * b_i + log_f_w * shift_t
    of_b = (0.5 * (thick - d * f_bb)) * b_i - f_b * d_i + free
    log_f_m = b_i[:, None] * (of_b * m)[:, None] + of_b[:, :, None] * every[7][:, None]
    log_f_m += log_f_w[:, :, None] * every[2][:, None]
    log_f_m -= ((2.0 * f) * root)[:, :, None] * each[0]
    energy_t = heat + (rt * f) * (2.0 * rest - 0.5 * d_t) + p * shift_tt + shift_t * p_t
    p_t = p_t + p_w * shift_t
    # U = A - T dA/dT at constant volume
    energy_v, moles_rt = p_t - p, rt * m
    return _Equation(
        p=p[:, 0],
        p_m=p_w * every[2] - log_f_w * moles_rt,
        p_t=p_t[:, 0],
        p_v=p_w[:, 0],
        log_f=log_f,
        log_f_m=log_f_m,
        log_f_t=log_f_t,
        log_f_v=log_f_w,
        energy=(ideal + (rt * f) * (d_t - d) + p * shift_t)[:, 0],
        energy_m=every[5] + energy_v * every[2] + p * every[3] - log_f_t * moles_rt,
        energy_t=(energy_t + shift_t * p_t)[:, 0],
        energy_v=energy_v[:, 0],
    )


def _attraction(w: FloatArray, b: FloatArray, rt: FloatArray) -> tuple[FloatArray, ...]:
    """Evaluate f/T and its slopes by W, B, (B, W), (B, B), and 1/((W + d1 B)(W + d2 B))."""
    low, high, per_b = w + D2 * b, w + D1 * b, 1.0 / b
    inverse = 1.0 / (low * high)
    per_rt = -1.0 / rt
    f = (1.0 / (D2 - D1)) * per_rt * per_b * np.log(high / low)
    # twice as large W and B halve f: W f_W + B f_B = -f, and so on
    f_w = per_rt * inverse
    f_b = (f + w * f_w) * -per_b
    f_ww = (w + b) * (-2.0 * inverse) * f_w
    f_bw = (2.0 * f_w + w * f_ww) * -per_b
    return f, f_w, f_b, f_bw, (2.0 * f_b + w * f_bw) * -per_b, inverse


def standing(mixture: Mixture, w: FloatArray, volume: FloatArray, wall_capacity: FloatArray) -> Standing:
    """Evaluate tanks of `volume` [m3] and `wall_capacity` [J/K], each (n,)."""
    count = mixture.cubic.covolume.shape[0]
    t, m = w[-2], w[:-2].reshape(2, count, -1)
    space = np.empty((2, t.size))
    space[0] = w[-1] * volume
    space[1] = volume - space[0]
    eq = _equation(mixture, t, m, space)
    p, whole = eq.p[1], m[0] + m[1]
    rows = np.empty((2 * count + 2, t.size))
    rows[:count] = np.log(whole)
    rows[count] = (eq.energy[0] + eq.energy[1] + wall_capacity * t) / R
    rows[count + 1 : -1] = eq.log_f[1] - eq.log_f[0] + np.log(m[1] / m[0])
    rows[-1] = (p - eq.p[0]) / p
    pressure = _slopes(eq.p_m, eq.p_t, eq.p_v, volume)
    energy = _slopes(eq.energy_m, eq.energy_t, eq.energy_v, volume)
    log_p_slope = pressure[1] / p
    matrix = np.zeros((2 * count + 2, 2 * count + 2, t.size))
    diagonal(matrix, 0, 0, count)[:], diagonal(matrix, 0, count, count)[:] = m / whole
    matrix[count] = (energy[0] + energy[1]) / R
    matrix[count, -2] += wall_capacity * t / R
    equal = matrix[count + 1 : -1]
    equal[:, :count], equal[:, count:-2] = -eq.log_f_m[0], eq.log_f_m[1]
    diagonal(matrix, count + 1, 0, count)[:] -= 1.0
    diagonal(matrix, count + 1, count, count)[:] += 1.0
    equal[:, -2] = eq.log_f_t[1] - eq.log_f_t[0]
    equal[:, -1] = -(eq.log_f_v[1] + eq.log_f_v[0]) * volume
    matrix[-1] = log_p_slope - pressure[0] / p
    enthalpy_slope = energy + space[:, None] * pressure[1]
    enthalpy_slope[0, -1] += p * volume
    enthalpy_slope[1, -1] -= p * volume
    return Standing(p, space, eq.energy + p * space, rows, matrix, log_p_slope, enthalpy_slope)


def diagonal(matrix: FloatArray, row: int, column: int, count: int) -> FloatArray:
    """View (count, n) of the entries (row + i, column + i) of a matrix (rows, columns, n)."""
    return np.asarray(np.einsum("iin->in", matrix[row : row + count, column : column + count]))


def _slopes(
    by_moles: FloatArray, by_temperature: FloatArray, by_volume: FloatArray, volume: FloatArray
) -> FloatArray:
    """Take slopes of a property of liquid and of vapor to the unknowns, (2, 2 nc + 2, n)."""
    count = by_moles.shape[1]
    out = np.zeros((2, 2 * count + 2, volume.size))
    out[0, :count], out[1, count:-2] = by_moles
    out[:, -2] = by_temperature
    out[0, -1], out[1, -1] = by_volume[0] * volume, -by_volume[1] * volume
    return out
