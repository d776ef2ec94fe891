"""The tank's side of a forecast: its histories phase by phase, and the seals between them."""

from __future__ import annotations

import copy
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from lpgrelease.freeze_seal import FreezeSeal
from lpgrelease.quantities import FloatArray
from lpgrelease.release import Line, Opening
from lpgrelease.response.inputs import Incident, ResponsePlan
from lpgrelease.response.seals import assess_leak
from lpgrelease.results import BoolArray
from lpgrelease.tank import Contents, TankFire, TankHistory, tank_history
from lpgrelease.weather import Weather
from lpgrelease.weather_by_hour import weather_at_start

__all__ = [
    "POINTS",
    "TENTH_BAR",
    "Phase",
    "SealsLaid",
    "back_at",
    "boil_off",
    "ice_lasts",
    "ice_limit",
    "lay_seals",
    "leak_until_arrival",
    "look_ahead",
    "march",
    "openings_while_holding",
    "pressure_return",
    "vent",
]

POINTS = 65
"""Points in time of each phase."""
NO_TIME = 1e-6
"""Length [s] of a phase that a scenario does not need."""
TENTH_BAR = 1e4
A_MINUTE = 60.0
"""How long a shut tank is watched [s] that is above the pressure already; nothing is told of it."""
LONGEST_RETURN = 7.0 * 86400.0
"""How long a shut tank is watched [s]."""


class Phase(NamedTuple):
    """One phase: what it is called and how the tank fared."""

    name: str
    run: TankHistory
    pumped: FloatArray | None = None
    """Liquid pumped out since the phase began [kg]; None: nothing is pumped."""


class SealsLaid(NamedTuple):
    """How each leak took the cloth: assessments, and whether it is shut, (..., leaks)."""

    assessed: tuple[FreezeSeal, ...]
    shut: BoolArray


def leak_until_arrival(incident: Incident, plan: ResponsePlan, shape: tuple[int, ...]) -> Phase:
    """Let the tank leak until the responders act; the vents are shut."""
    contents = incident.contents
    fill, temperature = (np.broadcast_to(x, shape)[()] for x in (contents.fill, contents.temperature))
    whole = Contents(contents.tank, contents.fluid, fill=fill, temperature=temperature)
    openings = [*incident.leaks, *(closed(item, True, contents.tank.height) for item in plan.vents)]
    return Phase("leaking", march(whole, openings, incident, duration=plan.arrival))


def vent(incident: Incident, plan: ResponsePlan, contents: Contents) -> Phase:
    """Vent until the gauge has come down, has settled, or time is up.

    A tank that is at the wanted pressure already, or below the air's, is left as it is.
    """
    done = _gauge_pressure(contents, incident) <= plan.stop_at_gauge_pressure
    run = march(
        contents,
        [*incident.leaks, *plan.vents],
        incident,
        duration=np.where(done, NO_TIME, plan.longest_venting)[()],
        stop_at_gauge_pressure=plan.stop_at_gauge_pressure,
    )
    return Phase("venting", run)


def lay_seals(incident: Incident, plan: ResponsePlan, venting: TankHistory) -> tuple[Phase, SealsLaid]:
    """Lay a cloth on every leak and wait until it has frozen, with everything still open.

    Each leak is assessed at the state in which venting ended, by the phase that stands at it. Where no
    cloth freezes, only the time to lay it passes.
    """
    contents = venting.final
    wet = venting.passes_liquid[..., -1]
    assessed = tuple(
        assess_leak(
            contents.fluid, contents, leak, wet[..., i], plan.seal, weather_at_start(incident.weather)
        )
        for i, leak in enumerate(incident.leaks)
    )
    duration = plan.laying_time
    for seal in assessed:
        frozen = np.where(seal.feasible, seal.freeze_time, 0.0)
        duration = np.maximum(duration, plan.laying_time + frozen)
    shut = np.zeros((*wet.shape[:-1], len(incident.leaks)), dtype=np.bool_)
    for i, seal in enumerate(assessed):
        shut[..., i] = seal.feasible
    run = march(contents, [*incident.leaks, *plan.vents], incident, duration=duration)
    return Phase("sealing", run), SealsLaid(assessed, shut)


def look_ahead(incident: Incident, plan: ResponsePlan, contents: Contents, shut: BoolArray) -> Phase:
    """Look ahead with the sealed leaks shut, and the vents open or shut as planned."""
    openings = openings_while_holding(incident, plan, shut)
    return Phase("holding", march(contents, openings, incident, duration=plan.hold))


def openings_while_holding(incident: Incident, plan: ResponsePlan, shut: BoolArray) -> list[Opening | Line]:
    """Return the leaks, shut where they are sealed, and the vents, shut unless the plan keeps them open."""
    vents = [closed(item, not plan.keep_venting, incident.contents.tank.height) for item in plan.vents]
    return [*_remaining(incident, shut), *vents]


def pressure_return(
    incident: Incident, plan: ResponsePlan, contents: Contents, shut: BoolArray, gauge_pressures: FloatArray
) -> tuple[FloatArray, TankHistory]:
    """Time until a tank whose vents are shut is back at each of some gauge pressures [s].

    Parameters
    ----------
    gauge_pressures : ndarray
        [Pa], shape (thresholds, ...).

    Returns
    -------
    times : ndarray
        Of that shape; 0 where the pressure is there already, infinite where it does not come back within
        a week or settles below.
    history : TankHistory
        The history to each of them.
    """
    shut_vents = tuple(closed(item, True, contents.tank.height) for item in plan.vents)
    return back_at(
        contents, incident.leaks, shut, shut_vents, weather_at_start(incident.weather), gauge_pressures
    )


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
        openings=[*(closed(leak, shut[..., i], top) for i, leak in enumerate(leaks)), *others],
        weather=weather,
        points=POINTS,
        duration=np.where(there, A_MINUTE, LONGEST_RETURN),
        stop_at_gauge_pressure=gauge_pressures,
        fire=fire,
    )
    back = np.where(run.stopped_by == "gauge pressure", run.time[..., -1], np.inf)
    return np.where(there, 0.0, back), run


def closed(opening: Opening | Line, shut: Any, top: FloatArray) -> Opening | Line:
    """Return the opening with no flow, and at the tank's `top`, where it is `shut`.

    No liquid stands at the top: a tank without a leak of liquid is marched in long steps.
    """
    changed = copy.copy(opening)
    coefficient = np.where(shut, 0.0, opening.discharge_coefficient)[()]
    object.__setattr__(changed, "discharge_coefficient", coefficient)  # 0 is no opening to its own check
    object.__setattr__(changed, "height", np.where(shut, top, opening.height)[()])
    return changed


def _remaining(incident: Incident, shut: BoolArray) -> list[Opening | Line]:
    top = incident.contents.tank.height
    return [closed(leak, shut[..., i], top) for i, leak in enumerate(incident.leaks)]


def march(
    contents: Contents, openings: list[Opening | Line], incident: Incident, **limits: Any
) -> TankHistory:
    """History of the tank in the incident's weather."""
    return tank_history(
        contents, openings=openings, weather=weather_at_start(incident.weather), points=POINTS, **limits
    )


def ice_limit(seals: Sequence[FreezeSeal], shut: BoolArray) -> FloatArray:
    """Gauge pressure the weakest plug is credited with; 0.1 bar stands in where there is none."""
    limit = np.full(shut.shape[:-1], np.inf)
    for i, seal in enumerate(seals):
        limit = np.minimum(limit, np.where(shut[..., i], seal.highest_holding_gauge_pressure, np.inf))
    return np.where(np.isfinite(limit), limit, TENTH_BAR)


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


def _gauge_pressure(contents: Contents, incident: Incident) -> FloatArray:
    return contents.gauge_pressure(ambient_pressure=weather_at_start(incident.weather).ambient_pressure)
