"""The two-phase models against measured flashing flow of water: flux of each model at every measured state.

``python tests/flashing_flow.py`` writes ``docs/flashing_flow.csv``; a test holds the file to the models.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import CoolProp
import numpy as np
from published_tables import read_table

from lpgrelease.release.non_equilibrium import equilibrium_rate_flux, length_relaxed_flux
from lpgrelease.release.omega import omega_flow, omega_from_properties

FILE = Path(__file__).parents[1] / "docs" / "flashing_flow.csv"
MODELS = ("homogeneous_equilibrium", "omega", "length", "frozen")
NOZZLE_LENGTH = 0.166
BACK_PRESSURE = 1e5
HEADER = (
    "# Mass flux of flashing water [kg/m2/s], measured (tests/published/flashing_flow_marviken.csv)",
    "# and by each model without a discharge coefficient; properties of water from CoolProp",
    "# made by tests/flashing_flow.py",
)


def state_at(temperature: float, pressure: float) -> dict[str, Any]:
    """Water at rest: subcooled at `temperature`, or saturated at `pressure` if that is lower."""
    water = CoolProp.AbstractState("HEOS", "Water")
    water.update(CoolProp.PQ_INPUTS, pressure, 0.0)
    t = min(temperature, water.T())
    saturated = {}
    for quality, phase in ((0.0, "liquid"), (1.0, "vapor")):
        water.update(CoolProp.QT_INPUTS, quality, t)
        saturated |= {
            f"{phase}_density": water.rhomass(),
            f"{phase}_enthalpy": water.hmass(),
            f"{phase}_heat_capacity": water.cpmass(),
        }
    saturated["saturation_pressure"] = water.p()
    if pressure > saturated["saturation_pressure"] * 1.0001:
        water.update(CoolProp.PT_INPUTS, pressure, t)
    else:
        water.update(CoolProp.QT_INPUTS, 0.0, t)
    return saturated | {
        "temperature": t,
        "latent_heat": saturated["vapor_enthalpy"] - saturated["liquid_enthalpy"],
        "density": water.rhomass(),
        "enthalpy": water.hmass(),
        "entropy": water.smass(),
    }


def equilibrium(pressure: float, at: dict[str, Any]) -> float:
    """Largest flux along the isentrope, to 1e-4: the fine grid finds the corner where boiling begins."""
    water = CoolProp.AbstractState("HEOS", "Water")

    def flux(x: float) -> float:
        water.update(CoolProp.PSmass_INPUTS, x, at["entropy"])
        return float(water.rhomass() * np.sqrt(2.0 * max(at["enthalpy"] - water.hmass(), 0.0)))

    coarse = pressure * np.linspace(1.0, 0.5, 200)
    best = coarse[int(np.argmax([flux(x) for x in coarse]))]
    fine = np.minimum(best + (coarse[1] - coarse[0]) * np.linspace(-1.0, 1.0, 201), pressure)
    return max(flux(x) for x in fine)


def fluxes(temperature: float, pressure: float) -> tuple[float, ...]:
    """Flux of every model in `MODELS`."""
    at = state_at(temperature, pressure)
    names = ("liquid_density", "vapor_density", "latent_heat", "liquid_heat_capacity")
    properties = {name: at[name] for name in names}
    p_s = min(at["saturation_pressure"], pressure)
    omega = omega_from_properties(at["temperature"], saturation_pressure=p_s, **properties)
    reduced = omega_flow(
        omega, pressure=pressure, density=at["density"], saturation_pressure=p_s, back_pressure=BACK_PRESSURE
    )
    rate = equilibrium_rate_flux(at["temperature"], **properties)
    short, _ = length_relaxed_flux(
        rate,
        length=np.float64(NOZZLE_LENGTH),
        liquid_density=np.float64(at["density"]),
        pressure=np.float64(pressure),
        saturation_pressure=np.float64(p_s),
        back_pressure=np.float64(BACK_PRESSURE),
    )
    frozen = np.sqrt(2.0 * at["density"] * (pressure - BACK_PRESSURE))
    return equilibrium(pressure, at), float(reduced.flux), float(short), float(frozen)


def rows() -> list[list[str]]:
    """One row per measurement: test, pressure [kPa], measured flux, flux of each model."""
    table = []
    for row in read_table("flashing_flow_marviken").rows:
        pressure = float(row["pressure_kPa"]) * 1e3
        models = fluxes(float(row["water_temperature_C"]) + 273.15, pressure)
        table.append(
            [row["test"], row["pressure_kPa"], row["mass_flux_kg_m2_s"], *(f"{flux:.0f}" for flux in models)]
        )
    return table


def main() -> None:
    """Write the file."""
    with FILE.open("w", encoding="utf-8", newline="") as stream:
        stream.write("\n".join(HEADER) + "\n")
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(["test", "pressure_kPa", "measured", *MODELS])
        writer.writerows(rows())


if __name__ == "__main__":
    main()
