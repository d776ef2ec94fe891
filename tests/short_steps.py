"""Tank histories by SciPy's LSODA, one at a time: the same equations, none of the package's marches.

`in_short_steps` stands in for `lpgrelease.tank.solve._march_stiff`. Temperature follows from the energy
balance's rate, phases turn over where the level passes an opening, and a tank has settled where temperature
is within half a millikelvin of where its rate would vanish and no liquid leaks.
"""

from __future__ import annotations

import dataclasses

import numpy as np
from scipy.integrate import solve_ivp

from lpgrelease.tank import solve
from lpgrelease.tank.solved import Parts, Solved
from lpgrelease.tank.venting import (
    COLD_END,
    DURATION,
    GAUGE_PRESSURE,
    HOT_END,
    LIQUID_FULL,
    LIQUID_GONE,
    SETTLED,
    SETTLED_WITHIN,
)

ENDS = (GAUGE_PRESSURE, SETTLED, LIQUID_GONE, LIQUID_FULL, COLD_END, HOT_END)
RTOL = 1e-9
LONGEST = 1e9
"""[s]."""


def in_short_steps(venting, temperature, points):
    parts = Parts(temperature.size)
    for i in range(temperature.size):
        who = np.array([i])
        parts.add(who, _one(venting.take(who), temperature[who], points))
    return parts.joined()


def _one(venting, temperature, points):
    state = venting.unmoved(temperature)[1:, 0]
    latent = float(venting.table.saturated(temperature, "latent_heat")[0][0])
    mass = float(venting.mass[0])
    # of temperature, of what every opening has released, of heat gained and enthalpy gone
    atol = RTOL * np.concatenate([[100.0], np.full(len(state) - 3, mass), np.full(2, mass * latent)])
    end = min(float(venting.duration[0]), LONGEST)
    time, code, found = 0.0, 0, []
    while not code:
        run = solve_ivp(
            _rates,
            (time, end),
            state,
            "LSODA",
            args=(venting,),
            rtol=RTOL,
            atol=atol,
            events=_events(venting),
        )
        found.append((venting.wet, run.t, run.y))
        time, state = float(run.t[-1]), run.y[:, -1].copy()
        state[0] = _on_balance(state, venting)
        if run.status == 0:
            code = DURATION
            continue
        came = next(k for k, at in enumerate(run.t_events) if at.size)
        if came < len(ENDS):
            code = ENDS[came]
        else:
            turned = np.arange(len(venting.wet)) == came - len(ENDS)
            venting = dataclasses.replace(venting, wet=venting.wet ^ turned[:, None])
    return _solved(venting, found, code, points)


def _standing(y, venting):
    return venting.motion(y[:1], y[1:-2, None], y[-2:-1] - y[-1:])


def _on_balance(y, venting):
    now, motion = _standing(y, venting)
    return y[0] - float(now.energy_off[0] / motion.capacity[0])


def _rates(_, y, venting):
    now, motion = _standing(y, venting)
    return np.concatenate(
        [motion.temperature_rate, now.mass_flow[:, 0], motion.heat_rate, motion.enthalpy_rate]
    )


def _events(venting):
    """Terminal events, in the order of `ENDS`; after them the openings."""
    lowest, highest = venting.table.lowest_temperature, venting.table.highest_temperature

    def liquid(y):
        return float(_standing(y, venting)[0].liquid_volume[0])

    def stop(_, y, __):
        sign = float(venting.stop_sign[0])
        return sign * (y[0] - float(venting.stop_temperature[0])) if sign else 1.0

    def rest(_, y, __):
        flow = _standing(y, venting)[0].mass_flow[:, 0]
        if not venting.stops_settled[0] or (venting.wet[:, 0] & (flow > 0.0)).any():
            return 1.0
        warmer = y.copy()
        warmer[0] += 1e-4
        rate, other = (float(_standing(each, venting)[1].temperature_rate[0]) for each in (y, warmer))
        slope = (other - rate) / 1e-4
        return abs(rate / slope) - 0.5 * SETTLED_WITHIN if slope < 0.0 else 1.0

    def gone(_, y, __):
        return liquid(y)

    def full(_, y, __):
        return float(venting.volume[0]) - liquid(y)

    def cold(_, y, __):
        return y[0] - lowest

    def hot(_, y, __):
        return highest - y[0]

    def turns(j):
        bound = float((venting.empties_at if venting.wet[j, 0] else venting.fills_at)[j, 0])
        return lambda _, y, __: (liquid(y) - bound) * (1.0 if venting.wet[j, 0] else -1.0)

    events = [stop, rest, gone, full, cold, hot, *(turns(j) for j in range(len(venting.wet)))]
    for event in events:
        event.terminal, event.direction = True, -1.0
    return events


def _solved(venting, found, code, points):
    """Points evenly among the steps; of those at a turn the later."""
    time = np.concatenate([t for _, t, _ in found])
    y = np.concatenate([states for *_, states in found], axis=1)
    modes = np.concatenate([np.repeat(wet[None], t.size, axis=0) for wet, t, _ in found])
    chosen = np.linspace(0, time.size - 1, points).round().astype(int)
    states = np.concatenate([time[None], y])[:, chosen].T[..., None]
    there = solve._at_points(venting, modes[chosen])
    states = solve._on_the_balance(there, states)
    inventory = there.inventory(*solve._arguments(states))
    return Solved(states, inventory, modes[chosen], np.array([code]), states[-1, 1])
