"""Speed of heat flux and standoff against a scalar root-finder, in one process.

Run ``python benchmarks/fire_speed.py``. The scalar way solves the same flux for one scenario at a time with a
bracketing root-finder of SciPy; a sample of scenarios is timed and scaled up. Both answers are compared.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import numpy as np
from scipy.optimize import brentq

import lpgrelease as lr
from lpgrelease.fire import pool_fire

SCENARIOS = 100_000
SAMPLE = 200
GRID = 1000
WANTED = 1600.0  # W/m2


def timed(task: Callable[[], Any], repeats: int = 3) -> tuple[float, Any]:
    """Return the best time [s] and the answer."""
    best, answer = np.inf, None
    for _ in range(repeats):
        start = time.perf_counter()
        answer = task()
        best = min(best, time.perf_counter() - start)
    return best, answer


def grid_speed() -> float:
    """Time of the heat flux on a grid of targets [s]."""
    fire = pool_fire(lr.Fluid("propane"), diameter=4.0, weather=lr.Weather(wind_speed=3.0))
    x, y = np.meshgrid(*[np.linspace(-50.0, 50.0, GRID)] * 2)
    distance, direction = np.hypot(x, y), np.arctan2(y, x)
    before = time.process_time()
    seconds, flux = timed(lambda: fire.heat_flux(distance, direction=direction), repeats=5)
    busy = (time.process_time() - before) / 5
    peak = flux.max() / 1e3
    print(
        f"heat flux on {GRID} x {GRID} targets: {seconds:.3f} s ({busy:.3f} s of processor), {peak:.0f} kW/m2"
    )
    return seconds


def standoff_speed() -> float:
    """Ratio of the scalar way's time to the vectorized one's."""
    rng = np.random.default_rng(7)
    diameter, wind = rng.uniform(1.0, 10.0, SCENARIOS), rng.uniform(0.0, 10.0, SCENARIOS)
    propane = lr.Fluid("propane")

    def all_at_once() -> Any:
        return pool_fire(propane, diameter=diameter, weather=lr.Weather(wind_speed=wind)).standoff(WANTED)

    together, found = timed(all_at_once)

    def one_by_one() -> list[float]:
        answers = []
        for D, u in zip(diameter[:SAMPLE], wind[:SAMPLE], strict=True):
            fire = pool_fire(propane, diameter=D, weather=lr.Weather(wind_speed=u))
            reach = float(fire.flame.tip_x + fire.flame.tip_radius)
            answers.append(brentq(lambda d, fire=fire: fire.heat_flux(d) - WANTED, reach, 1000.0, xtol=1e-9))
        return answers

    alone, answers = timed(one_by_one, repeats=1)
    worst = float(np.max(np.abs(np.array(answers) / found[:SAMPLE] - 1.0)))
    ratio = alone / SAMPLE * SCENARIOS / together
    print(f"fires and standoff of {SCENARIOS} scenarios together: {together:.3f} s")
    print(f"one at a time with brentq: {alone / SAMPLE * SCENARIOS:.0f} s (from {SAMPLE}); ratio {ratio:.0f}")
    print(f"largest difference between the two: {worst:.1e}")
    return ratio


if __name__ == "__main__":
    grid_speed()
    standoff_speed()
