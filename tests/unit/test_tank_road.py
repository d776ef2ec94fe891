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


def vented(stop):
    """Tanks with a leak and a vent in much heat, invented; and their temperatures at the start."""
    tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=2e4)
    contents = lr.Contents(tank, lr.Fluid("propane"), fill=0.6, temperature=290.0)
    openings = [lr.Opening(diameter=0.01, height=0.1), lr.Opening(diameter=0.04, height=1.04)]
    weather = lr.Weather(air_temperature=300.0)
    asked = gather(contents, openings, weather, (stop, None, ()), (None, None, (), False))
    heat = heat_from_outside(asked.tank, asked.numbers)
    return prepare(contents.fluid, asked.tank, heat, asked.numbers), asked.numbers["temperature"]


def test_a_tank_rests_where_heat_from_outside_is_what_boiling_takes_up_or_stops_before():
    venting, start = vented(STOPS)
    rest = rest_when_dry(venting, start)
    assert venting.wet[0].all()
    about = rest[0] + np.array([[-0.01], [0.01]])
    values = venting.table.saturated(about, *SATURATED_VAPOR_INLET, "inventory_energy_per_mass")
    flow = venting.vapor_flow(values)[:, 0]
    net = 2e4 * (300.0 - about[:, 0]) - flow * (values[1] - values[-1])[:, 0]
    assert net[0] > 0.0 > net[1]
    assert (rest[1:3] == NEVER).all()
    assert rest[3] == rest[0]


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
