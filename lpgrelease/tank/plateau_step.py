"""One long step of a tank whose pressure stands while liquid leaks on (`lpgrelease.tank.plateau`).

Notes
-----
By the mass G that has left, over a step h of it, T is the polynomial for which at Radau's points

    mdot_i sum of d_ij (T_j - T_0) = h T'_i                                                   (1)

d the inverse of the rule's weights; mdot and T' = dT/dt are those of `lpgrelease.tank.venting`. What has left
is known at the points, so that each T'_i and mdot_i depends on T_i alone. Newton's method begins with the
slopes with which the last step ended and goes on with those that its own moves tell. Time, heat, enthalpy and
what each opening released follow by the rule's quadrature.
"""

from __future__ import annotations

import dataclasses
from typing import Any, NamedTuple

import numpy as np

from lpgrelease.collocation.radau import POINTS, RULE
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray, IntArray
from lpgrelease.summing import add_along, add_rows
from lpgrelease.tank.venting import Venting

__all__ = ["LEAST_FLOW", "Front", "Tried", "by_loss", "collocate", "moving", "moving_from"]

FOUND = 2e-5
"""Newton's method has found temperatures that it moves no further [K]; the last move is far smaller."""
MOST_NEWTON = 8
SMALL_MOVE = 1e-4
"""A temperature must move so far [K] to tell the slope of its rate."""
NEAREST = 0.8
"""An iteration goes no more than so much of the way to the boiling point, where the flow of vapor ceases."""
LONGEST_MOVE = 50.0
"""An iteration moves temperature no further [K]."""
LEAST_FLOW = 1e-9
"""Where less than this share of the mass leaves in a second, other marches serve."""
DONE_ENOUGH = 0.4
"""Newton's method drops the scenarios that are done once they are more than this fraction."""
INVERSE = np.linalg.inv(RULE.weights)


class Front(NamedTuple):
    """Where the march stands.

    Scenarios, states, rates by time, slopes of flow and dT/dt by temperature (2, n), liquid volumes, steps,
    first guesses of T_i, temperatures of rest, and how long the last step might have been.
    """

    who: IntArray
    state: FloatArray
    rates: FloatArray
    slopes: FloatArray
    filled: FloatArray
    step: FloatArray
    guess: FloatArray
    rest: FloatArray
    reach: FloatArray

    def take(self, index: IntArray) -> Front:
        """Return the scenarios `index` alone."""
        taken: Any = (np.take(field, index, axis=-1) for field in self)
        return Front(*taken)


class Tried(NamedTuple):
    """A step: knots (components, points + 1, n), liquid volumes there (points + 1, n), slopes at its end.

    These are of dT/dt by temperature along the loss (n,), and of flow and dT/dt (2, n).
    """

    knots: FloatArray
    filled: FloatArray
    slope: FloatArray
    slopes: FloatArray
    found: BoolArray


def moving(venting: Venting, state: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Rates (components, points, n), liquid volumes and what temperatures are off the balance (points, n)."""
    here = dataclasses.replace(venting, wet=venting.wet[:, None])
    now, motion = here.motion(state[1], state[2:-2], state[-2] - state[-1])
    rates = np.empty_like(state)
    rates[0], rates[1], rates[2:-2] = 1.0, motion.temperature_rate, now.mass_flow
    rates[-2], rates[-1] = motion.heat_rate, motion.enthalpy_rate
    return rates, now.liquid_volume, now.energy_off / motion.capacity


def moving_from(venting: Venting, state: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Rates at states (components, n), slopes of flow and dT/dt by temperature there, and liquid volumes."""
    near = np.repeat(state[:, None], 2, axis=1)
    near[1, 1] += SMALL_MOVE
    rates, filled, _ = moving(venting, near)
    told = _flow_and_speed(rates)
    return rates[:, 0], (told[:, 1] - told[:, 0]) / SMALL_MOVE, filled[0]


def by_loss(venting: Venting, rates: FloatArray) -> FloatArray:
    """Rates by the mass that has left, from those by time."""
    return np.asarray(rates / np.maximum(add_rows(rates[2:-2]), LEAST_FLOW * venting.mass))


class _Newton(NamedTuple):
    """Iterations on a step's temperatures; (..., points, n) or (n,)."""

    who: IntArray
    step: FloatArray
    start: FloatArray
    boiling: FloatArray
    states: FloatArray
    rates: FloatArray
    filled: FloatArray
    slopes: FloatArray
    """Of flow and dT/dt by temperature, (2, points, n)."""
    done: BoolArray

    def take(self, index: IntArray) -> _Newton:
        """Return the scenarios `index` alone."""
        taken: Any = (np.take(field, index, axis=-1) for field in self)
        return _Newton(*taken)


def _first_guess(venting: Venting, front: Front) -> _Newton:
    """Where Newton's method begins."""
    n, boiling = front.step.size, venting.table.saturation_temperature(venting.nozzle.pressure)
    above = front.state[1] - boiling
    floor = np.where(above > 0.0, boiling + (1.0 - NEAREST) * above, -np.inf)
    states = np.repeat(front.state[:, None], POINTS, axis=1)
    states[1] = np.maximum(front.guess, floor)
    # what is released in all is known, and no more than that is needed: as if by the first
    states[2] += RULE.nodes[:, None] * front.step
    rates, filled, _ = moving(venting, states)
    slopes, done = np.repeat(front.slopes[:, None], POINTS, axis=1), np.zeros(n, dtype=np.bool_)
    return _Newton(np.arange(n), front.step, front.state[1], boiling, states, rates, filled, slopes, done)


def collocate(venting: Venting, front: Front) -> Tried:
    """Newton's method for the temperatures at the points of a step."""
    whole = now = _first_guess(venting, front)
    for _ in range(MOST_NEWTON):
        told = _flow_and_speed(now.rates)
        change = _solve(told, now.slopes, now.step, now.states[1] - now.start)
        least = NEAREST * np.minimum(now.boiling - now.states[1], 0.0)
        change = np.where(now.states[1] > now.boiling, np.maximum(change, least), change)
        change = np.clip(change, -LONGEST_MOVE, LONGEST_MOVE)
        change = np.where(now.done, 0.0, change)
        now.states[1] += change
        now = now._replace(done=now.done | (np.abs(change).max(axis=0) <= FOUND))
        if now.done.all():
            break
        if now.done.mean() > DONE_ENOUGH:
            whole, keep = _put(whole, now), np.flatnonzero(~now.done)
            now, venting, told, change = now.take(keep), venting.take(keep), told[..., keep], change[:, keep]
        rates, filled, _ = moving(venting, now.states)
        tells = ~now.done & (np.abs(change) > SMALL_MOVE)
        slopes = (_flow_and_speed(rates) - told) / np.where(tells, change, 1.0)
        now = now._replace(
            rates=np.where(now.done, now.rates, rates),
            filled=np.where(now.done, now.filled, filled),
            slopes=np.where(tells, slopes, now.slopes),
        )
    return _tried(front, _put(whole, now))


def _put(whole: _Newton, part: _Newton) -> _Newton:
    """Put iterations of some scenarios back among all."""
    if part.who.size == whole.who.size:
        return part
    for name in ("states", "rates", "filled", "slopes", "done"):
        getattr(whole, name)[..., part.who] = getattr(part, name)
    return whole


def _tried(front: Front, newton: _Newton) -> Tried:
    """Return the step that Newton's method came to."""
    losses = newton.rates / np.maximum(add_rows(newton.rates[2:-2]), 1e-300)
    ahead = front.state[:, None] + front.step * _quadrature(losses)
    ahead[1] = newton.states[1]
    knots = np.concatenate([front.state[:, None], ahead], axis=1)
    flow, speed = _flow_and_speed(newton.rates)[:, -1]
    by_flow, by_speed = newton.slopes[:, -1]
    flow = np.where(flow > 0.0, flow, 1.0)
    slope = (by_speed - by_flow * (speed / flow)) / flow
    filled = np.concatenate([front.filled[None], newton.filled])
    return Tried(knots, filled, slope, newton.slopes[:, -1], newton.done)


def _flow_and_speed(rates: FloatArray) -> FloatArray:
    """Flow of all openings and dT/dt."""
    return np.array([add_rows(rates[2:-2]), rates[1]])


def _quadrature(rates: FloatArray) -> FloatArray:
    """Integrals of rates (components, points, n) from a step's start to its points, over its length."""
    return add_along(RULE.weights[:, :, None] * rates[:, None], 2)


def _solve(told: FloatArray, slopes: FloatArray, step: FloatArray, rise: FloatArray) -> FloatArray:
    """Newton's changes of the temperatures (points, n), by elimination.

    Of mdot_i sum of d_ij (T_j - T_0) = step dT/dt_i, d the inverse of a: so nothing is divided by a flow that
    ceases. `told` and `slopes` (2, points, n): flow and dT/dt, and their slopes; `rise`: T_j - T_0.
    """
    flow, speed = told
    turn = add_along(INVERSE[:, :, None] * rise, 1)
    system = np.empty((POINTS, POINTS + 1, step.size))
    system[:, :POINTS] = INVERSE[:, :, None] * flow[:, None]
    system[:, POINTS] = step * speed - flow * turn
    diagonal = slopes[0] * turn - step * slopes[1]
    for k in range(POINTS):
        system[k, k] += diagonal[k]
    for k in range(POINTS):
        system[k, k + 1 :] /= np.where(system[k, k] != 0.0, system[k, k], 1.0)
        system[k + 1 :, k + 1 :] -= system[k + 1 :, k, None] * system[k, k + 1 :]
    for k in range(POINTS - 1, 0, -1):
        system[:k, POINTS] -= system[:k, k] * system[k, POINTS]
    return system[:, POINTS]
