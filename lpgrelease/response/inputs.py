"""What is known when the alarm comes, and what the responders mean to do."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from lpgrelease.constants import ZERO_GAUGE_READING
from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.freeze_seal import WetCloth
from lpgrelease.ground import Ground
from lpgrelease.pool import Hollow, OpenGround
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, require_flag, to_si
from lpgrelease.release import Line, Opening
from lpgrelease.response.actions import PlanStep, Seal, Vent, vent_rows, vents_of
from lpgrelease.response.conditions import DAY, clock_seconds
from lpgrelease.results import Provenance, Result, plain, quantity, result
from lpgrelease.tank import Contents, ReliefValve, TankFire
from lpgrelease.weather import Weather
from lpgrelease.weather_by_hour import WeatherByHour

__all__ = ["Incident", "ResponsePlan", "flares_of", "scenario_shape"]


@result
class Incident(Result):
    """A leaking container, the ground under it and the weather.

    Parameters
    ----------
    contents : Contents
        The tank as it lies now, and what was in it when the leak began.
    leaks : sequence of Opening
        Holes; heights above the lowest point of the tank as it lies. May be empty.
    ground : Ground
        What liquid lands on.
    weather : Weather or WeatherByHour, optional
        Constant, or a table by time since the start of the leak. None takes ``Weather()``.
    site : OpenGround or Hollow, optional
        None takes ``OpenGround()``.
    captured_fraction : number or array
        Share of the leaked liquid left after the flash that reaches the ground, 0 to 1; see `Spill`. The
        default of 1 gives the largest pool.
    relief : sequence of ReliefValve
        The tank's own valves; they open by themselves.
    fire : TankFire, optional
        A fire around the tank, from the start of the leak.
    fire_out_at : number, array or quantity, optional
        When that fire is out [s]. None: it burns on.
    clock : str, number or quantity, optional
        Time of day at which the leak began, as "21:30" or [s] since midnight; for steps that wait for it.

    Raises
    ------
    InputError, OutOfRangeError
        Wrong kinds, a share outside 0 to 1.

    Examples
    --------
    >>> import lpgrelease as lr
    >>> tank = lr.HorizontalTank(diameter=1.2, length=3.0)
    >>> incident = lr.Incident(
    ...     contents=lr.Contents(tank, lr.Fluid("propane"), fill=0.8, temperature=293.15),
    ...     leaks=[lr.Opening(diameter=0.01)],
    ...     ground=lr.Ground.named("moist sand"),
    ... )
    >>> len(incident.leaks)
    1
    """

    contents: Contents = plain("tank and contents when the leak began")
    leaks: Sequence[Opening] = plain("holes")
    ground: Ground = plain("what liquid lands on")
    weather: Weather | WeatherByHour = plain("air, wind and sun", default=None)
    site: OpenGround | Hollow = plain("shape of the ground", default=None)
    captured_fraction: QuantityLike = quantity("", "share of the liquid that lands", default=1.0)
    relief: Sequence[ReliefValve] = plain("the tank's own relief valves", default=())
    fire: TankFire | None = plain("a fire around the tank", default=None)
    fire_out_at: QuantityLike | None = quantity("s", "when that fire is out", default=None)
    clock: QuantityLike | None = quantity("s", "time of day at which the leak began", default=None)
    provenance: Provenance = plain("where the numbers come from", default=Provenance("incident as given"))

    def __post_init__(self) -> None:
        """Fill in what was left out and check the kinds."""
        _set(self, "weather", Weather() if self.weather is None else self.weather)
        _set(self, "site", OpenGround() if self.site is None else self.site)
        _set(self, "leaks", openings_of(self.leaks, "leaks"))
        kinds: dict[str, Any] = {
            "contents": Contents,
            "ground": Ground,
            "weather": (Weather, WeatherByHour),
            "site": (OpenGround, Hollow),
            "fire": (TankFire, type(None)),
        }
        for name, kind in kinds.items():
            if not isinstance(getattr(self, name), kind):
                wanted = kind.__name__ if isinstance(kind, type) else _either(kind)
                raise InputError(f"{name} must be {wanted}, got {getattr(self, name)!r}")
        given = self.relief
        if not isinstance(given, list | tuple) or not all(isinstance(item, ReliefValve) for item in given):
            raise InputError(f"relief must be a sequence of ReliefValve, got {given!r}")
        _set(self, "relief", tuple(given))
        if self.fire_out_at is not None:
            _set(self, "fire_out_at", to_si(self.fire_out_at, "s", "fire_out_at", lower=0.0, open_lower=True))
        if self.clock is not None:
            _set(self, "clock", clock_seconds(self.clock, "clock"))
        share = to_si(
            self.captured_fraction, "", "captured_fraction", lower=0.0, upper=1.0, why="a share of the liquid"
        )
        _set(self, "captured_fraction", share)


@result
class ResponsePlan(Result):
    """What the responders do, and when: the usual course, or a list of steps of one's own.

    All arguments but `arrival`, `steps`, `stop_at_gauge_pressure`, `hold` and `longest` are short for the
    usual list of steps; with `steps` they are left out.

    Parameters
    ----------
    arrival : number, array or quantity
        Time from the start of the leak until the vent is opened, or the first step may begin [s], above 0.
    vent : Opening, Line or sequence of them, optional
        Through which vapor is let out, to a flare where that is licensed. None: nothing is vented.
    seal : WetCloth, optional
        Cloth laid on every leak once venting has ended, ``WetCloth()`` if left out. None: no seal is tried.
    stop_at_gauge_pressure : number, array or quantity
        Gauge pressure at which venting counts as done [Pa]; a tenth of a psi by default, which reads as
        zero on a common dial.
    longest_venting : number, array or quantity
        When to go on to the next step though the gauge has not come down [s].
    laying_time : number, array or quantity
        To soak and lay the cloths [s]; the time to freeze comes on top.
    hold : number, array or quantity
        How long to look ahead after that [s]; with `steps`, after the last of them has ended.
    keep_venting : bool
        Whether the vent stays open while the seals hold.
    flare : bool, optional
        Whether what is vented is burned; otherwise it drifts off with the leak's vapor. None: where the cargo
        burns. `forecast` refuses True for one that does not.
    flare_height : number, array or quantity
        Of the flares' open ends above the ground [m].
    transfer_rate : number, array or quantity, optional
        At which liquid is pumped out after `hold` [kg/s], above 0. None: it is not.
    pit_diameter : number, array or quantity, optional
        Of a pit in which what is pumped out burns [m]. None: it goes to another tank.
    pit_depth : number, array or quantity
        From the pit's floor to its rim [m].
    empty : bool
        Whether the vents then stay open until the last liquid has boiled away.
    steps : sequence of steps, optional
        `KeepOut`, `Vent`, `Seal`, `Hold`, `Pump`, `BurnPool`, `Empty`, each with its conditions (`When`);
        they go on side by side, and wait for one another only where they say so.
    longest : number, array or quantity
        With `steps`: the forecast ends at the latest so long after the start of the leak [s].

    Raises
    ------
    InputError, OutOfRangeError
        Wrong kinds, times that are not positive, a gauge pressure below 0; two steps of one name, a step that
        waits for one that is not there.

    Examples
    --------
    >>> import lpgrelease as lr
    >>> plan = lr.ResponsePlan(arrival=900.0, vent=lr.Opening(diameter=0.0508, height=1.2))
    >>> float(plan.hold) / 3600.0
    4.0
    >>> dawn = lr.ResponsePlan(arrival=900.0, steps=[
    ...     lr.Vent(vent=lr.Opening(diameter=0.0508, height=1.2)),
    ...     lr.Seal(starts=lr.When(clock="06:30")),
    ... ])
    >>> [step.name for step in dawn.steps]
    ['vent', 'seal']
    """

    arrival: QuantityLike = quantity("s", "start of the leak to the opening of the vent")
    vent: Opening | Line | Sequence[Opening | Line] | None = plain(
        "through which vapor is let out", default=None
    )
    seal: WetCloth | None = dataclasses.field(
        default_factory=WetCloth, metadata={"description": "cloth laid on the leaks"}
    )
    stop_at_gauge_pressure: QuantityLike = quantity(
        "Pa", "gauge pressure that ends the venting", default=float(ZERO_GAUGE_READING)
    )
    longest_venting: QuantityLike = quantity("s", "venting is given up after this", default=86400.0)
    laying_time: QuantityLike = quantity("s", "to lay the cloths", default=120.0)
    hold: QuantityLike = quantity("s", "looked ahead after sealing", default=14400.0)
    keep_venting: bool = plain("whether the vent stays open while the seals hold", default=True)
    flare: bool | None = plain("whether what is vented is burned; None: where it burns", default=None)
    flare_height: QuantityLike = quantity("m", "of the flares' open ends above the ground", default=3.0)
    transfer_rate: QuantityLike | None = quantity("kg/s", "at which liquid is pumped out", default=None)
    pit_diameter: QuantityLike | None = quantity("m", "of the pit in which it burns", default=None)
    pit_depth: QuantityLike = quantity("m", "of the pit", default=1.0)
    empty: bool = plain("whether the last liquid is let boil away", default=False)
    steps: Sequence[PlanStep] | None = plain("what is done on which condition", default=None)
    longest: QuantityLike = quantity("s", "with steps, the forecast ends by then", default=4.0 * DAY)
    provenance: Provenance = plain("where the numbers come from", default=Provenance("plan as given"))

    def __post_init__(self) -> None:
        """Turn every number into SI arrays and check it."""
        for name in ("arrival", "longest_venting", "laying_time", "hold", "longest"):
            _set(self, name, to_si(getattr(self, name), "s", name, lower=0.0, open_lower=True))
        stop = to_si(self.stop_at_gauge_pressure, "Pa", "stop_at_gauge_pressure", lower=0.0)
        _set(self, "stop_at_gauge_pressure", stop)
        if self.steps is not None:
            self._check_steps()
        _set(self, "vent", vents_of(() if self.vent is None else self.vent))
        if self.seal is not None and not isinstance(self.seal, WetCloth):
            raise InputError(f"seal must be WetCloth or None, got {self.seal!r}")
        for name in ("keep_venting", "flare", "empty"):
            if name == "flare" and self.flare is None:
                continue
            require_flag(getattr(self, name), name)
        high = to_si(self.flare_height, "m", "flare_height", lower=0.0, upper=300.0)
        _set(self, "flare_height", high)
        self._check_transfer()

    def _check_steps(self) -> None:
        given = self.steps
        if not isinstance(given, list | tuple) or not all(isinstance(item, PlanStep) for item in given):
            raise InputError(f"steps must be a sequence of steps, got {given!r}")
        vents = vent_rows(given)[0]
        own = () if self.vent is None else vents_of(self.vent)
        others = {
            "vent": bool(own) and own != vents,
            "transfer_rate": self.transfer_rate is not None,
            "pit_diameter": self.pit_diameter is not None,
            "empty": self.empty is not False,
        }
        for name, is_given in others.items():
            if is_given:
                raise InputError(f"{name}: with steps, this is a step of its own")
        names = [step.name for step in given]
        if len(set(names)) < len(names):
            raise InputError(f"steps: each name stands once, got {', '.join(names)}")
        for step in given:
            for when in (*step.begins_on, *step.ends_on):
                for awaited in (when.after, when.after_start):
                    if awaited is not None and (awaited not in names or awaited == step.name):
                        wrong = f"'{step.name}' waits for '{awaited}', which is no other step"
                        raise InputError(f"steps: {wrong}")
        _set(self, "vent", vents)
        cloths = [step.cloth for step in given if isinstance(step, Seal)]
        _set(self, "seal", cloths[0] if cloths else None)
        _set(self, "steps", tuple(given))

    def _check_transfer(self) -> None:
        for name, unit in (("transfer_rate", "kg/s"), ("pit_diameter", "m"), ("pit_depth", "m")):
            if getattr(self, name) is not None:
                _set(self, name, to_si(getattr(self, name), unit, name, lower=0.0, open_lower=True))
        if self.pit_diameter is not None and self.transfer_rate is None:
            raise InputError("pit_diameter: a pit is fed at transfer_rate, which is not given")
        if self.empty and not self.vents:
            raise InputError("empty: a tank boils away through a vent, and none is given")

    @property
    def vents(self) -> tuple[Opening | Line, ...]:
        """All vents; empty where nothing is vented."""
        return self.vent  # type: ignore[return-value]

    @property
    def flares(self) -> tuple[tuple[bool | None, FloatArray], ...]:
        """Of each vent, whether what it passes is burned (None: where it burns), and its height [m]."""
        if self.steps is None:
            return ((self.flare, self.flare_height),) * len(self.vents)
        vents, rows = vent_rows(self.steps)
        found: list[tuple[bool | None, FloatArray]] = [(False, np.zeros(()))] * len(vents)
        for step, own in reversed(list(zip(self.steps, rows, strict=True))):
            for row in own:
                assert isinstance(step, Vent)
                found[row] = (step.flare, step.flare_height)
        return tuple(found)


def flares_of(plan: ResponsePlan, fluid: Fluid) -> tuple[tuple[bool, FloatArray], ...]:
    """Of each vent, whether what it passes of a cargo is burned, and the height of its flare [m].

    Raises
    ------
    InputError
        A flare is asked for, and the cargo does not burn.
    """
    steps = [step for step in plan.steps or () if isinstance(step, Vent)]
    asked = {f"flare of '{step.name}'": step.flare for step in steps} or {"flare": plan.flare}
    for name, flare in asked.items():
        if plan.vents and flare and not fluid.flammable:
            raise InputError(f"{name}: {fluid.name} does not burn in air; leave it out, or give False")
    return tuple((fluid.flammable if flare is None else flare, high) for flare, high in plan.flares)


def openings_of(given: Any, name: str) -> tuple[Opening, ...]:
    """Check a sequence of openings."""
    if not isinstance(given, (list, tuple)) or not all(isinstance(item, Opening) for item in given):
        raise InputError(f"{name} must be a sequence of Opening, got {given!r}")
    return tuple(given)


def scenario_shape(incident: Incident, plan: ResponsePlan) -> tuple[int, ...]:
    """Shape to which every number of incident and plan broadcasts.

    Raises
    ------
    InputError
        They do not; the message names them with their shapes.
    """
    named = dict(_numbers(incident, "incident")) | dict(_numbers(plan, "plan"))
    arrays = broadcast(**named)
    return np.broadcast_shapes(*(array.shape for array in arrays))


def _either(kinds: tuple[type, ...]) -> str:
    return " or ".join("None" if kind is type(None) else kind.__name__ for kind in kinds)


def _numbers(source: Any, path: str) -> Iterator[tuple[str, FloatArray]]:
    """Every number in `source` and in what it is made of, with its path."""
    if isinstance(source, tuple):
        for i, item in enumerate(source):
            yield from _numbers(item, f"{path}[{i}]")
    if isinstance(source, Result):
        for field in dataclasses.fields(source):
            value = getattr(source, field.name)
            if field.metadata.get("dims") and value is not None:
                continue  # a table's own axis is none of the scenarios'
            if "unit" in field.metadata and value is not None:
                yield f"{path}.{field.name}", value
            elif isinstance(value, (tuple, Result)):
                yield from _numbers(value, f"{path}.{field.name}")


def _set(target: Any, name: str, value: Any) -> None:
    object.__setattr__(target, name, value)
