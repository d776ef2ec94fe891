"""Tank histories that are integrals: exact counterparts of special cases of `direct_coolprop`.

All quantities are SI; pressures are absolute.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from CoolProp import AbstractState
from direct_states import FloatArray, Hole, SaturatedFluid, vapor_flux, vapor_throat
from numpy.polynomial import Chebyshev
from scipy.integrate import quad
from scipy.optimize import brentq

__all__ = ["adiabatic_quadrature", "adiabatic_vent_time", "closed_warm_up"]


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
