"""Peng-Robinson equation of state for mixtures: volumes, fugacities and their derivatives.

Temperatures [K], pressures [Pa], everything else per mole in SI. Components stand on the first axis, states
on the last: mole fractions are (nc, n). Array-level, unchecked, elementwise over states.

Notes
-----
peng1976new; p = RT/(V - B) - D/((V + d1 B)(V + d2 B)), d1 = 1 + sqrt(2), d2 = 1 - sqrt(2), with
B = sum n_i b_i, D = sum n_i n_j sqrt(a_i a_j) (1 - k_ij), a_i = a_ci (1 + m_i (1 - sqrt(T/T_ci)))^2.
Derivatives follow from the reduced residual Helmholtz energy F = A_res/(RT) = -n g(V, B) - D(T)/T f(V, B)
(michelsen2007thermodynamic, chapters 2 and 3):
g = ln(1 - B/V),  f = ln((V + d1 B)/(V + d2 B))/(R B (d1 - d2)).
"""

from __future__ import annotations

import dataclasses
from typing import NamedTuple

import numpy as np

from lpgrelease.constants import GAS_CONSTANT
from lpgrelease.elementwise import every, some
from lpgrelease.quantities import FloatArray
from lpgrelease.summing import add_products, add_rows

__all__ = [
    "Cubic",
    "Phase",
    "Root",
    "isothermal",
    "phase",
    "pressure",
    "root",
    "volume",
    "volume_root",
]

R = float(GAS_CONSTANT)
D1, D2 = 1.0 + 2.0**0.5, 1.0 - 2.0**0.5
OMEGA_A, OMEGA_B = 0.45723552892138, 0.07779607390388
"""Peng and Robinson's constants, from the critical conditions of the equation."""

THIN = 1e-4
"""Of bp/(RT): below, the liquid's compressibility is small against the other roots."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Cubic:
    """Parameters of nc components; every field but the last has shape (nc, 1).

    Parameters
    ----------
    critical_temperature : ndarray
        T_c [K].
    attraction, covolume, slope : ndarray
        a_c [Pa m6/mol2], b [m3/mol], m.
    one_minus_k : ndarray, shape (nc, nc, 1)
        1 - k_ij.
    """

    critical_temperature: FloatArray
    attraction: FloatArray
    covolume: FloatArray
    slope: FloatArray
    one_minus_k: FloatArray

    @classmethod
    def from_constants(
        cls,
        critical_temperature: FloatArray,
        critical_pressure: FloatArray,
        acentric_factor: FloatArray,
        interaction: FloatArray,
    ) -> Cubic:
        """Parameters from T_c [K], p_c [Pa], omega, each (nc,), and k_ij (nc, nc)."""
        t_c, p_c, w = (
            np.asarray(x, dtype=float)[:, None]
            for x in (critical_temperature, critical_pressure, acentric_factor)
        )
        return cls(
            critical_temperature=t_c,
            attraction=OMEGA_A * (R * t_c) ** 2 / p_c,
            covolume=OMEGA_B * R * t_c / p_c,
            slope=0.37464 + w * (1.54226 - 0.26992 * w),
            one_minus_k=1.0 - np.asarray(interaction, dtype=float)[:, :, None],
        )


class Mixed(NamedTuple):
    """Mixing rules at (T, x): B, D, D_i and the square roots of a_i that they are made of."""

    covolume: FloatArray
    attraction: FloatArray
    attraction_by_mole: FloatArray
    root: FloatArray


class Root(NamedTuple):
    """One phase at (T, p, x): molar volume, ln of the fugacity coefficients, partial molar volumes."""

    volume: FloatArray
    log_fugacity: FloatArray
    volume_by_mole: FloatArray


class Phase(NamedTuple):
    """One phase at (T, p, x) with first derivatives; residual to the ideal gas at (T, p).

    `log_fugacity_by_mole` is n d ln(phi_i)/dn_j at constant (T, p); `volume_by_mole` the partial molar
    volumes. Enthalpy and entropy are residual; `heat_capacity` is the residual isobaric one.
    """

    volume: FloatArray
    log_fugacity: FloatArray
    log_fugacity_by_temperature: FloatArray
    log_fugacity_by_mole: FloatArray
    volume_by_mole: FloatArray
    volume_by_temperature: FloatArray
    volume_by_pressure: FloatArray
    enthalpy: FloatArray
    entropy: FloatArray
    heat_capacity: FloatArray


def _mix(eos: Cubic, temperature: FloatArray, x: FloatArray) -> Mixed:
    root = np.sqrt(eos.attraction) * (
        1.0 + eos.slope * (1.0 - np.sqrt(temperature / eos.critical_temperature))
    )
    weighted = root * x
    pull = add_products(eos.one_minus_k, weighted)
    by_mole = 2.0 * root * pull
    return Mixed(add_rows(eos.covolume * x), 0.5 * add_rows(by_mole * x), by_mole, root)


def volume_root(
    temperature: FloatArray, pressure: FloatArray, covolume: FloatArray, attraction: FloatArray, side: int
) -> FloatArray:
    """Molar volume [m3/mol] of the liquid (side 0) or the vapor (side 1).

    Cardano's formulas and two Newton steps; a thin liquid root, of which Cardano's keeps no digits, starts
    from the quadratic that is left where z^3 does not count. Where the cubic has one real root it serves
    both sides.
    """
    rt = R * temperature
    b, a = covolume * pressure / rt, attraction * pressure / (rt * rt)
    c2, c1, c0 = b - 1.0, a - b * (3.0 * b + 2.0), b * (b * (b + 1.0) - a)
    third = c2 / 3.0
    q = third * third - c1 / 3.0
    r = third * (third * third - 0.5 * c1) + 0.5 * c0
    three = r * r < q * q * q
    z = _one_of_three(np.where(three, q, 1.0), r, 0.0 if side == 0 else 2.0 * np.pi / 3.0) - third
    if side == 0:
        inside = three & (z <= b)
        if some(inside):
            z = np.where(inside, _one_of_three(np.where(three, q, 1.0), r, -2.0 * np.pi / 3.0) - third, z)
        square = c1 * c1 - 4.0 * c2 * c0
        thin = three & (b < THIN) & (square > 0.0)
        if some(thin):
            z = np.where(thin, -2.0 * c0 / (c1 + np.sqrt(np.where(thin, square, 1.0))), z)
    if not every(three):
        big = -np.sign(r) * np.cbrt(np.abs(r) + np.sqrt(np.maximum(r * r - q * q * q, 0.0)))
        z = np.where(three, z, big + np.where(big != 0.0, q / np.where(big != 0.0, big, 1.0), 0.0) - third)
    for _ in range(2):
        slope = c1 + z * (2.0 * c2 + 3.0 * z)
        step = (c0 + z * (c1 + z * (c2 + z))) / np.where(slope != 0.0, slope, 1.0)
        z = z - np.where(np.abs(step) < 0.1 * z, step, 0.0)
    found: FloatArray = z * rt / pressure
    return found


def _one_of_three(q: FloatArray, r: FloatArray, turn: float) -> FloatArray:
    """Real roots of z^3 - 3 q z + 2 r, shifted ones of the cubic equation; `turn` chooses one of three."""
    root_q = np.sqrt(q)
    angle = np.arccos(np.minimum(np.maximum(r / (root_q * q), -1.0), 1.0)) / 3.0
    return np.asarray(-2.0 * root_q * np.cos(angle + turn))


class _Helmholtz(NamedTuple):
    """First derivatives of F that every phase needs."""

    log_term: FloatArray
    f: FloatArray
    f_v: FloatArray
    f_b: FloatArray
    by_covolume: FloatArray


def _first(temperature: FloatArray, volume: FloatArray, mixed: Mixed) -> _Helmholtz:
    b, d = mixed.covolume, mixed.attraction
    low, high = volume + D2 * b, volume + D1 * b
    f = np.log(high / low) / ((D1 - D2) * R * b)
    f_v = -1.0 / (R * low * high)
    f_b = -(f + volume * f_v) / b
    return _Helmholtz(np.log1p(-b / volume), f, f_v, f_b, 1.0 / (volume - b) - d / temperature * f_b)


def pressure(eos: Cubic, temperature: FloatArray, volume: FloatArray, x: FloatArray) -> FloatArray:
    """Pressure [Pa] at (T, v), (n,), of mole fractions x (nc, n)."""
    mixed = _mix(eos, temperature, x)
    b = mixed.covolume
    pull: FloatArray = mixed.attraction / ((volume + D1 * b) * (volume + D2 * b))
    return R * temperature / (volume - b) - pull


def root(eos: Cubic, temperature: FloatArray, pressure: FloatArray, x: FloatArray, side: int) -> Root:
    """Volume and fugacities of a phase of mole fractions x (nc, n) at (T, p), each (n,)."""
    mixed = _mix(eos, temperature, x)
    v = volume_root(temperature, pressure, mixed.covolume, mixed.attraction, side)
    one = _first(temperature, v, mixed)
    p_v, p_i = _pressure_slopes(eos, temperature, v, mixed)
    return Root(v, _log_fugacity(eos, temperature, pressure, v, mixed, one), -p_i / p_v)


def _pressure_slopes(
    eos: Cubic, temperature: FloatArray, volume: FloatArray, mixed: Mixed
) -> tuple[FloatArray, FloatArray]:
    """dp/dV and dp/dn_i of one mole."""
    b, d, rt = mixed.covolume, mixed.attraction, R * temperature
    free = 1.0 / (volume - b)
    product = (volume + D1 * b) * (volume + D2 * b)
    inverse = 1.0 / product
    pull = d * inverse * inverse
    p_v = -rt * free * free + pull * 2.0 * (volume + b)
    p_b = rt * free * free + pull * 2.0 * (volume - b)
    p_i = rt * free + p_b * eos.covolume - inverse * mixed.attraction_by_mole
    return p_v, p_i


def volume(eos: Cubic, temperature: FloatArray, pressure: FloatArray, x: FloatArray, side: int) -> FloatArray:
    """Molar volume [m3/mol] of a phase of mole fractions x (nc, n) at (T, p), each (n,)."""
    mixed = _mix(eos, temperature, x)
    return volume_root(temperature, pressure, mixed.covolume, mixed.attraction, side)


def isothermal(
    eos: Cubic, temperature: FloatArray, pressure: FloatArray, x: FloatArray, side: int
) -> tuple[Root, FloatArray]:
    """Return what `root` does, and n d ln(phi_i)/dn_j (nc, nc, n)."""
    mixed = _mix(eos, temperature, x)
    v = volume_root(temperature, pressure, mixed.covolume, mixed.attraction, side)
    one = _first(temperature, v, mixed)
    slopes = _pressure_slopes(eos, temperature, v, mixed)
    found = Root(v, _log_fugacity(eos, temperature, pressure, v, mixed, one), -slopes[1] / slopes[0])
    return found, _by_mole(eos, temperature, v, mixed, one, slopes)


def phase(eos: Cubic, temperature: FloatArray, pressure: FloatArray, x: FloatArray, side: int) -> Phase:
    """Everything of a phase of mole fractions x (nc, n) at (T, p), each (n,)."""
    t, rt = temperature, R * temperature
    mixed = _mix(eos, t, x)
    b, d = mixed.covolume, mixed.attraction
    v = volume_root(t, pressure, b, d, side)
    one = _first(t, v, mixed)
    p_v, p_i = _pressure_slopes(eos, t, v, mixed)
    d_t, d_it, d_tt = _attraction_slopes(eos, t, x, mixed)
    by_temperature = (d - t * d_t) * one.f_b / (t * t)
    f_it = by_temperature * eos.covolume + one.f / t * (mixed.attraction_by_mole / t - d_it)
    p_t = R / (v - b) + d_t * R * one.f_v
    v_i = -p_i / p_v
    f_t = one.f / t * (d / t - d_t)
    f_tt = -one.f / t * d_tt - 2.0 / t * f_t
    residual = -one.log_term - d / t * one.f
    entropy_v = -R * residual - rt * f_t
    return Phase(
        volume=v,
        log_fugacity=_log_fugacity(eos, t, pressure, v, mixed, one),
        log_fugacity_by_temperature=f_it + 1.0 / t - v_i * p_t / rt,
        log_fugacity_by_mole=_by_mole(eos, t, v, mixed, one, (p_v, p_i)),
        volume_by_mole=v_i,
        volume_by_temperature=-p_t / p_v,
        volume_by_pressure=1.0 / p_v,
        enthalpy=rt * residual + t * entropy_v + pressure * v - rt,
        entropy=entropy_v + R * np.log(pressure * v / rt),
        heat_capacity=-rt * (2.0 * f_t + t * f_tt) - t * p_t * p_t / p_v - R,
    )


def _log_fugacity(
    eos: Cubic, t: FloatArray, pressure: FloatArray, v: FloatArray, mixed: Mixed, one: _Helmholtz
) -> FloatArray:
    """ln(phi_i) = dF/dn_i - ln Z."""
    common = -one.log_term - np.log(pressure * v / (R * t))
    return common + one.by_covolume * eos.covolume - one.f / t * mixed.attraction_by_mole


def _attraction_slopes(
    eos: Cubic, t: FloatArray, x: FloatArray, mixed: Mixed
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """dD/dT, dD_i/dT and d2D/dT2: a_i = root_i^2, and root_i is linear in sqrt(T)."""
    slope = -0.5 * np.sqrt(eos.attraction) * eos.slope / np.sqrt(t * eos.critical_temperature)
    curve = -0.5 * slope / t
    pull = add_products(eos.one_minus_k, mixed.root * x)
    pull_t = add_products(eos.one_minus_k, slope * x)
    d_it = 2.0 * (slope * pull + mixed.root * pull_t)
    pull_tt = add_products(eos.one_minus_k, curve * x)
    d_tt = add_rows(x * (curve * pull + 2.0 * slope * pull_t + mixed.root * pull_tt))
    return 0.5 * add_rows(d_it * x), d_it, d_tt


def _by_mole(
    eos: Cubic,
    t: FloatArray,
    v: FloatArray,
    mixed: Mixed,
    one: _Helmholtz,
    slopes: tuple[FloatArray, FloatArray],
) -> FloatArray:
    """N d ln(phi_i)/dn_j = n F_ij + 1 + p_i p_j/(RT p_v).

    F_ij = b_i g_j + g_i b_j - 2 a_ij f/T with g_i = F_nB + F_BD D_i + F_BB b_i/2.
    """
    b, d = mixed.covolume, mixed.attraction
    low, high, free = v + D2 * b, v + D1 * b, 1.0 / (v - b)
    f_vv = (1.0 / (low * low) - 1.0 / (high * high)) / ((D1 - D2) * R * b)
    f_bv = -(2.0 * one.f_v + v * f_vv) / b
    f_bb = -(2.0 * one.f_b + v * f_bv) / b
    half = 0.5 * (free * free - d / t * f_bb)
    g = free - one.f_b / t * mixed.attraction_by_mole + half * eos.covolume
    p_v, p_i = slopes
    outer = eos.covolume[:, None] * g[None]
    by_mole: FloatArray = outer + outer.swapaxes(0, 1)
    by_mole += p_i[:, None] * (p_i / (R * t * p_v))[None]
    by_mole -= eos.one_minus_k * (mixed.root[:, None] * (2.0 * one.f / t * mixed.root)[None])
    by_mole += 1.0
    return by_mole
