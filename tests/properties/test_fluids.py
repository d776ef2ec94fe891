"""What must hold for every fluid at every temperature."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import UNITS, finite, gas_states, liquid_states, saturated, saturated_array, saturated_pair


def numbers(state):
    return {f.name: getattr(state, f.name) for f in dataclasses.fields(state) if f.name != "provenance"}


@given(saturated_pair(apart=1e-3))
def test_pressure_rises_with_temperature(case):
    fluid, cold, warm = case
    p = fluid.saturation(temperature=[cold, warm]).pressure
    assert p[0] < p[1]


@given(saturated_pair())
def test_what_falls_and_rises_toward_the_critical_point(case):
    fluid, cold, warm = case
    state = fluid.saturation(temperature=[cold, warm])
    for name in ("latent_heat", "liquid_density", "surface_tension"):
        assert np.diff(getattr(state, name)) < 0.0, name
    for name in ("vapor_density", "liquid_enthalpy", "liquid_entropy", "liquid_internal_energy"):
        assert np.diff(getattr(state, name)) > 0.0, name


@given(saturated())
def test_vapor_is_lighter_and_richer_than_liquid(case):
    fluid, t = case
    state = fluid.saturation(temperature=t)
    assert 0.0 < state.vapor_density < state.liquid_density
    assert state.latent_heat > 0.0
    assert state.vapor_entropy > state.liquid_entropy
    assert state.vapor_internal_energy > state.liquid_internal_energy
    assert state.liquid_heat_capacity > 0.0
    assert state.vapor_heat_capacity > 0.0
    assert state.surface_tension >= 0.0
    assert all(np.isfinite(value) for value in numbers(state).values())


@given(saturated())
def test_evaporation_is_at_constant_gibbs_energy(case):
    fluid, t = case
    state = fluid.saturation(temperature=t)
    gap = (state.vapor_enthalpy - t * state.vapor_entropy) - (
        state.liquid_enthalpy - t * state.liquid_entropy
    )
    # near the critical point L is a small difference of large enthalpies: round-off of those
    assert abs(gap) <= 1e-12 * (
        abs(state.liquid_enthalpy) + t * abs(state.liquid_entropy) + state.latent_heat
    )


@given(saturated(0.999))
def test_pressure_and_temperature_are_each_others_inverse(case):
    fluid, t = case
    p = fluid.saturation(temperature=t).pressure
    assert fluid.saturation(pressure=p).temperature == pytest.approx(t, rel=1e-9)


@given(saturated(), st.sampled_from(["degC", "degF", "degR"]))
def test_units_of_temperature_change_nothing(case, unit):
    fluid, t = case
    t = min(max(t, fluid.lowest_temperature * (1 + 1e-12)), 0.999 * fluid.critical_temperature)
    si = fluid.saturation(temperature=t)
    other = fluid.saturation(temperature=UNITS.Quantity(t, "K").to(unit))
    for name, value in numbers(other).items():
        # round-off of the conversion, 1e-15 of 300 K, times the steepest slope d ln p/d ln T of some 50;
        # enthalpies and entropies may pass through zero
        size = max(abs(value), 1e3) if "enthalpy" in name or "energy" in name else max(abs(value), 1e-12)
        size = max(size, 1.0) if "entropy" in name else size
        assert abs(value - getattr(si, name)) <= 1e-9 * size, name


@given(gas_states())
def test_psi_and_fahrenheit_give_the_same_gas(case):
    fluid, t, p = case
    t = max(t, fluid.lowest_temperature * (1 + 1e-12))
    si = fluid.gas(temperature=t, pressure=p)
    trade = fluid.gas(
        temperature=UNITS.Quantity(t, "K").to("degF"), pressure=UNITS.Quantity(p, "Pa").to("psi")
    )
    assert trade.density == pytest.approx(si.density, rel=1e-10)
    assert trade.speed_of_sound == pytest.approx(si.speed_of_sound, rel=1e-10)


@given(saturated_array())
def test_an_array_is_its_elements(case):
    fluid, t = case
    state = fluid.saturation(temperature=t)
    for index in np.ndindex(t.shape):
        for name, value in numbers(fluid.saturation(temperature=t[index])).items():
            together = np.asarray(getattr(state, name))
            assert together.shape == t.shape
            assert together[index] == value, name


@given(gas_states(), finite(0.1, 0.9))
def test_gas_is_between_nothing_and_saturated_vapor(case, share):
    fluid, t, p = case
    saturation = fluid.saturation(temperature=t)
    dense, thin = fluid.gas(temperature=t, pressure=p), fluid.gas(temperature=t, pressure=share * p)
    assert thin.density < dense.density <= saturation.vapor_density * (1.0 + 1e-9)
    # lower pressure: more entropy; attraction costs enthalpy, so it rises too
    assert thin.entropy > dense.entropy
    assert thin.enthalpy > dense.enthalpy
    for state in (thin, dense):
        assert state.internal_energy == pytest.approx(
            state.enthalpy - state.pressure / state.density, rel=1e-12, abs=1e-6
        )
        assert state.speed_of_sound > 0.0


@given(gas_states())
def test_thin_gas_is_ideal(case):
    fluid, t, _ = case
    p = 1e-6 * float(fluid.saturation(temperature=t).pressure)
    state = fluid.gas(temperature=t, pressure=p)
    gas_constant = fluid.table.gas_constant
    # a millionth of saturation pressure: the second virial term is some 1e-6 of the density
    assert state.density * gas_constant * t / p == pytest.approx(1.0, abs=2e-6)
    ratio = state.heat_capacity / (state.heat_capacity - gas_constant)
    assert state.speed_of_sound**2 == pytest.approx(ratio * gas_constant * t, rel=2e-5)


@given(liquid_states(), finite(1.01, 2.0))
def test_compressed_liquid_is_denser_than_saturated_liquid(case, factor):
    fluid, t, p = case
    saturation = fluid.saturation(temperature=t)
    state = fluid.liquid(temperature=t, pressure=p)
    assert state.density >= saturation.liquid_density * (1.0 - 1e-10)  # how near the table is to the equation
    assert state.speed_of_sound > 0.0
    assert state.heat_capacity > 0.0
    if p * factor <= 10e6:
        squeezed = fluid.liquid(temperature=t, pressure=p * factor)
        assert squeezed.density >= state.density


@given(gas_states())
def test_gas_obeys_the_maxwell_relation(case):
    fluid, t, p = case
    # (ds/dp)_T = (d ln rho/dT)_p / rho, by central differences
    step_t, step_p = 1e-4 * t, 1e-3 * p
    if (
        not fluid.lowest_temperature < t - step_t
        or p + step_p > 0.99 * fluid.saturation(temperature=t - step_t).pressure
    ):
        return
    hot, cold = (fluid.gas(temperature=t + sign * step_t, pressure=p) for sign in (1.0, -1.0))
    high, low = (fluid.gas(temperature=t, pressure=p + sign * step_p) for sign in (1.0, -1.0))
    left = (high.entropy - low.entropy) / (2.0 * step_p)
    expansion = (1.0 / hot.density - 1.0 / cold.density) / (2.0 * step_t)
    # truncation of the differences, 1e-6 of the third derivatives, largest near saturation
    assert left == pytest.approx(-expansion, rel=1e-3)
