"""Burn pits: mass and heat close, and nothing burns more than there is."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import finite

from lpgrelease.fire import burn_pit, still_pool_fire
from lpgrelease.fluids import Fluid
from lpgrelease.ground import Ground

PROPANE = Fluid("propane")
pits = st.builds(
    lambda feed, T, D, depth, end, ground: burn_pit(
        PROPANE,
        feed_rate=feed,
        feed_temperature=T,
        diameter=D,
        depth=depth,
        duration=end,
        ground=Ground.named(ground),
    ),
    finite(0.01, 5.0),
    finite(231.1, 320.0),
    finite(0.3, 10.0),
    finite(0.05, 3.0),
    finite(60.0, 2e4),
    st.sampled_from(["dry sand", "moist sand", "wet sand", "concrete"]),
)


@given(pits)
def test_mass_and_heat_close(pit):
    fed = pit.feed_rate * pit.time
    held = pit.liquid_mass + pit.mass_burned + pit.mass_overflowed
    assert held == pytest.approx(fed, rel=1e-12, abs=1e-9)
    latent = PROPANE.saturation(pressure=101325.0).latent_heat
    heat = pit.heat_from_flame + pit.heat_from_ground + pit.heat_with_feed
    assert heat == pytest.approx(pit.mass_burned * latent, rel=1e-9, abs=1e-3)
    assert pit.mass_imbalance < 1e-12
    assert pit.energy_imbalance < 1e-12


@given(pits)
def test_heat_used_is_no_more_than_heat_offered(pit):
    """Equal where the floor stays covered; less where the pit runs dry."""
    latent = PROPANE.saturation(pressure=101325.0).latent_heat
    offered = pit.burning_flux * latent * 0.25 * np.pi * pit.diameter**2 * pit.time
    assert (pit.heat_from_flame <= offered * (1 + 1e-9) + 1e-6).all()
    assert (pit.heat_from_flame >= -1e-6).all()


@given(pits)
def test_amounts_are_bounded(pit):
    rho = PROPANE.saturation(pressure=101325.0).liquid_density
    assert (pit.liquid_mass >= 0.0).all()
    assert (
        pit.liquid_mass <= rho * 0.25 * np.pi * pit.diameter**2 * pit.level.max() * (1 + 1e-9) + 1e-9
    ).all()
    for never_falls in (pit.mass_burned, pit.mass_overflowed):
        assert (np.diff(never_falls) >= -1e-9 * (1.0 + never_falls[-1])).all()
    assert pit.burning_rate <= pit.feed_rate
    assert pit.fire_diameter <= pit.diameter
    full = pit.overflows_at <= pit.time[-1]
    assert bool(full) == bool(
        pit.mass_overflowed[-1] > 1e-9 * pit.feed_rate * pit.time[-1]
    ) or pit.overflows_at == (pytest.approx(float(pit.time[-1]), rel=1e-6))


@given(finite(0.05, 3.0), finite(1.1, 3.0), finite(200.0, 300.0))
def test_more_feed_needs_a_wider_pit_and_a_warmer_one_a_smaller(feed, more, T):
    base, larger = burn_pit(
        PROPANE, feed_rate=[feed, feed * more], feed_temperature=T, diameter=20.0
    ).just_burning_diameter
    assert larger > base
    warmer = burn_pit(PROPANE, feed_rate=feed, feed_temperature=T + 15.0, diameter=20.0)
    assert warmer.just_burning_diameter < base


@given(finite(1.0, 5000.0), finite(0.3, 10.0), finite(0.0, 1e5), finite(190.0, 231.0))
def test_a_still_pool_burns_all_and_never_faster_than_at_first(mass, D, age, T):
    pool = still_pool_fire(PROPANE, mass=mass, diameter=D, age=age, temperature=T)
    assert pool.mass[0] == mass
    assert pool.mass[-1] == pytest.approx(0.0, abs=1e-6 * mass)
    assert (np.diff(pool.mass) <= 0.0).all()
    assert (np.diff(pool.burning_rate) <= 1e-12 * pool.burning_rate[0]).all()
