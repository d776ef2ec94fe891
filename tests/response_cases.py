"""One incident and one plan that tests of forecasts vary."""

from __future__ import annotations

import dataclasses

import numpy as np

import lpgrelease as lr

PROPANE = lr.Fluid("propane")
SAND = lr.Ground.named("moist sand")
TANK = lr.HorizontalTank(diameter=1.2, length=3.0, wall_mass=900.0)
VENT = lr.Opening(diameter=0.0508, height=1.2)
HOLE = lr.Opening(diameter=0.008, height=0.2)


def incident(
    fluid: lr.Fluid = PROPANE,
    *,
    tank: lr.HorizontalTank = TANK,
    leaks: object = (HOLE,),
    fill: object = 0.8,
    temperature: object = 293.15,
    air: float = 293.15,
    **others: object,
) -> lr.Incident:
    contents = lr.Contents(tank, fluid, fill=fill, temperature=temperature)
    weather = lr.Weather(air_temperature=air)
    return lr.Incident(contents=contents, leaks=leaks, ground=SAND, weather=weather, **others)


def plan(**others: object) -> lr.ResponsePlan:
    return lr.ResponsePlan(**({"arrival": 600.0, "vent": VENT, "hold": 300.0} | others))


def assert_same_numbers(one: object, other: object) -> None:
    """Every number of two forecasts is equal to the bit; cautions of many may say more than those of one."""
    pairs = [(one, other), (one.ledger, other.ledger), (one.pool, other.pool)]
    for left, right in [
        *pairs,
        *zip(one.runs, other.runs, strict=True),
        *zip(one.seals, other.seals, strict=True),
    ]:
        for field in dataclasses.fields(left):
            if "unit" in field.metadata:
                assert np.array_equal(getattr(left, field.name), getattr(right, field.name)), field.name
