"""A batch of no scenario is answered with no scenario, in arrays as wide as those of any other batch."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

import lpgrelease as lr

PROPANE, BLEND = lr.Fluid("propane"), lr.Fluid({"propane": 0.7, "n-butane": 0.3})
TANK = lr.HorizontalTank(diameter=1.0, length=3.0, wall_mass=700.0)
HIGH, LOW = lr.Opening(diameter=0.03, height=0.9), lr.Opening(diameter=0.01, height=0.1)
SAND = lr.Ground.named("moist sand")
HOLLOW = lr.Hollow(area=20.0, depth=0.5)
WIND = lr.Weather(wind_speed=3.0, stability="D")


def contents(fluid, fill, tank=TANK):
    return lr.Contents(tank, fluid, fill=fill, temperature=290.0)


def seal(fluid, gauge):
    return lr.assess_freeze_seal(fluid, LOW, gauge_pressure=gauge)


def forecast(fluid, fill):
    incident = lr.Incident(contents=contents(fluid, fill), leaks=[LOW], ground=SAND)
    plan = lr.ResponsePlan(arrival=60.0, vent=HIGH, longest_venting=600.0, hold=60.0)
    return lr.forecast(incident, plan)


OF_ANY_FLUID = {
    "vented": lambda fluid, n: lr.tank_history(contents(fluid, n(0.5)), openings=[HIGH], points=9),
    "leaking": lambda fluid, n: lr.tank_history(
        contents(fluid, n(0.5)), openings=[LOW, HIGH], duration=60.0, points=9
    ),
    "closed": lambda fluid, n: lr.tank_history(contents(fluid, 0.5), duration=n(60.0), points=9),
    "seal": lambda fluid, n: seal(fluid, n(600.0)),
    "held": lambda fluid, n: lr.hold_freeze_seal(
        seal(fluid, 600.0), contents(fluid, 0.5), duration=n(600.0), points=9
    ),
    "poured": lambda fluid, n: lr.pool_history(
        fluid, lr.Spill(mass_flow=n(0.2), duration=20.0), ground=SAND, duration=60.0, nodes=41
    ),
    "in a hollow": lambda fluid, n: lr.pool_history(
        fluid, lr.Spill(mass=n(9.0)), site=HOLLOW, ground=SAND, duration=60.0, nodes=41
    ),
    "flash": lambda fluid, n: lr.flash(fluid, temperature=n(290.0)),
    "vapor": lambda fluid, n: lr.vapor_release(fluid, HIGH, temperature=n(290.0)),
    "mixture": lambda fluid, n: lr.two_phase_release(fluid, HIGH, temperature=n(290.0), vapor_fraction=0.1),
    "fire": lambda fluid, n: lr.pool_fire(fluid, diameter=n(3.0)),
    "reach": lambda fluid, n: lr.flammable_reach(fluid, mass_flow=n(0.2), weather=WIND),
    "forecast": lambda fluid, n: forecast(fluid, n(0.5)),
}


@pytest.mark.parametrize("fluid", [PROPANE, BLEND], ids=["pure", "blend"])
@pytest.mark.parametrize("name", OF_ANY_FLUID)
def test_no_scenario_has_the_shape_of_one_but_for_its_number(name, fluid):
    ask = OF_ANY_FLUID[name]
    try:
        one = ask(fluid, lambda value: np.full((1, 3), value))
    except lr.InputError as said:  # not served for blends: nor is none of them
        with pytest.raises(lr.InputError, match=str(said)[:20]):
            ask(fluid, lambda value: np.full((0, 3), value))
        return
    none = ask(fluid, lambda value: np.full((0, 3), value))
    for field in dataclasses.fields(one):
        if "unit" in field.metadata and getattr(one, field.name) is not None:
            shape, found = np.shape(getattr(one, field.name)), np.shape(getattr(none, field.name))
            if name == "forecast" and field.metadata["dims"][-1:] in (("time",), ("phase",)):
                shape, found = shape[:-1], found[:-1]  # phases are made by what happens, and nothing does
            assert found == ((0, *shape[1:]) if shape else ()), field.name
    assert repr(none)


def test_no_pool_of_a_blend_that_shall_last_has_no_depth():
    assert lr.lasting_depth(BLEND, np.zeros((0, 3)), area=5.0, ground=SAND).depth.shape == (0, 3)
