"""Properties and fluxes straight from CoolProp: what the direct solution of a tank needs at one instant.

All quantities are SI; pressures are absolute.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import CoolProp
import numpy as np
from CoolProp import AbstractState
from numpy.typing import NDArray
from scipy.optimize import brentq

__all__ = [
    "FloatArray",
    "Head",
    "Hole",
    "SaturatedFluid",
    "Saturation",
    "Throat",
    "liquid_flux",
    "vapor_flux",
    "vapor_throat",
]

STANDARD_GRAVITY = 9.80665  # m/s2, by definition

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
