"""Figures and numbers of the page on the ground, worked out when the documentation is built."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path
from typing import Any

import matplotlib.pyplot as plt
import numpy as np

import lpgrelease as lr
from lpgrelease.ground.boiling import BoilingLiquid, boiling_flux, film_flux_klimenko

PROPANE = lr.Fluid("propane")
BOILING = 231.0
WARM = 293.15
DAY = 86400.0
TRIALS = Path(__file__).parents[1] / "tests" / "published" / "boiling_on_water.csv"


def _ground(name: str, **more: Any) -> lr.Ground:
    return lr.Ground.named(name, temperature=WARM, **more)


@cache
def _four_days(radius: float | None = None) -> Any:
    return lr.ground_history(_ground("wet sand"), temperature=BOILING, duration=4 * DAY, radius=radius)


@cache
def _second_spill(name: str) -> Any:
    road = _ground("asphalt", thickness=0.06, below=_ground("gravel", thickness=0.3, below=_ground("loam")))
    return lr.ground_history(
        road if name == "road" else _ground(name),
        temperature=[BOILING, WARM, BOILING],
        duration=[3600.0, 3600.0, 3600.0],
        conductance=[None, 15.0, None],
    )


def ground_second_spill() -> Any:
    """An hour of cold, an hour bare, an hour of cold: heat and surface temperature."""
    figure, (left, right) = plt.subplots(1, 2, figsize=(8.4, 3.6), layout="constrained")
    for name in ("moist sand", "dry sand", "road"):
        h = _second_spill(name)
        left.plot(h.time / 3600.0, h.heat_flux / 1e3, label=name)
        right.plot(h.time / 3600.0, h.surface_temperature - 273.15, label=name)
    left.set(xlabel="time [h]", ylabel="heat flux [kW/m²]", ylim=(-1, 8))
    right.set(xlabel="time [h]", ylabel="surface of the ground [°C]")
    left.legend(fontsize=9)
    return figure


def ground_sides() -> Any:
    """Heat from the sides of pools on wet sand, as a multiple of that from straight below."""
    figure, ax = plt.subplots(figsize=(7.2, 3.8), layout="constrained")
    for radius in (0.5, 1.0, 2.0, 5.0):
        h = _four_days(radius)
        shown = h.time > 60.0
        ax.semilogx(
            h.time[shown] / 3600.0,
            (1.0 + h.side_heat_flux / h.heat_flux)[shown],
            label=f"radius {radius:g} m",
        )
    ax.set_xticks([0.03, 0.1, 0.3, 1, 3, 10, 30, 96], ["0.03", "0.1", "0.3", "1", "3", "10", "30", "96"])
    ax.minorticks_off()
    ax.set(xlabel="time since contact [h]", ylabel="all heat / heat from straight below")
    ax.legend(fontsize=9)
    return figure


def boiling_curve() -> Any:
    """Heat flux into boiling propane against how much warmer the surface is."""
    figure, ax = plt.subplots(figsize=(7.2, 3.8), layout="constrained")
    difference = np.geomspace(0.3, 110.0, 400)
    T = np.full_like(difference, BOILING)
    flux, exponent = boiling_flux(PROPANE, T, T + difference)
    for label, chosen in (
        ("convection", (exponent > 1.0) & (exponent < 2.0)),
        ("bubbles", exponent > 2.0),
        ("film breaking", exponent < 0.0),
        ("film", (exponent > 0.0) & (exponent < 1.0)),
    ):
        ax.loglog(difference[chosen], flux[chosen] / 1e3, label=label)
    film = difference > 40.0
    other = film_flux_klimenko(BoilingLiquid.prepare(PROPANE, T, T + difference), difference)
    ax.loglog(difference[film], other[film] / 1e3, "k:", lw=1.2, label="film, the other correlation")
    ax.set_xticks([0.5, 1, 2, 5, 10, 20, 50, 100], ["0.5", "1", "2", "5", "10", "20", "50", "100"])
    ax.set_yticks([0.1, 1, 10, 100], ["0.1", "1", "10", "100"])
    ax.minorticks_off()
    ax.set(xlabel="surface above the liquid [K]", ylabel="heat flux [kW/m²]")
    ax.legend(fontsize=9)
    return figure


def numbers() -> dict[str, str]:
    """Numbers that the page states."""
    touch = lr.ground_history(_ground("wet sand"), temperature=BOILING, duration=3600.0)
    boils = lr.ground_history(_ground("wet sand"), temperature=BOILING, duration=3600.0, fluid=PROPANE)
    part = np.interp([60.0, 3600.0], touch.time, boils.heat / touch.heat)
    less = 1.0 - part
    late = _four_days(1.0)
    h = _second_spill("moist sand")
    again = (h.heat[-1] - h.heat[159]) / h.heat[79]
    worst = max(
        _column_error(name) for name in ("dry sand", "moist sand", "wet sand", "wet clay", "concrete")
    )
    return {
        "ground_boiling_minute": f"{less[0] * 100:.0f} %",
        "ground_boiling_hour": f"{less[1] * 100:.0f} %",
        "ground_sides_late": f"{1.0 + late.side_heat_flux[-1] / late.heat_flux[-1]:.1f}",
        "ground_second": f"{again * 100:.0f} %",
        "ground_column_error": f"{worst * 100:.2f} %",
    }


def _column_error(name: str) -> float:
    """Largest error of the flux from a minute to four days, against the exact solution."""
    ground = _ground(name)
    A = ground.heat_coefficient(BOILING)
    h = lr.ground_history(ground, temperature=BOILING, duration=4 * DAY)
    late = np.arange(h.time.size) >= 20
    return float(np.max(np.abs(h.heat_flux * np.sqrt(h.time) / A - 1.0)[late]))


def on_water() -> list[tuple[str, str, str, str]]:
    """Trials on water against the film: liquid, kW/m2 seen, kW/m2 computed, source."""
    lines = [line for line in TRIALS.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    rows = []
    for row in csv.DictReader(lines):
        fluid = lr.Fluid(row["liquid"])
        flux, _ = boiling_flux(fluid, np.array(fluid.normal_boiling_point), np.array(WARM))
        low, high = row["low_kW_m2"], row["high_kW_m2"]
        seen = low if low == high else f"{low} to {high}"
        rows.append((row["liquid"], seen, f"{float(flux) / 1e3:.0f}", row["source"]))
    return rows
