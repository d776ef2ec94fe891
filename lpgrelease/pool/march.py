"""Time march of many pools at once: plain functions of SI arrays, time first, scenarios last.

Each scenario has its own time nodes, and stops its own iterations, so that no answer depends on its batch.
"""

from __future__ import annotations

import dataclasses
from typing import Final, TypeAlias

import numpy as np

from lpgrelease.elementwise import every, larger, smaller, some, where
from lpgrelease.errors import ConvergenceError, OutOfRangeError
from lpgrelease.pool.blend import share_out
from lpgrelease.pool.boiling_rings import BoilingRings
from lpgrelease.pool.burn import split_burned
from lpgrelease.pool.columns import ColumnRings
from lpgrelease.pool.liquid import LiquidState
from lpgrelease.pool.problem import PoolProblem, PoolState, PoolTrack
from lpgrelease.pool.rings import HalfSpaceRings, dry_rings, row_sum
from lpgrelease.pool.spread import initial_area
from lpgrelease.pool.trial import Step, Trial, advance
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = ["Rings", "march"]

FILM_TOLERANCE: Final = 5e-3
"""Least agreement of heat and film in any one step: a tenth of the spread of the film's correlations."""
ROUNDING: Final = 1e-12
STATES: Final = ("mass", "area", "lying", "wetted", "density", "temperature", "parts")
_TINY: Final = float(np.finfo(float).tiny)

Rings: TypeAlias = HalfSpaceRings | BoilingRings | ColumnRings


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class _Close:
    """How a step ends."""

    moved: dict[str, FloatArray]
    liquid: LiquidState
    part: FloatArray
    """Part of the step after which the pool was gone."""


def start_of(p: PoolProblem) -> PoolState:
    """Pools at time 0: what was let go at once."""
    liquid = p.liquid.at(p.landing_temperature, p.initial_parts)
    volume = p.initial_mass / liquid.density
    area = wetted = initial_area(volume)
    held = p.initial_mass
    if p.room is not None:
        held = smaller(held, liquid.density * p.room.capacity)
        volume = held / liquid.density
        stand = p.room.hold(volume)
        area = larger(area, volume / p.room.rim)
        full = area >= stand.area
        area = smaller(area, stand.area)
        wetted = where(full, stand.area + stand.sides, area)
    gap = 1.0 / liquid.boiling_point - 1.0 / smaller(p.landing_temperature, liquid.boiling_point)
    film = np.log(-np.log1p(-smaller(np.exp(liquid.clapeyron * gap), 0.99)))
    parts = p.initial_parts
    if parts is not None:
        parts = parts * (held / where(p.initial_mass > 0.0, p.initial_mass, 1.0))
    zero = 0.0 * film
    return PoolState(held, area, wetted, film, zero, zero, liquid, parts)


def march(p: PoolProblem, times: FloatArray, state: PoolState, ground: Rings) -> PoolTrack:
    """March the pools of `p` from `state` over their own time nodes, (nodes, scenarios)."""
    rows = [_first_row(p, state)]
    gone_at = where(p.initial_mass + p.fed[-1] > 0.0, np.inf, 0.0)
    held_before = gone_at < 0.0
    for j in range(times.shape[0] - 1):
        start, fed = times[j], p.fed[j + 1] - p.fed[j]
        if p.changing is not None and p.changing.changes_at(j):
            p = dataclasses.replace(p, surface=p.changing.at(j))
        if j and not some(fed + state.mass > 0.0) and every(start >= p.feed_end):
            gone_at = where(np.isinf(gone_at), start, gone_at)
            rows += [_last_row(rows[-1])] * (times.shape[0] - 1 - j)
            break
        held = _held(p, state, fed)
        flows = _flows(p, state, fed, held)
        fed_parts = None if p.fed_parts is None else p.fed_parts[:, j + 1] - p.fed_parts[:, j]
        state = _renew(p, state, fed_parts)
        step = Step(
            length=times[j + 1] - start,
            fed=fed,
            fed_enthalpy=p.fed_enthalpy[j + 1] - p.fed_enthalpy[j],
            ground=ground.step(j, state.liquid.temperature, flows),
            fed_parts=fed_parts,
            flows=some(flows),
            burns=None if p.flame is None else p.flame.burns(start),
        )
        trial = advance(p, state, step, held)
        close = _settle(p, state, step, trial)
        growth = close.moved["wetted"] - state.wetted
        if some(held):
            _load(ground, state, held, held_before)
            close = _hold(held, state, trial, close, ground, j)
        if state.parts is not None and fed_parts is not None:
            share_out(close.moved, state.parts + fed_parts, trial)
        if p.flame is not None:
            split_burned(close.moved, step.burns)
        ground.close(j, trial.film.temperature, growth, held)
        state = _next(state, close, trial, step)
        held_before = held
        rows.append(close.moved)
        over = (start >= p.feed_end) & (state.mass <= 0.0) & np.isinf(gone_at)
        if some(over):
            gone_at = where(over, start + close.part * step.length, gone_at)
    names = [f.name for f in dataclasses.fields(PoolTrack) if f.name != "gone_at"]
    names = [name for name in names if name in rows[-1]]
    record = {name: np.array([row[name] for row in rows]) for name in names}
    for name in names:
        if name not in STATES:
            np.add.accumulate(record[name], axis=0, out=record[name])
    return PoolTrack(**record, gone_at=gone_at)


def _first_row(p: PoolProblem, state: PoolState) -> dict[str, FloatArray]:
    row = {f.name: np.zeros_like(state.mass) for f in dataclasses.fields(PoolTrack)}
    row = {name: value for name, value in row.items() if not name.startswith("parts")}
    if state.parts is not None and p.initial_parts is not None:
        row["parts"], row["parts_evaporated"] = state.parts, np.zeros_like(state.parts)
        row["parts_overflow"] = p.initial_parts - state.parts
        row["parts_burned"] = np.zeros_like(state.parts)
    return row | {
        "mass": state.mass,
        "area": state.area,
        "lying": state.area,
        "wetted": state.wetted,
        "overflow": p.initial_mass - state.mass,
        "temperature": state.liquid.temperature,
        "density": state.liquid.density,
    }


def _next(state: PoolState, close: _Close, trial: Trial, step: Step) -> PoolState:
    return PoolState(
        mass=close.moved["mass"],
        area=close.moved["area"],
        wetted=close.moved["wetted"],
        film=trial.film.zeta,
        film_trend=trial.film.zeta - state.film,
        evaporation=trial.wanted / step.length,
        liquid=close.liquid,
        parts=close.moved.get("parts"),
    )


def _renew(p: PoolProblem, state: PoolState, fed_parts: FloatArray | None) -> PoolState:
    """Mix what is fed in a step into a blend: its composition holds for the whole step."""
    if state.parts is None or fed_parts is None:
        return state
    liquid = p.liquid.at(state.liquid.temperature, state.parts + fed_parts, like=state.liquid)
    return dataclasses.replace(state, liquid=liquid)


def _last_row(row: dict[str, FloatArray]) -> dict[str, FloatArray]:
    """Row of pools that are all gone for good."""
    kept = set(STATES) - {"lying"}
    return {name: value if name in kept else np.zeros_like(value) for name, value in row.items()}


def _flows(p: PoolProblem, state: PoolState, fed: FloatArray, held: BoolArray) -> BoolArray:
    """Where liquid can wet or bare ground in a step by flowing."""
    floor = p.room.area[0] if p.room is not None and p.room.upright else np.inf
    flows: BoolArray = ~(held | (state.area >= floor) | (state.mass + fed <= 0.0))
    return flows


def _held(p: PoolProblem, state: PoolState, fed: FloatArray) -> BoolArray:
    """Where the relief holds the liquid in place: nothing is fed, and it stands no higher."""
    level = state.liquid.density * p.minimum_depth * state.area
    return (fed <= 0.0) & (state.mass > 0.0) & (state.mass <= level * (1.0 + ROUNDING))


def _settle(p: PoolProblem, state: PoolState, step: Step, trial: Trial) -> _Close:
    """Close the books of a step of liquid that flows."""
    supply = state.mass + step.fed
    active = supply > 0.0
    dry = active & (trial.wanted >= supply)
    if not trial.settled:
        _check_film(p, active & ~dry, trial, supply)
    if every(active) and not some(dry):
        return _flowed(p, supply, trial)
    evaporated = where(active, where(dry, supply, trial.wanted), 0.0)
    part = where(dry, supply / where(dry, trial.wanted, 1.0), where(active, 1.0, 0.0))
    needed = (evaporated * trial.liquid.latent - trial.warmed) / where(dry, trial.heat, 1.0)
    used = where(dry, needed, where(active, 1.0, 0.0))
    mass, overflow = supply - evaporated, 0.0 * supply
    if p.room is not None:
        overflow = larger(mass - trial.liquid.density * p.room.capacity, 0.0)
    gone = ~active | (dry & (step.fed <= 0.0))
    kept = active & ~dry
    liquid = trial.liquid if every(kept) else _choose(kept, trial.liquid, state.liquid)
    moved = {name: used * value for name, value in trial.moves.items()} | {
        "mass": mass - overflow,
        "area": where(gone, 0.0, trial.area),
        "lying": where(gone, 0.0, part * trial.area),
        "wetted": where(gone, 0.0, trial.wetted),
        "density": liquid.density,
        "temperature": liquid.temperature,
        "evaporated": evaporated,
        "overflow": overflow,
        "energy_error": where(
            active, used * trial.heat + trial.warmed - evaporated * trial.liquid.latent, 0.0
        ),
        "energy_scale": used * (np.abs(trial.heat) + np.abs(trial.warmed)),
    }
    return _Close(moved, liquid, part)


def _flowed(p: PoolProblem, supply: FloatArray, trial: Trial) -> _Close:
    """Close the books where no pool is empty or runs dry, as :func:`_settle` would."""
    mass, overflow = supply - trial.wanted, 0.0 * supply
    if p.room is not None:
        overflow = larger(mass - trial.liquid.density * p.room.capacity, 0.0)
    moved = trial.moves | {
        "mass": mass - overflow,
        "area": trial.area,
        "lying": trial.area,
        "wetted": trial.wetted,
        "density": trial.liquid.density,
        "temperature": trial.liquid.temperature,
        "evaporated": trial.wanted,
        "overflow": overflow,
        "energy_error": trial.heat + trial.warmed - trial.wanted * trial.liquid.latent,
        "energy_scale": np.abs(trial.heat) + np.abs(trial.warmed),
    }
    return _Close(moved, trial.liquid, 0.0 * supply + 1.0)


def _choose(which: BoolArray, one: LiquidState, other: LiquidState) -> LiquidState:
    names = [f.name for f in dataclasses.fields(LiquidState) if getattr(one, f.name) is not None]
    return LiquidState(**{n: where(which, getattr(one, n), getattr(other, n)) for n in names})


def _load(ground: Rings, state: PoolState, held: BoolArray, held_before: BoolArray) -> None:
    """Spread the liquid evenly over the rings where it has just ceased to flow."""
    _, loads = ground.wet_rings()
    even = state.mass / where(state.wetted > 0.0, state.wetted, 1.0)
    loads[:] = where(held & ~held_before, even, loads)


def _hold(held: BoolArray, state: PoolState, trial: Trial, flowing: _Close, ground: Rings, j: int) -> _Close:
    """Close the books where the relief holds the liquid: rings dry one by one."""
    areas, loads = ground.wet_rings()
    wetted = where(state.wetted > 0.0, state.wetted, 1.0)
    above = trial.heat - trial.moves["heat_ground"]
    drying = dry_rings(
        areas,
        loads,
        ground_heat=ground.ring_heat(j, trial.film.temperature),
        heat_above=above / wetted,
        cooling=trial.warmed / where(state.mass > 0.0, state.mass, 1.0),
        latent_heat=trial.liquid.latent,
    )
    areas[:] = where(held, drying.areas, areas)
    loads[:] = where(held, drying.loads, loads)
    left = row_sum(drying.areas)
    gone = left <= 0.0
    evaporated = where(gone, state.mass, drying.evaporated)
    used = drying.used_area / wetted
    heat = drying.heat_ground + used * above
    kept = trial.liquid if not some(gone) else _choose(gone, state.liquid, trial.liquid)
    rings = {name: used * value for name, value in trial.moves.items()} | {
        "heat_ground": drying.heat_ground,
        "mass": state.mass - evaporated,
        "area": state.area * (left / wetted),
        "lying": state.area * (left / wetted),
        "wetted": left,
        "temperature": kept.temperature,
        "density": kept.density,
        "evaporated": evaporated,
        "overflow": 0.0 * evaporated,
        "energy_error": heat + trial.warmed - evaporated * trial.liquid.latent,
        "energy_scale": np.abs(heat) + np.abs(trial.warmed),
    }
    moved = {name: where(held, rings[name], v) for name, v in flowing.moved.items()}
    liquid = kept if every(held) else _choose(held, kept, flowing.liquid)
    return _Close(moved, liquid, where(held, where(gone, drying.part, 1.0), flowing.part))


def _check_film(p: PoolProblem, which: BoolArray, trial: Trial, supply: FloatArray) -> None:
    """Refuse a step whose vapor the film could not have carried."""
    carried = trial.film.carried
    error = np.abs(trial.boiled - carried)
    allowed = FILM_TOLERANCE * carried + ROUNDING * supply
    worst = where(which, error / larger(allowed, _TINY), 0.0)
    if not worst.size or worst.max() <= 1.0:
        return
    i = int(np.argmax(worst))
    off, evaporated = (np.ravel(x)[i] for x in (error / carried, trial.wanted))
    fluid = p.liquid.fluid
    T, lowest = float(np.ravel(trial.film.temperature)[i]), p.liquid.lowest_temperature
    if T - lowest < 0.01:
        why = f"evaporation would cool {fluid.name} below its triple point or the tables"
        raise OutOfRangeError("temperature of the pool", T, "K", lowest + 0.01, None, why)
    state = {"evaporated": float(evaporated), "temperature": T}
    raise ConvergenceError("temperature of a pool", float(off), state)
