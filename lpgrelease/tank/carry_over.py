"""Whether swelling liquid comes to the vents of a tank's history (`lpgrelease.tank.swell`)."""

from __future__ import annotations

from typing import Final, Protocol

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray
from lpgrelease.summing import add_rows
from lpgrelease.tank.levels import LevelTable
from lpgrelease.tank.shapes import Tank
from lpgrelease.tank.swell import rise_velocity, velocity_for_void
from lpgrelease.tank.venting import take_tank

__all__ = ["carries_liquid"]

MOST_LOOKS: Final = 9
"""Points of a history that are looked at: what swells most, the fullest and fastest, is at the start."""
LEAST_ROOM: Final = 1e-12
"""Part of the tank below an opening that counts as none."""
LEAST_SURFACE: Final = 0.01
"""Surface over that at half the height, taken at least."""
RUNGS: Final = (0.02, 0.1, 0.25, 0.5)
"""Levels over the height at which the surface is known before the level is; the last is the middle."""
ROUND_OFF: Final = 1e-6
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
    swells = rho_v * rise_velocity(rho_l, rho_v, sigma, regime=REGIME)
    flows, wet = (found[name][..., looks].transpose(1, 2, 0) for name in ("mass_flow", "passes_liquid"))
    total = add_rows(np.where(wet, 0.0, flows))
    passes = ~wet & (flows > 0.0)
    # flow by surface at which the liquid comes to the opening; nothing rises to one at the very bottom
    rooms = np.where(below > LEAST_ROOM * tank.volume, below, np.inf)
    limits = swells * _velocity_to(inside / rooms[:, None])
    if levels is None:
        return _by_the_tank(tank, inside, passes, total, limits)
    surfaces = levels.free_surface(np.concatenate([inside, 0.5 * tank.volume[None]]))
    surface = np.maximum(surfaces[:-1], LEAST_SURFACE * surfaces[-1])
    return (passes & (total >= limits * surface)).any(axis=1).T  # type: ignore[no-any-return]


def _by_the_tank(
    tank: Tank, inside: FloatArray, passes: BoolArray, total: FloatArray, limits: FloatArray
) -> BoolArray:
    """Return the same where the tank serves its surface: for those that the least surface does not settle."""
    at_least, largest = _least_surface(tank, inside)
    smallest = LEAST_SURFACE * largest
    at_least = np.maximum(at_least, smallest)
    near = np.flatnonzero((passes & (total >= limits * at_least)).any(axis=(0, 1)))
    carried = np.zeros((tank.volume.size, passes.shape[0]), dtype=np.bool_)
    if near.size:
        some = take_tank(tank, near)
        surface = np.maximum(some.free_surface_at(some.level_at(inside[:, near])), smallest[near])
        takes = passes[..., near] & (total[:, near] >= limits[..., near] * surface)
        carried[near] = takes.any(axis=1).T
    return carried


def _velocity_to(filled: FloatArray) -> FloatArray:
    """Superficial over rise velocity at which liquid that fills this share of a room comes to its top."""
    return velocity_for_void(np.clip(1.0 - filled, 0.0, 1.0), regime=REGIME)


def _least_surface(tank: Tank, inside: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Free surface that a tank has at least at liquid volumes (looks, n), and at half its height (n,) [m2].

    Tanks are convex and their own mirror images. By the theorem of Brunn and Minkowski the root of the
    surface A is then concave in the level, hence A**(3/2) in the volume, and lies above any chord.
    """
    levels = np.array(RUNGS)[:, None] * tank.height
    volumes, surfaces = tank._lower_half(levels)
    powers = surfaces * np.sqrt(surfaces)
    lower = np.minimum(inside, tank.volume - inside)
    least = lower * (powers[0] / volumes[0])
    for i in range(1, len(RUNGS)):
        slope = (powers[i] - powers[i - 1]) / np.maximum(volumes[i] - volumes[i - 1], 1e-300)
        least = np.minimum(least, powers[i] + slope * (lower - volumes[i]))
    root = np.cbrt(np.maximum((1.0 - ROUND_OFF) * least, 0.0))
    return root * root, surfaces[-1]
