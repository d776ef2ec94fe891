"""Bubble and dew points of CoolProp's mixture model: ``python tests/blend_reference.py`` writes them.

They are drawn and compared on the page on blends, which is built without CoolProp; a test holds the file to
CoolProp. The model is that of kunz2012gerg with reference equations for the pure ends.
"""

from __future__ import annotations

import csv
from pathlib import Path

import CoolProp
import numpy as np

from lpgrelease.fluids.make_mixtures import COMPONENTS

TARGET = Path(__file__).parents[1] / "docs" / "blend_reference.csv"
FIELDS = ("first", "second", "temperature", "x", "bubble_pressure", "y", "liquid_density", "dew_pressure")
PAIRS = {
    ("propane", "n-butane"): (230.0, 260.0, 293.15, 323.15),
    ("propane", "isobutane"): (230.0, 260.0, 293.15, 323.15),
    ("propane", "propylene"): (230.0, 260.0, 293.15, 323.15),
    ("ethane", "propane"): (200.0, 230.0, 260.0, 285.0),
}
FRACTIONS = (0.05, 0.2, 0.35, 0.5, 0.65, 0.8, 0.95)


def reference(first: str, second: str, temperature: float, x: float) -> dict[str, float]:
    """Bubble point of mole fraction x of `first`, and the dew pressure of a vapor of the same fraction."""
    model = CoolProp.AbstractState("HEOS", f"{COMPONENTS[first]}&{COMPONENTS[second]}")
    model.set_mole_fractions([x, 1.0 - x])
    model.update(CoolProp.QT_INPUTS, 0.0, temperature)
    row = {
        "bubble_pressure": model.p(),
        "y": model.mole_fractions_vapor()[0],
        "liquid_density": model.rhomass(),
    }
    try:
        model.update(CoolProp.QT_INPUTS, 1.0, temperature)
        row["dew_pressure"] = model.p()
    except ValueError:  # its search fails now and then
        row["dew_pressure"] = np.nan
    return row


def rows() -> list[dict[str, object]]:
    """All rows of the file."""
    return [
        {"first": a, "second": b, "temperature": t, "x": x}
        | {key: f"{value:.7g}" for key, value in reference(a, b, t, x).items()}
        for (a, b), temperatures in PAIRS.items()
        for t in temperatures
        for x in FRACTIONS
    ]


def main() -> None:
    """Write the file."""
    with TARGET.open("w", encoding="utf-8", newline="") as stream:
        stream.write(
            f"# Bubble and dew points of CoolProp {CoolProp.__version__}, backend HEOS (kunz2012gerg)\n"
        )
        stream.write(
            "# temperature [K], mole fractions x of the first in the liquid and y in its vapor, pressures\n"
        )
        stream.write(
            "# [Pa], liquid_density [kg/m3]; dew_pressure: of a vapor of fraction x; nan: not found\n"
        )
        stream.write("# made by tests/blend_reference.py\n")
        writer = csv.DictWriter(stream, FIELDS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows())


if __name__ == "__main__":
    main()
