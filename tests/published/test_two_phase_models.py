"""Two-phase models against worked examples, printed roots and CoolProp's own isentropes."""

from __future__ import annotations

import CoolProp
import numpy as np
import pytest
from published_tables import read_table, si

from lpgrelease import Fluid, Opening, two_phase_release
from lpgrelease.release.inlet import isentrope_flux
from lpgrelease.release.non_equilibrium import equilibrium_rate_flux
from lpgrelease.release.omega import (
    omega_critical_ratio,
    omega_flow,
    omega_from_densities,
    omega_from_properties,
)

IDEAL = Opening(diameter=1.0, discharge_coefficient=1.0)


@pytest.mark.parametrize("row", read_table("omega_critical_ratio").rows)
def test_critical_ratio_of_saturated_inlets(row):
    omega = float(row["omega"])
    flow = omega_flow(omega, pressure=1.0, density=1.0, back_pressure=0.0)
    # half a unit of the fifth digit, as tabulated
    assert omega_critical_ratio(omega) == pytest.approx(float(row["eta_c"]), abs=5e-6)
    assert flow.pressure_ratio == omega_critical_ratio(omega)
    assert flow.flux == pytest.approx(float(row["normalized_flux"]), abs=5e-6)


def test_omega_one_chokes_at_the_ratio_of_an_isothermal_gas():
    assert omega_critical_ratio(1.0) == pytest.approx(np.exp(-0.5), rel=1e-14)


def test_subcooled_propane_of_the_sizing_standard():
    (row,) = read_table("two_phase_subcooled_api520").rows
    p0, back, p_s = (si(row[name], "bar", "Pa") for name in ("p0_bara", "pa_bara", "ps_bara"))
    density = float(row["rho_l0_kg_m3"])
    omega = omega_from_densities(density, expanded_density=float(row["rho_9_kg_m3"]))
    # the example rounds its ratio of densities: 8.515 against 8.517
    assert omega == pytest.approx(float(row["omega_s"]), abs=2.5e-3)
    assert 2 * omega / (1 + 2 * omega) == pytest.approx(float(row["eta_st"]), abs=1e-4)
    flow = omega_flow(omega, pressure=p0, density=density, saturation_pressure=p_s, back_pressure=back)
    assert flow.choked
    assert flow.pressure_ratio * p0 == pytest.approx(p_s, rel=1e-12)  # high subcooling: choked at saturation
    assert flow.flux == pytest.approx(float(row["flux_kg_m2_s"]), abs=50.0)
    flow_rate = si(row["Q_L_min"], "L/min", "m**3/s") * density
    area = flow_rate / (float(row["discharge_coefficient"]) * flow.flux)
    assert area * 1e6 == pytest.approx(float(row["area_mm2"]), abs=0.05)


@pytest.mark.parametrize("row", read_table("omega_parameter").rows)
def test_omega_of_saturated_liquid(row):
    s = Fluid(row["fluid"]).saturation(temperature=float(row["T_C"]) + 273.15)
    omega = omega_from_properties(
        s.temperature,
        saturation_pressure=s.pressure,
        liquid_density=s.liquid_density,
        vapor_density=s.vapor_density,
        latent_heat=s.latent_heat,
        liquid_heat_capacity=s.liquid_heat_capacity,
    )
    assert omega == pytest.approx(float(row["omega"]), abs=5e-4)  # half a unit of the last digit


WATER = [row for row in read_table("two_phase_flux").rows if row["fluid"] == "water"]


@pytest.mark.parametrize("row", WATER)
def test_equilibrium_flow_of_water_along_coolprops_isentrope(row):
    state = CoolProp.AbstractState("HEOS", "Water")
    p0 = float(row["p_MPa"]) * 1e6
    state.update(CoolProp.PQ_INPUTS, p0, float(row["x"]))
    h0, s0 = state.hmass(), state.smass()
    p = p0 * np.linspace(1.0, 0.3, 150)
    h, v = np.empty_like(p), np.empty_like(p)
    for i, pressure in enumerate(p):
        state.update(CoolProp.PSmass_INPUTS, pressure, s0)
        h[i], v[i] = state.hmass(), 1.0 / state.rhomass()
    flux, throat = isentrope_flux(p, enthalpy=h, specific_volume=v, stagnation_enthalpy=h0)
    assert flux == pytest.approx(float(row["flux_kg_m2_s"]), abs=0.6)  # printed to the unit
    assert 0.4 * p0 < throat < p0


RATES = [row for row in read_table("two_phase_flux").rows if row["model"] == "equilibrium rate"]


@pytest.mark.parametrize("row", RATES)
def test_equilibrium_rate(row):
    fluid, t = Fluid(row["fluid"]), float(row["T_C"]) + 273.15
    s = fluid.saturation(temperature=t)
    flux = equilibrium_rate_flux(
        t,
        liquid_density=s.liquid_density,
        vapor_density=s.vapor_density,
        latent_heat=s.latent_heat,
        liquid_heat_capacity=s.liquid_heat_capacity,
    )
    assert flux == pytest.approx(float(row["flux_kg_m2_s"]), abs=0.6)
    long = two_phase_release(fluid, IDEAL, temperature=t, model="length", length=0.1)
    assert long.mass_flux == pytest.approx(flux, rel=1e-12)
    assert long.choked


@pytest.mark.parametrize("name", ["propane", "ammonia", "n-butane"])
@pytest.mark.parametrize("padding", [1.02, 1.3, 4.0])
def test_padded_liquid_against_a_search_along_coolprops_isentrope(name, padding):
    fluid, state = Fluid(name), CoolProp.AbstractState("HEOS", Fluid(name).substance.coolprop_name)
    t = 300.0
    p0 = padding * float(fluid.saturation(temperature=t).pressure)
    state.update(CoolProp.PT_INPUTS, p0, t)
    h0, s0 = state.hmass(), state.smass()

    def flux(pressure):
        state.update(CoolProp.PSmass_INPUTS, pressure, s0)
        return state.rhomass() * np.sqrt(2.0 * max(h0 - state.hmass(), 0.0))

    p = p0 * np.linspace(1.0, 0.15, 200)
    best = p[np.argmax([flux(x) for x in p])]
    fine = best + (p[1] - p[0]) * np.linspace(-1.0, 1.0, 401)
    largest = max(flux(x) for x in fine)
    flow = two_phase_release(fluid, IDEAL, temperature=t, pressure=p0)
    # 1e-4: the flux has a corner where boiling begins, and the fine grid's step is 2e-5 of the pressure
    assert flow.mass_flux == pytest.approx(largest, rel=1e-4)


@pytest.mark.parametrize(
    ("name", "kelvin", "bar", "outside"),
    [
        ("n-pentane", 164.14, 18.121, 17.757),
        ("isopentane", 127.68, 21.74, 15.60),
        ("isobutane", 145.8, 38.5, 35.8),
        ("propane", 150.0, 40.0, 2.0),
    ],
)
def test_cold_liquid_let_down_along_coolprops_isentrope(name, kelvin, bar, outside):
    """It stands under ten thousand to ten million times the pressure at which it boils."""
    fluid, state = Fluid(name), CoolProp.AbstractState("HEOS", Fluid(name).substance.coolprop_name)
    state.update(CoolProp.PT_INPUTS, bar * 1e5, kelvin)
    h0, s0 = state.hmass(), state.smass()
    state.update(CoolProp.PSmass_INPUTS, outside * 1e5, s0)
    flux = state.rhomass() * np.sqrt(2.0 * (h0 - state.hmass()))
    flow = two_phase_release(
        fluid, IDEAL, temperature=kelvin, pressure=bar * 1e5, ambient_pressure=outside * 1e5
    )
    # 1e-6: the difference of two enthalpies by two packages
    assert flow.mass_flux == pytest.approx(flux, rel=1e-6)
    assert flow.throat_temperature == pytest.approx(state.T(), abs=1e-6)
    assert not flow.choked
