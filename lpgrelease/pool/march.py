"""Time march of many pools at once: plain functions of SI arrays, time first, scenarios last.

Each scenario has its own time nodes; a fixed number of steps, passes and iterations serves all, so that no
answer depends on its batch.
"""

from __future__ import annotations

import dataclasses
from typing import Final

import numpy as np

from lpgrelease.errors import ConvergenceError, OutOfRangeError
from lpgrelease.pool.film import PoolProblem, PoolState, PoolStep, solve_film
from lpgrelease.pool.rings import cell_means, dry_rings, fold_sum, past_heat
from lpgrelease.pool.spread import initial_area, spread_gravity_inertia
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = ["PoolTrack", "march", "time_nodes"]

PASSES: Final = 4
FILM_TOLERANCE: Final = 5e-3
"""Least agreement of heat and film in any one step: a tenth of the spread of the film's correlations."""
ROUNDING: Final = 1e-12
SUMS: Final = (
    "fed",
    "evaporated",
    "overflow",
    "heat_ground",
    "heat_air",
    "heat_longwave",
    "heat_sun",
    "energy_error",
    "energy_scale",
)
_TINY: Final = float(np.finfo(float).tiny)


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
    energy_error: FloatArray
    """Imbalance since the start [J]."""
    energy_scale: FloatArray
    """Sum of the sizes of all heats since the start [J]."""
    gone_at: FloatArray


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class _Trial:
    """One attempt at a step."""

    area: FloatArray
    temperature: FloatArray
    film: FloatArray
    density: FloatArray
    latent: FloatArray
    contact: FloatArray
    surface: FloatArray
    """Mean area [m2]."""
    heats: dict[str, FloatArray]
    heat: FloatArray
    cooling: FloatArray
    """Heat the liquid on the ground gives up by cooling [J/kg]."""
    warmed: FloatArray
    """Heat all the liquid gives up by cooling [J]."""
    wanted: FloatArray
    """Mass that all this heat evaporates [kg]."""
    carried: FloatArray
    """Mass that the film carries away [kg]."""
    stiffness: FloatArray
    """Fall of the final area per rise of it."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class _Close:
    """How a step ends."""

    moved: dict[str, FloatArray]
    part: FloatArray
    """Part of the step after which the pool was gone."""


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
    record = _first_record(problem, state, times.shape)
    contact, areas, loads = (np.zeros((nodes, size)) for _ in range(3))
    contact[0], areas[0] = problem.contact.line(state.temperature)[0], state.area
    (feed_enthalpy,) = problem.fluid.saturated(problem.landing_temperature, "liquid_enthalpy")
    means = np.zeros((0, size))
    gone_at = np.where(problem.initial_mass + problem.feed_rate > 0.0, np.inf, 0.0)
    held_before = np.zeros(size, dtype=bool)
    for j in range(nodes - 1):
        start, end = times[j], times[j + 1]
        new_means = cell_means(np.sqrt(end - times[: j + 2]))
        past = past_heat(contact[: j + 1], new_means[:j] - means, np.sqrt(end) - np.sqrt(start))
        fed = problem.feed_rate * (np.minimum(end, problem.feed_end) - np.minimum(start, problem.feed_end))
        step = PoolStep(
            length=end - start,
            fed=fed,
            history=fold_sum(areas[: j + 1] * past),
            kernel=new_means[j],
            contact=contact[j],
            feed_enthalpy=feed_enthalpy,
        )
        trial, held = _advance(problem, state, step)
        close = _settle(problem, state, step, trial)
        areas[j + 1] = np.where(held, 0.0, np.maximum(close.moved["area"] - state.area, 0.0))
        if held.any():
            even = state.mass / np.where(state.area > 0.0, state.area, 1.0)
            loads[: j + 1] = np.where(held_before, loads[: j + 1], even)
            close = _hold(held, state, step, trial, close, areas[: j + 1], loads[: j + 1], past)
        state = PoolState(
            mass=close.moved["mass"],
            area=close.moved["area"],
            temperature=close.moved["temperature"],
            film=trial.film,
        )
        contact[j + 1], means, held_before = trial.contact, new_means, held
        for name, value in close.moved.items():
            record[name][j + 1] = value
        over = (start >= problem.feed_end) & (state.mass <= 0.0) & np.isinf(gone_at)
        gone_at = np.where(over, start + close.part * step.length, gone_at)
    for name in SUMS:
        np.add.accumulate(record[name], axis=0, out=record[name])
    return PoolTrack(**record, gone_at=gone_at)


def _first_record(p: PoolProblem, state: PoolState, shape: tuple[int, ...]) -> dict[str, FloatArray]:
    record = {f.name: np.zeros(shape) for f in dataclasses.fields(PoolTrack) if f.name != "gone_at"}
    record["mass"][0], record["area"][0] = state.mass, state.area
    record["overflow"][0] = p.initial_mass - state.mass
    record["temperature"][0] = state.temperature
    record["density"][0] = p.fluid.saturated(state.temperature, "liquid_density")[0]
    return record


def _start(p: PoolProblem) -> PoolState:
    density, pressure = p.fluid.saturated(p.landing_temperature, "liquid_density", "pressure")
    held = np.minimum(p.initial_mass, density * p.site_area * p.site_depth)
    area = np.minimum(initial_area(p.initial_mass / density), p.site_area)
    film = np.log(-np.log1p(-np.minimum(pressure / p.pressure, 0.99)))
    return PoolState(held, area, p.landing_temperature, film)


def _advance(p: PoolProblem, state: PoolState, step: PoolStep) -> tuple[_Trial, BoolArray]:
    """One step: spread, warm or cool, evaporate; and whether the relief holds the liquid in place."""
    enthalpy, density = p.fluid.saturated(state.temperature, "liquid_enthalpy", "liquid_density")
    trial = None
    for _ in range(PASSES):
        area = _next_area(p, state, step, density, trial)
        trial = _try(p, state, step, enthalpy, area, trial)
    assert trial is not None
    level = density * p.minimum_depth * state.area
    held = (step.fed <= 0.0) & (state.mass > 0.0) & (state.mass <= level * (1.0 + ROUNDING))
    return trial, held


def _try(
    p: PoolProblem,
    state: PoolState,
    step: PoolStep,
    start_enthalpy: FloatArray,
    area: FloatArray,
    last: _Trial | None,
) -> _Trial:
    """Temperature, heats and evaporation of a step that ends with `area`."""
    active = state.mass + step.fed > 0.0
    mean_area = np.where(active, np.maximum(0.5 * (state.area + area), 1e-12), 1.0)
    surface = mean_area * step.length
    near = (state.temperature, state.film) if last is None else (last.temperature, last.film)
    film = solve_film(p, state, step, area, mean_area, *near, start_enthalpy)
    T = film.temperature
    enthalpy, latent, density = p.fluid.saturated(T, "liquid_enthalpy", "latent_heat", "liquid_density")
    A = p.contact.line(T)[0]
    heats = {
        "heat_ground": step.history + step.kernel * (area * A - state.area * step.contact),
        "heat_air": surface * (film.convection * (p.surface.air_temperature - T)),
        "heat_longwave": surface * p.surface.radiation(T)[0],
        "heat_sun": surface * p.surface.absorbed_sun,
    }
    from_above = heats["heat_air"] + heats["heat_longwave"] + heats["heat_sun"]
    heat = heats["heat_ground"] + from_above
    cooling = start_enthalpy - enthalpy
    warmed = state.mass * cooling + step.fed * (step.feed_enthalpy - enthalpy)
    return _Trial(
        area=area,
        temperature=T,
        film=film.zeta,
        density=density,
        latent=latent,
        contact=A,
        surface=mean_area,
        heats=heats,
        heat=heat,
        cooling=cooling,
        warmed=warmed,
        wanted=(heat + warmed) / latent,
        carried=film.flux * surface,
        stiffness=(step.kernel * A + 0.5 * from_above / mean_area) / (density * latent * p.minimum_depth),
    )


def _settle(p: PoolProblem, state: PoolState, step: PoolStep, trial: _Trial) -> _Close:
    """Close the books of a step of liquid that flows."""
    supply = state.mass + step.fed
    active = supply > 0.0
    dry = active & (trial.wanted >= supply)
    _check_film(p, active & ~dry, trial, supply)
    evaporated = np.where(active, np.where(dry, supply, trial.wanted), 0.0)
    part = np.where(dry, supply / np.where(dry, trial.wanted, 1.0), 1.0)
    needed = (evaporated * trial.latent - trial.warmed) / np.where(dry, trial.heat, 1.0)
    used = np.where(dry, needed, np.where(active, 1.0, 0.0))
    mass = supply - evaporated
    overflow = np.maximum(mass - trial.density * p.site_area * p.site_depth, 0.0)
    gone = ~active | (dry & (step.fed <= 0.0))
    moved = {name: used * value for name, value in trial.heats.items()} | {
        "mass": mass - overflow,
        "area": np.where(gone, 0.0, trial.area),
        "density": trial.density,
        "temperature": np.where(active & ~dry, trial.temperature, state.temperature),
        "fed": step.fed,
        "evaporated": evaporated,
        "overflow": overflow,
        "energy_error": np.where(active, used * trial.heat + trial.warmed - evaporated * trial.latent, 0.0),
        "energy_scale": used * (np.abs(trial.heat) + np.abs(trial.warmed)),
    }
    return _Close(moved, part)


def _hold(
    held: BoolArray,
    state: PoolState,
    step: PoolStep,
    trial: _Trial,
    flowing: _Close,
    areas: FloatArray,
    loads: FloatArray,
    past: FloatArray,
) -> _Close:
    """Close the books where the relief holds the liquid: rings dry one by one; `areas`, `loads` change."""
    above = trial.heats["heat_air"] + trial.heats["heat_longwave"] + trial.heats["heat_sun"]
    drying = dry_rings(
        areas,
        loads,
        ground_heat=past + step.kernel * (trial.contact - step.contact),
        heat_above=above / trial.surface,
        cooling=trial.cooling,
        latent_heat=trial.latent,
    )
    areas[:] = np.where(held, drying.areas, areas)
    loads[:] = np.where(held, drying.loads, loads)
    area = fold_sum(drying.areas)
    gone = area <= 0.0
    evaporated = np.where(gone, state.mass, drying.evaporated)
    used = drying.used_area / trial.surface
    ring_moved = {name: used * value for name, value in trial.heats.items()} | {
        "heat_ground": drying.heat_ground,
        "mass": state.mass - evaporated,
        "area": area,
        "temperature": np.where(gone, state.temperature, trial.temperature),
        "evaporated": evaporated,
        "overflow": np.zeros_like(evaporated),
    }
    heat = drying.heat_ground + used * above
    ring_moved["energy_error"] = heat + trial.warmed - evaporated * trial.latent
    ring_moved["energy_scale"] = np.abs(heat) + np.abs(trial.warmed)
    moved = {name: np.where(held, ring_moved.get(name, v), v) for name, v in flowing.moved.items()}
    return _Close(moved, np.where(held, np.where(gone, drying.part, 1.0), flowing.part))


def _next_area(
    p: PoolProblem, state: PoolState, step: PoolStep, start_density: FloatArray, trial: _Trial | None
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
