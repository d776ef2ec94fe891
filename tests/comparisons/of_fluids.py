"""Properties of fluids beside handbooks, reference tables and the trade."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np
from published_tables import PublishedTable, kelvin, si

import lpgrelease as lr

from .base import Comparison, Point

TOPIC = "fluids"
PSI = 6894.757293168361
INCH_OF_MERCURY_PSI = 0.4911541  # as the card of ammonia says
NAN = math.nan
Row = dict[str, str]


def percent(row: Row) -> float:
    """The row's tolerance as a fraction."""
    return float(row["tolerance_percent"]) / 100.0


def _correlation(
    formula: Callable[[Row, lr.Fluid, np.ndarray], np.ndarray], field: str, span: Callable[[Row], np.ndarray]
) -> Callable[[PublishedTable], Iterator[Point]]:
    """Points along a published correlation of every row."""

    def find(table: PublishedTable) -> Iterator[Point]:
        for row in table.rows:
            fluid, t = lr.Fluid(row["fluid"]), span(row)
            ours = getattr(fluid.saturation(temperature=t), field)
            for T, theirs, x in zip(t, formula(row, fluid, t), ours, strict=True):
                yield Point(
                    row["fluid"],
                    float(theirs),
                    float(x),
                    percent(row) * float(theirs),
                    f"{T - 273.15:.0f} °C",
                )

    return find


def _served_range(row: Row) -> np.ndarray:
    """From 50 kPa to 60 degC or 0.9 T_c, inside the correlation's range: what the headers say."""
    fluid = lr.Fluid(row["fluid"])
    cold = fluid.lowest_temperature  # carbon dioxide and nitrous oxide: their triple points
    if fluid.name not in ("carbon dioxide", "nitrous oxide"):
        cold = float(fluid.saturation(pressure=50e3).temperature)
    warm = min(333.15, 0.9 * fluid.critical_temperature)
    return np.linspace(max(cold, float(row["T_min_K"])), min(warm, float(row["T_max_K"])), 25)


def _antoine_range(row: Row) -> np.ndarray:
    fluid = lr.Fluid(row["fluid"])
    cold = max(float(fluid.saturation(pressure=50e3).temperature), float(row["T_min_K"]))
    return np.linspace(cold, min(0.9 * fluid.critical_temperature, float(row["T_max_K"])), 25)


def _perry_pressure(row: Row, _fluid: lr.Fluid, t: np.ndarray) -> np.ndarray:
    c1, c2, c3, c4, c5 = (float(row[f"C{i}"]) for i in range(1, 6))
    return np.exp(c1 + c2 / t + c3 * np.log(t) + c4 * t**c5)


def _perry_latent_heat(row: Row, fluid: lr.Fluid, t: np.ndarray) -> np.ndarray:
    c1, c2, c3, c4 = (float(row[f"C{i}"]) for i in range(1, 5))
    r = t / float(row["T_c_K"])
    return c1 * (1.0 - r) ** (c2 + c3 * r + c4 * r**2) / fluid.molar_mass


def _perry_density(row: Row, fluid: lr.Fluid, t: np.ndarray) -> np.ndarray:
    c1, c2, c3, c4 = (float(row[f"C{i}"]) for i in range(1, 5))
    return c1 / c2 ** (1.0 + (1.0 - t / c3) ** c4) * fluid.molar_mass


def _antoine(row: Row, _fluid: lr.Fluid, t: np.ndarray) -> np.ndarray:
    a, b, c = (float(row[key]) for key in "ABC")
    return 1e5 * 10.0 ** (a - b / (t + c))


def _wagner_range(row: Row) -> np.ndarray:
    return _antoine_range(row | {"T_max_K": row["T_c_K"]})


def _wagner(row: Row, _fluid: lr.Fluid, t: np.ndarray) -> np.ndarray:
    a, b, c, d = (float(row[key]) for key in "ABCD")
    x = 1.0 - t / float(row["T_c_K"])
    return float(row["p_c_Pa"]) * np.exp((a * x + b * x**1.5 + c * x**3 + d * x**6) / (1.0 - x))


def _boiling_points(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        ours = lr.Fluid(row["fluid"]).normal_boiling_point
        yield Point(row["fluid"], float(row["T_b_K"]), float(ours), float(row["tolerance_K"]))


def _latent_heats(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        fluid = lr.Fluid(row["fluid"])
        ours = float(fluid.saturation(pressure=101325.0).latent_heat) * fluid.molar_mass / 1e3
        printed = float(row["h_fg_kJ_mol"])
        yield Point(row["fluid"], printed, ours, percent(row) * printed)


def _boiling_beside_latent_heats(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        ours = float(lr.Fluid(row["fluid"]).saturation(pressure=101325.0).temperature)
        yield Point(row["fluid"], float(row["T_b_K"]), ours, 0.2)


def _critical(column: str, field: str, scale: float) -> Callable[[PublishedTable], Iterator[Point]]:
    def find(table: PublishedTable) -> Iterator[Point]:
        for row in table.rows:
            unit = column[-3:] if column.endswith("MPa") else "K"
            allowed = float(row[f"{column.removesuffix('_' + unit)}_uncertainty_{unit}"])
            ours = getattr(lr.Fluid(row["fluid"]), field) / scale
            known = row["expected_within"] == "no"
            yield Point(
                row["fluid"], float(row[column]), float(ours), allowed * (1 + 1e-9) + 1e-9, disagrees=known
            )

    return find


def _atlas(
    column: str, field: str, scale: float, allowed: Callable[[float], float]
) -> Callable[[PublishedTable], Iterator[Point]]:
    def find(table: PublishedTable) -> Iterator[Point]:
        for row in table.rows:
            T, printed = float(row["T_K"]), float(row[column])
            ours = getattr(lr.Fluid(row["fluid"]).saturation(temperature=T), field) / scale
            yield Point(row["fluid"], printed, float(ours), allowed(T) * printed, f"{T:g} K")

    return find


def _propane_trade(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        p = lr.Fluid("propane").saturation(temperature=kelvin(row["T_F"])).pressure
        yield Point("propane", float(row["p_psig"]), float(p) / PSI - 14.696, 5.0, f"{row['T_F']} °F")


def _ammonia_trade(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        p = lr.Fluid("ammonia").saturation(temperature=kelvin(row["T_F"])).pressure
        inches = row["unit"] == "inHg_vacuum"
        printed = float(row["p_printed"]) * (-INCH_OF_MERCURY_PSI if inches else 1.0)
        yield Point("ammonia", printed, float(p) / PSI - 14.696, 0.2, f"{row['T_F']} °F")


def _gpsa(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        p = lr.Fluid(row["fluid"]).saturation(temperature=kelvin(row["T_F"])).pressure
        printed = float(row["p_psia"])
        yield Point(row["fluid"], printed, float(p) / PSI, 0.01 * printed, f"{row['T_F']} °F")


def _flammable(index: int, column: str) -> Callable[[PublishedTable], Iterator[Point]]:
    def find(table: PublishedTable) -> Iterator[Point]:
        for row in table.rows:
            ours = 100.0 * lr.Fluid(row["fluid"]).flammable_limits[index]
            label = f"{row['fluid']}, {row['source']}"
            yield Point(label, float(row[column]), ours, 0.1 + 1e-9, disagrees=row["agree"] == "no")

    return find


def _combustion(column: str, unit: str) -> Callable[[PublishedTable], Iterator[Point]]:
    def find(table: PublishedTable) -> Iterator[Point]:
        for row in table.rows:
            if row["unit"] != unit or not row[column]:
                continue
            fluid = lr.Fluid(row["fluid"])
            per = fluid.molar_mass if unit == "kJ/mol" else 1e-3
            ours = getattr(fluid.substance, f"heat_of_combustion_{column}") * per / 1e3
            printed = float(row[column])
            bad = column == "lower" and row["use_lower"] == "no"
            label = f"{row['fluid']}, {row['source']}"
            yield Point(label, printed, float(ours), percent(row) * printed, disagrees=bad)

    return find


def _propane_properties(table: PublishedTable) -> Iterator[Point]:
    """What the trade prints of propane, each in its unit."""
    fluid = lr.Fluid("propane")
    printed = {row["quantity"]: row for row in table.rows}
    at_60 = fluid.saturation(temperature=kelvin(60))
    water = si(8.345404, "lb/gal", "kg/m**3") * 0.99904
    # the trade counts vapor as an ideal gas, 1.8 % thinner than propane at 60 degF and 1 atm is
    ideal = 101325.0 / (fluid.table.gas_constant * kelvin(60))
    lower, upper = fluid.flammable_limits
    served = {
        "latent_heat": float(fluid.saturation(temperature=kelvin(-44)).latent_heat) / si(1, "Btu/lb", "J/kg"),
        "liquid_specific_gravity": float(at_60.liquid_density) / water,
        "gas_specific_gravity": fluid.molar_mass / 28.96e-3,
        "liquid_weight": float(at_60.liquid_density) / si(1, "lb/gal", "kg/m**3"),
        "vapor_per_gallon": float(at_60.liquid_density) / ideal * si(1, "gal", "ft**3"),
        "vapor_per_pound": 1.0 / ideal / si(1, "ft**3/lb", "m**3/kg"),
        "heat_of_combustion_gross": fluid.substance.heat_of_combustion_higher / si(1, "Btu/lb", "J/kg"),
        "lower_flammable_limit": 100.0 * lower,
        "upper_flammable_limit": 100.0 * upper,
    }
    for quantity, ours in served.items():
        row = printed[quantity]
        label = f"{quantity.replace('_', ' ')} [{row['unit']}]"
        yield Point(label, float(row["value"]), float(ours), percent(row) * float(row["value"]))


def _ammonia_properties(table: PublishedTable) -> Iterator[Point]:
    fluid = lr.Fluid("ammonia")
    printed = {row["quantity"]: row for row in table.rows}
    at = fluid.saturation(temperature=kelvin(-28))
    gas = fluid.gas(temperature=kelvin(32), pressure=si(14.7, "psi", "Pa"))
    served = {
        "latent_heat": float(at.latent_heat) / si(1, "Btu/lb", "J/kg"),
        "liquid_density": float(at.liquid_density) / si(1, "lb/ft**3", "kg/m**3"),
        "vapor_density": float(at.vapor_density) / si(1, "lb/ft**3", "kg/m**3"),
        "critical_pressure": fluid.critical_pressure / PSI,
        "specific_volume_gas": 1.0 / float(gas.density) / si(1, "ft**3/lb", "m**3/kg"),
    }
    for quantity, ours in served.items():
        row = printed[quantity]
        label = f"{quantity.replace('_', ' ')} [{row['unit']}]"
        yield Point(label, float(row["value"]), float(ours), percent(row) * float(row["value"]))


SATURATION = "Fluid.saturation"
COMPARISONS = (
    Comparison(
        "vapor_pressure_perry",
        TOPIC,
        "vapor pressure",
        "Pa",
        SATURATION,
        _correlation(_perry_pressure, "pressure", _served_range),
    ),
    Comparison(
        "vapor_pressure_nist_antoine",
        TOPIC,
        "vapor pressure",
        "Pa",
        SATURATION,
        _correlation(_antoine, "pressure", _antoine_range),
    ),
    Comparison(
        "vapor_pressure_poling",
        TOPIC,
        "vapor pressure",
        "Pa",
        SATURATION,
        _correlation(_antoine, "pressure", _antoine_range),
    ),
    Comparison(
        "vapor_pressure_mcgarry",
        TOPIC,
        "vapor pressure",
        "Pa",
        SATURATION,
        _correlation(_wagner, "pressure", _wagner_range),
    ),
    Comparison(
        "latent_heat_perry",
        TOPIC,
        "latent heat",
        "J/kg",
        SATURATION,
        _correlation(_perry_latent_heat, "latent_heat", _served_range),
    ),
    Comparison(
        "liquid_density_perry",
        TOPIC,
        "density of liquid",
        "kg/m³",
        SATURATION,
        _correlation(_perry_density, "liquid_density", _served_range),
    ),
    Comparison(
        "normal_boiling_points",
        TOPIC,
        "normal boiling point",
        "K",
        "Fluid.normal_boiling_point",
        _boiling_points,
    ),
    Comparison("latent_heat_crc", TOPIC, "latent heat where it boils", "kJ/mol", SATURATION, _latent_heats),
    Comparison(
        "latent_heat_crc", TOPIC, "boiling point beside it", "K", SATURATION, _boiling_beside_latent_heats
    ),
    Comparison(
        "critical_points",
        TOPIC,
        "critical temperature",
        "K",
        "Fluid.critical_temperature",
        _critical("T_c_K", "critical_temperature", 1.0),
    ),
    Comparison(
        "critical_points",
        TOPIC,
        "critical pressure",
        "MPa",
        "Fluid.critical_pressure",
        _critical("p_c_MPa", "critical_pressure", 1e6),
    ),
    *(
        Comparison(
            name,
            TOPIC,
            quantity,
            unit,
            SATURATION,
            _atlas(column, field, scale, lambda T, e=(usual, hot): e[1] if T >= 400.0 else e[0]),
        )
        for name, columns in {
            "saturation_ammonia_vdi": {
                "p_kPa": ("pressure", "kPa", "pressure", 1e3, 0.01, 0.01),
                "rho_liquid_kg_m3": ("density of liquid", "kg/m³", "liquid_density", 1.0, 0.005, 0.005),
                "h_fg_kJ_kg": ("latent heat", "kJ/kg", "latent_heat", 1e3, 0.01, 0.01),
            },
            "saturation_isopentane_vdi": {
                "p_kPa": ("pressure", "kPa", "pressure", 1e3, 0.015, 0.015),
                "rho_liquid_kg_m3": ("density of liquid", "kg/m³", "liquid_density", 1.0, 0.005, 0.005),
                "h_fg_kJ_kg": ("latent heat", "kJ/kg", "latent_heat", 1e3, 0.015, 0.03),
            },
            "saturation_propylene_oxide_vdi": {
                "p_kPa": ("pressure", "kPa", "pressure", 1e3, 0.02, 0.02),
                "rho_liquid_kg_m3": ("density of liquid", "kg/m³", "liquid_density", 1.0, 0.005, 0.005),
                "h_fg_kJ_kg": ("latent heat", "kJ/kg", "latent_heat", 1e3, 0.015, 0.015),
            },
        }.items()
        for column, (quantity, unit, field, scale, usual, hot) in columns.items()
    ),
    Comparison("vapor_pressure_propane_trade", TOPIC, "vapor pressure", "psig", SATURATION, _propane_trade),
    Comparison("vapor_pressure_ammonia_trade", TOPIC, "vapor pressure", "psig", SATURATION, _ammonia_trade),
    Comparison("vapor_pressure_gpsa", TOPIC, "vapor pressure", "psia", SATURATION, _gpsa),
    Comparison("lp_gas_properties", TOPIC, "propane of the trade", "its own", "Fluid", _propane_properties),
    Comparison("ammonia_constants", TOPIC, "constants of ammonia", "its own", "Fluid", _ammonia_properties),
    Comparison(
        "flammable_limits",
        TOPIC,
        "lower flammable limit",
        "% by volume",
        "Fluid.flammable_limits",
        _flammable(0, "lower_percent"),
    ),
    Comparison(
        "flammable_limits",
        TOPIC,
        "upper flammable limit",
        "% by volume",
        "Fluid.flammable_limits",
        _flammable(1, "upper_percent"),
    ),
    *(
        Comparison(
            "heat_of_combustion",
            TOPIC,
            f"{column} heat of combustion",
            unit,
            "Fluid.heat_of_combustion",
            _combustion(column, unit),
        )
        for column in ("lower", "higher")
        for unit in ("kJ/mol", "MJ/kg")
    ),
)
