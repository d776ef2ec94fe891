"""One time step of many pools: how wide, how warm, how much evaporates. Plain functions of SI arrays."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np

from lpgrelease.constants import ICE_HEAT_CAPACITY
from lpgrelease.elementwise import every, larger, smaller, where
from lpgrelease.ground.sides import LEAST_POTENTIAL, side_heat_flux
from lpgrelease.pool.burn import FILM_LEFT
from lpgrelease.pool.film import Film, FilmBalance, lowest_zeta, solve_film
from lpgrelease.pool.liquid import LiquidState, cooling, warmth
from lpgrelease.pool.problem import PoolProblem, PoolState
from lpgrelease.pool.rings import GroundHeat
from lpgrelease.pool.spread import spread_gravity_inertia, spread_gravity_viscous
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = ["Step", "Trial", "advance"]

PASSES: Final = 12
CORRECTIONS: Final = 6
CORRECTED: Final = 1e-3
LARGEST_RATIO: Final = 0.3
AREA_TOLERANCE: Final = 1e-5
"""The steps in time cost a thousand times as much."""
_TINY: Final = float(np.finfo(float).tiny)
_ICE: Final = float(ICE_HEAT_CAPACITY)


class Step(NamedTuple):
    """One step's fixed quantities."""

    length: FloatArray
    fed: FloatArray
    fed_enthalpy: FloatArray
    ground: GroundHeat
    fed_parts: FloatArray | None
    flows: bool
    """Whether any pool may change its area by flowing."""
    burns: BoolArray | None = None
    """Which pools burn; None where none does."""


class Trial(NamedTuple):
    """How a step ends where the liquid flows and does not run dry."""

    area: FloatArray
    wetted: FloatArray
    film: Film
    liquid: LiquidState
    moves: dict[str, FloatArray]
    """Heats [J] and ice [kg] of the step."""
    heat: FloatArray
    """Sum of the heats [J]."""
    warmed: FloatArray
    """Heat that all the liquid gives up by cooling [J]."""
    boiled: FloatArray
    """Mass that all this evaporates, but for the heat of a flame [kg]."""
    wanted: FloatArray
    """Mass that all this evaporates [kg]."""
    settled: bool
    """Whether heat and film agree in every scenario."""


def advance(p: PoolProblem, state: PoolState, step: Step, held: BoolArray) -> Trial:
    """One step: spread, warm or cool, evaporate. Pools that are `held` keep their area."""
    low = lowest_zeta(state.liquid.boiling_point, state.liquid.clapeyron, p.liquid.lowest_temperature)
    zeta = state.film + smaller(larger(state.film_trend, -0.5), 0.5)
    around = _surroundings(p, state, step)
    fixed = held & ~held
    area, wetted = _next_area(p, state, step, held, None)
    attempt = _try(p, state, step, around, area, wetted, zeta, low, fixed)
    missed = 0.0 * area
    for _ in range(PASSES if step.flows else 0):
        new, new_wetted = _next_area(p, state, step, held, attempt)
        last, missed = missed, new - area
        fixed = fixed | (np.abs(missed) <= AREA_TOLERANCE * area)
        if every(fixed):
            break
        if p.room is None:
            new = new_wetted = _foreseen(state.area, area, missed, last)
        area, wetted = where(fixed, area, new), where(fixed, wetted, new_wetted)
        attempt = _try(p, state, step, around, area, wetted, attempt.film.zeta, low, fixed)
    result = _result(p, state, step, around, attempt)
    for _ in range(CORRECTIONS):
        if result.settled:
            break
        off = result.boiled * result.liquid.latent - attempt.film.heat
        error = np.abs(result.boiled - attempt.film.carried)
        good = error <= CORRECTED * attempt.film.carried
        attempt = _correct(attempt, where(good, 0.0, off), result.liquid.latent, low, good)
        result = _result(p, state, step, around, attempt)
    return result


def _foreseen(least: FloatArray, area: FloatArray, missed: FloatArray, last: FloatArray) -> FloatArray:
    """Area that a search tends to, whose misses shrink by a steady ratio."""
    ratio = where(last != 0.0, missed / where(last != 0.0, last, 1.0), 0.0)
    ratio = smaller(larger(ratio, -LARGEST_RATIO), LARGEST_RATIO)
    return larger(area + missed / (1.0 - ratio), least)


def _correct(attempt: _Try, off: FloatArray, latent: FloatArray, low: FloatArray, good: BoolArray) -> _Try:
    """Solve again with the heat that the curvature of the properties adds."""
    b, film = attempt.balance, attempt.film
    balance = b._replace(heat=b.heat + off, latent=where(good, b.latent, b.latent + latent - film.latent))
    return attempt._replace(balance=balance, film=solve_film(balance, film.zeta, low, good))


class _Around(NamedTuple):
    """What a step has from its start: liquid, film, radiation, ice, ground beside."""

    supply: FloatArray
    """All there is of liquid [kg]."""
    active: BoolArray
    stored: FloatArray
    """Its heat capacity [J/K]."""
    warmer: FloatArray
    """Heat that what is fed has above the liquid [J]."""
    still_vapor: FloatArray | float
    longwave: FloatArray
    longwave_slope: FloatArray
    frost_heat: FloatArray
    rain_heat: FloatArray
    """Heat of precipitation [W/m2]."""
    from_above: FloatArray
    """Radiation and precipitation [W/m2]."""
    falling: FloatArray
    """Rise of it by the pool's temperature [W/m2/K]."""
    moist: FloatArray
    """Heat of moisture that freezes, per coefficient of convection [K]."""
    beside: FloatArray
    """Integral of the ground's conductivity from the pool to the undisturbed ground [W/m]."""
    ground_flux: FloatArray
    """Mean over the step [W/m2]."""


class _Try(NamedTuple):
    """An attempt with one area: the balance and its solution."""

    area: FloatArray
    wetted: FloatArray
    surface: FloatArray
    """Mean area times time, where it is open to air and sky [m2 s]."""
    balance: FilmBalance
    film: Film
    ground: tuple[FloatArray, FloatArray]
    """Heat of the ground and its slope [J, J/K]."""
    beside: tuple[FloatArray, FloatArray]
    flame: FloatArray | None
    """Mass that the heat of a flame evaporates [kg]; None where no pool burns."""
    evaporated: FloatArray
    stiffness: FloatArray
    """Fall of the final area per rise of it, where it flows."""


def _surroundings(p: PoolProblem, state: PoolState, step: Step) -> _Around:
    liquid, T = state.liquid, state.liquid.temperature
    supply = state.mass + step.fed
    longwave, slope = p.surface.radiation(T)
    frost, rain = p.surface.ice_heat(T)
    still: FloatArray | float = 0.0
    if p.room is not None and p.vapor_fill is not None:
        level = p.room.level_of(state.mass / state.liquid.density)
        still = p.vapor_fill * larger(p.room.rim - level, 0.0)
    wet = where(state.wetted > 0.0, state.wetted, 1.0)
    rain_heat = p.surface.precipitation * rain
    return _Around(
        supply=supply,
        active=supply > 0.0,
        stored=supply * liquid.heat_capacity,
        warmer=step.fed_enthalpy - warmth(step.fed, step.fed_parts, liquid),
        still_vapor=still,
        longwave=longwave,
        longwave_slope=slope,
        frost_heat=frost,
        rain_heat=rain_heat,
        from_above=longwave + p.surface.absorbed_sun + rain_heat,
        falling=slope - p.surface.precipitation * _ICE,
        moist=p.surface.moisture * frost,
        beside=p.sides_far + p.sides_near * (p.liquid.boiling_point - T),
        ground_flux=step.ground.wet / (wet * step.length),
    )


def _try(
    p: PoolProblem,
    state: PoolState,
    step: Step,
    around: _Around,
    area: FloatArray,
    wetted: FloatArray,
    zeta: FloatArray,
    low: FloatArray,
    fixed: BoolArray,
) -> _Try:
    """Temperature and evaporation of a step that ends with `area`."""
    liquid = state.liquid
    mean = where(around.active, larger(0.5 * (state.area + area), 1e-12), 1.0)
    surface = mean * step.length
    k_rho, h = p.surface.transfer(p.surface.coefficients(mean, around.still_vapor), liquid.temperature)
    if liquid.vapor_molar_mass is not None:
        k_rho = k_rho * (liquid.vapor_molar_mass / p.surface.molar_mass)
    carried, blowing = surface * k_rho, k_rho * liquid.vapor_heat_capacity / h
    flame = None
    if p.flame is not None and step.burns is not None:
        flame = p.flame.mass(step.burns, mean, surface)
        carried = where(step.burns, FILM_LEFT * carried, carried)
        surface = where(step.burns, 0.0, surface)
    ground = step.ground.wet, step.ground.wet_slope
    if step.flows:
        ground = _ground_heat(step.ground, state.wetted, wetted)
    beside = _beside_heat(p, around, 0.5 * (state.wetted + wetted), step.length)
    air, from_above = surface * h, surface * around.from_above
    balance = FilmBalance(
        reference=liquid.temperature,
        heat=ground[0] + beside[0] + from_above + around.warmer,
        heat_slope=around.stored - ground[1] - beside[1] - surface * around.falling,
        air=air,
        air_temperature=p.surface.air_temperature,
        frost=air * around.moist,
        carried=larger(carried, _TINY),
        latent=liquid.latent,
        latent_slope=liquid.vapor_heat_capacity - liquid.heat_capacity,
        blowing=blowing,
        frost_blowing=p.surface.moisture_blowing,
        boiling_point=liquid.boiling_point,
        clapeyron=liquid.clapeyron,
    )
    film = solve_film(balance, zeta, low, fixed)
    evaporated, stiffness = film.heat / film.latent, mean
    if flame is not None:
        evaporated, from_above = evaporated + flame, from_above + flame * film.latent
    if step.flows:
        from_above = from_above + air * film.convection * (p.surface.air_temperature - film.temperature)
        fresh = step.ground.fresh + step.ground.fresh_slope * (film.temperature - liquid.temperature)
        layer = liquid.density * film.latent * p.minimum_depth
        stiffness = (fresh + 0.5 * from_above / mean) / layer
    return _Try(area, wetted, surface, balance, film, ground, beside, flame, evaporated, stiffness)


def _ground_heat(g: GroundHeat, before: FloatArray, after: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Heat of the ground and its slope where its wet area changes evenly from `before` to `after`."""
    growth = after - before
    kept = 1.0 + smaller(growth, 0.0) / where(before > 0.0, 2.0 * before, 1.0)
    grown = larger(growth, 0.0)
    return kept * g.wet + grown * g.fresh, kept * g.wet_slope + grown * g.fresh_slope


def _beside_heat(
    p: PoolProblem, around: _Around, area: FloatArray, length: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Heat that flows in through the ground from beside the pool, and its slope."""
    radius = np.sqrt(larger(area, 1e-12) / math.pi)
    flux = side_heat_flux(around.ground_flux, around.beside, radius)
    share = flux / larger(around.beside, LEAST_POTENTIAL)
    surface = area * length
    return surface * flux, -surface * (share * p.sides_near)


def _result(p: PoolProblem, state: PoolState, step: Step, around: _Around, attempt: _Try) -> Trial:
    """Close the balance with the properties at the temperature found."""
    film, b, surface = attempt.film, attempt.balance, attempt.surface
    T = film.temperature
    d = T - b.reference
    supply = None
    if state.parts is not None and step.fed_parts is not None:
        supply = state.parts + step.fed_parts
    liquid = p.liquid.at(T, supply, larger(attempt.evaporated, 0.0), like=state.liquid, same=True)
    frost = b.frost * film.frost
    falling = p.surface.precipitation * _ICE
    moves = {
        "heat_ground": attempt.ground[0] + attempt.ground[1] * d,
        "heat_beside": attempt.beside[0] + attempt.beside[1] * d,
        "heat_air": b.air * film.convection * (b.air_temperature - T),
        "heat_longwave": surface * (around.longwave + around.longwave_slope * d),
        "heat_sun": surface * p.surface.absorbed_sun,
        "heat_frost": frost + surface * (around.rain_heat - falling * d),
    }
    heat = moves["heat_ground"] + moves["heat_beside"] + moves["heat_air"]
    heat = heat + moves["heat_longwave"] + moves["heat_sun"] + moves["heat_frost"]
    moves["ice"] = frost / around.frost_heat + surface * p.surface.precipitation
    warmed = cooling(state.mass, state.parts, state.liquid, liquid) + (
        step.fed_enthalpy - warmth(step.fed, step.fed_parts, liquid)
    )
    boiled = wanted = (heat + warmed) / liquid.latent
    if p.flame is not None:
        flame = np.zeros_like(wanted) if attempt.flame is None else attempt.flame
        moves["heat_flame"] = flame * liquid.latent
        heat, wanted = heat + moves["heat_flame"], wanted + flame
    settled = every(np.abs(boiled - film.carried) <= CORRECTED * film.carried)
    return Trial(attempt.area, attempt.wetted, film, liquid, moves, heat, warmed, boiled, wanted, settled)


def _next_area(
    p: PoolProblem, state: PoolState, step: Step, held: BoolArray, attempt: _Try | None
) -> tuple[FloatArray, FloatArray]:
    """Area and wet ground at the end of a step, by Newton's method where the area follows the mass."""
    if not step.flows:
        return state.area, state.wetted
    before = state.mass / state.liquid.density
    evaporated = state.evaporation * step.length if attempt is None else attempt.evaporated
    after = (state.mass + step.fed - evaporated) / state.liquid.density
    positive = larger(after, 0.0)
    moving, rest, settled = spread_gravity_inertia(
        state.area, before, positive, minimum_depth=p.minimum_depth, time_step=step.length
    )
    target = (rest + smaller(after, 0.0)) / p.minimum_depth
    if attempt is not None:
        target = attempt.area + (target - attempt.area) / (1.0 + larger(attempt.stiffness, 0.0))
    slow = spread_gravity_viscous(
        state.area, before, positive, kinematic_viscosity=p.kinematic_viscosity, time_step=step.length
    )
    area = larger(smaller(where(settled, target, moving), slow), state.area)
    wetted = area
    if p.room is not None:
        stand = p.room.hold(positive)
        full = area >= stand.area
        area = smaller(area, stand.area)
        wetted = where(full, stand.area + stand.sides, area)
    return where(held, state.area, area), where(held, state.wetted, wetted)
