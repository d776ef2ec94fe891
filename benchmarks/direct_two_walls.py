"""A tank with two walls and vapor of its own temperature, straight from CoolProp and SciPy.

The equations that `tank_history` solves with ``wall=TankWall(...)``, written down anew: six variables
(temperatures of liquid, vapor, wetted and dry wall; masses of liquid and vapor), what evaporates from the
condition that both phases fill the tank, properties and their derivatives from CoolProp's states, LSODA. Heat
coefficients are given numbers, and openings are holes: correlations and lines are tested elsewhere.

All quantities are SI; pressures are absolute.
"""

from __future__ import annotations

import dataclasses
import math
from typing import Any, NamedTuple

import CoolProp
import numpy as np
from CoolProp import AbstractState
from direct_states import FloatArray, liquid_flux
from scipy.integrate import solve_ivp
from scipy.optimize import minimize_scalar

import lpgrelease as lr
from lpgrelease.tank.superheated import SuperheatedVapor, share_of_choking

__all__ = ["TwoWalls", "TwoWallsPath", "two_walls_path"]

LEVELS = 2001
FIRE = 43.2e3  # W/m2**1.64, of a wetted surface where drainage is adequate: API 521
SIGMA = 5.670374419e-8  # W/m2/K4
FOG_RATE = 1.0  # 1/s: vapor below saturation makes fog
LOWEST_THROAT = 0.4  # of the pressure inside: an isentrope of vapor chokes above that


class TwoWallsPath(NamedTuple):
    """At the times asked for: temperatures [K] and masses [kg]; and how often the rates were taken."""

    temperature: FloatArray
    vapor_temperature: FloatArray
    wet_wall_temperature: FloatArray
    dry_wall_temperature: FloatArray
    liquid_mass: FloatArray
    vapor_mass: FloatArray
    calls: int


@dataclasses.dataclass(frozen=True)
class TwoWalls:
    """A tank of propane, what is around it, and its openings.

    Parameters
    ----------
    tank : lpgrelease tank
        For its volumes and surfaces below levels.
    fill, temperature, air_temperature, ambient_pressure : float
    conductance : float
        From the air to the bare surface [W/K].
    coefficients : tuple of float
        Wetted wall to liquid, dry wall to vapor, vapor to the liquid's surface [W/m2/K].
    holes : tuple of (float, float)
        Discharge coefficient times area [m2], and height [m].
    insulation : float
        [m2 K/W].
    contact : (float, float)
        Conductance from the ground to the wetted wall [W/K], and the ground's temperature.
    edge : float
        Conductance along the metal at the waterline [W/K].
    fire : (float, float)
        Environment factor, and flux into the dry wall [W/m2].
    pumped : float
        Liquid pumped out [kg/s].
    true_nozzle : bool
        Vapor leaves as it is; otherwise as saturated vapor of the same pressure by the root of the densities
        and the factor F that the package tabulates.
    inside_emissivity : float
        Of the dry wall, which shines on black liquid through clear vapor.
    """

    tank: Any
    fill: float
    temperature: float
    air_temperature: float
    ambient_pressure: float
    conductance: float
    coefficients: tuple[float, float, float]
    holes: tuple[tuple[float, float], ...]
    insulation: float = 0.0
    contact: tuple[float, float] = (0.0, 300.0)
    edge: float = 0.0
    fire: tuple[float, float] = (0.0, 0.0)
    pumped: float = 0.0
    true_nozzle: bool = True
    inside_emissivity: float = 0.8


class _Equations:
    """The rates of a case, with CoolProp's states that they need."""

    def __init__(self, case: TwoWalls) -> None:
        self.case = case
        self.saturated, self.vapor, self.throat = (AbstractState("HEOS", "Propane") for _ in range(3))
        # vapor may be a little colder than saturated
        self.vapor.specify_phase(CoolProp.iphase_gas)
        self.throat.specify_phase(CoolProp.iphase_gas)
        tank = case.tank
        self.volume, self.surface = float(tank.volume), float(tank.surface_area)
        self.metal = float(tank.wall_capacity)
        self.tabulated = SuperheatedVapor.of(lr.Fluid("propane").tables)
        self.levels = np.linspace(0.0, float(tank.height), LEVELS)
        self.volumes = np.asarray(tank.volume_at(self.levels))
        self.shares = np.asarray(tank.wetted_area_at(self.levels)) / self.surface
        self.share_slopes = np.gradient(self.shares, self.volumes)
        self.free = np.asarray(tank.free_surface_at(self.levels))

    def flux(self, pressure: float, vapor: AbstractState, saturated_density: float) -> float:
        """Largest isentropic flux of the vapor [kg/m2/s]."""
        ambient = max(self.case.ambient_pressure, LOWEST_THROAT * pressure)
        if pressure <= ambient:
            return 0.0
        scale = 1.0
        if not self.case.true_nozzle:
            scale = math.sqrt(vapor.rhomass() / saturated_density) * self.factor(pressure, vapor)
            vapor = self.saturated
        h0, s0, state = vapor.hmass(), vapor.smass(), self.throat

        def less(p: float) -> float:
            state.update(CoolProp.PSmass_INPUTS, p, s0)
            return -state.rhomass() * math.sqrt(2.0 * max(h0 - state.hmass(), 0.0))

        found = minimize_scalar(
            less, bounds=(ambient, pressure), method="bounded", options={"xatol": 1e-7 * pressure}
        )
        return scale * max(-found.fun, -less(ambient))

    def factor(self, pressure: float, vapor: AbstractState) -> float:
        """Return what the package makes of the flux besides the root of densities at `pressure`."""
        t, p, superheat = (
            np.array([v]) for v in (self.saturated.T(), pressure, vapor.hmass() - self.saturated.hmass())
        )
        gain = self.tabulated.at(t, p, p, superheat).choked_flux - 1.0
        return float((1.0 + gain * share_of_choking(p, np.array([self.case.ambient_pressure])))[0])

    def __call__(self, _time: float, y: FloatArray) -> list[float]:
        """Rates of the six variables."""
        case, q, v = self.case, self.saturated, self.vapor
        T, T_v, T_w, T_d, m_l, m_v = y
        q.update(CoolProp.QT_INPUTS, 0.0, T)
        p, h_l, v_l = q.p(), q.hmass(), 1.0 / q.rhomass()
        p_T = q.first_saturation_deriv(CoolProp.iP, CoolProp.iT)
        h_l_T = q.first_saturation_deriv(CoolProp.iHmass, CoolProp.iT)
        v_l_T = -q.first_saturation_deriv(CoolProp.iDmass, CoolProp.iT) * v_l**2
        q.update(CoolProp.QT_INPUTS, 1.0, T)
        h_s, rho_s = q.hmass(), q.rhomass()
        v.update(CoolProp.PT_INPUTS, p, T_v)
        h, vol, cp = v.hmass(), 1.0 / v.rhomass(), v.cpmass()
        h_p = v.first_partial_deriv(CoolProp.iHmass, CoolProp.iP, CoolProp.iT)
        vol_T = -v.first_partial_deriv(CoolProp.iDmass, CoolProp.iT, CoolProp.iP) * vol**2
        vol_p = -v.first_partial_deriv(CoolProp.iDmass, CoolProp.iP, CoolProp.iT) * vol**2

        filled = m_l * v_l
        level, share, slope, free = (
            float(np.interp(filled, self.volumes, row))
            for row in (self.levels, self.shares, self.share_slopes, self.free)
        )
        wet, dry = share * self.surface, (1.0 - share) * self.surface
        inward_w = case.coefficients[0] * wet * (T_w - T)
        inward_d = case.coefficients[1] * dry * (T_d - T_v)
        outside_w, outside_d = self.from_outside(wet, dry, T_w, T_d)
        eps = case.inside_emissivity
        shines = SIGMA * (T_d**4 - T**4) / (1.0 / free + (1.0 - eps) / (eps * dry))
        fog = m_v * cp * FOG_RATE if h < h_s else 0.0
        across = (case.coefficients[2] * free + fog) * (T_v - T)

        as_liquid, as_vapor, flux = case.pumped, 0.0, None
        for area, height in case.holes:
            if level > height:
                as_liquid += area * liquid_flux(1.0 / v_l, p, case.ambient_pressure, level - height)
            else:
                flux = self.flux(p, v, rho_s) if flux is None else flux
                as_vapor += area * flux

        # energy of the liquid, energy of the vapor, volume of both; unknown T', T_v', what evaporates
        vapor_volume = self.volume - filled
        matrix = [
            [m_l * h_l_T - filled * p_T, 0.0, h_s - h_l],
            [(m_v * h_p - vapor_volume) * p_T, m_v * cp, h - h_s],
            [m_l * v_l_T + m_v * vol_p * p_T, m_v * vol_T, vol - v_l],
        ]
        right = [inward_w + shines + across, inward_d - across, as_liquid * v_l + as_vapor * vol]
        rate, vapor_rate, evaporates = np.linalg.solve(matrix, right)
        wetting = slope * (m_l * v_l_T * rate - (evaporates + as_liquid) * v_l)
        along = case.edge * (T_d - T_w)
        gain_w = outside_w - inward_w + along + max(wetting, 0.0) * self.metal * (T_d - T_w)
        gain_d = outside_d - inward_d - shines - along + max(-wetting, 0.0) * self.metal * (T_w - T_d)
        return [
            rate,
            vapor_rate,
            gain_w / (share * self.metal),
            gain_d / ((1.0 - share) * self.metal),
            -evaporates - as_liquid,
            evaporates - as_vapor,
        ]

    def from_outside(self, wet: float, dry: float, T_w: float, T_d: float) -> tuple[float, float]:
        """Heat from outside into wetted and dry wall [W]."""
        case = self.case
        each = 1.0 / (self.surface / case.conductance + case.insulation)
        into_w = wet * each * (case.air_temperature - T_w) + case.contact[0] * (case.contact[1] - T_w)
        into_d = dry * (each * (case.air_temperature - T_d) + case.fire[1])
        return into_w + FIRE * case.fire[0] * wet**0.82, into_d

    def start(self) -> list[float]:
        """Everything at one temperature."""
        T, share, q = self.case.temperature, self.case.fill, self.saturated
        q.update(CoolProp.QT_INPUTS, 0.0, T)
        liquid = share * self.volume * q.rhomass()
        q.update(CoolProp.QT_INPUTS, 1.0, T)
        return [T, T, T, T, liquid, (1.0 - share) * self.volume * q.rhomass()]


def two_walls_path(case: TwoWalls, times: FloatArray, *, rtol: float = 1e-7) -> TwoWallsPath:
    """Solve a case from its start, at `times` [s]."""
    equations = _Equations(case)
    start = equations.start()
    solution = solve_ivp(
        equations,
        (0.0, float(times[-1])),
        start,
        method="LSODA",
        t_eval=times,
        rtol=rtol,
        atol=[1e-6] * 4 + [1e-8 * start[4]] * 2,
    )
    if not solution.success:
        raise RuntimeError(solution.message)
    return TwoWallsPath(*solution.y, int(solution.nfev))
