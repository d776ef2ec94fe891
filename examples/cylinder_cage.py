"""A cage of cylinders was struck and one leaks: how full is it, how long will it last, where not to stand?

Invented: cylinder, readings and leak. A cylinder of 108 liters of propane stands upright and hisses at its
valve; somebody reads a gauge twice. From the readings the leak is inferred, and the forecast is run for
hundreds of cylinders that fit them. Run ``python examples/cylinder_cage.py``; it needs lpgrelease with its
extras ``plot`` and ``study`` and writes a picture to ``examples/output``.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

import lpgrelease as lr

OUTPUT = Path(__file__).parent / "output"
CYLINDER = lr.VerticalTank(diameter=0.368, length=0.95, wall_mass=32.0)
PROPANE = lr.Fluid("propane")
AIR = lr.Weather(air_temperature=295.0, wind_speed=2.0)
SCENARIOS = 200


def main() -> None:
    """Infer, forecast, tell."""
    print("This incident is invented.\n")
    valve = lr.Opening(diameter=0.003, height=float(CYLINDER.height))
    found = lr.infer_leak(
        CYLINDER,
        PROPANE,
        times=[0.0, 300.0, 600.0],
        gauge_pressures=[7.6e5, 5.1e5, 3.7e5],
        leak=valve,
        weather=AIR,
        fill=0.5,
        fill_spread=0.2,
        diameter_factor=2.0,
    )
    print(f"from three readings: {found.fill:.2f} +- {found.fill_spread:.2f} full, leak of "
          f"{found.diameter * 1e3:.1f} +- {found.diameter_spread * 1e3:.1f} mm")  # fmt: skip
    told = "do" if found.tells_fill else "do not"
    print(f"The readings {told} tell how full it is: a fuller cylinder with a wider leak reads the same.")

    plan = lr.ResponsePlan(arrival=900.0, vent=None, seal=None, hold=900.0, longest_venting=6 * 3600.0)
    rng = np.random.default_rng(3)
    fill = np.clip(found.fill + found.fill_spread * rng.standard_normal(SCENARIOS), 0.05, 0.85)
    wide = found.diameter * np.sqrt(fill / found.fill)  # what the readings hold fixed is fill over area
    many = lr.forecast(
        lr.Incident(
            contents=lr.Contents(CYLINDER, PROPANE, fill=fill, temperature=float(found.contents.temperature)),
            leaks=[lr.Opening(diameter=wide, height=float(CYLINDER.height))],
            ground=lr.Ground.named("concrete"),
            weather=AIR,
        ),
        plan,
    )
    leaked = many.ledger.leaked_as_vapor + many.ledger.leaked_as_liquid
    away = many.distances().stay_away.max(axis=-1)
    for name, values, unit in (("leaks in all", leaked, "kg"), ("stay away", away, "m")):
        low, middle, high = np.quantile(values, [0.05, 0.5, 0.95])
        print(f"{name}: {middle:.0f} {unit} ({low:.0f} to {high:.0f} in nine of ten)")
    print(
        "\nWhat changed the plan: nobody need go to the cage to close the valve. The cylinder cools itself, "
        "and "
        "the distance is kept until it hisses no more."
    )
    middle = many.scenario(int(np.argsort(leaked)[SCENARIOS // 2]))
    OUTPUT.mkdir(exist_ok=True)
    middle.plot().savefig(OUTPUT / "cylinder_cage.png", dpi=120)
    per_kelvin = 8.36 * 344e3 * 44.1e-3 / 8.314 / 293.15**2  # bar/K at 20 degC and 8.36 bar, as of ideal gas
    by_hand = 293.15 + (7.6 + 1.013 - 8.36) / per_kelvin
    assert abs(float(found.contents.temperature) - by_hand) < 0.5, by_hand
    assert many.masses.imbalance.max() < 1e-6, "mass was lost"
    assert max(run.energy_imbalance.max() for run in many.runs) < 1e-6, "energy was lost"


if __name__ == "__main__":
    main()
