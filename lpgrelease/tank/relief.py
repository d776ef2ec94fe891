"""`ReliefValve`: a spring-loaded valve that opens at its set pressure and reseats below it.

Lift follows pressure on two curves. *Rising*, a shut valve begins to open at the set pressure and is wide
open at the overpressure. *Falling*, a valve that was wide open stays so down to the set pressure and is shut
at the reseating pressure. A march holds one mode for each valve, `is_open` (it has been wide open since it
was last shut), and changes it at two events: pressure comes up to :meth:`ReliefValve.full_pressure`, or down
to :meth:`ReliefValve.reseat_pressure`. On both, both curves agree, so lift and flow are continuous in time.
"""

from __future__ import annotations

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.release.opening import Opening
from lpgrelease.results import BoolArray, Provenance, Result, in_unit, plain, quantity, result

__all__ = ["ReliefValve", "lift_fraction", "until_switch"]


def lift_fraction(
    gauge_pressure: FloatArray,
    is_open: BoolArray,
    *,
    set_pressure: FloatArray,
    full_pressure: FloatArray,
    reseat_pressure: FloatArray,
) -> FloatArray:
    """Lift over full lift, 0 to 1; SI arrays, unchecked. Pressures are gauge [Pa].

    Parameters
    ----------
    gauge_pressure : float or ndarray
        Pressure in the tank over that at the valve's outlet.
    is_open : bool or ndarray of bool
        Whether the valve has been wide open since it was last shut.
    set_pressure, full_pressure, reseat_pressure : float or ndarray
        Reseat below set, set below full.

    Examples
    --------
    >>> at = {"set_pressure": 17.2e5, "full_pressure": 18.9e5, "reseat_pressure": 15.5e5}
    >>> for state in (False, True):
    ...     print([f"{lift_fraction(p * 1e5, state, **at):.2f}" for p in (15.0, 16.35, 17.2, 18.05, 19.0)])
    ['0.00', '0.00', '0.00', '0.50', '1.00']
    ['0.00', '0.50', '1.00', '1.00', '1.00']
    """
    shut = np.where(is_open, reseat_pressure, set_pressure)
    wide_open = np.where(is_open, set_pressure, full_pressure)
    lift = (gauge_pressure - shut) / (wide_open - shut)
    return np.asarray(np.minimum(np.maximum(lift, 0.0), 1.0))


def until_switch(
    gauge_pressure: FloatArray,
    is_open: BoolArray,
    *,
    full_pressure: FloatArray,
    reseat_pressure: FloatArray,
) -> FloatArray:
    """Signal [Pa] that falls to zero when `is_open` is to be turned over; SI arrays, unchecked.

    Examples
    --------
    >>> print(until_switch(16e5, np.array([False, True]), full_pressure=19e5, reseat_pressure=15e5))
    [300000. 100000.]
    """
    return np.where(is_open, gauge_pressure - reseat_pressure, full_pressure - gauge_pressure)


@result
class ReliefValve(Result):
    """An opening that is shut below its set pressure.

    Parameters
    ----------
    opening : Opening
        Its bore, discharge coefficient and height when wide open.
    set_pressure : number, array or quantity
        Gauge pressure at which it begins to open [Pa].
    overpressure : number or array
        Rise above the set pressure at which it is wide open, over the set pressure; 0.1 as is usual in codes
        (asme2021vessels, UG-131, from memory).
    blowdown : number or array
        Fall below the set pressure at which it shuts, over the set pressure. Valves differ, 0.02 to 0.25; the
        default 0.07 is common practice, no source.

    Raises
    ------
    InputError, OutOfRangeError

    Notes
    -----
    A model of what a valve does to a tank, not of its parts: a valve too large for the heat that comes in
    rests partly open, where a real one may chatter. Lift is taken in proportion to pressure between the set
    points, and flow in proportion to lift. One that liquid reaches, that ice or dirt holds, or that a fire
    has softened does not do what its plate says.

    Examples
    --------
    >>> valve = ReliefValve(opening=Opening(diameter=0.03, discharge_coefficient=0.8), set_pressure=17.2e5)
    >>> print(f"{valve.reseat_pressure / 1e5:.2f} to {valve.full_pressure / 1e5:.2f} bar gauge")
    16.00 to 18.92 bar gauge
    """

    opening: Opening = plain("the valve's bore, wide open")
    set_pressure: QuantityLike = quantity("Pa", "gauge pressure at which it begins to open")
    overpressure: QuantityLike = quantity("", "rise to full lift over the set pressure", default=0.1)
    blowdown: QuantityLike = quantity("", "fall to shutting over the set pressure", default=0.07)
    provenance: Provenance = plain("where the numbers come from", default=Provenance("valve as given"))

    def __post_init__(self) -> None:
        """Take every number to SI and check it."""
        if not isinstance(self.opening, Opening):
            raise InputError(f"opening must be an Opening, got {self.opening!r}")
        checked = {
            "set_pressure": to_si(self.set_pressure, "Pa", "set_pressure", lower=0.0, open_lower=True),
            "overpressure": to_si(
                self.overpressure, "", "overpressure", lower=0.0, upper=1.0, open_lower=True, why="a share"
            ),
            "blowdown": to_si(
                self.blowdown, "", "blowdown", lower=0.0, upper=0.9, open_lower=True, why="a share"
            ),
        }
        broadcast(**checked, diameter=self.opening.diameter)
        for name, value in checked.items():
            object.__setattr__(self, name, value)

    @property
    @in_unit("Pa")
    def full_pressure(self) -> FloatArray:
        """Gauge pressure at which it is wide open [Pa]."""
        return self.set_pressure * (1.0 + self.overpressure)  # type: ignore[no-any-return]

    @property
    @in_unit("Pa")
    def reseat_pressure(self) -> FloatArray:
        """Gauge pressure at which it shuts [Pa]."""
        return self.set_pressure * (1.0 - self.blowdown)  # type: ignore[no-any-return]

    def lift(self, gauge_pressure: FloatArray, is_open: BoolArray) -> FloatArray:
        """Lift over full lift; see :func:`lift_fraction`."""
        return lift_fraction(
            gauge_pressure,
            is_open,
            set_pressure=self.set_pressure,
            full_pressure=self.full_pressure,
            reseat_pressure=self.reseat_pressure,
        )
