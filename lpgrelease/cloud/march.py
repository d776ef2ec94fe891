"""A cloud of heavy gas from its source until it is as thin as asked: one integral model, marched in dilution.

SI arrays of one shape, unchecked. The dilution at which a threshold is reached is known beforehand, so the
march needs no search for an end, and the gas in every plane is that of the source by construction.
"""

from __future__ import annotations

import dataclasses
import math
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from lpgrelease.cloud.mixing import Mixer
from lpgrelease.cloud.plume import BRIGGS_RANGE, Spread
from lpgrelease.cloud.section import error_function
from lpgrelease.cloud.stability import WindProfile
from lpgrelease.constants import STANDARD_GRAVITY
from lpgrelease.quantities import FloatArray

__all__ = ["SERVED_BY", "CloudProblem", "CloudTrack", "entrainment_damping", "march"]

STEPS: Final = 72
SPREADING: Final = 1.15
"""Front speed over (g' h)^(1/2) of a heavy layer; van Ulden, from memory."""
ENTRAINMENT: Final = 0.65
"""Entrainment velocity over friction velocity without density difference."""
DAMPING: Final = 0.2
"""Weight of the Richardson number in the damping of entrainment."""
DEPTH_STEPS: Final = 4
JET_DECAY: Final = 5.4
"""Axial decay of the mass fraction in a round jet: c = K D (rho0/rho_a)^(1/2) / x."""
PASSIVE_SHARE: Final = 0.1
"""Where stratification takes less than this from the entrainment, and gravity adds less than this to
the width, the passive curves are said to serve."""
DEPTH_OF_SPREAD: Final = math.sqrt(0.5 * math.pi)
"""Depth over vertical spread: the layer of ground-level concentration that holds as much gas."""
SERVED_BY: Final = ("jet", "dense layer", "passive plume")


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class CloudProblem:
    """All that a march needs.

    Parameters
    ----------
    mixer : Mixer
    wind : WindProfile
    lateral, vertical : Spread
        Curves of the scenarios' classes.
    lateral_factor : ndarray
        Of the averaging time.
    mass_flow, velocity, height, half_width : ndarray
        Q [kg/s], of the jet [m/s], its height [m], half the source's width [m].
    end : ndarray
        ln(1 + r) where the march ends, r kg of air to 1 kg of gas.
    """

    mixer: Mixer
    wind: WindProfile
    lateral: Spread
    vertical: Spread
    lateral_factor: FloatArray
    mass_flow: FloatArray
    velocity: FloatArray
    height: FloatArray
    half_width: FloatArray
    end: FloatArray


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class CloudTrack:
    """Planes across the cloud: first axis the planes, second the scenarios.

    Parameters
    ----------
    distance, time : ndarray
        [m], [s] since the gas left its source.
    half_width, depth, edge_spread : ndarray
        Of the core, b; of the layer, h; lateral spread at the core's edges [m].
    air_ratio, temperature, density, drops, speed : ndarray
        Of the core.
    served : ndarray of int
        Index into `SERVED_BY`.
    """

    distance: FloatArray
    time: FloatArray
    half_width: FloatArray
    depth: FloatArray
    edge_spread: FloatArray
    air_ratio: FloatArray
    temperature: FloatArray
    density: FloatArray
    drops: FloatArray
    speed: FloatArray
    served: NDArray[np.intp]


def entrainment_damping(richardson: FloatArray) -> FloatArray:
    """Share of its entrainment that a heavy layer keeps, by its Richardson number g' h / u*^2.

    Measured in wind tunnels over rough ground up to 15.

    Notes
    -----
    w_e/u* = 0.65/(1 + 0.2 Ri). References: robins2001dense (abstract).

    Examples
    --------
    >>> print(entrainment_damping(np.float64(5.0)))
    0.5
    """
    return np.asarray(1.0 / (1.0 + DAMPING * richardson))


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class _Plane:
    """Mixture and momentum at one dilution."""

    total: FloatArray
    density: FloatArray
    density_slope: FloatArray
    excess: FloatArray


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class _Rates:
    per_dilution: tuple[FloatArray, FloatArray, FloatArray, FloatArray]
    depth: FloatArray
    speed: FloatArray
    served: NDArray[np.intp]


def march(problem: CloudProblem) -> CloudTrack:
    """Planes from the source to the end; classical Runge-Kutta of fourth order in ln(1 + r).

    Notes
    -----
    With M = Q (1 + r) the flow of the mixture whose concentration is that on the axis at the ground,

    * M = 2 b h rho u, u = u_a(h) + (u_jet - u_a) Q/M: depth h follows from b;
    * dM/dx is the larger of the jet's own entrainment and that of the layer, 2 b rho_a w_e;
    * db/dx = 1.15 (g' h)^(1/2) / u; in a jet b also keeps its ratio to h;
    * w_e (1 + 0.2 Ri) passes from the growth of Briggs' curve to 0.65 u* as Ri = g' h / u*^2 grows;
    * the core's edges spread as Briggs' lateral curve, damped in the same way.
    """
    nodes = 2 * STEPS + 1
    step = problem.end / STEPS
    zeta = [problem.end * (i / (nodes - 1)) for i in range(nodes)]
    mixtures = []
    drops = problem.mixer.liquid_fraction
    for z in zeta:
        mixture = problem.mixer.mix(np.expm1(z), drops)
        drops = mixture.drops
        mixtures.append(mixture)
    logs = [np.log(mixture.density) for mixture in mixtures]
    planes = []
    for i in range(nodes):
        low, high = max(i - 1, 0), min(i + 1, nodes - 1)
        slope = (logs[high] - logs[low]) / np.where(problem.end > 0.0, zeta[high] - zeta[low], 1.0)
        planes.append(_plane(problem, zeta[i], mixtures[i].density, slope))
    state = _start(problem, planes[0])
    rows: list[tuple[Any, ...]] = []
    for i in range(STEPS + 1):
        now = planes[2 * i]
        rates = _rates(problem, now, state)
        x, b, s, t = state
        mixture = mixtures[2 * i]
        rows.append(
            (
                *(x, t, b, rates.depth, problem.lateral_factor * s, np.expm1(zeta[2 * i])),
                *(mixture.temperature, mixture.density, mixture.drops, rates.speed, rates.served),
            )
        )
        if i < STEPS:
            state = _runge_kutta(problem, planes[2 * i : 2 * i + 3], state, rates, step)
    return CloudTrack(*(np.stack(column) for column in zip(*rows, strict=True)))


State = tuple[FloatArray, FloatArray, FloatArray, FloatArray]


def _plane(p: CloudProblem, zeta: FloatArray, density: FloatArray, slope: FloatArray) -> _Plane:
    excess = np.maximum(p.velocity - p.wind.speed, 0.0) * np.exp(-zeta)
    return _Plane(p.mass_flow * np.exp(zeta), density, slope, excess)


def _start(p: CloudProblem, plane: _Plane) -> State:
    jet = p.velocity > p.wind.speed
    area = p.mass_flow / (plane.density * np.where(jet, p.velocity, 1.0))
    b = np.where(jet, np.sqrt(0.5 * area), p.half_width)
    zero = np.zeros_like(b)
    return zero, b, zero, zero


def _runge_kutta(
    p: CloudProblem, planes: list[_Plane], state: State, first: _Rates, step: FloatArray
) -> State:
    def moved(rates: _Rates, part: float) -> State:
        x, b, s, t = (y + part * step * dy for y, dy in zip(state, rates.per_dilution, strict=True))
        return x, b, s, t

    second = _rates(p, planes[1], moved(first, 0.5))
    third = _rates(p, planes[1], moved(second, 0.5))
    fourth = _rates(p, planes[2], moved(third, 1.0))
    slopes = zip(
        first.per_dilution, second.per_dilution, third.per_dilution, fourth.per_dilution, strict=True
    )
    x, b, s, t = (
        y + step / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4)
        for y, (k1, k2, k3, k4) in zip(state, slopes, strict=True)
    )
    return x, b, s, t


def _rates(p: CloudProblem, plane: _Plane, state: State) -> _Rates:
    """Give the derivatives of distance, width, edge spread and time by ln(1 + r)."""
    _, b, s, _ = state
    gravity = _reduced_gravity(p, plane, b, s)
    h, u, front = _depth(p, plane, b, gravity)
    layer, damping = _layer(p, b, h, gravity)
    jet = _jet(p, plane, b, h, u)
    in_jet = jet > layer
    dx = plane.total / np.maximum(jet, layer)
    widened = front / u * dx
    keep = 0.5 * b * np.maximum(1.0 - plane.density_slope + plane.excess / u, 0.0)
    ds = np.where(in_jet, 0.0, damping * _growth(p.lateral, s) * dx)
    passive = (damping > 1.0 - PASSIVE_SHARE) & (widened < PASSIVE_SHARE * (b + p.lateral_factor * s))
    served = np.where(in_jet, 0, np.where(passive, 2, 1))
    return _Rates((dx, widened + np.where(in_jet, keep, 0.0), ds, dx / u), h, u, served)


def _growth(curve: Spread, sigma: FloatArray) -> FloatArray:
    """Slope of a curve where it has the spread `sigma`; beyond the curves' 10 km as at 10 km."""
    return curve.slope(np.minimum(curve.distance(sigma), BRIGGS_RANGE[1]))


def _reduced_gravity(p: CloudProblem, plane: _Plane, b: FloatArray, s: FloatArray) -> FloatArray:
    """Reduced gravity of the mixture on the axis [m/s2], less where the edges have reached it."""
    air, sigma = p.mixer.air_density, p.lateral_factor * s
    thin = sigma > 1e-9
    axis = np.where(thin, error_function(b / (math.sqrt(2.0) * np.where(thin, sigma, 1.0))), 1.0)
    return np.asarray(STANDARD_GRAVITY * np.maximum(plane.density - air, 0.0) / air * axis)


def _depth(
    p: CloudProblem, plane: _Plane, b: FloatArray, gravity: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Depth of the layer [m], its speed downwind and that of its front aside [m/s].

    Notes
    -----
    u = (u_a^2 + v^2)^(1/2) + excess of the jet: in light wind a heavy layer flows on its own weight, downwind
    as it does aside. u_a is the mean wind over the depth, never above that at 10 m. Newton in ln h; the speed
    is then taken from the flow, so that the gas in the plane is exact whatever is left of the search.
    """
    n, u10 = p.wind.exponent, p.wind.speed
    scale = u10 / ((1.0 + n) * np.power(10.0, n))
    K = plane.total / (2.0 * b * plane.density)
    h = np.power(K / scale, 1.0 / (1.0 + n))
    h = np.maximum(h, K / u10)
    v = np.zeros_like(h)
    for _ in range(DEPTH_STEPS):
        wind = np.minimum(scale * np.power(h, n), u10)
        v, share = _front_speed(gravity * h, b / h, p.wind.friction_velocity / wind, wind)
        core = np.sqrt(wind * wind + v * v)
        u = core + plane.excess
        power = 1.0 + (np.where(wind < u10, n, 0.0) * wind * wind + (0.5 + 0.5 * share) * v * v) / (core * u)
        h = h * np.power(K / (h * u), 1.0 / power)
    return h, K / h, v


def _front_speed(
    head: FloatArray, aspect: FloatArray, friction: FloatArray, wind: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Speed at which gravity spreads the layer [m/s], and the share of friction in holding it back.

    Notes
    -----
    Head g' h = v^2/k^2 + 2 (b/h) C (u_a + v) v, C = (u*/u_a)^2 the friction of the wind over the same depth:
    van Ulden's front k (g' h)^(1/2) for a deep layer, the balance of slope and drag for a thin wide one.
    """
    a = 2.0 * aspect * friction * friction
    c = 1.0 / (SPREADING * SPREADING) + a
    v = 2.0 * head / (a * wind + np.sqrt(a * a * wind * wind + 4.0 * c * head) + 1e-300)
    return v, a / c


def _layer(
    p: CloudProblem, b: FloatArray, h: FloatArray, gravity: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Entrainment of the layer [kg/m/s] and its damping."""
    n, friction = p.wind.exponent, p.wind.friction_velocity
    damping = entrainment_damping(gravity * h / (friction * friction))
    sz = h / DEPTH_OF_SPREAD
    growth = _growth(p.vertical, sz) * p.wind.roughness_factor * DEPTH_OF_SPREAD
    top = 10.0 * np.power(1.0 + n, 1.0 / n)
    at_top = p.wind.speed * np.where(h < top, np.power(np.minimum(h, top) / 10.0, n), 1.0)
    velocity = damping * (damping * at_top * growth + (1.0 - damping) * ENTRAINMENT * friction)
    return 2.0 * b * p.mixer.air_density * velocity, damping


def _jet(p: CloudProblem, plane: _Plane, b: FloatArray, h: FloatArray, u: FloatArray) -> FloatArray:
    """Entrainment of a jet [kg/m/s], less by the square root of two once it touches the ground.

    Notes
    -----
    In still air dM/dx = (pi^(1/2) / (2 K)) (rho_a J)^(1/2), J the flow of excess momentum; in a wind it
    falls with the square root of the excess of velocity over velocity. The ground: a half-jet and its image.
    """
    constant = 0.5 * math.sqrt(math.pi) / JET_DECAY
    momentum = plane.total * plane.excess
    touching = np.sqrt(2.0 * b * h / math.pi) >= p.height
    free = constant * np.sqrt(p.mixer.air_density * momentum * plane.excess / u)
    return np.asarray(np.where(touching, math.sqrt(0.5), 1.0) * free)
