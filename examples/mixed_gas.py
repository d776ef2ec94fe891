"""A tank of mixed gas is vented: the propane goes first, and what is left boils warmer and warmer.

Seven parts of propane and three of butane by liquid volume, let out through a two-inch vent for six hours.
The tank and the hour are invented. Run ``python examples/mixed_gas.py``; it needs lpgrelease with its extra
``plot`` and writes a picture to ``examples/output``.
"""

from __future__ import annotations

from pathlib import Path

import matplotlib.pyplot as plt
import numpy as np

import lpgrelease as lr

OUTPUT = Path(__file__).parent / "output"
PSI = 6894.757
ATMOSPHERE = 101325.0


def draw(run: lr.tank.TankHistory, names: tuple[str, ...]) -> plt.Figure:
    """Components in the liquid, and its temperature."""
    figure, ax = plt.subplots(figsize=(7.0, 4.0), layout="constrained")
    minutes = run.time / 60.0
    for name, share in zip(names, run.liquid_fractions, strict=True):
        ax.plot(minutes, 100.0 * share, label=f"{name} in the liquid", linewidth=2.0)
    ax.set(xlabel="time since the vent was opened [min]", ylabel="mole percent", ylim=(0, 100))
    degrees = ax.twinx()
    degrees.plot(minutes, run.temperature - 273.15, color="0.4", linestyle="--", label="temperature")
    degrees.set_ylabel("temperature of the liquid [°C]", color="0.4")
    ax.legend(loc="center right")
    return figure


def main() -> None:
    """Vent, print, draw, check."""
    mixed = lr.Fluid({"propane": 0.7, "n-butane": 0.3}, basis="liquid volume")
    at_70_degf = float(lr.bubble_point(mixed, temperature=294.26).pressure - ATMOSPHERE) / PSI
    print(f"The gauge shows {at_70_degf:.0f} psi at 70 degF; pure propane would show 110.")
    # a table of the LP-gas trade prints 82 psi and names neither its basis nor its butane: 6 psi
    assert abs(at_70_degf - 82.0) < 6.0, at_70_degf

    tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0)
    full = lr.Contents(tank, mixed, fill=0.6, temperature=294.26)
    vent = lr.Opening(diameter=0.0508, discharge_coefficient=0.6, height=1.04)
    run = lr.tank_history(full, openings=[vent], duration=6 * 3600.0)
    print(f"{run.stopped_by} after {run.time[-1] / 60:.0f} min, at {run.temperature[-1] - 273.15:.0f} degC")
    names = ("propane", "n-butane")
    for name, mass in zip(names, run.component_mass, strict=True):
        print(f"{name:<9} {mass[0]:6.0f} kg before, {mass[-1]:6.0f} kg after")
    lost = float(np.abs(run.mass_imbalance))
    assert lost < 1e-9, "what left and what stayed are to be what was there"
    assert run.liquid_fractions[0, -1] < run.liquid_fractions[0, 0], "the light end leaves first"

    OUTPUT.mkdir(exist_ok=True)
    picture = OUTPUT / "mixed_gas.png"
    draw(run, names).savefig(picture, dpi=120)
    print(f"written: {picture.name}")


if __name__ == "__main__":
    main()
