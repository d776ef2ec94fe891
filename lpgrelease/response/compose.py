"""`forecast`: one incident and one plan, from the first leak to the last puddle."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.quantities import FloatArray
from lpgrelease.release import Line
from lpgrelease.response.by_steps import forecast_by_steps
from lpgrelease.response.emptying import boil_away, burn_in_pit, pump_out
from lpgrelease.response.inputs import Incident, ResponsePlan, scenario_shape
from lpgrelease.response.joining import Joined, books, energy_books, join, provenance_of
from lpgrelease.response.phases import (
    TENTH_BAR,
    Phase,
    SealsLaid,
    boil_off,
    ice_lasts,
    ice_limit,
    lay_seals,
    leak_until_arrival,
    look_ahead,
    pressure_return,
    vent,
)
from lpgrelease.response.scenario import pick
from lpgrelease.response.spilling import knots, on_the_ground, spilt_by, watch_pool
from lpgrelease.response.story import Forecast
from lpgrelease.tank import Contents
from lpgrelease.weather import Weather
from lpgrelease.weather_by_hour import weather_at_start

__all__ = ["forecast"]

ONE_BAR = 1e5


def forecast(
    incident: Incident, plan: ResponsePlan, *, progress: Callable[[int, int], None] | None = None
) -> Forecast:
    """Forecast an incident under a plan: leaking, venting, sealing, holding, and the pool on the ground.

    Parameters
    ----------
    incident : Incident
    plan : ResponsePlan
    progress : callable, optional
        Called as ``progress(done, total)`` with numbers of stages.

    Returns
    -------
    Forecast
        Every number of incident and plan may be an array; they broadcast to the scenarios.

    Raises
    ------
    InputError, OutOfRangeError
        Wrong kinds, shapes that do not broadcast, and what the models below refuse.
    ConvergenceError
        Mass does not close to 1e-6, or a model below did not reach its answer.

    Notes
    -----
    1. Leaking, until `plan.arrival`: vents shut.
    2. Venting: leaks and vents open, until the gauge has come down to `plan.stop_at_gauge_pressure`, has
       settled above it, no liquid is left, or `plan.longest_venting` has passed. A tank at that pressure
       already is not vented.
    3. Sealing: cloths are laid on all leaks, assessed at the state in which venting ended, and freeze
       while everything stays open. All leaks freeze at once; leaks that do not freeze stay open.
    4. Holding, for `plan.hold`: sealed leaks shut and taken to hold, vents as planned. Beside it, the time
       for pressure to return with the vents shut.

    5. Transferring, where `plan.transfer_rate` is given: liquid is pumped out until none is left, into a
       burning pit where the plan has one (`burn_pit`).
    6. Emptying, where `plan.empty`: vents open until the last liquid has boiled away.

    A tank without liquid ends its story: its phases after that have no length.

    The pool is fed as the leaks flow, in steps that keep the mass of each. The ground counts as wet at least
    as long as liquid leaks.

    In an interval between two points in time in which a leak passes from liquid to vapor, what left is
    divided by holding both flows at their values at the points.

    Boil-off is heat gained over latent heat at the start of holding.

    References: those of `tank_history`, `assess_freeze_seal` and `pool_history`.

    Examples
    --------
    >>> import lpgrelease as lr
    >>> tank = lr.HorizontalTank(diameter=1.2, length=3.0, wall_mass=900.0)
    >>> incident = lr.Incident(
    ...     contents=lr.Contents(tank, lr.Fluid("propane"), fill=0.8, temperature=293.15),
    ...     leaks=[lr.Opening(diameter=0.008, height=0.2)],
    ...     ground=lr.Ground.named("moist sand"),
    ... )
    >>> plan = lr.ResponsePlan(arrival=900.0, vent=lr.Opening(diameter=0.0508, height=1.2), hold=600.0)
    >>> story = lr.forecast(incident, plan)
    >>> print(f"zero gauge after {story.zero_gauge_at / 60:.0f} min")
    zero gauge after 20 min
    >>> print(f"pressure back at 0.1 bar {story.tenth_bar_after / 60:.0f} min after the vent is shut")
    pressure back at 0.1 bar 5 min after the vent is shut
    """
    shape = _check(incident, plan)
    if not _is_plain(incident, plan):
        return forecast_by_steps(incident, plan, shape, progress)
    steps = (plan.seal is not None) + (plan.transfer_rate is not None) + plan.empty
    report = _Progress(progress, 5 + steps)
    parts, laid = _march_phases(incident, plan, shape, report)
    thresholds = np.stack(
        [np.full(shape, TENTH_BAR), np.full(shape, ONE_BAR), ice_limit(laid.assessed, laid.shut)]
    )
    back, shut_in = pressure_return(incident, plan, _before_holding(parts), laid.shut, thresholds)
    report.step()
    runs = [part.run for part in parts]
    tank = join(incident, plan, runs, [part.pumped for part in parts])
    kept = knots([part.run.time.shape[-1] for part in parts])
    spilt = spilt_by(incident, tank.histories, kept)
    end = tank.times["phase_end"][..., -1]
    pool = watch_pool(incident, spilt, end)
    pit = (
        burn_in_pit(incident, plan, _named(parts, "transferring")) if plan.pit_diameter is not None else None
    )
    masses, ledger = books(plan, tank, spilt, pool, kept)
    report.step()
    return Forecast(
        **tank.times,
        **tank.histories,
        **_milestones(incident, plan, parts, tank),
        **_after_sealing(parts, laid, back),
        **on_the_ground(runs[-1].stopped_by == "duration", tank.histories, spilt, pool),
        masses=masses,
        ledger=ledger,
        energy=energy_books(tank, runs),
        phase_names=tuple(part.name for part in parts),
        incident=incident,
        plan=plan,
        runs=tuple(part.run for part in parts),
        seals=laid.assessed,
        shut_in=pick(shut_in, (3, *shape), (1, *(slice(None) for _ in shape))),
        pool=pool,
        pit=pit,
        provenance=provenance_of(runs, laid.assessed, pool),
    )


def _march_phases(
    incident: Incident, plan: ResponsePlan, shape: tuple[int, ...], report: _Progress
) -> tuple[list[Phase], SealsLaid]:
    """March the tank through its phases."""
    parts = [leak_until_arrival(incident, plan, shape)]
    report.step()
    parts.append(vent(incident, plan, parts[-1].run.final))
    report.step()
    laid = SealsLaid((), np.zeros((*shape, len(incident.leaks)), dtype=np.bool_))
    if plan.seal is not None:
        sealing, laid = lay_seals(incident, plan, parts[-1].run)
        parts.append(sealing)
        report.step()
    parts.append(look_ahead(incident, plan, parts[-1].run.final, laid.shut))
    report.step()
    if plan.transfer_rate is not None:
        parts.append(pump_out(incident, plan, parts[-1].run, laid.shut))
        report.step()
    if plan.empty:
        parts.append(boil_away(incident, plan, parts[-1].run.final, laid.shut))
        report.step()
    return parts, laid


def _is_plain(incident: Incident, plan: ResponsePlan) -> bool:
    """Whether the usual phases serve: nothing changes with time, and nothing opens by itself."""
    others = (plan.steps is not None, incident.relief, incident.fire is not None)
    lines = any(isinstance(vent, Line) for vent in plan.vents)
    return not any(others) and not lines and isinstance(incident.weather, Weather)


def _named(parts: list[Phase], name: str) -> Phase:
    return next(part for part in parts if part.name == name)


def _before_holding(parts: list[Phase]) -> Contents:
    return parts[[part.name for part in parts].index("holding") - 1].run.final


def _check(incident: Any, plan: Any) -> tuple[int, ...]:
    for name, value, kind in (("incident", incident, Incident), ("plan", plan, ResponsePlan)):
        if not isinstance(value, kind):
            raise InputError(f"{name} must be {kind.__name__}, got {value!r}")
    return scenario_shape(incident, plan)


class _Progress:
    """Counts stages for the caller."""

    def __init__(self, call: Callable[[int, int], None] | None, total: int) -> None:
        self._call, self._done, self._total = call, 0, total

    def step(self) -> None:
        self._done += 1
        if self._call is not None:
            self._call(self._done, self._total)


def _milestones(incident: Incident, plan: ResponsePlan, parts: list[Phase], tank: Joined) -> dict[str, Any]:
    """When the gauge came down, or where it settled."""
    run = parts[1].run
    ambient = weather_at_start(incident.weather).ambient_pressure
    was_down = run.pressure[..., 0] - ambient <= plan.stop_at_gauge_pressure
    down = was_down | (run.stopped_by == "gauge pressure")
    return {
        "zero_gauge_reached": down[()],
        "zero_gauge_at": np.where(down, tank.times["phase_end"][..., 1], np.inf)[()],
        "plateau_gauge_pressure": np.where(down, np.inf, run.plateau_pressure - ambient)[()],
        "venting_from": tank.times["phase_start"][..., 1][()],
        "venting_until": tank.times["phase_end"][..., 1][()],
        "venting_ended": run.stopped_by,
        "shut_in_from": tank.times["phase_start"][..., [part.name for part in parts].index("holding")][()],
    }


def _after_sealing(parts: list[Phase], laid: SealsLaid, back: FloatArray) -> dict[str, Any]:
    """Return what follows the sealing: boil-off, return of pressure, end of the ice."""
    run = _named(parts, "holding").run
    any_plug = laid.shut.any(axis=-1)
    return {
        "sealed": laid.shut,
        "boil_off": boil_off(run, run.temperature[..., 0])[()],
        "tenth_bar_after": back[0][()],
        "one_bar_after": back[1][()],
        "ice_limit_after": np.where(any_plug, back[2], np.inf)[()],
        "ice_melts_after": ice_lasts(laid.assessed, laid.shut),
    }
