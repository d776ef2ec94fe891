"""A tank whose liquid is gone: from when on, whether its vapor leaks on, and how hard at most.

The forecast follows a tank to its last liquid. The vapor that is left then, most often under pressure, leaves
through whatever is open; only a bound to how fast is given here.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.response.actions import Seal
from lpgrelease.response.script import script_of
from lpgrelease.results import BoolArray
from lpgrelease.weather_by_hour import ambient_at

if TYPE_CHECKING:
    from lpgrelease.response.story import Forecast

__all__ = ["dry_from", "leaks_on", "vapor_flow"]

CHOKED = math.sqrt(1.4 * (2.0 / 2.4) ** 6.0)
"""Flux of a choked ideal nozzle over (p0 rho0)^(1/2) at a ratio of heat capacities of 1.4."""


def dry_from(story: Forecast) -> FloatArray:
    """When the last liquid has left the tank [s]; infinite where some is left."""
    found = np.full(story.shape, np.inf)
    for i, run in enumerate(story.runs):
        found = np.minimum(found, np.where(run.stopped_by == "liquid gone", story.phase_end[..., i], np.inf))
    return found


def leaks_on(story: Forecast) -> BoolArray:
    """Whether vapor under pressure goes on leaking after the last liquid."""
    return np.asarray((vapor_flow(story) > 0.0).any(axis=-1))


def vapor_flow(story: Forecast) -> FloatArray:
    """Most that the vapor of a tank without liquid leaks in each phase [kg/s]; 0 where liquid is left.

    At the pressure and density at which the last liquid went: unless the tank is heated it only falls.

    Notes
    -----
    G = C_d min(C* (p0 rho0)^(1/2), (2 rho0 (p0 - p_amb))^(1/2)), C* at k = 1.4: more than an isentropic
    nozzle passes of any gas with k up to 1.4, choked or not; of vapor near saturation up to a fifth more.
    References: api2014sizing.
    """
    dry = dry_from(story)
    goes = (story.phase_end >= dry[..., None]) & (story.phase_end > story.phase_start)
    pressure = story.pressure[..., -1]
    density = story.vapor_mass[..., -1] / np.asarray(story.incident.contents.tank.volume)
    air = ambient_at(story.incident.weather, story.phase_start)
    drive = np.maximum(pressure[..., None] - air, 0.0)
    choked = CHOKED * np.sqrt(pressure * density)[..., None]
    flux = np.minimum(choked, np.sqrt(2.0 * density[..., None] * drive))
    frozen = _frozen_at(story)
    total = np.zeros(goes.shape)
    for i, leak in enumerate(story.incident.leaks):
        wide, coefficient = np.asarray(leak.diameter), np.asarray(leak.discharge_coefficient)
        area = 0.25 * math.pi * wide * wide * coefficient
        shut = story.sealed[..., i, None] & (story.phase_start >= frozen[..., None])
        total = total + np.where(shut, 0.0, area[..., None] * flux)
    return np.where(goes, total, 0.0)


def _frozen_at(story: Forecast) -> FloatArray:
    """When the last of the cloths that were laid has frozen [s]; infinite where none was."""
    seals = [k for k, step in enumerate(script_of(story.plan).steps) if isinstance(step, Seal)]
    ends = np.asarray(story.step_ends)[..., seals]
    last = np.max(np.where(np.isfinite(ends), ends, -np.inf), axis=-1, initial=-np.inf)
    return np.where(np.isfinite(last), last, np.inf)
