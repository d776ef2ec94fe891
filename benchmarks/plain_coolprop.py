"""Tank venting as one writes it in an afternoon: CoolProp's `PropsSI` inside SciPy's `solve_ivp`.

The same equations as `direct_coolprop`, in the plainest form: total mass and total energy, with the
partial derivatives of the energy by central differences of CoolProp's own two-phase states, and the flow of
saturated vapor found by maximizing the mass flux over the pressure in the throat. `PropsSI` is asked for all
outputs of a state in one call. One vapor opening.

All quantities are SI; pressures are absolute.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from CoolProp.CoolProp import PropsSI
from scipy.integrate import solve_ivp
from scipy.optimize import minimize_scalar

__all__ = ["PlainTank", "TankEnd", "tank_end", "vapor_flux"]

LONGEST_HISTORY = 30 * 86400.0  # s
TEMPERATURE_STEP = 0.02  # K, of the central differences
MASS_STEP = 1e-4  # relative


class PlainTank(NamedTuple):
    """A tank, what is in it, and what is around it.

    Parameters
    ----------
    fluid : str
        CoolProp's name of a pure fluid.
    volume, fill, temperature : float
        [m3]; liquid volume over inner volume at the start [-]; at the start [K].
    opening_area : float
        Discharge coefficient times the area of the vapor opening [m2].
    wall_heat, heat_transfer : float
        Heat capacity of the wall [J/K]; overall coefficient times area [W/K].
    air_temperature, ambient_pressure : float
        [K], [Pa].
    """

    fluid: str
    volume: float
    fill: float
    temperature: float
    opening_area: float
    wall_heat: float
    heat_transfer: float
    air_temperature: float
    ambient_pressure: float


class TankEnd(NamedTuple):
    """Time [s], temperature [K] and mass left [kg] at the end, and calls of the right-hand side."""

    time: float
    temperature: float
    mass: float
    evaluations: int


def vapor_flux(fluid: str, temperature: float, ambient_pressure: float) -> float:
    """Largest mass flux of saturated vapor through an ideal nozzle [kg/m2/s].

    Notes
    -----
    The tolerance of the pressure in the throat, 1e-4 of the range, moves a choked flux by 1e-8 and one that
    is not choked, largest at the end of the range, by 5e-5 at most.
    """
    p0, h0, s0 = PropsSI(["P", "Hmass", "Smass"], "T", temperature, "Q", 1.0, fluid)
    if p0 <= ambient_pressure:
        return 0.0

    def negative_flux(pressure: float) -> float:
        rho, h = PropsSI(["Dmass", "Hmass"], "P", pressure, "Smass", s0, fluid)
        return -rho * math.sqrt(2.0 * max(0.0, h0 - h))

    tolerance = 1e-4 * (p0 - ambient_pressure)
    best = minimize_scalar(
        negative_flux, bounds=(ambient_pressure, p0), method="bounded", options={"xatol": tolerance}
    )
    return -best.fun


def tank_end(
    tank: PlainTank, *, stop_pressure: float | None = None, duration: float | None = None, rtol: float = 1e-6
) -> TankEnd:
    """State at which the tank comes down to `stop_pressure` [Pa], or at `duration` [s].

    Raises
    ------
    RuntimeError
        If the solver fails or the stop pressure is never reached.
    """

    def energy(temperature: float, mass: float) -> float:
        u = PropsSI("Umass", "T", temperature, "Dmass", mass / tank.volume, tank.fluid)
        return mass * u + tank.wall_heat * temperature

    def rates(_time: float, y: list[float]) -> list[float]:
        T, M = y
        h_v = PropsSI("Hmass", "T", T, "Q", 1.0, tank.fluid)
        flow = tank.opening_area * vapor_flux(tank.fluid, T, tank.ambient_pressure)
        heat = tank.heat_transfer * (tank.air_temperature - T)
        dT, dM = TEMPERATURE_STEP, MASS_STEP * M
        by_temperature = (energy(T + dT, M) - energy(T - dT, M)) / (2.0 * dT)
        by_mass = (energy(T, M + dM) - energy(T, M - dM)) / (2.0 * dM)
        # dE/dt = heat - flow h_v, with E a function of T and M
        return [(heat - flow * h_v + flow * by_mass) / by_temperature, -flow]

    def at_stop_pressure(_time: float, y: list[float]) -> float:
        return PropsSI("P", "T", y[0], "Q", 1.0, tank.fluid) - stop_pressure

    at_stop_pressure.terminal = True
    rho_l = PropsSI("Dmass", "T", tank.temperature, "Q", 0.0, tank.fluid)
    rho_v = PropsSI("Dmass", "T", tank.temperature, "Q", 1.0, tank.fluid)
    mass = tank.volume * (tank.fill * rho_l + (1.0 - tank.fill) * rho_v)
    solution = solve_ivp(
        rates,
        (0.0, LONGEST_HISTORY if duration is None else duration),
        [tank.temperature, mass],
        rtol=rtol,
        atol=[rtol, rtol * mass],
        events=None if stop_pressure is None else at_stop_pressure,
    )
    if solution.status < 0 or (stop_pressure is not None and solution.status == 0):
        raise RuntimeError(solution.message)
    T, M = solution.y[:, -1]
    return TankEnd(float(solution.t[-1]), float(T), float(M), int(solution.nfev))
