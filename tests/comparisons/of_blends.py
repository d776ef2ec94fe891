"""Blends beside measured equilibrium, another program's cubic equation, a standard and the trade."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from published_tables import PublishedTable, kelvin

import lpgrelease as lr

from .base import Comparison, Point

TOPIC = "blends"
PSI = 6894.757293168361


def _blend_pressures(table: PublishedTable) -> Iterator[Point]:
    """The trade's percent are taken as by liquid volume, its butane as the normal one."""
    for row in table.rows:
        parts = {"propane": float(row["propane_percent"]), "n-butane": float(row["butane_percent"])}
        parts = {name: share / 100.0 for name, share in parts.items() if share > 0.0}
        fluid = lr.Fluid(parts, basis="liquid volume") if len(parts) > 1 else lr.Fluid(next(iter(parts)))
        p = lr.bubble_point(fluid, temperature=kelvin(row["T_F"])).pressure
        label = f"{row['propane_percent']} % propane"
        yield Point(label, float(row["p_psig"]), float(p) / PSI - 14.696, 6.0, f"{row['T_F']} °F")


def _bubble_points(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        fluid = lr.Fluid({"propane": float(row["x_propane"]), "n-butane": float(row["x_n_butane"])})
        p = lr.bubble_point(fluid, temperature=float(row["T_C"]) + 273.15).pressure
        printed = float(row["p_kPa"])
        yield Point(
            f"{row['x_propane']} propane", printed, float(p) / 1e3, 0.01 * printed, f"{row['T_C']} °C"
        )


def _bubble_densities(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        fluid = lr.Fluid({"propane": float(row["x_propane"]), "n-butane": float(row["x_n_butane"])})
        T = float(row["T_C"]) + 273.15
        p = float(lr.bubble_point(fluid, temperature=T).pressure) * (1.0 + 1e-7)
        ours = float(lr.equilibrium(fluid, temperature=T, pressure=p).liquid_density)
        printed = float(row["rho_liquid_kg_m3"])
        yield Point(f"{row['x_propane']} propane", printed, ours, 0.005 * printed, f"{row['T_C']} °C")


def _measured_equilibrium(what: str) -> Callable[[PublishedTable], Iterator[Point]]:
    def find(table: PublishedTable) -> Iterator[Point]:
        for row in table.rows:
            x = float(row["x_propane"])
            point = lr.bubble_point(
                lr.Fluid({"propane": x, "n-butane": 1.0 - x}), temperature=float(row["T_K"])
            )
            if what == "pressure":
                printed, ours = float(row["p_kPa"]), float(point.pressure) / 1e3
                allowed = 0.015 * printed
            else:
                printed, ours, allowed = float(row["y_propane"]), float(point.vapor_composition[0]), 0.02
            yield Point(f"x = {row['x_propane']}", printed, ours, allowed)

    return find


def _blend_factors(table: PublishedTable) -> Iterator[Point]:
    """Pure components at 100 degF; those of ethane (empirical, above its critical point) are left out."""
    for row in table.rows:
        if row["component"] in ("ethane", "ethylene"):
            continue
        p = lr.Fluid(row["component"]).saturation(temperature=kelvin(100.0)).pressure
        ours = float(p) / PSI - 14.696
        yield Point(row["component"], float(row["vapor_pressure_factor_psig"]), ours, 3.0)


COMPARISONS = (
    Comparison(
        "vapor_pressure_blend_trade", TOPIC, "vapor pressure", "psig", "bubble_point", _blend_pressures
    ),
    Comparison(
        "lp_gas_blend_factors", TOPIC, "vapor pressure factor", "psig", "Fluid.saturation", _blend_factors
    ),
    Comparison(
        "bubble_points_peng_robinson",
        TOPIC,
        "bubble point",
        "kPa",
        "bubble_point",
        _bubble_points,
        "computed",
    ),
    Comparison(
        "bubble_points_peng_robinson",
        TOPIC,
        "density of liquid",
        "kg/m³",
        "equilibrium",
        _bubble_densities,
        "computed",
    ),
    Comparison(
        "vle_propane_butane",
        TOPIC,
        "bubble point",
        "kPa",
        "bubble_point",
        _measured_equilibrium("pressure"),
        "measured",
    ),
    Comparison(
        "vle_propane_butane",
        TOPIC,
        "propane in the vapor",
        "mole fraction",
        "bubble_point",
        _measured_equilibrium("composition"),
        "measured",
    ),
)
