"""Bounds, monotone directions and limits of the freeze seal."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lpgrelease.fluids import Fluid
from lpgrelease.freeze_seal import WetCloth, assess_freeze_seal, ice, strength
from lpgrelease.release.opening import Opening
from lpgrelease.weather import Weather

CARGO = ["propane", "propylene", "isobutane", "n-butane", "ammonia"]
MECHANICAL = (
    "wet cloth keeps its water",
    "cloth withstands the jet",
    "plug does not crack in bending",
    "plug does not peel from the wall",
    "rim withstands the push-out force",
)


@settings(max_examples=25, deadline=None)
@given(
    cargo=st.sampled_from(CARGO),
    diameter=st.floats(1e-3, 0.1),
    thickness=st.floats(2e-3, 0.1),
    pore=st.floats(1e-6, 5e-4),
    air=st.floats(250.0, 320.0),
    ambient=st.floats(60e3, 105e3),
)
def test_raising_the_pressure_never_makes_a_liquid_leak_feasible(
    cargo, diameter, thickness, pore, air, ambient
):
    seal = assess_freeze_seal(
        Fluid(cargo),
        Opening(diameter=diameter),
        gauge_pressure=np.concatenate([[0.0], np.geomspace(10.0, 1e6, 40)]),
        cloth=WetCloth(thickness=thickness, pore_diameter=pore),
        weather=Weather(air_temperature=air),
        ambient_pressure=ambient,
    )
    assert not np.any(seal.feasible[1:] & ~seal.feasible[:-1])
    below = seal.condition("wet cloth keeps its water").value <= 0.999 * seal.highest_gauge_pressure
    assert not np.any(below & ~seal.feasible & seal.feasible.any())


@settings(max_examples=20, deadline=None)
@given(diameter=st.floats(1e-3, 0.1), warmer=st.floats(0.0, 60.0))
def test_raising_the_pressure_never_helps_a_vapor_plug_to_hold(diameter, warmer):
    seal = assess_freeze_seal(
        Fluid("propane"),
        Opening(diameter=diameter),
        gauge_pressure=np.geomspace(10.0, 1e6, 40),
        phase="vapor",
        weather=Weather(air_temperature=260.0 + warmer),
    )
    for item in map(seal.condition, MECHANICAL):
        assert not np.any(item.met[1:] & ~item.met[:-1])
    held = seal.highest_gauge_pressure
    assert not np.any(seal.feasible & (seal.condition("wet cloth keeps its water").value > held * (1 + 1e-9)))


@given(
    thickness=st.floats(1e-5, 1e-3),
    ratio=st.floats(1.1, 3.0),
    cold=st.floats(200.0, 240.0),
    air=st.floats(274.0, 310.0),
)
def test_thin_films_freeze_in_the_square_of_their_thickness(thickness, ratio, cold, air):
    def time(x):
        return ice.freezing_time(x, cold, air, heat_transfer=5.0, conductivity=2.2, volumetric_heat=4e8)

    # the next term is 2/3 X/X_m of it; X/X_m stays below 0.01
    assert time(ratio * thickness) / time(thickness) == pytest.approx(ratio**2, rel=0.01)


@given(
    x=st.floats(1e-3, 0.1),
    cold=st.floats(200.0, 272.0),
    air=st.floats(274.0, 320.0),
    h=st.floats(1.0, 50.0),
    more=st.floats(1.001, 2.0),
)
def test_freezing_time_directions(x, cold, air, h, more):
    def time(x=x, cold=cold, air=air, h=h):
        return ice.freezing_time(x, cold, air, heat_transfer=h, conductivity=2.0, volumetric_heat=4e8)

    assert time(x=x * more) >= time()
    assert time(h=h * more) >= time()
    assert time(air=273.15 + (air - 273.15) * more) >= time()
    assert time(cold=273.15 - (273.15 - cold) * more) <= time()


@given(x=st.floats(1e-3, 0.2), fraction=st.floats(0.01, 0.99))
def test_stefan_time_satisfies_its_balance(x, fraction):
    """q dX/dt = k T_s/X - h T_a, by a central difference of the closed form."""
    q, k, h, cold, warm = 4e8, 2.2, 15.0, 42.0, 27.0
    limit = ice.largest_ice_thickness(273.15 - cold, 273.15 + warm, heat_transfer=h, conductivity=k)
    x = fraction * limit
    d = 1e-4 * min(x, limit - x)
    times = ice.freezing_time(
        np.array([x - d, x + d]),
        273.15 - cold,
        273.15 + warm,
        heat_transfer=h,
        conductivity=k,
        volumetric_heat=q,
    )
    rate = 2 * d / (times[1] - times[0])
    assert q * rate == pytest.approx(k * cold / x - h * warm, rel=1e-5)


@settings(max_examples=25, deadline=None)
@given(
    gauge=st.floats(0.0, 2e4),
    air=st.floats(274.0, 310.0),
    h=st.floats(5.0, 40.0),
    more=st.floats(1.01, 2.0),
)
def test_holding_time_shrinks_with_the_heat_gain(gauge, air, h, more):
    def hold(h, air):
        return assess_freeze_seal(
            Fluid("propane"),
            Opening(diameter=0.006),
            gauge_pressure=gauge,
            weather=Weather(air_temperature=air),
            outside_heat_transfer=h,
        ).holding_time

    base = hold(h, air)
    assert base > 0
    assert hold(h * more, air) == pytest.approx(base / more, rel=1e-9)
    assert hold(h, air + more) < base


@settings(max_examples=20, deadline=None)
@given(gauge=st.floats(10.0, 4e4), more=st.floats(1.1, 3.0))
def test_pressure_and_hole_size_shorten_the_holding_time(gauge, more):
    def hold(gauge, diameter):
        return assess_freeze_seal(
            Fluid("propane"), Opening(diameter=diameter), gauge_pressure=gauge
        ).holding_time

    base = hold(gauge, 0.01)
    assert hold(gauge * more, 0.01) <= base
    assert hold(gauge, 0.01 * more) <= base


@given(h=st.floats(1e-3, 0.1), c=st.floats(1e-3, 0.2), more=st.floats(1.01, 3.0))
def test_thicker_plugs_hold_more_and_larger_patches_less(h, c, more):
    for limit, worst in ((strength.bending_pressure, 0.7e6), (strength.blister_pressure, 50e3)):
        assert limit(h * more, c, worst) > limit(h, c, worst)
        assert limit(h, c * more, worst) < limit(h, c, worst)
        assert limit(h, c, worst * more) == pytest.approx(more * limit(h, c, worst), rel=1e-12)


@settings(max_examples=15, deadline=None)
@given(gauge=st.floats(0.0, 5e4), diameter=st.floats(1e-3, 0.05))
def test_push_out_force_is_pressure_times_patch(gauge, diameter):
    cloth = WetCloth()
    seal = assess_freeze_seal(Fluid("propane"), Opening(diameter=diameter), gauge_pressure=gauge, cloth=cloth)
    patch = np.pi * (diameter / 2 + cloth.unbonded_width) ** 2
    assert seal.push_out_force == pytest.approx(gauge * patch, rel=1e-12, abs=1e-12)
