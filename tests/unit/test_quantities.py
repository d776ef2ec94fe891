"""The boundary: what is taken, what is refused, and what the refusal says."""

from __future__ import annotations

import datetime
import decimal

import numpy as np
import pandas as pd
import pint
import pytest
import xarray as xr

import lpgrelease as lr
from lpgrelease.quantities import (
    broadcast,
    exactly_one,
    gauge,
    require_flag,
    require_kind,
    require_word,
    to_quantity,
    to_si,
)

FOREIGN = pint.UnitRegistry()
SHORT = pint.UnitRegistry()
SHORT.formatter.default_format = "~P"
LENIENT = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
REGISTRIES = [FOREIGN, SHORT, LENIENT, pint.get_application_registry()]
PSI = 6894.757293168361  # Pa, from the definitions of pound, inch and standard gravity


@pytest.mark.parametrize("value", [2, 2.0, np.float32(2), np.int8(2), np.uint64(2), np.array(2.0)])
def test_numbers_become_float64_scalars(value):
    out = to_si(value, "m", "height")
    assert type(out) is np.float64
    assert out == 2.0


@pytest.mark.parametrize(
    "value",
    [[1, 2], (1.0, 2.0), np.array([1, 2]), np.array([1.0, 2.0], ">f8"), range(1, 3), pd.Series([1.0, 2.0])],
)
def test_arrays_become_float64_arrays(value):
    out = to_si(value, "m", "height")
    assert type(out) is np.ndarray
    assert out.dtype == np.float64
    assert out.tolist() == [1.0, 2.0]


def test_an_unlabelled_dataarray_is_an_array():
    assert to_si(xr.DataArray([1.0, 2.0]), "m", "height").tolist() == [1.0, 2.0]


def test_the_argument_is_not_shared_with_the_result():
    values = np.array([1.0, 2.0])
    out = to_si(values, "m", "height")
    assert not np.shares_memory(out, values)


@pytest.mark.parametrize("shape", [(0,), (0, 3), (2, 0)])
def test_empty_arrays_pass(shape):
    assert to_si(np.empty(shape), "K", "temperature", lower=0.0, upper=1.0).shape == shape


@pytest.mark.parametrize("registry", REGISTRIES, ids=["foreign", "short names", "lenient", "application"])
def test_quantities_of_any_registry(registry):
    assert to_si(registry.Quantity(100.0, "psi"), "Pa", "p") == pytest.approx(100 * PSI, rel=1e-12)
    assert to_si(registry.Quantity(68.0, "degF"), "K", "t") == pytest.approx(293.15, rel=1e-14)
    assert to_si(registry.Quantity([0.0, 20.0], "degC"), "K", "t").tolist() == [273.15, 293.15]
    assert to_si(registry.Quantity(540.0, "degR"), "K", "t") == pytest.approx(300.0, rel=1e-14)
    assert to_si(registry.Quantity(9.0, "delta_degF"), "K", "rise", difference=True) == pytest.approx(5.0)
    assert to_si(registry.Quantity(5.0, "K"), "K", "rise", difference=True) == 5.0
    assert to_si(registry.Quantity(50.0, "percent"), "", "fraction") == 0.5
    one_btu = to_si(registry.Quantity(1.0, "W/m**2/delta_degF"), "W/m**2/K", "h")
    assert one_btu == pytest.approx(1.8, rel=1e-14)


@pytest.mark.parametrize("registry", REGISTRIES, ids=["foreign", "short names", "lenient", "application"])
@pytest.mark.parametrize("unit", ["delta_degF", "delta_degC"])
def test_a_difference_is_no_temperature(registry, unit):
    with pytest.raises(lr.InputError, match=r"warmth is a temperature, got a difference in delta_"):
        to_si(registry.Quantity(300.0, unit), "K", "warmth")


@pytest.mark.parametrize("registry", REGISTRIES, ids=["foreign", "short names", "lenient", "application"])
@pytest.mark.parametrize("unit", ["degF", "degC"])
def test_an_offset_unit_is_no_difference(registry, unit):
    with pytest.raises(lr.InputError, match=r"rise is a temperature difference.*delta_degF or delta_degC"):
        to_si(registry.Quantity(10.0, unit), "K", "rise", difference=True)


@pytest.mark.parametrize(
    ("value", "unit"),
    [
        (FOREIGN.Quantity(3.0, "m"), "K"),
        (FOREIGN.Quantity(3.0), "K"),
        (FOREIGN.Quantity(3.0, "K"), "Pa"),
        (FOREIGN.Quantity(3.0, "psi"), ""),
        (FOREIGN.Quantity([1.0, 2.0], "kg"), "Pa"),
        (LENIENT.Quantity(3.0, "dB"), "K"),
    ],
)
def test_a_wrong_dimension_names_argument_and_unit(value, unit):
    with pytest.raises(lr.InputError, match=rf"thing must have the dimension of \[{unit or '-'}\], got "):
        to_si(value, unit, "thing")


@pytest.mark.parametrize(
    "value",
    [
        "300",
        b"300",
        None,
        True,
        np.True_,
        [True, False],
        1 + 0j,
        np.array([1j]),
        FOREIGN.Quantity(1 + 1j, "K"),
        [300.0, "a"],
        {},
        {300.0},
        object(),
        decimal.Decimal(300),
        datetime.timedelta(seconds=1),
        np.datetime64("2020-01-01"),
        np.array([300.0, None], dtype=object),
    ],
    ids=lambda value: repr(value).partition(" at 0x")[0],
)
def test_what_is_no_number_is_refused(value):
    with pytest.raises(lr.InputError, match=r"^temperature must be a number \[K\] or a quantity, got "):
        to_si(value, "K", "temperature")


@pytest.mark.parametrize("value", [[[1.0], [1.0, 2.0]], ([1.0, 2.0], 3.0)])
def test_ragged_lists_are_refused(value):
    with pytest.raises(lr.InputError, match="height must be a number or a regular array of numbers"):
        to_si(value, "m", "height")


@pytest.mark.parametrize(
    "value",
    [
        [FOREIGN.Quantity(1.0, "m")],
        (FOREIGN.Quantity(1.0, "m"), 2.0),
        [[FOREIGN.Quantity(1.0, "m")], [2.0]],
    ],
    ids=["list", "tuple", "nested"],
)
def test_lists_of_quantities_are_refused(value):
    with pytest.raises(lr.InputError, match="height: give one quantity that holds an array"):
        to_si(value, "m", "height")


@pytest.mark.parametrize("wrap", [lambda m: m, lambda m: FOREIGN.Quantity(m, "m")], ids=["bare", "quantity"])
def test_masked_arrays_are_refused(wrap):
    with pytest.raises(lr.InputError, match="height: masked arrays are not taken"):
        to_si(wrap(np.ma.array([1.0, 2.0], mask=[True, False])), "m", "height")


def test_units_that_are_not_pints_are_refused():
    labelled = xr.DataArray([20.0], attrs={"units": "degC"})
    with pytest.raises(lr.InputError, match="DataArray carries a unit but is no pint quantity"):
        to_si(labelled, "K", "temperature")


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf, 10**400], ids=["nan", "inf", "-inf", "10**400"])
def test_what_is_not_finite_is_refused(bad):
    with pytest.raises(lr.InputError, match="height must be finite, got "):
        to_si(bad, "m", "height")


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_one_bad_element_is_found(bad):
    for value in ([1.0, bad], FOREIGN.Quantity([1.0, bad], "m")):
        with pytest.raises(lr.InputError, match=f"height must be finite, got {bad} among its values"):
            to_si(value, "m", "height")


@pytest.mark.parametrize(
    ("value", "limits", "worst"),
    [
        (-1.0, {"lower": 0.0}, -1.0),
        ([1.0, -3.0, -2.0], {"lower": 0.0}, -3.0),
        (2.0, {"upper": 1.0}, 2.0),
        ([0.5, 4.0, 3.0], {"lower": 0.0, "upper": 1.0}, 4.0),
        (0.0, {"lower": 0.0, "open_lower": True}, 0.0),
        (FOREIGN.Quantity(-1.0, "cm"), {"lower": 0.0}, -0.01),
    ],
)
def test_the_worst_value_outside_the_range_is_named(value, limits, worst):
    with pytest.raises(lr.OutOfRangeError, match="because") as caught:
        to_si(value, "m", "height", why="because", **limits)
    error = caught.value
    assert (error.argument, error.value, error.unit) == ("height", worst, "m")
    assert (error.lower, error.upper) == (limits.get("lower"), limits.get("upper"))


def test_an_excluded_end_is_said():
    with pytest.raises(lr.OutOfRangeError, match=r"\[0, inf\) m: the lower end excluded"):
        to_si(0.0, "m", "height", lower=0.0, open_lower=True)


def test_the_ends_of_the_range_are_allowed():
    assert to_si([0.0, 1.0], "", "fill", lower=0.0, upper=1.0).tolist() == [0.0, 1.0]
    assert to_si(1e-30, "", "fill", lower=0.0, open_lower=True) == 1e-30


@pytest.mark.parametrize("value", [1.1e30, -1.1e30, [1.0, 1.7e308], 10**40])
def test_magnitudes_beyond_computing_are_refused(value):
    with pytest.raises(lr.OutOfRangeError, match=r"height = .* \[-1e\+30, 1e\+30\] m: beyond what can"):
        to_si(value, "m", "height")


def test_a_size_that_must_be_above_zero_is_not_next_to_zero():
    with pytest.raises(lr.OutOfRangeError, match=r"fill = 4.9406565e-324 .*\[1e-30, 1\]"):
        to_si(5e-324, "", "fill", lower=0.0, upper=1.0, open_lower=True)
    assert to_si(5e-324, "", "fill", lower=0.0) == 5e-324


@pytest.mark.parametrize(
    ("refuse", "message"),
    [
        (lambda: require_kind("propane", lr.Fluid, "fluid"), "fluid must be a Fluid, got 'propane'"),
        (
            lambda: require_kind(np.eye(2), lr.Opening, "hole"),
            r"hole must be an Opening, got array\(.* \.\.\.",
        ),
        (
            lambda: require_flag(np.array([True]), "extrapolate"),
            "extrapolate must be True or False, got array",
        ),
        (lambda: require_flag(None, "extrapolate"), "extrapolate must be True or False, got None"),
        (lambda: require_word(["a"], ("a", "b"), "phase"), r"phase must be one of a, b; got \['a'\]"),
    ],
)
def test_objects_flags_and_words_of_the_wrong_kind_are_refused(refuse, message):
    with pytest.raises(lr.InputError, match=message):
        refuse()


def test_objects_flags_and_words_of_the_right_kind_pass():
    require_kind(lr.Fluid("propane"), lr.Fluid, "fluid")
    require_flag(np.True_, "extrapolate")
    require_word("a", {"a": 1}, "phase")


def test_broadcasting_names_every_shape():
    t, p = broadcast(temperature=np.zeros((2, 1)), pressure=np.zeros(3))
    assert t.shape == p.shape == (2, 3)
    with pytest.raises(lr.InputError, match=r"temperature \(2,\), pressure \(3,\)"):
        broadcast(temperature=np.zeros(2), pressure=np.zeros(3))


def test_exactly_one():
    assert exactly_one(temperature=None, pressure=1.0) == "pressure"
    with pytest.raises(lr.InputError, match="exactly one of temperature, pressure; got none"):
        exactly_one(temperature=None, pressure=None)
    with pytest.raises(lr.InputError, match="got temperature, pressure"):
        exactly_one(temperature=1.0, pressure=1.0)


def test_gauge_pressure():
    assert float(gauge(0.0)) == 101325.0
    assert float(gauge(FOREIGN.Quantity(10.0, "psi"))) == pytest.approx(101325.0 + 10 * PSI, rel=1e-12)
    assert gauge([0.0, 1e5], ambient_pressure=80e3).tolist() == [80e3, 180e3]
    assert float(gauge(-101325.0)) == 0.0


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"reading": -2e5}, "no pressure is below vacuum"),
        ({"reading": np.nan}, "reading must be finite"),
        ({"reading": 0.0, "ambient_pressure": -1.0}, "ambient_pressure = -1 Pa"),
        ({"reading": [0.0, 1.0], "ambient_pressure": [1e5] * 3}, r"reading \(2,\), ambient_pressure \(3,\)"),
        ({"reading": FOREIGN.Quantity(3.0, "m")}, r"reading must have the dimension of \[Pa\]"),
    ],
)
def test_gauge_refuses(arguments, message):
    with pytest.raises(lr.LpgReleaseError, match=message):
        gauge(**arguments)


def test_quantities_come_back_in_the_application_registry():
    back = to_quantity(np.float64(2.0), "Pa")
    assert back.to("bar").magnitude == pytest.approx(2e-5)
    assert isinstance(back, pint.get_application_registry().Quantity)
    assert to_quantity(0.5, "").dimensionless
