"""Marching in long steps: tanks whose pressure stands while liquid leaks on.

Temperature follows its fixed point ever more closely there, so that short steps would be bound to its speed
for as long as the leak lasts. These are steps of collocation at Radau's points, as in
`lpgrelease.collocation`, for the one stiff component (`lpgrelease.tank.plateau_step`), and in the mass that
has left in place of time: at first a vent cools the tank nearly in proportion to what it lets out.

Notes
-----
At a step's end T is put back on equation (1) of `lpgrelease.tank.venting`. A step that goes past the stop,
past a hole or past the end of the duration ends there, on its polynomial; so does one that comes as near to
the rest as counts as settled, when no liquid leaks any more. What a step errs by is told by the slope's
defect at one more point, as in `lpgrelease.collocation`.
"""

from __future__ import annotations

import dataclasses
from typing import NamedTuple

import numpy as np

from lpgrelease.collocation.march import DensePath, sample
from lpgrelease.collocation.radau import POINTS, RULE, polynomial
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray, IntArray
from lpgrelease.summing import add_along, add_rows
from lpgrelease.tank.cooling import Cooled, come_to_end, cool_down
from lpgrelease.tank.plateau_step import LEAST_FLOW, Front, Tried, by_loss, collocate, moving, moving_from
from lpgrelease.tank.road import rest_when_dry
from lpgrelease.tank.venting import (
    DURATION,
    GAUGE_PRESSURE,
    GOES_ON,
    LIQUID_GONE,
    NEVER,
    SETTLED,
    SETTLED_WITHIN,
    Venting,
)

__all__ = ["Lingering", "linger_in_time"]

STEP_ERROR = 1e-6
"""Error allowed per step, as it is told: of temperature over 100 K, of masses over the initial one, of time
over itself. Told errors are ten times the true ones and more."""
LANDED = 2e-9
"""The level has come to a hole when so little of the volume is left between them."""
ROOT_STEPS = 6
PUT_RIGHT = 1
"""Times the part of a step to an event is put right: by Newton, from a hair off."""
SMALL_PART = 1e-4
"""Part of a step that tells how fast a signal falls."""
BEYOND_EVENT = 1.05
"""A step goes no further than this many times the way to the next event, as the last one moved."""
SAFETY, SLOWEST, FASTEST, AFTER_FAILURE = 0.85, 0.1, 15.0, 0.25
EXTRAPOLATES = 3.0
"""A step up to so many times longer than the last begins on the last one's polynomial."""
TELLS = 1e-5
"""An error smaller than that, over what is allowed, tells of round-off as much as of the step."""
FIRST = 0.003
"""Change of temperature over 100 K, or of mass over the initial one, in the first step."""
MOST_TRIALS = 100
FAILED, RUN_DRY = -1, -2
"""Codes of histories that this march does not serve, and of those that wait for their last part."""
ENDS = np.array([GAUGE_PRESSURE, GOES_ON, DURATION, SETTLED, GOES_ON])
"""Codes of the ends by their places among the signals; the last for none."""


class Lingering(NamedTuple):
    """Paths of those scenarios that could be had so, at points; fields as those of `Drained`.

    Temperatures between the steps are off the balance of energy by a hair.
    """

    states: FloatArray
    modes: BoolArray
    codes: IntArray
    rest: FloatArray
    served: IntArray


class _Log:
    """Steps as they were made from states (components, n), and where they led."""

    def __init__(self, start: FloatArray) -> None:
        n = start.shape[1]
        self.made: list[tuple[IntArray, IntArray, FloatArray, FloatArray, FloatArray, BoolArray]] = []
        self.state = start.copy()
        self.counts = np.zeros(n, dtype=np.intp)
        self.codes = np.zeros(n, dtype=np.intp)

    def add(
        self, who: IntArray, knots: FloatArray, share: FloatArray, end: FloatArray, wet: BoolArray
    ) -> None:
        self.made.append((who, self.counts[who], knots, share, end, wet))
        self.counts[who] += 1
        self.state[:, who] = end

    def add_whole(self, who: IntArray, part: Cooled) -> None:
        """Put down the steps of a part of the histories `who`."""
        for step in part.steps:
            self.add(who[step.who], step.knots, np.ones(step.who.size), step.end, step.wet)

    def path(self, components: int, openings: int) -> DensePath:
        steps, n = max(int(self.counts.max(initial=0)), 1), self.counts.size
        knots = np.zeros((steps, POINTS + 1, components, n))
        share, ends = np.zeros((steps, n)), np.zeros((steps, components, n))
        modes = np.zeros((steps, openings, n))
        for who, row, some, part, end, wet in self.made:
            knots[row, :, :, who] = some.transpose(2, 1, 0)
            share[row, who], ends[row, :, who], modes[row, :, who] = part, end.T, wet.T
        return DensePath(knots, share, ends, modes, self.counts, self.codes)


def linger_in_time(venting: Venting, temperature: FloatArray, points: int) -> Lingering:
    """Histories from `temperature` (n,), at `points` points each, of those that can be had so."""
    boiling = venting.table.saturation_temperature(venting.nozzle.pressure)
    warm = np.flatnonzero(temperature > boiling)
    venting, temperature = venting.take(warm), temperature[warm]
    start = venting.unmoved(temperature)
    rest, log = rest_when_dry(venting, temperature), _Log(start)
    _solve(venting, rest, log)
    served = np.flatnonzero((log.codes > 0) & (log.counts > 0))
    path = log.path(start.shape[0], venting.wet.shape[0])
    path = DensePath(
        **{f.name: np.take(getattr(path, f.name), served, axis=-1) for f in dataclasses.fields(path)}
    )
    ends = path.ends[path.counts - 1, :, np.arange(served.size)].T
    weights = np.zeros((start.shape[0], served.size))
    weights[0] = 1.0 / np.maximum(ends[0], 1e-300)
    weights[1] = 1.0 / 20.0
    weights[2:-2] = 1.0 / venting.mass[served]
    states, modes = sample(path, start[:, served], weights, points)
    return Lingering(states, modes > 0.5, path.codes, rest[served], warm[served])


def _solve(venting: Venting, rest: FloatArray, log: _Log) -> None:
    """Solve all: to near the rest on a known way, in long steps while liquid leaks, and on when all is dry.

    `rest`: temperature at which a tank settles that leaks no more, or `NEVER`.
    """
    first = cool_down(venting, log.state[1])
    log.add_whole(np.arange(rest.size), first)
    leaks = first.wet.any(axis=0)
    log.codes[~leaks] = RUN_DRY
    some = np.flatnonzero(leaks)
    _march(dataclasses.replace(venting, wet=first.wet).take(some), some, rest[some], log)
    some = np.flatnonzero(log.codes == RUN_DRY)
    if not some.size:
        return
    dry = dataclasses.replace(venting, wet=np.zeros_like(venting.wet)).take(some)
    last, log.codes[some] = come_to_end(dry, log.state[:, some])
    log.add_whole(some, last)
    others = np.flatnonzero(log.codes[some] == GOES_ON)
    _march(dry.take(others), some[others], rest[some[others]], log)


def _march(venting: Venting, who: IntArray, rest: FloatArray, log: _Log) -> None:
    """March scenarios `who` of the log to their ends, or until they leak no more."""
    if not who.size:
        return
    front = _begin(venting, who, log.state[:, who], rest)
    flows = add_rows(front.rates[2:-2]) > LEAST_FLOW * venting.mass
    log.codes[who[~flows]] = FAILED
    keep = np.flatnonzero(flows)
    front, venting = front.take(keep), venting.take(keep)
    for _ in range(MOST_TRIALS):
        if not front.who.size:
            return
        front, venting, codes = _advance(venting, front, collocate(venting, front), log)
        log.codes[front.who] = codes
        keep = np.flatnonzero(codes == GOES_ON)
        if keep.size < codes.size:
            front, venting = front.take(keep), venting.take(keep)
    log.codes[front.who] = FAILED


def _begin(venting: Venting, who: IntArray, state: FloatArray, rest: FloatArray) -> Front:
    """Begin anew from states (components, n), with short steps."""
    rates, slopes, filled = moving_from(venting, state)
    falls = by_loss(venting, rates)[1]
    step = FIRST / np.maximum(np.abs(falls) / 100.0, 1.0 / venting.mass)
    guess = _straight(state[1], falls, step)
    return Front(who, state, rates, slopes, filled, step, guess, rest, 0.0 * step)


def _straight(temperature: FloatArray, slope: FloatArray, step: FloatArray) -> FloatArray:
    """Temperatures at the points of a step (points, n) if the slope stayed."""
    return np.asarray(temperature + RULE.nodes[:, None] * (step * slope))


def _signals(
    venting: Venting, rest: FloatArray, start: FloatArray, states: FloatArray, filled: FloatArray
) -> FloatArray:
    """Signals (events, ..., n), zero at the stop, the hole or the bottom, the duration, the rest.

    Of states (components, ..., n) and liquid volumes on a step from temperatures `start` (n,).
    """
    t = states[1]
    signals = np.ones((4, *t.shape))
    signals[0] = np.where(venting.stop_sign == 0.0, 1.0, venting.stop_sign * (t - venting.stop_temperature))
    signals[1] = filled - _hole(venting)
    signals[2] = venting.duration - states[0]
    settles = ~venting.wet.any(axis=0) & (rest != NEVER)
    side = np.where(start >= rest, 1.0, -1.0)
    signals[3] = np.where(settles, side * (t - rest) - 0.5 * SETTLED_WITHIN, 1.0)
    return signals


def _hole(venting: Venting) -> FloatArray:
    """Liquid volume at the highest hole that the level stands above, or none (n,)."""
    return np.asarray(np.where(venting.wet, venting.empties_at, 0.0).max(axis=0))


def _on_event(
    venting: Venting,
    tried: Tried,
    signals: FloatArray,
    met: tuple[FloatArray, FloatArray, FloatArray, FloatArray],
    to: tuple[IntArray, FloatArray],
    rest: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Part of the step that is gone, and state, rates and liquid volume then; `met`: the same as first found.

    `to`: the event, and what the temperature there was off the balance of energy. Put back on it the state is
    off the event by a hair: there the part is put right.
    """
    (share, end, rates, filled), (event, off) = met, to
    index = np.flatnonzero(event >= 0)
    if not index.size:
        return met
    some, which, part, off = venting.take(index), event[index], share[index], off[index]
    knots = tried.knots[..., index]
    signal = signals[which, :, index].T
    for _ in range(PUT_RIGHT):
        fall = (polynomial(signal, part - SMALL_PART) - polynomial(signal, part)) / SMALL_PART
        state = polynomial(knots, part)
        state[1] -= off
        _, volume, more = (values[..., 0, :] for values in moving(some, state[:, None]))
        heard = _signals(some, rest[index], knots[1, 0], state, volume)
        heard[1] -= 0.5 * LANDED * some.volume
        missed = heard[which, np.arange(index.size)]
        part = np.where(fall > 0.0, np.clip(part + missed / np.where(fall > 0.0, fall, 1.0), 0.0, 1.0), part)
        off = off + more
    state = polynomial(knots, part)
    state[1] -= off
    share[index], end[:, index] = part, state
    rates[:, index], filled[index], _ = (values[..., 0, :] for values in moving(some, state[:, None]))
    return share, end, rates, filled


def _share(signals: FloatArray, found: BoolArray) -> tuple[FloatArray, IntArray]:
    """Part of the step to the first event (n,), and which it is; -1: none."""
    share, event = np.ones(found.size), np.full(found.size, -1)
    which, who = np.nonzero((signals[:, 1:] < 0.0).any(axis=1) & found)
    if not who.size:
        return share, event
    theta = _first_zero(signals[which, :, who].T)
    for each in range(len(signals)):
        some, at = who[which == each], theta[which == each]
        sooner = at < share[some]
        share[some[sooner]], event[some[sooner]] = at[sooner], each
    return share, event


def _first_zero(knots: FloatArray) -> FloatArray:
    """Where polynomials through knots (points + 1, m) come to zero, before the first knot below it (m,)."""
    each, first = np.arange(knots.shape[1]), np.argmax(knots[1:] < 0.0, axis=0)
    every = np.concatenate([[0.0], RULE.nodes])
    low, high = every[first], every[first + 1]
    one, two = np.maximum(knots[first, each], 0.0), knots[first + 1, each]
    theta = low + (high - low) * one / np.where(one > two, one - two, 1.0)
    powers = add_along(RULE.basis[:, :, None] * knots[:, None], 0)
    for _ in range(ROOT_STEPS):
        value, slope = powers[-1], np.zeros(each.size)
        for coefficient in powers[-2::-1]:
            slope, value = slope * theta + value, value * theta + coefficient
        theta = np.clip(theta - value / np.where(slope < 0.0, slope, -1e300), low, high)
    return np.asarray(theta)


def _error(venting: Venting, front: Front, tried: Tried, rates: FloatArray) -> FloatArray:
    """Largest error of the step over what is allowed, from the slope's defect; `rates` at the check."""
    slope = add_along(RULE.check_slopes[:, None] * tried.knots, 1)
    error = np.abs(RULE.check_error * (slope - front.step * by_loss(venting, rates)))
    relaxed = error[1] / (1.0 + np.maximum(-front.step * tried.slope / POINTS, 0.0))
    told = np.maximum(relaxed / 100.0, error[2:-2].max(axis=0) / venting.mass)
    return np.asarray(np.maximum(told, error[0] / np.maximum(tried.knots[0, -1], 1e-300)) / STEP_ERROR)


def _advance(venting: Venting, front: Front, tried: Tried, log: _Log) -> tuple[Front, Venting, IntArray]:
    """Take the step as far as it goes; the front and the openings then, and codes of those that end."""
    signals = _signals(venting, front.rest, front.state[1], tried.knots, tried.filled)
    share, event = _share(signals, tried.found)
    check = add_along(RULE.check_values[:, None] * tried.knots, 1)
    end = np.where(share < 1.0, polynomial(tried.knots, share), tried.knots[:, -1])
    rates, filled, off = moving(venting, np.array([check, end]).swapaxes(0, 1))
    error = _error(venting, front, tried, rates[:, 0])
    end[1] -= off[1]
    met = share, end, rates[:, 1], filled[1]
    share, end, rates, filled = _on_event(venting, tried, signals, met, (event, off[1]), front.rest)
    accepted = tried.found & (error <= 1.0)
    index = np.flatnonzero(accepted)
    log.add(front.who[index], tried.knots[..., index], share[index], end[:, index], venting.wet[:, index])
    hole, near = _hole(venting), LANDED * venting.volume
    codes = np.where((event == 1) & (hole <= near), LIQUID_GONE, ENDS[event])
    codes = np.where(accepted, np.where(_strays(venting, tried, rates), FAILED, codes), GOES_ON)
    lands = venting.wet & (venting.empties_at >= hole - near) & accepted & (event == 1)
    runs_dry = lands.any(axis=0) & ~(venting.wet & ~lands).any(axis=0)
    codes = np.where(runs_dry & (codes == GOES_ON), RUN_DRY, codes)
    # as the longest step there might have been became shorter from step to step, so will the next
    reach = front.step * np.power(np.maximum(error, TELLS), -1.0 / (POINTS + 1.0))
    shrinks = np.where(accepted, np.minimum(reach / np.maximum(front.reach, 1e-300), 1.0), 1.0)
    growth = SAFETY * shrinks * reach / front.step
    growth = np.where(tried.found, np.clip(growth, SLOWEST, FASTEST), AFTER_FAILURE)
    step = np.where(accepted, front.step * growth, front.step * np.minimum(growth, 0.7))
    whole = accepted & (share == 1.0)
    step = np.minimum(step, np.where(whole, _to_event(signals, front.step), np.inf))
    state, rates = np.where(accepted, end, front.state), np.where(accepted, rates, front.rates)
    slopes = np.where(accepted, tried.slopes, front.slopes)
    ratio = step / front.step
    onward = whole & (ratio <= EXTRAPOLATES)
    along = _straight(state[1], by_loss(venting, rates)[1], step)
    beyond = 1.0 + RULE.nodes[:, None] * np.where(onward, ratio, 1.0)
    guess = np.where(onward, polynomial(tried.knots[1], beyond), along)
    filled = np.where(accepted, filled, front.filled)
    reach = np.where(accepted, reach, front.reach)
    after = Front(front.who, state, rates, slopes, filled, step, guess, front.rest, reach)
    turned = np.flatnonzero(lands.any(axis=0) & (codes == GOES_ON))
    if turned.size:
        venting = dataclasses.replace(venting, wet=venting.wet & ~lands)
        anew = _begin(venting.take(turned), front.who[turned], state[:, turned], front.rest[turned])
        for into, values in zip(after, anew, strict=True):
            into[..., turned] = values
    return after, venting, codes


def _to_event(signals: FloatArray, step: FloatArray) -> FloatArray:
    """Longest step worth trying (n,): somewhat beyond the next event, as the last two points moved."""
    falls = (signals[:, -2] - signals[:, -1]) / (1.0 - RULE.nodes[-2])
    left = np.maximum(signals[:, -1], 0.0) / np.where(falls > 0.0, falls, 1.0)
    longest = np.where(falls > 0.0, left, np.inf).min(axis=0)
    return np.asarray(step * np.maximum(BEYOND_EVENT * longest, 1e-3))


def _strays(venting: Venting, tried: Tried, rates: FloatArray) -> BoolArray:
    """Whether a step went where this march does not serve; `rates` at its end."""
    table, t = venting.table, tried.knots[1]
    strays = ((t <= table.lowest_temperature) | (t >= table.highest_temperature)).any(axis=0)
    strays |= add_rows(rates[2:-2]) <= LEAST_FLOW * venting.mass
    fills = venting.fills_at + np.where(venting.wet, np.inf, 0.0)
    return np.asarray(strays | (tried.filled >= np.minimum(fills.min(axis=0), venting.volume)).any(axis=0))
