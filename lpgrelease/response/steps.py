"""What became of each step of a plan: done or not, why, and when it would be possible."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from lpgrelease.response import units
from lpgrelease.response.actions import BurnPool, Empty, Hold, KeepOut, PlanStep, Pump, Seal, Vent
from lpgrelease.response.conditions import OF_STEPS, Now, When, atom
from lpgrelease.response.course import ACTIVE, DONE, GIVEN_UP, NOT_NEEDED, WAITING
from lpgrelease.response.dry import leaks_on
from lpgrelease.response.script import script_of
from lpgrelease.response.shut_in import weakest_plug
from lpgrelease.response.words import condition_in_words
from lpgrelease.results import BoolArray
from lpgrelease.weather_by_hour import weather_pieces

if TYPE_CHECKING:
    from lpgrelease.freeze_seal import FreezeSeal
    from lpgrelease.response.story import Forecast

__all__ = ["Step", "steps_of"]

WORDS = {DONE: "done", GIVEN_UP: "given up", NOT_NEEDED: "not needed"}
PRESSURE_MARGIN = 1e-9


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
    steps = script_of(story.plan).steps
    return tuple(_told(story, k, step) for k, step in enumerate(steps))


def _told(story: Forecast, k: int, step: PlanStep) -> Step:
    state = int(story.step_states[k])
    begins, ends = float(story.step_begins[k]), float(story.step_ends[k])
    if state == WAITING or not math.isfinite(begins):
        return _never_begun(story, step)
    ends = ends if math.isfinite(ends) else float(story.phase_end[-1])
    own: Step | None = None
    if isinstance(step, Seal) and state not in (ACTIVE, NOT_NEEDED):
        own = _seal(story, step, begins, ends)
    elif isinstance(step, Hold) and state == DONE:
        own = _hold(story, step, begins, ends)
    elif isinstance(step, KeepOut) and state == DONE:
        own = _kept_out(story, step, begins, ends)
    elif isinstance(step, Vent) and not isinstance(step, Empty) and state in (ACTIVE, DONE):
        own = _vent(story, step, begins, ends)
    elif isinstance(step, Pump) and step.pit_diameter is not None and state != NOT_NEEDED:
        own = _pit_runs_over(story, step, begins, ends)
    if own is None and state == ACTIVE:
        own = _goes_on(story, step, begins, ends)
    if own is not None:
        return own
    reason = {
        NOT_NEEDED: "no liquid lies on the ground" if isinstance(step, BurnPool) else _no_need(story),
        GIVEN_UP: _given_up(story),
    }.get(state, "")
    return Step(step.name, WORDS.get(state, "impossible"), begins, ends, reason, begins)


def _no_need(story: Forecast) -> str:
    if not story.incident.leaks:
        return "nothing leaks"
    vapor = "; its vapor leaks on, which is not followed" if leaks_on(story) else ""
    return f"no liquid is left in the tank{vapor}"


def _given_up(story: Forecast) -> str:
    ended = str(story.runs[-1].stopped_by)
    stopped = ("liquid full", "cold end", "hot end", "vapor beyond", "gas beyond")
    if ended.startswith(stopped):
        return f"the forecast of the tank stops: {ended}"
    return "it takes longer than the plan allows"


def _vent(story: Forecast, step: Vent, begins: float, ends: float) -> Step | None:
    """Tell of a vent that is to bring the gauge down, where it does not, or need not."""
    if story.plan.steps is not None and step.ends_on:
        return None  # it ended as asked
    wanted = units.pressure(float(story.plan.stop_at_gauge_pressure))
    if story.zero_gauge_at <= begins:
        return Step(step.name, "not needed", begins, ends, "the gauge reads zero or less already", begins)
    if story.zero_gauge_reached or story.runs[-1].stopped_by == "liquid gone":
        return None
    if np.isfinite(story.plateau_gauge_pressure):
        settled = units.pressure(float(story.plateau_gauge_pressure))
        reason = f"it settles at {units.both(settled)}: the vent passes no more than heat boils away"
    else:
        reason = f"the gauge does not come down to {units.both(wanted)} in this forecast"
    return Step(step.name, "falls short", begins, ends, reason, math.inf)


def _goes_on(story: Forecast, step: PlanStep, begins: float, ends: float) -> Step:
    """Tell of a step that goes on when the forecast ends."""
    stays = not step.ends_on and getattr(step, "longest", None) is None
    if stays and not isinstance(step, BurnPool | Pump | Seal | Hold):
        return Step(step.name, "done", begins, ends, "", begins)
    return Step(step.name, "given up", begins, ends, "it goes on when the forecast ends", math.inf)


def _kept_out(story: Forecast, step: KeepOut, begins: float, ends: float) -> Step:
    """Tell whether the circle is as wide as the distances computed for what comes after."""
    away = story.distances().stay_away
    later = [i for i, until in enumerate(story.phase_end) if until > ends]
    far = max((float(away[i]) for i in later), default=0.0)
    if far <= float(step.distance):
        return Step(step.name, "done", begins, ends, "", begins)
    wide, own = units.distance(far), units.length(float(step.distance))
    reason = f"the circle of {units.both(own)} is too small: stay away {units.both(wide)}"
    return Step(step.name, "falls short", begins, ends, reason, math.inf)


def _hold(story: Forecast, step: Hold, begins: float, ends: float) -> Step:
    """Tell whether the gauge stayed down."""
    plugs = weakest_plug(story.seals, story.sealed)
    limit = float(plugs if step.gauge_at_most is None else step.gauge_at_most)
    over = (story.time > begins) & (story.time <= ends) & (story.gauge_pressure > limit)
    if over.any():
        when = float(story.time[np.argmax(over)])
        told = units.pressure(limit)
        reason = f"the gauge passes {units.both(told)} after {units.duration(when - begins)}"
        return Step(step.name, "given up", begins, when, reason, math.inf)
    lasts = min((float(t) for t in story.ice_melts_after[story.sealed]), default=math.inf)
    if lasts < ends - begins:
        reason = f"the ice is trusted for {units.duration(lasts)} only; lay a new cloth before"
        return Step(step.name, "given up", begins, begins + lasts, reason, math.inf)
    return Step(step.name, "done", begins, ends, "", begins)


def _seal(story: Forecast, step: Seal, begins: float, ends: float) -> Step:
    open_still = [i for i, shut in enumerate(story.sealed) if not shut]
    if not open_still:
        return Step(step.name, "done", begins, ends, "", begins)
    reasons, possible = [], []
    for i in open_still:
        seal = story.seals[i]
        reasons.append(f"leak {i + 1}: {_unmet_of(seal)}")
        highest = float(seal.highest_gauge_pressure)
        too_high = 0.0 < highest < float(np.interp(begins, story.time, story.gauge_pressure))
        possible.append(_first_below(story, highest, begins) if too_high else math.inf)
    state = "impossible" if len(open_still) == len(story.sealed) else "falls short"
    return Step(step.name, state, begins, ends, "; ".join(reasons), max(possible))


def _pit_runs_over(story: Forecast, step: Pump, begins: float, ends: float) -> Step | None:
    pit = story.pit
    if pit is None or float(pit.overflows_at) >= ends - begins:
        return None
    wide = units.length(float(pit.just_burning_diameter))
    reason = (
        f"the pit runs over after {units.duration(float(pit.overflows_at))}: pump more slowly, or dig it "
        f"{units.both(wide)} across"
    )
    return Step(step.name, "impossible", begins, ends, reason, math.inf)


def _never_begun(story: Forecast, step: PlanStep) -> Step:
    """Tell what a step still waits for at the end, and when it could have begun but for other steps."""
    now = _over_time(story)
    best: tuple[list[str], float] | None = None
    for when in step.begins_on or (When(time=0.0),):
        missing = [name for name in when.given if not atom(when, name, now)[-1]]
        own: BoolArray = now.time >= float(story.plan.arrival)
        for name in when.given:
            if name not in OF_STEPS:
                own = own & atom(when, name, now)
        at = float(now.time[np.argmax(own)]) if own.any() else math.inf
        words = [condition_in_words(when, name) for name in missing]
        if best is None or at < best[1]:
            best = (words, at)
    assert best is not None
    words, at = best
    if isinstance(step, Seal) and not words:
        highest = min((float(seal.highest_gauge_pressure) for seal in story.seals), default=0.0)
        told = units.pressure(highest)
        words = [f"the gauge reads at or below {units.both(told)}, at which a cloth freezes and holds"]
        at = _first_below(story, highest, float(story.plan.arrival))
    waits = " and ".join(words) or "all of its conditions hold at once"
    return Step(step.name, "impossible", math.inf, math.inf, f"it waits until {waits}", at)


def _over_time(story: Forecast) -> Now:
    """Put the points in time of one scenario where conditions look for scenarios."""
    tank, n = story.incident.contents.tank, story.time.size
    wind, sun = np.zeros(n), np.zeros(n)
    for begins, _, piece in weather_pieces(story.incident.weather):
        wind = np.where(story.time >= begins, piece.wind_speed, wind)
        sun = np.where(story.time >= begins, piece.solar_irradiance, sun)
    clock = story.incident.clock
    inside = np.clip(story.liquid_volume, 0.0, np.asarray(tank.volume))
    return Now(
        time=story.time,
        gauge=story.gauge_pressure,
        temperature=story.temperature,
        level=tank.level_at(inside),
        liquid_mass=story.liquid_mass,
        vapor_mass=story.vapor_mass,
        pressure=story.pressure,
        wind=wind,
        sunshine=sun,
        settled=np.full(n, bool(np.isfinite(story.plateau_gauge_pressure))),
        dry_at=np.full(n, float(story.pool_gone_at)),
        clock_at_start=np.full(n, math.nan if clock is None else float(clock)),
        begins=np.broadcast_to(story.step_begins, (n, story.step_begins.size)),
        ends=np.broadcast_to(story.step_ends, (n, story.step_ends.size)),
        names=tuple(step.name for step in script_of(story.plan).steps),
    )


def _first_below(story: Forecast, gauge_pressure: float, after: float) -> float:
    """When the gauge is first at or below a pressure, not before some time [s]; infinite: never."""
    low = (story.gauge_pressure <= gauge_pressure + PRESSURE_MARGIN) & (story.time >= after)
    return float(story.time[np.argmax(low)]) if low.any() else math.inf


def _unmet_of(seal: FreezeSeal) -> str:
    """Return which conditions of a seal are not met."""
    return "not met: " + "; ".join(item.name for item in seal.conditions if not item.met)
