"""Pool fires and the heat they send out, against outside values; each table names its source."""

import math

import numpy as np
import pytest
from published_tables import read_table, si

from lpgrelease import burning
from lpgrelease.constants import STANDARD_GRAVITY
from lpgrelease.fire import heat_thresholds, pool_fire, shape, time_to_harm
from lpgrelease.fire.air import transmissivity_bagster, transmissivity_wayne, wayne_coefficients
from lpgrelease.fire.view_factor import Flame, view_factor, view_vector
from lpgrelease.fluids import Fluid
from lpgrelease.weather import Weather, water_vapor_pressure

PROPANE = Fluid("propane")
NONE = np.zeros(1)


def upright(radius, height):
    return Flame(NONE, NONE, NONE + radius, NONE, NONE + height, NONE + radius)


@pytest.mark.parametrize("row", read_table("fire_burning_constants").rows, ids=lambda r: r["fuel"])
def test_burning_constants(row):
    constants = burning.burning_constants()[row["fuel"]]
    assert constants.largest_flux == float(row["largest_flux_kg_m2s"])
    assert constants.absorption == float(row["absorption_per_m"])


def test_propane_burns_as_lpg():
    # independent computation: 0.099 (1 - exp(-1.4 D)); 2.0 m and 2.6 m pits burn 0.292 and 0.512 kg/s
    fire = pool_fire(PROPANE, diameter=np.array([2.0, 2.6]))
    assert fire.burning_rate == pytest.approx([0.292, 0.512], rel=2e-3)


def test_heat_of_combustion_beside_the_constants():
    # 46.0 MJ/kg printed beside LPG "mostly propane": within 1 % of pure propane's lower heat
    assert pytest.approx(46.0e6, rel=0.01) == PROPANE.heat_of_combustion


@pytest.mark.parametrize("row", read_table("fire_view_factors").rows, ids=lambda r: r["distance_over_radius"])
def test_view_factors_of_an_upright_cylinder(row):
    flame = upright(3.0, 3.0 * float(row["height_over_radius"]))
    x = NONE + 3.0 * float(row["distance_over_radius"])
    level, _, up = view_vector(x, NONE, NONE, flame)
    assert -level[0] == pytest.approx(float(row["vertical"]), abs=6e-6)
    assert up[0] == pytest.approx(float(row["horizontal"]), abs=6e-6)
    assert view_factor(x, NONE, NONE, flame)[0] == pytest.approx(float(row["largest"]), abs=6e-6)


def mudan(length, radius, distance, theta):
    """Vertical and horizontal view factors downwind of a leaning cylinder: mudan1987views, from memory."""
    a, b = length / radius, distance / radius
    s, c = math.sin(theta), math.cos(theta)
    A = math.sqrt(a * a + (b + 1) ** 2 - 2 * a * (b + 1) * s)
    B = math.sqrt(a * a + (b - 1) ** 2 - 2 * a * (b - 1) * s)
    C = math.sqrt(1 + (b * b - 1) * c * c)
    D = math.sqrt((b - 1) / (b + 1))
    E = a * c / (b - a * s)
    F = math.sqrt(b * b - 1)
    wide = math.atan((a * b - F * F * s) / (F * C)) + math.atan(F * s / C)
    steep = (a * a + (b + 1) ** 2 - 2 * b * (1 + a * s)) / (A * B)
    vertical = -E * math.atan(D) + E * steep * math.atan(A * D / B) + c / C * wide
    flat = (a * a + (b + 1) ** 2 - 2 * (b + 1 + a * b * s)) / (A * B)
    horizontal = math.atan(1 / D) + s / C * wide - flat * math.atan(A * D / B)
    return vertical / math.pi, horizontal / math.pi


@pytest.mark.parametrize("theta", [0.0, 0.3, 0.7, -0.3, -0.7])
@pytest.mark.parametrize(("length", "distance"), [(10.0, 8.0), (5.0, 12.0), (20.0, 30.0)])
def test_view_factors_of_a_leaning_cylinder_are_mudans(theta, length, distance):
    """Downwind (theta > 0) and upwind on the ground; 1e-9: both are closed forms of one thing."""
    R = 2.0
    lean, rise = length * math.sin(theta), length * math.cos(theta)
    flame = Flame(NONE, NONE, NONE + R, NONE + lean, NONE + rise, NONE + R)
    level, across, up = view_vector(NONE + distance, NONE, NONE, flame)
    vertical, horizontal = mudan(length, R, distance, theta)
    assert -level[0] == pytest.approx(vertical, abs=1e-9)
    assert up[0] == pytest.approx(horizontal, abs=1e-9)
    assert across[0] == pytest.approx(0.0, abs=1e-12)


def test_view_factor_independent_computation():
    # independent computation, printed to six digits
    level, _, up = view_vector(NONE + 8.0, NONE, NONE, upright(2.0, 10.0))
    assert (-level[0], up[0]) == pytest.approx((0.115977, 0.057336), abs=5e-7)


@pytest.mark.parametrize("row", read_table("fire_flame_length").rows, ids=lambda r: r["diameter_m"])
def test_flame_length_in_still_air(row):
    D = float(row["diameter_m"])
    ratio = shape.flame_length_thomas(0.099, D, 1.2) / D
    assert ratio == pytest.approx(float(row["length_over_diameter"]), abs=6e-4)


def test_the_pool_fire_example_step_by_step():
    given = {row["quantity"]: float(row["value"]) for row in read_table("fire_pool_example").rows}
    heat = given["heat_of_combustion_kJ_kg"] * 1e3
    gasification = 1e3 * given["latent_heat_kJ_kg"] + 1e3 * given["liquid_heat_capacity_kJ_kg_K"] * (
        given["boiling_point_K"] - given["air_temperature_K"]
    )
    assert gasification == pytest.approx(1e3 * given["heat_of_gasification_kJ_kg"])
    sinking = shape.np.float64(burning.regression_rate_burgess(heat, gasification))
    assert sinking == pytest.approx(given["regression_m_s"], rel=0.01)
    flux = given["regression_m_s"] * given["liquid_density_kg_m3"]
    assert flux == pytest.approx(given["burning_flux_kg_m2_s"], rel=0.01)
    widest = 2.0 * math.sqrt(given["leak_m3_s"] / (math.pi * sinking))
    assert widest == pytest.approx(given["unconfined_diameter_m"], rel=0.01)
    D = given["dike_diameter_m"]
    length = shape.flame_length_thomas(flux, D, given["air_density_kg_m3"])
    assert length == pytest.approx(given["flame_height_m"], rel=0.01)
    path = math.hypot(0.5 * length, given["from_edge_m"] + 0.5 * D)
    assert path == pytest.approx(given["path_m"], rel=0.01)
    tau = transmissivity_bagster(given["water_vapor_pressure_Pa"], path)
    assert tau == pytest.approx(given["transmissivity"], rel=0.01)
    power = given["radiated_fraction"] * flux * 0.25 * math.pi * D * D * heat
    assert tau * power / (4 * math.pi * path * path) / 1e3 == pytest.approx(
        given["heat_flux_kW_m2"], rel=0.02
    )


def test_both_burgess_forms_agree():
    # 1.27e-6 m/s times a liquid of 790 kg/m3 is 1e-3 kg/m2/s: one rule; 10 %: its liquids of 730 to 870
    flux = burning.burning_flux_burgess_hertzberg(43.7e6, 462.5e3)
    assert 730.0 * burning.regression_rate_burgess(43.7e6, 462.5e3) == pytest.approx(flux, rel=0.1)


def test_estimated_burning_flux_of_propane_against_the_published_one():
    # babrauskas1983burning gives 0.099 +- 0.009 for LPG; the estimate from heats is good to about 10 %
    latent = PROPANE.saturation(pressure=101325.0).latent_heat
    flux = burning.burning_flux_burgess_hertzberg(PROPANE.heat_of_combustion, latent)
    assert flux == pytest.approx(0.099, abs=0.011)


def test_two_published_transmissivities_agree():
    """wayne1991formula and bagster1989thermal, both fits to charts: within 6 % over their common range."""
    for T, humidity in ((283.15, 0.8), (293.15, 0.5), (303.15, 0.7)):
        water, carbon = wayne_coefficients(Weather(air_temperature=T, relative_humidity=humidity))
        p = water_vapor_pressure(T, humidity)
        path = np.geomspace(1e4, 1e5, 7) / p
        assert transmissivity_wayne(water, carbon, path) == pytest.approx(
            transmissivity_bagster(p, path), rel=0.06
        )


def test_aga_tilt_and_thomas_tilt_definitions():
    # closed forms: at u* 4 cos = 0.5 (AGA), 0.7 x 4^-0.49 = 0.3549 (Thomas)
    assert math.cos(shape.tilt_aga(4.0)) == pytest.approx(0.5)
    assert math.cos(shape.tilt_thomas(4.0)) == pytest.approx(0.3549, abs=1e-4)


def test_smoke_law_at_its_ends():
    # mudan1984radiation: 140 kW/m2 without smoke, 20 kW/m2 behind it
    assert shape.emissive_power_mudan(0.0) == pytest.approx(140e3)
    assert shape.emissive_power_mudan(100.0) == pytest.approx(20e3, rel=1e-4)


@pytest.mark.parametrize("row", read_table("fire_harm").rows, ids=lambda r: r["heat_flux_kW_m2"])
def test_times_to_harm(row):
    flux = si(row["heat_flux_kW_m2"], "kW/m**2", "W/m**2")
    assert time_to_harm(flux) == pytest.approx(float(row["pain_s"]))
    assert time_to_harm(flux, harm="second-degree burn") == pytest.approx(float(row["burn_s"]))


@pytest.mark.parametrize("row", read_table("fire_thresholds").rows, ids=lambda r: r["heat_flux_kW_m2"])
def test_thresholds(row):
    found = [
        t for t in heat_thresholds() if t.heat_flux == pytest.approx(1e3 * float(row["heat_flux_kW_m2"]))
    ]
    assert [t.source for t in found] == [row["source"]]
    assert row["word"] in found[0].effect


def test_housing_thresholds_convert_to_what_is_printed():
    # hud2020siting (looked up): 450 Btu/h/ft2 for people, 10 000 for buildings
    served = [row.heat_flux for row in heat_thresholds() if row.source == "hud2020siting"]
    printed = [si(flux, "Btu/h/ft**2", "W/m**2") for flux in (450, 10000)]
    assert served == pytest.approx(printed, rel=2e-3)  # three digits


def test_gravity_is_in_the_froude_number():
    # drag: 1.5 (u^2/(g D))^0.069 by hand for 10 m/s over 10 m: Fr 1.0197, 1.5020
    assert pytest.approx(1.5 * (100 / (STANDARD_GRAVITY * 10)) ** 0.069) == shape.drag_ratio_moorhouse(
        10.0, 10.0
    )
