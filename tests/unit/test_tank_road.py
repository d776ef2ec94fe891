"""Where a tank comes to rest that leaks until its level has passed the leak, and whether it stops before."""

from __future__ import annotations

import numpy as np

import lpgrelease as lr
from lpgrelease.release.nozzle import SATURATED_VAPOR_INLET
from lpgrelease.tank.gather import gather, heat_from_outside
from lpgrelease.tank.road import find_road, rest_when_dry
from lpgrelease.tank.solve import prepare
from lpgrelease.tank.venting import NEVER

STOPS = np.array([7e2, 4.7e5, 6e5, 9e5])
"""Gauge [Pa]: below the pressure of rest, above it, well above it, and higher than at the start."""


def vented(stop, *, air_temperature=300.0, heat_transfer=2e4):
    """Tanks with a leak and a vent in much heat, invented; and their temperatures at the start."""
    tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=heat_transfer)
    contents = lr.Contents(tank, lr.Fluid("propane"), fill=0.6, temperature=290.0)
    openings = [lr.Opening(diameter=0.01, height=0.1), lr.Opening(diameter=0.04, height=1.04)]
    weather = lr.Weather(air_temperature=air_temperature)
    asked = gather(contents, openings, weather, (stop, None, ()), (None, None, (), False))
    heat = heat_from_outside(asked.tank, asked.numbers)
    return prepare(contents.fluid, asked.tank, heat, asked.numbers), asked.numbers["temperature"]


def net_heat(venting, temperature):
    """Heat from outside less what vapor that leaves takes along, at temperatures (n,) [W]."""
    values = venting.table.saturated(temperature, *SATURATED_VAPOR_INLET, "inventory_energy_per_mass")
    outside = venting.heat.conductance * (venting.heat.air_temperature - temperature)
    return outside - venting.vapor_flow(values) * (values[1] - values[-1])


def test_a_tank_rests_where_heat_from_outside_is_what_boiling_takes_up_or_stops_before():
    venting, start = vented(STOPS)
    rest = rest_when_dry(venting, start)
    assert venting.wet[0].all()
    cooler, warmer = (net_heat(venting, rest[:1] + step)[0] for step in (-0.01, 0.01))
    assert cooler > 0.0 > warmer
    assert (rest[1:3] == NEVER).all()
    assert rest[3] == rest[0]


def test_nothing_is_left_of_the_net_heat_at_rest():
    draw = np.random.default_rng(12).uniform
    venting, start = vented(
        7e2, air_temperature=draw(268.0, 300.0, 2000), heat_transfer=draw(50.0, 500.0, 2000)
    )
    road = find_road(venting, start, venting.table.saturation_temperature(venting.nozzle.pressure))
    assert road.valid.all()
    # the search ends at 1e-12 of that at the start; the heat, of large parts that cancel, is good to 1e-13
    assert np.abs(net_heat(venting, road.rest) / net_heat(venting, start)).max() < 1e-11


def test_what_passes_its_stop_is_what_the_road_says_does():
    stops = np.linspace(5e4, 6e5, 23)
    venting, start = vented(stops)
    boiling = venting.table.saturation_temperature(venting.nozzle.pressure)
    road = find_road(venting, start, boiling)
    assert road.valid.all()
    reaches = venting.stop_temperature >= road.rest
    assert 2 < reaches.sum() < len(stops) - 2
    np.testing.assert_array_equal(rest_when_dry(venting, start), np.where(reaches, NEVER, road.rest))


def test_a_rest_alone_and_among_many_to_the_bit():
    venting, start = vented(STOPS)
    many = rest_when_dry(venting, start)
    for i in range(len(STOPS)):
        assert rest_when_dry(venting.take(np.array([i])), start[i : i + 1])[0] == many[i]
