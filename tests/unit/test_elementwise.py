"""Choices element by element: for one number as NumPy makes them for arrays."""

import itertools

import numpy as np
import pytest

from lpgrelease.elementwise import every, larger, smaller, some, where

NUMBERS = [np.float64(x) for x in (-np.inf, -1.5, 0.0, 2.0, np.inf, np.nan)]


@pytest.mark.parametrize(("ours", "numpys"), [(larger, np.maximum), (smaller, np.minimum)])
def test_of_two_numbers_the_same_is_taken_as_in_an_array(ours, numpys):
    for a, b in itertools.product(NUMBERS, NUMBERS):
        expected = numpys(np.array([a]), np.array([b]))
        np.testing.assert_array_equal(ours(a, b), expected[0])
        np.testing.assert_array_equal(ours(np.array([a]), b), expected)
        np.testing.assert_array_equal(ours(a, np.array([b])), expected)


def test_a_single_choice_is_that_of_an_array():
    for holds, a, b in itertools.product((True, False), NUMBERS, NUMBERS):
        expected = np.where(np.array([holds]), a, b)
        np.testing.assert_array_equal(where(np.bool_(holds), a, b), expected[0])
        np.testing.assert_array_equal(where(np.array([holds]), a, b), expected)


def test_a_single_choice_between_a_number_and_an_array_has_the_shape_of_the_array():
    assert where(np.bool_(True), 0.0, np.ones(3)).tolist() == [0.0, 0.0, 0.0]
    assert where(np.bool_(False), np.float64(2.0), np.ones(3)).tolist() == [1.0, 1.0, 1.0]


def test_numbers_of_python_come_back_as_numbers_that_divide_as_arrays_do():
    for number in (
        where(np.bool_(True), 0.0, 1.0),
        larger(np.float64(-1.0), 0.0),
        smaller(np.float64(1.0), 0.0),
    ):
        assert isinstance(number, np.float64)
        with np.errstate(divide="ignore"):
            assert np.isinf(1.0 / number)


@pytest.mark.parametrize("mask", [np.zeros(3, dtype=bool), np.ones(3, dtype=bool), np.arange(3) > 0])
def test_whether_a_mask_holds_is_said_as_by_its_own_methods(mask):
    assert every(mask) is bool(mask.all())
    assert some(mask) is bool(mask.any())
    assert every(mask[1]) is some(mask[1]) is bool(mask[1])
    assert every(mask[:0])
    assert not some(mask[:0])
