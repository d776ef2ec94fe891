"""Jets and drops: refusals, shapes, neighbors."""

from __future__ import annotations

import numpy as np
import pytest

from lpgrelease import (
    Fluid,
    InputError,
    Opening,
    OutOfRangeError,
    ValidityWarning,
    liquid_release,
    two_phase_release,
    vapor_release,
)
from lpgrelease.release.drops import aerodynamic_drop_diameter, drop_fall, rain_out_by_flash
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
    assert jet.temperature == 220.0
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


def test_rule_of_thumb_at_its_ends():
    share = rain_out_by_flash([0.0, 0.2, 0.5, 0.8, 1.0])
    np.testing.assert_allclose(share.airborne_drops, [0.0, 0.2, 0.5, 0.2, 0.0], atol=1e-12)
    np.testing.assert_allclose(share.rain_out, [1.0, 0.6, 0.0, 0.0, 0.0], atol=1e-12)
    assert (rain_out_by_flash(0.3, entrained_per_vapor=0.0).rain_out) == pytest.approx(0.7)
