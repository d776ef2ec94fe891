"""The same spill on a road, in a field and in a ditch: how large the pool, how long it stays.

Half a kilogram a second of propane for a quarter of an hour, a share of 0.7 of the liquid lands. The spill
and the places are invented. Run ``python examples/road_or_ditch.py``; it needs lpgrelease with its extra
``plot`` and writes a picture to ``examples/output``.
"""

from __future__ import annotations

import math
from pathlib import Path

import matplotlib.pyplot as plt
import numpy as np

import lpgrelease as lr

OUTPUT = Path(__file__).parent / "output"
PROPANE = lr.Fluid("propane")
AIR = lr.Weather(air_temperature=294.0, wind_speed=3.0, cloud_cover=0.5)
SPILL = lr.Spill(mass_flow=0.5, duration=900.0, temperature=294.0, captured_fraction=0.7)
PLACES = {
    "road": ("asphalt", lr.OpenGround()),
    "moist field": ("moist sand", lr.OpenGround()),
    "dry field": ("dry sand", lr.OpenGround()),
    "ditch": ("clay", lr.Hollow(area=6.0, depth=0.5, exposure=lr.Exposure(wind_share=0.2, sky_share=0.5))),
}


def main() -> None:
    """March, print, draw, check."""
    figure, ax = plt.subplots(figsize=(7.0, 4.0), layout="constrained")
    for place, (ground, site) in PLACES.items():
        pool = lr.pool_history(
            PROPANE,
            SPILL,
            ground=lr.Ground.named(ground),
            weather=AIR,
            site=site,
            duration=12 * 3600.0,
            nodes=201,
        )
        width = 2.0 * float(pool.radius.max())
        size = f"{pool.mass.max():4.0f} kg, {width:4.1f} m across"
        print(f"{place:<12} {size}, gone after {pool.gone_at / 60:4.0f} min")
        shown = pool.time <= min(float(pool.gone_at) * 1.1, 2 * 3600.0)
        ax.plot(pool.time[shown] / 60.0, pool.mass[shown], label=place, linewidth=2.0)
        spilled = (
            pool.mass_flashed + pool.mass_airborne + pool.mass_evaporated + pool.mass_overflowed + pool.mass
        )
        assert np.allclose(spilled, pool.mass_spilled, rtol=0.0, atol=1e-6 * 450.0), "mass was lost"
    ax.set(xlabel="time since the spill began [min]", ylabel="on the ground [kg]", ylim=(0, None))
    ax.legend()
    OUTPUT.mkdir(exist_ok=True)
    picture = OUTPUT / "road_or_ditch.png"
    figure.savefig(picture, dpi=120)
    print(f"written: {picture.name}")

    # dry ground is a half-space: k dT / sqrt(pi a t), the closed form of conduction, by hand
    dry = lr.Ground.named("dry sand")
    k, a, dT, t = 0.24, 0.24 / (1600.0 * 800.0), 300.0 - 231.0, 600.0
    by_hand = k * dT / math.sqrt(math.pi * a * t)
    found = float(dry.heat_flux(231.0, ground_temperature=300.0, age=t))
    print(f"dry sand gives {found:.0f} W/m2 after ten minutes; by hand {by_hand:.0f}")
    assert abs(found / by_hand - 1.0) < 1e-6, found


if __name__ == "__main__":
    main()
