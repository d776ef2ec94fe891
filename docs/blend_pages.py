"""Numbers, tables and figure of the page on blends, computed when the documentation is built."""

from __future__ import annotations

import csv
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

import lpgrelease as lr
from lpgrelease.fluids import equilibrium as kernel
from lpgrelease.fluids.equilibrium import LIQUID, VAPOR
from lpgrelease.fluids.grades import GRADES
from lpgrelease.fluids.mixture import load_mixture, mixture_components

HERE = Path(__file__).parent
PSI = 6894.757293168361
TRADE = ((70.0, 127.0), (100.0, 196.0), (105.0, 210.0), (130.0, 287.0))
"""Commercial propane of the trade's table: degF and psig."""


def _gauge(fluid: lr.Fluid, fahrenheit: float) -> float:
    """Bubble pressure [psi gauge at sea level]."""
    t = (fahrenheit + 459.67) / 1.8
    return float(fluid.saturation(temperature=t).pressure - 101325.0) / PSI


def _reference() -> list[dict[str, Any]]:
    text = (HERE / "blend_reference.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return [{k: v if k in ("first", "second") else float(v) for k, v in row.items()} for row in rows]


def _measured() -> np.ndarray:
    """Columns x, y and p [Pa] measured at 323.15 K; without the tests, none."""
    path = HERE.parent / "tests" / "published" / "vle_propane_butane.csv"
    if not path.exists():
        return np.empty((3, 0))
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    table = np.array([[float(cell) for cell in line.split(",")] for line in lines[1:]]).T
    return np.array([table[0], table[1], 1e3 * table[3]])


# -- numbers --------------------------------------------------------------------------------------------


def numbers() -> dict[str, str]:
    """Substitutions of the page."""
    commercial, pure = lr.Fluid("commercial propane"), lr.Fluid("propane")
    x, y, p = _measured()
    points = [lr.bubble_point(lr.Fluid({"propane": a, "n-butane": 1.0 - a}), temperature=323.15) for a in x]
    off_p = max((abs(float(q.pressure) / m - 1.0) for q, m in zip(points, p, strict=True)), default=0.0)
    off_y = max((abs(float(q.vapor_composition[0]) - m) for q, m in zip(points, y, strict=True)), default=0.0)
    return {
        "grade_trade": ", ".join(f"{_gauge(commercial, f):.0f}" for f, _ in TRADE),
        "grade_printed": ", ".join(f"{psig:.0f}" for _, psig in TRADE),
        "grade_pure": ", ".join(f"{_gauge(pure, f):.0f}" for f, _ in TRADE),
        "grade_degrees": ", ".join(f"{f:.0f}" for f, _ in TRADE),
        "grade_boiling": f"{commercial.normal_boiling_point - 273.15:.0f} °C",
        "blend_flash": _flash_difference(),
        "blend_measured_p": f"{100.0 * off_p:.1f} %",
        "blend_measured_y": f"{off_y:.3f}",
    }


def _flash_difference() -> str:
    """Largest difference of flash fractions, table against cubic, 0 to 40 degC."""
    t = np.array([273.15, 283.15, 293.15, 303.15, 313.15])
    worst = 0.0
    for name, trace in (("propane", "n-butane"), ("propylene", "propane"), ("n-butane", "propane")):
        almost = lr.Fluid({name: 1.0 - 1e-7, trace: 1e-7})
        ours, theirs = (lr.flash(fluid, temperature=t).vapor_fraction for fluid in (almost, lr.Fluid(name)))
        worst = max(worst, float(np.abs(ours - theirs).max()))
    return f"{worst:.3f}"


# -- tables ---------------------------------------------------------------------------------------------


def pure_ends() -> tuple[list[str], list[list[str]]]:
    """Errors of the cubic at one component against the reference equation, per cent, largest."""
    header = ["component", "p, all [%]", "p ≥ 0.5 bar [%]", "liquid density [%]", "vapor density [%]"]
    header += ["latent heat [%]", "liquid c_p, to 0.85 T_c [%]", "liquid c_p [%]"]
    rows = []
    for name in mixture_components():
        pure, mixture = lr.Fluid(name), load_mixture((name,))
        t_c = pure.critical_temperature
        t = np.linspace(max(0.45 * t_c, pure.lowest_temperature), 0.95 * t_c, 60)
        one = np.ones((1, t.size))
        point = kernel.bubble_point(mixture, one, temperature=t)
        low, high = (mixture.phase(t, point.pressure, one, side)[1] for side in (LIQUID, VAPOR))
        mass = mixture.molar_mass[0, 0]
        fields = ("pressure", "liquid_density", "vapor_density", "latent_heat", "liquid_heat_capacity")
        p, rho_l, rho_v, latent, c_p = pure.saturated(t, *fields)
        errors = [
            100.0 * np.abs(ours / theirs - 1.0)
            for ours, theirs in (
                (point.pressure, p),
                (mass / low.volume, rho_l),
                (mass / high.volume, rho_v),
                ((high.enthalpy - low.enthalpy) / mass, latent),
                (low.heat_capacity / mass, c_p),
            )
        ]
        tangible, cool = p > 50e3, t < 0.85 * t_c
        parts = [errors[0], errors[0][tangible], errors[1], errors[2][tangible], errors[3][tangible]]
        parts += [errors[4][cool], errors[4]]
        rows.append([name, *(f"{part.max():.1f}" for part in parts)])
    return header, rows


def pairs() -> tuple[list[str], list[list[str]]]:
    """Range of differences from the reference mixture model, for each pair."""
    header = ["pair", "bubble pressure [%]", "dew pressure [%]", "y [mole %]", "liquid density [%]", "states"]
    found: dict[tuple[str, str], list[list[float]]] = {}
    for row in _reference():
        names, t = (row["first"], row["second"]), np.array([row["temperature"]])
        mixture, x = load_mixture(names), np.array([[row["x"]], [1.0 - row["x"]]])
        boils, condenses = (f(mixture, x, temperature=t) for f in (kernel.bubble_point, kernel.dew_point))
        liquid = mixture.phase(t, boils.pressure, x, LIQUID)[1]
        density = (mixture.mass(x) / liquid.volume)[0]
        found.setdefault(names, []).append(
            [
                100.0 * (boils.pressure[0] / row["bubble_pressure"] - 1.0),
                100.0 * (condenses.pressure[0] / row["dew_pressure"] - 1.0),
                100.0 * (boils.incipient[0, 0] - row["y"]),
                100.0 * (density / row["liquid_density"] - 1.0),
            ]
        )
    rows = []
    for names, values in found.items():
        low, high = np.nanmin(values, axis=0), np.nanmax(values, axis=0)
        spans = [f"{a:+.1f} to {b:+.1f}" for a, b in zip(low, high, strict=True)]
        rows.append([f"{names[0]} + {names[1]}", *spans, str(len(values))])
    return header, rows


def grades() -> tuple[list[str], list[list[str]]]:
    """Grades: standard, limits, composition assumed, what follows."""
    header = ["grade", "standard", "limits", "assumed [%]", "basis", "why", "psig at 100 °F", "boils [°C]"]
    rows = []
    for name, grade in GRADES.items():
        fluid = lr.Fluid(name)
        parts = ", ".join(f"{100.0 * fraction:g} {part}" for part, fraction in grade.composition)
        pressure, boils = f"{_gauge(fluid, 100.0):.0f}", f"{fluid.normal_boiling_point - 273.15:.0f}"
        rows.append(
            [name, grade.standard, grade.limits, parts, grade.basis, grade.assumption, pressure, boils]
        )
    return header, rows


def services() -> tuple[list[str], list[list[str]]]:
    """What serves pure fluids and blends, and the time of one state among two thousand."""
    pure, blend = lr.Fluid("propane"), lr.Fluid("commercial propane")
    binary = lr.Fluid({"propane": 0.6, "n-butane": 0.4})
    t, p = np.linspace(230.0, 310.0, 2000), np.linspace(2e5, 6e5, 2000)
    state = lr.equilibrium(binary, temperature=280.0, pressure=p)
    calls: list[tuple[str, str, str, Callable[[], Any]]] = [
        (
            "pure, saturation",
            "table of the reference equation",
            "to round-off of it",
            lambda: pure.saturation(temperature=t),
        ),
        (
            "blend, bubble line",
            "table of Peng-Robinson",
            "1e-8 in p",
            lambda: blend.saturation(temperature=t),
        ),
        (
            "blend of 5, bubble point",
            "Peng-Robinson, Newton",
            "round-off",
            lambda: lr.bubble_point(blend, temperature=t),
        ),
        ("blend of 5, dew point", "same", "round-off", lambda: lr.dew_point(blend, temperature=t)),
        (
            "blend of 2, (T, p)",
            "same",
            "round-off",
            lambda: lr.equilibrium(binary, temperature=280.0, pressure=p),
        ),
        (
            "blend of 2, (p, h)",
            "same",
            "round-off",
            lambda: lr.equilibrium(binary, pressure=p, enthalpy=state.enthalpy),
        ),
    ]
    rows = []
    for what, served, closeness, call in calls:
        call()
        took = []
        for _ in range(3):
            start = time.perf_counter()
            call()
            took.append(time.perf_counter() - start)
        rows.append([what, served, closeness, f"{min(took) / t.size * 1e6:.1f}"])
    return ["what", "served by", "found to", "µs a state"], rows


# -- figure ---------------------------------------------------------------------------------------------


def blend_equilibrium() -> Any:
    """Bubble and dew curves of propane and n-butane; K-values of commercial propane."""
    import matplotlib.pyplot as plt

    figure, (left, right) = plt.subplots(1, 2, figsize=(9.6, 4.4), layout="constrained")
    names = ("propane", "n-butane")
    mixture = load_mixture(names)
    x = np.linspace(1e-4, 1.0 - 1e-4, 81)
    z = np.array([x, 1.0 - x])
    rows = [row for row in _reference() if (row["first"], row["second"]) == names]
    for color, t in zip(("tab:blue", "tab:purple", "tab:red"), (260.0, 293.15, 323.15), strict=True):
        for call, style in ((kernel.bubble_point, "-"), (kernel.dew_point, "--")):
            point = call(mixture, z, temperature=np.full(x.size, t))
            left.plot(x, point.pressure / 1e5, style, color=color)
        own = [row for row in rows if row["temperature"] == t]
        at = [row["x"] for row in own]
        left.plot(at, [row["bubble_pressure"] / 1e5 for row in own], "o", color=color, ms=4, mfc="none")
        left.plot(at, [row["dew_pressure"] / 1e5 for row in own], "o", color=color, ms=4, mfc="none")
        left.annotate(
            f"{t - 273.15:.0f} °C",
            (1.0, point.pressure[-1] / 1e5),
            (2, 0),
            textcoords="offset points",
            color=color,
            va="center",
        )
    x_m, y_m, p_m = _measured()
    left.plot(x_m, p_m / 1e5, "k+", y_m, p_m / 1e5, "kx", ms=6)
    left.set(xlabel="mole fraction of propane", ylabel="pressure [bar]", xlim=(0.0, 1.12), ylim=(0.0, None))
    left.plot([], [], "k-", label="bubble point")
    left.plot([], [], "k--", label="dew point")
    left.plot([], [], "ko", mfc="none", ms=4, label="reference model")
    left.plot([], [], "k+", label="measured, 50 °C")
    left.legend(fontsize=8)
    fluid = lr.Fluid("commercial propane")
    t = np.linspace(225.0, 320.0, 60)
    point = lr.bubble_point(fluid, temperature=t)
    for i, name in enumerate(fluid.components):
        k = point.vapor_composition[:, i] / fluid.fractions[i]
        right.semilogy(t - 273.15, k, label=name)
    right.set(xlabel="temperature [°C]", ylabel="K = y/x at the bubble point", title="commercial propane")
    right.set_yticks([0.1, 0.2, 0.5, 1, 2, 5, 10], ["0.1", "0.2", "0.5", "1", "2", "5", "10"])
    right.minorticks_off()
    right.legend(fontsize=8)
    return figure
