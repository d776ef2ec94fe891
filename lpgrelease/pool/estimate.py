"""About how long a pool can stay, for where to put the time nodes: plain functions of SI arrays."""

from __future__ import annotations

from typing import Final

import numpy as np

from lpgrelease.conduction import half_space_coefficient
from lpgrelease.constants import FREEZING_POINT_OF_WATER, STEFAN_BOLTZMANN
from lpgrelease.fluids import Fluid
from lpgrelease.pool.contact import BoilingContact
from lpgrelease.pool.evaporate import LIQUID_EMISSIVITY, longwave_in
from lpgrelease.pool.landing import Landing
from lpgrelease.pool.level import Room
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = ["longest_life", "time_to_take_up"]

LARGEST_SHARE: Final = 0.8
"""Of the ground's drive that boiling is thought to need at most."""


def time_to_take_up(
    heat: FloatArray, coefficient: FloatArray, flux: FloatArray, start: FloatArray
) -> FloatArray:
    """Time at which ground and surroundings have given a heat, counted from the wetting [s].

    Parameters
    ----------
    heat : ndarray
        Taken up from `start` on [J/m2].
    coefficient, flux : ndarray
        A of the ground's flux A / sqrt(t) [W s^0.5/m2], and a steady flux [W/m2], of either sign.
    start : ndarray
        [s].

    Returns
    -------
    ndarray
        inf where it is never reached.

    Notes
    -----
    2 A (sqrt(t) - sqrt(t_0)) + q (t - t_0) = Q, a square equation for sqrt(t).

    Examples
    --------
    >>> args = (np.array(x) for x in (4000.0, 100.0, 0.0, 0.0))
    >>> print(time_to_take_up(*args))
    400.0
    """
    A, q = np.maximum(coefficient, 0.0), flux
    K = heat + 2.0 * A * np.sqrt(start) + q * start
    inside = A * A + q * K
    below = A + np.sqrt(np.maximum(inside, 0.0))
    reached = (inside >= 0.0) & (below > 0.0) & (K >= 0.0)
    root = np.where(reached, K / np.where(reached, below, 1.0), np.inf)
    return root * root


def longest_life(
    fluid: Fluid,
    a: dict[str, FloatArray],
    landing: Landing,
    room: Room | None,
    landed: FloatArray,
    curve: BoilingContact | None,
) -> FloatArray:
    """Time by which a pool is gone, most likely well before [s]; from heat alone, without convection.

    Parameters
    ----------
    fluid : Fluid
    a : dict
        Inputs, each of shape (scenarios,).
    landing : Landing
    room : Room or None
    landed : ndarray
        All that lands [kg].
    curve : BoilingContact or None
        What stands between liquid and ground; None is perfect contact.
    """
    boiling = fluid.saturation_temperature(a["ambient_pressure"])
    T = np.minimum(landing.temperature, boiling)
    density, latent = fluid.saturated(T, "liquid_density", "latent_heat")
    depth = a["minimum_depth"]
    if room is not None:
        volume = np.minimum(landed / density, room.capacity)
        area = np.maximum(room.hold(volume).area, np.finfo(float).tiny)
        depth = np.maximum(depth, volume / area)
    melting = float(FREEZING_POINT_OF_WATER)
    frozen: BoolArray = (melting > T) & (a["ground_temperature"] > melting)
    drop = np.maximum(a["ground_temperature"] - T, 0.0)
    stored = a["ground heat_capacity"] * drop
    ice = np.where(frozen, a["ground water_mass_fraction"], 0.0)
    A = half_space_coefficient(a["ground conductivity"], a["ground heat_capacity"], drop)
    A = A * np.sqrt(1.0 + ice / np.where(stored > 0.0, stored, 1.0))
    own = float(LIQUID_EMISSIVITY) * float(STEFAN_BOLTZMANN) * (T * T) * (T * T)
    flux = longwave_in(a) - own + a["solar_irradiance"] * a["sun_share"]
    heat, start = density * depth * latent, landing.feed.end
    gone = time_to_take_up(heat, A, flux, start)
    if curve is None:
        return gone
    mean = heat / np.maximum(gone - start, 1e-3)
    warmer = np.minimum(curve.bubbling_difference(mean) / np.maximum(drop, 1.0), LARGEST_SHARE)
    film = np.where(curve.may_film(drop), np.square(A / curve.film), 0.0)
    delayed = time_to_take_up(heat, A * (1.0 - warmer), flux, start)
    return delayed + np.minimum(film, heat / curve.film)
