"""Single terms of the tank's model, each against its equation worked out here by hand."""

from __future__ import annotations

import math
from types import SimpleNamespace

import CoolProp
import numpy as np
import pytest

import lpgrelease as lr
from lpgrelease.tank.carry_over import carries_liquid
from lpgrelease.tank.outside import Surroundings
from lpgrelease.tank.swell import kataoka_ishii_void, level_swell
from lpgrelease.tank.wall import boiling_coefficient, boiling_flux
from lpgrelease.tank.zones import Zones

PROPANE = lr.Fluid("propane")
LYING = lr.HorizontalTank(diameter=1.04, length=4.5, heat_transfer=0.0)
AIR_HEAT = 1006.0
"""Isobaric heat capacity of air [J/kg/K]."""


# -- heat from outside --------------------------------------------------------------------------------------


@pytest.mark.parametrize("fill", [0.2, 0.9])
def test_a_fire_reaches_no_higher_in_a_history_than_in_the_standard(fill):
    # 20 m tall: only what is wetted below 7.6 m takes up heat
    tall = lr.VerticalTank(diameter=3.0, length=20.0, heat_transfer=0.0)
    contents = lr.Contents(tall, PROPANE, fill=fill, temperature=293.15)
    run = lr.tank_history(contents, fire=lr.TankFire(), duration=0.1, points=2)
    heat = lr.fire_engulfment(contents).heat
    assert run.heat_gained[-1] / run.time[-1] == pytest.approx(float(heat), rel=1e-3)
    if fill == 0.9:
        # half an oblate spheroid 1.5 m wide and 0.75 m deep, and the wall from there to 7.6 m
        e = math.sqrt(0.75)
        head = math.pi * 1.5**2 * (1.0 + 0.25 / e * math.atanh(e))
        assert heat == pytest.approx(43200.0 * (head + math.pi * 3.0 * (7.6 - 0.75)) ** 0.82, rel=1e-3)


def around(**fields):
    names = Surroundings.__dataclass_fields__
    return Surroundings(**{name: fields.get(name) for name in names})


def test_the_wetted_wall_boils_by_the_law_of_boiling():
    superheat = np.array([[3.0, 6.0, 12.0, 25.0]])
    nucleate = boiling_flux(np.ones(1), np.array(0.2), np.array(0.0441))
    zero = np.zeros(1)
    transfer = np.array([zero, zero, nucleate, zero, zero])
    apart = np.array([superheat, np.zeros(superheat.shape)])
    coefficients = around()._coefficients(apart, np.ones((1, 1)), transfer[:, None])
    expected = boiling_flux(superheat, np.array(0.2), np.array(0.0441))
    np.testing.assert_allclose(coefficients[0] * superheat, expected, rtol=1e-12)


@pytest.mark.parametrize("difference", [0.0, 1e-9, 4.0, 40.0])
def test_vapor_over_colder_liquid_lies_still(difference):
    # Nu = 1 + 0.27 Ra**(1/4) on the area over the perimeter of a square, a quarter of its side
    area, conductivity, group = 6.25, 0.018, 3e7
    side = 2.5
    rayleigh = group * difference * (side / 4.0) ** 3
    nusselt = 1.0 + 0.27 * rayleigh**0.25
    expected = nusselt * conductivity / (side / 4.0) * area
    one = np.ones((1, 1))
    still = around()._still(difference * one, group * one, conductivity * one, area * one)
    assert float(still[0, 0]) == pytest.approx(expected, rel=1e-12)


def test_smoother_metal_boils_less():
    # cooper1984boiling: h goes with p_r**(-0.2 log10 R_p), R_p in um; p_r is below 1 and 0.4 um below 1 um
    p_r = np.array([0.01, 0.2, 0.8])
    rough, smooth = (
        boiling_coefficient(1e4, p_r, np.array(0.0441), roughness=roughness) for roughness in (1.0, 0.4)
    )
    np.testing.assert_allclose(smooth / rough, p_r ** (-0.2 * math.log10(0.4)), rtol=1e-12)
    assert (smooth < rough).all()


# -- openings -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("clock", [60.0, -60.0, 150.0])
@pytest.mark.parametrize("roll", [60.0, -30.0, 120.0])
def test_a_roll_adds_to_the_clock(clock, roll):
    tank = lr.tilt(lr.HorizontalTank(diameter=2.0, length=6.0), roll=math.radians(roll))
    place = lr.opening_height(tank, clock=math.radians(clock))
    # on the circle of radius 1 m, counted from its top
    assert place == pytest.approx(1.0 + math.cos(math.radians(clock + roll)), abs=1e-12)


def test_a_hole_half_covered_passes_half():
    zones = SimpleNamespace(
        partly=np.array([[True], [True], [False]]),
        wet=np.array([[False], [True], [True]]),
        empties_at=np.array([[1.0], [1.0], [1.0]]),
        fills_at=np.array([[2.0], [2.0], [2.0]]),
        volume=np.array([10.0]),
    )
    filled = np.array([[0.9], [1.25], [1.5], [1.75], [2.1]])
    share = Zones.covered(zones, filled)
    for row in share[:2]:
        np.testing.assert_allclose(row[:, 0], [0.0, 0.25, 0.5, 0.75, 1.0], rtol=1e-15)
    assert (share[2] == 1.0).all()


# -- energy that leaves and comes ---------------------------------------------------------------------------


def test_padded_liquid_leaves_with_the_work_of_the_pad():
    pad = 2e6
    contents = lr.Contents(LYING, PROPANE, fill=0.7, temperature=280.0, pad_pressure=pad)
    leak = lr.Opening(diameter=0.02, height=0.0)
    run = lr.tank_history(contents, openings=[leak], duration=0.5, points=2)
    assert run.stopped_by == "duration"
    s = PROPANE.saturation(temperature=run.temperature)
    # u + p v: internal energy of the saturated liquid, pressure of vapor and pad; mean of start and end
    specific = s.liquid_internal_energy + run.pressure / s.liquid_density
    assert run.pressure[0] == pytest.approx(float(s.pressure[0]) + pad, rel=1e-9)
    assert (pad / s.liquid_density > 0.015 * abs(specific)).all()
    left = run.enthalpy_released[-1] / run.mass_released[0, -1]
    assert left == pytest.approx(specific.mean(), rel=1e-6)


@pytest.mark.parametrize("outside", [250.0, 310.0])
def test_air_comes_in_as_warm_as_it_is_outside(outside):
    cold = lr.Contents(LYING, lr.Fluid("n-butane"), fill=0.6, temperature=255.0)
    vent = lr.Opening(diameter=0.02, height=1.04)
    run = lr.tank_history(
        cold, openings=[vent], weather=lr.Weather(air_temperature=outside), duration=1.0, air_enters=True,
        points=2,
    )  # fmt: skip
    came = run.gas_mass[-1] - run.gas_mass[0]
    assert came > 1e-3
    assert run.mass_released[0, -1] == 0.0
    assert -run.enthalpy_released[-1] == pytest.approx(came * AIR_HEAT * outside, rel=1e-6)


@pytest.mark.parametrize("name", ["propane", "n-butane", "ammonia"])
def test_pressure_of_a_liquid_full_tank_after_ten_seconds(name):
    fluid, heat, start = lr.Fluid(name), 4000.0, 288.15
    full = lr.Contents(lr.HorizontalTank(diameter=1.04, length=4.5), fluid, fill=1.0, temperature=start)
    rate = float(lr.liquid_full(full, heat=heat).pressure_rate)
    # rigid, without metal: internal energy rises by the heat, density stays
    state = CoolProp.AbstractState("HEOS", fluid.substance.coolprop_name)
    state.update(CoolProp.QT_INPUTS, 0.0, start)
    density, energy, before = state.rhomass(), state.umass(), state.p()
    mass = density * float(full.tank.volume)
    low, high = start, start + 1.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        state.update(CoolProp.DmassT_INPUTS, density, middle)
        low, high = (middle, high) if state.umass() < energy + 10.0 * heat / mass else (low, middle)
    # 1 %: differences of the equation of state over 2e4 Pa and 0.02 K
    assert rate == pytest.approx((state.p() - before) / 10.0, rel=0.01)


# -- swelling -----------------------------------------------------------------------------------------------


def test_a_pool_with_vapor_from_below_by_its_equation():
    # kataoka1987pool: fast vapor fills 1/C_0; slow vapor j/V
    rho_l, rho_v, sigma, wide = 500.0, 20.0, 0.0077, 5.0
    liquid = {
        "diameter": wide, "liquid_density": rho_l, "vapor_density": rho_v, "surface_tension": sigma,
    }  # fmt: skip
    fast = kataoka_ishii_void(1e9, liquid_viscosity=1e-4, **liquid)
    assert fast == pytest.approx(1.0 / (1.2 - 0.2 * 0.2), rel=1e-6)
    weight = 9.80665 * (rho_l - rho_v)
    scale = (sigma * weight / rho_l**2) ** 0.25
    length = math.sqrt(sigma / weight)
    for viscosity in (1e-4, 1e-2):
        number = viscosity / math.sqrt(rho_l * sigma * length)
        factor = 0.92 if number > 2.25e-3 else 0.030 * number**-0.562
        drift = factor * (rho_v / rho_l) ** -0.157 * scale
        slow = kataoka_ishii_void(1e-9, liquid_viscosity=viscosity, **liquid)
        assert slow == pytest.approx(1e-9 / drift, rel=1e-6)
    assert 1e-2 / math.sqrt(rho_l * sigma * length) > 2.25e-3 > 1e-4 / math.sqrt(rho_l * sigma * length)


def nearly_full(gap):
    """A sphere of 2 m full up to `gap` below its top, and its free surface [m2]."""
    empty = math.pi * gap * gap * (3.0 - gap) / 3.0
    contents = lr.Contents(
        lr.SphericalTank(diameter=2.0), PROPANE, fill=1.0 - empty / (4.0 / 3.0 * math.pi), temperature=293.15
    )
    return contents, math.pi * gap * (2.0 - gap)


@pytest.mark.parametrize(("gap", "least"), [(0.02, 0.0), (0.001, 0.01)])
def test_vapor_through_the_surface_of_a_nearly_full_tank(gap, least):
    # its surface, and once that is below a hundredth of the largest, the hundredth
    contents, surface = nearly_full(gap)
    surface = max(surface, least * math.pi)
    assert surface < 0.05 * math.pi
    swell = level_swell(contents, vapor_flow=0.3, height=2.0)
    density = PROPANE.saturation(temperature=293.15).vapor_density
    # 1e-4: the level is found from the volume, and the gap is a small difference
    assert swell.superficial_velocity == pytest.approx(0.3 / (density * surface), rel=1e-4)


@pytest.mark.parametrize("gap", [0.02, 0.001])
def test_what_a_nearly_full_tank_carries_over(gap):
    contents, surface = nearly_full(gap)
    surface = max(surface, 0.01 * math.pi)
    s = PROPANE.saturation(temperature=293.15)
    sigma = PROPANE.saturated(293.15, "surface_tension")[0]
    rise = (
        1.53
        * (sigma * 9.80665 * (s.liquid_density - s.vapor_density)) ** 0.25
        / math.sqrt(float(s.liquid_density))
    )
    fill = float(contents.fill)
    # churn-turbulent: 2 alpha/(1 - 1.5 alpha) of the rise velocity, where the liquid comes to the top
    limit = s.vapor_density * surface * rise * 2.0 * (1.0 - fill) / (1.0 - 1.5 * (1.0 - fill))
    tank = lr.SphericalTank(diameter=np.array([2.0]))
    for share, comes in ((0.9, False), (1.1, True)):
        found = {
            "temperature": np.full((1, 1), 293.15),
            "liquid_volume": np.array([[fill * float(tank.volume[0])]]),
            "mass_flow": np.full((1, 1, 1), share * float(limit)),
            "passes_liquid": np.zeros((1, 1, 1), dtype=bool),
        }
        assert carries_liquid(PROPANE.tables, tank, tank.volume[None], found).tolist() == [[comes]]


def test_liquid_that_leaks_does_not_swell_the_rest():
    contents = lr.Contents(
        lr.HorizontalTank(diameter=1.04, length=4.5), PROPANE, fill=0.9, temperature=293.15
    )
    vent = lr.Opening(diameter=0.004, height=1.04)
    leak = lr.Opening(diameter=0.08, height=0.0)
    run = lr.tank_history(contents, openings=[vent, leak], duration=20.0)
    limit = float(level_swell(contents, vapor_flow=0.1, height=1.04).largest_flow)
    assert run.mass_flow[0].max() < 0.2 * limit
    assert run.mass_flow[1].max() > 5.0 * limit
    assert run.carries_liquid.tolist() == [False, False]
