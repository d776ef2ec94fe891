"""Two-phase flow that has no time to reach equilibrium: delayed boiling, none at all, and by length.

Notes
-----
Array-level functions of saturation properties; `two_phase_release` supplies them from a `Fluid`. All give
the flux of an ideal nozzle [kg/m2/s], which a discharge coefficient multiplies.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.halving import halved_to_middle
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.release.omega import BISECTIONS, OmegaFlow, choking_ratio, omega_nozzle, omega_parts
from lpgrelease.results import BoolArray

__all__ = [
    "BOILING_DELAY_EXPONENTS",
    "EQUILIBRIUM_LENGTH",
    "DelayedBoiling",
    "boiling_delay",
    "equilibrium_rate_flux",
    "frozen_nozzle",
    "length_relaxed_flux",
]

BOILING_DELAY_EXPONENTS = {"orifice": 0.6, "safety valve": 0.4, "long nozzle": 0.0}
"""Exponent a of the boiling delay by device (diener2004sizing; from memory): "orifice" stands for short
nozzles and control valves too; 0 is equilibrium."""
EQUILIBRIUM_LENGTH = 0.1
"""Passage over which flashing catches up with the flow, L_e [m], at any diameter (fauske1985emergency)."""


class DelayedBoiling(NamedTuple):
    """Delay N (1: equilibrium), the omega that holds it, and the flow."""

    delay: FloatArray
    omega: FloatArray
    flow: OmegaFlow


def boiling_delay(
    temperature: FloatArray,
    *,
    pressure: FloatArray,
    liquid_density: FloatArray,
    vapor_density: FloatArray,
    latent_heat: FloatArray,
    liquid_heat_capacity: FloatArray,
    vapor_fraction: FloatArray,
    back_pressure: FloatArray,
    device: str = "orifice",
) -> DelayedBoiling:
    """Homogeneous non-equilibrium flow of a saturated liquid or mixture: omega with a boiling delay.

    Parameters
    ----------
    temperature, pressure, liquid_density, vapor_density, latent_heat, liquid_heat_capacity : ndarray
        Saturated, at the inlet: T0 [K], p0 [Pa], [kg/m3], [kg/m3], [J/kg], [J/kg/K]; of one shape.
    vapor_fraction, back_pressure : ndarray
        x0, and [Pa].
    device : {"orifice", "safety valve", "long nozzle"}
        Chooses the exponent a from `BOILING_DELAY_EXPONENTS`.

    Returns
    -------
    DelayedBoiling

    Raises
    ------
    InputError
        Unknown device.

    Notes
    -----
    N = [x0 + c_p T0 p0 (v_v - v_l)/L**2 ln(1/eta_c)]**a, at most 1, with eta_c the critical pressure ratio
    at equilibrium (N = 1): the bracket is the vapor fraction in an equilibrium throat. N multiplies
    the flashing part of omega; slip is left out. From memory of diener2004sizing, which iso2010sizing takes
    up; neither was at hand. Their extension to subcooled inlets could not be read and is not offered.

    References
    ----------
    diener2004sizing, iso2010sizing.

    Examples
    --------
    >>> from lpgrelease import Fluid
    >>> s = Fluid("propane").saturation(temperature=293.15)
    >>> boiling = boiling_delay(
    ...     s.temperature,
    ...     pressure=s.pressure,
    ...     liquid_density=s.liquid_density,
    ...     vapor_density=s.vapor_density,
    ...     latent_heat=s.latent_heat,
    ...     liquid_heat_capacity=s.liquid_heat_capacity,
    ...     vapor_fraction=np.float64(0.0),
    ...     back_pressure=np.float64(101325.0),
    ... )
    >>> print(f"N {boiling.delay:.3f}, {boiling.flow.flux:.0f} kg/m2/s")
    N 0.175, 11288 kg/m2/s
    """
    if device not in BOILING_DELAY_EXPONENTS:
        raise InputError(f"device must be one of {', '.join(BOILING_DELAY_EXPONENTS)}; got {device!r}")
    v_l, v_v = 1.0 / liquid_density, 1.0 / vapor_density
    x, whole = vapor_fraction, np.ones(np.shape(temperature))
    void, flashing = omega_parts(temperature, pressure, v_l, v_v, latent_heat, liquid_heat_capacity, x)
    throat = choking_ratio(void + flashing, whole)
    boiled = (
        liquid_heat_capacity * temperature * pressure * (v_v - v_l) / (latent_heat * latent_heat)
    ) * np.log(1.0 / throat)
    delay = np.minimum(x + boiled, 1.0) ** BOILING_DELAY_EXPONENTS[device]
    omega = void + delay * flashing
    density = 1.0 / (x * v_v + (1.0 - x) * v_l)
    return DelayedBoiling(delay, omega, omega_nozzle(omega, pressure, density, whole, back_pressure))


def frozen_nozzle(
    pressure: FloatArray,
    *,
    liquid_density: FloatArray,
    vapor_density: FloatArray,
    vapor_fraction: FloatArray,
    isentropic_exponent: FloatArray,
    back_pressure: FloatArray,
) -> OmegaFlow:
    """Homogeneous frozen flow: neither boiling nor condensation, one velocity, the vapor isentropic.

    Parameters
    ----------
    pressure, liquid_density, vapor_density, vapor_fraction, isentropic_exponent, back_pressure : ndarray
        Inlet p0 [Pa], [kg/m3], [kg/m3], x0, k of the vapor (rho w**2/p of a real gas), [Pa]; of one shape.

    Returns
    -------
    OmegaFlow
        Flux, whether it is choked, throat over inlet pressure.

    Notes
    -----
    v = (1 - x0) v_l + x0 v_v r**(-1/k), r = p/p0, and the enthalpy drop is the integral of v dp; choked
    where v**2 = 2 (drop) x0 v_v r**(-1/k)/(k p). With x0 = 0 it is the metastable liquid, which never
    chokes; with k = 1 it is the omega method with omega equal to the void fraction. It is the short
    end of two-phase flow (henry1971critical compares it with equilibrium).

    References
    ----------
    henry1971critical, leung1986omega.
    """
    v_l, v_v, x, k = 1.0 / liquid_density, 1.0 / vapor_density, vapor_fraction, isentropic_exponent
    m = (k - 1.0) / k
    flat = np.abs(m) < 1e-9
    safe = np.where(flat, 1.0, m)

    def at(r: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        log_r = np.log(r)
        gas = x * v_v * np.exp(-log_r / k)
        work = x * v_v * np.where(flat, -log_r, -np.expm1(safe * log_r) / safe)
        return (1.0 - x) * v_l + gas, gas, pressure * ((1.0 - x) * v_l * (1.0 - r) + work)

    def supersonic(r: FloatArray) -> BoolArray:
        v, gas, drop = at(r)
        return np.asarray(~(v * v * k * pressure * r > 2.0 * drop * gas))

    low, high = np.full(np.shape(pressure), 1e-6), np.ones(np.shape(pressure))
    critical = np.where(x > 0.0, halved_to_middle(supersonic, low, high, BISECTIONS), 0.0)
    outside = back_pressure / pressure
    choked = (outside <= critical) & (outside < 1.0)
    r = np.clip(np.maximum(critical, outside), 1e-12, 1.0)
    v, _, drop = at(r)
    return OmegaFlow(np.sqrt(2.0 * np.maximum(drop, 0.0)) / v, choked, r)


def equilibrium_rate_flux(
    temperature: QuantityLike,
    *,
    liquid_density: QuantityLike,
    vapor_density: QuantityLike,
    latent_heat: QuantityLike,
    liquid_heat_capacity: QuantityLike,
) -> FloatArray:
    """Choked flux of a saturated liquid through a passage of 0.1 m or more, in closed form.

    Parameters
    ----------
    temperature : number, array or quantity
        T0 [K].
    liquid_density, vapor_density, latent_heat, liquid_heat_capacity : number, array or quantity
        Saturated, at T0: [kg/m3], [kg/m3], [J/kg], [J/kg/K].

    Returns
    -------
    float or ndarray
        G = L/((v_v - v_l) sqrt(T0 c_p)) [kg/m2/s]; above the homogeneous equilibrium flux, because the
        vapor is taken at the inlet's pressure: by 17 to 22 % for propane at 0 to 40 degC.

    Raises
    ------
    InputError, OutOfRangeError

    References
    ----------
    fauske1985emergency.

    Examples
    --------
    >>> from lpgrelease import Fluid
    >>> s = Fluid("propane").saturation(temperature=293.15)
    >>> flux = equilibrium_rate_flux(
    ...     293.15,
    ...     liquid_density=s.liquid_density,
    ...     vapor_density=s.vapor_density,
    ...     latent_heat=s.latent_heat,
    ...     liquid_heat_capacity=s.liquid_heat_capacity,
    ... )
    >>> print(f"{flux:.0f} kg/m2/s")
    7307 kg/m2/s
    """

    def positive(value: QuantityLike, unit: str, name: str) -> FloatArray:
        return to_si(value, unit, name, lower=0.0, open_lower=True)

    t, rho_l, rho_v, latent, c_p = broadcast(
        temperature=positive(temperature, "K", "temperature"),
        liquid_density=positive(liquid_density, "kg/m**3", "liquid_density"),
        vapor_density=positive(vapor_density, "kg/m**3", "vapor_density"),
        latent_heat=positive(latent_heat, "J/kg", "latent_heat"),
        liquid_heat_capacity=positive(liquid_heat_capacity, "J/kg/K", "liquid_heat_capacity"),
    )
    flux: FloatArray = latent / (1.0 / rho_v - 1.0 / rho_l) / np.sqrt(t * c_p)
    return flux


def length_relaxed_flux(
    equilibrium_rate: FloatArray,
    *,
    length: FloatArray,
    liquid_density: FloatArray,
    pressure: FloatArray,
    saturation_pressure: FloatArray,
    back_pressure: FloatArray,
) -> tuple[FloatArray, BoolArray]:
    """Flux of a liquid through a passage shorter than equilibrium needs, and whether it is choked.

    Parameters
    ----------
    equilibrium_rate : ndarray
        `equilibrium_rate_flux` at the inlet's temperature, G_e [kg/m2/s].
    length, liquid_density, pressure, saturation_pressure, back_pressure : ndarray
        L [m], [kg/m3], inlet p0 [Pa], p_s [Pa], [Pa]; of one shape.

    Returns
    -------
    flux : ndarray
        [kg/m2/s]
    choked : ndarray of bool
        Where no lower back pressure changes the flux: N is 1 at all of them.

    Notes
    -----
    G**2 = 2 rho_l (p0 - p_s) + G_e**2/N and N = N_0 + L/L_e up to 1, N_0 = G_e**2/(2 rho_l (p_s - p_back)):
    without length it is the liquid that passes before it boils. fauske1985emergency lets N reach
    1 + N_0 just below L_e and 1 beyond, a step of a few percent in the flux; here N stops at 1, so
    that the flux is continuous and never rises with length. N is not let below N_0: no passage carries more
    than the liquid. A liquid whose saturation pressure is below the back pressure does not boil.

    References
    ----------
    fauske1985emergency, crowl2019safety.
    """
    boiling = saturation_pressure > back_pressure
    driven = 2.0 * liquid_density * np.maximum(saturation_pressure - back_pressure, 0.0)
    rate = equilibrium_rate * equilibrium_rate
    start = rate / np.where(boiling, driven, 1.0)
    n = np.maximum(np.minimum(start + length / EQUILIBRIUM_LENGTH, 1.0), start)
    pushed = 2.0 * liquid_density * np.maximum(pressure - np.maximum(saturation_pressure, back_pressure), 0.0)
    flux = np.sqrt(pushed + np.where(boiling, rate / n, 0.0))
    at_vacuum = rate / (2.0 * liquid_density * saturation_pressure) + length / EQUILIBRIUM_LENGTH
    return flux, boiling & (start < 1.0) & (at_vacuum >= 1.0)
