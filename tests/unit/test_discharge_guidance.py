"""The table of discharge coefficients, and slits."""

from __future__ import annotations

import pytest

from lpgrelease import InputError, Opening, OutOfRangeError
from lpgrelease.release.guidance import discharge_guidance, slit_diameter


@pytest.mark.parametrize("row", discharge_guidance(), ids=lambda row: f"{row.kind}, {row.phase}")
def test_every_row_is_whole_and_usable(row):
    assert 0.0 < row.low <= row.advised <= row.high <= 1.0
    assert row.phase in {"vapor", "liquid", "boiling", "any"}
    assert row.how_known in {"looked-up", "from memory", "common practice"}
    assert bool(row.source) == (row.how_known != "common practice")
    assert row.note
    Opening(diameter=0.01, discharge_coefficient=row.advised)


def test_no_row_stands_twice_and_kinds_can_be_asked_for():
    rows = discharge_guidance()
    assert len({(row.kind, row.phase) for row in rows}) == len(rows)
    assert {row.phase for row in discharge_guidance("safety valve")} == {"vapor", "liquid", "boiling"}
    with pytest.raises(InputError, match=r"kind must be one of sharp edge, .*; got 'keyhole'"):
        discharge_guidance("keyhole")


def test_the_default_of_an_opening_is_the_advice_for_liquid_through_a_sharp_edge():
    (liquid,) = (row for row in discharge_guidance("sharp edge") if row.phase == "liquid")
    assert Opening(diameter=0.01).discharge_coefficient == liquid.advised


def test_a_slit_keeps_its_area():
    assert Opening(diameter=slit_diameter(0.2, width=0.003)).area == pytest.approx(0.2 * 0.003, rel=1e-14)
    with pytest.raises(OutOfRangeError, match=r"width = 0 m .*the lower end excluded"):
        slit_diameter(0.2, width=0.0)
