"""Histories of tanks of a blend: from the numbers of a request to everything that is reported."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

import numpy as np

from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.fluids import Fluid
from lpgrelease.fluids.cubic import R
from lpgrelease.fluids.equilibrium import LIQUID, VAPOR, bubble_point
from lpgrelease.quantities import FloatArray
from lpgrelease.release.blend_nozzle import HIGHEST_REDUCED_TEMPERATURE, blend_nozzle
from lpgrelease.summing import add_rows
from lpgrelease.tank.blend_cubic import unflattened
from lpgrelease.tank.blend_march import STEP_ERROR, march_blend
from lpgrelease.tank.blend_path import Path, resample
from lpgrelease.tank.blend_step import settle_phases
from lpgrelease.tank.blend_venting import LEAST_SHARE, BlendVenting, Rates
from lpgrelease.tank.shapes import Tank
from lpgrelease.tank.venting import NEVER, REASONS, SETTLED, TERMINAL, HeatFromOutside, take_tank
from lpgrelease.tank.zones_solve import Additions

__all__ = ["blend_histories", "refuse_additions"]

BLOCK = 1000
"""Scenarios marched at once, so that the matrices of their phases fit the cache."""
COOLING = 50.0
"""Change of temperature [K] to which the error of the wall's energy is related."""
STOP_WITHIN = 2e-4
"""How closely a stop's pressure is met, over its distance from that of the air."""
SETTLING_STEPS = 2
"""Newton steps that put interpolated points back on equilibrium and balances: they are quadratic."""


def refuse_additions(fluid: Fluid, additions: Additions, are_lines: Sequence[bool]) -> None:
    """Raise if a history of a blend is asked for what only those of pure fluids serve.

    Raises
    ------
    InputError
    """
    if additions or any(are_lines):
        raise InputError(
            f"{fluid.name} is a blend: the history of its tank serves openings, weather, a gauge pressure to "
            "stop at and a duration; lines, valves, walls, fires, transfers, other stops and gases over the "
            "liquid are for pure fluids"
        )


def blend_histories(
    fluid: Fluid, tank: Tank, heat: HeatFromOutside, numbers: dict[str, FloatArray], points: int
) -> dict[str, np.ndarray]:
    """Everything reported of histories, scenarios first; arguments as for `lpgrelease.tank.solve.prepare`."""
    count = tank.diameter.size
    blocks = []
    for start in range(0, max(count, 1), BLOCK):
        chosen = np.arange(start, min(start + BLOCK, count))
        part = {name: values[..., chosen] for name, values in numbers.items()}
        blocks.append(_block(fluid, take_tank(tank, chosen), heat.take(chosen), part, points))
    return {name: np.concatenate([block[name] for block in blocks], axis=0) for name in blocks[0]}


def _block(
    fluid: Fluid, tank: Tank, heat: HeatFromOutside, numbers: dict[str, FloatArray], points: int
) -> dict[str, np.ndarray]:
    venting, w = _prepare(fluid, tank, heat, numbers)
    count = venting.components
    first = venting.rates(w)
    total = first.now.rows[: count + 1]
    moles = np.exp(total[:count])
    whole = add_rows(moles)
    latent = fluid.saturated(numbers["temperature"], "latent_heat")[0] * fluid.molar_mass
    scale = np.empty_like(total)
    scale[:count] = STEP_ERROR * whole
    scale[count] = STEP_ERROR * (whole * latent + venting.wall_capacity * COOLING) / R
    path = march_blend(venting, w, first, scale=scale, tolerance=_tolerance(venting))
    return _described(venting, path, total, points)


def _prepare(
    fluid: Fluid, tank: Tank, heat: HeatFromOutside, numbers: dict[str, FloatArray]
) -> tuple[BlendVenting, FloatArray]:
    """Equations of a block and its unknowns at the start."""
    blend = fluid.blend
    t, volume = numbers["temperature"], tank.volume
    x = np.array([numbers[f"fraction {i}"] for i in range(len(fluid.components))])
    point = blend.require(bubble_point(blend.mixture, x, temperature=t))
    p, y = point.pressure, point.incipient
    nozzle = blend_nozzle(fluid.components, fluid.fractions)
    _require_below_hot_end(t, HIGHEST_REDUCED_TEMPERATURE * nozzle.kay(y))
    share = np.clip(numbers["fill"], LEAST_SHARE, 1.0 - LEAST_SHARE)
    moved = blend.mixture.shift(t)[0]
    liquid = share * volume / (point.volumes[LIQUID] - add_rows(moved * x))
    vapor = (1.0 - share) * volume / (point.volumes[VAPOR] - add_rows(moved * y))
    z, none = numbers["opening_height"], np.full(t.size, NEVER)
    stops = "stop_pressure" in numbers
    stop = numbers["stop_pressure"] if stops else p
    just_full = np.minimum(z + 0.5 * numbers["opening_diameter"], tank.height)
    empties_at, fills_at = tank.volume_at(np.array([z, just_full]))
    venting = BlendVenting(
        mixture=blend.mixture,
        nozzle=nozzle,
        lowest_temperature=fluid.lowest_temperature,
        tank=tank,
        heat=heat,
        air_pressure=numbers["air_pressure"],
        volume=volume,
        wall_capacity=tank.wall_capacity,
        stop_pressure=stop,
        stop_sign=np.where(p > stop, 1.0, -1.0) if stops else np.zeros(t.size),
        duration=numbers.get("duration", none),
        stops_settled=np.full(t.size, stops or "duration" not in numbers),
        area=numbers["opening_area"],
        height=z,
        empties_at=empties_at,
        fills_at=fills_at,
        wet=share * volume > empties_at,
    )
    # what hardly is there would have no logarithm
    traces = np.maximum(x, TRACE), np.maximum(y, TRACE)
    return venting, np.concatenate([liquid * traces[0], vapor * traces[1], t[None], share[None]])


TRACE = 1e-30


def _require_below_hot_end(temperature: FloatArray, limit: FloatArray) -> None:
    above = np.flatnonzero(temperature > limit)
    if above.size:
        value, bound = float(temperature[above[0]]), float(limit[above[0]])
        raise OutOfRangeError(
            "temperature", value, "K", 0.0, bound, "short of the critical point of the blend's vapor"
        )


def _tolerance(venting: BlendVenting) -> FloatArray:
    """How closely each event is met, (events, n)."""
    out = np.empty((len(TERMINAL) + venting.wet.shape[0], venting.volume.size))
    apart = np.abs(venting.stop_pressure - venting.air_pressure) / venting.stop_pressure
    out[0] = np.maximum(STOP_WITHIN * apart, 1e-7)
    out[1] = 1e-12 * venting.duration
    out[2:4] = 0.1 * LEAST_SHARE
    out[4:6] = 1e-6
    out[6:] = 1e-9 * venting.volume
    return out


def _described(venting: BlendVenting, path: Path, total: FloatArray, points: int) -> dict[str, np.ndarray]:
    """Points of every history, put back on equilibrium and balances, and what is reported there."""
    count, (openings, n) = venting.components, venting.wet.shape
    parts = slice(1 + openings, 1 + openings + count)
    mass = add_rows(venting.mixture.molar_mass * np.exp(total[:count]))
    who, last = np.arange(n), path.counts - 1
    weights = np.zeros(path.states.shape[1:])
    weights[0] = 1.0 / np.maximum(path.states[last, 0, who], 1e-300)
    weights[1 : 1 + openings] = 1.0 / mass
    weights[-2] = 1.0 / 20.0
    # nothing comes in, of no component
    states, modes = resample(path, weights, points, rising=slice(1, parts.stop))
    books = states.swapaxes(0, 1)
    wanted = np.empty((count + 1, points, n))
    wanted[:count] = total[:count, None] - books[parts]
    wanted[count] = total[count] + books[parts.stop] - books[parts.stop + 1]
    tiled = venting.take(np.tile(who, points))
    tiled = dataclasses.replace(tiled, wet=np.moveaxis(modes, 1, 0).reshape(openings, points * n))
    flat = wanted.reshape(count + 1, points * n)
    unknowns = unflattened(books[parts.stop + 2 :]).reshape(2 * count + 2, points * n)
    w = settle_phases(tiled, unknowns, flat, SETTLING_STEPS)
    rates = tiled.rates(w)

    def at_points(values: FloatArray) -> FloatArray:
        return np.asarray(values.reshape(*values.shape[:-1], points, n))

    left = venting.mixture.molar_mass[..., None] * np.exp(total[:count, None])
    lost = add_rows(left * -np.expm1(-books[parts]))
    released = books[1 : 1 + openings]
    through = add_rows(released)
    released = released * np.where(through > 0.0, lost / np.where(through > 0.0, through, 1.0), 0.0)
    found = {
        "time": books[0],
        "mass_released": released,
        "passes_liquid": np.moveaxis(modes, 1, 0),
        "heat_gained": R * books[parts.stop],
        "enthalpy_released": R * books[parts.stop + 1],
    }
    found |= {name: at_points(values) for name, values in _reported(tiled, rates, w, flat).items()}
    gone = add_rows(released)
    in_tank = found["liquid_mass"] + found["vapor_mass"]
    found["mass_error"] = np.maximum(found["mass_error"], np.abs(in_tank + gone - mass) / mass)
    found["energy_error"] = found["energy_error"] / mass
    settled = path.codes == SETTLED
    ends = {
        "stopped_by": np.array(REASONS)[path.codes],
        "plateau_pressure": np.where(settled, found["pressure"][-1], np.inf),
        "volume": venting.volume,
    }
    return {name: np.moveaxis(values, -1, 0) for name, values in found.items()} | ends


def _reported(
    venting: BlendVenting, rates: Rates, w: FloatArray, wanted: FloatArray
) -> dict[str, FloatArray]:
    """Tell what stands in the tanks and flows, and how well it closes; (..., states)."""
    now, count = rates.now, venting.components
    l_i, v_i = w[:count], w[count:-2]
    masses = venting.mixture.molar_mass * l_i, venting.mixture.molar_mass * v_i
    moles = np.exp(wanted[:count])
    return {
        "pressure": now.pressure,
        "temperature": w[-2],
        "liquid_mass": add_rows(masses[0]),
        "vapor_mass": add_rows(masses[1]),
        "liquid_volume": now.volume[0],
        "mass_flow": rates.rows[: venting.wet.shape[0]],
        "liquid_fractions": l_i / add_rows(l_i),
        "vapor_fractions": v_i / add_rows(v_i),
        "component_mass": masses[0] + masses[1],
        "mass_error": np.max(np.abs(l_i + v_i - moles), axis=0) / add_rows(moles),
        "energy_error": np.abs(now.rows[count] - wanted[count]) * R,
    }
