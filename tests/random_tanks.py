"""Tanks with everything that may be added to them, at random by a seed; invented, wider than what is met."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

import lpgrelease as lr

NAMES = ("propane", "n-butane", "isobutane", "propylene", "1-butene", "ammonia", "chlorine", "sulfur dioxide")


@dataclasses.dataclass(frozen=True)
class RandomTanks:
    """n tanks of one fluid, with the same kinds of openings and additions, that differ in every number."""

    seed: int
    n: int = 2

    def history(self, *, only: int | None = None, points: int = 17) -> lr.TankHistory:
        """Return all their histories, or that of the tank `only`."""
        contents, given = self._drawn(only)
        return lr.tank_history(contents, points=points, **given)

    def _drawn(self, only: int | None) -> tuple[lr.Contents, dict[str, Any]]:
        rng = np.random.default_rng(self.seed)

        def chosen(values: np.ndarray) -> Any:
            return values if only is None else float(values[only])

        def between(low: float, high: float) -> Any:
            return chosen(rng.uniform(low, high, self.n))

        def decades(low: float, high: float) -> Any:
            return chosen(10.0 ** rng.uniform(low, high, self.n))

        def comes(share: float) -> bool:
            return bool(rng.uniform() < share)

        fluid = lr.Fluid(NAMES[rng.integers(len(NAMES))])
        diameter, length = between(0.5, 3.0), between(1.0, 12.0)
        steel = 7850.0 * between(0.004, 0.02) * np.pi * diameter * length
        flat = lr.HorizontalTank(diameter=diameter, length=length, wall_mass=steel)
        tank = lr.tilt(flat, pitch=between(-0.5, 0.5), roll=between(0.0, 3.1)) if comes(0.7) else flat
        coldest = float(fluid.saturation_temperature(101325.0)) - 10.0
        temperature = between(max(coldest, 215.0), min(315.0, fluid.critical_temperature - 15.0))
        padded, air_enters = comes(0.2), comes(0.2)
        pad = {"pad_pressure": decades(2.0, 5.6), "pad_gas": "air" if air_enters else "nitrogen"}
        contents = lr.Contents(
            tank, fluid, fill=between(0.03, 0.95), temperature=temperature, **(pad if padded else {})
        )
        openings: list[Any] = []
        for _ in range(rng.integers(0, 4)):
            height = between(0.0, 1.0) * tank.height
            kind = rng.uniform()
            if kind < 0.6:
                openings.append(lr.Opening(diameter=decades(-3.2, -1.1), height=height))
            elif kind < 0.8:
                bore, run, rise = between(0.01, 0.06), decades(0.0, 1.7), between(-2.0, 5.0)
                openings.append(lr.Line(diameter=bore, length=run, rise=rise, height=height))
            else:
                seat = lr.Opening(diameter=decades(-2.2, -1.2), height=height)
                openings.append(lr.ReliefValve(opening=seat, set_pressure=decades(4.8, 6.0)))
        given: dict[str, Any] = {"openings": openings, "air_enters": air_enters}
        if comes(0.5):
            insulation = between(0.0, 1.0) if comes(0.3) else 0.0
            given["wall"] = lr.TankWall(two_temperatures=comes(0.7), insulation=insulation)
        if comes(0.25):
            given["fire"] = lr.TankFire(environment_factor=decades(-3.0, 0.0), dry_flux=between(0.0, 2e4))
        if comes(0.4):
            rate, phase = decades(-3.0, 0.5), "liquid" if comes(0.7) else "vapor"
            given["transfers"] = [lr.Transfer(mass_flow=rate * (1.0 if comes(0.5) else -1.0), phase=phase)]
        given["weather"] = lr.Weather(
            air_temperature=between(255.0, 315.0),
            wind_speed=between(0.0, 10.0),
            solar_irradiance=between(0.0, 900.0),
        )
        return contents, given | {"duration": decades(2.5, 5.4)}
