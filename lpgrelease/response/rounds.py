"""One round of a forecast by steps: all tanks marched to the next event of each, alike ones together."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.release import Line, Opening
from lpgrelease.response.conditions import TankState
from lpgrelease.response.inputs import Incident, ResponsePlan
from lpgrelease.response.scenario import pick
from lpgrelease.results import BoolArray
from lpgrelease.tank import Contents, ReliefValve, StopAt, TankFire, TankHistory, Transfer, tank_history
from lpgrelease.tank.blend_contents import BlendContents, fractions_of
from lpgrelease.tank.shapes import Tank
from lpgrelease.weather import Weather
from lpgrelease.weather_by_hour import NUMBERS, weather_pieces

__all__ = ["NO_TIME", "TARGETS", "Round", "Scene", "Standing", "as_history", "march_round", "scene_of"]

POINTS, POINTS_BY_HOUR = 65, 17
"""Points in time of each round; fewer where many rounds follow the weather."""
MANY_PIECES = 6
NO_TIME = 1e-6
"""A round shorter than this [s] is none."""
TARGETS = {
    "gauge_at_most": ("gauge_pressure", "gauge pressure"),
    "gauge_at_least": ("gauge_pressure", "gauge pressure"),
    "temperature_at_most": ("temperature", "temperature"),
    "temperature_at_least": ("temperature", "temperature"),
    "level_at_most": ("level", "level"),
    "liquid_at_most": ("liquid_mass", "liquid mass"),
}
"""Conditions that end a march: what `StopAt` calls them, and the reason it gives."""
ANEW = ("mass_released", "heat_gained", "enthalpy_released")
"""Sums that begin anew in each round."""


class Scene(NamedTuple):
    """An incident with its scenarios in a row: arrays (n,)."""

    fluid: Any
    tank: Tank
    openings: tuple[Opening | Line | ReliefValve, ...]
    """Leaks, vents, relief valves."""
    leaks: int
    vents: int
    pieces: tuple[Weather, ...]
    piece_ends: FloatArray
    """When each piece of the weather ends [s]."""
    fire: TankFire | None
    fire_out_at: FloatArray
    clock: FloatArray
    points: int

    def weather_at(self, time: FloatArray) -> Weather:
        """Return the weather at a time of each scenario (n,)."""
        if len(self.pieces) == 1:
            return dataclasses.replace(self.pieces[0], stability=None)
        index = np.searchsorted(self.piece_ends, time, side="right")
        numbers: dict[str, Any] = {
            name: np.array([getattr(piece, name) for piece in self.pieces])[index, np.arange(time.size)]
            for name in NUMBERS
        }
        return Weather(**numbers)

    def next_piece(self, time: FloatArray) -> FloatArray:
        """Return when the weather, or the fire, next changes (n,); infinite: not any more."""
        ends = self.piece_ends[np.searchsorted(self.piece_ends, time, side="right")]
        fire = np.where(self.fire_out_at > time, self.fire_out_at, np.inf)
        return np.minimum(ends, fire if self.fire is not None else np.inf)


class Standing(NamedTuple):
    """What stands in the tanks: arrays (n,)."""

    fill: FloatArray
    temperature: FloatArray
    pad_pressure: FloatArray
    fractions: FloatArray | None
    """Of the liquid of a blend, (n, components)."""

    def contents(self, scene: Scene, pad_gas: str, index: Any) -> Contents:
        """Return the contents of some scenarios."""
        tank = pick(scene.tank, (self.fill.size,), (index,))
        own: dict[str, Any] = {"fill": self.fill[index], "temperature": self.temperature[index]}
        if self.fractions is not None:
            return BlendContents(tank, scene.fluid, liquid_fractions=self.fractions[index], **own)
        return Contents(tank, scene.fluid, pad_pressure=self.pad_pressure[index], pad_gas=pad_gas, **own)

    def where(self, choice: BoolArray, other: Standing) -> Standing:
        """Return this where `choice`, else the other."""
        fractions = self.fractions
        if fractions is not None and other.fractions is not None:
            fractions = np.where(choice[:, None], fractions, other.fractions)
        return Standing(
            np.where(choice, self.fill, other.fill),
            np.where(choice, self.temperature, other.temperature),
            np.where(choice, self.pad_pressure, other.pad_pressure),
            fractions,
        )


class Round(NamedTuple):
    """What one round asks: arrays (n,), of openings (n, openings)."""

    time: FloatArray
    until: FloatArray
    moves: BoolArray
    is_open: BoolArray
    pumped: FloatArray
    targets: dict[str, FloatArray]
    """By the names of `TARGETS`; infinite where there is none."""
    functions: tuple[tuple[Callable[[TankState], Any], BoolArray], ...]


def scene_of(incident: Incident, plan: ResponsePlan, shape: tuple[int, ...]) -> tuple[Scene, Standing]:
    """Put the scenarios of an incident in a row."""
    whole = shape or (1,)
    n = int(np.prod(whole))
    index = np.unravel_index(np.arange(n), whole)

    def flat(source: Any) -> Any:
        return pick(source, whole, index)

    def row(value: Any) -> FloatArray:
        return np.array(np.broadcast_to(value, whole)[index], dtype=np.float64)

    contents = incident.contents
    pieces = list(weather_pieces(incident.weather))
    out = np.inf if incident.fire_out_at is None else incident.fire_out_at
    clock = np.nan if incident.clock is None else incident.clock
    openings = (*incident.leaks, *plan.vents, *incident.relief)
    scene = Scene(
        fluid=contents.fluid,
        tank=flat(contents.tank),
        openings=tuple(flat(item) for item in openings),
        leaks=len(incident.leaks),
        vents=len(plan.vents),
        pieces=tuple(flat(piece) for _, _, piece in pieces),
        piece_ends=np.array([ends for _, ends, _ in pieces]),
        fire=None if incident.fire is None else flat(incident.fire),
        fire_out_at=row(out),
        clock=row(clock),
        points=POINTS if len(pieces) <= MANY_PIECES else POINTS_BY_HOUR,
    )
    parts = fractions_of(contents)
    fractions = np.stack([row(part) for part in parts.values()], axis=-1) if parts else None
    start = Standing(row(contents.fill), row(contents.temperature), row(contents.pad_pressure), fractions)
    return scene, start


def march_round(
    scene: Scene, standing: Standing, asked: Round, before: dict[str, Any], pad_gas: str
) -> tuple[dict[str, Any], Standing]:
    """March every tank that moves to its next event.

    Parameters
    ----------
    before : dict
        Histories of the round before; where a tank does not move it stands as that one ended. Empty at first.

    Returns
    -------
    histories : dict
        Fields of `TankHistory` with the scenarios in a row, and `stopped_by`.
    standing : Standing
        What is in the tanks at the end.
    """
    found: dict[str, Any] = _stand_still(asked, before, scene.points) if before else {}
    after = Standing(
        standing.fill.copy(),
        standing.temperature.copy(),
        standing.pad_pressure.copy(),
        None if standing.fractions is None else standing.fractions.copy(),
    )
    none = np.zeros(0, dtype=np.intp)
    for index in list(_alike(scene, asked)) or ([] if before else [none]):  # of no scenario: one empty march
        opened = np.flatnonzero(asked.is_open[index[:1]].any(axis=0))
        run = _march_group(scene, standing, asked, index, opened, pad_gas)
        _put(found, run, index, opened, asked)
        found["cautions"] = tuple(dict.fromkeys((*found.get("cautions", ()), *run.cautions)))
        found["provenance"] = run.provenance
        final = run.final
        after.fill[index], after.temperature[index] = final.fill, final.temperature
        after.pad_pressure[index] = final.pad_pressure
        if after.fractions is not None and isinstance(final, BlendContents):
            after.fractions[index] = final.liquid_fractions
    return found, after


def _alike(scene: Scene, asked: Round) -> Iterator[np.ndarray[Any, np.dtype[np.intp]]]:
    """Yield scenarios that need the same kind of march: the answer of each is then that of it alone."""
    kinds = [asked.is_open, (asked.pumped > 0.0)[:, None]]
    kinds += [np.isfinite(target)[:, None] for target in asked.targets.values()]
    kinds += [mask[:, None] for _, mask in asked.functions]
    kinds.append((asked.time < scene.fire_out_at)[:, None])
    table = np.concatenate(kinds, axis=1)
    some = np.flatnonzero(asked.moves)
    if some.size:
        _, which = np.unique(table[some], axis=0, return_inverse=True)
        which = np.ravel(which)
        for kind in range(int(which.max()) + 1):
            yield some[which == kind]


def _march_group(
    scene: Scene,
    standing: Standing,
    asked: Round,
    index: np.ndarray[Any, np.dtype[np.intp]],
    opened: np.ndarray[Any, np.dtype[np.intp]],
    pad_gas: str,
) -> TankHistory:
    n, first = asked.time.size, index[:1]

    def some(source: Any) -> Any:
        return pick(source, (n,), (index,))

    limits: dict[str, Any] = {"duration": asked.until[index] - asked.time[index]}
    wanted = [name for name, target in asked.targets.items() if np.isfinite(target[first]).any()]
    if len(wanted) == 1 and TARGETS[wanted[0]][0] == "gauge_pressure":
        limits["stop_at_gauge_pressure"] = asked.targets[wanted[0]][index]
        wanted = []
    stops = [StopAt(**{TARGETS[name][0]: asked.targets[name][index]}) for name in wanted]
    stops += [StopAt(function=_seen(f)) for f, mask in asked.functions if mask[first].any()]
    if stops:
        limits["stop"] = stops
    if (asked.pumped[first] > 0.0).any():
        limits["transfers"] = [Transfer(mass_flow=-asked.pumped[index])]
    if scene.fire is not None and (asked.time < scene.fire_out_at)[first].any():
        limits["fire"] = some(scene.fire)
    return tank_history(
        standing.contents(scene, pad_gas, index),
        openings=[some(scene.openings[j]) for j in opened],
        weather=some(scene.weather_at(asked.time)),
        points=scene.points,
        **limits,
    )


def _seen(function: Callable[[TankState], Any]) -> Callable[[Any], Any]:
    """Return the function as a march calls it."""

    def of_moment(moment: Any) -> Any:
        return function(
            TankState(
                moment.pressure, moment.temperature, moment.liquid_mass, moment.vapor_mass, moment.level
            )
        )

    return of_moment


def _fields() -> Iterator[tuple[str, tuple[str, ...]]]:
    for field in dataclasses.fields(TankHistory):
        if "unit" in field.metadata:
            yield field.name, field.metadata["dims"]
    yield "stopped_by", ()


def _put(
    found: dict[str, Any],
    run: TankHistory,
    index: np.ndarray[Any, np.dtype[np.intp]],
    opened: np.ndarray[Any, np.dtype[np.intp]],
    asked: Round,
) -> None:
    """Put the histories of some scenarios in their places."""
    n, openings = asked.is_open.shape
    for name, dims in _fields():
        values = np.asarray(getattr(run, name))
        if name not in found:
            own = values.shape[1:]
            own = (openings, *own[1:]) if dims[:1] == ("opening",) else own
            found[name] = np.zeros((n, *own), dtype="U40" if name == "stopped_by" else values.dtype)
        if dims[:1] == ("opening",):
            found[name][index] = 0
            found[name][index[:, None], opened[None, :]] = values
        else:
            found[name][index] = values


def _stand_still(asked: Round, before: dict[str, Any], points: int) -> dict[str, Any]:
    """Histories of tanks that stand as the round before ended; those that move are put in later."""
    found: dict[str, Any] = {"provenance": before["provenance"]}
    share = np.arange(points) / (points - 1.0)
    length = np.where(asked.until - asked.time > NO_TIME, asked.until - asked.time, 0.0)
    for name, dims in _fields():
        values = before[name]
        if dims[-1:] != ("time",):
            found[name] = values.copy()
            continue
        still = np.zeros_like(values) if name in ANEW else np.repeat(values[..., -1:], points, axis=-1)
        if name == "mass_flow":  # nothing flows while time passes; who has ended, ended with what flowed
            still = np.where(length[:, None, None] > 0.0, 0.0, still)
        found[name] = length[:, None] * share if name == "time" else still
    return found


def as_history(found: dict[str, Any], contents: Contents) -> TankHistory:
    """Return the histories of a round as a result, scenarios still in a row."""
    fields = {name: found[name] for name, _ in _fields()}
    return TankHistory(
        **fields, final=contents, cautions=found.get("cautions", ()), provenance=found["provenance"]
    )
