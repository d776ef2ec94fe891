"""Pools that last: how deep, how long fed, and what is refused."""

from __future__ import annotations

import numpy as np
import pint
import pytest

from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.fluids import Fluid
from lpgrelease.ground import Ground
from lpgrelease.pool import (
    Basin,
    Exposure,
    Hollow,
    Spill,
    feed_for_lasting_pool,
    lasting_depth,
    pool_history,
)
from lpgrelease.weather import Weather

PROPANE = Fluid("propane")
SAND = Ground.named("moist sand")
MILD = Weather(air_temperature=300.15, wind_speed=2.0)
SHELTER = Exposure(wind_share=0.0, sun_share=0.0, sky_share=0.0, cover_temperature=253.15, vapor_fill=1.0)
UREG = pint.UnitRegistry()


def test_the_depth_that_lasts_is_just_enough():
    ground = Ground.named("dry sand")
    found = lasting_depth(
        PROPANE, 86400.0, area=2.0, ground=ground, weather=MILD, exposure=SHELTER, freeboard=0.3
    )
    density = PROPANE.saturated(np.asarray(PROPANE.normal_boiling_point), "liquid_density")[0]
    for factor, stays in ((0.98, False), (1.02, True)):
        depth = factor * found.depth
        pool = pool_history(
            PROPANE,
            Spill(mass=density * 2.0 * depth, temperature=PROPANE.normal_boiling_point),
            ground=ground,
            weather=MILD,
            site=Basin.pit(2.0, depth + 0.3, exposure=SHELTER),
            duration=86400.0,
        )
        assert bool(pool.mass[-1] > 0.0) is stays


def test_no_depth_lasts_for_a_year_in_the_open():
    found = lasting_depth(PROPANE, 365 * 86400.0, area=2.0, ground=SAND, weather=MILD)
    assert found.depth == found.mass == np.inf


def test_the_drip_that_lasts_is_just_long_enough():
    site = Hollow(area=1.0, depth=0.6, exposure=SHELTER)
    ground = Ground.named("dry sand")
    found = feed_for_lasting_pool(PROPANE, 2e-3, site=site, ground=ground, weather=MILD, lasting=6 * 3600.0)
    for factor, stays in ((0.97, False), (1.03, True)):
        duration = factor * float(found.feed_duration)
        pool = pool_history(
            PROPANE,
            Spill(mass_flow=2e-3, duration=duration),
            ground=ground,
            weather=MILD,
            site=site,
            duration=duration + 6 * 3600.0,
        )
        assert bool(pool.mass[-1] > 0.0) is stays
    never = feed_for_lasting_pool(
        PROPANE, 1e-6, site=site, ground=ground, weather=MILD, lasting=6 * 3600.0, longest=86400.0
    )
    assert never.feed_duration == np.inf


def test_a_lasting_depth_is_that_of_a_fluid():
    with pytest.raises(InputError, match="fluid must be a Fluid"):
        lasting_depth("propane", 3600.0, area=1.0, ground=Ground.named("clay"))


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"lasting": 0.0}, "lasting = 0 s is"),
        ({"lasting": 3.3e9}, r"lasting = 3.3e\+09 s .*a hundred years at most"),
        ({"area": 0.0}, r"area = 0 m\*\*2 is"),
        ({"freeboard": -1.0}, "freeboard = -1 m is"),
    ],
)
def test_a_lasting_depth_is_of_a_time_and_a_size(changed, said):
    with pytest.raises(OutOfRangeError, match=said):
        lasting_depth(PROPANE, **{"lasting": 3600.0, "area": 1.0, "ground": SAND} | changed)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"lasting": 0.0}, "lasting = 0 s is"),
        ({"longest": 1.0}, "longest = 1 s is"),
        ({"longest": 3.3e9}, r"longest = 3.3e\+09 s .*a hundred years at most"),
    ],
)
def test_a_drip_that_lasts_is_of_a_time(changed, said):
    site = Hollow(area=1.0, depth=0.6)
    with pytest.raises(OutOfRangeError, match=said):
        feed_for_lasting_pool(PROPANE, 2e-3, **{"site": site, "ground": SAND, "lasting": 3600.0} | changed)


def test_times_of_lasting_pools_are_taken_in_any_unit():
    calm = {"area": 0.01, "ground": Ground.named("dry sand"), "weather": MILD, "exposure": SHELTER}
    minutes, seconds = (lasting_depth(PROPANE, t, **calm) for t in (UREG.Quantity(20.0, "min"), 1200.0))
    assert minutes.depth == seconds.depth
    assert minutes.lasting == 1200.0
