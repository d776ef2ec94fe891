"""Vapor through an opening as an ideal gas of constant heat capacity ratio, as sizing standards have it."""

from __future__ import annotations

import warnings

import numpy as np

from lpgrelease.constants import GAS_CONSTANT, STANDARD_ATMOSPHERE
from lpgrelease.errors import InputError, ValidityWarning
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.release.opening import Opening
from lpgrelease.release.rate import ReleaseRate, make_rate
from lpgrelease.results import Provenance

__all__ = ["critical_flow_function", "critical_pressure_ratio", "ideal_gas_release"]

COMPRESSIBILITIES = (0.8, 1.1)
"""Outside these the ideal form is no longer trusted (api2014sizing, from memory)."""


def critical_pressure_ratio(heat_capacity_ratio: QuantityLike) -> FloatArray:
    """Throat over inlet pressure of choked flow, (2/(k + 1))**(k/(k - 1)).

    Parameters
    ----------
    heat_capacity_ratio : number or array
        k, above 1.

    Returns
    -------
    float or ndarray

    Raises
    ------
    InputError, OutOfRangeError

    References
    ----------
    api2014sizing.

    Examples
    --------
    >>> print(f"{critical_pressure_ratio(1.4):.5f}")
    0.52828
    """
    return _critical_ratio(_ratio(heat_capacity_ratio))


def critical_flow_function(heat_capacity_ratio: QuantityLike) -> FloatArray:
    """C* of choked flow, G = C* p0 sqrt(M/(R T0)) for an ideal gas.

    Parameters
    ----------
    heat_capacity_ratio : number or array
        k, above 1.

    Returns
    -------
    float or ndarray
        C* = sqrt(k) (2/(k + 1))**((k + 1)/(2 (k - 1))).

    Raises
    ------
    InputError, OutOfRangeError

    References
    ----------
    iso2005venturi, api2014sizing.

    Examples
    --------
    >>> print(f"{critical_flow_function(1.4):.6f}")
    0.684731
    """
    k = _ratio(heat_capacity_ratio)
    value: FloatArray = np.sqrt(k) * (2.0 / (k + 1.0)) ** (0.5 * (k + 1.0) / (k - 1.0))
    return value


def ideal_gas_release(
    opening: Opening,
    *,
    temperature: QuantityLike,
    pressure: QuantityLike,
    molar_mass: QuantityLike,
    heat_capacity_ratio: QuantityLike,
    compressibility: QuantityLike = 1.0,
    ambient_pressure: QuantityLike = STANDARD_ATMOSPHERE,
    extrapolate: bool = False,
) -> ReleaseRate:
    """Flow of a gas from rest through an opening: isentropic, constant k, for any gas.

    For the fluids served `vapor_release` is the better model; this one is for comparison with calculations
    by sizing standards, and for gases without tables.

    Parameters
    ----------
    opening : Opening
    temperature, pressure : number, array or quantity
        At rest inside, T0 [K] and p0 [Pa].
    molar_mass : number, array or quantity
        M [kg/mol].
    heat_capacity_ratio : number or array
        k of the ideal gas at T0, above 1.
    compressibility : number or array
        Z at T0 and p0, 0.8 to 1.1; 1 for the ideal gas.
    ambient_pressure : number, array or quantity
        [Pa], absolute.
    extrapolate : bool
        Take a compressibility outside that range, with a warning.

    Returns
    -------
    ReleaseRate

    Raises
    ------
    InputError, OutOfRangeError

    Warns
    -----
    ValidityWarning
        Compressibility outside 0.8 to 1.1.

    Notes
    -----
    With r = max(p_amb/p0, (2/(k + 1))**(k/(k - 1))) and rho0 = p0 M/(Z R T0)

    G = C_d sqrt(2 p0 rho0 k/(k - 1) (r**(2/k) - r**((k + 1)/k)))

    which choked is C_d C* p0 sqrt(M/(Z R T0)).

    References
    ----------
    api2014sizing, iso2005venturi.

    Examples
    --------
    >>> from lpgrelease import Opening
    >>> vent = Opening(diameter=0.0508, discharge_coefficient=0.85)
    >>> rate = ideal_gas_release(
    ...     vent,
    ...     temperature=293.15,
    ...     pressure=836461.0,
    ...     molar_mass=0.0441,
    ...     heat_capacity_ratio=1.13,
    ...     compressibility=0.83,
    ... )
    >>> print(f"{rate.mass_flow:.2f} kg/s, choked: {rate.choked}")
    4.27 kg/s, choked: True
    """
    if not isinstance(opening, Opening):
        raise InputError(f"opening must be an Opening, got {opening!r}")
    t = to_si(temperature, "K", "temperature", lower=0.0, open_lower=True)
    p = to_si(pressure, "Pa", "pressure", lower=0.0, open_lower=True)
    m = to_si(molar_mass, "kg/mol", "molar_mass", lower=0.0, open_lower=True)
    z, outside = _compressibility(compressibility, extrapolate)
    t, p, m, k, z, p_amb = broadcast(
        temperature=t,
        pressure=p,
        molar_mass=m,
        heat_capacity_ratio=_ratio(heat_capacity_ratio),
        compressibility=z,
        ambient_pressure=to_si(ambient_pressure, "Pa", "ambient_pressure", lower=0.0),
    )
    critical = _critical_ratio(k)
    choked = (p_amb <= critical * p) & (p_amb < p)
    r = np.minimum(np.maximum(p_amb / p, critical), 1.0)
    density = p * m / (z * GAS_CONSTANT * t)
    drive = k / (k - 1.0) * (r ** (2.0 / k) - r ** ((k + 1.0) / k))
    return make_rate(
        opening,
        Provenance(
            "isentropic nozzle of an ideal gas", ("api2014sizing", "iso2005venturi"), "as given", outside
        ),
        ideal_flux=np.sqrt(2.0 * p * density * np.maximum(drive, 0.0)),
        choked=choked,
        throat_pressure=np.where(choked, critical * p, p_amb),
        throat_temperature=t * r ** ((k - 1.0) / k),
        throat_vapor_fraction=np.ones(t.shape),
        throat_density=density * r ** (1.0 / k),
        total_enthalpy=None,
    )


def _ratio(heat_capacity_ratio: QuantityLike) -> FloatArray:
    return to_si(
        heat_capacity_ratio, "", "heat_capacity_ratio", lower=1.0, open_lower=True, why="that of a gas"
    )


def _critical_ratio(k: FloatArray) -> FloatArray:
    ratio: FloatArray = (2.0 / (k + 1.0)) ** (k / (k - 1.0))
    return ratio


def _compressibility(value: QuantityLike, extrapolate: bool) -> tuple[FloatArray, tuple[str, ...]]:
    low, high = COMPRESSIBILITIES
    why = "where gases still behave like ideal ones; extrapolate=True leaves it"
    if not extrapolate:
        return to_si(value, "", "compressibility", lower=low, upper=high, why=why), ()
    z = to_si(value, "", "compressibility", lower=0.0, open_lower=True)
    if not ((z < low) | (z > high)).any():
        return z, ()
    outside = f"compressibility {low:g} to {high:g}"
    warnings.warn(f"ideal gas: outside {outside}", ValidityWarning, stacklevel=3)
    return z, (outside,)
