"""Limits and directions of flow through lines."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from strategies import finite, fluids

from lpgrelease import Fluid, Opening, two_phase_release
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


GRAVITY = 9.80665
RISES = np.array([-200.0, -100.0, -50.0, -20.0, -5.0, -2.0, -0.1, 0.0, 0.1, 2.0, 10.0, 30.0, 200.0])
falls = st.one_of(finite(-200.0, -0.01), finite(-5.0, -0.01))
mixtures = st.one_of(finite(0.0, 1.0), finite(-9.0, 0.0).map(lambda e: 10.0**e))


@FEW
@given(flows(), finite(0.0, 60.0))
def test_the_first_vapor_changes_nothing_whatever_the_rise(flow, length):
    fluid, t, _ = flow
    line = Line(diameter=0.05, length=length, rise=RISES[:, None])
    flux = line_release(fluid, line, temperature=t, vapor_fraction=[0.0, 1e-9, 1e-7]).mass_flux
    # 1e-6 (1e-4): a share of 1e-9 (1e-7) of vapor, some thousand times as voluminous as liquid
    np.testing.assert_allclose(flux[:, 1], flux[:, 0], rtol=1e-6, atol=1e-6 * flux.max())
    np.testing.assert_allclose(flux[:, 2], flux[:, 0], rtol=1e-4, atol=1e-4 * flux.max())


@FEW
@given(flows(), mixtures, finite(0.0, 60.0))
def test_no_rise_lets_more_pass_than_a_lower_one(flow, x, length):
    fluid, t, _ = flow
    line = Line(diameter=0.05, length=length, rise=RISES)
    flux = line_release(fluid, line, temperature=t, vapor_fraction=x).mass_flux
    assert (np.diff(flux) <= 1e-6 * flux[:-1]).all()
    assert flux[0] > 0.0


def foot_of_a_fall(fluid, t, x, work):
    """Temperature, vapor fraction, pressure where the enthalpy has grown by `work`, at the same entropy."""
    inside = fluid.saturation(temperature=t)
    s = inside.liquid_entropy + x * inside.latent_heat / t
    h = inside.liquid_enthalpy + x * inside.latent_heat + work
    end = fluid.highest_temperature

    def mixture(temperature):
        at = fluid.saturation(temperature=temperature)
        part = (s - at.liquid_entropy) * temperature / at.latent_heat
        return part, at.liquid_enthalpy + part * at.latent_heat, at

    full = end
    if mixture(end)[0] < 0.0:
        full = brentq(lambda u: mixture(u)[0], t * (1 - 1e-9), end, xtol=1e-11)
    missing = h - mixture(full)[1]
    if missing > 0.0:
        at = fluid.saturation(temperature=full)
        return full, 0.0, at.pressure + missing * at.liquid_density
    there = brentq(lambda u: mixture(u)[1] - h, t, full, xtol=1e-11)
    return there, min(mixture(there)[0], 1.0), None


@FEW
@given(flows(), mixtures, falls)
def test_a_fall_gives_what_an_ideal_nozzle_passes_from_its_foot(flow, x, rise):
    """Without friction that is the flow, with it the flow is less."""
    fluid, t, _ = flow
    there, part, p = foot_of_a_fall(fluid, t, x, -GRAVITY * rise)
    if part > 0.9:
        # what is nearly vapor may be compressed to vapor
        return
    line = Line(diameter=0.05, length=[0.0, 1.0, 20.0], fittings=0.0, rise=rise)
    run = line_release(fluid, line, temperature=t, vapor_fraction=x)
    hole = Opening(diameter=0.05, discharge_coefficient=1.0)
    ideal = two_phase_release(
        fluid, hole, temperature=there, vapor_fraction=part, pressure=p, model="homogeneous equilibrium"
    ).mass_flux
    # 1e-2: liquid at the foot is taken with the volume at which it boils; of mixtures it is round-off
    assert run.mass_flux[0] == pytest.approx(ideal, rel=1e-2 if p else 1e-7)
    assert (run.mass_flux[1:] < run.mass_flux[0]).all()


def energy(fluid, run):
    """Enthalpy and kinetic energy in the throat of an opening that has the line's bore [J/kg]."""
    p, x = run.throat_pressure, run.throat_vapor_fraction
    at = fluid.saturation(pressure=p)
    if x < 1.0:
        h = at.liquid_enthalpy + x * at.latent_heat
        v = x / at.vapor_density + (1.0 - x) / at.liquid_density
    else:
        gas = fluid.gas(temperature=max(run.throat_temperature, at.temperature + 1e-6), pressure=p)
        h, v = gas.enthalpy, 1.0 / gas.density
    return h + 0.5 * (run.mass_flux * v) ** 2


@FEW
@given(flows(), mixtures, finite(-200.0, 20.0), finite(0.0, 200.0))
def test_energy_closes_at_the_outlet_of_a_mixture(flow, x, rise, length):
    fluid, t, _ = flow
    run = line_release(fluid, Line(diameter=0.05, length=length, rise=rise), temperature=t, vapor_fraction=x)
    if run.mass_flow == 0.0 or not 0.0 < run.throat_vapor_fraction < 1.0:
        return
    inside = fluid.saturation(temperature=t)
    h_0 = inside.liquid_enthalpy + x * inside.latent_heat - GRAVITY * rise
    # 1e-3 J/kg, of some hundred thousand
    assert energy(fluid, run) == pytest.approx(h_0, abs=1e-3)


@FEW
@given(fluids, finite(0.0, 1.0), finite(0.0, 1.0), finite(-2.0, 3.3))
def test_energy_closes_at_the_outlet_of_superheated_vapor(fluid, reduced, warm, long):
    low, high = 1.3e5, 0.699 * fluid.critical_pressure
    p = low * (high / low) ** reduced
    t_s = float(fluid.saturation(pressure=p).temperature)
    t = min(t_s + 0.1 + 119.9 * warm, fluid.table.highest_gas_temperature)
    run = line_release(fluid, Line(diameter=0.02, length=10.0**long), temperature=t, pressure=p)
    h_0 = fluid.gas(temperature=t, pressure=p).enthalpy
    # 2e-5: the polynomials' error in temperature, times c_p T
    assert energy(fluid, run) == pytest.approx(h_0, abs=2e-5 * 4000.0 * t)
    assert run.throat_temperature < t


@FEW
@given(
    finite(0.97, 1.03), finite(-50.0, 0.0), st.sampled_from(["propane", "n-butane", "ethane", "propylene"])
)
def test_liquid_padded_across_the_critical_pressure(share, rise, name):
    """Nothing happens there to a cold liquid."""
    fluid = Fluid(name)
    t, p = 0.8 * fluid.critical_temperature, share * fluid.critical_pressure
    line = Line(diameter=0.05, length=[0.0, 20.0], fittings=0.0, rise=rise)
    steps = p * (1.0 + np.array([[-1e-3], [0.0], [1e-3]]))
    flux = line_release(fluid, line, temperature=t, pressure=steps, vapor_fraction=0.0).mass_flux
    # of Bernoulli's flow from p to where it boils: half of the pressure's change over the drop; 0.15: the
    # drop is not known better
    drop = p - float(fluid.saturation(temperature=t).pressure) - rise * GRAVITY * 500.0
    change = np.diff(np.log(flux), axis=0) / (0.5e-3 * p / drop)
    assert (np.abs(change - 1.0) < 0.15).all()
