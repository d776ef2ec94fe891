"""Grounds and pools: conduction, soils, boiling on water, spread, evaporation."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from published_tables import PublishedTable

import lpgrelease as lr
from lpgrelease.ground.boiling import boiling_flux
from lpgrelease.pool.evaporate import mass_transfer_mackay_matsugu
from lpgrelease.pool.spread import spread_gravity_inertia

from .base import Comparison, Point

TOPIC = "ground"


def _conduction(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        k, alpha = float(row["conductivity_W_m_K"]), float(row["diffusivity_m2_s"])
        ground = lr.Ground(
            conductivity=k,
            density=2000.0,
            heat_capacity=k / alpha / 2000.0,
            temperature=float(row["T_ground_K"]),
        )
        flux = float(ground.heat_flux(float(row["T_pool_K"]), age=float(row["time_s"])))
        printed, rate = float(row["heat_flux_W_m2"]), float(row["evaporation_kg_s"])
        yield Point("heat flux [W/m²]", printed, flux, 0.01 * printed)
        boiled = flux * math.pi * float(row["radius_m"]) ** 2 / (float(row["latent_heat_kJ_kg"]) * 1e3)
        yield Point("evaporation [kg/s]", rate, boiled, 0.01 * rate)


NAMED_SOILS = {"dry sand": "sand", "moist sand": "sand", "wet sand": "sand", "wet clay": "clay"}


def _effusivities(table: PublishedTable) -> Iterator[Point]:
    """Named grounds inside the band of all rows whose material says the same word."""
    rows = [row for row in table.rows if row["density_kg_m3"]]
    keys = ("conductivity_W_m_K", "density_kg_m3", "heat_capacity_J_kg_K")
    for name, word in NAMED_SOILS.items():
        band = [math.sqrt(math.prod(float(r[k]) for k in keys)) for r in rows if word in r["material"]]
        ground = lr.Ground.named(name)
        ours = math.sqrt(float(ground.conductivity) * float(ground.volumetric_heat_capacity))
        yield Point(name, min(band), ours, 0.05 * ours, upper=max(band))


def _soils(table: PublishedTable) -> Iterator[Point]:
    """Named grounds in the row nearest to them in dry density and moisture; a quarter beside it will do."""
    for name, word in {"moist sand": "sand", "clay": "clay"}.items():
        ground = lr.Ground.named(name)
        wet = float(ground.water_mass_fraction)
        dry, moisture = float(ground.density) * (1.0 - wet), 100.0 * wet / (1.0 - wet)

        def distance(r: dict[str, str], dry: float = dry, moisture: float = moisture) -> float:
            off = float(r["moisture_percent"]) - moisture
            return abs(float(r["dry_density_kg_m3"]) - dry) / 300.0 + abs(off) / 5.0

        row = min((r for r in table.rows if r["soil"] == word), key=distance)
        low, high = (float(row[f"conductivity_{end}_W_m_K"]) for end in ("low", "high"))
        at = f"beside {row['dry_density_kg_m3']} kg/m³ dry, {row['moisture_percent']} % water"
        yield Point(name, low, float(ground.conductivity), 0.25 * low, at, upper=high)


def _on_water(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        fluid = lr.Fluid(row["liquid"])
        flux, _ = boiling_flux(fluid, np.array(fluid.normal_boiling_point), np.array(293.15))
        low, high = float(row["low_kW_m2"]), float(row["high_kW_m2"])
        label = f"{row['liquid']}, {row['source']}"
        yield Point(label, low, float(flux) / 1e3, math.nan, upper=None if high == low else high)


def _wind_share(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        printed = float(row["largest_share"])
        label = f"{row['liquid']} on {row['ground']}, wind {row['wind_m_s']} m/s"
        yield Point(label, printed, wind_share(row), math.nan)


def wind_share(row: dict[str, str]) -> float:
    """Share of the heat into a boiling pool in a hollow that wind and its moisture bring at a time."""
    fluid = lr.Fluid(row["liquid"])
    area, time = float(row["assumed_area_m2"]), float(row["time_s"])
    pool = lr.pool_history(
        fluid,
        lr.Spill(mass=80.0 * area, temperature=float(fluid.normal_boiling_point)),
        ground=lr.Ground.named(row["ground"]),
        site=lr.Hollow(area=area, depth=0.5),
        weather=lr.Weather(air_temperature=298.15, wind_speed=float(row["wind_m_s"]), solar_irradiance=0.0),
        duration=2.0 * time,
    )
    end = int(np.searchsorted(pool.time, time))
    parts = ("ground", "beside", "longwave", "sun", "air", "frost")
    heat = {part: float(np.diff(getattr(pool, f"heat_from_{part}"))[end]) for part in parts}
    return (heat["air"] + heat["frost"]) / sum(heat.values())


def _spread(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        V, t = float(row["volume_m3"]), float(row["time_s"])
        area, *_ = spread_gravity_inertia(
            np.zeros(()), np.array(V), np.array(V), minimum_depth=np.array(0.0), time_step=np.array(t)
        )
        printed = float(row["radius_m"])
        yield Point(f"{row['volume_m3']} m³", printed, math.sqrt(float(area) / math.pi), 0.005 * printed)


def _evaporation(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        ours = mass_transfer_mackay_matsugu(
            *(np.array(float(row[key])) for key in ("wind_m_s", "diameter_m", "schmidt"))
        )
        printed = float(row["k_m_s"])
        yield Point(f"wind {row['wind_m_s']} m/s", printed, float(ours), 0.01 * printed)


COMPARISONS = (
    Comparison(
        "boiling_pool_conduction", TOPIC, "LNG on concrete", "its own", "Ground.heat_flux", _conduction
    ),
    Comparison("ground_properties", TOPIC, "effusivity", "W s½/m²/K", "Ground.named", _effusivities),
    Comparison("soil_conductivity_ranges", TOPIC, "conductivity of soils", "W/m/K", "Ground.named", _soils),
    Comparison(
        "boiling_on_water",
        TOPIC,
        "boiling on water",
        "kW/m²",
        "ground.boiling.boiling_flux",
        _on_water,
        "measured",
    ),
    Comparison(
        "pool_wind_share",
        TOPIC,
        "share of heat that wind brings",
        "part",
        "pool_history",
        _wind_share,
        "measured",
    ),
    Comparison("pool_spread", TOPIC, "radius of a pool let go at once", "m", "pool_history", _spread),
    Comparison(
        "mass_transfer_mackay_matsugu", TOPIC, "mass transfer in wind", "m/s", "pool_history", _evaporation
    ),
)
