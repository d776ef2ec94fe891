"""Flashing, holes, lines, jets beside worked examples, printed tables and measurements."""

from __future__ import annotations

import csv
import math
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
from published_tables import PublishedTable, pascal_from_gauge, si

import lpgrelease as lr
from lpgrelease.release.drops import terminal_velocity
from lpgrelease.release.ideal_gas import critical_flow_function, critical_pressure_ratio, ideal_gas_release
from lpgrelease.release.liquid import incompressible_flux
from lpgrelease.release.non_equilibrium import equilibrium_rate_flux
from lpgrelease.release.omega import (
    omega_critical_ratio,
    omega_flow,
    omega_from_densities,
    omega_from_properties,
)
from lpgrelease.weather import air_density, air_viscosity

from .base import Comparison, Point

TOPIC = "release"
IDEAL = lr.Opening(diameter=1.0, discharge_coefficient=1.0)
FLASHING_FLOW = Path(__file__).parents[2] / "docs" / "flashing_flow.csv"
NAN = math.nan


def _kelvin(celsius: str) -> float:
    return float(celsius) + 273.15


def _flash_fractions(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        fluid = lr.Fluid(row["fluid"])
        x = lr.flash(
            fluid, temperature=_kelvin(row["T_C"]), ambient_pressure=float(row["p_end_Pa"])
        ).vapor_fraction
        printed = float(row["vapor_mass_fraction"])
        yield Point(row["fluid"], printed, float(x), 0.005, f"{row['T_C']} °C")


def _ideal(column: str, function: Callable[[float], float]) -> Callable[[PublishedTable], Iterator[Point]]:
    def find(table: PublishedTable) -> Iterator[Point]:
        for row in table.rows:
            k = row["heat_capacity_ratio"]
            yield Point(f"k = {k}", float(row[column]), float(function(float(k))), 5e-6)

    return find


def _api_coefficient(k: float) -> float:
    """The coefficient in pounds, hours, degrees Rankine, square inches and psi."""
    units = si(1.0, "psi", "Pa") * si(1.0, "inch", "m") ** 2 / si(1.0, "lb/hr", "kg/s")
    return float(critical_flow_function(k)) * units / math.sqrt(8.314462618 / 1e-3 * (5.0 / 9.0))


def _api_coefficients(table: PublishedTable) -> Iterator[Point]:
    """0.12 %: the standard rounds the constants of its units to 520, exactly 519.5."""
    for row in table.rows:
        k, printed = row["heat_capacity_ratio"], float(row["api_coefficient_us"])
        yield Point(f"k = {k}", printed, _api_coefficient(float(k)), 1.2e-3 * printed)


def _real_gas(table: PublishedTable) -> Iterator[Point]:
    """Gases served, at pressures at which they are; of the rest a test says how far the ideal gas is off."""
    for row in table.rows:
        t, p = float(row["T0_K"]), float(row["p0_MPa"]) * 1e6
        if row["gas"] not in ("N2", "CH4") or p > 2e6:
            continue
        fluid = lr.Fluid({"N2": "nitrogen", "CH4": "methane"}[row["gas"]])
        flow = lr.vapor_release(fluid, IDEAL, temperature=t, pressure=p, ambient_pressure=0.4 * p)
        ours = float(flow.mass_flux) * math.sqrt(fluid.table.gas_constant * t) / p
        printed = float(row["critical_flow_function"])
        yield Point(row["gas"], printed, ours, 1e-5, f"{row['p0_MPa']} MPa")


def _vapor_sizing(table: PublishedTable) -> Iterator[Point]:
    (row,) = table.rows
    k, p1 = float(row["heat_capacity_ratio"]), float(row["p1_bara"])
    printed = float(row["critical_pressure_bara"])
    yield Point("critical pressure [bar]", printed, float(critical_pressure_ratio(k)) * p1, 5e-3 * printed)
    flow = ideal_gas_release(
        lr.Opening(diameter=1.0, discharge_coefficient=float(row["discharge_coefficient"])),
        temperature=float(row["T_K"]),
        pressure=p1 * 1e5,
        molar_mass=float(row["molar_mass_g_mol"]) / 1e3,
        heat_capacity_ratio=k,
        compressibility=float(row["compressibility"]),
        ambient_pressure=float(row["p2_bara"]) * 1e5,
    )
    area = si(row["mass_flow_kg_h"], "kg/hr", "kg/s") / float(flow.mass_flux) * 1e6
    yield Point("area [mm²]", float(row["area_mm2"]), area, 1e-3 * float(row["area_mm2"]))


def _nitrogen_hole(table: PublishedTable) -> Iterator[Point]:
    (row,) = table.rows
    hole = lr.Opening(diameter=si(row["diameter_in"], "inch", "m"), discharge_coefficient=1.0)
    flow = ideal_gas_release(
        hole,
        temperature=si(row["T_F"], "degF", "K"),
        pressure=pascal_from_gauge(row["p_psig"]),
        molar_mass=float(row["molar_mass_g_mol"]) / 1e3,
        heat_capacity_ratio=float(row["heat_capacity_ratio"]),
    )
    printed = float(row["mass_flow_lb_s"])
    yield Point("nitrogen, 0.1 in", printed, float(flow.mass_flow) / si(1, "lb/s", "kg/s"), 0.01 * printed)


def _ammonia_hole(table: PublishedTable) -> Iterator[Point]:
    """By the example's density, and by the whole call with that of the equation of state."""
    (row,) = table.rows
    hole = lr.Opening(
        diameter=float(row["diameter_m"]), discharge_coefficient=float(row["discharge_coefficient"])
    )
    p, p_s, printed = (float(row[key]) for key in ("p_Pa", "p_sat_Pa", "mass_flow_kg_s"))
    flux = incompressible_flux(
        np.float64(row["density_kg_m3"]), np.float64(p), np.float64(p_s), np.float64(0.0)
    )
    yield Point(
        "ammonia, with the example's density", printed, float(hole.effective_area * flux), 0.005 * printed
    )
    fluid = lr.Fluid("ammonia")
    t = fluid.saturation(pressure=p_s).temperature
    flow = lr.liquid_release(fluid, hole, temperature=t, pressure=p, ambient_pressure=p_s)
    yield Point("ammonia, liquid_release", printed, float(flow.mass_flow), 0.005 * printed)


def _equilibrium_flux(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        if row["fluid"] == "water" or row["model"] != "homogeneous equilibrium":
            continue
        t, printed = _kelvin(row["T_C"]), float(row["flux_kg_m2_s"])
        flow = lr.two_phase_release(
            lr.Fluid(row["fluid"]), IDEAL, temperature=t, vapor_fraction=float(row["x"])
        )
        allowed = float(row["tolerance_percent"]) / 100.0 * printed
        yield Point(row["fluid"], printed, float(flow.mass_flux), allowed, f"{row['T_C']} °C")


def _rate_flux(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        if row["model"] != "equilibrium rate":
            continue
        t, printed = _kelvin(row["T_C"]), float(row["flux_kg_m2_s"])
        s = lr.Fluid(row["fluid"]).saturation(temperature=t)
        flux = equilibrium_rate_flux(
            t,
            liquid_density=s.liquid_density,
            vapor_density=s.vapor_density,
            latent_heat=s.latent_heat,
            liquid_heat_capacity=s.liquid_heat_capacity,
        )
        allowed = float(row["tolerance_percent"]) / 100.0 * printed
        yield Point(row["fluid"], printed, float(flux), allowed, f"{row['T_C']} °C")


def _omega(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        s = lr.Fluid(row["fluid"]).saturation(temperature=_kelvin(row["T_C"]))
        omega = omega_from_properties(
            s.temperature,
            saturation_pressure=s.pressure,
            liquid_density=s.liquid_density,
            vapor_density=s.vapor_density,
            latent_heat=s.latent_heat,
            liquid_heat_capacity=s.liquid_heat_capacity,
        )
        printed = float(row["omega"])
        yield Point(row["fluid"], printed, float(omega), 0.01 * printed, f"{row['T_C']} °C")


def _critical_ratio(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        printed = float(row["eta_c"])
        yield Point(
            f"ω = {row['omega']}", printed, float(omega_critical_ratio(float(row["omega"]))), 2e-4 * printed
        )


def _subcooled(table: PublishedTable) -> Iterator[Point]:
    (row,) = table.rows
    p0, back, p_s = (float(row[name]) * 1e5 for name in ("p0_bara", "pa_bara", "ps_bara"))
    density = float(row["rho_l0_kg_m3"])
    omega = float(omega_from_densities(density, expanded_density=float(row["rho_9_kg_m3"])))
    flow = omega_flow(omega, pressure=p0, density=density, saturation_pressure=p_s, back_pressure=back)
    rate = si(row["Q_L_min"], "L/min", "m**3/s") * density
    area = rate / (float(row["discharge_coefficient"]) * float(flow.flux)) * 1e6
    for label, column, ours in (
        ("ω", "omega_s", omega),
        ("transition ratio", "eta_st", 2.0 * omega / (1.0 + 2.0 * omega)),
        ("flux [kg/m²/s]", "flux_kg_m2_s", float(flow.flux)),
        ("area [mm²]", "area_mm2", area),
    ):
        yield Point(label, float(row[column]), ours, 0.01 * float(row[column]))


def _pipe_reduction(table: PublishedTable) -> Iterator[Point]:
    bore, t = 0.05, 303.15
    hole = lr.Opening(diameter=bore, discharge_coefficient=1.0)
    for name in ("propane", "ammonia", "n-butane"):
        fluid = lr.Fluid(name)
        short = float(lr.two_phase_release(fluid, hole, temperature=t).mass_flux)
        for row in table.rows:
            length = float(row["length_over_diameter"]) * bore
            line = lr.Line(diameter=bore, length=length, fittings=0.0)
            long = lr.line_release(fluid, line, temperature=t, vapor_fraction=0.0)
            ours = float(long.mass_flux) / short
            yield Point(name, float(row["flow_reduction"]), ours, 0.05, f"L/D {row['length_over_diameter']}")


def _drops(table: PublishedTable) -> Iterator[Point]:
    rho = air_density(np.float64(293.15), np.float64(101325.0))
    mu = air_viscosity(np.float64(293.15))
    for row in table.rows:
        speed = terminal_velocity(
            np.float64(row["diameter_mm"]) / 1e3,
            liquid_density=np.float64(998.2),
            gas_density=rho,
            gas_viscosity=mu,
        )
        printed = float(row["velocity_m_s"])
        yield Point(f"{row['diameter_mm']} mm", printed, float(speed), 0.1 * printed)


def _flashing_water(test: str, model: str) -> Callable[[PublishedTable], Iterator[Point]]:
    """Needs another library's water: read from the file that a test holds to the models."""

    def find(_table: PublishedTable) -> Iterator[Point]:
        lines = FLASHING_FLOW.read_text(encoding="utf-8").splitlines()
        for row in csv.DictReader(line for line in lines if line[0] != "#"):
            if row["test"] == test:
                label = f"test {test}"
                yield Point(
                    label, float(row["measured"]), float(row[model]), NAN, f"{row['pressure_kPa']} kPa"
                )

    return find


COMPARISONS = (
    Comparison(
        "flash_fractions",
        TOPIC,
        "vapor fraction after the flash",
        "by mass",
        "flash",
        _flash_fractions,
        "computed",
    ),
    Comparison(
        "ideal_gas_critical_flow",
        TOPIC,
        "critical pressure ratio",
        "-",
        "release.ideal_gas_release",
        _ideal("critical_pressure_ratio", critical_pressure_ratio),
    ),
    Comparison(
        "ideal_gas_critical_flow",
        TOPIC,
        "critical flow function",
        "-",
        "release.ideal_gas_release",
        _ideal("critical_flow_function", critical_flow_function),
    ),
    Comparison(
        "ideal_gas_critical_flow",
        TOPIC,
        "coefficient of the standard",
        "American units",
        "release.ideal_gas_release",
        _api_coefficients,
    ),
    Comparison(
        "real_gas_critical_flow",
        TOPIC,
        "critical flow function of real gases",
        "-",
        "vapor_release",
        _real_gas,
        "computed",
    ),
    Comparison(
        "vapor_sizing_api520",
        TOPIC,
        "vapor in critical flow",
        "its own",
        "release.ideal_gas_release",
        _vapor_sizing,
    ),
    Comparison(
        "vapor_release_holes", TOPIC, "gas from a hole", "lb/s", "release.ideal_gas_release", _nitrogen_hole
    ),
    Comparison("liquid_release_holes", TOPIC, "liquid from a hole", "kg/s", "liquid_release", _ammonia_hole),
    Comparison(
        "two_phase_flux",
        TOPIC,
        "flux at equilibrium",
        "kg/m²/s",
        "two_phase_release",
        _equilibrium_flux,
        "computed",
    ),
    Comparison(
        "two_phase_flux",
        TOPIC,
        "equilibrium-rate flux",
        "kg/m²/s",
        "two_phase_release",
        _rate_flux,
        "computed",
    ),
    Comparison(
        "omega_parameter",
        TOPIC,
        "omega of saturated liquid",
        "-",
        "release.omega_from_properties",
        _omega,
        "computed",
    ),
    Comparison(
        "omega_critical_ratio", TOPIC, "critical ratio", "-", "release.omega_critical_ratio", _critical_ratio
    ),
    Comparison(
        "two_phase_subcooled_api520", TOPIC, "subcooled propane", "its own", "release.omega_flow", _subcooled
    ),
    Comparison(
        "flashing_pipe_reduction",
        TOPIC,
        "flow of a pipe over a short passage",
        "-",
        "line_release",
        _pipe_reduction,
    ),
    Comparison(
        "drop_terminal_velocity",
        TOPIC,
        "fall of water drops",
        "m/s",
        "release.drop_fall",
        _drops,
        "measured",
    ),
    *(
        Comparison(
            "flashing_flow_marviken",
            TOPIC,
            f"flashing water, {name}, test {test}",
            "kg/m²/s",
            "two_phase_release",
            _flashing_water(test, model),
            "measured",
        )
        for model, name in (("homogeneous_equilibrium", "equilibrium"), ("length", "by length"))
        for test in ("23", "24")
    ),
)
