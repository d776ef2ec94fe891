"""The timeline of one forecast as a plain-text table."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.response import units
from lpgrelease.response.actions import BurnPool, Empty, Hold, KeepOut, PlanStep, Pump, Seal, Vent
from lpgrelease.response.cautions import read_first
from lpgrelease.response.dry import dry_from, leaks_on
from lpgrelease.response.script import script_of
from lpgrelease.response.stretch import SAME_TIME

if TYPE_CHECKING:
    from lpgrelease.response.story import Forecast

__all__ = ["Event", "events", "outcome_of_venting", "table"]

COLUMNS = ("time", "gauge", "tank", "liquid left", "leaking", "venting", "pool across")
WIDTHS = (11, 10, 9, 11, 19, 13, 11)
HEADINGS = {
    "both": "Times count from the start of the leak. "
    "U.S. units in the first row of figures, metric in the second.",
    "us": "Times count from the start of the leak.",
    "si": "Times count from the start of the leak.",
}
"""First line, by the kind of units that is asked for."""
LINE = 96
GIVEN_UP, NOT_NEEDED = 3, 4
"""Codes of `step_states`."""
NOT_TOLD = ("not told", "")
"""What becomes of the vapor once the last liquid is gone."""


class Event(NamedTuple):
    """Something that happens at a time [s]."""

    time: float
    text: str


def table(story: Forecast, units: str = "both") -> str:
    """Return the timeline: one event per block, U.S. units on its first line and metric on its second.

    Raises
    ------
    InputError
        `units` is not "both", "us" or "si".
    """
    if not isinstance(units, str) or units not in HEADINGS:
        raise InputError(f"units must be both, us or si, got {units!r}")
    rule = "  ".join("-" * width for width in WIDTHS)
    lines = [HEADINGS[units], "", _line(COLUMNS), rule]
    for event in events(story):
        lines += _block(story, event, units)
    lines += [rule, "", *(textwrap.fill(text, LINE) for text in aside(story))]
    lines += ["", *(textwrap.fill(f"! {text}", LINE, subsequent_indent="  ") for text in read_first(story))]
    return "\n".join(lines)


def events(story: Forecast) -> list[Event]:
    """Return what happens, in the order of time."""
    ends = story.phase_end
    found = [Event(0.0, "the leak begins" if story.incident.leaks else "start; nothing leaks")]
    if story.venting_ended != "liquid gone":
        found.append(Event(float(story.venting_until), outcome_of_venting(story)))
    found += _steps(story)
    found += [Event(t, text) for t, text in _leaks(story) if t < ends[-1]]
    found += _pool(story)
    dry = float(dry_from(story))
    if np.isfinite(dry):
        found.append(Event(dry, "no liquid is left in the tank"))
    if np.abs(ends[-1] - dry) > SAME_TIME:
        found.append(Event(float(ends[-1]), "the forecast ends"))
    return _merged(sorted(found, key=lambda event: event.time))


def _steps(story: Forecast) -> list[Event]:
    """Return when the steps of the plan begin and end."""
    arrived = "responders arrive" if story.plan.vents else "responders arrive; nothing is vented"
    found = [Event(float(story.plan.arrival), arrived)]
    for k, step in enumerate(script_of(story.plan).steps):
        begins, ends = float(story.step_begins[k]), float(story.step_ends[k])
        if story.step_states[k] == NOT_NEEDED:
            continue
        first, last = _words(story, step, begins)
        if np.isfinite(begins) and first:
            found.append(Event(begins, first))
        if np.isfinite(ends) and last and ends <= story.phase_end[-1] and story.step_states[k] != GIVEN_UP:
            found.append(Event(ends, last))
    return [event for event in found if event.time <= story.phase_end[-1]]


def _words(story: Forecast, step: PlanStep, begins: float) -> tuple[str, str]:
    """Return what is said when a step begins and when it ends; empty: nothing."""
    if isinstance(step, KeepOut):
        far = units.length(float(step.distance))
        return f"people are sent out of {units.both(far)}", f"people are out of {units.both(far)}"
    if isinstance(step, Vent) and not isinstance(step, Empty):
        several = sum(isinstance(each, Vent) for each in script_of(story.plan).steps) > 1
        vent = f"the vent of '{step.name}'" if several else "the vent"
        opened = f"{vent} is opened"
        if not float(np.interp(begins, story.time, story.gauge_pressure)) > 0.0:
            opened = f"{vent} counts as open, but lets air in: keep it shut until the gauge is above zero"
        return opened, f"{vent} is shut" if step.ends_on else ""
    if isinstance(step, Seal):
        return "wet cloths are laid on the leaks", _outcome_of_sealing(story)
    plain: dict[type, tuple[str, str]] = {
        Empty: ("the rest is let boil away", ""),
        Pump: ("liquid is pumped out from now on", "pumping ends"),
        BurnPool: ("the pool on the ground is lit", ""),
        Hold: ("watching begins", "watching ends"),
    }
    return plain.get(type(step), ("", ""))


def _merged(found: list[Event]) -> list[Event]:
    """Return the events with those of the same moment told as one."""
    merged = found[:1]
    for event in found[1:]:
        last = merged[-1]
        if event.time - last.time < SAME_TIME:
            if event.text not in last.text:
                merged[-1] = Event(last.time, f"{last.text}; {event.text}")
        else:
            merged.append(event)
    return merged


def outcome_of_venting(story: Forecast) -> str:
    """Return how venting ended, in words."""
    wanted = units.pressure(float(story.plan.stop_at_gauge_pressure))
    if story.zero_gauge_reached and story.venting_ended != "gauge pressure":
        return "the gauge reads zero or less already"
    if story.zero_gauge_reached:
        return f"the gauge reads zero ({wanted[0]}, {wanted[1]})"
    if np.isfinite(story.plateau_gauge_pressure):
        settled = units.pressure(float(story.plateau_gauge_pressure))
        return f"the gauge has settled at {units.both(settled)}; it does not come to zero"
    reason = story.venting_ended
    return {
        "liquid gone": "no liquid is left in the tank",
        "duration": f"the gauge still reads {_last_reading(story)}",
        "liquid full": "liquid fills the whole tank",
    }.get(str(reason), f"the forecast of the tank stops: {reason}")


def _last_reading(story: Forecast) -> str:
    """Return what the gauge reads when venting ends."""
    psi, bar = units.pressure(float(np.interp(story.venting_until, story.time, story.gauge_pressure)))
    return f"{psi} ({bar})"


def aside(story: Forecast) -> list[str]:
    """Return what would follow if the vents were shut after sealing."""
    held = int(np.count_nonzero(story.phase_start < story.shut_in_from))
    if "liquid gone" in {str(run.stopped_by) for run in story.runs[:held]}:
        return [
            " ".join(["No liquid is left in the tank to bring its pressure back by boiling.", *_vapor(story)])
        ]
    waits = [
        ("1.5 psi (0.1 bar)", float(story.tenth_bar_after)),
        ("14.5 psi (1 bar)", float(story.one_bar_after)),
    ]
    if story.sealed.any():
        waits.append(("more than the ice is trusted to hold", float(story.ice_limit_after)))
    told = "; ".join(f"{name} {_wait(seconds)}" for name, seconds in waits)
    vents = "the vent shut" if story.plan.vents else "nothing vented"
    sealed = "after sealing" if story.sealed.any() else "from then on"
    lines = [f"Gauge pressure with {vents} {sealed}: {told}."]
    if story.boil_off > 0.0 and np.isfinite(story.tenth_bar_after):
        rate = units.flow(float(story.boil_off), 2)
        lines.append(f"To keep it from rising, vapor has to be let out at about {units.both(rate)}.")
    return lines


def _vapor(story: Forecast) -> list[str]:
    """Return what is to be said of the vapor that leaks on after the last liquid."""
    if not leaks_on(story):
        return []
    gauge = units.both(units.pressure(float(story.gauge_pressure[-1])))
    return [
        f"Its vapor stands at {gauge} when the last liquid goes, and leaks on through what is open; how long "
        "is not computed."
    ]


def _wait(seconds: float) -> str:
    if not np.isfinite(seconds):
        return "not by this forecast"
    return f"after {units.about(seconds)}" if seconds > 0.0 else "there already"


def _outcome_of_sealing(story: Forecast) -> str:
    shut = int(np.count_nonzero(story.sealed))
    count = len(story.incident.leaks)
    if shut == count:
        return "the wet cloth has frozen; the leak is shut" if count == 1 else "all leaks are frozen shut"
    if shut == 0:
        return "cloths are laid but do not freeze shut"
    return f"{shut} of {count} leaks are frozen shut"


def _leaks(story: Forecast) -> list[tuple[float, str]]:
    """Return when each leak passes from liquid to vapor, unless a seal ends it."""
    found = []
    for i, until in enumerate(story.liquid_leaks_until):
        name = f"leak {i + 1}" if len(story.liquid_leaks_until) > 1 else "the leak"
        after = _index(story, float(until)) + 1
        if until > 0.0 and after < story.time.size and _turns_to_vapor(story, i, after):
            found.append((float(until), f"the liquid falls below {name}: vapor from here on"))
    return found


def _turns_to_vapor(story: Forecast, leak: int, after: int) -> bool:
    """Whether vapor leaves a leak from some point on, and no more liquid."""
    flows = story.leak_flow[leak, after:] > 0.0
    return bool(flows.any() and not (flows & story.leak_passes_liquid[leak, after:]).any())


def _pool(story: Forecast) -> list[Event]:
    """Return the pool's events: widest, fed for the last time, gone."""
    if not story.pool_fed_until:
        return []
    pool = story.pool
    widest = float(pool.time[np.argmax(pool.radius)])
    found = [Event(widest, "the pool on the ground is at its widest")]
    if np.isfinite(story.pool_gone_at):
        found.append(Event(float(story.pool_gone_at), "no liquid is left on the ground"))
    return found


def _block(story: Forecast, event: Event, wanted: str) -> list[str]:
    """Return the lines of one event: what happens, then the figures in the units wanted."""
    indent = " " * (WIDTHS[0] + 2)
    first, second = _state(story, event.time)
    words = textwrap.wrap(event.text, LINE - len(indent))
    head = f"{units.duration(event.time):<{len(indent)}}{words[0]}"
    figures = {"us": [first], "si": [second], "both": [first, second]}[wanted]
    return [head, *(indent + more for more in words[1:]), *(_line(("", *row)) for row in figures), ""]


def _state(story: Forecast, time: float) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the columns of figures at a time, in U.S. and in metric units."""
    radius = float(np.interp(time, story.pool.time, story.pool.radius))
    lies = radius > 0.0 and time < story.pool_gone_at
    across = units.length(2.0 * radius) if lies and radius else ("no pool", "")
    if time > story.time[-1]:
        return ("", "", "", "", "", across[0]), ("", "", "", "", "", across[1])
    at = {
        name: float(np.interp(time, story.time, getattr(story, name)))
        for name in ("gauge_pressure", "temperature", "liquid_volume", "liquid_mass")
    }
    i = _index(story, time)
    leak, phase = float(story.leak_flow[:, i].sum()), ""
    if leak > 0.0:
        wet = story.leak_passes_liquid[:, i][story.leak_flow[:, i] > 0.0]
        phase = " liquid" if wet.all() else " both" if wet.any() else " vapor"
    rates = [tuple(text + phase for text in units.flow(leak)), units.flow(float(story.vent_flow[:, i].sum()))]
    state = [units.pressure(at["gauge_pressure"]), units.temperature(at["temperature"])]
    dry = float(dry_from(story))
    if time >= dry:
        rates = [NOT_TOLD, NOT_TOLD]
    if time > dry:
        state = [NOT_TOLD, NOT_TOLD]
    pairs = [
        *state,
        units.liquid(at["liquid_volume"], at["liquid_mass"]),
        *rates,
        across,
    ]
    return tuple(pair[0] for pair in pairs), tuple(pair[1] for pair in pairs)


def _index(story: Forecast, time: float) -> int:
    """Return the point whose flows hold from `time` on."""
    last = int(np.searchsorted(story.time, time, side="right")) - 1
    return last if story.time[last] == time or last + 1 == story.time.size else last + 1


def _line(cells: tuple[str, ...]) -> str:
    return "  ".join(f"{cell:<{width}}" for cell, width in zip(cells, WIDTHS, strict=True)).rstrip()
