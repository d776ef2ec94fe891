"""What must hold for every tank: round trips, monotony, free surface, symmetry, units."""

from __future__ import annotations

import numpy as np
import pint
from hypothesis import given, settings
from hypothesis import strategies as st

from lpgrelease.tank.heads import HEADS
from lpgrelease.tank.shapes import HorizontalTank, SphericalTank, Tank, VerticalTank

UREG = pint.UnitRegistry()
EPSILON = np.finfo(float).eps
UNTIMED = settings(deadline=None)


@st.composite
def tanks(draw: st.DrawFn) -> Tank:
    diameter = draw(st.floats(0.1, 30.0))
    kind = draw(st.sampled_from([HorizontalTank, VerticalTank, SphericalTank]))
    if kind is SphericalTank:
        return SphericalTank(diameter=diameter)
    length = diameter * draw(st.floats(1e-3, 30.0))
    return kind(diameter=diameter, length=length, heads=draw(st.sampled_from(list(HEADS))))


fractions = st.floats(0.0, 1.0)


@UNTIMED
@given(tanks(), fractions)
def test_level_undoes_volume(tank, fraction):
    level = fraction * tank.height
    volume = tank.liquid_volume(level=level)
    back = tank.level(liquid_volume=volume)
    if fraction <= 0.5:
        # levels whose volume is below 1e-90 of the tank are not told apart from empty
        assert abs(back - level) <= 1e-13 * level + 1e-44 * tank.height
    else:
        # near the top the volume itself cannot hold the level: at most its rounding over the surface
        surface = max(tank.free_surface_at(level), tank.free_surface_at(back))
        room = 8 * EPSILON * tank.volume / surface if surface > 0 else 0.0
        assert abs(back - level) <= room + 4 * EPSILON * tank.height


@UNTIMED
@given(tanks(), fractions)
def test_volume_undoes_level(tank, fraction):
    volume = fraction * tank.volume
    back = tank.liquid_volume(level=tank.level(liquid_volume=volume))
    assert abs(back - volume) <= 1e-14 * tank.volume


@UNTIMED
@given(tanks(), fractions, fractions)
def test_more_level_is_more_of_everything(tank, first, second):
    low, high = sorted((first, second))
    for measure in (tank.liquid_volume, tank.wetted_area):
        a, b = measure(level=low * tank.height), measure(level=high * tank.height)
        # the wetted surface of a flat bottom jumps from 0, upward too
        assert a <= b * (1 + 8 * EPSILON)
    assert 0.0 <= tank.liquid_volume(level=low * tank.height) <= tank.volume


@UNTIMED
@given(tanks(), st.floats(0.01, 0.99))
def test_free_surface_is_the_slope_of_the_volume(tank, fraction):
    # central difference, step 1e-5 of the height: its truncation and rounding stay below 1e-6
    # except across the edge of a knuckle or head, where the surface still is continuous
    level, step = fraction * tank.height, 1e-5 * tank.height
    slope = (tank.volume_at(level + step) - tank.volume_at(level - step)) / (2 * step)
    around = [tank.free_surface_at(level + d) for d in (-step, 0.0, step)]
    widest = tank.volume / tank.height
    assert min(around) - 1e-6 * widest <= slope <= max(around) + 1e-6 * widest


@UNTIMED
@given(tanks(), st.floats(0.0, 0.5))
def test_vapor_above_mirrors_liquid_below(tank, fraction):
    level = fraction * tank.height
    above = tank.volume - tank.liquid_volume(level=tank.height - level)
    assert abs(above - tank.liquid_volume(level=level)) <= 1e-13 * tank.volume


@UNTIMED
@given(tanks(), st.floats(1e-6, 1.0))
def test_wet_surface_is_at_least_that_of_a_ball(tank, fraction):
    # isoperimetric: wall below the level and free surface together enclose the liquid
    level = fraction * tank.height
    surface = tank.wetted_area(level=level) + tank.free_surface_at(level)
    ball = np.cbrt(36.0 * np.pi * tank.liquid_volume(level=level) ** 2)
    assert surface >= ball * (1 - 1e-9)


@UNTIMED
@given(st.floats(4.0, 400.0), st.floats(4.0, 4000.0), fractions, st.sampled_from(list(HEADS)))
def test_inches_and_meters_agree(diameter, length, fraction, heads):
    def inches(value: float) -> pint.Quantity:
        return UREG.Quantity(value, "inch")

    metric = HorizontalTank(diameter=diameter * 0.0254, length=length * 0.0254, heads=heads)
    customary = HorizontalTank(diameter=inches(diameter), length=inches(length), heads=heads)
    a = metric.liquid_volume(level=fraction * diameter * 0.0254)
    b = customary.liquid_volume(level=inches(fraction * diameter))
    assert abs(a - b) <= 1e-12 * metric.volume
