"""What tables and reports say of incidents out of the common: cold cargo, blends, pits, ice that stays."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from response_cases import HOLE, VENT, incident, plan

import lpgrelease as lr
from lpgrelease.response import units


def said_by(text: str) -> str:
    return " ".join(text.split())


def test_a_cold_tank_needs_no_vent_and_its_ice_does_not_melt():
    story = lr.forecast(incident(lr.Fluid("n-butane"), temperature=258.15, air=258.15), plan())
    vent = story.steps()[0]
    assert (vent.name, vent.state) == ("vent", "not needed")
    assert "reads zero or less already" in vent.reason
    assert "It reads zero or less already when the responders arrive." in story.report()


def test_ice_in_freezing_air_stays():
    story = lr.forecast(incident(air=263.15), plan())
    assert story.sealed.all()
    assert np.isinf(story.ice_melts_after).all()
    assert "the air does not melt it" in story.report()
    assert "The air does not melt it." in story.report()


def test_a_blend_is_not_called_pure():
    blend = lr.Fluid({"propane": 0.6, "n-butane": 0.4})
    story = lr.forecast(incident(blend, fill=0.3), plan(hold=60.0))
    assert "The fluid is pure" not in story.report()
    assert "The fluid is pure" in lr.forecast(incident(fill=0.3), plan(hold=60.0)).report()


def test_what_is_pumped_into_a_pit_is_told_with_its_rate_and_width():
    story = lr.forecast(incident(), plan(transfer_rate=0.5, pit_diameter=3.0))
    assert (
        "liquid pumped out at 66.1 lb/min (30.0 kg/min) into a burning pit 9.84 ft (3.00 m) across"
        in said_by(story.report())
    )


def test_a_gauge_that_passes_what_was_allowed_ends_the_watch():
    steps = [
        lr.Vent(vent=VENT, ends=lr.When(gauge_at_most=700.0)),
        lr.Hold(lasts=7200.0, gauge_at_most=5e3, starts=lr.When(after="vent")),
    ]
    story = lr.forecast(incident(leaks=[]), lr.ResponsePlan(arrival=60.0, steps=steps, hold=60.0))
    hold = story.steps()[1]
    assert hold.state == "given up"
    assert "the gauge passes 0.73 psi (0.050 bar) after" in hold.reason
    at = np.interp(hold.ends, story.time, story.gauge_pressure)
    assert at >= 5e3
    assert hold.begins < hold.ends < story.phase_end[-1]


def test_a_watch_that_the_end_of_the_forecast_cuts_short_is_given_up():
    steps = [lr.Hold(lasts=7200.0)]
    story = lr.forecast(incident(leaks=[]), lr.ResponsePlan(arrival=60.0, steps=steps, longest=600.0))
    hold = story.steps()[0]
    assert hold.state == "given up"
    assert hold.reason == "it goes on when the forecast ends"
    assert hold.possible_at == np.inf


def test_of_two_leaks_one_freezes():
    """At a gauge that the wet cloth bears on the hole of vapor; on the other the head comes on top."""
    holes = [lr.Opening(diameter=0.004, height=0.1), lr.Opening(diameter=0.012, height=1.15)]
    story = lr.forecast(incident(leaks=holes), plan(stop_at_gauge_pressure=1500.0))
    assert story.sealed.tolist() == [False, True]
    assert "1 of 2 leaks are frozen shut" in said_by(story.table())
    (seal,) = (step for step in story.steps() if step.name == "seal")
    assert seal.state == "falls short"
    assert seal.reason.startswith("leak 1: not met")


def test_a_pool_that_outlasts_the_watch_is_told_as_more_than_that():
    case = dataclasses.replace(
        incident(leaks=[HOLE], air=263.15),
        ground=lr.Ground.named("dry sand", temperature=263.15),
        site=lr.Hollow(area=2.0, depth=1.5),
        weather=lr.Weather(air_temperature=263.15, wind_speed=0.5),
    )
    story = lr.forecast(case, plan())
    assert np.isinf(story.pool.gone_at)
    assert "**More than 24 h " in story.report()  # a day is watched after the forecast


@given(st.floats(0.05, 3e4))
def test_a_distance_to_keep_is_never_rounded_down_and_has_no_more_figures_than_are_known(meters):
    for told, exact in zip(units.distance(meters), (meters / 0.3048, meters), strict=True):
        number = told.split()[0].replace(",", "")
        assert exact * (1.0 - 1e-9) <= float(number) <= max(1.1 * exact, exact + 0.1)
        figures = number.replace(".", "").strip("0")
        assert len(figures) <= 2 or (len(figures) == 3 and figures[-1] == "5")


@given(st.floats(1.0, 3e6))
def test_a_time_that_is_roughly_known_is_told_to_two_figures(seconds):
    number, unit = units.about(seconds).split()
    told = float(number) * {"s": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}[unit]
    assert math.isclose(told, seconds, rel_tol=0.051) or abs(told - seconds) <= 0.5
    assert len(number.replace(".", "").strip("0")) <= 2 or unit == "s"


def test_that_a_tank_may_fail_and_how_to_approach_is_read_first_however_much_else_is():
    story = lr.forecast(incident(leaks=[lr.Opening(diameter=0.05)]), plan())
    first = story.report().split("## Five answers")[0]
    for text in (said_by(first), said_by(story.table().replace("! ", ""))):
        assert "goes on leaking through the open hole" in text
        assert "runs out of liquid" in text
        assert "The container may fail without warning" in text
        assert "Approach from uphill and upwind, with a gas monitor" in text


def test_no_distance_for_fire_is_given_for_a_poison_without_saying_so():
    said = "the vapor is poisonous farther off, and no distance for that is computed"
    poison = lr.forecast(incident(lr.Fluid("ammonia")), plan(hold=60.0)).report()
    answer, table = (
        next(line for line in poison.splitlines() if line.startswith(words))
        for words in ("| Where not to stand?", "Gas may be lit:")
    )
    assert "Nearer than" in answer
    assert said in answer
    assert said in table
    assert said not in lr.forecast(incident(), plan(hold=60.0)).report()


def test_a_vent_that_would_let_air_in_is_not_said_to_be_opened():
    story = lr.forecast(incident(lr.Fluid("n-butane"), temperature=258.15, air=258.15), plan(hold=60.0))
    table = said_by(story.table())
    assert "the vent is opened" not in table
    assert "keep it shut until the gauge is above zero" in table
    assert "has to be let out" not in table  # nothing rises
    assert "the vent is opened" in said_by(lr.forecast(incident(), plan(hold=60.0)).table())


def test_a_forecast_too_short_for_the_gauge_to_come_down_does_not_say_never():
    report = lr.forecast(incident(), plan(longest_venting=30.0, hold=60.0, seal=None)).report()
    assert "**Not within this forecast:** the gauge still reads" in report
    assert "Never" not in report


def test_no_ice_is_promised_or_ruled_out_where_the_tank_is_dry_before_a_cloth_is_laid():
    report = lr.forecast(incident(leaks=[lr.Opening(diameter=0.05)]), plan()).report()
    assert report.count("**No cloth is laid:** no liquid is left in the tank by then.") == 2
    assert "liquid behind it" not in report
    assert "**No liquid.** The last of it goes at" in report


def test_what_no_distance_counts_is_said_where_something_is_flared():
    said = "should it go out, its gas is in no distance here"
    assert said in lr.forecast(incident(), plan(hold=60.0)).report()
    assert said not in lr.forecast(incident(), plan(hold=60.0, flare=False)).report()


def test_frost_and_rain_are_not_said_to_bring_the_gauge_down_sooner():
    report = lr.forecast(incident(), plan(hold=60.0)).report()
    assert "shorten times" not in report
    assert "the gauge then comes down later, and is back sooner" in report
