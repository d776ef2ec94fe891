"""How full a container may be filled, against how liquid expands."""

from __future__ import annotations

import pytest

import lpgrelease as lr

PROPANE = lr.Fluid("propane")
WATER = 999.0
"""Density of water at 15.6 degC [kg/m3]."""
WARMEST = 273.15 + 55.0
"""A container must not be full of liquid at 55 degC (49 CFR 173.301, from memory)."""


def test_the_filling_density_of_cylinders_leaves_room_at_55_degrees():
    """42 % of the mass of water that the cylinder holds (49 CFR 173.304a, from memory)."""
    full = 0.42 * WATER
    assert float(PROPANE.saturation(temperature=WARMEST).liquid_density) > full
    # 42 % is rounded from what comes to that: 3 % more would not do
    assert float(PROPANE.saturation(temperature=WARMEST).liquid_density) < 1.05 * full


@pytest.mark.parametrize(("temperature", "leaves_room"), [(288.7, True), (277.6, True), (245.0, False)])
def test_eighty_percent_filled_warm_leaves_room_at_55_degrees(temperature, leaves_room):
    """Common practice, no source: the 80 % rule; what is filled colder is filled less."""
    tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0)
    filled = lr.Contents(tank, PROPANE, fill=0.80, temperature=temperature)
    full = lr.Contents(tank, PROPANE, fill=1.0, temperature=WARMEST)
    assert (filled.mass < full.mass) == leaves_room
