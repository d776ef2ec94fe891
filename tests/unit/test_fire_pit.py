"""Burn pits and still pools: refusals, shapes, scalar = array, limits."""

import math

import numpy as np
import pytest

from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.fire import burn_pit, pool_fire, still_pool_fire
from lpgrelease.fluids import Fluid
from lpgrelease.ground import Ground
from lpgrelease.weather import Weather

PROPANE = Fluid("propane")
SAND = Ground.named("dry sand")
COLD = Ground(conductivity=1e-9, density=1500.0, heat_capacity=800.0)  # gives no heat to speak of


@pytest.mark.parametrize(
    ("arguments", "error", "message"),
    [
        ({"feed_rate": 0.0}, OutOfRangeError, "feed_rate = 0 kg/s"),
        ({"feed_temperature": 400.0}, OutOfRangeError, "feed_temperature = 400 K"),
        ({"diameter": 0.1}, OutOfRangeError, "diameter = 0.1 m"),
        ({"depth": 0.0}, OutOfRangeError, "depth = 0 m"),
        ({"duration": -1.0}, OutOfRangeError, "duration = -1 s"),
        (
            {"feed_temperature": 120.0, "feed_rate": 50.0},
            OutOfRangeError,
            "bring more of so cold a feed to boil",
        ),
        ({"points": 1}, InputError, "points must be a whole number of at least 2"),
        (
            {"radiated_fraction": 0.7},
            OutOfRangeError,
            r"radiated_fraction = 0.7 .* \[0.05, 0.6\]: measured shares",
        ),
        ({"radiation": "laser"}, InputError, "radiation must be one of"),
        ({"feed_rate": [1.0, 2.0], "depth": [1.0, 2.0, 3.0]}, InputError, "shapes do not broadcast"),
    ],
)
def test_refusals_of_a_pit(arguments, error, message):
    with pytest.raises(error, match=message):
        burn_pit(PROPANE, **({"feed_rate": 1.0, "diameter": 4.0} | arguments))


@pytest.mark.parametrize(
    ("arguments", "error", "message"),
    [
        ({"mass": 0.0}, OutOfRangeError, "mass = 0 kg"),
        ({"age": -1.0}, OutOfRangeError, "age = -1 s"),
        ({"temperature": 260.0}, InputError, "no warmer than its boiling point"),
        ({"mass": [1.0, 2.0], "temperature": [200.0, 210.0, 220.0]}, InputError, "shapes do not broadcast"),
        ({"points": 2.5}, InputError, "points must be a whole number"),
    ],
)
def test_refusals_of_a_still_pool(arguments, error, message):
    with pytest.raises(error, match=message):
        still_pool_fire(PROPANE, **({"mass": 100.0, "diameter": 3.0} | arguments))


def test_a_pit_that_just_burns_what_comes():
    """Independent computation: 0.5 kg/s from 27 degC (flash 0.40) needs 2.0 m, from -42 degC 2.6 m."""
    warm, cold = burn_pit(
        PROPANE, feed_rate=0.5, feed_temperature=[300.15, 231.036], diameter=4.0
    ).just_burning_diameter
    assert warm == pytest.approx(2.0, abs=0.05)
    assert cold == pytest.approx(2.6, abs=0.05)


@pytest.mark.parametrize("feed", [1e-29, 1e-12, 1e-4])
def test_a_feed_however_small_burns_and_leaves_nothing(feed):
    pit = burn_pit(
        Fluid("n-butane"),
        feed_rate=feed,
        feed_temperature=250.0,
        diameter=5.4,
        depth=0.01,
        duration=[1.0, 7.0],
    )
    np.testing.assert_array_equal(pit.liquid_mass, 0.0)
    np.testing.assert_allclose(pit.mass_burned, feed * pit.time, rtol=1e-14)
    assert (pit.mass_burned >= 0.0).all()


def test_flash_of_the_feed():
    pit = burn_pit(PROPANE, feed_rate=0.5, feed_temperature=300.15, diameter=4.0)
    assert pit.flash_fraction == pytest.approx(0.40, abs=0.005)
    assert pit.landing_temperature == pytest.approx(PROPANE.normal_boiling_point)


def test_fed_and_stirred_burns_faster_than_still_by_the_feeds_heat():
    pit = burn_pit(PROPANE, feed_rate=2.0, feed_temperature=300.15, diameter=2.0, ground=COLD)
    still = pool_fire(PROPANE, diameter=2.0)
    assert pit.burning_flux == pytest.approx(still.burning_flux)
    # isenthalpic flash: what the feed brings makes exactly the flashed vapor
    assert pit.burning_rate == pytest.approx(still.burning_rate + 2.0 * pit.flash_fraction, rel=1e-6)


def test_an_oversized_pit_burns_what_comes_from_a_smaller_pool():
    pit = burn_pit(PROPANE, feed_rate=0.5, feed_temperature=300.15, diameter=10.0)
    assert pit.burning_rate == 0.5
    assert pit.fire_diameter == pytest.approx(pit.just_burning_diameter)
    assert pit.overflows_at == math.inf
    assert pit.liquid_mass[-1] == 0.0
    assert pit.burn_off_time == 0.0


def test_an_undersized_pit_fills_and_overflows():
    pit = burn_pit(
        PROPANE, feed_rate=2.0, feed_temperature=288.15, diameter=2.0, depth=0.5, duration=7200.0, ground=SAND
    )
    assert 0.0 < pit.overflows_at < 7200.0
    assert pit.level[-1] == pytest.approx(0.5)
    assert pit.mass_overflowed[-1] > 0.0
    before = burn_pit(
        PROPANE,
        feed_rate=2.0,
        feed_temperature=288.15,
        diameter=2.0,
        depth=0.5,
        duration=float(pit.overflows_at),
        ground=SAND,
    )
    assert before.level[-1] == pytest.approx(0.5, rel=1e-9)
    assert before.mass_overflowed[-1] == pytest.approx(0.0, abs=1e-6)


def test_level_against_a_plain_march():
    """Small steps of the balance, held at zero, come to the closed form."""
    feed, T, D, end = 0.6, 280.0, 2.0, 1800.0
    pit = burn_pit(PROPANE, feed_rate=feed, feed_temperature=T, diameter=D, duration=end, ground=SAND)
    area, latent = math.pi / 4 * D * D, PROPANE.saturation(pressure=101325.0).latent_heat
    boiling = PROPANE.normal_boiling_point
    A = SAND.heat_coefficient(boiling, ground_temperature=293.15)
    excess = (
        PROPANE.saturation(temperature=T).liquid_enthalpy
        - PROPANE.saturation(pressure=101325.0).liquid_enthalpy
    )
    t, mass = np.linspace(0.0, 1.0, 200_001) ** 2 * end, 0.0
    make = (pit.burning_flux * area + feed * excess / latent) * np.diff(t)
    make += 2.0 * A * area / latent * np.diff(np.sqrt(t))
    for dt, vapor in zip(np.diff(t), make, strict=True):
        mass = max(mass + feed * dt - vapor, 0.0)
    assert pit.liquid_mass[-1] == pytest.approx(mass, rel=1e-4)
    assert mass > 10.0


def test_burn_off_after_the_feed():
    """Without ground heat: what is left over the rate of a still pool."""
    pit = burn_pit(PROPANE, feed_rate=1.0, feed_temperature=260.0, diameter=2.0, ground=COLD, depth=5.0)
    still = pool_fire(PROPANE, diameter=2.0).burning_rate
    assert pit.burn_off_time == pytest.approx(pit.liquid_mass[-1] / still, rel=1e-3)


def test_the_ground_matters_in_the_first_quarter_hour():
    """Independent computation for moist ground: +39 % at one minute, +10 % at 15 minutes."""
    pool = still_pool_fire(PROPANE, mass=1e5, diameter=4.0, ground=Ground.named("moist sand"))
    early = pool.first_burning_flux / pool.burning_flux - 1.0
    assert 0.2 < early < 0.6
    later = early * math.sqrt(60.0 / 900.0)
    assert later == pytest.approx(early * 0.258, rel=1e-3)
    assert 0.05 < later < 0.16


def test_a_still_pool_does_not_run_away():
    pool = still_pool_fire(PROPANE, mass=500.0, diameter=3.0, ground=SAND, points=200)
    assert (np.diff(pool.burning_rate) <= 0.0).all()
    assert pool.burning_rate[-1] > pool.burning_flux * math.pi / 4 * 9.0
    assert pool.mass[0] == 500.0
    assert pool.mass[-1] == pytest.approx(0.0, abs=1e-6)
    assert pool.time[-1] == pool.burn_off_time


def test_pools_of_several_temperatures_are_as_many_fires():
    cold = np.array([200.0, 215.0, 230.0])
    fires = still_pool_fire(PROPANE, mass=100.0, diameter=3.0, temperature=cold)
    assert fires.burn_off_time.shape == fires.first_burning_flux.shape == fires.diameter.shape == (3,)
    for i, temperature in enumerate(cold):
        one = still_pool_fire(PROPANE, mass=100.0, diameter=3.0, temperature=temperature)
        assert one.burn_off_time == fires.burn_off_time[i]
    assert still_pool_fire(PROPANE, mass=[9.0, 99.0], diameter=3.0, temperature=cold[:, None]).mass.shape[
        :2
    ] == (3, 2)


def test_a_cold_pool_burns_slower_and_longer():
    warm, cold = still_pool_fire(
        PROPANE, mass=500.0, diameter=3.0, age=3600.0, temperature=[231.036, 205.0], ground=COLD
    ).burn_off_time
    latent, c = 425.6e3, 2.2e3  # propane near its boiling point
    assert cold / warm == pytest.approx(1.0 + c * 26.0 / latent, rel=0.01)


def test_rates_integrate_to_the_mass():
    pool = still_pool_fire(PROPANE, mass=500.0, diameter=3.0, age=300.0, ground=SAND, points=4001)
    burned = np.sum(0.5 * (pool.burning_rate[1:] + pool.burning_rate[:-1]) * np.diff(pool.time))
    assert burned == pytest.approx(500.0, rel=1e-5)


def test_shapes_and_bits():
    feeds = np.random.default_rng(2).uniform(0.1, 3.0, 500)
    many = burn_pit(PROPANE, feed_rate=feeds, feed_temperature=288.15, diameter=2.5, ground=SAND, points=5)
    assert many.level.shape == (500, 5)
    assert many.overflows_at.shape == (500,)
    stand = many.standoff(1600.0)
    for i in (0, 250, 499):
        one = burn_pit(
            PROPANE, feed_rate=feeds[i], feed_temperature=288.15, diameter=2.5, ground=SAND, points=5
        )
        assert one.overflows_at == many.overflows_at[i]
        assert (one.level == many.level[i]).all()
        assert one.standoff(1600.0) == stand[i]
    assert np.ndim(one.burn_off_time) == 0
    grid = burn_pit(
        PROPANE, feed_rate=feeds[:3, None], diameter=2.0, weather=Weather(wind_speed=np.array([1.0, 5.0]))
    )
    assert grid.heat_flux(20.0).shape == (3, 2)


def test_cautions_say_what_to_do_first():
    text = " ".join(burn_pit(PROPANE, feed_rate=1.0, diameter=4.0).cautions)
    assert "Light the pit first, then open the valve" in text
    assert "hose" in text
    assert "upwind" in text
