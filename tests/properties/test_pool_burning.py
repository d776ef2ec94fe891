"""What must hold for every pool that burns: balances, bounds, directions."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from strategies import finite

from lpgrelease.fluids import Fluid
from lpgrelease.ground import Ground
from lpgrelease.pool import Hollow, Spill, pool_history
from lpgrelease.weather import Weather

from .test_pool import FEW, grounds, sites, spills, weathers

BURNS = ("propane", "n-butane", "isobutane")


@FEW
@given(
    st.sampled_from(BURNS),
    spills(),
    grounds(),
    weathers(),
    sites,
    finite(10.0, 1e6),
    finite(0.0, 1.1),
    st.sampled_from(["babrauskas", "burgess-hertzberg"]),
)
def test_books_of_burning_pools_close(name, spill, ground, weather, site, duration, lit, burning):
    pool = pool_history(
        Fluid(name),
        spill,
        ground=ground,
        weather=weather,
        site=site,
        duration=duration,
        ignited_at=lit * duration,
        burning=burning,
        nodes=71,
    )
    vapor = pool.mass_flashed + pool.mass_airborne + pool.mass_evaporated + pool.mass_burned
    out = vapor + pool.mass + pool.mass_overflowed
    np.testing.assert_allclose(out, pool.mass_spilled, rtol=0.0, atol=1e-12 * pool.mass_spilled[-1])
    assert pool.mass_imbalance < 1e-12
    assert pool.energy_imbalance < 1e-10
    assert not pool.mass_burned[pool.time <= lit * duration].any()
    for field in ("mass", "area", "burning_rate", "evaporation_rate", "heat_from_flame"):
        values = getattr(pool, field)
        assert np.isfinite(values).all()
        assert values.min() >= -1e-9 * max(values.max(), 1.0)


def test_the_sooner_lit_the_sooner_gone_and_the_more_burns():
    lit = np.append(np.geomspace(1.0, 7200.0, 12), 1e9)
    pool = pool_history(
        Fluid("propane"),
        Spill(mass=2000.0),
        ground=Ground.named("moist sand"),
        weather=Weather(wind_speed=4.0),
        site=Hollow(area=10.0, depth=1.0),
        duration=86400.0,
        ignited_at=lit,
    )
    assert (np.diff(pool.gone_at) > 0.0).all()
    assert (np.diff(pool.mass_burned[:, -1]) < 0.0).all()
