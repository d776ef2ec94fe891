"""Weather as a table by time: what holds when, and what is refused."""

from __future__ import annotations

import pickle

import numpy as np
import pytest

import lpgrelease as lr
from lpgrelease.weather_by_hour import weather_at_start, weather_pieces

COLD, MILD = lr.Weather(air_temperature=270.0, stability="F"), lr.Weather(air_temperature=280.0)
WARM = lr.Weather(air_temperature=[290.0, 295.0], wind_speed=5.0)


def test_each_weather_holds_from_its_own_time_until_the_next_and_the_last_for_good():
    table = lr.WeatherByHour(times=[0.0, 100.0, 250.0], weathers=[COLD, MILD, WARM])
    assert table.at(0.0) is COLD
    assert table.at(99.999) is COLD
    assert table.at(100.0) is MILD
    assert table.at(250.0) is WARM
    assert table.at(1e9) is WARM
    assert weather_at_start(table) is COLD
    assert weather_at_start(MILD) is MILD
    assert [(a, b) for a, b, _ in weather_pieces(table)] == [(0.0, 100.0), (100.0, 250.0), (250.0, np.inf)]
    assert list(weather_pieces(MILD)) == [(0.0, np.inf, MILD)]


def test_times_in_an_array_broadcast_with_the_scenarios():
    table = lr.WeatherByHour(times=[0.0, 100.0], weathers=[MILD, WARM])
    now = table.at([[0.0], [150.0]])
    assert np.array_equal(now.air_temperature, [[280.0, 280.0], [290.0, 295.0]])
    assert np.array_equal(now.wind_speed, [[2.0], [5.0]])
    assert table.at([0.0, 50.0]) is MILD


def test_times_may_carry_a_unit():
    import pint

    hours = pint.UnitRegistry().Quantity([0.0, 6.0], "hour")
    table = lr.WeatherByHour(times=hours, weathers=[MILD, WARM])
    assert np.array_equal(table.times, [0.0, 21600.0])


@pytest.mark.parametrize(
    ("times", "weathers", "message"),
    [
        ([1.0, 2.0], [MILD, WARM], "times must begin with 0 and rise"),
        ([0.0, 0.0], [MILD, WARM], "times must begin with 0 and rise"),
        ([0.0, 5.0, 3.0], [MILD] * 3, "times must begin with 0 and rise"),
        ([], [], "times must be a list of 1 to 1000 times"),
        (0.0, [MILD], "times must be a list"),
        ([0.0], [MILD, WARM], "2 of them for 1 times"),
        ([0.0, 1.0], [MILD, 280.0], "weathers must be a sequence of Weather"),
        ([0.0], MILD, "weathers must be a sequence of Weather"),
        ([0.0, 1.0], [WARM, lr.Weather(wind_speed=[1.0, 2.0, 3.0])], "shapes do not broadcast"),
    ],
)
def test_refuses(times, weathers, message):
    with pytest.raises(lr.InputError, match=message):
        lr.WeatherByHour(times=times, weathers=weathers)


def test_several_times_of_different_stability_have_no_one_weather():
    table = lr.WeatherByHour(times=[0.0, 100.0], weathers=[COLD, MILD])
    with pytest.raises(lr.InputError, match="stability class differs"):
        table.at([0.0, 100.0])
    with pytest.raises(lr.OutOfRangeError, match="time = -1 s"):
        table.at(-1.0)


def test_survives_pickling():
    table = lr.WeatherByHour(times=[0.0, 100.0], weathers=[COLD, WARM])
    assert pickle.loads(pickle.dumps(table)) == table


def test_at_no_time_there_are_no_numbers():
    night, day = lr.Weather(air_temperature=280.0), lr.Weather(wind_speed=4.0)
    table = lr.WeatherByHour(times=[0.0, 3600.0], weathers=[night, day])
    assert table.at(np.zeros((0, 3))).wind_speed.shape == (0, 3)
