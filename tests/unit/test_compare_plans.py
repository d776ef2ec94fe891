"""Plans side by side: the figures are those of each forecast alone, and point the right way."""

from __future__ import annotations

import numpy as np
import pytest

import lpgrelease as lr

TANK = lr.HorizontalTank(diameter=1.2, length=3.0, wall_mass=900.0)
VENT = lr.Opening(diameter=0.0508, height=1.2)
NARROW = lr.Opening(diameter=0.0254, height=1.2)


def incident(fill=0.8):
    return lr.Incident(
        contents=lr.Contents(TANK, lr.Fluid("propane"), fill=fill, temperature=293.15),
        leaks=[lr.Opening(diameter=0.006, height=0.2)],
        ground=lr.Ground.named("moist sand"),
    )


PLANS = {
    "narrow": lr.ResponsePlan(arrival=600.0, vent=NARROW, hold=300.0),
    "wide": lr.ResponsePlan(arrival=600.0, vent=VENT, hold=300.0),
    "two": lr.ResponsePlan(arrival=600.0, vent=[VENT, VENT], hold=300.0, seal=None),
    "late": lr.ResponsePlan(arrival=1800.0, vent=VENT, hold=300.0),
}


@pytest.fixture(scope="module")
def found():
    return lr.compare_plans(incident(), PLANS)


def test_directions(found):
    narrow, wide, two, late = range(4)
    assert found.names == tuple(PLANS)
    assert found.venting[narrow] > found.venting[wide] > found.venting[two]
    assert found.leaked[late] > found.leaked[wide]
    assert found.largest_standoff.min() > 10.0
    assert list(found.sealed) == [True, True, False, True]
    assert found.holding[two] == 0.0
    assert found.holding[wide] > 0.0


def test_figures_are_those_of_the_forecast_alone(found):
    story = lr.forecast(incident(), PLANS["wide"])
    assert found.zero_gauge_at[1] == story.zero_gauge_at
    assert found.vented[1] == story.ledger.vented
    assert found.landed[1] == story.pool.mass.max()
    assert found.largest_standoff[1] == story.distances().stay_away.max()
    assert found.stories[1] == story


def test_table_has_a_column_for_each_plan(found):
    lines = found.table().splitlines()
    assert all(name in lines[0] for name in PLANS)
    assert any(line.startswith("stay away") and "ft (" in line and " m)" in line for line in lines)
    assert "not the safest" in found.table()


def test_many_scenarios_lead():
    two = {name: PLANS[name] for name in ("narrow", "wide")}
    many = lr.compare_plans(incident(np.array([0.5, 0.8])), two)
    assert many.vented.shape == (2, 2)
    with pytest.raises(lr.InputError, match="table is for one scenario"):
        many.table()
    alone = lr.compare_plans(incident(0.8), two)
    assert np.array_equal(many.zero_gauge_at[1], alone.zero_gauge_at)


@pytest.mark.parametrize("wrong", [{}, [PLANS["wide"]], {"a": VENT}, {1: PLANS["wide"]}])
def test_what_is_refused(wrong):
    with pytest.raises(lr.InputError, match="plans must be a mapping of names to ResponsePlan"):
        lr.compare_plans(incident(), wrong)
