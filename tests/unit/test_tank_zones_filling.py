"""Tanks whose level comes up to a hole, and gas that liquid shuts in ever tighter."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

import lpgrelease as lr
from lpgrelease.tank.zones import Zones

PROPANE = lr.Fluid("propane")
TANK = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0)
AIR = lr.Weather(air_temperature=293.15)
VENT = lr.Opening(diameter=0.012, height=1.04)


def filled(rate: float, bore: float, hours: float = 12.0, **options: object) -> lr.TankHistory:
    """Propane pumped into a tank that leaks half way up and vents at its top."""
    contents = lr.Contents(TANK, PROPANE, fill=0.3, temperature=285.0)
    leak = lr.Opening(diameter=bore, height=0.52)
    pump = lr.Transfer(mass_flow=rate, temperature=285.0)
    return lr.tank_history(
        contents,
        openings=[VENT, leak],
        transfers=[pump],
        weather=AIR,
        duration=3600.0 * hours,
        points=33,
        **options,  # type: ignore[arg-type]
    )


@pytest.mark.parametrize("wall", [None, lr.TankWall()])
def test_a_level_comes_to_rest_at_the_hole_that_lets_out_what_comes_in(wall, monkeypatch):
    evaluations = []
    evaluate = Zones.evaluate
    monkeypatch.setattr(Zones, "evaluate", lambda *a: evaluations.append(1) or evaluate(*a))
    rate, bore = 0.5, 0.02
    run = filled(rate, bore, wall=wall)
    level = TANK.level_at(run.liquid_volume)
    # liquid covers the hole in part: more of it would let out more, and none of it less, than comes in
    assert 0.52 < level[-1] < 0.52 + 0.5 * bore
    assert run.passes_liquid[1, -1]
    assert run.mass_flow[:, -1].sum() == pytest.approx(rate, rel=1e-3)
    # as it beat up and down, switched over at every turn, it took thousands
    assert len(evaluations) < 150


@pytest.mark.parametrize(("rate", "bore"), [(0.5, 0.02), (0.2, 0.015), (1.5, 0.03)])
def test_it_leaks_what_it_did_on_average_while_the_level_beat(rate, bore, monkeypatch):
    monkeypatch.setattr("lpgrelease.collocation.march.MOST_TRIALS", 50_000)
    smooth = filled(rate, bore, hours=2.0)
    landed = Zones.landed

    def flips(self, events, state):
        """Turn the hole over whole, as it was before."""
        after, codes = landed(self, events, state)
        rises = after.partly & ~self.partly
        none = np.zeros_like(after.partly)
        return dataclasses.replace(after, wet=after.wet | rises, partly=none), codes

    monkeypatch.setattr(Zones, "landed", flips)
    beats = filled(rate, bore, hours=2.0)
    # the level may stand anywhere between the middle and the top of the hole: by so much liquid they differ
    most = 0.5 * bore * 1.04 * 4.5 * 530.0
    assert smooth.mass_released[:, -1] == pytest.approx(beats.mass_released[:, -1], abs=most)
    assert smooth.temperature[-1] == pytest.approx(beats.temperature[-1], abs=0.5)


def test_liquid_that_warms_comes_up_to_a_hole_without_a_pump():
    """A plain history, with nothing added: what stands at the hole is told all the same."""
    tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0)
    cold = lr.Contents(tank, lr.Fluid("n-butane"), fill=0.9, temperature=255.0)
    height = float(tank.level_at(0.91 * tank.volume))
    hole = lr.Opening(diameter=0.002, height=height)
    run = lr.tank_history(cold, openings=[hole], weather=lr.Weather(air_temperature=320.0), duration=9e5)
    assert run.passes_liquid.shape == run.mass_flow.shape
    assert not run.passes_liquid[0, 0]
    assert run.passes_liquid[0].any()


def test_gas_shut_in_by_liquid_ends_where_it_is_no_longer_ideal():
    contents = lr.Contents(TANK, PROPANE, fill=0.6, temperature=285.0, pad_pressure=3e5)
    pump = lr.Transfer(mass_flow=0.5, temperature=285.0)
    run = lr.tank_history(contents, transfers=[pump], weather=AIR, duration=1e6)
    assert run.stopped_by == "gas beyond its range of pressure"
    assert run.pressure[-1] <= PROPANE.critical_pressure
    # nearly all of the gas's room is gone
    room = 1.0 - run.liquid_volume[[0, -1]] / TANK.volume
    assert room[1] < 0.12 * room[0]
    squeezed = 3e5 * room[0] / room[1] * run.temperature[-1] / 285.0
    assert run.final.pad_pressure == pytest.approx(squeezed, rel=1e-6)


def test_a_tank_that_ends_full_tells_the_pressure_of_its_gas():
    contents = lr.Contents(TANK, PROPANE, fill=0.9, temperature=250.0, pad_pressure=2e3)
    pump = lr.Transfer(mass_flow=3.0, temperature=250.0)
    vent = lr.Opening(diameter=0.05, height=1.04)
    run = lr.tank_history(contents, openings=[vent], transfers=[pump], weather=AIR, duration=1e6)
    assert run.stopped_by == "liquid full"
    alone = PROPANE.saturation(temperature=run.temperature[-1]).pressure
    assert run.final.pad_pressure == pytest.approx(max(run.pressure[-1] - alone, 0.0), abs=1.0)


def test_vapor_pumped_in_colder_makes_fog_and_does_not_cool_the_vapor_without_end():
    """Into a nearly full tank, half of its vapor in a second: superheat ran off to tens of MJ/kg below 0."""
    butene = lr.Fluid("1-butene")
    tank = lr.HorizontalTank(diameter=0.56, length=4.2, wall_mass=600.0)
    contents = lr.Contents(tank, butene, fill=0.97, temperature=330.0)
    pump = lr.Transfer(mass_flow=0.12, phase="vapor", temperature=274.0)
    vent = lr.Opening(diameter=0.006, height=0.56)
    run = lr.tank_history(
        contents, openings=[vent], transfers=[pump], wall=lr.TankWall(), weather=AIR, duration=3600.0
    )
    assert run.stopped_by in ("duration", "liquid full")
    assert (run.vapor_temperature > run.temperature - 0.5).all()
    assert run.energy_imbalance < 1e-9


@pytest.mark.parametrize("wall", [None, lr.TankWall()], ids=["one", "two"])
@pytest.mark.parametrize("kind", ["level at a hole", "pumps in balance"])
def test_what_comes_in_as_fast_as_it_goes_settles(kind, wall):
    """Without a duration; it did not end. Days later all is as it was."""
    tank = lr.HorizontalTank(diameter=1.0, length=4.0, wall_mass=900.0)
    start = lr.Contents(tank, PROPANE, fill=0.5, temperature=280.0)
    if kind == "level at a hole":
        given = {
            "openings": [lr.Opening(diameter=0.03, height=0.5)],
            "transfers": [lr.Transfer(mass_flow=1.0, temperature=285.0)],
        }
    else:
        given = {
            "openings": [],
            "transfers": [lr.Transfer(mass_flow=0.05, temperature=290.0), lr.Transfer(mass_flow=-0.05)],
        }
    given["weather"] = lr.Weather(air_temperature=288.0)
    run = lr.tank_history(start, wall=wall, **given)
    assert run.stopped_by == "settled"
    later = lr.tank_history(start, wall=wall, duration=20.0 * float(run.time[-1]), **given)
    # half a millikelvin counts as settled
    assert later.temperature[-1] == pytest.approx(run.temperature[-1], abs=2e-3)
    assert later.liquid_mass[-1] == pytest.approx(run.liquid_mass[-1], rel=1e-5)


def test_a_tank_that_fills_slowly_has_not_settled():
    tank = lr.HorizontalTank(diameter=1.0, length=4.0, wall_mass=900.0)
    start = lr.Contents(tank, PROPANE, fill=0.5, temperature=280.0)
    pumps = [lr.Transfer(mass_flow=0.05, temperature=290.0), lr.Transfer(mass_flow=-0.0499)]
    run = lr.tank_history(start, openings=[], transfers=pumps, weather=lr.Weather(air_temperature=288.0))
    assert run.stopped_by == "liquid full"


def test_a_tank_filled_to_the_brim_through_which_liquid_runs_ends(monkeypatch):
    """Its level rests where the last of the wall is dry; metal that turned wet or dry made a corner there."""
    monkeypatch.setattr("lpgrelease.collocation.march.MOST_TRIALS", 1500)
    tank = lr.SphericalTank(diameter=1.703, wall_mass=318.4)
    start = lr.Contents(tank, lr.Fluid("n-butane"), fill=0.3114, temperature=280.7, pad_pressure=621.5)
    run = lr.tank_history(
        start,
        openings=[lr.Opening(diameter=0.02216, discharge_coefficient=0.5318, height=0.5299)],
        transfers=[lr.Transfer(mass_flow=7.407)],
        wall=lr.TankWall(conductivity=47.48),
        fire=lr.TankFire(environment_factor=0.007589, dry_flux=8086.0, adequate_drainage=False),
        weather=lr.Weather(air_temperature=298.9, wind_speed=1.475, solar_irradiance=723.0),
        duration=66440.0,
    )
    assert run.stopped_by == "duration"
    assert run.mass_flow[0, -1] == pytest.approx(7.407, rel=1e-6)
    assert run.energy_imbalance < 1e-9
