"""`Contents`: a liquefied gas at equilibrium in a tank."""

from __future__ import annotations

import numpy as np

from lpgrelease.constants import STANDARD_ATMOSPHERE
from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.results import Provenance, Result, in_unit, plain, quantity, result
from lpgrelease.tank.shapes import Tank
from lpgrelease.tank.vapor_space import HIGHEST_GAS_PRESSURE, gas_named

__all__ = ["Contents"]

AS_GIVEN = Provenance("contents as given")


@result
class Contents(Result):
    """Liquid and vapor at equilibrium at one temperature, wall included.

    Parameters
    ----------
    tank : HorizontalTank, VerticalTank or SphericalTank
    fluid : Fluid
        A blend's composition is that of the liquid; the vapor is the one in equilibrium with it.
    fill : number or array
        Liquid volume fraction, 0 to 1.
    temperature : number, array or quantity
        Of liquid, vapor and wall, T [K].
    pad_pressure : number, array or quantity
        Partial pressure of a permanent gas above the liquid [Pa]; the vapor's is that of saturation.
    pad_gas : {"nitrogen", "air"}
        Which gas.

    Raises
    ------
    InputError, OutOfRangeError
        Wrong kinds, shapes that do not broadcast, fill outside 0 to 1, temperature outside the fluid's table.

    Examples
    --------
    >>> from lpgrelease import Contents, Fluid, HorizontalTank
    >>> tank = HorizontalTank(diameter=1.04, length=4.5)
    >>> contents = Contents(tank, Fluid("propane"), fill=0.8, temperature=293.15)
    >>> print(f"{contents.liquid_mass:.0f} kg at {contents.gauge_pressure() / 1e5:.2f} bar gauge")
    1647 kg at 7.35 bar gauge
    """

    tank: Tank = plain("the container")
    fluid: Fluid = plain("what is in it")
    fill: QuantityLike = quantity("", "liquid volume fraction")
    temperature: QuantityLike = quantity("K", "temperature T")
    pad_pressure: QuantityLike = quantity("Pa", "partial pressure of a gas", default=0.0)
    pad_gas: str = plain("which gas", default="nitrogen")
    provenance: Provenance = plain("where the numbers come from", default=AS_GIVEN)

    def __init__(
        self,
        tank: Tank,
        fluid: Fluid,
        *,
        fill: QuantityLike,
        temperature: QuantityLike,
        pad_pressure: QuantityLike = 0.0,
        pad_gas: str = "nitrogen",
        provenance: Provenance = AS_GIVEN,
    ) -> None:
        """Check the arguments and take them to SI."""
        if not isinstance(tank, Tank):
            raise InputError(f"tank must be a HorizontalTank, VerticalTank or SphericalTank, got {tank!r}")
        if not isinstance(fluid, Fluid):
            raise InputError(f"fluid must be a Fluid, got {fluid!r}")
        filled = to_si(fill, "", "fill", lower=0.0, upper=1.0, why="the liquid volume fraction")
        t = fluid.saturation_range(temperature, "temperature")
        pad = to_si(
            pad_pressure,
            "Pa",
            "pad_pressure",
            lower=0.0,
            upper=HIGHEST_GAS_PRESSURE,
            why="where gases are near ideal",
        )
        broadcast(tank=tank.volume, fill=filled, temperature=t, pad_pressure=pad)
        gas_named(pad_gas)
        values = {"tank": tank, "fluid": fluid, "fill": filled, "temperature": t, "pad_pressure": pad}
        values |= {"pad_gas": pad_gas, "provenance": provenance}
        for name, value in values.items():
            object.__setattr__(self, name, value)

    def _saturated(self, *names: str) -> tuple[FloatArray, ...]:
        """Properties of liquid and vapor at equilibrium, of the contents' own shape."""
        return self.fluid.saturated(self.temperature, *names)

    def _liquid_at(self, warmer: float, pressed: float) -> tuple[FloatArray, FloatArray]:
        """Density and heat capacity of the liquid so much warmer [K] and higher in pressure [Pa]."""
        pressure = self.pressure * (1.0 + 1e-6) + pressed
        liquid = self.fluid.liquid(temperature=self.temperature + warmer, pressure=pressure)
        return liquid.density, liquid.heat_capacity

    @property
    @in_unit("Pa")
    def pressure(self) -> FloatArray:
        """Absolute pressure p [Pa]: that of saturation, and of the gas where there is any."""
        return np.add(self._saturated("pressure")[0], self.pad_pressure)

    def gauge_pressure(self, *, ambient_pressure: QuantityLike = STANDARD_ATMOSPHERE) -> FloatArray:
        """Pressure above `ambient_pressure` [Pa]."""
        ambient = to_si(ambient_pressure, "Pa", "ambient_pressure", lower=0.0)
        pressure, ambient = broadcast(pressure=self.pressure, ambient_pressure=ambient)
        return pressure - ambient

    @property
    @in_unit("m**3")
    def liquid_volume(self) -> FloatArray:
        """Volume of the liquid [m3]."""
        volume: FloatArray = self.fill * self.tank.volume
        return volume

    @property
    @in_unit("m")
    def level(self) -> FloatArray:
        """Height of the liquid's surface above the tank's lowest point [m]."""
        return self.tank.level_at(self.liquid_volume)

    @property
    @in_unit("kg")
    def liquid_mass(self) -> FloatArray:
        """Mass of the liquid [kg]."""
        return self.liquid_volume * self._saturated("liquid_density")[0]

    @property
    @in_unit("kg")
    def vapor_mass(self) -> FloatArray:
        """Mass of the vapor [kg]."""
        space = self.tank.volume - self.liquid_volume
        return np.multiply(space, self._saturated("vapor_density")[0])

    @property
    @in_unit("kg")
    def mass(self) -> FloatArray:
        """Mass of liquid and vapor [kg]."""
        return np.add(self.liquid_mass, self.vapor_mass)

    @property
    @in_unit("kg")
    def gas_mass(self) -> FloatArray:
        """Mass of the permanent gas [kg]."""
        space = self.tank.volume - self.liquid_volume
        mass: FloatArray = self.pad_pressure * space / (gas_named(self.pad_gas).constant * self.temperature)
        return mass
