"""Time march of many pools at once: plain functions of SI arrays, time first, scenarios last.

Each scenario has its own time nodes; a fixed number of steps, passes and iterations serves all, so that no
answer depends on its batch.
"""

from __future__ import annotations

import dataclasses
from typing import Final

import numpy as np

from lpgrelease.conduction import Contact
from lpgrelease.errors import ConvergenceError, OutOfRangeError
from lpgrelease.fluids import Fluid
from lpgrelease.pool.evaporate import PoolSurface, blowing_factor_ackermann
from lpgrelease.pool.spread import initial_area, spread_gravity_inertia
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = ["PoolProblem", "PoolTrack", "march", "time_nodes"]

PASSES: Final = 4
ITERATIONS: Final = 6
GRADING: Final = 3
FILM_TOLERANCE: Final = 5e-3
"""Least agreement of heat and film in any one step: a tenth of the spread of the film's correlations."""
ROUNDING: Final = 1e-12
_TINY: Final = float(np.finfo(float).tiny)


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class PoolProblem:
    """What a march needs; every array has shape (scenarios,)."""

    fluid: Fluid
    surface: PoolSurface
    contact: Contact
    boiling_point: FloatArray
    pressure: FloatArray
    landing_temperature: FloatArray
    initial_mass: FloatArray
    feed_rate: FloatArray
    """Liquid that reaches the ground [kg/s]."""
    feed_end: FloatArray
    site_area: FloatArray
    site_depth: FloatArray
    minimum_depth: FloatArray


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class PoolTrack:
    """History at the nodes, (nodes, scenarios), and the time the pool was gone."""

    mass: FloatArray
    area: FloatArray
    density: FloatArray
    temperature: FloatArray
    fed: FloatArray
    evaporated: FloatArray
    overflow: FloatArray
    heat_ground: FloatArray
    heat_air: FloatArray
    heat_longwave: FloatArray
    heat_sun: FloatArray
    energy_residual: FloatArray
    """Of each step, relative to the heat it moved."""
    gone_at: FloatArray


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class _State:
    mass: FloatArray
    area: FloatArray
    temperature: FloatArray
    film: FloatArray
    """Logarithm of z = ln(1 / (1 - p_s / p)), where the last step ended."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class _Step:
    """One step's fixed quantities."""

    length: FloatArray
    fed: FloatArray
    history: FloatArray
    """Heat the ground gives in this step for all that went before [J]."""
    kernel: FloatArray
    """Heat per unit rise of area times A within this step [s^0.5]."""
    loaded: FloatArray
    """Area times A at the start [W s^0.5]."""
    feed_enthalpy: FloatArray


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class _Film:
    """The film of vapor over a pool at the end of a step."""

    temperature: FloatArray
    zeta: FloatArray
    convection: FloatArray
    """Coefficient of convection, blowing included [W/m2/K]."""
    flux: FloatArray
    """Vapor that diffuses away [kg/m2/s]."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class _Trial:
    """One attempt at a step."""

    area: FloatArray
    temperature: FloatArray
    film: FloatArray
    density: FloatArray
    latent: FloatArray
    loaded: FloatArray
    heats: dict[str, FloatArray]
    heat: FloatArray
    warmed: FloatArray
    """Heat the liquid gives up by cooling [J]."""
    wanted: FloatArray
    """Mass that all this heat evaporates [kg]."""
    carried: FloatArray
    """Mass that the film carries away [kg]."""
    stiffness: FloatArray
    """Fall of the final area per rise of it."""


def time_nodes(feed_end: FloatArray, duration: FloatArray, nodes: int) -> FloatArray:
    """Time nodes (nodes, scenarios) [s], dense after the start and after the end of the feed, which is one.

    Half of the steps fall into the feed where it ends within the duration.
    """
    steps = nodes - 1
    split = np.where(feed_end >= duration, steps, np.where(feed_end > 0.0, steps // 2, 0))
    first = np.minimum(feed_end, duration)
    j = np.arange(nodes, dtype=float)[:, None]
    x = np.clip(j / np.maximum(split, 1), 0.0, 1.0)
    s = np.clip((j - split) / np.maximum(steps - split, 1), 0.0, 1.0)
    rise = np.where(split > 0, first * (x * x * x), 0.0) + (duration - first) * (s * s * s)
    return np.where(j >= steps, duration, np.where(j == split, first, rise))


def march(problem: PoolProblem, times: FloatArray) -> PoolTrack:
    """March the pools of `problem` over their own time nodes, (nodes, scenarios)."""
    nodes, size = times.shape
    state = _start(problem)
    record = {f.name: np.zeros((nodes, size)) for f in dataclasses.fields(PoolTrack) if f.name != "gone_at"}
    feed_enthalpy, density = problem.fluid.saturated(
        problem.landing_temperature, "liquid_enthalpy", "liquid_density"
    )
    record["mass"][0], record["area"][0] = state.mass, state.area
    record["overflow"][0] = problem.initial_mass - state.mass
    record["temperature"][0], record["density"][0] = state.temperature, density
    loaded = state.area * problem.contact.line(state.temperature)[0]
    at_once, rises = loaded, np.zeros((nodes - 1, size))
    weights = np.zeros((0, size))
    gone_at = np.where(problem.initial_mass + problem.feed_rate > 0.0, np.inf, 0.0)
    for j in range(nodes - 1):
        new_weights = _cell_means(np.sqrt(times[j + 1] - times[: j + 2]))
        root = np.sqrt(times[j + 1]) - np.sqrt(times[j])
        past = _fold_sum(rises[:j] * (new_weights[:j] - weights)) + 2.0 * root * at_once
        length = times[j + 1] - times[j]
        fed = problem.feed_rate * (
            np.minimum(times[j + 1], problem.feed_end) - np.minimum(times[j], problem.feed_end)
        )
        step = _Step(length, fed, past, new_weights[j], loaded, feed_enthalpy)
        state, moved, loaded_now, part = _advance(problem, state, step)
        rises[j], loaded, weights = loaded_now - loaded, loaded_now, new_weights
        for name, value in moved.items():
            record[name][j + 1] = value
        over = (times[j] >= problem.feed_end) & (state.mass <= 0.0) & np.isinf(gone_at)
        gone_at = np.where(over, times[j] + part * length, gone_at)
    for name in ("fed", "evaporated", "overflow", "heat_ground", "heat_air", "heat_longwave", "heat_sun"):
        np.add.accumulate(record[name], axis=0, out=record[name])
    return PoolTrack(**record, gone_at=gone_at)


def _start(p: PoolProblem) -> _State:
    density, pressure = p.fluid.saturated(p.landing_temperature, "liquid_density", "pressure")
    held = np.minimum(p.initial_mass, density * p.site_area * p.site_depth)
    area = np.minimum(initial_area(p.initial_mass / density), p.site_area)
    film = np.log(-np.log1p(-np.minimum(pressure / p.pressure, 0.99)))
    return _State(held, area, p.landing_temperature, film)


def _cell_means(roots: FloatArray) -> FloatArray:
    """Mean of 2 sqrt(t - tau) over the cells between nodes, from sqrt(t - node)."""
    a, b = roots[:-1], roots[1:]
    means: FloatArray = (4.0 / 3.0) * (a * a + a * b + b * b) / np.maximum(a + b, _TINY)
    return means


def _fold_sum(rows: FloatArray) -> FloatArray:
    """Sum over the first axis in an order that depends on its length alone."""
    if rows.shape[0] == 0:
        return np.zeros(rows.shape[1:])
    while rows.shape[0] > 1:
        half = (rows.shape[0] + 1) // 2
        folded = rows[:half].copy()
        folded[: rows.shape[0] - half] += rows[half:]
        rows = folded
    total: FloatArray = rows[0]
    return total


def _advance(
    p: PoolProblem, state: _State, step: _Step
) -> tuple[_State, dict[str, FloatArray], FloatArray, FloatArray]:
    """One step: spread, warm or cool, evaporate, overflow."""
    enthalpy, density = p.fluid.saturated(state.temperature, "liquid_enthalpy", "liquid_density")
    trial = None
    for _ in range(PASSES):
        area = _next_area(p, state, step, density, trial)
        trial = _try(p, state, step, enthalpy, area, trial)
    assert trial is not None
    return _settle(p, state, step, trial)


def _try(
    p: PoolProblem,
    state: _State,
    step: _Step,
    start_enthalpy: FloatArray,
    area: FloatArray,
    last: _Trial | None,
) -> _Trial:
    """Temperature, heats and evaporation of a step that ends with `area`."""
    active = state.mass + step.fed > 0.0
    mean_area = np.where(active, np.maximum(0.5 * (state.area + area), 1e-12), 1.0)
    surface = mean_area * step.length
    near = (state.temperature, state.film) if last is None else (last.temperature, last.film)
    film = _solve_film(p, state, step, area, mean_area, *near, start_enthalpy)
    T = film.temperature
    enthalpy, latent, density = p.fluid.saturated(T, "liquid_enthalpy", "latent_heat", "liquid_density")
    A = p.contact.line(T)[0]
    heats = {
        "heat_ground": step.history + step.kernel * (area * A - step.loaded),
        "heat_air": surface * (film.convection * (p.surface.air_temperature - T)),
        "heat_longwave": surface * p.surface.radiation(T)[0],
        "heat_sun": surface * p.surface.absorbed_sun,
    }
    from_above = heats["heat_air"] + heats["heat_longwave"] + heats["heat_sun"]
    heat = heats["heat_ground"] + from_above
    warmed = state.mass * (start_enthalpy - enthalpy) + step.fed * (step.feed_enthalpy - enthalpy)
    return _Trial(
        area=area,
        temperature=T,
        film=film.zeta,
        density=density,
        latent=latent,
        loaded=area * A,
        heats=heats,
        heat=heat,
        warmed=warmed,
        wanted=(heat + warmed) / latent,
        carried=film.flux * surface,
        stiffness=(step.kernel * A + 0.5 * from_above / mean_area) / (density * latent * p.minimum_depth),
    )


def _settle(
    p: PoolProblem, state: _State, step: _Step, trial: _Trial
) -> tuple[_State, dict[str, FloatArray], FloatArray, FloatArray]:
    """Close the books of a step."""
    supply = state.mass + step.fed
    active = supply > 0.0
    dry = active & (trial.wanted >= supply)
    _check_film(p, active & ~dry, trial, supply)
    evaporated = np.where(active, np.where(dry, supply, trial.wanted), 0.0)
    part = np.where(dry, supply / np.where(dry, trial.wanted, 1.0), 1.0)
    needed = (evaporated * trial.latent - trial.warmed) / np.where(dry, trial.heat, 1.0)
    used = np.where(dry, needed, np.where(active, 1.0, 0.0))
    booked = {name: used * value for name, value in trial.heats.items()}
    mass = supply - evaporated
    overflow = np.maximum(mass - trial.density * p.site_area * p.site_depth, 0.0)
    mass = mass - overflow
    gone = ~active | (dry & (step.fed <= 0.0))
    area = np.where(gone, 0.0, trial.area)
    temperature = np.where(active & ~dry, trial.temperature, state.temperature)
    total = used * trial.heat
    error = (total + trial.warmed - evaporated * trial.latent) / _scale(total, trial.warmed)
    moved = booked | {
        "mass": mass,
        "area": area,
        "density": trial.density,
        "temperature": temperature,
        "fed": step.fed,
        "evaporated": evaporated,
        "overflow": overflow,
        "energy_residual": np.where(active, error, 0.0),
    }
    loaded = np.where(gone, 0.0, trial.loaded)
    return _State(mass, area, temperature, trial.film), moved, loaded, part


def _scale(first: FloatArray, second: FloatArray) -> FloatArray:
    scale: FloatArray = np.maximum(np.abs(first) + np.abs(second), _TINY)
    return scale


def _next_area(
    p: PoolProblem, state: _State, step: _Step, start_density: FloatArray, trial: _Trial | None
) -> FloatArray:
    """Area at the end of a step; by Newton's method where it follows the mass at once."""
    before = state.mass / start_density
    after = (state.mass + step.fed - (0.0 if trial is None else trial.wanted)) / start_density
    moving, rest, settled = spread_gravity_inertia(
        state.area, before, np.maximum(after, 0.0), minimum_depth=p.minimum_depth, time_step=step.length
    )
    target = (rest + np.minimum(after, 0.0)) / p.minimum_depth
    if trial is not None:
        target = trial.area + (target - trial.area) / (1.0 + np.maximum(trial.stiffness, 0.0))
    area = np.where(settled, target, moving)
    return np.minimum(np.maximum(area, state.area), p.site_area)


def _solve_film(
    p: PoolProblem,
    state: _State,
    step: _Step,
    area: FloatArray,
    mean_area: FloatArray,
    T_ref: FloatArray,
    zeta: FloatArray,
    start_enthalpy: FloatArray,
) -> _Film:
    """Temperature at which the film carries away the vapor that the heat makes.

    Solved for zeta = ln z, z = ln(1 / (1 - y)), y = p_s / p: H(T) = C L z, with the heat H of the step and
    C = k rho S dt. Newton's method kept inside a bracket: on logarithms where the film governs (z may be
    anything near the boiling point), on the balance itself where the warmth of the liquid does.
    """
    names = ("pressure", "liquid_enthalpy", "latent_heat", "liquid_heat_capacity", "vapor_heat_capacity")
    pressure, h_ref, latent, c, c_vapor = p.fluid.saturated(T_ref, *names)
    Ta, Tb, lam = p.surface.air_temperature, p.boiling_point, _clapeyron(p, T_ref, pressure)
    coefficients = p.surface.coefficients(mean_area)
    surface, warmth = mean_area * step.length, (state.mass + step.fed) * c
    fixed = step.history - step.kernel * step.loaded + surface * p.surface.absorbed_sun
    fixed = fixed + state.mass * (start_enthalpy - h_ref) + step.fed * (step.feed_enthalpy - h_ref)
    lowest = np.full_like(Tb, p.fluid.lowest_temperature)
    low = np.log(-np.log1p(-np.exp(lam * (1.0 / Tb - 1.0 / lowest))))
    high = np.full_like(low, 60.0)
    zeta = np.clip(zeta, low, high)
    for _ in range(ITERATIONS):
        T, slope = _temperature(zeta, Tb, lam)
        k_rho, h = p.surface.transfer(coefficients, T)
        z = np.exp(zeta)
        phi = k_rho * z * c_vapor / h
        F = blowing_factor_ackermann(phi)
        longwave, longwave_slope = p.surface.radiation(T)
        A, A_slope = p.contact.line(T)
        ground = fixed + step.kernel * (area * A) - warmth * (T - T_ref)
        H = ground + surface * (h * F * (Ta - T) + longwave)
        dH = (step.kernel * (area * A_slope) - warmth + surface * (longwave_slope - h * F)) * slope
        dH = dH + surface * h * (Ta - T) * F * (1.0 - F - phi)
        L = latent + (c_vapor - c) * (T - T_ref)
        zeta, low, high = _newton(zeta, low, high, H, dH, np.maximum(k_rho * surface * L * z, _TINY))
    T, _ = _temperature(zeta, Tb, lam)
    k_rho, h = p.surface.transfer(coefficients, T)
    flux = k_rho * np.exp(zeta)
    return _Film(T, zeta, h * blowing_factor_ackermann(flux * c_vapor / h), flux)


def _newton(
    zeta: FloatArray, low: FloatArray, high: FloatArray, H: FloatArray, dH: FloatArray, carried: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """One step towards H = `carried`, which rises as exp(zeta), inside a bracket that closes."""
    up = carried < H
    low, high = np.where(up, zeta, low), np.where(up, high, zeta)
    boiling = (H > 0.0) & (-dH < carried)
    straight = (H - carried) / np.minimum(dH - carried, -_TINY)
    H, carried = np.where(boiling, H, 1.0), np.where(boiling, carried, 1.0)
    new = zeta - np.where(boiling, np.log(H / carried) / np.where(boiling, dH / H - 1.0, -1.0), straight)
    inside = (new >= low) & (new <= high)
    return np.where(inside, new, 0.5 * (low + high)), low, high


def _temperature(zeta: FloatArray, Tb: FloatArray, lam: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Temperature at which p_s / p = 1 - exp(-z), and its slope by zeta [K]."""
    z = np.exp(zeta)
    y = -np.expm1(-z)
    T = 1.0 / (1.0 / Tb - np.log(y) / lam)
    return T, T * T / lam * (z * np.exp(-z) / y)


def _clapeyron(p: PoolProblem, T: FloatArray, pressure: FloatArray) -> FloatArray:
    """Lambda of p_s = p exp(Lambda (1/T_b - 1/T)), exact at T_b and at T [K]."""
    Tb = p.boiling_point
    far = Tb - T > 0.1
    (at_boiling,) = p.fluid.saturated(Tb, "clapeyron")
    gap = np.where(far, 1.0 / np.where(far, T, 1.0) - 1.0 / Tb, 1.0)
    return np.where(far, np.log(p.pressure / pressure) / gap, Tb * at_boiling / p.pressure)


def _check_film(p: PoolProblem, where: BoolArray, trial: _Trial, supply: FloatArray) -> None:
    """Refuse a step whose vapor the film could not have carried."""
    error = np.abs(trial.wanted - trial.carried)
    allowed = FILM_TOLERANCE * trial.carried + ROUNDING * supply
    worst = np.where(where, error / np.maximum(allowed, _TINY), 0.0)
    if not worst.size or worst.max() <= 1.0:
        return
    i = int(np.argmax(worst))
    T, lowest = float(trial.temperature[i]), p.fluid.lowest_temperature
    if T - lowest < 0.01:
        why = f"evaporation would cool {p.fluid.name} below its triple point or the tables"
        raise OutOfRangeError("temperature of the pool", T, "K", lowest + 0.01, None, why)
    state = {"evaporated": float(trial.wanted[i]), "temperature": T}
    raise ConvergenceError("temperature of a pool", float(error[i] / trial.carried[i]), state)
