"""Saturation properties of many points against CoolProp, and the cost of single calls."""

from __future__ import annotations

import CoolProp
import numpy as np
from CoolProp.CoolProp import PropsSI
from direct_states import FloatArray
from measuring import Row, ratio, timed

import lpgrelease as lr

__all__ = ["many_points", "single_calls"]

POINTS, LOOP_POINTS = 1_000_000, 50_000
COLDEST, WARMEST = 200.0, 350.0
"""Range of the random temperatures [K]."""
LIQUID = ["P", "Dmass", "Hmass", "Smass", "Umass", "Cpmass", "surface_tension"]
VAPOR = ["Dmass", "Hmass", "Smass", "Umass", "Cpmass"]
FIELDS = (
    *("pressure", "liquid_density", "liquid_enthalpy", "liquid_entropy", "liquid_internal_energy"),
    *("liquid_heat_capacity", "surface_tension", "vapor_density", "vapor_enthalpy", "vapor_entropy"),
    *("vapor_internal_energy", "vapor_heat_capacity", "latent_heat"),
)


def by_propssi(temperature: FloatArray) -> FloatArray:
    """All fields of a `SaturationState` but the temperature; two calls of `PropsSI` with the whole array."""
    liquid = PropsSI(LIQUID, "T", temperature, "Q", 0.0, "Propane")
    vapor = PropsSI(VAPOR, "T", temperature, "Q", 1.0, "Propane")
    return np.column_stack([liquid, vapor, vapor[:, 1] - liquid[:, 2]])


def by_state(temperature: FloatArray) -> FloatArray:
    """Compute the same by one low-level state object in a Python loop."""
    state = CoolProp.AbstractState("HEOS", "Propane")
    out = np.empty((temperature.size, 13))
    for row, t in zip(out, temperature.tolist(), strict=True):
        state.update(CoolProp.QT_INPUTS, 0.0, t)
        h_l = state.hmass()
        row[:5] = state.p(), state.rhomass(), h_l, state.smass(), state.umass()
        row[5:7] = state.cpmass(), state.surface_tension()
        state.update(CoolProp.QT_INPUTS, 1.0, t)
        h_v = state.hmass()
        row[7:] = state.rhomass(), h_v, state.smass(), state.umass(), state.cpmass(), h_v - h_l
    return out


def many_points() -> tuple[list[Row], list[str]]:
    """Measure times per point and ratios, and how far the answers are apart."""
    propane = lr.Fluid("propane")
    temperature = np.random.default_rng(1).uniform(COLDEST, WARMEST, POINTS)
    few = temperature[:LOOP_POINTS]
    per = {"ours": POINTS, "PropsSI": POINTS, "state": LOOP_POINTS}
    jobs = {
        "ours": lambda: propane.saturation(temperature=temperature),
        "PropsSI": lambda: by_propssi(temperature),
        "state": lambda: by_state(few),
    }
    times = timed(jobs, 3, per=per)
    state = propane.saturation(temperature=few)
    ours = np.column_stack([getattr(state, field) for field in FIELDS])
    # energies and entropies pass through zero: against the latent heat, or that over T
    size = np.abs(ours)
    size[:, [2, 4, 8, 10]] = np.maximum(size[:, [2, 4, 8, 10]], state.latent_heat[:, None])
    size[:, [3, 9]] = np.maximum(size[:, [3, 9]], (state.latent_heat / few)[:, None])
    apart = [float(np.max(np.abs(ours - other(few)) / size)) for other in (by_propssi, by_state)]
    rows = [
        Row.of_time(f"saturation, {POINTS:,} points: per point", times["ours"], "ns"),
        Row.of_time(f"  PropsSI, {POINTS:,} points: per point", times["PropsSI"], "ns"),
        Row.of_time(f"  AbstractState loop, {LOOP_POINTS:,} points: per point", times["state"], "ns"),
        Row.of_ratio("  PropsSI over saturation", ratio(times["PropsSI"], times["ours"]), at_least=25),
        Row.of_ratio("  AbstractState loop over saturation", ratio(times["state"], times["ours"])),
    ]
    note = "saturation: all 13 fields differ by at most {:.0e} from PropsSI, {:.0e} from AbstractState"
    return rows, [note.format(*apart)]


def single_calls() -> list[Row]:
    """Microseconds of single calls."""
    propane = lr.Fluid("propane")
    hole = lr.Opening(diameter=0.025, discharge_coefficient=0.62)
    jobs = {
        "propane.saturation(temperature=293.15)": lambda: propane.saturation(temperature=293.15),
        "lr.flash": lambda: lr.flash(propane, temperature=293.15, ambient_pressure=101325.0),
        "lr.vapor_release": lambda: lr.vapor_release(propane, hole, temperature=293.15),
        "lr.liquid_release": lambda: lr.liquid_release(propane, hole, temperature=293.15, head=1.0),
    }
    times = timed(jobs, 31, calls=200)
    first, *others = times.items()
    return [
        Row.of_time(f"one call: {first[0]}", first[1], "us", at_most=60.0),
        *(Row.of_time(f"one call: {name}", timing, "us") for name, timing in others),
    ]
