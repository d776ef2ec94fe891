"""Release rates: bounds, directions, continuity and limits, for any fluid."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from strategies import IN_THE_OPEN, UNITS, every_fluid, finite, fluids

from lpgrelease import Fluid, Opening, liquid_release, two_phase_release, vapor_release

HOLE = Opening(diameter=0.02, discharge_coefficient=1.0)


@st.composite
def inlets(draw: Any, reduced: float = 0.99) -> tuple[Fluid, float, float]:
    """A fluid, a saturation temperature [K] that its nozzle serves, and an ambient pressure below it [Pa]."""
    fluid = draw(fluids)
    table = fluid.table
    low = max(table.lowest_nozzle_temperature, 150.0) + 2.0
    t = draw(finite(low + 20.0, reduced * table.critical_temperature))
    back = draw(finite(low, t - 0.5))
    return fluid, t, float(fluid.saturation(temperature=back).pressure)


def flux(fluid, t, ambient, kind):
    if kind == "vapor":
        return vapor_release(fluid, HOLE, temperature=t, ambient_pressure=ambient).mass_flux
    if kind == "liquid":
        return liquid_release(fluid, HOLE, temperature=t, ambient_pressure=ambient).mass_flux
    x = float(kind)
    return two_phase_release(fluid, HOLE, temperature=t, vapor_fraction=x, ambient_pressure=ambient).mass_flux


@given(inlets(), st.sampled_from(["vapor", "liquid", "0.0", "0.3", "1.0"]))
def test_flux_never_rises_with_the_pressure_outside(drawn, kind):
    fluid, t, ambient = drawn
    p = float(fluid.saturation(temperature=t).pressure)
    outside = np.linspace(ambient, 1.02 * p, 200)
    outside = outside[outside <= fluid.saturation(temperature=fluid.highest_temperature).pressure]
    found = flux(fluid, t, outside, kind)
    # 1e-7 of the largest: a choked flux and the unchoked one beside it come by two ways
    assert (np.diff(found) <= 1e-7 * found.max()).all()
    assert (found[outside >= p] == 0.0).all()
    assert (found[outside < 0.999 * p] > 0.0).all()


@given(inlets(), st.sampled_from(["vapor", "0.0", "0.3"]))
def test_no_step_where_choking_begins(drawn, kind):
    fluid, t, ambient = drawn
    release = (
        vapor_release(fluid, HOLE, temperature=t, ambient_pressure=ambient)
        if kind == "vapor"
        else two_phase_release(
            fluid, HOLE, temperature=t, vapor_fraction=float(kind), ambient_pressure=ambient
        )
    )
    assume(release.choked)
    beside = float(release.throat_pressure) * np.array([1.0 - 1e-6, 1.0 + 1e-6])
    below, above = flux(fluid, t, beside, kind)
    # flat at a smooth maximum; at a corner, where the isentrope meets the dome, within the slope times 2e-6
    assert above == pytest.approx(below, rel=1e-5)


@given(inlets(reduced=0.95))
def test_superheat_starts_from_saturation(drawn):
    fluid, t, ambient = drawn
    p = float(fluid.saturation(temperature=t).pressure)
    saturated = vapor_release(fluid, HOLE, temperature=t, ambient_pressure=ambient)
    touching = vapor_release(fluid, HOLE, temperature=t, pressure=p * (1.0 - 1e-9), ambient_pressure=ambient)
    assert touching.mass_flux == pytest.approx(float(saturated.mass_flux), rel=1e-5)
    assert saturated.mass_flux == pytest.approx(float(flux(fluid, t, ambient, "1.0")), rel=1e-5)


@given(inlets(reduced=0.95), finite(0.0, 1.0))
def test_liquid_passes_more_than_a_mixture_and_that_more_than_vapor(drawn, x):
    fluid, t, ambient = drawn
    liquid, mixture, vapor = (float(flux(fluid, t, ambient, kind)) for kind in ("liquid", str(x), "vapor"))
    assert vapor * (1 - 1e-6) <= mixture <= liquid * (1 + 1e-6)


@given(inlets(), finite(1e-4, 1.0), finite(0.05, 1.0))
def test_flow_goes_with_the_square_of_the_diameter(drawn, diameter, coefficient):
    fluid, t, ambient = drawn
    own = vapor_release(
        fluid,
        Opening(diameter=diameter, discharge_coefficient=coefficient),
        temperature=t,
        ambient_pressure=ambient,
    )
    unit = vapor_release(fluid, HOLE, temperature=t, ambient_pressure=ambient)
    expected = coefficient * (diameter / 0.02) ** 2 * unit.mass_flow
    assert own.mass_flow == pytest.approx(float(expected), rel=1e-12)


@given(inlets())
def test_the_throat_lies_between(drawn):
    fluid, t, ambient = drawn
    p = float(fluid.saturation(temperature=t).pressure)
    flow = vapor_release(fluid, HOLE, temperature=t, ambient_pressure=ambient)
    assert ambient * (1 - 1e-12) <= flow.throat_pressure < p
    assert flow.throat_temperature < t
    assert 0.0 < flow.throat_vapor_fraction <= 1.0
    assert flow.choked == (flow.throat_pressure > ambient) or flow.throat_pressure == pytest.approx(ambient)


@given(inlets(reduced=0.9))
def test_any_units(drawn):
    fluid, t, ambient = drawn
    si = vapor_release(fluid, HOLE, temperature=t, ambient_pressure=ambient)
    other = vapor_release(
        fluid,
        Opening(diameter=UNITS.Quantity(0.02, "m").to("inch"), discharge_coefficient=1.0),
        temperature=UNITS.Quantity(t, "K").to("degF"),
        ambient_pressure=UNITS.Quantity(ambient, "Pa").to("psi"),
    )
    assert other.mass_flow == pytest.approx(float(si.mass_flow), rel=1e-9)


@pytest.mark.parametrize("name", IN_THE_OPEN)
def test_flux_is_continuous_in_temperature_through_choking_and_saturation(name):
    fluid = Fluid(name)
    boiling = fluid.normal_boiling_point
    t = np.linspace(boiling - 1.0, boiling + 30.0, 4001)
    found = vapor_release(fluid, HOLE, temperature=t).mass_flux
    steps = np.diff(found)
    assert (found[t < boiling] == 0.0).all()
    assert (steps >= 0.0).all()
    # from rest it grows as the square root of the superheat, so that no later step is as large as the first
    start = int(np.argmax(t >= boiling))
    assert steps[start + 1 :].max() < found[start + 1]
    # and it bends, never jumps, where choking begins
    assert np.abs(np.diff(steps[start + 20 :])).max() < 5e-5 * found.max()


@given(every_fluid, finite(0.0, 0.4), finite(0.05, 1.0), finite(0.0, 0.999))
def test_cold_liquid_under_pressure_follows_bernoulli(fluid, warm, part, left):
    """However far above its boiling pressure it stands: a liquid is all but incompressible."""
    low, critical = fluid.lowest_temperature, fluid.table.critical_temperature
    t = low + warm * (critical - low)
    p_s = float(fluid.saturation(temperature=t).pressure)
    top = 0.99 * fluid.critical_pressure
    p = p_s + part * (top - p_s)
    outside = p_s + left * (p - p_s)
    run = two_phase_release(
        fluid,
        HOLE,
        temperature=t,
        pressure=p,
        ambient_pressure=outside,
        model="homogeneous equilibrium",
    )
    density = fluid.liquid(temperature=t, pressure=p).density
    # 0.02: it expands a little on the way, by up to some hundredths at the warm end
    assert run.mass_flux == pytest.approx(np.sqrt(2.0 * density * (p - outside)), rel=0.02)


@given(every_fluid, st.sampled_from([0.0, 0.5, 1.0]), finite(-12.0, -1.0), finite(0.05, 0.95))
def test_the_throat_holds_from_no_vapor_to_all(fluid, x, gap, warm):
    low = fluid.table.lowest_nozzle_temperature + 1.0
    t = low + warm * (0.98 * fluid.table.critical_temperature - low)
    p = float(fluid.saturation(temperature=t).pressure)
    outside = p * (1.0 + 10.0**gap * np.array([-1.0, 0.0, 1.0]))
    outside = outside[outside < fluid.saturation(temperature=fluid.highest_temperature).pressure]
    outside = outside[outside > fluid.saturation(temperature=fluid.lowest_temperature).pressure]
    delayed = ["homogeneous non-equilibrium"] if t <= 0.9 * fluid.critical_temperature else []
    for model in ("homogeneous equilibrium", *delayed):
        run = two_phase_release(
            fluid, HOLE, temperature=t, vapor_fraction=x, ambient_pressure=outside, model=model
        )
        assert (run.throat_vapor_fraction >= 0.0).all()
        assert (run.throat_vapor_fraction <= 1.0).all()
