"""Fires, flares and clouds of blends lie between those of their components."""

import numpy as np
import pytest

import lpgrelease as lr
from lpgrelease.fire.jet import stoichiometric_fraction

PROPANE, BUTANE = lr.Fluid("propane"), lr.Fluid("n-butane")
BLEND = lr.Fluid({"propane": 0.5, "n-butane": 0.5})
SOIL = lr.Ground.named("moist sand")

ANSWERS = {
    "burning": lambda fluid: lr.pool_fire(fluid, diameter=4.0).burning_flux,
    "pit": lambda fluid: (
        lr.burn_pit(
            fluid, feed_rate=1.0, feed_temperature=288.15, diameter=4.0, ground=SOIL
        ).heat_release_rate
    ),
    "flare": lambda fluid: lr.vapor_flare(fluid, mass_flow=0.5, height=3.0).flame_length,
    "mixing": stoichiometric_fraction,
    "heat": lambda fluid: fluid.heat_of_combustion,
    "lower limit": lambda fluid: fluid.flammable_limits[0],
}


@pytest.mark.parametrize("name", ANSWERS)
def test_a_blend_lies_between_its_components(name):
    low, high = sorted(float(ANSWERS[name](fluid)) for fluid in (PROPANE, BUTANE))
    # 2 %: the blend's latent heat at its bubble point is above both
    assert low * 0.98 <= ANSWERS[name](BLEND) <= high * 1.02


@pytest.mark.parametrize("name", ANSWERS)
def test_a_trace_changes_nothing(name):
    almost = lr.Fluid({"propane": 1.0 - 1e-7, "n-butane": 1e-7})
    assert ANSWERS[name](almost) == pytest.approx(ANSWERS[name](PROPANE), rel=0.02)


def test_flares_of_a_blend_in_a_table_of_cases_equal_each_alone():
    flows, heights = np.array([[0.2], [0.5], [1.0]]), np.array([2.0, 5.0])
    flares = lr.vapor_flare(BLEND, mass_flow=flows, height=heights)
    assert flares.flame_length.shape == (3, 2)
    alone = lr.vapor_flare(BLEND, mass_flow=1.0, height=5.0)
    assert flares.flame_length[2, 1] == alone.flame_length
    assert lr.vapor_flare(BLEND, mass_flow=np.ones((0, 3)), height=2.0).flame_length.shape == (0, 3)


def test_vapor_of_a_blend_drifts_as_far_as_its_density_and_limit_ask():
    weather = lr.Weather(wind_speed=2.0, stability="F")
    pure, blend = (
        lr.flammable_reach(fluid, mass_flow=0.5, weather=weather).distance for fluid in (PROPANE, BLEND)
    )
    assert blend == pytest.approx(pure, rel=0.25)


def test_nitrogen_in_a_blend_does_not_burn():
    lean = lr.Fluid({"propane": 0.98, "nitrogen": 0.02})
    assert lean.heat_of_combustion < PROPANE.heat_of_combustion
    assert lean.flammable_limits[0] == pytest.approx(PROPANE.flammable_limits[0] / 0.98)
