"""Vapor-liquid equilibrium of mixtures: bubble and dew points, and flashes to two given properties.

Per mole in SI; components on the first axis, states on the last. Array-level; states that find no
solution are marked, never guessed.

Notes
-----
Newton's method in ln K, ln T, ln p for the points, and in q_i = ln(v_i/l_i), ln T, ln p for the flashes (v_i,
l_i the moles of i in vapor and liquid per mole of feed; michelsen2007thermodynamic, chapters 10 to 12). The
equations are equal fugacities of every component and the two given properties, so one code serves (T, p),
(p, h), (p, s), (T, v) and (u, v). Each state stops by its own residual. Which phases there are follows from
bubble and dew point: liquids of this kind do not split into two.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lpgrelease.fluids.cubic import R, add, phase, root
from lpgrelease.fluids.mixture import Mixture
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = [
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

LIQUID, VAPOR = 0, 1
TOLERANCE = 1e-8
"""A step from a residual this small lands at round-off: the method is quadratic."""
MOST_STEPS = 25
"""States of ordinary blends take up to 16; what takes more runs away."""
LEAST_VOLUME_RATIO = 1.2
"""Phases whose volumes are closer than this are taken to be one phase, found twice."""
APPROACHES = 12
SMALL = 1e-3
"""Steps towards a point at a pressure that Newton's method missed, and the part of T for its slopes."""
EDGE = 1e-8
"""Of the way from bubble to dew point: closer to an end a state counts as one phase."""
BLOCK = 1024
"""States solved at once, so that their arrays fit the processor's cache."""


class Point(NamedTuple):
    """Bubble or dew points: T, p, ln K, mole fractions of the phase that appears, whether it was found.

    `volume_ratio` is the molar volume of the vapor over that of the liquid, both as the cubic has them.
    """

    temperature: FloatArray
    pressure: FloatArray
    log_ratio: FloatArray
    incipient: FloatArray
    found: BoolArray
    volume_ratio: FloatArray

    def replaced(self, where: NDArray[np.intp], others: Point) -> Point:
        """Replace the points at `where` by `others`."""
        fields = {name: np.array(values) for name, values in self._asdict().items()}
        for name, values in others._asdict().items():
            fields[name][..., where] = values
        return Point(**fields)


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


quietly = np.errstate(all="ignore")
"""A state that runs away, as where there is no second phase, ends in NaN without a warning: not found."""
Step = Callable[..., tuple[FloatArray, FloatArray]]


def _solve(step: Step, start: FloatArray, given: tuple[FloatArray, ...]) -> tuple[FloatArray, BoolArray]:
    """Newton's method on unknowns (m, n); `step` returns residual sizes (n,) and changes (m, n)."""
    unknown = np.array(start)
    found: NDArray[np.bool_] = np.zeros(start.shape[1], dtype=np.bool_)
    for first in range(0, start.shape[1], BLOCK):
        active = np.arange(first, min(first + BLOCK, start.shape[1]))
        for _ in range(MOST_STEPS):
            if not active.size:
                break
            size, change = step(unknown[:, active], *(each[..., active] for each in given))
            unknown[:, active] += change
            found[active] = size < TOLERANCE
            active = active[(size >= TOLERANCE) & np.isfinite(size)]
    return unknown, found


def _linear(matrix: FloatArray, right: FloatArray) -> FloatArray:
    """Solve matrix (m, m, n) x = right (m, n) state by state; NaN where it is singular."""
    stacked = np.moveaxis(matrix, -1, 0)
    sides = right.T[:, :, None]
    finite = np.isfinite(stacked).all(axis=(1, 2)) & np.isfinite(sides).all(axis=(1, 2))
    good: NDArray[np.bool_] = np.asarray(finite)
    stacked = np.where(good[:, None, None], stacked, np.eye(stacked.shape[1]))
    try:
        solved = np.linalg.solve(stacked, sides)[:, :, 0].T
    except np.linalg.LinAlgError:
        singular = np.linalg.slogdet(stacked).sign == 0.0
        good &= ~singular
        stacked = np.where(singular[:, None, None], np.eye(stacked.shape[1]), stacked)
        solved = np.linalg.solve(stacked, sides)[:, :, 0].T
    return np.where(good, solved, np.nan)


# -- bubble and dew points -------------------------------------------------------------------------------


def bubble_point(
    mixture: Mixture,
    x: FloatArray,
    *,
    temperature: FloatArray | None = None,
    pressure: FloatArray | None = None,
) -> Point:
    """Point where liquid of mole fractions x (nc, n) begins to boil, at T or at p (n,)."""
    return _point(mixture, x, 1.0, temperature, pressure)


def dew_point(
    mixture: Mixture,
    y: FloatArray,
    *,
    temperature: FloatArray | None = None,
    pressure: FloatArray | None = None,
) -> Point:
    """Point where vapor of mole fractions y (nc, n) begins to condense, at T or at p (n,)."""
    return _point(mixture, y, -1.0, temperature, pressure)


@quietly
def _point(
    mixture: Mixture, z: FloatArray, sense: float, temperature: FloatArray | None, pressure: FloatArray | None
) -> Point:
    log_t, log_p, log_k = _wilson_point(mixture, z, sense, temperature, pressure)
    start = np.concatenate([log_k, log_t[None], log_p[None]])
    point = _point_from(mixture, z, sense, temperature, pressure, start)
    if pressure is None or point.found.all():
        return point
    missed = np.flatnonzero(~point.found)
    start = _approach(mixture, z[:, missed], sense, pressure[missed], np.exp(log_t[missed]))
    again = _point_from(mixture, z[:, missed], sense, None, pressure[missed], start)
    return point.replaced(missed, again)


def _approach(
    mixture: Mixture, z: FloatArray, sense: float, pressure: FloatArray, temperature: FloatArray
) -> FloatArray:
    """Start near the point at `pressure`, by points at temperatures: they are found closer to critical.

    Newton's method on ln p(T); a temperature without a point is too high and is lowered.
    """
    t = 0.97 * temperature
    start = np.full((z.shape[0] + 2, t.size), np.nan)
    for _ in range(APPROACHES):
        here, aside = (_point(mixture, z, sense, each, None) for each in (t, t * (1.0 - SMALL)))
        found = here.found & aside.found
        rise = np.where(found, np.log(here.pressure / aside.pressure), 1.0)
        reached = np.concatenate([here.log_ratio, np.log(t)[None], np.log(pressure)[None]])
        start = np.where(found, reached, start)
        change = SMALL * np.log(pressure / here.pressure) / np.where(rise > 0.0, rise, 1.0)
        t = t * np.where(found, 1.0 + np.clip(np.where(found, change, 0.0), -0.1, 0.02), 0.99)
    return start


def _point_from(
    mixture: Mixture,
    z: FloatArray,
    sense: float,
    temperature: FloatArray | None,
    pressure: FloatArray | None,
    start: FloatArray,
) -> Point:
    fixed_t = temperature is not None

    def step(unknown: FloatArray, z: FloatArray) -> tuple[FloatArray, FloatArray]:
        return _point_step(mixture, unknown, z, sense, fixed_t)

    unknown, found = _solve(step, start, (z,))
    log_k = unknown[:-2]
    incipient = z * np.exp(sense * log_k)
    incipient = incipient / add(incipient)
    t = temperature if temperature is not None else np.exp(unknown[-2])
    p = pressure if pressure is not None else np.exp(unknown[-1])
    x, y = (z, incipient) if sense > 0.0 else (incipient, z)
    liquid, vapor = (root(mixture.cubic, t, p, w, side).volume for w, side in ((x, LIQUID), (y, VAPOR)))
    ratio = vapor / liquid
    return Point(t, p, log_k, incipient, found & (ratio > LEAST_VOLUME_RATIO), ratio)


def _point_step(
    mixture: Mixture, unknown: FloatArray, z: FloatArray, sense: float, fixed_t: bool
) -> tuple[FloatArray, FloatArray]:
    log_k, t, p = unknown[:-2], np.exp(unknown[-2]), np.exp(unknown[-1])
    count = log_k.shape[0]
    amount = z * np.exp(sense * log_k)
    total = add(amount)
    w = amount / total
    x, y = (z, w) if sense > 0.0 else (w, z)
    liquid = phase(mixture.cubic, t, p, x, LIQUID)
    vapor = phase(mixture.cubic, t, p, y, VAPOR)
    new = vapor if sense > 0.0 else liquid
    matrix = np.empty((count + 1, count + 1, t.size))
    matrix[:count, :count] = new.log_fugacity_by_mole * w[None]
    for i in range(count):
        matrix[i, i] += 1.0
    if fixed_t:
        matrix[:count, count] = p * (vapor.volume_by_mole - liquid.volume_by_mole) / (R * t)
    else:
        matrix[:count, count] = t * (vapor.log_fugacity_by_temperature - liquid.log_fugacity_by_temperature)
    matrix[count, :count] = sense * w
    matrix[count, count] = 0.0
    residual = np.empty((count + 1, t.size))
    residual[:count] = log_k + vapor.log_fugacity - liquid.log_fugacity
    residual[count] = np.log(total)
    solved = _linear(matrix, -residual)
    change = np.zeros_like(unknown)
    limit = 0.5 if fixed_t else 0.08
    # one factor shortens the whole step, so that its direction stays
    factor = np.minimum(1.0, limit / np.maximum(np.abs(solved[count]), 1e-300))
    factor = np.minimum(factor, 2.0 / np.maximum(np.max(np.abs(solved[:count]), axis=0), 1e-300))
    change[:count] = solved[:count] * factor
    change[-1 if fixed_t else -2] = solved[count] * factor
    return np.max(np.abs(residual), axis=0), change


def _wilson_point(
    mixture: Mixture, z: FloatArray, sense: float, temperature: FloatArray | None, pressure: FloatArray | None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Start: ideal solution of components whose vapor pressure follows from T_c, p_c and omega."""
    t_c, p_c, w = mixture.cubic.critical_temperature, mixture.critical_pressure, mixture.acentric_factor

    def log_saturation(log_t: FloatArray) -> FloatArray:
        return np.log(p_c) + 5.373 * (1.0 + w) * (1.0 - t_c / np.exp(log_t))

    def log_pressure(log_t: FloatArray) -> FloatArray:
        return sense * np.log(add(z * np.exp(sense * log_saturation(log_t))))

    if temperature is not None:
        log_t = np.log(temperature)
        log_p = log_pressure(log_t)
    else:
        log_p = np.log(pressure)  # type: ignore[arg-type]
        log_t = np.log(add(z * t_c) * 0.7)
        for _ in range(12):
            value = log_pressure(log_t)
            slope = (log_pressure(log_t + 1e-6) - value) / 1e-6
            log_t = log_t + np.clip((log_p - value) / slope, -0.2, 0.2)
    return log_t, log_p, log_saturation(log_t) - log_p


# -- flashes -----------------------------------------------------------------------------------------------


def _two_phases(
    mixture: Mixture, unknown: FloatArray, z: FloatArray
) -> tuple[FloatArray, FloatArray, dict[str, FloatArray], dict[str, FloatArray]]:
    """Residual of equal fugacities and its matrix; H, S, V, ln T, ln p and their slopes by the unknowns."""
    q, t, p = unknown[:-2], np.exp(unknown[-2]), np.exp(unknown[-1])
    count = q.shape[0]
    share = 1.0 / (1.0 + np.exp(-q))
    v, l = z * share, z * (1.0 - share)  # noqa: E741 the paper's symbol
    total_v, total_l = add(v), add(l)
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
        "vapor_mass": add(mixture.molar_mass * v) / mixture.mass(z),
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
    solved = _linear(whole, -residual)
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

    return _solve(step, start, (z, first, second))


@quietly
def flash_pressure(mixture: Mixture, z: FloatArray, temperature: FloatArray, pressure: FloatArray) -> Split:
    """State of a feed z (nc, n) at (T, p)."""
    t, p = temperature, pressure
    boils = bubble_point(mixture, z, temperature=t)
    condenses = dew_point(mixture, z, temperature=t)
    side, share = _sides(boils.pressure, condenses.pressure, p)
    start = _between(boils, condenses, share, t, p)
    found = boils.found & condenses.found
    return _assembled(mixture, z, ("temperature", "pressure"), t, p, side, found, start, t, p)


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

    log_t, found = _solve(step, np.log(start)[None], (z, pressure, wanted))
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
        total = add(amount)
        composition = amount / total
        state = mixture.phase(t[some], p[some], composition, side_)[1]
        (x if side_ == LIQUID else y)[:, some] = composition
        volume[some] = state.volume
        for field, values in ((h, state.enthalpy), (s, state.entropy), (v, state.volume)):
            field[some] = np.where(np.isnan(field[some]), 0.0, field[some]) + total * values
        if side_ == VAPOR:
            vapor_fraction[some] = total
    return Split(t, p, vapor_fraction, x, y, h, s, v, v_l, v_v, found)
