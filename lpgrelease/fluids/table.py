"""One fluid's tables: saturation properties as functions of temperature, and the inverse.

The axis is theta = sqrt(1 - T/T_c), in which every saturation property stays smooth up to the critical
point. Tabulated fields are chosen so that their ratios and differences lose no digits: the latent heat,
not two enthalpies; the compressibility, not a density that spans ten decades.
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Callable
from functools import cache, lru_cache
from importlib import resources
from typing import Any, TypeAlias

import numpy as np

from lpgrelease.fluids.helmholtz import Equation
from lpgrelease.fluids.piecewise import PiecewisePolynomial
from lpgrelease.quantities import FloatArray

__all__ = ["FIELDS", "FluidTable", "load_table"]

FIELDS = (
    "log_pressure",
    "liquid_density",
    "vapor_compressibility",
    "liquid_enthalpy",
    "latent_heat",
    "liquid_entropy",
    "scaled_liquid_heat_capacity",
    "scaled_vapor_heat_capacity",
    "surface_tension",
    "scaled_inventory_slope",
    "scaled_clapeyron_slope",
    "log_liquid_viscosity",
    "log_vapor_viscosity",
    "liquid_conductivity",
    "vapor_conductivity",
    "vapor_flux_number",
    "vapor_critical_ratio",
)
"""Rows of the saturation table, in order; `DERIVED` says what becomes of them."""

Values = dict[str, FloatArray]
Derivation: TypeAlias = "Callable[[Values, FluidTable], FloatArray]"

DERIVED: dict[str, tuple[tuple[str, ...], Derivation]] = {
    "pressure": (("log_pressure",), lambda v, _: np.exp(v["log_pressure"])),
    "vapor_density": (
        ("pressure", "vapor_compressibility"),
        lambda v, f: v["pressure"] / (v["vapor_compressibility"] * f.gas_constant * v["temperature"]),
    ),
    "vapor_enthalpy": (
        ("liquid_enthalpy", "latent_heat"),
        lambda v, _: v["liquid_enthalpy"] + v["latent_heat"],
    ),
    "evaporation_entropy": (("latent_heat",), lambda v, _: v["latent_heat"] / v["temperature"]),
    "vapor_entropy": (
        ("liquid_entropy", "evaporation_entropy"),
        lambda v, _: v["liquid_entropy"] + v["evaporation_entropy"],
    ),
    "liquid_internal_energy": (
        ("liquid_enthalpy", "pressure", "liquid_density"),
        lambda v, _: v["liquid_enthalpy"] - v["pressure"] / v["liquid_density"],
    ),
    "vapor_internal_energy": (
        ("vapor_enthalpy", "pressure", "vapor_density"),
        lambda v, _: v["vapor_enthalpy"] - v["pressure"] / v["vapor_density"],
    ),
    "liquid_heat_capacity": (
        ("scaled_liquid_heat_capacity",),
        lambda v, _: v["scaled_liquid_heat_capacity"] / (v["theta"] * v["theta"]),
    ),
    "vapor_heat_capacity": (
        ("scaled_vapor_heat_capacity",),
        lambda v, _: v["scaled_vapor_heat_capacity"] / (v["theta"] * v["theta"]),
    ),
    # Clapeyron: T dp/dT = L / (v_v - v_l)
    "clapeyron": (
        ("latent_heat", "vapor_density", "liquid_density"),
        lambda v, _: v["latent_heat"] / (1.0 / v["vapor_density"] - 1.0 / v["liquid_density"]),
    ),
    # internal energy of a two-phase inventory in a rigid volume is mass * a(T) + volume * B(T)
    "inventory_energy_per_mass": (
        ("liquid_enthalpy", "clapeyron", "liquid_density"),
        lambda v, _: v["liquid_enthalpy"] - v["clapeyron"] / v["liquid_density"],
    ),
    "inventory_energy_per_volume": (("clapeyron", "pressure"), lambda v, _: v["clapeyron"] - v["pressure"]),
    "inventory_slope_per_mass": (
        ("scaled_inventory_slope",),
        lambda v, _: v["scaled_inventory_slope"] / v["theta"],
    ),
    "inventory_slope_per_volume": (
        ("scaled_clapeyron_slope", "clapeyron"),
        lambda v, _: v["scaled_clapeyron_slope"] / v["theta"] - v["clapeyron"] / v["temperature"],
    ),
    "liquid_viscosity": (("log_liquid_viscosity",), lambda v, _: np.exp(v["log_liquid_viscosity"])),
    "vapor_viscosity": (("log_vapor_viscosity",), lambda v, _: np.exp(v["log_vapor_viscosity"])),
    # largest mass flux of saturated vapor through an ideal nozzle
    "vapor_critical_flux": (
        ("vapor_flux_number", "pressure"),
        lambda v, f: v["vapor_flux_number"] * v["pressure"] / np.sqrt(f.gas_constant * v["temperature"]),
    ),
}


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class FluidTable:
    """Everything tabulated for one pure fluid.

    Parameters
    ----------
    saturation : PiecewisePolynomial
        `FIELDS` over theta.
    inverse : PiecewisePolynomial
        Saturation temperature over sqrt(ln(p_c/p)), in which it stays smooth up to the critical point.
    equation : Equation
        The Helmholtz energy equation, for states off saturation.
    critical_temperature, critical_pressure, molar_mass, triple_temperature : float
        [K], [Pa], [kg/mol], [K].
    lowest_temperature, highest_temperature : float
        Range of the saturation table [K].
    gas_constant : float
        Specific gas constant [J/kg/K].
    lowest_nozzle_temperature : float
        Below it [K] the throat of a nozzle fed with saturated vapor would leave the table.
    highest_gas_temperature : float
        Upper limit of the equation of state [K].
    origin : dict
        CoolProp's version, the source keys of each group of properties, fitted errors.
    """

    saturation: PiecewisePolynomial
    inverse: PiecewisePolynomial
    equation: Equation
    critical_temperature: float
    critical_pressure: float
    molar_mass: float
    triple_temperature: float
    lowest_temperature: float
    highest_temperature: float
    lowest_nozzle_temperature: float
    highest_gas_temperature: float
    gas_constant: float
    origin: dict[str, Any]

    @property
    def credit(self) -> str:
        """What served the properties, in one line, for a result's provenance."""
        source = self.origin["source"]
        if not self.origin["coolprop_keys"]["equation"]:
            return f"equation fitted here to {source}"
        return f"CoolProp {self.origin['coolprop_version']}: {source}"

    def saturated(self, temperature: FloatArray, *names: str) -> tuple[FloatArray, ...]:
        """Saturation properties `names` at `temperature`, unchecked, elementwise.

        Parameters
        ----------
        temperature : numpy.float64 or ndarray
            [K], inside the table.
        *names : str
            Names from `FIELDS` or `DERIVED`.

        Returns
        -------
        tuple
            Values of the shape of `temperature`, in the order of `names`.
        """
        rows, fields, steps = _plan(names)
        theta = np.sqrt(1.0 - temperature / self.critical_temperature)
        raw = self.saturation.evaluate(theta.reshape(-1) if theta.ndim else theta, rows)
        lines = raw.reshape(len(rows), *theta.shape)
        values: Values = dict(zip(fields, lines, strict=True), temperature=temperature, theta=theta)
        for step, derive in steps:
            values[step] = derive(values, self)
        return tuple([values[name] for name in names])

    def saturation_temperature(self, pressure: FloatArray) -> FloatArray:
        """Saturation temperature at `pressure`: unchecked, elementwise."""
        flat = np.ravel(np.sqrt(np.log(self.critical_pressure / pressure)))
        values: FloatArray = self.inverse.evaluate(flat, (0,))[0].reshape(np.shape(pressure))[()]
        return values


@lru_cache(maxsize=512)
def _plan(
    names: tuple[str, ...],
) -> tuple[tuple[int, ...], tuple[str, ...], tuple[tuple[str, Derivation], ...]]:
    """Which rows of the table `names` need, their fields, and which derivations in which order."""
    rows: list[int] = []
    steps: dict[str, Derivation] = {}

    def need(name: str) -> None:
        if name in FIELDS:
            row = FIELDS.index(name)
            if row not in rows:
                rows.append(row)
        elif name in DERIVED and name not in steps:
            for part in DERIVED[name][0]:
                need(part)
            steps[name] = DERIVED[name][1]

    for name in names:
        need(name)
    return tuple(rows), tuple(FIELDS[row] for row in rows), tuple(steps.items())


@cache
def load_table(name: str) -> FluidTable:
    """Read the shipped table of the fluid whose file is called `name`."""
    path = resources.files("lpgrelease") / "data" / "fluids" / f"{name}.npz"
    with path.open("rb") as stream, np.load(stream, allow_pickle=False) as file:
        arrays = {key: file[key] for key in file.files}
    origin = json.loads(str(arrays["origin"]))
    numbers = origin.pop("numbers")
    equation = Equation(
        gas_constant=numbers["gas_constant"],
        reducing_temperature=numbers.pop("reducing_temperature"),
        reducing_density=numbers.pop("reducing_density"),
        lead=tuple(numbers.pop("lead")),
        planck_einstein=arrays["planck_einstein"],
        residual=arrays["residual"],
        **{name: arrays[name] for name in ("ideal_powers", "critical") if name in arrays},
    )
    theta_width, root_width = numbers.pop("axes")
    return FluidTable(
        saturation=PiecewisePolynomial(arrays["saturation"], 0.0, theta_width),
        inverse=PiecewisePolynomial(arrays["inverse"], 0.0, root_width),
        equation=equation,
        origin=origin,
        **numbers,
    )
