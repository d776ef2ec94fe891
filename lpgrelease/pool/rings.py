"""Rings of ground, each wetted at its own time, and how they dry: plain functions of SI arrays.

Ring 0 is the area at the start; ring i + 1 is the ground wetted in time step i. Time or ring axis first,
scenarios last.
"""

from __future__ import annotations

import dataclasses
from typing import Final

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = ["Drying", "cell_means", "dry_rings", "fold_sum", "past_heat"]

_TINY: Final = float(np.finfo(float).tiny)


def cell_means(roots: FloatArray) -> FloatArray:
    """Mean of 2 sqrt(t - tau) over the cells between nodes, from sqrt(t - node)."""
    a, b = roots[:-1], roots[1:]
    means: FloatArray = (4.0 / 3.0) * (a * a + a * b + b * b) / np.maximum(a + b, _TINY)
    return means


def fold_sum(rows: FloatArray) -> FloatArray:
    """Sum over the first axis in an order that depends on its length alone."""
    if rows.shape[0] == 0:
        return np.zeros(rows.shape[1:])
    while rows.shape[0] > 1:
        half = (rows.shape[0] + 1) // 2
        folded = rows[:half].copy()
        folded[: rows.shape[0] - half] += rows[half:]
        rows = folded
    total: FloatArray = rows[0]
    return total


def past_heat(contact: FloatArray, gains: FloatArray, root: FloatArray) -> FloatArray:
    """Heat that each ring gives in a step for all that happened before it [J/m2].

    Parameters
    ----------
    contact : ndarray, shape (j + 1, scenarios)
        Coefficient A of the ground at the pool's temperature at each node so far [W s^0.5/m2].
    gains : ndarray, shape (j, scenarios)
        Heat in this step per unit of A that rose evenly in each earlier step [s^0.5].
    root : ndarray
        sqrt(end) - sqrt(start) of this step, counted from the start of the spill [s^0.5].

    Returns
    -------
    ndarray, shape (j + 1, scenarios)

    Notes
    -----
    A ring takes the step of A at its wetting, spread evenly over that time step, and every later change.
    """
    later = np.zeros_like(contact)
    changes = (contact[1:] - contact[:-1]) * gains
    later[:-1] = np.add.accumulate(changes[::-1], axis=0)[::-1]
    later[0] += 2.0 * root * contact[0]
    later[1:] += contact[1:] * gains
    return later


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Drying:
    """What a step took from rings whose liquid does not flow; totals have shape (scenarios,)."""

    areas: FloatArray
    loads: FloatArray
    evaporated: FloatArray
    heat_ground: FloatArray
    used_area: FloatArray
    """Sum of area times the part of the step it was wet [m2]."""
    part: FloatArray
    """Part of the step after which the last ring was dry."""


def dry_rings(
    areas: FloatArray,
    loads: FloatArray,
    *,
    ground_heat: FloatArray,
    heat_above: FloatArray,
    cooling: FloatArray,
    latent_heat: FloatArray,
) -> Drying:
    """Evaporate liquid that the relief holds in place, ring by ring.

    Parameters
    ----------
    areas, loads : ndarray, shape (rings, scenarios)
        Wet area of each ring [m2] and liquid on it [kg/m2].
    ground_heat : ndarray, shape (rings, scenarios)
        Heat of the ground in this step [J/m2].
    heat_above, cooling, latent_heat : ndarray, shape (scenarios,)
        Heat from above in this step [J/m2], heat the liquid gives by cooling [J/kg], and L [J/kg].

    Notes
    -----
    Each ring evaporates with the heat of its own ground at the temperature of the pool as a whole: exact
    while it boils, a good estimate while it is colder, since a thin layer stores little.
    """
    heat = ground_heat + heat_above
    wanted = (heat + loads * cooling) / latent_heat
    wet = areas > 0.0
    dry: BoolArray = wet & (wanted >= loads)
    taken = np.where(dry, loads, np.where(wet, wanted, 0.0))
    used = np.where(dry, loads * (latent_heat - cooling) / np.where(dry, heat, 1.0), 1.0)
    share = np.where(dry, loads / np.where(dry, wanted, 1.0), 0.0)
    return Drying(
        areas=np.where(dry, 0.0, areas),
        loads=np.where(dry, 0.0, loads - taken),
        evaporated=fold_sum(areas * taken),
        heat_ground=fold_sum(areas * used * ground_heat),
        used_area=fold_sum(areas * used),
        part=share.max(axis=0),
    )
