"""Edges, errors, shapes and conditions of the freeze seal."""

import pickle

import numpy as np
import pint
import pytest

from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.fluids import Fluid
from lpgrelease.freeze_seal import (
    FreezeSeal,
    WetCloth,
    assess_freeze_seal,
    freeze_seal_map,
    ice,
    strength,
)
from lpgrelease.release.opening import Opening
from lpgrelease.weather import Weather

PROPANE = Fluid("propane")
HOLE = Opening(diameter=0.006)


def unmet(seal: FreezeSeal) -> set[str]:
    return {item.name for item in seal.conditions if not np.all(item.met)}


# -- ice and water ------------------------------------------------------------------------------------


def test_stefan_time_is_infinite_at_and_beyond_the_largest_thickness():
    arguments = {"heat_transfer": 15.0, "conductivity": 2.2}
    largest = ice.largest_ice_thickness(231.05, 300.15, **arguments)
    thickness = np.array([0.999, 1.0, 1.001]) * largest
    times = ice.freezing_time(thickness, 231.05, 300.15, volumetric_heat=4e8, **arguments)
    assert np.isfinite(times[0])
    assert np.isinf(times[1:]).all()


def test_no_ice_grows_on_a_face_that_is_not_below_freezing():
    for cold in (273.15, 280.0):
        arguments = {"heat_transfer": 15.0, "conductivity": 2.2}
        assert ice.largest_ice_thickness(cold, 300.0, **arguments) == 0.0
        assert np.isinf(ice.freezing_time(0.01, cold, 300.0, volumetric_heat=4e8, **arguments))
        assert np.isinf(ice.freezing_time(0.01, cold, 260.0, volumetric_heat=4e8, **arguments))


def test_freezing_air_never_melts_the_ice():
    assert np.isinf(ice.melting_time(0.01, 273.15, heat_transfer=15.0, volumetric_heat=3e8))


def test_growth_factor_series_meets_the_closed_form():
    u = np.array([2.9999e-3, 3.0001e-3])
    below, above = ice._growth_factor(u)
    slope = 1 / 3
    assert above - below == pytest.approx(slope * (u[1] - u[0]), rel=0.02)
    assert above == pytest.approx(below, rel=1e-6)


def test_blister_pressure_between_its_two_limits():
    """A half-space crack where the ice is thick, a clamped plate where it is thin (fracture mechanics)."""
    K, c, nu = 50e3, 0.04, strength.ICE_POISSON_RATIO
    # half-space on a stiff wall: G = 2 (1 - nu^2) p^2 c/(pi E) and G = K^2 (1 - nu^2)/E
    assert strength.blister_pressure(1e3, c, K) == pytest.approx(K * np.sqrt(np.pi / (2 * c)), rel=1e-4)
    # clamped plate: energy p V/2 with V = pi p c^6/(192 D); G = dU/dA; D = E h^3/(12 (1 - nu^2))
    h, modulus = 4e-5, 9e9
    D = modulus * h**3 / (12 * (1 - nu**2))
    p_plate = np.sqrt(K**2 * (1 - nu**2) / modulus * 128 * D / c**4)
    assert strength.blister_pressure(h, c, K) == pytest.approx(p_plate, rel=1e-4)


def test_blister_pressure_counts_shear_of_a_plate():
    """Energy release by plate bending, plate shear (factor 2/3) and the half-space, added."""
    K, c, h, nu, modulus = 50e3, 0.04, 0.02, strength.ICE_POISSON_RATIO, 9e9
    D, mu = modulus * h**3 / (12 * (1 - nu**2)), modulus / (2 * (1 + nu))
    per_square = c**4 / (128 * D) + c**2 / (8 * (2 / 3) * mu * h) + 2 * (1 - nu**2) * c / (np.pi * modulus)
    expected = np.sqrt(K**2 * (1 - nu**2) / modulus / per_square)
    assert strength.blister_pressure(h, c, K) == pytest.approx(expected, rel=1e-12)


def test_scatter_reduction_is_one_at_the_median():
    assert strength.scatter_reduction(0.5) == pytest.approx(1.0)


# -- the assessment -----------------------------------------------------------------------------------


def test_propane_liquid_at_zero_gauge_is_feasible():
    seal = assess_freeze_seal(PROPANE, HOLE)
    assert seal.feasible
    assert unmet(seal) == set()
    assert seal.push_out_force == 0.0
    assert 0 < seal.freeze_time < 3600
    assert 0 < seal.highest_gauge_pressure < seal.highest_holding_gauge_pressure


def test_liquid_leak_takes_the_boiling_temperature_or_the_tanks_if_lower():
    boiling = PROPANE.saturation(pressure=101325.0).temperature
    warm = assess_freeze_seal(PROPANE, HOLE, gauge_pressure=7e5)
    assert warm.leak_temperature == pytest.approx(boiling, rel=1e-12)
    cold = assess_freeze_seal(Fluid("n-butane"), HOLE, tank_temperature=258.15)
    assert cold.leak_temperature == 258.15
    assert cold.feasible


def test_vapor_leak_keeps_its_enthalpy():
    gauge = np.array([1e3, 5e4, 7e5])
    seal = assess_freeze_seal(PROPANE, HOLE, gauge_pressure=gauge, phase="vapor")
    before = PROPANE.saturation(pressure=gauge + 101325.0)
    after = PROPANE.gas(temperature=seal.leak_temperature, pressure=101325.0)
    assert after.enthalpy - before.vapor_enthalpy == pytest.approx(0.0, abs=1e-6 * before.latent_heat.max())


def test_butane_never_freezes_a_cloth_at_sea_level_but_does_in_the_mountains():
    low = assess_freeze_seal(Fluid("n-butane"), HOLE)
    assert not low.feasible
    assert np.isinf(low.freeze_time)
    assert low.holding_time == low.highest_gauge_pressure == low.highest_holding_gauge_pressure == 0.0
    high = assess_freeze_seal(
        Fluid("n-butane"), HOLE, ambient_pressure=60e3, weather=Weather(air_temperature=276.15)
    )
    assert np.isfinite(high.freeze_time)


def test_weather_gives_the_ambient_pressure_unless_told_otherwise():
    weather = Weather(ambient_pressure=80e3)
    assert assess_freeze_seal(PROPANE, HOLE, weather=weather) == assess_freeze_seal(
        PROPANE, HOLE, ambient_pressure=80e3
    )


def test_a_pressurized_jet_is_refused_because_the_water_is_blown_out():
    seal = assess_freeze_seal(PROPANE, HOLE, gauge_pressure=7e5)
    assert not seal.feasible
    assert "wet cloth keeps its water" in unmet(seal)
    assert "rim withstands the push-out force" in unmet(seal)
    assert seal.holding_time == 0.0


@pytest.mark.parametrize("phase", ["liquid", "vapor"])
def test_water_absorbs_ammonia_however_cold(phase):
    seal = assess_freeze_seal(Fluid("ammonia"), HOLE, gauge_pressure=2e3, phase=phase)
    assert not seal.feasible
    assert seal.leak_temperature < 245.0
    assert "water takes up little cargo" in unmet(seal)
    assert np.isinf(seal.freeze_time)
    assert seal.highest_gauge_pressure == 0.0
    assert any("30 %" in text for text in seal.cautions)


def test_dimethyl_ether_is_refused_too():
    assert "water takes up little cargo" in unmet(assess_freeze_seal(Fluid("dimethyl ether"), HOLE))


def test_vapor_from_a_warm_tank_arrives_above_freezing():
    gauge = PROPANE.saturation(temperature=300.15).pressure - 101325.0
    seal = assess_freeze_seal(PROPANE, HOLE, gauge_pressure=gauge, phase="vapor")
    # independent computation: +8 degC, isenthalpic from saturated vapor at 27 degC
    assert seal.leak_temperature - 273.15 == pytest.approx(8.0, abs=0.5)
    assert "leak arrives below freezing" in unmet(seal)
    assert np.isinf(seal.freeze_time)


def test_vapor_of_a_warm_tank_at_low_pressure_arrives_near_tank_temperature():
    seal = assess_freeze_seal(PROPANE, HOLE, gauge_pressure=2e3, phase="vapor", tank_temperature=300.15)
    assert seal.leak_temperature == pytest.approx(300.15, abs=0.1)
    assert not seal.feasible


def test_vapor_without_flow_brings_no_cold():
    seal = assess_freeze_seal(PROPANE, HOLE, phase="vapor")
    assert unmet(seal) >= {"cold brought exceeds the heat of air and metal"}
    assert np.isinf(seal.freeze_time)


def test_vapor_leak_of_a_cold_tank_freezes_in_tens_of_minutes():
    # independent computation: 10 to 20 minutes for 6 mm at 2 to 10 kPa gauge, all cold captured
    seal = assess_freeze_seal(
        PROPANE,
        HOLE,
        gauge_pressure=[2e3, 10e3],
        phase="vapor",
        captured_cold=1.0,
        outside_heat_transfer=15.0,
    )
    assert ((seal.freeze_time > 500) & (seal.freeze_time < 1300)).all()


def test_head_of_liquid_counts_against_the_laying_limit():
    dry = assess_freeze_seal(PROPANE, HOLE)
    wet = assess_freeze_seal(PROPANE, HOLE, head=[0.2, 1.0])
    density = PROPANE.saturation(pressure=101325.0).liquid_density
    assert wet.highest_gauge_pressure[0] == pytest.approx(
        dry.highest_gauge_pressure - density * 9.80665 * 0.2, rel=1e-6
    )
    assert wet.feasible.tolist() == [True, False]
    assert wet.highest_gauge_pressure[1] == 0.0


def test_plug_on_a_warm_tank_has_no_holding_time():
    seal = assess_freeze_seal(PROPANE, HOLE, gauge_pressure=1e3, tank_temperature=280.0)
    assert seal.holding_time == 0.0


def test_highest_gauge_pressure_is_the_edge():
    edge = float(assess_freeze_seal(PROPANE, HOLE).highest_gauge_pressure)
    around = assess_freeze_seal(PROPANE, HOLE, gauge_pressure=np.array([0.999, 1.001]) * edge)
    assert around.feasible.tolist() == [True, False]


def test_edge_set_by_time_is_found_by_halving():
    """Vapor: beyond some pressure the warmer leak needs longer than there is time."""
    cloth = WetCloth(
        pore_diameter=1e-6, thickness=0.04, unbonded_width=0.001, overlap=0.2, pressing_force=1e4
    )
    arguments = {
        "phase": "vapor",
        "cloth": cloth,
        "captured_cold": 1.0,
        "time_available": 7000.0,
        "failure_probability": 0.5,
    }
    hole = Opening(diameter=0.03)
    edge = float(assess_freeze_seal(PROPANE, hole, gauge_pressure=5e4, **arguments).highest_gauge_pressure)
    around = assess_freeze_seal(PROPANE, hole, gauge_pressure=np.array([0.999, 1.001]) * edge, **arguments)
    assert around.feasible.tolist() == [True, False]
    assert not around.condition("cloth freezes in the time available").met[1]
    assert around.condition("wet cloth keeps its water").met.all()


def test_shapes_and_alone_equals_among_many():
    gauge = np.linspace(0.0, 5e3, 7)
    diameter = np.array([[0.003], [0.006], [0.025]])
    for phase in ("liquid", "two-phase", "vapor"):
        many = assess_freeze_seal(PROPANE, Opening(diameter=diameter), gauge_pressure=gauge, phase=phase)
        assert many.feasible.shape == many.freeze_time.shape == (3, 7)
        for item in many.conditions:
            assert item.value.shape == item.limit.shape == item.met.shape == item.margin.shape == (3, 7)
        for i, j in ((0, 0), (1, 3), (2, 6)):
            one = assess_freeze_seal(
                PROPANE, Opening(diameter=diameter[i, 0]), gauge_pressure=gauge[j], phase=phase
            )
            for name in (
                "feasible",
                "freeze_time",
                "holding_time",
                "highest_gauge_pressure",
                "cooling_power",
                "verdict",
                "spread_temperature",
                "needed_drip_rate",
                "highest_favorable_gauge_pressure",
                "highest_push_out_pressure",
                "vapor_threshold_pressure",
            ):
                assert getattr(one, name) == getattr(many, name)[i, j], (phase, name)


def test_every_condition_is_complete_and_consistent():
    seal = assess_freeze_seal(PROPANE, HOLE, gauge_pressure=[0.0, 1e5])
    for item in seal.conditions:
        assert item.sense in ("at most", "at least")
        assert item.source
        direct = item.value <= item.limit if item.sense == "at most" else item.value >= item.limit
        assert np.array_equal(item.met, direct)
        assert np.array_equal(item.met, item.margin >= 0)
    assert np.array_equal(seal.feasible, np.all([item.met for item in seal.conditions], axis=0))


def test_quantities_in_and_out():
    ureg = pint.UnitRegistry()
    seal = assess_freeze_seal(
        PROPANE,
        Opening(diameter=ureg.Quantity(0.25, "inch")),
        gauge_pressure=ureg.Quantity(0.2, "psi"),
        cloth=WetCloth(thickness=ureg.Quantity(2, "cm"), water_temperature=ureg.Quantity(68, "degF")),
    )
    plain = assess_freeze_seal(PROPANE, Opening(diameter=0.00635), gauge_pressure=0.2 * 6894.757293168361)
    assert seal.freeze_time == pytest.approx(plain.freeze_time, rel=1e-12)
    assert seal.q.highest_gauge_pressure.m_as("kPa") == pytest.approx(2.909, abs=0.002)


def test_result_pickles_prints_and_compares():
    seal = assess_freeze_seal(PROPANE, HOLE, gauge_pressure=[0.0, 1e5])
    assert pickle.loads(pickle.dumps(seal)) == seal
    text = repr(seal)
    assert "wet cloth keeps its water" in text
    assert "met in 1 of 2" in text
    assert "authority in charge" in text
    assert "<li>" in seal._repr_html_()


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"phase": "gas"}, "phase must be"),
        ({"gauge_pressure": "1 bar"}, "gauge_pressure"),
        ({"gauge_pressure": [0.0, 1.0], "head": [0.0, 1.0, 2.0]}, "do not broadcast"),
        ({"tank_temperature": float("nan")}, "tank_temperature must be finite"),
    ],
)
def test_wrong_inputs(arguments, message):
    with pytest.raises(InputError, match=message):
        assess_freeze_seal(PROPANE, HOLE, **arguments)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"gauge_pressure": -1.0}, "gauge_pressure = -1 Pa"),
        ({"gauge_pressure": 1e8}, "gauge_pressure"),
        ({"captured_cold": 1.2}, "captured_cold"),
        ({"failure_probability": 0.0}, "failure_probability"),
        ({"outside_heat_transfer": 0.0}, "outside_heat_transfer"),
        ({"phase": "vapor", "tank_temperature": 220.0}, "does not leak out"),
    ],
)
def test_out_of_range(arguments, message):
    with pytest.raises(OutOfRangeError, match=message):
        assess_freeze_seal(PROPANE, HOLE, **arguments)


def test_cloth_checks():
    with pytest.raises(OutOfRangeError, match="thickness"):
        WetCloth(thickness=0.0)
    with pytest.raises(OutOfRangeError, match="water_temperature"):
        WetCloth(water_temperature=270.0)
    with pytest.raises(InputError, match="bonded rim"):
        WetCloth(overlap=0.03, unbonded_width=0.03)
    assert WetCloth() == WetCloth()


# -- cargoes that are critical below freezing -----------------------------------------------------------


@pytest.mark.parametrize("phase", ["liquid", "two-phase", "vapor"])
@pytest.mark.parametrize("name", ["methane", "nitrogen"])
def test_the_liquid_of_a_cargo_critical_below_freezing_is_colder_at_any_pressure(name, phase):
    fluid = Fluid(name)
    assert fluid.critical_temperature < 273.15
    for cloth in (WetCloth(), WetCloth(salinity=0.035)):
        seal = assess_freeze_seal(
            fluid, HOLE, gauge_pressure=[0.0, 700.0, 2e6], phase=phase, cloth=cloth, open_to_air=True
        )
        assert np.isinf(seal.fluid_threshold_pressure).all()
        assert seal.feasible.tolist() == [phase == "liquid", True, False]
        assert np.all(seal.leak_temperature < fluid.critical_temperature)


def test_a_colder_cargo_freezes_the_cloth_sooner_by_stefans_time():
    times = [float(assess_freeze_seal(Fluid(name), HOLE).freeze_time) for name in ("propane", "methane")]
    # Stefan without the air's heat: t = q X^2/(2 k (T_f - T)), q rises by a third of what cools the ice
    boiling = [Fluid(name).normal_boiling_point for name in ("propane", "methane")]
    heat = [334e3 + 4186.0 * 20.0 + 2050.0 * (273.15 - t) / 3.0 for t in boiling]
    expected = (heat[1] / heat[0]) * (273.15 - boiling[0]) / (273.15 - boiling[1])
    assert times[1] / times[0] == pytest.approx(
        expected, rel=0.07
    )  # the air's heat slows the warmer one more


def test_the_map_serves_a_cargo_critical_below_freezing():
    found = freeze_seal_map(Fluid("nitrogen"), diameter=[0.006], gauge_pressure=[0.0, 1e5])
    assert found.verdict.tolist() == [["feasible", "not feasible"]]


def test_cautions_at_the_leak_fit_the_cargo():
    clouds = {
        "propane": "an oxygen-poor or flammable cloud",
        "ammonia": "a poisonous or flammable cloud",
        "chlorine": "a poisonous cloud",
        "R134a": "an oxygen-poor cloud",
        "nitrogen": "an oxygen-poor cloud",
    }
    for name, cloud in clouds.items():
        text = " ".join(assess_freeze_seal(Fluid(name), HOLE, open_to_air=True).cautions)
        assert f"Frozen flesh, {cloud} and a cold-brittle wall" in text
        assert ("flammable cloud" in text) == Fluid(name).flammable
