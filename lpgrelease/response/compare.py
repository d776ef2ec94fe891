"""Plans side by side: what each does to one incident."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.quantities import FloatArray
from lpgrelease.response import units
from lpgrelease.response.compose import forecast
from lpgrelease.response.inputs import Incident, ResponsePlan
from lpgrelease.response.story import Forecast
from lpgrelease.response.uncertain import KeyFigures, key_figures
from lpgrelease.results import BoolArray, Provenance, Result, plain, quantity, result

__all__ = ["PlanComparison", "compare_plans"]

CAUTION = (
    "The shortest plan is not the safest: who must go how near, for how long, and what fails if the vent or "
    "the ice does, is not in these figures."
)


@result
class PlanComparison(Result):
    """Plans for one incident; the last axis is that of the plans, scenarios lead."""

    zero_gauge_at: FloatArray = quantity(
        "s", "gauge at zero, since the leak began; inf: never", dims=("plan",)
    )
    venting: FloatArray = quantity("s", "how long the vent is open until then", dims=("plan",))
    leaked: FloatArray = quantity("kg", "leaked in all", dims=("plan",))
    vented: FloatArray = quantity("kg", "let out through the vents", dims=("plan",))
    landed: FloatArray = quantity("kg", "most that lies on the ground at a time", dims=("plan",))
    pool_gone_at: FloatArray = quantity("s", "ground dry; inf: after the forecast", dims=("plan",))
    largest_standoff: FloatArray = quantity(
        "m", "farthest to stay away in any phase, as `Distances`", dims=("plan",)
    )
    sealed: BoolArray = quantity("", "whether every leak freezes shut", dims=("plan",))
    holding: FloatArray = quantity("s", "how long the weakest ice is expected to last", dims=("plan",))
    liquid_left: FloatArray = quantity("kg", "liquid in the tank at the end", dims=("plan",))
    names: tuple[str, ...] = plain("what the plans are called")
    stories: tuple[Forecast, ...] = plain("the forecasts themselves")
    cautions: tuple[str, ...] = plain("read before acting")

    def table(self) -> str:
        """Return one column for each plan as plain text, US units first; raises InputError for scenarios."""
        if np.ndim(self.zero_gauge_at) != 1:
            raise InputError("table is for one scenario: compare the plans for one incident")
        rows = [("", *self.names), *(tuple(row) for row in self._cells())]
        wide = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
        lines = [
            "  ".join(f"{cell:<{w}}" for cell, w in zip(row, wide, strict=True)).rstrip() for row in rows
        ]
        rule = "  ".join("-" * w for w in wide)
        return "\n".join([lines[0], rule, *lines[1:], rule, *(f"! {text}" for text in self.cautions)])

    def _cells(self) -> list[list[str]]:
        times, masses = (units.duration, _both(units.mass))
        wanted: list[tuple[str, Any, Any]] = [
            ("gauge at zero after", self.zero_gauge_at, times),
            ("of that, venting", self.venting, times),
            ("leaked", self.leaked, masses),
            ("vented", self.vented, masses),
            ("most on the ground", self.landed, masses),
            ("ground dry after", self.pool_gone_at, _unless_endless(units.duration, "not in this forecast")),
            ("stay away", self.largest_standoff, _both(units.distance)),
            ("all leaks freeze shut", self.sealed, lambda yes: "yes" if yes else "no"),
            ("ice lasts about", self.holding, _unless_endless(units.about, "the air does not melt it")),
            ("liquid left at the end", self.liquid_left, masses),
        ]
        return [[name, *(tell(value[()]) for value in row)] for name, row, tell in wanted]


def compare_plans(incident: Incident, plans: Mapping[str, ResponsePlan]) -> PlanComparison:
    """Forecast one incident under several plans and set them side by side.

    Parameters
    ----------
    incident : Incident
    plans : mapping of str to ResponsePlan
        By name: another vent, two flares, the seal first, waiting for dawn.

    Returns
    -------
    PlanComparison

    Raises
    ------
    InputError, OutOfRangeError
        No plan, wrong kinds, and what `forecast` refuses.

    Examples
    --------
    >>> import lpgrelease as lr
    >>> tank = lr.HorizontalTank(diameter=1.2, length=3.0, wall_mass=900.0)
    >>> incident = lr.Incident(
    ...     contents=lr.Contents(tank, lr.Fluid("propane"), fill=0.8, temperature=293.15),
    ...     leaks=[lr.Opening(diameter=0.006, height=0.2)],
    ...     ground=lr.Ground.named("moist sand"),
    ... )
    >>> one = lr.Opening(diameter=0.0508, height=1.2)
    >>> found = lr.compare_plans(incident, {
    ...     "one flare": lr.ResponsePlan(arrival=900.0, vent=one, hold=600.0),
    ...     "two flares": lr.ResponsePlan(arrival=900.0, vent=[one, one], hold=600.0),
    ... })
    >>> [f"{t / 60:.0f} min" for t in found.venting]
    ['7 min', '4 min']
    """
    if not isinstance(plans, Mapping) or not plans:
        raise InputError(f"plans must be a mapping of names to ResponsePlan, got {plans!r}")
    for name, plan in plans.items():
        if not isinstance(name, str) or not isinstance(plan, ResponsePlan):
            raise InputError(f"plans must be a mapping of names to ResponsePlan, got {name!r}: {plan!r}")
    stories = tuple(forecast(incident, plan) for plan in plans.values())
    shape = np.broadcast_shapes(*(story.shape for story in stories))
    told = [key_figures(story) for story in stories]
    names = [f.name for f in dataclasses.fields(KeyFigures) if "unit" in f.metadata]
    found: dict[str, Any] = {
        name: np.stack([np.broadcast_to(getattr(row, name), shape) for row in told], axis=-1)
        for name in names
    }
    cautions = dict.fromkeys(text for story in stories for text in story.cautions)
    return PlanComparison(
        **found,
        names=tuple(plans),
        stories=stories,
        cautions=(CAUTION, *cautions),
        provenance=Provenance(
            "forecasts of one incident under several plans",
            tuple(dict.fromkeys(key for story in stories for key in story.provenance.sources)),
            stories[0].provenance.properties,
        ),
    )


def _unless_endless(tell: Any, words: str) -> Any:
    return lambda seconds: tell(seconds) if np.isfinite(seconds) else words


def _both(tell: Any) -> Any:
    def told(value: float) -> str:
        first, second = tell(float(value))
        return f"{first} ({second})"

    return told
