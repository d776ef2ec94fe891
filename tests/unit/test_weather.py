"""Weather as an input, and the edges of the outside heat exchange."""

from __future__ import annotations

import pickle

import numpy as np
import pint
import pytest

from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.weather import (
    OutsideExchange,
    Weather,
    air_conductivity,
    air_density,
    air_viscosity,
    combined_nusselt,
    forced_nusselt_cylinder,
    longwave_exchange,
    natural_nusselt_cylinder,
    outside_heat_flux,
    sky_emissivity,
    water_vapor_pressure,
)

SIGMA = 5.670374419e-8


def test_takes_quantities_of_any_registry():
    ureg = pint.UnitRegistry()
    weather = Weather(
        air_temperature=ureg.Quantity(59.0, "degF"),
        wind_speed=ureg.Quantity(10.0, "mile/hour"),
        ambient_pressure=ureg.Quantity(29.92, "inHg"),
    )
    assert float(weather.air_temperature) == pytest.approx(288.15, abs=1e-9)
    assert float(weather.wind_speed) == pytest.approx(4.4704, rel=1e-12)
    assert float(weather.ambient_pressure) == pytest.approx(101320.0, abs=5.0)


def test_equal_pickles_and_differs():
    weather = Weather(air_temperature=[280.0, 300.0], wind_speed=3, stability="F")
    assert weather == Weather(air_temperature=[280.0, 300.0], wind_speed=3.0, stability="F")
    assert weather != Weather(air_temperature=[280.0, 300.0], wind_speed=3.0)
    assert pickle.loads(pickle.dumps(weather)) == weather
    assert weather.q.air_temperature.check("[temperature]")


def test_is_frozen_and_keeps_its_own_arrays():
    winds = np.array([1.0, 2.0])
    weather = Weather(wind_speed=winds)
    winds[0] = 99.0
    assert weather.wind_speed.tolist() == [1.0, 2.0]
    with pytest.raises(AttributeError):
        weather.wind_speed = 3.0


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"air_temperature": 20.0}, r"air_temperature = 20 K is outside the allowed range \[180, 335\] K"),
        ({"wind_speed": [1.0, -2.0]}, r"wind_speed = -2 m/s"),
        ({"relative_humidity": 50.0}, r"relative_humidity = 50 is outside the allowed range \[0, 1\]"),
        ({"cloud_cover": 1.1}, r"cloud_cover = 1.1"),
        ({"ambient_pressure": 1.0}, r"ambient_pressure = 1 Pa"),
        ({"solar_irradiance": -1.0}, r"solar_irradiance = -1 W/m\*\*2"),
    ],
)
def test_out_of_range(arguments, message):
    with pytest.raises(OutOfRangeError, match=message):
        Weather(**arguments)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"air_temperature": np.nan}, "air_temperature must be finite"),
        ({"wind_speed": "breezy"}, "wind_speed must be a number"),
        ({"stability": "G"}, "stability must be one of A, B, C, D, E, F; got 'G'"),
        (
            {"wind_speed": [1.0, 2.0], "air_temperature": [280.0, 290.0, 300.0]},
            r"shapes do not broadcast: air_temperature \(3,\), wind_speed \(2,\)",
        ),
    ],
)
def test_wrong_input(arguments, message):
    with pytest.raises(InputError, match=message):
        Weather(**arguments)


def test_one_scenario_equals_the_batch_to_the_bit():
    rng = np.random.default_rng(3)
    n = 257
    columns = {
        "air_temperature": rng.uniform(240.0, 315.0, n),
        "wind_speed": np.append(0.0, rng.uniform(0.0, 20.0, n - 1)),
        "relative_humidity": rng.uniform(0.0, 1.0, n),
        "solar_irradiance": rng.uniform(0.0, 1000.0, n),
        "cloud_cover": rng.uniform(0.0, 1.0, n),
    }
    surface, diameter = rng.uniform(200.0, 320.0, n), rng.uniform(0.3, 20.0, n)
    together = outside_heat_flux(Weather(**columns), surface, diameter)
    alone = [
        outside_heat_flux(Weather(**{k: v[i] for k, v in columns.items()}), surface[i], diameter[i])
        for i in range(n)
    ]
    assert together.tobytes() == np.array(alone).tobytes()


def test_without_wind_only_the_still_air_remains():
    still = OutsideExchange.prepare(Weather(wind_speed=0.0), 2.0)
    film = 0.5 * (293.15 + 250.0)
    viscosity, conductivity = air_viscosity(film), air_conductivity(film)
    density = air_density(film, 101325.0)
    prandtl = 1006.0 * viscosity / conductivity
    rayleigh = 9.80665 * (293.15 - 250.0) / film * 2.0**3 * density**2 * prandtl / viscosity**2
    expected = natural_nusselt_cylinder(rayleigh, prandtl) * conductivity / 2.0
    # the prepared form takes the Prandtl number at air temperature: below 0.5 %, see its Notes
    assert float(still.convection_coefficient(250.0)) == pytest.approx(float(expected), rel=5e-3)


def test_prepared_form_is_the_published_functions():
    weather, surface, diameter = Weather(wind_speed=5.0, cloud_cover=0.2), 263.15, 1.5
    film = 0.5 * (293.15 + surface)
    viscosity, conductivity = air_viscosity(film), air_conductivity(film)
    density = air_density(film, 101325.0)
    prandtl = 1006.0 * viscosity / conductivity
    forced = forced_nusselt_cylinder(5.0 * diameter * density / viscosity, prandtl)
    rayleigh = 9.80665 * 30.0 / film * diameter**3 * density**2 * prandtl / viscosity**2
    natural = natural_nusselt_cylinder(rayleigh, prandtl)
    convection = combined_nusselt(forced, natural) * conductivity / diameter * 30.0
    radiation = longwave_exchange(surface, 293.15, sky_emissivity(293.15, 0.5, 0.2), 0.9)
    ours = outside_heat_flux(weather, surface, diameter)
    assert float(ours) == pytest.approx(float(convection + radiation), rel=5e-3)


def test_a_wall_at_air_temperature_under_overcast_and_black_sky_is_in_balance():
    radiation = longwave_exchange(290.0, 290.0, 1.0, 0.9)
    assert float(radiation) == pytest.approx(0.0, abs=1e-10)


def test_longwave_of_a_cold_sky():
    # an independent sum: half the view is a black body at 290 K, half one of emissivity 0.7
    expected = 0.9 * SIGMA * (0.5 * 290.0**4 + 0.5 * 0.7 * 290.0**4 - 250.0**4)
    assert float(longwave_exchange(250.0, 290.0, 0.7, 0.9)) == pytest.approx(expected, rel=1e-12)


def test_no_sky_radiates_more_than_a_black_body_as_warm_as_the_air():
    """In all of the range of `Weather`; and where Brutsaert's formula stays below 1, it holds as printed."""
    air = np.linspace(180.0, 335.0, 63)[:, None, None]
    humidity, cloud = np.linspace(0.0, 1.0, 41)[:, None], np.linspace(0.0, 1.0, 5)
    sky = sky_emissivity(air, humidity, cloud)
    assert (sky >= 0.0).all()
    assert (sky <= 1.0).all()
    assert sky_emissivity(318.0, 1.0, 0.0) == sky_emissivity(335.0, 1.0, 0.3) == 1.0
    for temperature in (290.0, 311.0):
        hectopascal = water_vapor_pressure(temperature, 1.0) / 100.0
        printed = 1.24 * (hectopascal / temperature) ** (1.0 / 7.0)
        assert sky_emissivity(temperature, 1.0, 0.0) == pytest.approx(printed, rel=1e-12)


def test_sun_is_spread_over_the_whole_side():
    dark = outside_heat_flux(Weather(), 250.0, 1.0)
    sunny = outside_heat_flux(Weather(solar_irradiance=800.0), 250.0, 1.0, absorptivity=0.3)
    assert float(sunny - dark) == pytest.approx(800.0 * 0.3 / np.pi, rel=1e-12)


@pytest.mark.parametrize("step", [{"wind_speed": 6.0}, {"cloud_cover": 0.9}, {"relative_humidity": 0.9}])
def test_more_wind_cloud_or_moisture_warms_a_cold_wall_more(step):
    assert outside_heat_flux(Weather(**step), 231.0, 2.0) > outside_heat_flux(Weather(), 231.0, 2.0)


def test_flux_falls_smoothly_as_the_wall_warms():
    surface = np.linspace(200.0, 330.0, 2601)
    flux = outside_heat_flux(Weather(wind_speed=0.5), surface, 2.0)
    slope = np.diff(flux) / np.diff(surface)
    assert (slope < 0.0).all()
    # no jump anywhere, the crossing of air temperature included: Ra^(1/6) bends there, but the
    # slope stays continuous
    assert np.abs(np.diff(slope)).max() < 0.05 * np.abs(slope).max()
