"""Measured blowdowns: tanks of nitrous oxide drained of liquid, beside `tank_history`."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from published_tables import PublishedTable, si

import lpgrelease as lr

from .base import Comparison, Point

TANK = "tanks"
INCH = 0.0254
PSI = si(1.0, "psi", "Pa")
PARTS = ((2.5, 0.5), (3.0, 0.75), (3.625, 37.125), (3.0, 0.75), (2.5, 0.875))
"""Diameters and lengths [in] of the first tank, one cylinder upon another."""
FILL = 0.9
RUN_OUT = {"waterloo": 395.1, "stanford": 2419.75}
"""When the last liquid left [s]."""
OPENED, DIP = 2413.0, 1.5
"""When the second tank's valve opened, and how long the pressure dips and comes back [s]."""
BEFORE, ZERO_TANK, ZERO_MANIFOLD, AIR = 676.0, 8.9, 10.9, 14.7
"""Of the second tank [psi]: its reading before, what its gauges read in the air, and the air's pressure."""


def drained(volume: float, diameter: float, start: float) -> lr.tank.TankHistory:
    """Until the last liquid has left, without heat from outside or from a wall.

    Pressure against the share of mass or of time hangs neither on the opening nor on the tank's size.
    """
    fluid = lr.Fluid("nitrous oxide")
    length = volume / (0.25 * math.pi * diameter**2)
    tank = lr.VerticalTank(diameter=diameter, length=length, heads="flat", heat_transfer=0.0)
    warm = fluid.saturation(pressure=start).temperature
    contents = lr.Contents(tank, fluid, fill=FILL, temperature=warm)
    return lr.tank_history(contents, openings=[lr.Opening(diameter=0.006)], duration=600.0, points=201)


def by_mass(table: PublishedTable) -> Iterator[Point]:
    """Pressure against the share of the liquid that has left, the mass being measured."""
    before, *rows = table.rows
    air = 14.383
    volume = math.fsum(0.25 * math.pi * d**2 * length for d, length in PARTS) * INCH**3
    history = drained(volume, 3.625 * INCH, (float(before["pressure_psig"]) + air) * PSI)
    while_liquid = [row for row in rows if float(row["time_s"]) <= RUN_OUT["waterloo"]]
    mass = np.array([float(row["mass_lb"]) for row in while_liquid])
    left = (mass[0] - mass) / (mass[0] - mass[-1])
    ours = np.interp(left, history.mass_released[0] / history.mass_released[0, -1], history.pressure) / PSI
    for row, value in zip(while_liquid, ours, strict=True):
        published = float(row["pressure_psig"]) + air
        yield Point("beside the mass that left", published, float(value), math.nan, f"{row['time_s']} s")


def by_time(table: PublishedTable) -> Iterator[Point]:
    """Pressure against the share of the time until the last liquid leaves."""
    history = drained(6.7e-3, 3.75 * INCH, (BEFORE - ZERO_TANK + AIR) * PSI)
    for row in table.rows:
        time = float(row["time_us"]) / 1e6
        share = (time - OPENED) / (RUN_OUT["stanford"] - OPENED)
        if time < OPENED + DIP or share > 1.001:
            continue
        published = float(row["manifold_psi"]) - ZERO_MANIFOLD + AIR
        ours = float(np.interp(share, history.time / history.time[-1], history.pressure)) / PSI
        yield Point("beside the time", published, ours, math.nan, f"{time - OPENED:.2f} s")


COMPARISONS = (
    Comparison(
        "tank_blowdown_waterloo", TANK, "pressure, liquid leaving", "psi", "tank_history", by_mass, "measured"
    ),
    Comparison(
        "tank_blowdown_stanford", TANK, "pressure, liquid leaving", "psi", "tank_history", by_time, "measured"
    ),
)
