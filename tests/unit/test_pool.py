"""Pools: edges, messages, shapes, scalar = array."""

from __future__ import annotations

import pickle

import numpy as np
import pint
import pytest

import lpgrelease as lr
from lpgrelease.errors import ConvergenceError, InputError, OutOfRangeError
from lpgrelease.fluids import Fluid
from lpgrelease.fluids.substances import SUBSTANCES
from lpgrelease.ground import Ground
from lpgrelease.pool import Hollow, OpenGround, PoolHistory, Spill, pool_history
from lpgrelease.pool import history as history_module
from lpgrelease.pool.evaporate import (
    PoolSurface,
    blowing_factor_ackermann,
    diffusion_volume_fuller,
    mass_transfer_mackay_matsugu,
)
from lpgrelease.pool.rings import row_sum
from lpgrelease.weather import Weather

PROPANE = Fluid("propane")
SAND = Ground.named("moist sand")
WIND = Weather(air_temperature=300.15, wind_speed=2.0)
UREG = pint.UnitRegistry()


def run(spill: Spill, **changes) -> PoolHistory:
    arguments = {"ground": SAND, "weather": WIND, "duration": 1800.0, "nodes": 61} | changes
    return pool_history(arguments.pop("fluid", PROPANE), spill, **arguments)


# -- what is refused ---------------------------------------------------------------------------------


def test_exactly_one_amount():
    with pytest.raises(InputError, match="exactly one of mass, mass_flow; got none"):
        Spill()
    with pytest.raises(InputError, match="exactly one of mass, mass_flow; got mass, mass_flow"):
        Spill(mass=1.0, mass_flow=1.0)


@pytest.mark.parametrize("value", [np.nan, np.inf, "ten", None, True])
def test_durations_that_are_no_numbers(value):
    with pytest.raises(InputError, match="duration"):
        run(Spill(mass=1.0), duration=value)


@pytest.mark.parametrize(
    ("name", "value"),
    [("fluid", "propane"), ("ground", "sand"), ("weather", 300.0), ("site", "ditch"), ("nodes", 99.0)],
)
def test_wrong_kinds_are_named(name, value):
    with pytest.raises(InputError, match=name):
        run(Spill(mass=1.0), **{name: value})


@pytest.mark.parametrize("nodes", [40, 2002, 10**400])
def test_nodes_have_a_range(nodes):
    with pytest.raises(InputError, match="nodes must be a whole number of at least 41 and at most 2001, got"):
        run(Spill(mass=1.0), nodes=nodes)


def test_shapes_that_do_not_broadcast_are_named():
    with pytest.raises(InputError, match=r"mass \(2,\).*wind_speed \(3,\)"):
        run(Spill(mass=np.ones(2)), weather=Weather(wind_speed=np.ones(3)))


def test_a_spill_hotter_than_critical_is_refused():
    with pytest.raises(OutOfRangeError, match="temperature of the spill = 400 K"):
        run(Spill(mass=1.0, temperature=400.0))


def test_a_pool_that_would_freeze_is_refused():
    cold = Weather(air_temperature=235.0, wind_speed=15.0, relative_humidity=0.0, cloud_cover=0.0)
    with pytest.raises(OutOfRangeError, match="cool ammonia below its triple point"):
        run(
            Spill(mass=50.0),
            fluid=Fluid("ammonia"),
            ground=Ground.named("dry sand", temperature=236.0),
            weather=cold,
            duration=86400.0,
        )


def test_books_that_do_not_close_are_refused():
    with pytest.raises(ConvergenceError, match="mass balance"):
        history_module._check_books(np.array([0.0, 2e-9]), np.zeros(2))
    with pytest.raises(ConvergenceError, match="energy balance"):
        history_module._check_books(np.zeros(2), np.array([np.nan, 0.0]))


def test_no_diffusion_volume_for_other_elements():
    with pytest.raises(InputError, match="no diffusion volume for 'SF6'"):
        diffusion_volume_fuller("SF6")
    assert diffusion_volume_fuller("C2H6O") == pytest.approx(2 * 15.9 + 6 * 2.31 + 6.11)
    assert diffusion_volume_fuller(Fluid("ammonia").substance.formula) == 20.7
    assert diffusion_volume_fuller(Fluid("chlorine").substance.formula) == 38.4
    assert diffusion_volume_fuller("C2H3Cl") == pytest.approx(2 * 15.9 + 3 * 2.31 + 21.0)


def test_molecules_of_the_table_are_not_summed_from_atoms():
    # Fuller's table of molecules, poling2000properties, Table 11-1, from memory
    table = {"ammonia": 20.7, "sulfur dioxide": 41.8, "chlorine": 38.4, "carbon dioxide": 26.9}
    table |= {"nitrogen": 18.5, "nitrous oxide": 35.9}
    for name, volume in table.items():
        assert diffusion_volume_fuller(Fluid(name).substance.formula) == volume
    for formula, volume in {"CO": 18.0, "F6S": 71.3, "H2": 6.12, "H2O": 13.1, "O2": 16.3}.items():
        assert diffusion_volume_fuller(formula) == volume


@pytest.mark.parametrize("name", sorted(SUBSTANCES))
def test_diffusion_volumes_go_with_critical_volumes(name):
    # both are sizes of molecules; by its atoms nitrous oxide would have 0.16 of its critical volume
    fluid = Fluid(name)
    top = fluid.saturation(temperature=fluid.highest_temperature)
    critical = 1e6 * fluid.molar_mass / (0.5 * (top.liquid_density + top.vapor_density))
    assert 0.2 < diffusion_volume_fuller(fluid.substance.formula) / critical < 0.5


# -- shapes and bits ------------------------------------------------------------------------------------


def test_scalars_give_one_history():
    pool = run(Spill(mass_flow=0.5, duration=600.0))
    assert pool.time.shape == pool.mass.shape == pool.temperature.shape == (61,)
    assert np.ndim(pool.gone_at) == np.ndim(pool.flash_fraction) == 0
    assert pool.time[0] == 0.0
    assert pool.time[-1] == 1800.0
    assert 600.0 in pool.time


def test_inputs_broadcast_to_many_axes():
    pool = run(
        Spill(mass_flow=np.array([0.1, 1.0])[:, None], duration=300.0),
        weather=Weather(wind_speed=np.array([0.0, 3.0, 8.0])),
    )
    assert pool.mass.shape == (2, 3, 61)
    assert pool.gone_at.shape == (2, 3)


def test_a_scenario_is_the_same_to_the_bit_in_any_company():
    rng = np.random.default_rng(5)
    n = 1031
    flow, wind = rng.uniform(1e-3, 5.0, n), rng.uniform(0.0, 10.0, n)
    water, air = rng.uniform(0.0, 0.2, n), rng.uniform(260.0, 310.0, n)

    def pools(i):
        ground = Ground(conductivity=1.5, density=1800.0, heat_capacity=1300.0, water_mass_fraction=water[i])
        weather = Weather(air_temperature=air[i], wind_speed=wind[i])
        return run(Spill(mass_flow=flow[i], duration=200.0), ground=ground, weather=weather, nodes=41)

    whole = pools(slice(None))
    for i in (0, 1, 511, 512, 1030):
        alone = pools(i)
        for name in ("time", "mass", "area", "temperature", "evaporation_rate", "heat_from_ground"):
            assert np.array_equal(getattr(whole, name)[i], getattr(alone, name)), name
        assert whole.gone_at[i] == alone.gone_at
    assert pools(slice(3, 8)).mass.tobytes() == whole.mass[3:8].tobytes()


def test_quantities_of_another_registry_are_taken():
    pool = pool_history(
        PROPANE,
        Spill(
            mass_flow=UREG.Quantity(1.0, "lb/s"),
            duration=UREG.Quantity(5.0, "min"),
            temperature=UREG.Quantity(70.0, "degF"),
        ),
        ground=SAND,
        weather=Weather(air_temperature=UREG.Quantity(70.0, "degF"), wind_speed=UREG.Quantity(5.0, "mph")),
        site=Hollow(area=UREG.Quantity(100.0, "ft**2"), depth=UREG.Quantity(2.0, "ft")),
        duration=UREG.Quantity(1.0, "hour"),
        nodes=61,
    )
    kelvin = (70.0 - 32.0) / 1.8 + 273.15
    same = run(
        Spill(mass_flow=0.45359237, duration=300.0, temperature=kelvin),
        weather=Weather(air_temperature=kelvin, wind_speed=5 * 0.44704),
        site=Hollow(area=100 * 0.3048**2, depth=0.6096),
        duration=3600.0,
    )
    np.testing.assert_allclose(pool.mass, same.mass, rtol=1e-9, atol=1e-9)
    assert pool.gone_at == pytest.approx(same.gone_at, rel=1e-9)


def test_a_result_pickles_repeats_and_says_what_ran():
    pool = run(Spill(mass=20.0))
    assert pickle.loads(pickle.dumps(pool)) == pool == run(Spill(mass=20.0))
    assert "moist sand" in pool.provenance.model
    assert any("not an instruction" in text for text in pool.cautions)
    assert "gone_at" in repr(pool)


def test_a_table_of_several_scenarios():
    frame = run(Spill(mass=np.array([10.0, 20.0]))).to_dataframe()
    assert len(frame) == 2 * 61


# -- ends and limits -------------------------------------------------------------------------------------


def test_no_spill_is_no_pool():
    for spill in (Spill(mass=0.0), Spill(mass_flow=0.0), Spill(mass=5.0, captured_fraction=0.0)):
        pool = run(spill)
        assert (pool.mass == 0.0).all()
        assert (pool.area == 0.0).all()
        assert pool.gone_at == 0.0
    assert pool.mass_airborne[-1] == pytest.approx(5.0 * (1.0 - pool.flash_fraction), rel=1e-12)


def test_what_boils_off_as_it_lands_is_gone_when_the_feed_ends():
    # the second scenario goes on, so that the first is marched on with it
    pool = run(Spill(mass_flow=0.5, duration=600.0, captured_fraction=np.array([1e-300, 1.0])))
    alone = run(Spill(mass_flow=0.5, duration=600.0, captured_fraction=1e-300))
    assert pool.gone_at[0] == alone.gone_at == 600.0
    assert pool.gone_at[1] > 600.0


def test_a_pool_that_outlasts_the_history_is_never_gone():
    assert run(Spill(mass=5000.0), site=Hollow(area=2.0, depth=10.0), duration=600.0).gone_at == np.inf


def test_after_its_end_a_pool_is_nothing_at_its_last_temperature():
    pool = run(Spill(mass=20.0))
    after = pool.time > pool.gone_at
    assert after.any()
    assert (pool.mass[after] == 0.0).all()
    assert (pool.area[after] == 0.0).all()
    assert (pool.depth[after] == 0.0).all()
    assert (pool.temperature[after] == pool.temperature[after][0]).all()
    assert (pool.evaporation_rate[after][1:] == 0.0).all()
    assert 180.0 < pool.temperature[-1] < 231.1


def test_mass_over_a_duration_is_a_flow():
    over = run(Spill(mass=60.0, duration=120.0))
    flow = run(Spill(mass_flow=0.5, duration=120.0))
    np.testing.assert_allclose(over.mass, flow.mass, rtol=1e-12)


def test_a_flow_without_duration_feeds_to_the_end():
    pool = run(Spill(mass_flow=0.1))
    assert pool.mass_spilled[-1] == pytest.approx(180.0, rel=1e-12)
    assert pool.gone_at == np.inf
    assert (np.diff(pool.area) >= 0.0).all()


def test_what_does_not_fit_into_a_hollow_overflows():
    pool = run(Spill(mass=1000.0), site=Hollow(area=1.0, depth=0.2))
    assert pool.mass_overflowed[0] > 400.0
    assert pool.depth.max() <= 0.2 * (1.0 + 1e-12)
    fed = run(Spill(mass_flow=1.0), site=Hollow(area=1.0, depth=0.1))
    assert fed.mass_overflowed[-1] > 500.0
    assert fed.depth.max() <= 0.1 * (1.0 + 1e-12)
    assert (np.diff(fed.mass_overflowed) >= 0.0).all()
    assert pool.area.max() == 1.0
    assert (np.diff(pool.mass_overflowed) >= 0.0).all()


def test_a_wide_hollow_is_open_ground():
    open_ground = run(Spill(mass=100.0), site=OpenGround())
    assert (
        run(Spill(mass=100.0), site=Hollow(area=1e4, depth=5.0)).mass.tobytes() == open_ground.mass.tobytes()
    )


def test_a_liquid_that_does_not_boil_lands_as_it_is():
    cold = Weather(air_temperature=263.15, wind_speed=3.0)
    pool = run(Spill(mass=20.0), fluid=Fluid("n-butane"), weather=cold)
    assert pool.flash_fraction == 0.0
    assert pool.landing_temperature == 263.15
    assert pool.temperature[1:].max() < 263.15
    assert pool.gone_at < 1800.0


VAPOR = {
    "propane": " and can be lit far from it;",
    "ammonia": ", poisons and can be lit far from it;",
    "chlorine": " and poisons far from it;",
    "nitrogen": " and takes the place of the air there,",
    "R134a": " and takes the place of the air there,",
    "nitrous oxide": " and takes the place of the air there,",
}


@pytest.mark.parametrize("name", sorted(VAPOR))
def test_cautions_of_pools_fit_the_cargo_and_name_the_poison_first(name):
    fluid = Fluid(name)
    calm = lr.Exposure(wind_share=0.0, vapor_fill=1.0)  # in wind nitrogen and nitrous oxide would freeze
    site, cold = lr.Hollow(area=4.0, depth=0.5, exposure=calm), fluid.normal_boiling_point
    for result in (
        run(Spill(mass=5.0, temperature=cold), fluid=fluid, site=site),
        lr.sustaining_feed(fluid, site=site, ground=SAND, level=0.1, temperature=cold),
        lr.lasting_depth(fluid, 60.0, area=2.0, ground=SAND, exposure=calm, freeboard=0.4),
    ):
        assert result.cautions[: len(fluid.cautions)] == fluid.cautions
        (told,) = [text for text in result.cautions if text.startswith("Vapor fills low ground")]
        assert told.startswith(f"Vapor fills low ground around a pool{VAPOR[name]}")
        assert fluid.flammable or "lit" not in " ".join(result.cautions)


@pytest.mark.parametrize("name", ["ammonia", "propylene", "isobutane", "ethane", "dimethyl ether"])
def test_every_liquefied_gas_makes_a_pool(name):
    fluid = Fluid(name)
    pool = run(Spill(mass=50.0), fluid=fluid, weather=Weather(air_temperature=288.15))
    assert pool.temperature.max() <= fluid.normal_boiling_point + 1e-9
    assert 0.0 < pool.gone_at < 1800.0


def test_a_still_night_boils_the_pool_with_the_heat_of_the_ground():
    pool = run(Spill(mass=50.0), weather=Weather(air_temperature=300.15, wind_speed=0.0))
    wet = pool.mass > 0.0
    assert pool.temperature[wet].min() > PROPANE.normal_boiling_point - 0.1


# -- pieces -----------------------------------------------------------------------------------------------


def test_rows_of_zeros_change_no_sum():
    rows = np.random.default_rng(1).normal(size=(37, 5))
    np.testing.assert_allclose(row_sum(rows), rows.sum(axis=0), rtol=1e-12)
    assert row_sum(rows[:, :1])[0] == row_sum(rows)[0]
    more = np.concatenate([rows, np.zeros((100, 5))])
    assert (row_sum(more) == row_sum(rows)).all()
    assert (row_sum(np.zeros((0, 3))) == 0.0).all()


def test_blowing_stops_convection():
    factor = blowing_factor_ackermann(np.array([0.0, 1e-6, 1.0, 50.0, 1e4]))
    assert factor[0] == pytest.approx(1.0, abs=1e-8)
    assert factor[1] == pytest.approx(1.0 - 0.5e-6, abs=1e-9)
    assert factor[2] == pytest.approx(1.0 / (np.e - 1.0), rel=1e-12)
    assert 0.0 <= factor[4] <= factor[3] < 1e-19
    assert mass_transfer_mackay_matsugu(np.array(0.0), np.array(1.0), np.array(1.0)) == 0.0


def surface_of(**changes) -> PoolSurface:
    one = np.ones(1)
    given = {
        "air_temperature": 300.0,
        "wind_speed": 4.0,
        "relative_humidity": 0.5,
        "solar_irradiance": 500.0,
        "cloud_cover": 0.0,
        "ambient_pressure": 1e5,
        "wind_share": 1.0,
        "sun_share": 1.0,
        "sky_share": 1.0,
        "cover_temperature": 300.0,
        "precipitation": 0.0,
    } | changes
    return PoolSurface.prepare(
        {name: value * one for name, value in given.items()},
        boiling_point=231.0 * one,
        molar_mass=PROPANE.molar_mass,
        diffusion_volume=diffusion_volume_fuller("C3H8"),
        vapor_conductivity=0.0115 * one,
    )


def test_the_film_is_that_of_the_pools_diameter():
    one = np.ones(1)
    surface = surface_of()
    schmidt = (surface.wind_factor / mass_transfer_mackay_matsugu(4.0 * one, one, one)) ** (-1.0 / 0.67)
    k_rho, h = surface.transfer(surface.coefficients(np.pi * 9.0 * one), 220.0 * one)
    k = mass_transfer_mackay_matsugu(4.0 * one, 6.0 * one, schmidt)
    vapor = 1e5 * PROPANE.molar_mass / (8.31446261815324 * 260.0)
    # the limit of still air adds a thousandth
    assert k_rho == pytest.approx(k * vapor, rel=2e-3)
    air = 1e5 * 0.0289655 / (8.31446261815324 * 260.0) * 1006.0
    assert h == pytest.approx(k * air * surface.colburn, rel=2e-3)
    assert surface.absorbed_sun == 450.0


def test_calm_vapor_is_crossed_by_diffusion_and_conduction():
    surface = surface_of()
    one = np.ones(1)
    open_air = surface.transfer(surface.coefficients(one), 231.0 * one)
    sheltered = surface.transfer(surface.coefficients(one, 0.3), 231.0 * one)
    # half a meter of wind's film is nothing beside 0.3 m of still vapor: k = D / h, h = lambda / h
    vapor = 1e5 * PROPANE.molar_mass / (8.31446261815324 * 265.5)
    assert sheltered[0] == pytest.approx(surface.diffusivity / 0.3 * vapor, rel=0.01)
    assert sheltered[1] == pytest.approx(0.0115 / 0.3, rel=0.01)
    assert (sheltered[0] < 0.01 * open_air[0]).all()


def test_shade_and_cover_change_what_the_sky_sends():
    assert surface_of(sun_share=0.0).absorbed_sun == 0.0
    under = surface_of(sky_share=0.0, cover_temperature=253.15)
    # a black cover at 253.15 K over a liquid of emissivity 0.95
    assert under.absorbed_longwave == pytest.approx(0.95 * 5.670374419e-8 * 253.15**4, rel=1e-12)
    half = surface_of(sky_share=0.5, cover_temperature=253.15)
    whole = surface_of()
    assert half.absorbed_longwave == pytest.approx(
        0.5 * (under.absorbed_longwave + whole.absorbed_longwave), rel=1e-12
    )


def test_a_drip_that_boils_off_as_it_lands_wets_no_more_than_that_takes():
    drip = Spill(time=[0.0, 60.0, 60.0, 3600.0], mass_flow=[0.5, 0.5, 1e-3, 1e-3])
    pool = run(drip, duration=3600.0)
    empty = pool.mass <= 0.0
    boiled = empty & np.append(False, empty[:-1]) & (pool.evaporation_rate > 0.0) & (pool.time > 120.0)
    assert np.any(boiled), "the case no longer shows what it is for"
    assert np.all(pool.area[boiled] < 0.1 * pool.area.max())
    assert np.all(pool.area[(pool.mass <= 0.0) & (pool.evaporation_rate <= 0.0)] == 0.0)
