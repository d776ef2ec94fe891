"""Heat on a tank beside a fire."""

import numpy as np
import pytest

from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.fire import burn_pit, pool_fire, vapor_flare, vessel_heating
from lpgrelease.fire.heating import side_area
from lpgrelease.fluids import Fluid
from lpgrelease.release import Opening
from lpgrelease.tank import (
    Contents,
    HorizontalTank,
    SphericalTank,
    TankFire,
    VerticalTank,
    fire_engulfment,
    tank_history,
)
from lpgrelease.weather import Weather

PROPANE = Fluid("propane")
TANK = HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=170.0)
COLD = Contents(TANK, PROPANE, fill=0.5, temperature=250.0)
FLARE = vapor_flare(PROPANE, mass_flow=0.1, height=3.0)


def test_refusals():
    with pytest.raises(InputError, match="fire must be a Fire"):
        vessel_heating(COLD, COLD, distance=10.0)
    with pytest.raises(InputError, match="contents must be Contents"):
        vessel_heating(FLARE, TANK, distance=10.0)
    with pytest.raises(OutOfRangeError, match="vented_flow = -1"):
        vessel_heating(FLARE, COLD, distance=10.0, vented_flow=-1.0)
    with pytest.raises(OutOfRangeError, match="absorptivity = 0"):
        vessel_heating(FLARE, COLD, distance=10.0, absorptivity=0.0)


def test_heat_adds_up():
    heating = vessel_heating(FLARE, COLD, distance=15.0, vented_flow=0.05, absorptivity=0.8)
    flux = FLARE.heat_flux(15.0, height=0.52)
    assert heating.absorbed_heat == pytest.approx(0.8 * flux * side_area(TANK))
    assert heating.heat_from_outside == pytest.approx(170.0 * 43.15)
    latent = PROPANE.saturation(temperature=250.0).latent_heat
    assert heating.cooling == pytest.approx(0.05 * latent)
    assert heating.holding_flow == pytest.approx((heating.absorbed_heat + heating.heat_from_outside) / latent)
    assert heating.stays_cool == (heating.warming_rate <= 0.0)


def test_at_the_nearest_distance_the_tank_just_does_not_warm():
    near = vessel_heating(FLARE, COLD, distance=20.0, vented_flow=0.05).nearest_distance
    assert vessel_heating(FLARE, COLD, distance=near, vented_flow=0.05).warming_rate == pytest.approx(
        0.0, abs=1e-8
    )
    assert not vessel_heating(FLARE, COLD, distance=0.9 * near, vented_flow=0.05).stays_cool
    assert vessel_heating(FLARE, COLD, distance=1.1 * near, vented_flow=0.05).stays_cool


def test_a_tank_that_warms_in_the_air_alone_has_no_such_distance():
    assert vessel_heating(FLARE, COLD, distance=50.0).nearest_distance == np.inf


def test_a_pit_close_by_warms_the_tank_and_its_history_agrees():
    """With the equivalent air temperature, `tank_history` warms at the rate given."""
    pit = burn_pit(
        PROPANE, feed_rate=0.5, feed_temperature=280.0, diameter=3.0, weather=Weather(wind_speed=1.0)
    )
    heating = vessel_heating(pit, COLD, distance=30.0, direction="crosswind")
    assert heating.warming_rate > 0.0
    assert heating.pressure_rate > 0.0
    run = tank_history(
        COLD,
        openings=[Opening(diameter=1e-6, height=1.04)],
        weather=Weather(air_temperature=float(heating.equivalent_air_temperature)),
        duration=600.0,
    )
    first = (run.temperature[-1] - run.temperature[0]) / 600.0
    # 6 %: the vapor's and the boiling's heat are left out of the rate, and it falls as the tank warms
    assert first == pytest.approx(heating.warming_rate, rel=0.06)


@pytest.mark.parametrize("heat_transfer", [170.0, None])
@pytest.mark.parametrize("distance", [10.0, 20.0, 30.0])
def test_the_step_the_docstring_names_warms_at_the_rate_given(distance, heat_transfer):
    """Where the equivalent air is far too hot for `Weather`: 350 to 1100 K."""
    tank = HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=heat_transfer)
    cold = Contents(tank, PROPANE, fill=0.5, temperature=250.0)
    fire = pool_fire(PROPANE, diameter=4.0)
    heating = vessel_heating(fire, cold, distance=distance)
    assert heating.equivalent_air_temperature > 335.0
    run = tank_history(
        cold,
        openings=[Opening(diameter=1e-6, height=1.04)],
        weather=fire.weather,
        fire=TankFire(environment_factor=heating.absorbed_heat / fire_engulfment(cold).heat),
        duration=60.0,
    )
    first = (run.temperature[-1] - run.temperature[0]) / 60.0
    # 6 %: the vapor's and the boiling's heat are left out of the rate
    assert first == pytest.approx(heating.warming_rate, rel=0.06)


def test_a_bare_tank_takes_its_heat_from_the_weather():
    bare = Contents(
        HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0), PROPANE, fill=0.5, temperature=250.0
    )
    heating = vessel_heating(FLARE, bare, distance=20.0)
    assert heating.heat_from_outside > 0.0
    assert heating.heat_transfer > 0.0
    all_heat = heating.heat_transfer * (heating.equivalent_air_temperature - 250.0)
    assert all_heat == pytest.approx(heating.absorbed_heat + heating.heat_from_outside)


def test_side_areas():
    assert side_area(SphericalTank(diameter=4.0)) == pytest.approx(np.pi * 4.0)
    flat = VerticalTank(diameter=2.0, length=5.0, heads="flat")
    assert side_area(flat) == pytest.approx(10.0 + 2.0, rel=0.01)  # its flat heads are counted in part


def test_several_distances_at_once():
    heating = vessel_heating(FLARE, COLD, distance=[10.0, 20.0, 40.0], vented_flow=0.05)
    assert heating.absorbed_heat.shape == (3,)
    assert (np.diff(heating.absorbed_heat) < 0.0).all()
    assert any("no flame may reach the container" in caution for caution in heating.cautions)
