"""Tank venting solved directly: CoolProp calls inside a general ODE solver.

An independent, table-free solution of the equations of a vented tank of liquefied
gas.  It shares no code with the package, so it can serve as a reference for its
tests and as the well-tuned alternative in the speed comparison (`plain_coolprop` is
the plain one).

Model
-----
A rigid volume holds a pure fluid at liquid-vapor equilibrium, with a wall at the
same temperature.  Mass and volume are shared by the phases, and the internal energy
at fixed volume is linear in the mass,

    M = m_l + m_v,    V = m_l v_l + m_v v_v,    U = M a(T) + V B(T) + Cw T,
    B = (u_v - u_l) / (v_v - v_l),              a = u_l - v_l B,

    dM/dt = -sum(mdot_j),                       dU/dt = Q - sum(mdot_j h_j),
    Q = UA (T_air - T).

The marching state is the temperature and the mass released through each opening.
Substituting dM/dt into dU/dt removes the inversion of U for T:

    (M a' + V B' + Cw) dT/dt = Q - sum(mdot_j (h_j - a)).

The derivatives along the saturation line are CoolProp's analytic ones.  Mass is
conserved by construction, energy to the tolerance of the solver.

All quantities are SI; pressures are absolute.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from CoolProp import AbstractState
from direct_quadrature import adiabatic_quadrature, adiabatic_vent_time, closed_warm_up
from direct_states import (
    FloatArray,
    Hole,
    SaturatedFluid,
    Saturation,
    Throat,
    liquid_flux,
    vapor_flux,
    vapor_throat,
)
from numpy.typing import ArrayLike
from scipy.integrate import solve_ivp

__all__ = [
    "Hole",
    "SaturatedFluid",
    "Saturation",
    "TankHistory",
    "Throat",
    "adiabatic_quadrature",
    "adiabatic_vent_time",
    "closed_warm_up",
    "liquid_flux",
    "tank_history",
    "vapor_flux",
    "vapor_throat",
]

LONGEST_HISTORY = 30 * 86400.0  # s, the limit where no duration is given


@dataclass(frozen=True)
class TankHistory:
    """What happened in the tank.

    Attributes
    ----------
    time, temperature, pressure : ndarray, shape (n,)
        [s], [K], [Pa].
    total_mass, liquid_mass, vapor_mass : ndarray, shape (n,)
        Fluid in the tank [kg].
    mass_flow, released_mass : ndarray, shape (openings, n)
        Rate [kg/s] and total [kg] passed by each opening.
    stopped_by : str
        ``"stop pressure"``, ``"liquid gone"``, ``"liquid full"`` or ``"duration"``.
    evaluations : int
        Calls of the right-hand side by the solver.
    """

    time: FloatArray
    temperature: FloatArray
    pressure: FloatArray
    total_mass: FloatArray
    liquid_mass: FloatArray
    vapor_mass: FloatArray
    mass_flow: FloatArray
    released_mass: FloatArray
    stopped_by: str
    evaluations: int

    @property
    def vented_mass(self) -> FloatArray:
        """Mass that has left through all openings [kg], shape (n,)."""
        return self.released_mass.sum(axis=0)


class _Tank:
    """The equations of one tank, ready for an ODE solver."""

    def __init__(
        self,
        fluid: str,
        volume: float,
        openings: Sequence[Hole],
        wall_heat: float,
        heat_transfer: float,
        air_temperature: float,
        ambient_pressure: float,
    ) -> None:
        self.fluid = SaturatedFluid(fluid)
        self.throat = AbstractState("HEOS", fluid)
        self.volume = volume
        self.openings = openings
        self.wall_heat = wall_heat
        self.heat_transfer = heat_transfer
        self.air_temperature = air_temperature
        self.ambient_pressure = ambient_pressure
        self.start_mass = 0.0

    def mass(self, y: FloatArray) -> float:
        """Total mass left [kg]."""
        return self.start_mass - float(y[1:].sum())

    def liquid_mass(self, y: FloatArray) -> float:
        """Liquid mass left [kg]."""
        return self.fluid.at(float(y[0])).liquid_mass(self.mass(y), self.volume)

    def flows(self, temperature: float, mass: float, s: Saturation) -> list[float]:
        """Mass flow of each opening [kg/s]."""
        ambient = self.ambient_pressure
        vapor = 0.0
        if any(hole.phase == "vapor" for hole in self.openings):
            vapor = vapor_flux(self.throat, temperature, ambient)
        flows = []
        for hole in self.openings:
            flux = vapor
            if hole.phase == "liquid":
                head = hole.head
                if callable(head):
                    head = head(s.liquid_mass(mass, self.volume) * s.v_l)
                flux = liquid_flux(1.0 / s.v_l, s.p, ambient, head)
            flows.append(hole.effective_area * flux)
        return flows

    def rates(self, _time: float, y: FloatArray) -> list[float]:
        """Rates of the temperature and of the mass released by each opening."""
        T, M = float(y[0]), self.mass(y)
        s = self.fluid.at(T)
        flows = self.flows(T, M, s)
        heat = self.heat_transfer * (self.air_temperature - T)
        for hole, flow in zip(self.openings, flows, strict=True):
            heat -= flow * ((s.h_l if hole.phase == "liquid" else s.h_v) - s.a)
        return [heat / (M * s.a_slope + self.volume * s.B_slope + self.wall_heat), *flows]


def tank_history(
    fluid: str,
    volume: float,
    fill: float,
    temperature: float,
    openings: Sequence[Hole | tuple[Any, ...]],
    *,
    wall_heat: float = 0.0,
    heat_transfer: float = 0.0,
    air_temperature: float = 293.15,
    ambient_pressure: float = 101325.0,
    stop_pressure: float | None = None,
    duration: float | None = None,
    times: ArrayLike | None = None,
    rtol: float = 1e-8,
    method: str = "LSODA",
) -> TankHistory:
    """Contents of a vented tank over time.

    Parameters
    ----------
    fluid : str
        CoolProp's name of a pure fluid.
    volume : float
        Inner volume [m3].
    fill : float
        Liquid volume over inner volume at the start [-].
    temperature : float
        Temperature at the start [K].
    openings : sequence of Hole
        The openings, or tuples of the arguments of `Hole`; may be empty.
    wall_heat : float
        Heat capacity of the wall [J/K].
    heat_transfer : float
        Overall coefficient times area [W/K].
    air_temperature, ambient_pressure : float
        Surroundings [K], [Pa].
    stop_pressure : float, optional
        End where the tank passes this pressure [Pa].
    duration : float, optional
        End after this time [s]; 30 days if not given.
    times : array_like, optional
        Report at these times [s] up to the end, rather than at the solver's steps.
    rtol : float
        Relative tolerance of the solver, also of the released mass relative to the
        mass at the start.
    method : str
        Method of `scipy.integrate.solve_ivp`.  LSODA, the default, is the fastest for
        a given error of the stop time and holds at the plateau that heat gain makes,
        where the explicit methods are limited by stability.

    Returns
    -------
    TankHistory
        The last entry is the state at the end, whatever ``times`` says.

    Raises
    ------
    ValueError
        If the fill is not between 0 and 1, an opening's phase is unknown, or CoolProp
        cannot give a property.
    RuntimeError
        If the solver fails.

    Notes
    -----
    The step size is sensitive to the kink in d2(flux)/dT2 where choking ends, and to the
    square root with which the flow dies out at the ambient pressure: explicit methods
    at a loose ``rtol`` can step across both and miss a stop pressure just above the
    ambient one by 1 % (DOP853 at 1e-5).  A history that reports ``"duration"`` or ``"liquid gone"``
    never passed the stop pressure.
    """
    holes = [Hole(*opening) for opening in openings]
    for hole in holes:
        if hole.phase not in ("vapor", "liquid"):
            raise ValueError(f"phase must be 'vapor' or 'liquid', got {hole.phase!r}")
    tank = _Tank(fluid, volume, holes, wall_heat, heat_transfer, air_temperature, ambient_pressure)
    tank.start_mass = tank.fluid.mass(temperature, volume, fill)
    events, names = _events(tank, stop_pressure)
    solution = solve_ivp(
        tank.rates,
        (0.0, LONGEST_HISTORY if duration is None else duration),
        np.array([temperature] + [0.0] * len(holes)),
        method=method,
        rtol=rtol,
        atol=[rtol] + [rtol * tank.start_mass] * len(holes),
        events=events,
        dense_output=times is not None,
    )
    if solution.status < 0:
        raise RuntimeError(solution.message)
    stopped_by = "duration"
    for name, found in zip(names, solution.t_events, strict=True):
        if found.size:
            stopped_by = name
    time, y = solution.t, solution.y
    if times is not None:
        wanted = np.asarray(times, dtype=float)
        time = np.append(wanted[wanted < solution.t[-1]], solution.t[-1])
        y = np.column_stack([solution.sol(time[:-1]), solution.y[:, -1]])
    return _report(tank, time, y, stopped_by, solution.nfev)


def _events(tank: _Tank, stop_pressure: float | None) -> tuple[list[Any], list[str]]:
    """Terminal events for `solve_ivp`, and what to call them."""

    def liquid_gone(_time: float, y: FloatArray) -> float:
        return tank.liquid_mass(y)

    def liquid_full(_time: float, y: FloatArray) -> float:
        return tank.mass(y) - tank.liquid_mass(y)

    def at_stop_pressure(_time: float, y: FloatArray) -> float:
        return tank.fluid.pressure(float(y[0])) - stop_pressure  # type: ignore[operator]

    events: list[Any] = [liquid_gone, liquid_full]
    names = ["liquid gone", "liquid full"]
    if stop_pressure is not None:
        events.append(at_stop_pressure)
        names.append("stop pressure")
    for event in events:
        event.terminal = True
    return events, names


def _report(tank: _Tank, time: FloatArray, y: FloatArray, stopped_by: str, evaluations: int) -> TankHistory:
    """Everything that follows from the state at each time."""
    temperature, released = y[0], y[1:]
    total = tank.start_mass - released.sum(axis=0)
    states = [tank.fluid.at(float(T)) for T in temperature]
    pairs = list(zip(states, total, strict=True))
    liquid = np.array([s.liquid_mass(M, tank.volume) for s, M in pairs])
    flows = [tank.flows(float(T), M, s) for T, (s, M) in zip(temperature, pairs, strict=True)]
    return TankHistory(
        time=time,
        temperature=temperature,
        pressure=np.array([s.p for s in states]),
        total_mass=total,
        liquid_mass=liquid,
        vapor_mass=total - liquid,
        mass_flow=np.array(flows).T,
        released_mass=released,
        stopped_by=stopped_by,
        evaluations=evaluations,
    )
