"""The boundary for any number: units change nothing, order changes nothing, ranges hold."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from strategies import UNITS, finite

import lpgrelease as lr
from lpgrelease.quantities import broadcast, exactly_one, to_si

PRESSURES = st.sampled_from(["Pa", "kPa", "bar", "psi", "atm", "mmHg", "inHg"])
arrays = hnp.arrays(
    np.float64, hnp.array_shapes(min_dims=0, max_dims=3, min_side=0), elements=finite(-1e9, 1e9)
)


@given(arrays)
def test_plain_numbers_pass_unchanged(values):
    out = to_si(values, "Pa", "pressure")
    np.testing.assert_array_equal(out, values)
    assert np.shape(out) == values.shape


@given(finite(-1e12, 1e12), PRESSURES)
def test_any_unit_of_pressure_gives_the_same_pressure(value, unit):
    expressed = UNITS.Quantity(value, "Pa").to(unit)
    assert to_si(expressed, "Pa", "pressure") == pytest.approx(value, rel=1e-12, abs=1e-9)


@given(finite(1.0, 2000.0), st.sampled_from(["degC", "degF", "degR", "K", "mK"]))
def test_any_unit_of_temperature_gives_the_same_temperature(value, unit):
    expressed = UNITS.Quantity(value, "K").to(unit)
    assert to_si(expressed, "K", "temperature") == pytest.approx(value, rel=1e-12)


@given(finite(-500.0, 500.0), st.sampled_from([("delta_degC", 1.0), ("delta_degF", 1.8), ("K", 1.0)]))
def test_any_unit_of_difference_gives_the_same_difference(value, unit):
    name, factor = unit
    expressed = UNITS.Quantity(value * factor, name)
    assert to_si(expressed, "K", "rise", difference=True) == pytest.approx(value, rel=1e-12, abs=1e-12)


@given(arrays, finite(-1e9, 0.0), finite(0.0, 1e9))
def test_a_range_lets_through_exactly_what_lies_in_it(values, lower, upper):
    outside = (values < lower) | (values > upper)
    if not outside.any():
        np.testing.assert_array_equal(to_si(values, "m", "x", lower=lower, upper=upper), values)
        return
    with pytest.raises(lr.OutOfRangeError) as caught:
        to_si(values, "m", "x", lower=lower, upper=upper)
    assert caught.value.value in np.atleast_1d(values)[np.atleast_1d(outside)]


@given(hnp.mutually_broadcastable_shapes(num_shapes=2, max_dims=3, max_side=4))
def test_broadcasting_is_numpys(shapes):
    one, other = broadcast(one=np.ones(shapes.input_shapes[0]), other=np.ones(shapes.input_shapes[1]))
    assert one.shape == other.shape == shapes.result_shape


@given(st.dictionaries(st.sampled_from("abcd"), st.one_of(st.none(), finite(0.0, 1.0)), min_size=1))
def test_exactly_one_counts_what_is_given(arguments):
    given_names = [name for name, value in arguments.items() if value is not None]
    if len(given_names) == 1:
        assert exactly_one(**arguments) == given_names[0]
    else:
        with pytest.raises(lr.InputError):
            exactly_one(**arguments)


@given(finite(-80e3, 1e7), finite(80e3, 110e3))
def test_gauge_readings_add_to_the_air(reading, ambient):
    assert float(lr.gauge(reading, ambient_pressure=ambient)) == reading + ambient
