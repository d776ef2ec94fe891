"""Every public property whose docstring names a unit is read in it by ``.q``."""

from __future__ import annotations

import importlib
import pkgutil
import re

import numpy as np
import pint
import pytest

import lpgrelease as lr
from lpgrelease.results import Result

NAMED = re.compile(r"\[([A-Za-z0-9/]+)\]")


def all_kinds():
    for module in pkgutil.walk_packages(lr.__path__, "lpgrelease."):
        importlib.import_module(module.name)
    found, kinds = list(Result.__subclasses__()), []
    while found:
        kind = found.pop()
        kinds.append(kind)
        found += kind.__subclasses__()
    return kinds


def properties_with_units():
    for kind in all_kinds():
        for name, value in vars(kind).items():
            text = value.fget.__doc__ if isinstance(value, property) else None
            told = NAMED.search((text or "").split("\n\n")[0])
            # of several numbers at once a field says what each is
            if told and value.fget.__annotations__["return"] == "FloatArray":
                yield kind, name, value.fget, told[1]


def test_units_are_those_of_the_docstrings():
    seen = list(properties_with_units())
    registry = pint.UnitRegistry()
    assert len({(kind.__name__, name) for kind, name, *_ in seen}) > 25
    for kind, name, getter, told in seen:
        unit = re.sub(r"([a-z])([23])\b", r"\1**\2", told)
        assert registry.Unit(getter.unit) == registry.Unit(unit), (kind, name)


TANK = lr.HorizontalTank(diameter=[1.0, 2.0], length=4.0, wall_mass=900.0)
MADE = {
    "tank": (TANK, "volume", "m**3"),
    "contents": (
        lr.Contents(TANK, lr.Fluid("propane"), fill=0.5, temperature=280.0),
        "liquid_mass",
        "kg",
    ),
    "opening": (lr.Opening(diameter=[0.01, 0.02]), "effective_area", "m**2"),
}


@pytest.mark.parametrize("what", MADE)
def test_derived_numbers_are_quantities(what):
    made, name, unit = MADE[what]
    told = getattr(made.q, name)
    assert told.check(unit)
    np.testing.assert_array_equal(told.m_as(unit), getattr(made, name))
    assert name in dir(made.q)


def test_what_has_no_unit_says_so():
    with pytest.raises(AttributeError, match="kind of StopAt has no unit"):
        _ = lr.StopAt(level=0.5).q.kind
