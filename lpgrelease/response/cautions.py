"""Cautions of a forecast: those that always hold, and those its own numbers call for."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

from lpgrelease.response.actions import BurnPool, KeepOut
from lpgrelease.response.dry import leaks_on
from lpgrelease.response.inputs import flares_of
from lpgrelease.response.shut_in import weakest_plug
from lpgrelease.results import BoolArray

if TYPE_CHECKING:
    from lpgrelease.response.story import Forecast

__all__ = ["DISTANCES", "cautions", "read_first", "warnings"]

DISTANCES = (
    "Distances are for level, open ground and a steady wind. Gas runs downhill and lies in hollows farther "
    "off, and parts of a tank that fails fly farther than any distance here: keep the isolation distances of "
    "the authority in charge where they are larger."
)
ALWAYS = (
    "These are estimates, not instructions. Local codes, the authority in charge and licensed practice "
    "decide. Where the scene and the numbers disagree, the scene is right.",
    "The container may fail without warning: it fell, was struck, or is far colder than its steel was made "
    "for. Nothing here says that it is sound.",
    "Approach from uphill and upwind, with a gas monitor, and only if it must be done.",
    DISTANCES,
    "Venting and flaring are for people licensed for it. A vent can throw liquid when the tank is fuller, or "
    "boils harder, than taken here.",
    "A gauge that reads zero does not make a leak harmless: liquid still runs out of a hole below the level.",
)
OPEN_FLAME = (
    "A flare or a burning pit lights any gas that reaches it: set it upwind, farther off than the gas of "
    "leak and pool reaches."
)
NOT_FLARED = (
    "The cargo does not burn: no flare takes what is vented. All of it enters the air, and whoever stands "
    "downwind breathes it."
)
NO_FIRE_DISTANCE = (
    "The cargo does not burn: a distance of 0 here says that nothing is lit, not that it is safe to stand "
    "there. How far its vapor harms those who breathe it is not computed."
)
STAYS_UP = (
    "The gauge does not come down to the pressure wanted: the heat that the tank takes up, or the liquid it "
    "holds, is too much for the openings in the time given."
)
NOT_SEALED = "A leak is not expected to freeze shut; it stays open."
BELOW_AIR = (
    "The tank's pressure lies below the air's: an open valve or hole lets air in, and the mixture can burn."
)
RUNS_DRY = (
    "The tank runs out of liquid, and the forecast of the tank ends there. It is not empty: it stays full of "
    "vapor, which expands as the tank warms."
)
LEAKS_ON = (
    "After its last liquid the tank is full of vapor under pressure, which goes on leaking through the open "
    "hole. That is not followed: no pressure, temperature or flow is given from then on, and what counts "
    "as leaked or still in the tank is as of that moment. Distances count the leak as strong as it is then."
)
ICE_PASSED = (
    "With the vent shut the pressure climbs past what the ice is trusted to hold. The forecast takes "
    "the plug to hold all the same; do not count on it."
)
STILL_LEAKS = "Liquid still leaks when the forecast ends: the ground stays wet longer than told here."
LIES_ON = "Liquid lies on the ground for more than a day after the forecast ends."
TOO_NEAR = (
    "The circle kept free of people is smaller than the farthest distance that was computed for this plan."
)
BESIDE_FIRE = (
    "A pool that burns heats the tank beside it, which may fail, and melts what is frozen: none of that heat "
    "is in this forecast."
)
LIT_EARLY = "The pool is lit before people are out of the way: nothing in the plan says that they are."
LIQUID_FULL = "The liquid comes to fill the whole tank: it can burst, or its relief valve throws liquid."


def cautions(story: Forecast) -> tuple[str, ...]:
    """Return what to read before acting: what these numbers call for, then what always holds."""
    parts = [*(text for seal in story.seals for text in seal.cautions), *story.pool.cautions]
    own = [text for text in parts if not text.startswith("An estimate, not an instruction: local codes")]
    return tuple(dict.fromkeys((ALWAYS[0], *warnings(story), *ALWAYS[1:], *own)))


def read_first(story: Forecast) -> tuple[str, ...]:
    """Return what stands on top: what these numbers call for, that a container may fail, and how to come."""
    return tuple(dict.fromkeys((ALWAYS[0], *warnings(story), *ALWAYS[1:3])))


def warnings(story: Forecast) -> tuple[str, ...]:
    """Return the cautions that come of this forecast's own numbers."""
    stopped = [run.stopped_by for run in story.runs]
    dry = _any([reason == "liquid gone" for reason in stopped])
    full = _any([reason == "liquid full" for reason in stopped])
    sealed: list[BoolArray] = [*np.moveaxis(story.sealed, -1, 0)] if story.seals else []
    passed = _ice_passed(story)
    fluid = story.incident.contents.fluid
    flames = story.pit is not None or any(burns for burns, _ in flares_of(story.plan, fluid))
    burns = flames and fluid.flammable and bool(story.incident.leaks)
    vented = np.asarray(story.ledger.vented) > 0.0
    urgent = [(leaks_on(story), LEAKS_ON), (vented & (not fluid.flammable), NOT_FLARED)]
    found = [
        (~story.zero_gauge_reached & ~dry, STAYS_UP),
        (_any([~shut for shut in sealed]), NOT_SEALED),
        (np.any(story.gauge_pressure < 0.0, axis=-1), BELOW_AIR),
        (full, LIQUID_FULL),
        (dry, RUNS_DRY),
        (passed, ICE_PASSED),
        (story.liquid_still_leaks, STILL_LEAKS),
        (np.asarray(burns), OPEN_FLAME),
        (np.isinf(story.pool.gone_at), LIES_ON),
        *((_too_near(story, step), TOO_NEAR) for step in story.plan.steps or () if isinstance(step, KeepOut)),
        (_lit_early(story), LIT_EARLY),
        (np.asarray(story.ledger.burned) > 0.0, BESIDE_FIRE),
    ]
    first, later = ([_told(np.asarray(where), text) for where, text in rows] for rows in (urgent, found))
    poison, others = fluid.cautions[:1], fluid.cautions[1:]
    return tuple(text for text in (*poison, *first, *others, *later) if text)


def _ice_passed(story: Forecast) -> BoolArray:
    """Whether the gauge passes what the weakest plug is trusted to hold."""
    limit = weakest_plug(story.seals, story.sealed)
    later = story.time >= np.asarray(story.shut_in_from)[..., None]
    return np.asarray((later & (story.gauge_pressure > np.asarray(limit)[..., None])).any(axis=-1))


def _too_near(story: Forecast, step: KeepOut) -> BoolArray:
    """Whether the circle kept free is smaller than the farthest distance of all phases."""
    return np.asarray(story.distances().stay_away.max(axis=-1) > step.distance)


def _lit_early(story: Forecast) -> BoolArray:
    """Whether a pool is to be lit while liquid or gas still leaks, or before people are out."""
    found = np.zeros(story.shape, dtype=np.bool_)
    steps = story.plan.steps or ()
    fires = [k for k, step in enumerate(steps) if isinstance(step, BurnPool)]
    outs = [k for k, step in enumerate(steps) if isinstance(step, KeepOut)]
    for k in fires:
        lit = np.asarray(story.step_begins)[..., k]
        out = np.max([np.asarray(story.step_ends)[..., j] for j in outs], axis=0) if outs else np.inf
        found = found | (np.isfinite(lit) & (lit < out))
    return np.asarray(found)


def _any(rows: Iterable[BoolArray]) -> BoolArray:
    total = np.zeros((), dtype=np.bool_)
    for row in rows:
        total = total | row
    return total


def _told(where: BoolArray, text: str) -> str:
    """Return the caution where it applies, with the number of scenarios where there are several."""
    if not where.any():
        return ""
    return text if where.ndim == 0 else f"In {np.count_nonzero(where)} of {where.size} scenarios: {text}"
