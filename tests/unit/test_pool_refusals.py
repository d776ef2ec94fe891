"""Numbers of pools and grounds: refused by name, value, unit and range, and taken in every unit."""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import pint
import pytest

from lpgrelease.errors import OutOfRangeError
from lpgrelease.fluids import Fluid
from lpgrelease.ground import Ground, ground_history
from lpgrelease.pool import Basin, Exposure, Hollow, Spill, pool_history, sustaining_feed

PROPANE, SAND = Fluid("propane"), Ground.named("moist sand", temperature=290.0)
UREG = pint.UnitRegistry()

PIT = {"area": 1.0, "depth": 1.0}
DITCH = {"length": 1.0, "width": 1.0, "depth": 1.0, "bank_slope": 1.0}
BASIN = {"depth": [0.0, 1.0], "area": [1.0, 1.0], "wetted_area": [1.0, 5.0]}
EPISODE = {"start": [0.0], "duration": [9.0], "mass_flow": 1.0, "temperature": 290.0}
FLOW = {"mass_flow": 1.0, "duration": 9.0}
TIMED = {"mass_flow": [1.0, 1.0], "time": [0.0, 9.0]}
HISTORY = {"fluid": PROPANE, "spill": Spill(mass=1.0), "ground": SAND, "duration": 60.0}
STEADY = {"fluid": PROPANE, "site": Hollow(**PIT), "ground": SAND}
COVERS = {"ground": SAND, "temperature": 231.0, "duration": 9.0, "conductance": 9.0}
CASES = [
    (Spill, {}, "mass", -1.0, "kg", "[0, inf) kg"),
    (Spill, FLOW, "mass_flow", -1.0, "kg/s", "[0, inf) kg/s"),
    (Spill, FLOW, "duration", 0.0, "s", "[0, inf) s: the lower end excluded"),
    (Spill, FLOW, "temperature", 0.0, "K", "[0, inf) K: the lower end excluded"),
    (Spill, FLOW, "captured_fraction", 1.5, "", "[0, 1]"),
    (Spill, TIMED, "time", [-1.0, 9.0], "s", "[0, inf) s"),
    (Spill.episodes, EPISODE, "start", [-1.0], "s", "[0, inf) s"),
    (Spill.episodes, EPISODE, "duration", [0.0], "s", "[0, inf) s: the lower end excluded"),
    (Spill.episodes, EPISODE, "mass_flow", -1.0, "kg/s", "[0, inf) kg/s"),
    (Spill.episodes, EPISODE, "temperature", 0.0, "K", "[0, inf) K: the lower end excluded"),
    (Spill.episodes, EPISODE, "captured_fraction", -1.0, "", "[0, 1]"),
    (Hollow, PIT, "area", 0.0, "m**2", "[0, inf) m**2: the lower end excluded"),
    (Hollow, PIT, "depth", 0.0, "m", "[0, inf) m: the lower end excluded"),
    (Basin.pit, PIT, "area", 0.0, "m**2", "[0, inf) m**2: the lower end excluded"),
    (Basin.pit, PIT, "depth", 0.0, "m", "[0, inf) m: the lower end excluded"),
    (Basin.bowl, {"diameter": 2.0, "depth": 1.0}, "diameter", 0.0, "m", "[0, inf) m: the lower end excluded"),
    (Basin.bowl, {"diameter": 2.0, "depth": 1.0}, "depth", 0.0, "m", "[0, inf) m: the lower end excluded"),
    (Basin.ditch, DITCH, "length", 0.0, "m", "[0, inf) m: the lower end excluded"),
    (Basin.ditch, DITCH, "width", 0.0, "m", "[0, inf) m: the lower end excluded"),
    (Basin.ditch, DITCH, "depth", 0.0, "m", "[0, inf) m: the lower end excluded"),
    (Basin.ditch, DITCH, "bank_slope", 0.0, "", "[0, inf): the lower end excluded"),
    (Basin, BASIN, "depth", [-1.0, 1.0], "m", "[0, inf) m"),
    (Basin, BASIN, "area", [-1.0, 1.0], "m**2", "[0, inf) m**2"),
    (Basin, BASIN, "wetted_area", [-1.0, 5.0], "m**2", "[0, inf) m**2"),
    (Exposure, {}, "wind_share", 1.5, "", "[0, 1]"),
    (Exposure, {}, "sun_share", -1.0, "", "[0, 1]"),
    (Exposure, {}, "sky_share", 1.5, "", "[0, 1]"),
    (Exposure, {}, "vapor_fill", 1.5, "", "[0, 1]"),
    (Exposure, {}, "precipitation", 0.5, "kg/m**2/s", "[0, 0.1] kg/m**2/s: a cloudburst"),
    (Exposure, {}, "precipitation", -1.0, "kg/m**2/s", "[0, 0.1] kg/m**2/s: a cloudburst"),
    (Exposure, {}, "cover_temperature", 140.0, "K", "[150, 400] K"),
    (Exposure, {}, "cover_temperature", 410.0, "K", "[150, 400] K"),
    (pool_history, HISTORY, "duration", 0.0, "s", "[0, 3.2e+09] s: a hundred years at most"),
    (pool_history, HISTORY, "ignited_at", -1.0, "s", "[0, inf) s"),
    (sustaining_feed, STEADY, "captured_fraction", 0.0, "", "[0, 1]: the lower end excluded"),
    (sustaining_feed, STEADY, "level", -1.0, "m", "[0, inf) m"),
    (ground_history, COVERS, "temperature", 19.0, "K", "[20, 350] K"),
    (ground_history, COVERS, "duration", 0.0, "s", "[0, inf) s: the lower end excluded"),
    (ground_history, COVERS, "conductance", 0.0, "W/m**2/K", "[0, inf) W/m**2/K: the lower end excluded"),
    (ground_history, COVERS, "ground_temperature", 149.0, "K", "[150, 350] K"),
    (ground_history, COVERS, "ground_temperature", 351.0, "K", "[150, 350] K"),
    (SAND.heat_coefficient, {}, "contact_temperature", 0.0, "K", "[0, inf) K: the lower end excluded"),
    (SAND.heat_flux, {"contact_temperature": 231.0}, "age", 0.0, "s", "[0, inf) s: the lower end excluded"),
]


@pytest.mark.parametrize(
    ("call", "good", "name", "value", "unit", "allowed"),
    CASES,
    ids=lambda x: getattr(x, "__qualname__", None),
)
def test_a_number_out_of_range_is_refused_by_name_value_unit_and_range(
    call, good, name, value, unit, allowed
):
    found = np.ravel(value)[0]
    said = f"{name} = {found:g} {unit} is outside the allowed range {allowed}".replace("  ", " ")
    with pytest.raises(OutOfRangeError, match=re.escape(said)):
        call(**good | {name: value})


OTHER = {
    "": "percent",
    "kg": "lb",
    "kg/s": "lb/min",
    "s": "min",
    "K": "degF",
    "m": "ft",
    "m**2": "ft**2",
    "kg/m**2/s": "lb/ft**2/hour",
    "W/m**2/K": "mW/cm**2/K",
}
SPILL = {"temperature": (280.0, "K"), "captured_fraction": (0.5, "")}
GIVEN = [
    (Spill, SPILL | {"mass": (20.0, "kg"), "duration": (9.0, "s")}),
    (Spill, SPILL | {"mass_flow": ([2.0, 1.0], "kg/s"), "time": ([0.0, 9.0], "s")}),
    (
        Spill.episodes,
        SPILL | {"start": ([1.0, 90.0], "s"), "duration": ([9.0, 30.0], "s"), "mass_flow": (2.0, "kg/s")},
    ),
    (Hollow, {"area": (3.0, "m**2"), "depth": (0.5, "m")}),
    (
        Basin,
        {"depth": ([0.0, 0.5], "m"), "area": ([1.0, 2.0], "m**2"), "wetted_area": ([1.0, 4.0], "m**2")},
    ),
    (Basin.pit, {"area": (3.0, "m**2"), "depth": (0.5, "m")}),
    (Basin.bowl, {"diameter": (3.0, "m"), "depth": (0.5, "m")}),
    (
        Basin.ditch,
        {"length": (3.0, "m"), "width": (0.3, "m"), "depth": (0.5, "m"), "bank_slope": (2.0, "")},
    ),
    (
        Exposure,
        {"wind_share": (0.25, ""), "sun_share": (0.5, ""), "sky_share": (0.75, ""), "vapor_fill": (0.9, "")}
        | {"cover_temperature": (250.0, "K"), "precipitation": (1e-3, "kg/m**2/s")},
    ),
    (
        lambda **given: ground_history(SAND, **given),
        {"temperature": (231.0, "K"), "duration": (60.0, "s"), "conductance": (90.0, "W/m**2/K")}
        | {"ground_temperature": (285.0, "K"), "radius": (2.0, "m")},
    ),
]


@pytest.mark.parametrize(("call", "given"), GIVEN, ids=lambda x: getattr(x, "__qualname__", None))
def test_every_unit_of_the_same_dimension_is_taken(call, given):
    plain = call(**{name: value for name, (value, _) in given.items()})
    other = call(
        **{
            name: UREG.Quantity(np.array(value), unit).to(OTHER[unit])
            for name, (value, unit) in given.items()
        }
    )
    for field in dataclasses.fields(plain):
        one, two = getattr(plain, field.name), getattr(other, field.name)
        if "unit" in field.metadata and one is not None:
            np.testing.assert_allclose(two, one, rtol=1e-9, err_msg=field.name)


def test_the_ends_that_belong_to_a_range_are_taken():
    Spill(mass=0.0, captured_fraction=[0.0, 1.0])
    Spill(mass_flow=0.0)
    Spill.episodes(start=[0.0], duration=[1.0], mass_flow=0.0, captured_fraction=1.0)
    for share in (0.0, 1.0):
        Exposure(wind_share=share, sun_share=share, sky_share=share, vapor_fill=share)
    Exposure(precipitation=[0.0, 0.1], cover_temperature=[150.0, 400.0])
    Basin(depth=[0.0, 1.0], area=[0.0, 1.0])
    assert sustaining_feed(**STEADY, level=0.0, captured_fraction=1.0).mass_flow > 0.0
    assert pool_history(**HISTORY, ignited_at=0.0).mass_burned[-1] > 0.0
