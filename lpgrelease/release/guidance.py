"""What discharge coefficient to take for a hole, and the diameter that stands for another shape."""

from __future__ import annotations

import csv
import dataclasses
from functools import cache
from importlib import resources

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si

__all__ = ["DischargeGuidance", "discharge_guidance", "slit_diameter"]


@dataclasses.dataclass(frozen=True, slots=True)
class DischargeGuidance:
    """One row of the table of discharge coefficients.

    Parameters
    ----------
    kind, phase : str
        Of hole, and what flows: "vapor", "liquid", "boiling" or "any".
    low, high, advised : float
        Range and a value within it.
    source, how_known, note : str
        Key of the bibliography or "" for common practice; "looked-up", "from memory" or "common practice".
    """

    kind: str
    phase: str
    low: float
    high: float
    advised: float
    source: str
    how_known: str
    note: str


@cache
def _table() -> tuple[DischargeGuidance, ...]:
    path = resources.files("lpgrelease") / "data" / "discharge_coefficients.csv"
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if line and line[0] != "#"]
    numbers = ("low", "high", "advised")
    return tuple(
        DischargeGuidance(**{key: float(text) if key in numbers else text for key, text in row.items()})  # type: ignore[arg-type]
        for row in csv.DictReader(lines)
    )


def discharge_guidance(kind: str | None = None) -> tuple[DischargeGuidance, ...]:
    """Return published and customary discharge coefficients, with their sources.

    Parameters
    ----------
    kind : str, optional
        Of hole, as "sharp edge"; None returns the whole table.

    Returns
    -------
    tuple of DischargeGuidance

    Raises
    ------
    InputError
        Unknown kind.

    References
    ----------
    white2006viscous, unwin1911hydraulics, yu2019leakage, api2014sizing; what has no source says so.

    Examples
    --------
    >>> for row in discharge_guidance("sharp edge"):
    ...     print(f"{row.phase}: {row.low:.2f} to {row.high:.2f}, advised {row.advised:.2f}")
    liquid: 0.60 to 0.62, advised 0.62
    vapor: 0.56 to 0.79, advised 0.72
    """
    if kind is None:
        return _table()
    rows = tuple(row for row in _table() if row.kind == kind)
    if not rows:
        kinds = ", ".join(dict.fromkeys(row.kind for row in _table()))
        raise InputError(f"kind must be one of {kinds}; got {kind!r}")
    return rows


def slit_diameter(length: QuantityLike, *, width: QuantityLike) -> FloatArray:
    """Diameter of the round opening of the same area as a slit.

    Parameters
    ----------
    length, width : number, array or quantity
        [m], above 0.

    Returns
    -------
    float or ndarray
        d = sqrt(4 length width/pi) [m].

    Raises
    ------
    InputError, OutOfRangeError

    Examples
    --------
    >>> print(f"{slit_diameter(0.10, width=0.001) * 1e3:.1f} mm")
    11.3 mm
    """
    long = to_si(length, "m", "length", lower=0.0, open_lower=True)
    wide = to_si(width, "m", "width", lower=0.0, open_lower=True)
    long, wide = broadcast(length=long, width=wide)
    diameter: FloatArray = np.sqrt(4.0 / np.pi * long * wide)
    return diameter
