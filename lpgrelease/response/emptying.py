"""The last of the liquid: pumped out into another tank or a burn pit, and what is left boiled away."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.fire import BurnPit, burn_pit
from lpgrelease.quantities import FloatArray
from lpgrelease.response.inputs import Incident, ResponsePlan
from lpgrelease.response.phases import NO_TIME, Phase, march, openings_while_holding
from lpgrelease.results import BoolArray
from lpgrelease.tank import Contents, TankHistory, Transfer
from lpgrelease.weather_by_hour import weather_at_start

__all__ = ["boil_away", "burn_feed", "burn_in_pit", "pump_out"]

SPARE = 1.05
"""Time allowed to pump, over that which the liquid alone would take."""
LEAST_TIME = 60.0
LONGEST_BOILING = 60.0 * 86400.0
"""How long a tank is watched while it boils dry [s]."""
STAND_IN = 0.5
"""Fill that stands in for a tank without liquid, whose history is put back afterwards."""


def pump_out(incident: Incident, plan: ResponsePlan, before: TankHistory, shut: BoolArray) -> Phase:
    """Pump liquid out at the plan's rate until none is left, with vents and leaks as while holding.

    Raises
    ------
    InputError
        The cargo is a blend.
    """
    contents = before.final
    if contents.fluid.is_blend:
        raise InputError("transfer_rate: pumping a blend out is not served; vent it, or leave it out")
    dry: BoolArray = np.asarray(before.stopped_by == "liquid gone")
    rate: FloatArray = np.where(dry, 0.0, np.asarray(plan.transfer_rate))
    still = np.where(dry, 1.0, rate)
    duration = np.where(dry, NO_TIME, SPARE * before.liquid_mass[..., -1] / still + LEAST_TIME)
    filled = Contents(
        contents.tank,
        contents.fluid,
        fill=np.where(dry, STAND_IN, np.asarray(contents.fill))[()],
        temperature=contents.temperature,
    )
    run = march(
        filled,
        openings_while_holding(incident, plan, shut),
        incident,
        duration=duration[()],
        transfers=[Transfer(mass_flow=-rate[()])],
    )
    return Phase("transferring", _put_back(run, before, dry), pumped=rate[..., None] * run.time)


def _put_back(run: TankHistory, before: TankHistory, dry: BoolArray) -> TankHistory:
    """Return the history with tanks that were dry before standing as they were."""
    if not dry.any():
        return run
    rows: tuple[str, ...] = (
        "pressure",
        "temperature",
        "vapor_temperature",
        "wet_wall_temperature",
        "dry_wall_temperature",
    )
    rows += ("liquid_mass", "vapor_mass", "gas_mass", "liquid_volume", "mass_flow", "passes_liquid")
    sums = ("mass_released", "heat_gained", "enthalpy_released")
    changed: dict[str, Any] = {}
    for name in (*rows, *sums):
        new, old = getattr(run, name), getattr(before, name)[..., -1:]
        where = dry[..., None, None] if new.ndim > dry.ndim + 1 else dry[..., None]
        changed[name] = np.where(where, np.zeros_like(old) if name in sums else old, new)
    final, last = run.final, before.final
    changed["stopped_by"] = np.where(dry, before.stopped_by, run.stopped_by)
    changed["final"] = Contents(
        final.tank,
        final.fluid,
        fill=np.where(dry, np.asarray(last.fill), np.asarray(final.fill))[()],
        temperature=np.where(dry, np.asarray(last.temperature), np.asarray(final.temperature))[()],
    )
    return dataclasses.replace(run, **changed)


def boil_away(incident: Incident, plan: ResponsePlan, contents: Contents, shut: BoolArray) -> Phase:
    """Leave the vents open until the last liquid has boiled away."""
    openings = openings_while_holding(incident, dataclasses.replace(plan, keep_venting=True), shut)
    return Phase("emptying", march(contents, openings, incident, duration=LONGEST_BOILING))


def burn_in_pit(incident: Incident, plan: ResponsePlan, pumping: Phase) -> BurnPit | None:
    """Burn what is pumped out in the plan's pit, fed as the phase begins; None: there is no pit."""
    if plan.pit_diameter is None or pumping.pumped is None:
        return None
    run = pumping.run
    length: FloatArray = np.maximum(run.time[..., -1], 1.0)
    return burn_feed(
        incident,
        rate=plan.transfer_rate,
        temperature=run.temperature[..., 0],
        diameter=plan.pit_diameter,
        depth=plan.pit_depth,
        duration=length,
    )


def burn_feed(
    incident: Incident, *, rate: Any, temperature: Any, diameter: Any, depth: Any, duration: FloatArray
) -> BurnPit:
    """Burn liquid in a pit on the incident's ground, in the weather with which it begins."""
    return burn_pit(
        incident.contents.fluid,
        feed_rate=rate,
        feed_temperature=temperature,
        diameter=diameter,
        depth=depth,
        ground=incident.ground,
        weather=weather_at_start(incident.weather),
        duration=duration,
    )
