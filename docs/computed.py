"""Numbers that the pages state, computed by the library when the documentation is built.

Each becomes a substitution: ``{{ name }}`` in a page.
"""

from __future__ import annotations

from pathlib import Path

import blend_figures
import blend_pages
import ground_figures
import numpy as np
import pool_pages
import tank_pages

import lpgrelease as lr
from lpgrelease.constants import ZERO_GAUGE_READING
from lpgrelease.release import Line, aerodynamic_drop_diameter, drop_fall, expanded_jet, line_release
from lpgrelease.studies import running, sampling
from lpgrelease.tank.frost import frost_height, frost_point, moisture_heat_flux

PROPANE = lr.Fluid("propane")


def _flash() -> dict[str, str]:
    warm = lr.flash(PROPANE, temperature=293.15)
    kept = lr.flash(PROPANE, temperature=293.15, path="isentropic")
    return {
        "flash_isenthalpic": f"{warm.vapor_fraction:.4f}",
        "flash_isentropic": f"{kept.vapor_fraction:.4f}",
        "flash_enthalpy_drop": f"{kept.enthalpy_drop / 1e3:.1f} kJ/kg",
    }


def _release() -> dict[str, str]:
    hole = lr.Opening(diameter=0.006)
    ends = [f"{t:g}" for t in (0.0, 40.0)]
    ratios, wet = [], []
    for t in (273.15, 313.15):
        vapor = lr.vapor_release(PROPANE, hole, temperature=t).mass_flux
        liquid = lr.liquid_release(PROPANE, hole, temperature=t).mass_flux
        boiling = lr.two_phase_release(PROPANE, hole, temperature=t, vapor_fraction=0.0).mass_flux
        ratios.append(f"{liquid / vapor:.1f}")
        wet.append(f"{boiling / vapor:.1f}")
    throat = lr.vapor_release(PROPANE, hole, temperature=293.15)
    small = PROPANE.saturation(pressure=lr.gauge(2000.0)).temperature
    slow = lr.liquid_release(PROPANE, hole, temperature=small).mass_flow
    puff = lr.vapor_release(PROPANE, hole, temperature=small).mass_flow
    return {
        "ratio_cold": f"{ratios[0]} at {ends[0]} °C",
        "ratio_warm": f"{ratios[1]} at {ends[1]} °C",
        "wet_ratio_cold": f"{wet[0]} at {ends[0]} °C",
        "wet_ratio_warm": f"{wet[1]} at {ends[1]} °C",
        "throat_wetness": f"{(1.0 - throat.throat_vapor_fraction) * 100:.1f} %",
        "throat_ratio": f"{throat.throat_pressure / PROPANE.saturation(temperature=293.15).pressure:.3f}",
        "low_gauge_liquid": f"{slow * 1e3:.1f} g/s",
        "low_gauge_vapor": f"{puff * 1e3:.2f} g/s",
    }


def flashing_flow() -> list[list[str]]:
    """Header and rows of the measured flashing flow and the models' answers."""
    path = Path(__file__).parent / "flashing_flow.csv"
    rows = [line.split(",") for line in path.read_text(encoding="utf-8").splitlines()]
    return [row for row in rows if row[0][0] != "#"]


def flashing_bias(test: str, model: str) -> tuple[float, float]:
    """Geometric mean of model over measurement, and its scatter as a factor."""
    header, *rows = flashing_flow()
    at = header.index(model)
    logs = np.log([float(row[at]) / float(row[2]) for row in rows if row[0] == test])
    return float(np.exp(logs.mean())), float(np.exp(logs.std()))


def _lines() -> dict[str, str]:
    hose = Line(diameter=0.0508, length=30.0)
    hole = lr.Opening(diameter=0.0508, discharge_coefficient=1.0)
    result = {}
    for name, x in (("vapor", 1.0), ("boiling", 0.0)):
        whole = lr.two_phase_release(PROPANE, hole, temperature=293.15, vapor_fraction=x).mass_flow
        flow = line_release(PROPANE, hose, temperature=293.15, vapor_fraction=x).mass_flow
        result |= {f"hose_{name}": f"{flow:.2f} kg/s", f"hose_{name}_share": f"{flow / whole * 100:.0f} %"}
    return result


def _jets() -> dict[str, str]:
    hole = lr.Opening(diameter=0.025)
    jet = expanded_jet(PROPANE, hole, lr.liquid_release(PROPANE, hole, temperature=293.15))
    ideal = lr.Opening(diameter=0.025, discharge_coefficient=1.0)
    ends = [
        expanded_jet(PROPANE, ideal, lr.two_phase_release(PROPANE, ideal, temperature=293.15, model=model))
        for model in ("homogeneous equilibrium", "frozen")
    ]
    largest = aerodynamic_drop_diameter(PROPANE, velocity=jet.velocity)
    fall = drop_fall(PROPANE, diameter=[1e-4, 3e-4, 1e-3], height=1.0)
    return {
        "jet_velocity": f"{jet.velocity:.0f} m/s",
        "jet_vapor": f"{jet.vapor_fraction * 100:.0f} %",
        "jet_thrust": f"{jet.thrust:.0f} N",
        "jet_bounds": "; ".join(f"{end.velocity:.0f} m/s, {end.thrust:.0f} N" for end in ends),
        "jet_drop": f"{largest * 1e6:.0f} µm",
        "drop_depths": ", ".join(f"{depth:.2g}" for depth in fall.depth_to_dry) + " m",
    }


def _ground() -> dict[str, str]:
    grounds = (lr.Ground.named(name, temperature=300.15) for name in ("dry sand", "wet sand"))
    dry, wet = (ground.heat_coefficient(231.0) for ground in grounds)
    return {"wet_over_dry": f"{wet / dry:.1f}"} | ground_figures.numbers()


def _tank(heat_transfer: float | None, wall_mass: float) -> lr.Contents:
    tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=wall_mass, heat_transfer=heat_transfer)
    return lr.Contents(tank, PROPANE, fill=0.8, temperature=293.15)


def _vent(diameter: float) -> lr.Opening:
    return lr.Opening(diameter=diameter, discharge_coefficient=0.85, height=1.04)


def _minutes(seconds: float) -> str:
    return f"{seconds / 60:.1f} minutes" if seconds < 5400 else f"{seconds / 3600:.1f} hours"


def _left(run: lr.tank.TankHistory) -> str:
    return f"{run.liquid_mass[-1] / run.liquid_mass[0] * 100:.0f} %"


def _story(run: lr.tank.TankHistory) -> str:
    if run.stopped_by == "settled":
        gauge = run.plateau_pressure - 101325.0
        return f"never does: it settles at {gauge / 1e3:.1f} kPa ({gauge / 6894.757:.1f} psi)"
    return f"takes {_minutes(run.time[-1])} and leaves {_left(run)}"


def _heat_row(what: str, contents: lr.Contents, diameter: float) -> str:
    run = lr.tank_history(contents, openings=[_vent(diameter)], points=200)
    latent = PROPANE.saturated(run.temperature, "latent_heat")[0]
    total = float(np.sum(0.5 * (latent[1:] + latent[:-1]) * np.diff(run.mass_released[0])))
    wall = float(contents.tank.wall_capacity * (run.temperature[0] - run.temperature[-1])) / total
    outside = float(run.heat_gained[-1]) / total
    cells = [what, f"{diameter * 1e3:g} mm", f"{_minutes(run.time[-1])}, {run.stopped_by}", _left(run)]
    shares = [f"{share * 100:.0f} %" for share in (1.0 - wall - outside, wall, outside)]
    return "| " + " | ".join([*cells, *shares]) + " |"


def _history() -> dict[str, str]:
    bare = _tank(None, 900.0)
    large, middle, small = (lr.tank_history(bare, openings=[_vent(d)]) for d in (0.0508, 0.0254, 0.0127))
    adiabatic, walled = (lr.tank_history(_tank(0.0, m), openings=[_vent(0.0508)]) for m in (0.0, 900.0))
    back = lr.tank_history(large.final, stop_at_gauge_pressure=1e5)
    plateau = small.plateau_pressure - 101325.0
    header = (
        "tank | vent | ends after | liquid left | from the liquid's cooling | from the shell | from outside"
    )
    rows = [
        f"| {header} |",
        "|" + ":---|" * 3 + "---:|" * 4,
        _heat_row("no shell, no heat from outside", _tank(0.0, 0.0), 0.0508),
        _heat_row("shell, no heat from outside", _tank(0.0, 900.0), 0.0508),
        *(_heat_row("shell, bare in wind of 2 m/s", bare, d) for d in (0.0508, 0.0254, 0.0127)),
    ]
    return {
        "vent_large": _minutes(large.time[-1]),
        "vent_large_left": _left(large),
        "vent_middle": _story(middle),
        "vent_small": _story(small),
        "left_adiabatic": _left(adiabatic),
        "left_wall": _left(walled),
        "plateau_small": f"{plateau / 1e3:.1f} kPa ({plateau / 6894.757:.1f} psi) on the gauge",
        "return_one_bar": _minutes(back.time[-1]),
        "heat_table": "\n".join(rows),
        "zero_reading": f"{float(ZERO_GAUGE_READING):.0f} Pa",
    }


def story() -> lr.response.Forecast:
    """Forecast the incident of the pages."""
    incident = lr.Incident(
        contents=_tank(None, 900.0),
        leaks=[lr.Opening(diameter=0.008, height=0.2)],
        ground=lr.Ground.named("moist sand"),
        weather=lr.Weather(wind_speed=2.0),
    )
    return lr.forecast(incident, lr.ResponsePlan(arrival=900.0, vent=_vent(0.0508)))


def _vapor_arrival() -> dict[str, str]:
    pressure = PROPANE.saturation(temperature=300.15).pressure - 101325.0
    seal = lr.assess_freeze_seal(PROPANE, lr.Opening(diameter=0.006), gauge_pressure=pressure, phase="vapor")
    return {"vapor_arrival": f"{seal.leak_temperature - 273.15:.0f} °C"}


def _studies() -> dict[str, str]:
    numbers = {
        "study_block": sampling.BLOCK,
        "study_wave": running.WAVE,
        "study_calls": running.MOST_CALLS,
        "study_fruitless": running.FRUITLESS_CALLS,
    }
    return {name: f"{number:,}" for name, number in numbers.items()}


def _walls() -> dict[str, str]:
    contents = _tank(None, 900.0)
    swells = [
        lr.level_swell(contents, vapor_flow=1.0, height=1.04, regime=regime)
        for regime in ("churn-turbulent", "bubbly")
    ]
    vent = lr.vapor_release(PROPANE, _vent(0.0508), temperature=293.15)
    # convection of 10 W/m2/K outside and 6 inside, between air and vapor halfway between air and liquid
    decay = np.sqrt(16.0 / (50.0 * 0.010))
    far = (10.0 * 293.15 + 6.0 * 263.15) / 16.0
    frost = frost_height(233.15, far, frost_point(293.15, 0.5), decay=decay, length=0.6)
    moist = {"air_temperature": 293.15, "relative_humidity": 0.5, "pressure": 101325.0}
    return {
        "frost_heat": f"{moisture_heat_flux(10.0, 233.15, **moist):.0f} W/m²",
        "swell_rise": f"{100 * swells[0].rise_velocity:.0f} cm/s",
        "swell_churn": f"{swells[0].largest_flow:.1f} kg/s",
        "swell_bubbly": f"{swells[1].largest_flow:.1f} kg/s",
        "swell_vent": f"{vent.mass_flow:.1f} kg/s",
        "frost_height": f"{100 * frost:.0f} cm",
    }


SUBSTITUTIONS = (
    _flash()
    | _release()
    | _lines()
    | _jets()
    | _ground()
    | _history()
    | _vapor_arrival()
    | _studies()
    | _walls()
    | blend_figures.numbers()
    | blend_pages.numbers()
    | pool_pages.numbers()
    | tank_pages.numbers()
)
