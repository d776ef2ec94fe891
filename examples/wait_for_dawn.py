"""A tank leaks into a hollow at ten in the evening: what may be done in the dark, and what waits for dawn?

Invented: tank, hole, hollow, weather and times. A horizontal tank of 5,000 US gallons, four fifths full of
propane, leaks below its liquid. The cloth can only be laid by daylight and at zero gauge; the pool in the
hollow may only be lit once the leak is shut, everybody is out of the way and some wind blows; the pump waits
until the ground is dry. One plan vents through a hose in the dark, the other leaves everything for the
morning. Run ``python examples/wait_for_dawn.py``; it needs lpgrelease with its extra ``plot`` and writes a
picture and a page to ``examples/output``.
"""

from __future__ import annotations

import math
from pathlib import Path

import lpgrelease as lr

OUTPUT = Path(__file__).parent / "output"
TANK = lr.HorizontalTank(diameter=2.0, length=6.1, wall_mass=4500.0)
HOSE = lr.Line(diameter=0.0762, length=20.0, height=2.0)
HOUR = 3600.0
ZERO = 689.5


def incident() -> lr.Incident:
    """The tank as it lies; a cold calm night, then a sunny morning with some wind."""
    night = lr.Weather(air_temperature=279.0, wind_speed=1.0, cloud_cover=0.2, stability="F")
    dawn = lr.Weather(air_temperature=280.0, wind_speed=2.5, solar_irradiance=60.0, cloud_cover=0.2)
    day = lr.Weather(air_temperature=287.0, wind_speed=4.0, solar_irradiance=500.0, cloud_cover=0.2)
    return lr.Incident(
        contents=lr.Contents(TANK, lr.Fluid("propane"), fill=0.8, temperature=285.0),
        leaks=[lr.Opening(diameter=0.005, height=0.25)],
        ground=lr.Ground.named("clay"),
        weather=lr.WeatherByHour(times=[0.0, 8.5 * HOUR, 11.0 * HOUR], weathers=[night, dawn, day]),
        site=lr.Hollow(area=20.0, depth=0.4),
        clock="22:00",
        relief=[lr.ReliefValve(opening=lr.Opening(diameter=0.04, height=2.0), set_pressure=1.72e6)],
    )


def plan(vent_from: lr.When) -> lr.ResponsePlan:
    """People out; vent; the cloth at dawn and zero gauge; then burn off the pool, and pump out the rest."""
    return lr.ResponsePlan(
        arrival=HOUR,
        steps=[
            lr.KeepOut(distance=400.0, takes=0.5 * HOUR),
            lr.Vent(vent=HOSE, starts=vent_from, flare_height=6.0),
            lr.Seal(starts=lr.When(gauge_at_most=ZERO, daylight=True)),
            lr.BurnPool(starts=lr.When(after="seal", wind_at_least=2.0)),
            lr.Pump(mass_flow=1.5, starts=lr.When(after="burn the pool off", ground_dry=True)),
            lr.Empty(vent=HOSE, starts=lr.When(after="pump")),
        ],
        longest=36.0 * HOUR,
        hold=0.5 * HOUR,
    )


def main() -> None:
    """Compare, tell what changed the plan, write the page of the plan that was taken."""
    print("This incident is invented.\n")
    plans = {
        "vent in the dark": plan(lr.When(after="keep people out")),
        "all at dawn": plan(lr.When(daylight=True)),
    }
    found = lr.compare_plans(incident(), plans)
    print(found.table())
    story = found.stories[0]
    for name, told in zip(plans, found.stories, strict=True):
        print(f"\n{name}, step by step:")
        for step in told.steps():
            begins = f"from {clock(step.begins)}" if math.isfinite(step.begins) else "never begun"
            print(f"  {step.name}: {step.state}, {begins}{f'; {step.reason}' if step.reason else ''}")
    other = found.stories[1].ledger
    saved = float(found.leaked[1] - found.leaked[0])
    print(
        "\nWhat changed the plan: the hose needs no light, the cloth does. Venting in the dark keeps "
        f"{saved:,.0f} kg from leaking, and hardly anything lies in the hollow when the leak is shut; in the "
        f"other plan {float(other.burned):,.0f} kg have to be burned there beside the tank."
    )
    OUTPUT.mkdir(exist_ok=True)
    story.plot().savefig(OUTPUT / "wait_for_dawn.png", dpi=120)
    (OUTPUT / "wait_for_dawn.html").write_text(story.report_html(), encoding="utf-8")
    check(story)


def clock(seconds: float) -> str:
    """Time of day."""
    minutes = round(seconds / 60.0 + 22 * 60.0) % (24 * 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def check(story: object) -> None:
    """Check the books, the order of the steps, and the first flow by hand."""
    assert story.masses.imbalance.max() < 1e-6, "mass was lost"
    begins = dict(zip([step.name for step in story.plan.steps], story.step_begins, strict=True))
    assert begins["seal"] == 8.5 * HOUR, "the cloth is laid at half past six, when the sun is up"
    assert begins["pump"] >= begins["burn the pool off"] > begins["seal"], "each waits for the one before"
    deep = float(story.incident.contents.level) - 0.25
    push = 6.70e5 - 1.013e5 + 512.0 * 9.81 * deep  # propane at 12 degC: 6.70 bar, 512 kg/m3
    by_hand = 0.62 * math.pi / 4.0 * 0.005**2 * math.sqrt(2.0 * 512.0 * push)
    assert abs(float(story.leak_flow[0, 0]) / by_hand - 1.0) < 0.01, by_hand


if __name__ == "__main__":
    main()
