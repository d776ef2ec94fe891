"""Tank histories with additions: balances, bounds and directions for any tank, vent and weather."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import few, finite

import lpgrelease as lr

NAMES = ("propane", "n-butane", "ammonia", "propylene")


@st.composite
def cases(draw: Any) -> dict[str, Any]:
    """Everything that `tank_history` takes, with something added."""
    diameter = draw(finite(0.6, 2.5))
    wall_mass = draw(finite(200.0, 3000.0))
    conductance = draw(st.sampled_from([None, 100.0]))
    flat = lr.HorizontalTank(
        diameter=diameter, length=draw(finite(1.0, 6.0)), wall_mass=wall_mass, heat_transfer=conductance
    )
    tank = draw(st.sampled_from([flat, lr.tilt(flat, pitch=0.1)]))
    top = float(tank.height)
    vent = lr.Opening(diameter=draw(finite(0.005, 0.06)), height=top)
    leak = lr.Opening(diameter=draw(finite(0.002, 0.02)), height=draw(finite(0.0, 0.5)) * top)
    valve = lr.ReliefValve(opening=lr.Opening(diameter=0.02, height=top), set_pressure=draw(finite(2e5, 1e6)))
    pad = draw(st.sampled_from([0.0, 0.0, 2e5]))
    wall = draw(st.sampled_from([None, lr.TankWall(), lr.TankWall(insulation=0.2, two_temperatures=False)]))
    fire = draw(st.sampled_from([None, lr.TankFire(environment_factor=0.02)]))
    contents = lr.Contents(
        tank,
        lr.Fluid(draw(st.sampled_from(NAMES))),
        fill=draw(finite(0.1, 0.9)),
        temperature=draw(finite(255.0, 305.0)),
        pad_pressure=pad,
    )
    return {
        "contents": contents,
        "openings": draw(st.sampled_from([[vent], [vent, leak], [valve], [valve, leak]])),
        "weather": lr.Weather(air_temperature=draw(finite(260.0, 310.0)), wind_speed=draw(finite(0.0, 10.0))),
        "wall": wall,
        "fire": fire,
        "duration": draw(finite(20.0, 900.0)),
        "stop": [lr.StopAt(gauge_pressure=draw(finite(700.0, 5e4)))],
    }


@given(cases())
def test_mass_and_energy_close_and_nothing_leaves_its_bounds(case):
    run = lr.tank_history(case.pop("contents"), points=9, **case)
    assert run.mass_imbalance < 1e-9
    assert run.energy_imbalance < 1e-9
    volume = float(run.final.tank.volume)
    assert (run.liquid_volume >= -1e-8 * volume).all()
    assert (run.liquid_volume <= volume * (1 + 1e-8)).all()
    assert (np.diff(run.time) >= 0.0).all()
    assert (run.mass_flow >= 0.0).all()
    assert (run.gas_mass >= 0.0).all()
    assert (np.diff(run.gas_mass) <= 1e-6 * volume).all()
    if case["wall"] is not None and case["wall"].two_temperatures:
        # no part is beyond what surrounds it, but by what a fire heats it
        coldest = np.minimum(run.temperature.min(), float(np.min(case["weather"].air_temperature))) - 15.0
        for name in ("vapor_temperature", "wet_wall_temperature", "dry_wall_temperature"):
            assert (getattr(run, name) > coldest).all(), name


@given(finite(260.0, 300.0), finite(0.2, 0.85), finite(0.05, 3.0), finite(1.5, 5.0))
def test_more_insulation_brings_less_heat(temperature, fill, resistance, more):
    tank = lr.SphericalTank(diameter=2.0, wall_mass=500.0)
    contents = lr.Contents(tank, lr.Fluid("propane"), fill=fill, temperature=temperature)
    wall = lr.TankWall(insulation=[resistance, more * resistance], two_temperatures=False)
    weather = lr.Weather(air_temperature=310.0)
    run = lr.tank_history(contents, weather=weather, wall=wall, duration=600.0, points=3)
    assert run.heat_gained[1, -1] < run.heat_gained[0, -1]


@given(finite(0.3, 0.85), finite(270.0, 300.0), finite(0.1, 0.9))
def test_what_is_pumped_out_is_gone(fill, temperature, share):
    tank = lr.SphericalTank(diameter=1.5, heat_transfer=50.0)
    contents = lr.Contents(tank, lr.Fluid("propane"), fill=fill, temperature=temperature)
    rate = share * float(contents.liquid_mass) / 1000.0
    run = lr.tank_history(contents, transfers=[lr.Transfer(mass_flow=-rate)], duration=600.0, points=3)
    assert run.stopped_by == "duration"
    left = run.liquid_mass + run.vapor_mass
    assert left[-1] == pytest.approx(left[0] - 600.0 * rate, rel=1e-9)


@st.composite
def warming_cases(draw: Any) -> dict[str, Any]:
    """A shut tank with a valve that a fire warms through its set pressure, or one that starts wide open."""
    tank = lr.HorizontalTank(diameter=draw(finite(0.8, 2.0)), length=4.0, wall_mass=800.0, heat_transfer=50.0)
    padded = draw(st.sampled_from([0.0, 0.0, 2e5]))
    contents = lr.Contents(
        tank,
        lr.Fluid(draw(st.sampled_from(NAMES))),
        fill=draw(finite(0.2, 0.85)),
        temperature=draw(finite(290.0, 305.0)),
        pad_pressure=padded,
    )
    warms = draw(st.booleans())
    gauge = float(contents.gauge_pressure())
    valve = lr.ReliefValve(
        opening=lr.Opening(diameter=draw(finite(0.01, 0.05)), height=tank.height),
        set_pressure=gauge * draw(finite(1.05, 1.5) if warms else finite(0.7, 0.85)),
        overpressure=draw(finite(0.01, 0.1)),
        blowdown=draw(finite(0.02, 0.2)),
    )
    first = float(contents.liquid_mass)
    stops = [
        [],
        [lr.StopAt(temperature=float(contents.temperature) + draw(finite(1.0, 5.0)))],
        [lr.StopAt(liquid_mass=draw(finite(0.9, 0.99)) * first)],
        [lr.StopAt(time=draw(finite(50.0, 200.0)))],
    ]
    return {
        "contents": contents,
        "openings": [valve],
        "wall": draw(st.sampled_from([None, lr.TankWall()])),
        "fire": lr.TankFire(environment_factor=draw(finite(0.05, 0.3))) if warms else None,
        "duration": draw(finite(600.0, 3600.0)),
        "stop": draw(st.sampled_from(stops)) if warms else [],
    }


def test_valves_open_from_below_and_reseat():
    seen = set()

    @few(60)
    @given(warming_cases())
    def check(case):
        valve = case["openings"][0]
        run = lr.tank_history(case.pop("contents"), points=33, **case)
        assert run.mass_imbalance < 1e-9
        assert run.energy_imbalance < 1e-9
        gauge, flow = run.pressure - 101325.0, run.mass_flow[0]
        opens, near = float(valve.set_pressure), 1e-6
        assert (flow[gauge > opens * (1 + near)] > 0.0).all()
        assert (flow[gauge < float(valve.reseat_pressure) * (1 - near)] == 0.0).all()
        below = np.maximum.accumulate(gauge) < opens * (1 - near)
        assert (flow[below] == 0.0).all()
        flows = flow > 0.0
        seen.add(str(run.stopped_by))
        if below[0] and flows.any():
            seen.add("opened")
        if (flows[:-1] & ~flows[1:]).any():
            seen.add("reseated")
            assert (gauge[1:][flows[:-1] & ~flows[1:]] < opens).all()

    check()
    assert seen >= {"opened", "reseated", "duration"}
    assert seen & {"temperature", "liquid mass", "time"}
