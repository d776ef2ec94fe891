"""Clouds beside printed curves, worked examples, another make of monitor and field trials."""

from __future__ import annotations

import csv
import math
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
from published_tables import PublishedTable

import lpgrelease as lr
from lpgrelease.cloud import britter_mcquaid_plume, sensor_correction_factor
from lpgrelease.cloud.dense import RATIOS, plume_curve_britter_mcquaid
from lpgrelease.cloud.plume import gaussian_concentration, plume_spread_briggs

from .base import Comparison, Point

TOPIC = "cloud"
CLASSES = "ABCDEF"
TRIALS = Path(__file__).parents[2] / "docs" / "cloud_trials.csv"


def _stability(table: PublishedTable) -> Iterator[Point]:
    """Classes as numbers, A = 1 to F = 6; a cell that names two is a span."""
    for row in table.rows:
        weather = lr.Weather(
            wind_speed=float(row["wind_m_s"]),
            solar_irradiance=float(row["sun_W_m2"]),
            cloud_cover=float(row["cloud_percent"]) / 100.0,
        )
        ends = [CLASSES.index(letter) + 1.0 for letter in row["classes"].split("-")]
        ours = CLASSES.index(str(lr.pasquill_class(weather))) + 1.0
        upper = ends[-1] if ends[-1] != ends[0] else None
        yield Point(row["sky"], ends[0], ours, 0.0, f"{row['wind_m_s']} m/s", upper=upper)


def _urban(column: str, index: int) -> Callable[[PublishedTable], Iterator[Point]]:
    def find(table: PublishedTable) -> Iterator[Point]:
        for row in table.rows:
            at = np.array(CLASSES.index(row["class"]))
            ours = plume_spread_briggs(np.float64(row["x_m"]), at, site="urban")[index]
            printed = float(row[column])
            yield Point(f"class {row['class']}", printed, float(ours), 5e-4 * printed, f"{row['x_m']} m")

    return find


def _turner(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        ours = gaussian_concentration(
            float(row["rate_g_s"]),
            float(row["wind_m_s"]),
            lateral_spread=float(row["sigma_y_m"]),
            vertical_spread=float(row["sigma_z_m"]),
        )
        printed = float(row["concentration_g_m3"])
        yield Point("problem 1", printed, float(ours), 0.01 * printed)


def _dense_example(table: PublishedTable) -> Iterator[Point]:
    (row,) = table.rows
    g = {name: float(text) for name, text in row.items()}
    flow = g["liquid_m3_s"] * g["liquid_kg_m3"] / g["vapor_kg_m3"]
    plume = britter_mcquaid_plume(
        g["percent"] / 100.0,
        volume_flow=flow,
        density=g["vapor_kg_m3"],
        wind_speed=g["wind_m_s"],
        temperature=g["T_K"],
        air_temperature=g["T_air_K"],
        air_density=1.224,  # air of the example, from memory
    )
    for label, column, ours, allowed in (
        ("vapor [m³/s]", "q0_m3_s", flow, 0.002 * g["q0_m3_s"]),
        ("reduced gravity [m/s²]", "g0_m_s2", plume.reduced_gravity, 0.1),
        ("length of the source [m]", "length_m", plume.source_length, 0.005),
        ("corrected fraction", "corrected", plume.corrected_fraction, 5e-4),
        ("scaled distance", "scaled", plume.scaled_distance, 0.03 * g["scaled"]),
        ("distance [m]", "distance_m", plume.distance, 0.03 * g["distance_m"]),
    ):
        yield Point(label, g[column], float(ours), allowed)


def _dense_curves(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        curve = int(np.flatnonzero(float(row["ratio"]) == RATIOS)[0])
        ours = float(plume_curve_britter_mcquaid(np.float64(row["alpha"]))[curve])
        yield Point(f"ratio {row['ratio']}", float(row["beta"]), ours, 0.01, f"alpha {row['alpha']}")


def _monitors(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        other = float(row["setting_percent"]) / 20.0
        ours = float(sensor_correction_factor(lr.Fluid(row["fluid"]), "methane"))
        yield Point(row["fluid"], other, ours, 0.15 * other)


def _trials(gas: str) -> Callable[[PublishedTable], Iterator[Point]]:
    """From the file that a test holds to the model."""

    def find(_table: PublishedTable) -> Iterator[Point]:
        with TRIALS.open(encoding="utf-8", newline="") as stream:
            for row in csv.DictReader(stream):
                if row["gas"] == gas:
                    seen, ours = float(row["observed, %"]), float(row["computed, %"])
                    yield Point(row["trial"], seen, ours, math.nan, f"{row['distance, m']} m")

    return find


COMPARISONS = (
    Comparison(
        "cloud_stability_pasquill", TOPIC, "stability class", "A = 1 to F = 6", "pasquill_class", _stability
    ),
    *(
        Comparison(
            "cloud_spread_briggs_urban",
            TOPIC,
            f"{what} spread over a town",
            "m",
            "flammable_reach",
            _urban(column, i),
        )
        for i, (what, column) in enumerate((("lateral", "sigma_y_m"), ("vertical", "sigma_z_m")))
    ),
    Comparison("cloud_plume_turner", TOPIC, "concentration in a plume", "g/m³", "flammable_reach", _turner),
    Comparison(
        "cloud_dense_example",
        TOPIC,
        "heavy gas, step by step",
        "its own",
        "cloud.britter_mcquaid_plume",
        _dense_example,
    ),
    Comparison(
        "cloud_dense_curves", TOPIC, "curves of heavy gas", "β", "cloud.britter_mcquaid_plume", _dense_curves
    ),
    Comparison(
        "cloud_monitor_manual", TOPIC, "factor of a monitor", "-", "cloud.sensor_correction_factor", _monitors
    ),
    *(
        Comparison(
            "cloud_field_trials",
            TOPIC,
            f"{gas} in field trials",
            "% by volume",
            "flammable_reach",
            _trials(gas),
            "measured",
        )
        for gas in ("methane", "propane", "ammonia")
    ),
)
