"""`Forecast`: what `forecast` answers, and how it is told."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.fire import BurnPit
from lpgrelease.freeze_seal import FreezeSeal
from lpgrelease.pool import PoolHistory
from lpgrelease.quantities import FloatArray
from lpgrelease.response.inputs import Incident, ResponsePlan
from lpgrelease.response.ledger import EnergyLedger, MassHistory, MassLedger
from lpgrelease.response.scenario import pick
from lpgrelease.response.script import script_of
from lpgrelease.results import BoolArray, Result, StringArray, plain, quantity, result
from lpgrelease.tank import TankHistory

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from lpgrelease.response.distances import Distances
    from lpgrelease.response.steps import Step

__all__ = ["Forecast", "phase_words", "trimmed"]


@result
class Forecast(Result):
    """What happens when; leading axes are the scenarios. Times count from the start of the leak.

    ``time`` runs through all phases, each with as many points; where one ends and the next begins the
    instant stands twice, before and after what changes there. The pool has its own times, in ``pool``.
    """

    time: FloatArray = quantity("s", "time since the leak began", dims=("time",))
    pressure: FloatArray = quantity("Pa", "absolute pressure in the tank", dims=("time",))
    gauge_pressure: FloatArray = quantity("Pa", "pressure above the air's", dims=("time",))
    temperature: FloatArray = quantity("K", "temperature of contents and wall", dims=("time",))
    liquid_mass: FloatArray = quantity("kg", "liquid in the tank", dims=("time",))
    vapor_mass: FloatArray = quantity("kg", "vapor in the tank", dims=("time",))
    liquid_volume: FloatArray = quantity("m**3", "volume of the liquid in the tank", dims=("time",))
    leak_flow: FloatArray = quantity("kg/s", "flow through each leak", dims=("leak", "time"))
    leak_passes_liquid: BoolArray = quantity("", "whether liquid stands at the leak", dims=("leak", "time"))
    leaked: FloatArray = quantity("kg", "let out by each leak so far", dims=("leak", "time"))
    leaked_liquid: FloatArray = quantity("kg", "of that, as liquid", dims=("leak", "time"))
    vent_flow: FloatArray = quantity("kg/s", "flow through each vent", dims=("vent", "time"))
    vented: FloatArray = quantity("kg", "let out by each vent so far", dims=("vent", "time"))
    heat_gained: FloatArray = quantity("J", "heat into tank and contents from outside so far", dims=("time",))
    enthalpy_released: FloatArray = quantity("J", "enthalpy of all that left the tank so far", dims=("time",))
    transferred: FloatArray = quantity("kg", "pumped out as liquid so far", dims=("time",))
    relief_flow: FloatArray = quantity("kg/s", "flow through each relief valve", dims=("valve", "time"))
    relieved: FloatArray = quantity("kg", "let out by each relief valve so far", dims=("valve", "time"))
    phase_start: FloatArray = quantity("s", "when each phase begins", dims=("phase",))
    phase_end: FloatArray = quantity("s", "when each phase ends", dims=("phase",))
    zero_gauge_reached: BoolArray = quantity("", "whether the gauge came down to the pressure wanted")
    zero_gauge_at: FloatArray = quantity("s", "when it did; infinite where it does not")
    plateau_gauge_pressure: FloatArray = quantity(
        "Pa", "gauge pressure at which venting settles instead; infinite where it does not"
    )
    venting_from: FloatArray = quantity("s", "when venting begins, or the responders arrive")
    venting_until: FloatArray = quantity("s", "when the gauge is down, or venting comes to its end before")
    shut_in_from: FloatArray = quantity("s", "from when on the return of pressure is told")
    step_begins: FloatArray = quantity("s", "when each step begins; inf: never", dims=("step",))
    step_ends: FloatArray = quantity("s", "when each step ends; inf: not in the forecast", dims=("step",))
    step_states: FloatArray = quantity(
        "", "of each step: 0 waits, 1 goes on, 2 done, 3 given up, 4 not needed, 5 impossible", dims=("step",)
    )
    step_active: BoolArray = quantity("", "whether each step goes on in each phase", dims=("step", "phase"))
    liquid_leaks_until: FloatArray = quantity(
        "s", "when liquid last leaves each leak; 0 where none does", dims=("leak",)
    )
    sealed: BoolArray = quantity("", "whether a cloth freezes on each leak", dims=("leak",))
    boil_off: FloatArray = quantity("kg/s", "vapor to be let out to keep the pressure once sealed")
    tenth_bar_after: FloatArray = quantity("s", "vents shut after sealing: until 0.1 bar gauge; inf: never")
    one_bar_after: FloatArray = quantity("s", "vents shut after sealing: until 1 bar gauge; inf: never")
    ice_limit_after: FloatArray = quantity(
        "s", "vents shut after sealing: until more than the weakest plug is credited with; inf: never"
    )
    ice_melts_after: FloatArray = quantity("s", "until the air has thinned the plug too much", dims=("leak",))
    pool_fed_until: FloatArray = quantity("s", "when the last liquid falls on the ground; 0 where none does")
    pool_diameter: FloatArray = quantity("m", "of the pool at its widest")
    liquid_still_leaks: BoolArray = quantity("", "whether liquid still leaks when the forecast ends")
    pool_gone_at: FloatArray = quantity(
        "s", "when the ground is dry again, not before the last liquid leaks; inf: after the forecast"
    )
    venting_ended: StringArray = plain("why venting came to its end")
    masses: MassHistory = plain("where all of it is over time")
    ledger: MassLedger = plain("where all of it is at the end")
    energy: EnergyLedger = plain("where the tank's energy went")
    phase_names: tuple[str, ...] = plain("what the phases are called")
    incident: Incident = plain("what was given")
    plan: ResponsePlan = plain("what was planned")
    runs: tuple[TankHistory, ...] = plain("the tank in each phase, each with its own time")
    seals: tuple[FreezeSeal, ...] = plain("assessment of the cloth on each leak; empty: no cloth planned")
    shut_in: TankHistory = plain("the tank once sealed, if its vents are shut: one history to 1 bar gauge")
    pool: PoolHistory = plain("liquid on the ground")
    pit: BurnPit | None = plain("the pit that burns what is pumped out; None: there is none", default=None)

    @property
    def shape(self) -> tuple[int, ...]:
        """Shape of the scenarios; () for one."""
        return np.shape(self.boil_off)

    @property
    def cautions(self) -> tuple[str, ...]:
        """What to read before acting on any of this."""
        from lpgrelease.response.cautions import cautions

        return cautions(self)

    def distances(self) -> Distances:
        """Return where not to stand, in each phase: how far vapor can be lit and flames scorch."""
        from lpgrelease.response.distances import find_distances

        return find_distances(self)

    def steps(self) -> tuple[Step, ...]:
        """Return what becomes of each step of the plan, for one scenario: done, or why not and when it could.

        Raises
        ------
        InputError
            Several scenarios.
        """
        from lpgrelease.response.steps import steps_of

        return steps_of(self._alone("steps"))

    def scenario(self, index: int | tuple[int, ...]) -> Forecast:
        """Return one scenario of many.

        Raises
        ------
        InputError
            No such scenario.
        """
        chosen = index if isinstance(index, tuple) else (index,)
        inside = len(chosen) == len(self.shape) and all(
            -size <= i < size for i, size in zip(chosen, self.shape, strict=True)
        )
        if not inside:
            raise InputError(f"scenario {index!r} is not one of scenarios of shape {self.shape}")
        return phase_words(trimmed(pick(self, self.shape, chosen)))

    def table(self, *, units: str = "both") -> str:
        """Timeline as plain text, for one scenario.

        Parameters
        ----------
        units : {"both", "us", "si"}
            In which the columns of figures are.

        Raises
        ------
        InputError
            Several scenarios; other units.
        """
        from lpgrelease.response.timeline import table

        return table(self._alone("table"), units)

    def report(self) -> str:
        """Report as Markdown, for one scenario; raises InputError for several."""
        from lpgrelease.response.report import report

        return report(self._alone("report"))

    def report_html(self) -> str:
        """Report as one page of HTML with its picture inside; raises InputError for several scenarios."""
        from lpgrelease.response.page import report_html

        return report_html(self._alone("report_html"))

    def plot(self) -> Figure:
        """Picture of one scenario, a Matplotlib figure that is not shown; raises InputError for several."""
        from lpgrelease.response.pictures import plot_forecast

        return plot_forecast(self._alone("plot"))

    def _alone(self, what: str) -> Forecast:
        if self.shape:
            raise InputError(
                f"{what} is for one scenario, and this forecast has {self.shape}: "
                f"pick one, as in story.scenario({', '.join('0' for _ in self.shape)}).{what}()"
            )
        return self


def trimmed(story: Forecast) -> Forecast:
    """Return a forecast by steps of one scenario without the phases that other scenarios alone needed."""
    lasts = np.flatnonzero(story.phase_end > story.phase_start)
    count = int(lasts[-1]) + 1 if lasts.size else 1
    phases = len(story.runs)
    if count == phases:
        return story
    points = story.time.shape[-1] * count // phases
    changed: dict[str, Any] = {"runs": story.runs[:count], "phase_names": story.phase_names[:count]}
    for field in dataclasses.fields(story):
        dims, value = field.metadata.get("dims", ()), getattr(story, field.name)
        if dims and dims[-1] in ("time", "phase") and value is not None:
            changed[field.name] = value[..., : points if dims[-1] == "time" else count]
    return dataclasses.replace(story, **changed)


def phase_words(story: Forecast) -> Forecast:
    """Return a forecast with its phases named for what goes on in them.

    Where that is not the same in all scenarios that come to a phase, it has a number.
    """
    names = []
    for i in range(len(story.runs)):
        lasts = np.ravel(story.phase_end[..., i] > story.phase_start[..., i])
        rows = story.step_active[..., i].reshape(lasts.size, story.step_active.shape[-2])
        before = np.ravel(story.phase_start[..., i] < story.plan.arrival)
        some = lasts if lasts.any() else np.ones_like(lasts)
        kinds = np.unique(np.column_stack([before, rows])[some], axis=0)
        names.append(_what_goes_on(story, kinds[0]) if len(kinds) == 1 else f"phase {i + 1}")
    return dataclasses.replace(story, phase_names=tuple(names))


def _what_goes_on(story: Forecast, kind: BoolArray) -> str:
    """Return words for a phase: whether it comes before arrival, and which steps go on."""
    before, *active = kind
    steps = zip(script_of(story.plan).steps, active, strict=True)
    found = ", ".join(step.name for step, on in steps if on)
    return found or ("before arrival" if before else "nothing is done")
