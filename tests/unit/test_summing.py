"""Sums in a fixed order: the same bits whatever else stands in the arrays."""

from __future__ import annotations

import numpy as np
import pytest

from lpgrelease.summing import add_along, add_powers, add_rows


@pytest.mark.parametrize("terms", range(1, 12))
@pytest.mark.parametrize("beside", [1, 2, 3, 7, 8, 9, 64, 1000])
@pytest.mark.parametrize("place", [0, 1, 2])
def test_terms_are_added_one_after_the_other_whatever_stands_beside(terms, beside, place):
    draw = np.random.default_rng(terms * 100 + place)
    shape = [3, 2, beside]
    shape.insert(place, terms)
    # of very different sizes, so that another order has another last bit
    values = draw.normal(size=shape) * 10.0 ** draw.integers(-6, 6, shape)
    terms_first = np.moveaxis(values, place, 0)
    expected = terms_first[0].copy()
    for one in terms_first[1:]:
        expected = expected + one
    np.testing.assert_array_equal(add_along(values, place), expected)
    np.testing.assert_array_equal(add_along(np.asfortranarray(values), place), expected)
    np.testing.assert_array_equal(add_along(values[..., ::-1], place), expected[..., ::-1])
    np.testing.assert_array_equal(add_rows(terms_first), expected)
    alone = np.ascontiguousarray(values[..., :1])
    np.testing.assert_array_equal(add_along(alone, place), expected[..., :1])


@pytest.mark.parametrize("powers", [1, 2, 5, 7, 10])
def test_polynomials_of_many_places_are_those_of_each_alone(powers):
    draw = np.random.default_rng(powers)
    coefficients, x = draw.normal(size=(powers, 3, 1)), draw.normal(size=50)
    values = add_powers(coefficients, x)
    np.testing.assert_allclose(
        values, [np.polynomial.polynomial.polyval(x, c) for c in coefficients[..., 0].T]
    )
    alone = [add_powers(coefficients, x[i : i + 1])[:, 0] for i in range(x.size)]
    np.testing.assert_array_equal(values, np.transpose(alone))
