"""The steps of a plan: what is done, on which condition it begins, and when it ends."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from lpgrelease.errors import InputError
from lpgrelease.freeze_seal import WetCloth
from lpgrelease.quantities import QuantityLike, broadcast, require_flag, require_kind, to_si
from lpgrelease.release import Line, Opening
from lpgrelease.response.conditions import When, whens_of
from lpgrelease.results import Provenance, Result, plain, quantity, result

__all__ = [
    "BurnPool",
    "Empty",
    "Hold",
    "KeepOut",
    "PlanStep",
    "Pump",
    "Seal",
    "Vent",
    "vent_rows",
    "vents_of",
]

AS_PLANNED = Provenance("step as planned")
LONGEST_EMPTYING = 60.0 * 86400.0


@result
class PlanStep(Result):
    """What all steps share.

    Parameters
    ----------
    name : str
        By which others wait for it; each name stands once in a plan.
    starts : When or sequence of When, optional
        On which it begins, not before the responders arrive; of several, one suffices. None: on arrival.
    """

    name: str = plain("what it is called")
    starts: When | Sequence[When] | None = plain("on which it begins", default=None)
    provenance: Provenance = plain("where the numbers come from", default=AS_PLANNED)

    @property
    def begins_on(self) -> tuple[When, ...]:
        """Conditions of which one lets it begin; none: on arrival."""
        return whens_of(self.starts, "starts") if self.starts else ()

    @property
    def ends_on(self) -> tuple[When, ...]:
        """Conditions of which one ends it; none: it ends by itself."""
        ends = getattr(self, "ends", None)
        return whens_of(ends, "ends") if ends else ()

    @property
    def vents(self) -> tuple[Opening | Line, ...]:
        """Vents that it opens."""
        return vents_of(getattr(self, "vent", ()))

    def _check_common(self) -> None:
        if not isinstance(self.name, str) or not self.name.strip():
            raise InputError(f"name must be a word, got {self.name!r}")
        starts = () if self.starts is None else whens_of(self.starts, "starts")
        object.__setattr__(self, "starts", starts)

    def _take_numbers(self, limits: dict[str, tuple[str, bool]]) -> None:
        arrays: dict[str, Any] = {}
        for name, (unit, above_zero) in limits.items():
            if getattr(self, name) is not None:
                given = getattr(self, name)
                arrays[name] = to_si(given, unit, name, lower=0.0, open_lower=above_zero)
        broadcast(**arrays)
        for name, value in arrays.items():
            object.__setattr__(self, name, value)

    def _take_ends(self) -> None:
        ends = getattr(self, "ends", None)
        object.__setattr__(self, "ends", () if ends is None else whens_of(ends, "ends"))


def vents_of(given: Any, name: str = "vent") -> tuple[Opening | Line, ...]:
    """Check a vent or a sequence of them."""
    items = (given,) if isinstance(given, Opening | Line) else given
    if not isinstance(items, list | tuple) or not all(isinstance(item, Opening | Line) for item in items):
        raise InputError(f"{name} must be a sequence of Opening or Line, got {given!r}")
    return tuple(items)


@result
class KeepOut(PlanStep):
    """Keep people out of a circle around the tank: done once they are out, and kept to the end.

    Parameters
    ----------
    distance : number, array or quantity
        Radius [m].
    takes : number, array or quantity
        Until all are out [s].
    name, starts
        As for every step.

    Raises
    ------
    InputError, OutOfRangeError

    Examples
    --------
    >>> out = KeepOut(distance=300.0, takes=1200.0)
    >>> out.name
    'keep people out'
    """

    name: str = plain("what it is called", default="keep people out")
    distance: QuantityLike = quantity("m", "radius of the circle")
    takes: QuantityLike = quantity("s", "until all are out", default=0.0)

    def __post_init__(self) -> None:
        """Check the kinds and take the numbers to SI."""
        self._check_common()
        self._take_numbers({"distance": ("m", True), "takes": ("s", False)})


@result
class Vent(PlanStep):
    """Let vapor out through openings, to a flare where that is licensed.

    Parameters
    ----------
    vent : Opening, Line or sequence of them
        Heights above the tank's lowest point; a hose with friction is a `Line`. The same opening in several
        steps is one vent.
    ends : When or sequence of When, optional
        On which the vents are shut; None: when the liquid is gone or the forecast ends.
    longest : number, array or quantity, optional
        Given up after this [s]; None: never.
    flare : bool, optional
        Whether what comes out is burned. None: where the cargo burns.
    flare_height : number, array or quantity
        Of the open ends above the ground [m].
    name, starts
        As for every step.

    Raises
    ------
    InputError, OutOfRangeError

    Examples
    --------
    >>> step = Vent(vent=Opening(diameter=0.05, height=1.2), ends=When(gauge_at_most=700.0))
    >>> len(step.vent), len(step.ends)
    (1, 1)
    """

    name: str = plain("what it is called", default="vent")
    vent: Opening | Line | Sequence[Opening | Line] = plain("through which vapor is let out")
    ends: When | Sequence[When] | None = plain("on which it ends", default=None)
    longest: QuantityLike | None = quantity("s", "given up after this", default=None)
    flare: bool | None = plain("whether what is vented is burned; None: where it burns", default=None)
    flare_height: QuantityLike = quantity("m", "of the open ends above the ground", default=3.0)

    def __post_init__(self) -> None:
        """Check the kinds and take the numbers to SI."""
        self._check_common()
        self._take_ends()
        object.__setattr__(self, "vent", vents_of(self.vent))
        if not self.vent:
            raise InputError("vent must have at least one opening")
        if self.flare is not None:
            require_flag(self.flare, "flare")
        self._take_numbers({"longest": ("s", True)})
        high = to_si(self.flare_height, "m", "flare_height", lower=0.0, upper=300.0)
        object.__setattr__(self, "flare_height", high)


@result
class Empty(Vent):
    """Let the last liquid boil away through open vents: done when none is left.

    Parameters
    ----------
    longest : number, array or quantity, optional
        Given up after this [s], sixty days by default; None: never.
    vent, ends, flare, flare_height, name, starts
        As for `Vent`.

    Raises
    ------
    InputError, OutOfRangeError

    Examples
    --------
    >>> Empty(vent=Opening(diameter=0.05, height=1.2), starts=When(after="seal")).name
    'vent to empty'
    """

    name: str = plain("what it is called", default="vent to empty")
    longest: QuantityLike | None = quantity("s", "given up after this", default=LONGEST_EMPTYING)


@result
class Seal(PlanStep):
    """Lay wet cloths on the leaks; those that freeze are shut from then on.

    Parameters
    ----------
    cloth : WetCloth, optional
        None takes ``WetCloth()``.
    laying_time : number, array or quantity
        To soak and lay the cloths [s]; the time to freeze comes on top.
    waits : bool
        Whether it also waits until the gauge is low enough for the cloths to freeze and hold, where that is
        all that is missing. False: they are laid when `starts` says so, frozen or not.
    name, starts
        As for every step.

    Raises
    ------
    InputError, OutOfRangeError

    Examples
    --------
    >>> Seal(starts=When(clock="06:30")).waits
    True
    """

    name: str = plain("what it is called", default="seal")
    cloth: WetCloth | None = plain("cloth laid on the leaks", default=None)
    laying_time: QuantityLike = quantity("s", "to lay the cloths", default=120.0)
    waits: bool = plain("whether it waits until the cloths would freeze", default=True)

    def __post_init__(self) -> None:
        """Check the kinds and take the numbers to SI."""
        self._check_common()
        object.__setattr__(self, "cloth", WetCloth() if self.cloth is None else self.cloth)
        require_kind(self.cloth, WetCloth, "cloth")
        require_flag(self.waits, "waits")
        self._take_numbers({"laying_time": ("s", True)})


@result
class Hold(PlanStep):
    """Watch the tank for some time with what is open and shut, and whether the gauge stays down.

    Parameters
    ----------
    lasts : number, array or quantity
        How long [s].
    gauge_at_most : number, array or quantity, optional
        Gauge pressure above which it counts as given up [Pa]; None: what the ice, where there is any, is
        trusted to hold.
    name, starts
        As for every step.

    Raises
    ------
    InputError, OutOfRangeError

    Examples
    --------
    >>> float(Hold(lasts=4 * 3600.0, starts=When(after="seal")).lasts)
    14400.0
    """

    name: str = plain("what it is called", default="hold")
    lasts: QuantityLike = quantity("s", "how long")
    gauge_at_most: QuantityLike | None = quantity("Pa", "gauge pressure not to be passed", default=None)

    def __post_init__(self) -> None:
        """Check the kinds and take the numbers to SI."""
        self._check_common()
        self._take_numbers({"lasts": ("s", True), "gauge_at_most": ("Pa", False)})


@result
class Pump(PlanStep):
    """Pump liquid out, into another tank or into a pit in which it burns.

    Parameters
    ----------
    mass_flow : number, array or quantity
        [kg/s], above 0.
    pit_diameter : number, array or quantity, optional
        Of the burning pit [m]. None: it goes to another tank.
    pit_depth : number, array or quantity
        From the pit's floor to its rim [m].
    ends : When or sequence of When, optional
        On which it ends; None: when no liquid is left.
    longest : number, array or quantity, optional
        Given up after this [s]; None: never.
    name, starts
        As for every step.

    Raises
    ------
    InputError, OutOfRangeError

    Examples
    --------
    >>> Pump(mass_flow=2.0, starts=When(after="keep people out")).name
    'pump'
    """

    name: str = plain("what it is called", default="pump")
    mass_flow: QuantityLike = quantity("kg/s", "liquid pumped out")
    pit_diameter: QuantityLike | None = quantity("m", "of the pit in which it burns", default=None)
    pit_depth: QuantityLike = quantity("m", "of the pit", default=1.0)
    ends: When | Sequence[When] | None = plain("on which it ends", default=None)
    longest: QuantityLike | None = quantity("s", "given up after this", default=None)

    def __post_init__(self) -> None:
        """Check the kinds and take the numbers to SI."""
        self._check_common()
        self._take_ends()
        self._take_numbers(
            {
                "mass_flow": ("kg/s", True),
                "pit_diameter": ("m", True),
                "pit_depth": ("m", True),
                "longest": ("s", True),
            }
        )


@result
class BurnPool(PlanStep):
    """Light the pool on the ground, and let it burn: done when it is gone.

    Parameters
    ----------
    name : str
        As for every step.
    starts : When or sequence of When, optional
        As for every step.

    Raises
    ------
    InputError

    Examples
    --------
    >>> BurnPool(starts=When(after="keep people out", wind_at_least=1.0)).name
    'burn the pool off'
    """

    name: str = plain("what it is called", default="burn the pool off")

    def __post_init__(self) -> None:
        """Check the kinds."""
        self._check_common()


def vent_rows(steps: Sequence[PlanStep]) -> tuple[tuple[Opening | Line, ...], tuple[tuple[int, ...], ...]]:
    """Return all vents of a list of steps, and which of them each step opens.

    An opening that stands in several steps is one vent; twice in one step it is two.

    Examples
    --------
    >>> one = Opening(diameter=0.05, height=1.2)
    >>> vents, rows = vent_rows([Vent(vent=[one, one]), Empty(vent=one)])
    >>> len(vents), rows
    (2, ((0, 1), (0,)))
    """
    vents: list[Opening | Line] = []
    rows: list[tuple[int, ...]] = []
    for step in steps:
        own: list[int] = []
        for item in step.vents:
            same = [i for i, known in enumerate(vents) if known == item and i not in own]
            if not same:
                vents.append(item)
            own.append(same[0] if same else len(vents) - 1)
        rows.append(tuple(own))
    return tuple(vents), tuple(rows)
