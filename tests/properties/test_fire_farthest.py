"""The farthest distance of a heat flux is that of a dense scan, wherever flux rises with distance first."""

import math

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from strategies import few, finite

from lpgrelease.fire import pool_fire, vapor_flare, vessel_heating
from lpgrelease.fire.view_factor import Flame, along_line, inside_flame
from lpgrelease.fluids import Fluid
from lpgrelease.tank import Contents, HorizontalTank
from lpgrelease.weather import Weather

PROPANE = Fluid("propane")
angles = finite(-math.pi, math.pi)
winds = st.sampled_from([0.0, 1.0]) | finite(0.0, 15.0)
radiations = st.sampled_from(["solid flame", "solid flame", "point source"])
heights = st.sampled_from([0.0, 3.0]) | finite(0.1, 20.0) | finite(0.1, 200.0)
facings = st.sampled_from(["flame", "flame", "axis", "up"]) | st.tuples(angles, finite(-1.5, 1.5))


def flare(flow=1.0, height=10.0, wind=0.0, radiation="solid flame", diameter=0.1):
    return vapor_flare(
        PROPANE,
        mass_flow=flow,
        height=height,
        diameter=diameter,
        weather=Weather(wind_speed=wind),
        radiation=radiation,
    )


flares = st.builds(flare, finite(1e-3, 30.0), heights, winds, radiations, finite(0.02, 0.3))
pools = st.builds(
    lambda D, wind, radiation: pool_fire(
        PROPANE, diameter=D, weather=Weather(wind_speed=wind), radiation=radiation
    ),
    finite(0.3, 30.0),
    winds,
    radiations,
)
fires = flares | pools


def dense(fire, height):
    """Distances from the axis to far beyond the flame and the height at which it hangs."""
    flame = fire.flame
    reach = max(abs(flame.base_x) + flame.base_radius, abs(flame.tip_x) + flame.tip_radius)
    far = 50.0 * (reach + abs(flame.tip_z - height) + fire.flame_length)
    return np.concatenate([np.linspace(0.0, reach, 300), reach + np.geomspace(1e-3 * reach, far, 900)])


@few(40)
@example(flare(20.0), "downwind", 0.0, "flame", 0.914)
@example(flare(1.0), "downwind", 0.2, "flame", 0.9)
@example(flare(1.0, 10.0, 1.0), "crosswind", 0.0, "flame", 0.95)
@example(flare(20.0, 50.0, 3.0), "crosswind", 0.0, "flame", 0.9)
@example(flare(1.0, 3.0), "downwind", 0.0, "axis", 0.1)
@example(pool_fire(PROPANE, diameter=1.0, weather=Weather(wind_speed=0.0)), "upwind", 10.0, "axis", 0.99)
@example(flare(0.008, 0.0, 7.0), "crosswind", 0.3, (-math.pi / 2, -1.0), 0.99)
@given(
    fires,
    angles,
    st.just(0.0) | finite(0.01, 1.5),
    facings,
    st.sampled_from([0.999999, 0.99]) | finite(0.01, 0.99),
)
def test_standoff_is_the_farthest_of_a_dense_scan(fire, direction, height, facing, level):
    """`height` in heights of the flame's tip, `level` in parts of the highest flux of the scan."""
    where = {"direction": direction, "height": height * float(fire.flame.tip_z), "facing": facing}
    distance = dense(fire, where["height"])
    flux = fire.heat_flux(distance, **where)
    if flux.max() < 1.0:  # it faces away
        return
    wanted = level * flux.max()
    stand = fire.standoff(wanted, **where)
    # of a flame cut by the surface's plane, by 48 edges for an arc, the flux is known to 1 part in 1000 only
    blur = 0.0 if facing == "flame" else 2e-3
    beyond = distance > stand * (1.0 + 1e-9) + 1e-9
    assert (flux[beyond] < wanted * (1.0 + blur)).all()
    assert stand > 0.0 or flux[0] >= wanted
    just_in, just_out = fire.heat_flux(stand * np.array([1.0 - 1e-6, 1.0 + 1e-6]) + [0.0, 1e-9], **where)
    assert just_out < wanted * (1.0 + 1e-6)
    if just_in < 1.0005 * just_out:  # else the surface of the flame, where flux jumps
        assert fire.heat_flux(stand, **where) == pytest.approx(wanted, rel=1e-6)


@given(fires, angles, heights, st.sampled_from(["flame", "axis", "up"]))
def test_more_than_the_highest_flux_is_reached_nowhere(fire, direction, height, facing):
    where = {"direction": direction, "height": height, "facing": facing}
    highest = fire.heat_flux(dense(fire, height), **where).max()
    assert fire.standoff(max(1.05 * highest, 1.0), **where) == 0.0 or highest < 1.0


@few(25)
@given(
    st.builds(flare, finite(0.05, 10.0), finite(0.5, 30.0), winds),
    finite(0.001, 0.3),
    st.sampled_from(["downwind", "crosswind", "upwind"]),
)
@example(flare(1.0, 3.0, 0.0, diameter=0.0508), 0.05, "downwind")
def test_from_the_nearest_distance_on_a_tank_does_not_warm(fire, vented, direction):
    tank = HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=170.0)
    cold = Contents(tank, PROPANE, fill=0.5, temperature=250.0)
    distance = dense(fire, 0.52)
    heating = vessel_heating(fire, cold, distance=distance, direction=direction, vented_flow=vented)
    nearest = heating.nearest_distance[0]
    assert np.all(heating.nearest_distance == nearest)
    assert heating.stays_cool[distance > nearest * (1.0 + 1e-9)].all()
    if nearest == 0.0:
        assert heating.stays_cool.all()
    elif np.isfinite(nearest):
        closer = vessel_heating(
            fire, cold, distance=nearest * (1.0 - 1e-6), direction=direction, vented_flow=vented
        )
        assert not closer.stays_cool


@given(
    finite(0.0, 5.0), finite(-8.0, 8.0), finite(0.5, 10.0), finite(0.1, 3.0), finite(0.1, 3.0),
    finite(-1.4, 1.4), angles, finite(0.0, 15.0),
)  # fmt: skip
def test_a_line_through_a_flame_meets_it_between_two_of_its_marks(
    base, lean, rise, lower, upper, tilt, angle, z
):
    """Wherever a point of the line lies in the flame, the middle of the two marks beside it does."""
    flame = Flame(*(np.array([v]) for v in (0.0, base, lower, lean, base + rise, upper, tilt)))
    cosine, sine = np.array([math.cos(angle)]), np.array([math.sin(angle)])
    d = np.linspace(0.0, 15.0, 600)
    inside = inside_flame(d * cosine, d * sine, np.full(600, z), flame)
    if not inside.any():
        return
    marks = along_line(cosine, sine, np.array([z]), flame)[:, 0]
    middle = 0.5 * (marks[1:] + marks[:-1])
    within = inside_flame(middle * cosine, middle * sine, np.full(3, z), flame)
    for point in d[inside]:
        k = np.searchsorted(marks, point)
        near = np.abs(marks - point).min() < 1e-6
        assert near or (0 < k < 4 and within[k - 1])
