"""Steps of a plan: pumping, pit, boiling away; what is impossible, why, and when it would be possible."""

from __future__ import annotations

import numpy as np
import pytest
from response_cases import HOLE, PROPANE, TANK, assert_same_numbers, incident, plan

import lpgrelease as lr

WHOLE = {"transfer_rate": 0.4, "pit_diameter": 3.0, "empty": True, "hold": 1800.0}


@pytest.fixture(scope="module")
def story():
    return lr.forecast(incident(), plan(**WHOLE))


def by_name(story):
    return {step.name: step for step in story.steps()}


def test_to_an_empty_tank(story):
    assert story.phase_names == (*("before arrival", "vent", "vent, seal", "vent, hold", "vent, pump"),)
    assert story.ledger.in_tank_liquid == pytest.approx(0.0, abs=1e-3)
    length = story.phase_end[4] - story.phase_start[4]
    assert story.ledger.transferred == pytest.approx(0.4 * length, rel=1e-12)
    assert np.all(story.masses.imbalance < 1e-9)
    states = [step.state for step in story.steps()]
    assert states == ["done"] * 4 + ["not needed"]  # nothing is left to boil away


def test_what_is_pumped_burns_in_the_pit(story):
    pit = lr.burn_pit(
        PROPANE,
        feed_rate=0.4,
        feed_temperature=float(story.runs[4].temperature[0]),
        diameter=3.0,
        ground=story.incident.ground,
        weather=story.incident.weather,
        duration=float(story.phase_end[4] - story.phase_start[4]),
    )
    assert story.pit.burn_off_time == pit.burn_off_time
    assert story.pit.mass_burned[-1] <= story.ledger.transferred * (1.0 + 1e-9)
    assert by_name(story)["pump"].ends == pytest.approx(story.phase_end[4])


def test_the_pit_scorches_while_it_is_fed(story):
    away = story.distances()
    assert away.pit_standoff[4] == pytest.approx(story.pit.standoff(1580.0))
    assert np.all(away.pit_standoff[:4] == 0.0)
    assert away.stay_away[4] >= away.pit_standoff[4] > 3.0


def test_a_pit_of_one_of_many_is_the_one_alone(story):
    many = lr.forecast(incident(fill=np.array([0.5, 0.8])), plan(**WHOLE)).scenario(1)
    assert many.pit.standoff(1580.0) == story.pit.standoff(1580.0)
    assert many.distances() == story.distances()


def test_vented_to_the_last_drop():
    small = lr.HorizontalTank(diameter=0.6, length=1.2, wall_mass=150.0)
    vent = lr.Opening(diameter=0.0254, height=0.6)
    case = incident(tank=small, leaks=[lr.Opening(diameter=0.004, height=0.5)])
    story = lr.forecast(case, plan(vent=vent, empty=True))
    assert story.runs[-1].stopped_by == "liquid gone"
    assert story.phase_end[-1] > 2.0 * story.phase_start[-1]
    assert by_name(story)["vent to empty"].state == "done"
    assert "the rest is let boil away" in story.table()
    assert story.ledger.transferred == 0.0


def test_energy_closes_with_what_heats_and_what_leaves(story):
    """Internal energy of liquid, vapor and wall, from properties alone, against heat less enthalpy."""
    state = PROPANE.saturation(temperature=story.temperature)
    inside = story.liquid_mass * state.liquid_internal_energy + story.vapor_mass * state.vapor_internal_energy
    inside = inside + TANK.wall_capacity * story.temperature
    moved = story.heat_gained - story.enthalpy_released
    scale = story.ledger.initial * state.latent_heat[0]
    assert np.max(np.abs((inside - inside[0]) - moved)) < 1e-6 * scale
    books = story.energy
    assert books.change == pytest.approx(float(inside[-1] - inside[0]), abs=1e-6 * scale)
    assert books.change == books.heat_gained - books.enthalpy_released
    assert books.imbalance < 1e-9


def test_one_of_many_is_the_one_alone(story):
    """Beside a tank that runs dry before anything can be pumped."""
    many = lr.forecast(incident(fill=np.array([0.02, 0.8])), plan(**WHOLE))
    assert_same_numbers(many.scenario(1), story)
    dry = many.scenario(0)
    assert dry.ledger.transferred == 0.0
    assert np.all(dry.masses.imbalance < 1e-9)
    told = by_name(dry)
    assert told["pump"].state == told["seal"].state == "not needed"
    assert "no liquid is left" in told["pump"].reason


def test_a_pit_that_is_too_small_is_told_with_the_size_it_needs():
    story = lr.forecast(
        incident(),
        plan(**(WHOLE | {"transfer_rate": 2.0, "pit_diameter": 1.0, "pit_depth": 0.2, "empty": False})),
    )
    told = by_name(story)["pump"]
    assert told.state == "impossible"
    assert "the pit runs over" in told.reason
    wide = lr.forecast(
        incident(),
        plan(**(WHOLE | {"transfer_rate": 2.0, "pit_diameter": float(story.pit.just_burning_diameter)})),
    )
    assert by_name(wide)["pump"].state == "done"


def test_a_seal_laid_too_early_tells_when_it_would_freeze():
    """The plan goes on after half a minute; with the vent still open the gauge comes down later."""
    story = lr.forecast(incident(), plan(longest_venting=30.0, hold=3600.0))
    told = by_name(story)
    seal = told["seal"]
    assert seal.state == "impossible"
    assert seal.begins < seal.possible_at < story.phase_end[-1]
    at = np.interp(seal.possible_at, story.time, story.gauge_pressure)
    assert at <= story.seals[0].highest_gauge_pressure
    assert "Possible from" in story.report()


def test_a_seal_that_never_freezes_says_never():
    told = by_name(lr.forecast(incident(lr.Fluid("ammonia")), plan()))["seal"]
    assert told.state == "impossible"
    assert told.possible_at == np.inf
    assert "takes up little cargo" in told.reason


def test_a_gauge_that_settles_falls_short():
    big = lr.HorizontalTank(diameter=2.8, length=18.0, wall_mass=33000.0, heat_transfer=6000.0)
    wide = lr.Opening(diameter=0.05, height=2.8)
    case = incident(tank=big, leaks=[])
    told = lr.forecast(case, plan(vent=wide, longest_venting=5e5, stop_at_gauge_pressure=3e3)).steps()
    assert told[0].state == "falls short"
    assert "it settles at" in told[0].reason
    assert told[0].possible_at == np.inf


def test_ice_that_gives_way_before_the_end_is_told():
    told = by_name(lr.forecast(incident(), plan(hold=10 * 3600.0)))["hold"]
    assert told.state == "given up"
    assert "lay a new cloth" in told.reason


def test_a_tank_that_runs_dry_before_anybody_comes_needs_nothing():
    story = lr.forecast(incident(leaks=[lr.Opening(diameter=0.1, height=0.1)]), plan(**WHOLE))
    assert {step.state for step in story.steps()} == {"not needed"}
    assert np.all(story.masses.imbalance < 1e-9)


def test_without_a_vent_the_liquid_can_still_be_pumped_out():
    given = plan(vent=None, transfer_rate=0.5, longest_venting=1800.0)
    story = lr.forecast(incident(), given)
    told = by_name(story)
    assert story.gauge_pressure[-1] > 1e5
    assert told["pump"].state == "done"
    assert story.ledger.vented == 0.0


def test_steps_are_of_one_scenario():
    many = lr.forecast(incident(fill=[0.5, 0.8]), plan())
    with pytest.raises(lr.InputError, match=r"story\.scenario\(0\)\.steps\(\)"):
        many.steps()


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"transfer_rate": 0.0}, "transfer_rate = 0 kg/s is outside"),
        ({"pit_diameter": 2.0}, "a pit is fed at transfer_rate"),
        ({"empty": True, "vent": None}, "a tank boils away through a vent"),
        ({"empty": 1}, "empty must be True or False"),
    ],
)
def test_what_is_refused(wrong, message):
    with pytest.raises(lr.LpgReleaseError, match=message):
        plan(**wrong)


def test_pumping_a_blend_is_refused():
    blend = lr.Fluid({"propane": 0.9, "n-butane": 0.1})
    case = incident(blend, leaks=[HOLE], fill=0.3)
    with pytest.raises(lr.InputError, match="pumping a blend out is not served"):
        lr.forecast(case, plan(transfer_rate=0.5))


def test_conditions_of_several_scenarios_are_told_from_the_least_to_the_most():
    when = lr.When(gauge_at_most=[2e4, 5e4], after="vent", wait=[0.0, 600.0])
    told = when.told
    assert "at or below 2.9 psi" in told
    assert "(0.20 bar) to 7.3 psi (0.50 bar)" in told
    assert "'vent' has ended" in told
    assert "no scenario" in lr.When(gauge_at_most=np.zeros(0)).told
    assert lr.When(clock=[3600.0, 7200.0]).told == "the clock shows 01:00 to 02:00 or later"
