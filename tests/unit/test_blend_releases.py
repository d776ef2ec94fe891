"""Blends through openings: limits, directions, refusals, one case against many."""

import numpy as np
import pytest

import lpgrelease as lr

HOLE = lr.Opening(diameter=0.02, discharge_coefficient=1.0)
BLEND = lr.Fluid({"propane": 0.5, "n-butane": 0.5})
ALMOST = lr.Fluid({"propane": 1.0 - 1e-7, "n-butane": 1e-7})
PROPANE = lr.Fluid("propane")

RELEASES = {
    "vapor": lambda fluid, **more: lr.vapor_release(fluid, HOLE, temperature=293.15, **more),
    "gas": lambda fluid, **more: lr.vapor_release(fluid, HOLE, temperature=330.0, pressure=2.5e5, **more),
    "liquid": lambda fluid, **more: lr.liquid_release(fluid, HOLE, temperature=293.15, head=1.0, **more),
    "boiling": lambda fluid, **more: lr.two_phase_release(fluid, HOLE, temperature=293.15, **more),
    "mixture": lambda fluid, **more: lr.two_phase_release(
        fluid, HOLE, temperature=293.15, vapor_fraction=0.05, **more
    ),
    "padded": lambda fluid, **more: lr.two_phase_release(
        fluid, HOLE, temperature=293.15, pressure=12e5, **more
    ),
}


@pytest.mark.parametrize("name", RELEASES)
def test_a_blend_of_almost_one_component_passes_what_that_component_does(name):
    # the cubic equation against the reference equation; the largest difference is that of the slope of the
    # bubble line, 1 % for propane between 0 and 20 degC
    pure, almost = RELEASES[name](PROPANE), RELEASES[name](ALMOST)
    assert almost.mass_flow == pytest.approx(pure.mass_flow, rel=0.012)
    assert almost.choked == pure.choked
    assert almost.throat_pressure == pytest.approx(pure.throat_pressure, rel=0.012)


@pytest.mark.parametrize("name", RELEASES)
def test_rate_never_rises_with_the_air_pressure(name):
    air = np.linspace(0.9e5, 2.4e5, 7)
    run = RELEASES[name](BLEND, ambient_pressure=air)
    assert np.all(np.diff(run.mass_flow) <= 1e-6 * run.mass_flow[0])
    one = RELEASES[name](BLEND, ambient_pressure=air[3])
    assert one.mass_flow == run.mass_flow[3]
    assert one.throat_pressure == run.throat_pressure[3]


def test_a_nozzle_of_gas_far_from_condensing_is_nearly_that_of_an_ideal_gas():
    # critical flow of a perfect gas; real-gas effects at 1.2 bar and 400 K are below 1 %
    gas = BLEND.gas(temperature=400.0, pressure=2.2e5)
    kappa = gas.speed_of_sound**2 * gas.density / gas.pressure
    ideal = np.sqrt(
        kappa * gas.pressure * gas.density * (2.0 / (kappa + 1.0)) ** ((kappa + 1.0) / (kappa - 1.0))
    )
    run = lr.vapor_release(BLEND, HOLE, temperature=400.0, pressure=2.2e5)
    assert run.choked
    assert run.mass_flux == pytest.approx(ideal, rel=0.005)


def test_nothing_flows_without_drive():
    run = lr.vapor_release(BLEND, HOLE, temperature=[230.0, 293.15])
    assert run.mass_flow[0] == 0.0
    assert not run.choked[0]
    assert run.mass_flow[1] > 0.0


def test_the_vapor_above_a_blend_is_not_the_blend():
    above = lr.vapor_release(BLEND, HOLE, temperature=293.15)
    point = lr.bubble_point(BLEND, temperature=293.15)
    rich = lr.Fluid({"propane": point.vapor_composition[0], "n-butane": point.vapor_composition[1]})
    same = lr.vapor_release(rich, HOLE, temperature=293.15, pressure=point.pressure * (1.0 - 1e-9))
    assert above.mass_flow == pytest.approx(same.mass_flow, rel=1e-6)


def test_omega_is_near_the_isentrope_itself():
    # leung1986omega: the fit at 90 % of the bubble pressure serves within a few per cent away from critical
    exact, fitted = (
        lr.two_phase_release(BLEND, HOLE, temperature=293.15, vapor_fraction=0.05, model=model)
        for model in ("homogeneous equilibrium", "omega")
    )
    assert fitted.mass_flow == pytest.approx(exact.mass_flow, rel=0.03)


@pytest.mark.parametrize("model", ["homogeneous non-equilibrium", "length", "frozen"])
def test_models_of_one_boiling_point_are_refused(model):
    more = {"length": 0.05} if model == "length" else {}
    with pytest.raises(lr.InputError, match="that of a pure fluid; of a blend served: homogeneous"):
        lr.two_phase_release(BLEND, HOLE, temperature=293.15, model=model, **more)


def test_a_line_is_refused_by_name():
    line = lr.Line(length=10.0, diameter=0.05)
    with pytest.raises(lr.InputError, match="is a blend"):
        lr.line_release(BLEND, line, temperature=293.15)


def test_flash_of_a_blend_keeps_enthalpy_and_components():
    after = lr.flash(BLEND, temperature=293.15)
    start = BLEND.saturation(temperature=293.15)
    state = lr.equilibrium(BLEND, pressure=101325.0, enthalpy=start.liquid_enthalpy)
    assert after.temperature == pytest.approx(state.temperature, rel=1e-9)
    assert after.vapor_fraction == pytest.approx(state.vapor_fraction, rel=1e-7)
    assert state.liquid_composition[0] < 0.5 < state.vapor_composition[0]
    kept = lr.flash(BLEND, temperature=293.15, path="isentropic")
    assert 0.0 < kept.vapor_fraction < after.vapor_fraction
    assert kept.enthalpy_drop > 0.0


def test_a_cold_blend_does_not_flash():
    cold = lr.flash(BLEND, temperature=230.0)
    assert cold.vapor_fraction == 0.0
    assert cold.temperature == pytest.approx(230.0, abs=0.1)
