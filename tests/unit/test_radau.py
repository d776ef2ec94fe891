"""Radau's points and the polynomials through them: printed tables, exactness, and what the check tells."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.polynomial import Polynomial

from lpgrelease.collocation.radau import POINTS, RULE, polynomial, radau

ROOT = np.sqrt(6.0)
# hairer1996stiff, Tables 5.5 and 5.6 of section IV.5, from memory
TABLES = {
    2: ([1 / 3, 1.0], [[5 / 12, -1 / 12], [3 / 4, 1 / 4]]),
    3: (
        [(4 - ROOT) / 10, (4 + ROOT) / 10, 1.0],
        [
            [(88 - 7 * ROOT) / 360, (296 - 169 * ROOT) / 1800, (-2 + 3 * ROOT) / 225],
            [(296 + 169 * ROOT) / 1800, (88 + 7 * ROOT) / 360, (-2 - 3 * ROOT) / 225],
            [(16 - ROOT) / 36, (16 + ROOT) / 36, 1 / 9],
        ],
    ),
}


@pytest.mark.parametrize("points", TABLES)
def test_nodes_and_weights_are_those_printed(points):
    rule, (nodes, weights) = radau(points), TABLES[points]
    np.testing.assert_allclose(rule.nodes, nodes, rtol=1e-13)
    np.testing.assert_allclose(rule.weights, weights, rtol=1e-12, atol=1e-15)


@pytest.mark.parametrize("points", [2, 3, 5, 7])
def test_the_last_row_integrates_every_polynomial_it_should(points):
    rule = radau(points)
    for power in range(2 * points - 1):
        assert rule.weights[-1] @ rule.nodes**power == pytest.approx(1.0 / (power + 1), rel=1e-10)
    beyond = 2 * points - 1
    assert rule.weights[-1] @ rule.nodes**beyond != pytest.approx(1.0 / (beyond + 1), rel=1e-10)


@pytest.mark.parametrize("points", [2, 3, 5])
def test_the_basis_is_1_at_one_knot_and_0_at_the_others(points):
    rule = radau(points)
    knots = np.concatenate([[0.0], rule.nodes])
    values = [[Polynomial(row)(knot) for knot in knots] for row in rule.basis]
    np.testing.assert_allclose(values, np.eye(points + 1), atol=1e-10)


@pytest.mark.parametrize("points", [2, 3, 5])
def test_the_miss_of_the_slope_at_the_check_tells_the_largest_miss_of_the_path(points):
    # of y = theta^(points + 1), the first power that collocation does not follow
    rule, true = radau(points), Polynomial([0.0] * (points + 1) + [1.0])
    at_nodes = true.deriv()(rule.nodes)
    knots = np.concatenate([[0.0], rule.weights @ at_nodes])
    path = Polynomial(rule.basis.T @ knots)
    np.testing.assert_allclose(path.deriv()(rule.nodes), at_nodes, rtol=1e-10, atol=1e-13)
    assert rule.check_values @ knots == pytest.approx(path(rule.check), rel=1e-10)
    assert rule.check_slopes @ knots == pytest.approx(path.deriv()(rule.check), rel=1e-10)
    assert rule.check_between @ at_nodes == pytest.approx(path.deriv()(rule.check), rel=1e-10)
    theta = np.linspace(0.0, 1.0, 10_001)
    missed = np.abs(true(theta) - path(theta)).max()
    told = rule.check_error * abs(true.deriv()(rule.check) - path.deriv()(rule.check))
    assert told == pytest.approx(missed, rel=1e-5)
    # the check is between the nodes, where the slope misses most
    inside = theta[(theta > rule.nodes[0]) & (theta < 1.0)]
    most = np.abs(true.deriv()(inside) - path.deriv()(inside)).max()
    assert abs(true.deriv()(rule.check) - path.deriv()(rule.check)) == pytest.approx(most, rel=1e-5)


def test_values_between_knots_are_those_of_the_polynomial_through_them():
    given = [Polynomial(row) for row in np.random.default_rng(2).normal(size=(4, POINTS + 1))]
    at = np.concatenate([[0.0], RULE.nodes])
    # two components of two scenarios
    knots = np.array([[given[0](at), given[1](at)], [given[2](at), given[3](at)]]).swapaxes(1, 2)
    theta = np.array([[0.0, 0.1], [0.3, 0.77], [1.0, 1.0]])
    found = polynomial(knots[:, None], theta)
    for i in range(2):
        for k in range(2):
            np.testing.assert_allclose(found[i, :, k], given[2 * i + k](theta[:, k]), rtol=1e-9, atol=1e-11)
