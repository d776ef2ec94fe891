"""Every property against CoolProp's reference equations, from which the tables were fitted.

The tables promise 1e-7 from the higher of triple point and 150 K to 0.98 of the critical temperature.
"""

from __future__ import annotations

import csv
import dataclasses

import CoolProp
import numpy as np
import pytest
from fluid_accuracy import FIELDS, FILE, Worst, coldest, errors, reference, sample, worst_errors
from strategies import FLUIDS

import lpgrelease as lr

THERMODYNAMIC = [f for f in FIELDS if not f.endswith(("viscosity", "conductivity"))]
VISCOSITIES = [f for f in FIELDS if f.endswith("viscosity")]
CONDUCTIVITIES = [f for f in FIELDS if f.endswith("conductivity")]
FITTED = {"1,3-butadiene", "methylamine", "propylene oxide"}
"""Without an equation in CoolProp: their tables are held to the equations fitted here."""
WITHOUT_VISCOSITY = FITTED | {"1-butene", "isobutene", "ethylene", "vinyl chloride", "methyl chloride"}
WITHOUT_VISCOSITY |= {"ethylene oxide", "sulfur dioxide", "chlorine", "nitrous oxide"}
WITHOUT_CONDUCTIVITY = WITHOUT_VISCOSITY | {"dimethyl ether"}


@pytest.fixture(scope="module", params=FLUIDS)
def fluid(request):
    return lr.Fluid(request.param)


@pytest.fixture(scope="module")
def found(fluid):
    """Errors below 0.98 of the critical temperature, at temperatures that no fitting point shares."""
    number = 40 if fluid.name in FITTED else 300
    return errors(fluid, sample(fluid, coldest(fluid), 0.98 * fluid.critical_temperature, number, seed=5))


def test_thermodynamic_fields_agree_to_1e_7(found):
    # the promise; enthalpies relative to the latent heat where that is larger, see fluid_accuracy.py
    without = {field for field in THERMODYNAMIC if np.isnan(found[field]).all()}
    assert without <= {"surface_tension"}
    worst = {field: found[field].max() for field in THERMODYNAMIC if field not in without}
    assert {field: error for field, error in worst.items() if not error < 1e-7} == {}


def test_viscosities_agree_to_1e_6_where_coolprop_has_them(fluid, found):
    for field in VISCOSITIES:
        if fluid.name in WITHOUT_VISCOSITY:
            assert np.isnan(found[field]).all()
        else:
            assert np.nanmax(found[field]) < 1e-6, field


def test_conductivities_agree_to_1e_6_where_coolprop_has_them(fluid, found):
    for field in CONDUCTIVITIES:
        if fluid.name in WITHOUT_CONDUCTIVITY:
            assert np.isnan(found[field]).all()
            continue
        # one segment of 128 holds a kink of the source, where its critical enhancement is cut off in the
        # cold liquid; the polynomial rounds it by 2e-5, a thousandth of the correlation's uncertainty
        assert np.nanmax(found[field]) < 3e-5, field
        assert np.nanmean(found[field] > 1e-6) < 0.02, field


def test_the_accuracy_table_in_the_docs_is_that_of_the_shipped_tables(fluid):
    lines = [line for line in FILE.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    rows = {row["field"]: row for row in csv.DictReader(lines) if row["fluid"] == fluid.name}
    assert list(rows) == list(FIELDS)
    for worst in worst_errors(fluid.name, 20 if fluid.name in FITTED else 100, seed=11):
        row = rows[worst.field]
        for name in ("error", "error_near_critical"):
            here, there = getattr(worst, name), row[name]
            # round-off differs between processors, and a smaller sample finds a smaller worst error
            assert (np.isnan(here) and there == "") or here <= 3.0 * float(there) + 1e-11, (worst, there)
    assert Worst._fields[2] in rows["pressure"]


def without_fitted(fluid):
    if fluid.name in FITTED:
        pytest.skip("CoolProp has no equation for it")


def test_ends_and_constants(fluid):
    without_fitted(fluid)
    state = CoolProp.AbstractState("HEOS", fluid.substance.coolprop_name)
    assert fluid.critical_temperature == state.T_critical()
    assert fluid.critical_pressure == state.p_critical()
    assert fluid.molar_mass == state.molar_mass()
    assert fluid.triple_temperature == state.Ttriple()
    if fluid.name == "carbon dioxide":
        return
    state.update(CoolProp.PQ_INPUTS, 101325.0, 0.0)
    assert fluid.normal_boiling_point == pytest.approx(state.T(), rel=1e-10)


def test_saturation_temperature_at_a_pressure(fluid):
    without_fitted(fluid)
    state = CoolProp.AbstractState("HEOS", fluid.substance.coolprop_name)
    t = sample(fluid, coldest(fluid), 0.98 * fluid.critical_temperature, 100, seed=2)
    p = fluid.saturation(temperature=t).pressure
    exact = []
    for one in p:
        state.update(CoolProp.PQ_INPUTS, float(one), 0.0)
        exact.append(state.T())
    np.testing.assert_allclose(fluid.saturation(pressure=p).temperature, exact, rtol=1e-9)


@pytest.mark.parametrize("reduced", [0.98, 0.9999])
def test_round_trip_through_pressure(fluid, reduced):
    low = coldest(fluid)
    t = sample(fluid, low, min(reduced * fluid.critical_temperature, fluid.highest_temperature), 2000, seed=3)
    there = fluid.saturation(temperature=t)
    back = fluid.saturation(pressure=there.pressure)
    np.testing.assert_allclose(back.temperature, t, rtol=1e-9)
    # near the critical point density answers a temperature error dT/T by 0.3 / (1 - T/T_c) of it
    np.testing.assert_allclose(
        back.liquid_density, there.liquid_density, rtol=1e-7 if reduced < 0.99 else 1e-5
    )
    np.testing.assert_array_equal(back.pressure, there.pressure)


# -- states off saturation ------------------------------------------------------------------------------

SINGLE = [f.name for f in dataclasses.fields(lr.Fluid("propane").gas(temperature=300.0, pressure=1e5))][3:]


def single_phase(fluid, temperature, pressure, phase):
    """CoolProp's properties at each state.

    CoolProp 8 solves for the density to 1e-15 but keeps the derivatives of its last trial, which shifts
    enthalpy by up to 1e-9 and, near the critical point, heat capacity by 1e-4: update again at that density.
    """
    state = CoolProp.AbstractState("HEOS", fluid.substance.coolprop_name)
    state.specify_phase(phase)
    rows = []
    for t, p in zip(temperature, pressure, strict=True):
        state.update(CoolProp.PT_INPUTS, float(p), float(t))
        state.update(CoolProp.DmassT_INPUTS, state.rhomass(), float(t))
        calls = state.rhomass, state.hmass, state.smass, state.umass, state.cpmass, state.speed_sound
        rows.append([call() for call in calls])
    return dict(zip(SINGLE, np.array(rows).T, strict=True))


def compare_single_phase(fluid, state, exact):
    assert SINGLE == [
        "density",
        "enthalpy",
        "entropy",
        "internal_energy",
        "heat_capacity",
        "speed_of_sound",
    ]
    for name, values in exact.items():
        size = np.abs(values)
        # enthalpy and entropy pass through zero at the reference state: measure against c_p T and c_p
        if name in ("enthalpy", "internal_energy"):
            size = np.maximum(size, exact["heat_capacity"] * state.temperature)
        if name == "entropy":
            size = np.maximum(size, exact["heat_capacity"])
        assert (np.abs(getattr(state, name) - values) / size).max() < 1e-9, name


def random_saturation(fluid, number, seed):
    rng = np.random.default_rng(seed)
    t = rng.uniform(coldest(fluid), 0.98 * fluid.critical_temperature, number)
    return rng, t, fluid.saturation(temperature=t).pressure


def test_gas_at_random_states(fluid):
    without_fitted(fluid)
    rng, t, p_sat = random_saturation(fluid, 100, 1)
    p = p_sat * rng.uniform(1e-4, 0.999, t.size)
    exact = single_phase(fluid, t, p, CoolProp.iphase_gas)
    compare_single_phase(fluid, fluid.gas(temperature=t, pressure=p), exact)


def test_hot_gas_at_random_states(fluid):
    without_fitted(fluid)
    rng = np.random.default_rng(2)
    hottest = min(fluid.table.highest_gas_temperature, 2.0 * fluid.critical_temperature)
    t = rng.uniform(1.001 * fluid.critical_temperature, hottest, 100)
    p = fluid.critical_pressure * rng.uniform(1e-4, 1.0, t.size)
    exact = single_phase(fluid, t, p, CoolProp.iphase_supercritical_gas)
    compare_single_phase(fluid, fluid.gas(temperature=t, pressure=p), exact)


def test_liquid_at_random_states(fluid):
    without_fitted(fluid)
    rng, t, p_sat = random_saturation(fluid, 100, 3)
    p = p_sat + rng.uniform(1e-4, 1.0, t.size) * (10e6 - p_sat)
    exact = single_phase(fluid, t, p, CoolProp.iphase_liquid)
    compare_single_phase(fluid, fluid.liquid(temperature=t, pressure=p), exact)


def test_fitted_equations_meet_at_equilibrium():
    # solved in extended precision by another code than that of the tables
    for name in FITTED:
        fluid = lr.Fluid(name)
        t = np.linspace(fluid.lowest_temperature, 0.98 * fluid.critical_temperature, 12)
        exact = reference(fluid, t)
        gas = fluid.gas(temperature=t, pressure=exact["pressure"])
        liquid = fluid.liquid(temperature=t[3:], pressure=exact["pressure"][3:])
        np.testing.assert_allclose(gas.density, exact["vapor_density"], rtol=1e-9)
        np.testing.assert_allclose(liquid.density, exact["liquid_density"][3:], rtol=1e-9)
        np.testing.assert_allclose(gas.heat_capacity, exact["vapor_heat_capacity"], rtol=1e-9)
