"""Tank histories: balances, bounds, directions and independence, for any tank, fluid, hole and weather."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import UNITS, few, finite

from lpgrelease import (
    Contents,
    Fluid,
    HorizontalTank,
    Opening,
    SphericalTank,
    VerticalTank,
    Weather,
    steady_hold,
    tank_history,
)

NAMES = ("propane", "propylene", "n-butane", "isobutane", "ammonia", "dimethyl ether", "1-butene")


def array(draw: Any, n: int, low: float, high: float) -> Any:
    return np.array([draw(finite(low, high)) for _ in range(n)])


@st.composite
def cases(draw: Any, most: int = 3, fewest: int = 0, longest: float = 400.0) -> dict[str, Any]:
    """Everything that `tank_history` takes, for one to four scenarios; lasting `longest` at most [s]."""
    n = draw(st.integers(1, 4))
    wall = {
        "wall_mass": draw(st.sampled_from([0.0, 700.0])),
        "heat_transfer": draw(st.sampled_from([None, 0.0, 60.0, 700.0])),
    }
    diameter = array(draw, n, 0.5, 3.0)
    kind = draw(st.sampled_from([HorizontalTank, VerticalTank, SphericalTank]))
    size = (
        {}
        if kind is SphericalTank
        else {
            "length": draw(finite(0.5, 10.0)),
            "heads": draw(st.sampled_from(["elliptical", "flat", "hemispherical"])),
        }
    )
    tank = kind(diameter=diameter, **size, **wall)
    openings = [
        Opening(diameter=draw(finite(1e-3, 0.08)), height=draw(finite(0.0, 1.0)) * tank.height)
        for _ in range(draw(st.integers(fewest, most)))
    ]
    weather = Weather(
        air_temperature=array(draw, n, 240.0, 320.0),
        wind_speed=draw(finite(0.0, 15.0)),
        solar_irradiance=draw(finite(0.0, 900.0)),
        ambient_pressure=draw(finite(6e4, 1.05e5)),
    )
    fluid = Fluid(draw(st.sampled_from(NAMES)))
    contents = Contents(
        tank, fluid, fill=array(draw, n, 0.02, 0.98), temperature=array(draw, n, 230.0, 320.0)
    )
    limits = draw(
        st.sampled_from(
            [
                {},
                {"duration": draw(finite(10.0, longest))},
                {"stop_at_gauge_pressure": draw(finite(0.0, 2e5)), "duration": draw(finite(10.0, longest))},
            ]
        )
    )
    if not limits:
        limits = {"stop_at_gauge_pressure": draw(finite(500.0, 2e5)), "duration": longest}
    return {"contents": contents, "openings": openings, "weather": weather} | limits


def run_of(case, **changes):
    given_ = case | changes
    return tank_history(given_.pop("contents"), points=9, **given_)


@few(25)
@given(cases())
def test_mass_and_energy_close_and_nothing_leaves_its_bounds(case):
    run = run_of(case)
    contents, tank = case["contents"], case["contents"].tank
    s = contents.fluid.saturation(
        temperature=np.clip(run.temperature, contents.fluid.lowest_temperature, None)
    )
    released = run.mass_released.sum(axis=-2)
    mass = run.liquid_mass + run.vapor_mass
    np.testing.assert_allclose(mass + released, mass[..., :1] * np.ones_like(mass), rtol=1e-12)
    volume = np.broadcast_to(tank.volume, mass.shape[:-1])[..., None] * np.ones_like(mass)
    np.testing.assert_allclose(
        run.liquid_mass / s.liquid_density + run.vapor_mass / s.vapor_density, volume, rtol=1e-12
    )
    wall = np.asarray(tank.wall_mass * tank.wall_heat_capacity)[..., None]
    energy = (
        run.liquid_mass * s.liquid_internal_energy
        + run.vapor_mass * s.vapor_internal_energy
        + wall * run.temperature
    )
    gap = energy - energy[..., :1] - run.heat_gained + run.enthalpy_released
    largest = mass[..., :1] * s.latent_heat[..., :1] + np.abs(run.enthalpy_released).max() + wall * 300.0
    assert (np.abs(gap) <= 1e-12 * largest).all()
    assert (run.energy_imbalance < 1e-12).all()
    assert (run.mass_imbalance < 1e-12).all()
    # bounds: no phase is negative, nothing flows back, time runs forward
    assert (run.liquid_volume >= -1e-12 * volume).all()
    assert (run.liquid_volume <= volume * (1 + 1e-12)).all()
    assert (run.mass_flow >= 0.0).all()
    assert (np.diff(run.mass_released, axis=-1) >= -1e-7 * mass[..., None, :1]).all()
    assert (np.diff(run.time, axis=-1) >= 0.0).all()
    assert (run.time[..., -1] <= case["duration"] * (1 + 1e-12)).all()
    np.testing.assert_allclose(run.pressure, s.pressure, rtol=1e-12)


@st.composite
def slow_cases(draw: Any) -> dict[str, Any]:
    """Cases that come to rest, or warm until liquid fills the tank; of one scenario to three."""
    n = draw(st.integers(1, 3))
    fills = draw(st.booleans())
    tank = HorizontalTank(
        diameter=array(draw, n, 0.5, 2.0),
        length=4.0,
        wall_mass=draw(st.sampled_from([0.0, 700.0])),
        heat_transfer=draw(finite(60.0, 700.0)),
    )
    vent = Opening(diameter=draw(finite(1e-3, 6e-3)), height=tank.height)
    fill = array(draw, n, 0.96, 0.995) if fills else array(draw, n, 0.3, 0.9)
    start = array(draw, n, 245.0, 270.0) if fills else array(draw, n, 240.0, 320.0)
    return {
        "contents": Contents(tank, Fluid(draw(st.sampled_from(NAMES))), fill=fill, temperature=start),
        "openings": [] if fills else [vent],
        "weather": Weather(air_temperature=array(draw, n, 305.0, 320.0)),
        "stop_at_gauge_pressure": 2e6 if fills else draw(finite(100.0, 3e4)),
        "duration": 3e6,
    }


def test_every_end_is_what_it_says():
    seen = set()

    @given(st.one_of(cases(), slow_cases()))
    def check(case):
        run = run_of(case)
        an_end_is_what_it_says(case, run)
        seen.update(run.stopped_by.ravel().tolist())

    check()
    assert seen >= {"gauge pressure", "duration", "liquid gone", "liquid full", "settled"}


def an_end_is_what_it_says(case, run):
    ambient = case["weather"].ambient_pressure
    for i in np.ndindex(run.stopped_by.shape):
        why, last = run.stopped_by[i], (*i, -1)
        if why == "gauge pressure":
            # the event is located to 1e-6 K, at most 3e-8 of the pressure each
            assert run.pressure[last] - ambient == pytest.approx(
                case["stop_at_gauge_pressure"], abs=2e-7 * run.pressure[last]
            )
        elif why == "duration":
            assert run.time[last] == pytest.approx(case["duration"], rel=1e-12)
        elif why == "liquid gone":
            assert run.liquid_volume[last] <= 1e-8 * run.liquid_volume[i].max() + 1e-9 * 100.0
        elif why == "liquid full":
            assert run.vapor_mass[last] <= 1e-6 * run.liquid_mass[last]
        else:
            assert why == "settled"
            assert np.isfinite(run.plateau_pressure[i])
            assert run.pressure[last] == pytest.approx(float(run.plateau_pressure[i]), rel=1e-4)
            stays_at_its_plateau(case, run, i)
        assert (why == "settled") == np.isfinite(run.plateau_pressure[i])


def stays_at_its_plateau(case, run, i):
    """What boils off there is what the heat boils off; where nothing leaves, no heat comes."""
    gauge = float(run.plateau_pressure[i] - case["weather"].ambient_pressure)
    leaves = float(run.mass_flow[(*i, slice(None), -1)].sum())
    assert not run.passes_liquid[(*i, slice(None), -1)].any() or leaves == 0.0
    if gauge > 0.0:
        hold = steady_hold(case["contents"], weather=case["weather"], gauge_pressure=gauge)
        rate = float(np.broadcast_to(hold.vapor_rate, run.stopped_by.shape)[i])
        # a plateau is one within 0.01 K; 1e-3 of what boils, and what 0.01 K of the tank's heat would be
        assert leaves == pytest.approx(rate, rel=2e-3, abs=1e-5)


@given(cases(most=2))
def test_alone_or_in_company_to_the_bit(case):
    run, contents = run_of(case), case["contents"]
    tank, weather = contents.tank, case["weather"]
    i = contents.fill.size - 1
    fields = {"diameter": tank.diameter[i], "wall_mass": tank.wall_mass, "heat_transfer": tank.heat_transfer}
    if not isinstance(tank, SphericalTank):
        fields |= {"length": tank.length, "heads": tank.heads}
    alone = run_of(
        case,
        contents=Contents(
            type(tank)(**fields), contents.fluid, fill=contents.fill[i], temperature=contents.temperature[i]
        ),
        openings=[Opening(diameter=o.diameter, height=o.height[i]) for o in case["openings"]],
        weather=Weather(
            air_temperature=weather.air_temperature[i],
            wind_speed=weather.wind_speed,
            solar_irradiance=weather.solar_irradiance,
            ambient_pressure=weather.ambient_pressure,
        ),
    )
    for name in (
        "time",
        "pressure",
        "temperature",
        "liquid_mass",
        "vapor_mass",
        "mass_flow",
        "mass_released",
    ):
        assert (getattr(alone, name) == getattr(run, name)[i]).all(), name
    assert alone.stopped_by == run.stopped_by[i]


@given(finite(255.0, 315.0), finite(0.2, 0.9), finite(0.02, 0.06), finite(1.05, 2.0))
def test_a_larger_vent_is_sooner_done_and_without_heat_leaves_the_same(temperature, fill, diameter, larger):
    tank = SphericalTank(diameter=2.0, heat_transfer=0.0)
    contents = Contents(tank, Fluid("propane"), fill=fill, temperature=temperature)
    vent = Opening(diameter=[diameter, larger * diameter], height=2.0)
    run = tank_history(contents, openings=[vent], stop_at_gauge_pressure=2e3)
    # adiabatic venting ends with the same mass whatever the vent, and takes its time as one over the area
    np.testing.assert_allclose(run.liquid_mass[0, -1], run.liquid_mass[1, -1], rtol=1e-9)
    assert run.time[0, -1] / run.time[1, -1] == pytest.approx(larger**2, rel=1e-9)


@given(finite(255.0, 315.0), finite(0.2, 0.9), finite(5.0, 200.0), finite(1.1, 5.0))
def test_more_heat_and_more_wall_take_longer_and_boil_more(temperature, fill, conductance, more):
    air = Weather(air_temperature=320.0)
    for wall, heat in (([0.0, 500.0], conductance), (500.0, [conductance, more * conductance])):
        tank = SphericalTank(diameter=2.0, wall_mass=wall, heat_transfer=heat)
        contents = Contents(tank, Fluid("propane"), fill=fill, temperature=temperature)
        vent = Opening(diameter=0.05, height=2.0)
        run = tank_history(contents, openings=[vent], weather=air, stop_at_gauge_pressure=3e4)
        assert (run.stopped_by == "gauge pressure").all()
        assert run.time[1, -1] > run.time[0, -1]
        assert run.mass_released[1, 0, -1] > run.mass_released[0, 0, -1]


@given(finite(240.0, 310.0), finite(0.1, 0.8), finite(250.0, 320.0))
def test_a_shut_tank_goes_toward_the_air_and_never_past_it(temperature, fill, air):
    tank = SphericalTank(diameter=1.5, wall_mass=400.0, heat_transfer=100.0)
    contents = Contents(tank, Fluid("propane"), fill=fill, temperature=temperature)
    run = tank_history(contents, weather=Weather(air_temperature=air), duration=2e4)
    toward = np.sign(air - temperature)
    assert (toward * np.diff(run.temperature) >= -1e-9).all()
    assert (toward * (air - run.temperature) >= -1e-6).all()


@given(finite(240.0, 310.0), finite(0.1, 0.9), finite(100.0, 2000.0))
def test_any_units(temperature, fill, seconds):
    vent = Opening(diameter=0.02, height=1.0)
    tank = SphericalTank(diameter=1.5, heat_transfer=100.0)
    si = tank_history(
        Contents(tank, Fluid("propane"), fill=fill, temperature=temperature),
        openings=[vent],
        stop_at_gauge_pressure=5e3,
        duration=seconds,
    )
    other = tank_history(
        Contents(
            SphericalTank(diameter=UNITS.Quantity(1.5, "m").to("ft"), heat_transfer=100.0),
            Fluid("propane"),
            fill=UNITS.Quantity(100.0 * fill, "percent"),
            temperature=UNITS.Quantity(temperature, "K").to("degF"),
        ),
        openings=[vent],
        stop_at_gauge_pressure=UNITS.Quantity(5e3, "Pa").to("psi"),
        duration=UNITS.Quantity(seconds, "s").to("hour"),
    )
    assert other.stopped_by == si.stopped_by
    assert other.temperature[-1] == pytest.approx(float(si.temperature[-1]), abs=1e-6)
    assert other.liquid_mass[-1] == pytest.approx(float(si.liquid_mass[-1]), rel=1e-8)
