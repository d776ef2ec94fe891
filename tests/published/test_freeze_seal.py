"""Freeze seal against outside values; each table names its source and tolerance."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from lpgrelease.constants import (
    ICE_CONDUCTIVITY,
    ICE_HEAT_CAPACITY,
    ICE_LATENT_HEAT,
    WATER_DENSITY,
    WATER_HEAT_CAPACITY,
)
from lpgrelease.fluids import Fluid
from lpgrelease.freeze_seal import assess_freeze_seal, hold_freeze_seal, ice, metal, salt, strength
from lpgrelease.release.opening import Opening
from lpgrelease.tank import Contents, SphericalTank
from lpgrelease.weather import Weather

HERE = Path(__file__).parent
HOLE = Opening(diameter=0.006)
PSI = 6894.757293168361


def rows(name):
    lines = [
        line for line in (HERE / name).read_text(encoding="utf-8").splitlines() if not line.startswith("#")
    ]
    return list(csv.DictReader(lines))


ICE = {row["quantity"]: row for row in rows("ice_and_freezing.csv")}


@pytest.mark.parametrize(
    "row", rows("freezing_thresholds.csv"), ids=lambda row: f"{row['fluid']}-{row['unit']}"
)
def test_threshold_pressure_at_the_freezing_point(row):
    threshold = assess_freeze_seal(Fluid(row["fluid"]), HOLE).fluid_threshold_pressure
    if row["unit"] == "psig":
        # printed to 0.1 psi; gauge from 14.7 psia as the card says
        assert threshold / PSI - 14.7 == pytest.approx(float(row["p"]), abs=0.2)
    else:
        assert threshold / 1e3 == pytest.approx(float(row["p"]), rel=0.01)


@pytest.mark.parametrize(
    ("cargo", "bar"),
    [
        ("propane", 4.7446),
        ("propylene", 5.8409),
        ("isobutane", 1.5696),
        ("n-butane", 1.0323),
        ("ammonia", 4.2925),
    ],
)
def test_threshold_pressure_independent_computation(cargo, bar):
    # independent computation from the same reference equations; 1e-4: the digits given
    assert assess_freeze_seal(Fluid(cargo), HOLE).fluid_threshold_pressure / 1e5 == pytest.approx(
        bar, rel=1e-4
    )


def test_threshold_pressure_of_propane_between_trade_table_entries():
    """LP-gas trade table (vapor_pressure_propane_trade.csv): the 32 degF value lies between its neighbors."""
    table = rows("vapor_pressure_propane_trade.csv")
    T = np.array([float(row["T_F"]) for row in table])
    p = np.array([float(row["p_psig"]) for row in table])
    between = np.exp(np.interp(32.0, T, np.log(p + 14.696)))
    threshold = assess_freeze_seal(Fluid("propane"), HOLE).fluid_threshold_pressure / PSI
    # 5 psi: commercial propane, table rounded to whole psi and up to 4.4 psi off pure propane elsewhere
    assert threshold == pytest.approx(between, abs=5.0)


@pytest.mark.parametrize("row", rows("stefan_one_phase.csv"), ids=lambda row: row["stefan_number"])
def test_stefan_time_against_the_exact_neumann_solution(row):
    """Water at its freezing point, no convection: t = X^2/(4 alpha lambda^2)."""
    Ste, lam = float(row["stefan_number"]), float(row["lambda"])
    root = lam * math.exp(lam * lam) * math.erf(lam) * math.sqrt(math.pi)
    assert root == pytest.approx(Ste, rel=2e-4)  # the printed digits
    k, rho, X = 2.2, 999.8, 0.02
    cold = Ste * ICE_LATENT_HEAT / ICE_HEAT_CAPACITY
    exact = X * X * rho * ICE_HEAT_CAPACITY / (4 * k * lam * lam)
    heat = rho * ice.freezing_heat(273.15 - cold, 273.15)
    ours = ice.freezing_time(
        0.02, 273.15 - cold, 273.15, heat_transfer=15.0, conductivity=k, volumetric_heat=heat
    )
    # quasi-steady growth with a third of the ice's own heat: off by the square of the Stefan number
    # (series of the exact root: 1 + Ste/3 - 2/45 Ste^2 ...)
    assert ours == pytest.approx(exact, rel=0.06 * Ste * Ste + 2e-4)


def test_stefan_growth_coefficient():
    expected = float(ICE["stefan_growth_coefficient"]["low"])  # cm per sqrt(degC day); 2 %: k and L differ
    day = 86400.0
    time = ice.freezing_time(
        expected / 100, 272.15, 273.15, heat_transfer=1.0, conductivity=2.2, volumetric_heat=917 * 333.6e3
    )
    # thickness grows with the square root of time, so 2 % of thickness is 4 % of time
    assert time == pytest.approx(day, rel=0.04)


def test_freezing_heat_of_water_per_propane_evaporated():
    expected = float(ICE["water_frozen_per_propane"]["low"])
    latent = Fluid("propane").saturation(pressure=101325.0).latent_heat
    assert latent / ice.freezing_heat(273.15, 288.15) == pytest.approx(expected, rel=0.005)


def test_stefan_with_convection_independent_computation():
    """20 mm on propane, h 15 W/m2/K, air and water at 27 degC: 1,051 s; X_m 229 mm, butane 2.7."""
    arguments = {"heat_transfer": 15.0, "conductivity": 2.2}
    assert ice.largest_ice_thickness(231.05, 300.15, **arguments) == pytest.approx(0.229, abs=0.0005)
    butane = Fluid("n-butane").normal_boiling_point
    assert ice.largest_ice_thickness(butane, 300.15, **arguments) == pytest.approx(0.0027, abs=0.0001)
    heat = WATER_DENSITY * ice.freezing_heat(231.05, 300.15)
    time = ice.freezing_time(0.02, 231.05, 300.15, volumetric_heat=heat, **arguments)
    # 5 %: that computation does not say how it counted the water's and the ice's own heat; without
    # the ice's it would be 1,025 s here, with it 1,091 s
    assert time == pytest.approx(1051, rel=0.05)


def enthalpy_freezing_time(thickness, cold, warm, h, k_ice, k_water, cells):
    """Time to freeze a layer of water by explicit enthalpy finite volumes (temperatures in degC)."""
    rho, L = WATER_DENSITY, ICE_LATENT_HEAT
    c_i, c_w = ICE_HEAT_CAPACITY, WATER_HEAT_CAPACITY
    dx = thickness / cells
    dt = 0.25 * dx * dx * rho * c_i / k_ice
    H = np.full(cells, rho * (L + c_w * warm))
    t = 0.0
    while H[-1] > 0.0:
        T = np.where(H < 0, H / (rho * c_i), np.maximum(H - rho * L, 0.0) / (rho * c_w))
        ice_part = 1.0 - np.clip(H / (rho * L), 0.0, 1.0)
        R = dx / (k_ice * ice_part + k_water * (1.0 - ice_part))
        q = np.empty(cells + 1)
        q[1:-1] = (T[:-1] - T[1:]) / (0.5 * (R[1:] + R[:-1]))
        q[0] = (cold - T[0]) / (0.5 * R[0])
        q[-1] = (T[-1] - warm) / (1.0 / h + 0.5 * R[-1])
        H += dt / dx * (q[:-1] - q[1:])
        t += dt
    return t


def test_freezing_time_is_on_the_slow_side_of_a_full_conduction_solution():
    numerical = enthalpy_freezing_time(0.02, -42.1, 27.0, 15.0, 2.2, 0.556, 40)
    heat = WATER_DENSITY * ice.freezing_heat(231.05, 300.15)
    ours = ice.freezing_time(0.02, 231.05, 300.15, heat_transfer=15.0, conductivity=2.2, volumetric_heat=heat)
    # the water's own heat is counted in full though it need not all cross the full ice: up to a tenth
    assert numerical < ours < 1.12 * numerical


@pytest.mark.parametrize(
    ("quantity", "value", "tolerance"),
    [
        ("fusion_heat", ICE_LATENT_HEAT / 1e3, 0.005),
        ("ice_heat_capacity", float(ICE_HEAT_CAPACITY), 0.02),
        ("ice_conductivity_0_C", float(ICE_CONDUCTIVITY), 0.0),
    ],
)
def test_properties_of_ice(quantity, value, tolerance):
    row = ICE[quantity]
    assert float(row["low"]) * (1 - tolerance) <= value <= float(row["high"]) * (1 + tolerance)


def test_tensile_strength_is_the_published_range():
    row = ICE["ice_tensile_strength"]  # Petrovic 2003, abstract: exact, it is the same range
    assert [float(item) / 1e6 for item in strength.ICE_TENSILE_STRENGTH] == [
        float(row["low"]),
        float(row["high"]),
    ]


def test_adhesion_range_holds_measured_values():
    """ronneberg2019adhesion, abstract (looked up): three kinds of ice on aluminum, MPa."""
    low, high = (float(item) / 1e6 for item in strength.ICE_ADHESION)
    for mean, deviation in ((0.28, 0.08), (0.53, 0.12), (0.78, 0.10)):
        assert low <= mean - deviation
        assert mean + deviation <= high


@pytest.mark.parametrize(("T_C", "mN_per_m"), [(0.01, 75.65), (10, 74.22), (20, 72.74), (30, 71.19)])
def test_surface_tension_of_water(T_C, mN_per_m):
    # IAPWS R1-76(2014), table, from memory; half a unit of the last digit
    assert ice.water_surface_tension(T_C + 273.15) * 1e3 == pytest.approx(mN_per_m, abs=0.006)


def test_air_melts_ten_millimeters_in_about_two_hours():
    # independent computation: about two hours, air 27 degC, h 15 W/m2/K; 15 %: "about"
    heat = 917 * ICE_LATENT_HEAT
    time = ice.melting_time(0.01, 300.15, heat_transfer=15.0, volumetric_heat=heat)
    assert time / 3600 == pytest.approx(2.0, rel=0.15)


def test_derived_limits_lie_where_the_independent_estimates_put_them():
    """Capillary hold 1 to 6 kPa for pores of 50 to 300 um; bending and blister of a plug 10 to 80 kPa."""
    hold = 4 * ice.water_surface_tension(293.15) / np.array([300e-6, 50e-6])
    assert (hold > 0.9e3).all()
    assert (hold < 6.1e3).all()
    seal = assess_freeze_seal(Fluid("propane"), Opening(diameter=0.025))
    assert 10e3 < seal.highest_holding_gauge_pressure < 80e3


def liquids_where_water_freezes():
    """Rows of fluids that are liquid at 0 degC under pressure and can stand in the open."""
    found = [row for row in rows("vapor_pressure_perry.csv") if row["fluid"] != "carbon dioxide"]
    return [row for row in found if float(row["T_min_K"]) < 273.15 < float(row["T_max_K"])]


@pytest.mark.parametrize("row", liquids_where_water_freezes(), ids=lambda row: row["fluid"])
def test_threshold_pressure_of_every_fluid_against_a_printed_correlation(row):
    C1, C2, C3, C4, C5 = (float(row[name]) for name in ("C1", "C2", "C3", "C4", "C5"))
    T = 273.15
    printed = math.exp(C1 + C2 / T + C3 * math.log(T) + C4 * T**C5)
    ours = assess_freeze_seal(Fluid(row["fluid"]), HOLE, ambient_pressure=60e3).fluid_threshold_pressure
    # the tolerance of the table: the step of its database's ratings
    assert ours == pytest.approx(printed, rel=float(row["tolerance_percent"]) / 100)


@pytest.mark.parametrize("row", rows("sea_ice.csv"), ids=lambda row: f"{row['quantity']}-{row['value']}")
def test_salt_water_and_its_ice(row):
    S, value = float(row["salinity_permille"]) / 1e3, float(row["value"])
    if row["quantity"] == "freezing_point":
        ours = salt.freezing_point(S) - 273.15
    else:
        T = float(row["T_C"]) + 273.15
        # 1.76 MPa: the equation's strength without brine
        ours = (
            salt.brine_volume(S, T)
            if row["quantity"] == "brine_volume"
            else 1.76 * salt.saline_reduction(S, T)
        )
    assert ours == pytest.approx(value, abs=float(row["tolerance"]))


def test_modified_bessel_functions_against_another_implementation():
    special = pytest.importorskip("scipy.special")
    x = np.geomspace(1e-3, 50.0, 300)
    scale = np.where(x <= 2.0, 1.0, np.exp(x))
    # the error the polynomials are printed with is 2.2e-7 absolute on values near 1
    assert metal.bessel_k0(x) == pytest.approx(scale * special.k0(x), rel=3e-7)
    assert metal.bessel_k1(x) == pytest.approx(scale * special.k1(x), rel=3e-7)


def test_edge_heat_of_a_wall_by_finite_differences():
    """The fin equation k delta (r T')'/r = h (T - T_w) from R outward, solved on a grid of 8,000 cells."""
    R, h, k, delta, excess = 0.06, 25.0, 50.0, 0.008, 20.0
    edges = np.linspace(R, R + 3.0, 8001)  # far away: 24 decay lengths
    r = 0.5 * (edges[1:] + edges[:-1])
    dr = edges[1] - edges[0]
    conductance = k * delta * edges / dr
    conductance[0] *= 2.0  # from the edge to the middle of the first cell
    conductance[-1] = 0.0
    diagonal = conductance[1:] + conductance[:-1] + h * r * dr
    upper = -conductance[1:-1]
    source = np.zeros(r.size)
    source[0] = conductance[0] * excess  # depth of cooling: excess at the edge, none far away
    solve_banded = pytest.importorskip("scipy.linalg").solve_banded
    bands = np.array([np.append(0.0, upper), diagonal, np.append(upper, 0.0)])
    cooled = solve_banded((1, 1), bands, source)
    heat = 2.0 * np.pi * conductance[0] * (excess - cooled[0])
    ours = metal.edge_heat(excess, R, thickness=delta, conductivity=k, heat_transfer=h)
    assert ours == pytest.approx(heat, rel=1e-4)  # second-order grid


def test_pressure_of_a_shut_tank_returns_as_in_an_independent_computation():
    """5 t of propane, 840 W/K, air 27 degC: 0.1 bar gauge after about 7 minutes, 1 bar after about an hour.

    That computation also gives 0.136 kg/s of boil-off at zero gauge. The size of its tank is not known: 80 %
    full here, and no wall; 15 %: "about".
    """
    propane = Fluid("propane")
    cold = propane.saturation(pressure=101325.0)
    volume = 5000.0 / (0.8 * cold.liquid_density + 0.2 * cold.vapor_density)
    tank = SphericalTank(diameter=np.cbrt(6.0 * volume / np.pi), wall_mass=0.0, heat_transfer=840.0)
    contents = Contents(tank, propane, fill=0.8, temperature=cold.temperature)
    weather = Weather(air_temperature=300.15)
    found = hold_freeze_seal(
        assess_freeze_seal(propane, HOLE), contents, weather=weather, keep_gauge_pressure=0.0, points=513
    )
    minutes = np.interp([1e4, 1e5], found.gauge_pressure, found.time) / 60.0
    assert minutes == pytest.approx([7.0, 60.0], rel=0.15)
    assert found.safe_vent_rate == pytest.approx(0.136, rel=0.01)
    assert found.ended_by == "pressure"
