"""Edges, errors and shapes of tilted tanks and of places on a shell."""

from __future__ import annotations

import math
import pickle

import numpy as np
import pint
import pytest

import lpgrelease as lr
from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.tank.attitude import TiltedTank, opening_height, tilt
from lpgrelease.tank.heads import HEADS
from lpgrelease.tank.shapes import HorizontalTank, SphericalTank, VerticalTank

UREG = pint.UnitRegistry()
LYING = HorizontalTank(diameter=2.0, length=6.0, wall_mass=900.0, heat_transfer=170.0)


@pytest.mark.parametrize("heads", HEADS)
def test_one_tank_equals_the_batch_to_the_bit(heads):
    rng = np.random.default_rng(11)
    n = 101
    diameter, pitch, part = rng.uniform(0.3, 4.0, n), rng.uniform(-1.57, 1.57, n), rng.uniform(0.0, 1.0, n)
    pitch[:3] = 0.0, 1e-7, 0.5 * math.pi
    tanks = TiltedTank(diameter=diameter, length=3.0, heads=heads, pitch=pitch)

    def answers(tank, part):
        level = part * tank.height
        return (
            tank.liquid_volume(level=level),
            tank.level(liquid_volume=part * tank.volume),
            tank.wetted_area(level=level),
            tank.free_surface_at(level),
            opening_height(tank, axial=0.4, clock=part),
        )

    together = answers(tanks, part)
    for i in range(n):
        alone = TiltedTank(diameter=diameter[i], length=3.0, heads=heads, pitch=pitch[i])
        assert answers(alone, part[i]) == tuple(column[i] for column in together)


@pytest.mark.parametrize("heads", HEADS)
def test_empty_and_full(heads):
    tank = TiltedTank(diameter=np.array([0.8, 2.5]), length=3.0, heads=heads, pitch=[0.4, 1.2])
    assert tank.liquid_volume(level=0.0) == pytest.approx([0.0, 0.0], abs=1e-15)
    assert tank.level(liquid_volume=0.0).tolist() == [0.0, 0.0]
    assert tank.liquid_volume(level=tank.height) == pytest.approx(tank.volume, rel=1e-15)
    assert tank.level(liquid_volume=tank.volume).tolist() == tank.height.tolist()
    assert tank.wetted_area(level=tank.height) == pytest.approx(tank.surface_area, rel=1e-9)


def test_an_upright_flat_bottom_is_wet_at_once():
    tank = TiltedTank(diameter=2.0, length=3.0, heads="flat", pitch=0.5 * math.pi)
    assert tank.wetted_area(level=1e-9) == pytest.approx(math.pi, rel=1e-6)


def test_a_tilted_tank_keeps_the_wall_and_what_it_is_given():
    tank = tilt(LYING, pitch=UREG.Quantity(10.0, "degree"), roll=0.3)
    assert float(tank.pitch) == pytest.approx(math.radians(10.0))
    assert tank.wall_capacity == LYING.wall_capacity
    assert tank.heat_transfer == 170.0
    assert tank.volume == LYING.volume
    assert pickle.loads(pickle.dumps(tank)) == tank
    leaning = tilt(VerticalTank(diameter=2.0, length=6.0), pitch=-0.1)
    assert float(leaning.pitch) == pytest.approx(0.5 * math.pi - 0.1)
    ball = SphericalTank(diameter=3.0)
    assert tilt(ball, pitch=0.3) is ball


def test_a_history_takes_it_and_tends_to_the_tank_that_lies():
    fluid, vent = lr.Fluid("propane"), lr.Opening(diameter=0.05, height=1.5)
    runs = [
        lr.tank_history(lr.Contents(tank, fluid, fill=0.5, temperature=290.0), openings=[vent], duration=60.0)
        for tank in (LYING, tilt(LYING, pitch=1e-9), tilt(LYING, pitch=0.3))
    ]
    assert runs[1].pressure[-1] == pytest.approx(runs[0].pressure[-1], rel=1e-9)
    # raised by 17 degrees the liquid at the low end stands above 1.5 m: the vent passes liquid
    assert bool(runs[2].passes_liquid[0, 0])
    assert not bool(runs[0].passes_liquid[0, 0])


def test_places_on_the_shell():
    place = {"axial": np.array([0.0, 3.0, 3.5, -3.5]), "clock": np.array([0.0, math.pi / 2, 1.0, 2.0])}
    assert opening_height(LYING, **place) == pytest.approx([2.0, 1.0, 1.0, 1.0])
    assert opening_height(
        VerticalTank(diameter=2.0, length=6.0), axial=[-3.5, -3.0, 0.0, 3.5]
    ) == pytest.approx([0.0, 0.5, 3.5, 7.0])
    assert opening_height(SphericalTank(diameter=4.0), axial=[-2.0, 0.5]) == pytest.approx([0.0, 2.5])
    # the tip of the raised end: half the overall length times the sine over the middle
    tank = tilt(LYING, pitch=0.2)
    tip = 0.5 * tank.height + 3.5 * math.sin(0.2)
    assert opening_height(tank, axial=3.5) == pytest.approx(tip)
    # the highest point of all lies on the raised elliptical head, where its normal points up
    z = 0.5 * math.sin(0.2) / math.hypot(math.cos(0.2), 0.5 * math.sin(0.2))
    assert opening_height(tank, axial=3.0 + 0.5 * z) == pytest.approx(tank.height)


def test_torispherical_heads_are_continuous_where_dish_and_knuckle_meet():
    tank = TiltedTank(diameter=2.0, length=6.0, heads="torispherical", pitch=0.3)
    head = HEADS["torispherical"]
    meeting = 3.0 + 2.0 * (head.depth - head.joint_height)
    low, high = (opening_height(tank, axial=meeting + step) for step in (-1e-9, 1e-9))
    assert abs(high - low) < 1e-7


def test_errors():
    with pytest.raises(OutOfRangeError, match=r"pitch = 10 rad .* an angle in radians"):
        TiltedTank(diameter=2.0, length=6.0, pitch=10.0)
    with pytest.raises(OutOfRangeError, match="roll = 4 rad"):
        TiltedTank(diameter=2.0, length=6.0, roll=4.0)
    with pytest.raises(OutOfRangeError, match=r"axial = 3.6 m .* the tips of the tank"):
        opening_height(LYING, axial=3.6)
    with pytest.raises(OutOfRangeError, match="axial"):
        opening_height(SphericalTank(diameter=2.0), axial=-1.1)
    with pytest.raises(InputError, match="tank must be a HorizontalTank"):
        tilt(tilt(LYING, pitch=0.1), pitch=0.1)
    with pytest.raises(InputError, match="tank must be a tank"):
        opening_height("a tank")
    with pytest.raises(InputError, match=r"shapes do not broadcast: .*pitch"):
        TiltedTank(diameter=np.ones(2), length=6.0, pitch=np.zeros(3))


def test_openings_are_placed_on_shapes_only():
    with pytest.raises(InputError, match="must be a horizontal, vertical, spherical or tilted tank, got"):
        opening_height(lr.tank.Tank(diameter=1.0), axial=0.0, clock=0.0)


def test_a_sphere_takes_no_angle_that_is_none():
    sphere = SphericalTank(diameter=2.0)
    assert tilt(sphere, pitch=0.1, roll=0.2) is sphere
    for name in ("pitch", "roll"):
        with pytest.raises(InputError, match=f"{name} must be finite"):
            tilt(sphere, **{name: math.nan})


def test_a_standing_tank_leans_to_the_side_of_its_sign():
    """By hand: a place on the shell halfway up moves by its distance from the axis times the sine."""
    silo = VerticalTank(diameter=2.0, length=6.0)
    middles = []
    for pitch in (0.2, -0.2):
        tank = tilt(silo, pitch=pitch)
        up, side, down = (float(opening_height(tank, clock=clock)) for clock in (0.0, 0.5 * np.pi, np.pi))
        assert up - side == pytest.approx(np.sin(pitch))
        assert down - side == pytest.approx(-np.sin(pitch))
        middles.append((side, float(tank.liquid_volume(level=2.0))))
    assert middles[0] == pytest.approx(middles[1])
    both = tilt(silo, pitch=[0.2, -0.2], roll=[0.3, 0.3])
    assert both.roll.tolist() == [0.3, 0.3 - np.pi]
