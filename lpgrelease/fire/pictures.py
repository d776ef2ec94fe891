"""Pictures of fires, with Matplotlib (the extra ``plot``); :mod:`lpgrelease.plots` gives them too."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.fire.radiation import Fire
from lpgrelease.quantities import QuantityLike, to_si

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["plot_fire", "plot_heat_flux"]

FLUXES: Final = (1600.0, 4700.0, 12500.0)
"""No discomfort, actions of minutes, deaths within a minute [W/m2]; see `heat_thresholds`."""
_SHADES: Final = ("#20639b", "#2a8c6e", "#7d4f9e", "#5b6770", "#c2571a", "#8f2d0c")
_DASHES: Final = ("-", "--", "-.", ":")
_PERSON: Final = 1.8


def plot_fire(fire: Fire, ax: Axes | None = None, *, heat_fluxes: QuantityLike = FLUXES) -> Axes:
    """Draw a fire from the side, to scale: the flame, where heat fluxes are reached, and a person.

    The wind blows from left to right. Curves are the fluxes on a surface that faces the flame, in the plane
    of the wind; where each comes to the ground its distance from the fire's axis is written.

    Parameters
    ----------
    fire : Fire
        Of one scenario.
    ax : matplotlib.axes.Axes, optional
    heat_fluxes : number, array or quantity
        To show [W/m2].

    Returns
    -------
    matplotlib.axes.Axes

    Raises
    ------
    InputError, OutOfRangeError
        Several scenarios; bad heat fluxes.
    """
    if np.ndim(fire.flame_length) != 0:
        raise InputError("a picture is of one scenario; make the fire of one")
    fluxes = np.sort(np.atleast_1d(to_si(heat_fluxes, "W/m**2", "heat_fluxes", lower=0.0, open_lower=True)))
    ax = _new_axes() if ax is None else ax
    down, up = (fire.standoff(fluxes, direction=d) for d in ("downwind", "upwind"))
    top = 1.25 * max(float(fire.flame.tip_z + fire.flame.tip_radius), 4.0)
    right = 1.15 * max(float(down.max()), float(fire.flame.tip_x), 5.0)
    left = -1.15 * max(float(up.max()), 5.0)
    _draw_fluxes(ax, fire, fluxes, (left, right, top))
    _draw_flame(ax, fire)
    step = top / (2.5 * (len(fluxes) + 1))
    for i, (flux, far, near) in enumerate(zip(fluxes, down, up, strict=True)):
        color = _SHADES[i % len(_SHADES)]
        ax.plot([-near, far], [0.0, 0.0], marker="|", ms=12, ls="none", color=color, clip_on=False)
        words = f"{flux / 1e3:g} kW/m²: {far:.0f} m downwind, {near:.0f} m upwind"
        ax.annotate(words, (0.0, -step * (i + 1)), ha="center", va="center", fontsize=8, color=color)
    _draw_person(ax, float(down.max()))
    ax.axhline(0.0, color="#4d3b2a", lw=2.0, zorder=1)
    ax.set(xlim=(left, right), ylim=(-step * (len(fluxes) + 1), top))
    ax.set_aspect("equal", adjustable="box")
    ax.set(xlabel="distance from the fire's axis [m], wind from the left", ylabel="height [m]")
    wind = float(np.asarray(fire.weather.wind_speed))
    ax.set_title(f"{_name(fire)}, wind {wind:g} m/s; an estimate, not an instruction", fontsize=9)
    return ax


def plot_heat_flux(
    fire: Fire,
    ax: Axes | None = None,
    *,
    labels: Sequence[str] | None = None,
    direction: QuantityLike = "downwind",
    height: QuantityLike = 0.0,
) -> Axes:
    """Draw heat flux against distance, a line for each scenario, with the levels of `FLUXES` marked.

    Parameters
    ----------
    fire : Fire
        Of one scenario, or of several along one axis: several winds, say.
    ax : matplotlib.axes.Axes, optional
    labels : sequence of str, optional
        One for each scenario; None names their winds.
    direction, height
        As for :meth:`lpgrelease.fire.Fire.heat_flux`.

    Returns
    -------
    matplotlib.axes.Axes

    Raises
    ------
    InputError
        Scenarios along more than one axis, or not a label for each.
    """
    if np.ndim(fire.flame_length) > 1:
        raise InputError("a picture shows scenarios along one axis")
    ax = _new_axes() if ax is None else ax
    reach = np.atleast_1d(fire.standoff(500.0, direction=direction, height=height)).max()
    distance = np.geomspace(1.0, max(1.3 * float(reach), 10.0), 240)
    shape = (-1, *(1,) * np.ndim(fire.flame_length))
    flux = fire.heat_flux(distance.reshape(shape), direction=direction, height=height).reshape(240, -1) / 1e3
    names = _names(fire, flux.shape[1]) if labels is None else list(labels)
    if len(names) != flux.shape[1]:
        raise InputError(f"give {flux.shape[1]} labels, one for each scenario; got {len(names)}")
    for i, name in enumerate(names):
        ax.plot(
            distance, flux[:, i], color=_SHADES[i % len(_SHADES)], ls=_DASHES[i % len(_DASHES)], label=name
        )
    for level in FLUXES:
        ax.axhline(level / 1e3, color="0.55", lw=0.8, zorder=0)
        ax.annotate(f"{level / 1e3:g}", (distance[-1], level / 1e3), fontsize=8, va="bottom", ha="right")
    ax.set(xscale="log", yscale="log", ylim=(0.3, None), xlim=(distance[0], distance[-1]))
    ax.set(xlabel="distance from the fire's axis [m]", ylabel="heat flux [kW/m²]")
    ax.legend(fontsize=9)
    return ax


def _new_axes() -> Axes:
    from matplotlib.figure import Figure

    return Figure(layout="constrained").add_subplot()


def _draw_fluxes(ax: Axes, fire: Fire, fluxes: Any, room: tuple[float, float, float]) -> None:
    left, right, top = room
    x, z = np.meshgrid(np.linspace(left, right, 241), np.linspace(0.0, top, 121))
    direction = np.where(x >= 0.0, 0.0, np.pi)
    flux = fire.heat_flux(np.abs(x), direction=direction, height=z)
    colors = [_SHADES[i % len(_SHADES)] for i in range(len(fluxes))]
    if flux.max() > fluxes[0] > flux.min():
        lines = ax.contour(x, z, flux, levels=fluxes, colors=colors, linewidths=1.4)
        ax.clabel(lines, fmt=lambda value: f"{value / 1e3:g}", fontsize=8)


def _draw_flame(ax: Axes, fire: Fire) -> None:
    f = fire.flame
    along = np.array([np.cos(f.end_tilt), -np.sin(f.end_tilt)])
    base, tip = np.array([f.base_x, f.base_z]), np.array([f.tip_x, f.tip_z])
    corners = [base - f.base_radius * along, tip - f.tip_radius * along]
    corners += [tip + f.tip_radius * along, base + f.base_radius * along]
    ring = np.array(corners, dtype=float)
    ax.fill(ring[:, 0], ring[:, 1], fc="#f4a340", ec="#b5471b", lw=1.2, alpha=0.9, zorder=3)
    height = getattr(fire, "height", None)
    if height is not None:
        ax.plot([0.0, 0.0], [0.0, float(height)], color="#3a3f44", lw=3.0, zorder=4)
    else:
        wide = 0.5 * float(getattr(fire, "fire_diameter", getattr(fire, "diameter", 0.0)))
        ax.plot([-wide, wide], [0.0, 0.0], color="#20639b", lw=5.0, solid_capstyle="butt", zorder=4)


def _draw_person(ax: Axes, x: float) -> None:
    """Draw a person of 1.8 m, for scale."""
    ax.plot([x, x], [0.0, 0.85 * _PERSON], color="black", lw=2.0, zorder=5)
    ax.plot([x], [0.93 * _PERSON], marker="o", ms=3.5, color="black", zorder=5)


def _name(fire: Fire) -> str:
    kind = {
        "PoolFire": "pool fire",
        "BurnPit": "burn pit",
        "StillPoolFire": "still pool",
        "VaporFlare": "flare",
    }
    return kind.get(type(fire).__name__, "fire")


def _names(fire: Fire, count: int) -> list[str]:
    wind = np.broadcast_to(np.ravel(np.asarray(fire.weather.wind_speed, dtype=float)), (count,))
    return [f"wind {float(u):g} m/s" for u in wind]
