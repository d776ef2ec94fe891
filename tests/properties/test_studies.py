"""Studies: points and bits do not depend on how the work is cut; distributions are what they are called."""

from __future__ import annotations

import functools

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st
from study_models import INPUTS, leak, picky

import lpgrelease as lr
from lpgrelease.studies import exceedance, quantiles, sampling
from lpgrelease.studies.sampling import SAMPLERS, unit_points

PLAIN = [name for name in SAMPLERS if name != "saltelli"]
SEEDS = st.tuples(*[st.integers(0, 2**32 - 1)] * 4)


@pytest.fixture(autouse=True)
def small_blocks(monkeypatch):
    """Blocks of 64 points, so that short runs of points have many."""
    sampling._block.cache_clear()
    monkeypatch.setattr(sampling, "BLOCK", 64)
    yield
    sampling._block.cache_clear()


def points(sampler, dimensions, count, seed, start=0, stop=None):
    sampling._block.cache_clear()
    return unit_points(sampler, dimensions, count, seed, start, count if stop is None else stop)


@given(st.sampled_from([*SAMPLERS]), st.integers(1, 5), st.integers(1, 300), SEEDS, st.data())
def test_points_do_not_depend_on_the_chunk_that_asks(sampler, dimensions, count, seed, data):
    count *= dimensions + 2 if sampler == "saltelli" else 1
    start = data.draw(st.integers(0, count - 1))
    stop = data.draw(st.integers(start + 1, count))
    whole = points(sampler, dimensions, count, seed)
    assert whole.shape == (count, dimensions)
    assert np.array_equal(points(sampler, dimensions, count, seed, start, stop), whole[start:stop])
    assert ((whole > 0.0) & (whole < 1.0)).all()


@given(st.integers(1, 5), st.integers(1, 300), SEEDS)
def test_a_latin_hypercube_has_one_point_in_every_stratum_of_a_block(dimensions, count, seed):
    whole = points("latin hypercube", dimensions, count, seed)
    for first in range(0, count, 64):
        block = whole[first : first + 64]
        for axis in block.T:
            assert sorted(np.floor(axis * len(axis)).astype(int)) == list(range(len(axis)))


@given(st.integers(1, 5), st.integers(0, 8), SEEDS)
def test_sobol_points_are_balanced_in_every_binary_cell(dimensions, power, seed):
    whole = points("sobol", dimensions, 1 << power, seed)
    for axis in whole.T:
        assert sorted(np.floor(axis * len(axis)).astype(int)) == list(range(len(axis)))


@given(st.sampled_from(PLAIN), st.integers(129, 300), SEEDS)
def test_blocks_differ(sampler, count, seed):
    whole = points(sampler, 2, count, seed)
    assert not np.array_equal(whole[:64], whole[64:128])
    assert len(np.unique(whole[:, 0])) == count


@given(st.integers(1, 6), st.integers(1, 40), SEEDS)
def test_the_crossed_design_exchanges_one_coordinate_at_a_time(dimensions, groups, seed):
    whole = points("saltelli", dimensions, groups * (dimensions + 2), seed)
    for a, *between, b in whole.reshape(groups, dimensions + 2, dimensions):
        for i, row in enumerate(between):
            assert row[i] == b[i]
            assert np.array_equal(np.delete(row, i), np.delete(a, i))


@given(st.integers(1, 150), st.integers(1, 160), st.integers(0, 2**31), st.sampled_from(PLAIN))
def test_answers_do_not_depend_on_chunks(n, chunk_size, seed, sampler):
    one, two = (
        lr.study(leak, INPUTS, n=n, rng=seed, sampler=sampler, chunk_size=size) for size in (chunk_size, n)
    )
    assert one.equals(two)
    for i in (0, n - 1):
        alone = leak(one.temperature.values[i], one.hole.values[i])
        assert alone.mass_flow == one.mass_flow.values[i]


@pytest.mark.filterwarnings("ignore::lpgrelease.FailedScenarioWarning")  # they are what is drawn for
@given(st.integers(2, 150), st.integers(1, 160), st.integers(0, 2**31))
def test_every_scenario_succeeds_or_is_listed(n, chunk_size, seed):
    found = lr.study(
        picky, {"x": lr.uniform(0.0, 1.0)}, n=n, rng=seed, chunk_size=chunk_size, sampler="random"
    )
    numbers = np.concatenate([found.scenario.values, found.failed_scenario.values])
    assert sorted(numbers) == list(range(n))
    assert (found.failed_x > 0.99).all()
    assert (found.x <= 0.99).all()
    assert np.array_equal(found.y, 2.0 * found.x)


FINITE = st.floats(-1e3, 1e3)
SPREAD = st.floats(1e-3, 1e3)
FRACTIONS = np.concatenate([[2.0**-54, 1e-9], np.linspace(0.001, 0.999, 97), [1.0 - 1e-9, 1.0 - 2.0**-53]])


def pairs() -> st.SearchStrategy:
    """One of our distributions and the same of scipy.stats."""
    stats = scipy.stats
    return st.one_of(
        st.builds(lambda a, w: (lr.uniform(a, a + w), stats.uniform(a, w)), FINITE, SPREAD),
        st.builds(lambda m, s: (lr.normal(m, s), stats.norm(m, s)), FINITE, SPREAD),
        st.builds(
            lambda m, s, a, w: (
                lr.normal(m, s, lower=m + a * s, upper=m + (a + w) * s),
                stats.truncnorm(a, a + w, loc=m, scale=s),
            ),
            FINITE,
            SPREAD,
            st.floats(-6.0, 5.0),
            st.floats(0.1, 5.0),
        ),
        st.builds(
            lambda m, g: (lr.lognormal(m, g), stats.lognorm(np.log(g), scale=m)), SPREAD, st.floats(1.01, 5.0)
        ),
        st.builds(
            lambda a, w, c: (lr.triangular(a, a + c * w, upper=a + w), stats.triang(c, a, w)),
            FINITE,
            SPREAD,
            st.floats(0.0, 1.0),
        ),
    )


@given(pairs())
def test_distributions_are_those_of_scipy(pair):
    ours, theirs = pair
    found, expected = ours.quantile(FRACTIONS), theirs.ppf(FRACTIONS)
    low, high = theirs.ppf([0.05, 0.95])
    middle = (FRACTIONS > 1e-6) & (FRACTIONS < 1.0 - 1e-6)  # far out both are as good as their tail functions
    assert np.allclose(found[middle], expected[middle], rtol=1e-9, atol=1e-9 * (high - low))
    assert np.isfinite(found).all()
    assert (np.diff(found) >= 0.0).all()
    ends = dict(ours.numbers)
    assert (found >= ends["lower"]).all()
    assert (found <= ends["upper"]).all()


@given(st.floats(0.1, 10.0), st.floats(1.1, 3.0), st.floats(0.2, 1.0), st.floats(1.0, 5.0))
def test_a_cut_lognormal_is_the_rest_scaled_up(median, factor, below, above):
    lower, upper = median * below, median * (above + 0.1)
    u = np.linspace(0.01, 0.99, 25)
    found = lr.lognormal(median, factor, lower=lower, upper=upper).quantile(u)
    whole = scipy.stats.lognorm(np.log(factor), scale=median)
    shares = (whole.cdf(found) - whole.cdf(lower)) / (whole.cdf(upper) - whole.cdf(lower))
    assert np.allclose(shares, u, atol=1e-9)


@given(
    st.lists(st.floats(allow_nan=False), min_size=1, max_size=60), st.floats(0.01, 1.0), st.floats(-10, 10)
)
def test_quantiles_and_exceedance_count(numbers, fraction, threshold):
    found = lr.study(functools.partial(_fixed, numbers), {"x": lr.uniform(0.0, 1.0)}, n=len(numbers), rng=1)
    value = quantiles(found.y, [fraction]).item()
    assert value in numbers
    assert np.mean(np.array(numbers) <= value) >= fraction - 1e-12
    assert np.mean(np.array(numbers) < value) < fraction
    share = exceedance(found.y, threshold)
    assert share.probability.item() == np.mean(np.array(numbers) > threshold)
    assert share.lower.item() <= share.probability.item() <= share.upper.item()


def _fixed(numbers, x):
    return {"y": np.array(numbers)}
