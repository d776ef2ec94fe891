"""Flares: directions that must hold, and distances that give back their flux."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import finite

from lpgrelease.fire import vapor_flare
from lpgrelease.fire.view_factor import Flame, inside_flame
from lpgrelease.fluids import Fluid
from lpgrelease.weather import Weather

PROPANE = Fluid("propane")
flares = st.builds(
    lambda flow, height, diameter, wind, radiation: vapor_flare(
        PROPANE,
        mass_flow=flow,
        height=height,
        diameter=diameter,
        weather=Weather(wind_speed=wind),
        radiation=radiation,
    ),
    finite(1e-3, 10.0),
    finite(0.0, 10.0),
    finite(0.02, 0.3),
    finite(0.0, 15.0),
    st.sampled_from(["solid flame", "point source"]),
)


@given(flares, finite(200.0, 12e3), finite(-math.pi, math.pi))
def test_standoff_inverts_the_flux(flare, flux, direction):
    distance = flare.standoff(flux, direction=direction)
    flame = Flame(*(np.atleast_1d(part) for part in flare.flame))
    around = np.array([0.999, 1.0, 1.001]) * distance
    at_surface = inside_flame(around * math.cos(direction), around * math.sin(direction), 0.0 * around, flame)
    if distance > 0.0 and not at_surface.any():
        assert flare.heat_flux(distance, direction=direction) == pytest.approx(flux, rel=1e-6)


@given(flares, finite(1.0, 20.0), finite(1.05, 3.0), finite(-math.pi, math.pi))
def test_flux_falls_beyond_the_flame(flare, far, further, direction):
    reach = float(abs(flare.flame.tip_x) + flare.flame.tip_radius + flare.tip_height)
    near, away = flare.heat_flux([far * reach, far * further * reach], direction=direction)
    assert away < near


@given(finite(1e-3, 5.0), finite(1.05, 3.0), finite(0.0, 10.0), st.sampled_from(["chamberlain", "buoyant"]))
def test_more_vapor_makes_a_longer_flame_and_more_heat(flow, more, height, model):
    flare = vapor_flare(
        PROPANE, mass_flow=[flow, flow * more], height=height, model=model, weather=Weather(wind_speed=0.0)
    )
    assert flare.flame_length[1] > flare.flame_length[0]
    assert flare.radiated_power[1] > flare.radiated_power[0]


@given(flares)
def test_geometry_holds_together(flare):
    flame = flare.flame
    length = math.hypot(flame.tip_x - flame.base_x, flame.tip_z - flame.base_z)
    assert length == pytest.approx(flare.flame_length, rel=1e-9)
    assert flame.base_z == pytest.approx(flare.height + flare.lift_off)
    assert 0.0 <= flare.flame_tilt < math.pi / 2
    assert flare.tip_height > flare.height
