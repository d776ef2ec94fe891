"""Balances of jets and directions of drops."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from strategies import finite, fluids

from lpgrelease import (
    Fluid,
    Opening,
    bubble_point,
    equilibrium,
    liquid_release,
    two_phase_release,
    vapor_release,
)
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


MODELS = ("homogeneous equilibrium", "omega", "homogeneous non-equilibrium", "frozen")
BLENDS = (
    Fluid({"propane": 0.7, "n-butane": 0.3}),
    Fluid({"propane": 0.3, "n-butane": 0.7}),
    Fluid({"propane": 0.5, "n-pentane": 0.5}),
    Fluid({"ethane": 0.1, "propane": 0.6, "isobutane": 0.3}),
)


def enthalpy(fluid, jet):
    s = fluid.saturation(pressure=AIR)
    if jet.vapor_fraction == 1.0 and jet.temperature > s.temperature:
        return fluid.gas(temperature=jet.temperature, pressure=AIR).enthalpy
    if jet.vapor_fraction == 0.0 and jet.temperature < s.temperature:
        return fluid.liquid(temperature=jet.temperature, pressure=AIR).enthalpy
    return s.liquid_enthalpy + jet.vapor_fraction * s.latent_heat


def runs(fluid, t, model, x, pad):
    """Return a release by any model, of opening and ambient pressure, and its enthalpy at rest."""
    assume(model != "homogeneous non-equilibrium" or t <= 0.9 * fluid.critical_temperature)
    s = fluid.saturation(temperature=t)
    given = {"temperature": t}
    if model in {"liquid", "frozen", "omega", "homogeneous equilibrium"} and pad > 1.0:
        given["pressure"] = pad * float(s.pressure)
        at_rest, x = fluid.liquid(**given).enthalpy, 0.0
    elif model == "superheated":
        given["pressure"] = float(s.pressure) / pad
        at_rest = fluid.gas(**given).enthalpy
    else:
        x = {"liquid": 0.0, "vapor": 1.0}.get(model, x)
        at_rest = s.liquid_enthalpy + x * s.latent_heat
    if model in MODELS:
        given |= {"vapor_fraction": x, "model": model}
    release = {"liquid": liquid_release, "vapor": vapor_release, "superheated": vapor_release}.get(
        model, two_phase_release
    )
    return lambda hole, back: release(fluid, hole, ambient_pressure=back, **given), at_rest


ANY_MODEL = st.sampled_from([*MODELS, "liquid", "vapor", "superheated"])
ANY_VAPOR = st.one_of(st.sampled_from([0.0, 1.0]), finite(0.0, 1.0))
PADS = st.one_of(st.just(1.0), finite(1.01, 3.0))


@settings(max_examples=150, deadline=None)
@given(containers(), ANY_MODEL, ANY_VAPOR, PADS, finite(0.3, 1.0))
def test_mass_momentum_and_energy_close_for_every_model(state, model, x, pad, coefficient):
    fluid, t = state
    run, at_rest = runs(fluid, t, model, x, pad)
    hole = Opening(diameter=0.02, discharge_coefficient=coefficient)
    flow = run(hole, AIR)
    if not flow.mass_flow > 0.0:
        return
    jet = expanded_jet(fluid, hole, flow)
    latent = fluid.saturation(temperature=t).latent_heat
    assert enthalpy(fluid, jet) + 0.5 * jet.velocity**2 == pytest.approx(at_rest, abs=1e-8 * latent)
    push = (flow.throat_pressure - AIR) * hole.effective_area
    assert jet.thrust == pytest.approx(flow.mass_flow * jet.exit_velocity + push, rel=1e-9)
    assert jet.exit_velocity * flow.throat_density * hole.effective_area == pytest.approx(
        flow.mass_flow, rel=1e-12
    )
    area = np.pi / 4 * jet.diameter**2
    assert area * jet.density * jet.velocity == pytest.approx(flow.mass_flow, rel=1e-12)
    assert jet.velocity >= jet.exit_velocity > 0.0


@settings(max_examples=150, deadline=None)
@given(containers(), ANY_MODEL, ANY_VAPOR, PADS)
def test_the_throat_follows_from_momentum_without_friction(state, model, x, pad):
    """Euler: d(u**2/2) = -v dp along a nozzle, here from one unchoked throat to the next."""
    fluid, t = state
    run, _ = runs(fluid, t, model, x, pad)
    hole = Opening(diameter=0.02, discharge_coefficient=1.0)
    p_s = float(fluid.saturation(temperature=t).pressure)
    inside = {"liquid": pad * p_s, "superheated": p_s / pad}.get(model, p_s)
    back = 0.97 * inside * np.array([0.9999, 1.0, 1.0001])
    low, middle, high = (run(hole, p) for p in back)
    if low.choked or not middle.mass_flow > 0.0:
        return
    u = [flow.mass_flux / flow.throat_density for flow in (low, middle, high)]
    v = 0.5 * (u[0] ** 2 - u[2] ** 2) / (back[2] - back[0])
    # second order in the step, and the tables hold 1e-7 of the enthalpy
    assert v == pytest.approx(1.0 / middle.throat_density, rel=2e-4)


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(BLENDS), finite(1.3, 12.0), ANY_VAPOR, st.booleans())
def test_jets_of_blends_close_too(fluid, bar, x, thin):
    t = float(bubble_point(fluid, pressure=bar * 1e5).temperature)
    hole = Opening(diameter=0.02)
    if thin:
        flow, x = liquid_release(fluid, hole, temperature=t), 0.0
    else:
        flow = two_phase_release(fluid, hole, temperature=t, vapor_fraction=x)
    if not flow.mass_flow > 0.0:
        return
    jet = expanded_jet(fluid, hole, flow)
    inside = fluid.blend.flash_vapor(np.array([t]), np.array([x]))
    h = inside.enthalpy[0] / fluid.molar_mass - 0.5 * jet.velocity**2
    outside = equilibrium(fluid, pressure=AIR, enthalpy=h)
    assert jet.temperature == pytest.approx(outside.temperature, abs=1e-3)
    assert jet.vapor_fraction == pytest.approx(outside.vapor_fraction, abs=1e-5)
    assert jet.density == pytest.approx(outside.density, rel=1e-4)
    push = (flow.throat_pressure - AIR) * hole.effective_area
    assert jet.thrust == pytest.approx(flow.mass_flow * jet.exit_velocity + push, rel=1e-9)


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
