"""Transport properties and surface tension of blends, from those of the components by mixing rules.

Notes
-----
Liquid viscosity: ln mu = sum x ln mu_i. Vapor viscosity: wilke1950viscosity. Vapor conductivity: Wassiljewa's
equation with Wilke's factors, after Mason and Saxena. Liquid conductivity: 1/k^2 = sum w/k_i^2, mass
fractions w. Surface tension: sigma = (sum x sqrt(sigma_i)/rho_i)^2/(sum x/rho_i)^2, molar densities. All in
poling2000properties, chapters 9 to 12 (from memory). A component above 0.95 of its critical temperature
enters as liquid with its properties there, above the critical one without surface tension. Uncertainty
5 to 15 %.
"""

from __future__ import annotations

import numpy as np

from lpgrelease.fluids.table import load_table
from lpgrelease.quantities import FloatArray
from lpgrelease.summing import add_rows

__all__ = ["TRANSPORT", "blend_transport"]

TRANSPORT = (
    "liquid_viscosity",
    "vapor_viscosity",
    "liquid_conductivity",
    "vapor_conductivity",
    "surface_tension",
)
HIGHEST = 0.95
"""Of a component's critical temperature: where its own properties are taken at the latest."""


def blend_transport(
    names: tuple[str, ...], temperature: FloatArray, x: FloatArray, y: FloatArray
) -> dict[str, FloatArray]:
    """`TRANSPORT` of liquid x and vapor y (nc, n) at `temperature` (n,)."""
    tables = [load_table(name) for name in names]
    rows = []
    for table in tables:
        t = np.clip(temperature, table.lowest_temperature, HIGHEST * table.critical_temperature)
        tension = table.saturated(np.minimum(temperature, table.highest_temperature), "surface_tension")
        rows.append(
            np.array([*table.saturated(t, *TRANSPORT[:-1]), *tension, *table.saturated(t, "liquid_density")])
        )
    mu_l, mu_v, k_l, k_v, sigma, rho = np.moveaxis(np.array(rows), 1, 0)
    mass = np.array([[table.molar_mass] for table in tables])
    critical = np.array([[table.critical_temperature] for table in tables])
    # a gas's viscosity and conductivity go on with temperature beyond its own saturation line
    stretch = np.maximum(temperature / (HIGHEST * critical), 1.0)
    mu_v, k_v = mu_v * stretch, k_v * stretch
    sigma = np.where(temperature < critical, np.maximum(sigma, 0.0), 0.0)
    weight = x * mass / add_rows(x * mass)
    volume = x * mass / rho
    return {
        "liquid_viscosity": np.exp(add_rows(x * np.log(mu_l))),
        "vapor_viscosity": _wilke(mu_v, mu_v, mass, y),
        "liquid_conductivity": 1.0 / np.sqrt(add_rows(weight / (k_l * k_l))),
        "vapor_conductivity": _wilke(k_v, mu_v, mass, y),
        "surface_tension": (add_rows(volume * np.sqrt(sigma)) / add_rows(volume)) ** 2,
    }


def _wilke(values: FloatArray, viscosity: FloatArray, mass: FloatArray, y: FloatArray) -> FloatArray:
    """Average of `values` with Wilke's factors."""
    total = np.zeros(y.shape[1])
    for i in range(y.shape[0]):
        weight = np.zeros(y.shape[1])
        for j in range(y.shape[0]):
            ratio = np.sqrt(viscosity[i] / viscosity[j]) * np.sqrt(np.sqrt(mass[j] / mass[i]))
            factor = (1.0 + ratio) ** 2 / np.sqrt(8.0 * (1.0 + mass[i] / mass[j]))
            weight = weight + y[j] * factor
        total = total + y[i] * values[i] / weight
    return total
