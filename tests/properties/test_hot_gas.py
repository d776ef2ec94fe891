"""Gas above its critical temperature leaves by a hole: entropy is kept; the ideal gas is the limit."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import finite

import lpgrelease as lr
from lpgrelease.constants import GAS_CONSTANT
from lpgrelease.fluids import helmholtz
from lpgrelease.fluids.isentrope import state_at_temperature

HOT = st.sampled_from(("nitrogen", "methane", "ethylene", "ethane", "carbon dioxide")).map(lr.Fluid)


@given(HOT, finite(1.0001, 3.0), finite(0.56, 1.0), finite(1e3, 3.3e6))
def test_states_above_the_critical_temperature_keep_their_entropy(fluid, reduced, fall, pressure):
    table = fluid.table
    hot = min(reduced * fluid.critical_temperature, table.highest_gas_temperature)
    rest = fluid.gas(temperature=hot, pressure=pressure)
    cold = np.atleast_1d(max(fall * hot, table.highest_temperature + 1e-3))
    state = state_at_temperature(table, np.atleast_1d(rest.entropy), cold)
    found = helmholtz.evaluate(table.equation, cold, 1.0 / state.specific_volume)
    assert found.entropy == pytest.approx(rest.entropy, abs=1e-8 * table.gas_constant)
    assert 0.0 < state.pressure[0] <= pressure * (1.0 + 1e-9)


@pytest.mark.parametrize("name", ["nitrogen", "methane"])
@pytest.mark.parametrize("pressure", [3e5, 1e6, 2e6])
def test_a_permanent_gas_flows_as_the_ideal_gas_does(name, pressure):
    """Within 3 %: the gases are within 3 % of ideal at 300 K and these pressures."""
    fluid, t = lr.Fluid(name), 300.0
    rest = fluid.gas(temperature=t, pressure=pressure)
    r = GAS_CONSTANT / fluid.molar_mass
    gamma = fluid.gas(temperature=t, pressure=1e4).heat_capacity
    gamma = gamma / (gamma - r)
    ideal = (
        pressure * np.sqrt(gamma / (r * t)) * (2.0 / (gamma + 1.0)) ** (0.5 * (gamma + 1.0) / (gamma - 1.0))
    )
    hole = lr.Opening(diameter=0.01, discharge_coefficient=1.0)
    release = lr.vapor_release(fluid, hole, temperature=rest.temperature, pressure=pressure)
    assert release.choked
    assert release.mass_flux == pytest.approx(ideal, rel=0.03)
