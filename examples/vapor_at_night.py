"""How far does vapor reach that can be lit, on a still clear night and on a windy day?

A hole of 10 mm in the liquid space of a tank of propane, on flat open ground. The leak is invented. Run
``python examples/vapor_at_night.py``; it needs lpgrelease with its extra ``plot`` and writes a picture to
``examples/output``.
"""

from __future__ import annotations

import math
from pathlib import Path

import lpgrelease as lr
from lpgrelease.plots import plot_cloud

OUTPUT = Path(__file__).parent / "output"
PROPANE = lr.Fluid("propane")


def main() -> None:
    """Reach by night and by day, a picture, a check of the source."""
    hole = lr.Opening(diameter=0.010, discharge_coefficient=0.62)
    leak = lr.liquid_release(PROPANE, hole, temperature=288.15)
    # Bernoulli by hand: Cd A sqrt(2 rho dp), 507.5 kg/m3 and 7.32 bar of propane at 15 degC from memory
    by_hand = 0.62 * math.pi / 4 * 0.010**2 * math.sqrt(2 * 507.5 * (7.32e5 - 1.013e5))
    print(f"the hole passes {leak.mass_flow:.2f} kg/s of liquid; by hand {by_hand:.2f}")
    assert abs(float(leak.mass_flow) / by_hand - 1.0) < 0.01, by_hand

    jet = lr.jet_source(PROPANE, leak, temperature=288.15, height=0.5)
    clouds = {}
    for when, weather in (
        ("a clear night, 2 m/s", lr.Weather(air_temperature=283.15, wind_speed=2.0, stability="F")),
        ("a windy day, 6 m/s", lr.Weather(air_temperature=293.15, wind_speed=6.0, stability="D")),
    ):
        cloud = lr.flammable_reach(PROPANE, jet, weather=weather, fraction=0.5)
        clouds[when] = cloud
        print(f"{when}: half the lower limit {cloud.distance:.0f} m downwind,")
        print(f"    between {cloud.distance_low:.0f} and {cloud.distance_high:.0f} m: a factor of two")
    night, day = clouds.values()
    assert night.distance > day.distance, "air that does not mix carries gas farther"
    assert night.distance_low < night.distance < night.distance_high

    OUTPUT.mkdir(exist_ok=True)
    picture = OUTPUT / "vapor_at_night.png"
    plot_cloud(night).figure.savefig(picture, dpi=120, bbox_inches="tight")
    print(f"written: {picture.name}")


if __name__ == "__main__":
    main()
