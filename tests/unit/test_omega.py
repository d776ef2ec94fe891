"""The omega method's arguments: each in another unit, in a wrong one, out of range, named in the refusal."""

from __future__ import annotations

import pytest
from strategies import UNITS

import lpgrelease as lr
from lpgrelease.release.omega import (
    omega_critical_ratio,
    omega_flow,
    omega_from_densities,
    omega_from_properties,
)

PROPERTIES = {
    "temperature": (293.15, "K", "degF"),
    "saturation_pressure": (8.4e5, "Pa", "psi"),
    "liquid_density": (500.0, "kg/m**3", "lb/ft**3"),
    "vapor_density": (18.0, "kg/m**3", "lb/ft**3"),
    "latent_heat": (3.44e5, "J/kg", "BTU/lb"),
    "liquid_heat_capacity": (2700.0, "J/kg/K", "BTU/lb/delta_degF"),
    "vapor_fraction": (0.1, "", "percent"),
}
FLOW = {
    "omega": (8.0, "", "percent"),
    "pressure": (8.4e5, "Pa", "psi"),
    "density": (500.0, "kg/m**3", "lb/ft**3"),
    "back_pressure": (101325.0, "Pa", "psi"),
    "saturation_pressure": (8.0e5, "Pa", "psi"),
}
DENSITIES = {
    "density": (511.3, "kg/m**3", "lb/ft**3"),
    "expanded_density": (262.7, "kg/m**3", "lb/ft**3"),
}
CALLS = [
    (omega_from_properties, PROPERTIES),
    (omega_flow, FLOW),
    (omega_from_densities, DENSITIES),
    (omega_critical_ratio, {"omega": FLOW["omega"], "saturation_ratio": (0.9, "", "percent")}),
]
EACH = [
    pytest.param(function, table, name, id=f"{function.__name__}-{name}")
    for function, table in CALLS
    for name in table
]


def plain(table):
    return {name: number for name, (number, _, _) in table.items()}


def first(answer):
    return getattr(answer, "flux", answer)


@pytest.mark.parametrize(("function", "table", "name"), EACH)
def test_another_unit_gives_the_same(function, table, name):
    number, unit, other = table[name]
    given = UNITS.Quantity(number, unit).to(other) if unit else UNITS.Quantity(100.0 * number, other)
    expected = function(**plain(table))
    assert first(function(**plain(table) | {name: given})) == pytest.approx(first(expected), rel=1e-9)


@pytest.mark.parametrize(("function", "table", "name"), EACH)
def test_a_wrong_unit_is_refused_by_name(function, table, name):
    with pytest.raises(lr.InputError, match=rf"^{name} must have the dimension of \["):
        function(**plain(table) | {name: UNITS.Quantity(1.0, "furlong")})


@pytest.mark.parametrize(("function", "table", "name"), EACH)
def test_below_zero_is_refused_by_name(function, table, name):
    with pytest.raises(lr.OutOfRangeError, match=rf"^{name} = -1( |$)"):
        function(**plain(table) | {name: -1.0})


@pytest.mark.parametrize(("function", "table", "name"), EACH)
def test_zero_is_refused_where_it_means_nothing(function, table, name):
    if name in {"omega", "vapor_fraction", "back_pressure"}:
        function(**plain(table) | {name: 0.0})
        return
    with pytest.raises(lr.OutOfRangeError, match=rf"^{name} = 0( |$).*the lower end excluded"):
        function(**plain(table) | {name: 0.0})


@pytest.mark.parametrize(("function", "table", "name"), EACH)
def test_fractions_end_at_one(function, table, name):
    if name in {"vapor_fraction", "saturation_ratio"}:
        function(**plain(table) | {name: 1.0})
        with pytest.raises(lr.OutOfRangeError, match=rf"^{name} = 1\.5 is outside the allowed range \[.*1\]"):
            function(**plain(table) | {name: 1.5})


@pytest.mark.parametrize(("function", "table", "name"), EACH)
def test_shapes_that_do_not_fit_are_named(function, table, name):
    other = next(key for key in table if key != name)
    shaped = {name: [table[name][0]] * 2, other: [table[other][0]] * 3}
    with pytest.raises(lr.InputError, match=rf"(?=.*{name} \(2,\))(?=.*{other} \(3,\))"):
        function(**plain(table) | shaped)
