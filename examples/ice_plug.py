"""Which leaks can be sealed with ice, and at what pressure: propane, butane and ammonia beside each other.

A wet cloth freezes onto a leak only where the liquid arrives below the freezing point of water, so the
pressure at 0 degC is the first limit; what the ice can hold is the second, and it is far lower. Holes, cloths
and pressures are invented. Run ``python examples/ice_plug.py``; it needs lpgrelease with its extra ``plot``
and writes a picture to ``examples/output``.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

import lpgrelease as lr
from lpgrelease.plots import plot_freeze_seal_map

OUTPUT = Path(__file__).parent / "output"
PSI = 6894.757


def main() -> None:
    """Compare cargoes, draw the map of propane."""
    hole, cloth = lr.Opening(diameter=0.006), lr.WetCloth(thickness=0.02)
    limit = {}
    for cargo in ("propane", "n-butane", "ammonia"):
        seal = lr.assess_freeze_seal(lr.Fluid(cargo), hole, gauge_pressure=0.0, cloth=cloth)
        limit[cargo] = float(seal.fluid_threshold_pressure) / PSI - 14.7
        verdict = "feasible at zero gauge" if seal.feasible else "not feasible even at zero gauge"
        print(f"{cargo:<9} reaches 0 degC at {limit[cargo]:5.1f} psi; 20 mm of wet cloth: {verdict}")
        for condition in seal.conditions:
            if not np.all(condition.met):
                print(f"          fails: {condition.name}")

    found = lr.freeze_seal_map(
        lr.Fluid("propane"),
        diameter=np.geomspace(0.002, 0.05, 25),
        gauge_pressure=np.geomspace(500.0, 3e5, 25),
    )
    OUTPUT.mkdir(exist_ok=True)
    picture = OUTPUT / "ice_plug.png"
    plot_freeze_seal_map(found).figure.savefig(picture, dpi=120, bbox_inches="tight")
    print(f"written: {picture.name}")

    # a card of the refrigeration trade prints 47.6 psi on the gauge for ammonia at 32 degF, to 0.1 psi
    assert abs(limit["ammonia"] - 47.6) < 0.2, limit["ammonia"]


if __name__ == "__main__":
    main()
