"""What must hold for every pool: balances, bounds, monotone directions, limits, convergence."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import finite

from lpgrelease.fluids import Fluid
from lpgrelease.ground import Ground
from lpgrelease.pool import Basin, Exposure, Hollow, OpenGround, PoolHistory, Spill, pool_history
from lpgrelease.weather import Weather

FLUIDS = ("propane", "n-butane", "isobutane", "propylene", "dimethyl ether", "isopentane")
FALL = np.array([1.0, 0.4, 0.0])
FEW = settings(deadline=None, max_examples=15)


@st.composite
def grounds(draw: st.DrawFn) -> Ground:
    return Ground(
        conductivity=draw(finite(0.1, 3.0)),
        density=draw(finite(1400.0, 2300.0)),
        heat_capacity=draw(finite(1000.0, 1600.0)),
        water_mass_fraction=draw(finite(0.0, 0.25)),
        minimum_depth=draw(finite(0.003, 0.03)),
        temperature=draw(finite(255.0, 320.0)),
    )


@st.composite
def weathers(draw: st.DrawFn) -> Weather:
    return Weather(
        air_temperature=draw(finite(250.0, 315.0)),
        wind_speed=draw(finite(0.0, 15.0)),
        relative_humidity=draw(finite(0.0, 1.0)),
        solar_irradiance=draw(finite(0.0, 1000.0)),
        cloud_cover=draw(finite(0.0, 1.0)),
        ambient_pressure=draw(finite(65e3, 105e3)),
    )


@st.composite
def spills(draw: st.DrawFn) -> Spill:
    # nothing, or not so little that its heat is below the smallest normal numbers
    captured = draw(st.one_of(st.just(0.0), finite(1e-9, 1.0)))
    common = {"temperature": draw(finite(250.0, 310.0)), "captured_fraction": captured}
    kind = draw(st.sampled_from(["at once", "steady", "falling", "twice"]))
    if kind == "at once":
        return Spill(mass=draw(finite(0.01, 1e5)), **common)
    if kind == "falling":
        end = draw(finite(10.0, 1e5))
        return Spill(time=[0.0, 0.3 * end, end], mass_flow=draw(finite(1e-3, 50.0)) * FALL, **common)
    if kind == "twice":
        start, length = draw(finite(60.0, 1e4)), draw(finite(1.0, 50.0))
        flow = draw(finite(1e-3, 50.0))
        return Spill.episodes(start=[0.0, start], duration=[length, length], mass_flow=flow, **common)
    return Spill(mass_flow=draw(finite(1e-4, 100.0)), duration=draw(finite(1.0, 1e5)), **common)


shares = finite(0.0, 1.0)
exposures = st.builds(
    Exposure,
    wind_share=shares,
    sun_share=shares,
    sky_share=shares,
    cover_temperature=finite(240.0, 320.0),
    vapor_fill=shares,
    precipitation=finite(0.0, 0.005),
)
sites = st.one_of(
    st.just(OpenGround()),
    st.builds(Hollow, area=finite(0.1, 1e3), depth=finite(0.005, 3.0), exposure=exposures),
    st.builds(Basin.pit, area=finite(0.1, 1e3), depth=finite(0.005, 3.0), exposure=exposures),
    st.builds(lambda d, e: Basin.bowl(diameter=d, depth=0.2 * d, exposure=e), finite(0.2, 30.0), exposures),
)


@FEW
@given(st.sampled_from(FLUIDS), spills(), grounds(), weathers(), sites, finite(10.0, 1e6))
def test_books_close_and_bounds_hold(name, spill, ground, weather, site, duration):
    fluid = Fluid(name)
    pool = pool_history(fluid, spill, ground=ground, weather=weather, site=site, duration=duration, nodes=61)
    out = pool.mass_flashed + pool.mass_airborne + pool.mass + pool.mass_evaporated + pool.mass_overflowed
    np.testing.assert_allclose(out, pool.mass_spilled, rtol=0.0, atol=1e-12 * pool.mass_spilled[-1])
    assert pool.mass_imbalance < 1e-12
    assert pool.energy_imbalance < 1e-10
    boiling = fluid.saturation(pressure=weather.ambient_pressure).temperature
    assert pool.temperature.max() <= max(boiling, 0.0) * (1.0 + 1e-12)
    assert pool.temperature.min() > 150.0
    for field in ("mass", "area", "depth", "evaporation_rate", "radius"):
        values = getattr(pool, field)
        assert np.isfinite(values).all()
        # a first step of microseconds under tons of liquid holds only rounding
        assert values.min() >= -1e-9 * max(values.max(), 1.0)
    if isinstance(site, Hollow):
        assert pool.area.max() <= site.area * (1.0 + 1e-12)
        # liquid that has not reached the rim yet may stand higher
        full = pool.area >= site.area * (1.0 - 1e-12)
        assert pool.depth[full].max(initial=0.0) <= site.depth * (1.0 + 1e-9)
    if pool.gone_at < np.inf:
        assert pool.mass[-1] == 0.0
        assert pool.gone_at <= duration
    else:
        # a feed that goes on may boil off as it lands
        last = spill.duration if spill.time is None else spill.time[-1]
        fed_on = last is not None and last >= duration
        assert pool.mass[-1] > 0.0 or fed_on


def hollow_pool(**changes) -> PoolHistory:
    ground = {
        "conductivity": 1.0,
        "density": 1800.0,
        "heat_capacity": 1200.0,
        "temperature": 290.0,
    } | changes.pop("ground", {})
    weather = {"air_temperature": 290.0, "wind_speed": 3.0} | changes.pop("weather", {})
    return pool_history(
        Fluid("propane"),
        Spill(mass=400.0, temperature=280.0),
        ground=Ground(**ground),
        weather=Weather(**weather),
        site=Hollow(area=5.0, depth=1.0),
        duration=3600.0,
        nodes=61,
    )


def rises(values) -> bool:
    return bool((np.diff(values) > 0.0).all())


def test_hotter_ground_evaporates_faster():
    pool = hollow_pool(ground={"temperature": np.linspace(265.0, 320.0, 12)})
    assert rises(pool.mass_evaporated[:, 20])


def test_moister_ground_evaporates_faster():
    # latent heat alone, at equal conductivity
    pool = hollow_pool(ground={"water_mass_fraction": np.linspace(0.0, 0.2, 11), "frozen_conductivity": 1.0})
    assert rises(pool.mass_evaporated[:, 20])


def test_better_conducting_ground_evaporates_faster():
    assert rises(hollow_pool(ground={"conductivity": np.geomspace(0.1, 3.0, 9)}).mass_evaporated[:, 20])


def test_wind_cools_the_pool_and_empties_it():
    pool = hollow_pool(weather={"wind_speed": np.array([0.0, 0.5, 1.0, 2.0, 5.0, 10.0])})
    assert rises(-pool.temperature[:, 30])
    assert rises(pool.mass_evaporated[:, 30])


def test_warmer_air_sun_and_cloud_empty_the_pool():
    for weather in (
        {"air_temperature": np.linspace(260.0, 310.0, 6)},
        {"solar_irradiance": np.linspace(0.0, 1000.0, 6)},
        {"cloud_cover": np.linspace(0.0, 1.0, 6)},
    ):
        pool = hollow_pool(weather=weather)
        assert rises(pool.temperature[:, -1])
        # at first the film governs, and warmer air makes it thinner; after an hour the heat does
        assert rises(pool.mass_evaporated[:, -1])


def test_thinner_air_lowers_the_boiling_point():
    pool = hollow_pool(weather={"ambient_pressure": np.linspace(65e3, 105e3, 5)})
    assert rises(pool.landing_temperature)
    assert rises(-pool.flash_fraction)


def test_deeper_relief_makes_a_smaller_longer_pool():
    pool = pool_history(
        Fluid("propane"),
        Spill(mass_flow=0.5, duration=600.0),
        ground=Ground.named("moist sand", minimum_depth=np.array([0.005, 0.01, 0.015, 0.02])),
        duration=3600.0,
        nodes=61,
    )
    assert rises(-pool.radius.max(axis=-1))
    assert rises(pool.gone_at)


def test_what_is_not_captured_is_as_if_less_had_been_spilled():
    captured = np.array([0.05, 0.3, 0.77, 1.0])
    arguments = {"ground": Ground.named("clay"), "duration": 900.0, "nodes": 41}
    some = pool_history(Fluid("propane"), Spill(mass=50.0, captured_fraction=captured), **arguments)
    less = pool_history(Fluid("propane"), Spill(mass=50.0 * captured), **arguments)
    np.testing.assert_allclose(some.mass, less.mass, rtol=1e-9, atol=1e-12)


def test_a_pool_dries_from_the_outside_in():
    pool = pool_history(
        Fluid("propane"),
        Spill(mass_flow=0.5, duration=900.0),
        ground=Ground.named("moist sand"),
        duration=3600.0,
        nodes=201,
    )
    after = pool.time > 900.0
    assert (np.diff(pool.area[~after]) >= 0.0).all()
    assert (np.diff(pool.area[after]) <= 1e-12).all()
    shrinking = pool.area[after][(pool.area[after] > 0.0)]
    assert len(np.unique(shrinking)) > 10


CASES = {
    "fed": (Spill(mass_flow=0.5, duration=900.0), "propane", OpenGround(), 3600.0),
    "at once": (Spill(mass=200.0), "propane", OpenGround(), 3600.0),
    "deep": (Spill(mass=2000.0), "propane", Hollow(area=4.0, depth=0.5), 4 * 86400.0),
    "ammonia": (Spill(mass_flow=2.0, duration=600.0), "ammonia", OpenGround(), 7200.0),
    "cold butane": (Spill(mass=200.0, temperature=263.15), "n-butane", OpenGround(), 3600.0),
}


@pytest.mark.parametrize("case", CASES)
def test_nodes_converge(case):
    spill, name, site, duration = CASES[case]

    def run(nodes: int) -> PoolHistory:
        return pool_history(
            Fluid(name),
            spill,
            ground=Ground.named("moist sand"),
            weather=Weather(air_temperature=283.15, wind_speed=3.0),
            site=site,
            duration=duration,
            nodes=nodes,
        )

    fine, usual = run(641), run(61)
    # the default of 61 nodes: 2 % in the time it is gone, 0.5 % in the widest radius
    assert usual.gone_at == pytest.approx(fine.gone_at, rel=0.02)
    assert usual.radius.max() == pytest.approx(fine.radius.max(), rel=0.005)
    middle = 0.4 * fine.gone_at
    assert np.interp(middle, usual.time, usual.mass) == pytest.approx(
        np.interp(middle, fine.time, fine.mass), rel=0.02
    )


@pytest.mark.parametrize("case", CASES)
def test_the_life_of_a_pool_does_not_hang_on_how_long_it_is_watched(case):
    spill, name, site, _ = CASES[case]
    lives = [
        pool_history(
            Fluid(name),
            spill,
            ground=Ground.named("moist sand"),
            weather=Weather(air_temperature=283.15, wind_speed=3.0),
            site=site,
            duration=duration,
        ).gone_at
        for duration in (86400.0, 4 * 86400.0, 20 * 86400.0)
    ]
    # 2 % each is what the nodes give
    assert lives[1] == pytest.approx(lives[0], rel=0.02)
    assert lives[2] == pytest.approx(lives[0], rel=0.02)
