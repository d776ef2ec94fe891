"""What became of each step of a plan: done, not needed, or impossible, why, and when it would be possible."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from lpgrelease.response import units

if TYPE_CHECKING:
    from lpgrelease.freeze_seal import FreezeSeal
    from lpgrelease.response.story import Forecast

__all__ = ["Step", "first_below", "steps_of", "unmet_of"]

DONE, NOT_NEEDED, IMPOSSIBLE, GIVEN_UP = "done", "not needed", "impossible", "given up"
PRESSURE_MARGIN = 1e-9
DRY = ("liquid gone",)


class Step(NamedTuple):
    """One step of a plan for one scenario."""

    name: str
    state: str
    """"done", "not needed", "impossible", "given up" or "falls short"."""
    begins: float
    """[s] since the leak began."""
    ends: float
    reason: str
    """Why it is not done; empty where it is."""
    possible_at: float
    """From when on it could be done [s]; infinite: never in this forecast."""


def steps_of(story: Forecast) -> tuple[Step, ...]:
    """Return the steps of the plan of one scenario, in their order."""
    if story.step_active is not None:
        from lpgrelease.response.steps_told import steps_of_list

        return steps_of_list(story)
    found = [_venting(story)]
    found += [_sealing(story, i, seal) for i, seal in enumerate(story.seals)]
    found.append(_holding(story))
    if "transferring" in story.phase_names:
        found.append(_pumping(story))
    if story.pit is not None:
        found.append(_burning(story))
    if "emptying" in story.phase_names:
        found.append(_emptying(story))
    return tuple(found)


def _span(story: Forecast, phase: str) -> tuple[float, float]:
    i = story.phase_names.index(phase)
    return float(story.phase_start[i]), float(story.phase_end[i])


def _stopped(story: Forecast, phase: str) -> str:
    return str(story.runs[story.phase_names.index(phase)].stopped_by)


def _dry_before(story: Forecast, phase: str) -> bool:
    """Whether no liquid was left when a phase began."""
    return any(str(run.stopped_by) in DRY for run in story.runs[: story.phase_names.index(phase)])


def first_below(story: Forecast, gauge_pressure: float, after: float) -> float:
    """When the gauge is first at or below a pressure, not before some time [s]; infinite: never."""
    low = (story.gauge_pressure <= gauge_pressure + PRESSURE_MARGIN) & (story.time >= after)
    return float(story.time[np.argmax(low)]) if low.any() else math.inf


def _venting(story: Forecast) -> Step:
    begins, ends = _span(story, "venting")
    name, wanted = "bring the gauge to zero", float(story.plan.stop_at_gauge_pressure)
    if _dry_before(story, "venting"):
        return Step(name, NOT_NEEDED, begins, ends, "no liquid is left in the tank on arrival", begins)
    if story.zero_gauge_reached:
        already = ends - begins < 1.0
        reason = "the gauge reads zero or less already" if already else ""
        return Step(name, NOT_NEEDED if already else DONE, begins, ends, reason, begins)
    later = first_below(story, wanted, ends)
    if np.isfinite(story.plateau_gauge_pressure):
        settled = units.pressure(float(story.plateau_gauge_pressure))
        reason = f"it settles at {settled[0]} ({settled[1]}): the vent passes no more than heat boils away"
        return Step(name, IMPOSSIBLE, begins, ends, reason, later)
    if _stopped(story, "venting") in DRY:
        return Step(name, NOT_NEEDED, begins, ends, "the last liquid is gone before", ends)
    reason = "it takes longer than the plan allows" if story.plan.vents else "nothing is vented"
    return Step(name, GIVEN_UP, begins, ends, reason, later)


def _sealing(story: Forecast, leak: int, seal: FreezeSeal) -> Step:
    begins, ends = _span(story, "sealing")
    name = f"freeze leak {leak + 1} shut"
    if _dry_before(story, "sealing"):
        return Step(name, NOT_NEEDED, begins, ends, "no liquid is left in the tank", begins)
    if story.sealed[leak]:
        return Step(name, DONE, begins, begins + float(story.plan.laying_time + seal.freeze_time), "", begins)
    reason = unmet_of(seal)
    at_pressure = float(seal.highest_gauge_pressure)
    too_high = at_pressure < float(np.interp(begins, story.time, story.gauge_pressure))
    possible = first_below(story, at_pressure, begins) if too_high and at_pressure > 0.0 else math.inf
    return Step(name, IMPOSSIBLE, begins, ends, reason, possible)


def unmet_of(seal: FreezeSeal) -> str:
    """Return which conditions of a seal are not met."""
    return "not met: " + "; ".join(item.name for item in seal.conditions if not item.met)


def _holding(story: Forecast) -> Step:
    begins, ends = _span(story, "holding")
    if _dry_before(story, "holding"):
        return Step("hold the ice", NOT_NEEDED, begins, ends, "no liquid is left in the tank", begins)
    if not story.sealed.any():
        reason = "nothing is sealed" if story.incident.leaks else "nothing leaks"
        return Step("hold the ice", NOT_NEEDED, begins, ends, reason, begins)
    lasts = float(np.min(story.ice_melts_after[story.sealed]))
    if not (story.plan.keep_venting and story.plan.vents):
        lasts = min(lasts, float(story.ice_limit_after))
    if lasts < ends - begins:
        reason = f"the ice is trusted for {units.duration(lasts)} only; lay a new cloth before"
        return Step("hold the ice", GIVEN_UP, begins, begins + lasts, reason, math.inf)
    return Step("hold the ice", DONE, begins, ends, "", begins)


def _pumping(story: Forecast) -> Step:
    begins, ends = _span(story, "transferring")
    if _dry_before(story, "transferring"):
        return Step("pump the liquid out", NOT_NEEDED, begins, ends, "no liquid is left in the tank", begins)
    gone = _stopped(story, "transferring") in DRY
    reason = "" if gone else f"it ends early: {_stopped(story, 'transferring')}"
    return Step("pump the liquid out", DONE if gone else GIVEN_UP, begins, ends, reason, begins)


def _burning(story: Forecast) -> Step:
    begins, ends = _span(story, "transferring")
    pit = story.pit
    assert pit is not None  # narrows the type: steps_of asks before
    name = "burn it in the pit"
    if ends - begins < 1.0:
        return Step(name, NOT_NEEDED, begins, ends, "nothing is pumped out", begins)
    if float(pit.overflows_at) < ends - begins:
        wide = units.length(float(pit.just_burning_diameter))
        reason = (
            f"the pit runs over after {units.duration(float(pit.overflows_at))}: pump more slowly, or dig it "
            f"{wide[0]} ({wide[1]}) across"
        )
        return Step(name, IMPOSSIBLE, begins, ends, reason, math.inf)
    return Step(name, DONE, begins, ends + float(pit.burn_off_time), "", begins)


def _emptying(story: Forecast) -> Step:
    begins, ends = _span(story, "emptying")
    name = "boil the last liquid away"
    if _dry_before(story, "emptying"):
        return Step(name, NOT_NEEDED, begins, ends, "no liquid is left in the tank", begins)
    gone = _stopped(story, "emptying") in DRY
    reason = "" if gone else "liquid is left after two months"
    return Step(name, DONE if gone else GIVEN_UP, begins, ends, reason, begins)
