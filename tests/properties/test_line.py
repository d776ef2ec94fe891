"""Limits and directions of flow through lines."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import finite, fluids

from lpgrelease import Opening, two_phase_release
from lpgrelease.release.line import Line, line_release

FEW = settings(max_examples=25, deadline=None)


@st.composite
def flows(draw):
    """A fluid, a temperature at which it stands 1.1 to 15 bar, and a vapor fraction."""
    fluid = draw(fluids)
    pressure = draw(finite(1.1, min(15e5, 0.6 * fluid.critical_pressure) / 101325.0)) * 101325.0
    return (
        fluid,
        float(fluid.saturation(pressure=pressure).temperature),
        draw(st.sampled_from([0.0, 0.2, 1.0])),
    )


@FEW
@given(flows(), finite(0.2, 1.0))
def test_a_line_becomes_an_orifice_as_its_length_goes_to_zero(flow, coefficient):
    fluid, t, x = flow
    hole = Opening(diameter=0.05, discharge_coefficient=coefficient)
    orifice = two_phase_release(fluid, hole, temperature=t, vapor_fraction=x)
    lines = Line(
        diameter=0.05, length=[1.0, 1e-2, 1e-4, 0.0], fittings=0.0, discharge_coefficient=coefficient
    )
    run = line_release(fluid, lines, temperature=t, vapor_fraction=x)
    short = run.mass_flux / orifice.mass_flux
    assert (np.diff(short) >= -1e-9).all()
    # a length of 1e-4 m holds 4e-5 of a velocity head; 2e-3: the path's nodes where the path is all inlet
    assert short[2] == pytest.approx(1.0, abs=2e-3)
    assert short[3] == pytest.approx(1.0, abs=1e-9)
    assert bool(run.choked[3]) == bool(orifice.choked)


@FEW
@given(flows())
def test_longer_rougher_higher_or_more_bent_lines_pass_less(flow):
    fluid, t, x = flow
    ways = {
        "length": [0.5, 2.0, 10.0, 100.0],
        "fittings": [0.0, 1.0, 10.0, 100.0],
        "roughness": [1e-6, 1e-5, 1e-4, 1e-3],
        "rise": [-5.0, -1.0, 1.0, 5.0],
        "discharge_coefficient": [1.0, 0.8, 0.5, 0.1],
    }
    for name, values in ways.items():
        line = Line(**{"diameter": 0.05, "length": 5.0, name: values})
        flux = line_release(fluid, line, temperature=t, vapor_fraction=x).mass_flux
        assert (np.diff(flux) < 1e-6 * flux[0]).all(), name


@FEW
@given(flows(), finite(0.0, 60.0))
def test_the_rate_never_rises_with_back_pressure(flow, length):
    fluid, t, x = flow
    p = float(fluid.saturation(temperature=t).pressure)
    back = np.linspace(0.1, 1.05, 40) * p
    back = back[back > 3e4]
    run = line_release(
        fluid, Line(diameter=0.05, length=length), temperature=t, vapor_fraction=x, ambient_pressure=back
    )
    # 5e-4: each back pressure has its own nodes along the path
    assert (np.diff(run.mass_flux) <= 5e-4 * run.mass_flux.max()).all()
    assert (run.mass_flux[back > p * (1 + 1e-9)] == 0.0).all()


@FEW
@given(flows(), finite(0.0, 60.0))
def test_a_small_outlet_decides_alone(flow, length):
    """With an outlet of a hundredth of the bore the line's friction hardly counts."""
    fluid, t, x = flow
    line = Line(diameter=0.05, length=length, discharge_coefficient=0.01)
    run = line_release(fluid, line, temperature=t, vapor_fraction=x)
    hole = Opening(diameter=0.05, discharge_coefficient=0.01)
    orifice = two_phase_release(fluid, hole, temperature=t, vapor_fraction=x)
    heads = 1.0 + 1.0 * 0.04 * length / 0.05
    # saturated liquid boils on the way, and its flux falls steeply with the first vapor
    assert orifice.mass_flux * (1 - 30e-4 * heads) <= run.mass_flux <= orifice.mass_flux * (1 + 1e-9)


@FEW
@given(flows(), finite(1.0, 60.0))
def test_the_outlet_is_colder_and_thinner_than_the_inlet(flow, length):
    fluid, t, x = flow
    run = line_release(fluid, Line(diameter=0.05, length=length), temperature=t, vapor_fraction=x)
    p = float(fluid.saturation(temperature=t).pressure)
    assert 101325.0 * (1 - 1e-9) <= run.throat_pressure < p
    assert run.throat_temperature < t
    assert 0.0 <= run.throat_vapor_fraction <= 1.0
    assert x == 1.0 or run.throat_vapor_fraction > x
