"""Heat flux on a grid, and standoff of many fires against a scalar root-finder.

The scalar way solves the same flux for one scenario at a time with a bracketing root-finder of SciPy, on a
sample of the scenarios. Both answers are compared.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from measuring import Row, machine, ratio, table, timed
from scipy.optimize import brentq

import lpgrelease as lr
from lpgrelease.fire import pool_fire

__all__ = ["flux_on_a_grid", "many_standoffs"]

SCENARIOS, SAMPLE = 100_000, 200
GRID = 1000
WANTED = 1600.0  # W/m2
AGREEMENT = 1e-6


def flux_on_a_grid() -> list[Row]:
    """Time of the heat flux of one fire on a grid of targets."""
    fire = pool_fire(lr.Fluid("propane"), diameter=4.0, weather=lr.Weather(wind_speed=3.0))
    x, y = np.meshgrid(*[np.linspace(-50.0, 50.0, GRID)] * 2)
    distance, direction = np.hypot(x, y), np.arctan2(y, x)
    times = timed({"grid": lambda: fire.heat_flux(distance, direction=direction)}, 5)
    return [Row.of_time(f"heat flux of a fire on {GRID:,} x {GRID:,} targets", times["grid"], "ms")]


def many_standoffs() -> tuple[list[Row], list[str]]:
    """Time fires and standoffs of all scenarios at once, and of a sample by `brentq`."""
    rng = np.random.default_rng(7)
    diameter, wind = rng.uniform(1.0, 10.0, SCENARIOS), rng.uniform(0.0, 10.0, SCENARIOS)
    propane = lr.Fluid("propane")

    def all_at_once() -> Any:
        return pool_fire(propane, diameter=diameter, weather=lr.Weather(wind_speed=wind)).standoff(WANTED)

    def one_by_one() -> list[float]:
        answers = []
        for D, u in zip(diameter[:SAMPLE], wind[:SAMPLE], strict=True):
            fire = pool_fire(propane, diameter=D, weather=lr.Weather(wind_speed=u))
            reach = float(fire.flame.tip_x + fire.flame.tip_radius)
            answers.append(brentq(lambda d, fire=fire: fire.heat_flux(d) - WANTED, reach, 1000.0, xtol=1e-9))
        return answers

    gap = float(np.max(np.abs(np.array(one_by_one()) / all_at_once()[:SAMPLE] - 1.0)))
    if gap > AGREEMENT:
        raise RuntimeError(f"the two ways differ by {gap:.1e}")
    jobs = {"at once": all_at_once, "one by one": one_by_one}
    times = timed(jobs, 3, per={"at once": SCENARIOS, "one by one": SAMPLE})
    rows = [
        Row.of_time(f"{SCENARIOS:,} fires and standoffs at once: per fire", times["at once"], "us"),
        Row.of_time("  one by one with brentq: per fire", times["one by one"], "us"),
        Row.of_ratio("  one by one over at once", ratio(times["one by one"], times["at once"])),
    ]
    return rows, [f"standoffs: the two ways agree within {gap:.0e} on {SAMPLE} of {SCENARIOS:,}"]


if __name__ == "__main__":
    found_rows, found_notes = many_standoffs()
    print("\n".join(f"{key}: {value}" for key, value in machine().items()))
    print(f"\n{table([*flux_on_a_grid(), *found_rows])}\n\n" + "\n".join(found_notes))
