"""Vapor-liquid equilibrium of mixtures: flashes to two given properties, beside bubble and dew points.

Per mole in SI; components on the first axis, states on the last. Array-level; states that find no
solution are marked, never guessed. The points themselves are in `lpgrelease.fluids.points`.

Notes
-----
Newton's method in q_i = ln(v_i/l_i), ln T, ln p (v_i, l_i the moles of i in vapor and liquid per mole of
feed; michelsen2007thermodynamic, chapters 10 and 11). The equations are equal fugacities of every component
and the two given properties, so one code serves (T, p), (p, h), (p, s), (T, v) and (u, v). Each state stops
by its own residual. Which phases there are follows from bubble and dew point: liquids of this kind do not
split into two.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lpgrelease.fluids.cubic import R, root
from lpgrelease.fluids.mixture import Mixture
from lpgrelease.fluids.newton import quietly, solve, solve_linear
from lpgrelease.fluids.points import LEAST_VOLUME_RATIO, LIQUID, VAPOR, Point, bubble_point, dew_point
from lpgrelease.halving import halved_to_middle
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray
from lpgrelease.summing import add_rows

__all__ = [
    "LIQUID",
    "VAPOR",
    "Point",
    "Split",
    "bubble_point",
    "dew_point",
    "flash_enthalpy",
    "flash_entropy",
    "flash_pressure",
    "flash_vapor",
    "flash_volume",
    "split",
]

SUBSTITUTIONS, HALVINGS = 5, 30
"""Of K-values, and of the vapor's share in each, before Newton's method at (T, p)."""
EDGE = 1e-8
"""Of the way from bubble to dew point: closer to an end a state counts as one phase."""


class Split(NamedTuple):
    """States of a feed: one or two phases at (T, p).

    `vapor_fraction` counts moles and is 0 or 1 in a single phase, whose composition both phases then carry.
    Enthalpy, entropy and volume are those of one mole of the feed.
    """

    temperature: FloatArray
    pressure: FloatArray
    vapor_fraction: FloatArray
    liquid: FloatArray
    vapor: FloatArray
    enthalpy: FloatArray
    entropy: FloatArray
    volume: FloatArray
    liquid_volume: FloatArray
    vapor_volume: FloatArray
    found: BoolArray


def _two_phases(
    mixture: Mixture, unknown: FloatArray, z: FloatArray
) -> tuple[FloatArray, FloatArray, dict[str, FloatArray], dict[str, FloatArray]]:
    """Residual of equal fugacities and its matrix; H, S, V, ln T, ln p and their slopes by the unknowns."""
    q, t, p = unknown[:-2], np.exp(unknown[-2]), np.exp(unknown[-1])
    count = q.shape[0]
    share = 1.0 / (1.0 + np.exp(-q))
    v, l = z * share, z * (1.0 - share)  # noqa: E741 the paper's symbol
    total_v, total_l = add_rows(v), add_rows(l)
    y, x = v / total_v, l / total_l
    raw_l, liquid = mixture.phase(t, p, x, LIQUID)
    raw_v, vapor = mixture.phase(t, p, y, VAPOR)
    moved = z * share * (1.0 - share)
    residual = q + np.log(total_l / total_v) + raw_v.log_fugacity - raw_l.log_fugacity
    matrix = np.empty((count, count + 2, t.size))
    matrix[:, :count] = (raw_v.log_fugacity_by_mole - 1.0) / total_v + (
        raw_l.log_fugacity_by_mole - 1.0
    ) / total_l
    matrix[:, :count] *= moved[None]
    for i in range(count):
        matrix[i, i] += 1.0
    by_t = raw_v.log_fugacity_by_temperature - raw_l.log_fugacity_by_temperature
    by_v = raw_v.volume_by_mole - raw_l.volume_by_mole
    matrix[:, count] = t * by_t
    matrix[:, count + 1] = p * by_v / (R * t)
    c_p = total_v * vapor.heat_capacity + total_l * liquid.heat_capacity
    v_t = total_v * vapor.volume_by_temperature + total_l * liquid.volume_by_temperature
    v_p = total_v * vapor.volume_by_pressure + total_l * liquid.volume_by_pressure
    volume = total_v * vapor.volume + total_l * liquid.volume
    heat = -R * t * t * by_t
    values = {
        "enthalpy": total_v * vapor.enthalpy + total_l * liquid.enthalpy,
        "entropy": total_v * vapor.entropy + total_l * liquid.entropy,
        "volume": volume,
        "temperature": t,
        "pressure": p,
        "vapor_mass": add_rows(mixture.molar_mass * v) / mixture.mass(z),
    }
    zero = np.zeros_like(q)
    # ln(f_v/f_l) of a component is the residual: a mole that evaporates takes RT times it of Gibbs energy
    slopes = {
        "enthalpy": (heat * moved, t * c_p, p * (volume - t * v_t)),
        "entropy": ((heat / t - R * residual) * moved, c_p, -p * v_t),
        "volume": (by_v * moved, t * v_t, p * v_p),
        "temperature": (zero, t, 0.0 * t),
        "pressure": (zero, 0.0 * p, p),
        "vapor_mass": (mixture.molar_mass * moved / mixture.mass(z), 0.0 * t, 0.0 * p),
    }
    values["energy"] = values["enthalpy"] - p * volume
    slopes["energy"] = tuple(h - p * v for h, v in zip(slopes["enthalpy"], slopes["volume"], strict=True))
    slopes["energy"] = (*slopes["energy"][:2], slopes["energy"][2] - p * volume)
    joined = {name: np.concatenate([by_q, a[None], b[None]]) for name, (by_q, a, b) in slopes.items()}
    return residual, matrix, values, joined


def _flash_step(
    mixture: Mixture,
    unknown: FloatArray,
    z: FloatArray,
    first: FloatArray,
    second: FloatArray,
    *,
    names: tuple[str, str],
) -> tuple[FloatArray, FloatArray]:
    equal, matrix, values, slopes = _two_phases(mixture, unknown, z)
    count = equal.shape[0]
    t, p = values["temperature"], values["pressure"]
    scales = {
        "temperature": t,
        "pressure": p,
        "enthalpy": R * t * 10.0,
        "energy": R * t * 10.0,
        "entropy": np.full_like(t, R * 10.0),
        "volume": values["volume"],
        "vapor_mass": np.ones_like(t),
    }
    whole = np.empty((count + 2, count + 2, t.size))
    residual = np.empty((count + 2, t.size))
    whole[:count], residual[:count] = matrix, equal
    for row, (name, wanted) in enumerate(zip(names, (first, second), strict=True), start=count):
        whole[row] = slopes[name] / scales[name]
        residual[row] = (values[name] - wanted) / scales[name]
    solved = solve_linear(whole, -residual)
    factor = np.minimum(1.0, 3.0 / np.maximum(np.max(np.abs(solved[:count]), axis=0), 1e-300))
    factor = np.minimum(factor, 0.08 / np.maximum(np.abs(solved[count]), 1e-300))
    factor = np.minimum(factor, 0.5 / np.maximum(np.abs(solved[count + 1]), 1e-300))
    return np.max(np.abs(residual), axis=0), solved * factor


@quietly
def split(
    mixture: Mixture,
    z: FloatArray,
    names: tuple[str, str],
    first: FloatArray,
    second: FloatArray,
    start: FloatArray,
) -> tuple[FloatArray, BoolArray]:
    """Two phases at two given properties, from a start: the unknowns (q, ln T, ln p) and whether found.

    `names` are two of "temperature", "pressure", "enthalpy", "entropy", "energy", "volume" (of one mole),
    "vapor_mass" (mass fraction).
    """

    def step(unknown: FloatArray, *given: FloatArray) -> tuple[FloatArray, FloatArray]:
        return _flash_step(mixture, unknown, *given, names=names)

    return solve(step, start, (z, first, second))


@quietly
def flash_pressure(mixture: Mixture, z: FloatArray, temperature: FloatArray, pressure: FloatArray) -> Split:
    """State of a feed z (nc, n) at (T, p)."""
    t, p = temperature, pressure
    boils = bubble_point(mixture, z, temperature=t)
    condenses = dew_point(mixture, z, temperature=t)
    side, _ = _sides(boils.pressure, condenses.pressure, p)
    way = np.clip(np.log(boils.pressure / p) / np.log(boils.pressure / condenses.pressure), 0.0, 1.0)
    log_k = (1.0 - way) * boils.log_ratio + way * condenses.log_ratio
    for _ in range(SUBSTITUTIONS):
        k = np.exp(log_k)
        share = _vapor_share(z, k)
        x = z / (1.0 + share * (k - 1.0))
        x, y = x / add_rows(x), k * x / add_rows(k * x)
        l_phi, v_phi = (root(mixture.cubic, t, p, w, s).log_fugacity for w, s in ((x, LIQUID), (y, VAPOR)))
        log_k = l_phi - v_phi
    share = _vapor_share(z, np.exp(log_k))
    start = np.concatenate([log_k + np.log(share / (1.0 - share)), np.log(t)[None], np.log(p)[None]])
    found = boils.found & condenses.found
    return _assembled(mixture, z, ("temperature", "pressure"), t, p, side, found, start, t, p)


def _vapor_share(z: FloatArray, k: FloatArray) -> FloatArray:
    """Moles of vapor per mole of feed at K-values k, by halving: sum z (k - 1)/(1 + share (k - 1)) = 0."""

    def more(share: FloatArray) -> BoolArray:
        return np.asarray(add_rows(z * (k - 1.0) / (1.0 + share * (k - 1.0))) > 0.0)

    low, high = np.full(z.shape[1], 1e-9), np.full(z.shape[1], 1.0 - 1e-9)
    return halved_to_middle(more, low, high, HALVINGS)


def flash_enthalpy(mixture: Mixture, z: FloatArray, pressure: FloatArray, enthalpy: FloatArray) -> Split:
    """State of a feed z (nc, n) at (p, h) [Pa, J/mol]."""
    return _flash_caloric(mixture, z, "enthalpy", pressure, enthalpy)


def flash_entropy(mixture: Mixture, z: FloatArray, pressure: FloatArray, entropy: FloatArray) -> Split:
    """State of a feed z (nc, n) at (p, s) [Pa, J/mol/K]."""
    return _flash_caloric(mixture, z, "entropy", pressure, entropy)


@quietly
def flash_volume(mixture: Mixture, z: FloatArray, temperature: FloatArray, volume: FloatArray) -> Split:
    """State of a feed z (nc, n) at (T, v) [K, m3/mol]."""
    t = temperature
    boils, condenses = bubble_point(mixture, z, temperature=t), dew_point(mixture, z, temperature=t)
    low = mixture.phase(t, boils.pressure, z, LIQUID)[1].volume
    high = mixture.phase(t, condenses.pressure, z, VAPOR)[1].volume
    side, share = _sides(low, high, volume)
    log_p = (1.0 - share) * np.log(boils.pressure) + share * np.log(condenses.pressure)
    p = np.where(side == 2, np.exp(log_p), mixture.pressure(t, volume, z))
    start = _between(boils, condenses, share, t, p)
    found = boils.found & condenses.found
    return _assembled(mixture, z, ("temperature", "volume"), t, volume, side, found, start, t, p)


@quietly
def flash_vapor(mixture: Mixture, z: FloatArray, temperature: FloatArray, fraction: FloatArray) -> Split:
    """State of a feed z (nc, n) at T with the vapor mass fraction `fraction`, 0 to 1."""
    t = temperature
    boils, condenses = bubble_point(mixture, z, temperature=t), dew_point(mixture, z, temperature=t)
    side, _ = _sides(np.zeros_like(t), np.ones_like(t), fraction)
    log_p = (1.0 - fraction) * np.log(boils.pressure) + fraction * np.log(condenses.pressure)
    p = np.exp(log_p)
    start = _between(boils, condenses, fraction, t, p)
    found = boils.found & condenses.found
    return _assembled(mixture, z, ("temperature", "vapor_mass"), t, fraction, side, found, start, t, p)


@quietly
def _flash_caloric(
    mixture: Mixture, z: FloatArray, name: str, pressure: FloatArray, wanted: FloatArray
) -> Split:
    boils, condenses = bubble_point(mixture, z, pressure=pressure), dew_point(mixture, z, pressure=pressure)
    low = getattr(mixture.phase(boils.temperature, pressure, z, LIQUID)[1], name)
    high = getattr(mixture.phase(condenses.temperature, pressure, z, VAPOR)[1], name)
    side, share = _sides(low, high, wanted)
    t = boils.temperature + share * (condenses.temperature - boils.temperature)
    found = boils.found & condenses.found
    for phase_side in (LIQUID, VAPOR):
        some = np.flatnonzero((side == phase_side) & found)
        if some.size:
            t[some], good = _temperature(
                mixture, z[:, some], name, pressure[some], wanted[some], t[some], phase_side
            )
            found[some] &= good
    start = _between(boils, condenses, share, t, pressure)
    return _assembled(mixture, z, ("pressure", name), pressure, wanted, side, found, start, t, pressure)


def _temperature(
    mixture: Mixture,
    z: FloatArray,
    name: str,
    pressure: FloatArray,
    wanted: FloatArray,
    start: FloatArray,
    side: int,
) -> tuple[FloatArray, BoolArray]:
    """Temperature of a single phase at (p, h) or (p, s)."""

    def step(
        unknown: FloatArray, z: FloatArray, pressure: FloatArray, wanted: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        t = np.exp(unknown[0])
        state = mixture.phase(t, pressure, z, side)[1]
        slope = state.heat_capacity * (t if name == "enthalpy" else 1.0)
        change = np.clip((wanted - getattr(state, name)) / slope, -0.2, 0.2)
        return np.abs(change), change[None]

    log_t, found = solve(step, np.log(start)[None], (z, pressure, wanted))
    return np.exp(log_t[0]), found


def _sides(
    boils: FloatArray, condenses: FloatArray, value: FloatArray
) -> tuple[NDArray[np.intp], FloatArray]:
    """LIQUID, VAPOR or 2 (both) by where `value` stands between bubble and dew point, and that share."""
    width = condenses - boils
    share = np.clip((value - boils) / np.where(width != 0.0, width, 1.0), 0.0, 1.0)
    # a share as small as this is round-off: the phase that is there stands for both
    side = np.where(share < EDGE, LIQUID, np.where(share > 1.0 - EDGE, VAPOR, 2))
    return side, share


def _between(boils: Point, condenses: Point, share: FloatArray, t: FloatArray, p: FloatArray) -> FloatArray:
    """Start of a flash: between the bubble point and the dew point."""
    inside = np.clip(share, 1e-6, 1.0 - 1e-6)
    log_k = (1.0 - inside) * boils.log_ratio + inside * condenses.log_ratio
    q = log_k + np.log(inside / (1.0 - inside))
    return np.concatenate([q, np.log(t)[None], np.log(p)[None]])


def _assembled(
    mixture: Mixture,
    z: FloatArray,
    names: tuple[str, str],
    first: FloatArray,
    second: FloatArray,
    side: NDArray[np.intp],
    found: BoolArray,
    start: FloatArray,
    t: FloatArray,
    p: FloatArray,
) -> Split:
    """Solve the states of two phases and join them with those of one."""
    t, p = np.array(t), np.array(p)
    found = np.array(found)
    vapor_fraction = np.where(side == VAPOR, 1.0, 0.0)
    x, y = np.array(z), np.array(z)
    h, s, v, v_l, v_v = (np.full(t.shape, np.nan) for _ in range(5))
    for phase_side in (LIQUID, VAPOR):
        some = np.flatnonzero((side == phase_side) & found)
        state = mixture.phase(t[some], p[some], z[:, some], phase_side)[1]
        h[some], s[some], v[some] = state.enthalpy, state.entropy, state.volume
        v_l[some] = v_v[some] = state.volume
    some = np.flatnonzero((side == 2) & found)
    unknown, good = split(mixture, z[:, some], names, first[some], second[some], start[:, some])
    found[some] = good
    share = 1.0 / (1.0 + np.exp(-unknown[:-2]))
    t[some], p[some] = np.exp(unknown[-2]), np.exp(unknown[-1])
    for side_, part, volume in ((LIQUID, 1.0 - share, v_l), (VAPOR, share, v_v)):
        amount = z[:, some] * part
        total = add_rows(amount)
        composition = amount / total
        state = mixture.phase(t[some], p[some], composition, side_)[1]
        (x if side_ == LIQUID else y)[:, some] = composition
        volume[some] = state.volume
        for field, values in ((h, state.enthalpy), (s, state.entropy), (v, state.volume)):
            field[some] = np.where(np.isnan(field[some]), 0.0, field[some]) + total * values
        if side_ == VAPOR:
            vapor_fraction[some] = total
    # one phase found twice satisfies the equations too, and is no answer
    found[some] &= v_v[some] > LEAST_VOLUME_RATIO * v_l[some]
    return Split(t, p, vapor_fraction, x, y, h, s, v, v_l, v_v, found)
