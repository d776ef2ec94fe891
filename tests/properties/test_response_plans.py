"""Drawn incidents under drawn lists of steps: books close, conditions are met, one case is as alone."""

from __future__ import annotations

import dataclasses

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from response_cases import assert_same_numbers
from strategies import few, finite

import lpgrelease as lr

TANK = lr.HorizontalTank(diameter=1.2, length=3.0, wall_mass=900.0)
SCENARIOS = 2
VENT = lr.Opening(diameter=0.0508, height=1.2)
NAMES = ("out", "vent", "seal", "hold", "pump", "burn", "empty")

rows = lambda low, high: st.lists(finite(low, high), min_size=SCENARIOS, max_size=SCENARIOS).map(np.array)  # noqa: E731


@st.composite
def conditions(draw, own):
    """A condition for the step `own`: a time, the gauge, the temperature, the weather, another step."""
    others = [name for name in NAMES if name != own]
    kind = draw(st.sampled_from(["time", "gauge", "temperature", "liquid", "after", "start", "day", "dry"]))
    made = {
        "time": lambda: {"time": draw(finite(0.0, 5000.0))},
        "gauge": lambda: {"gauge_at_most": draw(finite(500.0, 8e5))},
        "temperature": lambda: {"temperature_at_most": draw(finite(235.0, 295.0))},
        "liquid": lambda: {"liquid_at_most": draw(finite(50.0, 1500.0))},
        "after": lambda: {"after": draw(st.sampled_from(others)), "wait": draw(finite(0.0, 600.0))},
        "start": lambda: {"after_start": draw(st.sampled_from(others))},
        "day": lambda: {"daylight": True},
        "dry": lambda: {"ground_dry": True},
    }[kind]()
    return lr.When(**made)


@st.composite
def plans(draw):
    """All kinds of steps, each on conditions of its own; they may wait for one another in a ring."""

    def starts(name):
        return draw(st.none() | conditions(name) | st.lists(conditions(name), min_size=1, max_size=2))

    longest = st.none() | finite(60.0, 3000.0)
    steps = [
        lr.KeepOut(name="out", distance=200.0, takes=draw(finite(0.0, 900.0)), starts=starts("out")),
        lr.Vent(
            name="vent",
            vent=VENT,
            starts=starts("vent"),
            ends=draw(st.none() | conditions("vent")),
            longest=draw(longest),
            flare=draw(st.booleans()),
        ),
        lr.Seal(name="seal", starts=starts("seal"), waits=draw(st.booleans())),
        lr.Hold(name="hold", lasts=draw(finite(60.0, 2000.0)), starts=starts("hold")),
        lr.Pump(name="pump", mass_flow=draw(finite(0.1, 3.0)), starts=starts("pump"), longest=draw(longest)),
        lr.BurnPool(name="burn", starts=starts("burn")),
        lr.Empty(name="empty", vent=VENT, starts=starts("empty"), longest=600.0),
    ]
    kept = [step for step in steps if step.name == "vent" or draw(st.booleans())]
    names = {step.name for step in kept}

    def stays(when):
        return all(name is None or name in names for name in (when.after, when.after_start))

    found = []
    for step in kept:
        begins = [when for when in step.begins_on if stays(when)] or None
        changes = {"starts": begins}
        if step.ends_on:
            changes["ends"] = [when for when in step.ends_on if stays(when)] or None
        found.append(dataclasses.replace(step, **changes))
    return lr.ResponsePlan(arrival=300.0, steps=found, hold=60.0, longest=6000.0)


def case(fill, temperature, diameter, height, share):
    night, day = lr.Weather(air_temperature=281.0), lr.Weather(air_temperature=291.0, solar_irradiance=300.0)
    return lr.Incident(
        contents=lr.Contents(TANK, lr.Fluid("propane"), fill=fill, temperature=temperature),
        leaks=[lr.Opening(diameter=diameter, height=height)],
        ground=lr.Ground.named("moist sand"),
        weather=lr.WeatherByHour(times=[0.0, 2500.0], weathers=[night, day]),
        captured_fraction=share,
    )


drawn = (rows(0.1, 0.9), rows(262.0, 305.0), rows(0.002, 0.012), rows(0.0, 1.2), rows(0.0, 1.0))


@few(5)
@given(plans(), *drawn)
def test_books_close_and_steps_keep_their_conditions(plan, fill, temperature, diameter, height, share):
    story = lr.forecast(case(fill, temperature, diameter, height, share), plan)
    assert np.all(story.masses.imbalance < 1e-6)
    assert story.ledger.imbalance.max() < 1e-6
    assert np.all(np.diff(story.time) >= 0.0)
    for name in ("leaked", "vented", "transferred", "heat_gained"):
        steps = np.diff(getattr(story, name))
        if name != "heat_gained":
            assert np.all(steps >= -1e-9), name
    begins, ends, states = story.step_begins, story.step_ends, story.step_states
    assert np.all(begins >= 300.0)
    assert np.all(ends >= begins - 1e-9)
    assert np.all(np.isinf(begins[states == 0]))
    names = [step.name for step in plan.steps]
    for i in range(SCENARIOS):
        one = story.scenario(i)
        assert len(one.steps()) == len(names)
        for k, step in enumerate(plan.steps):
            at = begins[i, k]
            if np.isfinite(at) and step.begins_on and states[i, k] in (1.0, 2.0, 3.0, 5.0):
                assert any(met(one, when, at, names) for when in step.begins_on), (step.name, at)


def met(story, when, at, names):
    """Whether a condition holds at a time, by the histories alone; located to what the marches promise."""
    reads = lambda name: np.interp(at, story.time, getattr(story, name))  # noqa: E731
    checks = []
    if when.time is not None:
        checks.append(at >= when.time - 1e-6)
    if when.gauge_at_most is not None:
        checks.append(reads("gauge_pressure") <= when.gauge_at_most * (1.0 + 1e-5) + 1.0)
    if when.temperature_at_most is not None:
        checks.append(reads("temperature") <= when.temperature_at_most + 2e-3)
    if when.liquid_at_most is not None:
        checks.append(reads("liquid_mass") <= when.liquid_at_most * (1.0 + 1e-5))
    if when.after is not None:
        checks.append(at >= story.step_ends[names.index(when.after)] * (1.0 - 3e-3) + when.wait - 1e-6)
    if when.after_start is not None:
        checks.append(at >= story.step_begins[names.index(when.after_start)] - 1e-6)
    if when.daylight:
        checks.append(at >= 2500.0 - 1e-6)
    if when.ground_dry:
        checks.append(at >= story.pool_gone_at * (1.0 - 3e-3) - 1e-6)
    return all(checks)


@few(3)
@given(plans(), *drawn)
def test_one_of_many_is_the_one_alone(plan, fill, temperature, diameter, height, share):
    many = lr.forecast(case(fill, temperature, diameter, height, share), plan)
    for i in range(SCENARIOS):
        alone = lr.forecast(case(fill[i], temperature[i], diameter[i], height[i], share[i]), plan)
        one = many.scenario(i)
        assert_same_numbers(one, alone)
        assert one.steps() == alone.steps()
