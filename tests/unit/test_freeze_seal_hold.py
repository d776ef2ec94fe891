"""What is to be changed, wash-off, holding on a warming tank, and what responders say of it all."""

import dataclasses
import pickle

import numpy as np
import pytest
from strategies import FLUIDS

import lpgrelease as lr
from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.freeze_seal import (
    MetalWall,
    WetCloth,
    assess_freeze_seal,
    cargo,
    hold,
    hold_freeze_seal,
    ice,
    plug,
)

PROPANE = lr.Fluid("propane")
HOLE = lr.Opening(diameter=0.006)
TANK = lr.HorizontalTank(diameter=1.6, length=6.0, wall_mass=2500.0, heat_transfer=300.0)
WEATHER = lr.Weather(air_temperature=293.15)


def cold_contents(gauge=700.0, fluid=PROPANE, tank=TANK, fill=0.6):
    return lr.Contents(
        tank, fluid, fill=fill, temperature=fluid.saturation(pressure=101325.0 + gauge).temperature
    )


def unmet(seal):
    return {item.name for item in seal.conditions if not np.all(item.met)}


# -- kinds of leak ------------------------------------------------------------------------------------


def test_a_boiling_mixture_brings_less_cold_the_more_vapor_it_holds():
    seal = assess_freeze_seal(
        PROPANE, HOLE, gauge_pressure=2e3, phase="two-phase", vapor_fraction=np.linspace(0.0, 1.0, 6)
    )
    assert np.all(np.diff(seal.cooling_power) < 0.0)
    assert np.all(np.diff(seal.leak_vapor_fraction) > 0.0)
    release = lr.two_phase_release(
        PROPANE,
        HOLE,
        temperature=PROPANE.saturation(pressure=103325.0).temperature,
        vapor_fraction=0.4,
    )
    assert seal.leak_mass_flow[2] == pytest.approx(release.mass_flow, rel=1e-12)


def test_a_boiling_mixture_keeps_its_enthalpy():
    seal = assess_freeze_seal(PROPANE, HOLE, gauge_pressure=5e5, phase="two-phase", vapor_fraction=0.2)
    before, after = PROPANE.saturation(pressure=601325.0), PROPANE.saturation(pressure=101325.0)
    enthalpy = before.liquid_enthalpy + 0.2 * before.latent_heat
    arrives = after.liquid_enthalpy + seal.leak_vapor_fraction * after.latent_heat
    assert arrives == pytest.approx(enthalpy, rel=1e-12)
    assert seal.leak_temperature == pytest.approx(after.temperature, abs=1e-6)


def test_saturated_vapor_as_a_mixture_is_the_vapor_leak():
    mixture = assess_freeze_seal(PROPANE, HOLE, gauge_pressure=2e3, phase="two-phase", vapor_fraction=1.0)
    vapor = assess_freeze_seal(PROPANE, HOLE, gauge_pressure=2e3, phase="vapor")
    assert mixture.leak_temperature == pytest.approx(vapor.leak_temperature, abs=1e-6)
    assert mixture.leak_mass_flow == pytest.approx(vapor.leak_mass_flow, rel=1e-4)


def test_without_flow_a_mixture_brings_no_cold_and_the_drip_rate_is_named():
    seal = assess_freeze_seal(PROPANE, HOLE, phase="two-phase")
    assert not seal.feasible
    assert seal.cooling_power == 0.0
    assert 0.0 < seal.needed_drip_rate < 1e-3
    assert "too weak" in seal.condition("cold brought exceeds the heat of air and metal").advice


def test_the_needed_drip_freezes_the_cloth_in_just_the_time_available():
    seal = assess_freeze_seal(PROPANE, HOLE, phase="vapor", captured_cold=0.5, time_available=3600.0)
    cloth = WetCloth()
    area = np.pi * (0.003 + cloth.overlap) ** 2
    water = cloth.porosity * 999.8 * cloth.thickness * area
    heat = water * (333.4e3 + 4200.0 * 20.0 + 2050.0 * (273.15 - 231.036) / 3.0)
    boiling = PROPANE.saturation(pressure=101325.0)
    warm = PROPANE.gas(temperature=273.15, pressure=101325.0)
    brought = 0.5 * seal.needed_drip_rate * (warm.enthalpy - boiling.liquid_enthalpy) * 3600.0
    assert brought == pytest.approx(heat + seal.heat_gain * 3600.0, rel=1e-5)


def test_butane_that_evaporates_into_open_air_is_colder_than_it_boils():
    """Only with the option: the vapor of a leak keeps the air out of the cloth."""
    butane = lr.Fluid("n-butane")
    shut = assess_freeze_seal(butane, HOLE, head=0.3)
    free = assess_freeze_seal(butane, HOLE, head=0.3, open_to_air=True)
    assert not shut.feasible
    assert free.feasible
    assert free.spread_temperature == shut.spread_temperature < 240.0
    assert any("evaporation into the air" in text for text in free.cautions)


def test_open_air_never_delays_freezing():
    for name in ("propane", "isobutane", "n-butane", "n-pentane"):
        for phase in ("liquid", "two-phase"):
            times = [
                assess_freeze_seal(
                    lr.Fluid(name), HOLE, gauge_pressure=2e3, phase=phase, open_to_air=option
                ).freeze_time
                for option in (False, True)
            ]
            assert times[1] <= times[0]


def test_a_warm_wall_takes_the_cold_of_a_vapor_leak():
    cold = assess_freeze_seal(PROPANE, HOLE, gauge_pressure=2e3, phase="vapor")
    warm = assess_freeze_seal(
        PROPANE, HOLE, gauge_pressure=2e3, phase="vapor", wall=MetalWall(temperature=[273.15, 285.0, 300.0])
    )
    assert cold.metal_heat_gain == warm.metal_heat_gain[0] == 0.0
    assert warm.freeze_time[0] == cold.freeze_time
    assert np.all(np.diff(warm.metal_heat_gain) > 0.0)
    assert np.all(np.diff(warm.freeze_time[:2]) > 0.0)
    assert np.isinf(warm.freeze_time[2])
    assert not warm.feasible[2]


def test_salt_makes_it_freeze_later_and_hold_less():
    seal = assess_freeze_seal(PROPANE, HOLE, cloth=WetCloth(salinity=[0.0, 0.005, 0.035]))
    assert np.all(np.diff(seal.freezing_point) < 0.0)
    assert np.all(np.diff(seal.freeze_time) > 0.0)
    assert np.all(np.diff(seal.lowest_push_out_pressure) < 0.0)
    assert seal.fluid_threshold_pressure[2] == pytest.approx(
        PROPANE.saturation(temperature=seal.freezing_point[2]).pressure
    )


def test_warm_water_freezes_later():
    seal = assess_freeze_seal(PROPANE, HOLE, cloth=WetCloth(water_temperature=[273.15, 293.15, 333.15]))
    assert np.all(np.diff(seal.freeze_time) > 0.0)


def test_vapor_threshold_is_where_vapor_arrives_at_freezing():
    edge = float(
        assess_freeze_seal(PROPANE, HOLE, phase="vapor", gauge_pressure=1e3).vapor_threshold_pressure
    )
    seal = assess_freeze_seal(PROPANE, HOLE, phase="vapor", gauge_pressure=edge - 101325.0)
    assert seal.leak_temperature == pytest.approx(273.15, abs=1e-3)
    assert assess_freeze_seal(lr.Fluid("n-pentane"), HOLE).vapor_threshold_pressure == 0.0
    assert np.isinf(assess_freeze_seal(lr.Fluid("ethylene"), HOLE).vapor_threshold_pressure)


# -- what to change -----------------------------------------------------------------------------------


def test_following_the_advice_meets_the_condition():
    """Every amount named, carried out with a thousandth to spare, turns its own condition."""
    hole, cloth = lr.Opening(diameter=0.05), WetCloth(thickness=0.004, overlap=0.045, unbonded_width=0.04)
    given = {"gauge_pressure": 6e4, "cloth": cloth, "time_available": 30.0}
    seal = assess_freeze_seal(PROPANE, hole, **given)
    changes = {
        "wet cloth keeps its water": lambda x: given | {"gauge_pressure": 6e4 - x},
        "plug does not peel from the wall": lambda x: given | {"gauge_pressure": 6e4 - x},
        "cloth withstands the jet": lambda x: (
            given | {"cloth": dataclasses.replace(cloth, pressing_force=50.0 + x)}
        ),
        "plug does not crack in bending": lambda x: (
            given | {"cloth": dataclasses.replace(cloth, thickness=0.004 + x)}
        ),
        "rim withstands the push-out force": lambda x: (
            given | {"cloth": dataclasses.replace(cloth, overlap=0.045 + x)}
        ),
        "cloth freezes in the time available": lambda x: given | {"time_available": 30.0 + x},
    }
    assert set(changes) == unmet(seal)
    for name, changed in changes.items():
        amount = float(seal.condition(name).change)
        assert amount > 0.0
        for factor, met in ((1.001, True), (0.999, False)):
            after = assess_freeze_seal(PROPANE, hole, **changed(factor * amount))
            assert bool(after.condition(name).met) is met, name


def test_advice_names_amounts_and_counts_scenarios():
    seal = assess_freeze_seal(PROPANE, HOLE, gauge_pressure=[0.0, 1e4, 1e5])
    (text,) = [text for text in seal.advice if text.startswith("wet cloth")]
    assert "in 2 of 3 scenarios" in text
    assert "7.09 to 97.1 kPa" in text
    assert assess_freeze_seal(PROPANE, HOLE).advice == ()
    assert text in repr(seal)


def test_hopeless_cases_say_so():
    butane = assess_freeze_seal(lr.Fluid("n-butane"), HOLE, gauge_pressure=[0.0])
    assert any("thinner" in text for text in butane.advice)
    pentane = assess_freeze_seal(lr.Fluid("n-pentane"), HOLE)
    assert any("boils too warm for ice" in text for text in pentane.advice)
    head = assess_freeze_seal(PROPANE, HOLE, head=1.0)
    assert any("the head of liquid alone is too much" in text for text in head.advice)


def test_hot_vapor_is_told_how_far_to_come_down():
    hot = PROPANE.saturation(temperature=300.0).pressure - 101325.0
    seal = assess_freeze_seal(PROPANE, HOLE, gauge_pressure=hot, phase="vapor")
    item = seal.condition("leak arrives below freezing")
    after = assess_freeze_seal(PROPANE, HOLE, gauge_pressure=hot - 1.001 * item.change, phase="vapor")
    assert after.condition("leak arrives below freezing").met


@pytest.mark.parametrize("solubility", ["partly", "miscible", "reacts", "something new"])
def test_classes_of_cargo_that_are_refused(solubility):
    verdict = cargo.judge_class(solubility)
    assert verdict.dissolved > cargo.LARGEST_DISSOLVED
    assert verdict.reason
    assert "{" not in verdict.reason


def test_every_substance_has_a_rule_of_its_own():
    from lpgrelease.fluids.substances import SUBSTANCES

    refused = {name for name in SUBSTANCES if cargo.judge_cargo(lr.Fluid(name)).reason}
    assert {"ammonia", "methylamine", "ethylene oxide", "chlorine", "sulfur dioxide"} <= refused
    assert {"dimethyl ether", "methyl chloride", "carbon dioxide", "propylene oxide"} <= refused
    assert not {"propane", "n-butane", "propylene", "isobutane", "1,3-butadiene", "R134a"} & refused
    seals = {name: assess_freeze_seal(lr.Fluid(name), HOLE) for name in ("ammonia", "chlorine", "propane")}
    assert {name for name, seal in seals.items() if seal.refusal} == {"ammonia", "chlorine"}
    assert "sulfurous acid" in cargo.judge_cargo(lr.Fluid("SO2")).reason
    assert not any("not known here" in cargo.judge_cargo(lr.Fluid(name)).reason for name in SUBSTANCES)


def test_an_unknown_condition_is_named():
    with pytest.raises(InputError, match="no condition is named 'luck'; there are: water takes up"):
        assess_freeze_seal(PROPANE, HOLE).condition("luck")


def test_marginal_lies_between_the_edges():
    seal = assess_freeze_seal(PROPANE, HOLE)
    low, high = float(seal.highest_gauge_pressure), float(seal.highest_favorable_gauge_pressure)
    assert low < high
    gauge = [0.99 * low, 1.01 * low, 0.99 * high, 1.01 * high]
    around = assess_freeze_seal(PROPANE, HOLE, gauge_pressure=gauge)
    assert around.verdict.tolist() == ["feasible", "marginal", "marginal", "not feasible"]


def test_thrust_is_the_momentum_of_a_liquid_jet_and_bounds_that_of_vapor():
    hole, ambient = lr.Opening(diameter=0.02), 101325.0
    gauge = np.array([1e3, 1e4, 1e5, 7e5])
    seal = assess_freeze_seal(PROPANE, hole, gauge_pressure=gauge)
    inside = PROPANE.saturation(pressure=ambient + gauge)
    flow = lr.liquid_release(PROPANE, hole, temperature=inside.temperature).mass_flow
    assert seal.jet_thrust == pytest.approx(flow * np.sqrt(2.0 * gauge / inside.liquid_density), rel=1e-6)
    rate = lr.vapor_release(PROPANE, hole, temperature=inside.temperature)
    throat = PROPANE.saturation(temperature=rate.throat_temperature)
    dry = rate.throat_vapor_fraction >= 1.0
    enthalpy = np.where(
        dry,
        PROPANE.gas(
            temperature=np.maximum(rate.throat_temperature, throat.temperature + 1e-6),
            pressure=np.minimum(rate.throat_pressure, throat.pressure * (1 - 1e-9)),
        ).enthalpy,
        throat.liquid_enthalpy + rate.throat_vapor_fraction * throat.latent_heat,
    )
    speed = np.sqrt(2.0 * np.maximum(inside.vapor_enthalpy - enthalpy, 0.0))
    force = rate.mass_flow * speed + hole.effective_area * (rate.throat_pressure - ambient)
    assert np.all(force > 0.3 * seal.jet_thrust)
    assert np.all(force <= seal.jet_thrust)


# -- holding on a tank --------------------------------------------------------------------------------


@pytest.mark.parametrize("salinity", [0.0, 0.03])
def test_melting_follows_the_balance_and_converges(salinity):
    """q dX/dt = -(g - k d/X): time to a thickness in closed form; the error halves with the step."""
    seal = assess_freeze_seal(PROPANE, HOLE, cloth=WetCloth(thickness=0.05, salinity=salinity))
    body, freezing = hold._with_time_axis(seal.plug), float(seal.freezing_point)
    T = freezing - 3.15
    g = 15.0 * (293.15 - freezing) / float(seal.plug.latent_heat)
    kd = float(seal.plug.conductivity) * (freezing - T) / float(seal.plug.latent_heat)
    X0, X1 = 0.05, 0.03
    exact = (X0 - X1) / g + kd / (g * g) * np.log((g * X0 - kd) / (g * X1 - kd))
    errors = []
    for points in (129, 257):
        time = np.linspace(0.0, exact, points)
        X = hold._melt(body, time, np.full(points, T), np.full(points, 293.15))
        assert np.all(np.diff(X) < 0.0)
        errors.append(X[-1] - X1)
    assert abs(errors[1]) < 2e-5  # a thousandth of what melts
    assert errors[0] / errors[1] == pytest.approx(2.0, rel=0.05)


@pytest.mark.parametrize("name", FLUIDS)
def test_what_water_takes_up_is_a_mass_fraction_and_refused_where_it_is_much(name):
    found = cargo.judge_cargo(lr.Fluid(name))
    assert 0.0 < found.dissolved <= 1.0
    assert bool(found.reason) == (found.dissolved > cargo.LARGEST_DISSOLVED)


def test_ice_on_a_face_that_is_not_colder_than_ice_never_grows():
    times = ice.freezing_time(
        0.02, [273.15, 280.0, 263.15], 293.15, heat_transfer=15.0, conductivity=2.2, volumetric_heat=3e8
    )
    assert np.isinf(times[:2]).all()
    assert 0.0 < times[2] < np.inf


def test_an_ambient_pressure_without_a_boiling_point_is_named():
    with pytest.raises(
        OutOfRangeError, match=r"^ambient_pressure = 1e\+07 Pa|^ambient_pressure = 10000000 Pa"
    ):
        assess_freeze_seal(PROPANE, HOLE, ambient_pressure=1e7)


def test_a_thin_plug_on_a_cold_wall_does_not_melt():
    found = hold_freeze_seal(assess_freeze_seal(PROPANE, HOLE), cold_contents(), weather=WEATHER)
    cold = found.temperature < 273.15
    assert np.all(found.ice_thickness[cold] == 0.02)


def test_a_shut_tank_ends_the_plug_by_pressure_and_the_end_is_the_edge():
    seal = assess_freeze_seal(PROPANE, HOLE)
    found = hold_freeze_seal(seal, cold_contents(), weather=WEATHER, duration=7200.0)
    assert found.ended_by == "pressure"
    at = np.interp(found.holding_time, found.time, found.gauge_pressure)
    assert at == pytest.approx(float(seal.highest_holding_gauge_pressure), rel=1e-3)
    assert found.holding_time < found.favorable_holding_time


def test_strong_heat_from_the_air_ends_the_plug_by_melting():
    """A shut, insulated tank: its pressure stays, the air melts the ice to what a cold wall keeps."""
    tank = dataclasses.replace(TANK, heat_transfer=1e-3)
    isobutane = lr.Fluid("isobutane")
    seal = assess_freeze_seal(
        isobutane,
        lr.Opening(diameter=0.02),
        cloth=WetCloth(thickness=0.03),
        outside_heat_transfer=5.0,
        time_available=1e6,
    )
    windy = dataclasses.replace(seal.plug, outside_heat_transfer=np.array(200.0))
    found = hold_freeze_seal(
        dataclasses.replace(seal, plug=windy),
        cold_contents(gauge=8e3, fluid=isobutane, tank=tank),
        weather=WEATHER,
        duration=86400.0,
        points=513,
    )
    assert found.ended_by == "melting"
    at = np.interp(found.holding_time, found.time, found.ice_thickness)
    assert plug.holding_pressure(windy, at) == pytest.approx(8e3, rel=0.01)
    kept = float(windy.conductivity) * (273.15 - found.temperature[-1]) / (200.0 * 20.0)
    assert found.ice_thickness[-1] == pytest.approx(kept, rel=1e-3)


def test_a_wall_that_thaws_ends_the_plug():
    isobutane = lr.Fluid("isobutane")
    strong = assess_freeze_seal(
        isobutane,
        lr.Opening(diameter=0.002),
        cloth=WetCloth(thickness=0.05, overlap=0.3, unbonded_width=0.002),
        outside_heat_transfer=3.0,
        time_available=1e6,
    )
    found = hold_freeze_seal(
        strong, cold_contents(gauge=1e3, fluid=isobutane, fill=0.2), weather=WEATHER, duration=86400.0
    )
    assert found.ended_by == "wall above freezing"
    assert np.interp(found.holding_time, found.time, found.temperature) == pytest.approx(273.15, abs=0.01)


def test_pressures_to_keep_and_coefficients_are_as_good_as_one_at_a_time():
    seal, contents = assess_freeze_seal(PROPANE, HOLE), cold_contents()
    both = {"keep_gauge_pressure": [2e3, 9e3], "discharge_coefficient": [[0.6], [0.8], [0.9]]}
    found = hold_freeze_seal(seal, contents, weather=WEATHER, **both)
    assert found.vent_diameter.shape == found.holding_time.shape == (3, 2)
    one = hold_freeze_seal(
        seal, contents, weather=WEATHER, keep_gauge_pressure=9e3, discharge_coefficient=0.8
    )
    for name in ("vent_diameter", "safe_gauge_pressure", "safe_vent_rate", "holding_time", "ice_thickness"):
        assert np.array_equal(getattr(found, name)[1, 1], getattr(one, name)), name
    with pytest.raises(InputError, match=r"do not broadcast: .*keep_gauge_pressure \(2,\)"):
        hold_freeze_seal(
            seal,
            contents,
            weather=WEATHER,
            keep_gauge_pressure=[2e3, 9e3],
            discharge_coefficient=[0.6, 0.7, 0.8],
        )


def test_the_vent_named_keeps_the_pressure():
    """The tank, from below, with the vent that was named: it settles at the pressure to keep."""
    seal = assess_freeze_seal(PROPANE, HOLE)
    contents = cold_contents()
    named = hold_freeze_seal(seal, contents, weather=WEATHER)
    vent = lr.Opening(diameter=named.vent_diameter, height=1.6)
    kept = hold_freeze_seal(seal, contents, weather=WEATHER, vents=[vent], duration=8 * 3600.0)
    assert kept.ended_by == "still holding"
    assert kept.holding_time == 8 * 3600.0
    assert kept.gauge_pressure.max() <= float(named.safe_gauge_pressure) * 1.001
    assert kept.gauge_pressure[-1] == pytest.approx(float(named.safe_gauge_pressure), rel=0.01)
    run = lr.tank_history(contents, openings=[vent], weather=WEATHER, duration=8 * 3600.0)
    # heat falls a little with the tank's warming on the way: the last flow is the one named
    assert run.mass_flow[0, -1] == pytest.approx(float(named.safe_vent_rate), rel=0.01)


def test_vent_rate_is_heat_over_latent_heat():
    named = hold_freeze_seal(
        assess_freeze_seal(PROPANE, HOLE), cold_contents(), weather=WEATHER, keep_gauge_pressure=0.0
    )
    state = PROPANE.saturation(pressure=101325.0)
    heat = 300.0 * (293.15 - state.temperature)
    assert named.heat_rate == pytest.approx(heat, rel=1e-9)
    share = 1.0 - state.vapor_density / state.liquid_density
    assert named.safe_vent_rate == pytest.approx(share * heat / state.latent_heat, rel=1e-9)
    assert np.isinf(named.vent_diameter)  # at zero gauge nothing drives it


def test_what_never_froze_does_not_hold():
    seal = assess_freeze_seal(PROPANE, HOLE, phase="vapor")
    found = hold_freeze_seal(seal, cold_contents(), weather=WEATHER, duration=600.0)
    assert found.ended_by == "never frozen"
    assert found.holding_time == found.favorable_holding_time == 0.0
    assert np.all(found.credited_gauge_pressure == 0.0)


def test_holding_alone_equals_among_many_and_pickles():
    gauge, fill = np.array([0.0, 700.0, 2e3]), np.array([[0.3], [0.8]])
    seals = assess_freeze_seal(PROPANE, lr.Opening(diameter=[0.003, 0.006, 0.02]), gauge_pressure=gauge)
    temperature = PROPANE.saturation(pressure=101325.0 + gauge).temperature
    many = hold_freeze_seal(seals, lr.Contents(TANK, PROPANE, fill=fill, temperature=temperature), points=17)
    assert many.holding_time.shape == (2, 3)
    assert many.time.shape == (2, 3, 17)
    for i, j in ((0, 0), (1, 1), (0, 2)):
        seal = assess_freeze_seal(
            PROPANE, lr.Opening(diameter=[0.003, 0.006, 0.02][j]), gauge_pressure=gauge[j]
        )
        one = hold_freeze_seal(
            seal, lr.Contents(TANK, PROPANE, fill=fill[i, 0], temperature=temperature[j]), points=17
        )
        for name in ("holding_time", "ice_thickness", "gauge_pressure", "vent_diameter", "ended_by"):
            assert np.array_equal(getattr(one, name), getattr(many, name)[i, j]), name
    assert pickle.loads(pickle.dumps(many)) == many
    assert "watch the gauge" in repr(many)


@pytest.mark.parametrize(
    ("fill", "vent", "end"),
    [(0.985, 0.0, "liquid full"), (0.005, 0.02, "liquid gone"), (0.6, 0.0, "duration")],
)
def test_what_ends_the_history_of_the_tank_is_told_and_its_cautions_travel(fill, vent, end):
    contents = cold_contents(gauge=0.0, fill=fill)
    vents = [lr.Opening(diameter=vent, height=1.6)] if vent else []
    asked = {"weather": WEATHER, "duration": 72000.0 if end != "duration" else 600.0}
    tank = lr.tank_history(contents, openings=vents, points=129, **asked)
    assert tank.stopped_by == end
    found = hold_freeze_seal(assess_freeze_seal(PROPANE, HOLE), contents, vents=vents, **asked)
    assert found.holding_time == found.time[-1] == tank.time[-1]
    assert found.ended_by == ("still holding" if end == "duration" else end)
    assert set(tank.cautions) <= set(found.cautions)
    assert (hold.ENDS_EARLY in found.cautions) == (end != "duration")
    assert any("bursts" in text for text in found.cautions) == (end == "liquid full")


def test_a_plug_that_gives_way_first_is_told_so_whatever_ends_the_tank():
    contents = cold_contents(fill=[0.5, 0.985, 0.6])
    seal = assess_freeze_seal(PROPANE, HOLE, gauge_pressure=[700.0, 700.0, 0.0])
    found = hold_freeze_seal(seal, contents, weather=WEATHER, duration=[2e4, 2e4, 600.0])
    ends_early = found.time[..., -1] < np.array([2e4, 2e4, 600.0])
    assert ends_early.tolist() == [False, True, False]
    assert found.ended_by.tolist() == ["pressure", "liquid full", "still holding"]


def test_a_seal_that_is_not_feasible_holds_with_a_caution():
    vapor = assess_freeze_seal(PROPANE, HOLE, gauge_pressure=5e5, phase="vapor")
    assert vapor.verdict == "not feasible"
    assert np.isfinite(vapor.freeze_time)
    assert hold.NOT_FEASIBLE in hold_freeze_seal(vapor, cold_contents(), duration=600.0).cautions
    marginal = assess_freeze_seal(PROPANE, HOLE, gauge_pressure=4e3)
    assert marginal.verdict == "marginal"
    told = hold_freeze_seal(marginal, cold_contents(), duration=600.0).cautions
    assert hold.MARGINAL in told
    assert hold.NOT_FEASIBLE not in told
    sound = hold_freeze_seal(assess_freeze_seal(PROPANE, HOLE), cold_contents(), duration=600.0).cautions
    assert not {hold.MARGINAL, hold.NOT_FEASIBLE} & set(sound)


def test_a_seal_on_another_cargo_than_the_tanks_is_refused():
    butane = lr.Fluid("n-butane")
    with pytest.raises(InputError, match="assessed for propane, but contents are n-butane"):
        hold_freeze_seal(assess_freeze_seal(PROPANE, HOLE), cold_contents(fluid=butane))
    blend, rest = (lr.Fluid({"propane": x, "n-butane": 1.0 - x}) for x in (0.9, 0.8))
    with pytest.raises(InputError, match="assess it for what the tank holds"):
        hold_freeze_seal(assess_freeze_seal(PROPANE, HOLE), cold_contents(fluid=blend))
    # what is left of a blend is the same cargo
    assert hold_freeze_seal(
        assess_freeze_seal(rest, HOLE), cold_contents(fluid=blend), duration=60.0
    ).time.size


def test_wrong_kinds_are_refused():
    with pytest.raises(InputError, match="seal must be FreezeSeal"):
        hold_freeze_seal(HOLE, cold_contents())
    with pytest.raises(InputError, match="contents must be Contents"):
        hold_freeze_seal(assess_freeze_seal(PROPANE, HOLE), TANK)
    for arguments, message in (
        ({"cloth": 0.02}, "cloth must be a WetCloth"),
        ({"wall": 0.02}, "wall must be a MetalWall"),
        ({"open_to_air": 1}, "open_to_air must be True or False"),
        ({"phase": "two-phase", "tank_temperature": 250.0}, "tank_temperature must be left out"),
    ):
        with pytest.raises(InputError, match=message):
            assess_freeze_seal(PROPANE, HOLE, **arguments)
    for make, message in (
        (lambda: MetalWall(thickness=0.0), "thickness"),
        (lambda: MetalWall(temperature=20.0), "temperature of the wall"),
        (lambda: WetCloth(salinity=0.3), "salinity"),
        (lambda: WetCloth(pressing_force=-1.0), "pressing_force"),
        (lambda: assess_freeze_seal(PROPANE, HOLE, phase="two-phase", vapor_fraction=1.1), "vapor_fraction"),
    ):
        with pytest.raises(OutOfRangeError, match=message):
            make()


# -- common practice, no source: what responders say, tested on the numbers ---------------------------


def test_the_pressure_must_come_down_first():
    """Common practice, no source: a pressurized jet throws water and cloth off; at zero gauge it stays."""
    warm = PROPANE.saturation(temperature=293.15).pressure - 101325.0
    hole = lr.Opening(diameter=0.02)
    hot, down = (assess_freeze_seal(PROPANE, hole, gauge_pressure=p) for p in (warm, 0.0))
    water = hot.condition("wet cloth keeps its water")
    assert water.value > 100.0 * water.limit  # the water is thrown out
    jet = hot.condition("cloth withstands the jet")
    assert jet.value > 5.0 * jet.limit  # and the cloth with it: some 290 N against a hand's 50 N
    assert hot.verdict == "not feasible"
    assert down.verdict == "feasible"
    assert hot.leak_temperature == down.leak_temperature  # it is not for want of cold


def test_at_zero_gauge_a_cloth_on_propane_freezes_and_is_frozen_hours_later():
    """Common practice, no source. The boil-off is let out meanwhile, as the seal demands."""
    seal = assess_freeze_seal(PROPANE, HOLE, gauge_pressure=0.0, weather=WEATHER)
    assert seal.feasible
    assert seal.freeze_time < 3600.0
    contents = cold_contents(gauge=0.0)
    vent = lr.Opening(diameter=hold_freeze_seal(seal, contents, weather=WEATHER).vent_diameter, height=1.6)
    hours = hold_freeze_seal(seal, contents, weather=WEATHER, vents=[vent], duration=5 * 3600.0)
    assert hours.ended_by == "still holding"
    assert hours.ice_thickness[-1] == 0.02
    shut = hold_freeze_seal(seal, contents, weather=WEATHER)
    assert shut.holding_time < 2 * 3600.0  # without the vent it is a stop-gap


def test_more_cloth_if_it_still_leaks():
    """Common practice, no source: where the plug gives way, more cloth on it holds."""
    hole, thin = lr.Opening(diameter=0.05), WetCloth(thickness=0.004)
    leaks = assess_freeze_seal(PROPANE, hole, gauge_pressure=2e3, cloth=thin)
    assert "plug does not crack in bending" in unmet(leaks)
    added = 1.01 * float(leaks.condition("plug does not crack in bending").change)
    holds = assess_freeze_seal(PROPANE, hole, gauge_pressure=2e3, cloth=WetCloth(thickness=0.004 + added))
    assert holds.feasible
    assert plug.holding_pressure(holds.plug, holds.plug.thickness) > 2e3


def test_no_scenarios_are_shown_as_none():
    seal = assess_freeze_seal(PROPANE, HOLE, gauge_pressure=np.zeros(0))
    assert seal.freeze_time.shape == (0,)
    assert repr(seal).count("no scenario") == len(seal.conditions)
