"""Cells of columns of ground, and the heat they store and pass on: plain functions of SI arrays.

Cells first, columns last. Node i lies on top of cell i; temperatures are counted from the freezing point.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator
from typing import Any, Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from lpgrelease.errors import InputError
from lpgrelease.ground.material import Ground
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = [
    "CellProperties",
    "IntArray",
    "LocalHeat",
    "cell_properties",
    "flux_up",
    "kirchhoff",
    "local_heat",
    "thawed_fraction",
]

IntArray: TypeAlias = NDArray[np.intp]

FREEZING_RANGE: Final = 0.05
"""Rounds the corner between frozen and thawed [K], so that a node at the freezing point has a derivative."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class CellProperties:
    """Cells of many columns, (cells, columns); frozen properties that equal the thawed are the same array."""

    length: FloatArray
    """[m]."""
    thawed_conductance: FloatArray
    frozen_conductance: FloatArray
    """Conductivity at 273.15 K over the length [W/m2/K]."""
    thawed_capacity: FloatArray
    frozen_capacity: FloatArray
    """Heat capacity at 273.15 K of each node, half of the cells it touches [J/m2/K]."""
    latent: FloatArray | None
    """Heat of melting the water in each cell [J/m2]; None where no column holds any."""
    conductivity_slope: FloatArray | None
    """Relative rise of the conductivity [1/K]; None where there is none."""
    thawed_capacity_slope: FloatArray | None
    frozen_capacity_slope: FloatArray | None
    """Rise of the heat capacity of each node [J/m2/K2]."""
    bent: BoolArray
    """Whether a property of a column depends on temperature; (columns,)."""
    wet: BoolArray
    """Whether a node touches a cell that holds water."""

    def select(self, columns: IntArray) -> CellProperties:
        """Return some of the columns."""
        changed: dict[str, Any] = {}
        for field in dataclasses.fields(self):
            values = getattr(self, field.name)
            changed[field.name] = None if values is None else values[..., columns]
        if self.frozen_capacity is self.thawed_capacity:
            changed["frozen_capacity"] = changed["thawed_capacity"]
        if self.frozen_conductance is self.thawed_conductance:
            changed["frozen_conductance"] = changed["thawed_conductance"]
        return CellProperties(**changed)


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class LocalHeat:
    """Heat at given temperatures, with derivatives."""

    stored: FloatArray
    """Of each node [J/m2]."""
    flux: FloatArray
    """Up through each cell [W/m2]."""
    above: FloatArray
    below: FloatArray
    """Fall of the flux by the temperature above the cell, and rise by that below [W/m2/K]."""
    own: FloatArray
    """Rise of the heat of a node by its own temperature [J/m2/K]."""
    by_next: FloatArray | float
    """Rise of the heat of the node above a cell by the temperature below it [J/m2/K]."""
    to_next: FloatArray | float
    """Rise of the heat of the node below a cell by the temperature above it [J/m2/K]."""


def kirchhoff(
    theta: FloatArray, thawed: FloatArray, frozen: FloatArray, slope: FloatArray | float | None
) -> tuple[FloatArray, FloatArray]:
    """Return the integral of a conductivity from the freezing point, and the conductivity."""
    k = thawed if thawed is frozen else np.where(theta < 0.0, frozen, thawed)
    if slope is None:
        return k * theta, k
    rise = slope * theta
    return k * theta * (1.0 + 0.5 * rise), k * (1.0 + rise)


def local_heat(cells: CellProperties, theta: FloatArray) -> LocalHeat:
    """Heat stored and passed on at temperatures `theta`, (cells + 1, columns).

    Notes
    -----
    Flux by Kirchhoff's integral of the conductivity, exact for a cell that conducts steadily, with a front
    inside or not. Sensible heat at the nodes. Latent heat by the shape functions of linear elements: the
    temperature is a straight line in the cell, and what of it is thawed counts for the nodes by their
    weights. So heat is a smooth function of temperature, and a front moves without jumps.
    References: carslaw1959conduction, section 1.6 (Kirchhoff), from memory.
    """
    top, bottom = theta[:-1], theta[1:]
    up = kirchhoff(top, cells.thawed_conductance, cells.frozen_conductance, cells.conductivity_slope)
    down = kirchhoff(bottom, cells.thawed_conductance, cells.frozen_conductance, cells.conductivity_slope)
    own = cells.thawed_capacity
    if cells.frozen_capacity is not own:
        own = np.where(top < 0.0, cells.frozen_capacity, own)
    stored = own * top
    if cells.thawed_capacity_slope is not None and cells.frozen_capacity_slope is not None:
        slope = np.where(top < 0.0, cells.frozen_capacity_slope, cells.thawed_capacity_slope)
        stored += 0.5 * slope * top * top
        own = own + slope * top
    by_next: FloatArray | float = 0.0
    to_next: FloatArray | float = 0.0
    if cells.latent is not None:
        stored, own, by_next, to_next = _with_latent(cells.latent, theta, stored, own)
    return LocalHeat(stored, down[0] - up[0], up[1], down[1], own, by_next, to_next)


def _with_latent(
    latent: FloatArray, theta: FloatArray, stored: FloatArray, own: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    size, warm = np.abs(theta), np.maximum(theta, 0.0)
    span = size[:-1] + size[1:] + FREEZING_RANGE
    thawed = (warm[:-1] + warm[1:]) / span
    frozen = 1.0 - thawed
    weight = np.where(theta[1:] > theta[:-1], thawed, frozen)
    half = 0.5 * weight * weight
    share = np.where(theta[1:] > theta[:-1], half, 0.5 - half)
    per_kelvin = latent / span
    cold = theta < 0.0
    by_top = per_kelvin * np.where(cold[:-1], thawed, frozen)
    by_bottom = per_kelvin * np.where(cold[1:], thawed, frozen)
    rest = 1.0 - weight
    stored = stored + latent * share
    stored[1:] += (latent * (thawed - share))[:-1]
    own = own + weight * by_top
    own[1:] += (rest * by_bottom)[:-1]
    return stored, own, weight * by_bottom, rest * by_top


def flux_up(cells: CellProperties, theta: FloatArray) -> FloatArray:
    """Flux up through each cell at temperatures `theta`, as in :func:`local_heat` [W/m2]."""
    k = cells.thawed_conductance, cells.frozen_conductance, cells.conductivity_slope
    return kirchhoff(theta[1:], *k)[0] - kirchhoff(theta[:-1], *k)[0]


def thawed_fraction(theta: FloatArray) -> FloatArray:
    """Thawed part of each cell."""
    size, warm = np.abs(theta), np.maximum(theta, 0.0)
    fraction: FloatArray = (warm[:-1] + warm[1:]) / (size[:-1] + size[1:] + FREEZING_RANGE)
    return fraction


def node_depths(cells: int, first: float, depth: float) -> FloatArray:
    """Depths of the nodes [m], each cell longer than the last by one factor."""
    low, high = 1.0 + 1e-9, (depth / first) ** (1.0 / (cells - 1))
    for _ in range(80):
        factor = np.sqrt(low * high)
        total = first * (factor**cells - 1.0) / (factor - 1.0)
        low, high = (low, factor) if total > depth else (factor, high)
    depths: FloatArray = first * (factor ** np.arange(cells + 1) - 1.0) / (factor - 1.0)
    depths[-1] = depth
    return depths


def cell_properties(
    ground: Ground, shape: tuple[int, ...], cells: int, depth: float, first: float
) -> CellProperties:
    """Lay out the cells of columns of a shape; the nearest node moves onto the foot of each layer."""
    layers = list(_layers(ground))
    size = int(np.prod(shape, dtype=int))
    nodes = np.repeat(node_depths(cells, first, depth)[:, None], size, axis=1)
    below = np.zeros((cells, size), dtype=int)
    foot = np.zeros(size)
    last = np.zeros(size, dtype=int)
    for layer in layers[:-1]:
        foot = foot + np.broadcast_to(layer.thickness, shape).ravel()
        last = _snap(nodes, foot, last)
        below += np.arange(cells)[:, None] >= last
    length = np.diff(nodes, axis=0)

    def each(name: str) -> FloatArray:
        rows = np.stack([np.broadcast_to(getattr(layer, name), shape).ravel() for layer in layers])
        values: FloatArray = rows[below, np.arange(size)]
        return values

    return _properties(length, each)


def _layers(ground: Ground) -> Iterator[Ground]:
    while True:
        yield ground
        if ground.below is None:
            return
        ground = ground.below


def _snap(nodes: FloatArray, foot: FloatArray, last: IntArray) -> IntArray:
    """Move the node nearest to the foot of a layer onto it; `nodes` change. Return which."""
    inside = nodes[1:-1]
    which: IntArray = np.argmin(np.abs(inside - foot), axis=0) + 1
    deep = foot >= nodes[-1]
    which = np.where(deep, nodes.shape[0] - 1, which)
    if np.any((which <= last) & ~deep):
        raise InputError("thickness: a layer is thinner than the cells at its depth; join it to the next")
    columns = np.arange(foot.size)
    nodes[which, columns] = np.where(deep, nodes[-1], foot)
    return which


def _properties(length: FloatArray, each: Callable[[str], FloatArray]) -> CellProperties:
    def node(per_volume: FloatArray) -> FloatArray:
        half = 0.5 * per_volume * length
        total = half.copy()
        total[1:] += half[:-1]
        return total

    def some(values: FloatArray) -> FloatArray | None:
        return values if np.any(values != 0.0) else None

    thawed, frozen = each("volumetric_heat_capacity"), each("frozen_volumetric_heat_capacity")
    if np.array_equal(frozen, thawed):
        frozen = thawed
    slope = each("heat_capacity_slope")
    thawed_slope, frozen_slope = some(node(thawed * slope)), some(node(frozen * slope))
    k, frozen_k, capacity = each("conductivity"), each("frozen_conductivity"), node(thawed)
    conductance, latent, rise = k / length, each("latent_heat") * length, each("conductivity_slope")
    wet = latent > 0.0
    bent = wet | (frozen_k != k) | (frozen != thawed) | (rise != 0.0) | (slope != 0.0)
    touches = wet.copy()
    touches[1:] |= wet[:-1]
    return CellProperties(
        length=length,
        thawed_conductance=conductance,
        frozen_conductance=conductance if np.array_equal(frozen_k, k) else frozen_k / length,
        thawed_capacity=capacity,
        frozen_capacity=capacity if frozen is thawed else node(frozen),
        latent=some(latent),
        conductivity_slope=some(rise),
        thawed_capacity_slope=thawed_slope,
        frozen_capacity_slope=frozen_slope,
        bent=bent.any(axis=0),
        wet=touches,
    )
