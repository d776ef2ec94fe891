"""What people who stand by such pools report. Common practice, no source: directions, not numbers."""

from __future__ import annotations

import numpy as np
import pytest

from lpgrelease.conduction import Contact
from lpgrelease.fluids import Fluid
from lpgrelease.ground import Ground, conduction_properties
from lpgrelease.pool import Basin, Exposure, Hollow, OpenGround, Spill, lasting_depth, pool_history
from lpgrelease.pool.rings import HalfSpaceRings
from lpgrelease.weather import Weather

PROPANE = Fluid("propane")
BOILING = PROPANE.normal_boiling_point
DAY = 86400.0
WARM = Weather(air_temperature=300.15, wind_speed=3.0, solar_irradiance=250.0)
UNDER_A_WRECK = Exposure(
    wind_share=0.0, sun_share=0.0, sky_share=0.0, cover_temperature=253.15, vapor_fill=1.0
)
"""Full of its own vapor, in the shade of a cold tank whose frosted underside is at -20 degC."""


def puddle(depth: float, *, ground: str = "dry sand", area: float = 4.0, days: float = 4.0, **site):
    """A pit of a floor of `area` with liquid of a depth, its rim 30 cm above the liquid."""
    (density,) = PROPANE.saturated(np.asarray(BOILING), "liquid_density")
    return pool_history(
        PROPANE,
        Spill(mass=density * area * depth, temperature=BOILING),
        ground=Ground.named(ground),
        weather=site.pop("weather", WARM),
        site=Basin.pit(area, depth + 0.3, **site),
        duration=days * DAY,
    )


def test_a_pool_boils_far_less_where_the_ground_is_chilled():
    # the same liquid onto the same floor minutes and an hour after the first has gone
    first, second = [], []
    for start in (450.0, 3600.0):
        twice = pool_history(
            PROPANE,
            Spill.episodes(start=[0.0, start], duration=[60.0, 60.0], mass_flow=1.0),
            ground=Ground.named("moist sand"),
            weather=Weather(air_temperature=300.15, wind_speed=1.0),
            site=Hollow(area=4.0, depth=0.5),
            duration=start + 900.0,
            nodes=161,
        )
        assert np.interp(start, twice.time, twice.mass) == 0.0
        vapor = np.interp([60.0, start, start + 60.0], twice.time, twice.mass_evaporated)
        first.append(vapor[0])
        second.append(vapor[2] - vapor[1])
    assert first[1] == pytest.approx(first[0], rel=0.01)
    assert second[0] < 0.5 * first[0]
    # under the air the ground warms up again
    assert second[0] < 0.7 * second[1] < 0.7 * first[1]


def test_a_growing_pool_boils_at_its_warm_rim():
    # heat of the rings of a pool that has grown for a minute, in the next second: outermost most
    one = np.ones(1)
    ground = Ground.named("moist sand", temperature=300.15)
    contact = Contact.prepare(300.15 * one, {k: v * one for k, v in conduction_properties(ground).items()})
    times = np.array([0.0, 1.0, 4.0, 10.0, 20.0, 35.0, 60.0, 61.0])[:, None]
    rings = HalfSpaceRings(contact, times, BOILING * one, 1.0 * one)
    free = np.zeros(1, dtype=bool)
    for j in range(7):
        rings.step(j, BOILING * one, True)
        heat = rings.ring_heat(j, BOILING * one)[:, 0]
        rings.close(j, BOILING * one, 1.0 * one, free)
    assert (np.diff(heat) > 0.0).all()
    # the youngest has been wet for 12 s in the mean, the oldest for a minute
    assert heat[-1] > 2.0 * heat[0]


def test_the_colder_the_day_the_longer_it_stays():
    air = np.array([253.15, 263.15, 273.15, 283.15, 293.15, 303.15])
    for site in (OpenGround(), Hollow(area=4.0, depth=0.5)):
        pool = pool_history(
            PROPANE,
            Spill(mass=200.0, temperature=BOILING),
            ground=Ground.named("gravel"),
            weather=Weather(air_temperature=air, wind_speed=2.0),
            site=site,
            duration=3.0 * DAY,
        )
        assert np.isfinite(pool.gone_at).all()
        assert (np.diff(pool.gone_at) < 0.0).all()


def test_a_sheltered_puddle_is_still_there_after_four_days_and_one_in_sun_and_wind_is_not():
    sheltered = puddle(0.28, exposure=UNDER_A_WRECK)
    assert sheltered.gone_at == np.inf
    assert sheltered.mass[-1] > 0.0
    open_air = puddle(0.28)
    assert open_air.gone_at < 0.5 * DAY
    # shade alone does not help against wind
    assert puddle(0.28, exposure=Exposure(sun_share=0.0, sky_share=0.0)).gone_at < 0.6 * DAY


@pytest.mark.parametrize(("depth", "days"), [(0.28, 4.0), (0.23, 3.0)])
def test_depths_that_last_on_dry_sand(depth, days):
    assert puddle(depth, days=days, exposure=UNDER_A_WRECK).gone_at == np.inf
    # and where the ground conducts better, it is gone
    assert puddle(depth, days=days, exposure=UNDER_A_WRECK, ground="moist sand").gone_at < DAY


def test_a_flat_pool_without_sides_agrees_with_a_hand_calculation():
    # wide, calm, under -20 degC: depth = (2 A sqrt(t) + q t) / (rho L), 20 cm on dry sand (independent
    # computation, one-dimensional)
    found = lasting_depth(
        PROPANE,
        4.0 * DAY,
        area=1e6,
        ground=Ground.named("dry sand"),
        weather=WARM,
        exposure=UNDER_A_WRECK,
        freeboard=0.3,
    )
    assert found.depth == pytest.approx(0.20, abs=0.01)
    ground = Ground.named("dry sand", temperature=300.15)
    density, latent = (x[0] for x in PROPANE.saturated(np.array([BOILING]), "liquid_density", "latent_heat"))
    radiation = 0.95 * 5.670374419e-8 * (253.15**4 - BOILING**4)
    heat = 2.0 * ground.heat_coefficient(BOILING) * np.sqrt(4.0 * DAY) + radiation * 4.0 * DAY
    # conduction down through half a meter of vapor brings the rest
    assert found.depth == pytest.approx(heat / (density * latent), rel=0.02)


def test_each_mechanism_carries_its_part():
    # take away one shelter after the other: the loss of convection first, radiation next, then the ground
    cases = {
        "whole": {"exposure": UNDER_A_WRECK},
        "warm cover": {"exposure": Exposure(wind_share=0.0, sun_share=0.0, sky_share=0.0, vapor_fill=1.0)},
        "sun": {"exposure": Exposure(wind_share=0.0, sky_share=0.0, vapor_fill=1.0)},
        "wind": {"exposure": Exposure(sun_share=0.0, sky_share=0.0)},
    }
    gone = {name: float(puddle(0.25, days=30.0, **case).gone_at) for name, case in cases.items()}
    assert gone["whole"] > gone["warm cover"] > gone["sun"] > gone["wind"]
    assert gone["wind"] < 0.25 * gone["warm cover"]
    wet = puddle(0.25, days=30.0, exposure=UNDER_A_WRECK, ground="wet sand")
    assert wet.gone_at < 0.25 * gone["whole"]
