"""Cargoes beyond fuels: what poisons, what does not burn, what freezes when it is let down."""

from __future__ import annotations

import pytest

import lpgrelease as lr
from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.fire.jet import stoichiometric_fraction

HOLE = lr.Opening(diameter=0.01)
SAND = lr.Ground.named("dry sand", temperature=288.15)
TANK = lr.HorizontalTank(diameter=1.04, length=4.5)
DRY_ICE = "stand vapor and dry ice: not served"


def contents(name, temperature):
    return lr.Contents(TANK, lr.Fluid(name), fill=0.8, temperature=temperature)


ANY_RELEASE = lr.liquid_release(lr.Fluid("propane"), HOLE, temperature=280.0)
LET_DOWN = {
    "flash": lambda: lr.flash(lr.Fluid("CO2"), temperature=280.0),
    "vapor": lambda: lr.vapor_release(lr.Fluid("CO2"), HOLE, temperature=280.0),
    "liquid": lambda: lr.liquid_release(lr.Fluid("CO2"), HOLE, temperature=280.0),
    "boiling": lambda: lr.two_phase_release(lr.Fluid("CO2"), HOLE, temperature=280.0),
    "tank": lambda: lr.tank_history(contents("CO2", 260.0), openings=[HOLE]),
    "pool": lambda: lr.pool_history(
        lr.Fluid("CO2"), lr.Spill(mass=100.0, temperature=260.0), ground=SAND, duration=60.0
    ),
    "ice plug": lambda: lr.assess_freeze_seal(lr.Fluid("CO2"), HOLE),
    "cloud": lambda: lr.jet_source(lr.Fluid("CO2"), ANY_RELEASE, temperature=280.0),
}


@pytest.mark.parametrize("call", LET_DOWN.values(), ids=LET_DOWN)
def test_carbon_dioxide_let_down_to_the_air_is_refused_as_dry_ice(call):
    with pytest.raises(OutOfRangeError, match=DRY_ICE) as caught:
        call()
    assert caught.value.value == pytest.approx(101325.0)
    assert caught.value.lower > 5e5


def test_carbon_dioxide_above_its_triple_point_is_served():
    flow = lr.vapor_release(lr.Fluid("CO2"), HOLE, temperature=280.0, ambient_pressure=6e5)
    assert flow.mass_flow > 0.0
    assert lr.flash(lr.Fluid("CO2"), temperature=280.0, ambient_pressure=6e5).vapor_fraction > 0.0


BURNT = {
    "pool fire": lambda fluid: lr.pool_fire(fluid, diameter=5.0),
    "pool fire, other model": lambda fluid: lr.pool_fire(fluid, diameter=5.0, burning="burgess-hertzberg"),
    "still pool": lambda fluid: lr.still_pool_fire(fluid, diameter=5.0, mass=100.0),
    "flare": lambda fluid: lr.vapor_flare(fluid, mass_flow=0.1, height=3.0),
    "space": lambda fluid: lr.fill_space(
        fluid, mass_flow=0.01, floor_area=20.0, depth=2.0, duration=600.0, air_changes=1e-3
    ),
    "air for a flame": stoichiometric_fraction,
}


@pytest.mark.parametrize("name", ["chlorine", "sulfur dioxide", "R134a"])
@pytest.mark.parametrize("call", BURNT.values(), ids=BURNT)
def test_what_does_not_burn_has_no_fire_and_no_flammable_cloud(call, name):
    with pytest.raises(InputError, match=rf"{name} does not burn in air: no .*, no fire, no flammable cloud"):
        call(lr.Fluid(name))


def test_a_cloud_that_does_not_burn_has_no_reach():
    out = lr.two_phase_release(lr.Fluid("chlorine"), HOLE, temperature=288.15, vapor_fraction=0.0)
    source = lr.jet_source(lr.Fluid("chlorine"), out, temperature=288.15)
    with pytest.raises(InputError, match="chlorine does not burn in air"):
        lr.flammable_reach(lr.Fluid("chlorine"), source, weather=lr.Weather())


def test_chlorinated_fuels_burn_to_hydrogen_chloride():
    # CH3Cl + 1.5 O2: oxygen by hand, as much as methanol takes; 28.85 g/mol of air with 4.773 mol per O2
    fuel = 50.48752e-3
    assert stoichiometric_fraction(lr.Fluid("R40")) == pytest.approx(
        fuel / (fuel + 1.5 * 4.773 * 0.02885), rel=1e-5
    )


def test_forecasts_open_with_the_poison():
    incident = lr.Incident(
        contents=contents("chlorine", 288.15), leaks=(HOLE,), ground=SAND, weather=lr.Weather()
    )
    story = lr.forecast(incident, lr.ResponsePlan(arrival=600.0, vent=lr.Opening(diameter=0.025), hold=300.0))
    assert any(text.startswith("Chlorine is poisonous: immediately dangerous") for text in story.cautions)
    assert "Chlorine is poisonous" in story.table()


def test_seals_and_fires_carry_the_poison():
    seal = lr.assess_freeze_seal(lr.Fluid("ammonia"), HOLE)
    fire = lr.pool_fire(lr.Fluid("vinyl chloride"), diameter=3.0, burning="burgess-hertzberg")
    for found, name in ((seal, "Ammonia"), (fire, "Vinyl chloride")):
        assert found.cautions[0].startswith(f"{name} is poisonous far below its flammable limit")
    assert any("hydrogen chloride" in text for text in fire.cautions)
    assert not any("poisonous" in text for text in lr.pool_fire(lr.Fluid("propane"), diameter=3.0).cautions)
