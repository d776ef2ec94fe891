"""Tank histories, one and ten thousand, against two solutions by CoolProp inside an ODE solver."""

from __future__ import annotations

from typing import Any, NamedTuple

import direct_coolprop
import numpy as np
import plain_coolprop
from direct_states import FloatArray
from measuring import Row, ratio, timed

import lpgrelease as lr
from lpgrelease.constants import STANDARD_ATMOSPHERE, ZERO_GAUGE_READING

__all__ = ["Scenarios", "many_histories", "one_history"]

STOP = float(STANDARD_ATMOSPHERE + ZERO_GAUGE_READING)
TOLERANCE = 1e-6
"""Relative tolerance of both solvers, the loosest power of ten that brings both within 1e-4."""
SCENARIOS, SAMPLE = 10_000, 5
FILL, DISCHARGE_COEFFICIENT, STEEL = 0.8, 0.85, 470.0
AGREEMENT = 1e-4


class Scenarios(NamedTuple):
    """Horizontal propane tanks with a vent on top, a wall and heat from the air; arrays of one shape."""

    diameter: FloatArray
    length: FloatArray
    wall_mass: FloatArray
    heat_transfer: FloatArray
    fill: FloatArray
    temperature: FloatArray
    vent_diameter: FloatArray
    air_temperature: FloatArray

    @classmethod
    def drawn(cls, number: int, seed: int) -> Scenarios:
        """Invented scenarios, drawn evenly from plausible ranges; the wall is 8 mm of steel."""
        draw = np.random.default_rng(seed).uniform
        diameter, length = draw(0.8, 2.0, number), draw(3.0, 8.0, number)
        return cls(
            diameter=diameter,
            length=length,
            wall_mass=7850.0 * 0.008 * np.pi * diameter * length,
            heat_transfer=draw(5.0, 15.0, number) * np.pi * diameter * length,
            fill=draw(0.3, 0.85, number),
            temperature=draw(278.0, 308.0, number),
            vent_diameter=draw(0.04, 0.08, number),
            air_temperature=draw(268.0, 308.0, number),
        )

    def history(self, **options: Any) -> lr.tank.TankHistory:
        """`lpgrelease.tank_history` of all."""
        tank = lr.HorizontalTank(
            diameter=self.diameter,
            length=self.length,
            wall_mass=self.wall_mass,
            wall_heat_capacity=STEEL,
            heat_transfer=self.heat_transfer,
        )
        contents = lr.Contents(tank, lr.Fluid("propane"), fill=self.fill, temperature=self.temperature)
        vent = lr.Opening(
            diameter=self.vent_diameter, discharge_coefficient=DISCHARGE_COEFFICIENT, height=self.diameter
        )
        weather = lr.Weather(air_temperature=self.air_temperature)
        return lr.tank_history(contents, openings=[vent], weather=weather, **options)

    def one(self, index: int) -> Scenarios:
        """Scenario `index` alone."""
        return Scenarios(*(values[index] for values in self))

    def _volume(self) -> float:
        return float(lr.HorizontalTank(diameter=self.diameter, length=self.length).volume)

    def plain(self, **end: float | None) -> FloatArray:
        """Time, temperature and mass at the end by `plain_coolprop`; of one scenario."""
        tank = plain_coolprop.PlainTank(
            fluid="Propane",
            volume=self._volume(),
            fill=float(self.fill),
            temperature=float(self.temperature),
            opening_area=float(DISCHARGE_COEFFICIENT * np.pi / 4.0 * self.vent_diameter**2),
            wall_heat=float(self.wall_mass * STEEL),
            heat_transfer=float(self.heat_transfer),
            air_temperature=float(self.air_temperature),
            ambient_pressure=float(STANDARD_ATMOSPHERE),
        )
        return np.array(plain_coolprop.tank_end(tank, rtol=TOLERANCE, **end)[:3])

    def tuned(self, **options: Any) -> FloatArray:
        """Return the same by `direct_coolprop`."""
        run = direct_coolprop.tank_history(
            "Propane",
            self._volume(),
            float(self.fill),
            float(self.temperature),
            [(float(self.vent_diameter), DISCHARGE_COEFFICIENT)],
            wall_heat=float(self.wall_mass * STEEL),
            heat_transfer=float(self.heat_transfer),
            air_temperature=float(self.air_temperature),
            ambient_pressure=float(STANDARD_ATMOSPHERE),
            **{"rtol": TOLERANCE, **options},
        )
        return np.array([run.time[-1], run.temperature[-1], run.total_mass[-1]])


EXAMPLE = Scenarios(
    *(np.float64(x) for x in (1.04, 4.5, 900.0, 170.0, FILL, 293.15, 0.0508, 293.15)),
)
"""A tank of 1,000 US gallons."""


def _end(run: Any, index: tuple[int, ...] = ()) -> FloatArray:
    mass = run.liquid_mass[*index, -1] + run.vapor_mass[*index, -1]
    return np.array([run.time[*index, -1], run.temperature[*index, -1], mass])


def _line(name: str, end: FloatArray, ours: FloatArray) -> str:
    worst = np.max(np.abs(end / ours - 1.0))
    return f"  {name:<28} {end[0]:12.4f} s  {end[1]:10.5f} K  {end[2]:11.4f} kg   {worst:.1e}"


def one_history() -> tuple[list[Row], list[str]]:
    """One tank to zero on the gauge: times, ratios, and the answers side by side."""
    jobs = {
        "ours": EXAMPLE.history,
        "plain": lambda: EXAMPLE.plain(stop_pressure=STOP),
        "tuned": lambda: EXAMPLE.tuned(stop_pressure=STOP),
    }
    times = timed(jobs, 9)
    rows = [
        Row.of_time("one tank_history", times["ours"], "ms"),
        Row.of_time("  plain: PropsSI in solve_ivp", times["plain"], "ms"),
        Row.of_time("  tuned: AbstractState in solve_ivp", times["tuned"], "ms"),
        Row.of_ratio("  plain over tank_history", ratio(times["plain"], times["ours"]), at_least=40),
        Row.of_ratio("  tuned over tank_history", ratio(times["tuned"], times["ours"])),
    ]
    ours = _end(EXAMPLE.history())
    ends = {
        "lpgrelease": ours,
        "plain": EXAMPLE.plain(stop_pressure=STOP),
        "tuned": EXAMPLE.tuned(stop_pressure=STOP),
        "tuned, tolerance 1e-10": EXAMPLE.tuned(stop_pressure=STOP, rtol=1e-10),
    }
    apart = list(ends.values())[1:]
    rows.append(_agreement("  largest relative difference, of three solutions", apart, ours))
    notes = ["one tank, at zero gauge: time, temperature, mass left, largest relative difference"]
    return rows, notes + [_line(name, end, ours) for name, end in ends.items()]


def _agreement(what: str, ends: list[FloatArray], ours: FloatArray) -> Row:
    apart = sorted(float(np.max(np.abs(end / ours - 1.0))) for end in ends)
    middle = apart[len(apart) // 2]
    return Row(what, middle, apart[0], apart[-1], "", f"<= {AGREEMENT:g}", apart[-1] <= AGREEMENT)


def many_histories() -> tuple[list[Row], list[str]]:
    """Ten thousand tanks at once; a sample of them by both baselines, one at a time."""
    scenarios = Scenarios.drawn(SCENARIOS, 2025)
    run = scenarios.history()
    chosen = np.random.default_rng(5).choice(SCENARIOS, SAMPLE, replace=False)
    ends = []
    for i in chosen:
        stops = run.stopped_by[i] == "gauge pressure"
        ends.append({"stop_pressure": STOP} if stops else {"duration": float(run.time[i, -1])})
    sample = [(scenarios.one(i), end) for i, end in zip(chosen, ends, strict=True)]
    found: dict[str, list[FloatArray]] = {}

    def solve(kind: str) -> None:
        found[kind] = [getattr(scenario, kind)(**end) for scenario, end in sample]

    jobs = {"ours": scenarios.history, "plain": lambda: solve("plain"), "tuned": lambda: solve("tuned")}
    times = timed(jobs, 7, per={"ours": SCENARIOS, "plain": SAMPLE, "tuned": SAMPLE})
    rows = [
        Row.of_time(f"{SCENARIOS:,} tank histories at once: per scenario", times["ours"], "us"),
        Row.of_time(f"  plain, {SAMPLE} of them: per scenario", times["plain"], "ms"),
        Row.of_time(f"  tuned, {SAMPLE} of them: per scenario", times["tuned"], "ms"),
        Row.of_ratio("  plain over tank_history", ratio(times["plain"], times["ours"]), at_least=10_000),
        Row.of_ratio("  tuned over tank_history", ratio(times["tuned"], times["ours"])),
    ]
    reasons = ", ".join(
        f"{count:,} {reason}"
        for reason, count in zip(*np.unique(run.stopped_by, return_counts=True), strict=True)
    )
    notes = [f"{SCENARIOS:,} tanks, ended by: {reasons}", f"{SAMPLE} of them, as above"]
    apart = []
    for k, i in enumerate(chosen):
        ours = _end(run, (i,))
        alone = _end(scenarios.one(i).history())
        if not np.array_equal(ours, alone):
            raise AssertionError(f"scenario {i} alone differs from itself among all")
        notes.append(_line(f"lpgrelease, scenario {i}", ours, ours))
        for kind in ("plain", "tuned"):
            notes.append(_line(kind, found[kind][k], ours))
            apart.append(np.append(found[kind][k] / ours, 1.0))
    rows.append(_agreement("  largest relative difference, of sample", apart, np.ones(4)))
    return rows, notes
