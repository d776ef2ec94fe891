"""Pool fires: choices, refusals, shapes, scalar = array, and harm."""

import math
import pickle

import numpy as np
import pytest
from strategies import UNITS

from lpgrelease.errors import InputError, OutOfRangeError, ValidityWarning
from lpgrelease.fire import heat_thresholds, pool_fire, thermal_dose, time_to_harm
from lpgrelease.fluids import Fluid
from lpgrelease.weather import Weather

PROPANE = Fluid("propane")
BREEZE = Weather(wind_speed=3.0)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"burning": "fast"}, "burning must be one of babrauskas, burgess-hertzberg"),
        ({"length": "long"}, "length must be one of thomas, heskestad"),
        ({"tilt": "left"}, "tilt must be one of aga, thomas, none"),
        ({"emission": "bright"}, "emission must be one of smoke obscured, radiated fraction"),
        ({"radiation": "laser"}, "radiation must be one of solid flame, point source"),
        ({"diameter": "4"}, "diameter must be a number"),
        ({"diameter": math.nan}, "diameter must be finite"),
        ({"diameter": [1.0, 2.0], "radiated_fraction": [0.2, 0.3, 0.4]}, "shapes do not broadcast"),
    ],
)
def test_bad_arguments(arguments, message):
    with pytest.raises(InputError, match=message):
        pool_fire(PROPANE, **({"diameter": 4.0} | arguments))


@pytest.mark.parametrize("arguments", [{"diameter": 0.0}, {"diameter": 0.1}, {"radiated_fraction": 0.7}])
def test_out_of_range(arguments):
    with pytest.raises(OutOfRangeError):
        pool_fire(PROPANE, **({"diameter": 4.0} | arguments))


def test_leaving_the_range_warns_and_is_recorded():
    with pytest.warns(ValidityWarning, match=r"0\.2 to 100 m"):
        fire = pool_fire(PROPANE, diameter=0.1, extrapolate=True)
    assert fire.provenance.outside_validity == ("pool diameters of 0.2 to 100 m",)


def test_substances_without_constants_need_the_estimate():
    with pytest.raises(InputError, match="no published burning constants of propylene"):
        pool_fire(Fluid("propylene"), diameter=4.0)
    assert pool_fire(Fluid("propylene"), diameter=4.0, burning="burgess-hertzberg").burning_flux > 0.05


def test_ammonia_pools_are_refused():
    with pytest.raises(InputError, match="a pool of ammonia hardly burns"):
        pool_fire(Fluid("ammonia"), diameter=4.0, burning="burgess-hertzberg")


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"direction": "north"}, "direction must be an angle or downwind, crosswind, upwind"),
        ({"facing": "left"}, "facing must be a pair of angles or flame, axis, up"),
        ({"facing": 3.0}, "facing must be one word or a pair"),
        ({"height": "high"}, "height must be a number"),
    ],
)
def test_bad_targets(arguments, message):
    with pytest.raises(InputError, match=message):
        pool_fire(PROPANE, diameter=4.0).heat_flux(10.0, **arguments)


def test_targets_out_of_range():
    fire = pool_fire(PROPANE, diameter=4.0)
    with pytest.raises(OutOfRangeError, match="distance = -1 m"):
        fire.heat_flux(-1.0)
    with pytest.raises(OutOfRangeError, match="heat_flux = 0"):
        fire.standoff(0.0)
    with pytest.raises(InputError, match="shapes do not broadcast"):
        pool_fire(PROPANE, diameter=[1.0, 2.0]).heat_flux([1.0, 2.0, 3.0])


def test_scenarios_and_targets_broadcast():
    fire = pool_fire(PROPANE, diameter=np.array([2.0, 4.0, 8.0])[:, None], weather=BREEZE)
    flux = fire.heat_flux(np.array([10.0, 20.0, 30.0, 40.0]))
    assert flux.shape == (3, 4)
    assert fire.flame_length.shape == (3, 1)
    assert fire.standoff([1600.0, 4700.0]).shape == (3, 2)
    assert np.ndim(pool_fire(PROPANE, diameter=4.0).heat_flux(10.0)) == 0
    assert pool_fire(PROPANE, diameter=4.0).heat_flux(np.zeros((0, 2))).shape == (0, 2)


@pytest.mark.parametrize("radiation", ["solid flame", "point source"])
def test_alone_or_among_many_to_the_bit(radiation):
    D = np.random.default_rng(3).uniform(0.3, 20.0, 20_000)
    wind = np.random.default_rng(4).uniform(0.0, 12.0, 20_000)
    many = pool_fire(PROPANE, diameter=D, weather=Weather(wind_speed=wind), radiation=radiation)
    distances = np.random.default_rng(5).uniform(0.0, 60.0, 20_000)
    flux, stand = many.heat_flux(distances, direction=0.3), many.standoff(4700.0, height=1.5)
    for i in (0, 1, 777, 19_999):
        one = pool_fire(PROPANE, diameter=D[i], weather=Weather(wind_speed=wind[i]), radiation=radiation)
        assert one.flame_length == many.flame_length[i]
        assert one.heat_flux(distances[i], direction=0.3) == flux[i]
        assert one.standoff(4700.0, height=1.5) == stand[i]


def test_heights_on_and_off_the_ground_do_not_disturb_each_other():
    fire = pool_fire(PROPANE, diameter=4.0, weather=BREEZE)
    both = fire.heat_flux(15.0, height=[0.0, 1.5])
    assert both[0] == fire.heat_flux(15.0)
    assert both[1] == fire.heat_flux(15.0, height=1.5)
    assert fire.heat_flux(15.0, height=1e-7) == pytest.approx(both[0], rel=1e-6)


def test_a_point_source_is_the_middle_of_an_upright_flame():
    fire = pool_fire(PROPANE, diameter=4.0, tilt="none", radiation="point source")
    middle = 0.5 * float(fire.flame_length)
    level = fire.heat_flux(30.0, height=middle)
    slant = math.hypot(30.0, middle)
    # as far off on the ground, and as far above the middle as below it
    assert fire.heat_flux(30.0) < level
    assert fire.heat_flux(slant, height=middle) == pytest.approx(fire.heat_flux(30.0), rel=1e-12)
    assert fire.heat_flux(30.0, height=2.0 * middle) == pytest.approx(fire.heat_flux(30.0), rel=1e-12)


def test_in_the_flame_the_flux_is_that_of_its_surface():
    fire = pool_fire(PROPANE, diameter=4.0)
    assert fire.heat_flux(0.0) == fire.surface_emissive_power
    assert fire.heat_flux(1.0, facing="up") == fire.surface_emissive_power


def test_a_flux_reached_nowhere_needs_no_distance():
    assert pool_fire(PROPANE, diameter=4.0).standoff(1e6) == 0.0


def test_which_surface_gets_most():
    fire = pool_fire(PROPANE, diameter=4.0, weather=BREEZE)
    flame, axis, up = (fire.heat_flux(12.0, direction="crosswind", facing=f) for f in ("flame", "axis", "up"))
    assert flame > axis > up > 0.0
    named = fire.heat_flux(12.0, direction="crosswind", facing=(-math.pi / 2, 0.0))
    assert named == pytest.approx(axis, rel=1e-12)


def test_wind_leans_the_flame_downwind():
    calm, windy = pool_fire(PROPANE, diameter=4.0, weather=Weather(wind_speed=[0.0, 6.0])).flame_tilt
    assert calm == 0.0
    assert windy > 0.5
    fire = pool_fire(PROPANE, diameter=4.0, weather=Weather(wind_speed=6.0))
    down, across, up = (fire.standoff(1600.0, direction=d) for d in ("downwind", "crosswind", "upwind"))
    assert down > across > up


def test_moist_air_shields():
    dry, moist = pool_fire(PROPANE, diameter=4.0, weather=Weather(relative_humidity=[0.1, 0.9])).heat_flux(
        40.0
    )
    assert moist < dry


def test_choices_are_recorded():
    fire = pool_fire(PROPANE, diameter=4.0, length="heskestad", tilt="none", emission="radiated fraction")
    assert "length by heskestad" in fire.provenance.model
    assert "heskestad1984heights" in fire.provenance.sources
    assert fire.flame_tilt == 0.0
    assert fire.flame_base_length == 4.0
    assert fire.radiated_fraction == pytest.approx(0.3)


def test_results_pickle_compare_and_print():
    fire = pool_fire(PROPANE, diameter=4.0, weather=BREEZE)
    assert pickle.loads(pickle.dumps(fire)) == fire
    assert fire != pool_fire(PROPANE, diameter=4.1, weather=BREEZE)
    assert "burning_rate" in repr(fire)
    assert fire.q.burning_rate.check("[mass]/[time]")
    assert any("authority" in caution for caution in fire.cautions)


def test_times_to_harm_outside_the_table():
    with pytest.raises(OutOfRangeError, match="table of times to harm"):
        time_to_harm(500.0)
    assert time_to_harm(500.0, extrapolate=True) == math.inf
    with pytest.warns(ValidityWarning, match="12 kW/m2"):
        assert 0.0 < time_to_harm(20e3, extrapolate=True) < 4.0
    with pytest.raises(InputError, match="harm must be one of pain, second-degree burn"):
        time_to_harm(5e3, harm="death")


def test_time_a_person_may_stay():
    fire = pool_fire(PROPANE, diameter=4.0, weather=BREEZE)
    here = fire.standoff(5000.0)
    assert fire.time_to_harm(here) == pytest.approx(13.0, rel=1e-6)
    assert fire.time_to_harm(here, harm="second-degree burn") == pytest.approx(40.0, rel=1e-6)
    with pytest.raises(OutOfRangeError):
        fire.time_to_harm(500.0)
    assert fire.time_to_harm(500.0, extrapolate=True) == math.inf


def test_dose():
    assert thermal_dose(8000.0, [0.0, 10.0]) == pytest.approx([0.0, 160.0])
    with pytest.raises(OutOfRangeError):
        thermal_dose(-1.0, 1.0)
    assert thermal_dose(UNITS.Quantity(8.0, "kW/m**2"), UNITS.Quantity(1.0, "min")) == pytest.approx(960.0)


def test_pools_are_as_wide_in_feet():
    feet, meters = UNITS.Quantity(10.0, "ft"), 3.048
    assert pool_fire(PROPANE, diameter=feet).burning_rate == pytest.approx(
        pool_fire(PROPANE, diameter=meters).burning_rate, rel=1e-12
    )


def test_thresholds_are_sorted_and_sourced():
    rows = heat_thresholds()
    assert [r.heat_flux for r in rows] == sorted(r.heat_flux for r in rows)
    assert all(r.how_known in ("looked-up", "from memory") and r.source for r in rows)
