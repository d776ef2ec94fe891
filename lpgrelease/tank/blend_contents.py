"""`BlendContents`: what a history leaves of a blend, its liquid no longer of the composition loaded."""

from __future__ import annotations

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.fluids.equilibrium import LIQUID
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.results import Provenance, quantity, result
from lpgrelease.tank.contents import AS_GIVEN, Contents
from lpgrelease.tank.shapes import Tank

__all__ = ["BlendContents", "fractions_of"]

SUM_WITHIN = 1e-6


@result
class BlendContents(Contents):
    """Liquid of a given composition, and the vapor in equilibrium with it, at one temperature, wall included.

    A history of a blend ends with these: its light ends left first. `fluid` is the blend as it was loaded:
    its components are those of the contents, its own properties are those of another composition.

    Parameters
    ----------
    tank : HorizontalTank, VerticalTank or SphericalTank
    fluid : Fluid
        A blend.
    fill : number or array
        Liquid volume fraction, 0 to 1.
    temperature : number, array or quantity
        T [K].
    liquid_fractions : array, shape (..., components)
        Mole fractions of the liquid, in the order of ``fluid.components``.

    Raises
    ------
    InputError, OutOfRangeError
        A pure fluid; fractions that do not add up to 1 or are not one for each component.

    Examples
    --------
    >>> from lpgrelease import Fluid, HorizontalTank
    >>> from lpgrelease.tank import BlendContents
    >>> tank = HorizontalTank(diameter=1.04, length=4.5)
    >>> blend = Fluid({"propane": 0.5, "n-butane": 0.5})
    >>> left = BlendContents(tank, blend, fill=0.3, temperature=273.15, liquid_fractions=[0.2, 0.8])
    >>> print(f"{left.gauge_pressure() / 1e5:.2f} bar gauge")
    0.74 bar gauge
    """

    liquid_fractions: FloatArray = quantity("", "mole fractions of the liquid", dims=("component",))

    def __init__(
        self,
        tank: Tank,
        fluid: Fluid,
        *,
        fill: QuantityLike,
        temperature: QuantityLike,
        liquid_fractions: FloatArray,
        provenance: Provenance = AS_GIVEN,
    ) -> None:
        """Check the arguments and take them to SI."""
        Contents.__init__(self, tank, fluid, fill=fill, temperature=temperature, provenance=provenance)
        x = np.asarray(to_si(liquid_fractions, "", "liquid_fractions", lower=0.0, upper=1.0))
        count = len(fluid.components)
        if not fluid.is_blend or x.ndim == 0 or x.shape[-1] != count:
            raise InputError(
                f"liquid_fractions must have one mole fraction for each component of a blend, "
                f"got shape {x.shape} for {fluid.name}"
            )
        if not np.all(np.abs(np.add.reduce(x, axis=-1) - 1.0) < SUM_WITHIN):
            raise InputError("liquid_fractions must add up to 1")
        object.__setattr__(self, "liquid_fractions", x)

    def fluid_at(self, *index: int) -> Fluid:
        """Return the liquid of one scenario as a `Fluid`, without what is hardly there (1e-9)."""
        x = self.liquid_fractions[index]
        if x.ndim != 1:
            raise InputError(f"index must pick one scenario of shape {self.liquid_fractions.shape[:-1]}")
        parts = {
            name: float(each) for name, each in zip(self.fluid.components, x, strict=True) if each > 1e-9
        }
        whole = sum(parts.values())
        return Fluid({name: each / whole for name, each in parts.items()})

    def _point(self) -> tuple[FloatArray, FloatArray]:
        """Temperature, and mole fractions of the liquid by component (nc, ...), of the contents' shape."""
        fractions = {f"x{i}": each for i, each in enumerate(np.moveaxis(self.liquid_fractions, -1, 0))}
        t, *x = broadcast(temperature=self.temperature, **fractions)
        return t, np.array(x)

    def _saturated(self, *names: str) -> tuple[FloatArray, ...]:
        return self.fluid.blend.saturated_liquid(*self._point(), *names)

    def _liquid_at(self, warmer: float, pressed: float) -> tuple[FloatArray, FloatArray]:
        t, x = self._point()
        mixture, flat = self.fluid.blend.mixture, x.reshape(x.shape[0], -1)
        pressure = np.ravel(self.pressure * (1.0 + 1e-6) + pressed)
        liquid = mixture.phase(np.ravel(t + warmer), pressure, flat, LIQUID)[1]
        mass = mixture.mass(flat)
        return (mass / liquid.volume).reshape(t.shape), (liquid.heat_capacity / mass).reshape(t.shape)


def fractions_of(contents: Contents) -> dict[str, FloatArray]:
    """Mole fractions of a blend's liquid by component, "fraction 0" and so on; none for a pure fluid."""
    if isinstance(contents, BlendContents):
        x = contents.liquid_fractions
        return {f"fraction {i}": x[..., i] for i in range(x.shape[-1])}
    if contents.fluid.is_blend:
        return {f"fraction {i}": np.asarray(x) for i, x in enumerate(contents.fluid.fractions)}
    return {}
