"""Saturation properties against printed tables of another origin, in their printed units.

Most tables are judged point by point in ``test_comparisons.py``; here is what is asked beyond that.
Tolerances come with each table, in its header and its column ``tolerance_percent``; where the header gives
the number in words, it is repeated here with the reason.
"""

from __future__ import annotations

import numpy as np
import pytest
from fluid_accuracy import coldest
from published_tables import kelvin, pascal_from_gauge, read_table, si

import lpgrelease as lr


def rows_of(table, **only):
    rows = read_table(table).rows
    return [row for row in rows if all(row[key] == value for key, value in only.items())]


def tolerance(row):
    return float(row["tolerance_percent"]) / 100.0


# -- tables -----------------------------------------------------------------------------------------------


def saturation_table(name):
    rows = read_table(name).rows
    fluid = lr.Fluid(rows[0]["fluid"])
    columns = {key: np.array([float(row[key]) for row in rows]) for key in rows[0] if key != "fluid"}
    return columns, fluid.saturation(temperature=columns["T_K"])


def test_saturated_ammonia_of_the_heat_atlas():
    printed, state = saturation_table("saturation_ammonia_vdi")
    # the header sets none for vapor: 1 % as for pressure, 2 % at 400 K near the critical point
    np.testing.assert_allclose(state.vapor_density, printed["rho_vapor_kg_m3"], rtol=0.02)
    np.testing.assert_allclose(state.vapor_density[:-2], printed["rho_vapor_kg_m3"][:-2], rtol=0.01)


def test_saturated_isopentane_of_the_heat_atlas():
    printed, state = saturation_table("saturation_isopentane_vdi")
    np.testing.assert_allclose(state.vapor_density, printed["rho_vapor_kg_m3"], rtol=0.03)  # older table


def test_saturated_propylene_oxide_of_the_heat_atlas():
    printed, state = saturation_table("saturation_propylene_oxide_vdi")
    # 3 %: its pressures scatter by 1.5 % and three digits are printed
    np.testing.assert_allclose(state.vapor_density, printed["rho_vapor_kg_m3"], rtol=0.03)


def test_propylene_oxide_as_reference_books_have_it():
    # a compendium of chemicals on the web (drugfuture, looked up): boils at 34.23 degC; 0.859 at 0 degC over
    # water at 4 degC. 0.6 % in density: the year and the purity of that sample are not known; 0.15 K is what
    # a pressure off by 4 mmHg does. shen2022webbook: 27.9 kJ/mol at 25 degC; 1 %, calorimetry of 1962.
    # Critical point, kudchadker2001oxygen: 485 K, 5.2 MPa, as chemicals 1.5.2 ships it, without its
    # uncertainty: the later equation lies 0.7 and 5 % above
    fluid = lr.Fluid("propylene oxide")
    assert fluid.normal_boiling_point == pytest.approx(273.15 + 34.23, abs=0.15)
    assert float(fluid.saturation(temperature=273.15).liquid_density) == pytest.approx(859.0, rel=0.006)
    latent = float(fluid.saturation(temperature=298.15).latent_heat) * fluid.molar_mass
    assert latent == pytest.approx(27.9e3, rel=0.01)
    assert fluid.critical_temperature == pytest.approx(485.0, rel=0.008)
    assert fluid.critical_pressure == pytest.approx(5.2e6, rel=0.05)


# -- the trade ----------------------------------------------------------------------------------------------


def test_propane_pressures_of_the_trade():
    rows = read_table("vapor_pressure_propane_trade").rows
    t = np.array([kelvin(row["T_F"]) for row in rows])
    printed = np.array([pascal_from_gauge(row["p_psig"]) for row in rows])
    off_psi = np.abs(lr.Fluid("propane").saturation(temperature=t).pressure - printed) / si(1, "psi", "Pa")
    # the header allows 5 psi over the whole table; it says 2.2 where it is cool
    cool = np.array([float(row["T_F"]) <= 90 for row in rows])
    assert off_psi[cool].max() < 2.3


def test_ammonia_constants_of_a_code():
    fluid = lr.Fluid("ammonia")
    printed = {row["quantity"]: row for row in read_table("ammonia_constants").rows}
    at = fluid.saturation(temperature=kelvin(-28))
    pairs = {
        "latent_heat": (at.latent_heat, "Btu/lb", "J/kg"),
        "liquid_density": (at.liquid_density, "lb/ft**3", "kg/m**3"),
        "vapor_density": (at.vapor_density, "lb/ft**3", "kg/m**3"),
        "critical_pressure": (fluid.critical_pressure, "psi", "Pa"),
    }
    for quantity, (served, unit, si_unit) in pairs.items():
        row = printed[quantity]
        assert float(served) == pytest.approx(si(row["value"], unit, si_unit), rel=tolerance(row)), quantity
    gas = fluid.gas(temperature=kelvin(32), pressure=si(14.7, "psi", "Pa"))
    volume = printed["specific_volume_gas"]
    assert 1.0 / float(gas.density) == pytest.approx(
        si(volume["value"], "ft**3/lb", "m**3/kg"), rel=tolerance(volume)
    )
    boiling = kelvin(printed["normal_boiling_point"]["value"])
    assert fluid.normal_boiling_point == pytest.approx(boiling, abs=si(1, "delta_degF", "K"))  # whole degF
    # an older critical temperature, 1.1 degF above that of the reference equation: 2 degF
    critical = kelvin(printed["critical_temperature"]["value"])
    assert fluid.critical_temperature == pytest.approx(critical, abs=si(2, "delta_degF", "K"))


def test_propane_of_the_trade():
    fluid = lr.Fluid("propane")
    printed = {
        row["quantity"]: row
        for row in read_table("lp_gas_properties").rows
        if "commercial" not in row["quantity"]
    }
    at_60 = fluid.saturation(temperature=kelvin(60))
    water = si(8.345404, "lb/gal", "kg/m**3") * 0.99904  # water at 60 degF: 999.0 kg/m3
    # the trade counts vapor as an ideal gas, 1.8 % thinner than propane at 60 degF and 1 atm is
    ideal = 101325.0 / (fluid.table.gas_constant * kelvin(60))
    boiling = fluid.saturation(temperature=kelvin(-44))
    served = {
        "latent_heat": float(boiling.latent_heat) / si(1, "Btu/lb", "J/kg"),
        "liquid_specific_gravity": float(at_60.liquid_density) / water,
        "gas_specific_gravity": fluid.molar_mass / 28.96e-3,  # of ideal gases
        "liquid_weight": float(at_60.liquid_density) / si(1, "lb/gal", "kg/m**3"),
        "vapor_per_gallon": float(at_60.liquid_density) / ideal * si(1, "gal", "ft**3"),
        "vapor_per_pound": 1.0 / ideal / si(1, "ft**3/lb", "m**3/kg"),
    }
    for quantity, value in served.items():
        row = printed[quantity]
        assert value == pytest.approx(float(row["value"]), rel=tolerance(row)), quantity
    # commercial propane boils below pure propane, and is printed to a degree: 2 degF
    assert fluid.normal_boiling_point == pytest.approx(kelvin(-44), abs=si(2, "delta_degF", "K"))
    for row in rows_of("lp_gas_properties", quantity="commercial_vapor_pressure"):
        pure = float(fluid.saturation(temperature=kelvin(row["T_F"])).pressure)
        excess = (pascal_from_gauge(row["value"]) - pure) / si(1, "psi", "Pa")
        assert 0.0 < excess < 30.0  # holds lighter gases, 2 to 28 psi above pure propane here


# -- identities: no source but the second law ------------------------------------------------------------


@pytest.mark.parametrize("name", sorted({row["fluid"] for row in read_table("latent_heat_perry").rows}))
def test_identities_of_saturation(name):
    fluid = lr.Fluid(name)
    # colder, CoolProp's own saturation pressure carries noise that a difference would magnify
    low, high = coldest(fluid), 0.98 * fluid.critical_temperature
    state = fluid.saturation(temperature=np.linspace(low, high, 400)[1:-1])
    t, p = state.temperature, state.pressure
    # entropy and enthalpy of evaporation
    np.testing.assert_allclose(
        t * (state.vapor_entropy - state.liquid_entropy), state.latent_heat, rtol=1e-12
    )
    np.testing.assert_allclose(state.vapor_enthalpy - state.liquid_enthalpy, state.latent_heat, rtol=1e-12)
    # u = h - p v, to round-off of h
    for phase in ("liquid", "vapor"):
        h, u, rho = (getattr(state, f"{phase}_{of}") for of in ("enthalpy", "internal_energy", "density"))
        np.testing.assert_allclose(u, h - p / rho, rtol=0.0, atol=1e-9 * state.latent_heat.max())
    # Clapeyron: dp/dT = L / (T (v_v - v_l)); a central difference of fourth order over 0.02 K steps
    step = 0.02
    stencil = {-2: 1 / 12, -1: -2 / 3, 1: 2 / 3, 2: -1 / 12}
    log_slope = (
        sum(
            weight * np.log(fluid.saturation(temperature=np.clip(t + k * step, low, None)).pressure / p)
            for k, weight in stencil.items()
        )
        / step
    )
    right = state.latent_heat / (t * (1.0 / state.vapor_density - 1.0 / state.liquid_density)) / p
    inside = t > low + 2 * step
    # round-off of ln(p), some 1e-11 where the vapor is thin, over 0.02 K against a slope of 0.02 1/K
    np.testing.assert_allclose(log_slope[inside], right[inside], rtol=2e-7)
