"""Whether swelling liquid comes to the vents of a tank's history (`lpgrelease.tank.swell`)."""

from __future__ import annotations

from typing import Final, Protocol

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray
from lpgrelease.tank.levels import LevelTable
from lpgrelease.tank.shapes import Tank
from lpgrelease.tank.swell import rise_velocity, velocity_for_void

__all__ = ["carries_liquid"]

MOST_LOOKS: Final = 9
"""Points of a history that are looked at: what swells most, the fullest and fastest, is at the start."""
LEAST_ROOM: Final = 1e-12
"""Part of the tank below an opening that counts as none."""
LEAST_SURFACE: Final = 0.01
REGIME: Final = "churn-turbulent"


class Saturated(Protocol):
    """What serves saturation properties."""

    @property
    def lowest_temperature(self) -> float: ...
    @property
    def highest_temperature(self) -> float: ...

    def saturated(self, temperature: FloatArray, *names: str) -> tuple[FloatArray, ...]:
        """Return properties `names` at temperatures."""
        ...


def carries_liquid(
    table: Saturated,
    tank: Tank,
    below: FloatArray,
    found: dict[str, np.ndarray],
    levels: LevelTable | None = None,
) -> BoolArray:
    """Whether any vent above the liquid passes liquid at some time, (n, J).

    Parameters
    ----------
    table : Saturated
    tank : Tank
        Fields of shape (n,).
    below : ndarray, shape (J, n)
        Volume of the tank below each opening [m3].
    found : dict
        The history: temperature and liquid volume (n, points), flows and phases (n, J, points).
    levels : LevelTable, optional
        Serves the free surface, within 1e-3; None: the tank itself does.
    """
    points = found["temperature"].shape[-1]
    looks = slice(None, None, max(1, -(-points // MOST_LOOKS)))
    t, volume = found["temperature"][:, looks].T, found["liquid_volume"][:, looks].T
    t = np.clip(t, table.lowest_temperature, table.highest_temperature)
    rho_l, rho_v, sigma = table.saturated(t, "liquid_density", "vapor_density", "surface_tension")
    inside = np.clip(volume, 0.0, tank.volume)
    surface = tank.free_surface_at(tank.level_at(inside)) if levels is None else levels.free_surface(inside)
    surface = np.maximum(surface, LEAST_SURFACE * tank.free_surface_at(0.5 * tank.height))
    swells = rho_v * surface * rise_velocity(rho_l, rho_v, sigma, regime=REGIME)
    carried = np.zeros((tank.volume.size, below.shape[0]), dtype=np.bool_)
    flows, wet = found["mass_flow"][..., looks], found["passes_liquid"][..., looks]
    total = np.zeros_like(t)
    for j in range(below.shape[0]):
        total = total + np.where(wet[:, j].T, 0.0, flows[:, j].T)
    for j, room in enumerate(below):
        # an opening at the very bottom has no room below it: nothing rises to it
        share = 1.0 - inside / np.where(room > LEAST_ROOM * tank.volume, room, np.inf)
        limit = swells * velocity_for_void(np.clip(share, 0.0, 1.0), regime=REGIME)
        takes = ~wet[:, j].T & (flows[:, j].T > 0.0) & (total >= limit)
        carried[:, j] = takes.any(axis=0)
    return carried
