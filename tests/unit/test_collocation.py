"""The stiff march: exact solutions, observed order, stiffness, events, bits."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from lpgrelease.collocation import march as marching
from lpgrelease.collocation.march import march_stiff, sample
from lpgrelease.collocation.radau import POINTS, RULE
from lpgrelease.collocation.step import Tried, solve_step
from lpgrelease.errors import ConvergenceError


@dataclasses.dataclass(frozen=True)
class Relaxing:
    """y' = -k (y - cos t) - sin t: cos t + (y0 - 1) exp(-k t) solves it from y0. Ends at a time or level."""

    k: np.ndarray
    until: np.ndarray
    level: np.ndarray

    directions = (1,)
    functionals = np.array([[0.0, 1.0]])

    @property
    def increments(self):
        return np.full((1, self.k.size), 1e-6)

    def evaluate(self, state):
        rates = np.empty_like(state)
        rates[0] = 1.0
        rates[1] = -self.k * (state[1] - np.cos(state[0])) - np.sin(state[0])
        return state, rates, np.stack([self.until - state[0], state[1] - self.level])

    def landed(self, events, state):
        return self, np.where(events[0], 1, np.where(events[1], 2, 0))

    def settled(self, before, after, rates):
        return np.zeros(self.k.size, dtype=np.intp)

    def at_rest(self, before, after, rates):
        raise AssertionError("never settles")

    def take(self, index):
        return type(self)(self.k[index], self.until[index], self.level[index])

    def mode(self):
        return np.zeros((0, self.k.size))


def run(k, *, until=3.0, level=-np.inf, start=2.0, tolerance=1e-9, first=1e-3):
    k = np.atleast_1d(np.asarray(k, dtype=float))
    n = k.size
    problem = Relaxing(k, np.full(n, until), np.full(n, level if np.isfinite(level) else -1e300))
    state = np.array([np.zeros(n), np.full(n, start)])
    scale = np.array([np.full(n, np.inf), np.full(n, tolerance)])
    landing = np.array([np.full(n, 1e-12), np.full(n, 1e-10)])
    moves = np.array([np.full(n, first), np.full(n, np.inf)])
    return state, march_stiff(problem, state, scale=scale, tolerance=landing, first=moves)


def exact(t, k, start=2.0):
    return np.cos(t) + (start - 1.0) * np.exp(-k * t)


@pytest.mark.parametrize("k", [0.0, 0.3, 1.0, 30.0, 1e3, 1e6])
def test_an_exact_solution_however_stiff(k):
    _, path = run(k)
    assert path.codes.tolist() == [1]
    last = path.ends[path.counts[0] - 1, :, 0]
    assert last[0] == pytest.approx(3.0, rel=1e-12)
    assert last[1] == pytest.approx(float(exact(3.0, k)), abs=1e-8)
    # stiffness costs nothing once the quick part is over
    assert path.counts[0] < 45


@pytest.mark.parametrize("k", [0.5, 200.0])
def test_the_path_between_holds_as_well(k):
    state, path = run(k, tolerance=1e-8)
    states, _ = sample(path, state, np.array([[1.0], [1.0]]), 201)
    np.testing.assert_allclose(states[:, 1, 0], exact(states[:, 0, 0], k), atol=3e-7)
    assert (np.diff(states[:, 0, 0]) >= 0.0).all()


def test_order_of_the_rule():
    # one step over lengths h, 2 h: the end errs with order 2 s - 1, the step with order s + 1 and tells so;
    # from where neither cos nor sin, one of which leads what the step errs by, is small
    problem = Relaxing(np.array([0.5]), np.array([9.0]), np.array([-9.0]))
    start, scale = np.array([[1.0], [2.0]]), np.array([[np.inf], [1e-13]])
    errors, told = [], []
    for h in (0.4, 0.8, 1.6, 3.2):
        step = np.array([h])
        guess = np.broadcast_to(start[:, None], (2, POINTS, 1)).copy()
        tried = solve_step(problem, start, step, guess, scale)
        end = np.cos(1.0 + h) + (2.0 - np.cos(1.0)) * np.exp(-0.5 * h)
        errors.append(abs(tried.states[1, -1, 0] - end))
        told.append(tried.error[0] * 1e-13)
    assert np.log2(errors[-1] / errors[-2]) > 2 * POINTS - 1
    assert np.log2(told[1] / told[0]) == pytest.approx(POINTS + 1, abs=0.3)


def test_an_event_is_located_not_stepped_over():
    # cos t + exp(-0.2 t) falls through one half
    _, path = run(0.2, level=0.5, until=50.0)
    t, y = path.ends[path.counts[0] - 1, :, 0]
    assert path.codes.tolist() == [2]
    assert y == pytest.approx(0.5, abs=1e-9)
    assert exact(t, 0.2) == pytest.approx(0.5, abs=1e-8)
    # a level that is only touched between two ends of long steps
    _, path = run(0.0, level=0.0, start=1.0 + 1e-3, until=50.0, tolerance=1e-3)
    assert path.codes.tolist() == [2]
    assert path.ends[path.counts[0] - 1, 0, 0] < np.pi


def test_alone_or_among_many_to_the_bit():
    k = 10.0 ** np.linspace(-1, 5, 40)
    state, many = run(k, tolerance=1e-6)
    states, _ = sample(many, state, np.ones((2, 40)), 9)
    for i in (0, 7, 22, 39):
        start, one = run(k[i], tolerance=1e-6)
        assert one.counts[0] == many.counts[i]
        alone, _ = sample(one, start, np.ones((2, 1)), 9)
        assert np.array_equal(alone[..., 0], states[..., i])


def test_a_march_that_does_not_end(monkeypatch):
    monkeypatch.setattr(marching, "MOST_TRIALS", 3)
    with pytest.raises(ConvergenceError, match="a march did not end"):
        run(1.0)


@dataclasses.dataclass(frozen=True)
class Falling(Relaxing):
    """The same, with a third component that a law ties to the second: they are equal."""

    def evaluate(self, state):
        _, rates, signals = super().evaluate(state)
        rates[2] = rates[1]
        return np.stack([state[0], state[2], state[2]]), rates, signals


@pytest.mark.parametrize(("off", "taken"), [(0.0, True), (1e-7, True), (1e-3, False)])
def test_a_path_that_leaves_its_laws_is_not_taken_to_an_event(off, taken):
    problem = Falling(np.array([0.0]), np.array([9.0]), np.array([0.5]))
    theta = np.concatenate([[0.0], RULE.nodes])
    fall = 1.0 - theta
    knots = np.array([theta, fall + off * theta, fall])[..., None]
    signals = np.array([problem.until - theta, fall - 0.5])[..., None]
    error, nothing = np.ones(1), np.zeros((3, 1))
    seems = np.ones(1, dtype=bool)
    tried = Tried(knots[:, 0], knots[:, 1:], signals[:, 1:], nothing, nothing[None], error, seems, None)
    scale, tolerance = np.array([[np.inf], [1e-8], [1e-8]]), np.full((2, 1), 1e-12)
    share, end, *_, accepted = marching._land(problem, knots, tried, signals[:, 0], tolerance, scale, seems)
    assert accepted.tolist() == [taken]
    if taken:
        assert end[1, 0] == pytest.approx(0.5, abs=1e-9)
        assert share[0] == pytest.approx(0.5, abs=1e-6)


@dataclasses.dataclass(frozen=True)
class Settling(Relaxing):
    """y' = -k y: exp(-k t) solves it from 1. Has settled below `WITHIN`."""

    WITHIN = 1e-4

    def evaluate(self, state):
        rates = np.stack([np.ones_like(state[1]), -self.k * state[1]])
        return state, rates, np.stack([self.until - state[0]])

    def settled(self, before, after, rates):
        return np.where(np.abs(after[1]) < self.WITHIN, 3, 0)

    def at_rest(self, before, after, rates):
        return np.zeros_like(after), np.array(
            [np.full(self.k.size, np.inf), np.full(self.k.size, self.WITHIN)]
        )


@pytest.mark.parametrize("tolerance", [1e-6, 1e-9])
def test_what_has_settled_did_so_when_it_came_near_not_where_the_step_ends(tolerance):
    k = np.array([0.01, 1.0, 300.0])
    problem = Settling(k, np.full(3, 1e6), np.zeros(3))
    start = np.array([np.zeros(3), np.ones(3)])
    scale = np.array([np.full(3, np.inf), np.full(3, tolerance)])
    path = march_stiff(
        problem,
        start,
        scale=scale,
        tolerance=np.full((1, 3), 1e-9),
        first=np.array([[np.inf] * 3, [0.01] * 3]),
    )
    assert path.codes.tolist() == [3, 3, 3]
    ends = path.ends[path.counts - 1, :, np.arange(3)]
    np.testing.assert_allclose(ends[:, 0], np.log(1.0 / Settling.WITHIN) / k, rtol=2e4 * tolerance)
    np.testing.assert_allclose(ends[:, 1], Settling.WITHIN, rtol=1e-4)


def test_no_point_lies_between_a_step_and_the_next():
    """A step may begin beside the end of the last, put back on its laws: points in time stay in order."""
    places = np.concatenate([[0.0], RULE.nodes])
    knots = np.empty((2, POINTS + 1, 2, 1))
    knots[0, :, 0, 0], knots[1, :, 0, 0] = places, 1.0 + places
    # the second step begins a fifth above where the first ended
    knots[0, :, 1, 0], knots[1, :, 1, 0] = places, 1.2 + 0.8 * places
    path = marching.DensePath(
        knots, np.ones((2, 1)), knots[:, -1], np.zeros((2, 0, 1)), np.array([2]), np.array([1])
    )
    states, _ = sample(path, np.zeros((2, 1)), np.array([[0.0], [1.0]]), 101)
    time, value = states[:, 0, 0], states[:, 1, 0]
    assert np.all(np.diff(time) >= 0.0)
    # even in what the steps themselves move, 1 and 0.8
    np.testing.assert_allclose(np.diff(value[:55]), 0.018, rtol=1e-9)
    np.testing.assert_allclose(np.diff(value[57:]), 0.018, rtol=1e-9)
