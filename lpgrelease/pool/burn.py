"""A pool that burns where it lies: plain functions of SI arrays."""

from __future__ import annotations

import dataclasses
import math
from typing import Final

import numpy as np

from lpgrelease.burning import burning_flux_babrauskas, burning_line
from lpgrelease.elementwise import larger, some, where
from lpgrelease.fluids import Fluid
from lpgrelease.pool.landing import Landing
from lpgrelease.pool.level import Room
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = ["FLAME_SOURCES", "PoolFlame", "burned_off", "split_burned"]

FLAME_SOURCES: Final = {
    "babrauskas": ("babrauskas1983burning",),
    "burgess-hertzberg": ("burgess1974radiation", "babrauskas1983burning"),
}
FILM_LEFT: Final = 1e-4
"""Part of the film's transfer left under a flame, where vapor meets no air: liquid can boil but not chill."""
MARGIN: Final = 1.5
"""On the time a pool is thought to burn, for where to put the time nodes."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class PoolFlame:
    """When pools are lit, and how fast they burn; every array has shape (scenarios,)."""

    ignited_at: FloatArray
    """[s]."""
    largest_flux: FloatArray
    """Mass burned on each area of a very wide pool [kg/m2/s]."""
    absorption: float
    """[1/m]."""

    @classmethod
    def prepare(
        cls, fluid: Fluid, ignited_at: FloatArray, boiling_point: FloatArray, model: str
    ) -> PoolFlame:
        """Look up how a fluid burns that boils at a temperature [K]."""
        (latent,) = fluid.saturated(boiling_point, "latent_heat")
        return cls(ignited_at, *burning_line(fluid, latent, model))

    def burns(self, time: FloatArray) -> BoolArray | None:
        """Which pools burn from a time on; None where none does."""
        lit: BoolArray = time >= self.ignited_at
        return lit if some(lit) else None

    def mass(self, burns: BoolArray, area: FloatArray, surface: FloatArray) -> FloatArray:
        """Liquid that the flame's own heat turns to vapor, from a mean area and area times time [kg]."""
        diameter = 2.0 * np.sqrt(area / math.pi)
        flux = burning_flux_babrauskas(diameter, self.largest_flux, self.absorption)
        burned: FloatArray = where(burns, flux * surface, 0.0)
        return burned


def split_burned(moved: dict[str, FloatArray], burns: BoolArray | None) -> None:
    """Book the vapor of pools that burn as burned; `moved` changes."""
    for whole, part in (("evaporated", "burned"), ("parts_evaporated", "parts_burned")):
        if whole in moved:
            none = np.zeros_like(moved[whole])
            moved[part] = none if burns is None else where(burns, moved[whole], 0.0)
            moved[whole] = moved[whole] if burns is None else where(burns, 0.0, moved[whole])


def burned_off(
    fluid: Fluid,
    a: dict[str, FloatArray],
    landing: Landing,
    room: Room | None,
    landed: FloatArray,
    model: str,
) -> FloatArray:
    """Time by which a pool that is lit has burned off, most likely before [s]; from its flame's heat alone.

    Parameters as for :func:`lpgrelease.pool.estimate.longest_life`.
    """
    boiling = fluid.saturation_temperature(a["ambient_pressure"])
    density, latent = fluid.saturated(boiling, "liquid_density", "latent_heat")
    volume = landed / density
    area = volume / a["minimum_depth"]
    if room is not None:
        volume = np.minimum(volume, room.capacity)
        area = np.minimum(area, larger(room.hold(volume).area, np.finfo(float).tiny))
    flux = burning_flux_babrauskas(2.0 * np.sqrt(area / math.pi), *burning_line(fluid, latent, model))
    lasts = volume * density / larger(area * flux, np.finfo(float).tiny)
    return larger(a["ignited_at"], landing.feed.end) + MARGIN * lasts
