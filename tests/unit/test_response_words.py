"""What tables and reports say of incidents out of the common: cold cargo, blends, pits, ice that stays."""

from __future__ import annotations

import dataclasses

import numpy as np
from response_cases import HOLE, VENT, incident, plan

import lpgrelease as lr


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
