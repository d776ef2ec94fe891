"""The residual terms of an equation of state that make it non-analytic at the critical point.

Of the equations served only that of carbon dioxide has them. Array-level, unchecked.
"""

from __future__ import annotations

import numpy as np

from lpgrelease.quantities import FloatArray

__all__ = ["add_critical_terms"]

SMALLEST = 1e-60
"""Keeps the powers below finite at the critical density, where all they multiply is zero."""


def add_critical_terms(
    terms: FloatArray, tau: FloatArray, delta: FloatArray, sums: list[FloatArray]
) -> list[FloatArray]:
    """Add n D^b delta psi of every term to `sums`: value; by delta, tau, delta delta, delta tau, tau tau.

    Parameters
    ----------
    terms : ndarray, shape (terms, 8)
        n, a, b, beta, A, B, C, D of each term.
    tau, delta : ndarray, shape (n,)
        Reduced inverse temperature and density.
    sums : list of ndarray
        Sums of the other residual terms, each derivative times its powers of delta and tau.

    Notes
    -----
    With u = delta - 1 and w = u**2::

        theta = (1 - tau) + A w**(1/(2 beta)),  Delta = theta**2 + B w**a
        psi = exp(-C w - D (tau - 1)**2)

    Derivatives of Delta are written so that no power of w is negative.

    References: span1996carbondioxide, Table 32.
    """
    value, by_delta, by_tau, by_delta2, by_both, by_tau2 = sums
    u, lag = delta - 1.0, tau - 1.0
    w = np.maximum(u * u, SMALLEST)
    for n, a, b, beta, A, B, C, D in terms.tolist():
        half = 0.5 / beta
        slim = np.power(w, half - 1.0)
        theta = -lag + A * slim * w
        wide = B * np.power(w, a - 1.0)
        base = np.maximum(theta * theta + wide * w, SMALLEST)
        slope = 2.0 * (2.0 * half * A * theta * slim + a * wide)  # Delta_delta / u
        curve = (
            slope
            + 4.0 * a * (a - 1.0) * wide
            + 8.0 * half * half * A * A * slim * slim * w
            + 8.0 * half * (half - 1.0) * A * theta * slim
        )
        power = np.power(base, b)
        first, second = b * power / base, b * (b - 1.0) * power / (base * base)
        d_delta, d_tau = first * slope * u, -2.0 * theta * first
        d_delta2 = first * curve + second * slope * slope * w
        d_tau2 = 2.0 * first + 4.0 * theta * theta * second
        d_both = -u * (4.0 * half * A * first * slim + 2.0 * theta * second * slope)
        bell = n * np.exp(-C * w - D * lag * lag)
        b_delta, b_tau = -2.0 * C * u, -2.0 * D * lag
        b_delta2, b_tau2 = b_delta * b_delta - 2.0 * C, b_tau * b_tau - 2.0 * D
        one = d_delta + power * b_delta  # of power times bell, over bell
        two = d_delta2 + 2.0 * d_delta * b_delta + power * b_delta2
        both = d_both + d_delta * b_tau + d_tau * b_delta + power * b_delta * b_tau
        rise = d_tau + power * b_tau
        scaled = bell * delta
        value = value + scaled * power
        by_delta = by_delta + scaled * (power + delta * one)
        by_tau = by_tau + scaled * tau * rise
        by_delta2 = by_delta2 + scaled * delta * (2.0 * one + delta * two)
        by_both = by_both + scaled * tau * (rise + delta * both)
        by_tau2 = by_tau2 + scaled * tau * tau * (d_tau2 + 2.0 * d_tau * b_tau + power * b_tau2)
    return [value, by_delta, by_tau, by_delta2, by_both, by_tau2]
