"""What must hold for swelling levels, relief valves, walls and fires around tanks."""

from __future__ import annotations

import math

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

import lpgrelease as lr
from lpgrelease.release.opening import Opening
from lpgrelease.tank.attitude import TiltedTank
from lpgrelease.tank.carry_over import _least_surface
from lpgrelease.tank.contact import ground_contact_flux, water_contact_flux
from lpgrelease.tank.fire_exposure import exposed_area_at, fire_engulfment
from lpgrelease.tank.frost import frost_height, frost_point, moisture_heat_flux
from lpgrelease.tank.relief import ReliefValve, lift_fraction, until_switch
from lpgrelease.tank.shapes import HorizontalTank, SphericalTank, VerticalTank
from lpgrelease.tank.swell import REGIMES, boiling_void, level_swell, sparged_void, velocity_for_void
from lpgrelease.tank.wall import (
    conduction_to_wetted_wall,
    layer_resistance,
    skin_temperature,
    waterline,
)
from lpgrelease.weather import OutsideExchange, Weather

UREG = pint.UnitRegistry()
regimes = st.sampled_from(list(REGIMES))
PROPANE = lr.Fluid("propane")


@given(st.floats(0.0, 1e4), regimes)
def test_void_undoes_velocity(psi, regime):
    void = boiling_void(psi, regime=regime)
    limit = 1.0 / REGIMES[regime].distribution
    assert 0.0 <= void < limit
    back = velocity_for_void(void, regime=regime)
    # near the limit of the void the velocity is steep: round-off times the slope
    assert back == pytest.approx(psi, rel=1e-9 + 1e-14 * psi, abs=1e-12)


@given(st.floats(1e-3, 50.0))
def test_vapor_made_throughout_swells_less_than_vapor_from_below(psi):
    assert boiling_void(psi, regime="churn-turbulent") < sparged_void(psi, regime="churn-turbulent")


@given(st.floats(1e-3, 50.0))
def test_bubbles_that_hinder_each_other_swell_more(psi):
    assert boiling_void(psi, regime="bubbly") > boiling_void(psi, regime="churn-turbulent")


@given(st.floats(1e-6, 1e-3))
def test_slow_boiling_swells_by_half_of_what_the_same_vapor_from_below_does(psi):
    # vapor made evenly over the height passes half the height on average
    half = boiling_void(psi, regime="churn-turbulent") / sparged_void(psi, regime="churn-turbulent")
    assert half == pytest.approx(0.5, rel=1e-3)


@given(st.floats(0.05, 5.0))
def test_mean_void_is_near_the_integral_of_the_local_one(psi):
    # local void x / (1 + C0 x) with x rising evenly to psi; the coupling equation approximates its mean
    C0 = REGIMES["churn-turbulent"].distribution
    mean = 1.0 / C0 - math.log1p(C0 * psi) / (C0 * C0 * psi)
    assert boiling_void(psi, regime="churn-turbulent") == pytest.approx(mean, rel=0.16)


@given(st.floats(0.05, 0.95), st.floats(0.0, 20.0), regimes)
def test_carry_over_is_where_the_swelled_level_comes_to_the_opening(fill, flow, regime):
    tank = HorizontalTank(diameter=1.04, length=4.5)
    contents = lr.Contents(tank, PROPANE, fill=fill, temperature=280.0)
    swell = level_swell(contents, vapor_flow=flow, height=0.98, regime=regime)
    assert swell.level >= contents.level * (1 - 1e-12)
    if abs(swell.level - 0.98) > 1e-6:
        assert bool(swell.carries_liquid) == bool(swell.level > 0.98)
    at_limit = level_swell(contents, vapor_flow=swell.largest_flow if swell.largest_flow < 1e6 else 0.0,
                           height=0.98, regime=regime)  # fmt: skip
    if 0.0 < swell.largest_flow < 1e6:
        assert at_limit.level == pytest.approx(0.98, rel=1e-6)


def test_a_history_tells_carry_over_where_the_swelled_level_comes_to_the_vent():
    draw, n = np.random.default_rng(7).uniform, 300
    tank = HorizontalTank(diameter=draw(0.8, 2.0, n), length=draw(1.0, 6.0, n))
    contents = lr.Contents(tank, PROPANE, fill=draw(0.05, 0.95, n), temperature=draw(260.0, 310.0, n))
    vent = Opening(diameter=draw(0.02, 0.12, n), height=tank.diameter)
    run = lr.tank_history(contents, openings=[vent], points=9)
    wide = HorizontalTank(diameter=tank.diameter[:, None], length=tank.length[:, None])
    at_points = lr.Contents(
        wide,
        PROPANE,
        fill=np.clip(run.liquid_volume / wide.volume, 0.0, 1.0),
        temperature=run.temperature,
    )
    swell = level_swell(at_points, vapor_flow=run.mass_flow[:, 0], height=wide.diameter)
    comes = (swell.carries_liquid & (run.mass_flow[:, 0] > 0.0)).any(axis=1)
    assert 0 < comes.sum() < n
    assert np.array_equal(run.carries_liquid[:, 0], comes)


@given(
    st.sampled_from([HorizontalTank, VerticalTank, SphericalTank, TiltedTank]),
    st.sampled_from(["elliptical", "hemispherical", "torispherical", "flat"]),
    st.floats(0.2, 10.0),
    st.floats(-1.5, 1.5),
)
def test_no_surface_is_smaller_than_is_known_without_the_level(kind, heads, length, pitch):
    one = np.array([1.3])
    more = {} if kind is SphericalTank else {"length": length * one, "heads": heads}
    tank = kind(diameter=one, **more, **({"pitch": np.array([pitch])} if kind is TiltedTank else {}))
    level = np.linspace(0.0, 1.0, 201)[1:-1, None] * tank.height
    widest = tank.free_surface_at(0.5 * tank.height)
    least = widest * np.cbrt(_least_surface(tank.volume, tank.volume_at(level))) ** 2
    surface = tank.free_surface_at(level)
    assert (least <= (1.0 + 1e-9) * surface).all()
    # how near it is says only how many points are looked at more closely; at half the height it is exact
    middle = slice(50, -50)
    assert (least[middle] >= 0.5 * surface[middle]).all()
    assert least[99] == pytest.approx(surface[99], rel=1e-9)


def test_a_bubbly_liquid_carries_over_sooner():
    tank = HorizontalTank(diameter=1.04, length=4.5)
    contents = lr.Contents(tank, PROPANE, fill=np.linspace(0.2, 0.9, 15), temperature=280.0)
    limits = [level_swell(contents, vapor_flow=1.0, height=1.04, regime=r).largest_flow for r in REGIMES]
    assert (limits[1] < limits[0]).all()
    assert (np.diff(limits[1]) < 0.0).all()


@given(st.floats(0.0, 30e5), st.floats(1e5, 20e5), st.floats(0.01, 0.3), st.floats(0.01, 0.3))
def test_lift_is_bounded_and_an_open_valve_lifts_no_less(pressure, set_pressure, over, down):
    valve = ReliefValve(
        opening=Opening(diameter=0.03), set_pressure=set_pressure, overpressure=over, blowdown=down
    )
    shut, is_open = valve.lift(pressure, False), valve.lift(pressure, True)
    assert 0.0 <= shut <= is_open <= 1.0


@given(st.floats(1e5, 20e5), st.floats(0.01, 0.3), st.floats(0.01, 0.3))
def test_lift_is_continuous_where_the_mode_changes(set_pressure, over, down):
    valve = ReliefValve(
        opening=Opening(diameter=0.03), set_pressure=set_pressure, overpressure=over, blowdown=down
    )
    for pressure, lift in ((valve.full_pressure, 1.0), (valve.reseat_pressure, 0.0)):
        assert [valve.lift(pressure, state) for state in (False, True)] == pytest.approx([lift, lift])


def test_a_valve_cycles_between_its_set_points():
    # pressure fed at a steady rate, let off in proportion to lift: wide open it falls
    points = {"set_pressure": 10.0, "full_pressure": 11.0, "reseat_pressure": 9.0}
    ends = {name: points[name] for name in ("full_pressure", "reseat_pressure")}
    feed, relief, step = 0.3, 2.0, 1e-3
    p, is_open, seen = np.array(9.5), np.array(False), []
    for _ in range(60_000):
        p = p + step * (feed - relief * lift_fraction(p, is_open, **points))
        is_open = is_open ^ (until_switch(p, is_open, **ends) <= 0.0)
        seen.append((float(p), bool(is_open)))
    pressures = np.array([p for p, _ in seen])
    # too large for the feed: after it once rose to where feed and lift agree it rests there, partly open
    assert pressures.max() < 11.0
    assert pressures[-1] == pytest.approx(10.0 + feed / relief, abs=1e-6)
    assert not seen[-1][1]


def test_a_valve_that_pops_wide_open_comes_to_rest_below_its_set_pressure():
    points = {"set_pressure": 10.0, "full_pressure": 11.0, "reseat_pressure": 9.0}
    ends = {name: points[name] for name in ("full_pressure", "reseat_pressure")}
    p, is_open, relief, step = np.array(9.5), np.array(False), 2.0, 1e-3
    for i in range(60_000):
        feed = 2.2 if i < 3_000 else 0.3
        p = p + step * (feed - relief * lift_fraction(p, is_open, **points))
        is_open = is_open ^ (until_switch(p, is_open, **ends) <= 0.0)
    assert bool(is_open)
    assert float(p) == pytest.approx(9.0 + 0.3 / relief, abs=1e-6)


@given(st.floats(200.0, 320.0), st.floats(0.0, 5.0), st.floats(0.3, 4.0), st.floats(0.0, 900.0))
def test_what_layers_pass_is_what_the_outside_takes_up(wall, resistance, diameter, sun):
    exchange = OutsideExchange.prepare(Weather(solar_irradiance=sun), diameter)
    skin, flux = skin_temperature(exchange, wall, resistance)
    # four steps of Newton's method leave less than a millikelvin
    assert float(skin - wall) == pytest.approx(resistance * float(flux), rel=1e-9, abs=1e-3)
    bare = float(exchange.heat_flux(np.float64(wall)))
    assert abs(float(flux)) <= abs(bare) * (1 + 1e-9) + 1e-3


def test_thin_layers_are_plane():
    assert layer_resistance(1e-6, 0.04, 2.0) == pytest.approx(1e-6 / 0.04, rel=1e-6)


def test_a_fin_is_a_rod_when_short_and_endless_when_long():
    k, t, h = 50.0, 0.01, 15.0
    # short: all of its surface counts
    assert conduction_to_wetted_wall(k, t, h, 1e-4) == pytest.approx(h * 1e-4, rel=1e-4)
    assert conduction_to_wetted_wall(k, t, h, 10.0) == pytest.approx(math.sqrt(h * k * t), rel=1e-12)


@given(st.floats(200.0, 272.0), st.floats(274.0, 320.0), st.floats(0.5, 20.0), st.floats(0.05, 3.0))
def test_at_the_frost_line_the_fin_has_the_frost_point(wet, far, decay, length):
    frost = 273.15
    z = frost_height(wet, far, frost, decay=decay, length=length)
    assert 0.0 <= z <= length
    here = far + (wet - far) * math.cosh(decay * (length - z)) / math.cosh(decay * length)
    if z < length:
        assert here == pytest.approx(frost, abs=1e-6)
    else:
        assert here <= frost + 1e-9


def test_frost_covers_all_or_nothing_outside_its_range():
    assert frost_height(280.0, 290.0, 273.15, decay=5.0, length=1.0) == 0.0
    assert frost_height(240.0, 250.0, 273.15, decay=5.0, length=1.0) == 1.0
    # an endless wall, as a rod
    long = frost_height(250.0, 285.0, 273.15, decay=5.0, length=1e4)
    assert long == pytest.approx(math.log(35.0 / 11.85) / 5.0, rel=1e-9)


@given(st.floats(1.0, 1e3), st.floats(0.1, 3.0))
def test_ground_gives_as_a_half_space_at_first_and_as_a_disc_at_last(difference, k):
    a, R = 7e-7, 0.5
    early, late = 1e-6 * R * R / a, 1e8 * R * R / a
    half_space = k * difference / math.sqrt(math.pi * a * early)
    # the formula is good to 0.6 %
    assert ground_contact_flux(k, a, difference, early, R) == pytest.approx(half_space, rel=0.006)
    disc = 4.0 * k * difference / (math.pi * R)
    assert ground_contact_flux(k, a, difference, late, R) == pytest.approx(disc, rel=0.006)


@given(st.floats(200.0, 320.0), st.floats(250.0, 320.0), st.floats(0.01, 1.0))
def test_moisture_comes_only_to_walls_below_the_dew_point(surface, air, humidity):
    flux = moisture_heat_flux(
        10.0, surface, air_temperature=air, relative_humidity=humidity, pressure=101325.0
    )
    assert flux >= 0.0
    if surface > air:
        assert flux == 0.0
    colder = moisture_heat_flux(
        10.0, surface - 1.0, air_temperature=air, relative_humidity=humidity, pressure=101325.0
    )
    assert colder >= flux or abs(surface - 273.15) < 1.0  # where ice turns to dew its heat steps down


def test_frost_ends_at_the_frost_point():
    for humidity in (0.2, 0.5, 0.9):
        point = frost_point(260.0, humidity)
        around = [
            moisture_heat_flux(
                10.0, point + step, air_temperature=260.0, relative_humidity=humidity, pressure=101325.0
            )
            for step in (-0.01, 0.01)
        ]
        assert around[0] > 0.0
        assert around[1] == 0.0


def test_waterlines_of_known_shapes():
    assert waterline(VerticalTank(diameter=2.0, length=6.0), 3.0) == pytest.approx(2.0 * math.pi)
    flat = HorizontalTank(diameter=2.0, length=6.0, heads="flat")
    assert waterline(flat, 1.0) == pytest.approx(2.0 * 6.0 + 2.0 * 2.0)
    round_ends = HorizontalTank(diameter=2.0, length=6.0, heads="hemispherical")
    assert waterline(round_ends, 1.0) == pytest.approx(12.0 + 2.0 * math.pi)
    # 2:1 heads: an ellipse of half axes 1 and 1/2, its perimeter by the series of the elliptic integral
    angle = np.linspace(0.0, 2.0 * math.pi, 20_001)
    steps = np.hypot(np.diff(np.cos(angle)), 0.5 * np.diff(np.sin(angle)))
    lying = HorizontalTank(diameter=2.0, length=6.0)
    assert waterline(lying, 1.0) == pytest.approx(12.0 + steps.sum(), rel=1e-4)


def test_ice_holds_the_water_side_at_freezing():
    assert water_contact_flux(300.0, 283.15, 200.0) == water_contact_flux(300.0, 283.15, 273.15)
    assert water_contact_flux(300.0, 283.15, 280.15) == pytest.approx(900.0)


@given(st.floats(0.05, 0.95), st.floats(0.0, 20.0))
def test_no_more_than_the_wetted_wall_is_exposed(fill, elevation):
    for tank in (
        HorizontalTank(diameter=3.0, length=12.0),
        VerticalTank(diameter=3.0, length=12.0),
        SphericalTank(diameter=16.0),
    ):
        level = tank.level(liquid_volume=fill * tank.volume)
        exposed = exposed_area_at(tank, level, elevation=elevation)
        assert 0.0 <= exposed <= tank.wetted_area_at(level) * (1 + 1e-12)
        low_tank = exposed_area_at(tank, level, elevation=0.0)
        assert exposed <= low_tank * (1 + 1e-12)


@given(st.floats(0.05, 0.95))
def test_boil_off_keeps_the_temperature(fill):
    # the balance of a boiling tank: m (h_v - a) = Q, with a the inventory's energy per mass
    tank = HorizontalTank(diameter=1.04, length=4.5)
    contents = lr.Contents(tank, PROPANE, fill=fill, temperature=310.0)
    fire = fire_engulfment(contents)
    h_v, a = PROPANE.saturated(np.float64(310.0), "vapor_enthalpy", "inventory_energy_per_mass")
    # the tables' Clapeyron identity
    assert fire.boil_off == pytest.approx(fire.heat / (h_v - a), rel=1e-6)


def test_feet_and_meters_agree():
    tank = HorizontalTank(diameter=1.04, length=4.5)
    contents = lr.Contents(tank, PROPANE, fill=0.5, temperature=310.0)
    metric = fire_engulfment(contents, elevation=0.6096, height_limit=7.62)
    feet = fire_engulfment(
        contents, elevation=UREG.Quantity(2.0, "ft"), height_limit=UREG.Quantity(25.0, "ft")
    )
    assert feet.heat == pytest.approx(metric.heat, rel=1e-12)
    swell = level_swell(contents, vapor_flow=UREG.Quantity(1.0, "lb/s"), height=UREG.Quantity(3.0, "ft"))
    assert swell.superficial_velocity == pytest.approx(
        level_swell(contents, vapor_flow=0.45359237, height=0.9144).superficial_velocity, rel=1e-12
    )
