"""How long until an overturned tank's gauge reads zero, how long does its liquid lie there, how sure is that?

The incident is invented, and so are the ranges: nobody on the scene knows the hole, the fill, the wind or the
soil to better than a factor. A study draws 1,500 scenarios from the ranges and says what follows, as
quantiles, and which of the four it is worth to know better. Run ``python examples/uncertain_tank.py``;
it needs lpgrelease with its extras ``sensitivity`` and ``plot`` and writes a picture to ``examples/output``.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import matplotlib.pyplot as plt
import numpy as np
import pint
import xarray as xr

import lpgrelease as lr
from lpgrelease.studies import exceedance, quantiles, sensitivity

OUTPUT = Path(__file__).parent / "output"
UNITS = pint.get_application_registry()
PROPANE = lr.Fluid("propane")
SCENARIOS = 1500
WATCHED = 24 * 3600.0
CAPTURED = 0.7
UNCERTAIN = {
    "hole": lr.lognormal(
        UNITS.Quantity(8.0, "mm"), 1.5, lower=UNITS.Quantity(3.0, "mm"), upper=UNITS.Quantity(25.0, "mm")
    ),
    "fill": lr.triangular(0.35, 0.60, upper=0.80),
    "wind": lr.uniform(UNITS.Quantity(2.0, "mph"), UNITS.Quantity(20.0, "mph")),
    "soil_water": lr.uniform(0.0, 0.2),  # mass fraction, from dry to wet sand
}


def sand(water: Any) -> lr.Ground:
    """Sand with so much water [mass fraction], between the dry, the moist and the wet one of the table."""
    known = [lr.Ground.named(name) for name in ("dry sand", "moist sand", "wet sand")]
    names = ("conductivity", "density", "heat_capacity", "frozen_conductivity")
    wetness = [float(ground.water_mass_fraction) for ground in known]
    between = {name: np.interp(water, wetness, [getattr(ground, name) for ground in known]) for name in names}
    return lr.Ground(water_mass_fraction=water, minimum_depth=0.010, name="sand", **between)


def overturned(hole: Any, fill: Any, wind: Any, soil_water: Any) -> dict[str, Any]:
    """Flare the vapor while the leak goes on; the pool it feeds; arrays in, arrays out."""
    air = lr.Weather(air_temperature=294.0, wind_speed=wind, cloud_cover=0.3)
    tank = lr.HorizontalTank(diameter=1.80, length=3.90, wall_mass=3000.0)
    vent = lr.Opening(diameter=0.0635, discharge_coefficient=0.6, height=1.80)
    leak = lr.Opening(diameter=hole, height=0.10)
    run = lr.tank_history(
        lr.Contents(tank, PROPANE, fill=fill, temperature=294.0), openings=[leak, vent], weather=air
    )
    zero = run.stopped_by == "gauge pressure"
    leaked = np.where(run.passes_liquid[:, 0, :-1], np.diff(run.mass_released[:, 0]), 0.0)
    mass = leaked.sum(axis=-1)
    pool = lr.pool_history(
        PROPANE,
        lr.Spill(
            mass=mass,
            duration=run.time[:, -1],
            temperature=(leaked * run.temperature[:, :-1]).sum(axis=-1) / mass,
            captured_fraction=CAPTURED,
        ),
        ground=sand(soil_water),
        weather=air,
        duration=WATCHED,
        nodes=101,
    )
    return {
        "zero_gauge_at": UNITS.Quantity(np.where(zero, run.time[:, -1], np.inf), "s"),
        "leaked": UNITS.Quantity(mass, "kg"),
        "widest": UNITS.Quantity(pool.radius.max(axis=-1), "m"),
        "gone_at": UNITS.Quantity(pool.gone_at, "s"),
    }


def show(found: xr.Dataset, output: str, unit: str, what: str) -> None:
    """Print quantiles of an output, and the share of each input in its spread."""
    low, middle, high = UNITS.Quantity(quantiles(found[output]).values, found[output].units).m_as(unit)
    print(f"{what}: {middle:.3g} {unit}; nine in ten lie between {low:.3g} and {high:.3g} {unit}")
    shares = sensitivity(found[output]).first_order
    for name, share in sorted(zip(shares.parameter.values, shares.values, strict=True), key=lambda x: -x[1]):
        print(f"    {name:<18} {max(share, 0.0):4.0%} of the spread")


def draw(found: xr.Dataset) -> plt.Figure:
    """How often each answer comes."""
    figure, axes = plt.subplots(1, 3, figsize=(9.0, 3.0), layout="constrained")
    for ax, (name, scale, label) in zip(
        axes,
        (
            ("zero_gauge_at", 60.0, "gauge reads zero after [min]"),
            ("gone_at", 60.0, "liquid gone after [min]"),
            ("widest", 1.0, "radius at its widest [m]"),
        ),
        strict=True,
    ):
        ax.hist(found[name].values / scale, bins=40, color="#20639b", alpha=0.8)
        ax.set(xlabel=label, yticks=[])
    axes[0].set_ylabel("scenarios")
    return figure


def main() -> None:
    """Draw, run, read."""
    print("This incident is invented, and so are its ranges.\n")
    found = lr.study(overturned, UNCERTAIN, n=SCENARIOS, rng=7, chunk_size=500)
    show(found, "zero_gauge_at", "min", "the gauge reads zero after")
    show(found, "gone_at", "min", "the liquid on the ground is gone after")
    show(found, "widest", "m", "radius of the pool at its widest")
    limit = UNITS.Quantity(20.0, "min")
    later = exceedance(found.gone_at, limit).isel(threshold=0)
    low, high = float(later.lower), float(later.upper)
    print(f"\nliquid still there after {limit:~}: {float(later.probability):.0%} ({low:.0%} to {high:.0%})")
    print(
        "The spread is that of the inputs; the error of the models comes on top. An estimate, no instruction."
    )
    OUTPUT.mkdir(exist_ok=True)
    picture = OUTPUT / "uncertain_tank.png"
    draw(found).savefig(picture, dpi=120)
    print(f"written: {picture.name}")
    assert abs(float(np.median(found.hole)) - 0.008) < 0.0004, "half of the holes are wider than 8 mm"
    assert found.sizes["failed"] == 0, "every scenario was to be answered"
    assert np.isfinite(found.zero_gauge_at).all(), "the vent was to bring every gauge to zero"
    assert (found.gone_at > found.zero_gauge_at).all(), "the leak feeds the pool until the gauge reads zero"


if __name__ == "__main__":
    main()
