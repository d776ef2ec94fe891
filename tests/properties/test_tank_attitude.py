"""What must hold for tanks at any angle: limits, symmetry, turning, and volumes counted by random points."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lpgrelease.tank.attitude import TiltedTank, opening_height, tilt
from lpgrelease.tank.heads import HEADS
from lpgrelease.tank.oblique import head_radius
from lpgrelease.tank.shapes import HorizontalTank, SphericalTank, VerticalTank

UNTIMED = settings(deadline=None)
RIGHT = 0.5 * math.pi
fractions = st.floats(0.0, 1.0)


@st.composite
def tilted(draw: st.DrawFn) -> TiltedTank:
    diameter = draw(st.floats(0.1, 30.0))
    return TiltedTank(
        diameter=diameter,
        length=diameter * draw(st.floats(0.05, 20.0)),
        heads=draw(st.sampled_from(list(HEADS))),
        pitch=draw(st.floats(-RIGHT, RIGHT)),
    )


@UNTIMED
@given(tilted(), fractions)
def test_volume_undoes_level(tank, fraction):
    volume = fraction * tank.volume
    back = tank.liquid_volume(level=tank.level(liquid_volume=volume))
    assert abs(back - volume) <= 1e-12 * tank.volume


@UNTIMED
@given(tilted(), fractions, fractions)
def test_more_level_is_more_of_everything(tank, first, second):
    low, high = sorted((first, second))
    for measure, whole in ((tank.liquid_volume, tank.volume), (tank.wetted_area, tank.surface_area)):
        # quadrature of head surfaces is good to 1e-6 of them
        slack = 1e-14 if measure is tank.liquid_volume else 1e-6
        assert measure(level=low * tank.height) <= measure(level=high * tank.height) + slack * whole


@UNTIMED
@given(tilted(), fractions)
def test_both_ends_are_alike_and_upside_down_is_the_rest(tank, fraction):
    mirrored = TiltedTank(diameter=tank.diameter, length=tank.length, heads=tank.heads, pitch=-tank.pitch)
    level = fraction * tank.height
    assert mirrored.liquid_volume(level=level) == tank.liquid_volume(level=level)
    above = tank.liquid_volume(level=tank.height - level)
    assert abs(tank.liquid_volume(level=level) + above - tank.volume) <= 1e-13 * tank.volume


@UNTIMED
@given(tilted(), st.floats(0.02, 0.98))
def test_free_surface_is_the_slope_of_the_volume(tank, fraction):
    level, step = fraction * tank.height, 1e-4 * tank.height
    around = tank.volume_at(level + step) - tank.volume_at(level - step)
    nearby = [tank.free_surface_at(level + part * step) for part in np.linspace(-1.0, 1.0, 21)]
    # the mean slope lies between the surfaces met on the way
    assert min(nearby) * (1 - 2e-3) <= around / (2 * step) <= max(nearby) * (1 + 2e-3)


@UNTIMED
@given(tilted(), fractions, st.floats(-math.pi, math.pi))
def test_roll_moves_openings_and_nothing_else(tank, fraction, roll):
    turned = TiltedTank(
        diameter=tank.diameter, length=tank.length, heads=tank.heads, pitch=tank.pitch, roll=roll
    )
    level = fraction * tank.height
    assert turned.liquid_volume(level=level) == tank.liquid_volume(level=level)
    place = {"axial": 0.3 * tank.length}
    assert opening_height(turned, clock=0.0, **place) == opening_height(tank, clock=roll, **place)


@UNTIMED
@given(tilted(), fractions, st.floats(-1.0, 1.0))
def test_no_opening_lies_outside(tank, around, along):
    reach = 0.5 * tank.length + tank._head.depth * tank.diameter
    height = opening_height(tank, axial=along * reach, clock=2 * math.pi * around)
    assert 0.0 <= height <= tank.height


@pytest.mark.parametrize("heads", HEADS)
@pytest.mark.parametrize(("pitch", "make"), [(0.0, HorizontalTank), (RIGHT, VerticalTank)])
def test_limits_are_the_tanks_that_lie_and_stand(heads, pitch, make):
    plain = make(diameter=2.0, length=5.0, heads=heads)
    turned = TiltedTank(diameter=2.0, length=5.0, heads=heads, pitch=pitch)
    assert abs(turned.height - plain.height) <= 1e-14 * plain.height
    part = np.linspace(0.01, 0.99, 99)
    level = part * plain.height
    # round-off, and for torispherical heads the quadratures of both: 1e-11
    np.testing.assert_allclose(turned.volume_at(level), plain.volume_at(level), rtol=0, atol=1e-11)
    np.testing.assert_allclose(
        turned.level_at(part * turned.volume), plain.level_at(part * plain.volume), rtol=1e-11
    )
    np.testing.assert_allclose(turned.free_surface_at(level), plain.free_surface_at(level), rtol=1e-8)
    # both integrate the surface of lying heads: 1e-7 m2
    np.testing.assert_allclose(turned.wetted_area_at(level), plain.wetted_area_at(level), rtol=0, atol=2e-7)


@pytest.mark.parametrize("heads", HEADS)
def test_small_angles_tend_to_none(heads):
    plain = HorizontalTank(diameter=2.0, length=5.0, heads=heads)
    level = np.linspace(0.05, 1.95, 39)
    off = []
    for pitch in (1e-3, 1e-4, 1e-5, 1e-9):
        turned = tilt(plain, pitch=pitch)
        # at the middle the plane turns about the tank's center: nothing changes to first order
        shift = 0.5 * (turned.height - plain.height)
        off.append(np.max(np.abs(turned.volume_at(level + shift) - plain.volume_at(level))))
    assert off[1] < 0.02 * off[0]
    assert off[3] < 1e-11


@pytest.mark.parametrize("heads", HEADS)
@pytest.mark.parametrize("degrees", [3.0, 25.0, 60.0, 88.0])
def test_random_points_fill_the_same_volume(heads, degrees):
    rng = np.random.default_rng(5)
    n, D, L = 400_000, 2.0, 5.0
    tank = TiltedTank(diameter=D, length=L, heads=heads, pitch=math.radians(degrees))
    half = 0.5 * L + tank._head.depth * D
    s, y, z = (rng.uniform(-width, width, n) for width in (half, 0.5 * D, 0.5 * D))
    beyond = np.clip((np.abs(s) - 0.5 * L) / D, 0.0, tank._head.depth)
    inside = y * y + z * z <= np.square(
        np.where(np.abs(s) <= 0.5 * L, 0.5 * D, D * head_radius(tank._head, beyond))
    )
    height = 0.5 * tank.height + s * math.sin(tank.pitch) + z * math.cos(tank.pitch)
    box = 2 * half * D * D
    for part in (0.05, 0.2, 0.5, 0.7, 0.95):
        share = np.mean(inside & (height <= part * tank.height))
        # four standard deviations of the count
        spread = 4.0 * math.sqrt(share * (1 - share) / n) * box
        assert abs(box * share - tank.liquid_volume(level=part * tank.height)) <= spread
    assert np.max(height[inside]) <= tank.height
    assert np.min(height[inside]) >= 0.0


def test_half_a_sphere_below_a_plane_is_that_of_a_sphere():
    # hemispherical heads with hardly any cylinder between them: a ball, however it turns
    ball = SphericalTank(diameter=2.0)
    tank = TiltedTank(
        diameter=2.0, length=1e-9, heads="hemispherical", pitch=np.linspace(0.0, RIGHT, 7)[:, None]
    )
    level = np.linspace(0.0, 2.0, 41)
    np.testing.assert_allclose(
        tank.volume_at(level), np.broadcast_to(ball.volume_at(level), (7, 41)), atol=1e-8
    )
    np.testing.assert_allclose(
        tank.wetted_area_at(level), np.broadcast_to(ball.wetted_area_at(level), (7, 41)), atol=1e-7
    )
