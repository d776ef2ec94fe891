"""Whether swelling liquid comes to the vents of a tank's history (`lpgrelease.tank.swell`)."""

from __future__ import annotations

from typing import Final, Protocol

import numpy as np

from lpgrelease.fluids.blend_transport import blend_transport
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray, IntArray
from lpgrelease.summing import add_rows
from lpgrelease.tank.levels import LevelTable
from lpgrelease.tank.shapes import Tank
from lpgrelease.tank.swell import REGIMES, rise_velocity, velocity_for_void
from lpgrelease.tank.venting import take_tank

__all__ = ["carries_liquid", "swelling_of_blend"]

FIRST_LOOKS: Final = 3
"""Points that are looked at first: what swells most, the fullest and fastest, is mostly at the start."""
CELLS: Final = 512
"""Of temperature, for each of which the least swelling is known."""
OF_A_CELL: Final = 0.99
"""The least of a cell over the lesser one of its ends, which is smaller than it is."""
LEAST_ROOM: Final = 1e-12
"""Part of the tank below an opening that counts as none."""
LEAST_SURFACE: Final = 0.01
"""Surface over that at half the height, taken at least."""
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
    *,
    swells: FloatArray | None = None,
) -> BoolArray:
    """Whether any vent above the liquid passes liquid at some time, (n, J).

    Every point is looked at. Where the level passes an opening that passes vapor, there is no room between
    them: it carries liquid however little leaves, be there a point at that moment or not.

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
    swells : ndarray, shape (points, n), optional
        Density of the vapor times rise velocity [kg/m2/s]; None: by the table.
    """
    flows, wet = (found[name].transpose(1, 2, 0) for name in ("mass_flow", "passes_liquid"))
    passes = ~wet & (flows > 0.0)
    carried = ((passes[:, 1:] & wet[:, :-1]) | (passes[:, :-1] & wet[:, 1:])).any(axis=1)
    if not passes.any():
        return carried.T  # type: ignore[no-any-return]
    t = np.clip(found["temperature"].T, table.lowest_temperature, table.highest_temperature)
    inside = np.minimum(np.maximum(found["liquid_volume"].T, 0.0), tank.volume)
    total = add_rows(np.where(wet, 0.0, flows))
    # nothing rises to an opening at the very bottom
    rooms = np.where(below > LEAST_ROOM * tank.volume, below, np.inf)
    widest = (
        tank._lower_half(0.5 * tank.height)[1] if levels is None else levels.free_surface(0.5 * tank.volume)
    )
    points = t.shape[0]
    for step in (max(1, -(-points // FIRST_LOOKS)), 1):
        looks = slice(None, None, step)
        rest = passes[:, looks] & ~carried[:, None]
        if not rest.any():
            break
        least = _least_swelling(table, t[looks]) if swells is None else swells[looks]
        rest &= _may_reach(tank.volume, inside[looks], total[looks], rooms, least * widest)
        k, i = np.nonzero(rest.any(axis=0))
        there = k * step, i
        volume = inside[there]
        each = _swelling(table, t[there]) if swells is None else swells[there]
        surface = np.maximum(_surface(tank, levels, volume, i), LEAST_SURFACE * widest[i])
        limits = each * surface * _velocity_to(volume / rooms[:, i])
        opening, pair = np.nonzero(rest[:, k, i] & (total[there] >= limits))
        carried[opening, i[pair]] = True
    return carried.T  # type: ignore[no-any-return]


def swelling_of_blend(names: tuple[str, ...], volume: FloatArray, found: dict[str, np.ndarray]) -> FloatArray:
    """Density of the vapor times rise velocity at each point of tanks of a blend [kg/m2/s], (points, n).

    Densities are those of the history, whose phases change their composition.
    """
    liquid, vapor = found["liquid_volume"].T, volume - found["liquid_volume"].T
    rho_l = _density(found["liquid_mass"].T, liquid)
    rho_v = np.minimum(_density(found["vapor_mass"].T, vapor), rho_l)
    x, y = (found[f"{phase}_fractions"].transpose(1, 2, 0) for phase in ("liquid", "vapor"))
    count = x.shape[0]
    t = np.ravel(found["temperature"].T)
    sigma = blend_transport(names, t, x.reshape(count, -1), y.reshape(count, -1))["surface_tension"]
    return rho_v * rise_velocity(rho_l, rho_v, sigma.reshape(rho_l.shape), regime=REGIME)


def _density(mass: FloatArray, volume: FloatArray) -> FloatArray:
    """Return mass over volume; 0 where there is no room for any."""
    return np.where(volume > 0.0, np.maximum(mass, 0.0) / np.where(volume > 0.0, volume, 1.0), 0.0)


def _swelling(table: Saturated, t: FloatArray) -> FloatArray:
    """Vapor's density times rise velocity at saturation [kg/m2/s]."""
    rho_l, rho_v, sigma = table.saturated(t, "liquid_density", "vapor_density", "surface_tension")
    return rho_v * rise_velocity(rho_l, rho_v, sigma, regime=REGIME)


def _least_swelling(table: Saturated, t: FloatArray) -> FloatArray:
    """Return what `_swelling` is at least: that of a cell of temperature, by its ends."""
    low, high = table.lowest_temperature, table.highest_temperature
    ends = _swelling(table, np.linspace(low, high, CELLS + 1))
    least = OF_A_CELL * np.minimum(ends[:-1], ends[1:])
    return least[np.minimum(((t - low) * (CELLS / (high - low))).astype(np.intp), CELLS - 1)]


def _may_reach(
    volume: FloatArray, inside: FloatArray, total: FloatArray, rooms: FloatArray, least: FloatArray
) -> BoolArray:
    """Where liquid may come to an opening (J, looks, n); `least`: swelling on the surface at half the height.

    total >= least A psi, with psi = 2 alpha/(1 - C0 alpha) multiplied out, and all to the third power.
    """
    root = np.maximum(_least_surface(volume, inside), LEAST_SURFACE**1.5)
    void = 1.0 - inside / rooms[:, None]
    flow = total * (1.0 - REGIMES[REGIME].distribution * void)
    limit = (2.0 * (1.0 - ROUND_OFF)) * least * void
    reaches: BoolArray = flow * flow * flow >= (root * root) * (limit * limit * limit)
    return reaches


def _least_surface(volume: FloatArray, inside: FloatArray) -> FloatArray:
    """Free surface over that at half the height, at least, to the power of 3/2.

    Tanks are convex and their own mirror images. By the theorem of Brunn and Minkowski the root of the
    surface A is then concave in the level, hence A**(3/2) in the volume, and lies above the chord from none
    to half full.
    """
    return np.minimum(inside, volume - inside) * (2.0 / volume)


def _surface(tank: Tank, levels: LevelTable | None, volume: FloatArray, which: IntArray) -> FloatArray:
    """Free surface of the tanks `which` (m,) at liquid volumes (m,) [m2]."""
    if levels is not None:
        return levels.take(which).free_surface(volume)
    some = take_tank(tank, which)
    return some.free_surface_at(some.level_at(volume))


def _velocity_to(filled: FloatArray) -> FloatArray:
    """Superficial over rise velocity at which liquid that fills this share of a room comes to its top."""
    return velocity_for_void(np.clip(1.0 - filled, 0.0, 1.0), regime=REGIME)
