"""Radau's points, and polynomials through them, for collocation.

Notes
-----
Radau's quadrature IIA: the last point is the step's end (hairer1996stiff, section IV.5).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.summing import add_along

__all__ = ["POINTS", "RULE", "polynomial"]

POINTS = 6


class Rule(NamedTuple):
    nodes: FloatArray
    weights: FloatArray
    basis: FloatArray
    """Coefficients (points + 1, points + 1) of the polynomials that are 1 at one of 0, c_1 ... c_s."""
    check: float
    check_values: FloatArray
    check_slopes: FloatArray
    check_error: float
    check_between: FloatArray
    """At the check, of the polynomials that are 1 at one of c_1 ... c_s."""


def radau(points: int) -> Rule:
    poly = np.polynomial.polynomial
    power = poly.polymul(
        [0.0] * (points - 1) + [1.0],
        [math.comb(points, k) * (-1.0) ** (points - k) for k in range(points + 1)],
    )
    nodes = np.sort(poly.polyroots(poly.polyder(power, points - 1)).real)
    nodes[-1] = 1.0
    powers = np.arange(points)
    integrals = nodes[:, None] ** (powers + 1) / (powers + 1)
    weights = np.linalg.solve((nodes[:, None] ** powers).T, integrals.T).T
    every = np.concatenate([[0.0], nodes])
    basis = np.linalg.inv(every[:, None] ** np.arange(points + 1)).T
    defect = poly.polyfromroots(nodes)
    theta = np.linspace(0.0, 1.0, 2001)
    inside = np.abs(poly.polyval(theta, defect)) * (theta > nodes[0]) * (theta < nodes[-1])
    check = float(theta[np.argmax(inside)])
    largest = np.abs(poly.polyval(theta, poly.polyint(defect))).max()
    slopes = np.array([poly.polyval(check, poly.polyder(row)) for row in basis])
    values = np.array([poly.polyval(check, row) for row in basis])
    between = np.linalg.solve((nodes[:, None] ** powers).T, check**powers)
    nodes, basis = np.asarray(nodes, dtype=np.float64), np.asarray(basis, dtype=np.float64)
    return Rule(
        nodes,
        np.asarray(weights, dtype=np.float64),
        basis,
        check,
        values,
        slopes,
        float(largest / inside.max()),
        np.asarray(between, dtype=np.float64),
    )


RULE = radau(POINTS)


def polynomial(knots: FloatArray, theta: FloatArray) -> FloatArray:
    """Value at theta of the polynomials through knots (components, ..., points + 1, scenarios)."""
    basis = RULE.basis.T.reshape(POINTS + 1, POINTS + 1, 1)
    weights = basis[-1] * theta[..., None, :]
    for power in range(POINTS - 1, 0, -1):
        weights = (weights + basis[power]) * theta[..., None, :]
    return add_along((weights + basis[0]) * knots, -2)
