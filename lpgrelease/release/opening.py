"""`Opening`: a hole, an open valve or a nozzle in the shell of a container."""

from __future__ import annotations

import numpy as np

from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.results import Provenance, Result, in_unit, plain, quantity, result

__all__ = ["Opening"]


@result
class Opening(Result):
    """A round opening with a discharge coefficient, at a height on its container.

    Parameters
    ----------
    diameter : number, array or quantity
        Diameter d [m]; for another shape give the diameter of the same area.
    discharge_coefficient : number or array
        C_d, ratio of the true flow to that of an ideal nozzle of the same area, above 0 up to 1: about
        0.6 to 0.62 for a sharp edge (white2006viscous), more for rounded inlets and open valves.
    height : number, array or quantity
        Height of its middle above the container's lowest inside point [m].

    Raises
    ------
    InputError, OutOfRangeError

    Examples
    --------
    >>> hole = Opening(diameter=0.025, discharge_coefficient=0.62)
    >>> print(f"{hole.area * 1e4:.3f} cm2")
    4.909 cm2
    """

    diameter: QuantityLike = quantity("m", "diameter d")
    discharge_coefficient: QuantityLike = quantity("", "discharge coefficient C_d", default=0.62)
    height: QuantityLike = quantity("m", "height above the container's lowest point", default=0.0)
    provenance: Provenance = plain("where the numbers come from", default=Provenance("opening as given"))

    def __post_init__(self) -> None:
        """Take every number to SI and check it."""
        checked = {
            "diameter": to_si(self.diameter, "m", "diameter", lower=0.0, open_lower=True),
            "discharge_coefficient": to_si(
                self.discharge_coefficient, "", "discharge_coefficient", lower=0.0, upper=1.0, open_lower=True
            ),
            "height": to_si(self.height, "m", "height", lower=0.0),
        }
        broadcast(**checked)
        for name, value in checked.items():
            object.__setattr__(self, name, value)

    @property
    @in_unit("m**2")
    def area(self) -> FloatArray:
        """Area A = pi d**2 / 4 [m2]."""
        area: FloatArray = 0.25 * np.pi * self.diameter * self.diameter
        return area

    @property
    @in_unit("m**2")
    def effective_area(self) -> FloatArray:
        """C_d A [m2]."""
        effective: FloatArray = self.discharge_coefficient * self.area
        return effective
