"""The omega method: two-phase flow through a nozzle with one parameter for how the mixture expands.

Notes
-----
Along the expansion the specific volume follows v/v0 = omega (p_s/p - 1) + 1 below the pressure p_s at which
boiling starts, and v = v0 above it (leung1986omega; leung1990similarity for subcooled inlets; the
two-phase annex of api2014sizing). With eta = p/p0 and eta_s = p_s/p0 (1 for a saturated or two-phase inlet)

    G = sqrt(2 p0 rho0 N)/D
    N = 1 - eta_s + omega eta_s ln(eta_s/eta) - (omega - 1)(eta_s - eta),   D = omega (eta_s/eta - 1) + 1

and the flow is choked where dG/d eta = 0, that is D**2 eta**2 = 2 omega eta_s N; if eta_s is at or below
2 omega/(1 + 2 omega) it chokes at p_s itself, where D = 1.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from lpgrelease.halving import halved_to_middle
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.results import BoolArray

__all__ = [
    "OmegaFlow",
    "omega_critical_ratio",
    "omega_flow",
    "omega_from_densities",
    "omega_from_properties",
]

BISECTIONS = 60
"""Halvings of the pressure ratio: it is then known to round-off."""
EXPANDED_TO = 0.9
"""Part of the inlet's (or saturation) pressure at which the second density is taken (api2014sizing)."""


class OmegaFlow(NamedTuple):
    """Flux [kg/m2/s] of an ideal nozzle, whether it is choked, and the ratio of throat to inlet pressure."""

    flux: FloatArray
    choked: BoolArray
    pressure_ratio: FloatArray


def omega_from_densities(density: QuantityLike, *, expanded_density: QuantityLike) -> FloatArray:
    """Omega from the densities at the start of the expansion and at 90 % of that pressure.

    Parameters
    ----------
    density : number, array or quantity
        Of the mixture at the inlet, or of a subcooled liquid, rho0 [kg/m3].
    expanded_density : number, array or quantity
        At 90 % of the inlet's pressure, or of the saturation pressure if subcooled, after an expansion at
        constant entropy, rho9 [kg/m3]; at most `density`.

    Returns
    -------
    float or ndarray
        omega = 9 (rho0/rho9 - 1), 0 or more.

    Raises
    ------
    InputError, OutOfRangeError

    References
    ----------
    api2014sizing, two-phase annex.

    Examples
    --------
    >>> print(f"{omega_from_densities(511.3, expanded_density=262.7):.3f}")
    8.517
    """
    rho0 = to_si(density, "kg/m**3", "density", lower=0.0, open_lower=True)
    rho9 = to_si(expanded_density, "kg/m**3", "expanded_density", lower=0.0, open_lower=True)
    rho0, rho9 = broadcast(density=rho0, expanded_density=rho9)
    omega: FloatArray = EXPANDED_TO / (1.0 - EXPANDED_TO) * (rho0 / rho9 - 1.0)
    return to_si(omega, "", "omega", lower=0.0, why="the expanded mixture is not the denser one")


def omega_from_properties(
    temperature: QuantityLike,
    *,
    saturation_pressure: QuantityLike,
    liquid_density: QuantityLike,
    vapor_density: QuantityLike,
    latent_heat: QuantityLike,
    liquid_heat_capacity: QuantityLike,
    vapor_fraction: QuantityLike = 0.0,
) -> FloatArray:
    """Omega from the saturation properties at the inlet's temperature.

    Parameters
    ----------
    temperature : number, array or quantity
        T0 [K].
    saturation_pressure, liquid_density, vapor_density, latent_heat, liquid_heat_capacity
        Saturated, at T0: p_s [Pa], rho_l and rho_v [kg/m3], L [J/kg], c_p [J/kg/K].
    vapor_fraction : number or array
        x0 at the inlet, 0 to 1.

    Returns
    -------
    float or ndarray

    Raises
    ------
    InputError, OutOfRangeError

    Notes
    -----
    omega = x0 v_v/v0 + (c_p T0 p_s/v0)((v_v - v_l)/L)**2, v0 = x0 v_v + (1 - x0) v_l: the first part is the
    mixture's void fraction, the second is flashing. The ideal behavior of the vapor it supposes fails near
    the critical point (leung1986omega).

    References
    ----------
    leung1986omega.

    Examples
    --------
    >>> from lpgrelease import Fluid
    >>> s = Fluid("propane").saturation(temperature=293.15)
    >>> omega = omega_from_properties(
    ...     293.15,
    ...     saturation_pressure=s.pressure,
    ...     liquid_density=s.liquid_density,
    ...     vapor_density=s.vapor_density,
    ...     latent_heat=s.latent_heat,
    ...     liquid_heat_capacity=s.liquid_heat_capacity,
    ... )
    >>> print(f"{omega:.3f}")
    7.835
    """

    def positive(value: QuantityLike, unit: str, name: str) -> FloatArray:
        return to_si(value, unit, name, lower=0.0, open_lower=True)

    t = positive(temperature, "K", "temperature")
    p = positive(saturation_pressure, "Pa", "saturation_pressure")
    v_l = 1.0 / positive(liquid_density, "kg/m**3", "liquid_density")
    v_v = 1.0 / positive(vapor_density, "kg/m**3", "vapor_density")
    latent = positive(latent_heat, "J/kg", "latent_heat")
    c_p = positive(liquid_heat_capacity, "J/kg/K", "liquid_heat_capacity")
    x = to_si(vapor_fraction, "", "vapor_fraction", lower=0.0, upper=1.0, why="a mass fraction")
    t, p, v_l, v_v, latent, c_p, x = broadcast(
        temperature=t,
        saturation_pressure=p,
        liquid_density=v_l,
        vapor_density=v_v,
        latent_heat=latent,
        liquid_heat_capacity=c_p,
        vapor_fraction=x,
    )
    void, flashing = omega_parts(t, p, v_l, v_v, latent, c_p, x)
    return void + flashing


def omega_parts(
    t: FloatArray,
    p: FloatArray,
    v_l: FloatArray,
    v_v: FloatArray,
    latent: FloatArray,
    c_p: FloatArray,
    x: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Void fraction and flashing part of omega. Unchecked."""
    v0 = x * v_v + (1.0 - x) * v_l
    gain = (v_v - v_l) / latent
    return x * v_v / v0, c_p * t * p / v0 * gain * gain


def omega_critical_ratio(omega: QuantityLike, *, saturation_ratio: QuantityLike = 1.0) -> FloatArray:
    """Ratio of throat to inlet pressure at which the flow chokes.

    Parameters
    ----------
    omega : number or array
        0 or more; 0 is a liquid that does not boil and never chokes (the ratio is then 0).
    saturation_ratio : number or array
        eta_s = p_s/p0, above 0 up to 1 (saturated or two-phase inlet).

    Returns
    -------
    float or ndarray

    Raises
    ------
    InputError, OutOfRangeError

    References
    ----------
    leung1986omega, leung1990similarity.

    Examples
    --------
    >>> print(f"{omega_critical_ratio(8.0):.5f}")
    0.83122
    """
    w = to_si(omega, "", "omega", lower=0.0)
    s = to_si(
        saturation_ratio, "", "saturation_ratio", lower=0.0, upper=1.0, open_lower=True, why="p_s over p0"
    )
    w, s = broadcast(omega=w, saturation_ratio=s)
    return choking_ratio(w, s)[()]


def omega_flow(
    omega: QuantityLike,
    *,
    pressure: QuantityLike,
    density: QuantityLike,
    back_pressure: QuantityLike,
    saturation_pressure: QuantityLike | None = None,
) -> OmegaFlow:
    """Flux of an ideal nozzle for a given omega.

    Parameters
    ----------
    omega : number or array
        0 or more.
    pressure : number, array or quantity
        At rest at the inlet, p0 [Pa].
    density : number, array or quantity
        At the inlet, rho0 [kg/m3].
    back_pressure : number, array or quantity
        [Pa].
    saturation_pressure : number, array or quantity, optional
        Of a subcooled liquid, p_s [Pa], at most p0; None: the inlet is saturated or two-phase.

    Returns
    -------
    OmegaFlow

    Raises
    ------
    InputError, OutOfRangeError

    References
    ----------
    leung1986omega, leung1990similarity, api2014sizing.

    Examples
    --------
    >>> flow = omega_flow(
    ...     8.517, pressure=20.733e5, density=511.3, saturation_pressure=7.419e5, back_pressure=1.703e5
    ... )
    >>> print(f"{flow.flux:.0f} kg/m2/s, choked: {flow.choked}")
    36898 kg/m2/s, choked: True
    """
    w = to_si(omega, "", "omega", lower=0.0)
    p0 = to_si(pressure, "Pa", "pressure", lower=0.0, open_lower=True)
    rho = to_si(density, "kg/m**3", "density", lower=0.0, open_lower=True)
    back = to_si(back_pressure, "Pa", "back_pressure", lower=0.0)
    boils = p0 if saturation_pressure is None else saturation_pressure
    p_s = to_si(boils, "Pa", "saturation_pressure", lower=0.0, open_lower=True)
    w, p0, rho, back, p_s = broadcast(
        omega=w, pressure=p0, density=rho, back_pressure=back, saturation_pressure=p_s
    )
    ratio = to_si(p_s / p0, "", "saturation_pressure/pressure", upper=1.0, why="the liquid is subcooled")
    flow = omega_nozzle(w, p0, rho, ratio, back)
    return OmegaFlow(flow.flux[()], flow.choked[()], flow.pressure_ratio[()])


def omega_nozzle(
    w: FloatArray, p0: FloatArray, rho: FloatArray, s: FloatArray, back: FloatArray
) -> OmegaFlow:
    """`omega_flow` of arrays of one shape, s = p_s/p0. Unchecked."""
    critical, outside = choking_ratio(w, s), back / p0
    choked = (outside <= critical) & (back < p0)
    eta = np.minimum(np.maximum(critical, outside), 1.0)
    n, d = _numerator(w, s, eta), relative_volume(w, s, eta)
    return OmegaFlow(np.sqrt(2.0 * p0 * rho * np.maximum(n, 0.0)) / d, choked, eta)


def choking_ratio(w: FloatArray, s: FloatArray) -> FloatArray:
    """`omega_critical_ratio` of arrays of one shape. Unchecked."""

    def supersonic(eta: FloatArray) -> BoolArray:
        d = relative_volume(w, s, eta)
        return np.asarray(~(d * d * eta * eta > 2.0 * w * s * _numerator(w, s, eta)))

    found = halved_to_middle(supersonic, np.zeros(np.shape(s)), np.array(s, dtype=np.float64), BISECTIONS)
    at_saturation = s * (1.0 + 2.0 * w) <= 2.0 * w
    ratio: FloatArray = np.where(at_saturation, s, np.where(w == 0.0, 0.0, found))
    return ratio


def _numerator(w: FloatArray, s: FloatArray, eta: FloatArray) -> FloatArray:
    below = np.maximum(np.minimum(eta, s), 1e-300)
    n: FloatArray = 1.0 - np.maximum(eta, s) + w * s * np.log(s / below) - (w - 1.0) * (s - below)
    return n


def relative_volume(w: FloatArray, s: FloatArray, eta: FloatArray) -> FloatArray:
    """v/v0 at p/p0 = eta, s = p_s/p0. Unchecked."""
    d: FloatArray = w * (s / np.maximum(np.minimum(eta, s), 1e-300) - 1.0) + 1.0
    return d
