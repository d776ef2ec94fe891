"""An overturned propane truck, from the first minute to the last puddle.

The incident is invented. Run it with ``python examples/overturned_tank.py``; it prints a timeline and
writes a picture and a report to ``examples/output``. It needs lpgrelease with its extra ``plot``.
"""

from __future__ import annotations

from pathlib import Path

import pint

import lpgrelease as lr

OUTPUT = Path(__file__).parent / "output"
UNITS = pint.get_application_registry()


def truck() -> lr.Incident:
    """A delivery truck's tank of about 3,000 US gallons, on its side, with a hole near the low edge."""
    quantity = UNITS.Quantity
    tank = lr.HorizontalTank(
        diameter=quantity(1.80, "m"), length=quantity(3.90, "m"), wall_mass=quantity(3000.0, "kg")
    )
    contents = lr.Contents(tank, lr.Fluid("propane"), fill=0.60, temperature=quantity(70.0, "degF"))
    hole = lr.Opening(diameter=quantity(10.0, "mm"), height=quantity(0.15, "m"))
    weather = lr.Weather(
        air_temperature=quantity(70.0, "degF"), wind_speed=quantity(5.0, "mph"), cloud_cover=0.3
    )
    return lr.Incident(
        contents=contents,
        leaks=[hole],
        ground=lr.Ground.named("moist sand"),
        weather=weather,
        captured_fraction=0.7,  # the jet strikes the ground close by; the rest drifts off as drops
    )


def plan() -> lr.ResponsePlan:
    """Vapor goes to a flare through a two-inch line from the quarter hour on, then a wet cloth is laid."""
    vent = lr.Opening(diameter=UNITS.Quantity(2.0, "inch"), discharge_coefficient=0.6, height=1.80)
    return lr.ResponsePlan(
        arrival=UNITS.Quantity(15.0, "min"), vent=vent, seal=lr.WetCloth(thickness=0.02), hold=4 * 3600.0
    )


def main() -> None:
    """Forecast, print, draw, report."""
    print("This incident is invented; no such truck, hole or hour is meant.\n")
    story = lr.forecast(truck(), plan())
    print(story.table())
    OUTPUT.mkdir(exist_ok=True)
    picture, text = OUTPUT / "overturned_tank.png", OUTPUT / "overturned_tank.md"
    story.plot().savefig(picture, dpi=120)
    text.write_text("*This incident is invented.*\n\n" + story.report(), encoding="utf-8")
    print(f"\nwritten: {picture}\n         {text}")
    books = story.ledger
    everywhere = books.in_tank + books.vented + books.leaked_as_vapor + books.leaked_as_liquid
    assert abs(everywhere - books.initial) < 1e-6 * books.initial, "mass was lost"
    assert story.zero_gauge_reached, "the gauge was to come down"
    venting = story.runs[1]
    full, left = venting.liquid_mass[0], venting.liquid_mass[-1]
    boiled = full - left - venting.mass_released[0, -1]  # the leak, opening 0, passes liquid all the while
    cooled = (2.4e3 * (full + left) / 2.0 + 0.47e3 * 3000.0) * (venting.temperature[0] - 231.1)
    by_hand = (cooled + venting.heat_gained[-1]) / 390e3  # propane, midway: 2.4 kJ/(kg K), 390 kJ/kg
    assert abs(boiled / by_hand - 1.0) < 0.05, by_hand


if __name__ == "__main__":
    main()
