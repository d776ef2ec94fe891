"""A storage tank leaks vapor while a fire burns nearby: what the fire's heat does to the plan.

Invented: tank, leak, fire and hour. A tank of 12,000 US gallons of propane leaks vapor from a broken gauge
fitting; 40 m away a pool of n-butane burns. Its radiation on the tank is taken like sunshine of that
strength on top of the real one, so long as it burns. Run ``python examples/tank_beside_a_fire.py``; it
needs lpgrelease with its extra ``plot`` and writes a picture and a page to ``examples/output``.
"""

from __future__ import annotations

from pathlib import Path

import lpgrelease as lr

OUTPUT = Path(__file__).parent / "output"
TANK = lr.HorizontalTank(diameter=2.4, length=9.5, wall_mass=9500.0)
VENT = lr.Opening(diameter=0.0508, discharge_coefficient=0.6, height=2.4)
BREEZE = lr.Weather(air_temperature=293.0, wind_speed=3.0, cloud_cover=0.5)


def incident(*, burning: bool) -> lr.Incident:
    """The tank, with the fire or with it put out."""
    heat = 0.0
    if burning:
        fire = lr.pool_fire(lr.Fluid("n-butane"), diameter=6.0, weather=BREEZE)
        heat = float(fire.heat_flux(40.0, direction="crosswind"))
        assert abs(float(fire.burning_rate) - 0.078 * 28.27) < 0.02, "0.078 kg/(m2 s) of n-butane on 28.27 m2"
    weather = lr.Weather(air_temperature=293.0, wind_speed=3.0, cloud_cover=0.5, solar_irradiance=heat)
    return lr.Incident(
        contents=lr.Contents(TANK, lr.Fluid("propane"), fill=0.55, temperature=293.0),
        leaks=[lr.Opening(diameter=0.010, height=2.2)],
        ground=lr.Ground.named("concrete"),
        weather=weather,
    )


def main() -> None:
    """Forecast with and without the fire, tell what changed the plan."""
    print("This incident is invented.\n")
    plan = lr.ResponsePlan(arrival=1800.0, vent=VENT, hold=2 * 3600.0, longest_venting=12 * 3600.0)
    stories = {name: lr.forecast(incident(burning=name == "fire"), plan) for name in ("fire", "no fire")}
    for name, story in stories.items():
        gets = float(story.incident.weather.solar_irradiance)
        print(f"{name}: {gets:.0f} W/m2 on the tank")
        for step in story.steps():
            print(f"  {step.name}: {step.state}{f', {step.reason}' if step.reason else ''}")
        print(f"  vapor to let out once it is cold: {60.0 * float(story.boil_off):.1f} kg/min")
        print(f"  pressure back at 1 bar with the vent shut: {story.one_bar_after / 60:.0f} min")
    hot, calm = stories["fire"], stories["no fire"]
    print(
        f"\nWhat changed the plan: the fire brings {float(hot.boil_off / calm.boil_off):.2f} times the "
        "boil-off, which "
        "the flare could bear. But it dries the cloth before it freezes: no ice while it burns. So the fire "
        "is put "
        "out first, and the cloth is laid after that."
    )
    OUTPUT.mkdir(exist_ok=True)
    hot.plot().savefig(OUTPUT / "tank_beside_a_fire.png", dpi=120)
    (OUTPUT / "tank_beside_a_fire.html").write_text(hot.report_html(), encoding="utf-8")
    for story in stories.values():
        assert story.masses.imbalance.max() < 1e-6, "mass was lost"
        assert max(float(run.energy_imbalance) for run in story.runs) < 1e-6, "energy was lost"
    assert hot.boil_off > calm.boil_off, "heat boils liquid away"
    assert calm.sealed.all(), "ice was to form without the fire"
    assert not hot.sealed.any(), "no ice was to form beside the fire"


if __name__ == "__main__":
    main()
