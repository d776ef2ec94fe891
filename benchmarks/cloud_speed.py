"""Ten thousand clouds at once, against one at a time: ``python benchmarks/cloud_speed.py``.

Two loops over scenarios: the library's own call, and `plain_cloud`, the same march in plain Python.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import plain_cloud
from measuring import Row, machine, ratio, table, timed

import lpgrelease as lr
from lpgrelease.cloud import CloudReach, flammable_reach
from lpgrelease.cloud.reach import _heat_capacity

__all__ = ["Scenarios", "many_clouds"]

SCENARIOS, SAMPLE, PLAIN_SAMPLE = 10_000, 10, 100
AGREEMENT = 1e-6
"""Between the library, whose erf is good to 1.5e-7, and `plain_cloud`."""
CLASS = "D"
PROPANE = lr.Fluid("propane")


class Scenarios(NamedTuple):
    """Small sources of propane vapor in neutral air; arrays of one shape."""

    mass_flow: np.ndarray
    wind: np.ndarray
    air_temperature: np.ndarray
    relative_humidity: np.ndarray

    @classmethod
    def drawn(cls, number: int, seed: int) -> Scenarios:
        """Invented scenarios, drawn evenly from plausible ranges."""
        draw = np.random.default_rng(seed).uniform
        return cls(
            draw(0.05, 5.0, number),
            draw(1.0, 12.0, number),
            draw(268.0, 305.0, number),
            draw(0.1, 0.9, number),
        )

    def reach(self) -> CloudReach:
        """`flammable_reach` of all."""
        weather = lr.Weather(
            air_temperature=self.air_temperature,
            wind_speed=self.wind,
            relative_humidity=self.relative_humidity,
            stability=CLASS,
        )
        return flammable_reach(PROPANE, mass_flow=self.mass_flow, weather=weather)

    def first(self, number: int) -> list[Scenarios]:
        """Give the first `number`, each alone."""
        return [Scenarios(*(values[i] for values in self)) for i in range(number)]

    def plain(self) -> plain_cloud.Case:
        """One of them, for `plain_cloud`."""
        boiling = PROPANE.normal_boiling_point
        one = {
            "source_temperature": np.array([boiling]),
            "air_temperature": np.array([float(self.air_temperature)]),
            "ambient_pressure": np.array([101325.0]),
        }
        return plain_cloud.Case(
            mass_flow=float(self.mass_flow),
            molar_mass=PROPANE.molar_mass,
            heat_capacity=float(_heat_capacity(PROPANE, one)[0]),
            temperature=boiling,
            air_temperature=float(self.air_temperature),
            relative_humidity=float(self.relative_humidity),
            wind=float(self.wind),
            stability="ABCDEF".index(CLASS),
            threshold=PROPANE.flammable_limits[0],
        )


def many_clouds() -> tuple[list[Row], list[str]]:
    """Time all at once, and samples one by one; check that the two programs agree."""
    drawn = Scenarios.drawn(SCENARIOS, seed=7)
    cases = [one.plain() for one in drawn.first(PLAIN_SAMPLE)]
    found = drawn.reach().distance
    other = np.array([plain_cloud.distance(case) for case in cases])
    gap = float(np.max(np.abs(found[:PLAIN_SAMPLE] / other - 1.0)))
    if gap > AGREEMENT:
        raise RuntimeError(f"the two programs differ by {gap:.1e}")
    alone = drawn.first(SAMPLE)
    times = timed(
        {
            "at once": drawn.reach,
            "one by one": lambda: [one.reach() for one in alone],
            "plain": lambda: [plain_cloud.distance(case) for case in cases],
        },
        3,
        per={"at once": SCENARIOS, "one by one": SAMPLE, "plain": PLAIN_SAMPLE},
    )
    rows = [
        Row.of_time(f"{SCENARIOS:,} clouds at once: per cloud", times["at once"], "ms"),
        Row.of_time("  one by one: per cloud", times["one by one"], "ms"),
        Row.of_time("  plain_cloud, its distance alone: per cloud", times["plain"], "ms"),
        Row.of_ratio("  one by one over at once", ratio(times["one by one"], times["at once"])),
        Row.of_ratio("  plain_cloud over at once", ratio(times["plain"], times["at once"])),
    ]
    return rows, [
        f"clouds: the library and plain_cloud agree within {gap:.0e} on {PLAIN_SAMPLE} of {SCENARIOS:,}"
    ]


if __name__ == "__main__":
    found_rows, notes = many_clouds()
    print("\n".join(f"{key}: {value}" for key, value in machine().items()))
    print(f"\n{table(found_rows)}\n\n" + "\n".join(notes))
