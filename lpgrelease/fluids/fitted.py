"""Equations of state fitted here, for substances without a published one in CoolProp. For maintainers.

`fit_equations` makes them and writes ``lpgrelease/data/fitted_equations.json``; this module solves them for
phase equilibrium, in extended precision, so that `make_tables` can tabulate them.
"""

from __future__ import annotations

import dataclasses
import json
from functools import cache
from importlib import resources
from typing import Any

import numpy as np

from lpgrelease.fluids import helmholtz
from lpgrelease.fluids.helmholtz import Equation, SinglePhase

__all__ = ["EXTENDED", "FittedState", "equation_from", "extended", "fitted_records"]

EXTENDED = np.longdouble
GRID = 600
"""Steps from the cold end to the critical point; each starts from the one before."""
STEPS = 12
"""Newton steps to equilibrium: quadratic, round-off after 4 or 5 except next to the critical point."""


@cache
def fitted_records() -> dict[str, dict[str, Any]]:
    """Read the fitted equations, by name of the substance."""
    path = resources.files("lpgrelease") / "data" / "fitted_equations.json"
    records: dict[str, dict[str, Any]] = json.loads(path.read_text(encoding="utf-8"))
    return records


def equation_from(record: dict[str, Any]) -> Equation:
    """Return the equation of a record."""
    return Equation(
        gas_constant=record["gas_constant"] / record["molar_mass"],
        reducing_temperature=record["reducing_temperature"],
        reducing_density=record["reducing_density"],
        lead=tuple(record["lead"]),
        planck_einstein=np.array(record["planck_einstein"]),
        residual=np.array(record["residual"]),
    )


def extended(equation: Equation) -> Equation:
    """Return `equation` with coefficients in extended precision, in which `helmholtz` then computes."""
    return dataclasses.replace(
        equation,
        planck_einstein=equation.planck_einstein.astype(EXTENDED),
        residual=equation.residual.astype(EXTENDED),
    )


class FittedState:
    """Saturation of a fitted equation, with those methods of CoolProp's ``AbstractState`` that are used.

    Notes
    -----
    Liquid and vapor of equal pressure and equal Gibbs energy, by Newton steps in ln(rho) of both. The
    start comes from the state a little colder, its distance from the critical density scaled by
    theta = sqrt(1 - T/T_c).
    """

    def __init__(self, name: str) -> None:
        self.record = fitted_records()[name]
        self.equation = extended(equation_from(self.record))
        self._grid: Any = None
        self._now: tuple[EXTENDED, EXTENDED, EXTENDED, SinglePhase] | None = None

    def T_critical(self) -> float:  # noqa: N802 CoolProp's name
        """Critical temperature of the equation [K]."""
        return float(self.record["critical_temperature"])

    def p_critical(self) -> float:
        """Critical pressure of the equation [Pa]."""
        return float(self.record["critical_pressure"])

    def Ttriple(self) -> float:  # noqa: N802 CoolProp's name
        """Triple-point temperature [K]."""
        return float(self.record["triple_temperature"])

    def molar_mass(self) -> float:
        """Molar mass [kg/mol]."""
        return float(self.record["molar_mass"])

    def gas_constant(self) -> float:
        """Molar gas constant of the equation [J/mol/K]."""
        return float(self.record["gas_constant"])

    def update(self, _inputs: int, quality: float, temperature: float) -> None:
        """Go to saturated liquid (quality 0) or vapor (1) at `temperature` [K]."""
        t = EXTENDED(temperature)
        theta = np.sqrt(1 - t / EXTENDED(self.record["critical_temperature"]))
        if self._grid is None:
            self._grid = self._march()
        nodes, liquid, vapor = self._grid
        start = np.interp(float(theta), nodes, liquid), np.interp(float(theta), nodes, vapor)
        rho_l, rho_v = self._solve(t, theta, *map(EXTENDED, start))
        rho = rho_v if quality > 0.5 else rho_l
        pressure = _at(self.equation, t, rho_v).pressure[0]
        self._now = t, rho, pressure, _at(self.equation, t, rho)

    def _march(self) -> tuple[Any, Any, Any]:
        """(ln(rho/rho_c))/theta of both phases on a grid of theta, ascending."""
        warm = EXTENDED(self.record["critical_temperature"])
        cold = EXTENDED(self.record["triple_temperature"])
        rho_c = EXTENDED(self.record["critical_density"])
        thetas = np.linspace(np.sqrt(1 - cold / warm), EXTENDED(2e-4), GRID)
        rho_l, rho_v = map(EXTENDED, self.record["coldest_densities"])
        liquid, vapor = np.log(rho_l / rho_c) / thetas[0], np.log(rho_v / rho_c) / thetas[0]
        rows = []
        for theta in thetas:
            rho_l, rho_v = self._solve(warm * (1 - theta * theta), theta, liquid, vapor)
            liquid, vapor = np.log(rho_l / rho_c) / theta, np.log(rho_v / rho_c) / theta
            rows.append((float(theta), float(liquid), float(vapor)))
        return tuple(np.array(rows[::-1]).T)

    def _solve(self, t: EXTENDED, theta: EXTENDED, liquid: EXTENDED, vapor: EXTENDED) -> tuple[Any, Any]:
        rho_c = EXTENDED(self.record["critical_density"])
        rho_l, rho_v = rho_c * np.exp(liquid * theta), rho_c * np.exp(vapor * theta)
        for _ in range(STEPS):
            l, v = _at(self.equation, t, rho_l), _at(self.equation, t, rho_v)  # noqa: E741 the paper's symbol
            p_l, p_v = l.pressure[0], v.pressure[0]
            gap_p = p_l - p_v
            gap_g = (l.enthalpy - t * l.entropy - v.enthalpy + t * v.entropy)[0]
            a, b = p_l * l.stiffness[0], p_v * v.stiffness[0]  # dp/d ln rho; dg = dp/rho
            determinant = a * b * (1 / rho_l - 1 / rho_v)
            step_l = (gap_p * b / rho_v - gap_g * b) / determinant
            step_v = (gap_p * a / rho_l - gap_g * a) / determinant
            limit = EXTENDED(0.3)
            rho_l = rho_l * np.exp(np.clip(step_l, -limit, limit))
            rho_v = rho_v * np.exp(np.clip(step_v, -limit, limit))
        return rho_l, rho_v

    def _state(self) -> tuple[EXTENDED, EXTENDED, EXTENDED, SinglePhase]:
        if self._now is None:
            raise ValueError("update first")
        return self._now

    def p(self) -> float:
        """Saturation pressure [Pa], that of the vapor."""
        return float(self._state()[2])

    def rhomass(self) -> float:
        """Density [kg/m3]."""
        return float(self._state()[1])

    def hmass(self) -> float:
        """Specific enthalpy [J/kg]."""
        return float(self._state()[3].enthalpy[0])

    def smass(self) -> float:
        """Specific entropy [J/kg/K]."""
        return float(self._state()[3].entropy[0])

    def umass(self) -> float:
        """Specific internal energy [J/kg]."""
        _, rho, p, state = self._state()
        return float(state.enthalpy[0] - p / rho)

    def cpmass(self) -> float:
        """Isobaric heat capacity [J/kg/K]."""
        return float(self._state()[3].heat_capacity[0])

    def viscosity(self) -> float:
        """Raise: there is no model."""
        raise ValueError("no model")

    conductivity = surface_tension = viscosity


def _at(equation: Equation, t: EXTENDED, rho: EXTENDED) -> SinglePhase:
    return helmholtz.evaluate(equation, np.array([t]), np.array([rho]))
