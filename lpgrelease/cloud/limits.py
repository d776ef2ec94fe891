"""Flammable limits of mixed vapors."""

from __future__ import annotations

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.quantities import FloatArray, QuantityLike, to_si

__all__ = ["flammable_limit_le_chatelier"]


def flammable_limit_le_chatelier(mole_fractions: QuantityLike, limits: QuantityLike) -> FloatArray:
    """Flammable limit of a mixed vapor from those of its parts, by Le Chatelier's rule.

    Good for lower limits of paraffins and olefins; poorer for upper limits and for unlike gases.

    Parameters
    ----------
    mole_fractions : array
        Of the vapor, free of air; on the last axis, summing to 1.
    limits : array
        Of each part [mole fraction in air], on the last axis.

    Returns
    -------
    float or ndarray
        Mole fraction of the mixed vapor in air.

    Raises
    ------
    InputError, OutOfRangeError
        Fractions that do not sum to 1 within 1e-6; numbers outside 0 to 1.

    Notes
    -----
    1/L = sum y_i/L_i. References: crowl2019safety, Eq. 6-2.

    Examples
    --------
    >>> print(f"{flammable_limit_le_chatelier([0.6, 0.4], [0.021, 0.018]):.5f}")
    0.01969
    """
    y = np.asarray(to_si(mole_fractions, "", "mole_fractions", lower=0.0, upper=1.0))
    L = np.asarray(to_si(limits, "", "limits", lower=0.0, upper=1.0, open_lower=True))
    if y.ndim == 0 or y.shape[-1:] != L.shape[-1:]:
        raise InputError(f"mole_fractions {y.shape} and limits {L.shape} need one entry for each part")
    total, inverse = y[..., 0], y[..., 0] / L[..., 0]
    for i in range(1, y.shape[-1]):
        total, inverse = total + y[..., i], inverse + y[..., i] / L[..., i]
    if np.any(np.abs(total - 1.0) > 1e-6):
        raise InputError(f"mole_fractions must sum to 1, got {float(np.ravel(total)[0]):.6g}")
    return np.asarray(1.0 / inverse)[()]
