"""Forecasts: one over four days with its distances, and many drawn at once against one after the other."""

from __future__ import annotations

import numpy as np
from measuring import Row, ratio, timed

import lpgrelease as lr
from lpgrelease.quantities import FloatArray

__all__ = ["forecasts"]

SCENARIOS, SAMPLE = 200, 3
DAY = 86400.0
MOST = 0.5  # s
TANK = lr.HorizontalTank(diameter=1.2, length=3.0, wall_mass=900.0)
PLAN = lr.ResponsePlan(arrival=900.0, vent=lr.Opening(diameter=0.0508, height=1.2), hold=4 * DAY)


def _story(fill: FloatArray | float, hole: FloatArray | float) -> lr.response.Forecast:
    incident = lr.Incident(
        contents=lr.Contents(TANK, lr.Fluid("propane"), fill=fill, temperature=293.15),
        leaks=[lr.Opening(diameter=hole, height=0.2)],
        ground=lr.Ground.named("moist sand"),
    )
    return lr.forecast(incident, PLAN)


def forecasts() -> tuple[list[Row], list[str]]:
    """Time one forecast and its distances, and invented ones at once, equal to the bit to those alone."""
    rng = np.random.default_rng(5)
    fill, hole = rng.uniform(0.4, 0.85, SCENARIOS), rng.uniform(0.004, 0.010, SCENARIOS)
    one, many = _story(0.8, 0.008), _story(fill, hole)
    for i in range(SAMPLE):
        assert _story(fill[i], hole[i]).ledger == many.scenario(i).ledger, "one of many is not the one alone"
    jobs = {
        "one": lambda: _story(0.8, 0.008),
        "distances": one.distances,
        "sample": lambda: [_story(fill[i], hole[i]) for i in range(SAMPLE)],
        "many": lambda: _story(fill, hole),
    }
    times = timed(jobs, 3, per={"sample": SAMPLE, "many": SCENARIOS})
    rows = [
        Row.of_time("a forecast over four days, one scenario", times["one"], "s", at_most=MOST),
        Row.of_time("  its distances", times["distances"], "s"),
        Row.of_time(f"  each of {SCENARIOS} at once", times["many"], "ms"),
        Row.of_ratio("  one after the other, each, over that", ratio(times["sample"], times["many"])),
    ]
    return rows, []


if __name__ == "__main__":
    for row in forecasts()[0]:
        print(row)
