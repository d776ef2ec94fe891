"""Convection to a cylinder, air and sky, against handbook examples, CoolProp and a rival formula."""

from __future__ import annotations

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from lpgrelease.weather import (
    AIR_HEAT_CAPACITY,
    air_conductivity,
    air_density,
    air_viscosity,
    forced_nusselt_cylinder,
    natural_nusselt_cylinder,
    sky_emissivity,
    water_vapor_pressure,
)

TEMPERATURES = np.array([200.0, 230.0, 260.0, 290.0, 320.0])


def test_heated_cylinder_in_a_wind_tunnel():
    # incropera2011fundamentals, Example 7.4, from memory: air at 10 m/s and 26.2 degC over a rod of
    # 12.7 mm at 128.4 degC; Re 6071, Pr 0.70, k 0.030 W/m/K; printed Nu 40.6, h 96 W/m2/K.
    nusselt = forced_nusselt_cylinder(6071.0, 0.70)
    assert float(nusselt) == pytest.approx(40.6, abs=0.1)  # last printed digit
    assert float(nusselt * 0.030 / 0.0127) == pytest.approx(96.0, abs=0.5)  # last printed digit


def test_that_wind_tunnel_with_our_air():
    # the same example from its raw numbers; the measured h was 102 W/m2/K, the correlation's 96.
    film = 0.5 * (26.2 + 128.4) + 273.15
    viscosity, conductivity = air_viscosity(film), air_conductivity(film)
    reynolds = 10.0 * 0.0127 * air_density(film, 101325.0) / viscosity
    nusselt = forced_nusselt_cylinder(reynolds, AIR_HEAT_CAPACITY * viscosity / conductivity)
    assert float(nusselt * conductivity / 0.0127) == pytest.approx(96.0, rel=0.02)  # Sutherland: 2 %


def test_steam_pipe_in_still_air():
    # incropera2011fundamentals, Example 9.4, from memory: Ra 5.073e6, Pr 0.697, printed Nu 23.3; the
    # equation itself gives 23.1, so 1 % is the example's own rounding.
    assert float(natural_nusselt_cylinder(5.073e6, 0.697)) == pytest.approx(23.3, rel=0.01)


@pytest.mark.parametrize(
    ("ours", "key", "tolerance"),
    [
        (air_viscosity, "viscosity", 0.02),  # Sutherland's law as published: 2 %
        # published as 2 %; against the reference equation it is 3.2 % low at 200 K, as its docstring says
        (air_conductivity, "conductivity", 0.033),
        (lambda T: air_density(T, 101325.0), "Dmass", 0.003),  # ideal gas
        (lambda T: np.full_like(T, AIR_HEAT_CAPACITY), "Cpmass", 0.003),  # taken as constant
    ],
)
def test_air_against_coolprop(ours, key, tolerance):
    reference = PropsSI(key, "T", TEMPERATURES, "P", 101325.0, "Air")
    np.testing.assert_allclose(ours(TEMPERATURES), reference, rtol=tolerance)


def test_water_vapor_pressure_against_coolprop():
    temperatures = np.array([273.16, 283.15, 293.15, 303.15, 313.15])
    reference = PropsSI("P", "T", temperatures, "Q", 0, "Water")
    # 0.4 % is the published error of the Magnus form
    np.testing.assert_allclose(water_vapor_pressure(temperatures, 1.0), reference, rtol=4e-3)


def test_clear_sky_against_a_formula_from_other_data():
    # swinbank1963longwave, from memory: 5.31e-13 T^6 W/m2, fitted to other stations and blind to
    # moisture; with air of middling moisture, 60 %, the two agree within the 5 % of such formulas
    temperatures = np.array([278.15, 283.15, 288.15, 293.15, 298.15])
    ours = sky_emissivity(temperatures, 0.6, 0.0) * 5.670374419e-8 * temperatures**4
    np.testing.assert_allclose(ours, 5.31e-13 * temperatures**6, rtol=0.05)
