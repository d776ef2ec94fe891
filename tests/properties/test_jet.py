"""Balances of jets and directions of drops."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import finite, fluids

from lpgrelease import Opening, liquid_release, two_phase_release
from lpgrelease.release.drops import drop_fall, rain_out_by_flash
from lpgrelease.release.jet import expanded_jet
from lpgrelease.release.line import Line, line_release

FEW = settings(max_examples=40, deadline=None)
AIR = 101325.0


@st.composite
def containers(draw):
    """A fluid and a temperature at which it stands 1.05 to 20 bar."""
    fluid = draw(fluids)
    pressure = draw(finite(1.05, min(21e5, 0.7 * fluid.critical_pressure) / AIR)) * AIR
    return fluid, float(fluid.saturation(pressure=pressure).temperature)


def enthalpy(fluid, jet):
    s = fluid.saturation(pressure=AIR)
    if jet.vapor_fraction == 1.0 and jet.temperature > s.temperature:
        return fluid.gas(temperature=jet.temperature, pressure=AIR).enthalpy
    return s.liquid_enthalpy + jet.vapor_fraction * s.latent_heat


@FEW
@given(containers(), finite(0.0, 1.0), finite(0.3, 1.0))
def test_mass_momentum_and_energy_close(state, x, coefficient):
    fluid, t = state
    hole = Opening(diameter=0.02, discharge_coefficient=coefficient)
    flow = two_phase_release(fluid, hole, temperature=t, vapor_fraction=x)
    jet = expanded_jet(fluid, hole, flow)
    s = fluid.saturation(temperature=t)
    at_rest = s.liquid_enthalpy + x * s.latent_heat
    # 1e-5 of the latent heat: the throat's flux is a maximum found to 4e-9 in temperature
    assert enthalpy(fluid, jet) + 0.5 * jet.velocity**2 == pytest.approx(at_rest, abs=1e-5 * s.latent_heat)
    push = (flow.throat_pressure - AIR) * hole.effective_area
    assert jet.thrust == pytest.approx(flow.mass_flow * jet.exit_velocity + push, rel=1e-9)
    area = np.pi / 4 * jet.diameter**2
    assert area * jet.density * jet.velocity == pytest.approx(flow.mass_flow, rel=1e-12)
    assert jet.velocity >= jet.exit_velocity > 0.0


@FEW
@given(containers(), st.sampled_from([0.0, 0.2, 1.0]), finite(0.0, 50.0), finite(0.3, 1.0))
def test_jets_behind_lines_keep_the_energy_too(state, x, length, coefficient):
    fluid, t = state
    line = Line(diameter=0.03, length=length, discharge_coefficient=coefficient)
    flow = line_release(fluid, line, temperature=t, vapor_fraction=x)
    jet = expanded_jet(fluid, line, flow)
    s = fluid.saturation(temperature=t)
    at_rest = s.liquid_enthalpy + x * s.latent_heat
    # 3e-5: polynomials of the superheated vapor
    assert enthalpy(fluid, jet) + 0.5 * jet.velocity**2 == pytest.approx(at_rest, abs=3e-5 * s.latent_heat)


@FEW
@given(containers())
def test_unboiled_liquid_flashes_at_the_enthalpy_it_had_less_its_speed(state):
    fluid, t = state
    hole = Opening(diameter=0.02)
    flow = liquid_release(fluid, hole, temperature=t)
    jet = expanded_jet(fluid, hole, flow)
    s = fluid.saturation(temperature=t)
    assert enthalpy(fluid, jet) + 0.5 * jet.velocity**2 == pytest.approx(
        s.liquid_enthalpy, abs=1e-9 * s.latent_heat + 1e-6
    )
    drop = (s.pressure - AIR) / s.liquid_density
    assert 0.5 * jet.velocity**2 == pytest.approx(drop, rel=1e-9)


@FEW
@given(fluids, finite(1e-5, 5e-4), finite(0.0, 5.0), finite(5.0, 40.0))
def test_smaller_drops_warmer_air_and_deeper_falls_leave_less(fluid, d, z, warmer):
    air = fluid.normal_boiling_point + warmer
    if not 201.0 < air < 340.0:
        return
    whole = drop_fall(fluid, diameter=d, height=z, air_temperature=air)
    assert 0.0 <= whole.mass_left <= 1.0
    assert (whole.lands == 1.0) == (whole.mass_left > 0.0)
    for change in ({"diameter": 0.8 * d}, {"height": z + 0.5}, {"air_temperature": air + 5.0}):
        run = drop_fall(fluid, **{"diameter": d, "height": z, "air_temperature": air, **change})
        assert run.mass_left <= whole.mass_left + 1e-12
    assert drop_fall(fluid, diameter=d, height=0.0, air_temperature=air).mass_left == 1.0


@given(finite(0.0, 1.0), finite(0.0, 5.0))
def test_the_liquid_is_divided_without_loss(x, ratio):
    share = rain_out_by_flash(x, entrained_per_vapor=ratio)
    assert share.vapor_fraction + share.airborne_drops + share.rain_out == pytest.approx(1.0, abs=1e-15)
    assert share.airborne_drops >= 0.0
    assert share.rain_out >= 0.0
