"""Marching tanks of a blend from their start to their end, each with its own steps and events.

A step that would cross an event is tried again up to where the polynomial through the step crosses it, until
it lands just before; the guess of every trial is the last polynomial, so that a second trial costs little.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from lpgrelease.elementwise import chosen, some
from lpgrelease.errors import ConvergenceError
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray, IntArray
from lpgrelease.summing import add_along, add_rows
from lpgrelease.tank.blend_cubic import (
    END_SLOPE,
    HALF_STEP,
    MIDDLE,
    TIMES,
    add_weighted,
    at_place,
    coefficients,
    flattened,
    share_of_step,
    step_ahead,
    unflattened,
)
from lpgrelease.tank.blend_path import Path
from lpgrelease.tank.blend_step import (
    PLACES,
    WEIGHTS,
    Trial,
    conserved,
    eliminated,
    error_estimate,
    straightened,
    try_step,
)
from lpgrelease.tank.blend_venting import BlendVenting, Rates
from lpgrelease.tank.venting import SETTLED, SETTLED_WITHIN, rest_temperature

__all__ = ["STEP_ERROR", "march_blend"]

STEP_ERROR = 1e-5
"""Error allowed per step, by the estimate: of moles over all there are, of energy over evaporating them."""
SAFETY, SLOWEST, FASTEST = 0.9, 0.2, 4.0
AFTER_FAILURE, AFTER_NONE = 1.5, 0.25
"""Factors: on the ideal step; least and greatest change from one step to the next; greatest after a failed
one, and that of a step without an end."""
LEAST_ERROR, LEAST_TREND = 1e-6, 1e-2
"""Estimated errors, over what is allowed, count as these at least for the next step, and for a trend."""
MOST_TRIALS = 5000
COMPACT_BELOW = 0.75
FIRST_CHANGE = 0.03
"""Relative change of temperature or moles in the first step and after an event."""
LEAST_GUESS = 1e-3
"""A guess leaves at least this share of any amount."""
SHORT_OF_STOP = 1e-4
"""In ln p: nearer to its stop a history goes on to it and does not settle."""


@dataclasses.dataclass(slots=True, eq=False)
class _March:
    """Scenarios on their way; arrays (..., n) that are replaced from step to step.

    `polynomial` (4, 2 nc + 2, n) are the flattened unknowns at `TIMES` of a step of length `span` that began
    `ago` spans before the present.
    """

    venting: BlendVenting
    tripled: BlendVenting
    who: IntArray
    w: FloatArray
    books: FloatArray
    total: FloatArray
    scale: FloatArray
    tolerance: FloatArray
    rows: FloatArray
    warming: FloatArray
    heard: FloatArray
    step: FloatArray
    growth: FloatArray
    polynomial: FloatArray
    span: FloatArray
    ago: FloatArray
    last_step: FloatArray
    last_error: FloatArray

    @property
    def openings(self) -> int:
        return int(self.venting.area.shape[0])

    def left(self) -> FloatArray:
        """Time left of the duration [s]."""
        return np.asarray(self.venting.duration - self.books[0])

    def held(self) -> FloatArray:
        """Logarithms of the moles, and energy over R, in the tanks."""
        out = self.total - self.books[1 + self.openings : -1]
        out[-1] = self.total[-1] + self.books[-2] - self.books[-1]
        return out

    def keep(self, index: IntArray) -> None:
        """Go on with the scenarios `index` alone."""
        self.venting = self.venting.take(index)
        self.tripled = _triple(self.venting)
        for field in dataclasses.fields(self)[2:]:
            setattr(self, field.name, getattr(self, field.name)[..., index])

    def put(self, these: BoolArray, **new: FloatArray) -> None:
        """Take new arrays of scenarios `these`."""
        old = [getattr(self, name) for name in new]
        for name, values in zip(new, chosen(these, new.values(), old), strict=True):
            setattr(self, name, values)

    def restart(self, these: BoolArray, rates: Rates | None = None) -> None:
        """Take rates anew, for scenarios `these`, and a straight line as the guess of their next step."""
        rates = self.venting.rates(self.w) if rates is None else rates
        by = eliminated(rates.now, self.venting.components)[:, :-1]
        f = conserved(rates.rows, self.openings)
        change = straightened(self.w, add_along(by * f, 1))
        change[-2] *= self.w[-2]
        weighted = f / self.scale
        weighted[:-1] *= np.exp(self.held()[:-1])
        speed = np.abs(weighted).max(axis=0) * STEP_ERROR
        speed = np.maximum(speed, np.abs(change[-2] / self.w[-2]))
        first = FIRST_CHANGE / np.maximum(speed, 1e-12)
        start = flattened(self.w)
        line = start + TIMES[:, None, None] * (first * change)
        heard = self.venting.signals(self.left(), self.w, np.log(rates.now.pressure))
        self.put(these, rows=rates.rows, warming=change[-2], heard=heard, step=first)
        none = np.zeros_like(first)
        self.put(these, polynomial=line, span=first, ago=none, last_error=none)

    def line_speed(self) -> FloatArray:
        """Rates of the flattened unknowns after `restart`."""
        return np.asarray((self.polynomial[-1] - self.polynomial[0]) / self.span)

    def guess(self) -> FloatArray:
        """Unknowns (2 nc + 2, 3, n) at the places of the next step, along the polynomial."""
        ratio = self.step / self.span
        at = self.ago + PLACES[:, None] * ratio
        value = at_place(coefficients(self.polynomial[:, :, None]), at)
        low, high = LEAST_GUESS * self.w[-1], 1.0 - LEAST_GUESS * (1.0 - self.w[-1])
        value[-1] = np.minimum(np.maximum(value[-1], low), high)
        return unflattened(value)


def _triple(venting: BlendVenting) -> BlendVenting:
    return venting.take(np.tile(np.arange(venting.volume.size), 3))


def march_blend(
    venting: BlendVenting, w: FloatArray, first: Rates, *, scale: FloatArray, tolerance: FloatArray
) -> Path:
    """March every scenario from unknowns w (2 nc + 2, n) to its end.

    Parameters
    ----------
    venting : BlendVenting
    w : ndarray, shape (2 nc + 2, n)
    first : Rates
        At these unknowns.
    scale : ndarray, shape (nc + 1, n)
        Error allowed per step, in moles and in energy over R.
    tolerance : ndarray, shape (events, n)
        A signal from zero up to this counts as landed.

    Returns
    -------
    Path
        Its states hold time, the rows of `Rates` summed up, and the flattened unknowns. A point where an
        event came stands twice, with the rates before and after it.
    """
    state, record = _begin(venting, w, first, scale, tolerance)
    for _ in range(MOST_TRIALS):
        going = record.codes[state.who] == 0
        if not some(going):
            return record.path()
        if going.mean() < COMPACT_BELOW:
            state.keep(np.flatnonzero(going))
            going = np.ones(state.who.size, dtype=np.bool_)
        _advance(state, record, going)
    worst = int(np.argmin(np.where(record.codes[state.who] == 0, state.step, np.inf)))
    last = {"scenario": float(state.who[worst]), "time": float(state.books[0, worst])}
    raise ConvergenceError("the march of a blend did not end; its step", float(state.step[worst]), last)


def _begin(
    venting: BlendVenting, w: FloatArray, first: Rates, scale: FloatArray, tolerance: FloatArray
) -> tuple[_March, _Record]:
    """Scenarios at their start, those ended whose events are there already."""
    n = w.shape[1]
    zeros = np.zeros(n)
    books = np.zeros((1 + venting.area.shape[0] + venting.components + 2, n))
    heard = venting.signals(venting.duration, w, np.log(first.now.pressure))
    given, (venting, codes) = venting, venting.landed(heard <= tolerance)
    first = first if np.array_equal(given.wet, venting.wet) else venting.rates(w)
    state = _March(
        venting=venting,
        tripled=_triple(venting),
        who=np.arange(n),
        w=w,
        books=books,
        total=first.now.rows[: venting.components + 1],
        scale=scale,
        tolerance=tolerance,
        rows=np.zeros((books.shape[0] - 1, n)),
        warming=zeros,
        heard=heard,
        step=zeros + 1.0,
        growth=zeros + FASTEST,
        polynomial=np.zeros((4, *w.shape)),
        span=zeros + 1.0,
        ago=zeros,
        last_step=zeros + 1.0,
        last_error=zeros,
    )
    everyone = np.ones(n, dtype=np.bool_)
    state.restart(everyone, first)
    record = _Record(n)
    now = flattened(w)
    record.add(state, everyone, now, state.line_speed(), np.concatenate([books, now]))
    record.codes[:] = codes
    return state, record


class _Record:
    """Accepted points, in the order in which they came; `path` sorts them by scenario."""

    def __init__(self, scenarios: int) -> None:
        self.codes = np.zeros(scenarios, dtype=np.intp)
        self.parts: list[tuple[IntArray, FloatArray, FloatArray, FloatArray, BoolArray]] = []

    def add(
        self, state: _March, these: BoolArray, now: FloatArray, speed: FloatArray, middle: FloatArray
    ) -> None:
        """Keep the present of some: unknowns `now`, their `speed`, and the whole state half a step ago."""
        index = np.flatnonzero(these)
        values = np.concatenate([state.books, now])[:, index]
        rates = np.concatenate([np.ones((1, these.size)), state.rows, speed])[:, index]
        self.parts.append((state.who[index], values, rates, middle[:, index], state.venting.wet[:, index]))

    def path(self) -> Path:
        """Return all of it, scenario by scenario."""
        who = np.concatenate([part[0] for part in self.parts])
        order = np.argsort(who, kind="stable")
        counts = np.bincount(who, minlength=self.codes.size)
        row = np.arange(who.size) - np.repeat(np.cumsum(counts) - counts, counts)
        filled = []
        for k in range(1, 5):
            joined = np.concatenate([part[k] for part in self.parts], axis=1)[:, order]
            whole = np.zeros(
                (int(counts.max(initial=1)), joined.shape[0], self.codes.size), dtype=joined.dtype
            )
            whole[row, :, who[order]] = joined.T
            filled.append(whole)
        states, rates, middles, modes = filled
        return Path(states, rates, middles, modes, counts, self.codes)


def _advance(state: _March, record: _Record, going: BoolArray) -> None:
    """Try one step of every scenario and take those that hold."""
    left = state.left()
    # no sliver before the end of a duration
    step = np.where((state.step < left) & (state.step > 0.7 * left), 0.5 * left, state.step)
    state.step = np.where(going, np.minimum(step, left), step)
    held = state.held()
    moles = np.exp(held[:-1])
    trial = try_step(state.tripled, state.guess(), held, state.step, state.openings)
    first = conserved(state.rows, state.openings)
    error = error_estimate(trial, first, state.step, state.openings)
    error[:-1] *= moles
    size = np.abs(error / state.scale).max(axis=0)
    size = np.where(trial.converged & np.isfinite(size), size, np.inf)
    signals = _signals(state, trial)
    crosses = (signals[-1] < 0.0).any(axis=0)
    taken, again = going & (size <= 1.0) & ~crosses, going & (size <= 1.0) & crosses
    factor = _growth(state, size)
    state.growth = np.where(going, np.where(trial.converged, FASTEST, AFTER_FAILURE), state.growth)
    lost = going & ~trial.converged & crosses & np.isfinite(signals).all(axis=(0, 1))
    if some(again | lost):
        share = share_of_step(signals, state.tolerance)
        factor = np.where(again, share, np.where(lost & (share < 0.8), np.maximum(share, 0.1), factor))
    if some(taken):
        factor = np.where(taken, step_ahead(signals, state.tolerance, factor), factor)
    points = flattened(np.concatenate([state.w[:, None], trial.unknowns], axis=1)).swapaxes(0, 1)
    length = state.step
    if some(taken):
        _take(state, record, trial, taken, (moles, size, points, signals[-1]))
    solved = trial.converged & going
    state.step = np.where(going, length * factor, length)
    state.put(solved, polynomial=points, span=length, ago=np.where(taken, 1.0, 0.0))
    events = taken & (signals[-1] <= state.tolerance)
    if some(events):
        _land(state, record, events)


def _growth(state: _March, size: FloatArray) -> FloatArray:
    """Length of the next step over this one, from the errors of this one, `size`, and of the last one taken.

    Errors go with the fourth power of the step. Where they grew more, they are taken to grow on so
    (hairer1996stiff, chapter IV.8); where they fell more than by half, they are about to change their sign.
    """
    ratio = state.step / state.last_step
    scaled = ratio * ratio * (ratio * ratio)
    grown = size / (np.maximum(state.last_error, LEAST_TREND) * scaled)
    foreseen = np.maximum(size * np.maximum(grown, 1.0), 0.5 * state.last_error * scaled)
    foreseen = np.where((size <= 1.0) & (state.last_error > 0.0), foreseen, size)
    factor = SAFETY / np.sqrt(np.sqrt(np.maximum(foreseen, LEAST_ERROR)))
    factor = np.where(np.isfinite(size), factor, AFTER_NONE)
    return np.asarray(np.minimum(np.maximum(factor, SLOWEST), state.growth))


def _signals(state: _March, trial: Trial) -> FloatArray:
    """Signals of the events at `TIMES` of the step, (4, events, n)."""
    # so that a step as long as the time left leaves exactly none
    left = state.left() - PLACES[:, None] * state.step
    later = state.venting.signals(left, trial.unknowns, trial.log_pressure)
    return np.concatenate([state.heard[None], later.swapaxes(0, 1)])


def _take(
    state: _March, record: _Record, trial: Trial, taken: BoolArray, told: tuple[FloatArray, ...]
) -> None:
    """Accept the step of scenarios `taken`.

    `told` are the moles at its start, its error, its points, and the signals at its end.
    """
    step, (moles, size, points, heard) = state.step, told
    rows = np.concatenate([state.rows[None], trial.rows.swapaxes(0, 1)])
    sums, half = step * add_weighted(WEIGHTS[-1], rows[1:]), add_weighted(HALF_STEP, rows)
    # what left is what the components lost; the openings share in it by their flows
    parts = slice(state.openings, -2)
    lost = add_rows(state.venting.mixture.molar_mass * moles * -np.expm1(-sums[parts]))
    through = add_rows(sums[: state.openings])
    ratio = np.where(through > 0.0, lost / np.where(through > 0.0, through, 1.0), 1.0)
    sums[: state.openings] *= ratio
    half[: state.openings] *= ratio
    books = np.concatenate([(state.books[0] + step)[None], state.books[1:] + sums])
    middle = np.concatenate(
        [
            (state.books[0] + 0.5 * step)[None],
            state.books[1:] + step * half,
            add_weighted(MIDDLE, points),
        ]
    )
    w = trial.unknowns[:, -1]
    warming = add_along(trial.temperature_slope * conserved(rows[-1], state.openings), 0) * w[-2]
    # while anything leaves, light ends leave first, and temperature is at rest only where it turns
    closed = taken & ~(rows[-1, : state.openings] > 0.0).any(axis=0) & state.venting.stops_settled
    if some(closed):
        rest = rest_temperature(state.w[-2], w[-2], state.warming, warming)
        near = (np.abs(rest - w[-2]) < SETTLED_WITHIN) & (state.heard[0] > SHORT_OF_STOP)
        ended = record.codes[state.who]
        record.codes[state.who] = np.where((ended == 0) & closed & near, SETTLED, ended)
    now = {"w": w, "books": books, "rows": rows[-1], "warming": warming, "heard": heard}
    state.put(taken, **now, last_step=step, last_error=size)
    speed = add_weighted(END_SLOPE, points) / step
    record.add(state, taken, points[-1], speed, middle)


def _land(state: _March, record: _Record, events: BoolArray) -> None:
    """Let the events of scenarios come: end them, or turn over an opening's phase and begin a new step."""
    venting, codes = state.venting.landed(events)
    ended = record.codes[state.who]
    record.codes[state.who] = np.where((ended == 0) | (codes != 0), codes, ended)
    turned = events.any(axis=0) & (record.codes[state.who] == 0)
    if some(turned):
        state.venting, state.tripled = venting, _triple(venting)
        state.restart(turned)
        now = flattened(state.w)
        record.add(state, turned, now, state.line_speed(), np.concatenate([state.books, now]))
