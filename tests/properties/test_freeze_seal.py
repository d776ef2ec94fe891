"""Bounds, monotone directions and limits of the freeze seal."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lpgrelease.fluids import Fluid
from lpgrelease.freeze_seal import (
    MetalWall,
    WetCloth,
    assess_freeze_seal,
    hold_freeze_seal,
    ice,
    strength,
    wet_bulb,
)
from lpgrelease.pool import evaporate
from lpgrelease.release.opening import Opening
from lpgrelease.tank import Contents, HorizontalTank
from lpgrelease.weather import Weather, air_conductivity, air_density

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


@settings(max_examples=20, deadline=None)
@given(
    cargo=st.sampled_from(CARGO),
    phase=st.sampled_from(["liquid", "two-phase", "vapor"]),
    diameter=st.floats(1e-3, 0.1),
    salinity=st.floats(0.0, 0.04),
    head=st.floats(0.0, 0.5),
    x=st.floats(0.0, 1.0),
)
def test_the_favorable_end_lies_beyond_the_judged_one(cargo, phase, diameter, salinity, head, x):
    seal = assess_freeze_seal(
        Fluid(cargo),
        Opening(diameter=diameter),
        gauge_pressure=np.geomspace(10.0, 1e6, 9),
        phase=phase,
        head=head,
        cloth=WetCloth(salinity=salinity),
        vapor_fraction=x,
    )
    assert np.all(seal.lowest_push_out_pressure <= seal.highest_push_out_pressure)
    assert np.all(seal.highest_gauge_pressure <= seal.highest_favorable_gauge_pressure * (1 + 1e-9))
    assert not np.any(seal.feasible & seal.marginal)
    for item in seal.conditions:
        assert not np.any(item.met & (item.change != 0.0))
        assert np.all(item.change >= 0.0)
    assert np.all(seal.spread_temperature <= seal.leak_temperature)


@settings(max_examples=25, deadline=None)
@given(
    diameter=st.floats(1e-3, 0.05),
    salinity=st.floats(0.0, 0.04),
    head=st.floats(0.0, 0.4),
    force=st.floats(1.0, 200.0),
    wall=st.floats(200.0, 320.0),
)
def test_pressure_never_helps_a_liquid_leak_with_salt_head_hand_or_warm_wall(
    diameter, salinity, head, force, wall
):
    seal = assess_freeze_seal(
        Fluid("propane"),
        Opening(diameter=diameter),
        gauge_pressure=np.concatenate([[0.0], np.geomspace(10.0, 1e6, 40)]),
        head=head,
        cloth=WetCloth(salinity=salinity, pressing_force=force),
        wall=MetalWall(temperature=wall),
    )
    assert not np.any(seal.feasible[1:] & ~seal.feasible[:-1])


@pytest.mark.parametrize("phase", ["two-phase", "vapor"])
def test_pressure_can_help_where_only_the_flow_brings_cold(phase):
    """What holds for vapor and mixtures: one interval of pressures, not a ceiling; none at zero gauge."""
    seal = assess_freeze_seal(
        Fluid("propane"),
        Opening(diameter=0.006),
        gauge_pressure=np.concatenate([[0.0], np.geomspace(1.0, 1e5, 60)]),
        phase=phase,
    )
    assert not seal.feasible[0]
    changes = np.flatnonzero(np.diff(seal.feasible.astype(int)))
    assert seal.feasible.any()
    assert changes.size == 2


@settings(max_examples=25, deadline=None)
@given(cargo=st.sampled_from(CARGO), air=st.floats(235.0, 320.0), warmer=st.floats(0.1, 15.0))
def test_evaporation_temperature_balances_heat_and_mass(cargo, air, warmer):
    fluid, p = Fluid(cargo), np.array(101325.0)
    temperatures = np.array([air, air + warmer])
    T = wet_bulb.evaporation_temperature(fluid, temperatures, p)
    assert np.all(fluid.saturation_temperature(p) > T)
    assert np.all(temperatures > T)
    assert T[1] >= T[0]
    # heat that arrives by film theory equals latent heat of what leaves
    boiling = fluid.saturation_temperature(p)
    film = 0.5 * (np.maximum(temperatures, boiling) + boiling)
    volume = evaporate.diffusion_volume_fuller(fluid.substance.formula)
    D = evaporate.diffusivity_fuller(film, p, fluid.molar_mass, volume)
    k, rho, c_a = air_conductivity(film), air_density(film, p), 1006.0
    c_v = fluid.gas(temperature=boiling + 1e-3, pressure=p).heat_capacity
    p_v, latent = fluid.saturated(T, "pressure", "latent_heat")
    Y = p_v * fluid.molar_mass / (p_v * fluid.molar_mass + (p - p_v) * 0.0289655)
    # per h of 1 W/m2/K the transfer coefficient of mass is 1/(c_a Le^(2/3))
    leaves = -np.log1p(-Y) / (c_a * np.power(k / (rho * c_a * D), 2.0 / 3.0))
    heat = c_v * leaves * (temperatures - T) / np.expm1(c_v * leaves)
    inside = fluid.lowest_temperature + 1e-6 < T  # else it would be solid, and the tables' end is given
    assert heat[inside] == pytest.approx((latent * leaves)[inside], rel=1e-5)


@settings(max_examples=10, deadline=None)
@given(gain=st.floats(50.0, 500.0), more=st.floats(1.2, 3.0), h=st.floats(5.0, 40.0))
def test_holding_on_a_tank_shrinks_with_its_heat_gain(gain, more, h):
    propane = Fluid("propane")
    cold = propane.saturation(pressure=102000.0).temperature

    def hold(conductance, transfer):
        tank = HorizontalTank(diameter=1.2, length=4.0, wall_mass=1500.0, heat_transfer=conductance)
        seal = assess_freeze_seal(propane, Opening(diameter=0.006), outside_heat_transfer=transfer)
        contents = Contents(tank, propane, fill=0.5, temperature=cold)
        return hold_freeze_seal(seal, contents, duration=2e5, points=33)

    base, worse = hold(gain, h), hold(gain * more, h)
    assert worse.holding_time < base.holding_time < 2e5
    assert worse.favorable_holding_time < base.favorable_holding_time
    assert worse.safe_vent_rate > base.safe_vent_rate
    assert hold(gain, h * more).holding_time <= base.holding_time


@settings(max_examples=10, deadline=None)
@given(thickness=st.floats(1e-4, 5e-4), ratio=st.floats(1.5, 3.0))
def test_assessed_freezing_time_goes_with_the_square_of_a_thin_cloth(thickness, ratio):
    def time(x):
        return assess_freeze_seal(
            Fluid("propane"), Opening(diameter=0.006), cloth=WetCloth(thickness=x)
        ).freeze_time

    # the next term is 2/3 X/X_m; X/X_m stays below 0.007
    assert time(ratio * thickness) / time(thickness) == pytest.approx(ratio**2, rel=0.01)
