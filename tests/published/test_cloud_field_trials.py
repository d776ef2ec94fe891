"""Field trials: geometric mean bias, geometric variance, fraction within a factor of two."""

from __future__ import annotations

import numpy as np
import pytest
from cloud_trials import DOCS, DOCS_STATISTICS, compare_with_trials, statistics, statistics_table, table
from published_tables import read_table

ROWS = read_table("cloud_field_trials").rows
FOUND = compare_with_trials(ROWS)
OBSERVED = np.array([float(row["observed_percent"]) for row in ROWS]) / 100.0


def ratio(gas):
    chosen = np.array([row["gas"] == gas for row in ROWS])
    return FOUND[chosen] / OBSERVED[chosen]


def test_at_least_half_lie_within_a_factor_of_two():
    assert statistics(OBSERVED, FOUND)["FAC2"] >= 0.5


@pytest.mark.parametrize("gas", ["methane", "propane", "ammonia"])
def test_each_gas_is_met_within_a_factor_of_two_in_at_least_half_of_its_points(gas):
    r = ratio(gas)
    assert np.mean((r >= 0.5) & (r <= 2.0)) >= 0.5


def test_bias_and_scatter_are_those_of_acceptable_models():
    """0.7 < MG < 1.3 and VG < 1.6 are called good by chang2004evaluation (from memory).

    With so few trials 0.5 to 2 and 3 are asked for: a sum of points that a single trial can move by a tenth.
    """
    found = statistics(OBSERVED, FOUND)
    assert 0.5 < found["MG"] < 2.0
    assert found["VG"] < 3.0


def test_the_tables_in_the_documentation_are_those_of_today():
    assert DOCS.read_text(encoding="utf-8") == table()
    assert DOCS_STATISTICS.read_text(encoding="utf-8") == statistics_table()
