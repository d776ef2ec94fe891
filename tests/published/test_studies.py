"""Sensitivity and sampling against what is known exactly, or made by another program."""

from __future__ import annotations

import numpy as np
import pytest
from SALib.sample import sobol

import lpgrelease as lr
from lpgrelease.studies import mean_convergence, sensitivity
from lpgrelease.studies.sampling import Design, _generator, entropy_of

A, B = 7.0, 0.1
ANGLES = {f"x{i}": lr.uniform(-np.pi, np.pi) for i in (1, 2, 3)}


def ishigami(x1, x2, x3):
    """The function of ishigami1990importance."""
    return {"y": np.sin(x1) + A * np.sin(x2) ** 2 + B * x3**4 * np.sin(x1)}


def exact():
    """Its variance and indices, from the integrals of its terms over -pi to pi."""
    first = 0.5 * (1.0 + B * np.pi**4 / 5.0) ** 2
    second = A**2 / 8.0
    both = B**2 * np.pi**8 * (1.0 / 18.0 - 1.0 / 50.0)  # of x1 and x3 together
    variance = first + second + both
    return (
        variance,
        np.array([first, second, 0.0]) / variance,
        np.array([first + both, second, both]) / variance,
    )


def test_the_primers_first_order_indices_are_the_exact_ones():
    # as printed for A = 7, B = 0.1 in the documentation of SALib, after Saltelli and others, to four places
    assert np.allclose(exact()[1], [0.3139, 0.4424, 0.0], atol=5e-5)


def test_sobol_indices_of_a_function_whose_indices_are_known():
    found = lr.study(ishigami, ANGLES, n=5 * 4096, rng=1, sampler="saltelli")
    indices = sensitivity(found.y, "sobol")
    _, first, total = exact()
    # of 4,096 base points; three times the half width of the 95 % interval, which is of independent points
    assert (abs(indices.first_order - first) <= 3.0 * indices.first_order_interval).all()
    assert (abs(indices.total_order - total) <= 3.0 * indices.total_order_interval).all()
    assert indices.first_order_interval.max() < 0.06


@pytest.mark.parametrize("sampler", ["latin hypercube", "random"])
def test_first_order_indices_from_any_scenarios(sampler):
    found = lr.study(ishigami, ANGLES, n=8192, rng=1, sampler=sampler)
    indices = sensitivity(found.y, "rbd_fast")
    # the estimator keeps a bias of about M / n = 10 / 8192 besides its spread of a few hundredths
    assert np.allclose(indices.first_order, exact()[1], atol=0.03)


def test_the_moments_of_samples_come_to_those_of_the_function():
    variance = exact()[0]
    for sampler, spread in (("random", 4.0), ("latin hypercube", 4.0), ("sobol", 0.4)):
        found = lr.study(ishigami, ANGLES, n=16384, rng=2, sampler=sampler)
        last = mean_convergence(found.y).isel(scenarios=-1)
        assert last.standard_error == pytest.approx(np.sqrt(variance / 16384), rel=0.05)
        # mean A / 2; four standard errors of independent points, a tenth of that for a Sobol sequence
        assert abs(last["mean"] - A / 2.0) < spread * last.standard_error


def test_the_crossed_design_is_that_of_salib():
    entropy = entropy_of(3)
    ranges = {"a": (0.0, 2.0), "b": (-1.0, 1.0), "c": (5.0, 6.0)}
    drawn = tuple(lr.uniform(*ends) for ends in ranges.values())
    design = Design(tuple(ranges), drawn, (), "saltelli", 5 * 64, entropy)
    found = np.stack(list(design.sampled(0, 5 * 64).values()), axis=1)
    problem = {"num_vars": 3, "names": list(ranges), "bounds": [list(ends) for ends in ranges.values()]}
    expected = sobol.sample(problem, 64, calc_second_order=False, seed=_generator(entropy, 0))
    # ours lie in the middle of their binary cells, half of 2^-30 further up
    assert np.allclose(found, expected, rtol=0.0, atol=2.0 * 2.0**-31 * (1.0 + 1e-6))
