"""Fit the shipped tables to the reference equations of CoolProp (bell2014coolprop). For maintainers.

Run ``python -m lpgrelease.fluids.make_tables`` with CoolProp, chemicals and thermo installed; it rewrites
``lpgrelease/data/fluids``, or only the tables of the substances named after it. Users never need it.
"""

from __future__ import annotations

import io
import json
import sys
import zipfile
from collections.abc import Callable
from functools import partial
from importlib import resources
from typing import Any

import numpy as np

from lpgrelease.fluids import isentrope
from lpgrelease.fluids.correlations import CORRELATED, Correlations
from lpgrelease.fluids.fitted import FittedState, equation_from
from lpgrelease.fluids.handbook import Handbook
from lpgrelease.fluids.helmholtz import Equation
from lpgrelease.fluids.piecewise import DEGREE, NODES, PiecewisePolynomial, fit, fitting_points
from lpgrelease.fluids.substances import SUBSTANCES, Substance
from lpgrelease.fluids.table import FIELDS, FluidTable
from lpgrelease.halving import halved_to_middle
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

SEGMENTS = 128
LOWEST = 120.0
"""Tables begin at the triple point or here [K], whichever is higher; those of substances whose critical
temperature lies below 200 K at the triple point."""
COLD = 200.0
HIGHEST = 0.9999
"""Tables end at this fraction of the critical temperature."""

BIBLIOGRAPHY = {
    "Lemmon-JCED-2009": "lemmon2009propane",
    "Lemmon-PROPYLENE-2013": "lemmon2010propylene",
    "Buecker-JPCRD-2006B": "buecker2006butanes",
    "Lemmon-FPE-2005": "lemmon2005butenes",
    "Buecker-JPCRD-2006": "buecker2006ethane",
    "Smukala-JPCRD-2000": "smukala2000ethylene",
    "Wu-JPCRD-2011": "wu2011ether",
    "Gao-JPCRD-2020": "gao2023ammonia",
    "Thol-FPE-2019-alkanes-pentane": "thol2019pentane",
    "Lemmon-JCED-2006": "lemmon2006industrial",
    "Mulero-JPCRD-2012": "mulero2012tension",
    "Vogel-JPCRD-1998": "vogel1998propane",
    "Marsh-JCED-2002": "marsh2002propane",
    "Huber-IECR-2003": "huber2003transport",
    "Vogel-HTHP-1999": "vogel1999butane",
    "Perkins-JCED-2002-nButane": "perkins2002butane",
    "Vogel-IJT-2000": "vogel2000isobutane",
    "Perkins-JCED-2002-Isobutane": "perkins2002isobutane",
    "Friend-JPCRD-1991": "friend1991ethane",
    "Meng-JCED-2012": "meng2012ether",
    "Fenghour-JPCRD-1995": "fenghour1995ammonia",
    "Tufeu-BBPC-1984": "tufeu1984ammonia",
    "QuinonesCisneros-JPCB-2006": "quinones2006friction",
    "Vassiliou-JPCRD-2015-pentanes": "vassiliou2015pentanes",
    "Chung-IECR-1988": "chung1988transport",
    "Gao-JCED-2016": "gao2016sulfur",
    "Thol-AICHE-2021": "thol2021chlorine",
    "Span-JPCRD-1996": "span1996carbondioxide",
    "Laesecke-JPCRD-2017-CO2": "laesecke2017carbondioxide",
    "Huber-JPCRD-2016-CO2": "huber2016carbondioxide",
    "Thol-IJT-2022-VinylChloride": "thol2022vinyl",
    "Thol-IJT-2014": "thol2014associating",
    "Mulero-JPCRD-2014": "mulero2014tension",
    "Thol-CES-2015,Thol-CES-2015-CORR,Thol-THESIS-2015": "thol2015oxide",
    "TillnerRoth-JPCRD-1994": "tillnerroth1994refrigerant",
    "McLinden-IJR-2000": "mclinden2000refrigerants",
    "Setzmann-JPCRD-1991": "setzmann1991methane",
    "Friend-JPCRD-1989": "friend1989methane",
    "Thol-FPE-2019-alkanes-hexane": "thol2019hexane",
    "Michailidou-JPCRD-2013-Hexane": "michailidou2013hexane",
    "Assael-JPCRD-2013-Hexane": "assael2013hexane",
    "Span-JPCRD-2000": "span2000nitrogen",
    "Lemmon-IJT-2004": "lemmon2004air",
}
"""From CoolProp's keys to those of docs/references.bib."""
HANDBOOK = {
    "equation": "green2007handbook",
    "viscosity": "green2007handbook",
    "conductivity": "green2007handbook",
    "tension": "vdi2010heatatlas",
}
"""Where CoolProp has no model: what the equation was fitted to, and `Handbook`'s correlations. Those of
`Correlations` are all bell2016thermo's."""
REPLACED = {"sulfur dioxide": ("tension",)}
"""Models of CoolProp that are not used. mulero2012tension gives sulfur dioxide a surface tension 14 % below
vdi2010heatatlas at 0.9 of the critical temperature and a negative one from 0.97 of it."""


def not_negative(coefficients: FloatArray) -> FloatArray:
    """Make the segments (degree + 1, segments) that dip below zero straight lines between their ends."""
    values = np.vander(np.linspace(-1.0, 1.0, 33), DEGREE + 1, increasing=True) @ coefficients
    left, right = np.maximum(values[0], 0.0), np.maximum(values[-1], 0.0)
    straight = np.zeros_like(coefficients)
    straight[0], straight[1] = 0.5 * (left + right), 0.5 * (right - left)
    return np.where(values.min(axis=0) < 0.0, straight, coefficients)


def equation_of(name: str) -> tuple[Equation, dict[str, Any]]:
    """Read the Helmholtz equation of CoolProp's fluid `name`; also its raw record."""
    from CoolProp.CoolProp import get_fluid_param_string

    record = json.loads(get_fluid_param_string(name, "JSON"))[0]["EOS"][0]
    reducing = record["STATES"]["reducing"]
    lead, planck, powers, residual, critical = [0.0, 0.0, 0.0], [], [], [], []
    for term in record["alpha0"]:
        kind = term["type"].removeprefix("IdealGasHelmholtz")
        if kind in ("Lead", "EnthalpyEntropyOffset"):
            lead[0] += term["a1"]
            lead[1] += term["a2"]
        elif kind == "LogTau":
            lead[2] += term["a"]
        elif kind == "PlanckEinstein":
            planck += list(zip(term["n"], term["t"], strict=True))
        elif kind == "PlanckEinsteinFunctionT":
            planck += [(n, v / reducing["T"]) for n, v in zip(term["n"], term["v"], strict=True)]
        elif kind == "Power":
            powers += list(zip(term["n"], term["t"], strict=True))
        else:
            raise ValueError(f"{name}: ideal term {kind} is not known")
    for term in record["alphar"]:
        kind = term["type"].removeprefix("ResidualHelmholtz")
        if kind == "NonAnalytic":
            critical += list(zip(*(term[key] for key in ("n", "a", "b", "beta", *"ABCD")), strict=True))
            continue
        if kind not in ("Power", "Gaussian", "GaoB"):
            raise ValueError(f"{name}: residual term {kind} is not known")
        for i, n in enumerate(term["n"]):
            power = float(term.get("l", [0.0] * len(term["n"]))[i])
            shape = [
                float(term[key][i]) if key in term else 0.0
                for key in ("eta", "epsilon", "beta", "gamma", "b")
            ]
            if kind == "GaoB":
                shape[0] = -shape[0]  # CoolProp keeps the sign of the exponent in eta here
            residual.append([n, term["t"][i], term["d"][i], float(power > 0), power, *shape])
    mass = record["molar_mass"]
    equation = Equation(
        gas_constant=record["gas_constant"] / mass,
        reducing_temperature=reducing["T"],
        reducing_density=reducing["rhomolar"] * mass,
        lead=(lead[0], lead[1], lead[2]),
        planck_einstein=np.array(planck),
        residual=np.array(residual),
        ideal_powers=np.array(powers).reshape(-1, 2),
        critical=np.array(critical).reshape(-1, 8),
    )
    return equation, record


def _or_else(primary: Callable[[], float], fallback: Callable[[], float]) -> float:
    try:
        value = primary()
    except ValueError:
        return fallback()
    return value if np.isfinite(value) else fallback()


def backup_of(substance: Substance) -> Handbook | Correlations:
    """Return what serves the transport properties that CoolProp lacks."""
    return Correlations(substance.cas) if substance.name in CORRELATED else Handbook(substance)


def saturation_rows(state: Any, temperature: FloatArray, substance: Substance) -> dict[str, FloatArray]:
    """CoolProp's saturation properties at each temperature, in the table's fields."""
    import CoolProp

    backup = backup_of(substance)
    own_tension = bool(sources_of(substance)["tension"])
    rows = []
    for t in temperature:
        theta = np.sqrt(1.0 - t / state.T_critical())
        state.update(CoolProp.QT_INPUTS, 1.0, t)
        rho_v, h_v, c_v = state.rhomass(), state.hmass(), state.cpmass()
        transport_v = (
            _or_else(state.viscosity, partial(backup.vapor_viscosity, t)),
            _or_else(state.conductivity, partial(backup.vapor_conductivity, t)),
        )
        state.update(CoolProp.QT_INPUTS, 0.0, t)
        p, rho_l, h_l, s_l, c_l = state.p(), state.rhomass(), state.hmass(), state.smass(), state.cpmass()
        transport_l = (
            _or_else(state.viscosity, partial(backup.liquid_viscosity, t)),
            _or_else(state.conductivity, partial(backup.liquid_conductivity, t)),
        )
        # beyond its own critical point, a little below that of the equation, a correlation answers nothing
        tension = _or_else(state.surface_tension, lambda: 0.0) if own_tension else backup.surface_tension(t)
        z = p * state.molar_mass() / (rho_v * state.gas_constant() * t)
        beta = (h_v - h_l) / (1 / rho_v - 1 / rho_l)
        rows.append(
            {
                "log_pressure": np.log(p),
                "liquid_density": rho_l,
                "vapor_compressibility": z,
                "liquid_enthalpy": h_l,
                "latent_heat": h_v - h_l,
                "liquid_entropy": s_l,
                "scaled_liquid_heat_capacity": c_l * theta**2,
                "scaled_vapor_heat_capacity": c_v * theta**2,
                "surface_tension": tension,
                "clapeyron": beta,
                "inventory_energy_per_mass": h_l - beta / rho_l,
                "log_liquid_viscosity": np.log(transport_l[0]),
                "log_vapor_viscosity": np.log(transport_v[0]),
                "liquid_conductivity": transport_l[1],
                "vapor_conductivity": transport_v[1],
            }
        )
    return {key: np.array([row[key] for row in rows]) for key in rows[0]}


NARROWED = {
    ("ammonia", "liquid_conductivity"): (0.0, 397.4),
    ("ammonia", "vapor_conductivity"): (0.0, 397.4),
    ("n-pentane", "liquid_viscosity"): (240.0, np.inf),
}
"""Temperatures [K] between which a transport model of CoolProp can be trusted, where it answers beyond.

The enhancement of tufeu1984ammonia is singular at its own critical point, 405.4 K, below that of the
equation. quinones2006friction gives n-pentane a viscosity 11 % below green2007handbook at 240 K, 35 % at
200 K, and one that falls with cooling below 180 K.
"""


def transport_ranges(state: Any, width: float, substance: Substance) -> dict[str, list[float]]:
    """Temperatures between which the source of each transport property holds, inside the table."""
    critical = state.T_critical()
    lowest, highest = lowest_of(state), HIGHEST * critical
    temperature = critical * (1.0 - fitting_points(0.0, width, SEGMENTS) ** 2)
    backup, found = backup_of(substance), {}
    for quality, phase in ((0.0, "liquid"), (1.0, "vapor")):
        for kind in ("viscosity", "conductivity"):
            served = _served(state, kind, quality, temperature) | (temperature > highest)
            whole = np.flatnonzero(served.all(axis=1))
            field = f"{phase}_{kind}"
            if served[temperature <= highest].any():
                all_down = whole[-1] == SEGMENTS - 1
                low = lowest if all_down else critical * (1.0 - (width * (whole[-1] + 1)) ** 2)
                high = highest
            else:
                low, high = backup.range_of(field)
            least, most = NARROWED.get((substance.name, field), (lowest, highest))
            found[field] = [float(max(low, least, lowest)), float(min(high, most, highest))]
    return found


def _served(state: Any, kind: str, quality: float, temperature: FloatArray) -> Any:
    """Where CoolProp's own transport model answers."""
    import CoolProp

    values = []
    for t in temperature.ravel():
        state.update(CoolProp.QT_INPUTS, quality, t)
        values.append(_or_else(getattr(state, kind), lambda: np.nan))
    return np.isfinite(values).reshape(temperature.shape)


def invert(
    forward: PiecewisePolynomial, log_pressure: FloatArray, critical: float, lowest: float
) -> FloatArray:
    """Temperatures at which the table of ln(p) over theta holds `log_pressure`, by bisection."""
    low, high = np.full(log_pressure.size, 0.999 * lowest), np.full(log_pressure.size, critical)
    wanted = log_pressure.ravel()

    def colder(t: FloatArray) -> BoolArray:
        return np.asarray(~(forward.evaluate(np.sqrt(1.0 - t / critical), (0,))[0] > wanted))

    return halved_to_middle(colder, low, high, 60).reshape(log_pressure.shape)


def _slopes(values: FloatArray, width: float, theta: FloatArray, critical: float) -> FloatArray:
    """Theta * d(values)/dT at the nodes, from the fitted polynomial of theta (dT = -2 T_c theta dtheta)."""
    coefficients = fit(values[None])[:, 0]
    powers = np.arange(1, DEGREE + 1)
    scaled = coefficients[1:] * powers[:, None]
    derivative: FloatArray = np.einsum("ks,kn->sn", scaled, NODES ** (powers[:, None] - 1))
    return derivative * (2.0 / width) / (-2.0 * critical)


def state_of(substance: Substance) -> tuple[Any, Equation, float]:
    """Return what solves the equation for saturation, the equation, and its upper temperature [K]."""
    import CoolProp

    if not substance.coolprop_name:
        state = FittedState(substance.name)
        return state, equation_from(state.record), state.record["T_max"]
    equation, record = equation_of(substance.coolprop_name)
    return CoolProp.AbstractState("HEOS", substance.coolprop_name), equation, record["T_max"]


def lowest_of(state: Any) -> float:
    """Lower end of a table [K]."""
    triple = float(state.Ttriple())
    return triple if state.T_critical() < COLD else max(triple, LOWEST)


def build(substance: Substance) -> tuple[dict[str, FloatArray], dict[str, Any]]:
    """All arrays and numbers of one fluid's table."""
    import CoolProp

    state, equation, highest_gas = state_of(substance)
    critical = state.T_critical()
    lowest, highest = lowest_of(state), HIGHEST * critical
    width = float(np.sqrt(1.0 - lowest / critical)) / SEGMENTS
    theta = fitting_points(0.0, width, SEGMENTS)
    rows = saturation_rows(state, (critical * (1.0 - theta**2)).ravel(), substance)
    grid = {key: values.reshape(theta.shape) for key, values in rows.items()}
    grid["scaled_inventory_slope"] = _slopes(grid["inventory_energy_per_mass"], width, theta, critical)
    grid["scaled_clapeyron_slope"] = _slopes(grid["clapeyron"], width, theta, critical)
    grid["vapor_flux_number"] = np.zeros_like(theta)
    grid["vapor_critical_ratio"] = np.zeros_like(theta)
    forward = PiecewisePolynomial(fit(grid["log_pressure"][None]), 0.0, width)
    state.update(CoolProp.QT_INPUTS, 0.0, lowest)
    log_critical = np.log(state.p_critical())
    root_width = float(np.sqrt(log_critical - np.log(state.p()))) / SEGMENTS
    log_pressure = log_critical - fitting_points(0.0, root_width, SEGMENTS) ** 2
    inverse = fit(invert(forward, log_pressure, critical, lowest)[None])
    numbers = {
        "axes": [width, root_width],
        "gas_constant": equation.gas_constant,
        "reducing_temperature": equation.reducing_temperature,
        "reducing_density": equation.reducing_density,
        "lead": list(equation.lead),
        "critical_temperature": critical,
        "critical_pressure": state.p_critical(),
        "molar_mass": state.molar_mass(),
        "triple_temperature": state.Ttriple(),
        "lowest_temperature": lowest,
        "highest_temperature": highest,
        "highest_gas_temperature": highest_gas,
    }
    numbers["transport_ranges"] = transport_ranges(state, width, substance)
    add_choking(grid, inverse, equation, numbers)
    saturation = fit(np.array([grid[field] for field in FIELDS]))
    tension = FIELDS.index("surface_tension")
    saturation[:, tension] = not_negative(saturation[:, tension])
    arrays = {
        "saturation": saturation,
        "inverse": inverse,
        "planck_einstein": equation.planck_einstein,
        "residual": equation.residual,
    }
    for kind in ("ideal_powers", "critical"):
        if getattr(equation, kind).size:
            arrays[kind] = getattr(equation, kind)
    return arrays, numbers


def add_choking(
    grid: dict[str, FloatArray], inverse: FloatArray, equation: Equation, numbers: dict[str, Any]
) -> None:
    """Add the choked flux of saturated vapor to `grid`, from the tables fitted so far."""
    width, root_width = numbers["axes"]
    saturation = fit(np.array([grid[field] for field in FIELDS]))
    named = {
        k: v
        for k, v in numbers.items()
        if k not in ("axes", "reducing_temperature", "reducing_density", "lead", "transport_ranges")
    }
    table = FluidTable(
        saturation=PiecewisePolynomial(saturation, 0.0, width),
        inverse=PiecewisePolynomial(inverse, 0.0, root_width),
        equation=equation,
        origin={},
        lowest_nozzle_temperature=numbers["lowest_temperature"],
        **named,
    )
    temperature = table.critical_temperature * (1.0 - fitting_points(0.0, width, SEGMENTS).ravel() ** 2)
    within = np.minimum(temperature, table.highest_temperature)
    p, h_v, s_v = table.saturated(within, "pressure", "vapor_enthalpy", "vapor_entropy")
    flux, throat = isentrope.choking_state(table, h_v, s_v, within)
    number = flux / p * np.sqrt(table.gas_constant * within)
    served = throat.temperature > 1.001 * table.lowest_temperature
    numbers["lowest_nozzle_temperature"] = float(within[served].min())
    for field, values in (("vapor_flux_number", number), ("vapor_critical_ratio", throat.pressure / p)):
        lowest_served = values[served][np.argmin(within[served])]
        grid[field] = np.where(served, values, lowest_served).reshape(grid[field].shape)


def write(name: str, arrays: dict[str, FloatArray], origin: dict[str, Any]) -> None:
    """Write a table so that equal contents make equal bytes."""
    folder: Any = resources.files("lpgrelease") / "data" / "fluids"
    contents = dict(arrays, origin=np.array(json.dumps(origin, sort_keys=True)))
    with (
        folder.joinpath(f"{name}.npz").open("wb") as stream,
        zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive,
    ):
        for key, values in sorted(contents.items()):
            buffer = io.BytesIO()
            np.save(buffer, values)
            archive.writestr(zipfile.ZipInfo(f"{key}.npy", (1980, 1, 1, 0, 0, 0)), buffer.getvalue())


def sources_of(substance: Substance) -> dict[str, str]:
    """CoolProp's own keys of the papers behind each property; "" where it has none."""
    from CoolProp.CoolProp import get_BibTeXKey

    kinds = {
        "equation": "EOS",
        "viscosity": "VISCOSITY",
        "conductivity": "CONDUCTIVITY",
        "tension": "SURFACE_TENSION",
    }
    found = {}
    for key, kind in kinds.items():
        try:
            found[key] = str(get_BibTeXKey(substance.coolprop_name, kind))
        except ValueError:
            found[key] = ""
    return found | dict.fromkeys(REPLACED.get(substance.name, ()), "")


def make(substance: Substance) -> None:
    """Fit and write the table of a substance."""
    import CoolProp

    arrays, numbers = build(substance)
    keys = sources_of(substance)
    other = dict.fromkeys(HANDBOOK, "bell2016thermo") if substance.name in CORRELATED else HANDBOOK
    sources = {kind: BIBLIOGRAPHY[key] if key else other[kind] for kind, key in keys.items()}
    origin = {
        "coolprop_version": CoolProp.__version__,
        "coolprop_name": substance.coolprop_name,
        "coolprop_keys": keys,
        "source": sources.pop("equation"),
        "transport_sources": sources,
        "transport_ranges": numbers.pop("transport_ranges"),
        "numbers": numbers,
    }
    write(substance.name, arrays, origin)


def main(names: list[str]) -> None:
    """Fit and write the tables of the substances named, or of all."""
    folder: Any = resources.files("lpgrelease") / "data" / "fluids"
    folder.mkdir(exist_ok=True)
    for name in names or SUBSTANCES:
        make(SUBSTANCES[name])


if __name__ == "__main__":
    main(sys.argv[1:])
