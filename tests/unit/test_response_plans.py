"""Plans that are lists of steps: what begins when, what waits for what, what is told and what is refused."""

from __future__ import annotations

import dataclasses
import pickle

import numpy as np
import pytest
from response_cases import HOLE, PROPANE, TANK, VENT, assert_same_numbers, incident

import lpgrelease as lr
from lpgrelease.constants import ZERO_GAUGE_READING

ZERO = float(ZERO_GAUGE_READING)
NIGHT = lr.Weather(air_temperature=281.15, wind_speed=1.5, stability="F")
DAY = lr.Weather(air_temperature=291.15, wind_speed=5.0, solar_irradiance=300.0)
HOURS = lr.WeatherByHour(times=[0.0, 5400.0, 9000.0], weathers=[NIGHT, DAY, NIGHT])
SMALL = lr.Opening(diameter=0.003, height=0.2)


def steps_plan(*steps, arrival=600.0, **others):
    return lr.ResponsePlan(**({"arrival": arrival, "steps": list(steps), "hold": 60.0} | others))


def changed(case, **others):
    return dataclasses.replace(case, **others)


def told(story):
    return {step.name: step for step in story.steps()}


def begins(story, name):
    return float(story.step_begins[[step.name for step in story.plan.steps].index(name)])


# -- the usual course --------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def usual():
    return lr.forecast(incident(), lr.ResponsePlan(arrival=600.0, vent=VENT, hold=300.0))


def test_the_usual_course_is_the_tank_marched_by_hand(usual):
    """Leak, vent, freeze and hold, each a history of its own, put together without the forecast's engine."""
    case, still = incident(), {"weather": incident().weather, "points": 65}
    leaking = lr.tank_history(case.contents, openings=[HOLE], duration=600.0, **still)
    venting = lr.tank_history(
        leaking.final, openings=[HOLE, VENT], duration=86400.0, stop_at_gauge_pressure=ZERO, **still
    )
    zero = 600.0 + float(venting.time[-1])
    assert usual.zero_gauge_at == pytest.approx(zero, rel=1e-9)
    level = float(venting.final.level) - 0.2
    seal = lr.assess_freeze_seal(
        PROPANE,
        HOLE,
        phase="liquid",
        gauge_pressure=ZERO,
        tank_temperature=float(venting.temperature[-1]),
        head=level,
        weather=case.weather,
    )
    wait = 120.0 + float(seal.freeze_time)
    freezing = lr.tank_history(venting.final, openings=[HOLE, VENT], duration=wait, **still)
    holding = lr.tank_history(freezing.final, openings=[VENT], duration=300.0, **still)
    assert usual.phase_end[2] == pytest.approx(zero + wait, rel=1e-6)
    left = holding.liquid_mass[-1] + holding.vapor_mass[-1]
    assert usual.ledger.in_tank == pytest.approx(float(left), rel=1e-6)
    leaked = sum(float(run.mass_released[0, -1]) for run in (leaking, venting, freezing))
    assert usual.leaked[0, -1] == pytest.approx(leaked, rel=1e-6)


def test_the_usual_course_in_steps_is_the_usual_forecast(usual):
    """What a plan without steps stands for, spelled out."""
    story = lr.forecast(
        incident(),
        steps_plan(
            lr.Vent(vent=VENT),
            lr.Seal(starts=lr.When(gauge_at_most=ZERO), waits=False),
            lr.Hold(lasts=300.0, starts=lr.When(after="seal")),
            hold=1.0,
        ),
    )
    assert story.zero_gauge_at == pytest.approx(usual.zero_gauge_at, rel=1e-9)
    assert begins(story, "seal") == pytest.approx(usual.phase_end[1], rel=1e-9)
    assert begins(story, "hold") == pytest.approx(usual.phase_end[2], rel=1e-9)
    names = ("tenth_bar_after", "one_bar_after", "ice_limit_after", "pool_diameter", "pool_gone_at")
    for name in names:
        assert getattr(story, name) == pytest.approx(float(getattr(usual, name)), rel=1e-7), name
    for name in ("leaked_as_liquid", "evaporated", "flashed"):
        assert getattr(story.ledger, name) == pytest.approx(float(getattr(usual.ledger, name)), rel=1e-7)
    assert np.array_equal(story.sealed, usual.sealed)


def test_an_incident_that_changes_takes_the_usual_plan(usual):
    """A table of the same weather twice over, with a cut in the middle of venting."""
    steady = incident().weather
    twice = lr.WeatherByHour(times=[0.0, 800.0], weathers=[steady, steady])
    story = lr.forecast(
        changed(incident(), weather=twice), lr.ResponsePlan(arrival=600.0, vent=VENT, hold=300.0)
    )
    assert story.zero_gauge_at == pytest.approx(usual.zero_gauge_at, rel=1e-5)  # the march's own accuracy
    assert story.ledger.vented == pytest.approx(usual.ledger.vented, rel=1e-3)
    assert story.sealed.all()
    assert np.all(story.masses.imbalance < 1e-9)


# -- what waits for what -----------------------------------------------------------------------------


def test_steps_wait_for_the_clock_and_for_daylight():
    case = changed(incident(leaks=[SMALL]), weather=HOURS, clock="04:00")
    story = lr.forecast(
        case,
        steps_plan(
            lr.Vent(vent=VENT),
            lr.Hold(name="clock", lasts=60.0, starts=lr.When(clock="04:45")),
            lr.Hold(name="early", lasts=60.0, starts=lr.When(clock="03:45")),
            lr.Hold(name="day", lasts=60.0, starts=lr.When(daylight=True)),
            lr.Hold(name="wind", lasts=60.0, starts=lr.When(wind_at_least=4.0)),
            lr.Hold(name="calm", lasts=60.0, starts=lr.When(wind_at_most=2.0, after="day")),
            longest=4 * 3600.0,
        ),
    )
    assert begins(story, "clock") == 2700.0
    assert begins(story, "day") == begins(story, "wind") == 5400.0
    assert begins(story, "calm") == 9000.0
    assert begins(story, "early") == np.inf  # a quarter to four comes after the forecast
    assert told(story)["early"].state == "impossible"
    assert "the clock shows 03:45 or later" in told(story)["early"].reason


def test_steps_wait_for_one_another():
    story = lr.forecast(
        incident(),
        steps_plan(
            lr.KeepOut(distance=300.0, takes=600.0),
            lr.Vent(vent=VENT, starts=lr.When(after="keep people out", wait=120.0), longest=60.0),
            lr.Hold(lasts=30.0, starts=lr.When(after_start="vent", wait=20.0)),
            lr.Hold(name="later", lasts=30.0, starts=[lr.When(after="hold"), lr.When(time=1e5)]),
        ),
    )
    assert begins(story, "vent") == pytest.approx(600.0 + 600.0 + 120.0, abs=1e-9)
    assert begins(story, "hold") == pytest.approx(1340.0, abs=1e-9)
    assert begins(story, "later") == pytest.approx(1370.0, abs=1e-9)
    assert told(story)["vent"].state == "given up"
    assert told(story)["vent"].ends == pytest.approx(1380.0, abs=1e-9)
    assert story.phase_end[-1] == pytest.approx(1400.0 + 60.0, abs=1e-9)


@pytest.mark.parametrize(
    ("when", "field", "value"),
    [
        (lr.When(gauge_at_most=3e5), "gauge_pressure", 3e5),
        (lr.When(temperature_at_most=270.0), "temperature", 270.0),
        (lr.When(liquid_at_most=900.0), "liquid_mass", 900.0),
        (lr.When(function=lambda state: (state.pressure - 4e5) / 1e5), "pressure", 4e5),
    ],
)
def test_a_condition_on_the_tank_is_met_where_it_says(when, field, value):
    story = lr.forecast(incident(), steps_plan(lr.Vent(vent=VENT), lr.Hold(lasts=10.0, starts=when)))
    at = begins(story, "hold")
    i = int(np.searchsorted(story.time, at))
    assert getattr(story, field)[i] == pytest.approx(value, rel=1e-6)
    assert 600.0 < at < story.zero_gauge_at


def test_a_vent_that_ends_on_a_level_and_one_that_opens_on_pressure():
    """Warm and shut, the tank climbs past a pressure, is vented to another, climbs again."""
    case = incident(
        leaks=[], temperature=275.0, air=313.15, tank=dataclasses.replace(TANK, heat_transfer=500.0)
    )
    start = float(case.contents.gauge_pressure())
    story = lr.forecast(
        case,
        steps_plan(
            lr.Vent(
                vent=VENT,
                starts=lr.When(gauge_at_least=start + 6e4),
                ends=lr.When(gauge_at_most=start),
            ),
            lr.Hold(lasts=10.0, starts=lr.When(after="vent", temperature_at_least=276.0)),
            longest=6 * 3600.0,
        ),
    )
    at = {name: begins(story, name) for name in ("vent", "hold")}
    assert np.interp(at["vent"], story.time, story.gauge_pressure) == pytest.approx(start + 6e4, rel=1e-6)
    assert np.interp(at["hold"], story.time, story.temperature) == pytest.approx(276.0, abs=1e-4)
    ends = told(story)["vent"].ends
    assert np.interp(ends, story.time, story.gauge_pressure) == pytest.approx(start, rel=1e-6)


def test_a_seal_waits_until_the_cloth_would_freeze():
    story = lr.forecast(incident(), steps_plan(lr.Vent(vent=VENT), lr.Seal(), longest=7200.0))
    at = begins(story, "seal")
    reads = float(np.interp(at, story.time, story.gauge_pressure))
    assert reads <= story.seals[0].highest_gauge_pressure
    assert reads == pytest.approx(float(story.seals[0].highest_gauge_pressure), rel=0.01)
    assert told(story)["seal"].state == "done"
    assert story.sealed.all()
    hasty = lr.forecast(incident(), steps_plan(lr.Vent(vent=VENT), lr.Seal(waits=False), hold=3600.0))
    assert begins(hasty, "seal") == 600.0
    assert told(hasty)["seal"].state == "impossible"
    # what a cloth bears is told for the tank as warm as it was: a little too low
    assert at <= told(hasty)["seal"].possible_at < np.inf


def test_a_seal_that_waits_in_vain_is_told_with_the_pressure_it_waits_for():
    story = lr.forecast(incident(), steps_plan(lr.Seal(), longest=1800.0))
    seal = told(story)["seal"]
    assert seal.state == "impossible"
    assert seal.begins == np.inf
    assert "it waits until the gauge reads at or below" in seal.reason
    assert "| seal | impossible |  |  |" in story.report()


def test_what_only_another_step_keeps_from_beginning_tells_when_it_could():
    case = incident(lr.Fluid("ammonia"))
    story = lr.forecast(
        case,
        steps_plan(
            lr.Vent(vent=VENT),
            lr.Pump(mass_flow=1.0, starts=lr.When(after="never", gauge_at_most=3e5)),
            lr.Hold(name="never", lasts=1.0, starts=lr.When(gauge_at_least=5e6)),
            longest=3600.0,
        ),
    )
    pump = told(story)["pump"]
    assert pump.state == "impossible"
    assert "'never' has ended" in pump.reason
    assert np.interp(pump.possible_at, story.time, story.gauge_pressure) == pytest.approx(3e5, rel=0.05)
    assert told(story)["never"].possible_at == np.inf


def test_pumps_add_up_and_stop_where_they_should():
    story = lr.forecast(
        incident(leaks=[]),
        steps_plan(
            lr.Pump(name="one", mass_flow=0.5, ends=lr.When(liquid_at_most=1000.0)),
            lr.Pump(name="two", mass_flow=0.25, starts=lr.When(time=900.0), longest=300.0),
        ),
    )
    spans = {name: step.ends - step.begins for name, step in told(story).items()}
    assert spans["two"] == pytest.approx(300.0, abs=1e-6)
    assert story.ledger.transferred == pytest.approx(0.5 * spans["one"] + 0.25 * 300.0, rel=1e-9)
    assert np.interp(told(story)["one"].ends, story.time, story.liquid_mass) == pytest.approx(
        1000.0, rel=1e-6
    )


def test_settled_is_at_rest_at_what_is_open():
    big = lr.HorizontalTank(diameter=2.8, length=18.0, wall_mass=33000.0, heat_transfer=6000.0)
    wide = lr.Opening(diameter=0.05, height=2.8)
    case = incident(tank=big, leaks=[])
    story = lr.forecast(
        case,
        steps_plan(
            lr.Vent(vent=wide),
            lr.Hold(lasts=60.0, starts=lr.When(settled=True)),
            longest=10 * 86400.0,
        ),
    )
    assert not story.zero_gauge_reached
    at = begins(story, "hold")
    assert np.interp(at, story.time, story.gauge_pressure) == pytest.approx(
        float(story.plateau_gauge_pressure), rel=1e-3
    )
    assert "settled at" in story.table()


# -- the ground --------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def lit():
    case = incident(site=lr.Hollow(area=10.0, depth=0.5))
    return lr.forecast(
        case,
        steps_plan(
            lr.KeepOut(distance=400.0, takes=300.0),
            lr.BurnPool(starts=lr.When(after="keep people out")),
            lr.Vent(vent=VENT, starts=lr.When(after_start="burn the pool off")),
            lr.Pump(mass_flow=0.5, starts=lr.When(after="burn the pool off", wait=60.0)),
            lr.Hold(lasts=30.0, starts=lr.When(ground_dry=True)),
            longest=8 * 3600.0,
        ),
    )


def test_a_pool_is_lit_and_burns_off(lit):
    books = lit.ledger
    assert begins(lit, "burn the pool off") == pytest.approx(900.0, abs=1e-9)
    assert books.burned > 10.0
    at = np.searchsorted(lit.masses.time, 900.0)
    assert lit.masses.burned[at] == 0.0
    assert np.all(np.diff(lit.masses.burned) >= 0.0)
    assert np.all(lit.masses.imbalance < 1e-6)
    assert told(lit)["burn the pool off"].ends == pytest.approx(float(lit.pool_gone_at))
    assert "the pool on the ground is lit" in lit.table()
    assert "burned on the ground" in lit.report()


def test_what_waits_for_the_ground_begins_when_it_is_dry(lit):
    gone = float(lit.pool_gone_at)
    assert begins(lit, "hold") == pytest.approx(gone, rel=2e-3)  # where the runs are taken as settled
    assert begins(lit, "pump") == pytest.approx(begins(lit, "hold") + 60.0, rel=1e-9)


def test_a_pool_that_is_not_there_needs_no_fire():
    story = lr.forecast(
        incident(leaks=[lr.Opening(diameter=0.004, height=1.1)]),
        steps_plan(lr.BurnPool(), lr.Hold(lasts=60.0, starts=lr.When(after="burn the pool off"))),
    )
    assert told(story)["burn the pool off"].state == "not needed"
    assert begins(story, "hold") == 600.0
    assert story.ledger.burned == 0.0


def test_a_pool_lit_before_people_are_out_is_warned_of():
    story = lr.forecast(
        incident(), steps_plan(lr.BurnPool(), lr.KeepOut(distance=500.0, takes=1200.0), longest=3600.0)
    )
    assert any("lit before people are out" in text for text in story.cautions)


def test_a_circle_that_is_too_small_falls_short():
    small, wide = (
        lr.forecast(incident(), steps_plan(lr.KeepOut(distance=d), lr.Vent(vent=VENT), longest=1800.0))
        for d in (10.0, 3000.0)
    )
    assert told(small)["keep people out"].state == "falls short"
    assert "is too small: stay away" in told(small)["keep people out"].reason
    assert any("circle kept free of people is smaller" in text for text in small.cautions)
    assert told(wide)["keep people out"].state == "done"
    assert not any("circle kept free of people" in text for text in wide.cautions)


# -- weather, fire, valves, hoses --------------------------------------------------------------------


def test_the_air_pressure_of_the_hour_counts():
    fair, storm = lr.Weather(ambient_pressure=1.02e5), lr.Weather(ambient_pressure=0.97e5)
    table = lr.WeatherByHour(times=[0.0, 1200.0], weathers=[fair, storm])
    story = lr.forecast(changed(incident(leaks=[]), weather=table), steps_plan(lr.Hold(lasts=1800.0)))
    before, after = story.time < 1200.0, story.time > 1200.0
    assert story.gauge_pressure[before] == pytest.approx(story.pressure[before] - 1.02e5)
    assert story.gauge_pressure[after] == pytest.approx(story.pressure[after] - 0.97e5)


def test_sunshine_by_the_hour_warms_the_tank():
    dark = lr.Weather()
    sunny = lr.Weather(solar_irradiance=900.0, air_temperature=303.15)
    table = lr.WeatherByHour(times=[0.0, 3600.0], weathers=[dark, sunny])
    case = incident(leaks=[])
    story = lr.forecast(changed(case, weather=table), steps_plan(lr.Hold(lasts=7200.0)))
    plain = lr.forecast(changed(case, weather=dark), steps_plan(lr.Hold(lasts=7200.0)))
    first = story.time <= 3600.0
    assert np.interp(3600.0, story.time, story.temperature) == pytest.approx(
        np.interp(3600.0, plain.time, plain.temperature), abs=1e-3
    )
    assert np.all(np.diff(story.temperature[~first]) >= 0.0)
    assert story.temperature[-1] > plain.temperature[-1] + 1.0


def test_distances_are_those_of_the_weather_of_each_part():
    case = changed(incident(leaks=[SMALL]), weather=HOURS)
    story = lr.forecast(case, steps_plan(lr.Hold(lasts=1e4), longest=1e4))
    away = story.distances()
    part = int(np.searchsorted(story.phase_start, 5400.0))
    own = lr.flammable_reach(PROPANE, mass_flow=away.gas_flow[part], weather=DAY, fraction=0.5)
    assert away.half_limit[part] == pytest.approx(float(own.distance), rel=1e-9)
    dark = lr.flammable_reach(PROPANE, mass_flow=away.gas_flow[0], weather=NIGHT, fraction=0.5)
    assert away.half_limit[0] == pytest.approx(float(dark.distance), rel=1e-9)


def test_a_fire_opens_the_relief_valve_and_goes_out():
    valve = lr.ReliefValve(opening=lr.Opening(diameter=0.03, height=1.2), set_pressure=1.2e6)
    case = changed(incident(leaks=[], fill=0.5), relief=[valve], fire=lr.TankFire(), fire_out_at=1200.0)
    story = lr.forecast(case, steps_plan(lr.Hold(lasts=3000.0), hold=1.0))
    assert story.gauge_pressure.max() >= 1.2e6
    assert story.ledger.relieved > 10.0
    assert np.all(story.masses.imbalance < 1e-9)
    out = story.time > 1210.0
    assert np.all(np.diff(story.pressure[out]) <= 1.0)  # nothing heats it but the sky
    assert "Fire around the tank until 20.0 min" in story.report()
    assert "let out through relief valves" in story.report()
    cold = lr.forecast(changed(case, fire=None, fire_out_at=None), steps_plan(lr.Hold(lasts=3000.0)))
    assert cold.ledger.relieved == 0.0


def test_energy_closes_through_rounds_with_a_fire_and_a_pump():
    """Internal energy from properties alone against heat less enthalpy, over all rounds."""
    case = changed(incident(), weather=HOURS, fire=lr.TankFire(environment_factor=0.1), fire_out_at=900.0)
    story = lr.forecast(
        case,
        steps_plan(
            lr.Vent(vent=VENT, ends=lr.When(gauge_at_most=4e5)),
            lr.Pump(mass_flow=0.8, starts=lr.When(after="vent"), longest=900.0),
        ),
    )
    state = PROPANE.saturation(temperature=story.temperature)
    inside = story.liquid_mass * state.liquid_internal_energy + story.vapor_mass * state.vapor_internal_energy
    inside = inside + TANK.wall_capacity * story.temperature
    moved = story.heat_gained - story.enthalpy_released
    scale = story.ledger.initial * state.latent_heat[0]
    assert story.ledger.transferred > 100.0
    assert np.max(np.abs((inside - inside[0]) - moved)) < 1e-6 * scale
    assert story.energy.imbalance < 1e-9


def test_a_long_hose_vents_more_slowly():
    hose = lr.Line(diameter=0.0508, length=30.0, height=1.2)
    end = lr.Opening(diameter=0.0508, discharge_coefficient=1.0, height=1.2)
    slow, fast = (
        lr.forecast(incident(), lr.ResponsePlan(arrival=600.0, vent=v, seal=None)) for v in (hose, end)
    )
    assert slow.zero_gauge_at - 600.0 > 1.3 * (fast.zero_gauge_at - 600.0)
    assert slow.distances().flare_standoff.max() > 0.0
    assert "98.4 ft (30.0 m) long" in slow.report()


def test_what_is_not_flared_drifts_off():
    burns, drifts = (
        lr.forecast(incident(leaks=[]), steps_plan(lr.Vent(vent=VENT, flare=flare), longest=1800.0))
        for flare in (True, False)
    )
    assert burns.ledger.flared == burns.ledger.vented > 0.0
    assert drifts.ledger.flared == 0.0
    assert drifts.ledger.vented == burns.ledger.vented
    assert drifts.distances().half_limit.max() > burns.distances().half_limit.max()


def test_one_opening_in_two_steps_is_one_vent():
    plan = steps_plan(
        lr.Vent(vent=VENT), lr.Empty(vent=[VENT, lr.Opening(diameter=0.02, height=1.2)], longest=60.0)
    )
    assert len(plan.vents) == 2
    story = lr.forecast(incident(), plan)
    alone = lr.forecast(incident(), steps_plan(lr.Vent(vent=VENT)))
    i = int(np.searchsorted(story.time, 600.0, side="right"))
    assert story.vent_flow[0, i] == pytest.approx(alone.vent_flow[0, i], rel=1e-3)


# -- many scenarios ----------------------------------------------------------------------------------


def test_one_of_many_is_the_one_alone_though_each_has_its_own_course():
    """One runs dry early, one waits for the valve, one for the gauge: rounds of their own."""
    fills, holes = np.array([0.03, 0.5, 0.8]), np.array([0.012, 0.004, 0.008])

    def case(i):
        leak = lr.Opening(diameter=holes[i], height=0.2)
        return changed(incident(leaks=[leak], fill=fills[i]), weather=HOURS, clock="05:00")

    plan = steps_plan(
        lr.KeepOut(distance=200.0, takes=300.0),
        lr.Vent(vent=VENT, starts=lr.When(after="keep people out")),
        lr.Seal(starts=lr.When(gauge_at_most=2000.0)),
        lr.BurnPool(starts=lr.When(after="seal", daylight=True)),
        lr.Pump(mass_flow=0.6, starts=[lr.When(after="burn the pool off"), lr.When(clock="08:00")]),
        longest=4 * 3600.0,
    )
    many = lr.forecast(case(slice(None)), plan)
    for i in range(3):
        one, alone = many.scenario(i), lr.forecast(case(i), plan)
        assert one.phase_names == alone.phase_names
        assert_same_numbers(one, alone)
        assert one.steps() == alone.steps()
        assert one.distances() == alone.distances()
    again = pickle.loads(pickle.dumps(many))
    assert np.array_equal(again.step_begins, many.step_begins)


def test_conditions_may_differ_from_scenario_to_scenario():
    limits = np.array([3e5, 1e5])
    plan = steps_plan(
        lr.Vent(vent=VENT, longest=[100.0, 500.0]), lr.Hold(lasts=10.0, starts=lr.When(gauge_at_most=limits))
    )
    story = lr.forecast(incident(), plan)
    assert story.shape == (2,)
    assert story.step_begins[0, 1] < story.step_begins[1, 1]
    at = [np.interp(story.step_begins[i, 1], story.time[i], story.gauge_pressure[i]) for i in (0, 1)]
    assert at == pytest.approx(limits, rel=1e-6)


def test_a_blend_takes_steps_too():
    blend = lr.Fluid({"propane": 0.9, "n-butane": 0.1})
    story = lr.forecast(
        incident(blend, fill=0.3),
        steps_plan(
            lr.Vent(vent=VENT), lr.Hold(lasts=10.0, starts=lr.When(gauge_at_most=2e5)), longest=3600.0
        ),
    )
    at = begins(story, "hold")
    assert np.interp(at, story.time, story.gauge_pressure) == pytest.approx(2e5, rel=1e-3)
    with pytest.raises(lr.InputError, match="pumping a blend out is not served"):
        lr.forecast(incident(blend, fill=0.3), steps_plan(lr.Pump(mass_flow=0.5)))


def test_time_goes_on_for_who_waits_when_the_tank_has_run_dry():
    story = lr.forecast(
        incident(leaks=[lr.Opening(diameter=0.1, height=0.0)], fill=0.1),
        steps_plan(
            lr.Vent(vent=VENT, starts=lr.When(time=3600.0)),
            lr.KeepOut(distance=100.0, takes=60.0, starts=lr.When(time=1800.0)),
        ),
    )
    assert told(story)["vent"].state == "not needed"
    assert begins(story, "keep people out") == 1800.0
    assert np.all(story.vent_flow == 0.0)
    assert np.all(story.masses.imbalance < 1e-9)


def test_progress_ends_at_its_total():
    seen = []
    lr.forecast(incident(), steps_plan(lr.Vent(vent=VENT), longest=900.0), progress=lambda *x: seen.append(x))
    assert seen[-1][0] == seen[-1][1]
    assert [done for done, _ in seen] == sorted(done for done, _ in seen)


# -- words -------------------------------------------------------------------------------------------


def test_pages_and_pictures_tell_the_steps(lit):
    report, page = lit.report(), lit.report_html()
    for words in ("begins when 'keep people out' has ended", "people are sent out", "burn the pool off"):
        assert words in report
    assert "it is vented and liquid is pumped out" in report
    assert page.count("<h2") == report.count("\n## ")
    assert lit.plot().axes
    compared = lr.compare_plans(lit.incident, {"a": lit.plan, "b": lit.plan})
    assert compared.zero_gauge_at[0] == compared.zero_gauge_at[1]


# -- what is refused ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({}, "When needs at least one condition"),
        ({"time": -1.0}, "time = -1 s is outside"),
        ({"clock": "25:00"}, "clock must be a time of day such as '06:30'"),
        ({"clock": "half past six"}, "clock must be a time of day"),
        ({"clock": 1e6}, "clock = 1000000 s is outside"),
        ({"after": ""}, "after must be the name of a step"),
        ({"wait": 10.0}, "wait: after which step"),
        ({"daylight": 1}, "daylight must be True or False"),
        ({"function": 3.0}, "function must be callable"),
        ({"gauge_at_most": "low"}, "gauge_at_most must be a number"),
    ],
)
def test_when_refuses(arguments, message):
    with pytest.raises(lr.LpgReleaseError, match=message):
        lr.When(**arguments)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: lr.Vent(vent=0.05), "vent must be a sequence of Opening or Line"),
        (lambda: lr.Vent(vent=[]), "vent must have at least one opening"),
        (lambda: lr.Vent(vent=VENT, starts=600.0), "starts must be a When"),
        (lambda: lr.Vent(vent=VENT, ends=[60.0]), "ends must be a When"),
        (lambda: lr.Vent(vent=VENT, flare=1), "flare must be True or False"),
        (lambda: lr.Vent(vent=VENT, name=" "), "name must be a word"),
        (lambda: lr.KeepOut(distance=0.0), "distance = 0 m is outside"),
        (lambda: lr.Seal(cloth=0.02), "cloth must be a WetCloth"),
        (lambda: lr.Hold(lasts=0.0), "lasts = 0 s is outside"),
        (lambda: lr.Pump(mass_flow=-1.0), "mass_flow = -1 kg/s is outside"),
        (lambda: steps_plan(VENT), "steps must be a sequence of steps"),
        (lambda: steps_plan(lr.Vent(vent=VENT), vent=HOLE), "vent: with steps, this is a step of its own"),
        (lambda: steps_plan(empty=True), "empty: with steps"),
        (lambda: steps_plan(lr.Seal(), lr.Seal()), "each name stands once, got seal, seal"),
        (
            lambda: steps_plan(lr.Seal(starts=lr.When(after="x"))),
            "'seal' waits for 'x', which is no other step",
        ),
        (lambda: steps_plan(lr.Seal(starts=lr.When(after="seal"))), "'seal' waits for 'seal'"),
        (lambda: changed(incident(), relief=[VENT]), "relief must be a sequence of ReliefValve"),
        (lambda: changed(incident(), fire=1.0), "fire must be TankFire or None"),
        (lambda: changed(incident(), clock="6"), "clock must be a time of day"),
        (lambda: changed(incident(), weather=20.0), "weather must be Weather or WeatherByHour"),
    ],
)
def test_what_is_refused(make, message):
    with pytest.raises(lr.LpgReleaseError, match=message):
        make()


def test_a_clock_needs_the_time_at_which_it_began():
    with pytest.raises(lr.InputError, match="give the incident's clock"):
        lr.forecast(incident(), steps_plan(lr.Hold(lasts=1.0, starts=lr.When(clock="06:30"))))


def test_two_pits_are_refused():
    pumps = [lr.Pump(name=n, mass_flow=1.0, pit_diameter=3.0) for n in "ab"]
    with pytest.raises(lr.InputError, match="one pit at most is served"):
        lr.forecast(incident(), steps_plan(*pumps))


def test_shapes_that_do_not_broadcast_name_the_step():
    plan = steps_plan(lr.Hold(lasts=[1.0, 2.0, 3.0]))
    with pytest.raises(lr.InputError, match=r"plan\.steps\[0\]\.lasts \(3,\)"):
        lr.forecast(incident(fill=[0.5, 0.6]), plan)


def test_a_plan_of_steps_can_be_replaced_in_part():
    plan = steps_plan(lr.Vent(vent=VENT))
    later = dataclasses.replace(plan, arrival=1200.0)
    assert later.vents == plan.vents
    assert later.arrival == 1200.0
