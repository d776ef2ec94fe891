"""`StopAt`: a condition that ends a tank's history."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any, Self

import numpy as np

from lpgrelease.elementwise import some
from lpgrelease.errors import InputError
from lpgrelease.quantities import FloatArray, QuantityLike, to_si
from lpgrelease.results import IntArray, Provenance, Result, plain, quantity, result
from lpgrelease.tank.venting import NEVER
from lpgrelease.tank.zone_state import Moment
from lpgrelease.tank.zones import Zones

__all__ = ["PreparedStop", "StopAt"]

KINDS: dict[str, tuple[str, str]] = {
    "gauge_pressure": ("Pa", "gauge pressure"),
    "temperature": ("K", "temperature"),
    "mass": ("kg", "mass"),
    "liquid_mass": ("kg", "liquid mass"),
    "level": ("m", "level"),
    "time": ("s", "duration"),
}
"""Unit of each condition, and the reason it gives."""
RELATIVE = 1e-7
"""How closely an event is located, of the value it comes to."""

ASKED = "the function to stop at must return finite numbers in the shape of the moment's time"


@result
class StopAt(Result):
    """One condition that ends a history of a tank, located and not stepped over.

    Give exactly one. Whichever of several conditions comes first ends the history.

    Parameters
    ----------
    gauge_pressure : number, array or quantity
        Pressure above that of the air [Pa], from either side.
    temperature : number, array or quantity
        Of the liquid [K].
    mass, liquid_mass : number, array or quantity
        Of all fluid, or of the liquid, in the tank [kg].
    level : number, array or quantity
        Of the liquid [m], such as an opening's height.
    time : number, array or quantity
        Since the start [s].
    function : callable
        Called with a `Moment` (arrays of time, pressure, temperature, liquid_mass, vapor_mass, gas_mass,
        level, vapor_temperature, mass_flow, ...); returns what is positive until the event and negative
        after it, elementwise, smooth. It must be zero at the event within `tolerance`.
    tolerance : number
        Of the function's value.

    Raises
    ------
    InputError, OutOfRangeError
        None or several conditions; wrong kinds.

    Examples
    --------
    >>> StopAt(temperature=250.0).reason
    'temperature'
    """

    gauge_pressure: QuantityLike | None = quantity("Pa", "pressure above the air's", default=None)
    temperature: QuantityLike | None = quantity("K", "temperature of the liquid", default=None)
    mass: QuantityLike | None = quantity("kg", "mass of liquid and vapor", default=None)
    liquid_mass: QuantityLike | None = quantity("kg", "mass of the liquid", default=None)
    level: QuantityLike | None = quantity("m", "level of the liquid", default=None)
    time: QuantityLike | None = quantity("s", "time since the start", default=None)
    function: Callable[[Any], Any] | None = plain("positive until the event", default=None)
    tolerance: float = plain("of the function's value", default=1e-6)
    provenance: Provenance = plain("where the numbers come from", default=Provenance("stop as given"))

    def __post_init__(self) -> None:
        """Check that there is one condition, and take it to SI."""
        given = [name for name in (*KINDS, "function") if getattr(self, name) is not None]
        if len(given) != 1:
            raise InputError(f"StopAt takes exactly one condition, got {', '.join(given) or 'none'}")
        to_si(self.tolerance, "", "tolerance", lower=0.0, open_lower=True)
        if given[0] == "function":
            if not callable(self.function):
                raise InputError(f"function must be callable, got {self.function!r}")
            return
        unit = KINDS[given[0]][0]
        object.__setattr__(self, given[0], to_si(getattr(self, given[0]), unit, given[0], lower=0.0))

    @property
    def kind(self) -> str:
        """Name of the condition."""
        return next(name for name in (*KINDS, "function") if getattr(self, name) is not None)

    @property
    def reason(self) -> str:
        """What `stopped_by` will say."""
        return "function" if self.kind == "function" else KINDS[self.kind][1]


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class PreparedStop:
    """A stop of n tanks: value (n,); side +1 if come to from above, -1 from below, 0 if there is none."""

    kind: str
    value: FloatArray
    side: FloatArray
    function: Callable[[Any], Any] | None = None

    def signal(self, moment: Moment, zones: Zones) -> FloatArray:
        """Return what is positive until the event."""
        if self.function is not None:
            return _told(self.function, moment)
        signal = self.side * (self._watched(moment, zones) - self.value)
        none = self.side == 0.0
        return np.where(none, NEVER, signal) if some(none) else signal

    def _watched(self, moment: Moment, zones: Zones) -> FloatArray:
        if self.kind == "gauge_pressure":
            return moment.pressure - zones.nozzle.pressure
        if self.kind == "mass":
            return moment.liquid_mass + moment.vapor_mass
        watched: FloatArray = getattr(moment, self.kind)
        return watched

    def from_start(self, moment: Moment, zones: Zones) -> Self:
        """Return the same with its sides as they are at the start."""
        if self.function is not None:
            if not np.isfinite(_told(self.function, moment)).all():
                raise InputError(f"{ASKED}; at the start it is not finite")
            return self
        side = np.where(self._watched(moment, zones)[0] > self.value, 1.0, -1.0)
        side = np.where(self.side == 0.0, 0.0, side)
        return dataclasses.replace(self, side=side)

    def tolerance(self, zones: Zones) -> FloatArray:
        """How near to zero the signal counts as zero, (n,)."""
        if self.function is not None:
            return np.asarray(self.value)
        floor = zones.nozzle.pressure if self.kind == "gauge_pressure" else np.ones(self.value.shape)
        return RELATIVE * np.maximum(self.value, 1e-2 * floor)

    def take(self, index: IntArray) -> Self:
        """Return the scenarios `index` alone."""
        return dataclasses.replace(self, value=self.value[index], side=self.side[index])


def _told(function: Callable[[Any], Any], moment: Moment) -> FloatArray:
    """Return what a user's function says of `moment`, (points, n)."""
    told = function(moment)
    try:
        value = np.asarray(told, dtype=np.float64)
    except (TypeError, ValueError):
        raise InputError(f"{ASKED}; it returned {told!r}") from None
    try:
        return np.broadcast_to(value, moment.time.shape)
    except ValueError:
        raise InputError(f"{ASKED} of {moment.time.shape}; it returned {value.shape}") from None
