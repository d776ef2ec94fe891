"""Tank histories with more to them: tilted tanks that vent and leak, everything at once, up to a million.

``python benchmarks/tank_more_speed.py`` also runs the million, in about half a minute.
"""

from __future__ import annotations

import resource
import time
from typing import Any

import numpy as np
from direct_states import FloatArray
from measuring import Row, ratio, timed
from plain_two_openings import TwoOpenings, two_openings_end
from tank_speed import STOP, Scenarios

import lpgrelease as lr
from lpgrelease.constants import STANDARD_ATMOSPHERE
from lpgrelease.tank import TankHistory, TiltedTank

__all__ = ["everything_at_once", "many_with_two_openings", "up_to_a_million"]

SCENARIOS, SAMPLE = 10_000, 5
TOLERANCE = 1e-6
"""Relative tolerance of the solver, the loosest power of ten that brings most answers within 1e-3."""
AGREEMENT = 1e-3
BATCH = 100_000


def drawn(number: int, seed: int) -> dict[str, FloatArray]:
    """Invented scenarios, drawn evenly from plausible ranges; the wall is 8 mm of steel."""
    draw = np.random.default_rng(seed).uniform
    diameter, length = draw(0.8, 2.0, number), draw(3.0, 8.0, number)
    return {
        "diameter": diameter,
        "length": length,
        "wall_mass": 7850.0 * 0.008 * np.pi * diameter * length,
        "pitch": np.radians(draw(0.0, 15.0, number)),
        "fill": draw(0.3, 0.85, number),
        "temperature": draw(278.0, 308.0, number),
        "vent": draw(0.04, 0.08, number),
        "leak": draw(0.004, 0.02, number),
        "leak_height": draw(0.0, 0.5, number),
        "air_temperature": draw(268.0, 308.0, number),
        "wind_speed": draw(0.0, 8.0, number),
        "solar_irradiance": draw(0.0, 800.0, number),
        "cloud_cover": draw(0.0, 1.0, number),
    }


def _parts(given: dict[str, Any]) -> tuple[lr.Contents, list[lr.Opening], lr.Weather]:
    tank = TiltedTank(**{name: given[name] for name in ("diameter", "length", "wall_mass", "pitch")})
    contents = lr.Contents(tank, lr.Fluid("propane"), fill=given["fill"], temperature=given["temperature"])
    vent = lr.Opening(diameter=given["vent"], discharge_coefficient=0.85, height=tank.height)
    leak = lr.Opening(diameter=given["leak"], height=given["leak_height"] * tank.height)
    names = ("air_temperature", "wind_speed", "solar_irradiance", "cloud_cover")
    return contents, [vent, leak], lr.Weather(**{name: given[name] for name in names})


def history(given: dict[str, Any], **options: Any) -> TankHistory:
    """`lpgrelease.tank_history` of all."""
    contents, openings, weather = _parts(given)
    return lr.tank_history(contents, openings=openings, weather=weather, **options)


def plain(given: dict[str, Any], **end: float | None) -> FloatArray:
    """Time, temperature and mass at the end by `plain_two_openings`; of one scenario."""
    contents, openings, weather = _parts(given)
    tank = contents.tank
    exchange, surface = tank.outside_exchange(weather), float(tank.surface_area)
    case = TwoOpenings(
        tank=tank,
        fill=float(contents.fill),
        temperature=float(contents.temperature),
        areas=(float(openings[0].effective_area), float(openings[1].effective_area)),
        heights=(float(openings[0].height), float(openings[1].height)),
        heat=lambda t: surface * float(exchange.heat_flux(np.float64(t))),
        ambient_pressure=float(STANDARD_ATMOSPHERE),
    )
    return np.array(two_openings_end(case, rtol=TOLERANCE, **end)[:3])


def many_with_two_openings() -> tuple[list[Row], list[str]]:
    """Ten thousand tilted tanks that vent and leak; a sample of them by the baseline, one at a time."""
    given = drawn(SCENARIOS, 2026)
    run = history(given)
    chosen = np.random.default_rng(6).choice(SCENARIOS, SAMPLE, replace=False)
    sample = []
    for i in chosen:
        stops = run.stopped_by[i] == "gauge pressure"
        end = {"stop_pressure": STOP} if stops else {"duration": float(run.time[i, -1])}
        sample.append(({name: values[i] for name, values in given.items()}, end))
    found: list[FloatArray] = []

    def solve() -> None:
        found[:] = [plain(one, **end) for one, end in sample]

    times = timed(
        {"ours": lambda: history(given), "plain": solve}, 3, per={"ours": SCENARIOS, "plain": SAMPLE}
    )
    apart = []
    notes = [
        f"{SCENARIOS:,} tilted tanks that vent and leak, {SAMPLE} of them by both: time, temperature, mass"
    ]
    for i, theirs in zip(chosen, found, strict=True):
        mass = run.liquid_mass[i] + run.vapor_mass[i]
        ours = np.array([run.time[i, -1], run.temperature[i, -1], mass[-1]])
        scale = np.array([ours[0], ours[1], mass[0]])
        apart.append(float(np.max(np.abs(theirs - ours) / scale)))
        notes.append(
            f"  {run.stopped_by[i]:<16} ours {ours[0]:11.3f} s {ours[1]:9.4f} K {ours[2]:10.3f} kg, "
            f"plain {theirs[0]:11.3f} s {theirs[1]:9.4f} K {theirs[2]:10.3f} kg   {apart[-1]:.1e}"
        )
    worst = max(apart)
    rows = [
        Row.of_time(f"{SCENARIOS:,} tilted tanks with vent and leak: per scenario", times["ours"], "us"),
        Row.of_time(f"  plain, {SAMPLE} of them: per scenario", times["plain"], "ms"),
        Row.of_ratio("  plain over tank_history", ratio(times["plain"], times["ours"]), at_least=5_000),
        Row(
            "  largest difference, of sample, masses over the initial",
            float(np.median(apart)), min(apart), worst, "", f"<= {AGREEMENT:g}", worst <= AGREEMENT,
        ),
    ]  # fmt: skip
    return rows, notes


def everything_at_once() -> list[Row]:
    """One tank with all that may be added to it, to zero on the gauge."""
    flat = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0)
    tank = lr.tilt(flat, pitch=0.05)
    top = float(tank.height)
    contents = lr.Contents(tank, lr.Fluid("propane"), fill=0.8, temperature=293.15)
    openings = [
        lr.Line(diameter=0.0508, length=10.0, height=top),
        lr.Opening(diameter=0.006, height=0.2),
        lr.ReliefValve(opening=lr.Opening(diameter=0.03, height=top), set_pressure=17e5),
    ]
    weather = lr.Weather(wind_speed=3.0, solar_irradiance=600.0)
    added: dict[str, Any] = {
        "wall": lr.TankWall(insulation=0.05, contact_conductance=10.0),
        "fire": lr.TankFire(environment_factor=0.001, dry_flux=50.0),
        "transfers": [lr.Transfer(mass_flow=-0.01)],
        "stop": [lr.StopAt(level=0.1), lr.StopAt(temperature=200.0)],
        "stop_at_gauge_pressure": STOP - float(STANDARD_ATMOSPHERE),
    }
    jobs = {
        "all": lambda: lr.tank_history(contents, openings=openings, weather=weather, **added),
        "walls": lambda: lr.tank_history(
            contents, openings=openings[:1], weather=weather, wall=lr.TankWall()
        ),
        "leak": lambda: lr.tank_history(contents, openings=openings[:2], weather=weather),
    }
    times = timed(jobs, 5)
    return [
        Row.of_time("one tank_history, everything at once", times["all"], "ms", at_most=10),
        Row.of_time("  a line, two walls and superheated vapor", times["walls"], "ms", at_most=10),
        Row.of_time("  tilted, a line and a leak, one temperature", times["leak"], "ms", at_most=10),
    ]


def up_to_a_million() -> list[str]:
    """Time per scenario and largest memory for 10,000, 100,000 and 1,000,000 tanks, in batches of 100,000."""
    lines = []
    for number in (10_000, 100_000, 1_000_000):
        start, left = time.process_time(), number
        while left:
            size = min(left, BATCH)
            Scenarios.drawn(size, left).history(points=3)
            left -= size
        took = time.process_time() - start
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        lines.append(
            f"{number:>9,} tanks: {1e6 * took / number:6.1f} us each, at most {memory:,.0f} MB so far"
        )
    return lines


if __name__ == "__main__":
    print("\n".join(up_to_a_million()))
