"""`ReleaseRate`: what comes out of an opening."""

from __future__ import annotations

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast
from lpgrelease.release.opening import Opening
from lpgrelease.results import BoolArray, Provenance, Result, quantity, result

__all__ = ["ReleaseRate", "ambient", "make_rate", "require_kinds", "served_by"]


@result
class ReleaseRate(Result):
    """Flow through an opening; all fields share one shape.

    Where the pressure inside does not exceed the ambient pressure nothing flows out and the rate is zero;
    air that may be drawn in is not modelled.
    """

    mass_flow: FloatArray = quantity("kg/s", "mass flow")
    mass_flux: FloatArray = quantity("kg/m**2/s", "mass flow over the area of the opening, C_d included")
    choked: BoolArray = quantity("", "whether a lower ambient pressure would leave the flow unchanged")
    throat_pressure: FloatArray = quantity("Pa", "pressure in the throat, absolute")
    throat_temperature: FloatArray = quantity("K", "temperature in the throat")
    throat_vapor_fraction: FloatArray = quantity("", "vapor mass fraction in the throat")


def require_kinds(fluid: Fluid, opening: Opening) -> None:
    """Refuse what is no fluid and no opening."""
    if not isinstance(fluid, Fluid):
        raise InputError(f"fluid must be a Fluid, got {fluid!r}")
    if not isinstance(opening, Opening):
        raise InputError(f"opening must be an Opening, got {opening!r}")


def ambient(fluid: Fluid, ambient_pressure: QuantityLike) -> FloatArray:
    """`ambient_pressure` in SI, inside the fluid's table of saturation pressures."""
    return fluid.pressure_range(ambient_pressure, "ambient_pressure")


def served_by(fluid: Fluid, model: str, *sources: str) -> Provenance:
    """Provenance of a release model with `fluid`'s properties."""
    return Provenance(model, sources, fluid.credit)


def make_rate(
    opening: Opening,
    provenance: Provenance,
    *,
    ideal_flux: FloatArray,
    choked: BoolArray,
    throat_pressure: FloatArray,
    throat_temperature: FloatArray,
    throat_vapor_fraction: FloatArray,
) -> ReleaseRate:
    """Assemble the result from the flux of an ideal nozzle [kg/m2/s]."""
    coefficient, area, ideal_flux = broadcast(
        discharge_coefficient=opening.discharge_coefficient, diameter=opening.area, state=ideal_flux
    )
    flux = coefficient * ideal_flux
    flow = flux * area
    fields = (flow, flux, choked, throat_pressure, throat_temperature, throat_vapor_fraction)
    shaped = [np.array(field)[()] for field in np.broadcast_arrays(*fields)]
    return ReleaseRate(
        mass_flow=shaped[0],
        mass_flux=shaped[1],
        choked=shaped[2],
        throat_pressure=shaped[3],
        throat_temperature=shaped[4],
        throat_vapor_fraction=shaped[5],
        provenance=provenance,
    )
