"""Edges, errors and shapes of fires around tanks, swelling levels, relief valves and walls."""

from __future__ import annotations

import pickle

import numpy as np
import pytest

import lpgrelease as lr
from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.release.opening import Opening
from lpgrelease.tank.contact import ground_contact_flux
from lpgrelease.tank.fire_exposure import fire_engulfment
from lpgrelease.tank.frost import frost_height, frost_point
from lpgrelease.tank.relief import ReliefValve
from lpgrelease.tank.swell import REGIMES, boiling_void, level_swell, velocity_for_void
from lpgrelease.tank.wall import (
    boiling_flux,
    equilibrium_numbers,
    free_convection_coefficient,
    skin_temperature,
)
from lpgrelease.weather import OutsideExchange, Weather

PROPANE = lr.Fluid("propane")
TANK = lr.HorizontalTank(diameter=1.04, length=4.5)
FULL = lr.Contents(TANK, PROPANE, fill=0.8, temperature=293.15)


def contents(fill, temperature):
    return lr.Contents(TANK, PROPANE, fill=fill, temperature=temperature)


def test_one_case_equals_the_batch_to_the_bit():
    rng = np.random.default_rng(4)
    n = 37
    fill, T = rng.uniform(0.01, 0.99, n), rng.uniform(230.0, 340.0, n)
    flow, drained = rng.uniform(0.0, 8.0, n), rng.uniform(size=n) < 0.5
    for regime in REGIMES:
        together = level_swell(contents(fill, T), vapor_flow=flow, height=1.0, regime=regime)
        for i in range(n):
            alone = level_swell(contents(fill[i], T[i]), vapor_flow=flow[i], height=1.0, regime=regime)
            assert (alone.level, alone.largest_flow) == (together.level[i], together.largest_flow[i])
    together = fire_engulfment(contents(fill, T), adequate_drainage=drained)
    for i in range(n):
        alone = fire_engulfment(contents(fill[i], T[i]), adequate_drainage=bool(drained[i]))
        assert (alone.heat, alone.boil_off) == (together.heat[i], together.boil_off[i])


def test_wall_functions_have_the_same_bits_alone():
    rng = np.random.default_rng(8)
    n = 29
    T, x = rng.uniform(220.0, 320.0, n), rng.uniform(0.01, 1.0, n)
    exchange = OutsideExchange.prepare(Weather(), np.float64(1.0))

    def answers(T, x):
        return (
            *skin_temperature(exchange, T, 3.0 * x),
            frost_point(T, x),
            frost_height(T, 300.0, 273.15, decay=5.0 * x, length=1.0),
            boiling_flux(10.0 * x, 0.2, 0.044),
            ground_contact_flux(1.5, 7e-7, 300.0 - T, 1e5 * x, 0.5),
            free_convection_coefficient(
                T - 250.0,
                x,
                temperature=T,
                density=2.0,
                viscosity=7e-6,
                conductivity=0.014,
                heat_capacity=1500.0,
            ),
        )

    together = answers(T, x)
    for i in range(n):
        assert answers(T[i], x[i]) == tuple(column[i] for column in together)


def test_empty_and_full_tanks():
    empty = contents(0.0, 293.15)
    swell = level_swell(empty, vapor_flow=1.0, height=0.5)
    assert swell.level == 0.0
    assert np.isinf(swell.largest_flow)
    assert not swell.carries_liquid
    assert fire_engulfment(empty).heat == 0.0
    assert fire_engulfment(empty).heat_flux == 0.0
    full = level_swell(contents(1.0, 293.15), vapor_flow=0.1, height=1.04)
    assert full.largest_flow == 0.0
    assert full.carries_liquid


def test_no_flow_does_not_swell():
    swell = level_swell(FULL, vapor_flow=0.0, height=1.04, regime="bubbly")
    assert swell.void_fraction == pytest.approx(0.0, abs=1e-15)
    assert swell.level == pytest.approx(FULL.level, rel=1e-12)


def test_beyond_the_largest_void_no_flow_is_enough():
    assert np.isinf(velocity_for_void(0.7, regime="churn-turbulent"))
    assert np.isfinite(velocity_for_void(0.7, regime="bubbly"))
    assert boiling_void(np.inf if False else 1e12, regime="bubbly") == pytest.approx(1 / 1.2)


def test_results_print_units_and_cautions_and_pickle():
    fire, swell = fire_engulfment(FULL), level_swell(FULL, vapor_flow=1.0, height=1.04)
    assert "W" in repr(fire)
    assert "! An estimate for sizing" in repr(fire)
    assert "! A vent that takes liquid" in repr(swell)
    valve = ReliefValve(opening=Opening(diameter=0.03), set_pressure=17.2e5)
    for item in (fire, swell, valve):
        assert pickle.loads(pickle.dumps(item)) == item


def test_equilibrium_numbers_vanish_where_the_inside_conducts_well():
    numbers = equilibrium_numbers(10.0, 1e9, 1e9, wall_capacity=3.6e4, duration=600.0)
    assert max(numbers) < 1e-6


def test_errors():
    with pytest.raises(InputError, match="contents must be Contents"):
        fire_engulfment(TANK)
    with pytest.raises(InputError, match="adequate_drainage must be True or False, got 1"):
        fire_engulfment(FULL, adequate_drainage=1)
    with pytest.raises(InputError, match="adequate_drainage must be True or False"):
        fire_engulfment(FULL, adequate_drainage=[[True, False], [True]])
    with pytest.raises(OutOfRangeError, match=r"environment_factor = 1\.5"):
        fire_engulfment(FULL, environment_factor=1.5)
    with pytest.raises(OutOfRangeError, match="elevation"):
        fire_engulfment(FULL, elevation=-1.0)
    with pytest.raises(InputError, match="contents must be Contents"):
        level_swell(TANK, vapor_flow=1.0, height=1.0)
    with pytest.raises(InputError, match="regime must be one of churn-turbulent, bubbly; got 'foam'"):
        level_swell(FULL, vapor_flow=1.0, height=1.0, regime="foam")
    with pytest.raises(InputError, match=r"regime must be one of .* got \[1"):
        level_swell(FULL, vapor_flow=1.0, height=1.0, regime=[1.0, 2.0])
    at_the_foot = level_swell(FULL, vapor_flow=1.0, height=[0.0, 1e-155])
    assert at_the_foot.carries_liquid.all()
    assert np.array_equal(at_the_foot.largest_flow, [0.0, 0.0])
    with pytest.raises(OutOfRangeError, match=r"height = 2 m .* the tank's inside height"):
        level_swell(FULL, vapor_flow=1.0, height=2.0)
    with pytest.raises(InputError, match="opening must be an Opening"):
        ReliefValve(opening=0.03, set_pressure=1e6)
    with pytest.raises(OutOfRangeError, match="blowdown"):
        ReliefValve(opening=Opening(diameter=0.03), set_pressure=1e6, blowdown=0.0)
    with pytest.raises(InputError, match="shapes do not broadcast"):
        ReliefValve(opening=Opening(diameter=[0.03, 0.04]), set_pressure=[1e6, 2e6, 3e6])
