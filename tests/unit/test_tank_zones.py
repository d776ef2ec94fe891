"""What may be added to a tank's history: limits, balances, events, bits and refusals."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

import lpgrelease as lr
from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.tank import zones_solve

PROPANE = lr.Fluid("propane")
ATMOSPHERE = 101325.0
ZERO = 689.4757293168361
"""A tenth of a psi [Pa]: where a history ends by default."""
SIZE = {"diameter": 1.04, "length": 4.5, "wall_mass": 900.0}
TANK = lr.HorizontalTank(**SIZE, heat_transfer=170.0)
BARE = lr.HorizontalTank(**SIZE)
VENT = lr.Opening(diameter=0.0508, discharge_coefficient=0.85, height=1.04)
LEAK = lr.Opening(diameter=0.01, height=0.1)
NEVER = lr.StopAt(time=1e9)
"""A stop that does not come: it sends a history through the march of all additions."""
ALIKE = ("time", "temperature", "pressure", "liquid_mass", "vapor_mass", "heat_gained")


def contents(tank=TANK, fill=0.8, temperature=293.15, **options):
    return lr.Contents(tank, PROPANE, fill=fill, temperature=temperature, **options)


def books(run, tank, *, gas=None):
    """Mass and energy by the phases' own properties, and the wall's, against what came and went."""
    mass = run.liquid_mass + run.vapor_mass
    np.testing.assert_allclose(mass + run.mass_released.sum(axis=-2), mass[0], rtol=1e-9)
    s = PROPANE.saturation(temperature=run.temperature)
    hot = run.vapor_temperature > run.temperature + 1e-3
    dry = [
        PROPANE.gas(temperature=t, pressure=p) if is_hot else PROPANE.saturation(temperature=t)
        for t, p, is_hot in zip(run.vapor_temperature, s.pressure, hot, strict=True)
    ]
    u_v = [
        float(g.internal_energy if is_hot else g.vapor_internal_energy)
        for g, is_hot in zip(dry, hot, strict=True)
    ]
    rho_v = [float(g.density if is_hot else g.vapor_density) for g, is_hot in zip(dry, hot, strict=True)]
    space = run.liquid_mass / s.liquid_density + run.vapor_mass / np.array(rho_v)
    # 3e-4: in the first seconds expansion leaves the vapor a kelvin below saturation, not yet fog
    np.testing.assert_allclose(space, tank.volume, rtol=3e-4)
    np.testing.assert_allclose(space[10:], tank.volume, rtol=2e-5)
    share = tank.wetted_area_at(tank.level_at(run.liquid_volume)) / tank.surface_area
    metal = share * run.wet_wall_temperature + (1.0 - share) * run.dry_wall_temperature
    energy = run.liquid_mass * s.liquid_internal_energy + run.vapor_mass * np.array(u_v)
    energy = energy + tank.wall_capacity * metal
    if gas is not None:
        energy = energy + run.gas_mass * gas * run.temperature
    gap = energy - energy[0] - run.heat_gained + run.enthalpy_released
    return np.abs(gap).max() / (mass[0] * s.latent_heat[0])


# -- nothing added: the two marches are one ------------------------------------------------------------


@pytest.mark.parametrize("openings", [[VENT], [VENT, LEAK], [LEAK], []])
@pytest.mark.parametrize("limits", [{"duration": 400.0}, {"stop_at_gauge_pressure": 3e5}])
def test_with_nothing_added_it_is_the_plain_history(openings, limits):
    start = contents() if openings else contents(temperature=240.0)
    plain = lr.tank_history(start, openings=openings, **limits)
    full = lr.tank_history(start, openings=openings, stop=[NEVER], **limits)
    assert full.stopped_by == plain.stopped_by
    # 1e-4 is what the march of all additions is good for; of heat, which is small beside the energies it
    # keeps, 3e-4
    for name in ALIKE:
        ours, its = getattr(full, name)[-1], getattr(plain, name)[-1]
        of_mass = 1e-4 * float(start.mass) if "mass" in name else 0.0
        np.testing.assert_allclose(ours, its, rtol=3e-4 if name == "heat_gained" else 1e-4, atol=of_mass)
    np.testing.assert_allclose(
        full.mass_released[:, -1], plain.mass_released[:, -1], atol=1e-4 * float(start.mass)
    )


def test_the_march_converges_to_the_plain_history(monkeypatch):
    start = contents()
    plain = lr.tank_history(start, openings=[LEAK], duration=500.0)
    errors = []
    for allowed in (1e-2, 1e-4, 1e-7):
        monkeypatch.setattr(zones_solve, "STEP_ERROR", allowed)
        full = lr.tank_history(start, openings=[LEAK], duration=500.0, stop=[NEVER])
        errors.append(abs(full.temperature[-1] - plain.temperature[-1]))
    # the plain march's own error is 1e-7 of 100 K per step
    assert errors[0] < 0.1
    assert errors[1] < 1e-3
    assert errors[2] < 1e-5


def test_walls_that_conduct_perfectly_are_one_temperature():
    plain = lr.tank_history(contents(), openings=[VENT])
    times, spread = [], []
    for conductance in (1e2, 1e4, 1e6):
        wall = lr.TankWall(
            wet_coefficient=conductance, dry_coefficient=conductance, surface_coefficient=conductance
        )
        run = lr.tank_history(contents(), openings=[VENT], wall=wall)
        times.append(abs(run.time[-1] / plain.time[-1] - 1.0))
        spread.append(float(run.dry_wall_temperature[-1] - run.temperature[-1]))
    assert times[0] > times[1] > times[2]
    # 2e-4: the march's error and a superheat of millikelvins
    assert times[2] < 2e-4
    assert spread[0] > spread[1] > spread[2] > 0.0
    assert spread[2] < 0.01


def test_a_dry_wall_that_gives_nothing_off_stays_where_it_was():
    wall = lr.TankWall(dry_coefficient=1e-3, surface_coefficient=0.0, conductivity=0.0)
    tank = lr.HorizontalTank(**SIZE, heat_transfer=0.0)
    run = lr.tank_history(contents(tank), openings=[VENT], wall=wall)
    # only the metal that the falling level uncovers cools it
    assert run.dry_wall_temperature[-1] > 270.0
    assert run.wet_wall_temperature[-1] < run.dry_wall_temperature[-1]


@pytest.mark.parametrize("resistance", [0.2, 2.0, 20.0])
def test_insulation_lets_through_what_its_resistance_allows(resistance):
    wall = lr.TankWall(two_temperatures=False, insulation=resistance)
    weather = lr.Weather(wind_speed=20.0)
    run = lr.tank_history(
        contents(BARE, temperature=240.0), weather=weather, wall=wall, duration=60.0, points=2
    )
    rate = run.heat_gained[-1] / run.time[-1]
    most = BARE.surface_area * (293.15 - 240.0) / resistance
    # a strong wind keeps the skin near the air: within a few per cent below the layers alone
    assert 0.7 * most < rate < 1.02 * most
    bare = lr.tank_history(contents(BARE, temperature=240.0), weather=weather, duration=60.0, points=2)
    assert rate < bare.heat_gained[-1] / bare.time[-1]


@pytest.mark.parametrize("two", [True, False])
def test_insulation_as_thin_as_may_be_is_as_good_as_none(two):
    wall = lr.TankWall(two_temperatures=two, insulation=[0.0, 5e-324, 1e-30, 1e-17, 1e-15, 1e-12])
    run = lr.tank_history(contents(BARE, temperature=240.0), wall=wall, duration=60.0, points=2)
    # some 20 W/m2/K outside: the thickest adds 1e-11 of the resistance
    np.testing.assert_allclose(run.heat_gained[1:, -1], run.heat_gained[0, -1], rtol=1e-8)


def test_contact_with_ground_adds_its_conductance():
    tank = lr.HorizontalTank(**SIZE, heat_transfer=0.0)
    wall = lr.TankWall(two_temperatures=False, contact_conductance=50.0, contact_temperature=280.0)
    run = lr.tank_history(contents(tank, temperature=240.0), wall=wall, duration=10.0, points=2)
    assert run.heat_gained[-1] / 10.0 == pytest.approx(50.0 * 40.0, rel=1e-3)


# -- balances ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "options",
    [
        {},
        {"fire": lr.TankFire(environment_factor=0.05, dry_flux=800.0)},
        {"wall": lr.TankWall(two_temperatures=False, insulation=0.5)},
        {"wall": lr.TankWall()},
        {"wall": lr.TankWall(insulation=0.3, contact_conductance=40.0)},
        {"wall": lr.TankWall(), "fire": lr.TankFire(environment_factor=0.03, dry_flux=500.0)},
        {"wall": lr.TankWall(), "openings": [VENT, LEAK]},
    ],
)
def test_mass_and_energy_close(options):
    given = {"openings": [VENT], "duration": 500.0, "stop": [NEVER]} | options
    run = lr.tank_history(contents(BARE), **given)
    assert run.mass_imbalance < 1e-9
    assert run.energy_imbalance < 1e-9
    # 1e-4: tables of the wetted share and polynomials of superheat against the shapes and the equation
    assert books(run, BARE) < 1e-4


def test_what_is_pumped_is_in_the_books():
    pumps = [lr.Transfer(mass_flow=0.8, temperature=280.0), lr.Transfer(mass_flow=-0.3, phase="vapor")]
    run = lr.tank_history(contents(fill=0.4), transfers=pumps, duration=600.0)
    mass = run.liquid_mass + run.vapor_mass
    np.testing.assert_allclose(mass, mass[0] + 0.5 * run.time, rtol=1e-9)
    assert run.energy_imbalance < 1e-9
    enthalpy = -0.8 * PROPANE.saturation(temperature=280.0).liquid_enthalpy
    vapor = PROPANE.saturation(temperature=run.temperature).vapor_enthalpy
    carried = (0.5 * (vapor[1:] + vapor[:-1]) * np.diff(run.time)).sum()
    expected = 600.0 * enthalpy + 0.3 * carried
    # the trapezoid's error over 32 steps, of two large parts that nearly cancel
    assert run.enthalpy_released[-1] == pytest.approx(expected, abs=1e-5 * 0.3 * carried)


def test_pumping_in_cold_liquid_fills_the_tank_and_stops():
    run = lr.tank_history(contents(), transfers=[lr.Transfer(mass_flow=1.0, temperature=280.0)], duration=1e4)
    assert run.stopped_by == "liquid full"
    assert run.final.fill == pytest.approx(1.0, abs=1e-8)
    assert any("full of liquid" in text for text in run.cautions)


# -- gas -----------------------------------------------------------------------------------------------


def test_a_pad_adds_its_partial_pressure_and_vents_with_the_vapor():
    start = contents(pad_pressure=3e5)
    run = lr.tank_history(start, openings=[VENT], stop_at_gauge_pressure=1e5)
    s = PROPANE.saturation(temperature=run.temperature)
    assert run.pressure[0] == pytest.approx(float(s.pressure[0]) + 3e5, rel=1e-9)
    assert run.pressure[0] == pytest.approx(float(start.pressure), rel=1e-12)
    space = TANK.volume - run.liquid_volume
    gas = run.gas_mass * 8.314462618 / 0.0280134 * run.temperature / space
    np.testing.assert_allclose(run.pressure, s.pressure + gas, rtol=1e-9)
    # once it is swept out, what is told of it is the error of the march alone
    assert (np.diff(run.gas_mass) <= 1e-9 * run.gas_mass[0]).all()
    # boiling sweeps the gas out: little of it is left when the tank is cold
    assert run.gas_mass[-1] < 0.05 * run.gas_mass[0]
    assert run.mass_imbalance < 1e-9
    assert run.energy_imbalance < 1e-9
    # 1041 less R of nitrogen
    assert books(run, TANK, gas=1041.0 - 8.314462618 / 0.0280134) < 1e-9


def test_a_little_gas_changes_little():
    plain = lr.tank_history(contents(), openings=[VENT], duration=100.0)
    run = lr.tank_history(contents(pad_pressure=1.0), openings=[VENT], duration=100.0)
    # 1 %: the ideal mixture's flow against the real vapor's
    assert run.mass_released[0, -1] == pytest.approx(float(plain.mass_released[0, -1]), rel=0.01)
    assert run.temperature[-1] == pytest.approx(float(plain.temperature[-1]), abs=0.3)


def test_air_lets_a_cold_tank_drain_where_its_own_vacuum_would_hold_it():
    cold = lr.Contents(TANK, lr.Fluid("n-butane"), fill=0.6, temperature=260.0)
    openings = [lr.Opening(diameter=0.02, height=1.04), lr.Opening(diameter=0.02)]
    shut = lr.tank_history(cold, openings=openings, duration=1800.0)
    drains = lr.tank_history(cold, openings=openings, duration=1800.0, air_enters=True)
    assert any("draws air in" in text for text in shut.cautions)
    assert not any("draws air in" in text for text in drains.cautions)
    assert drains.gas_mass[-1] > 0.1
    assert drains.mass_released[1, -1] > 2.0 * shut.mass_released[1, -1] + 1.0
    assert abs(drains.pressure[-1] - ATMOSPHERE) < 500.0
    assert drains.energy_imbalance < 1e-9


# -- valves, fire, stops -------------------------------------------------------------------------------


def test_a_relief_valve_opens_at_its_set_pressure_and_holds_it():
    hole = lr.Opening(diameter=0.012, discharge_coefficient=0.8, height=1.04)
    valve = lr.ReliefValve(opening=hole, set_pressure=8e5)
    fire = lr.TankFire(environment_factor=0.03)
    run = lr.tank_history(contents(), openings=[valve], fire=fire, duration=7200.0, points=129)
    gauge = run.pressure - ATMOSPHERE
    assert (run.mass_flow[0][gauge < 8e5 * (1 - 1e-9)] == 0.0).all()
    assert (run.mass_flow[0][gauge > 8e5 * (1 + 1e-6)] > 0.0).all()
    assert gauge.max() < 8e5 * 1.1
    # what it passes at the end is what the fire boils off
    latent = PROPANE.saturation(temperature=run.temperature[-1]).latent_heat
    share = np.diff(run.heat_gained)[-1] / np.diff(run.time)[-1] / latent
    assert run.mass_flow[0, -1] == pytest.approx(float(share), rel=0.15)


def test_a_valve_that_was_wide_open_stays_open_below_its_set_pressure_and_reseats():
    tank = lr.HorizontalTank(**SIZE, heat_transfer=0.0)
    hole = lr.Opening(diameter=0.05, discharge_coefficient=0.8, height=1.04)
    valve = lr.ReliefValve(opening=hole, set_pressure=8e5, overpressure=0.01, blowdown=0.1)
    hot = contents(tank, temperature=298.0)
    assert hot.gauge_pressure() > 8e5 * 1.01
    run = lr.tank_history(hot, openings=[valve], duration=3600.0, points=129)
    gauge = run.pressure - ATMOSPHERE
    # wide open down to the set pressure, then ever less; shut at the reseating pressure, and not before
    wide = gauge > 8e5
    flux = lr.vapor_release(PROPANE, hole, temperature=run.temperature).mass_flow
    np.testing.assert_allclose(run.mass_flow[0][wide], flux[wide], rtol=1e-6)
    between = (gauge < 8e5 * (1 - 1e-6)) & (gauge > 7.2e5 * (1 + 1e-6))
    assert between.any()
    assert (run.mass_flow[0][between] > 0.0).all()
    assert gauge[-1] == pytest.approx(7.2e5, rel=1e-3)
    # the same tank below the set pressure, its valve never opened, passes nothing
    shut = lr.tank_history(contents(tank, temperature=290.5), openings=[valve], duration=60.0)
    assert 7.2e5 > shut.pressure[0] - ATMOSPHERE > 6.5e5
    assert (shut.mass_flow == 0.0).all()


def test_a_fire_brings_what_the_standard_says():
    tank = lr.HorizontalTank(**SIZE, heat_transfer=0.0)
    for fire, constant in ((lr.TankFire(), 43200.0), (lr.TankFire(adequate_drainage=False), 70900.0)):
        run = lr.tank_history(contents(tank), fire=fire, duration=0.1, points=2)
        wetted = tank.wetted_area(contents(tank).level)
        # 1e-3: the wetted surface is tabulated
        assert run.heat_gained[-1] / 0.1 == pytest.approx(constant * wetted**0.82, rel=1e-3)


def test_fire_makes_the_vapor_hotter_than_the_liquid():
    fire = lr.TankFire(environment_factor=0.1, dry_flux=5e3)
    run = lr.tank_history(contents(), wall=lr.TankWall(), fire=fire, duration=300.0)
    assert run.vapor_temperature[-1] > run.temperature[-1] + 5.0
    assert run.dry_wall_temperature[-1] > run.vapor_temperature[-1]
    assert run.wet_wall_temperature[-1] - run.temperature[-1] < 10.0


@pytest.mark.parametrize(
    ("stop", "reason", "watched"),
    [
        (lr.StopAt(gauge_pressure=2e5), "gauge pressure", lambda r: r.pressure[-1] - ATMOSPHERE - 2e5),
        (lr.StopAt(temperature=260.0), "temperature", lambda r: 1e3 * (r.temperature[-1] - 260.0)),
        (lr.StopAt(liquid_mass=900.0), "liquid mass", lambda r: r.liquid_mass[-1] - 900.0),
        (lr.StopAt(mass=900.0), "mass", lambda r: r.liquid_mass[-1] + r.vapor_mass[-1] - 900.0),
        (lr.StopAt(level=0.3), "level", lambda r: 10.0 * (r.final.level - 0.3)),
        (lr.StopAt(time=77.0), "duration", lambda r: r.time[-1] - 77.0),
        (
            lr.StopAt(function=lambda m: m.mass_flow[0] - 0.5, tolerance=1e-6),
            "function",
            lambda r: r.mass_flow[0, -1] - 0.5,
        ),
    ],
)
def test_every_stop_is_located(stop, reason, watched):
    openings = [VENT, lr.Opening(diameter=0.03, height=0.05)]
    run = lr.tank_history(contents(), openings=openings, stop=[stop], duration=1e4)
    assert run.stopped_by == reason
    # events are located to 1e-7 of what they come to
    assert abs(float(watched(run))) < 3e-2


def test_the_first_of_several_stops_ends_it():
    stops = [lr.StopAt(temperature=[260.0, 240.0]), lr.StopAt(level=[0.2, 0.7])]
    run = lr.tank_history(contents(), openings=[VENT], stop=stops, stop_at_gauge_pressure=1e5)
    assert run.stopped_by.tolist() == ["temperature", "level"]


# -- the plateau ---------------------------------------------------------------------------------------


def test_days_of_a_leak_at_the_plateau_are_few_steps(monkeypatch):
    calls = []
    whole = zones_solve.solve_zones
    monkeypatch.setattr(
        "lpgrelease.tank.solve.solve_zones", lambda *a, **k: calls.append(1) or whole(*a, **k)
    )
    openings = [VENT, lr.Opening(diameter=0.001)]
    run = lr.tank_history(contents(), openings=openings, duration=86400.0)
    assert calls
    assert run.stopped_by in ("duration", "liquid gone")
    # at the plateau the vent passes what the heat boils off, and the leak goes on
    heat = np.diff(run.heat_gained)[-1] / np.diff(run.time)[-1]
    assert heat == pytest.approx(170.0 * (293.15 - run.temperature[-1]), rel=1e-3)
    assert run.mass_imbalance < 1e-9


# -- holding and returning -----------------------------------------------------------------------------


def test_a_steady_hold_is_what_the_history_settles_to():
    cold = contents(temperature=PROPANE.normal_boiling_point, fill=0.15)
    settled = lr.tank_history(cold, openings=[VENT], duration=3600.0)
    plateau = float(settled.pressure[-1]) - ATMOSPHERE
    hold = lr.steady_hold(cold, gauge_pressure=plateau)
    assert hold.vapor_rate == pytest.approx(float(settled.mass_flow[0, -1]), rel=1e-3)
    dry = lr.tank_history(cold, openings=[VENT], duration=1e6)
    assert dry.stopped_by == "liquid gone"
    assert hold.time_until_dry == pytest.approx(float(dry.time[-1]), rel=0.01)


@pytest.mark.parametrize(
    "around", [{"insulation": 0.05}, {"contact_conductance": 40.0, "contact_temperature": 285.0}]
)
def test_a_steady_hold_counts_what_is_around_the_tank(around):
    cold = contents(temperature=PROPANE.normal_boiling_point, fill=0.4)
    wall = lr.TankWall(two_temperatures=False, **around)
    settled = lr.tank_history(cold, openings=[VENT], wall=wall, duration=7200.0)
    plateau = float(settled.pressure[-1]) - ATMOSPHERE
    hold = lr.steady_hold(cold, gauge_pressure=plateau, wall=wall)
    assert hold.vapor_rate == pytest.approx(float(settled.mass_flow[0, -1]), rel=1e-3)
    # a dry wall of its own temperature passes less, so this is the largest rate
    two = lr.tank_history(cold, openings=[VENT], wall=lr.TankWall(**around), duration=7200.0)
    assert two.mass_flow[0, -1] < hold.vapor_rate
    assert (
        lr.steady_hold(cold, gauge_pressure=plateau, wall=lr.TankWall(**around)).vapor_rate == hold.vapor_rate
    )


def test_no_heat_no_vapor_to_let_out():
    tank = lr.HorizontalTank(**SIZE, heat_transfer=0.0)
    hold = lr.steady_hold(contents(tank, temperature=231.0))
    assert hold.vapor_rate == 0.0
    assert math.isinf(hold.time_until_dry)


def test_pressure_returns_as_the_shut_tank_says():
    cold = contents(temperature=231.0, fill=0.5)
    times = lr.pressure_return(cold, gauge_pressure=[0.0, 1e5, 3e5, 2e6])
    assert times[0] == pytest.approx(
        float(lr.tank_history(cold, stop_at_gauge_pressure=0.0).time[-1]), rel=1e-6
    )
    assert 0.0 < times[0] < times[1] < times[2]
    # above what the air's temperature gives it never comes
    assert math.isinf(times[3])
    assert lr.pressure_return(contents(), gauge_pressure=1e5) == 0.0


def test_pressure_of_a_tank_that_becomes_liquid_full_is_back_when_it_is_full():
    hot = lr.Weather(air_temperature=320.0)
    cold = contents(fill=[0.5, 0.9, 0.95, 0.98], temperature=250.0)
    with pytest.warns(lr.ValidityWarning, match=r"3 tank\(s\) become liquid-full before that pressure"):
        times = lr.pressure_return(cold, gauge_pressure=12e5, weather=hot)
    # the liquid alone: its density tells at what temperature it fills the tank, which holds what was put in
    for fill, time in zip([0.9, 0.95, 0.98], times[1:], strict=True):
        start = contents(fill=fill, temperature=250.0)
        low, high = 250.0, 320.0
        for _ in range(60):
            middle = 0.5 * (low + high)
            filled = PROPANE.saturation(temperature=middle).liquid_density * TANK.volume > start.mass
            low, high = (middle, high) if filled else (low, middle)
        run = lr.tank_history(start, weather=hot, duration=2.0 * float(time))
        assert run.stopped_by == "liquid full"
        assert run.temperature[-1] == pytest.approx(low, abs=1e-3)
        assert time == pytest.approx(float(run.time[-1]), rel=1e-5)
    # the fuller, the sooner; and one that holds its vapor comes there in its own time
    assert (np.diff(times[1:]) < 0.0).all()
    assert np.isfinite(times[0])


def test_a_full_tank_that_cools_does_not_come_to_a_pressure_and_one_that_warms_may_at_once():
    full = contents(fill=1.0, temperature=300.0)
    air = lr.Weather(air_temperature=[270.0, 310.0])
    with pytest.warns(lr.ValidityWarning, match=r"1 tank\(s\) become liquid-full"):
        times = lr.pressure_return(full, gauge_pressure=12e5, weather=air)
    assert times.tolist() == [math.inf, 0.0]


@pytest.mark.parametrize("fill", [0.0, 0.01])
def test_pressure_goes_on_coming_back_when_the_liquid_is_gone(fill):
    """By steps in temperature with the density kept: 2.2 to 3.15 bar come after the last drop."""
    start = contents(fill=fill, temperature=231.0)
    dry = lr.tank_history(start, duration=1e6)
    assert dry.stopped_by == "liquid gone"
    density, t_0 = float(start.mass / TANK.volume), float(dry.temperature[-1])
    t = np.linspace(t_0, 293.0, 2001)[1:]
    low, high = np.zeros(t.size) + 1e3, PROPANE.saturation(temperature=t).pressure
    for _ in range(60):
        middle = 0.5 * (low + high)
        lighter = PROPANE.gas(temperature=t, pressure=middle).density < density
        low, high = np.where(lighter, middle, low), np.where(lighter, high, middle)
    p = np.append(float(dry.pressure[-1]), high)
    u = np.append(
        PROPANE.saturation(temperature=t_0).vapor_internal_energy,
        PROPANE.gas(temperature=t, pressure=high).internal_energy,
    )
    t = np.append(t_0, t)
    energy = float(start.mass) * u + TANK.wall_capacity * t
    mean = 170.0 * (293.15 - 0.5 * (t[1:] + t[:-1]))
    times = float(dry.time[-1]) + np.append(0.0, np.cumsum(np.diff(energy) / mean))
    after = np.array([100, 700, 1400, 1900])
    found = lr.pressure_return(start, gauge_pressure=p[after] - ATMOSPHERE)
    # 1 %: the energy is taken as even over the temperatures
    assert found == pytest.approx(times[after], rel=0.01)
    top = PROPANE.gas(temperature=293.15, pressure=p[-1]).density
    assert math.isinf(lr.pressure_return(start, gauge_pressure=1.01 * density / top * p[-1] - ATMOSPHERE))


def test_where_no_more_is_known_the_end_of_what_is_known_is_returned_with_a_warning():
    padded = contents(fill=0.01, temperature=231.0, pad_pressure=1e5)
    with pytest.warns(lr.ValidityWarning, match="not back before the time returned: liquid gone"):
        time = lr.pressure_return(padded, gauge_pressure=4e5)
    assert time == pytest.approx(float(lr.tank_history(padded, duration=1e6).time[-1]), rel=1e-6)


# -- the end of the liquid -----------------------------------------------------------------------------


def test_an_empty_tank_that_is_pumped_into_ends_at_once():
    for phase in ("liquid", "vapor"):
        pump = lr.Transfer(mass_flow=0.5, phase=phase, temperature=280.0)
        run = lr.tank_history(contents(fill=0.0), transfers=[pump], duration=600.0)
        assert run.stopped_by == "liquid gone"
        assert (run.time == 0.0).all()
        assert (run.temperature == run.temperature[0]).all()
        assert run.energy_imbalance < 1e-12


def test_walls_far_apart_keep_the_energy_until_the_liquid_is_gone():
    # the metal that a little liquid wets goes as a root of its volume
    diameter = np.array([0.8, 1.04, 1.6])
    tank = lr.HorizontalTank(diameter=diameter, length=4.5, wall_mass=900.0)
    start = lr.Contents(tank, lr.Fluid("propane"), fill=np.array([0.02, 0.1, 0.05]), temperature=280.0)
    sun = lr.Weather(air_temperature=300.0, solar_irradiance=500.0, wind_speed=3.0)
    vent = lr.Opening(diameter=0.006, height=diameter)
    for fire in (None, lr.TankFire(environment_factor=0.01, dry_flux=500.0)):
        run = lr.tank_history(
            start, openings=[vent], wall=lr.TankWall(), fire=fire, weather=sun, duration=3e6
        )
        assert (run.stopped_by == "liquid gone").all()
        assert (run.dry_wall_temperature - run.wet_wall_temperature)[:, 1:].max() > 10.0
        assert (run.energy_imbalance < 1e-11).all()
        assert (run.mass_imbalance < 1e-12).all()
        # it counts as gone at 1e-7 of the volume
        assert (np.abs(run.liquid_volume[:, -1]) < 1.1e-7 * tank.volume).all()


# -- swelling liquid -----------------------------------------------------------------------------------


def test_a_fast_vent_on_a_full_tank_carries_liquid():
    large, small = (lr.Opening(diameter=d, discharge_coefficient=0.9, height=1.04) for d in (0.2, 0.01))
    full, half = contents(fill=0.9), contents(fill=0.3)
    carried = lr.tank_history(full, openings=[large])
    assert carried.carries_liquid.tolist() == [True]
    assert any("swells" in text for text in carried.cautions)
    for start, vent in ((full, small), (half, small)):
        run = lr.tank_history(start, openings=[vent], duration=60.0)
        assert not run.carries_liquid.any()
        assert run.cautions == ()
    limit = lr.level_swell(full, vapor_flow=float(carried.mass_flow[0, 0]), height=1.04)
    assert limit.carries_liquid


def test_an_opening_that_the_level_has_passed_carries_liquid_at_any_number_of_points():
    # at 0.7 m liquid leaves, then vapor: at that moment nothing is between the level and the opening
    side = lr.Opening(diameter=0.03, height=0.7)
    for points in (2, 3, 9, 33, 65, 257):
        run = lr.tank_history(contents(), openings=[side], duration=600.0, points=points)
        assert run.passes_liquid[0, 0]
        assert not run.passes_liquid[0, -1]
        assert run.mass_flow[0, -1] > 0.0
        assert run.carries_liquid.tolist() == [True]


@pytest.mark.parametrize("wall", [None, lr.TankWall(two_temperatures=False)])
def test_more_points_never_hide_that_liquid_is_carried(wall):
    diameters = np.linspace(0.02, 0.12, 41)
    vent = lr.Opening(diameter=diameters, discharge_coefficient=0.9, height=1.04)
    # each number of points but the first holds all that the one before it does
    found = [
        lr.tank_history(
            contents(fill=0.85), openings=[vent], wall=wall, duration=60.0, points=points
        ).carries_liquid[:, 0]
        for points in (5, 9, 17, 33, 65)
    ]
    assert 0 < found[0].sum() < diameters.size
    for fewer, more in itertools.pairwise(found):
        assert (more >= fewer).all()


# -- shapes, bits, refusals ----------------------------------------------------------------------------


def test_alone_or_among_many_to_the_bit():
    n = 40
    rng = np.random.default_rng(3)
    tank = {"diameter": rng.uniform(0.8, 2.0, n), "length": rng.uniform(2.0, 6.0, n), "wall_mass": 800.0}
    vents = rng.uniform(0.01, 0.06, n)
    fill, t = rng.uniform(0.2, 0.9, n), rng.uniform(270.0, 305.0, n)

    def go(i=slice(None)):
        vessel = lr.HorizontalTank(diameter=tank["diameter"][i], length=tank["length"][i], wall_mass=800.0)
        openings = [
            lr.Opening(diameter=vents[i], height=vessel.height),
            lr.ReliefValve(opening=lr.Opening(diameter=0.02, height=vessel.height), set_pressure=10e5),
            lr.Opening(diameter=0.008, height=0.2),
        ]
        return lr.tank_history(
            lr.Contents(vessel, PROPANE, fill=fill[i], temperature=t[i]),
            openings=openings,
            wall=lr.TankWall(insulation=0.02),
            stop=[lr.StopAt(temperature=250.0)],
            duration=900.0,
            points=5,
        )

    many = go()
    for i in (0, 11, 39):
        alone = go(i)
        for name in (*ALIKE, "dry_wall_temperature", "mass_released", "vapor_temperature"):
            assert np.array_equal(getattr(alone, name), getattr(many, name)[i]), name
        assert alone.stopped_by == many.stopped_by[i]


def test_shapes():
    run = lr.tank_history(
        contents(fill=np.array([[0.5], [0.8]])), openings=[VENT, LEAK],
        wall=lr.TankWall(insulation=[0.1, 1.0, 2.0]),
        duration=20.0, points=4,
    )  # fmt: skip
    assert run.time.shape == run.dry_wall_temperature.shape == (2, 3, 4)
    assert run.mass_flow.shape == (2, 3, 2, 4)
    assert run.carries_liquid.shape == (2, 3, 2)
    assert run.final.fill.shape == (2, 3)
    empty = lr.tank_history(contents(fill=np.empty((2, 0))), wall=lr.TankWall(), duration=5.0)
    assert empty.time.shape == (2, 0, 33)


@pytest.mark.parametrize(
    ("arguments", "error", "message"),
    [
        ({"stop": lr.StopAt(level=1.0)}, InputError, "stop must be a sequence of StopAt"),
        ({"stop": [5]}, InputError, "stop must be a sequence of StopAt"),
        ({"wall": 5}, InputError, "wall must be TankWall, got 5"),
        ({"fire": 5}, InputError, "fire must be TankFire, got 5"),
        ({"transfers": [5]}, InputError, "transfers must be a sequence of Transfer"),
        ({"air_enters": 1}, InputError, "air_enters must be True or False, got 1"),
    ],
)
def test_refusals(arguments, error, message):
    with pytest.raises(error, match=message):
        lr.tank_history(contents(), openings=[VENT], **arguments)


def test_refusals_of_the_parts():
    with pytest.raises(InputError, match="exactly one condition, got none"):
        lr.StopAt()
    with pytest.raises(InputError, match="exactly one condition, got temperature, level"):
        lr.StopAt(temperature=1.0, level=2.0)
    with pytest.raises(InputError, match="function must be callable"):
        lr.StopAt(function=3)
    with pytest.raises(InputError, match="phase must be one of liquid, vapor; got 'ice'"):
        lr.Transfer(mass_flow=1.0, phase="ice")
    with pytest.raises(InputError, match="two_temperatures must be True or False"):
        lr.TankWall(two_temperatures=2)
    with pytest.raises(InputError, match="adequate_drainage must be True or False"):
        lr.TankFire(adequate_drainage=2)
    with pytest.raises(OutOfRangeError, match=r"insulation = -1 "):
        lr.TankWall(insulation=-1.0)
    with pytest.raises(InputError, match="pad_gas must be one of nitrogen, air"):
        contents(pad_gas="argon")
    with pytest.raises(OutOfRangeError, match=r"pad_pressure = -1 Pa"):
        contents(pad_pressure=-1.0)
    bare = lr.HorizontalTank(diameter=1.0, length=2.0)
    with pytest.raises(InputError, match="needs the tank's wall_mass"):
        lr.tank_history(contents(bare), wall=lr.TankWall())
    with pytest.raises(InputError, match="contents must be Contents"):
        lr.steady_hold(3)
    two = lr.Contents(lr.SphericalTank(diameter=2.0), PROPANE, fill=[0.2, 0.9], temperature=250.0)
    with pytest.raises(lr.InputError, match=r"gauge_pressure \(3,\), contents \(2,\)"):
        lr.steady_hold(two, gauge_pressure=[1e4, 2e4, 3e4])
    breezy = lr.Weather(wind_speed=[1.0, 2.0, 3.0])
    with pytest.raises(lr.InputError, match=r"contents \(2,\).* wind_speed \(3,\)"):
        lr.steady_hold(two, weather=breezy)
    with pytest.raises(InputError, match="contents must be Contents"):
        lr.pressure_return(3, gauge_pressure=1.0)


def test_the_vapor_keeps_its_own_energy():
    """Of the vapor alone: d(m h) - V dp is the heat it takes, and what comes with vapor less what goes."""
    tank = lr.HorizontalTank(**SIZE, heat_transfer=400.0)
    coefficients = {"dry_coefficient": 15.0, "surface_coefficient": 4.0, "wet_coefficient": 800.0}
    fire = lr.TankFire(environment_factor=0.01, dry_flux=2e3)
    run = lr.tank_history(
        contents(tank, fill=0.6), openings=[VENT], wall=lr.TankWall(**coefficients), fire=fire,
        duration=200.0, points=1001,
    )  # fmt: skip
    late = run.vapor_temperature > run.temperature + 0.5
    first = int(np.argmax(late))
    assert late[first:].all()
    assert first < 600
    part = slice(first, None)
    p, t, t_v = run.pressure[part], run.temperature[part], run.vapor_temperature[part]
    vapor = PROPANE.gas(temperature=t_v, pressure=p)
    saturated = PROPANE.saturation(temperature=t).vapor_enthalpy
    m, flow, time = run.vapor_mass[part], run.mass_flow[0, part], run.time[part]
    # datum: the enthalpy at the start of the part, or the sums would be mostly datum
    datum = vapor.enthalpy[0]
    h, h_s = vapor.enthalpy - datum, saturated - datum
    filled = run.liquid_volume[part]
    dry = tank.surface_area - tank.wetted_area_at(tank.level_at(filled))
    surface = tank.free_surface_at(tank.level_at(filled))
    heat = 15.0 * dry * (run.dry_wall_temperature[part] - t_v) - 4.0 * surface * (t_v - t)

    def over(rate, by):
        return (0.5 * (rate[1:] + rate[:-1]) * np.diff(by)).sum()

    gained = m[-1] * h[-1] - m[0] * h[0] - over(tank.volume - filled, p)
    evaporated = over(h_s, m) + over(h_s * flow, time)
    brought = over(heat, time) + evaporated - over(h * flow, time)
    # 5e-4 of the heat: trapezoids, the surface's table
    assert gained == pytest.approx(brought, abs=2e-3 * abs(over(heat, time)) + 1e-4 * abs(evaporated))


def test_the_dry_wall_keeps_its_own_energy():
    tank = lr.HorizontalTank(**SIZE, heat_transfer=400.0)
    wall = lr.TankWall(dry_coefficient=15.0, surface_coefficient=4.0, wet_coefficient=800.0, conductivity=0.0)
    run = lr.tank_history(contents(tank, fill=0.6), openings=[VENT], wall=wall, duration=200.0, points=1001)
    wetted = tank.wetted_area_at(tank.level_at(run.liquid_volume))
    dry, share = tank.surface_area - wetted, 1.0 - wetted / tank.surface_area
    t_d = run.dry_wall_temperature
    from_air = 400.0 / tank.surface_area * dry * (293.15 - t_d)
    to_vapor = 15.0 * dry * (t_d - run.vapor_temperature)
    free = tank.free_surface_at(tank.level_at(run.liquid_volume))
    shines = 5.670374e-8 * (t_d**4 - run.temperature**4) / (1.0 / free + 0.25 / dry)

    def over(rate, by):
        return (0.5 * (rate[1:] + rate[:-1]) * np.diff(by)).sum()

    # the level falls: metal comes over at the wetted wall's temperature
    joined = over(run.wet_wall_temperature, share)
    gained = share[-1] * t_d[-1] - share[0] * t_d[0] - joined
    heat = over(from_air - to_vapor - shines, run.time) / tank.wall_capacity
    assert gained == pytest.approx(heat, rel=1e-2)
    assert abs(heat) > 0.5


@pytest.mark.parametrize(
    ("name", "temperature"), [("propane", 288.15), ("n-butane", 260.0), ("ammonia", 300.0)]
)
def test_a_liquid_full_tank_keeps_its_density_along_its_rise(name, temperature):
    fluid = lr.Fluid(name)
    tank = lr.HorizontalTank(**SIZE)
    full = lr.Contents(tank, fluid, fill=1.0, temperature=temperature, pad_pressure=1e5)
    state = lr.liquid_full(full, heat=4000.0)
    p = float(full.pressure)
    before = fluid.liquid(temperature=temperature, pressure=p).density
    after = fluid.liquid(temperature=temperature + 0.2, pressure=p + 0.2 * state.pressure_rise).density
    # 2 %: the rise itself changes over a fifth of a kelvin and 2e4 Pa
    expanded = fluid.liquid(temperature=temperature + 0.2, pressure=p).density
    assert abs(after - before) < 0.02 * abs(expanded - before)
    # let out at the pressure kept, it is what the warmed liquid expands by
    capacity = before * tank.volume * fluid.liquid(temperature=temperature, pressure=p).heat_capacity
    growth = (before / expanded - 1.0) / 0.2 * tank.volume * 4000.0 / capacity
    assert state.relief_volume == pytest.approx(float(growth), rel=0.01)
    assert state.pressure_rate < state.pressure_rise * 4000.0 / capacity * 2.0
    assert lr.liquid_full(full, heat=[0.0, 1.0]).relief_mass[0] == 0.0
    with pytest.raises(InputError, match="contents must be Contents"):
        lr.liquid_full(3, heat=1.0)
