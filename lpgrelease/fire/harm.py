"""What heat does to people and things: thresholds, time to pain or burns, thermal dose."""

from __future__ import annotations

import csv
import warnings
from functools import lru_cache
from importlib import resources
from typing import Final, NamedTuple

import numpy as np

from lpgrelease.errors import OutOfRangeError, ValidityWarning
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, require_flag, require_word, to_si

__all__ = ["HeatThreshold", "heat_thresholds", "thermal_dose", "time_to_harm"]

_COLUMNS: Final = {"pain": "time_to_pain", "second-degree burn": "time_to_burn"}


class HeatThreshold(NamedTuple):
    """A heat flux that a published standard sets against an effect."""

    heat_flux: float
    """[W/m2]."""
    effect: str
    source: str
    how_known: str


def _rows(name: str) -> list[dict[str, str]]:
    text = (resources.files("lpgrelease") / "data" / name).read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if line and not line.startswith("#")))


@lru_cache
def heat_thresholds() -> tuple[HeatThreshold, ...]:
    """Heat fluxes against harm, from published standards, the lowest first.

    None of them is a permission to stay: protective clothing and the rules of the authority in charge
    decide.

    Returns
    -------
    tuple of HeatThreshold

    Examples
    --------
    >>> for row in heat_thresholds()[:2]:
    ...     print(f"{row.heat_flux:.0f} W/m2: {row.effect} [{row.source}]")
    1420 W/m2: people in the open: acceptable to the elderly and to children in a housing site [hud2020siting]
    1580 W/m2: people in suitable clothing may stay there continuously [api2014flares]
    """
    return tuple(
        HeatThreshold(1e3 * float(row["heat_flux"]), row["effect"], row["source"], row["how_known"])
        for row in _rows("fire_thresholds.csv")
    )


@lru_cache
def _harm_table(harm: str) -> tuple[FloatArray, FloatArray]:
    rows = _rows("fire_harm.csv")
    flux = np.array([1e3 * float(row["heat_flux"]) for row in rows])
    return np.log(flux), np.log([float(row[_COLUMNS[harm]]) for row in rows])


def time_to_harm(heat_flux: QuantityLike, *, harm: str = "pain", extrapolate: bool = False) -> FloatArray:
    """Time until bare skin comes to harm under a steady heat flux [s].

    Parameters
    ----------
    heat_flux : number, array or quantity
        [W/m2], 1000 to 12,000.
    harm : {"pain", "second-degree burn"}
        What is reached.
    extrapolate : bool
        Leave the table: infinite below 1 kW/m2, which is strong sunshine, and above 12 kW/m2 the last two
        rows prolonged, with a warning.

    Returns
    -------
    float or ndarray

    Raises
    ------
    InputError, OutOfRangeError
        Not a heat flux, an unknown harm, outside the table without `extrapolate`.

    Warns
    -----
    ValidityWarning
        Above the table.

    Notes
    -----
    Straight lines between the table's rows in logarithms. The table is for bare skin; clothing, sunburn
    and age change it, and pain is the time to have left by. References: fema1989handbook, Table 4.2.

    Examples
    --------
    >>> [f"{t:.1f}" for t in time_to_harm([2000.0, 5000.0, 7000.0])]
    ['45.0', '13.0', '8.6']
    """
    require_word(harm, _COLUMNS, "harm")
    require_flag(extrapolate, "extrapolate")
    flux = np.asarray(to_si(heat_flux, "W/m**2", "heat_flux", lower=0.0))
    shape, flux = flux.shape, np.ravel(flux)
    x, y = _harm_table(harm)
    low, high = 1000.0, 12000.0
    below, above = flux < low * (1.0 - 1e-9), flux > high * (1.0 + 1e-9)
    if not extrapolate and (below | above).any():
        worst = float(flux[below | above][0])
        raise OutOfRangeError("heat_flux", worst, "W/m**2", low, high, "table of times to harm")
    if above.any():
        warnings.warn(f"times to {harm}: heat flux above the table's 12 kW/m2", ValidityWarning, stacklevel=2)
    place = np.log(np.maximum(flux, low))
    cell = np.clip(np.searchsorted(x, place, side="right") - 1, 0, x.size - 2)
    time = np.exp(y[cell] + (y[cell + 1] - y[cell]) * (place - x[cell]) / (x[cell + 1] - x[cell]))
    return np.where(below, np.inf, time).reshape(shape)[()]


def thermal_dose(heat_flux: QuantityLike, duration: QuantityLike) -> FloatArray:
    """Thermal dose of a steady heat flux [(kW/m2)^(4/3) s].

    Parameters
    ----------
    heat_flux : number, array or quantity
        [W/m2], 0 or more.
    duration : number, array or quantity
        [s], 0 or more.

    Returns
    -------
    float or ndarray

    Raises
    ------
    InputError, OutOfRangeError

    Notes
    -----
    V = q^(4/3) t. Orders of magnitude on bare skin, from memory (hymes1996burns): pain near 100, first-degree
    burns 80 to 130, second-degree burns 240 to 730, third-degree burns 870 to 2640.

    Examples
    --------
    >>> f"{thermal_dose(5000.0, 13.0):.0f}"
    '111'
    """
    q = to_si(heat_flux, "W/m**2", "heat_flux", lower=0.0)
    t = to_si(duration, "s", "duration", lower=0.0)
    q, t = broadcast(heat_flux=q, duration=t)
    kilowatts = np.ravel(q) / 1e3
    dose = kilowatts * np.cbrt(kilowatts) * np.ravel(t)
    return dose.reshape(q.shape)[()]
