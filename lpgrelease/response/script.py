"""The list of steps that a plan stands for: its own, or the usual course in the words of steps."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.response.actions import Empty, Hold, PlanStep, Pump, Seal, Vent
from lpgrelease.response.conditions import When
from lpgrelease.response.inputs import ResponsePlan

__all__ = ["Script", "script_of"]

MONTHS = 100.0 * 86400.0
"""Longer than any usual course may last."""


class Script(NamedTuple):
    """Steps, how long to look ahead after the last of them [s], and when to end at the latest [s]."""

    steps: tuple[PlanStep, ...]
    look_ahead: FloatArray
    longest: FloatArray


def script_of(plan: ResponsePlan) -> Script:
    """Return the steps of a plan."""
    if plan.steps is not None:
        return Script(tuple(plan.steps), np.asarray(plan.hold), np.asarray(plan.longest))
    return Script(_usual(plan), np.zeros(()), np.asarray(MONTHS))


def _usual(plan: ResponsePlan) -> tuple[PlanStep, ...]:
    """Put the usual course into steps: vent, seal when it is down, hold, pump out, boil away."""
    down = [When(gauge_at_most=plan.stop_at_gauge_pressure), When(time=plan.arrival + plan.longest_venting)]
    down.append(When(settled=True, after_start="vent") if plan.vents else When(settled=True))
    steps: list[PlanStep] = []
    before: When | list[When] = down
    common = {"flare": plan.flare, "flare_height": plan.flare_height}
    if plan.vents:
        shuts = None if plan.keep_venting else When(after="seal") if plan.seal is not None else down
        steps.append(Vent(vent=plan.vents, ends=shuts, **common))
    if plan.seal is not None:
        seal = Seal(cloth=plan.seal, laying_time=plan.laying_time, waits=False, starts=before)
        steps.append(seal)
        before = When(after="seal")
    steps.append(Hold(lasts=plan.hold, starts=before))
    before = When(after="hold")
    if plan.transfer_rate is not None:
        pump = Pump(
            mass_flow=plan.transfer_rate,
            pit_diameter=plan.pit_diameter,
            pit_depth=plan.pit_depth,
            starts=before,
        )
        steps.append(pump)
        before = When(after="pump")
    if plan.empty:
        steps.append(Empty(vent=plan.vents, starts=before, **common))
    return tuple(steps)
