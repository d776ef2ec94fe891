"""What is left of a blend as its vapor is let go: the light ends leave first."""

from __future__ import annotations

import numpy as np

from lpgrelease.constants import STANDARD_ATMOSPHERE
from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.fluids.equilibrium import bubble_point
from lpgrelease.quantities import FloatArray, QuantityLike, to_si
from lpgrelease.results import Provenance, Result, plain, quantity, result
from lpgrelease.summing import add_rows

__all__ = ["BoiledOff", "boil_off"]

LEAST_LEFT = 1e-4
TRACE = 1e-9
"""Mole fraction below which a component is left out of `BoiledOff.fluids`."""
STEPS = 96
"""Of the classical fourth-order method, over the logarithm of the moles left."""


@result
class BoiledOff(Result):
    """A boiling liquid by the part of its mass that is left; compositions in mole fractions."""

    liquid_left: FloatArray = quantity("", "mass of liquid left over that at the start")
    temperature: FloatArray = quantity("K", "boiling point of what is left")
    liquid_composition: FloatArray = quantity("", "mole fractions of the liquid", dims=("component",))
    vapor_composition: FloatArray = quantity(
        "", "mole fractions of the vapor it gives off", dims=("component",)
    )
    vapor_total: FloatArray = quantity("", "mole fractions of all vapor so far", dims=("component",))
    fluids: tuple[Fluid, ...] = plain("what is left, each as a fluid")


def boil_off(
    fluid: Fluid, liquid_left: QuantityLike, *, pressure: QuantityLike = STANDARD_ATMOSPHERE
) -> BoiledOff:
    """Composition and boiling point of a blend after part of it has boiled away.

    Parameters
    ----------
    fluid : Fluid
        The blend as it was.
    liquid_left : number, array or quantity
        Mass of liquid left over that at the start, `LEAST_LEFT` to 1; a number or a row.
    pressure : number or quantity
        At which it boils [Pa], one number.

    Returns
    -------
    BoiledOff
        Fields of the shape of `liquid_left`.

    Raises
    ------
    InputError, OutOfRangeError
        A pure fluid, or numbers outside their range.
    ConvergenceError
        No bubble point found on the way.

    Notes
    -----
    Open (Rayleigh) distillation: vapor leaves as it forms, in equilibrium with the liquid left,
    d ln n_i = K_i d ln N, n_i the moles of component i and N all moles of liquid. The vapor space of a tank
    is not counted; `tank_history` counts it.

    References
    ----------
    rayleigh1902distillation; K-values as in `bubble_point`.

    Examples
    --------
    >>> from lpgrelease import Fluid
    >>> from lpgrelease.boiling_off import boil_off
    >>> rest = boil_off(Fluid({"propane": 0.5, "n-butane": 0.5}), [1.0, 0.5, 0.2])
    >>> [f"{t:.0f} K, {x:.2f}" for t, x in zip(rest.temperature, rest.liquid_composition[:, 0])]
    ['244 K, 0.50', '257 K, 0.21', '271 K, 0.02']
    """
    if not isinstance(fluid, Fluid) or not fluid.is_blend:
        raise InputError(f"fluid must be a blend, got {fluid!r}")
    why = "part of the liquid's mass"
    left = to_si(liquid_left, "", "liquid_left", lower=LEAST_LEFT, upper=1.0, why=why)
    p = fluid.pressure_range(pressure, "pressure")
    if np.ndim(p) or np.ndim(left) > 1:
        raise InputError("pressure must be one number, and liquid_left a number or a row")
    table = fluid.blend
    log_n, mass = _distill(fluid, float(p), float(np.min(left, initial=1.0)))
    flat = np.atleast_1d(left)
    amounts = np.exp(_at(log_n, mass, flat))
    x = amounts / add_rows(amounts)
    point = table.require(bubble_point(table.mixture, x, pressure=np.full(flat.size, float(p))))
    start = np.array(fluid.fractions)[:, None]
    gone = np.maximum(start - amounts, 0.0)
    total = add_rows(gone)
    away = np.where(total > 0.0, gone / np.where(total > 0.0, total, 1.0), point.incipient)
    shape = np.shape(left)
    rests = tuple(_fluid(fluid.components, column.tolist()) for column in x.T)
    return BoiledOff(
        liquid_left=left,
        temperature=point.temperature.reshape(shape)[()],
        liquid_composition=np.ascontiguousarray(x.T).reshape(*shape, away.shape[0]),
        vapor_composition=np.ascontiguousarray(point.incipient.T).reshape(*shape, away.shape[0]),
        vapor_total=np.ascontiguousarray(away.T).reshape(*shape, away.shape[0]),
        fluids=rests,
        provenance=Provenance("open distillation", ("rayleigh1902distillation",), fluid.credit),
    )


def _fluid(names: tuple[str, ...], fractions: list[float]) -> Fluid:
    """Fluid of what is left, without traces."""
    kept = {name: x for name, x in zip(names, fractions, strict=True) if x > TRACE}
    total = sum(kept.values())
    return Fluid({name: x / total for name, x in kept.items()})


def _distill(fluid: Fluid, pressure: float, least: float) -> tuple[FloatArray, FloatArray]:
    """Return ln n_i (nc, steps + 1) and the mass left over that at the start, along the way."""
    table = fluid.blend
    p = np.array([pressure])

    def slope(log_n: FloatArray) -> FloatArray:
        n = np.exp(log_n)
        point = table.require(bubble_point(table.mixture, n / add_rows(n), pressure=p))
        return -np.exp(point.log_ratio)

    weights = table.mixture.molar_mass / table.molar_mass
    log_n = np.log(np.array(fluid.fractions))[:, None]
    step = -np.log(least * float(table.molar_mass / table.mixture.molar_mass.max())) / STEPS
    rows = [log_n]
    for _ in range(STEPS):
        k_1 = slope(log_n)
        k_2 = slope(log_n + 0.5 * step * k_1)
        k_3 = slope(log_n + 0.5 * step * k_2)
        k_4 = slope(log_n + step * k_3)
        log_n = log_n + step / 6.0 * (k_1 + 2.0 * (k_2 + k_3) + k_4)
        rows.append(log_n)
    path = np.concatenate(rows, axis=1)
    return path, add_rows(np.exp(path) * weights)


def _at(path: FloatArray, mass: FloatArray, left: FloatArray) -> FloatArray:
    """Return ln n_i where the mass left is `left`: cubic through the four points around."""
    depth, wanted = -np.log(mass), -np.log(left)
    first = np.clip(np.searchsorted(depth, wanted) - 2, 0, depth.size - 4)
    found = np.zeros((path.shape[0], left.size))
    for i in range(4):
        weight = np.ones(left.size)
        for j in range(4):
            if j != i:
                weight = weight * (wanted - depth[first + j]) / (depth[first + i] - depth[first + j])
        found = found + weight * path[:, first + i]
    return found
