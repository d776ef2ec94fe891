"""Correlations of the library thermo, where neither CoolProp nor chemicals has data. For maintainers.

They are polynomials that its author fitted to a reference equation of state and its transport models, which
neither library ships (bell2016thermo). They begin at the triple point. The exponent 1.26 of the surface
tension next to the critical point is common practice, no source.
"""

from __future__ import annotations

from typing import Any, ClassVar

import numpy as np

from lpgrelease.quantities import FloatArray

__all__ = ["CORRELATED", "Correlations"]

CORRELATED = {"propylene oxide", "nitrous oxide"}
"""Substances whose transport properties come from here, and of propylene oxide the equation of state too."""


class Correlations:
    """Saturation properties of the substance with CAS number `cas`, by temperature [K], in SI and per mole.

    Beyond their range the transport properties of a liquid are held at its end, those of a gas are continued.
    """

    METHODS: ClassVar = {
        "pressure": ("VaporPressure", "HEOS_FIT"),
        "liquid_volume": ("VolumeLiquid", "HEOS_FIT"),
        "latent_heat": ("EnthalpyVaporization", "HEOS_FIT"),
        "liquid_heat_capacity": ("HeatCapacityLiquid", "HEOS_FIT"),
        "liquid_viscosity": ("ViscosityLiquid", "REFPROP_FIT"),
        "vapor_viscosity": ("ViscosityGas", "REFPROP_FIT"),
        "liquid_conductivity": ("ThermalConductivityLiquid", "REFPROP_FIT"),
        "vapor_conductivity": ("ThermalConductivityGas", "REFPROP_FIT"),
        "surface_tension": ("SurfaceTension", "REFPROP_FIT"),
    }

    def __init__(self, cas: str) -> None:
        import thermo

        self._cas = cas
        self._models = {
            field: (getattr(thermo, kind)(CASRN=cas), method)
            for field, (kind, method) in self.METHODS.items()
        }

    def range_of(self, field: str) -> tuple[float, float]:
        """Temperatures [K] between which the correlation of `field` holds."""
        model, method = self._models[field]
        low, high = model.T_limits[method]
        return float(low), float(high)

    def values(self, field: str, temperature: Any) -> FloatArray:
        """Values of `field` at `temperature` [K], whose ends are those of `range_of`."""
        model, method = self._models[field]
        points = np.atleast_1d(np.asarray(temperature, dtype=float))
        return np.array([model.calculate(float(t), method) for t in points])

    def _held(self, field: str, t: float) -> float:
        low, high = self.range_of(field)
        return float(self.values(field, min(max(t, low), high))[0])

    def liquid_viscosity(self, t: float) -> float:
        """Viscosity [Pa s] at `t` [K]."""
        return self._held("liquid_viscosity", t)

    def vapor_viscosity(self, t: float) -> float:
        """Viscosity [Pa s] of saturated vapor at `t` [K]."""
        return self._held("vapor_viscosity", t)

    def liquid_conductivity(self, t: float) -> float:
        """Conductivity [W/m/K] at `t` [K]."""
        return self._held("liquid_conductivity", t)

    def vapor_conductivity(self, t: float) -> float:
        """Conductivity [W/m/K] of saturated vapor at `t` [K]."""
        return self._held("vapor_conductivity", t)

    def surface_tension(self, t: float) -> float:
        """Surface tension [N/m] at `t` [K]; beyond its end it falls as (1 - T/T_c)^1.26 to zero."""
        import chemicals

        critical = chemicals.Tc(self._cas, method="HEOS")
        end = self.range_of("surface_tension")[1]
        left = max(1.0 - t / critical, 0.0) / (1.0 - end / critical)
        return self._held("surface_tension", t) * float(np.power(min(left, 1.0), 1.26))
