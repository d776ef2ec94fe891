"""The report of one forecast, in Markdown."""

from __future__ import annotations

import math
import platform
from typing import TYPE_CHECKING, Any

import numpy as np

import lpgrelease
from lpgrelease.release import Opening
from lpgrelease.response import units
from lpgrelease.response.actions import Seal
from lpgrelease.response.cautions import read_first
from lpgrelease.response.dry import dry_from, leaks_on
from lpgrelease.response.given import given
from lpgrelease.response.script import script_of
from lpgrelease.response.stretch import SAME_TIME, stretches
from lpgrelease.response.timeline import NOT_NEEDED, aside, outcome_of_venting, table

if TYPE_CHECKING:
    from lpgrelease.freeze_seal import FreezeSeal
    from lpgrelease.response.distances import Distances
    from lpgrelease.response.story import Forecast

__all__ = ["report"]

SIMPLIFICATIONS = (
    "Liquid, vapor and wall of the tank share one temperature. A dry wall above the liquid lags in truth.",
    "The vent passes what stands at its height when the liquid lies at rest; boiling liquid swells and can "
    "reach it.",
    "Liquid leaves a leak as liquid, the most that can leave; a boiling mixture would leave more slowly.",
    "All cloths are laid at once, and freeze while everything stays open. A frozen plug is taken to hold "
    "for the rest of the look ahead.",
    "No rain on the tank, and no frost. Both bring heat: the gauge then comes down later, and is back sooner "
    "once the vent is shut.",
)
NO_FIRE = "No fire near the tank."
NO_FRICTION = (
    "Friction in a line to the vent counts only as far as the vent's discharge coefficient holds it."
)


def report(story: Forecast) -> str:
    """Return the whole report."""
    distances = story.distances()
    sections = [
        ["# Forecast of a leaking tank"],
        _listed("## Read first", read_first(story)),
        ["## Five answers", "", *_five(story, distances)],
        ["## What becomes of the plan", "", *_steps(story)],
        ["## Timeline", "", "```text", table(story), "```"],
        ["## Where not to stand", "", *_phases_to_avoid(story, distances)],
        ["## Will ice hold?", "", *_ice(story)],
        ["## Where all of it is at the end", "", *_ledger(story)],
        ["## What was given", "", *given(story)],
        _listed("## What the forecast leaves out", _left_out(story)),
        ["## Ranges of the models", "", *_ranges(story)],
        ["## Made with", "", *_versions(story)],
        _listed("## Before acting", story.cautions),
    ]
    return "\n\n".join("\n".join(section) for section in sections) + "\n"


def _left_out(story: Forecast) -> tuple[str, ...]:
    found = list(SIMPLIFICATIONS)
    if story.incident.fire is None:
        found.append(NO_FIRE)
    if any(isinstance(vent, Opening) for vent in story.plan.vents):
        found.append(NO_FRICTION)
    if story.incident.contents.fluid.is_blend:
        return tuple(found)
    return (*found, "The fluid is pure. What is sold under its name is not.")


def _listed(heading: str, texts: tuple[str, ...]) -> list[str]:
    return [heading, "", *(f"- {text}" for text in texts)]


def _five(story: Forecast, distances: Distances) -> list[str]:
    """Return the five answers a responder needs first."""
    rows = [
        ("How long until the gauge reads zero?", _time_to_zero(story)),
        ("What is left in the tank then?", _left(story)),
        ("Where not to stand?", _where_not(story, distances)),
        ("Will ice hold, and how long?", _ice_in_short(story)),
        ("How long does liquid lie on the ground?", _on_the_ground(story)),
    ]
    lines = ["| question | answer |", "|:---|:---|", *(f"| {q} | {a} |" for q, a in rows)]
    return [*lines, "", *aside(story)]


def _time_to_zero(story: Forecast) -> str:
    start, end = float(story.venting_from), float(story.venting_until)
    if story.zero_gauge_reached and end - start < 1.0:
        return "It reads zero or less already when the responders arrive."
    if story.zero_gauge_reached:
        opened = "the vent is opened" if story.plan.vents else "the responders arrive; nothing is vented"
        return (
            f"**{units.duration(end - start)}** after {opened}, {units.duration(end)} after the leak began."
        )
    dry = float(dry_from(story))
    if dry <= end:
        gauge = units.both(units.pressure(float(np.interp(dry, story.time, story.gauge_pressure))))
        return (
            f"**Not told:** the last liquid is gone {units.duration(dry)} after the leak began, with {gauge} "
            "on the gauge. What is left then is vapor, and how its pressure falls is not computed."
        )
    settles = np.isfinite(story.plateau_gauge_pressure)
    never = "Never, under this plan" if settles else "Not within this forecast"
    return f"**{never}:** {outcome_of_venting(story)}, {units.duration(end)} after the leak began."


def _left(story: Forecast) -> str:
    names = ("liquid_volume", "liquid_mass", "temperature")
    cubic_meters, kilograms, kelvin = (
        float(np.interp(story.venting_until, story.time, getattr(story, name))) for name in names
    )
    cold = units.both(units.temperature(kelvin))
    if float(dry_from(story)) <= float(story.venting_until):
        vapor = units.both(units.mass(float(story.vapor_mass[-1])))
        return f"**No liquid.** The last of it goes at {cold}, and leaves {vapor} of vapor."
    volume = units.liquid(cubic_meters, kilograms)
    share = cubic_meters / float(story.incident.contents.tank.volume)
    return f"**{units.both(volume)} of liquid**, {max(share, 0.0):.0%} of the tank, at {cold}."


def _where_not(story: Forecast, d: Distances) -> str:
    """Return how far to stay away, and from what."""
    poison = _poison(story)
    if not d.burns:
        return "The cargo does not burn. How far its vapor harms those who breathe it is not computed here."
    if not np.max(d.stay_away) > 0.0:
        return (
            "No distance was computed to exceed zero: in no phase does gas that can be lit, or the heat of a "
            "fire, come to the ground away from its source. That does not make it safe near the tank: the "
            "authority's rule for a tank that may fail holds."
            f"{poison}"
        )
    far = units.both(units.distance(float(np.max(d.stay_away))))
    i = int(np.argmax(d.stay_away))
    why = {
        "half_limit_radius": "vapor may be lit there",
        "flare_standoff": "the flare scorches",
        "pool_fire_standoff": "the pool scorches if it is lit",
        "pit_standoff": "the burn pit scorches",
    }
    worst = max(why, key=lambda name: float(getattr(d, name)[i]))
    calm = " In a calm gas may lie on all sides." if d.calm else ""
    side = "on every side" if worst == "half_limit_radius" and d.broad else "downwind most of all"
    return (
        f"**Nearer than {far}, {side},** while {_doing(d.phase_names[i])}: {why[worst]}.{calm} "
        f"Farther where gas can run downhill, and by the authority's rule where the tank may fail.{poison}"
    )


GOES_ON = {
    "before arrival": "nobody is there yet",
    "nothing is done": "nothing is done",
    "keep people out": "people are sent out",
    "vent": "it is vented",
    "seal": "the cloths freeze",
    "hold": "it is watched",
    "pump": "liquid is pumped out",
    "burn the pool off": "the pool burns",
    "vent to empty": "the rest boils away",
}
"""What goes on in a phase, by the name of a step; a name of one's own is quoted."""


FLARE_OUT = " What a flare takes counts as burned: should it go out, its gas is in no distance here."
POISON = (
    " **That is for fire alone:** the vapor is poisonous farther off, and no distance for that is computed."
)


def _poison(story: Forecast) -> str:
    return POISON if story.incident.contents.fluid.toxic else ""


def _doing(phase: str) -> str:
    return " and ".join(GOES_ON.get(name, f"'{name}' goes on") for name in phase.split(", "))


def _phases_to_avoid(story: Forecast, d: Distances) -> list[str]:
    """Return the table of distances by phase."""
    if not d.burns:
        return [_where_not(story, d)]
    richer = "twice as rich, on every side"
    heads = (
        "gas may be lit",
        "the same, twice as rich",
        richer,
        "flare",
        "pool, if lit",
        "burn pit",
        "stay away",
    )
    lines = [f"| while | {' | '.join(heads)} |", "|:---|" + "---:|" * len(heads)]
    rows = (
        d.half_limit,
        d.half_limit_high,
        d.half_limit_radius,
        d.flare_standoff,
        d.pool_fire_standoff,
        d.pit_standoff,
        d.stay_away,
    )
    for each in stretches(story):
        most = [max(float(row[i]) for i in each.phases) for row in rows]
        cells = " | ".join(units.both(units.distance(far)) if far > 0.0 else "none" for far in most)
        lines.append(f"| {_doing(each.name)} | {cells} |")
    burned = FLARE_OUT if np.max(d.flare_flow) > 0.0 else ""
    return [
        *lines,
        "",
        "Gas may be lit: downwind, to half the lower flammable limit; on every side: from its source to the "
        "farthest point of that cloud, aside and upwind too. Fires: from the foot of the flare, the middle "
        "of pool or pit, to 1.6 kW/m2, in which people in suitable clothing may stay. Largest value of each "
        "phase, rounded up; none: nothing was computed to come to the ground. "
        f"The authority's rule for a tank that may fail holds in every phase.{burned}{_poison(story)}",
    ]


def _steps(story: Forecast) -> list[str]:
    """Return the table of steps."""
    lines = ["| step | | from | until | why not, and when it could be done |", "|:---|:---|---:|---:|:---|"]
    for step in story.steps():
        when = "" if not step.reason else f"{step.reason}."
        if step.state in ("impossible", "given up", "falls short"):
            at = units.duration(step.possible_at)
            when += " Not in this forecast." if at == "never" else f" Possible from {at} on."
        begun = math.isfinite(step.begins)
        span = [units.duration(t) if begun else "" for t in (step.begins, step.ends)]
        cells = (step.name, step.state, *span, when)
        lines.append(f"| {' | '.join(cells)} |")
    return lines


def _ice_in_short(story: Forecast) -> str:
    if not story.incident.leaks:
        return "There is no leak to seal."
    if not story.seals:
        return "No seal is planned."
    count, shut = len(story.seals), int(np.count_nonzero(story.sealed))
    if not _laid(story):
        return "**No cloth is laid:** no liquid is left in the tank by then."
    if not shut:
        return "**No:** the leak is not expected to freeze shut; see below."
    melts = float(np.min(story.ice_melts_after[story.sealed]))
    said = "**Perhaps**" if shut == count else f"**On {shut} of {count} leaks, perhaps**"
    if math.isfinite(melts):
        said += f", about {units.about(melts)} while the vent stays open, until it has melted too thin"
    else:
        said += ", while the vent stays open: the air does not melt it"
    if math.isfinite(story.ice_limit_after):
        return f"{said}; about {units.about(float(story.ice_limit_after))} if the vent is shut."
    return f"{said}."


def _on_the_ground(story: Forecast) -> str:
    if not story.pool_fed_until:
        return "No liquid reaches the ground."
    gone, fed = float(story.pool.gone_at), float(story.pool_fed_until)
    stops = f"liquid stops leaking, {units.duration(fed)} after the leak began"
    if story.liquid_still_leaks:
        said = "**As long as liquid leaks, and it still does when the forecast ends.**"
    elif not math.isfinite(gone):
        said = f"**More than {units.duration(float(story.pool.time[-1]) - fed)}** after {stops}."
    elif gone - fed > SAME_TIME:
        said = f"**{units.duration(gone - fed)}** after {stops}."
    else:
        said = f"**Until** {stops}."
    wide = units.both(units.length(float(story.pool_diameter)))
    return (
        f"{said} The pool is up to {wide} across. In a calm, in a ditch or on colder ground it stays longer."
    )


def _ice(story: Forecast) -> list[str]:
    if not story.seals or not _laid(story):
        return [_ice_in_short(story)]
    lines = []
    for i, seal in enumerate(story.seals):
        at = np.searchsorted(story.time, _laid_at(story), side="right") - 1
        wet = bool(story.leak_passes_liquid[i, at])
        lines.append(_one_seal(i, seal, wet=wet))
    return lines


def _laid_at(story: Forecast) -> float:
    """Return when the cloths were laid, or would have been."""
    begun = [
        float(at)
        for at, step in zip(story.step_begins, script_of(story.plan).steps, strict=True)
        if isinstance(step, Seal) and math.isfinite(at)
    ]
    return min(begun, default=float(story.phase_end[-1]))


def _laid(story: Forecast) -> bool:
    """Whether a cloth is laid, or would be: not where the tank is dry before."""
    states = [
        int(state)
        for state, step in zip(story.step_states, script_of(story.plan).steps, strict=True)
        if isinstance(step, Seal)
    ]
    return any(state != NOT_NEEDED for state in states)


def _one_seal(number: int, seal: FreezeSeal, *, wet: bool) -> str:
    """Return what is to be said of the cloth on one leak."""
    head = f"- Leak {number + 1}, {'liquid' if wet else 'vapor'} behind it: "
    if not seal.feasible:
        unmet = "; ".join(_condition(item) for item in seal.conditions if not item.met)
        return f"{head}**not expected to freeze shut.** Not met: {unmet}."
    lay = units.both(units.pressure(float(seal.highest_gauge_pressure)))
    hold = units.both(units.pressure(float(seal.highest_holding_gauge_pressure)))
    return (
        f"{head}freezes through in about {units.about(float(seal.freeze_time))}. Lay the cloth at or "
        f"below {lay} on the gauge; do not trust the ice above {hold}. {_melting(seal)} "
        f"No published test of such a plug was found."
    )


def _melting(seal: FreezeSeal) -> str:
    if not math.isfinite(float(seal.holding_time)):
        return "The air does not melt it."
    return f"The air melts it too thin after about {units.about(float(seal.holding_time))}."


def _condition(item: Any) -> str:
    value, limit = (_told(float(number), item.unit) for number in (item.value, item.limit))
    return f"{item.name} (it is {value}, to be {item.sense} {limit})"


def _told(value: float, unit: str) -> str:
    """Return a number of the freeze seal as responders read it."""
    if not math.isfinite(value):
        return "without limit"
    if unit == "K":
        return units.both(units.temperature(value))
    if unit == "Pa":
        return units.both(units.pressure(value))
    if unit == "s":
        return units.duration(value)
    return f"{value * 1e3:.3g} mm" if unit == "m" else f"{float(f'{value:.3g}'):,.10g} {unit}".rstrip()


def _ledger(story: Forecast) -> list[str]:
    ledger = story.ledger
    on = leaks_on(story)
    rows = [
        ("in the tank when the leak began", ledger.initial),
        (
            f"still in the tank{' when its last liquid went: vapor, which leaks on' if on else ''}",
            ledger.in_tank,
        ),
        ("let out through the vent", ledger.vented),
        ("- of that, burned in flares", ledger.flared),
        ("let out through relief valves", ledger.relieved),
        (f"pumped out{', and burned in the pit' if story.pit is not None else ''}", ledger.transferred),
        (f"leaked as vapor{' until then' if on else ''}", ledger.leaked_as_vapor),
        ("leaked as liquid", ledger.leaked_as_liquid),
        ("- of that, vapor at once", ledger.flashed),
        ("- of that, drops that stayed in the air", ledger.airborne),
        ("- of that, on the ground", ledger.on_ground),
        ("- of that, evaporated from the ground", ledger.evaporated),
        ("- of that, burned on the ground", ledger.burned),
        ("- of that, run over the rim", ledger.overflowed),
    ]
    lines = ["| where | lb | kg |", "|:---|---:|---:|"]
    for name, value in rows:
        pounds, kilograms = units.mass(float(value))
        lines.append(f"| {name} | {pounds} | {kilograms} |")
    when = units.duration(float(story.phase_end[-1]))
    taken = units.both(units.heat(float(story.energy.heat_gained)))
    warmth = (
        f"Until then the tank took up {taken} from outside; its energy closes to "
        f"{float(story.energy.imbalance):.0e} of the heat that would evaporate all of it."
    )
    return [*lines, "", f"At the end of the forecast, {when} after the leak began. Mass closes to "
            f"{float(ledger.imbalance):.0e} of the initial mass. {warmth}"]  # fmt: skip


def _ranges(story: Forecast) -> list[str]:
    left = story.provenance.outside_validity
    if not left:
        return ["No model was used outside its published range."]
    return ["Used outside its published range:", "", *(f"- {text}" for text in left)]


def _versions(story: Forecast) -> list[str]:
    origin = story.provenance
    return [
        f"- lpgrelease {lpgrelease.__version__}, numpy {np.__version__}, Python {platform.python_version()}",
        f"- Properties: {origin.properties}",
        f"- Sources, by key of the bibliography: {', '.join(origin.sources)}",
    ]
