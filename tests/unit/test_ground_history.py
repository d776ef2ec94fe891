"""Ground under one cover after another."""

from __future__ import annotations

import numpy as np
import pytest

import lpgrelease as lr
from lpgrelease.errors import InputError, OutOfRangeError

SAND = lr.Ground.named("moist sand", temperature=293.15)


def test_heat_out_is_heat_lost_and_heat_from_below():
    road = lr.Ground.named(
        "asphalt",
        temperature=295.0,
        thickness=0.08,
        below=lr.Ground.named("gravel", thickness=0.4, below=SAND),
    )
    h = lr.ground_history(
        road, temperature=[231.0, 300.0, 200.0], duration=[600.0, 5e4, 4e5], conductance=[None, 20.0, None]
    )
    closure = h.heat + h.heat_stored - h.heat_from_depth
    assert np.max(np.abs(closure)) < 1e-9 * np.max(np.abs(h.heat))
    assert h.time[-1] == pytest.approx(600.0 + 5e4 + 4e5, rel=1e-12)
    assert np.all(np.diff(h.time) > 0.0)


def test_a_second_spill_finds_less_heat_and_frozen_ground():
    wet = {"temperature": [231.0, 293.15, 231.0], "duration": [7200.0, 1800.0, 7200.0]}
    h = lr.ground_history(SAND, conductance=[None, 15.0, None], **wet)
    assert h.heat[239] - h.heat[159] < 0.75 * h.heat[79]
    assert h.frozen_depth[80] > 0.0
    # bare in between, the surface warms and takes heat from the air
    assert h.heat_flux[159] < 0.0
    assert h.surface_temperature[79] < h.surface_temperature[159] < 293.15


def test_boiling_takes_heat_no_faster_than_the_touch():
    touch = lr.ground_history(SAND, temperature=231.0, duration=600.0)
    boils = lr.ground_history(SAND, temperature=231.0, duration=600.0, fluid=lr.Fluid("propane"))
    assert (boils.heat <= touch.heat).all()
    assert boils.heat[-1] > 0.8 * touch.heat[-1]
    assert (boils.surface_temperature > 231.0).all()


def test_sides_count_only_with_a_radius():
    wide = lr.ground_history(SAND, temperature=231.0, duration=1e5)
    narrow = lr.ground_history(SAND, temperature=231.0, duration=1e5, radius=[0.5, 2.0])
    assert (wide.side_heat_flux == 0.0).all()
    assert (narrow.side_heat_flux[0] > narrow.side_heat_flux[1]).all()
    np.testing.assert_array_equal(narrow.heat[1], wide.heat)


def test_scenarios_equal_single_ones_to_the_bit():
    T = np.array([200.0, 231.0, 272.0])
    grounds = lr.Ground(
        conductivity=[1.0, 1.5, 2.0],
        density=1800.0,
        heat_capacity=1300.0,
        water_mass_fraction=[0.0, 0.1, 0.2],
    )
    settings = {"duration": [600.0, 60.0], "conductance": [None, 40.0], "ground_temperature": 290.0}
    many = lr.ground_history(grounds, temperature=[T, 280.0], fluid=lr.Fluid("propane"), **settings)
    assert many.heat.shape == (3, 160)
    for i in range(3):
        one = lr.Ground(
            conductivity=grounds.conductivity[i],
            density=1800.0,
            heat_capacity=1300.0,
            water_mass_fraction=grounds.water_mass_fraction[i],
        )
        alone = lr.ground_history(one, temperature=[T[i], 280.0], fluid=lr.Fluid("propane"), **settings)
        np.testing.assert_array_equal(alone.heat, many.heat[i])
        np.testing.assert_array_equal(alone.surface_temperature, many.surface_temperature[i])


def test_edges_are_refused():
    with pytest.raises(InputError, match=r"lists of one length are wanted, got 2, 1 and 2"):
        lr.ground_history(SAND, temperature=[231.0, 290.0], duration=60.0)
    with pytest.raises(InputError, match="no temperature of its own"):
        lr.ground_history(lr.Ground.named("clay"), temperature=231.0, duration=60.0)
    with pytest.raises(OutOfRangeError, match="duration = 0"):
        lr.ground_history(SAND, temperature=231.0, duration=0.0)
    with pytest.raises(OutOfRangeError, match="conductance = -3"):
        lr.ground_history(SAND, temperature=231.0, duration=9.0, conductance=-3.0)
    with pytest.raises(OutOfRangeError, match=r"^radius = 0 m is outside .*lower end excluded"):
        lr.ground_history(SAND, temperature=231.0, duration=9.0, radius=0.0)
    with pytest.raises(OutOfRangeError, match=r"temperature = 248 K .*saturation of nitrogen"):
        lr.ground_history(SAND, temperature=248.0, duration=9.0, fluid=lr.Fluid("nitrogen"))
    with pytest.raises(InputError, match="fluid must be a Fluid"):
        lr.ground_history(SAND, temperature=231.0, duration=9.0, fluid="propane")
    with pytest.raises(InputError, match="shapes do not broadcast"):
        lr.ground_history(SAND, temperature=[np.ones(2) * 231.0, np.ones(3) * 231.0], duration=[9.0, 9.0])


def test_still_water_freezes_from_its_surface():
    pond = lr.Ground.named("water", temperature=283.15, thickness=0.5, below=SAND)
    h = lr.ground_history(pond, temperature=231.0, duration=86400.0)
    half = lr.Ground.named("water").heat_coefficient(231.0, ground_temperature=283.15)
    # its bottom is not felt in an hour; within the column's 0.5 %
    early = h.time < 3600.0
    late = early & (h.time > 300.0)
    np.testing.assert_allclose(h.heat[late], 2.0 * half * np.sqrt(h.time[late]), rtol=5e-3)
    # Stefan: 3.5 cm of ice per root of degC day, 42 degC for a day, less what the water's warmth delays
    assert 0.7 * 0.035 * 42.0**0.5 < h.frozen_depth[-1] < 0.035 * 42.0**0.5
