"""The accepted steps of a blend's march, and points between them.

Notes
-----
Within a step the quartic through the states at both ends and the middle, with the rates at the ends.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray, IntArray

__all__ = ["Path", "resample"]

AT_ONCE = 1000
"""States interpolated in one call."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Path:
    """Accepted steps of every scenario.

    Parameters
    ----------
    states, rates : ndarray, shape (steps, components, scenarios)
        At the accepted points; beyond a scenario's own count, unused.
    middles : ndarray, shape (steps, components, scenarios)
        State at the middle of the step that ends at each point.
    modes : ndarray, shape (steps, flags, scenarios)
        In force from that point on.
    counts : ndarray, shape (scenarios,)
        Number of points.
    codes : ndarray, shape (scenarios,)
        Why each ended.
    """

    states: FloatArray
    rates: FloatArray
    middles: FloatArray
    modes: BoolArray
    counts: IntArray
    codes: IntArray


def resample(path: Path, weights: FloatArray, points: int, *, rising: slice) -> tuple[FloatArray, BoolArray]:
    """States at `points` points of every path, ends included, by quartic interpolation.

    Parameters
    ----------
    path : Path
    weights : ndarray, shape (components, scenarios)
        The points are spread evenly over the sum of weight * |change of component| along the path.
    points : int
    rising : slice
        Components that never fall; between two points of the path they stay between their values.

    Returns
    -------
    states : ndarray, shape (points, components, scenarios)
    modes : ndarray, shape (points, flags, scenarios)
    """
    most = int(path.counts.max(initial=1))
    scenario = np.arange(path.counts.size)
    unused = np.arange(most)[:, None] >= path.counts
    moves = np.abs(np.diff(path.states[:most], axis=0))
    length = np.zeros((most, scenario.size))
    for component in range(moves.shape[1]):
        length[1:] += moves[:, component] * weights[component]
    length[unused] = 0.0
    length = np.add.accumulate(length, axis=0)
    total = length[path.counts - 1, scenario]
    states = np.empty((points, *path.states.shape[1:]))
    modes = np.empty((points, *path.modes.shape[1:]), dtype=np.bool_)
    at_once = max(1, AT_ONCE // max(scenario.size, 1))
    for first in range(0, points, at_once):
        index = np.arange(first, min(first + at_once, points))
        who = np.tile(scenario, index.size)
        target = (total * (index / (points - 1))[:, None]).reshape(-1)
        passed = (length[:, who] <= target) & ~unused[:, who]
        left = np.maximum(np.minimum(passed.sum(axis=0), path.counts[who] - 1) - 1, 0)
        right = np.minimum(left + 1, path.counts[who] - 1)
        value = _interpolate(path, left, right, who, target, length)
        floor, ceiling = path.states[left, rising, who].T, path.states[right, rising, who].T
        value[rising] = np.clip(value[rising], floor, ceiling)
        shape = index.size, scenario.size
        states[index] = value.reshape(len(value), *shape).swapaxes(0, 1)
        modes[index] = path.modes[left, :, who].reshape(*shape, modes.shape[1]).swapaxes(1, 2)
    states[0], states[-1] = path.states[0], path.states[path.counts - 1, :, scenario].T
    np.maximum.accumulate(states[:, rising], axis=0, out=states[:, rising])
    return states, modes


def _interpolate(
    path: Path, left: IntArray, right: IntArray, scenario: IntArray, target: FloatArray, length: FloatArray
) -> FloatArray:
    """Quartic through the states at both ends and the middle of a step, with the rates at the ends."""
    y0, y1, ym = (
        array.T
        for array in (
            path.states[left, :, scenario],
            path.states[right, :, scenario],
            path.middles[right, :, scenario],
        )
    )
    f0, f1 = path.rates[left, :, scenario].T, path.rates[right, :, scenario].T
    span = length[right, scenario] - length[left, scenario]
    w = np.where(span > 0.0, (target - length[left, scenario]) / np.where(span > 0.0, span, 1.0), 1.0)
    w = np.clip(w, 0.0, 1.0)
    dt = y1[0] - y0[0]
    u = 1.0 - w
    value: FloatArray = (
        u * u * (1.0 + 2.0 * w) * y0 + w * w * (3.0 - 2.0 * w) * y1 + w * u * dt * (u * f0 - w * f1)
    )
    cubic_middle = 0.5 * (y0 + y1) + 0.125 * dt * (f0 - f1)
    value = value + 16.0 * (w * u) * (w * u) * (ym - cubic_middle)
    value[0] = y0[0] + w * dt
    return value
