"""Typed errors: what they derive from, what they say, and that they survive pickling."""

from __future__ import annotations

import copy
import pickle

import pytest

import lpgrelease as lr


@pytest.mark.parametrize(
    ("error", "builtins"),
    [
        (lr.InputError, (ValueError, TypeError)),
        (lr.OutOfRangeError, (ValueError,)),
        (lr.ConvergenceError, (ArithmeticError,)),
    ],
)
def test_errors_are_caught_by_our_base_and_by_the_built_in(error, builtins):
    assert issubclass(error, lr.LpgReleaseError)
    assert all(issubclass(error, builtin) for builtin in builtins)


def test_the_validity_warning_is_a_user_warning():
    assert issubclass(lr.ValidityWarning, UserWarning)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("fill", 1.2, "", 0.0, 1.0, ""), "fill = 1.2 is outside the allowed range [0, 1]"),
        (("depth", -2.0, "m", 0.0, None, ""), "depth = -2 m is outside the allowed range [0, inf) m"),
        (("rise", 7.0, "K", None, 5.0, "why"), "rise = 7 K is outside the allowed range (-inf, 5] K: why"),
    ],
)
def test_out_of_range_names_argument_value_unit_range_and_reason(arguments, message):
    error = lr.OutOfRangeError(*arguments)
    assert str(error) == message
    assert (error.argument, error.value, error.unit, error.lower, error.upper, error.why) == arguments


def test_convergence_error_carries_residual_and_state():
    error = lr.ConvergenceError("density", 0.25, {"temperature": 300.0})
    assert str(error) == "density: residual 0.25 at temperature = 300"
    assert (error.residual, error.last_state) == (0.25, {"temperature": 300.0})
    assert str(lr.ConvergenceError("density", 0.25)) == "density: residual 0.25"


def test_last_state_is_a_copy():
    state = {"temperature": 300.0}
    error = lr.ConvergenceError("density", 0.25, state)
    state["temperature"] = 0.0
    assert error.last_state == {"temperature": 300.0}


@pytest.mark.parametrize("again", [copy.copy, copy.deepcopy, lambda e: pickle.loads(pickle.dumps(e))])
@pytest.mark.parametrize(
    "error",
    [
        lr.InputError("no number"),
        lr.OutOfRangeError("fill", 1.2, "", 0.0, 1.0, "a fraction"),
        lr.ConvergenceError("density", 0.25, {"temperature": 300.0}),
    ],
)
def test_errors_cross_process_borders(error, again):
    twin = again(error)
    assert type(twin) is type(error)
    assert str(twin) == str(error)
    assert twin.__dict__ == error.__dict__
