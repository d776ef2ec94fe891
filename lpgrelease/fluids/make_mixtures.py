"""Remake the data of mixtures: ``python -m lpgrelease.fluids.make_mixtures`` (extra `fit`).

Reads critical constants from chemicals, interaction parameters from thermo, densities and ideal-gas heat
capacities from CoolProp's reference equations, and writes ``data/mixture_components.csv`` and
``data/interaction_parameters.csv``.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path
from typing import Any

import numpy as np

from lpgrelease.fluids.cubic import Cubic, volume_root
from lpgrelease.fluids.mixture import (
    HEAT_CAPACITY_POWERS,
    HEAT_CAPACITY_SCALE,
    translation_terms,
)
from lpgrelease.summing import add_rows

COMPONENTS = {
    "methane": "Methane",
    "ethane": "Ethane",
    "ethylene": "Ethylene",
    "propane": "n-Propane",
    "propylene": "Propylene",
    "n-butane": "n-Butane",
    "isobutane": "IsoButane",
    "1-butene": "1-Butene",
    "isobutene": "IsoButene",
    "n-pentane": "n-Pentane",
    "isopentane": "Isopentane",
    "n-hexane": "n-Hexane",
    "nitrogen": "Nitrogen",
}
HIGHEST_FITTED = 0.95
"""Of the critical temperature: liquid densities are fitted up to here."""
HEAT_CAPACITY_RANGE = (100.0, 500.0)
DATA = Path(__file__).parent.parent / "data"


def _component(name: str, coolprop_name: str) -> dict[str, Any]:
    import chemicals
    from CoolProp.CoolProp import PropsSI

    cas = chemicals.CAS_from_any(name)
    t_c, p_c, omega = chemicals.Tc(cas), chemicals.Pc(cas), chemicals.omega(cas)
    lowest = PropsSI("Ttriple", coolprop_name)
    t = np.linspace(max(lowest, 0.35 * t_c), HIGHEST_FITTED * t_c, 121)
    p, density = (
        np.array([PropsSI(key, "T", each, "Q", 0, coolprop_name) for each in t]) for key in ("P", "Dmolar")
    )
    eos = Cubic.from_constants(np.array([t_c]), np.array([p_c]), np.array([omega]), np.zeros((1, 1)))
    attraction = (eos.attraction * (1.0 + eos.slope * (1.0 - np.sqrt(t / t_c))) ** 2)[0]
    v = volume_root(t, p, add_rows(eos.covolume * np.ones_like(t)), attraction, 0)
    terms = np.array(translation_terms(t / t_c))
    translation = np.linalg.lstsq((terms * density).T, (v - 1.0 / density) * density, rcond=None)[0]
    t = np.linspace(*HEAT_CAPACITY_RANGE, 201)
    lowest_gas = max(HEAT_CAPACITY_RANGE[0], PropsSI("Tmin", coolprop_name))
    t = t[t >= lowest_gas]
    heat = np.array([PropsSI("CP0MOLAR", "T", each, "P", 100.0, coolprop_name) for each in t])
    series = np.polynomial.Chebyshev.fit(t / HEAT_CAPACITY_SCALE, heat, HEAT_CAPACITY_POWERS - 1)
    power = series.convert(kind=np.polynomial.Polynomial).coef
    worst = np.max(np.abs(np.polynomial.Polynomial(power)(t / HEAT_CAPACITY_SCALE) / heat - 1.0))
    print(
        f"{name}: heat capacity to {worst:.1e}, density to "
        f"{np.max(np.abs(density * (v - translation @ terms) - 1.0)):.1e}",
        file=sys.stderr,
    )
    return {
        "name": name,
        "cas": cas,
        "molar_mass": PropsSI("M", coolprop_name),
        "critical_temperature": t_c,
        "critical_pressure": p_c,
        "acentric_factor": omega,
        "triple_temperature": lowest,
        **{f"translation_{i}": f"{value:.9e}" for i, value in enumerate(translation)},
        **{f"heat_capacity_{i}": f"{value:.12e}" for i, value in enumerate(power)},
    }


def main() -> None:
    """Write both files."""
    import CoolProp
    import thermo
    from thermo.interaction_parameters import IPDB

    rows = [_component(*item) for item in COMPONENTS.items()]
    header = [
        "# Components of mixtures; remade by python -m lpgrelease.fluids.make_mixtures.",
        "# molar_mass [kg/mol], triple_temperature [K]: reference equations of state, CoolProp "
        + CoolProp.__version__,
        "# critical_temperature [K], critical_pressure [Pa], acentric_factor: chemicals "
        + __import__("chemicals").__version__,
        "# translation [m3/mol]: q0 to q3 of c(T) in lpgrelease.fluids.mixture, to saturated liquid density",
        "#   of the reference equations up to 0.95 Tc.",
        f"# heat_capacity [J/mol/K]: of the ideal gas, sum of c_k (T/{HEAT_CAPACITY_SCALE:g} K)^k,",
        "#   100 to 500 K, to the reference equations.",
    ]
    _write(DATA / "mixture_components.csv", header, rows)
    pairs = []
    for i, first in enumerate(rows):
        for second in rows[i + 1 :]:
            cas = [first["cas"], second["cas"]]
            if IPDB.has_ip_specific("ChemSep PR", cas, "kij"):
                k = IPDB.get_ip_specific("ChemSep PR", cas, "kij")
                pairs.append({"first": first["name"], "second": second["name"], "k": k})
    header = [
        "# Interaction parameters k_ij of the Peng-Robinson equation; remade by "
        "python -m lpgrelease.fluids.make_mixtures.",
        f'# Table "ChemSep PR" of thermo {thermo.__version__} (kooijman2016chemsep).',
    ]
    _write(DATA / "interaction_parameters.csv", header, pairs)


def _write(path: Path, header: list[str], rows: list[dict[str, Any]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as stream:
        stream.writelines(line + "\n" for line in header)
        writer = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main()
