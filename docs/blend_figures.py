"""Numbers and figure of the page on tanks of blends, computed when the documentation is built."""

from __future__ import annotations

from typing import Any

import numpy as np

import lpgrelease as lr
from lpgrelease.fluids.blend_isentrope import choking_point
from lpgrelease.fluids.equilibrium import VAPOR, bubble_point
from lpgrelease.release.blend_nozzle import blend_nozzle

BLEND = lr.Fluid({"propane": 0.6, "isobutane": 0.15, "n-butane": 0.2, "ethane": 0.05})
"""An invented commercial mix."""


def _history(fluid: lr.Fluid, diameter: float, heat_transfer: float = 170.0, **limits: Any) -> Any:
    tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=heat_transfer)
    contents = lr.Contents(tank, fluid, fill=0.8, temperature=293.15)
    vent = lr.Opening(diameter=diameter, discharge_coefficient=0.85, height=1.04)
    return lr.tank_history(contents, openings=[vent], **limits)


def _flux_error() -> float:
    """Largest relative error of the tabulated choked flux among liquids on their way to the last drop."""
    draw = np.random.default_rng(2)
    mixture, count = BLEND.blend.mixture, 40
    nozzle = blend_nozzle(BLEND.components, BLEND.fractions)
    temperature = draw.uniform(235.0, 315.0, count)
    first = bubble_point(mixture, BLEND.blend.fractions, temperature=np.array([270.0]))
    x = BLEND.blend.fractions * np.exp(-np.exp(first.log_ratio) * draw.uniform(0.0, 3.0, count))
    point = bubble_point(mixture, x / x.sum(axis=0), temperature=temperature)
    y, p = point.incipient, point.pressure
    inlet = mixture.phase(temperature, p, y, VAPOR)[1]
    exact = choking_point(mixture, y, enthalpy=inlet.enthalpy, entropy=inlet.entropy, pressure=p).flux
    number = nozzle.flux_number(temperature, y, np.ones(count))[0]
    return float(np.abs(number * np.sqrt(p * mixture.mass(y) / inlet.volume) / exact - 1.0).max())


def numbers() -> dict[str, str]:
    """Substitutions of the page."""
    fast = _history(BLEND, 0.0508)
    slow = _history(BLEND, 0.0127)
    almost = _history(lr.Fluid({"propane": 1.0 - 1e-6, "n-butane": 1e-6}), 0.0508, 0.0)
    pure = _history(lr.Fluid("propane"), 0.0508, 0.0)
    boiling = bubble_point(
        BLEND.blend.mixture, slow.liquid_fractions, pressure=np.full(slow.time.size, 101325.0)
    ).temperature
    mass = [float(run.liquid_mass[-1] / run.liquid_mass[0]) for run in (almost, pure)]
    return {
        "blend_fast_time": f"{fast.time[-1] / 60.0:.1f} minutes",
        "blend_fast_end": f"{fast.temperature[-1] - 273.15:.0f} °C",
        "blend_fast_left": f"{100 * fast.liquid_mass[-1] / fast.liquid_mass[0]:.0f} %",
        "blend_fast_propane": f"{100 * fast.liquid_fractions[0, -1]:.0f} %",
        "blend_slow_time": f"{slow.time[-1] / 3600.0:.0f} hours",
        "blend_slow_cold": f"{slow.temperature.min() - 273.15:.0f} °C",
        "blend_slow_end": f"{slow.temperature[-1] - 273.15:.0f} °C",
        "blend_boiling_start": f"{boiling[0] - 273.15:.0f} °C",
        "blend_boiling_end": f"{boiling[-1] - 273.15:.0f} °C",
        "blend_flux_error": f"{100 * _flux_error():.2f} %",
        "blend_pure_left": f"{100 * (mass[0] / mass[1] - 1.0):+.2f} %",
        "blend_pure_time": f"{100 * (almost.time[-1] / pure.time[-1] - 1.0):+.1f} %",
    }


def tank_blend() -> Any:
    """Pressure, temperature and composition while a small vent empties a tank of a blend."""
    import matplotlib.pyplot as plt

    figure, (left, right) = plt.subplots(1, 2, figsize=(8.4, 3.8), layout="constrained")
    run = _history(BLEND, 0.0127, points=200)
    hours = run.time / 3600.0
    left.plot(hours, run.temperature - 273.15, label="liquid")
    boiling = bubble_point(
        BLEND.blend.mixture, run.liquid_fractions, pressure=np.full(hours.size, 101325.0)
    ).temperature
    left.plot(hours, boiling - 273.15, ls="--", label="its boiling point at 1 atm")
    left.set(xlabel="time [h]", ylabel="temperature [°C]", xlim=(0, None))
    left.legend(fontsize=9)
    for name, x in zip(BLEND.components, run.liquid_fractions, strict=True):
        right.plot(hours, x, label=name)
    right.set(xlabel="time [h]", ylabel="mole fraction in the liquid", xlim=(0, None), ylim=(0, 1))
    right.legend(fontsize=9)
    return figure
