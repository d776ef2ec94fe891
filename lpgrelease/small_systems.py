"""Many small systems of linear equations at once, each by itself: one without an answer spoils no other."""

from __future__ import annotations

import numpy as np

from lpgrelease.elementwise import every
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = ["solved"]


def solved(systems: FloatArray, right: FloatArray) -> FloatArray:
    """Solutions (n, rows, k) of systems (n, rows, rows) for right-hand sides (n, rows, k).

    NaN where a system is singular or not finite. Newton's method may ask for either: in a step so long that
    its matrix is singular to round-off, or where a state runs away.

    Examples
    --------
    >>> systems = np.array([[[2.0, 0.0], [0.0, 4.0]], [[1.0, 2.0], [2.0, 4.0]]])
    >>> solved(systems, np.ones((2, 2, 1)))[..., 0]
    array([[0.5 , 0.25],
           [ nan,  nan]])
    """
    none: BoolArray | None = None
    finite = np.isfinite(systems)
    if not every(finite):
        none = np.asarray(~finite.all(axis=(1, 2)))
        systems = _without(none, systems)
    try:
        found = np.linalg.solve(systems, right)
    except np.linalg.LinAlgError:
        singular = np.asarray(np.linalg.slogdet(systems)[0] == 0.0)
        none = singular if none is None else none | singular
        found = np.linalg.solve(_without(singular, systems), right)
    return np.asarray(found) if none is None else np.where(none[:, None, None], np.nan, found)


def _without(which: BoolArray, systems: FloatArray) -> FloatArray:
    """Put the identity in place of those `which` (n,)."""
    return np.where(which[:, None, None], np.eye(systems.shape[-1]), systems)
