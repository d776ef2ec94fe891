"""The tank's side of a forecast: its histories phase by phase, and the seals between them."""

from __future__ import annotations

import copy
import dataclasses
from typing import Any, NamedTuple

import numpy as np

from lpgrelease.freeze_seal import FreezeSeal, assess_freeze_seal
from lpgrelease.quantities import FloatArray
from lpgrelease.release import Opening
from lpgrelease.response.inputs import Incident, ResponsePlan
from lpgrelease.results import BoolArray, Result
from lpgrelease.tank import Contents, TankHistory, tank_history

__all__ = [
    "POINTS",
    "Phase",
    "SealsLaid",
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
        _assess(incident, plan, contents, leak, wet[..., i]) for i, leak in enumerate(incident.leaks)
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


def openings_while_holding(incident: Incident, plan: ResponsePlan, shut: BoolArray) -> list[Opening]:
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
    there = _gauge_pressure(contents, incident) >= gauge_pressures
    openings = [
        *_remaining(incident, shut),
        *(closed(item, True, contents.tank.height) for item in plan.vents),
    ]
    run = march(
        contents,
        openings,
        incident,
        duration=np.where(there, A_MINUTE, LONGEST_RETURN),
        stop_at_gauge_pressure=gauge_pressures,
    )
    back = np.where(run.stopped_by == "gauge pressure", run.time[..., -1], np.inf)
    return np.where(there, 0.0, back), run


def closed(opening: Opening, shut: Any, top: FloatArray) -> Opening:
    """Return the opening with no flow, and at the tank's `top`, where it is `shut`.

    No liquid stands at the top: a tank without a leak of liquid is marched in long steps.
    """
    changed = copy.copy(opening)
    coefficient = np.where(shut, 0.0, opening.discharge_coefficient)[()]
    object.__setattr__(changed, "discharge_coefficient", coefficient)  # 0 is no opening to its own check
    object.__setattr__(changed, "height", np.where(shut, top, opening.height)[()])
    return changed


def _remaining(incident: Incident, shut: BoolArray) -> list[Opening]:
    top = incident.contents.tank.height
    return [closed(leak, shut[..., i], top) for i, leak in enumerate(incident.leaks)]


def march(contents: Contents, openings: list[Opening], incident: Incident, **limits: Any) -> TankHistory:
    """History of the tank in the incident's weather."""
    return tank_history(contents, openings=openings, weather=incident.weather, points=POINTS, **limits)


def _gauge_pressure(contents: Contents, incident: Incident) -> FloatArray:
    return contents.gauge_pressure(ambient_pressure=incident.weather.ambient_pressure)


def _assess(
    incident: Incident, plan: ResponsePlan, contents: Contents, leak: Opening, wet: BoolArray
) -> FreezeSeal:
    """Assess one leak as a leak of liquid and of vapor, and keep what stands at it.

    Below the air's pressure a tank is assessed at zero gauge and, for vapor, at the boiling point: nothing
    flows and nothing cools the cloth.
    """
    fluid, weather = contents.fluid, incident.weather
    boiling = fluid.saturation_temperature(np.asarray(weather.ambient_pressure))
    common: dict[str, Any] = {
        "gauge_pressure": np.maximum(_gauge_pressure(contents, incident), 0.0),
        "cloth": plan.seal,
        "weather": weather,
    }
    head = np.maximum(contents.level - leak.height, 0.0)
    liquid = assess_freeze_seal(
        fluid, leak, phase="liquid", tank_temperature=contents.temperature, head=head, **common
    )
    warm = None if fluid.is_blend else np.maximum(contents.temperature, boiling)
    vapor = assess_freeze_seal(fluid, leak, phase="vapor", tank_temperature=warm, **common)
    if wet.all() or not wet.any():
        return liquid if wet.any() else vapor
    merged: FreezeSeal = _merge(wet, liquid, vapor)
    return merged


def _merge(choice: BoolArray, first: Any, second: Any) -> Any:
    """`first` where `choice`, else `second`, field by field; words of both."""
    if isinstance(first, Result):
        changed = {
            f.name: _merge(choice, getattr(first, f.name), getattr(second, f.name))
            for f in dataclasses.fields(first)
        }
        return dataclasses.replace(first, **changed)
    if isinstance(first, (np.ndarray, np.generic)):
        return np.where(choice, first, second)
    if isinstance(first, tuple):
        if first and isinstance(first[0], str):
            return tuple(dict.fromkeys((*first, *second)))
        return tuple(_merge(choice, a, b) for a, b in zip(first, second, strict=True))
    return first
