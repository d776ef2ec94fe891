"""Phases of a pure fluid: a state is found again from any two of its properties, however cold or hot."""

from __future__ import annotations

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st
from strategies import finite, gas_states, liquid_states, saturated

import lpgrelease as lr


@pytest.mark.parametrize("known", ["enthalpy", "entropy"])
@given(liquid_states())
@example((lr.Fluid("dimethyl ether"), 131.66000000000003, 413030.00106239005))  # as cold as any, but for bits
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


@pytest.mark.parametrize("known", ["enthalpy", "entropy"])
@given(saturated(0.98), finite(0.0, 1.0))
def test_a_mixture_has_of_everything_its_phases_shares(known, drawn, share):
    fluid, temperature = drawn
    state = fluid.saturation(temperature=temperature)
    mixed = {
        name: (1.0 - share) * getattr(state, f"liquid_{name}") + share * getattr(state, f"vapor_{name}")
        for name in ("enthalpy", "entropy")
    }
    assume(state.pressure > 10.0)
    found = lr.equilibrium(fluid, pressure=state.pressure, **{known: mixed[known]})
    size = {"enthalpy": state.latent_heat, "entropy": state.latent_heat / temperature}
    for name, value in mixed.items():
        assert getattr(found, name) == pytest.approx(value, abs=1e-7 * size[name]), name
    assert found.vapor_fraction == pytest.approx(share, abs=1e-7)
    volume = (1.0 - share) / state.liquid_density + share / state.vapor_density
    assert found.density * volume == pytest.approx(1.0, rel=1e-5)


@pytest.mark.parametrize(("known", "value"), [("enthalpy", -2e5), ("enthalpy", 5e6), ("entropy", -5e3)])
def test_what_no_temperature_has_is_refused(known, value):
    with pytest.raises(lr.OutOfRangeError, match=rf"{known} = .* of propane at 600000 Pa"):
        lr.equilibrium(lr.Fluid("propane"), pressure=6e5, **{known: value})


@given(liquid_states())
def test_liquid_is_found_from_temperature_and_pressure_or_density(drawn):
    fluid, temperature, pressure = drawn
    if pressure <= max(fluid.saturation(temperature=temperature).pressure, 1.0):
        return
    state = fluid.liquid(temperature=temperature, pressure=pressure)
    found = lr.equilibrium(fluid, temperature=temperature, pressure=pressure)
    assert found.vapor_fraction == 0.0
    assert found.density == pytest.approx(state.density, rel=1e-9)
    assert found.enthalpy == pytest.approx(state.enthalpy, rel=1e-9, abs=1e-3)
    again = lr.equilibrium(fluid, temperature=temperature, density=state.density)
    # a liquid is so stiff that pressure carries the round-off of its density many times over
    assert again.pressure == pytest.approx(pressure, rel=1e-6, abs=1.0)


@given(gas_states())
def test_gas_is_found_from_temperature_and_pressure_or_density(drawn):
    fluid, temperature, pressure = drawn
    if not fluid.lowest_temperature < temperature < fluid.highest_temperature or pressure < 1.0:
        return
    state = fluid.gas(temperature=temperature, pressure=pressure)
    found = lr.equilibrium(fluid, temperature=temperature, pressure=pressure)
    assert found.vapor_fraction == 1.0
    assert found.density == pytest.approx(state.density, rel=1e-9)
    assert found.entropy == pytest.approx(state.entropy, rel=1e-9, abs=1e-6)
    again = lr.equilibrium(fluid, temperature=temperature, density=state.density)
    assert again.pressure == pytest.approx(pressure, rel=1e-8)


@given(liquid_states(), st.floats(0.0, 1.0))
def test_liquid_and_vapor_together_fill_the_room_and_hold_the_heat(drawn, share):
    fluid, temperature, _ = drawn
    s = fluid.saturation(temperature=temperature)
    room = (1.0 - share) / s.liquid_density + share / s.vapor_density
    found = lr.equilibrium(fluid, temperature=temperature, density=1.0 / room)
    assert found.pressure == s.pressure
    # near the critical point both phases are nearly as dense, and the share is a small difference
    assert found.vapor_fraction == pytest.approx(
        share, abs=1e-9 * s.liquid_density / (s.liquid_density - s.vapor_density)
    )
    assert found.enthalpy == pytest.approx(s.liquid_enthalpy + share * s.latent_heat, rel=1e-8, abs=1.0)


@pytest.mark.parametrize("density", [700.0, 1e4, 1e30])
def test_what_is_denser_than_the_liquid_at_the_highest_pressure_is_refused(density):
    propane = lr.Fluid("propane")
    limit = float(propane.liquid(temperature=250.0, pressure=10e6).density)
    with pytest.raises(lr.OutOfRangeError, match=r"density = .* up to the liquid's at 10 MPa") as error:
        lr.equilibrium(propane, temperature=250.0, density=[1.0, density])
    assert f"{limit:.6g}" in str(error.value)
    assert lr.equilibrium(propane, temperature=250.0, density=limit).pressure == pytest.approx(10e6, rel=1e-6)
