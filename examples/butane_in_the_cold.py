"""A blend rich in butane leaks on a winter night: the gauge says little, and the liquid stays.

Invented: tank, hole and night. A small tank of 70 % n-butane and 30 % propane by mole leaks below its
liquid at -5 degC. Venting takes the propane first; what is left hardly boils. Run ``python
examples/butane_in_the_cold.py``; it needs lpgrelease with its extra ``plot`` and writes a picture and a
page to ``examples/output``.
"""

from __future__ import annotations

from pathlib import Path

import lpgrelease as lr

OUTPUT = Path(__file__).parent / "output"
TANK = lr.HorizontalTank(diameter=1.0, length=2.5, wall_mass=500.0)
BLEND = lr.Fluid({"n-butane": 0.7, "propane": 0.3})
NIGHT = lr.Weather(air_temperature=268.15, wind_speed=3.0)


def main() -> None:
    """Compare the seal at once with the vent first, tell what changed the plan."""
    print("This incident is invented.\n")
    incident = lr.Incident(
        contents=lr.Contents(TANK, BLEND, fill=0.6, temperature=268.15),
        leaks=[lr.Opening(diameter=0.006, height=0.1)],
        ground=lr.Ground.named("clay"),
        weather=NIGHT,
    )
    vent = lr.Opening(diameter=0.0254, height=1.0)
    plans = {
        "vent, then seal": lr.ResponsePlan(arrival=1800.0, vent=vent, hold=2 * 3600.0),
        "seal at once": lr.ResponsePlan(arrival=1800.0, vent=vent, longest_venting=1.0, hold=2 * 3600.0),
    }
    found = lr.compare_plans(incident, plans)
    print(found.table())
    for name, story in zip(found.names, found.stories, strict=True):
        print(f"\n{name}:")
        for step in story.steps():
            print(f"  {step.name}: {step.state}{f', {step.reason}' if step.reason else ''}")
    story = found.stories[0]
    gone = float(story.runs[1].liquid_fractions[1 if BLEND.components[1] == "propane" else 0, -1])
    print(
        f"\nWhat changed the plan: at zero gauge {gone:.0%} of the liquid's moles are still propane, and "
        f"{story.pool.mass.max():.0f} kg lie on the ground at most, for {story.pool_gone_at / 60:.0f} min "
        "since it began. "
        "It is vented first: the cloth freezes only once the gauge is down."
    )
    OUTPUT.mkdir(exist_ok=True)
    story.plot().savefig(OUTPUT / "butane_in_the_cold.png", dpi=120)
    (OUTPUT / "butane_in_the_cold.html").write_text(story.report_html(), encoding="utf-8")
    by_raoult = 0.7 * 0.851e5 + 0.3 * 4.06e5  # vapor pressures of n-butane and propane at -5 degC
    assert abs(story.pressure[0] / by_raoult - 1.0) < 0.03, by_raoult
    for told in found.stories:
        assert told.masses.imbalance.max() < 1e-6, "mass was lost"
        assert max(float(run.energy_imbalance) for run in told.runs) < 1e-6, "energy was lost"


if __name__ == "__main__":
    main()
