"""A tank at any pitch with a vent of vapor and a leak of liquid, as one writes it in an afternoon.

`plain_coolprop` with a second opening: liquid while the level stands above it, vapor after, and the heat of
the weather on the bare wall in place of an overall coefficient. CoolProp's `PropsSI` inside SciPy's
`solve_ivp`; the level from a table of 400 volumes, so that geometry costs it nothing. Volumes and the heat
flux of the weather are those of the package: they are what both are to solve, not how.

All quantities are SI; pressures are absolute.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from CoolProp.CoolProp import PropsSI
from plain_coolprop import MASS_STEP, TEMPERATURE_STEP, TankEnd, vapor_flux
from scipy.integrate import solve_ivp

__all__ = ["TwoOpenings", "two_openings_end"]

LONGEST_HISTORY = 30 * 86400.0  # s
LEVELS = 400
GRAVITY = 9.80665


class TwoOpenings(NamedTuple):
    """A tank, what is in it, its openings, and what is around it.

    Parameters
    ----------
    tank : lpgrelease tank
        For its volumes below levels.
    fill, temperature : float
    areas, heights : tuple of float
        Discharge coefficient times area [m2], and height [m], of vent and leak.
    heat : callable
        Heat from outside [W] at a wall temperature [K].
    ambient_pressure : float
    """

    tank: Any
    fill: float
    temperature: float
    areas: tuple[float, float]
    heights: tuple[float, float]
    heat: Callable[[float], float]
    ambient_pressure: float


def two_openings_end(
    case: TwoOpenings,
    *,
    stop_pressure: float | None = None,
    duration: float | None = None,
    rtol: float = 1e-5,
) -> TankEnd:
    """State at which the tank comes down to `stop_pressure` [Pa], or at `duration` [s]."""
    fluid, volume = "Propane", float(case.tank.volume)
    levels = np.linspace(0.0, float(case.tank.height), LEVELS)
    volumes = np.asarray(case.tank.volume_at(levels))
    wall = float(case.tank.wall_capacity)

    def energy(temperature: float, mass: float) -> float:
        return mass * PropsSI("Umass", "T", temperature, "Dmass", mass / volume, fluid) + wall * temperature

    def rates(_time: float, y: list[float]) -> list[float]:
        T, M = y
        p, h_v, rho_v = PropsSI(["P", "Hmass", "Dmass"], "T", T, "Q", 1.0, fluid)
        h_l, rho_l = PropsSI(["Hmass", "Dmass"], "T", T, "Q", 0.0, fluid)
        liquid = (M - rho_v * volume) / (rho_l - rho_v)
        level = float(np.interp(liquid, volumes, levels))
        flows, carried, vapor = 0.0, 0.0, None
        for area, height in zip(case.areas, case.heights, strict=True):
            if level > height:
                drive = p - case.ambient_pressure + rho_l * GRAVITY * (level - height)
                flow, h = area * math.sqrt(2.0 * rho_l * max(drive, 0.0)), h_l
            else:
                vapor = vapor_flux(fluid, T, case.ambient_pressure) if vapor is None else vapor
                flow, h = area * vapor, h_v
            flows, carried = flows + flow, carried + flow * h
        dT, dM = TEMPERATURE_STEP, MASS_STEP * M
        by_temperature = (energy(T + dT, M) - energy(T - dT, M)) / (2.0 * dT)
        by_mass = (energy(T, M + dM) - energy(T, M - dM)) / (2.0 * dM)
        return [(case.heat(T) - carried + flows * by_mass) / by_temperature, -flows]

    def at_stop_pressure(_time: float, y: list[float]) -> float:
        return PropsSI("P", "T", y[0], "Q", 1.0, fluid) - stop_pressure

    at_stop_pressure.terminal = True
    rho_l = PropsSI("Dmass", "T", case.temperature, "Q", 0.0, fluid)
    rho_v = PropsSI("Dmass", "T", case.temperature, "Q", 1.0, fluid)
    mass = volume * (case.fill * rho_l + (1.0 - case.fill) * rho_v)
    solution = solve_ivp(
        rates,
        (0.0, LONGEST_HISTORY if duration is None else duration),
        [case.temperature, mass],
        rtol=rtol,
        atol=[rtol, rtol * mass],
        events=None if stop_pressure is None else at_stop_pressure,
    )
    if solution.status < 0 or (stop_pressure is not None and solution.status == 0):
        raise RuntimeError(solution.message)
    T, M = solution.y[:, -1]
    return TankEnd(float(solution.t[-1]), float(T), float(M), int(solution.nfev))
