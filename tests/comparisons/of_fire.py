"""Fires beside worked examples, closed forms and fires in the field."""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable, Iterator

import numpy as np
from published_tables import PublishedTable, read_table, si

import lpgrelease as lr
from lpgrelease import burning
from lpgrelease.fire import jet, shape
from lpgrelease.fire.air import transmissivity_bagster, transmissivity_wayne, wayne_coefficients
from lpgrelease.fire.point import point_source_distance, point_source_flux
from lpgrelease.fire.view_factor import Flame, flame_area, view_factor, view_vector

from .base import Comparison, Point

TOPIC = "fire"
NAN = math.nan
ZERO = np.zeros(1)
BTU_H, FLUX, FOOT = si(1, "Btu/h", "W"), si(1, "Btu/h/ft**2", "W/m**2"), 0.3048
METHANE_HEAT, MONTOIR_FLUX, MONTOIR_DIAMETER = 50e6, 0.14, 35.0  # J/kg, kg/m2/s, m
RADIATED = float(inspect.signature(lr.pool_fire).parameters["radiated_fraction"].default)
"""Radiated fraction that the library takes where none is given."""


def _given(table: PublishedTable) -> dict[str, float]:
    return {row["quantity"]: float(row["value"]) for row in table.rows}


def _view_factors(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        R, H = 3.0, 3.0 * float(row["height_over_radius"])
        flame = Flame(ZERO, ZERO, ZERO + R, ZERO, ZERO + H, ZERO + R)
        x = ZERO + R * float(row["distance_over_radius"])
        level, _, up = view_vector(x, ZERO, ZERO, flame)
        at = f"H/R {row['height_over_radius']}, x/R {row['distance_over_radius']}"
        yield Point("vertical target", float(row["vertical"]), -float(level[0]), 6e-6, at)
        yield Point("horizontal target", float(row["horizontal"]), float(up[0]), 6e-6, at)
        largest = float(view_factor(x, ZERO, ZERO, flame)[0])
        yield Point("target turned to the most", float(row["largest"]), largest, 6e-6, at)


def _constants(table: PublishedTable) -> Iterator[Point]:
    served = burning.burning_constants()
    for row in table.rows:
        yield Point(
            row["fuel"], float(row["largest_flux_kg_m2s"]), float(served[row["fuel"]].largest_flux), 1e-12
        )


def _heats(table: PublishedTable) -> Iterator[Point]:
    """Of fuels that are, or mostly are, a fluid served, as burnt to vapor."""
    served = {"LNG": "methane", "LPG": "propane", "butane": "n-butane", "hexane": "n-hexane"}
    for row in table.rows:
        if row["fuel"] in served:
            printed = float(row["heat_of_combustion_MJ_kg"])
            ours = lr.Fluid(served[row["fuel"]]).heat_of_combustion / 1e6
            yield Point(row["fuel"], printed, ours, 0.02 * printed)


def _flame_length(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        D = float(row["diameter_m"])
        ours = float(shape.flame_length_thomas(0.099, D, 1.2)) / D
        yield Point(f"{row['diameter_m']} m", float(row["length_over_diameter"]), ours, 6e-4)


def _pool_example(table: PublishedTable) -> Iterator[Point]:
    """Each step from the printed values of the steps before it."""
    g = _given(table)
    heat, D = g["heat_of_combustion_kJ_kg"] * 1e3, g["dike_diameter_m"]
    sinking = float(burning.regression_rate_burgess(heat, 1e3 * g["heat_of_gasification_kJ_kg"]))
    flux = g["regression_m_s"] * g["liquid_density_kg_m3"]
    length = float(shape.flame_length_thomas(flux, D, g["air_density_kg_m3"]))
    path = math.hypot(0.5 * length, g["from_edge_m"] + 0.5 * D)
    tau = float(transmissivity_bagster(g["water_vapor_pressure_Pa"], path))
    power = g["radiated_fraction"] * flux * 0.25 * math.pi * D * D * heat
    steps = {
        "regression_m_s": (sinking, 0.01),
        "burning_flux_kg_m2_s": (flux, 0.01),
        "unconfined_diameter_m": (2.0 * math.sqrt(g["leak_m3_s"] / (math.pi * sinking)), 0.01),
        "flame_height_m": (length, 0.01),
        "path_m": (path, 0.01),
        "transmissivity": (tau, 0.01),
        "heat_flux_kW_m2": (tau * power / (4.0 * math.pi * path * path) / 1e3, 0.02),
    }
    for quantity, (ours, share) in steps.items():
        yield Point(quantity.replace("_", " "), g[quantity], ours, share * g[quantity])


def _flare_example(table: PublishedTable) -> Iterator[Point]:
    g = _given(table)
    power = g["radiated_fraction"] * g["heat_btu_h"] * BTU_H
    distance = float(point_source_distance(power, g["wanted_flux_btu_h_ft2"] * FLUX)) / FOOT
    stack = math.sqrt(distance**2 - (g["at_ft"] - g["center_x_ft"]) ** 2) - g["center_y_ft"]
    length = float(jet.flame_length_api(g["heat_btu_h"] * BTU_H)) / FOOT
    for quantity, ours, share in (
        ("flame_length_ft", length, 0.02),
        ("distance_to_center_ft", distance, 0.005),
        ("stack_ft", stack, 0.005),
    ):
        yield Point(quantity.replace("_", " "), g[quantity], ours, share * g[quantity])


def _flare_radiation(table: PublishedTable) -> Iterator[Point]:
    g = _given(read_table("fire_flare_example"))
    power = g["radiated_fraction"] * g["heat_btu_h"] * BTU_H
    for row in table.rows:
        across = float(row["x_ft"]) - g["center_x_ft"]
        distance = FOOT * math.hypot(across, g["stack_ft"] + g["center_y_ft"])
        printed = float(row["flux_btu_h_ft2"])
        ours = float(point_source_flux(power, distance)) / FLUX
        yield Point("point source", printed, ours, 0.005 * printed, f"{row['x_ft']} ft")


def _jet_flame(table: PublishedTable) -> Iterator[Point]:
    g = _given(table)
    velocity = g["mass_flow_kg_s"] / (g["gas_density_kg_m3"] * math.pi / 4 * g["diameter_m"] ** 2)
    froude = float(
        jet.flame_froude_number(
            velocity,
            g["diameter_m"],
            g["gas_density_kg_m3"] / g["air_density_kg_m3"],
            g["stoichiometric_fraction"],
            g["air_temperature_K"],
        )
    )
    length = float(jet.flame_length_delichatsios(froude, 1.0, 1.0, 1.0))
    for quantity, ours in (("flame_froude_number", froude), ("dimensionless_length", length)):
        yield Point(quantity.replace("_", " "), g[quantity], ours, 0.01 * g[quantity])


def _harm(column: str, harm: str) -> Callable[[PublishedTable], Iterator[Point]]:
    def find(table: PublishedTable) -> Iterator[Point]:
        for row in table.rows:
            ours = float(lr.time_to_harm(1e3 * float(row["heat_flux_kW_m2"]), harm=harm))
            yield Point(
                f"{row['heat_flux_kW_m2']} kW/m²", float(row[column]), ours, 1e-6 * float(row[column])
            )

    return find


def montoir(fraction: float) -> Callable[[PublishedTable], Iterator[Point]]:
    """Heat around the fires, with the flame's length, tilt and base as filmed and 60 % humidity assumed."""

    def find(table: PublishedTable) -> Iterator[Point]:
        water, carbon = wayne_coefficients(lr.Weather(air_temperature=293.15, relative_humidity=0.6))
        for row in table.rows:
            flame = _filmed(row)
            R, x = float(flame.base_radius[0]), float(row["distance_m"])
            power = fraction * MONTOIR_FLUX * 0.25 * math.pi * MONTOIR_DIAMETER**2 * METHANE_HEAT
            E = power / flame_area(flame, with_base=False)
            tau = transmissivity_wayne(water, carbon, ZERO + x - R)
            for column, sense in (("downwind_kW_m2", 1.0), ("upwind_kW_m2", -1.0)):
                ours = E * tau * view_factor(ZERO + sense * x, ZERO, ZERO, flame) / 1e3
                at = f"test {row['test']}, phase {row['phase']}"
                yield Point(column.split("_", maxsplit=1)[0], float(row[column]), float(ours[0]), NAN, at)

    return find


def _filmed(row: dict[str, str]) -> Flame:
    D, L = MONTOIR_DIAMETER, float(row["flame_length_m"])
    tilt, R = math.radians(float(row["tilt_deg"])), 0.5 * D * float(row["base_over_diameter"])
    base = R - 0.5 * D
    top = base + L * math.sin(tilt), L * math.cos(tilt)
    return Flame(ZERO + base, ZERO, ZERO + R, ZERO + top[0], ZERO + top[1], ZERO + R)


def _large_pools(model: str) -> Callable[[PublishedTable], Iterator[Point]]:
    def find(table: PublishedTable) -> Iterator[Point]:
        for row in table.rows:
            if not row["flame_length_m"]:
                continue
            D, flux = float(row["diameter_m"]), float(row["burning_flux_kg_m2_s"])
            heat = flux * 0.25 * math.pi * D * D * METHANE_HEAT
            # thin air at 1600 m: 1.0 kg/m3
            ours = (
                shape.flame_length_heskestad(heat, D)
                if model == "Heskestad"
                else shape.flame_length_thomas(flux, D, 1.0)
            )
            yield Point(row["test"], float(row["flame_length_m"]), float(ours), NAN, f"{row['diameter_m']} m")

    return find


def _brightness(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        if row["fuel"] == "LPG":
            ours = float(shape.emissive_power_mudan(float(row["diameter_m"]))) / 1e3
            yield Point("LPG on land, smoke law", float(row["emissive_power_kW_m2"]), ours, NAN)


def _beside_a_burner(table: PublishedTable) -> Iterator[Point]:
    """Solid flame of the measured power; the gauges up to the flame's mean height are within it."""
    heat = 2.943e-3 * 46.35e6
    length = float(shape.flame_length_heskestad(heat, 1.0))
    flame = Flame(ZERO, ZERO, ZERO + 0.5, ZERO, ZERO + length, ZERO + 0.5)
    E = 0.17 * heat / flame_area(flame, with_base=False)
    for row in table.rows:
        z = float(row["height_m"])
        seen = view_factor(ZERO + 1.0, ZERO, ZERO + z, flame, (ZERO - 1.0, ZERO, ZERO))
        yield Point("1 m burner", float(row["flux_kW_m2"]), float((E * seen)[0]) / 1e3, NAN, f"{z:g} m up")


def _radiated_fractions(table: PublishedTable) -> Iterator[Point]:
    """The library's default beside what was measured."""
    for row in table.rows:
        measured = float(row["radiated_fraction"])
        yield Point(f"burner of {row['diameter_m']} m", measured, RADIATED, NAN, row["test"])


COMPARISONS = (
    Comparison("fire_view_factors", TOPIC, "view factor", "-", "pool_fire", _view_factors),
    Comparison(
        "fire_burning_constants",
        TOPIC,
        "largest burning flux",
        "kg/m²/s",
        "pool_fire",
        _constants,
        "repeated",
    ),
    Comparison(
        "fire_burning_constants",
        TOPIC,
        "heat of combustion",
        "MJ/kg",
        "Fluid.heat_of_combustion",
        _heats,
    ),
    Comparison("fire_flame_length", TOPIC, "flame length over diameter", "-", "pool_fire", _flame_length),
    Comparison("fire_pool_example", TOPIC, "pool fire, step by step", "its own", "pool_fire", _pool_example),
    Comparison("fire_flare_example", TOPIC, "elevated flare", "its own", "vapor_flare", _flare_example),
    Comparison(
        "fire_flare_radiation", TOPIC, "heat flux by a flare", "Btu/h/ft²", "vapor_flare", _flare_radiation
    ),
    Comparison("fire_jet_flame", TOPIC, "propane jet flame", "-", "vapor_flare", _jet_flame),
    *(
        Comparison(
            "fire_harm", TOPIC, f"time to {word}", "s", "time_to_harm", _harm(column, harm), "repeated"
        )
        for word, column, harm in (("pain", "pain_s", "pain"), ("a burn", "burn_s", "second-degree burn"))
    ),
    Comparison(
        "fire_montoir",
        TOPIC,
        "heat around a 35 m fire of LNG",
        "kW/m²",
        "pool_fire",
        montoir(RADIATED),
        "measured",
    ),
    *(
        Comparison(
            "fire_field_pools",
            TOPIC,
            f"flame length, {model}",
            "m",
            "pool_fire",
            _large_pools(model),
            "measured",
        )
        for model in ("Heskestad", "Thomas")
    ),
    Comparison(
        "fire_field_pools", TOPIC, "surface emissive power", "kW/m²", "pool_fire", _brightness, "measured"
    ),
    Comparison(
        "fire_propane_burner_flux",
        TOPIC,
        "heat flux beside a burner",
        "kW/m²",
        "pool_fire",
        _beside_a_burner,
        "measured",
    ),
    Comparison(
        "fire_propane_burners", TOPIC, "radiated fraction", "-", "pool_fire", _radiated_fractions, "measured"
    ),
)
