"""What the march of additions reads from tables, against what was tabulated."""

from __future__ import annotations

import numpy as np
import pytest

import lpgrelease as lr
from lpgrelease.fluids.curve import saturation_curve
from lpgrelease.release.nozzle import SATURATED_VAPOR_INLET, SaturatedVaporNozzle
from lpgrelease.tank.flux_table import OpeningFluxes
from lpgrelease.tank.outlets import prepare_line
from lpgrelease.tank.outside import transfer_rows
from lpgrelease.tank.wall_flux import LOWEST, NODES, WIDTH, FluxTable
from lpgrelease.tank.zone_phases import contents_rows, inventory_rows, mixture_rows
from lpgrelease.weather import OutsideExchange

# 1e-8 of each: fifth degree on the segments of the table, cold vapor being the worst; the choked flux is
# itself fitted there, and its slope jumps where the throat begins to be wet
WITHIN = [1e-8] * 8 + [3e-6, 1e-8] + [1e-8] * 5
ROWS = (contents_rows, inventory_rows, mixture_rows, transfer_rows)


@pytest.mark.parametrize("name", ["propane", "n-butane", "ammonia"])
def test_curves_of_saturation_are_what_they_tabulate(name):
    table = lr.Fluid(name).table
    t = np.linspace(max(0.5 * table.critical_temperature, table.lowest_temperature), 330.0, 997)
    values, slopes = saturation_curve(table, ROWS, ()).at(t)

    def exactly(t):
        return np.stack([row for some in ROWS for row in some(table, t)])

    step = 0.01
    numeric = (exactly(t[1:-1] + step) - exactly(t[1:-1] - step)) / (2.0 * step)
    for value, slope, its, rise, rtol in zip(values, slopes, exactly(t), numeric, WITHIN, strict=True):
        np.testing.assert_allclose(value, its, rtol=rtol)
        # differences over the jumps of the table itself are that much worse
        np.testing.assert_allclose(
            slope[1:-1], rise, rtol=200.0 * rtol**0.75, atol=1e-5 * np.abs(its).max() / 100.0
        )
    fewer = saturation_curve(table, ROWS[:1], ROWS[1:]).at(t)
    np.testing.assert_allclose(fewer[0], values, rtol=1e-14)
    np.testing.assert_allclose(fewer[1], slopes[:6], rtol=1e-14)


def test_a_curve_among_many_and_alone_to_the_bit():
    table = lr.Fluid("propane").table
    curve = saturation_curve(table, (contents_rows,), (mixture_rows,))
    t = np.linspace(200.0, 320.0, 5000)
    many = curve.at(t)
    for i in (0, 2047, 2048, 4999):
        for alone, among in zip(curve.at(t[i : i + 1]), many, strict=True):
            assert np.array_equal(alone[:, 0], among[:, i])


@pytest.mark.parametrize("wind", [0.0, 4.0])
def test_fluxes_into_a_wall(wind):
    weather = lr.Weather(air_temperature=[270.0, 300.0], wind_speed=wind, solar_irradiance=500.0)
    exchange = OutsideExchange.prepare(weather, np.array([1.0, 2.5]))
    table = FluxTable.prepare(exchange.heat_flux, weather.air_temperature)
    over = np.linspace(-200.0, 600.0, 4001)[:, None]
    wall = weather.air_temperature + over
    flux, outside = table.at(wall)
    assert not outside.any()
    # of fluxes of some hundred to some ten thousand; free convection turns where wall and air are equal
    apart = np.abs(flux - exchange.heat_flux(wall))
    assert apart.max() < 0.15
    assert apart[np.abs(over[:, 0]) > 5.0].max() < 0.01
    beyond = LOWEST + WIDTH * (NODES - 1.5)
    assert table.at(weather.air_temperature + beyond * beyond)[1].all()
    assert table.at(weather.air_temperature - 260.0)[1].all()


def test_fluxes_through_openings():
    table = lr.Fluid("propane").table
    air = np.array([85e3, 101325.0])
    nozzle = SaturatedVaporNozzle.prepare(table, air)
    given = np.array([[0.05, 0.02], [5.0, 20.0], [5e-5, 5e-5], [1.0, 0.0], [0.0, 1.0], [1.0, 0.9]])
    line = prepare_line(table, given, air)
    fluxes = OpeningFluxes.prepare(table, nozzle, (None, line))
    p = air * np.exp(np.linspace(0.001, 3.4, 701))[:, None]
    found = fluxes.at(p)
    exact = nozzle.flux(*table.saturated(table.saturation_temperature(p), *SATURATED_VAPOR_INLET))[0]
    # 1e-4 where the flux chokes, its second derivative jumps there; coefficients are themselves good to 1e-3
    np.testing.assert_allclose(found[0] * p, exact, rtol=1e-4)
    np.testing.assert_allclose(found[1], line.vapor.at(p), atol=5e-4)
    np.testing.assert_allclose(found[2], line.liquid_coefficient(p), atol=5e-4)
    assert (fluxes.at(np.stack([air, 0.5 * air]))[0] == 0.0).all()
    one = fluxes.take(np.array([1])).at(p[:, 1:])
    assert np.array_equal(one[..., 0], found[..., 1])
