"""Tank venting solved directly: CoolProp calls inside a general ODE solver.

An independent, table-free solution of the equations of a vented tank of liquefied
gas.  It shares no code with the package, so it can serve as a reference for its
tests and as the plain alternative in the speed comparison.

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

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import CoolProp
import numpy as np
from CoolProp import AbstractState
from numpy.polynomial import Chebyshev
from numpy.typing import ArrayLike, NDArray
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq

STANDARD_GRAVITY = 9.80665  # m/s2, by definition
LONGEST_HISTORY = 30 * 86400.0  # s, the limit where no duration is given

Head = float | Callable[[float], float]
FloatArray = NDArray[np.float64]


class Hole(NamedTuple):
    """One opening of the tank.

    Parameters
    ----------
    diameter : float
        Diameter of the opening [m].
    discharge_coefficient : float
        Discharge coefficient [-].
    phase : str
        ``"vapor"`` or ``"liquid"``: what the opening passes, whatever the level.
    head : float or callable
        Height of liquid above a liquid opening [m], or a function giving it from the
        liquid volume [m3].  A vapor opening ignores it.
    """

    diameter: float
    discharge_coefficient: float
    phase: str = "vapor"
    head: Head = 0.0

    @property
    def effective_area(self) -> float:
        """Discharge coefficient times the area [m2]."""
        return self.discharge_coefficient * math.pi / 4.0 * self.diameter**2


class Throat(NamedTuple):
    """Flow in the throat: mass flux [kg/m2/s], pressure [Pa], choked or not."""

    mass_flux: float
    pressure: float
    choked: bool


class Saturation(NamedTuple):
    """Saturated liquid and vapor at one temperature.

    The derivatives ``a_slope`` and ``B_slope`` are along the saturation line, per kelvin.
    """

    p: float
    v_l: float
    v_v: float
    h_l: float
    h_v: float
    a: float
    B: float
    a_slope: float
    B_slope: float

    def liquid_mass(self, mass: float, volume: float) -> float:
        """Liquid mass [kg] of a total mass [kg] in a volume [m3]."""
        return (mass * self.v_v - volume) / (self.v_v - self.v_l)


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


class SaturatedFluid:
    """Two CoolProp states that follow the saturation line of a pure fluid.

    Parameters
    ----------
    name : str
        CoolProp's name of the fluid.
    """

    def __init__(self, name: str) -> None:
        self._liquid = AbstractState("HEOS", name)
        self._vapor = AbstractState("HEOS", name)

    def pressure(self, temperature: float) -> float:
        """Saturation pressure [Pa] at a temperature [K]."""
        self._vapor.update(CoolProp.QT_INPUTS, 1.0, temperature)
        return self._vapor.p()

    def temperature(self, pressure: float) -> float:
        """Saturation temperature [K] at a pressure [Pa]."""
        self._vapor.update(CoolProp.PQ_INPUTS, pressure, 1.0)
        return self._vapor.T()

    def at(self, temperature: float) -> Saturation:
        """Properties and derivatives of both phases at a temperature [K]."""
        liquid, vapor = self._liquid, self._vapor
        liquid.update(CoolProp.QT_INPUTS, 0.0, temperature)
        vapor.update(CoolProp.QT_INPUTS, 1.0, temperature)
        v_l, v_v = 1.0 / liquid.rhomass(), 1.0 / vapor.rhomass()
        du_l = liquid.first_saturation_deriv(CoolProp.iUmass, CoolProp.iT)
        du_v = vapor.first_saturation_deriv(CoolProp.iUmass, CoolProp.iT)
        dv_l = -(v_l**2) * liquid.first_saturation_deriv(CoolProp.iDmass, CoolProp.iT)
        dv_v = -(v_v**2) * vapor.first_saturation_deriv(CoolProp.iDmass, CoolProp.iT)
        u_l = liquid.umass()
        B = (vapor.umass() - u_l) / (v_v - v_l)
        dB = (du_v - du_l - B * (dv_v - dv_l)) / (v_v - v_l)
        return Saturation(
            p=vapor.p(),
            v_l=v_l,
            v_v=v_v,
            h_l=liquid.hmass(),
            h_v=vapor.hmass(),
            a=u_l - v_l * B,
            B=B,
            a_slope=du_l - dv_l * B - v_l * dB,
            B_slope=dB,
        )

    def mass(self, temperature: float, volume: float, fill: float) -> float:
        """Total mass [kg] in a volume [m3] of which ``fill`` is liquid."""
        if not 0.0 < fill < 1.0:
            raise ValueError(f"fill must lie between 0 and 1, got {fill}")
        s = self.at(temperature)
        return volume * (fill / s.v_l + (1.0 - fill) / s.v_v)


def vapor_throat(state: AbstractState, temperature: float, back_pressure: float) -> Throat:
    """Largest isentropic flux from saturated vapor to a back pressure.

    Parameters
    ----------
    state : AbstractState
        A CoolProp state of the fluid; it is changed.
    temperature : float
        Temperature of the saturated vapor [K].
    back_pressure : float
        Pressure behind the opening [Pa].

    Returns
    -------
    Throat
        Mass flux [kg/m2/s], throat pressure [Pa], and whether the flow is choked.

    Notes
    -----
    G(p) = rho(p, s0) sqrt(2 (h0 - h(p, s0))), homogeneous equilibrium where the
    isentrope is inside the dome.  Along it dG/dp has the sign of u^2 - c^2 with
    1/c^2 = (d rho/d p)_s, so the largest G is where u = c, or at the back pressure if
    u < c even there.  Where the isentrope enters the dome on its way down, c drops and
    the root may be that step: G is continuous, and has its maximum, there.  One maximum is
    assumed; an isentrope that leaves the dome again (a dry fluid close to its critical
    point) could have two.
    """
    state.update(CoolProp.QT_INPUTS, 1.0, temperature)
    p0, h0, s0 = state.p(), state.hmass(), state.smass()
    if p0 <= back_pressure:
        return Throat(0.0, back_pressure, False)

    def excess(pressure: float) -> float:
        state.update(CoolProp.PSmass_INPUTS, pressure, s0)
        return 2.0 * (h0 - state.hmass()) - _sound_speed_squared(state)

    p, choked = back_pressure, False
    highest = 0.99 * p0  # always subsonic; keeps clear of saturation itself
    if p < highest and excess(p) > 0.0:
        p, choked = brentq(excess, p, highest, xtol=1e-6 * p0), True
    state.update(CoolProp.PSmass_INPUTS, p, s0)
    flux = state.rhomass() * math.sqrt(max(0.0, 2.0 * (h0 - state.hmass())))
    return Throat(flux, p, choked)


def _sound_speed_squared(state: AbstractState) -> float:
    """(dp/d rho)_s [m2/s2], at phase equilibrium inside the dome."""
    if state.phase() != CoolProp.iphase_twophase:
        return state.speed_sound() ** 2
    at_fixed_h = state.first_two_phase_deriv(CoolProp.iDmass, CoolProp.iP, CoolProp.iHmass)
    at_fixed_p = state.first_two_phase_deriv(CoolProp.iDmass, CoolProp.iHmass, CoolProp.iP)
    return 1.0 / (at_fixed_h + at_fixed_p / state.rhomass())


def vapor_flux(state: AbstractState, temperature: float, back_pressure: float) -> float:
    """Mass flux of saturated vapor through an ideal nozzle [kg/m2/s].

    Parameters
    ----------
    state : AbstractState
        A CoolProp state of the fluid; it is changed.
    temperature : float
        Temperature of the saturated vapor [K].
    back_pressure : float
        Pressure behind the opening [Pa].

    Returns
    -------
    float
        Mass flux [kg/m2/s]; zero where the vapor pressure is not above the back
        pressure.
    """
    return vapor_throat(state, temperature, back_pressure).mass_flux


def liquid_flux(density: float, pressure: float, back_pressure: float, head: float) -> float:
    """Mass flux of metastable, incompressible liquid [kg/m2/s].

    Parameters
    ----------
    density : float
        Liquid density [kg/m3].
    pressure, back_pressure : float
        Pressure in the tank and behind the opening [Pa].
    head : float
        Liquid above the opening [m].

    Returns
    -------
    float
        sqrt(2 rho (p0 - pb + rho g head)); zero where that drive is not positive.
    """
    drive = pressure - back_pressure + density * STANDARD_GRAVITY * head
    return math.sqrt(2.0 * density * drive) if drive > 0.0 else 0.0


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


def adiabatic_quadrature(
    fluid: str,
    volume: float,
    fill: float,
    temperature: float,
    end_temperature: float,
    *,
    wall_heat: float = 0.0,
    degree: int = 60,
) -> Chebyshev:
    """Total mass as a function of temperature when only vapor leaves, without heat.

    Parameters
    ----------
    fluid : str
        CoolProp's name of a pure fluid.
    volume : float
        Inner volume [m3].
    fill : float
        Liquid volume over inner volume at the start [-].
    temperature, end_temperature : float
        Temperature at the start and, below it, at the end of the range [K].
    wall_heat : float
        Heat capacity of the wall [J/K].
    degree : int
        Degree of the Chebyshev series; raise it close to the critical point.

    Returns
    -------
    Chebyshev
        M(T) [kg] for temperatures [K] between ``end_temperature`` and ``temperature``.

    Notes
    -----
    Size, shape and flow of the openings drop out of

        dM/dT = (M a' + V B' + Cw) / (h_v - a),

    which is linear in M, so with E = exp(integral of a' / (h_v - a)) from the start

        M = E (M_0 + integral of (V B' + Cw) / (h_v - a) / E).

    Both integrals are those of Chebyshev interpolants.  Nothing here checks that
    liquid is left.
    """
    saturated = SaturatedFluid(fluid)
    domain = [end_temperature, temperature]

    def linear(T: FloatArray) -> FloatArray:
        states = [saturated.at(float(t)) for t in T]
        return np.array([s.a_slope / (s.h_v - s.a) for s in states])

    exponent = Chebyshev.interpolate(linear, degree, domain).integ(lbnd=temperature)

    def constant(T: FloatArray) -> FloatArray:
        states = [saturated.at(float(t)) for t in T]
        rate = [(volume * s.B_slope + wall_heat) / (s.h_v - s.a) for s in states]
        return np.array(rate) / np.exp(exponent(T))

    gain = Chebyshev.interpolate(constant, degree, domain).integ(lbnd=temperature)
    start = saturated.mass(temperature, volume, fill)
    return Chebyshev.interpolate(lambda T: np.exp(exponent(T)) * (start + gain(T)), degree, domain)


def adiabatic_vent_time(
    fluid: str,
    volume: float,
    fill: float,
    temperature: float,
    openings: Sequence[Hole | tuple[Any, ...]],
    *,
    stop_pressure: float,
    wall_heat: float = 0.0,
    ambient_pressure: float = 101325.0,
) -> float:
    """Time to a pressure when only vapor leaves, without heat, as a quadrature.

    Parameters
    ----------
    fluid, volume, fill, temperature, openings, wall_heat, ambient_pressure
        As in `tank_history`; every opening passes vapor.
    stop_pressure : float
        Pressure at the end [Pa], above the ambient pressure.

    Returns
    -------
    float
        Time [s], to about 1e-9 relative: the integral of dM/dT / mdot over
        temperature, split where the flow stops being choked.
    """
    holes = [Hole(*opening) for opening in openings]
    area = sum(hole.effective_area for hole in holes)
    state = AbstractState("HEOS", fluid)
    end = SaturatedFluid(fluid).temperature(stop_pressure)
    mass = adiabatic_quadrature(fluid, volume, fill, temperature, end, wall_heat=wall_heat)
    slope = mass.deriv()

    def rate(T: float) -> float:
        return slope(T) / (area * vapor_flux(state, T, ambient_pressure))

    def choked(T: float) -> float:
        return 1.0 if vapor_throat(state, T, ambient_pressure).choked else -1.0

    limits = [temperature, end]
    if choked(temperature) > choked(end):
        limits.insert(1, brentq(choked, end, temperature, xtol=1e-9))
    pieces = zip(limits[1:], limits[:-1], strict=True)
    return sum(quad(rate, low, high, epsabs=0, epsrel=1e-10)[0] for low, high in pieces)


def closed_warm_up(
    fluid: str,
    volume: float,
    fill: float,
    temperature: float,
    end_temperature: float,
    *,
    heat_transfer: float,
    air_temperature: float,
    wall_heat: float = 0.0,
) -> float:
    """Time a closed tank takes to warm up (or cool down) to a temperature.

    Parameters
    ----------
    fluid, volume, fill, temperature, heat_transfer, air_temperature, wall_heat
        As in `tank_history`.
    end_temperature : float
        Temperature at the end [K], between that at the start and that of the air.

    Returns
    -------
    float
        Time [s]: the integral of C(M, T) / (UA (T_air - T)) over temperature.

    Raises
    ------
    ValueError
        If the end is not between start and air, or either phase is gone there.
    """
    if (air_temperature - end_temperature) * (end_temperature - temperature) <= 0.0:
        raise ValueError("end_temperature must lie between temperature and air_temperature")
    saturated = SaturatedFluid(fluid)
    mass = saturated.mass(temperature, volume, fill)
    liquid = saturated.at(end_temperature).liquid_mass(mass, volume)
    if not 0.0 < liquid < mass:
        raise ValueError("the tank does not hold both phases at end_temperature")

    def rate(T: float) -> float:
        s = saturated.at(T)
        capacity = mass * s.a_slope + volume * s.B_slope + wall_heat
        return capacity / (heat_transfer * (air_temperature - T))

    return quad(rate, temperature, end_temperature, epsabs=0.0, epsrel=1e-11, limit=200)[0]
