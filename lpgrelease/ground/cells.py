"""Cells of columns of ground, and the heat they store and pass on: plain functions of SI arrays.

Cells first, columns last. Node i lies on top of cell i; temperatures are counted from the freezing point.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Final, NamedTuple

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.ground.material import Ground
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray, IntArray

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


FREEZING_RANGE: Final = 0.05
"""Rounds the corner between frozen and thawed [K], so that a node at the freezing point has a derivative."""


class CellProperties(NamedTuple):
    """Cells of many columns, (cells, columns); what does not change on freezing has a rise of None."""

    length: FloatArray
    """[m]."""
    conductance: FloatArray
    conductance_rise: FloatArray | None
    """Conductivity at 273.15 K over the length, thawed, and its rise on freezing [W/m2/K]."""
    capacity: FloatArray
    capacity_rise: FloatArray | None
    """Heat capacity at 273.15 K of each node, half of the cells it touches; the same [J/m2/K]."""
    latent: FloatArray | None
    """Heat of melting the water in each cell [J/m2]; None where no column holds any."""
    conductivity_slope: FloatArray | None
    """Relative rise of the conductivity [1/K]; None where there is none."""
    capacity_slope: FloatArray | None
    capacity_slope_rise: FloatArray | None
    """Rise of the heat capacity of each node by temperature, thawed, and that on freezing [J/m2/K2]."""
    bent: BoolArray
    """Whether a property of a column depends on temperature; (columns,)."""
    wet: BoolArray
    """Whether a node touches a cell that holds water."""

    @property
    def frozen_top(self) -> tuple[FloatArray, FloatArray]:
        """Conductance of the topmost cell and heat capacity of its node where both are frozen."""
        conductance, capacity = self.conductance[0], self.capacity[0]
        if self.conductance_rise is not None:
            conductance = conductance + self.conductance_rise[0]
        if self.capacity_rise is not None:
            capacity = capacity + self.capacity_rise[0]
        return conductance, capacity

    def select(self, columns: IntArray) -> CellProperties:
        """Return some of the columns."""
        return CellProperties._make(None if values is None else values[..., columns] for values in self)

    def without_axis(self) -> CellProperties:
        """Return the cells of a single column without the axis of columns."""
        return CellProperties._make(None if values is None else values.T[0] for values in self)


class LocalHeat(NamedTuple):
    """Heat at given temperatures, with derivatives."""

    stored: FloatArray
    """Of each node [J/m2]."""
    flux: FloatArray
    """Up through each cell [W/m2]."""
    above: FloatArray
    below: FloatArray
    """Fall of the flux by the temperature above the cell, and rise by that below [W/m2/K]."""
    own: FloatArray
    """Rise of the sensible heat of a node by its temperature [J/m2/K]."""
    melting: Melting | None
    """None where no column holds water."""


class Melting(NamedTuple):
    """Rise of the latent heat of each cell by the temperatures at its ends [J/m2/K]."""

    by_above: FloatArray
    by_below: FloatArray
    part_above: FloatArray
    """What of either counts for the node above the cell; the rest counts for that below."""


def kirchhoff(
    theta: FloatArray,
    cold: FloatArray,
    thawed: FloatArray,
    rise: FloatArray | None,
    slope: FloatArray | float | None,
) -> tuple[FloatArray, FloatArray]:
    """Return the integral of a conductivity from the freezing point, and the conductivity.

    `cold` is 1 below the freezing point, else 0: sums choose in half the time of `np.where`, in a quarter for
    many columns.
    """
    k = thawed if rise is None else thawed + cold * rise
    if slope is None:
        return k * theta, k
    more = slope * theta
    return k * theta * (1.0 + 0.5 * more), k * (1.0 + more)


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
    cold = (theta < 0.0).astype(np.float64)
    top, cold_top = theta[:-1], cold[:-1]
    (up, above), (down, below) = _potentials(cells, theta, cold)
    own = cells.capacity if cells.capacity_rise is None else cells.capacity + cold_top * cells.capacity_rise
    stored: FloatArray = own * top
    melting: Melting | None = None
    if cells.capacity_slope is not None and cells.capacity_slope_rise is not None:
        slope = cells.capacity_slope + cold_top * cells.capacity_slope_rise
        stored += 0.5 * slope * top * top
        own = own + slope * top
    if cells.latent is not None:
        stored, melting = _with_latent(stored, cells.latent, theta, cold)
    return LocalHeat(stored, down - up, above, below, own, melting)


def _potentials(
    cells: CellProperties, theta: FloatArray, cold: FloatArray
) -> tuple[tuple[FloatArray, FloatArray], tuple[FloatArray, FloatArray]]:
    """Kirchhoff's integral at the top and at the bottom of each cell, and the conductances there."""
    k = cells.conductance, cells.conductance_rise, cells.conductivity_slope
    return kirchhoff(theta[:-1], cold[:-1], *k), kirchhoff(theta[1:], cold[1:], *k)


def _with_latent(
    stored: FloatArray, latent: FloatArray, theta: FloatArray, cold: FloatArray
) -> tuple[FloatArray, Melting]:
    thawed, span = _thawed(theta)
    colder_below = (theta[1:] <= theta[:-1]).astype(np.float64)
    # for the node above counts this part of what melts next, and by its integral some of what is thawed
    part = np.abs(colder_below - thawed)
    heat = latent * thawed
    above = 0.5 * heat * (part + colder_below)
    stored = stored + above
    stored[1:] += (heat - above)[:-1]
    per_kelvin = latent / span
    if_cold = per_kelvin * thawed
    if_warm = per_kelvin - if_cold
    less = if_warm - if_cold
    return stored, Melting(if_warm - cold[:-1] * less, if_warm - cold[1:] * less, part)


def flux_up(cells: CellProperties, theta: FloatArray) -> FloatArray:
    """Flux up through each cell at temperatures `theta`, as in :func:`local_heat` [W/m2]."""
    up, down = _potentials(cells, theta, (theta < 0.0).astype(np.float64))
    return down[0] - up[0]


def thawed_fraction(theta: FloatArray) -> FloatArray:
    """Thawed part of each cell."""
    return _thawed(theta)[0]


def _thawed(theta: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Thawed part of each cell, and the span of temperatures of which it is a part [K]."""
    size, warm = np.abs(theta), np.maximum(theta, 0.0)
    span = size[:-1] + size[1:] + FREEZING_RANGE
    return (warm[:-1] + warm[1:]) / span, span


def node_depths(cells: int, first: float, depth: float) -> FloatArray:
    """Depths of the nodes [m], each cell longer than the last by one factor."""
    low, high = 1.0 + 1e-9, (depth / first) ** (1.0 / (cells - 1))
    for _ in range(80):
        factor = math.sqrt(low * high)
        total = first * (factor**cells - 1.0) / (factor - 1.0)
        low, high = (low, factor) if total > depth else (factor, high)
    depths: FloatArray = first * (np.power(factor, np.arange(cells + 1)) - 1.0) / (factor - 1.0)
    depths[-1] = depth
    return depths


def cell_properties(
    ground: Ground, shape: tuple[int, ...], cells: int, depth: float, first: float
) -> CellProperties:
    """Lay out the cells of columns of a shape; the nearest node moves onto the foot of each layer."""
    layers = list(_layers(ground))
    size = math.prod(shape)
    columns = np.arange(size)
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
        rows = np.empty((len(layers), *shape))
        for i, layer in enumerate(layers):
            rows[i] = getattr(layer, name)
        values: FloatArray = rows.reshape(len(layers), size)[below, columns]
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
        return values if values.any() else None

    thawed, frozen = each("volumetric_heat_capacity"), each("frozen_volumetric_heat_capacity")
    k, frozen_k, slope = each("conductivity"), each("frozen_conductivity"), each("heat_capacity_slope")
    latent, steepness = each("latent_heat") * length, each("conductivity_slope")
    wet = latent > 0.0
    bent = wet | (frozen_k != k) | (frozen != thawed) | (steepness != 0.0) | (slope != 0.0)
    touches = wet.copy()
    touches[1:] |= wet[:-1]
    capacity_slope = some(node(thawed * slope))
    return CellProperties(
        length=length,
        conductance=k / length,
        conductance_rise=some((frozen_k - k) / length),
        capacity=node(thawed),
        capacity_rise=some(node(frozen - thawed)),
        latent=some(latent),
        conductivity_slope=some(steepness),
        capacity_slope=capacity_slope,
        capacity_slope_rise=None if capacity_slope is None else node((frozen - thawed) * slope),
        bent=bent.any(axis=0),
        wet=touches,
    )
