"""How well the shipped tables match CoolProp: worst error of every field of every fluid.

``python tests/fluid_accuracy.py`` writes ``docs/fluid_accuracy.csv``; a test holds the file to the tables.

Errors are relative to the value, except for enthalpy and internal energy, relative to the larger of the value
and the latent heat L, and entropy, relative to the larger of the value and L/T: these pass through zero at
CoolProp's reference state, where a relative error means nothing, and only their differences are used.
"""

from __future__ import annotations

import csv
import functools
from pathlib import Path
from typing import Any, NamedTuple

import CoolProp
import numpy as np

from lpgrelease.fluids import Fluid
from lpgrelease.fluids.fluid import SATURATION_FIELDS, TRANSPORT_FIELDS
from lpgrelease.fluids.make_tables import sources_of, state_of
from lpgrelease.fluids.substances import SUBSTANCES, Substance

FILE = Path(__file__).parents[1] / "docs" / "fluid_accuracy.csv"
COLDEST = 150.0
"""The comparison begins at the triple point or here [K], whichever is higher; see `coldest`."""
NEAR_CRITICAL = 0.98
"""Fraction of the critical temperature that splits the comparison in two."""
FIELDS = tuple(dict.fromkeys(("pressure", *SATURATION_FIELDS, *TRANSPORT_FIELDS)))


class Worst(NamedTuple):
    """Largest error of one field below and above `NEAR_CRITICAL`, with its temperature [K]."""

    fluid: str
    field: str
    error: float
    temperature: float
    error_near_critical: float
    temperature_near_critical: float


def reference(fluid: Fluid, temperature: Any) -> dict[str, Any]:
    """CoolProp's value of every field at each temperature; NaN where it has no model, or one not used.

    Of an equation fitted here: its own, solved in extended precision.
    """
    state = _state(fluid.substance)
    tension = state.surface_tension if sources_of(fluid.substance)["tension"] else _nothing
    rows = []
    for t in temperature:
        row = {}
        for quality, phase in ((1.0, "vapor"), (0.0, "liquid")):
            state.update(CoolProp.QT_INPUTS, quality, float(t))
            row[f"{phase}_density"] = state.rhomass()
            row[f"{phase}_enthalpy"] = state.hmass()
            row[f"{phase}_entropy"] = state.smass()
            row[f"{phase}_internal_energy"] = state.umass()
            row[f"{phase}_heat_capacity"] = state.cpmass()
            row[f"{phase}_viscosity"] = _or_nan(state.viscosity)
            row[f"{phase}_conductivity"] = _or_nan(state.conductivity)
        row["pressure"] = state.p()
        row["surface_tension"] = _or_nan(tension)
        row["latent_heat"] = row["vapor_enthalpy"] - row["liquid_enthalpy"]
        rows.append(row)
    return {key: np.array([row[key] for row in rows]) for key in rows[0]}


@functools.cache
def _state(substance: Substance) -> Any:
    """What solves the equation; one fitted here marches from the critical point before its first answer."""
    return state_of(substance)[0]


def _nothing() -> float:
    raise ValueError("no model")


def _or_nan(call: Any) -> float:
    try:
        return float(call())
    except ValueError:
        return float("nan")


def scale(field: str, values: dict[str, Any], temperature: Any) -> Any:
    """What the error of `field` is measured against."""
    size = np.abs(values[field])
    if field.endswith(("enthalpy", "internal_energy")):
        return np.maximum(size, values["latent_heat"])
    if field.endswith("entropy"):
        return np.maximum(size, values["latent_heat"] / temperature)
    return size


def errors(fluid: Fluid, temperature: Any) -> dict[str, Any]:
    """Error of every field at each temperature; NaN outside the range of a transport model."""
    exact = reference(fluid, temperature)
    found = {}
    for field, values in zip(FIELDS, fluid.saturated(temperature, *FIELDS), strict=True):
        error = np.abs(values - exact[field]) / scale(field, exact, temperature)
        low, high = fluid.table.origin["transport_ranges"].get(field, (0.0, np.inf))
        found[field] = np.where((temperature >= low) & (temperature <= high), error, np.nan)
    return found


def sample(fluid: Fluid, low: float, high: float, number: int, seed: int = 0) -> Any:
    """Random temperatures, dense near the critical point (uniform in the table's own axis), and the ends."""
    ends = np.sqrt(1.0 - np.array([low, high]) / fluid.critical_temperature)
    inside = np.random.default_rng(seed).uniform(ends[1], ends[0], number - 2)
    return np.sort(np.r_[low, high, fluid.critical_temperature * (1.0 - inside**2)])


def coldest(fluid: Fluid) -> float:
    """Where the comparison begins [K]."""
    return max(fluid.triple_temperature, COLDEST if fluid.critical_temperature > 200.0 else 0.0)


def worst_errors(name: str, number: int, seed: int = 0) -> list[Worst]:
    """Worst error of every field of a fluid from `number` temperatures below and as many near critical."""
    fluid = Fluid(name)
    split = NEAR_CRITICAL * fluid.critical_temperature
    parts = []
    for low, high in ((coldest(fluid), split), (split, fluid.highest_temperature)):
        temperature = sample(fluid, low, high, number, seed)
        parts.append({field: _worst(temperature, e) for field, e in errors(fluid, temperature).items()})
    return [Worst(name, field, *parts[0][field], *parts[1][field]) for field in FIELDS]


def _worst(temperature: Any, error: Any) -> tuple[float, float]:
    if np.isnan(error).all():
        return float("nan"), float("nan")
    where = int(np.nanargmax(error))
    return float(error[where]), float(temperature[where])


def main() -> None:
    """Write the table."""
    with FILE.open("w", encoding="utf-8", newline="") as stream:
        stream.write(
            f"# Worst error of the shipped tables against CoolProp {CoolProp.__version__}, by field\n"
        )
        stream.write(
            "# from the higher of the triple point and 150 K to 0.98 T_c, then to the end of the table;\n"
            "# methane and nitrogen from the triple point; 1,3-butadiene, methylamine and propylene oxide\n"
            "# against equations fitted here\n"
        )
        stream.write(
            "# empty: no model in CoolProp, or not used, or its range ends before; made by "
            "tests/fluid_accuracy.py\n"
        )
        writer = csv.writer(stream, lineterminator="\n")
        header = "error", "temperature_K", "error_near_critical", "temperature_near_critical_K"
        writer.writerow(("fluid", "field", *header))
        for name in SUBSTANCES:
            number = 4000 if SUBSTANCES[name].coolprop_name else 400  # extended precision is slow
            for row in worst_errors(name, number):
                numbers = [
                    "" if np.isnan(x) else f"{x:.1e}" if i % 2 == 0 else f"{x:.2f}"
                    for i, x in enumerate(row[2:])
                ]
                writer.writerow((row.fluid, row.field, *numbers))


if __name__ == "__main__":
    main()
