"""Where the mass went: the books of a forecast."""

from __future__ import annotations

import numpy as np

from lpgrelease.errors import ConvergenceError
from lpgrelease.pool import PoolHistory
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray, Provenance, Result, quantity, result

__all__ = [
    "EnergyLedger",
    "MassHistory",
    "MassLedger",
    "ledger_at",
    "liquid_share",
    "mass_history",
    "running_total",
    "values_at",
]

LARGEST_IMBALANCE = 1e-6
GROUND = {
    "flashed": "mass_flashed",
    "airborne": "mass_airborne",
    "on_ground": "mass",
    "evaporated": "mass_evaporated",
    "burned": "mass_burned",
    "overflowed": "mass_overflowed",
}
"""Places of what leaked as liquid, and the pool's names for them."""


@result
class MassLedger(Result):
    """Where all of the cargo is when a forecast ends.

    ``in_tank + vented + relieved + transferred + leaked_as_vapor + leaked_as_liquid = initial`` and
    ``flashed + airborne + on_ground + evaporated + burned + overflowed = leaked_as_liquid``.
    """

    initial: FloatArray = quantity("kg", "in the tank when the leak began")
    in_tank: FloatArray = quantity("kg", "still in the tank, liquid and vapor")
    in_tank_liquid: FloatArray = quantity("kg", "of that, liquid")
    vented: FloatArray = quantity("kg", "let out through the vents")
    flared: FloatArray = quantity("kg", "of what was vented, burned in flares")
    relieved: FloatArray = quantity("kg", "let out through relief valves")
    transferred: FloatArray = quantity("kg", "pumped out as liquid")
    leaked_as_vapor: FloatArray = quantity("kg", "left the leaks as vapor")
    leaked_as_liquid: FloatArray = quantity("kg", "left the leaks as liquid")
    flashed: FloatArray = quantity("kg", "of that liquid, vapor at once")
    airborne: FloatArray = quantity("kg", "of that liquid, drops that stayed in the air")
    on_ground: FloatArray = quantity("kg", "of that liquid, in the pool")
    evaporated: FloatArray = quantity("kg", "of that liquid, evaporated from the pool unburned")
    burned: FloatArray = quantity("kg", "of that liquid, burned on the ground")
    overflowed: FloatArray = quantity("kg", "of that liquid, run over the rim of the hollow")
    imbalance: FloatArray = quantity("", "largest error of either sum over the initial mass")


@result
class MassHistory(Result):
    """Where all of the cargo is over time: from the start of the leak until the ground is watched no more.

    The sums are those of `MassLedger`, at every time.
    """

    time: FloatArray = quantity("s", "time since the leak began", dims=("time",))
    in_tank: FloatArray = quantity("kg", "in the tank, liquid and vapor", dims=("time",))
    vented: FloatArray = quantity("kg", "let out through the vents", dims=("time",))
    flared: FloatArray = quantity("kg", "of what was vented, burned in flares", dims=("time",))
    relieved: FloatArray = quantity("kg", "let out through relief valves", dims=("time",))
    transferred: FloatArray = quantity("kg", "pumped out as liquid", dims=("time",))
    leaked_as_vapor: FloatArray = quantity("kg", "left the leaks as vapor", dims=("time",))
    leaked_as_liquid: FloatArray = quantity("kg", "left the leaks as liquid", dims=("time",))
    flashed: FloatArray = quantity("kg", "of that liquid, vapor at once", dims=("time",))
    airborne: FloatArray = quantity("kg", "of that liquid, drops that stayed in the air", dims=("time",))
    on_ground: FloatArray = quantity("kg", "of that liquid, in the pool", dims=("time",))
    evaporated: FloatArray = quantity(
        "kg", "of that liquid, evaporated from the pool unburned", dims=("time",)
    )
    burned: FloatArray = quantity("kg", "of that liquid, burned on the ground", dims=("time",))
    overflowed: FloatArray = quantity("kg", "of that liquid, run over the rim", dims=("time",))
    imbalance: FloatArray = quantity("", "largest error of either sum over the initial mass", dims=("time",))


@result
class EnergyLedger(Result):
    """Where the tank's energy went, from the start of the leak to the end of the forecast.

    ``heat_gained - enthalpy_released = change``: that of the internal energy of liquid, vapor and wall.
    """

    heat_gained: FloatArray = quantity("J", "heat into tank and contents from outside")
    enthalpy_released: FloatArray = quantity("J", "enthalpy of all that left, on the fluid's own scale")
    change: FloatArray = quantity("J", "of the internal energy of liquid, vapor and wall")
    imbalance: FloatArray = quantity(
        "", "largest error of any part over the heat that would evaporate the initial mass"
    )


def mass_history(
    initial: FloatArray,
    tank_time: FloatArray,
    tank: dict[str, FloatArray],
    flared: FloatArray,
    pool: PoolHistory,
) -> MassHistory:
    """Add up the books at the times of the pool and check them; the tank is linear between its points.

    Raises
    ------
    ConvergenceError
        They do not close to 1e-6.
    """
    ground = {name: getattr(pool, field) for name, field in GROUND.items()}
    found = values_at(tank_time, tank | {"flared": flared}, pool.time)
    burned = found.pop("flared")
    imbalance = _imbalance(initial[..., None], found, ground)
    return MassHistory(
        time=pool.time,
        **found,
        **ground,
        flared=burned,
        imbalance=imbalance,
        provenance=Provenance("sum of all masses"),
    )


def ledger_at(
    initial: FloatArray,
    liquid: FloatArray,
    tank: dict[str, FloatArray],
    flared: FloatArray,
    pool: PoolHistory,
    end: FloatArray,
) -> MassLedger:
    """Add up the books at the end [s] of what the tank does and check them.

    Raises
    ------
    ConvergenceError
        They do not close to 1e-6.
    """
    at = values_at(pool.time, {name: getattr(pool, field) for name, field in GROUND.items()}, end[..., None])
    ground = {name: values[..., 0][()] for name, values in at.items()}
    # nothing is spilled after the end, and where nothing lands the pool has no point at the end of its feed
    ground |= {name: getattr(pool, GROUND[name])[..., -1][()] for name in ("flashed", "airborne")}
    return MassLedger(
        initial=initial,
        in_tank_liquid=liquid,
        **tank,
        **ground,
        flared=flared,
        imbalance=_imbalance(initial, tank, ground)[()],
        provenance=Provenance("sum of all masses"),
    )


def _imbalance(initial: FloatArray, tank: dict[str, FloatArray], ground: dict[str, FloatArray]) -> FloatArray:
    first, second = initial, tank["leaked_as_liquid"]
    for values in tank.values():
        first = first - values
    for values in ground.values():
        second = second - values
    imbalance = np.maximum(np.abs(first), np.abs(second)) / initial
    worst = float(np.max(imbalance, initial=0.0))
    if not worst < LARGEST_IMBALANCE:
        raise ConvergenceError("the mass of a forecast does not close", worst)
    return imbalance


def values_at(time: FloatArray, values: dict[str, FloatArray], at: FloatArray) -> dict[str, FloatArray]:
    """Linear interpolation along the last axis at times (..., m), held beyond the ends."""
    last = time.shape[-1] - 2
    steps = np.moveaxis(at, -1, 0)
    index = [np.clip(np.count_nonzero(time <= t[..., None], axis=-1) - 1, 0, last) for t in steps]
    before = np.stack(index, axis=-1)
    t0, t1 = (np.take_along_axis(time, before + i, axis=-1) for i in (0, 1))
    length = t1 - t0
    x = np.clip((at - t0) / np.where(length > 0.0, length, 1.0), 0.0, 1.0)
    ends = {
        name: [np.take_along_axis(row, before + i, axis=-1) for i in (0, 1)] for name, row in values.items()
    }
    return {name: first * (1.0 - x) + second * x for name, (first, second) in ends.items()}


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
