"""The marching of many initial value problems: order, events, independence, ends."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from lpgrelease import marching
from lpgrelease.errors import ConvergenceError
from lpgrelease.marching import march, resample

REACHED, OVER, SETTLED = 1, 2, 3


@dataclasses.dataclass(frozen=True, eq=False)
class Toy:
    """dy/dt = -rate * y while `on`, dy/dt = -2 * rate otherwise; ends at `floor` or at `end`.

    The first event ends a scenario where y comes to `floor`, the second where time comes to `end`; the
    third turns the law over where y comes to `switch`.
    """

    rate: np.ndarray
    floor: np.ndarray
    end: np.ndarray
    switch: np.ndarray
    on: np.ndarray
    settles: bool = False

    def evaluate(self, state):
        y = state[1]
        speed = np.where(self.on, -self.rate * y, -2.0 * self.rate)
        signals = np.stack(
            [y - self.floor, self.end - state[0], np.where(self.on, y - self.switch, 1.0 + y * y)]
        )
        return state, np.stack([np.ones_like(y), speed]), signals

    def landed(self, events):
        codes = np.where(events[0], REACHED, np.where(events[1], OVER, 0))
        return dataclasses.replace(self, on=self.on & ~events[2]), codes

    def settled(self, before, after, rates):
        near = np.abs(rates[1][1]) < 1e-6
        return np.where(near & self.settles, SETTLED, 0)

    def take(self, index):
        own = {f.name: getattr(self, f.name) for f in dataclasses.fields(self)}
        return dataclasses.replace(
            self, **{name: value[index] for name, value in own.items() if name != "settles"}
        )

    def mode(self):
        return self.on[None]


def toy(n=1, **given):
    values = {"rate": 1.0, "floor": -1e9, "end": 1e9, "switch": -1e9} | given
    arrays = {name: np.broadcast_to(np.asarray(v, float), (n,)).copy() for name, v in values.items()}
    return Toy(**arrays, on=np.ones(n, dtype=bool))


def run(ensemble, start=1.0, *, scale=1e-9, tolerance=1e-10, first=0.01):
    n = ensemble.rate.size
    state = np.stack([np.zeros(n), np.broadcast_to(start, (n,)).astype(float)])
    scales = np.stack([np.full(n, np.inf), np.full(n, scale)])
    return march(ensemble, state, scale=scales, tolerance=np.full((3, n), tolerance), first=np.full(n, first))


def ends(path):
    return path.states[path.counts - 1, :, np.arange(path.counts.size)].T


@dataclasses.dataclass(frozen=True, eq=False)
class Pendulum:
    """Harmonic motion in two components, up to the time `end`: exact solution cos t, -sin t."""

    end: np.ndarray

    def evaluate(self, state):
        _, x, v = state
        return state, np.stack([np.ones_like(x), v, -x]), (self.end - state[0])[None]

    def landed(self, events):
        return self, np.where(events[0], OVER, 0)

    def settled(self, before, after, rates):
        return np.zeros(before.shape[1], dtype=np.intp)

    def take(self, index):
        return Pendulum(self.end[index])

    def mode(self):
        return np.zeros((1, self.end.size), dtype=bool)


def test_one_step_is_of_fifth_order_and_its_middle_of_fourth(monkeypatch):
    end, middle = [], []
    steps = np.array([0.4, 0.2, 0.1])
    for h in steps:
        state = np.array([[0.0], [1.0], [0.0]])
        rates = Pendulum(np.array([9.0])).evaluate(state)[1]
        new, _, _, _, mid = marching._trial(
            Pendulum(np.array([9.0])), state, rates, np.array([h]), np.ones_like(state)
        )
        end.append(abs(new[1, 0] - np.cos(h)) + abs(new[2, 0] + np.sin(h)))
        middle.append(abs(mid[1, 0] - np.cos(h / 2)) + abs(mid[2, 0] + np.sin(h / 2)))
    # the error of one step is of one order more than that of the march
    assert np.log2(np.divide(end[:-1], end[1:])) == pytest.approx(6.0, abs=0.2)
    assert np.log2(np.divide(middle[:-1], middle[1:])).min() > 4.8


def test_the_error_falls_with_the_fifth_power_of_the_steps():
    errors, counts = [], []
    for scale in (1e-6, 1e-8, 1e-10):
        n = 1
        state = np.array([[0.0], [1.0], [0.0]])
        path = march(
            Pendulum(np.full(n, 20.0)),
            state,
            scale=np.array([[np.inf], [scale], [scale]]),
            tolerance=np.full((1, n), 1e-12),
            first=np.full(n, 0.01),
        )
        _, x, v = ends(path)[:, 0]
        errors.append(np.hypot(x - np.cos(20.0), v + np.sin(20.0)))
        counts.append(path.counts[0])
    order = -np.diff(np.log(errors)) / np.diff(np.log(counts))
    assert order == pytest.approx(5.0, abs=0.6)


def test_decay_reaches_its_floor_at_the_exact_time():
    rate, floor = np.array([0.01, 1.0, 30.0]), np.array([0.5, 0.1, 0.9])
    path = run(toy(3, rate=rate, floor=floor))
    time, y = ends(path)
    assert path.codes.tolist() == [REACHED] * 3
    np.testing.assert_allclose(time, np.log(1.0 / floor) / rate, rtol=1e-7)
    # landed just before the event, never beyond it
    assert ((y >= floor) & (y <= floor + 1e-10)).all()


def test_the_earlier_of_two_ends_comes_first():
    path = run(toy(2, floor=0.5, end=[0.1, 5.0]))
    time, _ = ends(path)
    assert path.codes.tolist() == [OVER, REACHED]
    np.testing.assert_allclose(time, [0.1, np.log(2.0)], rtol=1e-8)


def test_a_switch_is_located_and_kept_with_the_path():
    # decay to 0.5 in ln 2, then a straight fall of 2 per second to 0.1
    path = run(toy(floor=0.1, switch=0.5))
    time, _ = ends(path)
    np.testing.assert_allclose(time, np.log(2.0) + 0.4 / 2.0, rtol=1e-8)
    modes = path.modes[: path.counts[0], 0, 0]
    at = path.states[: path.counts[0], 0, 0]
    assert modes[0]
    assert not modes[-1]
    np.testing.assert_allclose(at[~modes][0], np.log(2.0), rtol=1e-8)


def test_an_event_at_the_start_is_in_force_from_the_start():
    path = run(toy(floor=0.1, switch=1.0))
    time, _ = ends(path)
    np.testing.assert_allclose(time, 0.9 / 2.0, rtol=1e-9)
    assert not path.modes[: path.counts[0]].any()
    over = run(toy(floor=1.0))
    assert over.codes.tolist() == [REACHED]
    assert over.counts.tolist() == [1]


def test_settling_ends_a_scenario():
    path = run(dataclasses.replace(toy(rate=3.0), settles=True))
    assert path.codes.tolist() == [SETTLED]
    assert ends(path)[1, 0] < 1e-6


def test_a_scenario_is_the_same_to_the_bit_alone_and_in_company():
    rng = np.random.default_rng(3)
    n = 500
    given = {"rate": rng.uniform(0.01, 50.0, n), "floor": rng.uniform(0.0, 0.9, n)}
    given |= {"end": rng.uniform(0.01, 20.0, n), "switch": rng.uniform(0.0, 1.0, n)}
    first = rng.uniform(1e-4, 1.0, n)
    many = run(toy(n, **given), first=first)
    for i in range(0, n, 25):
        alone = run(toy(1, **{name: v[i] for name, v in given.items()}), first=first[i])
        count = alone.counts[0]
        assert (count, alone.codes[0]) == (many.counts[i], many.codes[i])
        for name in ("states", "rates", "middles", "modes"):
            a, b = getattr(alone, name)[:count, :, 0], getattr(many, name)[:count, :, i]
            assert (a == b).all(), name


def test_a_finished_scenario_stays_where_it_ended():
    # two of a hundred end at once: too few to be dropped from the arrays
    end = np.full(100, 3.0)
    end[:2] = 1e-3
    path = run(toy(100, end=end))
    assert path.counts[0] == path.counts[1] < path.counts[2]
    np.testing.assert_allclose(ends(path)[0], end, rtol=1e-6)


def test_gives_up_with_the_state_of_the_scenario_that_stuck(monkeypatch):
    monkeypatch.setattr(marching, "MOST_TRIALS", 50)
    with pytest.raises(ConvergenceError, match="a march did not end") as caught:
        run(toy(3, end=[0.01, 1e9, 0.02]), scale=1e-12)
    assert caught.value.last_state["scenario"] == 1.0
    assert caught.value.last_state["time"] > 0.0


def test_resampling_meets_the_exact_solution_between_steps():
    path = run(toy(2, end=[2.0, 3.0]), scale=1e-9)
    states, _ = resample(path, np.ones((2, 2)), 41)
    np.testing.assert_allclose(states[-1, 0], [2.0, 3.0], rtol=1e-9)
    assert (states[0] == path.states[0]).all()
    assert (np.diff(states[:, 0], axis=0) > 0.0).all()
    # the quartic's error is of the order of the steps' own
    np.testing.assert_allclose(states[:, 1], np.exp(-states[:, 0]), atol=3e-8)
    # even in the sum of the weighted changes, up to interpolation along each step
    length = np.abs(np.diff(states, axis=0)).sum(axis=1)
    np.testing.assert_allclose(length, np.broadcast_to(length.mean(axis=0), length.shape), rtol=0.02)


def test_resampling_keeps_the_modes():
    path = run(toy(floor=0.1, switch=0.5))
    states, modes = resample(path, np.ones((2, 1)), 101)
    wet = modes[:, 0, 0]
    assert states[wet, 0, 0].max() <= np.log(2.0) * (1 + 1e-7)
    assert states[~wet, 0, 0].min() >= np.log(2.0) * (1 - 1e-7)


def test_resampling_is_exact_for_a_quartic():
    # two points of t**4 on [1, 3], with the rates at both and the middle of the step between them
    path = marching.Path(
        states=np.array([[[1.0], [1.0]], [[3.0], [81.0]]]),
        rates=np.array([[[1.0], [4.0]], [[1.0], [108.0]]]),
        middles=np.array([[[1.0], [1.0]], [[2.0], [16.0]]]),
        modes=np.ones((2, 1, 1), dtype=bool),
        counts=np.array([2]),
        codes=np.array([OVER]),
    )
    states, _ = resample(path, np.array([[1.0], [0.0]]), 9)
    np.testing.assert_allclose(states[:, 0, 0], np.linspace(1.0, 3.0, 9), rtol=1e-14)
    np.testing.assert_allclose(states[:, 1, 0], np.linspace(1.0, 3.0, 9) ** 4, rtol=1e-13)


def test_a_finished_scenario_does_not_run_away_while_others_take_long():
    # nothing changes in the first: its steps would grow sixfold for ever
    end, rate = np.full(9, 30.0), np.ones(9)
    end[0], rate[0] = 1e-3, 0.0
    path = run(toy(9, end=end, rate=rate), scale=3e-13, tolerance=1e-12)
    assert path.counts[1] > 420
    np.testing.assert_allclose(ends(path)[:, 0], [1e-3, 1.0], rtol=1e-8)
