"""Tables that the pages include, made from the shipped data when the documentation is built."""

from __future__ import annotations

import csv
import re
import time
from collections.abc import Iterable
from pathlib import Path

import blend_pages
import computed
import ground_figures
import numpy as np
import pool_pages

import lpgrelease as lr
from lpgrelease import constants as module
from lpgrelease.fluids.substances import SUBSTANCES
from lpgrelease.fluids.table import load_table
from lpgrelease.release import FITTINGS, discharge_guidance, ideal_gas_release, loss_coefficient

HERE = Path(__file__).parent
KEY = re.compile(r"(?<![\w`])([a-z]{2,}\d{4}[a-z]{2,})\b")


def make(target: Path) -> None:
    """Write every table into the folder `target`, as Markdown."""
    for name, lines in {
        "substances": substances(),
        "sources": sources(),
        "transport_ranges": transport_ranges(),
        "flammability": flammability(),
        "dangers": dangers(),
        "service": service(),
        "grounds": grounds(),
        "boiling_on_water": boiling_on_water(),
        "lasting_pools": lasting_pools(),
        "drips": drips(),
        "pool_contact": pool_contact(),
        "accuracy": accuracy(),
        "blend_pure_ends": _table(*blend_pages.pure_ends()),
        "blend_pairs": _table(*blend_pages.pairs()),
        "blend_grades": _table(*blend_pages.grades(), "llllllrr"),
        "blend_services": _table(*blend_pages.services(), "lllr"),
        "thresholds": thresholds(),
        "constants": constants(),
        "discharge_coefficients": discharge_coefficients(),
        "loss_coefficients": loss_coefficients(),
        "flashing_flow": flashing_flow(),
        "ideal_gas": ideal_gas(),
        "fire_models": fire_models(),
        "fire_thresholds": fire_thresholds(),
    }.items():
        _write(target / f"{name}.md", "\n".join(lines))
    _write(target / "story.txt", computed.story().table())


def _write(path: Path, text: str) -> None:
    """Write only what changed, so that unchanged pages are not built again."""
    if not path.exists() or path.read_text(encoding="utf-8") != f"{text}\n":
        path.write_text(f"{text}\n", encoding="utf-8")


def _table(header: Iterable[str], rows: Iterable[Iterable[object]], align: str = "") -> list[str]:
    header = list(header)
    marks = {"l": ":---", "r": "---:"}
    rule = [marks[a] for a in (align or "l" + "r" * (len(header) - 1))]
    return ["| " + " | ".join(map(str, row)) + " |" for row in (header, rule, *rows)]


def _cite(*keys: str) -> str:
    return " ".join(f"{{cite:t}}`{key}`" for key in dict.fromkeys(k for k in keys if k))


def discharge_coefficients() -> list[str]:
    """Return the guidance on discharge coefficients."""
    rows = [
        [
            row.kind,
            row.phase,
            f"{row.low:g}" if row.low == row.high else f"{row.low:g} to {row.high:g}",
            f"{row.advised:g}",
            _cite(row.source) or "common practice, no source",
            KEY.sub(r"{cite:t}`\1`", row.note),
        ]
        for row in discharge_guidance()
    ]
    header = ("hole", "what flows", "range", "advised", "source", "note")
    return _table(header, rows, "llrrll")


def loss_coefficients() -> list[str]:
    """Return the loss coefficients of fittings at three bores."""
    bores = np.array([0.0254, 0.0508, 0.0762])
    rows = [[name, *(f"{k:.2f}" for k in loss_coefficient(name, diameter=bores))] for name in FITTINGS]
    return _table(("fitting", "25.4 mm", "50.8 mm", "76.2 mm"), rows)


def flashing_flow() -> list[str]:
    """Return bias and scatter of each model against measured flashing flow."""
    names = {
        "homogeneous_equilibrium": "homogeneous equilibrium",
        "omega": "omega",
        "length": "by length, 0.166 m",
        "frozen": "frozen",
    }
    rows = []
    for model, name in names.items():
        cells = [computed.flashing_bias(test, model) for test in ("23", "24")]
        rows.append([name, *(text for mean, spread in cells for text in (f"{mean:.2f}", f"{spread:.2f}"))])
    return _table(("model", "260 °C: mean", "scatter", "230 °C: mean", "scatter"), rows)


def ideal_gas() -> list[str]:
    """Return how far the ideal-gas form parts from the real gas, for saturated vapor."""
    hole = lr.Opening(diameter=0.01, discharge_coefficient=1.0)
    rows = []
    for name in ("propane", "n-butane", "ammonia"):
        fluid = lr.Fluid(name)
        for celsius in (0.0, 20.0, 40.0, 60.0):
            t = celsius + 273.15
            s = fluid.saturation(temperature=t)
            if s.pressure < 2e5:
                continue
            gas = module.GAS_CONSTANT / fluid.molar_mass
            c_p = fluid.gas(temperature=t, pressure=10.0).heat_capacity
            k, z = c_p / (c_p - gas), s.pressure / (s.vapor_density * gas * t)
            real = lr.vapor_release(fluid, hole, temperature=t).mass_flux
            given = {"temperature": t, "pressure": s.pressure, "molar_mass": fluid.molar_mass}
            ideal = ideal_gas_release(hole, **given, heat_capacity_ratio=k).mass_flux
            parts = [f"{(ideal / real - 1.0) * 100:+.1f} %"]
            # choked flux of the ideal form goes with the inverse root of the compressibility
            parts.append(f"{(ideal / np.sqrt(z) / real - 1.0) * 100:+.1f} %")
            rows.append([name, f"{celsius:g}", f"{s.pressure / 1e5:.2f}", f"{k:.3f}", f"{z:.3f}", *parts])
    return _table(("vapor", "°C", "bar", "k", "Z", "ideal, Z = 1", "ideal, with Z"), rows)


def substances() -> list[str]:
    """Return what is served, its boiling and critical point, and how it is recognized."""
    rows = []
    for name, substance in SUBSTANCES.items():
        fluid = lr.Fluid(name)
        rows.append(
            [
                name,
                substance.cas,
                substance.formula,
                f"{fluid.molar_mass * 1e3:.2f}",
                "-" if name == "carbon dioxide" else f"{fluid.normal_boiling_point - 273.15:.2f}",
                f"{fluid.critical_temperature - 273.15:.2f}",
                f"{fluid.critical_pressure / 1e5:.2f}",
                f"{fluid.lowest_temperature:.1f}\N{EN DASH}{fluid.highest_temperature:.1f}",
            ]
        )
    header = ["substance", "CAS number", "formula", "M [g/mol]", "boils at 1 atm [°C]"]
    header += ["critical [°C]", "critical [bar]", "table [K]"]
    return _table(header, rows, "lllrrrrr")


def sources() -> list[str]:
    """Return which publication serves which property of each substance, read from the shipped tables."""
    rows = []
    for name in SUBSTANCES:
        origin = load_table(name).origin
        by = origin["transport_sources"]
        row = [name, _cite(origin["source"])]
        rows.append(row + [_cite(by[kind]) for kind in ("viscosity", "conductivity", "tension")])
    header = ["substance", "equation of state", "viscosity", "conductivity", "surface tension"]
    return _table(header, rows, "lllll")


def transport_ranges() -> list[str]:
    """Return the published ranges of transport correlations where they are narrower than the table."""
    rows = []
    for name in SUBSTANCES:
        table = load_table(name)
        for field, (low, high) in table.origin["transport_ranges"].items():
            whole = low <= table.lowest_temperature + 0.01 and high >= table.highest_temperature - 0.01
            if not whole:
                rows.append([name, field.replace("_", " "), f"{low:.1f}", f"{high:.1f}"])
    return _table(["substance", "property", "from [K]", "to [K]"], rows, "llrr")


def flammability() -> list[str]:
    """Return flammable limits and heats of combustion, each with its source."""
    rows = []
    for name, s in SUBSTANCES.items():
        if not s.flammable:
            continue
        lower, upper = lr.Fluid(name).flammable_limits
        heats = [f"{h / 1e6:.2f}" for h in (s.heat_of_combustion_lower, s.heat_of_combustion_higher)]
        rows.append(
            [name, f"{lower * 100:.2g}", f"{upper * 100:.3g}", _cite(*s.flammability_source.split(";"))]
        )
        rows[-1] += [*heats, _cite(s.combustion_source)]
    header = ["substance", "lower [% vol]", "upper [% vol]", "limits from"]
    header += ["net heat [MJ/kg]", "gross heat [MJ/kg]", "heats from"]
    return _table(header, rows, "lrrlrrl")


def dangers() -> list[str]:
    """Return what poisons, at what level, and what else each substance does."""
    rows = []
    for name, s in SUBSTANCES.items():
        level = "" if s.immediately_dangerous is None else f"{1e6 * s.immediately_dangerous:,.0f}"
        source = _cite(s.toxicity_source) if s.toxicity_source else ""
        burns = "yes" if s.flammable else "no"
        what = ", ".join(s.hazards)
        rows.append([name, s.transport_class, burns, "yes" if s.toxic else "no", level, source])
        rows[-1] += [what, s.solubility_in_water]
    header = ["substance", "transport class", "burns in air", "toxic", "immediately dangerous [ppm]"]
    header += ["source", "also", "water takes it up"]
    return _table(header, rows, "lrllrlll")


PUBLISHED = HERE.parent / "tests" / "published"


def _farthest(name: str, table: str, field: str) -> str:
    """Return the largest difference from a handbook's regression, 50 kPa to 60 degC or 0.9 T_c [percent]."""
    found = [row for row in _read(PUBLISHED / f"{table}.csv") if row["fluid"] == name]
    if not found:
        return "-"
    row, fluid = found[0], lr.Fluid(name)
    least = fluid.saturation(temperature=fluid.lowest_temperature).pressure
    cold = float(fluid.saturation(pressure=max(50e3, least * (1.0 + 1e-12))).temperature)
    t = np.linspace(cold, min(333.15, 0.9 * fluid.critical_temperature), 25)
    c = [float(row[key]) for key in ("C1", "C2", "C3", "C4")]
    if field == "pressure":
        printed = np.exp(c[0] + c[1] / t + c[2] * np.log(t) + c[3] * t ** float(row["C5"]))
    elif field == "latent_heat":
        reduced = t / float(row["T_c_K"])
        printed = c[0] * (1.0 - reduced) ** (c[1] + c[2] * reduced + c[3] * reduced**2) / fluid.molar_mass
    else:
        printed = c[0] / c[1] ** (1.0 + (1.0 - t / c[2]) ** c[3]) * fluid.molar_mass
    served = getattr(fluid.saturation(temperature=t), field)
    return f"{100.0 * np.abs(printed / served - 1.0).max():.1f}"


def _microseconds(name: str) -> str:
    """Return how long one saturation state takes among ten thousand on this machine."""
    fluid = lr.Fluid(name)
    t = np.linspace(fluid.lowest_temperature, fluid.highest_temperature, 10_000)
    times = []
    for _ in range(3):
        start = time.perf_counter()
        fluid.saturation(temperature=t)
        times.append(time.perf_counter() - start)
    return f"{min(times) * 1e2:.1g}"


def service() -> list[str]:
    """Return what serves each substance, its range, how far tables and handbooks are off, and the speed."""
    accuracies = _read(HERE / "fluid_accuracy.csv")
    rows = []
    for name in SUBSTANCES:
        table = load_table(name)
        own = [r for r in accuracies if r["fluid"] == name and r["field"] not in TRANSPORT]
        equation = _cite(table.origin["source"])
        if not table.origin["coolprop_keys"]["equation"]:
            equation = f"fitted here to {equation}"
        handbook = (("vapor_pressure_perry", "pressure"), ("latent_heat_perry", "latent_heat"))
        handbook += (("liquid_density_perry", "liquid_density"),)
        rows.append(
            [
                name,
                equation,
                f"{table.lowest_temperature:.1f}\N{EN DASH}{table.highest_temperature:.1f}",
                f"{table.highest_gas_temperature:.0f}",
                f"{max(float(r['error']) for r in own if r['error']):.0e}",
                *(_farthest(name, *pair) for pair in handbook),
                _microseconds(name),
            ]
        )
    header = ["substance", "equation of state", "saturation [K]", "gas to [K]", "tables off it by"]
    header += ["handbook: pressure [%]", "latent heat [%]", "density [%]", "time [µs]"]
    return _table(header, rows, "llrrrrrrr")


def grounds() -> list[str]:
    """Return the named grounds with their source and how it is known."""
    path = Path(lr.__file__).parent / "data" / "grounds.csv"
    lines = [
        line for line in path.read_text(encoding="utf-8").splitlines() if line and not line.startswith("#")
    ]
    rows = []
    for row in csv.DictReader(lines):
        ground = lr.Ground.named(row["name"], temperature=293.15)
        coefficient = ground.heat_coefficient(231.0)
        rows.append(
            [
                row["name"],
                row["conductivity"],
                _range(row["conductivity_low"], row["conductivity_high"]),
                row["density"],
                row["heat_capacity"],
                row["water_mass_fraction"],
                _range(row["water_low"], row["water_high"]),
                f"{coefficient / 1e3:.0f}",
                _cite(*(key for key in row["source"].split(";") if not key.startswith("common"))),
                row["how_known"],
            ]
        )
    header = ["ground", "k [W/m/K]", "range", "density [kg/m³]", "heat capacity [J/kg/K]", "water [kg/kg]"]
    header += ["range", "A [kW s^0.5/m²]", "source", "how known"]
    return _table(header, rows, "lrlrrrlrll")


def _range(low: str, high: str) -> str:
    return "" if low == high else f"{low} to {high}"


def boiling_on_water() -> list[str]:
    """Return fluxes into liquids that boil on water, seen and computed."""
    rows = [[*row[:3], _cite(row[3])] for row in ground_figures.on_water()]
    return _table(["liquid on water", "seen [kW/m²]", "calm film [kW/m²]", "source"], rows, "lrrl")


TRANSPORT = ("liquid_viscosity", "vapor_viscosity", "liquid_conductivity", "vapor_conductivity")


def lasting_pools() -> list[str]:
    """Return the depths of liquid that last four days."""
    return _table(("ground", *pool_pages.SHELTERS), pool_pages.lasting_depths())


def pool_contact() -> list[str]:
    """Heat that boiling keeps back in the ground, fluid by fluid."""
    header = ("", *(f"less heat after {time}" for time in pool_pages.SINCE), "life of 50 kg let go at once")
    return _table(header, pool_pages.contacts())


def drips() -> list[str]:
    """Return feeds that keep a puddle alive, and how long one has to drip."""
    header = (
        "ground",
        "for ever, sheltered [g/s]",
        "for ever, in sun and wind [g/s]",
        "2 g/s has to drip [h]",
        "depth then [cm]",
    )
    return _table(header, pool_pages.drips())


def accuracy() -> list[str]:
    """Return the worst differences between tables and reference equations, one row for each substance."""
    table = _read(HERE / "fluid_accuracy.csv")
    rows = []
    for name in SUBSTANCES:
        own = [row for row in table if row["fluid"] == name]
        groups = [[r for r in own if (r["field"] in TRANSPORT) == kind] for kind in (False, True)]
        cells = [_worst(group, key) for group in groups for key in ("error", "error_near_critical")]
        rows.append([name, *cells])
    header = ["substance", "thermodynamic, to 0.98 T_c", "from there to the end"]
    return _table([*header, "transport, to 0.98 T_c", "from there to the end"], rows, "lllll")


def _worst(rows: list[dict[str, str]], key: str) -> str:
    known = [row for row in rows if row[key]]
    if not known:
        return "-"
    worst = max(known, key=lambda row: float(row[key]))
    return f"{float(worst[key]):.0e} ({worst['field'].replace('_', ' ')})"


def _read(path: Path) -> list[dict[str, str]]:
    text = path.read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if line and not line.startswith("#")))


def thresholds() -> list[str]:
    """Return the saturation pressure of each substance at the freezing point of water."""
    rows = []
    for name in SUBSTANCES:
        fluid = lr.Fluid(name)
        if not fluid.lowest_temperature < 273.15 < fluid.highest_temperature:
            continue
        pressure = fluid.saturation(temperature=273.15).pressure
        below = lr.Weather().ambient_pressure >= pressure
        gauge = "below ambient" if below else f"{(pressure - 101325.0) / 1e5:.2f}"
        rows.append([name, f"{pressure / 1e5:.4f}", gauge])
    return _table(["substance", "saturation at 0 °C [bar abs]", "gauge at sea level [bar]"], rows)


def constants() -> list[str]:
    """Return the physical constants."""
    rows = []
    for name in module.__all__:
        value = getattr(module, name)
        if isinstance(value, module.Constant):
            source = _cite(value.source) if " " not in value.source else value.source
            spread = f"{value.uncertainty:g}" if value.uncertainty else "exact"
            if name == "ZERO_GAUGE_READING":
                spread = "a convention"
            rows.append([f"`{name}`", value.name, f"{float(value):.10g}", value.unit, spread, source])
    return _table(["name", "what it is", "value", "unit", "uncertainty", "source"], rows, "llrlll")


def fire_models() -> list[str]:
    """Return what the models of a pool fire give at several diameters."""
    from lpgrelease.fire import pool_fire

    weather, rows = lr.Weather(wind_speed=3.0), []
    for diameter in (1.0, 2.0, 4.0, 10.0, 20.0):
        given = {"diameter": diameter, "weather": weather}
        smoky = pool_fire(lr.Fluid("propane"), **given)
        clean = pool_fire(lr.Fluid("propane"), emission="radiated fraction", **given)
        point = pool_fire(lr.Fluid("propane"), radiation="point source", **given)
        tall = pool_fire(lr.Fluid("propane"), length="heskestad", **given)
        low, high = (
            pool_fire(lr.Fluid("propane"), emission="radiated fraction", radiated_fraction=chi, **given)
            for chi in (0.2, 0.4)
        )
        stand = [f"{fire.standoff(1600.0):.0f}" for fire in (smoky, clean, low, high, point)]
        lengths = [f"{fire.flame_length:.1f}" for fire in (smoky, tall)]
        bright = [f"{fire.surface_emissive_power / 1e3:.0f}" for fire in (smoky, clean)]
        rows.append([f"{diameter:g}", f"{smoky.burning_rate:.2f}", *lengths, *bright, *stand])
    header = [
        "D [m]",
        "burns [kg/s]",
        "length, Thomas [m]",
        "Heskestad [m]",
        "E, smoke law [kW/m²]",
        "E, fraction",
    ]
    header += ["distance, smoke law [m]", "fraction 0.3", "0.2", "0.4", "point source"]
    return _table(header, rows, "r" * len(header))


def fire_thresholds() -> list[str]:
    """Return heat fluxes against harm."""
    from lpgrelease.fire import heat_thresholds

    rows = [
        [f"{row.heat_flux / 1e3:g}", row.effect, _cite(row.source), row.how_known]
        for row in heat_thresholds()
    ]
    return _table(["heat flux [kW/m²]", "effect", "source", "how known"], rows, "rlll")
