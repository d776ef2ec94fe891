"""Columns of ground from which a film of vapor breaks away within a time step."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from lpgrelease.ground.column import GroundColumns, GroundState, GroundStep
from lpgrelease.pool.contact import BoilingContact
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = ["step_across_break"]

_TINY: Final = 1e-9
SEARCHES: Final = 4
"""Steps tried to find the time of the break."""
PASSES: Final = 3
"""Steps tried after it, until the slope of the boiling curve is that at the surface's temperature."""


def step_across_break(
    columns: GroundColumns,
    state: GroundState,
    length: FloatArray,
    film: tuple[FloatArray, FloatArray],
    restart: BoolArray,
    *,
    curve: BoilingContact,
    effusivity: FloatArray,
    temperature: FloatArray,
) -> tuple[GroundStep, GroundStep, FloatArray]:
    """Advance columns through a film up to its break, and from there with the liquid on the ground.

    Parameters
    ----------
    columns, state
        Of shape (columns,), all with a film at the start that would be broken at the end.
    length : ndarray
        Of the step [s].
    film : tuple of ndarray
        Conductance of the film [W/m2/K] and the temperature beyond it [K].
    restart : ndarray of bool
        As for `GroundColumns.step`.
    curve : BoilingContact
        Of each column.
    effusivity : ndarray
        Heat that the ground gives per kelvin and root of time [W s^0.5/m2/K].
    temperature : ndarray
        Of the liquid [K].

    Returns
    -------
    before, after : GroundStep
    sink : ndarray
        Temperature of what stands for the boiling liquid after the break [K].
    """
    edge = temperature + curve.least_film

    def through_film(share: FloatArray) -> GroundStep:
        return columns.step(state, share * length, film[1], film[0], restart)

    share = _share_before(
        lambda share: through_film(share).top - edge, columns.surface_temperature(state) - edge
    )
    before = through_film(share)
    rest, gap = (1.0 - share) * length, np.maximum(before.top - temperature, 0.0)
    none, kept, between = np.zeros(gap.shape, dtype=bool), effusivity * np.sqrt(rest), before.state
    difference = curve.touch(kept * gap, kept, rest, temperature, gap, none).difference
    for _ in range(PASSES):
        conductance, sink = curve.tangent(difference, temperature, none)
        after = columns.step(between, rest, sink, conductance, ~none)
        difference = np.maximum(after.top - temperature, 0.0)
    return before, after, sink


def _share_before(margin: Callable[[FloatArray], FloatArray], start: FloatArray) -> FloatArray:
    """Share of a step after which a `margin` [K], which begins at `start` and ends below 0, is 0.

    By the false position; an end that stays is given half its weight, so that the other does not creep.
    """
    low, high = np.zeros_like(start), np.ones_like(start)
    above, below = np.maximum(start, 0.0), np.minimum(margin(high), -_TINY)
    for _ in range(SEARCHES):
        share = low + (high - low) * (above / (above - below))
        found = margin(share)
        whole = found > 0.0
        low, high = np.where(whole, share, low), np.where(whole, high, share)
        above = np.where(whole, found, 0.5 * above)
        below = np.where(whole, 0.5 * below, np.minimum(found, -_TINY))
    last: FloatArray = low + (high - low) * (above / (above - below))
    return last
