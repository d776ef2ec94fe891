"""What stands in a tank at equilibrium: inventory, edges, errors, shapes."""

from __future__ import annotations

import pickle

import numpy as np
import pint
import pytest

from lpgrelease import Contents, Fluid, HorizontalTank, SphericalTank
from lpgrelease.errors import InputError, OutOfRangeError

PROPANE = Fluid("propane")
TANK = HorizontalTank(diameter=1.04, length=4.5)


def test_inventory_is_volume_times_density():
    contents = Contents(TANK, PROPANE, fill=0.8, temperature=293.15)
    saturated = PROPANE.saturation(temperature=293.15)
    assert contents.pressure == saturated.pressure
    assert contents.liquid_volume == pytest.approx(0.8 * TANK.volume, rel=1e-15)
    assert contents.liquid_mass == pytest.approx(0.8 * TANK.volume * saturated.liquid_density, rel=1e-15)
    assert contents.vapor_mass == pytest.approx(0.2 * TANK.volume * saturated.vapor_density, rel=1e-14)
    assert contents.mass == contents.liquid_mass + contents.vapor_mass
    assert TANK.liquid_volume(level=contents.level) == pytest.approx(contents.liquid_volume, rel=1e-12)
    assert contents.gauge_pressure() == contents.pressure - 101325.0
    assert contents.gauge_pressure(ambient_pressure=8e4) == contents.pressure - 8e4


def test_empty_and_full():
    contents = Contents(TANK, PROPANE, fill=[0.0, 1.0], temperature=293.15)
    assert contents.liquid_mass[0] == 0.0
    assert contents.vapor_mass[1] == 0.0
    assert contents.level.tolist() == [0.0, float(TANK.height)]


def test_shapes_and_bits():
    tanks = SphericalTank(diameter=np.array([[1.0], [2.0]]))
    contents = Contents(tanks, PROPANE, fill=[0.1, 0.5, 0.9], temperature=280.0)
    for name in ("mass", "liquid_mass", "vapor_mass", "liquid_volume", "level"):
        values = getattr(contents, name)
        assert values.shape == (2, 3)
        for i, j in np.ndindex(2, 3):
            one = Contents(
                SphericalTank(diameter=tanks.diameter[i, 0]),
                PROPANE,
                fill=contents.fill[j],
                temperature=280.0,
            )
            assert getattr(one, name) == values[i, j]


def test_units_equality_and_pickling():
    units = pint.UnitRegistry()
    contents = Contents(
        TANK, PROPANE, fill=units.Quantity(80.0, "percent"), temperature=units.Quantity(20.0, "degC")
    )
    assert contents.temperature == pytest.approx(293.15)
    assert contents.fill == pytest.approx(0.8)
    assert pickle.loads(pickle.dumps(contents)) == contents


@pytest.mark.parametrize(
    ("arguments", "error", "message"),
    [
        (
            {"fill": 1.2},
            OutOfRangeError,
            r"fill = 1\.2 is outside the allowed range \[0, 1\]",
        ),
        ({"fill": -0.1}, OutOfRangeError, r"fill = -0\.1"),
        ({"fill": float("nan")}, InputError, "fill must be finite"),
        ({"fill": "half"}, InputError, "fill must be a number"),
        (
            {"temperature": 370.0},
            OutOfRangeError,
            r"temperature = 370 K is outside the allowed range",
        ),
        ({"temperature": 100.0}, OutOfRangeError, r"temperature = 100 K"),
        ({"fill": [0.1, 0.2], "temperature": [290.0] * 3}, InputError, r"fill \(2,\), temperature \(3,\)"),
        ({"tank": 3.0}, InputError, "tank must be a HorizontalTank, VerticalTank or SphericalTank, got 3"),
        ({"fluid": "propane"}, InputError, "fluid must be a Fluid, got 'propane'"),
    ],
)
def test_refusals(arguments, error, message):
    given = {"tank": TANK, "fluid": PROPANE, "fill": 0.8, "temperature": 293.15} | arguments
    tank, fluid = given.pop("tank"), given.pop("fluid")
    with pytest.raises(error, match=message):
        Contents(tank, fluid, **given)


def test_gauge_pressure_refuses():
    contents = Contents(TANK, PROPANE, fill=0.5, temperature=[280.0, 290.0, 300.0])
    with pytest.raises(InputError, match=r"pressure \(3,\), ambient_pressure \(2,\)"):
        contents.gauge_pressure(ambient_pressure=[1e5, 9e4])
    with pytest.raises(OutOfRangeError, match=r"ambient_pressure = -1 Pa"):
        contents.gauge_pressure(ambient_pressure=-1.0)
