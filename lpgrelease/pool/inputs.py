"""What lands."""

from __future__ import annotations

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, exactly_one, to_si
from lpgrelease.results import Provenance, Result, plain, quantity, result

__all__ = ["Spill"]


@result
class Spill(Result):
    """Liquid that leaves a container and lands on the ground.

    Parameters
    ----------
    mass : number, array or quantity, optional
        Total mass [kg], at once, or steadily over `duration`. Give this or `mass_flow`.
    mass_flow : number, array or quantity, optional
        Steady flow [kg/s] during `duration`; with `time`, the flow at each of those times.
    duration : number, array or quantity, optional
        [s]. With `mass`, None lets all go at once; with `mass_flow`, None feeds to the end of the history.
    time : array or quantity, optional
        Times of a flow that changes [s], along the last axis, from 0 up and never falling; the flow is
        linear between them and nothing before the first and after the last. A time given twice is a jump.
        With `time`, every number of the spill has the times, or one entry, along its last axis; so
        a tank's history of liquid flow and temperature goes in as it is.
    temperature : number, array or quantity, optional
        Of the liquid before it flashes [K]; None takes the air's.
    captured_fraction : number or array
        Share of the liquid left after the flash that reaches the ground, 0 to 1. It is an input because
        no model tells it well: a jet that flashes breaks into droplets that evaporate in flight, and a
        free jet of propane can leave almost nothing on the ground, while a jet that hits a wall or the
        ground close by leaves most of it. The default of 1 gives the largest pool and the smallest
        cloud. Together with the depth the ground's relief holds it governs the size of a pool.

    Raises
    ------
    InputError
        Both or none of `mass` and `mass_flow`; `time` with `mass` or `duration`, or falling; wrong kind or
        dimension; shapes that do not broadcast.
    OutOfRangeError
        A negative amount, or a fraction outside 0 to 1.

    Examples
    --------
    >>> Spill(mass_flow=0.5, duration=900.0).mass_flow
    np.float64(0.5)
    >>> Spill(time=[0.0, 600.0, 1200.0], mass_flow=[0.8, 0.3, 0.0]).time
    array([   0.,  600., 1200.])
    """

    mass: QuantityLike = quantity("kg", "total mass", default=None)
    mass_flow: QuantityLike = quantity("kg/s", "mass flow", default=None)
    duration: QuantityLike = quantity("s", "duration", default=None)
    time: QuantityLike = quantity("s", "times of a flow that changes", default=None)
    temperature: QuantityLike = quantity("K", "temperature before the flash", default=None)
    captured_fraction: QuantityLike = quantity("", "share of the liquid that lands", default=1.0)
    provenance: Provenance = plain("where the numbers come from", default=Provenance("spill as given"))

    def __post_init__(self) -> None:
        """Turn every number into SI arrays and check it."""
        exactly_one(mass=self.mass, mass_flow=self.mass_flow)
        ranges: dict[str, tuple[str, float | None, bool]] = {
            "mass": ("kg", None, False),
            "mass_flow": ("kg/s", None, False),
            "duration": ("s", None, True),
            "time": ("s", None, False),
            "temperature": ("K", None, True),
            "captured_fraction": ("", 1.0, False),
        }
        checked = {}
        for name, (unit, upper, open_lower) in ranges.items():
            if getattr(self, name) is not None:
                value = to_si(getattr(self, name), unit, name, lower=0.0, upper=upper, open_lower=open_lower)
                checked[name] = value
                object.__setattr__(self, name, value)
        broadcast(**checked)
        if self.time is not None:
            _check_times(self)

    @classmethod
    def episodes(
        cls,
        start: QuantityLike,
        duration: QuantityLike,
        mass_flow: QuantityLike,
        *,
        temperature: QuantityLike | None = None,
        captured_fraction: QuantityLike = 1.0,
    ) -> Spill:
        """Several spills one after the other onto the same ground.

        Parameters
        ----------
        start, duration : array or quantity
            Of each episode [s], along the last axis, in order and not overlapping.
        mass_flow : number, array or quantity
            Steady flow of each episode [kg/s].
        temperature, captured_fraction
            As in the constructor: one for all episodes, or the episodes along the last axis.

        Raises
        ------
        InputError, OutOfRangeError
            Overlapping episodes, and as in the constructor.

        Examples
        --------
        >>> two = Spill.episodes(start=[0.0, 3600.0], duration=[300.0, 300.0], mass_flow=0.5)
        >>> two.time
        array([   0.,    0.,  300.,  300., 3600., 3600., 3900., 3900.])
        """
        first = to_si(start, "s", "start", lower=0.0)
        length = to_si(duration, "s", "duration", lower=0.0, open_lower=True)
        flow = to_si(mass_flow, "kg/s", "mass_flow", lower=0.0)
        share = to_si(captured_fraction, "", "captured_fraction", lower=0.0, upper=1.0)
        given = {"start": first, "duration": length, "mass_flow": flow, "captured_fraction": share}
        if temperature is not None:
            given["temperature"] = to_si(temperature, "K", "temperature", lower=0.0, open_lower=True)
        arrays = dict(zip(given, (np.atleast_1d(a) for a in broadcast(**given)), strict=True))
        first, last = arrays["start"], arrays["start"] + arrays["duration"]
        flow, zero = arrays["mass_flow"], np.zeros_like(first)
        warm = arrays.get("temperature")
        return cls(
            time=_knots(first, first, last, last),
            mass_flow=_knots(zero, flow, flow, zero),
            temperature=None if warm is None else _knots(warm),
            captured_fraction=_knots(arrays["captured_fraction"]),
        )


def _knots(*parts: FloatArray) -> FloatArray:
    """Four knots of each episode, one after the other along the last axis."""
    four = np.stack(parts if len(parts) > 1 else parts * 4, axis=-1)
    return four.reshape(*four.shape[:-2], -1)


def _check_times(spill: Spill) -> None:
    if spill.mass is not None or spill.duration is not None:
        raise InputError("time: goes with mass_flow alone, without mass and duration")
    if np.ndim(spill.time) == 0 or np.shape(spill.time)[-1] < 2:
        raise InputError("time: give two times or more along the last axis")
    if np.any(np.diff(spill.time, axis=-1) < 0.0):
        raise InputError("time: must not fall along the last axis")
