"""What a study writes down of its inputs: equal inputs are told alike, others are not."""

from __future__ import annotations

import functools
import json
import math

import numpy as np
import pint
import pytest

import lpgrelease as lr
from lpgrelease.studies.describe import describe
from lpgrelease.studies.distributions import si_unit


class Model:
    """A model with a setting."""

    def __init__(self, factor):
        self.factor = factor

    def run(self, x):
        return self.factor * x


def told(text):
    """A function without a source file."""
    names = {}
    exec(compile(text, "<nowhere>", "exec"), names)  # the text is ours
    return names["f"]


ALIKE = {
    "a set, however it was filled": ({3, 1, 2}, {2, 3, 1}),
    "a number and an array of it without shape": (np.array(1.5), 1.5),
    "a method of objects alike": (Model(2.0).run, Model(2.0).run),
    "a ufunc": (np.sqrt, np.sqrt),
    "a built-in function": (math.sqrt, math.sqrt),
    "a class": (lr.Weather, lr.Weather),
    "a function of the library": (lr.flash, lr.flash),
    "a function without source": (told("def f(x): return x + 1"), told("def f(x): return x + 1")),
    "a part": (functools.partial(math.pow, 2.0), functools.partial(math.pow, 2.0)),
}
OTHER = {
    "sets": ({1, 2}, {1, 2, 3}),
    "methods of other objects": (Model(2.0).run, Model(3.0).run),
    "ufuncs": (np.sqrt, np.cbrt),
    "built-in functions": (math.sqrt, math.exp),
    "classes": (lr.Weather, lr.Opening),
    "functions of the library": (lr.flash, lr.boil_off),
    "functions without source": (told("def f(x): return x + 1"), told("def f(x): return x + 2")),
    "arguments of a part": (functools.partial(math.pow, 2.0), functools.partial(math.pow, 3.0)),
    "infinities": (math.inf, -math.inf),
    "kinds of numbers in an array": (np.ones(2), np.ones(2, dtype=np.float32)),
}


@pytest.mark.parametrize("name", ALIKE)
def test_what_is_alike_is_told_alike(name):
    one, two = (describe(value, "x") for value in ALIKE[name])
    assert one == two
    assert json.loads(json.dumps(one)) == one


@pytest.mark.parametrize("name", OTHER)
def test_what_differs_is_told_apart(name):
    one, two = (describe(value, "x") for value in OTHER[name])
    assert one != two


def test_an_object_that_names_itself_is_told_by_that_name():
    assert describe(Ellipsis, "x") == {"object": "builtins.Ellipsis"}


@pytest.mark.parametrize(
    ("model", "message"),
    [
        (lambda x: {"a": x} if x[0] < 0.5 else {"b": x}, "other outputs for some scenarios than for others"),
        (
            lambda x: {"a": np.ones((x.size, 3 if x[0] < 0.5 else 4))},
            "a with axes of different lengths for some scenarios",
        ),
    ],
)
def test_answers_that_do_not_fit_together_are_refused(model, message):
    def one_at_a_time(x):
        if x.size > 1:
            raise ValueError("too many")
        return model(x)

    with pytest.raises(lr.InputError, match=message):
        lr.study(one_at_a_time, {"x": lr.uniform(0.0, 1.0)}, n=8, rng=1)
    # in chunks of one each chunk is whole, and differs from the first
    with pytest.raises(lr.StudyError, match=r"outputs of the chunk from scenario . differ from the first"):
        lr.study(model, {"x": lr.uniform(0.0, 1.0)}, n=8, rng=1, chunk_size=1)


def test_a_dimension_of_its_own_has_no_si_unit():
    units = pint.UnitRegistry()
    units.define("cow = [cattle]")
    with pytest.raises(lr.InputError, match=r"dimension without an SI unit: \[cattle\]"):
        si_unit(units.Quantity(3.0, "cow/m**2"))
