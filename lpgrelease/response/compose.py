"""`forecast`: one incident and one plan, from the first leak to the last puddle."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.fire import BurnPit, burn_pit
from lpgrelease.pool import PoolHistory
from lpgrelease.quantities import FloatArray
from lpgrelease.response.actions import BurnPool, Pump, Vent
from lpgrelease.response.course import DONE, NOT_NEEDED, Course, run_course
from lpgrelease.response.inputs import Incident, ResponsePlan, flares_of, scenario_shape
from lpgrelease.response.joining import Joined, books, energy_books, join, provenance_of
from lpgrelease.response.ledger import values_at
from lpgrelease.response.rounds import POINTS, as_history
from lpgrelease.response.scenario import pick
from lpgrelease.response.script import Script, script_of
from lpgrelease.response.shut_in import STAND_IN, TENTH_BAR, back_at, boil_off, ice_lasts, ice_limit
from lpgrelease.response.spilling import Spilt, knots, on_the_ground, spilt_by, watch_pool
from lpgrelease.response.story import Forecast, phase_words
from lpgrelease.tank import TankHistory
from lpgrelease.weather_by_hour import weather_at_start

__all__ = ["forecast"]

HARDLY_ANY = 1e-6
"""Fill below which no liquid counts."""
MORE_RUNS, SAME_MOMENT = 4, 2e-3
FEWER = 8
"""A step of the pool's feed for every so many points of a round, where rounds are many and short."""
USUAL = 4


class _Told(NamedTuple):
    """One run of the script, and the pool that came of it."""

    course: Course
    runs: tuple[TankHistory, ...]
    tank: Joined
    spilt: Spilt
    pool: PoolHistory
    ground: dict[str, Any]
    kept: np.ndarray[Any, np.dtype[np.intp]]


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
    Steps begin and end on their conditions, side by side; a plan without `steps` stands for the usual ones:

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

    A tank without liquid ends its story. Between two events nothing of what is open, pumped or shut changes:
    that is a phase, named for the steps that go on where that is the same in all scenarios.

    A step that waits until the ground is dry, or a pool is burned off, changes nothing before that moment:
    the whole is run again, and each run settles one more of such steps. A pool's own steps in time depend on
    how long it is watched, so that the moment counts as settled once it moves by less than 0.2 % of itself.

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
    script = script_of(plan)
    _check_pumps(script, incident)
    waits = _waits_for_ground(script)
    total = 2 + (waits + MORE_RUNS if waits else 0)
    dry_at = None
    for done in range(1, total):
        told = _run(incident, plan, script, shape, dry_at)
        if progress is not None:
            progress(done, total)
        found = np.ravel(np.broadcast_to(told.ground["pool_gone_at"], shape or (1,)))
        if dry_at is None:
            dry_at = found
            continue
        with np.errstate(invalid="ignore"):  # never is never
            same = (found == dry_at) | (np.abs(found - dry_at) <= SAME_MOMENT * found)
        if same.all():
            break
        dry_at = np.where(same, dry_at, found)  # who has settled stays as it is, whoever else has not
    story = _story(incident, plan, script, shape, told)
    if progress is not None:
        progress(total, total)
    return story


def _check(incident: Any, plan: Any) -> tuple[int, ...]:
    for name, value, kind in (("incident", incident, Incident), ("plan", plan, ResponsePlan)):
        if not isinstance(value, kind):
            raise InputError(f"{name} must be {kind.__name__}, got {value!r}")
    flares_of(plan, incident.contents.fluid)
    return scenario_shape(incident, plan)


def _check_pumps(script: Script, incident: Incident) -> None:
    pumps = [step for step in script.steps if isinstance(step, Pump)]
    if pumps and incident.contents.fluid.is_blend:
        raise InputError(f"'{pumps[0].name}': pumping a blend out is not served; vent it, or leave it out")
    pits = [step.name for step in pumps if step.pit_diameter is not None]
    if len(pits) > 1:
        raise InputError(f"steps: one pit at most is served, got those of {', '.join(pits)}")


def _waits_for_ground(script: Script) -> int:
    """Return how many steps wait for the ground to be dry, or for a pool to be burned off."""
    fires = {step.name for step in script.steps if isinstance(step, BurnPool)}
    count = 0
    for step in script.steps:
        whens = (*step.begins_on, *step.ends_on)
        count += any(when.ground_dry or when.after in fires for when in whens)
    return count


def _run(
    incident: Incident, plan: ResponsePlan, script: Script, shape: tuple[int, ...], dry_at: FloatArray | None
) -> _Told:
    course = run_course(incident, plan, script, shape, dry_at)
    runs = _histories(incident, course, shape)
    shaped = _Shaper(shape)
    pumped = [rate[..., None] * run.time for rate, run in zip(shaped.rows(course.pumped), runs, strict=True)]
    tank = join(incident, plan, runs, pumped, shaped(course.starts))
    kept = knots([run.time.shape[-1] for run in runs], USUAL if course.scene.points == POINTS else FEWER)
    spilt = spilt_by(incident, tank.histories, kept)
    end = tank.times["phase_end"][..., -1]
    lit = _lit_at(script, course)
    pool = watch_pool(incident, spilt, end, None if lit is None else shaped(lit))
    ground = on_the_ground(shaped(course.stopped) == "", tank.histories, spilt, pool)
    return _Told(course, runs, tank, spilt, pool, ground, kept)


class _Shaper:
    """Puts scenarios in a row back into their shape."""

    def __init__(self, shape: tuple[int, ...]) -> None:
        self.shape = shape

    def __call__(self, values: Any) -> Any:
        return values.reshape((*self.shape, *values.shape[1:]))[()]

    def rows(self, values: FloatArray) -> list[FloatArray]:
        """Return what stands along the last axis, entry by entry."""
        return [self(values[:, i]) for i in range(values.shape[1])]

    def result(self, source: Any, n: int) -> Any:
        return pick(source, (n,), (np.arange(n).reshape(self.shape),))


def _histories(incident: Incident, course: Course, shape: tuple[int, ...]) -> tuple[TankHistory, ...]:
    n = course.starts.shape[0]
    final = course.final.contents(course.scene, incident.contents.pad_gas, slice(None))
    shaped = _Shaper(shape)
    return tuple(shaped.result(as_history(found, final), n) for found in course.rounds)


def _lit_at(script: Script, course: Course) -> FloatArray | None:
    """When the pool is lit (n,); infinite where it is not; None: no step would."""
    fires = [k for k, step in enumerate(script.steps) if isinstance(step, BurnPool)]
    return course.begins[:, fires].min(axis=-1) if fires else None


def _story(
    incident: Incident, plan: ResponsePlan, script: Script, shape: tuple[int, ...], told: _Told
) -> Forecast:
    course, runs, tank = told.course, told.runs, told.tank
    n, shaped = course.starts.shape[0], _Shaper(shape)
    flares = flares_of(plan, incident.contents.fluid)
    masses, ledger = books(flares, tank, told.spilt, told.pool, told.kept)
    seals = tuple(shaped.result(seal, n) for seal in course.seals)
    ends, states = _ends_of_fires(script, course, np.ravel(told.ground["pool_gone_at"]))
    story = Forecast(
        **tank.times,
        **tank.histories,
        **_milestones(script, course, shaped),
        **_after_sealing(incident, course, shaped, n),
        **told.ground,
        sealed=shaped(course.shut),
        step_begins=shaped(course.begins),
        step_ends=shaped(ends),
        step_states=shaped(states.astype(np.float64)),
        step_active=shaped(course.active),
        masses=masses,
        ledger=ledger,
        energy=energy_books(tank, runs),
        phase_names=(),
        incident=incident,
        plan=plan,
        runs=runs,
        seals=seals,
        pool=told.pool,
        pit=_pit(incident, script, course, tank, shaped),
        provenance=provenance_of(runs, seals, told.pool),
    )
    return phase_words(story)


def _ends_of_fires(script: Script, course: Course, gone: FloatArray) -> tuple[FloatArray, Any]:
    """Put in when a lit pool is gone, which the course itself does not know."""
    ends, states = course.ends.copy(), course.states.copy()
    for k, step in enumerate(script.steps):
        if isinstance(step, BurnPool):
            lit = np.isfinite(course.begins[:, k])
            ends[:, k] = np.where(lit, np.maximum(gone, course.begins[:, k]), np.inf)
            none = lit & (gone <= course.begins[:, k])
            states[:, k] = np.where(none, NOT_NEEDED, np.where(lit & np.isfinite(gone), DONE, states[:, k]))
    return ends, states


def _milestones(script: Script, course: Course, shaped: _Shaper) -> dict[str, Any]:
    """When venting began, when the gauge came down, or where it settled."""
    end = course.starts[:, -1]
    arrival = np.minimum(course.starts[:, 1], end)
    vents = [k for k, step in enumerate(script.steps) if isinstance(step, Vent)]
    opened = course.begins[:, vents].min(axis=-1) if vents else np.full(end.shape, np.inf)
    opened = np.where(np.isfinite(opened), opened, arrival)
    down = np.isfinite(course.zero_at)
    at_once = down & (course.zero_at <= opened)
    settles = np.isfinite(course.plateau) & ~down
    until = np.where(down, np.maximum(course.zero_at, opened), np.where(settles, course.settled_at, end))
    reason = np.where(
        down,
        np.where(at_once, "duration", "gauge pressure"),
        np.where(settles, "settled", np.where(course.stopped != "", course.stopped, "duration")),
    )
    return {
        "zero_gauge_reached": shaped(down),
        "zero_gauge_at": shaped(course.zero_at),
        "plateau_gauge_pressure": shaped(np.where(down, np.inf, course.plateau)),
        "venting_from": shaped(opened),
        "venting_until": shaped(until),
        "venting_ended": shaped(reason),
    }


def _after_sealing(incident: Incident, course: Course, shaped: _Shaper, n: int) -> dict[str, Any]:
    """Boil-off, return of pressure with all vents shut, end of the ice: from the moment of reference."""
    scene, shut = course.scene, course.reference_shut
    dry = course.reference.fill < HARDLY_ANY  # has no pressure to return; another fill stands in for it
    standing = course.reference._replace(fill=np.where(dry, STAND_IN, course.reference.fill))
    contents = standing.contents(scene, incident.contents.pad_gas, slice(None))
    limit = ice_limit(course.seals, shut)
    levels = np.stack([np.full(n, TENTH_BAR), np.full(n, 10.0 * TENTH_BAR), limit])
    weather = scene.weather_at(course.reference_time)
    fire = None if scene.fire is None else _fire_left(scene.fire, course.reference_time < scene.fire_out_at)
    leaks = scene.openings[: scene.leaks]
    back, run = back_at(
        contents, leaks, shut, scene.openings[scene.leaks + scene.vents :], weather, levels, fire
    )
    back = np.where(dry, np.inf, back)
    run = dataclasses.replace(
        run,
        time=np.where(dry[:, None], 0.0, run.time),
        pressure=np.where(dry[:, None], contents.pressure[:, None], run.pressure),
    )
    boils = boil_off(pick(run, (3, n), (0, slice(None))), contents.temperature)
    return {
        "boil_off": shaped(np.where(dry, 0.0, boils)),
        "tenth_bar_after": shaped(back[0]),
        "one_bar_after": shaped(back[1]),
        "ice_limit_after": shaped(np.where(shut.any(axis=-1), back[2], np.inf)),
        "ice_melts_after": shaped(ice_lasts(course.seals, course.shut)),
        "shut_in_from": shaped(course.reference_time),
        "shut_in": shaped.result(pick(run, (3, n), (1, slice(None))), n),
    }


def _fire_left(fire: Any, burns: Any) -> Any:
    """Return the fire, without heat where it is out."""
    return dataclasses.replace(
        fire,
        environment_factor=np.where(burns, fire.environment_factor, 0.0),
        dry_flux=np.where(burns, fire.dry_flux, 0.0),
    )


def _pit(incident: Incident, script: Script, course: Course, tank: Joined, shaped: _Shaper) -> BurnPit | None:
    """Burn what the step with a pit pumps out; a scenario that never comes to it has a feed of a second."""
    for k, step in enumerate(script.steps):
        if isinstance(step, Pump) and step.pit_diameter is not None:
            begins = shaped(np.where(np.isfinite(course.begins[:, k]), course.begins[:, k], 0.0))
            ends = shaped(np.minimum(course.ends[:, k], course.starts[:, -1]))
            h = tank.histories
            warm = values_at(h["time"], {"t": h["temperature"]}, np.asarray(begins)[..., None])["t"][..., 0]
            return burn_pit(
                incident.contents.fluid,
                feed_rate=step.mass_flow,
                feed_temperature=warm,
                diameter=step.pit_diameter,
                depth=step.pit_depth,
                ground=incident.ground,
                weather=weather_at_start(incident.weather),
                duration=np.maximum(ends - begins, 1.0),
            )
    return None
