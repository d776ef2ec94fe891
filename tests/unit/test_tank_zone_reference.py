"""Tanks with two walls and superheated vapor against the same equations put together anew."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from direct_two_walls import TwoWalls, two_walls_path

import lpgrelease as lr

PROPANE = lr.Fluid("propane")
AIR = 293.15
AMBIENT = 101325.0
FLAT = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=400.0)
COEFFICIENTS = (800.0, 15.0, 4.0)
VENT, LEAK = 0.0508, 0.006
NAMES = (
    "temperature",
    "vapor_temperature",
    "wet_wall_temperature",
    "dry_wall_temperature",
    "liquid_mass",
    "vapor_mass",
)


@dataclasses.dataclass(frozen=True)
class Asked:
    """What to add, in the package's words and in the reference's."""

    tank: lr.HorizontalTank
    fill: float
    temperature: float
    wall: dict
    more: dict
    same: dict


CASES = {
    "bare, level, vent and leak": Asked(FLAT, 0.6, 288.15, {"conductivity": 0.0}, {}, {}),
    "insulated, on the ground, heat along the metal": Asked(
        FLAT,
        0.85,
        300.0,
        {"insulation": 0.02, "contact_conductance": 60.0, "contact_temperature": 281.0},
        {},
        {"insulation": 0.02, "contact": (60.0, 281.0), "edge": True},
    ),
    "tilted, in a fire, pumped out": Asked(
        lr.tilt(FLAT, pitch=0.12),
        0.45,
        280.0,
        {"conductivity": 0.0},
        {
            "fire": lr.TankFire(environment_factor=0.05, dry_flux=2e3),
            "transfers": [lr.Transfer(mass_flow=-0.2)],
        },
        {"fire": (0.05, 2e3), "pumped": 0.2},
    ),
    "in a fire that heats the dry wall to 700 K": Asked(
        FLAT,
        0.6,
        288.15,
        {"conductivity": 0.0},
        {"fire": lr.TankFire(environment_factor=0.05, dry_flux=5e4)},
        {"fire": (0.05, 5e4)},
    ),
}


def both(asked: Asked, *, true_nozzle: bool):
    top = float(asked.tank.height)
    bore = {"diameter": VENT, "discharge_coefficient": 0.85}
    leak = {"diameter": LEAK, "discharge_coefficient": 0.62}
    wet, dry, surface = COEFFICIENTS
    wall = lr.TankWall(wet_coefficient=wet, dry_coefficient=dry, surface_coefficient=surface, **asked.wall)
    run = lr.tank_history(
        lr.Contents(asked.tank, PROPANE, fill=asked.fill, temperature=asked.temperature),
        openings=[lr.Opening(**bore, height=top), lr.Opening(**leak, height=0.1)],
        weather=lr.Weather(air_temperature=AIR),
        wall=wall,
        duration=300.0,
        points=25,
        **asked.more,
    )
    same = dict(asked.same)
    if same.pop("edge", False):
        # a fin at the waterline, air and vapor giving it 10 W/m2/K together: as the package has it
        thickness = 900.0 / (7850.0 * float(asked.tank.surface_area))
        same["edge"] = 2.0 * (4.5 + 1.04) * math.sqrt(50.0 * thickness * 10.0)
    case = TwoWalls(
        tank=asked.tank,
        fill=asked.fill,
        temperature=asked.temperature,
        air_temperature=AIR,
        ambient_pressure=AMBIENT,
        conductance=400.0,
        coefficients=COEFFICIENTS,
        holes=tuple(
            (part["discharge_coefficient"] * math.pi / 4.0 * part["diameter"] ** 2, height)
            for part, height in ((bore, top), (leak, 0.1))
        ),
        true_nozzle=true_nozzle,
        **same,
    )
    return run, two_walls_path(case, run.time)


def largest(run, path):
    return {name: float(np.max(np.abs(getattr(run, name) - getattr(path, name)))) for name in NAMES}


@pytest.mark.parametrize("asked", CASES.values(), ids=CASES)
def test_the_march_solves_its_equations(asked):
    run, path = both(asked, true_nozzle=False)
    assert run.stopped_by == "duration"
    assert run.temperature[0] - run.temperature[-1] > 45.0
    assert run.vapor_temperature[-1] - run.temperature[-1] > 4.0
    off, mass = largest(run, path), float(run.liquid_mass[0])
    # the march promises 1e-4 of all that happens, walls and vapor less; here a fifth of that
    assert off["temperature"] < 2e-3
    assert off["wet_wall_temperature"] < 2e-3
    assert off["vapor_temperature"] < 0.02
    assert off["dry_wall_temperature"] < 0.03
    assert off["liquid_mass"] < 2e-5 * mass
    assert off["vapor_mass"] < 2e-5 * mass


@pytest.mark.parametrize("asked", CASES.values(), ids=CASES)
def test_hot_vapor_leaves_nearly_as_by_its_own_isentrope(asked):
    """The one thing that the march tabulates coarsely, against the isentropic flow of the vapor as it is."""
    run, path = both(asked, true_nozzle=True)
    off = largest(run, path)
    # the flow is off by less than 1 %, and on the way through the range not always to one side: of some 50 K
    assert max(off[name] for name in NAMES[:4]) < 0.05
    assert off["liquid_mass"] < 1e-4 * run.liquid_mass[0]
