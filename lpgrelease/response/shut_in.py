"""A tank whose vents are shut: how soon its pressure is back, and how long the ice on its leaks lasts."""

from __future__ import annotations

import copy
from collections.abc import Sequence
from typing import Any

import numpy as np

from lpgrelease.freeze_seal import FreezeSeal
from lpgrelease.quantities import FloatArray
from lpgrelease.release import Opening
from lpgrelease.response.rounds import POINTS
from lpgrelease.results import BoolArray
from lpgrelease.tank import Contents, TankFire, TankHistory, tank_history
from lpgrelease.weather import Weather

__all__ = ["STAND_IN", "TENTH_BAR", "back_at", "boil_off", "ice_lasts", "ice_limit", "weakest_plug"]

TENTH_BAR = 1e4
STAND_IN = 0.5
"""Fill that stands in for a tank without liquid, whose answers are put back afterwards."""
A_MINUTE = 60.0
"""How long a shut tank is watched [s] that is above the pressure already; nothing is told of it."""
LONGEST_RETURN = 7.0 * 86400.0
"""How long a shut tank is watched [s]."""


def back_at(
    contents: Contents,
    leaks: Sequence[Any],
    shut: BoolArray,
    others: Sequence[Any],
    weather: Weather,
    gauge_pressures: FloatArray,
    fire: TankFire | None = None,
) -> tuple[FloatArray, TankHistory]:
    """Time until a tank is back at each of some gauge pressures [s], and the histories to them.

    `shut`: which of the leaks are, (..., leaks); `others`: openings besides.
    """
    there = contents.gauge_pressure(ambient_pressure=weather.ambient_pressure) >= gauge_pressures
    top = contents.tank.height
    run = tank_history(
        contents,
        openings=[*(_closed(leak, shut[..., i], top) for i, leak in enumerate(leaks)), *others],
        weather=weather,
        points=POINTS,
        duration=np.where(there, A_MINUTE, LONGEST_RETURN),
        stop_at_gauge_pressure=gauge_pressures,
        fire=fire,
    )
    back = np.where(run.stopped_by == "gauge pressure", run.time[..., -1], np.inf)
    return np.where(there, 0.0, back), run


def _closed(opening: Opening, shut: Any, top: FloatArray) -> Opening:
    """Return the opening with no flow, and at the tank's `top`, where it is `shut`.

    No liquid stands at the top: a tank without a leak of liquid is marched in long steps.
    """
    changed = copy.copy(opening)
    coefficient = np.where(shut, 0.0, opening.discharge_coefficient)[()]
    object.__setattr__(changed, "discharge_coefficient", coefficient)  # 0 is no opening to its own check
    object.__setattr__(changed, "height", np.where(shut, top, opening.height)[()])
    return changed


def ice_limit(seals: Sequence[FreezeSeal], shut: BoolArray) -> FloatArray:
    """Gauge pressure the weakest plug is credited with; 0.1 bar stands in where there is none."""
    limit = weakest_plug(seals, shut)
    return np.where(np.isfinite(limit), limit, TENTH_BAR)


def weakest_plug(seals: Sequence[FreezeSeal], shut: BoolArray) -> FloatArray:
    """Gauge pressure the weakest plug is credited with [Pa]; infinite where there is none."""
    limit = np.full(shut.shape[:-1], np.inf)
    for i, seal in enumerate(seals):
        limit = np.minimum(limit, np.where(shut[..., i], seal.highest_holding_gauge_pressure, np.inf))
    return limit


def boil_off(run: TankHistory, temperature: FloatArray) -> FloatArray:
    """Heat that comes in over the first step of a history, over the latent heat at `temperature` [kg/s]."""
    length = run.time[..., 1] - run.time[..., 0]
    heat = (run.heat_gained[..., 1] - run.heat_gained[..., 0]) / np.where(length > 0.0, length, 1.0)
    (latent,) = run.final.fluid.saturated(temperature, "latent_heat")
    return np.maximum(heat / latent, 0.0)


def ice_lasts(seals: Sequence[FreezeSeal], shut: BoolArray) -> FloatArray:
    """How long the air leaves each plug thick enough [s], (..., leaks); 0 where there is none."""
    lasts = np.zeros(shut.shape)
    for i, seal in enumerate(seals):
        lasts[..., i] = np.where(shut[..., i], seal.holding_time, 0.0)
    return lasts
