"""Tanks with additions at random: their histories end, keep to their bounds, and stand alone to the bit."""

from __future__ import annotations

import numpy as np
import pytest
from random_tanks import RandomTanks

FIELDS = ("time", "temperature", "liquid_mass", "mass_released", "mass_flow", "passes_liquid", "gas_mass")


@pytest.mark.parametrize("seed", [*range(60), 5230, 5266])
def test_a_random_tank_keeps_to_its_bounds(seed, monkeypatch):
    monkeypatch.setattr("lpgrelease.collocation.march.MOST_TRIALS", 3000)
    run = RandomTanks(seed).history()
    mass = run.liquid_mass[:, :1] + run.vapor_mass[:, :1]
    for name in ("temperature", "pressure", "mass_flow", "vapor_temperature", "dry_wall_temperature"):
        assert np.isfinite(getattr(run, name)).all(), name
    assert (np.diff(run.time) >= 0.0).all()
    assert (run.mass_flow >= 0.0).all()
    assert (np.diff(run.mass_released) >= -1e-12 * mass[:, None]).all()
    # liquid counts as gone at 1e-7 of the volume, and energy is put back once more after that
    assert (run.liquid_mass >= -1e-6 * mass).all()
    assert (run.mass_imbalance < 1e-9).all()
    assert (run.energy_imbalance < 1e-9).all()


@pytest.mark.parametrize("seed", range(100, 130))
def test_a_random_tank_is_alone_what_it_is_among_others(seed):
    tanks = RandomTanks(seed, n=3)
    all_of_them = tanks.history(points=9)
    for i in range(3):
        alone = tanks.history(only=i, points=9)
        for name in FIELDS:
            assert np.array_equal(getattr(alone, name), getattr(all_of_them, name)[i]), name
        assert alone.stopped_by == all_of_them.stopped_by[i]
