"""Every published table beside the library, by the same points that the documentation shows.

What is allowed and why stands in the header of each table.
"""

from __future__ import annotations

import math
from importlib import import_module

import pytest
from comparisons import COMPARISONS, NOT_COMPARED, Point, bias_and_scatter
from published_tables import table_names

import lpgrelease as lr

BY_NAME = {f"{c.name} [{c.unit}]": c for c in COMPARISONS}


@pytest.mark.parametrize("name", BY_NAME)
def test_published_values(name):
    comparison = BY_NAME[name]
    assert comparison.points
    outside = [
        f"{p.label} {p.at}: {p.ours:.6g} for {p.published:.6g}, allowed {p.allowed:.2g}"
        for p in comparison.points
        if not p.agrees and not p.disagrees
    ]
    assert not outside, "; ".join(outside)
    assert all(math.isfinite(p.ours) and math.isfinite(p.published) for p in comparison.points)


@pytest.mark.parametrize("name", BY_NAME)
def test_only_measurements_may_go_without_a_tolerance(name):
    comparison = BY_NAME[name]
    judged = {not math.isnan(p.allowed) for p in comparison.points}
    assert judged == {True} or comparison.kind == "measured"
    assert comparison.source.header["tolerance"]
    assert comparison.source.header["how_known"]


def test_every_table_is_compared_or_says_why_not():
    compared = {c.table for c in COMPARISONS}
    assert not compared & {*NOT_COMPARED}
    assert sorted(compared | {*NOT_COMPARED}) == table_names()


@pytest.mark.parametrize("served_by", sorted({c.served_by for c in COMPARISONS}))
def test_what_answers_exists(served_by):
    *inside, name = served_by.split(".")
    if inside and inside[0][0].isupper():  # a field of what the public face has
        assert hasattr(getattr(lr, inside[0]), name)
    else:
        module = import_module(".".join(["lpgrelease", *inside]))
        assert callable(getattr(module, name))


def test_names_are_not_given_twice():
    assert len(BY_NAME) == len(COMPARISONS)


def test_known_disagreements_are_real_ones():
    """A table's row is not excused for nothing: some quantity of it does lie outside."""
    excused = {(c.table, p.label) for c in COMPARISONS for p in c.points if p.disagrees}
    outside = {(c.table, p.label) for c in COMPARISONS for p in c.points if not p.agrees}
    assert excused == outside


def test_a_point_can_fail():
    assert not Point("x", 1.0, 1.2, 0.1).agrees
    assert Point("x", 1.0, 1.05, 0.1).agrees
    assert Point("x", 1.0, 1.5, 0.1, upper=1.45).agrees
    assert not Point("x", 1.0, 1.6, 0.1, upper=1.45).agrees
    assert not Point("x", 1.0, math.nan, 0.1).agrees
    assert Point("x", 1.0, 1.3, 0.1).share == pytest.approx(3.0)


def test_bias_and_scatter_of_two_points():
    mean, scatter, near = bias_and_scatter([Point("a", 1.0, 3.0, math.nan), Point("b", 3.0, 3.0, math.nan)])
    # by hand: logs ln 3 and 0, mean and standard deviation half of it
    assert mean == pytest.approx(math.sqrt(3.0))
    assert scatter == pytest.approx(math.sqrt(3.0))
    assert near == 0.5
