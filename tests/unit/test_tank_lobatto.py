"""Lobatto's points on even steps."""

import numpy as np
import pytest

from lpgrelease.tank.lobatto import FEWEST_STEPS, PLACES, POINTS, integrals, laid_out, places


def test_places_are_where_the_slope_of_legendres_polynomial_vanishes():
    slope = np.polynomial.legendre.legder([0.0, 0.0, 0.0, 0.0, 0.0, 1.0])
    np.testing.assert_allclose(
        np.polynomial.legendre.legval(2.0 * PLACES[1:-1] - 1.0, slope), 0.0, atol=1e-13
    )


@pytest.mark.parametrize("power", range(10))
def test_integrals_of_powers(power):
    """Exact to each point up to the fifth power, over the whole step up to the ninth."""
    found = integrals(list(PLACES[:, None] ** power))[:, 0]
    exact = PLACES[1:] ** (power + 1) / (power + 1)
    np.testing.assert_allclose(found[-1], exact[-1], rtol=1e-13)
    if power <= 5:
        np.testing.assert_allclose(found, exact, rtol=1e-12)


def test_the_tenth_power_is_not_exact():
    assert abs(integrals(list(PLACES[:, None] ** 10))[-1, 0] - 1.0 / 11.0) > 1e-6


@pytest.mark.parametrize("points", [2, 3, 9, 33, 34, 100, 1001])
def test_points_of_a_history_are_points_of_steps(points):
    steps, rows = laid_out(points)
    assert steps >= FEWEST_STEPS
    assert rows.size == points
    assert rows[0] == 0
    assert rows[-1] == POINTS * steps
    assert (np.diff(rows) >= 1).all()
    assert np.ptp(np.diff(rows)) <= 1


def test_places_of_all_steps():
    where = places(3)
    np.testing.assert_array_equal(where[::POINTS], np.arange(4))
    np.testing.assert_allclose(where[6:11], 1.0 + PLACES[1:])
