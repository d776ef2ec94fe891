"""Edges, errors and shapes of the flash."""

from __future__ import annotations

import numpy as np
import pint
import pytest

from lpgrelease import Fluid, flash
from lpgrelease.errors import InputError, OutOfRangeError

PROPANE = Fluid("propane")


def test_a_cold_liquid_does_not_flash():
    state = flash(PROPANE, temperature=[200.0, 231.0, 232.0])
    assert state.vapor_fraction[:2].tolist() == [0.0, 0.0]
    assert state.vapor_fraction[2] > 0.0
    assert state.temperature[:2].tolist() == [200.0, 231.0]
    assert state.temperature[2] == pytest.approx(PROPANE.normal_boiling_point, rel=1e-12)


def test_the_flash_of_a_liquid_at_its_boiling_point_begins_at_zero():
    boiling = PROPANE.normal_boiling_point
    for path in ("isenthalpic", "isentropic"):
        state = flash(PROPANE, temperature=boiling + 1e-5, path=path)
        assert 0.0 <= state.vapor_fraction < 1e-7
        assert state.enthalpy_drop == pytest.approx(0.0, abs=1e-2)


@pytest.mark.parametrize("path", ["isenthalpic", "isentropic"])
def test_a_padded_liquid_has_no_step_where_flashing_begins(path):
    t = PROPANE.normal_boiling_point + np.linspace(-0.6, 0.6, 601)
    state = flash(PROPANE, temperature=t, pressure=1e6, path=path)
    assert np.abs(np.diff(state.vapor_fraction)).max() < 2e-5
    assert np.abs(np.diff(state.enthalpy_drop)).max() < 2.0
    assert state.vapor_fraction[0] == 0.0
    assert state.vapor_fraction[-1] > 0.0
    if path == "isentropic":
        # the pad's work on an incompressible liquid
        density = PROPANE.liquid(temperature=t[0], pressure=1e6).density
        assert state.enthalpy_drop[0] == pytest.approx((1e6 - 101325.0) / density, rel=1e-12)


def test_isenthalpic_keeps_the_enthalpy_and_the_fraction_closes_it():
    t = np.array([260.0, 300.0, 340.0])
    state = flash(PROPANE, temperature=t)
    after = PROPANE.saturation(pressure=state.pressure)
    h = after.liquid_enthalpy + state.vapor_fraction * after.latent_heat
    before = PROPANE.saturation(temperature=t).liquid_enthalpy
    np.testing.assert_allclose(h - before, 0.0, atol=1e-9 * 4e5)
    assert state.enthalpy_drop.tolist() == [0.0, 0.0, 0.0]


def test_dry_scenarios_do_not_touch_their_neighbors():
    fluid = Fluid("n-pentane")
    t = np.array([300.0, 465.0, 330.0, 466.0])
    together = flash(fluid, temperature=t)
    assert together.vapor_fraction[[1, 3]].tolist() == [1.0, 1.0]
    assert together.temperature[1] > fluid.normal_boiling_point
    for i, value in enumerate(t):
        alone = flash(fluid, temperature=value)
        assert alone.vapor_fraction == together.vapor_fraction[i]
        assert alone.temperature == together.temperature[i]


def test_shapes():
    state = flash(PROPANE, temperature=np.full((3, 1), 290.0), ambient_pressure=[8e4, 1e5])
    for name in ("vapor_fraction", "temperature", "pressure", "enthalpy_drop"):
        assert getattr(state, name).shape == (3, 2)
    assert np.ndim(flash(PROPANE, temperature=290.0).vapor_fraction) == 0
    assert flash(PROPANE, temperature=np.empty((0, 2))).vapor_fraction.shape == (0, 2)


def test_units():
    units = pint.UnitRegistry()
    state = flash(
        PROPANE,
        temperature=units.Quantity(68.0, "degF"),
        ambient_pressure=units.Quantity(12.0, "psi"),
        pressure=units.Quantity(20.0, "bar"),
    )
    si = flash(PROPANE, temperature=293.15, ambient_pressure=12.0 * 6894.757293168361, pressure=2e6)
    assert state.vapor_fraction == pytest.approx(si.vapor_fraction, rel=1e-12)


@pytest.mark.parametrize(
    ("arguments", "error", "message"),
    [
        ({"temperature": 370.0}, OutOfRangeError, r"temperature = 370 K .*allowed range \[120, 369.8"),
        ({"temperature": 80.0}, OutOfRangeError, r"temperature = 80 K"),
        ({"temperature": float("nan")}, InputError, "temperature must be finite"),
        ({"temperature": [290.0, float("inf")]}, InputError, "temperature must be finite"),
        ({"temperature": "warm"}, InputError, "temperature must be a number"),
        ({"temperature": 293.15, "ambient_pressure": 0.0}, OutOfRangeError, r"ambient_pressure = 0 Pa"),
        ({"temperature": 293.15, "ambient_pressure": 5e6}, OutOfRangeError, r"ambient_pressure = 5000000 Pa"),
        (
            {"temperature": 293.15, "pressure": 8e5},
            OutOfRangeError,
            r"pressure = 800000 Pa .*no liquid below",
        ),
        ({"temperature": 293.15, "pressure": 11e6}, OutOfRangeError, r"pressure = 11000000 Pa"),
        (
            {"temperature": 293.15, "path": "adiabatic"},
            InputError,
            "path must be one of isenthalpic, isentropic",
        ),
        (
            {"temperature": [290.0, 291.0], "ambient_pressure": [1e5, 1e5, 1e5]},
            InputError,
            r"shapes do not broadcast: temperature \(2,\).*ambient_pressure \(3,\)",
        ),
        (
            {"temperature": [290.0, 291.0], "pressure": [2e6, 2e6, 2e6]},
            InputError,
            r"shapes do not broadcast: temperature \(2,\), pressure \(3,\)",
        ),
    ],
)
def test_refusals(arguments, error, message):
    with pytest.raises(error, match=message):
        flash(PROPANE, **arguments)


def test_refuses_what_is_no_fluid():
    with pytest.raises(InputError, match="fluid must be a Fluid, got 'propane'"):
        flash("propane", temperature=293.15)


def test_refuses_a_pressure_given_as_a_length_and_a_difference_given_as_a_temperature():
    units = pint.UnitRegistry()
    with pytest.raises(InputError, match="ambient_pressure must have the dimension"):
        flash(PROPANE, temperature=293.15, ambient_pressure=units.Quantity(1.0, "m"))
    with pytest.raises(InputError, match="temperature is a temperature, got a difference"):
        flash(PROPANE, temperature=units.Quantity(20.0, "delta_degC"))
