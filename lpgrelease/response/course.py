"""The course of events: steps that begin, end and wait for one another, and the tank marched between them.

Every scenario has its own sequence of rounds; a round ends at that scenario's next event. Between events
nothing of what is open, pumped or shut changes, so that a round is one history of the tank.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from lpgrelease.errors import ConvergenceError, InputError
from lpgrelease.freeze_seal import FreezeSeal
from lpgrelease.quantities import FloatArray
from lpgrelease.response.actions import BurnPool, Hold, KeepOut, PlanStep, Pump, Seal, Vent, vent_rows
from lpgrelease.response.conditions import Now, TankState, When, holds, next_time, ready
from lpgrelease.response.inputs import Incident, ResponsePlan
from lpgrelease.response.rounds import NO_TIME, TARGETS, Round, Scene, Standing, march_round, scene_of
from lpgrelease.response.scenario import pick
from lpgrelease.response.script import Script
from lpgrelease.response.seals import Cloths
from lpgrelease.response.watched import Watched, met
from lpgrelease.results import BoolArray, IntArray

__all__ = ["ACTIVE", "DONE", "GIVEN_UP", "IMPOSSIBLE", "NOT_NEEDED", "WAITING", "Course", "run_course"]

WAITING, ACTIVE, DONE, GIVEN_UP, NOT_NEEDED, IMPOSSIBLE = range(6)
MOST_ROUNDS = 2000
HARDLY_ANY = 1e-8
"""Fill below which no liquid is left: the end of the liquid is located to a tenth of it."""
STOPPED = (
    "liquid gone",
    "liquid full",
    "cold end of the property tables",
    "hot end of the property tables",
    "vapor beyond the superheat tables",
    "gas beyond its range of pressure",
)
"""Ends of a tank's own history: it stands as it is from then on."""


class Course(NamedTuple):
    """What came of a script: scenarios in a row."""

    rounds: list[dict[str, Any]]
    starts: FloatArray
    """When each round begins, (n, rounds + 1)."""
    active: BoolArray
    """Which steps go on in each round, (n, steps, rounds)."""
    pumped: FloatArray
    """Liquid pumped out in each round [kg/s], (n, rounds)."""
    begins: FloatArray
    ends: FloatArray
    states: IntArray
    """Of each step, (n, steps)."""
    seals: tuple[FreezeSeal, ...]
    shut: BoolArray
    zero_at: FloatArray
    plateau: FloatArray
    settled_at: FloatArray
    """Gauge pressure at which a tank settled that has not come down, and when; infinite where none has."""
    reference: Standing
    reference_time: FloatArray
    reference_shut: BoolArray
    final: Standing
    stopped: np.ndarray[Any, np.dtype[np.str_]]
    scene: Scene


def run_course(
    incident: Incident,
    plan: ResponsePlan,
    script: Script,
    shape: tuple[int, ...],
    dry_at: FloatArray | None = None,
) -> Course:
    """Run a script to its end in every scenario; `dry_at` (n,): when the ground is dry, if that is known."""
    running = _Running(incident, plan, script, shape, dry_at)
    while running.round():
        pass
    return running.course()


class _Running:
    """The state of a course while it runs: arrays (n,), of steps (n, steps)."""

    def __init__(
        self,
        incident: Incident,
        plan: ResponsePlan,
        script: Script,
        shape: tuple[int, ...],
        dry_at: FloatArray | None,
    ) -> None:
        whole = shape or (1,)
        n = int(np.prod(whole))
        index = np.unravel_index(np.arange(n), whole)
        leaks = tuple(pick(leak, whole, index) for leak in incident.leaks)
        self.cloths = Cloths(leaks, incident.contents.fluid, n)
        self.scene, self.standing = scene_of(incident, plan, shape)
        self.pad_gas = incident.contents.pad_gas
        self.steps: tuple[PlanStep, ...] = tuple(pick(step, whole, index) for step in script.steps)
        self.rows = vent_rows(script.steps)[1]
        self.arrival = np.array(np.broadcast_to(plan.arrival, whole)[index])
        self.zero_gauge = np.array(np.broadcast_to(plan.stop_at_gauge_pressure, whole)[index])
        self.look_ahead = np.array(np.broadcast_to(script.look_ahead, whole)[index])
        self.latest = np.array(np.broadcast_to(np.maximum(script.longest, plan.arrival), whole)[index])
        self.dry_at = np.full(n, np.inf) if dry_at is None else dry_at
        self._check_clock(incident)
        count = len(self.steps)
        self.time, self.last_event = np.zeros(n), np.array(self.arrival)
        self.states = np.full((n, count), WAITING, dtype=np.intp)
        self.begins, self.ends = np.full((n, count), np.inf), np.full((n, count), np.inf)
        self.due = np.full((n, count), np.inf)
        """When an active step ends by itself."""
        self.seal_below = np.full((n, count), np.inf)
        """Gauge pressure to which a seal waits; infinite where it does not."""
        self.stopped = np.full(n, "", dtype="U40")
        self.settled = np.zeros(n, dtype=np.bool_)
        self.zero_at, self.plateau, self.settled_at = np.full((3, n), np.inf)
        self.reference, self.reference_time = self.standing, np.zeros(n)
        self.reference_shut, self.has_reference = self.cloths.shut, np.zeros(n, dtype=np.intp)
        self.over = np.zeros(n, dtype=np.bool_)
        self.outstanding = np.ones(n, dtype=np.bool_)
        self.before = self._configuration()
        self.rounds: list[dict[str, Any]] = []
        self.starts: list[FloatArray] = [self.time]
        self.active_rows: list[BoolArray] = []
        self.pumped_rows: list[FloatArray] = []
        self._look()

    def _check_clock(self, incident: Incident) -> None:
        whens = [when for step in self.steps for when in (*step.begins_on, *step.ends_on)]
        if incident.clock is None and any(when.clock is not None for when in whens):
            raise InputError("clock: a step waits for a time of day; give the incident's clock")

    # -- what stands ---------------------------------------------------------------------------------------

    def _look(self, exact: dict[str, FloatArray] | None = None) -> None:
        """Look at the tanks; `exact`: what a march ended at, in place of what is computed anew."""
        contents = self.standing.contents(self.scene, self.pad_gas, slice(None))
        weather = self.scene.weather_at(self.time)
        n = self.time.size
        self.contents, self.weather = contents, weather
        values = {
            "gauge": contents.pressure - weather.ambient_pressure,
            "temperature": contents.temperature,
            "level": contents.level,
            "liquid_mass": contents.liquid_mass,
        }
        for name, value in (exact or {}).items():
            values[name] = np.where(np.isfinite(value), value, values[name])
        self.values = {name: np.broadcast_to(value, (n,)) for name, value in values.items()}

    def _now(self) -> Now:
        n = self.time.size
        return Now(
            time=self.time,
            **self.values,
            vapor_mass=np.broadcast_to(self.contents.vapor_mass, (n,)),
            pressure=np.broadcast_to(self.contents.pressure, (n,)),
            wind=np.broadcast_to(self.weather.wind_speed, (n,)),
            sunshine=np.broadcast_to(self.weather.solar_irradiance, (n,)),
            settled=self.settled & ~self._changed(),
            dry_at=self.dry_at,
            clock_at_start=self.scene.clock,
            begins=self.begins,
            ends=self.ends,
            names=tuple(step.name for step in self.steps),
        )

    def _changed(self) -> BoolArray:
        """Whether something else is open, pumped or in the weather than in the round before (n,)."""
        now = self._configuration()
        opened = (now[0] != self.before[0]).any(axis=-1)
        return np.asarray(opened | (now[1] != self.before[1]) | (now[2] != self.before[2]))

    def _configuration(self) -> tuple[BoolArray, FloatArray, IntArray]:
        piece = np.searchsorted(self.scene.piece_ends, self.time, side="right")
        return self._open(), self._pumped(), 2 * piece + (self.time >= self.scene.fire_out_at)

    # -- beginning and ending ------------------------------------------------------------------------------

    def _update(self) -> None:
        """Begin and end steps until nothing more changes at this instant."""
        self._mark_zero()
        for _ in range(4 * len(self.steps) + 4):
            before = self.states.copy()
            for k in range(len(self.steps)):
                self._end(k)
                self._begin(k)
            if np.array_equal(before, self.states):
                break
        done = self.time >= self.latest
        outstanding = np.zeros(self.time.shape, dtype=np.bool_)
        for k, step in enumerate(self.steps):
            outstanding = outstanding | (self.states[:, k] == WAITING)
            stays = isinstance(step, BurnPool) or (isinstance(step, Vent) and self._stands(step))
            if not stays:
                outstanding = outstanding | (self.states[:, k] == ACTIVE)
        halted = self.stopped != ""
        rested = self.time >= self.last_event + self.look_ahead
        self.outstanding = outstanding
        self.over = self.over | done | (~outstanding & (rested | halted) & (self.time >= self.arrival))

    @staticmethod
    def _stands(step: Vent) -> bool:
        """Whether a vent just stays open."""
        return not step.ends and step.longest is None

    def _mark_zero(self) -> None:
        first = np.isinf(self.zero_at) & (self.time >= self.arrival)
        first = first & (self.values["gauge"] <= self.zero_gauge) & ~self.over
        first = first & (self.stopped != "liquid gone")
        self.zero_at = np.where(first, self.time, self.zero_at)
        self._refer(first & (self.has_reference < 1), 1)

    def _refer(self, where: BoolArray, rank: int) -> None:
        """Take the present state as the one from which the return of pressure is told."""
        self.reference = self.standing.where(where, self.reference)
        self.reference_time = np.where(where, self.time, self.reference_time)
        self.reference_shut = np.where(where[:, None], self.cloths.shut, self.reference_shut)
        self.has_reference = np.where(where, rank, self.has_reference)

    def _begin(self, k: int) -> None:
        step, n = self.steps[k], self.time.size
        waits = (self.states[:, k] == WAITING) & (self.time >= self.arrival) & ~self.over
        if not waits.any():
            return
        if not isinstance(step, KeepOut | BurnPool):
            self._set(k, waits & (self.stopped == "liquid gone"), NOT_NEEDED, begins=True, ends=True)
            self._set(k, waits & (self.stopped != "") & (self.stopped != "liquid gone"), IMPOSSIBLE)
            waits = waits & (self.stopped == "")
        begins = waits & (
            holds(step.begins_on, self._now()) if step.begins_on else np.ones(n, dtype=np.bool_)
        )
        if isinstance(step, BurnPool):
            dry = begins & (self.dry_at <= self.time)
            self._set(k, dry, NOT_NEEDED, begins=True, ends=True)
            begins = begins & ~dry
            self.due[:, k] = self.dry_at
        if isinstance(step, Seal) and begins.any():
            self._set(
                k, begins if not self.scene.leaks else begins & False, NOT_NEEDED, begins=True, ends=True
            )
            low = self.values["gauge"] <= self.seal_below[:, k]
            begins = begins & (self.states[:, k] == WAITING) & low
            begins = self._lay(k, step, begins) if begins.any() else begins
        if isinstance(step, Hold):
            self._refer(begins & (self.has_reference == 0), 1)
        if isinstance(step, KeepOut | Hold):
            lasts = step.takes if isinstance(step, KeepOut) else step.lasts
            self.due[:, k] = np.where(begins, self.time + lasts, self.due[:, k])
        self._set(k, begins, ACTIVE, begins=True)

    def _lay(self, k: int, step: Seal, begins: BoolArray) -> BoolArray:
        """Assess the cloths where they would be laid now; return where they are."""
        found = self.cloths.assess(step.cloth, self.contents, self.weather)
        below = self.cloths.bear(found, np.maximum(self.values["gauge"], 0.0))
        waits = begins & np.isfinite(below) & step.waits
        self.seal_below[:, k] = np.where(begins, np.where(waits, below, np.inf), self.seal_below[:, k])
        lays = begins & ~waits
        ends = self.time + step.laying_time + self.cloths.lay(found, lays)
        self.due[:, k] = np.where(lays, ends, self.due[:, k])
        return np.asarray(lays)

    def _end(self, k: int) -> None:
        step = self.steps[k]
        goes = (self.states[:, k] == ACTIVE) & ~self.over
        if not goes.any():
            return
        dry = goes & (self.stopped == "liquid gone") & (not isinstance(step, KeepOut | BurnPool | Seal))
        self._set(k, dry, DONE, ends=True)
        halted = goes & ~dry & (self.stopped != "") & (not isinstance(step, KeepOut | BurnPool))
        self._set(k, halted, GIVEN_UP, ends=True)
        goes = goes & ~halted
        due = goes & ~dry & (self.time >= self.due[:, k])
        if isinstance(step, Seal):
            self._freeze(k, due)
        elif np.isfinite(self.due[:, k]).any():
            self._set(k, due, DONE, ends=True)
        ends = step.ends_on
        if ends:
            self._set(k, goes & ~dry & holds(ends, self._now()), DONE, ends=True)
        longest = getattr(step, "longest", None)
        if longest is not None:
            late = (self.states[:, k] == ACTIVE) & (self.time >= self.begins[:, k] + longest)
            self._set(k, late, GIVEN_UP, ends=True)

    def _freeze(self, k: int, due: BoolArray) -> None:
        """Shut the leaks whose cloths have frozen."""
        self.cloths.freeze(due)
        some = due & self.cloths.shut.any(axis=-1)
        self._set(k, some, DONE, ends=True)
        self._set(k, due & ~some, IMPOSSIBLE, ends=True)
        self._refer(due, 2)

    def _set(self, k: int, where: BoolArray, state: int, *, begins: bool = False, ends: bool = False) -> None:
        self.states[:, k] = np.where(where, state, self.states[:, k])
        if begins:
            self.begins[:, k] = np.where(where, self.time, self.begins[:, k])
        if ends:
            self.ends[:, k] = np.where(where, self.time, self.ends[:, k])
        self.last_event = np.where(where, self.time, self.last_event)

    # -- marching ------------------------------------------------------------------------------------------

    def round(self) -> bool:
        """March to the next events; return whether anything is left to do."""
        self._update()
        if self.over.all() and self.rounds:
            return False
        if len(self.rounds) >= MOST_ROUNDS:
            raise ConvergenceError("a plan's steps begin and end without an end", float(len(self.rounds)))
        asked = self._ask()
        before = self.rounds[-1] if self.rounds else {}
        found, self.standing = march_round(self.scene, self.standing, asked, before, self.pad_gas)
        self.rounds.append(found)
        self.active_rows.append((self.states == ACTIVE) & ~self.over[:, None])
        self.pumped_rows.append(np.where(asked.moves, asked.pumped, 0.0))
        self._take(asked, found)
        return True

    def _ask(self) -> Round:
        now = self._now()
        self.settled = now.settled
        self.before = self._configuration()
        is_open, pumped, _ = self.before
        until = np.minimum(self._known_times(now), self.scene.next_piece(self.time))
        until = np.where(self.over, self.time, until)
        least = NO_TIME if self.rounds else 0.0
        moves = ~self.over & (self.stopped == "") & (until - self.time > least)
        return Round(
            time=self.time,
            until=until,
            moves=moves,
            is_open=is_open,
            pumped=np.where(moves, pumped, 0.0),
            targets=self._targets(now),
            functions=self._functions(now),
        )

    def _pumped(self) -> FloatArray:
        """Liquid pumped out by all active steps [kg/s] (n,)."""
        pumped = np.zeros(self.time.size)
        for k, step in enumerate(self.steps):
            if isinstance(step, Pump):
                pumped = pumped + np.where(self.states[:, k] == ACTIVE, step.mass_flow, 0.0)
        return pumped

    def _open(self) -> BoolArray:
        """Which openings are open: leaks that are not shut, vents of active steps, relief valves."""
        n, scene = self.time.size, self.scene
        vents = np.zeros((n, scene.vents), dtype=np.bool_)
        for k, step in enumerate(self.steps):
            if isinstance(step, Vent):
                for row in self.rows[k]:
                    vents[:, row] |= self.states[:, k] == ACTIVE
        valves = np.ones((n, len(scene.openings) - scene.leaks - scene.vents), dtype=np.bool_)
        return np.concatenate([~self.cloths.shut, vents, valves], axis=1)

    def _known_times(self, now: Now) -> FloatArray:
        """Return the next moment that is known beforehand (n,)."""
        soonest = np.array(self.latest)
        rests = self.last_event + self.look_ahead
        soonest = np.minimum(soonest, np.where((rests > self.time) & ~self.outstanding, rests, np.inf))
        for k, step in enumerate(self.steps):
            waits, goes = self.states[:, k] == WAITING, self.states[:, k] == ACTIVE
            if waits.any():
                soonest = np.where(waits, np.minimum(soonest, next_time(step.begins_on, now)), soonest)
            if goes.any():
                due = np.where(self.due[:, k] > self.time, self.due[:, k], np.inf)
                longest = getattr(step, "longest", None)
                if longest is not None:
                    due = np.minimum(due, self.begins[:, k] + longest)
                due = np.minimum(due, next_time(step.ends_on, now))
                soonest = np.where(goes, np.minimum(soonest, due), soonest)
        return np.where(self.time < self.arrival, self.arrival, soonest)  # nothing begins before

    def _conditions(self, now: Now) -> list[tuple[When, BoolArray]]:
        """Conditions on the tank that are waited for, and where."""
        found = []
        for k, step in enumerate(self.steps):
            for whens, state in ((step.begins_on, WAITING), (step.ends_on, ACTIVE)):
                where = (self.states[:, k] == state) & (self.time >= self.arrival)
                found += [(when, where & ready(when, now)) for when in whens if where.any()]
        return found

    def _targets(self, now: Now) -> dict[str, FloatArray]:
        """Return the nearest value of each kind at which something may begin or end (n,)."""
        n, watched = self.time.size, Watched(self.values)
        for when, where in self._conditions(now):
            for name in when.given:
                if name in TARGETS:
                    watched.add(name, where, np.asarray(getattr(when, name)))
        for k, step in enumerate(self.steps):
            for whens, state in ((step.begins_on, WAITING), (step.ends_on, ACTIVE)):
                if any(when.settled for when in whens):  # a march that is to stop at a pressure tells of rest
                    watched.add("gauge_at_most", (self.states[:, k] == state) & ~self.settled, np.zeros(n))
            waits = (self.states[:, k] == WAITING) & np.isfinite(self.seal_below[:, k])
            watched.add("gauge_at_most", waits, np.where(waits, self.seal_below[:, k], 0.0))
        first = np.isinf(self.zero_at) & (self.time >= self.arrival)
        watched.add("gauge_at_most", first, self.zero_gauge)
        return watched.unless(self.settled)

    def _functions(self, now: Now) -> tuple[tuple[Callable[[TankState], Any], BoolArray], ...]:
        found = []
        for when, where in self._conditions(now):
            if when.function is not None:
                positive = np.broadcast_to(np.asarray(when.function(now.tank_state())) > 1e-6, where.shape)
                if (where & positive).any():
                    found.append((when.function, where & positive))
        return tuple(found)

    def _take(self, asked: Round, found: dict[str, Any]) -> None:
        """Take over what the march ended with."""
        n, moved = self.time.size, asked.moves
        # a known time may come at the very moment at which the last liquid goes
        empty = moved & (self.standing.fill < HARDLY_ANY)
        found["stopped_by"] = np.where(empty, "liquid gone", found["stopped_by"])
        reasons = found["stopped_by"]
        at_end = ~moved | (asked.until - self.time <= found["time"][:, -1] * (1.0 + 1e-9))
        self.time = np.where(at_end, asked.until, self.time + found["time"][:, -1])
        halted = moved & np.isin(reasons, STOPPED)
        self.stopped = np.where(halted, reasons, self.stopped)
        rests = moved & (reasons == "settled")
        ambient = np.broadcast_to(self.weather.ambient_pressure, (n,))
        no_zero = rests & np.isinf(self.zero_at) & (self.time >= self.arrival)
        self.plateau = np.where(no_zero, found["plateau_pressure"] - ambient, self.plateau)
        self.settled_at = np.where(no_zero, self.time, self.settled_at)
        ended = {"gauge": found["pressure"][:, -1] - ambient, "temperature": found["temperature"][:, -1]}
        exact = met(asked, reasons, ended, ambient)
        wet = found["passes_liquid"][:, : self.scene.leaks, -1].astype(np.bool_)
        self.cloths.wet = np.where(moved[:, None], wet, self.cloths.wet)
        self.settled = rests | self.settled
        self._look(exact)
        self.starts.append(self.time)

    def course(self) -> Course:
        """Return what came of it."""
        self._refer(self.has_reference == 0, 1)
        seal = next((step for step in self.steps if isinstance(step, Seal)), None)
        return Course(
            rounds=self.rounds,
            starts=np.stack(self.starts, axis=-1),
            active=np.stack(self.active_rows, axis=-1),
            pumped=np.stack(self.pumped_rows, axis=-1),
            begins=self.begins,
            ends=self.ends,
            states=self.states,
            seals=() if seal is None else self.cloths.told(seal.cloth, self.contents, self.weather),
            shut=self.cloths.shut,
            zero_at=self.zero_at,
            plateau=self.plateau,
            settled_at=self.settled_at,
            reference=self.reference,
            reference_time=self.reference_time,
            reference_shut=self.reference_shut,
            final=self.standing,
            stopped=self.stopped,
            scene=self.scene,
        )
