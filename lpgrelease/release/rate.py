"""`ReleaseRate`: what comes out of an opening."""

from __future__ import annotations

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast
from lpgrelease.release.opening import Opening
from lpgrelease.results import BoolArray, Provenance, Result, quantity, result

__all__ = [
    "ReleaseRate",
    "ambient",
    "composition_of",
    "make_rate",
    "require_kinds",
    "served_by",
    "throat_density",
]


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
    throat_temperature: FloatArray = quantity("K", "temperature in the throat: of the vapor, if there is any")
    throat_vapor_fraction: FloatArray = quantity("", "vapor mass fraction in the throat")
    throat_density: FloatArray | None = quantity(
        "kg/m**3", "density in the throat by the model; None: the model has no throat", default=None
    )
    total_enthalpy: FloatArray | None = quantity(
        "J/kg", "enthalpy of what flows at rest; None: an ideal gas", default=None
    )
    composition: FloatArray | None = quantity(
        "", "mole fractions of what flows, of a blend", dims=("component",), default=None
    )


def require_kinds(fluid: Fluid, opening: Opening) -> None:
    """Refuse what is no fluid and no opening."""
    if not isinstance(fluid, Fluid):
        raise InputError(f"fluid must be a Fluid, got {fluid!r}")
    if not isinstance(opening, Opening):
        raise InputError(f"opening must be an Opening, got {opening!r}")


def ambient(fluid: Fluid, ambient_pressure: QuantityLike) -> FloatArray:
    """`ambient_pressure` in SI, inside the fluid's table of saturation pressures."""
    return fluid.pressure_range(ambient_pressure, "ambient_pressure")


def composition_of(fluid: Fluid) -> FloatArray | None:
    """Mole fractions of a blend, (components,); None of a pure fluid."""
    return np.array(fluid.fractions) if fluid.is_blend else None


def served_by(fluid: Fluid, model: str, *sources: str) -> Provenance:
    """Provenance of a release model with `fluid`'s properties."""
    return Provenance(model, sources, fluid.credit)


def throat_density(release: ReleaseRate) -> FloatArray:
    """Density in the throat, for a jet to begin with; refuse a release without one."""
    if release.throat_density is None:
        model = release.provenance.model.split(":")[0]
        raise InputError(
            f'release: the model "{model}" says nothing of its throat, where a jet begins; take the models '
            '"homogeneous equilibrium" and "frozen", which bound its rate'
        )
    return release.throat_density


def make_rate(
    opening: Opening,
    provenance: Provenance,
    *,
    ideal_flux: FloatArray,
    choked: BoolArray,
    throat_pressure: FloatArray,
    throat_temperature: FloatArray,
    throat_vapor_fraction: FloatArray,
    throat_density: FloatArray | None,
    total_enthalpy: FloatArray | None,
    composition: FloatArray | None = None,
) -> ReleaseRate:
    """Assemble the result from the flux of an ideal nozzle [kg/m2/s]; the components' axis is the last."""
    coefficient, area, ideal_flux = broadcast(
        discharge_coefficient=opening.discharge_coefficient, diameter=opening.area, state=ideal_flux
    )
    flux = coefficient * ideal_flux
    flow = flux * area
    fields = {
        "mass_flow": flow,
        "mass_flux": flux,
        "choked": choked,
        "throat_pressure": throat_pressure,
        "throat_temperature": throat_temperature,
        "throat_vapor_fraction": throat_vapor_fraction,
        "throat_density": throat_density,
        "total_enthalpy": total_enthalpy,
    }
    known = {name: field for name, field in fields.items() if field is not None}
    shaped = dict(zip(known, np.broadcast_arrays(*known.values()), strict=True))
    if composition is not None:
        shape = (*shaped["mass_flow"].shape, composition.shape[-1])
        shaped["composition"] = np.broadcast_to(composition, shape)
    return ReleaseRate(**{name: np.array(field)[()] for name, field in shaped.items()}, provenance=provenance)
