"""Tank histories against CoolProp in a general ODE solver, and against quadratures of CoolProp's functions.

Nothing here is our own output: `direct_coolprop` shares no code with the package.
"""

from __future__ import annotations

import math

import direct_coolprop
import numpy as np
import pytest

from lpgrelease import (
    Contents,
    Fluid,
    HorizontalTank,
    Opening,
    SphericalTank,
    VerticalTank,
    Weather,
    tank_history,
)

ATMOSPHERE = 101325.0
GALLON = 231 * 0.0254**3
"""US gallon [m3], exact."""
AIR = 293.15


def sphere(volume, **wall):
    return SphericalTank(diameter=(6.0 * volume / math.pi) ** (1.0 / 3.0), **wall)


def upright(volume, diameter, **wall):
    """A flat-ended upright cylinder: its level is volume over area, so the direct solution needs no shape."""
    return VerticalTank(diameter=diameter, length=volume / (math.pi / 4 * diameter**2), heads="flat", **wall)


def compare(run, direct, *, kelvin=1e-4, share=1e-6):
    """Temperatures to `kelvin`, masses to `share` of that at the start; time at the end to 5e-6.

    The direct solution's own tolerance is 1e-8 per step, which leaves a few 1e-7 in the time.
    """
    start = run.liquid_mass[0] + run.vapor_mass[0]
    np.testing.assert_allclose(run.time[-1], direct.time[-1], rtol=5e-6)
    np.testing.assert_allclose(run.temperature, direct.temperature, atol=kelvin, rtol=0)
    np.testing.assert_allclose(run.pressure, direct.pressure, rtol=0.05 * kelvin)
    np.testing.assert_allclose(run.liquid_mass, direct.liquid_mass, atol=share * start, rtol=0)
    np.testing.assert_allclose(run.vapor_mass, direct.vapor_mass, atol=share * start, rtol=0)
    np.testing.assert_allclose(run.mass_released, direct.released_mass, atol=share * start, rtol=0)
    largest = direct.mass_flow.max(axis=1, keepdims=True)
    np.testing.assert_allclose(run.mass_flow / largest, direct.mass_flow / largest, atol=2e-5, rtol=0)


# -- adiabatic venting: quadratures ---------------------------------------------------------------------

VOLUME, DIAMETER, COEFFICIENT = 1000 * GALLON, 0.0508, 0.85


def adiabatic(stop_pressure, **options):
    tank = sphere(VOLUME, heat_transfer=0.0)
    vent = Opening(diameter=DIAMETER, discharge_coefficient=COEFFICIENT, height=tank.height)
    contents = Contents(tank, Fluid("propane"), fill=0.8, temperature=293.15)
    gauge = np.asarray(stop_pressure) - ATMOSPHERE
    return tank_history(contents, openings=[vent], stop_at_gauge_pressure=gauge, **options)


def test_adiabatic_venting_check_values():
    """Propane, 20 degC, 1,000 US gal, 80 % full, no wall, 50.8 mm, Cd 0.85; an independent computation."""
    run = adiabatic([1.5e5, 1.02e5])
    # 2e-7: the printed digits of the times; the masses have seven and five digits
    np.testing.assert_allclose(run.time[:, -1], [238.98904, 360.70754], rtol=2e-7)
    assert run.mass_released[1, 0, -1] == pytest.approx(495.193, abs=2e-3)
    assert run.liquid_mass[1, -1] == pytest.approx(1027.934, abs=2e-3)
    assert run.temperature[1, -1] == pytest.approx(231.18685, abs=2e-5)


@pytest.mark.parametrize("name", ["propane", "n-butane", "ammonia"])
@pytest.mark.parametrize("wall_mass", [0.0, 900.0])
def test_adiabatic_mass_is_the_quadrature_over_temperature(name, wall_mass):
    fluid = Fluid(name)
    tank = sphere(VOLUME, wall_mass=wall_mass, wall_heat_capacity=470.0, heat_transfer=0.0)
    vent = Opening(diameter=DIAMETER, height=tank.height)
    contents = Contents(tank, fluid, fill=0.8, temperature=303.15)
    run = tank_history(contents, openings=[vent], stop_at_gauge_pressure=1e3, points=65)
    exact = direct_coolprop.adiabatic_quadrature(
        fluid.substance.coolprop_name,
        VOLUME,
        0.8,
        303.15,
        float(run.temperature[-1]),
        wall_heat=wall_mass * 470.0,
    )
    mass = run.liquid_mass + run.vapor_mass
    # 1e-7: the tables against CoolProp, and 13 steps of the quadrature
    np.testing.assert_allclose(mass, exact(run.temperature), rtol=1e-7)


@pytest.mark.parametrize("name", ["propane", "n-butane", "ammonia"])
def test_adiabatic_time_is_the_quadrature_over_temperature(name):
    fluid = Fluid(name)
    tank = sphere(VOLUME, heat_transfer=0.0)
    vent = Opening(diameter=DIAMETER, discharge_coefficient=COEFFICIENT, height=tank.height)
    contents = Contents(tank, fluid, fill=0.8, temperature=303.15)
    for stop in (1.02e5, 1.6e5):
        run = tank_history(contents, openings=[vent], stop_at_gauge_pressure=stop - ATMOSPHERE)
        exact = direct_coolprop.adiabatic_vent_time(
            fluid.substance.coolprop_name,
            VOLUME,
            0.8,
            303.15,
            [(DIAMETER, COEFFICIENT)],
            stop_pressure=stop,
        )
        assert run.stopped_by == "gauge pressure"
        # 1e-6: 7 steps of a quadrature of tenth order
        assert run.time[-1] == pytest.approx(exact, rel=1e-6)


# -- whole histories against an ODE solver --------------------------------------------------------------

VENT = (0.0508, 0.85)


@pytest.mark.parametrize(
    ("name", "wall_mass", "conductance"),
    [
        ("propane", 0.0, 0.0),
        ("propane", 900.0, 170.0),
        ("n-butane", 900.0, 60.0),
        ("ammonia", 1500.0, 400.0),
        ("isobutane", 0.0, 100.0),
    ],
)
def test_venting_of_vapor(name, wall_mass, conductance):
    fluid = Fluid(name)
    tank = sphere(VOLUME, wall_mass=wall_mass, wall_heat_capacity=470.0, heat_transfer=conductance)
    vent = Opening(diameter=VENT[0], discharge_coefficient=VENT[1], height=tank.height)
    contents = Contents(tank, fluid, fill=0.8, temperature=303.15)
    weather = Weather(air_temperature=AIR)
    run = tank_history(contents, openings=[vent], weather=weather, stop_at_gauge_pressure=5e3)
    direct = direct_coolprop.tank_history(
        fluid.substance.coolprop_name,
        VOLUME,
        0.8,
        303.15,
        [VENT],
        wall_heat=wall_mass * 470.0,
        heat_transfer=conductance,
        air_temperature=AIR,
        stop_pressure=ATMOSPHERE + 5e3,
        times=run.time[:-1],
    )
    assert (run.stopped_by, direct.stopped_by) == ("gauge pressure", "stop pressure")
    compare(run, direct)


def test_a_railroad_tank_settles_above_zero():
    """Propane, 33,000 US gal, 80 % full, 1,500 W/K, 33 t of wall: the pressure settles at 104,615.8 Pa."""
    volume, wall = 33_000 * GALLON, 33_000.0 * 470.0
    tank = sphere(volume, wall_mass=33_000.0, wall_heat_capacity=470.0, heat_transfer=1500.0)
    vent = Opening(diameter=VENT[0], discharge_coefficient=VENT[1], height=tank.height)
    contents = Contents(tank, Fluid("propane"), fill=0.8, temperature=293.15)
    weather = Weather(air_temperature=AIR)
    run = tank_history(contents, openings=[vent], weather=weather)
    assert run.stopped_by == "settled"
    # the digits given
    assert run.plateau_pressure == pytest.approx(104_615.8, abs=0.1)
    direct = direct_coolprop.tank_history(
        "Propane",
        volume,
        0.8,
        293.15,
        [VENT],
        wall_heat=wall,
        heat_transfer=1500.0,
        air_temperature=AIR,
        duration=float(run.time[-1]),
        times=run.time[:-1],
    )
    # the way down to within half a millikelvin of rest takes seven steps: 1 mK
    compare(run, direct, kelvin=1e-3, share=1e-5)
    flow = direct_coolprop.vapor_flux(
        direct_coolprop.AbstractState("HEOS", "Propane"), float(run.temperature[-1]), ATMOSPHERE
    )
    latent = Fluid("propane").saturation(temperature=run.temperature[-1])
    per_mass = latent.latent_heat * latent.liquid_density / (latent.liquid_density - latent.vapor_density)
    boiled = flow * VENT[1] * math.pi / 4 * VENT[0] ** 2 * per_mass
    # steady hold: the heat that comes in is what the vapor takes, to the half millikelvin it stops short of
    assert boiled == pytest.approx(1500.0 * (AIR - run.temperature[-1]), rel=2e-3)


@pytest.mark.parametrize("name", ["propane", "n-butane", "ammonia"])
def test_a_leak_of_liquid(name):
    fluid, diameter = Fluid(name), 1.4
    tank = upright(VOLUME, diameter, wall_mass=700.0, wall_heat_capacity=470.0, heat_transfer=120.0)
    hole = Opening(diameter=0.012, discharge_coefficient=0.62, height=0.2)
    contents = Contents(tank, fluid, fill=0.7, temperature=288.15)
    weather = Weather(air_temperature=AIR)
    run = tank_history(contents, openings=[hole], weather=weather, duration=500.0)
    direct = direct_coolprop.tank_history(
        fluid.substance.coolprop_name,
        VOLUME,
        0.7,
        288.15,
        [(0.012, 0.62, "liquid", lambda v: v / (math.pi / 4 * diameter**2) - 0.2)],
        wall_heat=700.0 * 470.0,
        heat_transfer=120.0,
        air_temperature=AIR,
        duration=500.0,
        times=run.time[:-1],
    )
    assert run.stopped_by == "duration"
    assert run.passes_liquid.all()
    compare(run, direct)


def test_a_leak_of_liquid_and_a_vent_of_vapor():
    diameter = 1.4
    tank = upright(VOLUME, diameter, wall_mass=700.0, wall_heat_capacity=470.0, heat_transfer=120.0)
    openings = [Opening(diameter=0.012, height=0.2), Opening(diameter=0.03, height=tank.height)]
    contents = Contents(tank, Fluid("propane"), fill=0.7, temperature=288.15)
    weather = Weather(air_temperature=AIR)
    run = tank_history(contents, openings=openings, weather=weather, stop_at_gauge_pressure=2e5)
    direct = direct_coolprop.tank_history(
        "Propane",
        VOLUME,
        0.7,
        288.15,
        [
            (0.012, 0.62, "liquid", lambda v: v / (math.pi / 4 * diameter**2) - 0.2),
            (0.03, 0.62),
        ],
        wall_heat=700.0 * 470.0,
        heat_transfer=120.0,
        air_temperature=AIR,
        stop_pressure=ATMOSPHERE + 2e5,
        times=run.time[:-1],
    )
    assert run.stopped_by == "gauge pressure"
    compare(run, direct)


def test_an_opening_passed_by_the_level_passes_vapor_from_then_on():
    """Two direct histories end to end: liquid until the level is at the hole, then vapor."""
    diameter, height = 1.4, 1.2
    area = math.pi / 4 * diameter**2
    tank = upright(VOLUME, diameter, heat_transfer=0.0)
    contents = Contents(tank, Fluid("propane"), fill=0.6, temperature=288.15)
    run = tank_history(contents, openings=[Opening(diameter=0.05, height=height)], duration=300.0, points=129)
    first = direct_coolprop.tank_history(
        "Propane",
        VOLUME,
        0.6,
        288.15,
        [(0.05, 0.62, "liquid", lambda v: v / area - height)],
        duration=100.0,
        times=np.linspace(0.0, 100.0, 2001),
    )
    saturated = direct_coolprop.SaturatedFluid("Propane")
    level = (
        np.array(
            [
                m * saturated.at(float(t)).v_l
                for m, t in zip(first.liquid_mass, first.temperature, strict=True)
            ]
        )
        / area
    )
    below = int(np.argmax(level < height))
    share = (level[below - 1] - height) / (level[below - 1] - level[below])
    reached = first.time[below - 1] + share * (first.time[below] - first.time[below - 1])
    wet = run.passes_liquid[0]
    assert wet[0]
    assert not wet[-1]
    # between the last wet point and the first dry one lies the passage
    assert run.time[wet].max() <= reached * (1 + 1e-5)
    assert run.time[~wet].min() >= reached * (1 - 1e-5)
    # and after it: a direct history of vapor alone, from the state at the passage
    at = direct_coolprop.tank_history(
        "Propane",
        VOLUME,
        0.6,
        288.15,
        [(0.05, 0.62, "liquid", lambda v: v / area - height)],
        duration=float(reached),
    )
    fill = float(at.liquid_mass[-1] * saturated.at(float(at.temperature[-1])).v_l / VOLUME)
    after = direct_coolprop.tank_history(
        "Propane", VOLUME, fill, float(at.temperature[-1]), [(0.05, 0.62)], duration=float(300.0 - reached)
    )
    assert run.temperature[-1] == pytest.approx(after.temperature[-1], abs=2e-3)
    assert run.liquid_mass[-1] == pytest.approx(after.liquid_mass[-1], rel=2e-5)


@pytest.mark.parametrize(("start", "air", "end"), [(250.0, 300.0, 290.0), (300.0, 250.0, 260.0)])
def test_a_shut_tank_warms_and_cools(start, air, end):
    fluid = Fluid("propane")
    tank = sphere(VOLUME, wall_mass=900.0, wall_heat_capacity=470.0, heat_transfer=170.0)
    contents = Contents(tank, fluid, fill=0.6, temperature=start)
    gauge = float(fluid.saturation(temperature=end).pressure) - ATMOSPHERE
    run = tank_history(contents, weather=Weather(air_temperature=air), stop_at_gauge_pressure=gauge)
    exact = direct_coolprop.closed_warm_up(
        "Propane",
        VOLUME,
        0.6,
        start,
        end,
        heat_transfer=170.0,
        air_temperature=air,
        wall_heat=900.0 * 470.0,
    )
    assert run.stopped_by == "gauge pressure"
    assert run.temperature[-1] == pytest.approx(end, abs=1e-6)
    # 1e-6: 7 steps of a quadrature of tenth order
    assert run.time[-1] == pytest.approx(exact, rel=1e-6)
    by_time = tank_history(contents, weather=Weather(air_temperature=air), duration=exact)
    assert by_time.temperature[-1] == pytest.approx(end, abs=1e-4)


def test_a_shut_tank_becomes_liquid_full():
    fluid = Fluid("propane")
    tank = HorizontalTank(diameter=1.04, length=4.5, heat_transfer=170.0)
    contents = Contents(tank, fluid, fill=0.98, temperature=283.15)
    run = tank_history(contents, weather=Weather(air_temperature=303.15), stop_at_gauge_pressure=10e5)
    assert run.stopped_by == "liquid full"
    direct = direct_coolprop.tank_history(
        "Propane",
        float(tank.volume),
        0.98,
        283.15,
        [],
        heat_transfer=170.0,
        air_temperature=303.15,
    )
    assert direct.stopped_by == "liquid full"
    assert run.time[-1] == pytest.approx(direct.time[-1], rel=1e-4)
    assert run.temperature[-1] == pytest.approx(direct.temperature[-1], abs=1e-3)
    # full when all of the mass at the liquid's density fills the volume
    density = (run.liquid_mass[0] + run.vapor_mass[0]) / tank.volume
    assert fluid.saturation(temperature=run.temperature[-1]).liquid_density == pytest.approx(
        density, rel=1e-7
    )
