"""How long a shut tank of vapor alone, its last liquid gone, warms until its pressure is what is sought."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, NamedTuple

import numpy as np

from lpgrelease.fluids import Fluid
from lpgrelease.halving import halved
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray
from lpgrelease.summing import add_rows

__all__ = ["VaporAlone", "warming_time"]

HALVINGS: Final = 48
PIECES: Final = 64
"""Of the way in temperature; over each the heat is a straight line, and the time its integral."""


class VaporAlone(NamedTuple):
    """What stands in n tanks when their liquid is gone; every field of shape (n,), SI."""

    mass: FloatArray
    volume: FloatArray
    pressure: FloatArray
    temperature: FloatArray
    metal_temperature: FloatArray
    metal_capacity: FloatArray


def warming_time(
    fluid: Fluid, vapor: VaporAlone, pressure: FloatArray, heat: Callable[[FloatArray], FloatArray]
) -> tuple[FloatArray, BoolArray]:
    """Time until the vapor's pressure comes up to `pressure` (n,) [s], and whether that could be told (n,).

    Parameters
    ----------
    fluid : Fluid
        A pure one.
    vapor : VaporAlone
    pressure : ndarray
        Above that of the vapor, inside the saturation table [Pa].
    heat : callable
        Heat [W] into tanks all of whose metal is at temperatures (pieces, n).

    Returns
    -------
    time, told : ndarray
        Infinite where heat ceases before; not told where it does not cease up to the end of the equation of
        state, nor has pressure come up by then.

    Notes
    -----
    By the fluid's equation of state at constant volume, vapor and metal at one temperature: the vapor's own
    temperature lags behind a real wall's, so pressure comes later than this, if anything. The energy that
    is to come in, M (u - u_0) + C (T - T_0) of vapor and metal, is taken as even over the temperatures
    passed: the metal holds most of it.
    """
    top = fluid.table.highest_gas_temperature
    density = vapor.mass / vapor.volume
    low = fluid.saturation_temperature(pressure) * (1.0 + 1e-9)
    high = np.full(low.shape, top)
    reached = fluid.gas(temperature=high, pressure=pressure).density <= density
    _, high = halved(
        lambda t: fluid.gas(temperature=t, pressure=pressure).density > density, low, high, HALVINGS
    )
    end = np.where(reached, high, top)
    energy = vapor.mass * (_energy(fluid, end, pressure) - _energy(fluid, vapor.temperature, vapor.pressure))
    energy = energy + vapor.metal_capacity * (end - vapor.metal_temperature)
    start = np.minimum(vapor.metal_temperature, end)
    places = np.linspace(0.0, 1.0, PIECES + 1)[:, None]
    rates = heat(start + places * (end - start))
    comes = (rates > 0.0).all(axis=0)
    rates = np.where(comes, rates, 1.0)
    time = np.maximum(energy, 0.0) * _mean_inverse(rates)
    return np.where(comes, time, np.inf), reached | ~comes


def _energy(fluid: Fluid, t: FloatArray, p: FloatArray) -> FloatArray:
    """Return the vapor's internal energy [J/kg]; saturated where round-off has it just beyond."""
    below = np.minimum(t, fluid.highest_temperature)
    saturated = fluid.saturated(below, "pressure")[0]
    return fluid.gas(temperature=t, pressure=np.where(t > below, p, np.minimum(p, saturated))).internal_energy


def _mean_inverse(rates: FloatArray) -> FloatArray:
    """Mean of 1/rate over pieces on which the rate, given at their ends, is a straight line."""
    ratio = rates[1:] / rates[:-1]
    change = ratio - 1.0
    near = np.abs(change) < 1e-4
    straight = np.where(near, 1.0 - 0.5 * change, np.log(ratio) / np.where(near, 1.0, change))
    each = straight / rates[:-1]
    mean: FloatArray = add_rows(each) / each.shape[0]
    return mean
