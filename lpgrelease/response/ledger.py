"""Where the mass went: the books of a forecast."""

from __future__ import annotations

import numpy as np

from lpgrelease.errors import ConvergenceError
from lpgrelease.pool import PoolHistory
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray, Provenance, Result, quantity, result

__all__ = ["MassLedger", "close_ledger", "liquid_share", "running_total", "value_at"]

LARGEST_IMBALANCE = 1e-6


@result
class MassLedger(Result):
    """Where all of the cargo is when a forecast ends.

    ``in_tank + vented + leaked_as_vapor + leaked_as_liquid = initial`` and
    ``flashed + airborne + on_ground + evaporated + overflowed = leaked_as_liquid``.
    """

    initial: FloatArray = quantity("kg", "in the tank when the leak began")
    in_tank: FloatArray = quantity("kg", "still in the tank, liquid and vapor")
    in_tank_liquid: FloatArray = quantity("kg", "of that, liquid")
    vented: FloatArray = quantity("kg", "let out through the vents")
    leaked_as_vapor: FloatArray = quantity("kg", "left the leaks as vapor")
    leaked_as_liquid: FloatArray = quantity("kg", "left the leaks as liquid")
    flashed: FloatArray = quantity("kg", "of that liquid, vapor at once")
    airborne: FloatArray = quantity("kg", "of that liquid, drops that stayed in the air")
    on_ground: FloatArray = quantity("kg", "of that liquid, in the pool")
    evaporated: FloatArray = quantity("kg", "of that liquid, evaporated from the pool")
    overflowed: FloatArray = quantity("kg", "of that liquid, run over the rim of the hollow")
    imbalance: FloatArray = quantity("", "largest error of either sum over the initial mass")


def close_ledger(
    *,
    initial: FloatArray,
    in_tank_liquid: FloatArray,
    in_tank_vapor: FloatArray,
    vented: FloatArray,
    leaked_as_vapor: FloatArray,
    leaked_as_liquid: FloatArray,
    pool: PoolHistory,
    end: FloatArray,
) -> MassLedger:
    """Add up the books at time `end` and check them.

    Raises
    ------
    ConvergenceError
        They do not close to 1e-6.
    """
    names = ("mass_flashed", "mass_airborne", "mass", "mass_evaporated", "mass_overflowed")
    flashed, airborne, on_ground, evaporated, overflowed = (
        value_at(pool.time, getattr(pool, name), end) for name in names
    )
    in_tank = in_tank_liquid + in_tank_vapor
    first = initial - (in_tank + vented + leaked_as_vapor + leaked_as_liquid)
    second = leaked_as_liquid - (flashed + airborne + on_ground + evaporated + overflowed)
    imbalance = np.maximum(np.abs(first), np.abs(second)) / initial
    worst = float(np.max(imbalance, initial=0.0))
    if not worst < LARGEST_IMBALANCE:
        raise ConvergenceError("the mass of a forecast does not close", worst)
    return MassLedger(
        initial=initial,
        in_tank=in_tank,
        in_tank_liquid=in_tank_liquid,
        vented=vented,
        leaked_as_vapor=leaked_as_vapor,
        leaked_as_liquid=leaked_as_liquid,
        flashed=flashed,
        airborne=airborne,
        on_ground=on_ground,
        evaporated=evaporated,
        overflowed=overflowed,
        imbalance=imbalance,
        provenance=Provenance("sum of all masses"),
    )


def running_total(steps: FloatArray) -> FloatArray:
    """Sum along the last axis, 0 in front; in a fixed order, whatever the shape."""
    total = np.zeros((*steps.shape[:-1], steps.shape[-1] + 1))
    np.add.accumulate(steps, axis=-1, out=total[..., 1:])
    return total


def liquid_share(
    time: FloatArray, flow: FloatArray, wet: BoolArray, released: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Mass that left as liquid between each two points, and for what part of the time liquid left.

    Where an opening passes from liquid to vapor between two points, both flows are held at their values
    at those points, and the moment of the change is the one that gives the mass released.
    """
    length, mass = np.diff(time), np.diff(released)
    first, second = wet[..., :-1], wet[..., 1:]
    of_liquid = np.where(first, flow[..., :-1], flow[..., 1:])
    of_vapor = np.where(first, flow[..., 1:], flow[..., :-1])
    mean = mass / np.where(length > 0.0, length, 1.0)
    spread = of_liquid - of_vapor
    part = np.clip((mean - of_vapor) / np.where(spread != 0.0, spread, 1.0), 0.0, 1.0)
    part = np.where(first == second, np.where(first, 1.0, 0.0), part)
    liquid = np.clip(mass - (1.0 - part) * of_vapor * length, 0.0, np.maximum(mass, 0.0))
    liquid = np.where(first == second, np.where(first, mass, 0.0), liquid)
    return liquid, np.where(liquid > 0.0, part, 0.0)


def value_at(time: FloatArray, values: FloatArray, at: FloatArray) -> FloatArray:
    """Linear interpolation along the last axis, each scenario at its own time; held beyond the ends."""
    before = np.clip(np.count_nonzero(time <= at[..., None], axis=-1) - 1, 0, time.shape[-1] - 2)[..., None]
    t0, t1 = (np.take_along_axis(time, before + i, axis=-1)[..., 0] for i in (0, 1))
    v0, v1 = (np.take_along_axis(values, before + i, axis=-1)[..., 0] for i in (0, 1))
    length = t1 - t0
    x = np.clip((at - t0) / np.where(length > 0.0, length, 1.0), 0.0, 1.0)
    return v0 * (1.0 - x) + v1 * x
