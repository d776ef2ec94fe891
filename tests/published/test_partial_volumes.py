"""Partial volumes and surfaces of vessels against printed values and an independent library."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import fluids
import numpy as np
import pytest

from lpgrelease.tank.heads import HEADS, Spheroid, segment_area
from lpgrelease.tank.shapes import HorizontalTank, SphericalTank, VerticalTank

HERE = Path(__file__).parent
LENGTHS = {"m": 1.0, "in": 0.0254}
VOLUMES = {"m3": 1.0, "gal": 231 * 0.0254**3}


def rows(name: str) -> list[dict[str, str]]:
    with (HERE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


@pytest.mark.parametrize("row", rows("partial_volumes.csv"))
def test_printed_partial_volumes(row):
    to_m = LENGTHS[row["length_unit"]]
    diameter, level = float(row["diameter"]) * to_m, float(row["level"]) * to_m
    if row["shape"] == "sphere":
        volume = SphericalTank(diameter=diameter).liquid_volume(level=level)
    elif float(row["head_depth"]) == float(row["diameter"]) / 4:
        tank = HorizontalTank(diameter=diameter, length=float(row["length"]) * to_m, heads=row["heads"])
        volume = tank.liquid_volume(level=level)
    else:  # elliptical heads of a depth that the tank does not offer: the same formulas, one floor down
        x, depth = level / diameter, float(row["head_depth"]) / float(row["diameter"])
        half = np.float64(min(x, 1 - x))
        heads, length = Spheroid(depth), float(row["length"]) / float(row["diameter"])
        below = length * segment_area(half) + heads.lying_volume(half)[0]
        total = length * math.pi / 4 + 2 * heads.volume
        volume = diameter**3 * (below if x <= 0.5 else total - below)
    expected = float(row["volume"]) * VOLUMES[row["volume_unit"]]
    assert float(volume) == pytest.approx(expected, rel=float(row["tolerance_percent"]) / 100)


@pytest.mark.parametrize("row", rows("tank_surface.csv"))
def test_printed_surface(row):
    diameter = float(row["diameter_m"])
    tank = HorizontalTank(diameter=diameter, length=float(row["length_m"]), heads=row["heads"])
    # 0.1 %: printed digits
    assert float(tank.surface_area) == pytest.approx(float(row["area_m2"]), rel=1e-3)
    assert HEADS[row["heads"]].area == pytest.approx(float(row["head_area_over_diameter_squared"]), rel=1e-3)


SIDES = {
    "flat": {},
    "elliptical": {"sideA": "ellipsoidal", "sideB": "ellipsoidal", "sideA_a": 0.6, "sideB_a": 0.6},
    "hemispherical": {"sideA": "spherical", "sideB": "spherical", "sideA_a": 1.2, "sideB_a": 1.2},
    "torispherical": {
        "sideA": "torispherical",
        "sideB": "torispherical",
        **dict.fromkeys(("sideA_f", "sideB_f"), 1.0),
        **dict.fromkeys(("sideA_k", "sideB_k"), 0.06),
    },
}


@pytest.mark.parametrize("heads", SIDES)
@pytest.mark.parametrize("make", [HorizontalTank, VerticalTank])
def test_against_an_independent_library(make, heads):
    # fluids integrates the lying heads with tolerances near 1e-8: hence 1e-7
    other = fluids.TANK(D=2.4, L=5.0, horizontal=make is HorizontalTank, **SIDES[heads])
    tank = make(diameter=2.4, length=5.0, heads=heads)
    assert float(tank.height) == pytest.approx(other.h_max, rel=1e-12)
    assert float(tank.volume) == pytest.approx(other.V_total, rel=1e-9)
    assert float(tank.surface_area) == pytest.approx(other.A, rel=1e-7)
    for fraction in (0.004, 0.03, 0.2, 0.5, 0.77, 0.99):
        level = fraction * other.h_max
        assert float(tank.liquid_volume(level=level)) == pytest.approx(other.V_from_h(level), rel=1e-7)
        assert float(tank.wetted_area(level=level)) == pytest.approx(other.SA_from_h(level), rel=1e-7)
