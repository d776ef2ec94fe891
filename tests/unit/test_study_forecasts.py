"""Forecasts of what is only partly known: each row is the forecast of its inputs alone."""

from __future__ import annotations

import numpy as np
import pytest
from response_cases import incident, plan

import lpgrelease as lr

pytest.importorskip("xarray")


def build(fill, hole):
    return incident(fill=fill, leaks=[lr.Opening(diameter=hole, height=0.2)]), plan()


GUESSED = {"fill": lr.uniform(0.4, 0.85), "hole": lr.uniform(0.004, 0.010, unit="m")}


def test_rows_are_forecasts_of_their_inputs_alone():
    many = lr.study_forecasts(build, GUESSED, n=12, rng=1)
    assert dict(many.sizes) == {"scenario": 12, "failed": 0}
    assert many.leaked.attrs["units"] == "kg"
    row = many.isel(scenario=7)
    story = lr.forecast(*build(float(row.fill), float(row.hole)))
    assert float(row.leaked) == story.ledger.leaked_as_vapor + story.ledger.leaked_as_liquid
    assert float(row.largest_standoff) == story.distances().stay_away.max()
    assert float(row.zero_gauge_at) == story.zero_gauge_at


def test_chunks_do_not_change_a_bit():
    one, many = (lr.study_forecasts(build, GUESSED, n=8, rng=2, chunk_size=size) for size in (8, 3))
    for name in ("leaked", "landed", "largest_standoff", "pool_gone_at"):
        assert np.array_equal(one[name], many[name]), name


def test_what_is_refused():
    with pytest.raises(lr.InputError, match="build must be callable"):
        lr.study_forecasts(3.0, GUESSED, n=4)
    with pytest.raises(lr.StudyError, match="build must return an Incident and a ResponsePlan"):
        lr.study_forecasts(lambda fill, hole: plan(), GUESSED, n=4)
