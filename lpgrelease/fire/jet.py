"""Flames of jets and stacks: length, lift-off, tilt, width and radiated share, one published model each.

Plain, elementwise functions of SI arrays, without checks.
"""

from __future__ import annotations

import math
import re
from typing import Final, NamedTuple

import numpy as np

from lpgrelease.constants import STANDARD_GRAVITY
from lpgrelease.fluids import Fluid
from lpgrelease.quantities import FloatArray

__all__ = [
    "JetFlame",
    "buoyant_velocity_mccaffrey",
    "flame_froude_number",
    "flame_length_api",
    "flame_length_delichatsios",
    "flame_length_lowesmith",
    "jet_flame_chamberlain",
    "lift_off_kalghatgi",
    "radiated_fraction_chamberlain",
    "stoichiometric_fraction",
]

_G: Final = float(STANDARD_GRAVITY)
_FLAME_TEMPERATURE: Final = 2260.0
"""Adiabatic, stoichiometric hydrocarbons in air at room temperature [K]; turns2012combustion, Table B.1."""
_NEWTON_STEPS: Final = 14
_CHAMBERLAIN_HEAVIER: Final = (0.021, 0.060)


def stoichiometric_fraction(fluid: Fluid) -> float:
    """Mass fraction of fuel in its stoichiometric mixture with air, f_s.

    Notes
    -----
    C_x H_y O_z Cl_w takes x + (y - w)/4 - z/2 of oxygen, each with 3.773 of nitrogen and argon (28.85 g/mol
    of air); chlorine leaves as hydrogen chloride.

    Examples
    --------
    >>> f"{stoichiometric_fraction(Fluid('propane')):.4f}"
    '0.0602'
    """
    fluid.require_flammable("flame")
    pairs = zip(fluid.fractions, fluid.substances, strict=True)
    oxygen = sum(x * _oxygen(substance.formula) for x, substance in pairs)
    return fluid.molar_mass / (fluid.molar_mass + oxygen * 4.773 * 0.02885)


def _oxygen(formula: str) -> float:
    """Moles of oxygen that burn a mole; none for a gas without carbon, such as nitrogen in a blend."""
    found = re.findall("([A-Z][a-z]?)([0-9]*)", formula)
    atoms = {symbol: int(number or 1) for symbol, number in found}
    hydrogen = atoms.get("H", 0) - atoms.get("Cl", 0)
    return float(atoms.get("C", 0) + 0.25 * hydrogen - 0.5 * atoms.get("O", 0))


def flame_froude_number(
    velocity: FloatArray,
    diameter: FloatArray,
    density_ratio: FloatArray,
    stoichiometric: float,
    air_temperature: FloatArray,
) -> FloatArray:
    """Momentum of a jet against the buoyancy of its flame: 5 and more, momentum rules its length.

    Parameters
    ----------
    velocity, diameter : float or ndarray
        Of the jet at its opening [m/s], [m].
    density_ratio : float or ndarray
        Of the jet's gas to the air.
    stoichiometric : float
        From :func:`stoichiometric_fraction`.
    air_temperature : float or ndarray
        [K].

    Notes
    -----
    Fr_f = u f_s^(3/2)/[(rho_e/rho_a)^(1/4) sqrt((dT_f/T_a) g d)], dT_f the flame's temperature (2260 K) less
    that of the air. References: delichatsios1993transition; turns2012combustion, section 13.5.

    Examples
    --------
    >>> f"{flame_froude_number(66.0, 0.00617, 1.854 / 1.1614, 0.06035, 300.0):.2f}"
    '1.38'
    """
    rise = (_FLAME_TEMPERATURE - air_temperature) / air_temperature
    own = np.sqrt(rise * _G * diameter) * np.sqrt(np.sqrt(density_ratio))
    froude: FloatArray = velocity * stoichiometric**1.5 / own
    return froude


def flame_length_delichatsios(
    froude: FloatArray, diameter: FloatArray, density_ratio: FloatArray, stoichiometric: float
) -> FloatArray:
    """Length of a jet's flame in still air [m], buoyant or driven by momentum.

    Notes
    -----
    L = L* d sqrt(rho_e/rho_a)/f_s; L* = 13.5 Fr_f^0.4/(1 + 0.07 Fr_f^2)^0.2 for Fr_f below 5, else 23.
    References: delichatsios1993transition; turns2012combustion, Eq. 13.12 and 13.13.

    Examples
    --------
    >>> f"{flame_length_delichatsios(1.386, 1.0, 1.0, 1.0):.1f}"
    '15.0'
    """
    Fr = np.maximum(froude, 1e-12)
    buoyant = 13.5 * np.exp(0.4 * np.log(Fr)) / np.exp(0.2 * np.log1p(0.07 * Fr * Fr))
    length: FloatArray = (
        np.where(Fr < 5.0, buoyant, 23.0) * diameter * np.sqrt(density_ratio) / stoichiometric
    )
    return length


def flame_length_api(heat_release_rate: FloatArray) -> FloatArray:
    """Length of an elevated flare's flame [m], from its heat [W]: a straight line through plant data.

    Notes
    -----
    log10(L/ft) = 0.457 log10(Q/(Btu/h)) - 2.04, a fit to the chart of API Standard 521, Annex C, as
    gpsa2012databook gives it; from memory.

    Examples
    --------
    >>> f"{flame_length_api(2.15e9 * 0.29307107) / 0.3048:.0f} ft"
    '168 ft'
    """
    Q = np.maximum(np.asarray(heat_release_rate) / 0.29307107, 1.0)
    return 0.3048 * np.exp(0.457 * np.log(Q) - 2.04 * math.log(10.0))


def flame_length_lowesmith(heat_release_rate: FloatArray) -> FloatArray:
    """Length of a large free jet flame [m], from its heat [W]: gas and liquid, 3 MW to 10 GW.

    Notes
    -----
    L = 2.8893 Q^0.3728, Q in MW. References: lowesmith2007overview, from memory.

    Examples
    --------
    >>> f"{flame_length_lowesmith(100e6):.1f}"
    '16.1'
    """
    return 2.8893 * np.exp(0.3728 * np.log(np.maximum(np.asarray(heat_release_rate) / 1e6, 1e-9)))


def lift_off_kalghatgi(
    velocity: FloatArray, density_ratio: FloatArray, gas_viscosity: FloatArray, burning_velocity: float
) -> FloatArray:
    """Distance from the opening to the foot of a jet's flame in still air [m].

    Parameters
    ----------
    velocity : float or ndarray
        Of the jet, up to that of sound [m/s].
    density_ratio : float or ndarray
        Of the jet's gas to the air.
    gas_viscosity : float or ndarray
        Kinematic, of the gas at the opening [m2/s].
    burning_velocity : float
        Largest laminar one [m/s]; 0.45 for propane, from memory.

    Notes
    -----
    h S/nu = 50 (u/S) (rho_e/rho_a)^1.5. References: kalghatgi1984lift; turns2012combustion, Eq. 13.18.

    Examples
    --------
    >>> f"{lift_off_kalghatgi(100.0, 1.5, 4.4e-6, 0.45):.3f}"
    '0.200'
    """
    R = np.asarray(density_ratio)
    return 50.0 * gas_viscosity * velocity * R * np.sqrt(R) / burning_velocity**2


def buoyant_velocity_mccaffrey(heat_release_rate: FloatArray) -> FloatArray:
    """Speed that buoyancy gives to the gas in a flame [m/s], from its heat [W].

    Notes
    -----
    w = 1.9 Q^(1/5), Q in kW, in the intermittent flame. References: mccaffrey1979purely, from memory.

    Examples
    --------
    >>> f"{buoyant_velocity_mccaffrey(1e6):.1f}"
    '7.6'
    """
    return 1.9 * np.exp(0.2 * np.log(np.maximum(np.asarray(heat_release_rate) / 1e3, 1e-9)))


def radiated_fraction_chamberlain(velocity: FloatArray, molar_mass: float) -> FloatArray:
    """Share of a jet flame's heat that is radiated, by the jet's speed [m/s].

    Notes
    -----
    F = 0.21 exp(-0.00323 u) + 0.11 (natural gas) [chamberlain1987flares, Eq. 18, from memory]; times
    sqrt(M/21) for 21 to 60 g/mol, 1.69 above [cook1990comprehensive, from memory].

    Examples
    --------
    >>> f"{radiated_fraction_chamberlain(100.0, 0.0441):.3f}"
    '0.380'
    """
    light, heavy = _CHAMBERLAIN_HEAVIER
    heavier = 1.0 if molar_mass < light else math.sqrt(molar_mass / light) if molar_mass < heavy else 1.69
    return heavier * (0.21 * np.exp(-0.00323 * np.asarray(velocity)) + 0.11)


class JetFlame(NamedTuple):
    """Frustum of a jet's flame."""

    length: FloatArray
    """From the opening to the tip [m]."""
    tilt: FloatArray
    """Of the frustum's axis from that of the jet, downwind [rad]."""
    lift_off: FloatArray
    """Along the jet's axis [m]."""
    frustum_length: FloatArray
    base_width: FloatArray
    tip_width: FloatArray


def jet_flame_chamberlain(
    velocity: FloatArray,
    source_diameter: FloatArray,
    *,
    wind_speed: FloatArray,
    stoichiometric: float,
    density_ratio: FloatArray,
) -> JetFlame:
    """Frustum of the flame of a jet that points up, in a level wind.

    From flares of natural gas in a wind tunnel and in the field.

    Parameters
    ----------
    velocity : ndarray
        Of the jet, expanded to the pressure of the air [m/s].
    source_diameter : ndarray
        D_s: of a jet of air density with the same mass flow and speed [m].
    wind_speed : ndarray
        [m/s].
    stoichiometric : float
        W, mass fraction of fuel.
    density_ratio : ndarray
        Of the jet's gas, expanded, to the air.

    Notes
    -----
    0.024 (g D_s/u^2)^(1/3) Y^(5/3) + 0.2 Y^(2/3) = (2.85/W)^(2/3) gives L_0 = Y D_s in still air;
    L = L_0 (0.51 exp(-0.4 v) + 0.49) in wind v. With R = v/u and xi = (g/(D_s^2 u^2))^(1/3):
    tilt in degrees 8000 R/(xi L_0) up to R = 0.05, (134 + 1726 sqrt(R - 0.026))/(xi L_0) above;
    lift-off b = L sin(K a)/sin(a), a the tilt, K = 0.185 exp(-20 R) + 0.015; frustum
    sqrt(L^2 - b^2 sin^2 a) - b cos a; widths D_s (13.5 exp(-6 R) + 1.5) [1 - (1 - sqrt(1/rho)/15)
    exp(-70 (xi D_s)^(C R))] with C = 1000 exp(-100 R) + 0.8, and L (0.18 exp(-1.5 R) + 0.31)
    (1 - 0.47 exp(-25 R)).
    References: chamberlain1987flares, from memory; bosch2005methods, section 6.5.3, from memory.

    Examples
    --------
    >>> flame = jet_flame_chamberlain(
    ...     np.array(132.0), np.array(0.0632), wind_speed=np.array(2.0), stoichiometric=0.0602,
    ...     density_ratio=1.55)
    >>> f"{flame.length:.1f} m, lifted {flame.lift_off:.1f} m, tilted {np.degrees(flame.tilt):.0f} deg"
    '9.7 m, lifted 1.5 m, tilted 17 deg'
    """
    u, D, v = velocity, source_diameter, wind_speed
    still = _still_air_length(u, D, stoichiometric)
    length = still * (0.51 * np.exp(-0.4 * v) + 0.49)
    R = v / u
    xi = np.cbrt(_G / (D * D * u * u))
    steep = np.where(R <= 0.05, 8000.0 * R, 134.0 + 1726.0 * np.sqrt(np.maximum(R - 0.026, 0.0)))
    tilt = np.radians(steep / (xi * still))
    K = 0.185 * np.exp(-20.0 * R) + 0.015
    leaning = tilt > 1e-9
    sine = np.sin(np.where(leaning, tilt, 1.0))
    lift = length * np.where(leaning, np.sin(K * tilt) / np.where(leaning, sine, 1.0), K)
    across = lift * np.sin(tilt)
    frustum = np.sqrt(length * length - across * across) - lift * np.cos(tilt)
    C = 1000.0 * np.exp(-100.0 * R) + 0.8
    early = np.exp(-70.0 * np.exp(np.minimum(C * R * np.log(xi * D), 5.0)))
    thin = 1.0 - np.sqrt(1.0 / np.asarray(density_ratio)) / 15.0
    base = D * (13.5 * np.exp(-6.0 * R) + 1.5) * (1.0 - thin * early)
    tip = length * (0.18 * np.exp(-1.5 * R) + 0.31) * (1.0 - 0.47 * np.exp(-25.0 * R))
    return JetFlame(length, tilt, lift, frustum, base, tip)


def _still_air_length(u: FloatArray, D: FloatArray, W: float) -> FloatArray:
    """Root of Chamberlain's equation by Newton's method in Y^(1/3), from above, a fixed number of steps."""
    a, c = 0.024 * np.cbrt(_G * D / (u * u)), (2.85 / W) ** (2.0 / 3.0)
    w = np.minimum(math.sqrt(c / 0.2), np.exp(0.2 * np.log(c / a)))
    for _ in range(_NEWTON_STEPS):
        square = w * w
        w = w - (a * square * square * w + 0.2 * square - c) / (5.0 * a * square * square + 0.4 * w)
    length: FloatArray = D * w * w * w
    return length
