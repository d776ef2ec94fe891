"""Time march of many pools at once: plain functions of SI arrays, time first, scenarios last.

Each scenario has its own time nodes; a fixed number of steps, passes and iterations serves all, so that no
answer depends on its batch.
"""

from __future__ import annotations

import dataclasses
from typing import Final

import numpy as np

from lpgrelease.errors import ConvergenceError
from lpgrelease.fluids import Fluid
from lpgrelease.ground import Contact
from lpgrelease.pool.evaporate import PoolSurface, blowing_factor_ackermann
from lpgrelease.pool.spread import initial_area, mean_spreading_volume, spread_gravity_inertia
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = ["PoolProblem", "PoolTrack", "march", "time_nodes"]

PASSES: Final = 3
ITERATIONS: Final = 7
GRADING: Final = 3
FILM_TOLERANCE: Final = 1e-3
_TINY: Final = float(np.finfo(float).tiny)
_ROWS: Final = ("pressure", "liquid_enthalpy", "latent_heat", "liquid_density", "liquid_heat_capacity")


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
    (density,) = p.fluid.saturated(p.landing_temperature, "liquid_density")
    area = np.minimum(initial_area(p.initial_mass / density), p.site_area)
    return _State(p.initial_mass, area, p.landing_temperature, np.zeros_like(area))


def _cell_means(roots: FloatArray) -> FloatArray:
    """Mean of 2 sqrt(t - tau) over the cells between nodes, from sqrt(t - node)."""
    a, b = roots[:-1], roots[1:]
    return (4.0 / 3.0) * (a * a + a * b + b * b) / np.maximum(a + b, _TINY)  # type: ignore[no-any-return]


def _fold_sum(rows: FloatArray) -> FloatArray:
    """Sum over the first axis in an order that depends on its length alone."""
    if rows.shape[0] == 0:
        return np.zeros(rows.shape[1:])
    while rows.shape[0] > 1:
        half = (rows.shape[0] + 1) // 2
        folded = rows[:half].copy()
        folded[: rows.shape[0] - half] += rows[half:]
        rows = folded
    return rows[0]


def _advance(
    p: PoolProblem, state: _State, step: _Step
) -> tuple[_State, dict[str, FloatArray], FloatArray, FloatArray]:
    """One step: spread, warm or cool, evaporate, overflow."""
    supply = state.mass + step.fed
    active = supply > 0.0
    (start_enthalpy, start_density) = p.fluid.saturated(
        state.temperature, "liquid_enthalpy", "liquid_density"
    )
    T, zeta, area = state.temperature, state.film, state.area
    left, density, stiffness = supply, start_density, np.zeros_like(T)
    for number in range(PASSES):
        area = _next_area(p, state, step, left, start_density, density, area, stiffness if number else None)
        mean_area = np.where(active, np.maximum(0.5 * (state.area + area), 1e-12), 1.0)
        T, zeta, transfer, film_flux = _solve_temperature(
            p, state, step, area, mean_area, T, zeta, start_enthalpy
        )
        enthalpy, latent, density = p.fluid.saturated(T, "liquid_enthalpy", "latent_heat", "liquid_density")
        A = p.contact.line(T)[0]
        longwave, _ = p.surface.radiation(T)
        top = transfer * (p.surface.air_temperature - T)
        surface = mean_area * step.length
        heats = {
            "heat_ground": step.history + step.kernel * (area * A - step.loaded),
            "heat_air": surface * top,
            "heat_longwave": surface * longwave,
            "heat_sun": surface * p.surface.absorbed_sun,
        }
        heat = heats["heat_ground"] + heats["heat_air"] + heats["heat_longwave"] + heats["heat_sun"]
        warmed = state.mass * (start_enthalpy - enthalpy) + step.fed * (step.feed_enthalpy - enthalpy)
        wanted = (heat + warmed) / latent
        left = supply - wanted
        flux = top + longwave + p.surface.absorbed_sun
        stiffness = (step.kernel * A + 0.5 * step.length * flux) / (density * latent * p.minimum_depth)
    _check_film(active & (wanted < supply), wanted, film_flux * surface)
    return _settle(
        p,
        step,
        active,
        supply,
        wanted,
        heat,
        heats,
        warmed,
        latent,
        density,
        area,
        A,
        T,
        zeta,
        state.temperature,
    )


def _settle(
    p: PoolProblem,
    step: _Step,
    active: BoolArray,
    supply: FloatArray,
    wanted: FloatArray,
    heat: FloatArray,
    heats: dict[str, FloatArray],
    warmed: FloatArray,
    latent: FloatArray,
    density: FloatArray,
    area: FloatArray,
    A: FloatArray,
    T: FloatArray,
    zeta: FloatArray,
    held: FloatArray,
) -> tuple[_State, dict[str, FloatArray], FloatArray, FloatArray]:
    """Close the books of a step."""
    dry = active & (wanted >= supply)
    evaporated = np.where(active, np.where(dry, supply, wanted), 0.0)
    part = np.where(dry, supply / np.where(dry, wanted, 1.0), 1.0)
    used = np.where(
        dry, (evaporated * latent - warmed) / np.where(dry, heat, 1.0), np.where(active, 1.0, 0.0)
    )
    booked = {name: used * value for name, value in heats.items()}
    mass = supply - evaporated
    overflow = np.maximum(mass - density * p.site_area * p.site_depth, 0.0)
    mass = mass - overflow
    over = dry & (step.fed <= 0.0)
    area = np.where(over | ~active, 0.0, area)
    total = booked["heat_ground"] + booked["heat_air"] + booked["heat_longwave"] + booked["heat_sun"]
    moved = booked | {
        "mass": mass,
        "area": area,
        "density": density,
        "temperature": np.where(active & ~dry, T, held),
        "fed": step.fed,
        "evaporated": evaporated,
        "overflow": overflow,
        "energy_residual": np.where(
            active, (total + warmed - evaporated * latent) / _scale(total, warmed), 0.0
        ),
    }
    return _State(mass, area, moved["temperature"], zeta), moved, area * A, part


def _scale(*terms: FloatArray) -> FloatArray:
    total = np.zeros_like(terms[0])
    for term in terms:
        total = total + np.abs(term)
    return np.maximum(total, _TINY)


def _next_area(
    p: PoolProblem,
    state: _State,
    step: _Step,
    left: FloatArray,
    start_density: FloatArray,
    density: FloatArray,
    guess: FloatArray,
    stiffness: FloatArray | None,
) -> FloatArray:
    """Area at the end of a step, given the mass left; Newton's step where it follows the mass at once."""
    before, after = state.mass / start_density, left / density
    held = np.maximum(after, 0.0)
    mean = mean_spreading_volume(before, held)
    area, settled = spread_gravity_inertia(
        state.area, mean, held, minimum_depth=p.minimum_depth, time_step=step.length
    )
    if stiffness is not None:
        newton = guess + (after / p.minimum_depth - guess) / (1.0 + np.maximum(stiffness, 0.0))
        area = np.where(settled, newton, area)
    return np.minimum(np.maximum(area, state.area), p.site_area)


def _solve_temperature(
    p: PoolProblem,
    state: _State,
    step: _Step,
    area: FloatArray,
    mean_area: FloatArray,
    T_ref: FloatArray,
    zeta: FloatArray,
    start_enthalpy: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Temperature at which the film carries away the vapor that the heat makes.

    Solved for zeta = ln z, z = ln(1 / (1 - y)), y = p_s / p: H(T) = C L z, with the heat H of the step and
    C = k rho S dt. Newton's method kept inside a bracket: on logarithms where the film governs (z may be
    anything near the boiling point), on the balance itself where the warmth of the liquid does.
    """
    pressure, h_ref, L, _, c = p.fluid.saturated(T_ref, *_ROWS)
    (vapor_capacity,) = p.fluid.saturated(T_ref, "vapor_heat_capacity")
    Tb, lam = p.boiling_point, _clapeyron(p, T_ref, pressure)
    k_rho, h = p.surface.coefficients(mean_area, T_ref)
    A, slope = p.contact.line(T_ref)
    surface = mean_area * step.length
    C, supply = np.maximum(k_rho * surface, _TINY), state.mass + step.fed
    fixed = step.history + step.kernel * (area * A - step.loaded)
    fixed = fixed + state.mass * (start_enthalpy - h_ref) + step.fed * (step.feed_enthalpy - h_ref)
    fixed = fixed + surface * p.surface.absorbed_sun
    per_kelvin = step.kernel * area * slope - supply * c
    lowest = np.full_like(Tb, p.fluid.lowest_temperature)
    low = np.log(-np.log1p(-np.exp(lam * (1.0 / Tb - 1.0 / lowest))))
    high = np.full_like(low, 60.0)
    zeta = np.clip(zeta, low, high)
    for _ in range(ITERATIONS):
        z = np.exp(zeta)
        y = -np.expm1(-z)
        T = 1.0 / (1.0 / Tb - np.log(y) / lam)
        phi = k_rho * z * vapor_capacity / h
        F = blowing_factor_ackermann(phi)
        longwave, longwave_slope = p.surface.radiation(T)
        warmth = p.surface.air_temperature - T
        H = fixed + per_kelvin * (T - T_ref) + surface * (h * F * warmth + longwave)
        carried = C * L * z
        up = carried < H
        low, high = np.where(up, zeta, low), np.where(up, high, zeta)
        rise = T * T / lam * (z * np.exp(-z) / y)
        dH = (per_kelvin + surface * (longwave_slope - h * F)) * rise
        dH = dH + surface * h * warmth * F * (1.0 - F - phi)
        boiling = (H > 0.0) & (-dH < carried)
        straight = (H - carried) / np.minimum(dH - carried, -_TINY)
        H, carried = np.where(boiling, H, 1.0), np.where(boiling, carried, 1.0)
        logarithmic = np.log(H / carried) / (dH / H - 1.0)
        new = zeta - np.where(boiling, logarithmic, straight)
        inside = (new >= low) & (new <= high)
        zeta = np.where(inside, new, 0.5 * (low + high))
    z = np.exp(zeta)
    T = 1.0 / (1.0 / Tb - np.log(-np.expm1(-z)) / lam)
    F = blowing_factor_ackermann(k_rho * z * vapor_capacity / h)
    return T, zeta, h * F, k_rho * z


def _clapeyron(p: PoolProblem, T: FloatArray, pressure: FloatArray) -> FloatArray:
    """Lambda of p_s = p exp(Lambda (1/T_b - 1/T)), exact at T_b and at T [K]."""
    Tb = p.boiling_point
    far = Tb - T > 0.1
    (at_boiling,) = p.fluid.saturated(Tb, "clapeyron")
    gap = np.where(far, 1.0 / np.where(far, T, 1.0) - 1.0 / Tb, 1.0)
    return np.where(far, np.log(p.pressure / pressure) / gap, Tb * at_boiling / p.pressure)


def _check_film(where: BoolArray, wanted: FloatArray, film: FloatArray) -> None:
    """Refuse an answer whose vapor the film could not have carried."""
    error = np.where(where, np.abs(wanted - film) / np.maximum(np.abs(film), _TINY), 0.0)
    if error.size and not error.max() <= FILM_TOLERANCE:
        worst = int(np.argmax(error))
        state = {"evaporated": float(wanted[worst]), "film": float(film[worst])}
        raise ConvergenceError("temperature of a pool", float(error[worst]), state)
