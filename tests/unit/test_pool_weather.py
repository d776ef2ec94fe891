"""Pools under weather that changes: what holds when, one case against many, limits."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.ground import Ground
from lpgrelease.pool import Exposure, Hollow, PoolHistory, Spill, pool_history
from lpgrelease.pool.changing import add_changes
from lpgrelease.weather import Weather
from lpgrelease.weather_by_hour import WeatherByHour

PROPANE = Fluid("propane")
SAND = Ground.named("dry sand")
LAYERS = Ground.named("concrete", thickness=0.1, below=SAND)
HOLLOW = Hollow(area=4.0, depth=1.0)
NIGHT = Weather(air_temperature=283.15, wind_speed=1.0, cloud_cover=0.0)
DAY = Weather(air_temperature=300.15, wind_speed=4.0, solar_irradiance=700.0)
HOUR = 3600.0


def run(weather, **changes) -> PoolHistory:
    arguments = {"spill": Spill(mass=1500.0), "ground": SAND, "site": HOLLOW, "duration": 40 * HOUR}
    arguments |= changes
    return pool_history(PROPANE, arguments.pop("spill"), weather=weather, **arguments)


def arrays(pool: PoolHistory) -> dict[str, np.ndarray]:
    named = {f.name: getattr(pool, f.name) for f in dataclasses.fields(pool)}
    return {name: value for name, value in named.items() if isinstance(value, np.ndarray)}


def test_one_weather_for_all_times_is_that_weather():
    one, table = run(DAY), run(WeatherByHour(times=[0.0], weathers=[DAY]))
    for name, value in arrays(one).items():
        np.testing.assert_array_equal(value, getattr(table, name), err_msg=name)


@pytest.mark.parametrize("ground", [SAND, LAYERS], ids=["uniform", "layers"])
def test_a_weather_repeated_changes_nothing_but_the_steps(ground):
    one = run(DAY, ground=ground, nodes=121)
    many = run(WeatherByHour(times=np.arange(12) * HOUR, weathers=[DAY] * 12), ground=ground, nodes=121)
    assert many.time.size == 121 + 11
    assert np.isin(np.arange(12) * HOUR, many.time).all()
    assert (np.diff(many.time) > 0.0).all()
    # more steps, each of first order: the bound on the time a pool is gone
    assert many.gone_at == pytest.approx(one.gone_at, rel=0.005)


def test_the_sun_shines_while_it_shines():
    table = WeatherByHour(times=[0.0, 2 * HOUR, 5 * HOUR], weathers=[NIGHT, DAY, NIGHT])
    pool = run(table)
    at = [int(np.argmax(pool.time == hours * HOUR)) for hours in (2, 5)]
    assert pool.mass[at[1]] > 0.0
    sun = pool.heat_from_sun
    assert sun[at[0]] == 0.0
    # the pool fills the hollow's floor; 0.90 of the sunshine is taken up
    assert sun[at[1]] == pytest.approx(0.90 * 700.0 * 4.0 * 3 * HOUR, rel=1e-9)
    assert sun[-1] == sun[at[1]]
    # colder liquid under more wind
    assert pool.temperature[at[1]] < pool.temperature[at[0]]
    assert pool.energy_imbalance < 1e-12


@pytest.mark.parametrize("ground", [SAND, LAYERS], ids=["uniform", "layers"])
def test_alone_and_together_are_the_same_to_the_bit(ground):
    air, wind = np.array([280.0, 290.0, 300.0]), np.array([0.5, 2.0, 6.0])
    days = [Weather(air_temperature=air + k, wind_speed=wind, solar_irradiance=100.0 * k) for k in range(5)]
    times = np.arange(5) * 2 * HOUR
    duration, mass = np.array([5 * HOUR, 7.9 * HOUR, 30 * HOUR]), np.array([200.0, 900.0, 1500.0])
    lit = np.array([HOUR, 1e9, 4 * HOUR])
    whole = run(
        WeatherByHour(times=times, weathers=days),
        ground=ground,
        duration=duration,
        spill=Spill(mass=mass),
        ignited_at=lit,
    )
    for i in range(3):
        alone = [
            Weather(air_temperature=air[i] + k, wind_speed=wind[i], solar_irradiance=100.0 * k)
            for k in range(5)
        ]
        one = run(
            WeatherByHour(times=times, weathers=alone),
            ground=ground,
            duration=duration[i],
            spill=Spill(mass=mass[i]),
            ignited_at=lit[i],
        )
        for name, value in arrays(one).items():
            np.testing.assert_array_equal(value, getattr(whole, name)[i], err_msg=f"{name} of {i}")


def test_a_cover_without_a_temperature_follows_the_air():
    shade = Exposure(wind_share=0.0, sun_share=0.0, sky_share=0.0, vapor_fill=1.0)
    site = Hollow(area=4.0, depth=1.0, exposure=shade)
    table = WeatherByHour(times=[0.0, 5 * HOUR], weathers=[NIGHT, DAY])
    cold, both, warm = (run(w, site=site, duration=10 * HOUR).heat_from_longwave for w in (NIGHT, table, DAY))
    assert cold[-1] < both[-1] < warm[-1]


def test_ground_that_fell_dry_warms_under_the_weather_of_the_hour():
    spill = Spill.episodes(start=[0.0, 6 * HOUR], duration=[300.0, 300.0], mass_flow=0.2)
    warming = WeatherByHour(times=[0.0, HOUR, 6 * HOUR], weathers=[NIGHT, DAY, NIGHT])
    night, day = (run(w, spill=spill, duration=8 * HOUR, nodes=121) for w in (NIGHT, warming))
    second = night.time >= 6 * HOUR
    assert night.mass[np.argmax(second)] == 0.0
    gave = [
        np.interp(6 * HOUR + 120.0, p.time, p.heat_from_ground)
        - np.interp(6 * HOUR, p.time, p.heat_from_ground)
        for p in (night, day)
    ]
    assert gave[1] > 1.05 * gave[0]


def test_nodes_stand_at_the_changes_and_never_twice():
    times = np.array([[0.0, 0.0], [10.0, 5.0], [20.0, 8.0]])
    found = add_changes(times, np.array([10.0, 15.0, 90.0]))
    np.testing.assert_allclose(found[:, 0], [0.0, 10.0, 10.0 + 10.0 / 3.0, 15.0, 10.0 + 20.0 / 3.0, 20.0])
    np.testing.assert_allclose(found[:, 1], [0.0, 5.0, 5.75, 6.5, 7.25, 8.0])


def test_a_change_a_round_off_from_a_node_makes_no_step_of_its_own():
    times = np.array([0.0, 1e-6, 1.0, 1800.0, 3600.0])[:, None]
    found = add_changes(times, np.array([1800.0 + 1e-9]))
    assert found.shape == (6, 1)
    assert np.diff(found, axis=0).min() == 1e-6
    # and one that is a moment away does
    assert 1800.001 in add_changes(times, np.array([1800.001]))


def test_what_is_no_weather_is_refused():
    with pytest.raises(InputError, match="weather: list is no weather"):
        run([DAY])
