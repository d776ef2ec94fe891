"""Points between the accepted steps of a blend's march."""

from __future__ import annotations

import numpy as np
import pytest

from lpgrelease.tank.blend_path import Path, resample

NOTHING = slice(0)


def decay(ends, steps, *, switch=np.inf):
    """Steps of y = exp(-t) up to the times `ends`, without an error; in force up to `switch`."""
    time = np.linspace(0.0, 1.0, steps + 1)[:, None] * ends
    middle = np.concatenate([time[:1], 0.5 * (time[1:] + time[:-1])])
    return Path(
        states=np.stack([time, np.exp(-time)], axis=1),
        rates=np.stack([np.ones_like(time), -np.exp(-time)], axis=1),
        middles=np.stack([middle, np.exp(-middle)], axis=1),
        modes=(time < switch)[:, None],
        counts=np.full(ends.size, steps + 1),
        codes=np.ones(ends.size, dtype=np.intp),
    )


def test_resampling_meets_the_exact_solution_between_steps():
    ends = np.array([2.0, 3.0])
    path = decay(ends, 20)
    states, _ = resample(path, np.ones((2, 2)), 41, rising=NOTHING)
    assert (states[-1, 0] == ends).all()
    assert (states[0] == path.states[0]).all()
    assert (np.diff(states[:, 0], axis=0) > 0.0).all()
    # the quartic errs by h**5 / 1920 at most, of a fifth derivative of 1
    np.testing.assert_allclose(states[:, 1], np.exp(-states[:, 0]), atol=0.15**5 / 1920)
    # even in the sum of the weighted changes, up to interpolation along each step, over which the rate
    # of y changes by 15 %
    length = np.abs(np.diff(states, axis=0)).sum(axis=1)
    np.testing.assert_allclose(length, np.broadcast_to(length.mean(axis=0), length.shape), rtol=0.04)


def test_it_falls_with_the_fifth_power_of_the_steps():
    apart = []
    for steps in (4, 8, 16):
        states, _ = resample(decay(np.array([2.0]), steps), np.ones((2, 1)), 101, rising=NOTHING)
        apart.append(np.abs(states[:, 1] - np.exp(-states[:, 0])).max())
    assert np.log2(np.divide(apart[:-1], apart[1:])) == pytest.approx(5.0, abs=0.4)


def test_resampling_keeps_the_modes():
    states, modes = resample(decay(np.array([2.0]), 20, switch=0.55), np.ones((2, 1)), 101, rising=NOTHING)
    on = modes[:, 0, 0]
    assert states[on, 0, 0].max() <= 0.6
    assert states[~on, 0, 0].min() >= 0.6


def test_resampling_is_exact_for_a_quartic():
    # two points of t**4 on [1, 3], with the rates at both and the middle of the step between them
    path = Path(
        states=np.array([[[1.0], [1.0]], [[3.0], [81.0]]]),
        rates=np.array([[[1.0], [4.0]], [[1.0], [108.0]]]),
        middles=np.array([[[1.0], [1.0]], [[2.0], [16.0]]]),
        modes=np.ones((2, 1, 1), dtype=bool),
        counts=np.array([2]),
        codes=np.array([1]),
    )
    states, _ = resample(path, np.array([[1.0], [0.0]]), 9, rising=NOTHING)
    np.testing.assert_allclose(states[:, 0, 0], np.linspace(1.0, 3.0, 9), rtol=1e-14)
    np.testing.assert_allclose(states[:, 1, 0], np.linspace(1.0, 3.0, 9) ** 4, rtol=1e-13)


def test_what_never_falls_stays_between_its_steps():
    """A corner in the rates lets the quartic swing beyond both ends of a step."""
    path = Path(
        states=np.array([[[0.0], [0.0]], [[1.0], [1e-3]]]),
        rates=np.array([[[1.0], [0.0]], [[1.0], [1.0]]]),
        middles=np.array([[[0.0], [0.0]], [[0.5], [0.0]]]),
        modes=np.ones((2, 1, 1), dtype=bool),
        counts=np.array([2]),
        codes=np.array([1]),
    )
    weights = np.array([[1.0], [0.0]])
    swings, _ = resample(path, weights, 33, rising=NOTHING)
    assert swings[:, 1].min() < 0.0
    states, _ = resample(path, weights, 33, rising=slice(1, 2))
    assert (np.diff(states[:, 1], axis=0) >= 0.0).all()
    assert states[:, 1].max() <= 1e-3
