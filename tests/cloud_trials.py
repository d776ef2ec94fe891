"""The cloud model beside trials: ``python tests/cloud_trials.py`` writes ``docs/cloud_trials*.csv``.

The trials are those of ``tests/published/cloud_field_trials.csv``. Propane and ammonia go through the public
calls; methane is no fluid of the library, so its trials are marched with the model's own parts.
"""

from __future__ import annotations

import csv
import io
import math
from pathlib import Path

import numpy as np
from published_tables import read_table

from lpgrelease.cloud import GasSource, flammable_reach
from lpgrelease.cloud.march import DEPTH_OF_SPREAD, CloudProblem, march
from lpgrelease.cloud.mixing import Mixer
from lpgrelease.cloud.plume import LATERAL, VERTICAL, averaging_factor
from lpgrelease.cloud.section import crosswind_profile
from lpgrelease.cloud.stability import WindProfile
from lpgrelease.flashing import flash
from lpgrelease.fluids import Fluid
from lpgrelease.weather import AIR_MOLAR_MASS, Weather

DOCS = Path(__file__).parents[1] / "docs" / "cloud_trials.csv"
DOCS_STATISTICS = DOCS.with_name("cloud_trials_statistics.csv")
AVERAGING_TIME = 10.0
EVAPORATION = {"methane": 0.085, "propane": 0.12}
"""On sea water [kg/m2/s]: tests/published/boiling_pool_on_water.csv. It gives the pool's size."""
METHANE = {"molar_mass": 0.016043, "heat_capacity": 2150.0, "boiling": 111.7}
JET_HEIGHT = 0.79


def wind_at_ten_meters(row: dict[str, str]) -> float:
    index = np.array("ABCDEF".index(row["class"]))
    profile = WindProfile.prepare(np.float64(1.0), index, np.array(float(row["roughness_m"])))
    return float(row["wind_m_s"]) / (float(row["wind_height_m"]) / 10.0) ** float(profile.exponent)


def pool_diameter(row: dict[str, str]) -> float:
    return math.sqrt(4.0 / math.pi * float(row["rate_kg_s"]) / EVAPORATION[row["gas"]])


def served_gas(row: dict[str, str]) -> float:
    """Mole fraction at the sensor, through the public calls."""
    fluid, rate = Fluid(row["gas"]), float(row["rate_kg_s"])
    weather = Weather(
        air_temperature=float(row["air_K"]),
        wind_speed=wind_at_ten_meters(row),
        relative_humidity=float(row["humidity"]),
        ambient_pressure=float(row["pressure_Pa"]),
        stability=row["class"],
    )
    if row["orifice_m"]:
        inside = float(row["storage_K"])
        flux = rate / (math.pi / 4.0 * float(row["orifice_m"]) ** 2)
        state = flash(fluid, temperature=inside, ambient_pressure=float(row["pressure_Pa"]))
        source = GasSource(
            mass_flow=rate,
            liquid_fraction=1.0 - state.vapor_fraction,
            velocity=flux / fluid.saturation(temperature=inside).liquid_density,
            height=JET_HEIGHT,
        )
    else:
        source = GasSource(mass_flow=rate, diameter=pool_diameter(row))
    cloud = flammable_reach(
        fluid,
        source,
        weather=weather,
        roughness=float(row["roughness_m"]),
        averaging_time=AVERAGING_TIME,
        fraction=0.02,
    )
    return float(cloud.mole_fraction(float(row["distance_m"]), height=float(row["sensor_m"])))


def methane(row: dict[str, str]) -> float:
    """Mole fraction at the sensor: cold vapor of methane from a pool."""
    one = np.ones(1)
    index = np.array(["ABCDEF".index(row["class"])])
    wind = WindProfile.prepare(one * wind_at_ten_meters(row), index, one * float(row["roughness_m"]))
    mixer = Mixer(
        fluid=None,
        molar_mass=METHANE["molar_mass"],
        heat_capacity=METHANE["heat_capacity"],
        temperature=one * METHANE["boiling"],
        liquid_fraction=0.0 * one,
        air_temperature=one * float(row["air_K"]),
        relative_humidity=one * float(row["humidity"]),
        pressure=one * float(row["pressure_Pa"]),
    )
    ratio = float(AIR_MOLAR_MASS) / METHANE["molar_mass"]
    problem = CloudProblem(
        mixer=mixer,
        wind=wind,
        lateral=LATERAL["open country"].at(index),
        vertical=VERTICAL["open country"].at(index),
        lateral_factor=averaging_factor(AVERAGING_TIME * one),
        mass_flow=one * float(row["rate_kg_s"]),
        velocity=0.0 * one,
        height=0.0 * one,
        half_width=0.5 * pool_diameter(row) * one + _upwind_spread(mixer, wind, float(row["rate_kg_s"])),
        end=np.log1p(ratio * (1.0 / 0.002 - 1.0)) * one,
    )
    track = march(problem)
    axis = crosswind_profile(np.zeros(1), track.half_width, track.edge_spread)
    at_sensor = float(row["sensor_m"]) * DEPTH_OF_SPREAD / track.depth
    field = axis * np.exp(-0.5 * at_sensor * at_sensor) / (1.0 + track.air_ratio / ratio)
    log = np.interp(float(row["distance_m"]), track.distance[:, 0], np.log(field[:, 0]))
    return float(np.exp(log))


def _upwind_spread(mixer: Mixer, wind: WindProfile, rate: float) -> np.ndarray:
    pure = mixer.mix(np.zeros(1), np.zeros(1)).density
    gravity = 9.80665 * (pure - mixer.air_density) / mixer.air_density
    return 4.0 * gravity * rate / pure / wind.speed**3


def compare_with_trials(rows: list[dict[str, str]]) -> np.ndarray:
    """Mole fraction computed for every row."""
    return np.array([methane(row) if row["gas"] == "methane" else served_gas(row) for row in rows])


def statistics(observed: np.ndarray, computed: np.ndarray) -> dict[str, float]:
    """Geometric mean bias MG and variance VG, observed over computed; share within a factor of two."""
    logs = np.log(observed / computed)
    return {
        "MG": float(np.exp(logs.mean())),
        "VG": float(np.exp((logs**2).mean())),
        "FAC2": float(np.mean(np.abs(logs) <= math.log(2.0))),
    }


def table() -> str:
    """The comparison as comma-separated text."""
    rows = read_table("cloud_field_trials").rows
    computed = compare_with_trials(rows)
    observed = np.array([float(row["observed_percent"]) for row in rows]) / 100.0
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["trial", "gas", "distance, m", "observed, %", "computed, %", "computed over observed"])
    for row, c, o in zip(rows, computed, observed, strict=True):
        cells = (
            row["trial"],
            row["gas"],
            row["distance_m"],
            f"{100 * o:.2f}",
            f"{100 * c:.2f}",
            f"{c / o:.2f}",
        )
        writer.writerow(cells)
    return text.getvalue()


def statistics_table() -> str:
    """MG, VG and FAC2 of every gas and of all, as comma-separated text."""
    rows = read_table("cloud_field_trials").rows
    computed = compare_with_trials(rows)
    observed = np.array([float(row["observed_percent"]) for row in rows]) / 100.0
    gases = np.array([row["gas"] for row in rows])
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["trials", "points", "MG", "VG", "FAC2"])
    for name in (*dict.fromkeys(gases), "all"):
        chosen = (gases == name) | (name == "all")
        found = statistics(observed[chosen], computed[chosen])
        writer.writerow([name, chosen.sum(), *(f"{found[key]:.2f}" for key in ("MG", "VG", "FAC2"))])
    return text.getvalue()


if __name__ == "__main__":
    DOCS.write_text(table(), encoding="utf-8")
    DOCS_STATISTICS.write_text(statistics_table(), encoding="utf-8")
