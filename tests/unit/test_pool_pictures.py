"""Pictures of pools: what is drawn is what the pool did, in the unit said."""

from __future__ import annotations

import numpy as np
import pytest

from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.ground import Ground
from lpgrelease.plots import plot_pool_heat
from lpgrelease.pool import Hollow, PoolHistory, Spill, pool_history
from lpgrelease.weather import Weather

PATHS = {
    "ground below": "ground",
    "ground beside": "beside",
    "air": "air",
    "frost and rain": "frost",
    "sky and cover": "longwave",
    "sun": "sun",
}


def run(spill: Spill, **changes) -> PoolHistory:
    weather = Weather(air_temperature=300.15, wind_speed=2.0)
    arguments = {"weather": weather, "duration": 1800.0, "nodes": 61} | changes
    return pool_history(Fluid("propane"), spill, ground=Ground.named("moist sand"), **arguments)


def test_a_pool_is_drawn_while_it_lies():
    pool = run(Spill(mass_flow=0.5, duration=600.0))
    size, warm, heat, across = plot_pool_heat(pool).axes
    assert np.max(size.get_lines()[0].get_ydata()) == pool.mass.max()
    assert np.max(across.get_lines()[0].get_ydata()) == pool.radius.max()
    assert [line.get_label() for line in heat.get_lines()] == list(PATHS)
    assert np.max(warm.get_lines()[0].get_xdata()) * 60.0 <= pool.gone_at


@pytest.mark.parametrize(
    ("duration", "unit", "seconds"),
    [(170.0, "s", 1.0), (180.0, "min", 60.0), (4 * 3600.0, "h", 3600.0), (3 * 86400.0, "days", 86400.0)],
)
def test_times_are_in_the_unit_said_and_heats_add_up_to_those_of_the_pool(duration, unit, seconds):
    # deep enough to outlast three days
    pool = run(Spill(mass=60_000.0), site=Hollow(area=10.0, depth=8.0), duration=duration)
    _, warm, heat, _ = plot_pool_heat(pool).axes
    assert heat.get_xlabel().endswith(f"[{unit}]")
    line = warm.get_lines()[0]
    np.testing.assert_allclose(line.get_xdata() * seconds, pool.time, rtol=1e-12)
    np.testing.assert_allclose(line.get_ydata() + 273.15, pool.temperature, rtol=1e-12)
    area_by_time = 0.5 * (pool.area[1:] + pool.area[:-1]) * np.diff(pool.time)
    for line in heat.get_lines():
        total = getattr(pool, f"heat_from_{PATHS[line.get_label()]}")[-1]
        assert np.sum(line.get_ydata() * area_by_time) == pytest.approx(total, rel=1e-9)


def test_a_picture_is_of_one_scenario():
    with pytest.raises(InputError, match="one scenario"):
        plot_pool_heat(run(Spill(mass=np.array([1.0, 2.0]))))
