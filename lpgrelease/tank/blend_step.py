"""Marching tanks of blends in time: implicit steps with the phases solved along, many tanks at once.

Notes
-----
Three-stage Radau IIA collocation, order 5, stiffly accurate (hairer1996stiff, chapter IV.8): light ends leave
over hours while pressure settles in seconds, and an explicit march would follow the seconds. The unknowns of
every stage are those of `lpgrelease.tank.blend_state`, so one Newton iteration serves equilibrium and time at
once; locally 2 nc + 2 equations are eliminated down to the nc + 1 that are conserved. Moles are marched by
their logarithms, so that none can turn negative in a long step that clears the light ends out. The error
estimate is the embedded one of the same chapter. What has left is what the components lost, and heat and
enthalpy are added up with the step's own weights: each component and energy close to round-off however large
a step.

Every scenario has its own steps, iterations and end; only elementwise operations and the solution of one
small system per scenario touch the arrays.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from lpgrelease.elementwise import chosen, every
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray
from lpgrelease.small_systems import solved
from lpgrelease.summing import add_along
from lpgrelease.tank.blend_state import Standing, diagonal
from lpgrelease.tank.blend_venting import BlendVenting, Rates

__all__ = [
    "PLACES",
    "WEIGHTS",
    "Trial",
    "conserved",
    "eliminated",
    "error_estimate",
    "moved",
    "settle_phases",
    "straightened",
    "try_step",
]


ROOT = 6.0**0.5
PLACES = np.array([(4.0 - ROOT) / 10.0, (4.0 + ROOT) / 10.0, 1.0])
WEIGHTS = np.array(
    [
        ((88.0 - 7.0 * ROOT) / 360.0, (296.0 - 169.0 * ROOT) / 1800.0, (-2.0 + 3.0 * ROOT) / 225.0),
        ((296.0 + 169.0 * ROOT) / 1800.0, (88.0 + 7.0 * ROOT) / 360.0, (-2.0 - 3.0 * ROOT) / 225.0),
        ((16.0 - ROOT) / 36.0, (16.0 + ROOT) / 36.0, 1.0 / 9.0),
    ]
)
"""Radau's places and weights; the last row is that of the step."""
REAL = 3.0 + 3.0 ** (2.0 / 3.0) - 3.0 ** (1.0 / 3.0)
"""Real eigenvalue of the inverse of the weights: 3.6378."""


def _embedded() -> FloatArray:
    powers = np.array([[c**k for c in PLACES] for k in range(3)])
    wanted = np.array([1.0 - 1.0 / REAL, 1.0 / 2.0, 1.0 / 3.0])
    return np.asarray(np.linalg.solve(powers, wanted) - WEIGHTS[-1])[:, None]


EMBEDDED = _embedded()
"""Weights of the rates in the error: an embedded formula of order 3 with the start's rates over `REAL`, less
the step's own."""
MOST_ITERATIONS = 12
CONVERGED = 1e-5
"""A Newton change is the last if the next one would be this small, relative, by the rate seen so far.

The first is taken to go like twice its square, which is what is seen."""
STALLED = 0.5
"""A change not smaller than this over the one before, from the third on, tells that the step is too long."""
DRIVE_WEIGHT = 0.01
"""Of a drive's relative change among those that must become small."""
SMALL_SHARE = 1e-3
LEAST_DRIVE = 1e-9
"""A drive smaller than this, over p, may vanish."""
LEAST_LEFT = 0.1
"""A Newton change leaves at least this much of any amount."""


class Trial(NamedTuple):
    """A step tried: unknowns at its three places, rows of the rates there, ln p, and how it went.

    `jacobian` (nc + 1, nc + 1, n) and `temperature_slope` (nc + 1, n) hold at the step's end: derivatives of
    the conserved rates, and of ln T, by what is conserved.
    """

    unknowns: FloatArray
    rows: FloatArray
    log_pressure: FloatArray
    jacobian: FloatArray
    temperature_slope: FloatArray
    converged: BoolArray


def solve_small(matrix: FloatArray, right: FloatArray) -> FloatArray:
    """Solve matrix (m, m, n) x = right (m, k, n), one scenario at a time; NaN where there is no solution."""
    return solved(matrix.transpose(2, 0, 1), right.transpose(2, 0, 1)).transpose(1, 2, 0)


def conserved(rows: FloatArray, openings: int) -> FloatArray:
    """Rates of ln moles in the tank and of its energy over R, from the rows of `Rates` (rows, ...)."""
    out = -rows[openings:-1]
    out[-1] = rows[-2] - rows[-1]
    return out


def straightened(w: FloatArray, change: FloatArray) -> FloatArray:
    """Turn changes of the logarithms of moles (2 nc + 2, ...) to those of concentrations."""
    count = (w.shape[0] - 2) // 2
    out = np.array(change)
    out[:count] -= change[-1] / w[-1]
    out[count:-2] += change[-1] / (1.0 - w[-1])
    return out


def moved(w: FloatArray, straight: FloatArray) -> FloatArray:
    """Unknowns (2 nc + 2, ...) after a Newton change: concentrations by logarithms, volumes as they are."""
    count = (w.shape[0] - 2) // 2
    out = np.exp(np.minimum(np.maximum(straight, -2.0), 2.0))
    share = w[-1]
    new = np.maximum(share + straight[-1], LEAST_LEFT * share)
    new = np.minimum(new, 1.0 - LEAST_LEFT * (1.0 - share))
    out[:count] *= new / share
    out[count:-2] *= (1.0 - new) / (1.0 - share)
    out[-2] = 1.0 + np.minimum(np.maximum(straight[-2], -0.2), 0.2)
    out *= w
    out[-1] = new
    return out


def largest_change(w: FloatArray, straight: FloatArray) -> FloatArray:
    """Largest Newton change of a concentration's logarithm, of ln T or of the liquid's share; (..., n).

    The share's is related to the lesser of liquid and vapor, down to `SMALL_SHARE`: it counts where a phase
    ends.
    """
    sizes = np.abs(straight)
    sizes[-1] /= np.minimum(w[-1], 1.0 - w[-1]) + SMALL_SHARE
    return np.asarray(sizes.max(axis=0))


def eliminated(now: Standing, count: int) -> FloatArray:
    """Change of the unknowns by each conserved quantity, and in the last column that to equilibrium."""
    right = np.zeros((now.matrix.shape[0], count + 2, now.matrix.shape[2]))
    diagonal(right, 0, 0, count + 1)[:] = 1.0
    right[count + 1 :, -1] = -now.rows[count + 1 :]
    return solve_small(now.matrix, right)


def contracted(left: FloatArray, right: FloatArray) -> FloatArray:
    """Sum over k of left (m, k, n) times right (k, ..., n), each half in the order of k."""
    half = right.shape[0] // 2
    products = left.reshape(*left.shape[:2], *(1,) * (right.ndim - 2), left.shape[2]) * right
    return add_along(products[:, :half], 1) + add_along(products[:, half:], 1)


def carried_out(by: FloatArray, shift: FloatArray) -> FloatArray:
    """Add up changes (m, n) when what is conserved shifts (nc + 1, n); columns of `by` as of `eliminated`."""
    return np.asarray(by[:, -1] + add_along(by[:, :-1] * shift, 1))


def settle_phases(venting: BlendVenting, w: FloatArray, wanted: FloatArray, steps: int = 3) -> FloatArray:
    """Unknowns (2 nc + 2, n) at equilibrium that hold `wanted` ln moles and energy over R (nc + 1, n)."""
    count = venting.components
    for _ in range(steps):
        now = venting.standing(w)
        change = carried_out(eliminated(now, count), wanted - now.rows[: count + 1])
        w = moved(w, straightened(w, change))
    return w


def try_step(
    tripled: BlendVenting, w: FloatArray, held: FloatArray, step: FloatArray, openings: int
) -> Trial:
    """Solve a step's three places from a guess w (2 nc + 2, 3, n); `held` is conserved at its start."""
    with np.errstate(all="ignore"):  # a step that is too long may end anywhere; it is not taken then
        return _iterated(tripled, w, held, step, openings)


def _iterated(
    tripled: BlendVenting, w: FloatArray, held: FloatArray, step: FloatArray, openings: int
) -> Trial:
    size, _, n = w.shape
    count = (size - 2) // 2
    converged, failed = np.zeros((2, n), dtype=np.bool_)
    rows = log_p = jacobian = slope = np.zeros(())
    last = np.full(n, 0.5)
    for iteration in range(MOST_ITERATIONS):
        rates = tripled.rates(w.reshape(size, -1))
        now = rates.now
        by = eliminated(now, count)
        # how all rows, and ln p last, go with what is conserved
        linear = contracted(np.concatenate([rates.slopes, now.log_pressure_slope[None]]), by)
        whole = conserved(linear[:-1], openings).reshape(count + 1, count + 2, 3, n)
        f = conserved(rates.rows, openings).reshape(-1, 3, n) + whole[:, -1]
        standing = now.rows[: count + 1].reshape(-1, 3, n)
        shift = _stage_changes(whole[:, :-1], f, standing, held, step).reshape(count + 1, -1)
        change, rise = carried_out(by, shift), carried_out(linear, shift)
        share, swing = _bearable(rates, rise[-1], change[-1])
        part = share.reshape(3, n).min(axis=0)
        straight = straightened(w, change.reshape(w.shape) * part)
        largest = np.maximum(largest_change(w, straight), DRIVE_WEIGHT * swing.reshape(3, n)).max(axis=0)
        failed |= ~np.isfinite(largest)
        rate = largest / last
        last = largest
        going = ~(converged | failed)
        rise = rise.reshape(-1, 3, n) * part
        new = (
            rates.rows.reshape(-1, 3, n) + rise[:-1],
            np.log(now.pressure).reshape(3, n) + rise[-1],
            whole[:, :-1, 2],
            by[-2, :-1].reshape(-1, 3, n)[:, 2],
            moved(w, straight),
        )
        rows, log_p, jacobian, slope, w = chosen(going, new, (rows, log_p, jacobian, slope, w))
        converged |= going & (largest * rate < CONVERGED) & (part == 1.0)
        if iteration >= 2:
            failed |= going & ~converged & (rate > STALLED) & (part == 1.0)
        if every(converged | failed):
            break
    return Trial(w, rows, log_p, jacobian, slope, converged)


def _bearable(rates: Rates, pressed: FloatArray, filled: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Share of a Newton change that leaves a tenth of every drive, and the largest change of one over itself.

    `pressed` and `filled` are the change's parts in ln p and in the liquid's share, (n,). Flow goes like the
    root of its drive: where a wide vent holds a tank close to the air's pressure, a whole Newton step from
    above would land below it, where nothing flows and no slope leads back.
    """
    fall = -(pressed + rates.rises * filled)
    flows = rates.drives > LEAST_DRIVE
    relative = np.where(flows, fall / rates.drives, 0.0)
    share = (1.0 - LEAST_LEFT) / np.maximum(relative, 1.0 - LEAST_LEFT)
    after = rates.drives - fall
    # what begins or ceases to flow does so by a slope that is none where it comes to
    turns = ~flows & ((after > LEAST_DRIVE) | (rates.drives > 0.0) & (after <= 0.0))
    swing = np.where(turns, 1.0, np.abs(relative))
    return share.min(axis=0, initial=1.0), swing.max(axis=0, initial=0.0)


def _stage_changes(
    jacobian: FloatArray, f: FloatArray, standing: FloatArray, held: FloatArray, step: FloatArray
) -> FloatArray:
    """Find changes (m, 3, n) of what is conserved at the three places: one Newton step of the collocation."""
    m, n = held.shape
    weights = WEIGHTS[:, :, None] * step
    right = (held[:, None] - standing).swapaxes(0, 1) + add_along(weights[:, None] * f, 2)
    matrix = -weights[:, None, :, None] * jacobian.transpose(0, 2, 1, 3)
    matrix = matrix.reshape(3 * m, 3 * m, n)
    diagonal(matrix, 0, 0, 3 * m)[:] += 1.0
    return solve_small(matrix, right.reshape(3 * m, 1, n))[:, 0].reshape(3, m, n).swapaxes(0, 1)


def error_estimate(trial: Trial, first: FloatArray, step: FloatArray, openings: int) -> FloatArray:
    """Embedded estimate (m, n) of what is conserved; `first` are its rates at the step's start."""
    embedded = add_along(EMBEDDED * conserved(trial.rows, openings), 1)
    matrix = (step * (-1.0 / REAL)) * trial.jacobian
    diagonal(matrix, 0, 0, len(matrix))[:] += 1.0
    return solve_small(matrix, (step * (first / REAL + embedded))[:, None])[:, 0]
