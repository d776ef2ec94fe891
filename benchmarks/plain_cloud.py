"""The cloud's march as one would write it for one case, with `math` alone: vapor of a small source, no drops.

Written beside the library from the equations on its page, as slow side of a ratio and second opinion.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

G, R, M_AIR, M_WATER, CP_AIR, L_WATER = 9.80665, 8.31446261815324, 0.0289655, 0.018015, 1006.0, 2.50e6
GOLDER = ((-0.096, 0.029), (-0.037, 0.029), (-0.002, 0.018), (0.0, 0.0), (0.004, -0.018), (0.035, -0.036))
LATERAL = (0.22, 0.16, 0.11, 0.08, 0.06, 0.04)
VERTICAL = (
    (0.20, 0.0, 0.0),
    (0.12, 0.0, 0.0),
    (0.08, 2e-4, -0.5),
    (0.06, 1.5e-3, -0.5),
    (0.03, 3e-4, -1.0),
    (0.016, 3e-4, -1.0),
)


@dataclass
class Case:
    """One source of vapor, its air and what is asked; class 0 (A) to 5 (F)."""

    mass_flow: float
    molar_mass: float
    heat_capacity: float
    temperature: float
    air_temperature: float
    relative_humidity: float
    wind: float
    stability: int
    threshold: float
    roughness: float = 0.03
    pressure: float = 101325.0
    averaging_time: float = 20.0
    steps: int = 72


def distance(case: Case) -> float:
    """Distance at which the mole fraction on the axis falls to the threshold [m]."""
    air = case.pressure * M_AIR / (R * case.air_temperature)
    friction, n, rough = _wind(case)
    pure = _density(case, 0.0)
    q = case.mass_flow / pure
    b = 0.5 * math.sqrt(q / case.wind) + 4.0 * G * max(pure - air, 0.0) / air * q / case.wind**3
    thin = case.threshold / 20.0
    end = math.log1p(M_AIR / case.molar_mass * (1.0 / thin - 1.0) * (1.0 + 1e-9))
    short = (case.averaging_time / 600.0) ** 0.2
    step = end / case.steps
    density = [_density(case, math.expm1(end * i / (2 * case.steps))) for i in range(2 * case.steps + 1)]
    state, last = (0.0, b, 0.0), None
    for i in range(case.steps + 1):
        fraction = 1.0 / (1.0 + math.expm1(step * i) * case.molar_mass / M_AIR)
        axis = fraction * (
            math.erf(state[1] / (math.sqrt(2.0) * short * state[2])) if state[2] > 0.0 else 1.0
        )
        if axis < case.threshold and last is not None:
            share = math.log(last[1] / case.threshold) / math.log(last[1] / axis)
            return last[0] + share * (state[0] - last[0])
        last = (state[0], axis)
        if i == case.steps:
            break

        def slope(at: tuple[float, ...], node: int) -> tuple[float, ...]:
            flow = case.mass_flow * math.exp(end * node / (2 * case.steps))
            return _slope(case, at, flow, density[node], air, friction, n, rough, short)

        k1 = slope(state, 2 * i)
        k2 = slope(_moved(state, k1, 0.5 * step), 2 * i + 1)
        k3 = slope(_moved(state, k2, 0.5 * step), 2 * i + 1)
        k4 = slope(_moved(state, k3, step), 2 * i + 2)
        state = tuple(
            y + step / 6.0 * (a + 2.0 * c + 2.0 * d + e)
            for y, a, c, d, e in zip(state, k1, k2, k3, k4, strict=True)
        )
    return state[0]


def _moved(state: tuple[float, ...], slope: tuple[float, ...], step: float) -> tuple[float, ...]:
    return tuple(y + step * k for y, k in zip(state, slope, strict=True))


def _slope(case, state, flow, density, air, friction, n, rough, short):
    _, b, s = state
    axis = math.erf(b / (math.sqrt(2.0) * short * s)) if s > 0.0 else 1.0
    gravity = G * max(density - air, 0.0) / air * axis
    u10 = case.wind
    scale = u10 / ((1.0 + n) * 10.0**n)
    K = flow / (2.0 * b * density)
    h = max((K / scale) ** (1.0 / (1.0 + n)), K / u10)
    for _ in range(4):
        wind = min(scale * h**n, u10)
        a = 2.0 * b / h * (friction / wind) ** 2
        c = 1.0 / 1.15**2 + a
        head = gravity * h
        v = 2.0 * head / (a * wind + math.sqrt((a * wind) ** 2 + 4.0 * c * head) + 1e-300)
        u = math.hypot(wind, v)
        power = 1.0 + ((n if wind < u10 else 0.0) * wind * wind + (0.5 + 0.5 * a / c) * v * v) / (u * u)
        h *= (K / (h * u)) ** (1.0 / power)
    damping = 1.0 / (1.0 + 0.2 * gravity * h / friction**2)
    a, k, q = VERTICAL[case.stability]
    growth = _growth(a, k, q, h / math.sqrt(0.5 * math.pi)) * rough * math.sqrt(0.5 * math.pi)
    top = 10.0 * (1.0 + n) ** (1.0 / n)
    passive = u10 * ((h / 10.0) ** n if h < top else 1.0) * growth
    dx = flow / (2.0 * b * air * damping * (damping * passive + (1.0 - damping) * 0.65 * friction))
    edge = damping * _growth(LATERAL[case.stability], 1e-4, -0.5, s)
    return dx, v / (K / h) * dx, edge * dx


def _growth(a: float, k: float, q: float, sigma: float) -> float:
    if q == 0.0:
        return a
    if q == -1.0:
        x = sigma / (a - k * sigma) if a > k * sigma else math.inf
    else:
        x = (k * sigma**2 + math.sqrt(k * k * sigma**4 + 4.0 * a * a * sigma**2)) / (2.0 * a * a)
    x = min(x, 1e4)
    base = 1.0 + k * x
    return a * base**q * (1.0 + q * k * x / base)


def _wind(case: Case) -> tuple[float, float, float]:
    def profile(z: float, z0: float) -> float:
        a, b = GOLDER[case.stability]
        zeta = z * (a + b * math.log10(z0))
        if zeta >= 0.0:
            return math.log(z / z0) + 5.0 * zeta
        x = (1.0 - 16.0 * zeta) ** 0.25
        psi = (
            2.0 * math.log((1.0 + x) / 2.0)
            + math.log((1.0 + x * x) / 2.0)
            - 2.0 * math.atan(x)
            + math.pi / 2.0
        )
        return math.log(z / z0) - psi

    high = profile(10.0, case.roughness)
    n = math.log(high / profile(1.0, case.roughness)) / math.log(10.0)
    return 0.4 * case.wind / high, n, profile(10.0, 0.03) / high


def _density(case: Case, r: float) -> float:
    """Of the mixture with r kg of air to 1 kg of gas, by bisection in temperature."""
    ta, p = case.air_temperature, case.pressure

    def pressure_of_water(t: float) -> float:
        return 610.94 * math.exp(17.625 * (t - 273.15) / (t - 273.15 + 243.04))

    e = case.relative_humidity * pressure_of_water(ta)
    humidity = M_WATER / M_AIR * e / (p - e)
    capacity = case.heat_capacity + r * CP_AIR
    bare = ta + case.heat_capacity * (case.temperature - ta) / capacity

    def condensed(t: float) -> float:
        if r <= 0.0:
            return 0.0
        e = pressure_of_water(t)
        return max(humidity - M_WATER * (1.0 / M_AIR + 1.0 / (case.molar_mass * r)) * e / (p - e), 0.0)

    low, high = bare, max(ta, bare)
    if condensed(bare) > 0.0:
        for _ in range(45):
            middle = 0.5 * (low + high)
            if capacity * (middle - bare) > r * L_WATER * condensed(middle):
                high = middle
            else:
                low = middle
    moles = 1.0 / case.molar_mass + r / M_AIR - r * condensed(low) / M_WATER
    return (1.0 + r) * p / (moles * R * low)
