"""Drops of a boiling jet: how large, how they fall and dry in air, and how much of the liquid rains out.

The least sure part of any release of liquid: the formulas here bound it, and none of them settles it.
"""

from __future__ import annotations

import warnings

import numpy as np

from lpgrelease.constants import STANDARD_ATMOSPHERE, STANDARD_GRAVITY
from lpgrelease.errors import InputError, ValidityWarning
from lpgrelease.fluids import Fluid
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.release.rate import ambient, served_by
from lpgrelease.results import Provenance, Result, quantity, result
from lpgrelease.weather import air_conductivity, air_density, air_viscosity

__all__ = [
    "CRITICAL_WEBER_NUMBER",
    "CRITICAL_WEBER_RANGE",
    "DropFall",
    "RainOut",
    "aerodynamic_drop_diameter",
    "drop_fall",
    "rain_out_by_flash",
    "terminal_velocity",
]

CRITICAL_WEBER_NUMBER = 12.0
"""We = rho_air u**2 d/sigma above which a drop in a stream breaks up (hinze1955splitting, from memory)."""
CRITICAL_WEBER_RANGE = (10.0, 20.0)
"""What experiments and handbooks give for it (bosch2005methods, from memory)."""
HIGHEST_REYNOLDS = 800.0
"""Upper end of the drag law of schiller1933drag."""
STEPS = 120
"""Equal steps in the square of the drop's diameter, from whole to gone."""
NEWTON_STEPS = 5
"""From a start within 10 %: round-off after 4."""
ENTRAINED_PER_VAPOR = 1.0
"""Liquid kept in the air as drops per vapor flashed, by mass (kletz1977unconfined, from memory)."""


@result
class RainOut(Result):
    """Where the liquid of a flashing jet goes, as mass fractions of the release; they add to 1."""

    vapor_fraction: FloatArray = quantity("", "flashed to vapor")
    airborne_drops: FloatArray = quantity("", "drops that stay in the air")
    rain_out: FloatArray = quantity("", "liquid that falls to the ground")


@result
class DropFall(Result):
    """A single drop that falls from rest through still air and dries; all fields share one shape."""

    mass_left: FloatArray = quantity("", "mass fraction of the drop that reaches the ground")
    lands: FloatArray = quantity("", "1 where it reaches the ground, 0 where it is gone before")
    fall_time: FloatArray = quantity("s", "until it lands or is gone")
    depth_to_dry: FloatArray = quantity("m", "height of fall after which nothing is left")
    terminal_velocity: FloatArray = quantity("m/s", "of the whole drop")


def aerodynamic_drop_diameter(
    fluid: Fluid,
    *,
    velocity: QuantityLike,
    air_temperature: QuantityLike = 293.15,
    ambient_pressure: QuantityLike = STANDARD_ATMOSPHERE,
    critical_weber_number: QuantityLike = CRITICAL_WEBER_NUMBER,
) -> FloatArray:
    """Largest drop that survives in a jet of a given velocity: the air tears larger ones apart.

    Parameters
    ----------
    fluid : Fluid
    velocity : number, array or quantity
        Of the jet relative to the air, u [m/s], above 0; `expanded_jet` gives it.
    air_temperature : number, array or quantity
        [K]
    ambient_pressure : number, array or quantity
        [Pa], absolute.
    critical_weber_number : number or array
        We, 10 to 20.

    Returns
    -------
    float or ndarray
        d = We sigma/(rho_air u**2) [m], sigma at the boiling point at the ambient pressure.

    Raises
    ------
    InputError, OutOfRangeError

    Notes
    -----
    An upper bound: boiling inside the jet breaks drops further, the more so the hotter the liquid. Valid for
    low viscosity (Ohnesorge number below 0.1), true of every liquefied gas here. The Weber number's range
    alone leaves a factor of 2.

    References
    ----------
    hinze1955splitting, bosch2005methods (both from memory).

    Examples
    --------
    >>> d = aerodynamic_drop_diameter(Fluid("propane"), velocity=50.0)
    >>> print(f"{d * 1e6:.0f} um")
    62 um
    """
    u = to_si(velocity, "m/s", "velocity", lower=0.0, open_lower=True)
    t = to_si(air_temperature, "K", "air_temperature", lower=200.0, upper=350.0, why="outside air")
    p = ambient(fluid, ambient_pressure)
    low, high = CRITICAL_WEBER_RANGE
    we = to_si(critical_weber_number, "", "critical_weber_number", lower=low, upper=high, why="measured ones")
    (sigma,) = fluid.saturated(fluid.saturation_temperature(p), "surface_tension")
    u, t, p, sigma, we = broadcast(
        velocity=u, air_temperature=t, ambient_pressure=p, surface_tension=sigma, critical_weber_number=we
    )
    diameter: FloatArray = we * sigma / (air_density(t, p) * u * u)
    return diameter


def rain_out_by_flash(
    vapor_fraction: QuantityLike, *, entrained_per_vapor: QuantityLike = ENTRAINED_PER_VAPOR
) -> RainOut:
    """Rule of thumb: as much liquid stays in the air as drops as flashes to vapor; the rest falls out.

    Parameters
    ----------
    vapor_fraction : number or array
        Flashed at the ambient pressure, x (`flash`), 0 to 1.
    entrained_per_vapor : number or array
        Drops kept in the air per vapor, by mass, 0 or more; 1 by kletz1977unconfined.

    Returns
    -------
    RainOut
        Airborne drops min(r x, 1 - x).

    Raises
    ------
    InputError, OutOfRangeError

    Notes
    -----
    A rule from incidents, without a published range or scatter: free jets of liquids far above their
    boiling point have left next to nothing on the ground at flash fractions well below one half, and
    jets that strike the ground or a wall leave much more than it says. Use both ends: nothing, and all
    that does not flash.

    References
    ----------
    kletz1977unconfined (from memory).

    Examples
    --------
    >>> share = rain_out_by_flash(0.3555)
    >>> print(f"{share.airborne_drops:.2f} airborne, {share.rain_out:.2f} rained out")
    0.36 airborne, 0.29 rained out
    """
    x = to_si(vapor_fraction, "", "vapor_fraction", lower=0.0, upper=1.0, why="a mass fraction")
    ratio = to_si(entrained_per_vapor, "", "entrained_per_vapor", lower=0.0)
    x, ratio = broadcast(vapor_fraction=x, entrained_per_vapor=ratio)
    drops = np.minimum(ratio * x, 1.0 - x)
    return RainOut(
        vapor_fraction=np.array(x)[()],
        airborne_drops=drops[()],
        rain_out=(1.0 - x - drops)[()],
        provenance=Provenance("drops in proportion to vapor", ("kletz1977unconfined",)),
    )


def terminal_velocity(
    diameter: FloatArray, *, liquid_density: FloatArray, gas_density: FloatArray, gas_viscosity: FloatArray
) -> FloatArray:
    """Velocity at which a drop falls steadily, unchecked arrays.

    Parameters
    ----------
    diameter, liquid_density, gas_density, gas_viscosity : ndarray
        d [m], [kg/m3], [kg/m3], [Pa s].

    Returns
    -------
    ndarray
        [m/s]

    Notes
    -----
    Stokes' velocity over 1 + 0.15 Re**0.687 (schiller1933drag), for Re up to 800; a fixed number of
    Newton steps.

    References
    ----------
    schiller1933drag.
    """
    stokes = (liquid_density - gas_density) * STANDARD_GRAVITY * diameter * diameter / (18.0 * gas_viscosity)
    per = gas_density * diameter / gas_viscosity
    v = stokes / (1.0 + 0.15 * (per * stokes) ** 0.687) ** 0.6
    for _ in range(NEWTON_STEPS):
        drag = 0.15 * (per * v) ** 0.687
        v = v - (v * (1.0 + drag) - stokes) / (1.0 + 1.687 * drag)
    return v


def drop_fall(
    fluid: Fluid,
    *,
    diameter: QuantityLike,
    height: QuantityLike,
    air_temperature: QuantityLike = 293.15,
    ambient_pressure: QuantityLike = STANDARD_ATMOSPHERE,
    extrapolate: bool = False,
) -> DropFall:
    """Fall of one drop at its boiling point through still, clean air that dries it.

    Parameters
    ----------
    fluid : Fluid
    diameter : number, array or quantity
        Of the drop, d [m], above 0.
    height : number, array or quantity
        Of the fall [m].
    air_temperature : number, array or quantity
        [K], above the boiling point at the ambient pressure.
    ambient_pressure : number, array or quantity
        [Pa], absolute.
    extrapolate : bool
        Leave the range of the drag law, with a warning.

    Returns
    -------
    DropFall

    Raises
    ------
    InputError, OutOfRangeError
        Among others where the whole drop falls at a Reynolds number above 800.

    Warns
    -----
    ValidityWarning
        The same with `extrapolate`.

    Notes
    -----
    d(d**2)/dt = -8 k/(rho_l c_v) ln(1 + B) (1 + 0.3 Re**(1/2) Pr**(1/3)), B = c_v (T_air - T_b)/L
    (ranz1952evaporation; spalding1953mass; both from memory), at terminal velocity throughout, air at the
    mean of the two temperatures, c_v the heat capacity of the vapor. A drop of a jet falls through cold vapor
    among its like and dries more slowly; one in clean air also cools below the boiling point, which slows it
    too: what is gone here may land there.

    References
    ----------
    ranz1952evaporation, spalding1953mass, schiller1933drag.

    Examples
    --------
    >>> fall = drop_fall(Fluid("propane"), diameter=[1e-4, 1e-3], height=1.0)
    >>> print(fall.mass_left.round(2))
    [0.   0.88]
    """
    if not isinstance(fluid, Fluid):
        raise InputError(f"fluid must be a Fluid, got {fluid!r}")
    d = to_si(diameter, "m", "diameter", lower=0.0, open_lower=True)
    z = to_si(height, "m", "height", lower=0.0)
    p = ambient(fluid, ambient_pressure)
    t_air = to_si(air_temperature, "K", "air_temperature", lower=200.0, upper=350.0, why="outside air")
    d, z, t_air, p = broadcast(diameter=d, height=z, air_temperature=t_air, ambient_pressure=p)
    shape = d.shape
    d, z, t_air, p = (np.ravel(a) for a in (d, z, t_air, p))
    t_b = fluid.saturation_temperature(p)
    to_si(t_air - t_b, "K", "air_temperature over the boiling point", lower=0.0, open_lower=True)
    outside = _beyond_drag(fluid, d, t_air, t_b, p, extrapolate)
    left, time, depth, speed = _fall(fluid, d, z, t_air, t_b, p)
    fields = {
        "mass_left": left,
        "lands": (depth > z).astype(np.float64),
        "fall_time": time,
        "depth_to_dry": depth,
        "terminal_velocity": speed,
    }
    provenance = served_by(
        fluid,
        "drying drop at terminal velocity",
        "ranz1952evaporation",
        "spalding1953mass",
        "schiller1933drag",
    )
    return DropFall(
        provenance=Provenance(provenance.model, provenance.sources, provenance.properties, outside),
        **{name: values.reshape(shape)[()] for name, values in fields.items()},
    )


def _beyond_drag(
    fluid: Fluid, d: FloatArray, t_air: FloatArray, t_b: FloatArray, p: FloatArray, extrapolate: bool
) -> tuple[str, ...]:
    film = 0.5 * (t_air + t_b)
    (rho_l,) = fluid.saturated(t_b, "liquid_density")
    rho, mu = air_density(film, p), air_viscosity(film)
    speed = terminal_velocity(d, liquid_density=rho_l, gas_density=rho, gas_viscosity=mu)
    reynolds = rho * speed * d / mu
    if not extrapolate:
        why = "the drag law's range; extrapolate=True leaves it"
        to_si(reynolds, "", "Reynolds number of the drop", upper=HIGHEST_REYNOLDS, why=why)
        return ()
    if not (reynolds > HIGHEST_REYNOLDS).any():
        return ()
    text = f"Reynolds number of the drop up to {HIGHEST_REYNOLDS:g}"
    warnings.warn(f"{fluid.name}: outside {text}", ValidityWarning, stacklevel=3)
    return (text,)


def _fall(
    fluid: Fluid, d: FloatArray, z: FloatArray, t_air: FloatArray, t_b: FloatArray, p: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Mass fraction left at depth `z`, time until then, depth at which nothing is left, first velocity."""
    film = 0.5 * (t_air + t_b)
    rho_l, latent, c_v = fluid.saturated(t_b, "liquid_density", "latent_heat", "vapor_heat_capacity")
    rho, mu, k = air_density(film, p), air_viscosity(film), air_conductivity(film)
    prandtl = 1005.0 * mu / k
    shrink = 8.0 * k / (rho_l * c_v) * np.log1p(c_v * (t_air - t_b) / latent)
    step = d * d / STEPS
    depth, time = np.zeros_like(d), np.zeros_like(d)
    left, landing = np.zeros_like(d), np.zeros_like(d)
    for i in range(STEPS):
        share = 1.0 - (i + 0.5) / STEPS
        size = d * np.sqrt(share)
        v = terminal_velocity(size, liquid_density=rho_l, gas_density=rho, gas_viscosity=mu)
        reynolds = rho * v * size / mu
        lasts = step / (shrink * (1.0 + 0.3 * np.sqrt(reynolds) * np.cbrt(prandtl)))
        deeper = depth + v * lasts
        lands = (depth <= z) & (z < deeper)
        part = np.where(lands, (z - depth) / (v * lasts), 0.0)
        left = np.where(lands, (1.0 - (i + part) / STEPS) ** 1.5, left)
        landing = np.where(lands, time + part * lasts, landing)
        depth, time = deeper, time + lasts
    speed = terminal_velocity(d, liquid_density=rho_l, gas_density=rho, gas_viscosity=mu)
    return left, np.where(depth > z, landing, time), depth, speed
