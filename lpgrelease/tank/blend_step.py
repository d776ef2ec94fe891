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

from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray
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
    "try_step",
]


ROOT = 6.0**0.5
PLACES = ((4.0 - ROOT) / 10.0, (4.0 + ROOT) / 10.0, 1.0)
WEIGHTS = (
    ((88.0 - 7.0 * ROOT) / 360.0, (296.0 - 169.0 * ROOT) / 1800.0, (-2.0 + 3.0 * ROOT) / 225.0),
    ((296.0 + 169.0 * ROOT) / 1800.0, (88.0 + 7.0 * ROOT) / 360.0, (-2.0 - 3.0 * ROOT) / 225.0),
    ((16.0 - ROOT) / 36.0, (16.0 + ROOT) / 36.0, 1.0 / 9.0),
)
"""Radau's places and weights; the last row is that of the step."""
REAL = 3.0 + 3.0 ** (2.0 / 3.0) - 3.0 ** (1.0 / 3.0)
"""Real eigenvalue of the inverse of the weights: 3.6378."""


def _embedded() -> tuple[float, ...]:
    powers = np.array([[c**k for c in PLACES] for k in range(3)])
    wanted = np.array([1.0 - 1.0 / REAL, 1.0 / 2.0, 1.0 / 3.0])
    return tuple(float(x) for x in np.linalg.solve(powers, wanted) - np.array(WEIGHTS[-1]))


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
    stacked, sides = matrix.transpose(2, 0, 1), right.transpose(2, 0, 1)
    good = np.asarray(np.isfinite(stacked).all(axis=(1, 2)))
    if not good.all():
        stacked = np.where(good[:, None, None], stacked, np.eye(stacked.shape[1]))
    try:
        solved = np.linalg.solve(stacked, sides)
    except np.linalg.LinAlgError:
        singular = np.linalg.slogdet(stacked).sign == 0.0
        solved = np.linalg.solve(stacked + 1e-13 * singular[:, None, None] * np.eye(stacked.shape[1]), sides)
    if not good.all():
        solved = np.where(good[:, None, None], solved, np.nan)
    return np.asarray(solved.transpose(1, 2, 0))


def conserved(rows: FloatArray, openings: int) -> FloatArray:
    """Rates of ln moles in the tank and of its energy over R, from the rows of `Rates` (rows, ...)."""
    out = -rows[openings:-1]
    out[-1] = rows[-2] - rows[-1]
    return out


def moved(w: FloatArray, change: FloatArray) -> FloatArray:
    """Unknowns (2 nc + 2, ...) after a Newton change: concentrations by logarithms, volumes as they are."""
    count = (w.shape[0] - 2) // 2
    out = np.empty_like(w)
    share, step = w[-1], change[-1]
    new = np.maximum(share + step, LEAST_LEFT * share)
    new = np.minimum(new, 1.0 - LEAST_LEFT * (1.0 - share))
    out[-1] = new
    out[-2] = w[-2] * (1.0 + np.minimum(np.maximum(change[-2], -0.2), 0.2))
    for part, before, after, sign in (
        (slice(0, count), share, new, 1.0),
        (slice(count, -2), 1.0 - share, 1.0 - new, -1.0),
    ):
        concentration = np.minimum(np.maximum(change[part] - sign * step / before, -2.0), 2.0)
        out[part] = w[part] * (np.exp(concentration) * (after / before))
    return out


def largest_change(w: FloatArray, change: FloatArray) -> FloatArray:
    """Largest Newton change of a concentration's logarithm, of ln T or of the liquid's share; (..., n).

    The share's is related to the lesser of liquid and vapor, down to `SMALL_SHARE`: it counts where a phase
    ends.
    """
    count = (w.shape[0] - 2) // 2
    share, step = w[-1], change[-1]
    liquid = np.abs(change[:count] - step / share).max(axis=0)
    vapor = np.abs(change[count:-2] + step / (1.0 - share)).max(axis=0)
    rest = np.maximum(np.abs(change[-2]), np.abs(step) / (np.minimum(share, 1.0 - share) + SMALL_SHARE))
    return np.asarray(np.maximum(np.maximum(liquid, vapor), rest))


def eliminated(rates: Rates, count: int) -> FloatArray:
    """Change of the unknowns by each conserved quantity, and in the last column that to equilibrium."""
    matrix = rates.now.matrix
    right = np.zeros((matrix.shape[0], count + 2, matrix.shape[2]))
    for i in range(count + 1):
        right[i, i] = 1.0
    right[count + 1 :, -1] = -rates.now.rows[count + 1 :]
    return solve_small(matrix, right)


def contracted(left: FloatArray, right: FloatArray) -> FloatArray:
    """Sum over k of left (m, k, n) times right (k, ..., n), in the order of k."""
    shape = (left.shape[0], *(1,) * (right.ndim - 2), left.shape[2])
    total: FloatArray = left[:, 0].reshape(shape) * right[0]
    for k in range(1, right.shape[0]):
        total = total + left[:, k].reshape(shape) * right[k]
    return total


def settle_phases(venting: BlendVenting, w: FloatArray, wanted: FloatArray, steps: int = 3) -> FloatArray:
    """Unknowns (2 nc + 2, n) at equilibrium that hold `wanted` ln moles and energy over R (nc + 1, n)."""
    count = venting.components
    for _ in range(steps):
        rates = venting.rates(w)
        change = eliminated(rates, count)
        short = wanted - rates.now.rows[: count + 1]
        total = change[:, -1]
        for i in range(count + 1):
            total = total + change[:, i] * short[i]
        w = moved(w, total)
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
    rows = np.zeros((openings + count + 2, 3, n))
    log_p, jacobian = np.zeros((3, n)), np.zeros((count + 1, count + 1, n))
    slope = np.zeros((count + 1, n))
    last = np.ones(n)
    for iteration in range(MOST_ITERATIONS):
        rates = tripled.rates(w.reshape(size, -1))
        by = eliminated(rates, count)
        whole = contracted(conserved(rates.slopes, openings), by).reshape(count + 1, count + 2, 3, n)
        f = conserved(rates.rows, openings).reshape(-1, 3, n) + whole[:, -1]
        standing = rates.now.rows[: count + 1].reshape(-1, 3, n)
        shift = _stage_changes(whole[:, :-1], f, standing, held, step)
        change = by[:, -1].reshape(size, 3, n)
        for i in range(count + 1):
            change = change + by[:, i].reshape(size, 3, n) * shift[i]
        flat = change.reshape(size, -1)
        pressed = contracted(rates.now.log_pressure_slope[None], flat)[0]
        share, swing = _bearable(rates, pressed, flat[-1])
        part = share.reshape(3, n).min(axis=0)
        change = change * part
        flat = change.reshape(size, -1)
        largest = np.maximum(largest_change(w, change), DRIVE_WEIGHT * swing.reshape(3, n)).max(axis=0)
        failed |= ~np.isfinite(largest)
        rate = largest / last if iteration else 2.0 * largest
        last = largest
        going = ~(converged | failed)
        new = rates.rows + contracted(rates.slopes, flat)
        pressed = np.log(rates.now.pressure).reshape(3, n) + pressed.reshape(3, n) * part
        rows = np.where(going, new.reshape(rows.shape), rows)
        log_p = np.where(going, pressed, log_p)
        jacobian = np.where(going, whole[:, :-1, 2], jacobian)
        slope = np.where(going, by[-2, :-1].reshape(-1, 3, n)[:, 2], slope)
        w = np.where(going, moved(w, change), w)
        converged |= going & (largest * rate < CONVERGED) & (part == 1.0)
        if iteration >= 2:
            failed |= going & ~converged & (rate > STALLED) & (part == 1.0)
        if (converged | failed).all():
            break
    return Trial(w, rows, log_p, jacobian, slope, converged)


def _bearable(rates: Rates, pressed: FloatArray, filled: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Share of a Newton change that leaves a tenth of every drive, and the largest change of one over itself.

    `pressed` and `filled` are the change's parts in ln p and in the liquid's share, (n,). Flow goes like the
    root of its drive: where a wide vent holds a tank close to the air's pressure, a whole Newton step from
    above would land below it, where nothing flows and no slope leads back.
    """
    share, swing = np.ones_like(pressed), np.zeros_like(pressed)
    for drive, rise in zip(rates.drives, rates.rises, strict=True):
        fall = -(pressed + rise * filled)
        flows = drive > LEAST_DRIVE
        safe = np.where(flows, drive, 1.0)
        relative = np.where(flows, fall / safe, 0.0)
        share = np.minimum(share, (1.0 - LEAST_LEFT) / np.maximum(relative, 1.0 - LEAST_LEFT))
        begins = ~flows & (drive - fall > LEAST_DRIVE)
        swing = np.maximum(swing, np.where(begins, 1.0, np.abs(relative)))
    return share, swing


def _stage_changes(
    jacobian: FloatArray, f: FloatArray, standing: FloatArray, held: FloatArray, step: FloatArray
) -> FloatArray:
    """Find changes (m, 3, n) of what is conserved at the three places: one Newton step of the collocation."""
    m, n = held.shape
    weights = np.array(WEIGHTS)[:, :, None] * step
    right = np.empty((3, m, n))
    for r, weight in enumerate(weights):
        right[r] = held - standing[:, r] + weight[0] * f[:, 0] + weight[1] * f[:, 1] + weight[2] * f[:, 2]
    matrix = -weights[:, None, :, None] * jacobian.transpose(0, 2, 1, 3)
    matrix = matrix.reshape(3 * m, 3 * m, n)
    diagonal = np.arange(3 * m)
    matrix[diagonal, diagonal] += 1.0
    return solve_small(matrix, right.reshape(3 * m, 1, n))[:, 0].reshape(3, m, n).swapaxes(0, 1)


def error_estimate(trial: Trial, first: FloatArray, step: FloatArray, openings: int) -> FloatArray:
    """Embedded estimate (m, n) of what is conserved; `first` are its rates at the step's start."""
    f = conserved(trial.rows, openings)
    total = first / REAL
    for s, weight in enumerate(EMBEDDED):
        total = total + weight * f[:, s]
    matrix = (step * (-1.0 / REAL)) * trial.jacobian
    diagonal = np.arange(matrix.shape[0])
    matrix[diagonal, diagonal] += 1.0
    return solve_small(matrix, (step * total)[:, None])[:, 0]
