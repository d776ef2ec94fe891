"""Jets and drops: refusals, shapes, neighbors."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from lpgrelease import (
    Fluid,
    InputError,
    Opening,
    OutOfRangeError,
    ValidityWarning,
    bubble_point,
    equilibrium,
    liquid_release,
    two_phase_release,
    vapor_release,
)
from lpgrelease.release.drops import aerodynamic_drop_diameter, drop_fall, rain_out_by_flash
from lpgrelease.release.ideal_gas import ideal_gas_release
from lpgrelease.release.jet import expanded_jet
from lpgrelease.release.line import Line, line_release

PROPANE = Fluid("propane")
HOLE = Opening(diameter=0.02)


def test_takes_every_kind_of_release():
    hose = Line(diameter=0.025, length=10.0)
    warm = 293.15
    liquid = expanded_jet(PROPANE, HOLE, liquid_release(PROPANE, HOLE, temperature=warm))
    vapor = expanded_jet(PROPANE, HOLE, vapor_release(PROPANE, HOLE, temperature=warm))
    mixed = expanded_jet(
        PROPANE, HOLE, two_phase_release(PROPANE, HOLE, temperature=warm, vapor_fraction=0.1)
    )
    far = expanded_jet(PROPANE, hose, line_release(PROPANE, hose, temperature=warm, vapor_fraction=0.0))
    assert vapor.velocity > mixed.velocity > liquid.velocity
    assert liquid.vapor_fraction < mixed.vapor_fraction < vapor.vapor_fraction
    assert far.vapor_fraction == pytest.approx(liquid.vapor_fraction, abs=0.03)
    for jet in (liquid, mixed, far):
        assert jet.temperature == pytest.approx(PROPANE.normal_boiling_point, abs=1e-6)


def test_a_cold_liquid_stays_liquid():
    flow = liquid_release(PROPANE, HOLE, temperature=220.0, pressure=5e5)
    jet = expanded_jet(PROPANE, HOLE, flow)
    assert jet.vapor_fraction == 0.0
    # without heat or friction a liquid keeps its entropy, and cools by a tenth of a kelvin
    inside = PROPANE.liquid(temperature=220.0, pressure=5e5)
    outside = PROPANE.liquid(temperature=jet.temperature, pressure=101325.0)
    assert outside.entropy == pytest.approx(inside.entropy, abs=0.02)
    assert jet.temperature == pytest.approx(219.87, abs=0.02)
    assert jet.density == pytest.approx(outside.density, rel=1e-12)
    assert jet.thrust == pytest.approx(flow.mass_flow * jet.velocity, rel=1e-12)
    # the jet is as wide as its contraction: C_d of the hole's area
    assert jet.diameter == pytest.approx(0.02 * np.sqrt(0.62), rel=1e-3)


def test_gas_far_from_boiling_is_all_vapor_and_not_more():
    flow = vapor_release(PROPANE, HOLE, temperature=320.0, pressure=3e5)
    jet = expanded_jet(PROPANE, HOLE, flow)
    assert jet.vapor_fraction == 1.0
    gas = PROPANE.gas(temperature=jet.temperature, pressure=101325.0)
    assert jet.density == pytest.approx(gas.density, rel=1e-9)
    # what the gas had as enthalpy it has as enthalpy and speed
    start = PROPANE.gas(temperature=320.0, pressure=3e5)
    assert start.enthalpy - gas.enthalpy == pytest.approx(0.5 * jet.velocity**2, rel=1e-6)


def test_no_flow_no_jet():
    flow = vapor_release(PROPANE, HOLE, temperature=[225.0, 300.0])
    jet = expanded_jet(PROPANE, HOLE, flow)
    assert jet.velocity[0] == jet.thrust[0] == jet.diameter[0] == 0.0
    assert np.isfinite(jet.density).all()
    assert jet.velocity[1] > 200.0


def test_neighbors_do_not_matter():
    t = np.linspace(232.0, 340.0, 50)
    together = expanded_jet(PROPANE, HOLE, vapor_release(PROPANE, HOLE, temperature=t))
    alone = expanded_jet(PROPANE, HOLE, vapor_release(PROPANE, HOLE, temperature=t[31]))
    assert alone.velocity == together.velocity[31]
    assert alone.temperature == together.temperature[31]
    fall = drop_fall(PROPANE, diameter=np.geomspace(1e-5, 1e-3, 50), height=2.0)
    one = drop_fall(PROPANE, diameter=np.geomspace(1e-5, 1e-3, 50)[44], height=2.0)
    assert one.mass_left == fall.mass_left[44]
    assert one.fall_time == fall.fall_time[44]


@pytest.mark.parametrize("model", ["omega", "homogeneous non-equilibrium", "frozen"])
def test_neighbors_do_not_matter_to_jets_of_any_model(model):
    t, x = np.linspace(232.0, 332.0, 50), np.linspace(0.0, 1.0, 50)
    together = two_phase_release(PROPANE, HOLE, temperature=t, vapor_fraction=x, model=model)
    jets = expanded_jet(PROPANE, HOLE, together)
    for i in (0, 23, 49):
        alone = two_phase_release(PROPANE, HOLE, temperature=t[i], vapor_fraction=x[i], model=model)
        jet = expanded_jet(PROPANE, HOLE, alone)
        assert alone.throat_temperature == together.throat_temperature[i]
        assert (jet.velocity, jet.temperature) == (jets.velocity[i], jets.temperature[i])
    cold = np.linspace(190.0, 228.0, 20)
    liquids = expanded_jet(PROPANE, HOLE, liquid_release(PROPANE, HOLE, temperature=cold, pressure=5e6))
    liquid = expanded_jet(PROPANE, HOLE, liquid_release(PROPANE, HOLE, temperature=cold[7], pressure=5e6))
    assert (liquid.temperature, liquid.density) == (liquids.temperature[7], liquids.density[7])


def test_refusals():
    flow = vapor_release(PROPANE, HOLE, temperature=300.0)
    with pytest.raises(InputError, match="source must be an Opening or a Line, got 3"):
        expanded_jet(PROPANE, 3, flow)
    with pytest.raises(InputError, match="release must be a ReleaseRate"):
        expanded_jet(PROPANE, HOLE, 4.0)
    with pytest.raises(InputError, match="fluid must be a Fluid"):
        expanded_jet("propane", HOLE, flow)
    with pytest.raises(OutOfRangeError, match=r"critical_weber_number = 30 .*\[10, 20\].*measured ones"):
        aerodynamic_drop_diameter(PROPANE, velocity=50.0, critical_weber_number=30.0)
    with pytest.raises(OutOfRangeError, match=r"velocity = 0 m/s .*the lower end excluded"):
        aerodynamic_drop_diameter(PROPANE, velocity=0.0)
    with pytest.raises(OutOfRangeError, match=r"vapor_fraction = 1.1 .*a mass fraction"):
        rain_out_by_flash(1.1)
    with pytest.raises(OutOfRangeError, match=r"air_temperature over the boiling point = -0"):
        drop_fall(Fluid("n-butane"), diameter=1e-4, height=1.0, air_temperature=272.0)
    with pytest.raises(OutOfRangeError, match=r"Reynolds number of the drop = .*\[?.*800.*extrapolate=True"):
        drop_fall(PROPANE, diameter=5e-3, height=1.0)
    with pytest.raises(InputError, match="fluid must be a Fluid, got 'propane'"):
        drop_fall("propane", diameter=1e-4, height=1.0)
    with pytest.warns(ValidityWarning, match="outside Reynolds number of the drop up to 800"):
        large = drop_fall(PROPANE, diameter=5e-3, height=1.0, extrapolate=True)
    assert large.provenance.outside_validity == ("Reynolds number of the drop up to 800",)
    assert large.mass_left > 0.95


@pytest.mark.parametrize("length", [0.0, 0.02, 0.0999, 0.1, 1.0])
def test_a_model_without_a_throat_has_no_jet(length):
    flow = two_phase_release(PROPANE, HOLE, temperature=293.15, model="length", length=length)
    assert flow.throat_density is None
    with pytest.raises(InputError, match=r'model "length" says nothing of its throat.*"frozen"'):
        expanded_jet(PROPANE, HOLE, flow)


def test_more_speed_than_there_is_energy_is_refused():
    flow = two_phase_release(PROPANE, HOLE, temperature=300.0, vapor_fraction=0.5)
    thinned = dataclasses.replace(flow, throat_density=flow.throat_density / 20.0)
    with pytest.raises(OutOfRangeError, match=r"velocity of the jet = .*more speed than there is energy"):
        expanded_jet(PROPANE, HOLE, thinned)


def test_a_release_of_another_kind_of_fluid_is_refused():
    blend = Fluid({"propane": 0.5, "n-butane": 0.5})
    with pytest.raises(InputError, match="release is not of this fluid: propane"):
        expanded_jet(PROPANE, HOLE, liquid_release(blend, HOLE, temperature=293.15))
    with pytest.raises(InputError, match="release is not of this fluid: 50 %"):
        expanded_jet(blend, HOLE, liquid_release(PROPANE, HOLE, temperature=293.15))
    gas = ideal_gas_release(
        HOLE, temperature=293.15, pressure=8e5, molar_mass=0.0441, heat_capacity_ratio=1.13
    )
    with pytest.raises(InputError, match="ideal gas carries no enthalpy; take vapor_release"):
        expanded_jet(PROPANE, HOLE, gas)


def test_a_blend_in_any_shape_carries_what_flows():
    blend = Fluid({"propane": 0.7, "n-butane": 0.3})
    t, back = np.array([[280.0], [300.0]]), np.array([1.0e5, 1.5e5, 3e6])
    flow = vapor_release(blend, HOLE, temperature=t, ambient_pressure=back)
    assert flow.composition.shape == (2, 3, 2)
    bubble = bubble_point(blend, temperature=280.0)
    np.testing.assert_allclose(flow.composition[0, 1], bubble.vapor_composition, rtol=1e-9)
    jet = expanded_jet(blend, HOLE, flow, ambient_pressure=back)
    alone = vapor_release(blend, HOLE, temperature=300.0, ambient_pressure=1.5e5)
    one = expanded_jet(blend, HOLE, alone, ambient_pressure=1.5e5)
    assert jet.thrust.shape == (2, 3)
    assert (one.velocity, one.temperature) == (jet.velocity[1, 1], jet.temperature[1, 1])
    assert (jet.velocity[:, 2] == 0.0).all()
    assert np.isfinite(jet.density).all()
    # the jet of the vapor is that of a blend of the vapor's composition
    vapor = Fluid(dict(zip(blend.components, (float(y) for y in alone.composition), strict=True)))
    inside = equilibrium(vapor, temperature=300.0, pressure=bubble_point(blend, temperature=300.0).pressure)
    left = inside.enthalpy - 0.5 * one.velocity**2
    outside = equilibrium(vapor, pressure=1.5e5, enthalpy=left)
    assert one.temperature == pytest.approx(outside.temperature, abs=1e-3)
    assert one.vapor_fraction == pytest.approx(outside.vapor_fraction, abs=1e-5)
    assert one.density == pytest.approx(outside.density, rel=1e-4)


def test_rule_of_thumb_at_its_ends():
    share = rain_out_by_flash([0.0, 0.2, 0.5, 0.8, 1.0])
    np.testing.assert_allclose(share.airborne_drops, [0.0, 0.2, 0.5, 0.2, 0.0], atol=1e-12)
    np.testing.assert_allclose(share.rain_out, [1.0, 0.6, 0.0, 0.0, 0.0], atol=1e-12)
    assert (rain_out_by_flash(0.3, entrained_per_vapor=0.0).rain_out) == pytest.approx(0.7)
