"""Correlations of handbooks, where CoolProp has no model of a property. For maintainers; reads chemicals."""

from __future__ import annotations

import importlib
from typing import Any, ClassVar

from lpgrelease.fluids.substances import Substance

__all__ = ["Handbook"]


class Handbook:
    """Published correlations of one substance, read from the tables that chemicals ships.

    Beyond their range those of a liquid are held at its end, those of a gas are continued.
    """

    TABLES: ClassVar = {
        "liquid_viscosity": ("viscosity", "mu_data_Perrys_8E_2_313"),
        "vapor_viscosity": ("viscosity", "mu_data_Perrys_8E_2_312"),
        "liquid_conductivity": ("thermal_conductivity", "k_data_Perrys_8E_2_315"),
        "vapor_conductivity": ("thermal_conductivity", "k_data_Perrys_8E_2_314"),
        "surface_tension": ("interface", "sigma_data_VDI_PPDS_11"),
    }

    def __init__(self, substance: Substance) -> None:
        self.cas = substance.cas

    def _row(self, field: str) -> Any:
        module, table = self.TABLES[field]
        return getattr(importlib.import_module(f"chemicals.{module}"), table).loc[self.cas]

    def range_of(self, field: str) -> tuple[float, float]:
        """Temperatures [K] between which the correlation of `field` holds."""
        row = self._row(field)
        return float(row["Tmin"]), float(row["Tmax"])

    def liquid_viscosity(self, t: float) -> float:
        """Viscosity [Pa s] at `t` [K]: green2007handbook, Table 2-313 (DIPPR equation 101)."""
        import chemicals

        row = self._row("liquid_viscosity")
        held = min(max(t, row["Tmin"]), row["Tmax"])
        return float(chemicals.dippr.EQ101(held, *(row[f"C{i}"] for i in range(1, 6))))

    def vapor_viscosity(self, t: float) -> float:
        """Viscosity [Pa s] at `t` [K]: green2007handbook, Table 2-312 (DIPPR equation 102), dilute gas."""
        import chemicals

        row = self._row("vapor_viscosity")
        return float(chemicals.dippr.EQ102(t, *(row[f"C{i}"] for i in range(1, 5))))

    def liquid_conductivity(self, t: float) -> float:
        """Conductivity [W/m/K] at `t` [K]: green2007handbook, Table 2-315 (DIPPR equation 100)."""
        import chemicals

        row = self._row("liquid_conductivity")
        held = min(max(t, row["Tmin"]), row["Tmax"])
        return float(chemicals.dippr.EQ100(held, *(row[f"C{i}"] for i in range(1, 6))))

    def vapor_conductivity(self, t: float) -> float:
        """Conductivity [W/m/K] at `t` [K]: green2007handbook, Table 2-314 (equation 102), dilute gas."""
        import chemicals

        row = self._row("vapor_conductivity")
        return float(chemicals.dippr.EQ102(t, *(row[f"C{i}"] for i in range(1, 5))))

    def surface_tension(self, t: float) -> float:
        """Surface tension [N/m] at `t` [K]: vdi2010heatatlas; zero from its critical point."""
        row = self._row("surface_tension")
        reduced = t / row["Tc"]
        if reduced >= 1.0:
            return 0.0
        power = row["B"] + row["C"] * reduced + row["D"] * reduced**2 + row["E"] * reduced**3
        return float(row["A"] * (1.0 - reduced) ** power)
