"""Pools that burn: what is refused, shapes, one case against many, exact burn-off."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from lpgrelease.burning import burning_flux_babrauskas, burning_line
from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.fluids import Fluid
from lpgrelease.ground import Ground
from lpgrelease.pool import Hollow, PoolHistory, Spill, pool_at, pool_history
from lpgrelease.weather import Weather

PROPANE = Fluid("propane")
BLEND = Fluid({"propane": 0.6, "n-butane": 0.4})
SAND = Ground.named("moist sand")
LAYERS = Ground.named("concrete", thickness=0.1, below=SAND)
BOILING = float(PROPANE.normal_boiling_point)
WIDE = Hollow(area=400.0, depth=2.0)


def run(spill: Spill, fluid: Fluid = PROPANE, **changes) -> PoolHistory:
    arguments = {
        "ground": SAND,
        "weather": Weather(air_temperature=300.15, wind_speed=3.0),
        "duration": 7200.0,
    }
    return pool_history(fluid, spill, **(arguments | changes))


def test_what_cannot_burn_is_refused():
    with pytest.raises(OutOfRangeError, match="ignited_at = -1 s"):
        run(Spill(mass=1.0), ignited_at=-1.0)
    with pytest.raises(InputError, match="burning must be one of babrauskas"):
        run(Spill(mass=1.0), ignited_at=0.0, burning="fast")
    with pytest.raises(InputError, match="burning must be one of babrauskas"):
        run(Spill(mass=1.0), burning="fast")
    with pytest.raises(InputError, match="ammonia hardly burns"):
        run(Spill(mass=1.0), Fluid("ammonia"), ignited_at=0.0)
    with pytest.raises(InputError, match=r"shapes do not broadcast: .*ignited_at"):
        run(Spill(mass=[1.0, 2.0]), ignited_at=[0.0, 1.0, 2.0])


def test_a_pool_that_is_never_lit_is_the_pool_without_a_flame():
    plain, never = run(Spill(mass=200.0)), run(Spill(mass=200.0), ignited_at=1e9)
    for field in dataclasses.fields(PoolHistory):
        one, other = getattr(plain, field.name), getattr(never, field.name)
        if isinstance(one, np.ndarray):
            np.testing.assert_array_equal(one, other, err_msg=field.name)
    assert not plain.mass_burned.any()


@pytest.mark.parametrize("fluid", [PROPANE, BLEND], ids=["pure", "blend"])
@pytest.mark.parametrize(
    "ground", [SAND, Ground.named("concrete", thickness=0.1, below=SAND)], ids=["", "two"]
)
def test_a_burning_pool_alone_is_that_of_its_batch(fluid, ground):
    lit = np.array([0.0, 200.0, 900.0, 2000.0, 1e9])
    spill = Spill(mass_flow=1.0, duration=900.0)
    whole = run(spill, fluid, ignited_at=lit, ground=ground)
    for i in range(lit.size):
        alone = run(spill, fluid, ignited_at=lit[i], ground=ground)
        for field in dataclasses.fields(PoolHistory):
            one = getattr(alone, field.name)
            if isinstance(one, np.ndarray):
                np.testing.assert_array_equal(one, getattr(whole, field.name)[i], err_msg=field.name)


@pytest.mark.parametrize("wind", [0.0, 12.0])
def test_over_ground_that_gives_nothing_a_pool_burns_off_at_its_published_rate(wind):
    # vacuum for ground: all heat is the flame's, and m'' S is steady in a hollow with upright sides
    nothing = Ground(conductivity=1e-9, density=1000.0, heat_capacity=1000.0, minimum_depth=1e-4)
    mass = 10e3
    spill = Spill(mass=mass, temperature=BOILING)
    weather = Weather(air_temperature=300.15, wind_speed=wind)
    pool = run(spill, site=WIDE, ground=nothing, weather=weather, ignited_at=0.0, nodes=121)
    (latent,) = PROPANE.saturated(np.array(BOILING), "latent_heat")
    diameter = np.sqrt(4.0 * 400.0 / np.pi)
    flux = burning_flux_babrauskas(diameter, *burning_line(PROPANE, latent, "babrauskas"))
    # spreading over the floor first takes a few seconds of two hundred
    assert pool.gone_at == pytest.approx(mass / (flux * 400.0), rel=0.03)
    full = (pool.area > 399.0) & (pool.mass > 0.1 * mass)
    assert np.count_nonzero(full) > 30
    assert pool.burning_rate[full][1:] == pytest.approx(flux * 400.0, rel=1e-3)
    assert pool.mass_burned[-1] == pytest.approx(mass, rel=1e-12)
    # what little the film still carries in wind cools the liquid
    assert pool.temperature[full] == pytest.approx(BOILING, abs=0.2)


def test_the_ground_feeds_the_fire():
    # burned = m'' S t + 2 A S sqrt(t) / L while the liquid boils on ground that was wetted at once
    area, mass = 100.0, 5000.0
    ground = Ground(
        conductivity=2.0, density=1800.0, heat_capacity=1200.0, minimum_depth=1e-4, temperature=300.0
    )
    spill = Spill(mass=mass, temperature=BOILING)
    pool = run(
        spill, site=Hollow(area=area, depth=2.0), ground=ground, ignited_at=0.0, nodes=121, contact="perfect"
    )
    (latent,) = PROPANE.saturated(np.array(BOILING), "latent_heat")
    diameter = np.sqrt(4.0 * area / np.pi)
    flux = burning_flux_babrauskas(diameter, *burning_line(PROPANE, latent, "babrauskas"))
    A = float(ground.heat_coefficient(BOILING))
    late = (pool.time > 60.0) & (pool.mass > 0.0)
    t = pool.time[late]
    ground_gave = 2.0 * A * area * np.sqrt(t) / latent
    # spreading takes two or three seconds; heat from beside adds less than 1 % of the ground's
    assert pool.mass_burned[late] == pytest.approx(flux * area * t + ground_gave, rel=0.02)
    assert ground_gave[-1] > 0.1 * mass


def test_vapor_before_the_light_drifts_and_after_it_burns():
    pool = run(Spill(mass=500.0), site=Hollow(area=10.0, depth=1.0), ignited_at=600.0)
    before = pool.time <= 600.0
    assert pool.time[before][-1] == 600.0
    assert not pool.mass_burned[before].any()
    assert (pool.mass_evaporated[~before] == pool.mass_evaporated[before][-1]).all()
    assert (pool.burning_rate[before] == 0.0).all()
    assert (pool.evaporation_rate[~before] == 0.0).all()
    for heat in ("heat_from_air", "heat_from_longwave", "heat_from_sun", "heat_from_frost"):
        assert (getattr(pool, heat)[~before] == getattr(pool, heat)[before][-1]).all()
    assert pool.cautions[-1].startswith("A pool is never lit before")
    assert "babrauskas1983burning" in pool.provenance.sources
    now = pool_at(pool, 650.0)
    assert now.burning_rate > 0.5
    assert now.evaporation_rate == 0.0


def test_a_fed_pool_that_burns_all_at_once_shows_the_area_that_takes():
    pool = run(Spill(mass_flow=1.0, duration=3600.0, temperature=BOILING), ignited_at=900.0)
    late = (pool.time > 2000.0) & (pool.time < 3600.0)
    assert (pool.mass[late] == 0.0).all()
    assert pool.burning_rate[late] == pytest.approx(1.0, rel=1e-9)
    flux = pool.burning_rate[late] / pool.area[late]
    # the flame's rate, and a little from the ground
    assert (flux > 0.09).all()
    assert (flux < 0.15).all()


def test_components_that_burn_are_counted():
    pool = run(Spill(mass=500.0), BLEND, site=Hollow(area=10.0, depth=1.0), ignited_at=[100.0, 2000.0])
    total = (
        pool.component_mass + pool.component_evaporated + pool.component_burned + pool.component_overflowed
    )
    np.testing.assert_allclose(total[..., 1:], total[..., :1] + 0.0 * total[..., 1:], rtol=1e-12)
    np.testing.assert_allclose(pool.component_burned.sum(axis=-2), pool.mass_burned, rtol=1e-12)
    assert pool.energy_imbalance.max() < 1e-12
