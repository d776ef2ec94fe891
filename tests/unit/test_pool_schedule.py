"""Feed over time, and the time nodes of pools."""

from __future__ import annotations

import re

import numpy as np
import pytest

from lpgrelease.errors import InputError
from lpgrelease.pool.schedule import Feed, add_event, feed_events, time_nodes

ONE = np.ones(1)


def feed_of(time, flow) -> Feed:
    flows = np.array(flow)[:, None]
    return Feed(np.array(time)[:, None], 4.0 * flows, flows, 3.0 * flows, 1e5 * flows)


def test_time_nodes_hit_the_ends():
    feed, duration = np.array([0.0, 10.0, 100.0, 500.0]), np.array([100.0, 100.0, 100.0, 100.0])
    t = time_nodes(feed[None], np.ones((1, 4)), duration, 51)
    assert (t[0] == 0.0).all()
    assert (t[-1] == 100.0).all()
    assert (np.diff(t, axis=0) > 0.0).all()
    assert t[25, 1] == 10.0


def test_ten_steps_for_a_stretch_are_enough_and_nine_are_refused():
    event = np.array([[10.0]])
    nodes = time_nodes(event, np.ones((1, 1)), 100.0 * ONE, 21)
    assert nodes[10] == 10.0
    with pytest.raises(InputError, match="2 stretches between starts and ends of the feed"):
        time_nodes(event, np.ones((1, 1)), 100.0 * ONE, 20)


@pytest.mark.parametrize("stretches", [2, 3, 7, 20])
@pytest.mark.parametrize("gone", [None, 99.0 * ONE])
def test_the_nodes_asked_for_are_enough(stretches, gone):
    events = np.linspace(0.0, 90.0, stretches)[1:, None]
    with pytest.raises(InputError, match="need") as refused:
        time_nodes(events, np.ones(events.shape), 100.0 * ONE, 10 * stretches, gone)
    wanted = int(re.search(r"need (\d+) or more", str(refused.value)).group(1))
    nodes = time_nodes(events, np.ones(events.shape), 100.0 * ONE, wanted, gone)
    assert (np.diff(nodes, axis=0) > 0.0).all()
    assert np.isin(events, nodes).all()


def test_events_outside_the_history_are_none():
    inside, outside = np.array([[30.0]]), np.array([[30.0], [0.0], [100.0], [900.0]])
    plain = time_nodes(inside, np.ones((1, 1)), 100.0 * ONE, 61)
    np.testing.assert_array_equal(time_nodes(outside, np.ones((4, 1)), 100.0 * ONE, 61), plain)


def test_nine_tenths_of_the_steps_lie_before_the_pool_is_thought_gone():
    nodes = time_nodes(np.zeros((0, 1)), np.zeros((0, 1)), 1000.0 * ONE, 101, 50.0 * ONE)
    assert nodes[90] == 50.0
    assert nodes[-1] == 1000.0
    assert (np.diff(nodes, axis=0) > 0.0).all()


def test_totals_are_the_integrals_of_straight_lines():
    feed = feed_of([1.0, 3.0, 3.0, 7.0], [0.0, 2.0, 5.0, 1.0])
    # (t - 1)^2 / 2 up to 3 s, then 2 + 5 (t - 3) - (t - 3)^2 / 2 up to 7 s
    times = np.array([0.0, 1.0, 2.0, 3.0, 5.0, 7.0, 9.0])[:, None]
    whole = np.array([0.0, 0.0, 0.5, 2.0, 10.0, 14.0, 14.0])[:, None]
    totals = feed.totals(times)
    for name, factor in {"spilled": 4.0, "flashed": 1.0, "landed": 3.0, "landed_enthalpy": 1e5}.items():
        np.testing.assert_allclose(totals[name], factor * whole, rtol=1e-14)


def test_a_feed_begins_and_ends_with_what_lands():
    feed = feed_of([0.0, 10.0, 20.0, 30.0, 40.0], [0.0, 0.0, 2.0, 0.0, 0.0])
    assert feed.start == 10.0
    assert feed.end == 30.0
    events, real = feed_events(feed)
    assert events[real > 0.0].tolist() == [10.0, 30.0]


def test_an_event_that_is_known_is_not_added_twice():
    events, real = np.array([[10.0, 10.0], [20.0, 20.0]]), np.array([[1.0, 1.0], [0.0, 1.0]])
    times, found = add_event(events, real, np.array([20.0, 20.0]))
    assert times.tolist() == [[10.0, 10.0], [20.0, 20.0], [20.0, 20.0]]
    # that of the first scenario was not real before
    assert found[-1].tolist() == [1.0, 0.0]
