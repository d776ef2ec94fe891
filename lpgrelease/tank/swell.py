"""`level_swell`: how far boiling liquid rises under its own bubbles, and when a vent above it passes liquid.

A pool that boils throughout holds bubbles that leave at its surface only as fast as they rise: its level
swells. Where the swelled level comes to a vent, the vent takes liquid with the vapor. Drift-flux models, each
with its own bubble rise velocity; a pool of clean, thin liquid churns, one that holds a trace of soap, oil or
dirt bubbles.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from lpgrelease.constants import STANDARD_GRAVITY
from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.halving import halved_to_middle
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, require_word, to_si
from lpgrelease.results import BoolArray, Provenance, Result, plain, quantity, result
from lpgrelease.tank.contents import Contents

__all__ = [
    "REGIMES",
    "LevelSwell",
    "boiling_void",
    "kataoka_ishii_void",
    "level_swell",
    "rise_velocity",
    "sparged_void",
    "velocity_for_void",
]


class Regime(NamedTuple):
    """Constants of a drift-flux model: of the rise velocity, and of the distribution across the vessel."""

    rise: float
    distribution: float


REGIMES: Final = {"churn-turbulent": Regime(1.53, 1.5), "bubbly": Regime(1.18, 1.2)}
_BISECTIONS: Final = 52
CAUTIONS: Final = (
    "A vent that takes liquid passes several times the mass and cools the tank less: a flare at its end may "
    "throw "
    "burning drops.",
    "The first seconds after a vent is opened swell more than this steady state, and foam more still.",
)


@result
class LevelSwell(Result):
    """Swelled level of a boiling tank; all fields share the scenarios' shape."""

    superficial_velocity: FloatArray = quantity("m/s", "vapor through the liquid's surface at rest")
    rise_velocity: FloatArray = quantity("m/s", "characteristic rise velocity of bubbles")
    void_fraction: FloatArray = quantity("", "mean share of bubbles in the boiling liquid")
    level: FloatArray = quantity("m", "swelled level; that of the tank's top where it would be higher")
    largest_flow: FloatArray = quantity(
        "kg/s", "vapor flow at which the swelled level comes to the opening; inf: none does"
    )
    carries_liquid: BoolArray = quantity("", "whether the swelled level comes to the opening")
    cautions: tuple[str, ...] = plain("what to bear in mind")


def rise_velocity(
    liquid_density: FloatArray, vapor_density: FloatArray, surface_tension: FloatArray, *, regime: str
) -> FloatArray:
    """Characteristic rise velocity of bubbles, U [m/s]; SI arrays, unchecked.

    Notes
    -----
    U = k (sigma g (rho_l - rho_v))^(1/4) / rho_l^(1/2), k = 1.53 churn-turbulent, 1.18 bubbly.
    References: fisher1992diers; zuber1965average; the constants from memory, the forms looked up.

    Examples
    --------
    >>> print(f"{rise_velocity(500.0, 17.0, 0.0077, regime='churn-turbulent'):.3f} m/s")
    0.168 m/s
    """
    buoyancy = surface_tension * float(STANDARD_GRAVITY) * (liquid_density - vapor_density)
    return REGIMES[regime].rise * np.sqrt(np.sqrt(buoyancy)) / np.sqrt(liquid_density)


def velocity_for_void(void_fraction: FloatArray, *, regime: str) -> FloatArray:
    """Superficial velocity over rise velocity, psi, at which a boiling pool swells to a mean void fraction.

    Parameters
    ----------
    void_fraction : float or ndarray
        Mean over the pool, alpha, from 0 to less than 1 / C_0: 0.667 churn-turbulent, 0.833 bubbly; infinite
        beyond, where no vapor flow swells the pool so far.

    Notes
    -----
    Vapor made evenly throughout the pool. Churn-turbulent psi = 2 alpha / (1 - C_0 alpha); bubbly
    psi = alpha (1 - alpha)^2 / ((1 - alpha^3) (1 - C_0 alpha)); C_0 = 1.5 and 1.2.
    References: fisher1992diers (from memory).

    Examples
    --------
    >>> print(f"{velocity_for_void(0.2, regime='churn-turbulent'):.3f}")
    0.571
    """
    a = np.clip(void_fraction, 0.0, 1.0)
    rest = 1.0 - REGIMES[regime].distribution * a
    safe = np.where(rest > 0.0, rest, 1.0)
    # (1 - a)^2 / (1 - a^3) with the common factor taken out
    slowed = a * (1.0 - a) / (1.0 + a + a * a) if regime == "bubbly" else 2.0 * a
    return np.where(rest > 0.0, slowed / safe, np.inf)


def boiling_void(velocity_ratio: FloatArray, *, regime: str) -> FloatArray:
    """Mean void fraction of a pool that boils throughout; the inverse of :func:`velocity_for_void`.

    Parameters
    ----------
    velocity_ratio : float or ndarray
        Superficial vapor velocity at the surface over the rise velocity, psi.

    Examples
    --------
    >>> print(f"{boiling_void(0.571, regime='churn-turbulent'):.3f}")
    0.200
    """
    psi, C0 = np.asarray(velocity_ratio, dtype=np.float64), REGIMES[regime].distribution
    if regime != "bubbly":
        return psi / (2.0 + C0 * psi)
    low, high = np.zeros_like(psi), np.full_like(psi, 1.0 / C0)
    found = halved_to_middle(
        lambda void: velocity_for_void(void, regime=regime) < psi, low, high, _BISECTIONS
    )
    return found[()]


def sparged_void(velocity_ratio: FloatArray, *, regime: str) -> FloatArray:
    """Void fraction of a pool through which vapor rises from its bottom.

    Notes
    -----
    alpha = psi / (1 + C_0 psi). References: zuber1965average.

    Examples
    --------
    >>> print(f"{sparged_void(0.5, regime='churn-turbulent'):.3f}")
    0.286
    """
    psi = velocity_ratio
    return psi / (1.0 + REGIMES[regime].distribution * psi)


def kataoka_ishii_void(
    superficial_velocity: FloatArray,
    *,
    diameter: FloatArray,
    liquid_density: FloatArray,
    vapor_density: FloatArray,
    surface_tension: FloatArray,
    liquid_viscosity: FloatArray,
) -> FloatArray:
    """Void fraction of a pool in a wide vessel with vapor rising from below; SI arrays, unchecked.

    In a wide vessel large bubbles and the circulation that they drive rise faster than the drift of small
    ones: the pool swells less than by :func:`sparged_void`.

    Parameters
    ----------
    superficial_velocity : float or ndarray
        Of the vapor, j [m/s].
    diameter : float or ndarray
        Hydraulic diameter of the pool [m].
    liquid_density, vapor_density, surface_tension, liquid_viscosity : float or ndarray
        [kg/m3], [kg/m3], [N/m], [Pa s].

    Notes
    -----
    alpha = j / (C_0 j + V), C_0 = 1.2 - 0.2 sqrt(rho_v / rho_l), V+ = V / (sigma g drho / rho_l^2)^(1/4):
    0.0019 D*^0.809 (rho_v/rho_l)^-0.157 N^-0.562, D* = D / sqrt(sigma / (g drho)) up to 30 and then held;
    0.030 (rho_v/rho_l)^-0.157 N^-0.562 beyond; where N = mu_l / sqrt(rho_l sigma sqrt(sigma / (g drho)))
    exceeds 2.25e-3, 0.92 (rho_v/rho_l)^-0.157 for D* over 30.
    References: kataoka1987pool (constants from memory).

    Examples
    --------
    >>> void = kataoka_ishii_void(0.1, diameter=2.0, liquid_density=500.0, vapor_density=17.0,
    ...     surface_tension=0.0077, liquid_viscosity=1.0e-4)
    >>> print(f"{void:.2f}")
    0.29
    """
    g, rho = float(STANDARD_GRAVITY), np.divide(vapor_density, liquid_density)
    weight = g * np.subtract(liquid_density, vapor_density)
    laplace = np.sqrt(surface_tension / weight)
    N = liquid_viscosity / np.sqrt(liquid_density * surface_tension * laplace)
    wide = np.minimum(diameter / laplace, 30.0)
    thin = np.power(N, -0.562) * np.where(wide < 30.0, 0.0019 * np.power(wide, 0.809), 0.030)
    thick = np.where(wide < 30.0, 0.92 / 0.030 * 0.0019 * np.power(wide, 0.809), 0.92)
    drift = np.power(rho, -0.157) * np.where(N <= 2.25e-3, thin, thick)
    drift = drift * np.sqrt(np.sqrt(surface_tension * weight)) / np.sqrt(liquid_density)
    return superficial_velocity / ((1.2 - 0.2 * np.sqrt(rho)) * superficial_velocity + drift)


def level_swell(
    contents: Contents, *, vapor_flow: QuantityLike, height: QuantityLike, regime: str = "churn-turbulent"
) -> LevelSwell:
    """Swelled level of a tank that boils as fast as vapor leaves, and whether liquid comes to an opening.

    Parameters
    ----------
    contents : Contents
    vapor_flow : number, array or quantity
        Vapor that leaves [kg/s].
    height : number, array or quantity
        Of the opening above the tank's lowest point [m].
    regime : {"churn-turbulent", "bubbly"}
        Bubbly swells far more: the safe choice for a liquid with traces of oil, soap or dirt.

    Returns
    -------
    LevelSwell

    Raises
    ------
    InputError, OutOfRangeError
        Bad arguments; an opening above the tank.

    Notes
    -----
    The pool of liquid volume V_l swells to V_l / (1 - alpha), alpha from :func:`boiling_void` with
    j = flow / (rho_v A), A the liquid's surface at rest (from 1 % of the largest up). The opening takes
    liquid where that comes to the volume below it, V_h: where j exceeds U psi(1 - V_l / V_h). Without
    stratification by the liquid's own weight, which keeps the depth of a tall tank from boiling: for tanks a
    few meters high.
    References: fisher1992diers.

    Examples
    --------
    >>> import lpgrelease as lr
    >>> tank = lr.HorizontalTank(diameter=1.04, length=4.5)
    >>> contents = lr.Contents(tank, lr.Fluid("propane"), fill=0.8, temperature=293.15)
    >>> for regime in ("churn-turbulent", "bubbly"):
    ...     swell = level_swell(contents, vapor_flow=3.0, height=1.04, regime=regime)
    ...     print(f"{swell.level:.2f} m, limit {swell.largest_flow:.1f} kg/s")
    0.86 m, limit 7.6 kg/s
    1.04 m, limit 1.8 kg/s
    """
    if not isinstance(contents, Contents):
        raise InputError(f"contents must be Contents, got {contents!r}")
    require_word(regime, REGIMES, "regime")
    tank = contents.tank
    rho_l, rho_v, sigma = contents._saturated("liquid_density", "vapor_density", "surface_tension")
    flow, z, V_l, top, rho_l, rho_v, sigma = broadcast(
        vapor_flow=to_si(vapor_flow, "kg/s", "vapor_flow", lower=0.0),
        height=to_si(height, "m", "height", lower=0.0),
        liquid_volume=contents.liquid_volume,
        tank_height=tank.height,
        liquid_density=rho_l,
        vapor_density=rho_v,
        surface_tension=sigma,
    )
    above = np.flatnonzero(np.ravel(z > top * (1.0 + 1e-12)))
    if above.size:
        value, bound = float(np.ravel(z)[above[0]]), float(np.ravel(top)[above[0]])
        raise OutOfRangeError("height", value, "m", 0.0, bound, "the tank's inside height")
    U = rise_velocity(rho_l, rho_v, sigma, regime=regime)
    widest = tank.free_surface_at(0.5 * top)
    area = np.maximum(tank.free_surface_at(tank.level_at(V_l)), 0.01 * widest)
    j = flow / (rho_v * area)
    void = np.where(V_l > 0.0, boiling_void(j / U, regime=regime), 0.0)
    swelled = V_l / (1.0 - void)
    below = tank.volume_at(np.minimum(z, top))
    room = np.where(below > V_l, 1.0 - V_l / np.where(below > V_l, below, 1.0), 0.0)
    largest = rho_v * area * U * velocity_for_void(room, regime=regime)
    return LevelSwell(
        superficial_velocity=j[()],
        rise_velocity=U[()],
        void_fraction=void[()],
        level=tank.level_at(np.minimum(swelled, tank.volume))[()],
        largest_flow=largest[()],
        carries_liquid=(flow >= largest)[()],
        cautions=CAUTIONS,
        provenance=Provenance(f"drift-flux level swell, {regime}", ("fisher1992diers",)),
    )
