"""Pools of blends: light ends leave first, components are kept, limits are those of pure fluids."""

from __future__ import annotations

import numpy as np
import pytest

from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.fluids.equilibrium import bubble_point
from lpgrelease.ground import Ground
from lpgrelease.pool import Basin, Exposure, Hollow, OpenGround, Spill, pool_history, sustaining_feed
from lpgrelease.pool.blend import BlendLiquid, distilled
from lpgrelease.weather import Weather

BLEND = Fluid({"propane": 0.6, "n-butane": 0.4})
MILD = Weather(air_temperature=300.15, wind_speed=3.0)
SAND = Ground.named("moist sand")


def run(fluid: Fluid, spill: Spill, **changes):
    arguments = {"ground": SAND, "weather": MILD, "duration": 7200.0} | changes
    return pool_history(fluid, spill, **arguments)


SITES = {
    "open": OpenGround(),
    "hollow": Hollow(area=4.0, depth=0.05),
    "bowl": Basin.bowl(diameter=2.0, depth=0.1),
    "sheltered": Hollow(area=2.0, depth=1.0, exposure=Exposure(vapor_fill=1.0, wind_share=0.0)),
}
SPILLS = {
    "at once": Spill(mass=300.0),
    "fed": Spill(mass_flow=0.5, duration=600.0),
    "falling": Spill(time=[0.0, 900.0], mass_flow=[0.8, 0.1], temperature=[300.0, 270.0]),
    "twice": Spill.episodes(start=[0.0, 3000.0], duration=[200.0, 200.0], mass_flow=0.6),
}


@pytest.mark.parametrize("site", SITES)
@pytest.mark.parametrize("spill", SPILLS)
def test_components_are_kept_to_round_off(site, spill):
    pool = run(BLEND, SPILLS[spill], site=SITES[site])
    assert pool.components == ("propane", "n-butane")
    assert pool.component_mass.shape == (2, pool.time.size)
    for whole, parts in (
        (pool.mass, pool.component_mass),
        (pool.mass_evaporated, pool.component_evaporated),
        (pool.mass_overflowed, pool.component_overflowed),
    ):
        np.testing.assert_allclose(parts[0] + parts[1], whole, rtol=1e-12, atol=1e-12 * pool.mass_spilled[-1])
        assert parts.min() >= 0.0
    assert pool.mass_imbalance < 1e-12
    assert pool.energy_imbalance < 1e-10
    landed = pool.component_mass + pool.component_evaporated + pool.component_overflowed
    assert (np.diff(landed, axis=-1) >= -1e-12 * pool.mass_spilled[-1]).all()


def test_what_lands_has_the_composition_of_the_flashed_liquid():
    pool = run(BLEND, Spill(mass=300.0, temperature=290.0))
    (h,) = BLEND.saturated(np.array([290.0]), "liquid_enthalpy")
    liquid = BLEND.blend.flash_enthalpy(np.array([101325.0]), h).liquid[:, 0]
    mass = liquid * BLEND.blend.mixture.molar_mass[:, 0]
    landed = pool.component_mass[:, 0] + pool.component_overflowed[:, 0]
    np.testing.assert_allclose(landed / landed.sum(), mass / mass.sum(), rtol=1e-9)


def test_light_ends_leave_first_and_the_rest_grows_warmer():
    pool = run(BLEND, Spill(mass=800.0), site=Hollow(area=4.0, depth=2.0), duration=6 * 3600.0)
    wet = pool.mass > 0.0
    share = pool.component_mass[0][wet] / pool.mass[wet]
    assert (np.diff(share) <= 1e-12).all()
    assert share[0] > 0.3
    # with a fifth of the liquid left almost no propane remains
    fifth = np.searchsorted(-pool.mass[wet], -0.2 * pool.mass[0])
    assert share[min(fifth, share.size - 1)] < 0.02
    # it cools in the wind at first, and warms up as propane leaves
    coldest = int(np.argmin(pool.temperature[wet]))
    assert 0 < coldest < wet.sum() - 5
    assert pool.temperature[wet][-1] > pool.temperature[wet][coldest] + 3.0


@pytest.mark.parametrize("name", ["propane", "n-butane"])
def test_nearly_pure_is_nearly_the_pure_fluid(name):
    other = "n-butane" if name == "propane" else "propane"
    blend, pure = Fluid({name: 1.0 - 1e-7, other: 1e-7}), Fluid(name)
    arguments = {"site": Hollow(area=2.0, depth=1.0), "duration": 3600.0}
    mixed, alone = (run(fluid, Spill(mass=100.0), **arguments) for fluid in (blend, pure))
    # the flash is by another equation of state: 1 % of what lands
    assert mixed.mass[0] == pytest.approx(alone.mass[0], rel=0.01)
    scale = mixed.mass[0] / alone.mass[0]
    middle = 40
    assert mixed.temperature[middle] == pytest.approx(alone.temperature[middle], abs=0.1)
    assert mixed.mass_evaporated[middle] == pytest.approx(alone.mass_evaporated[middle], rel=0.01 * scale)


def test_a_blend_is_the_same_to_the_bit_in_any_company():
    wind = np.array([0.5, 3.0, 9.0])
    flows = np.array([0.2, 0.5, 1.0])
    many = run(
        BLEND,
        Spill(mass_flow=flows, duration=300.0),
        weather=Weather(air_temperature=290.0, wind_speed=wind),
        nodes=41,
    )
    for i in range(3):
        alone = run(
            BLEND,
            Spill(mass_flow=flows[i], duration=300.0),
            weather=Weather(air_temperature=290.0, wind_speed=wind[i]),
            nodes=41,
        )
        assert alone.mass.tobytes() == many.mass[i].tobytes()
        assert alone.component_mass.tobytes() == many.component_mass[i].tobytes()


def test_a_table_has_a_column_for_each_component():
    frame = run(BLEND, Spill(mass=50.0), nodes=41).to_dataframe()
    assert {"component_mass_0 [kg]", "component_mass_1 [kg]"} <= set(frame.columns)
    dataset = run(BLEND, Spill(mass=50.0), nodes=41).to_dataset()
    assert dataset["component_mass"].dims == ("component", "time")


def test_a_blend_has_no_steady_pool():
    with pytest.raises(InputError, match="a pure fluid"):
        sustaining_feed(BLEND, site=Hollow(area=1.0, depth=1.0), ground=SAND)


# -- pieces ------------------------------------------------------------------------------------------


def test_distillation_is_that_of_lord_rayleigh():
    # relative volatility a: (m1/m1_0) = (m2/m2_0)^a, whatever the share that leaves
    moles, masses = np.array([[2.0], [3.0]]), np.array([[0.044], [0.058]])
    for share in (1e-9, 0.1, 0.5, 0.9, 0.999):
        whole = float((moles * masses).sum())
        gone = distilled(moles, np.array([[5.0], [1.0]]), masses, np.array([share * whole]))
        left = 1.0 - gone / (moles * masses)
        assert gone.sum() == pytest.approx(share * whole, rel=1e-12)
        assert left[0, 0] == pytest.approx(left[1, 0] ** 5.0, rel=1e-9, abs=1e-14)
    everything = distilled(moles, np.ones((2, 1)), masses, np.array([9.0]))
    np.testing.assert_array_equal(everything, moles * masses)


def test_boiling_points_lie_near_those_of_the_equation_of_state():
    x = np.array([[0.1, 0.4, 0.7, 0.95], [0.9, 0.6, 0.3, 0.05]])
    masses = np.array([[0.0440956], [0.0581222]])
    pressure = np.full(4, 101325.0)
    liquid = BlendLiquid.prepare(BLEND, pressure, x * masses)
    reference = bubble_point(BLEND.blend.mixture, x, pressure=pressure).temperature
    # Raoult's law is within 1.5 % in pressure of Peng-Robinson: 0.5 K
    np.testing.assert_allclose(liquid.boiling_point, reference, atol=0.5)


def test_vapor_over_a_blend_is_that_of_raoult():
    """Of the first of it: shares by x p M; its molar mass and heats are those of its parts."""
    masses, T = np.array([[0.0440956], [0.0581222]]), np.array([225.0])
    x = np.array([[0.3], [0.7]])
    liquid = BlendLiquid.prepare(BLEND, np.full(1, 101325.0), x * masses)
    state = liquid.at(T, x * masses)
    pure = [Fluid(name).saturation(temperature=225.0) for name in BLEND.components]
    partial = x[:, 0] * [s.pressure for s in pure]
    moles = partial / partial.sum()
    assert state.vapor_molar_mass[0] == pytest.approx((moles * masses[:, 0]).sum(), rel=1e-6)
    share = moles * masses[:, 0] / (moles * masses[:, 0]).sum()
    np.testing.assert_allclose(state.vapor_share[:, 0], share, rtol=1e-6)
    assert state.latent[0] == pytest.approx((share * [s.latent_heat for s in pure]).sum(), rel=1e-9)
    w = (x * masses)[:, 0] / (x * masses).sum()
    assert 1.0 / state.density[0] == pytest.approx((w / [s.liquid_density for s in pure]).sum(), rel=1e-9)
    assert state.enthalpy[0] == pytest.approx((w * [s.liquid_enthalpy for s in pure]).sum(), rel=1e-9)
