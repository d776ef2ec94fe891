"""What pools lie on and live under: shapes of ground, exposure, feed over time; edges and messages."""

from __future__ import annotations

import math

import numpy as np
import pytest

from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.flashing import flash
from lpgrelease.fluids import Fluid
from lpgrelease.ground import Ground
from lpgrelease.pool import (
    Basin,
    Exposure,
    Hollow,
    OpenGround,
    Spill,
    pool_at,
    pool_history,
    sustaining_feed,
)
from lpgrelease.pool.level import Room
from lpgrelease.pool.rings import recede
from lpgrelease.weather import Weather

PROPANE = Fluid("propane")
SAND = Ground.named("moist sand")
MILD = Weather(air_temperature=300.15, wind_speed=2.0)


def run(spill: Spill, **changes):
    arguments = {"ground": SAND, "weather": MILD, "duration": 1800.0, "nodes": 61} | changes
    return pool_history(PROPANE, spill, **arguments)


# -- exposure ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["wind_share", "sun_share", "sky_share", "vapor_fill"])
def test_shares_lie_between_nothing_and_all(name):
    for value in (-0.1, 1.1):
        with pytest.raises(OutOfRangeError, match=f"{name} = "):
            Exposure(**{name: value})


def test_calm_vapor_needs_a_rim():
    with pytest.raises(InputError, match=r"vapor_fill.*Hollow or a Basin"):
        OpenGround(exposure=Exposure(vapor_fill=0.5))
    with pytest.raises(InputError, match="exposure: float is no Exposure"):
        Hollow(area=1.0, depth=1.0, exposure=0.5)


def test_a_brimming_hollow_has_no_calm_vapor_over_it():
    # fed until it overflows: nothing lies between the liquid and the wind
    brim, open_air, low = (
        run(Spill(mass_flow=flow), site=Hollow(area=1.0, depth=depth, exposure=Exposure(vapor_fill=fill)))
        for flow, depth, fill in ((1.0, 0.1, 1.0), (1.0, 0.1, 0.0), (1.0, 5.0, 1.0))
    )
    assert brim.mass_overflowed[-1] > 0.0
    assert brim.temperature[-1] == pytest.approx(open_air.temperature[-1], abs=0.01)
    assert brim.heat_from_air[-1] == pytest.approx(open_air.heat_from_air[-1], rel=0.1)
    # deep below its rim a pool boils in its own vapor, and no wind warms it
    assert low.temperature[-1] == pytest.approx(PROPANE.normal_boiling_point, abs=0.01)
    assert low.heat_from_air[-1] < 1e-3 * open_air.heat_from_air[-1]


# -- basins -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"depth": 1.0, "area": 1.0}, "two points or more"),
        ({"depth": [0.1, 1.0], "area": [1.0, 2.0]}, "must rise from 0"),
        ({"depth": [0.0, 0.0], "area": [1.0, 2.0]}, "must rise from 0"),
        ({"depth": [0.0, 1.0], "area": [2.0, 1.0]}, "must not fall"),
        ({"depth": [0.0, 1.0], "area": [0.0, 0.0]}, "positive at the rim"),
        ({"depth": [0.0, 1.0], "area": [1.0, 2.0], "wetted_area": [1.0, 1.5]}, "never smaller"),
    ],
)
def test_basins_that_are_none(arguments, message):
    with pytest.raises(InputError, match=message):
        Basin(**arguments)
    with pytest.raises(InputError, match="half of its diameter"):
        Basin.bowl(diameter=1.0, depth=0.6)


def test_basins_have_the_area_and_volume_of_their_shape():
    bowl = Basin.bowl(diameter=2.0, depth=0.5)
    assert bowl.area[-1] == pytest.approx(math.pi)
    R = (1.0 + 0.25) / (2 * 0.5)
    assert bowl.wetted_area[-1] == pytest.approx(2 * math.pi * R * 0.5)
    room = Room.prepare(*(x[:, None] for x in (bowl.depth, bowl.area, bowl.wetted_area)))
    cap = math.pi * 0.5 * (3.0 * 1.0 + 0.25) / 6.0
    # nine knots of a parabola
    assert room.capacity == pytest.approx(cap, rel=0.01)
    ditch = Basin.ditch(length=10.0, width=1.0, depth=0.5, bank_slope=0.5)
    assert ditch.area[-1] == pytest.approx(10.0 * 3.0)
    assert ditch.wetted_area[-1] == pytest.approx(10.0 + 2 * 10.0 * math.hypot(1.0, 0.5) + 2 * 0.5 * 2.0)
    pit = Basin.pit(area=np.array([1.0, 4.0]), depth=2.0)
    assert pit.wetted_area[:, -1] == pytest.approx(
        np.array([1.0, 4.0]) + 2.0 * 2.0 * np.sqrt(math.pi * np.array([1.0, 4.0]))
    )


def test_a_level_is_where_its_volume_is():
    room = Room.prepare(*(np.array(x)[:, None] for x in ([0.0, 0.2, 0.5], [0.0, 2.0, 6.0], [0.0, 2.5, 7.0])))
    for z in (0.05, 0.2, 0.31, 0.5):
        # area linear in height, integrated by hand
        if z <= 0.2:
            area, volume = 10.0 * z, 5.0 * z * z
        else:
            area = 2.0 + (z - 0.2) * 4.0 / 0.3
            volume = 0.2 + 0.5 * (2.0 + area) * (z - 0.2)
        stand = room.hold(np.array([volume]))
        assert stand.level == pytest.approx(z, rel=1e-12)
        assert stand.area == pytest.approx(area, rel=1e-12)
    assert room.hold(np.array([99.0])).level == pytest.approx(0.5)
    assert room.hold(np.array([0.0])).area == 0.0


def test_a_basin_with_upright_sides_without_heat_is_a_hollow():
    hollow = run(Spill(mass_flow=0.5, duration=900.0), site=Hollow(area=2.0, depth=0.4))
    walls = Basin(depth=[0.0, 0.4], area=[2.0, 2.0], wetted_area=[2.0, 2.0])
    basin = run(Spill(mass_flow=0.5, duration=900.0), site=walls)
    assert basin.mass.tobytes() == hollow.mass.tobytes()
    # and three knots of the same wall take the general way
    knots = Basin(depth=[0.0, 0.1, 0.4], area=[2.0, 2.0, 2.0], wetted_area=[2.0, 2.0, 2.0])
    np.testing.assert_allclose(
        run(Spill(mass_flow=0.5, duration=900.0), site=knots).mass, hollow.mass, rtol=1e-9, atol=1e-9
    )


def test_warm_sides_boil_a_pit_down_faster():
    pit = run(Spill(mass=1000.0), site=Basin.pit(area=1.0, depth=2.0))
    hollow = run(Spill(mass=1000.0), site=Hollow(area=1.0, depth=2.0))
    assert pit.mass[-1] < hollow.mass[-1]
    # at first sides and floor give in the proportion of their areas: 1 m deep on 1 m2
    wet = 1.0 + 2.0 * math.sqrt(math.pi) * pit.depth[5]
    assert pit.heat_from_ground[5] / hollow.heat_from_ground[5] == pytest.approx(wet, rel=0.01)


def test_liquid_recedes_in_a_bowl_and_what_does_not_fit_overflows():
    pool = run(Spill(mass=300.0), site=Basin.bowl(diameter=1.5, depth=0.3), duration=7200.0)
    assert pool.mass_overflowed[0] > 0.0
    # it boils while it spreads to the rim
    assert pool.area.max() == pytest.approx(math.pi * 0.75**2, rel=0.01)
    wet = pool.area > 0.0
    widest = int(np.argmax(pool.area))
    assert (np.diff(pool.area[wet][widest:]) < 0.0).all()
    assert len(np.unique(pool.area[wet])) > 10
    assert pool.mass_imbalance < 1e-12
    assert pool.energy_imbalance < 1e-10


def test_the_outermost_rings_recede_first():
    areas = np.array([[3.0], [2.0], [1.0]])
    assert recede(areas, np.array([0.4])).ravel().tolist() == [3.0, 2.0, 0.6]
    assert recede(areas, np.array([2.0])).ravel().tolist() == [3.0, 1.0, 0.0]
    assert recede(areas, np.array([7.0])).ravel().tolist() == [0.0, 0.0, 0.0]


# -- feed over time ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"mass": 1.0, "time": [0.0, 1.0]}, "goes with mass_flow alone"),
        ({"mass_flow": 1.0, "duration": 5.0, "time": [0.0, 1.0]}, "goes with mass_flow alone"),
        ({"mass_flow": 1.0, "time": 3.0}, "two times or more"),
        ({"mass_flow": [1.0, 1.0], "time": [2.0, 1.0]}, "must not fall"),
        ({"mass_flow": [1.0, 1.0, 1.0], "time": [0.0, 1.0]}, "do not broadcast"),
    ],
)
def test_times_that_are_none(arguments, message):
    with pytest.raises(InputError, match=message):
        Spill(**arguments)


def test_overlapping_episodes_are_refused():
    with pytest.raises(InputError, match="must not fall"):
        Spill.episodes(start=[0.0, 10.0], duration=[20.0, 20.0], mass_flow=1.0)


def test_a_steady_flow_given_by_its_times_is_the_same_to_the_bit():
    steady = run(Spill(mass_flow=0.5, duration=600.0))
    timed = run(Spill(time=[0.0, 600.0], mass_flow=[0.5, 0.5]))
    assert timed.mass.tobytes() == steady.mass.tobytes()
    # a knot in between changes the rounding of the sums alone
    more = run(Spill(time=[0.0, 200.0, 600.0], mass_flow=0.5 * np.ones(3)))
    np.testing.assert_allclose(more.mass, steady.mass, rtol=1e-9, atol=1e-9)


def test_a_flow_that_falls_brings_its_integral():
    pool = run(Spill(time=[0.0, 300.0, 600.0], mass_flow=[1.0, 0.4, 0.0], temperature=[300.0, 280.0, 260.0]))
    assert pool.mass_spilled[-1] == pytest.approx(0.7 * 300.0 + 0.2 * 300.0, rel=1e-12)
    # the flash is smaller as the tank grows cold: between those of the first and the last liquid
    first, last = (run(Spill(mass=1.0, temperature=t)).flash_fraction for t in (300.0, 260.0))
    assert last < pool.flash_fraction < first
    assert pool.mass_imbalance < 1e-12


def test_scenarios_with_flows_of_their_own():
    times = np.array([[0.0, 100.0, 400.0], [0.0, 50.0, 900.0]])
    flows = np.array([[1.0, 0.5, 0.0], [0.2, 0.2, 0.2]])
    both = run(Spill(time=times, mass_flow=flows))
    for i in range(2):
        alone = run(Spill(time=times[i], mass_flow=flows[i]))
        assert alone.mass.tobytes() == both.mass[i].tobytes()
        assert alone.gone_at == both.gone_at[i]


def test_one_or_several_episodes_the_same_in_any_company():
    # the second scenario has only one episode and so another model of the ground than the first
    flows = np.array([[0.5, 0.5], [0.5, 0.0]])
    both = run(Spill.episodes(start=[0.0, 900.0], duration=[200.0, 200.0], mass_flow=flows), duration=1500.0)
    for i in range(2):
        alone = run(
            Spill.episodes(start=[0.0, 900.0], duration=[200.0, 200.0], mass_flow=flows[i]), duration=1500.0
        )
        assert alone.mass.tobytes() == both.mass[i].tobytes()
        assert alone.heat_from_ground.tobytes() == both.heat_from_ground[i].tobytes()


def test_too_many_episodes_for_the_nodes_are_refused():
    start = np.arange(10) * 100.0
    with pytest.raises(InputError, match="20 stretches between starts and ends of the feed need 224"):
        run(Spill.episodes(start=start, duration=50.0, mass_flow=0.1))


# -- layers ------------------------------------------------------------------------------------------


def test_layered_ground_of_one_material_is_that_material():
    layered = Ground.named("moist sand", thickness=0.1, below=Ground.named("moist sand"))
    one = run(Spill(mass=50.0), site=Hollow(area=2.0, depth=1.0))
    two = run(Spill(mass=50.0), site=Hollow(area=2.0, depth=1.0), ground=layered)
    # similarity solution against finite volumes: their stated half percent
    assert two.mass_evaporated[40] == pytest.approx(one.mass_evaporated[40], rel=0.005)
    assert two.heat_from_ground[-1] == pytest.approx(one.heat_from_ground[-1], rel=0.005)


def test_a_layer_of_stone_feeds_at_first_and_what_is_below_later():
    slab = Ground.named("concrete", thickness=0.05, below=Ground.named("dry sand"))
    stone, mixed, sand = (
        run(Spill(mass=2000.0), site=Hollow(area=2.0, depth=5.0), ground=g, duration=86400.0, nodes=121)
        for g in (Ground.named("concrete"), slab, Ground.named("dry sand"))
    )
    # the cold takes an hour through 5 cm of concrete
    early = np.searchsorted(stone.time, 600.0)
    assert mixed.heat_from_ground[early] == pytest.approx(stone.heat_from_ground[early], rel=0.01)
    assert sand.heat_from_ground[-1] < mixed.heat_from_ground[-1] < 0.6 * stone.heat_from_ground[-1]


# -- how long it stays ---------------------------------------------------------------------------------


def test_a_moment_lies_between_its_nodes():
    pool = run(Spill(mass_flow=np.array([0.2, 0.5]), duration=600.0))
    for j in (0, 7, 60):
        at = pool_at(pool, pool.time[0, j])
        assert at.mass == pytest.approx(pool.mass[:, j], rel=1e-9, abs=1e-9)
    middle = pool_at(pool, 0.5 * (pool.time[0, 20] + pool.time[0, 21]))
    assert middle.mass[0] == pytest.approx(0.5 * (pool.mass[0, 20] + pool.mass[0, 21]), rel=1e-9)
    assert middle.time_left[1] == pytest.approx(pool.gone_at[1] - middle.time[1])
    assert pool_at(pool, 1790.0).evaporation_rate[0] == 0.0
    with pytest.raises(OutOfRangeError, match="time = 1801 s"):
        pool_at(pool, 1801.0)
    with pytest.raises(InputError, match="no PoolHistory"):
        pool_at(1.0, 1.0)


def test_a_steady_pool_keeps_its_balance():
    fluxes = sustaining_feed(
        PROPANE, site=Hollow(area=np.array([0.5, 4.0, 100.0]), depth=0.5), ground=SAND, weather=MILD
    )
    gained = (
        fluxes.heat_flux_ground
        + fluxes.heat_flux_air
        + fluxes.heat_flux_longwave
        + fluxes.heat_flux_sun
        + fluxes.heat_flux_frost
    )
    now = PROPANE.saturation(temperature=fluxes.temperature)
    fed = PROPANE.saturation(temperature=PROPANE.normal_boiling_point).liquid_enthalpy
    np.testing.assert_allclose(
        gained, fluxes.mass_flux * (now.latent_heat + now.liquid_enthalpy - fed), rtol=1e-4
    )
    # a small pool needs more per area: its ground is fed from beside
    assert (np.diff(fluxes.mass_flux) < 0.0).all()


def test_a_steady_pool_takes_what_lands_of_the_feed_and_gives_it_all_as_vapor():
    area, share = np.array([0.5, 4.0]), 0.25
    need = sustaining_feed(
        PROPANE,
        site=Hollow(area=area, depth=0.5),
        ground=SAND,
        weather=MILD,
        temperature=290.0,
        captured_fraction=share,
    )
    flashed = flash(PROPANE, temperature=290.0).vapor_fraction
    np.testing.assert_allclose(need.landed_flow, need.mass_flux * area, rtol=1e-12)
    np.testing.assert_allclose(need.landed_flow, need.mass_flow * share * (1.0 - flashed), rtol=1e-6)


def test_each_heat_of_a_steady_pool_is_its_own_law():
    cover = Exposure(sun_share=0.5, sky_share=0.0, cover_temperature=260.0)
    radius = np.array([0.5, 3.0])
    need = sustaining_feed(
        PROPANE,
        site=Hollow(area=math.pi * radius * radius, depth=0.5, exposure=cover),
        ground=Ground(conductivity=1.5, density=1800.0, heat_capacity=900.0, temperature=285.0),
        weather=Weather(air_temperature=300.15, wind_speed=3.0, solar_irradiance=400.0),
    )
    T = need.temperature
    assert (np.abs(T - 200.0) < 30.0).all()
    # the disc on a half-space; the shares of sunshine and of a black cover's radiation that a liquid takes
    np.testing.assert_allclose(need.heat_flux_ground, 4.0 * 1.5 * (285.0 - T) / (math.pi * radius), rtol=1e-9)
    np.testing.assert_allclose(need.heat_flux_sun, 0.90 * 0.5 * 400.0, rtol=1e-12)
    np.testing.assert_allclose(need.heat_flux_longwave, 0.95 * 5.670374419e-8 * (260.0**4 - T**4), rtol=1e-9)
    assert (need.heat_flux_air > 0.0).all()
    assert (need.heat_flux_frost > 0.0).all()


def test_a_fuller_hollow_has_less_calm_vapor_to_shelter_its_pool():
    # butane on a mild day: it does not boil, so that what crosses the vapor counts
    fluid, weather = Fluid("n-butane"), Weather(air_temperature=285.0, wind_speed=3.0)
    site = Hollow(area=4.0, depth=0.5, exposure=Exposure(sun_share=0.0, vapor_fill=1.0))
    need = sustaining_feed(fluid, site=site, ground=SAND, weather=weather, level=[0.0, 0.3, 0.45, 0.5])
    assert (np.diff(need.heat_flux_air) > 0.0).all()
    assert (np.diff(need.mass_flow) > 0.0).all()
    assert (np.diff(need.temperature) < 0.0).all()


@pytest.mark.parametrize(("factor", "grows"), [(0.9, False), (1.15, True)])
def test_a_feed_above_the_steady_one_fills_the_hollow_and_one_below_does_not(factor, grows):
    ground = Ground.named("dry sand")
    weather = Weather(air_temperature=300.15, wind_speed=4.0)
    site = Hollow(area=1.0, depth=2.0)
    need = sustaining_feed(PROPANE, site=site, ground=ground, weather=weather)
    pool = pool_history(
        PROPANE,
        Spill(mass_flow=factor * need.mass_flow),
        ground=ground,
        weather=weather,
        site=site,
        duration=40 * 86400.0,
    )
    # after weeks, when the ground has little left of its own
    rising = np.diff(pool.mass)[-5:]
    assert (rising > 0.0).all() if grows else (pool.area[-1] < 1.0)
