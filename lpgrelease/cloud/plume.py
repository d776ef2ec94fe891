"""Passive plume: Briggs' spread of a plume with distance, and the Gaussian plume made of it."""

from __future__ import annotations

import dataclasses
import math
import warnings
from typing import Final

import numpy as np
from numpy.typing import NDArray

from lpgrelease.errors import OutOfRangeError, ValidityWarning
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, require_word, to_si
from lpgrelease.results import Provenance, Result, quantity, result

__all__ = [
    "GaussianPlume",
    "Spread",
    "averaging_factor",
    "gaussian_concentration",
    "gaussian_plume",
    "plume_spread_briggs",
]

SITES: Final = ("open country", "urban")
BRIGGS_RANGE: Final = (100.0, 10_000.0)
CURVE_TIME: Final = 600.0
"""Averaging time of the curves [s], as usually taken for Pasquill's and Briggs' curves."""


@dataclasses.dataclass(frozen=True, slots=True)
class Spread:
    """Curve sigma = a x (1 + k x)^q, one row for each class A to F.

    Parameters
    ----------
    a, k, q : ndarray
        Coefficients [-], [1/m], [-].
    """

    a: FloatArray
    k: FloatArray
    q: FloatArray

    def at(self, stability: NDArray[np.intp]) -> Spread:
        """Return the rows of the classes `stability` (0 to 5)."""
        return Spread(self.a[stability], self.k[stability], self.q[stability])

    def sigma(self, distance: FloatArray) -> FloatArray:
        """Spread [m] at a distance [m]."""
        return np.asarray(self.a * distance * np.power(1.0 + self.k * distance, self.q))

    def slope(self, distance: FloatArray) -> FloatArray:
        """Growth of the spread with distance [-]."""
        base = 1.0 + self.k * distance
        return np.asarray(self.a * np.power(base, self.q) * (1.0 + self.q * self.k * distance / base))

    def distance(self, sigma: FloatArray) -> FloatArray:
        """Distance [m] at which the spread is `sigma` [m]; closed forms, inf above the largest spread."""
        a, k, s = self.a, self.k, sigma
        root = (k * s * s + np.sqrt(k * k * s * s * s * s + 4.0 * a * a * s * s)) / (2.0 * a * a)
        with np.errstate(divide="ignore"):
            saturating = np.where(a > k * s, s / np.where(a > k * s, a - k * s, 1.0), np.inf)
        x = np.where(self.q == -1.0, saturating, np.where(self.q == 0.0, s / a, root))
        if (self.q > 0.0).any():
            x = np.where(self.q > 0.0, _cubic_distance(k, s / a), x)
        return np.asarray(x)


def _cubic_distance(k: FloatArray, ratio: FloatArray) -> FloatArray:
    """Root of x sqrt(1 + k x) = ratio by Newton in x; convex, from above, six steps."""
    x = ratio
    for _ in range(6):
        base = np.sqrt(1.0 + k * x)
        x = x - (x * base - ratio) / (base + 0.5 * k * x / base)
    return np.asarray(x)


def _rows(*values: float) -> FloatArray:
    return np.array(values)


_ROOT, _ONE = -0.5, -1.0
LATERAL: Final = {
    "open country": Spread(_rows(0.22, 0.16, 0.11, 0.08, 0.06, 0.04), np.full(6, 1e-4), np.full(6, _ROOT)),
    "urban": Spread(_rows(0.32, 0.32, 0.22, 0.16, 0.11, 0.11), np.full(6, 4e-4), np.full(6, _ROOT)),
}
VERTICAL: Final = {
    "open country": Spread(
        _rows(0.20, 0.12, 0.08, 0.06, 0.03, 0.016),
        _rows(0.0, 0.0, 2e-4, 1.5e-3, 3e-4, 3e-4),
        _rows(0.0, 0.0, _ROOT, _ROOT, _ONE, _ONE),
    ),
    "urban": Spread(
        _rows(0.24, 0.24, 0.20, 0.14, 0.08, 0.08),
        _rows(1e-3, 1e-3, 0.0, 3e-4, 1.5e-3, 1.5e-3),
        _rows(0.5, 0.5, 0.0, _ROOT, _ROOT, _ROOT),
    ),
}


def check_site(site: str) -> str:
    """`site` if it is served."""
    require_word(site, SITES, "site")
    return site


def plume_spread_briggs(
    distance: FloatArray, stability: NDArray[np.intp], *, site: str = "open country"
) -> tuple[FloatArray, FloatArray]:
    """Lateral and vertical spread of a passive plume [m] by Briggs' curves, for 100 m to 10 km.

    Parameters
    ----------
    distance : float or ndarray
        Downwind [m].
    stability : int or ndarray of int
        Class, 0 (A) to 5 (F).
    site : {"open country", "urban"}
        Set of curves.

    Notes
    -----
    References: briggs1973diffusion; hanna1982handbook, Table 4.5; coefficients from memory. For an averaging
    time of about ten minutes.

    Examples
    --------
    >>> sy, sz = plume_spread_briggs(np.float64(500.0), np.array(3), site="urban")
    >>> print(f"{sy:.2f} m, {sz:.2f} m")
    73.03 m, 65.28 m
    """
    return LATERAL[site].at(stability).sigma(distance), VERTICAL[site].at(stability).sigma(distance)


def averaging_factor(averaging_time: FloatArray) -> FloatArray:
    """Lateral spread over an averaging time [s], relative to the ten minutes of the curves.

    Notes
    -----
    (t / 600 s)^0.2: a plume meanders less in a short time, so that a short average sees it narrower and
    richer. References: gifford1975atmospheric, for 3 minutes to an hour, from memory; below 3 minutes it is
    extrapolated.

    Examples
    --------
    >>> print(f"{averaging_factor(np.float64(20.0)):.3f}")
    0.506
    """
    return np.asarray(np.power(averaging_time / CURVE_TIME, 0.2))


def gaussian_concentration(
    mass_flow: FloatArray,
    wind_speed: FloatArray,
    *,
    lateral_spread: FloatArray,
    vertical_spread: FloatArray,
    crosswind: FloatArray | float = 0.0,
    height: FloatArray | float = 0.0,
    release_height: FloatArray | float = 0.0,
) -> FloatArray:
    """Concentration [kg/m3] in a Gaussian plume that the ground reflects; SI arrays, unchecked.

    Notes
    -----
    C = Q / (2 pi u sy sz) exp(-y^2/2 sy^2) [exp(-(z-H)^2/2 sz^2) + exp(-(z+H)^2/2 sz^2)].
    References: turner1970workbook, Eq. 3.1.

    Examples
    --------
    >>> c = gaussian_concentration(3e-3, 7.0, lateral_spread=190.0, vertical_spread=65.0)
    >>> print(f"{c * 1e3:.2e} g/m3")
    1.10e-05 g/m3
    """
    sy, sz = lateral_spread, vertical_spread
    below, above = (height - release_height) / sz, (height + release_height) / sz
    vertical = np.exp(-0.5 * below * below) + np.exp(-0.5 * above * above)
    lateral = np.exp(-0.5 * (crosswind / sy) * (crosswind / sy))
    return np.asarray(mass_flow / (2.0 * math.pi * wind_speed * sy * sz) * lateral * vertical)


@result
class GaussianPlume(Result):
    """Concentration at a point of a passive plume."""

    concentration: FloatArray = quantity("kg/m**3", "concentration of the gas")
    lateral_spread: FloatArray = quantity("m", "standard deviation across the wind")
    vertical_spread: FloatArray = quantity("m", "standard deviation upward")


def gaussian_plume(
    mass_flow: QuantityLike,
    *,
    distance: QuantityLike,
    wind_speed: QuantityLike,
    stability: str,
    crosswind: QuantityLike = 0.0,
    height: QuantityLike = 0.0,
    release_height: QuantityLike = 0.0,
    averaging_time: QuantityLike = CURVE_TIME,
    site: str = "open country",
    extrapolate: bool = False,
) -> GaussianPlume:
    """Concentration downwind of a steady passive source, Briggs' curves.

    For gas of about the density of air; `flammable_reach` serves heavy gas.

    Parameters
    ----------
    mass_flow : number, array or quantity
        Q [kg/s].
    distance, crosswind, height : number, array or quantity
        Of the point, downwind, aside and above the ground [m]; downwind 100 m to 10 km.
    wind_speed : number, array or quantity
        u [m/s] at the height of the release, 10 m for one on the ground; 1 and more.
    stability : {"A", "B", "C", "D", "E", "F"}
        Pasquill's class.
    release_height : number, array or quantity
        H [m].
    averaging_time : number, array or quantity
        [s], 1 to 3600.
    site : {"open country", "urban"}
        Set of curves.
    extrapolate : bool
        Go nearer or farther than the curves' range, with a warning.

    Returns
    -------
    GaussianPlume

    Raises
    ------
    InputError, OutOfRangeError
        Wrong kind; outside the ranges above.

    Warns
    -----
    ValidityWarning
        Outside the curves' range.

    Notes
    -----
    References: briggs1973diffusion; turner1970workbook; gifford1975atmospheric.

    Examples
    --------
    >>> plume = gaussian_plume(0.01, distance=200.0, wind_speed=2.0, stability="F")
    >>> print(f"{plume.concentration * 1e6:.0f} mg/m3")
    67 mg/m3
    """
    x = to_si(distance, "m", "distance", lower=0.0, open_lower=True)
    u = to_si(wind_speed, "m/s", "wind_speed", lower=1.0, upper=100.0, why="a plume needs wind")
    values = {
        "mass_flow": to_si(mass_flow, "kg/s", "mass_flow", lower=0.0),
        "crosswind": to_si(crosswind, "m", "crosswind"),
        "height": to_si(height, "m", "height", lower=0.0),
        "release_height": to_si(release_height, "m", "release_height", lower=0.0),
        "averaging_time": to_si(averaging_time, "s", "averaging_time", lower=1.0, upper=3600.0),
    }
    letters = ("A", "B", "C", "D", "E", "F")
    require_word(stability, letters, "stability")
    outside = _outside_range(x, extrapolate)
    x, u, q, y, z, h, t = broadcast(distance=x, wind_speed=u, **values)
    sy, sz = plume_spread_briggs(x, np.array(letters.index(stability)), site=check_site(site))
    sy = sy * averaging_factor(t)
    c = gaussian_concentration(
        q, u, lateral_spread=sy, vertical_spread=sz, crosswind=y, height=z, release_height=h
    )
    sources = ("briggs1973diffusion", "turner1970workbook", "gifford1975atmospheric")
    return GaussianPlume(
        concentration=c[()],
        lateral_spread=sy[()],
        vertical_spread=sz[()],
        provenance=Provenance(f"Gaussian plume, Briggs {site}", sources, outside_validity=outside),
    )


def _outside_range(x: FloatArray, extrapolate: bool) -> tuple[str, ...]:
    low, high = BRIGGS_RANGE
    bad = (x < low) | (x > high)
    if not np.any(bad):
        return ()
    if not extrapolate:
        worst = float(np.ravel(x)[np.ravel(bad)][0])
        raise OutOfRangeError("distance", worst, "m", low, high, "the range of Briggs' curves")
    outside = f"range of Briggs' curves, {low:g} to {high:g} m"
    warnings.warn(f"outside the {outside}", ValidityWarning, stacklevel=3)
    return (outside,)
