"""A rail car lies in a hollow with a crack below its liquid: wait for a second flare, or start with one?

Invented: car, crack, hollow and weather. A car of 33,500 US gallons, three quarters full of propane, has
left the rails and lies in a cutting that holds what runs out. One flare line can be at work after an hour,
a second one an hour later. Run ``python examples/rail_car_in_a_hollow.py``; it needs lpgrelease with its
extra ``plot`` and writes a picture and a page to ``examples/output``.
"""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import lpgrelease as lr

OUTPUT = Path(__file__).parent / "output"
CAR = lr.HorizontalTank(diameter=3.0, length=16.5, wall_mass=30e3)
LINE = lr.Opening(diameter=0.0762, discharge_coefficient=0.5, height=3.0)


def incident() -> lr.Incident:
    """The car as it lies; its crack, half a meter up, passes as much as a hole of 15 mm."""
    return lr.Incident(
        contents=lr.Contents(CAR, lr.Fluid("propane"), fill=0.75, temperature=288.0),
        leaks=[lr.Opening(diameter=0.015, height=0.5)],
        ground=lr.Ground.named("clay"),
        weather=lr.Weather(air_temperature=288.0, wind_speed=2.0, cloud_cover=0.8),
        site=lr.Hollow(area=60.0, depth=0.6),
        captured_fraction=0.8,
    )


def plans() -> dict[str, lr.ResponsePlan]:
    """One flare early, two flares later, and the first with a pump and a pit for what is left."""
    one = lr.ResponsePlan(arrival=3600.0, vent=LINE, hold=4 * 3600.0, longest_venting=6 * 3600.0)
    two = lr.ResponsePlan(arrival=7200.0, vent=[LINE, LINE], hold=4 * 3600.0, longest_venting=6 * 3600.0)
    pumped = dataclasses.replace(one, hold=3600.0, transfer_rate=3.0, pit_diameter=8.0)
    return {"one flare": one, "two, an hour later": two, "one, then pump to a pit": pumped}


def main() -> None:
    """Compare, tell what changed the plan, write the page of the plan that was taken."""
    print("This incident is invented.\n")
    found = lr.compare_plans(incident(), plans())
    print(found.table())
    story = found.stories[2]
    print("\nThe plan that was taken, step by step:")
    for step in story.steps():
        print(f"  {step.name}: {step.state}{f', {step.reason}' if step.reason else ''}")
    low = float(found.stories[0].gauge_pressure[found.stories[0].time <= found.stories[0].phase_end[1]][-1])
    print(
        f"\nWhat changed the plan: one flare leaves {low / 6894.757:.1f} psi on the gauge, not zero, but "
        "the cloth freezes at "
        f"that. Waiting an hour for a second flare lets {found.leaked[1] - found.leaked[0]:,.0f} kg more "
        "leak into the hollow. "
        "So one flare is lit at once, and a pump and a pit are made ready meanwhile."
    )
    OUTPUT.mkdir(exist_ok=True)
    story.plot().savefig(OUTPUT / "rail_car_in_a_hollow.png", dpi=120)
    (OUTPUT / "rail_car_in_a_hollow.html").write_text(story.report_html(), encoding="utf-8")
    for told in found.stories:
        assert told.masses.imbalance.max() < 1e-6, "mass was lost"
        assert told.runs[0].energy_imbalance < 1e-6, "energy was lost"
    deep = float(story.incident.contents.level) - 0.5
    push = 7.28e5 - 1.013e5 + 508.0 * 9.81 * deep  # propane at 15 degC: 7.28 bar, 508 kg/m3
    by_hand = 0.62 * math.pi / 4.0 * 0.015**2 * math.sqrt(2.0 * 508.0 * push)
    assert abs(float(story.leak_flow[0, 0]) / by_hand - 1.0) < 0.01, by_hand


if __name__ == "__main__":
    main()
