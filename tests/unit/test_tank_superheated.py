"""Superheated vapor above a liquid: state and flow against CoolProp, radiation from the dry wall."""

from __future__ import annotations

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

import lpgrelease as lr
from lpgrelease.tank.superheated import SuperheatedVapor, share_of_choking

FLUIDS = {
    "propane": "Propane",
    "isobutane": "IsoButane",
    "ammonia": "Ammonia",
    "chlorine": "Chlorine",
    "propylene": "Propylene",
}


def at(name, saturation_temperature, superheat):
    """State at T and eta, both of one shape."""
    table = lr.Fluid(name).tables
    vapor = SuperheatedVapor.of(table)
    t = np.asarray(saturation_temperature, dtype=np.float64)
    (p,) = table.saturated(t, "pressure")
    return vapor.at(t, p, np.ones_like(p), np.asarray(superheat) + np.zeros_like(t))


@pytest.mark.parametrize(("name", "theirs"), FLUIDS.items())
@pytest.mark.parametrize("kelvin", [5.0, 60.0, 150.0])
def test_state_and_flow_are_those_of_the_reference_equation(name, theirs, kelvin):
    """CoolProp's equations of state; the flow by the isentrope through `vapor_release`."""
    fluid = lr.Fluid(name)
    pressure = np.array([2e5, 6e5, 17e5])
    t_s = np.array([PropsSI("T", "P", p, "Q", 1, theirs) for p in pressure])
    h, d, d_s = (
        np.array([PropsSI(what, *state, theirs) for state in states])
        for what, states in (
            ("H", [("T", t + kelvin, "P", p) for t, p in zip(t_s, pressure, strict=True)]),
            ("D", [("T", t + kelvin, "P", p) for t, p in zip(t_s, pressure, strict=True)]),
            ("D", [("P", p, "Q", 1) for p in pressure]),
        )
    )
    h_s = np.array([PropsSI("H", "P", p, "Q", 1, theirs) for p in pressure])
    state = at(name, t_s, h - h_s)
    # 1e-5: the polynomials
    assert state.volume * d == pytest.approx(np.ones(3), rel=1e-5)
    assert state.temperature == pytest.approx(t_s + kelvin, rel=1e-5)
    hole = lr.Opening(diameter=0.01, discharge_coefficient=1.0)
    true = lr.vapor_release(fluid, hole, temperature=t_s + kelvin, pressure=pressure).mass_flow
    saturated = lr.vapor_release(fluid, hole, temperature=t_s).mass_flow
    gain = 1.0 + (state.choked_flux - 1.0) * share_of_choking(pressure, np.array([101325.0]))
    # 1 %, as the documentation says: a corner where throats become dry
    assert saturated * np.sqrt(d / d_s) * gain == pytest.approx(true, rel=1e-2)


@given(
    name=st.sampled_from(sorted(FLUIDS)),
    place=st.floats(0.1, 1.0),
    part=st.floats(0.0, 1.0),
)
def test_slopes_are_those_of_the_values(name, place, part):
    vapor = SuperheatedVapor.of(lr.Fluid(name).tables)
    t = np.array([vapor.start + place * (vapor.hottest - vapor.start)])
    eta = np.array([vapor.least + 2e-3 * vapor.most + part * 0.99 * vapor.most])
    step = 1e-5 * vapor.most
    here, above, below = at(name, t, eta), at(name, t, eta + step), at(name, t, eta - step)
    assert here.volume_by_superheat == pytest.approx((above.volume - below.volume) / (2 * step), rel=1e-4)
    rise = (above.temperature - below.temperature) / (2 * step)
    assert here.temperature_by_superheat == pytest.approx(rise, rel=1e-4)


@pytest.mark.parametrize("name", FLUIDS)
def test_saturated_vapor_flows_as_such(name):
    vapor = SuperheatedVapor.of(lr.Fluid(name).tables)
    t = np.linspace(vapor.start, vapor.hottest, 50)
    state = at(name, t, np.zeros(50))
    assert (state.choked_flux == 1.0).all()
    assert state.temperature == pytest.approx(t, rel=1e-5)


def test_a_bare_tank_in_a_fire_comes_to_its_valve():
    """A dry wall at 600 K heats the vapor by 200 K before liquid has warmed to the valve's set pressure."""
    tank = lr.HorizontalTank(diameter=2.0, length=8.0, wall_mass=6000.0)
    contents = lr.Contents(tank, lr.Fluid("propane"), fill=0.6, temperature=293.15)
    opening = lr.Opening(diameter=0.05, height=2.0)
    valve = lr.ReliefValve(opening=opening, set_pressure=17e5)
    fire = lr.TankFire(dry_flux=50e3)
    run = lr.tank_history(contents, openings=[valve], wall=lr.TankWall(), fire=fire, duration=1500.0)
    assert run.stopped_by == "duration"
    assert (run.vapor_temperature - run.temperature).max() > 200.0
    assert run.mass_released[0, -1] > 0.1 * run.liquid_mass[0]
    assert run.energy_imbalance < 1e-8


@pytest.mark.parametrize("emissivity", [0.0, 0.5, 1.0])
def test_the_dry_wall_shines_on_the_liquid(emissivity):
    """Two gray surfaces of an enclosure (incropera2011fundamentals, section 13.3), nothing else inside."""
    tank = lr.HorizontalTank(diameter=2.0, length=8.0, wall_mass=6000.0, heat_transfer=1e-6)
    contents = lr.Contents(tank, lr.Fluid("propane"), fill=0.5, temperature=280.0)
    wall = lr.TankWall(
        wet_coefficient=1e-3, dry_coefficient=1e-3, surface_coefficient=0.0, conductivity=0.0,
        inside_emissivity=emissivity,
    )  # fmt: skip
    # the fire warms the dry wall for ten minutes
    fire = lr.TankFire(environment_factor=0.0, dry_flux=1e4)
    run = lr.tank_history(contents, openings=[], wall=wall, fire=fire, duration=600.0, points=400)
    level = tank.level_at(run.liquid_volume)
    free, dry = tank.free_surface_at(level), tank.surface_area - tank.wetted_area_at(level)
    through = 0.0 if emissivity == 0.0 else 1.0 / (1.0 / free + (1.0 / emissivity - 1.0) / dry)
    shines = 5.670374e-8 * (run.dry_wall_temperature**4 - run.temperature**4) * through
    came = 1e4 * dry
    kept = tank.wall_capacity * dry / tank.surface_area * (run.dry_wall_temperature - 280.0)

    def over(rate):
        rate = rate + np.zeros_like(run.time)
        return float((0.5 * (rate[1:] + rate[:-1]) * np.diff(run.time)).sum())

    # 2 %: the level moves a little as the liquid warms, and metal changes over
    assert over(came) - over(shines) == pytest.approx(float(kept[-1]), rel=2e-2)
    assert (run.temperature[-1] - 280.0 > 0.1) == (emissivity > 0.0)
