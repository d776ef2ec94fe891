"""Values nobody should give, and some that somebody will."""

from __future__ import annotations

import datetime
from decimal import Decimal
from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import numpy as np
from hypothesis import strategies as st
from strategies import UNITS

WRONG_KINDS: tuple[Any, ...] = (
    None,
    True,
    False,
    "",
    "1",
    "293 K",
    b"1",
    object(),
    {},
    {"propane": 1.0},
    {1.0},
    [],
    (),
    [None],
    [True, False],
    ["a", "b"],
    [[1.0, 2.0], [3.0]],
    [UNITS.Quantity(1.0, "m"), UNITS.Quantity(2.0, "m")],
    1j,
    Decimal(1),
    Fraction(1, 2),
    len,
    float,
    range(3),
    datetime.datetime(2000, 1, 1),
    SimpleNamespace(unit="m", value=1.0),
    np.array("1"),
    np.array([None, 1.0], dtype=object),
    np.array([True, False]),
    np.array([1j, 2.0]),
    np.array(["2000-01-01"], dtype="datetime64[D]"),
    np.ma.masked_array([1.0, 2.0], [True, False]),
)
NOT_FINITE: tuple[Any, ...] = (
    np.nan,
    np.inf,
    -np.inf,
    [300.0, np.nan],
    np.array([[np.inf], [1.0]]),
    UNITS.Quantity(np.nan, "m"),
    UNITS.Quantity(-np.inf, "degC"),
    np.float32(np.nan),
    10**400,
)
EXTREME: tuple[Any, ...] = (
    0,
    0.0,
    -0.0,
    -1.0,
    -1e-9,
    -1e30,
    -1.7e308,
    1.7e308,
    1e155,
    1e103,
    1e31,
    1e29,
    1e15,
    1e9,
    1e6,
    1e4,
    1e-4,
    1e-9,
    1e-15,
    1e-29,
    1e-31,
    1e-103,
    1e-155,
    2.3e-308,
    5e-324,
    2**70,
    np.int64(-(2**63)),
    np.uint8(255),
    np.float16(6e4),
    np.float32(3e38),
    np.longdouble(1.0),
)
SHAPES: tuple[Any, ...] = ((0,), (0, 3), (1,), (2,), (3,), (2, 3), (3, 1), (1, 1, 2), (3000,))
ODD_UNITS: tuple[Any, ...] = tuple(
    UNITS.Quantity(1.0, unit)
    for unit in ("m", "s", "kg", "degF", "delta_degC", "psi", "dimensionless", "W", "1/kg", "furlong", "K")
)

wrong_kinds = st.sampled_from(WRONG_KINDS)
not_finite = st.sampled_from(NOT_FINITE)
extremes = st.sampled_from(EXTREME) | st.floats(allow_nan=False, allow_infinity=False)
odd_units = st.sampled_from(ODD_UNITS)


@st.composite
def shaped(draw: Any, good: st.SearchStrategy[Any]) -> Any:
    """An array of a shape the other arguments may not have, of values that alone are good."""
    value = draw(good)
    if not isinstance(value, (int, float)):
        return draw(wrong_kinds)
    return np.full(draw(st.sampled_from(SHAPES)), float(value))


@st.composite
def spoiled(draw: Any, good: st.SearchStrategy[Any]) -> Any:
    """An array that holds one extreme value among good ones."""
    value = draw(good)
    if not isinstance(value, (int, float)):
        return draw(not_finite)
    return np.array([float(value), float(draw(extremes)), float(value)])


def hostile(good: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """Anything but what was meant, drawn about the values `good` that were."""
    return wrong_kinds | not_finite | extremes | odd_units | shaped(good) | spoiled(good)
