"""Edges, errors and shapes of the tanks."""

from __future__ import annotations

import itertools
import math
import pickle

import numpy as np
import pint
import pytest
from scipy.integrate import quad

from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.tank.heads import HEADS, segment_area
from lpgrelease.tank.shapes import HorizontalTank, SphericalTank, VerticalTank
from lpgrelease.weather import Weather, outside_heat_flux

SHAPES = [
    *((HorizontalTank, {"heads": heads, "length": 3.0}) for heads in HEADS),
    *((VerticalTank, {"heads": heads, "length": 3.0}) for heads in HEADS),
    (SphericalTank, {}),
]


@pytest.mark.parametrize(("make", "arguments"), SHAPES)
def test_empty_half_and_full(make, arguments):
    tank = make(diameter=np.array([0.8, 2.5]), **arguments)
    assert tank.liquid_volume(level=0.0).tolist() == [0.0, 0.0]
    assert tank.wetted_area(level=0.0).tolist() == [0.0, 0.0]
    assert tank.level(liquid_volume=0.0).tolist() == [0.0, 0.0]
    assert tank.liquid_volume(level=tank.height).tolist() == tank.volume.tolist()
    assert tank.wetted_area(level=tank.height).tolist() == tank.surface_area.tolist()
    assert tank.level(liquid_volume=tank.volume).tolist() == tank.height.tolist()
    # half from the middle: sums below the level against the closed form of the whole
    np.testing.assert_allclose(tank.liquid_volume(level=tank.height / 2), tank.volume / 2, rtol=1e-11)
    np.testing.assert_allclose(tank.wetted_area(level=tank.height / 2), tank.surface_area / 2, rtol=1e-10)


@pytest.mark.parametrize(("make", "arguments"), SHAPES)
def test_one_tank_equals_the_batch_to_the_bit(make, arguments):
    rng = np.random.default_rng(11)
    diameter, fraction = rng.uniform(0.3, 4.0, 203), rng.uniform(0.0, 1.0, 203)
    tanks = make(diameter=diameter, **arguments)
    together = (
        tanks.liquid_volume(level=fraction * tanks.height),
        tanks.level(liquid_volume=fraction * tanks.volume),
        tanks.wetted_area(level=fraction * tanks.height),
        tanks.free_surface_at(fraction * tanks.height),
    )
    for i in range(203):
        tank = make(diameter=diameter[i], **arguments)
        level = fraction[i] * tank.height
        alone = (
            tank.liquid_volume(level=level),
            tank.level(liquid_volume=fraction[i] * tank.volume),
            tank.wetted_area(level=level),
            tank.free_surface_at(level),
        )
        assert alone == tuple(column[i] for column in together)
        assert all(np.ndim(value) == 0 for value in alone)


def test_broadcasts_tanks_against_levels():
    tank = HorizontalTank(diameter=np.array([1.0, 2.0]), length=3.0)
    assert tank.liquid_volume(level=np.array([[0.1], [0.2], [0.3]])).shape == (3, 2)


def test_a_hair_of_round_off_passes_and_no_more():
    tank = HorizontalTank(diameter=1.1, length=3.0)
    assert tank.liquid_volume(level=1.1 * (1 + 1e-13)) == tank.volume
    assert tank.level(liquid_volume=-1e-14) == 0.0
    with pytest.raises(OutOfRangeError):
        tank.liquid_volume(level=1.1 * (1 + 1e-9))


def test_outside_names_the_offender_and_its_own_tank():
    tank = SphericalTank(diameter=np.array([1.0, 3.0]))
    message = (
        r"level = 2 m is outside the allowed range \[0, 1\] m: the upper end is the tank's inside height"
    )
    with pytest.raises(OutOfRangeError, match=message):
        tank.liquid_volume(level=2.0)
    with pytest.raises(OutOfRangeError, match=r"liquid_volume = -0.5 m\*\*3"):
        tank.level(liquid_volume=[0.1, -0.5])
    with pytest.raises(OutOfRangeError, match="level = -1 m"):
        tank.wetted_area(level=-1.0)


@pytest.mark.parametrize(
    ("arguments", "error", "message"),
    [
        ({"diameter": 0.0}, OutOfRangeError, "diameter = 0 m"),
        ({"length": -1.0}, OutOfRangeError, "length = -1 m"),
        ({"wall_mass": -1.0}, OutOfRangeError, "wall_mass = -1 kg"),
        ({"emissivity": 1.2}, OutOfRangeError, "emissivity = 1.2"),
        ({"heat_transfer": np.inf}, InputError, "heat_transfer must be finite"),
        ({"diameter": None}, InputError, "diameter must be a number"),
        ({"length": None}, InputError, "length must be a number"),
        ({"wall_heat_capacity": None}, InputError, "wall_heat_capacity must be a number"),
        ({"heads": "round"}, InputError, "heads must be one of flat, elliptical, torispherical, hemisph"),
        ({"heads": ["flat"]}, InputError, "heads must be one of"),
        (
            {"diameter": [1.0, 2.0], "length": [1.0, 2.0, 3.0]},
            InputError,
            r"shapes do not broadcast: diameter \(2,\), length \(3,\)",
        ),
    ],
)
def test_refuses_bad_tanks(arguments, error, message):
    with pytest.raises(error, match=message):
        HorizontalTank(**{"diameter": 1.0, "length": 3.0} | arguments)


def test_refuses_levels_that_do_not_broadcast():
    tank = HorizontalTank(diameter=[1.0, 2.0], length=3.0)
    with pytest.raises(InputError, match=r"level \(3,\), tank \(2,\)"):
        tank.liquid_volume(level=[0.1, 0.2, 0.3])


def test_equal_pickles_prints_and_is_frozen():
    tank = HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=170.0)
    assert pickle.loads(pickle.dumps(tank)) == tank
    assert tank != HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0)
    assert float(tank.wall_capacity) == 900.0 * 470.0
    assert "wall_mass           900" in repr(tank)
    with pytest.raises(AttributeError):
        tank.diameter = 2.0


def test_bare_sphere_needs_only_a_diameter():
    tank = SphericalTank(diameter=2.0)
    assert tank.wall_capacity == 0.0
    assert tank.heat_transfer is None


def test_takes_quantities_and_gives_them_back():
    ureg = pint.UnitRegistry()
    tank = VerticalTank(
        diameter=ureg.Quantity(41.0, "inch"),
        length=ureg.Quantity(177.0, "inch"),
        heat_transfer=ureg.Quantity(322.0, "BTU/hour/delta_degF"),
    )
    assert float(tank.diameter) == pytest.approx(1.0414, rel=1e-12)
    assert float(tank.heat_transfer) == pytest.approx(322.0 * 0.5275279, rel=1e-6)  # Btu/h/degF in W/K
    assert tank.q.diameter.m_as("inch") == pytest.approx(41.0)


def test_the_wall_meets_the_weather():
    tank = HorizontalTank(diameter=2.0, length=6.0, emissivity=0.8)
    flux = tank.outside_exchange(Weather()).heat_flux(np.float64(240.0))
    assert flux == outside_heat_flux(Weather(), np.float64(240.0), 2.0, emissivity=0.8)
    sunny = Weather(solar_irradiance=1000.0)
    ball = SphericalTank(diameter=2.0)
    gain = ball.outside_exchange(sunny).heat_flux(240.0) - ball.outside_exchange(Weather()).heat_flux(240.0)
    assert float(gain) == pytest.approx(0.25 * 1000.0 / 4.0)  # white paint; a sphere's shadow is a quarter


def test_torispherical_proportions():
    # geometry of a dish of radius D and a knuckle of 0.06 D, worked out from the right triangle
    # between the two centers
    head = HEADS["torispherical"]
    assert head.depth == pytest.approx(1.0 - math.sqrt(0.94**2 - 0.44**2), rel=1e-14)
    heights = [head.depth * i / 50 for i in range(51)]
    surfaces = [float(head.standing_volume(np.float64(y))[1]) for y in heights]
    assert surfaces[-1] == pytest.approx(math.pi / 4, rel=1e-12)
    assert all(a < b for a, b in itertools.pairwise(surfaces))


def _torispherical_depth(r: float) -> float:
    if r < 0.44 / 0.94:
        return math.sqrt(1.0 - r * r) - math.sqrt(0.94**2 - 0.44**2)
    return math.sqrt(max(0.06**2 - (r - 0.44) ** 2, 0.0))


@pytest.mark.parametrize("x", [1e-4, 0.01, 0.0318, 0.0321, 0.05, 0.2, 0.35, 0.48])
def test_lying_torispherical_head_against_quadrature(x):
    # another route than the table's: rings around the axis instead of horizontal slices
    def ring(r: float) -> float:
        return 4.0 * math.acos(min(1.0, (0.5 - x) / r)) * r * _torispherical_depth(r)

    bounds = sorted({0.5 - x, max(0.5 - x, 0.44 / 0.94), 0.5})
    reference = sum(
        quad(ring, a, b, epsabs=1e-13, epsrel=1e-12, limit=300)[0] for a, b in itertools.pairwise(bounds)
    )
    assert float(HEADS["torispherical"].lying_volume(np.float64(x))[0]) == pytest.approx(reference, abs=1e-11)


@pytest.mark.parametrize("x", [1e-6, 1e-3, 0.0499999, 0.05, 0.3, 0.5])
def test_segment_against_quadrature(x):
    # s = x u^2 takes the root out of the chord, so that the relative error counts even near the bottom
    reference = quad(lambda u: 4.0 * x**1.5 * u * u * math.sqrt(1.0 - x * u * u), 0, 1, epsrel=1e-13)[0]
    assert float(segment_area(np.float64(x))) == pytest.approx(reference, rel=1e-13)
