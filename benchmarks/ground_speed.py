"""Four days of ground under a pool: one column, ten rings, and many columns at once against one by one.

Each step is followed by what a pool does with it: it moves the temperature, then takes the state.
"""

from __future__ import annotations

import numpy as np
from measuring import Row, machine, ratio, table, timed

import lpgrelease as lr
from lpgrelease.ground.column import PERFECT_CONTACT, GroundColumns

__all__ = ["four_days"]

COLUMNS, SAMPLE = 2000, 20
END, GROWTH, FIRST = 4 * 86400.0, 0.15, 1.0
TARGET = 10.0  # ms


def march(ground: lr.Ground, start: np.ndarray) -> np.ndarray:
    """Heat of four days of columns that start at temperatures `start` [J/m2]."""
    soil = GroundColumns.prepare(ground, start.shape)
    state, t, heat = soil.start(start), 0.0, np.zeros(start.shape)
    touch, dt = np.full(start.shape, 231.0), np.empty(start.shape)
    while t < END:
        dt[...] = max(FIRST, GROWTH * t)
        step = soil.step(state, dt, touch, np.asarray(PERFECT_CONTACT), np.asarray(t == 0.0)).at(touch)
        state, heat, t = step.state, heat + step.heat, t + float(dt[0])
    return heat


def four_days() -> list[Row]:
    """Time columns of wet sand over four days in steps that grow by 15 %."""
    ground = lr.Ground.named("wet sand")
    start = np.linspace(280.0, 305.0, COLUMNS)
    single = [march(ground, start[i : i + 1])[0] for i in range(SAMPLE)]
    if not np.array_equal(single, march(ground, start)[:SAMPLE]):
        raise RuntimeError("columns alone and together differ")
    one = timed({"one": lambda: march(ground, start[:1]), "ten": lambda: march(ground, start[:10])}, 9)
    jobs = {
        "at once": lambda: march(ground, start),
        "one by one": lambda: [march(ground, start[i : i + 1]) for i in range(SAMPLE)],
    }
    many = timed(jobs, 3, per={"at once": COLUMNS, "one by one": SAMPLE})
    return [
        Row.of_time("four days of ground that freezes", one["one"], "ms", at_most=TARGET),
        Row.of_time("  ten rings", one["ten"], "ms"),
        Row.of_time(f"  {COLUMNS:,} columns at once: per column", many["at once"], "ms"),
        Row.of_ratio("  one by one over at once", ratio(many["one by one"], many["at once"])),
    ]


if __name__ == "__main__":
    print("\n".join(f"{key}: {value}" for key, value in machine().items()))
    print(table(four_days()))
