"""Phases of a pure fluid: a state is found again from any two of its properties, however cold or hot."""

from __future__ import annotations

import pytest
from hypothesis import given
from strategies import gas_states, liquid_states

import lpgrelease as lr


@pytest.mark.parametrize("known", ["enthalpy", "entropy"])
@given(liquid_states())
def test_liquid_colder_than_boiling_is_found_again(known, drawn):
    fluid, temperature, pressure = drawn
    pressure = min(pressure, 0.99 * fluid.critical_pressure)
    if pressure <= fluid.saturation(temperature=temperature).pressure:
        return
    state = fluid.liquid(temperature=temperature, pressure=pressure)
    found = lr.equilibrium(fluid, pressure=pressure, **{known: getattr(state, known)})
    assert found.temperature == pytest.approx(temperature, rel=1e-8)
    assert found.density == pytest.approx(state.density, rel=1e-8)


@pytest.mark.parametrize("known", ["enthalpy", "entropy"])
@given(gas_states())
def test_gas_is_found_again(known, drawn):
    fluid, temperature, pressure = drawn
    if not fluid.saturation(temperature=fluid.lowest_temperature).pressure < pressure:
        return
    state = fluid.gas(temperature=temperature, pressure=pressure)
    found = lr.equilibrium(fluid, pressure=pressure, **{known: getattr(state, known)})
    assert found.temperature == pytest.approx(temperature, rel=1e-8)
    assert found.density == pytest.approx(state.density, rel=1e-8)


@pytest.mark.parametrize(("known", "value"), [("enthalpy", -2e5), ("enthalpy", 5e6), ("entropy", -5e3)])
def test_what_no_temperature_has_is_refused(known, value):
    with pytest.raises(lr.OutOfRangeError, match=rf"{known} = .* of propane at 600000 Pa"):
        lr.equilibrium(lr.Fluid("propane"), pressure=6e5, **{known: value})
