"""Four days of one pool with its ground, and many pools at once against one after the other."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
from measuring import Row, machine, ratio, table, timed

import lpgrelease as lr
from lpgrelease.pool import PoolHistory

__all__ = ["many_pools", "one_pool"]

SCENARIOS, SAMPLE = 10_000, 40
DAYS = 4 * 86400.0
MOST = 20.0  # ms
PROPANE = lr.Fluid("propane")


def _shelter() -> lr.Exposure:
    return lr.Exposure(wind_share=0.0, sun_share=0.0, sky_share=0.0, cover_temperature=253.15, vapor_fill=1.0)


def one_pool() -> list[Row]:
    """Time four days of one pool in a sheltered hollow, on uniform ground and on layers, and of others."""
    site = lr.Hollow(area=1.0, depth=1.0, exposure=_shelter())
    sand = lr.Ground.named("dry sand")
    layers = lr.Ground.named("concrete", thickness=0.1, below=sand)
    blend = lr.Fluid({"propane": 0.6, "n-butane": 0.4})
    weather = lr.Weather(air_temperature=300.15)

    hours = [
        lr.Weather(air_temperature=290.0 + 10.0 * np.sin(2.0 * np.pi * hour / 24.0)) for hour in range(96)
    ]
    hourly = lr.WeatherByHour(times=3600.0 * np.arange(96), weathers=hours)
    fed = lr.Spill(mass_flow=0.5, duration=900.0)

    def run(fluid: lr.Fluid, ground: lr.Ground, **changes: Any) -> PoolHistory:
        given = {"spill": lr.Spill(mass=800.0), "weather": weather, "site": site} | changes
        return lr.pool_history(fluid, given.pop("spill"), ground=ground, duration=DAYS, **given)

    jobs = {
        "uniform": lambda: run(PROPANE, sand),
        "layers": lambda: run(PROPANE, layers),
        "blend": lambda: run(blend, sand),
        "perfect": lambda: run(PROPANE, sand, contact="perfect"),
        "hourly": lambda: run(PROPANE, sand, weather=hourly),
        "lit": lambda: run(PROPANE, sand, ignited_at=DAYS / 2.0),
        "fed": lambda: run(PROPANE, lr.Ground.named("moist sand"), spill=fed, site=lr.OpenGround()),
    }
    times = timed(jobs, 5)
    return [
        Row.of_time("four days of a pool and its ground, one scenario", times["uniform"], "ms", at_most=MOST),
        Row.of_time("  on layered ground", times["layers"], "ms"),
        Row.of_time("  of a blend", times["blend"], "ms"),
        Row.of_time("  under perfect contact", times["perfect"], "ms"),
        Row.of_time("  under weather by the hour", times["hourly"], "ms"),
        Row.of_time("  lit after two days", times["lit"], "ms"),
        Row.of_time("  fed on open ground, where it soon dries", times["fed"], "ms"),
    ]


def many_pools() -> tuple[list[Row], list[str]]:
    """Time all scenarios at once, and a sample one by one, whose answers are the same to the bit."""
    rng = np.random.default_rng(11)
    flow, air = rng.uniform(0.05, 2.0, SCENARIOS), rng.uniform(270.0, 310.0, SCENARIOS)
    wind, depth = rng.uniform(0.0, 8.0, SCENARIOS), rng.uniform(0.005, 0.02, SCENARIOS)

    def run(i: slice | int) -> PoolHistory:
        return lr.pool_history(
            PROPANE,
            lr.Spill(mass_flow=flow[i], duration=900.0),
            ground=lr.Ground.named("moist sand", minimum_depth=depth[i]),
            weather=lr.Weather(air_temperature=air[i], wind_speed=wind[i]),
            duration=4 * 3600.0,
        )

    whole = run(slice(None))
    for i in range(SAMPLE):
        alone = run(i)
        for field in dataclasses.fields(alone):
            one, other = getattr(alone, field.name), getattr(whole, field.name)
            if isinstance(one, np.ndarray) and not np.array_equal(one, other[i]):
                raise RuntimeError(f"{field.name} of scenario {i} differs from its batch")
    jobs = {"at once": lambda: run(slice(None)), "one by one": lambda: [run(i) for i in range(SAMPLE)]}
    times = timed(jobs, 3, per={"at once": SCENARIOS, "one by one": SAMPLE})
    rows = [
        Row.of_time(f"{SCENARIOS:,} pools at once: per pool", times["at once"], "ms"),
        Row.of_time("  one by one: per pool", times["one by one"], "ms"),
        Row.of_ratio("  one by one over at once", ratio(times["one by one"], times["at once"])),
    ]
    return rows, [f"pools: {SAMPLE} of {SCENARIOS:,} repeated alone, the same to the bit"]


if __name__ == "__main__":
    found_rows, found_notes = many_pools()
    print("\n".join(f"{key}: {value}" for key, value in machine().items()))
    print(f"\n{table([*one_pool(), *found_rows])}\n\n" + "\n".join(found_notes))
