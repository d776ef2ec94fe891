"""Boiling on warm surfaces against printed examples and trials on water."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from published_tables import read_table

from lpgrelease.fluids import Fluid
from lpgrelease.ground.boiling import (
    BoilingLiquid,
    boiling_flux,
    critical_flux_zuber,
    film_flux_berenson,
    film_flux_klimenko,
    least_film_difference_berenson,
    nucleate_flux_rohsenow,
)

# water at 1 atm, incropera2011fundamentals, Example 10.1, from memory
WATER = BoilingLiquid(
    **{
        name: np.array(value)
        for name, value in {
            "liquid_density": 957.9,
            "vapor_density": 0.5955,
            "latent_heat": 2.257e6,
            "surface_tension": 0.0589,
            "liquid_viscosity": 279e-6,
            "liquid_conductivity": 4217.0 * 279e-6 / 1.76,
            "liquid_heat_capacity": 4217.0,
            "vapor_heat_capacity": 2029.0,
            "film_density": 0.5,
            "film_viscosity": 15e-6,
            "film_conductivity": 0.03,
            "expansion": 7.5e-4,
        }.items()
    }
)


def test_a_pan_of_boiling_water():
    # printed: 836 kW/m2 at 18 K with C_sf 0.0128 and the exponent of water, Pr^1; here 0.013 and Pr^1.7
    flux = nucleate_flux_rohsenow(WATER, np.array(18.0)) * (0.013 / 0.0128) ** 3 * 1.76 ** (3 * 0.7)
    assert flux == pytest.approx(836e3, rel=0.01)
    # printed: 1.26 MW/m2 with 0.149; Zuber's own factor is 0.131
    assert critical_flux_zuber(WATER) * 0.149 / 0.131 == pytest.approx(1.26e6, rel=0.01)


def test_a_film_of_propane_vapor():
    # independent computation: about 11 kW/m2 at 69 K
    on = BoilingLiquid.prepare(Fluid("propane"), np.array(231.04), np.array(300.04))
    assert film_flux_berenson(on, np.array(69.0)) == pytest.approx(11e3, rel=0.08)


@pytest.mark.parametrize("name", ["propane", "n-butane", "methane", "nitrogen"])
def test_the_least_film_carries_the_least_flux(name):
    # the two equations of berenson1961film that were fitted together: 0.09 of the flux at which vapor escapes
    fluid = Fluid(name)
    T = np.array(fluid.normal_boiling_point)
    p = BoilingLiquid.prepare(fluid, T, T + 60.0)
    buoyancy = 9.80665 * p.surface_tension * (p.liquid_density - p.film_density)
    least = 0.09 * p.film_density * p.latent_heat
    least = least * (buoyancy / (p.liquid_density + p.film_density) ** 2) ** 0.25
    # rounding of 0.09, 0.127 and 0.425, and the warmth of the vapor, which only one of them counts
    assert film_flux_berenson(p, least_film_difference_berenson(p)) == pytest.approx(float(least), rel=0.06)


@pytest.mark.parametrize("row", read_table("boiling_on_water").rows, ids=lambda row: row["source"])
def test_liquids_on_water(row):
    fluid = Fluid(row["liquid"])
    T, water = np.array(fluid.normal_boiling_point), np.array(293.15)
    flux, exponent = boiling_flux(fluid, T, water)
    assert exponent == 0.75
    low, high = float(row["low_kW_m2"]) * 1e3, float(row["high_kW_m2"]) * 1e3
    # a calm film is the lower end: never more than a sixth above what was seen, a third of it at worst
    assert flux <= high * 7.0 / 6.0
    assert flux >= low * 0.28
    # both correlations of the film say the same within a quarter, as printed for one of them
    other = film_flux_klimenko(BoilingLiquid.prepare(fluid, T, water), water - T)
    assert other == pytest.approx(float(flux), rel=0.25)


def test_the_boiling_curve_has_no_jumps():
    fluid = Fluid("propane")
    difference = np.linspace(0.01, 110.0, 20001)
    T = np.full_like(difference, 231.0)
    flux, exponent = boiling_flux(fluid, T, T + difference)
    # four branches; the steepest falls as the 5th power: 0.03 % of a step of 0.0055 K a kelvin or more up
    assert np.max(np.abs(np.diff(np.log(flux[difference > 0.5])))) < 0.035
    assert set(np.round(exponent[(exponent > 0.0)], 2)) == {0.75, 1.33, 3.0}
    assert (exponent[(difference > 45.0) & (difference < 60.0)] < -1.0).all()


def test_one_surface_equals_the_same_among_others_to_the_bit():
    fluid = Fluid("propane")
    top = np.linspace(225.0, 330.0, 50)
    whole = boiling_flux(fluid, np.full(50, 231.0), top)
    for i in range(50):
        alone = boiling_flux(fluid, np.array(231.0), top[i])
        assert alone[0] == whole[0][i]
        assert alone[1] == whole[1][i]
    assert whole[0][0] == 0.0
    assert dataclasses.is_dataclass(BoilingLiquid)
