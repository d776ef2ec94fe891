"""What is known when the alarm comes, and what the responders mean to do."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from lpgrelease.constants import ZERO_GAUGE_READING
from lpgrelease.errors import InputError
from lpgrelease.freeze_seal import WetCloth
from lpgrelease.ground import Ground
from lpgrelease.pool import Hollow, OpenGround
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.release import Opening
from lpgrelease.results import Provenance, Result, plain, quantity, result
from lpgrelease.tank import Contents
from lpgrelease.weather import Weather

__all__ = ["Incident", "ResponsePlan", "scenario_shape"]


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
    weather : Weather, optional
        None takes ``Weather()``.
    site : OpenGround or Hollow, optional
        None takes ``OpenGround()``.
    captured_fraction : number or array
        Share of the leaked liquid left after the flash that reaches the ground, 0 to 1; see `Spill`. The
        default of 1 gives the largest pool.

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
    weather: Weather = plain("air, wind and sun", default=None)
    site: OpenGround | Hollow = plain("shape of the ground", default=None)
    captured_fraction: QuantityLike = quantity("", "share of the liquid that lands", default=1.0)
    provenance: Provenance = plain("where the numbers come from", default=Provenance("incident as given"))

    def __post_init__(self) -> None:
        """Fill in what was left out and check the kinds."""
        _set(self, "weather", Weather() if self.weather is None else self.weather)
        _set(self, "site", OpenGround() if self.site is None else self.site)
        _set(self, "leaks", openings_of(self.leaks, "leaks"))
        kinds: dict[str, Any] = {
            "contents": Contents,
            "ground": Ground,
            "weather": Weather,
            "site": (OpenGround, Hollow),
        }
        for name, kind in kinds.items():
            if not isinstance(getattr(self, name), kind):
                wanted = getattr(kind, "__name__", "OpenGround or Hollow")
                raise InputError(f"{name} must be {wanted}, got {getattr(self, name)!r}")
        share = to_si(
            self.captured_fraction, "", "captured_fraction", lower=0.0, upper=1.0, why="a share of the liquid"
        )
        _set(self, "captured_fraction", share)


@result
class ResponsePlan(Result):
    """What the responders do, and when.

    Parameters
    ----------
    arrival : number, array or quantity
        Time from the start of the leak until the vent is opened [s], above 0.
    vent : Opening or sequence of Opening, optional
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
        How long to look ahead after that [s].
    keep_venting : bool
        Whether the vent stays open while the seals hold.
    flare : bool
        Whether what is vented is burned; otherwise it drifts off with the leak's vapor.
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

    Raises
    ------
    InputError, OutOfRangeError
        Wrong kinds, times that are not positive, a gauge pressure below 0.

    Examples
    --------
    >>> import lpgrelease as lr
    >>> plan = lr.ResponsePlan(arrival=900.0, vent=lr.Opening(diameter=0.0508, height=1.2))
    >>> float(plan.hold) / 3600.0
    4.0
    """

    arrival: QuantityLike = quantity("s", "start of the leak to the opening of the vent")
    vent: Opening | Sequence[Opening] | None = plain("through which vapor is let out", default=None)
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
    flare: bool = plain("whether what is vented is burned", default=True)
    flare_height: QuantityLike = quantity("m", "of the flares' open ends above the ground", default=3.0)
    transfer_rate: QuantityLike | None = quantity("kg/s", "at which liquid is pumped out", default=None)
    pit_diameter: QuantityLike | None = quantity("m", "of the pit in which it burns", default=None)
    pit_depth: QuantityLike = quantity("m", "of the pit", default=1.0)
    empty: bool = plain("whether the last liquid is let boil away", default=False)
    provenance: Provenance = plain("where the numbers come from", default=Provenance("plan as given"))

    def __post_init__(self) -> None:
        """Turn every number into SI arrays and check it."""
        for name in ("arrival", "longest_venting", "laying_time", "hold"):
            _set(self, name, to_si(getattr(self, name), "s", name, lower=0.0, open_lower=True))
        stop = to_si(self.stop_at_gauge_pressure, "Pa", "stop_at_gauge_pressure", lower=0.0)
        _set(self, "stop_at_gauge_pressure", stop)
        if isinstance(self.vent, Opening):
            _set(self, "vent", (self.vent,))
        _set(self, "vent", openings_of(() if self.vent is None else self.vent, "vent"))
        if self.seal is not None and not isinstance(self.seal, WetCloth):
            raise InputError(f"seal must be WetCloth or None, got {self.seal!r}")
        for name in ("keep_venting", "flare", "empty"):
            if not isinstance(getattr(self, name), bool):
                raise InputError(f"{name} must be True or False, got {getattr(self, name)!r}")
        high = to_si(self.flare_height, "m", "flare_height", lower=0.0, upper=300.0)
        _set(self, "flare_height", high)
        self._check_transfer()

    def _check_transfer(self) -> None:
        for name, unit in (("transfer_rate", "kg/s"), ("pit_diameter", "m"), ("pit_depth", "m")):
            if getattr(self, name) is not None:
                _set(self, name, to_si(getattr(self, name), unit, name, lower=0.0, open_lower=True))
        if self.pit_diameter is not None and self.transfer_rate is None:
            raise InputError("pit_diameter: a pit is fed at transfer_rate, which is not given")
        if self.empty and not self.vents:
            raise InputError("empty: a tank boils away through a vent, and none is given")

    @property
    def vents(self) -> tuple[Opening, ...]:
        """All vents; empty where nothing is vented."""
        return self.vent  # type: ignore[return-value]


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


def _numbers(source: Any, path: str) -> Iterator[tuple[str, FloatArray]]:
    """Every number in `source` and in what it is made of, with its path."""
    if isinstance(source, tuple):
        for i, item in enumerate(source):
            yield from _numbers(item, f"{path}[{i}]")
    if isinstance(source, Result):
        for field in dataclasses.fields(source):
            value = getattr(source, field.name)
            if "unit" in field.metadata and value is not None:
                yield f"{path}.{field.name}", value
            elif isinstance(value, (tuple, Result)):
                yield from _numbers(value, f"{path}.{field.name}")


def _set(target: Any, name: str, value: Any) -> None:
    object.__setattr__(target, name, value)
