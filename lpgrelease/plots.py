"""Pictures of results, with Matplotlib (the extra ``plot``).

Every function takes ``ax=None`` and returns the Axes; nothing is shown, and no state of pyplot is used.
Colors are told apart by the color-blind, and lines also by their dashes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from lpgrelease.drawing import BLUE, GRAY, GREEN, PSI_PER_BAR, RUST, axes_of, linear
from lpgrelease.errors import InputError
from lpgrelease.fire.pictures import plot_fire, plot_heat_flux
from lpgrelease.pool.pictures import plot_pool_heat
from lpgrelease.response.pictures import plot_forecast, plot_gauge_pressure, plot_masses

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from lpgrelease.cloud import CloudReach
    from lpgrelease.freeze_seal import FreezeSealMap
    from lpgrelease.pool import PoolHistory

__all__ = [
    "plot_cloud",
    "plot_fire",
    "plot_forecast",
    "plot_freeze_seal_map",
    "plot_freeze_seal_maps",
    "plot_gauge_pressure",
    "plot_heat_flux",
    "plot_masses",
    "plot_pool",
    "plot_pool_heat",
]

CLOUD_SHADES = {1.0: "#3d2a66", 0.5: "#5f6aa5", 0.25: "#8fb3cf", 0.1: "#d3e5ec"}
CLOUD_WORDS = {1.0: "lower limit", 0.5: "1/2 of it", 0.25: "1/4", 0.1: "1/10"}


def plot_pool(pool: PoolHistory, ax: Axes | None = None) -> Axes:
    """Draw the mass of a pool (left) and its diameter (right) over time, until it is gone.

    Parameters
    ----------
    pool : PoolHistory
        Of one scenario.
    ax : matplotlib.axes.Axes, optional

    Returns
    -------
    matplotlib.axes.Axes

    Raises
    ------
    InputError
        Several scenarios.
    """
    ax = axes_of(ax, pool)
    end = float(pool.gone_at) if np.isfinite(pool.gone_at) else float(pool.time[-1])
    shown = pool.time <= max(1.1 * end, float(pool.time[1]))
    minutes = pool.time[shown] / 60.0
    ax.plot(minutes, pool.mass[shown], color=GREEN, lw=2.2)
    ax.set_xlabel("time since the spill began [min]")
    ax.set_ylabel("on the ground [kg]", color=GREEN)
    ax.set_ylim(bottom=0.0)
    across = ax.twinx()
    across.plot(minutes, 2.0 * pool.radius[shown], color=GRAY, lw=1.8, ls="--")
    across.set_ylabel("diameter [m]", color=GRAY)
    across.set_ylim(bottom=0.0)
    return ax


def plot_cloud(cloud: CloudReach, ax: Axes | None = None, *, wind_from: float | None = None) -> Axes:
    """Draw a cloud in plan view, to scale: where the gas is at fractions of its lower flammable limit.

    The wind's arrow and the side from which to approach are marked; uphill is known only on the spot.

    Parameters
    ----------
    cloud : CloudReach
        Of one scenario.
    ax : matplotlib.axes.Axes, optional
    wind_from : float, optional
        Compass bearing from which the wind blows [degrees]; the picture then has north at its top. None lets
        the wind blow from left to right.

    Returns
    -------
    matplotlib.axes.Axes

    Raises
    ------
    InputError
        Several scenarios.
    """
    ax = axes_of(ax, cloud.planes, axis="distance")
    toward = 0.0 if wind_from is None else np.radians(270.0 - wind_from)
    along = np.array([np.cos(toward), np.sin(toward)])
    aside = np.array([-along[1], along[0]])
    for fraction in sorted(CLOUD_SHADES):
        x, half = cloud.contour(fraction)
        inside = half > 0.0
        x, half = x[inside], half[inside]
        x, half = np.append(x, x[-1:]), np.append(half, np.zeros(min(half.size, 1)))
        outline = np.outer(x, along) + np.outer(half, aside)
        other = np.outer(x, along) - np.outer(half, aside)
        ring = np.concatenate([outline, other[::-1]])
        color, words = CLOUD_SHADES[fraction], CLOUD_WORDS[fraction]
        ax.fill(ring[:, 0], ring[:, 1], fc=color, ec="#2b2440", lw=0.6, label=words)
    reach = float(cloud.planes.distance[-1])
    _mark_wind(ax, cloud, along, 0.35 * reach)
    ax.plot(0.0, 0.0, marker="o", color="black", ms=6, ls="none", label="leak")
    ax.set_aspect("equal", adjustable="datalim")
    ax.set_xlabel("[m]" if wind_from is None else "east [m]")
    ax.set_ylabel("[m]" if wind_from is None else "north [m]")
    handles, labels = ax.get_legend_handles_labels()
    ax.legend(handles[::-1], labels[::-1], loc="upper right", framealpha=0.95)
    note = f"{cloud.fluid}, wind {float(cloud.wind_speed):.1f} m/s, class {cloud.stability}"
    if cloud.calm:
        note = f"{cloud.fluid}, CALM: drawn for {float(cloud.wind_speed):.1f} m/s; gas may lie on every side"
    doubt = "an estimate, good to a factor of two in concentration; not an instruction"
    ax.set_title(f"{note}\n{doubt}", fontsize=9)
    return ax


def _mark_wind(ax: Axes, cloud: CloudReach, along: Any, length: float) -> None:
    """Arrow of the wind upwind of the leak, and the side to come from."""
    arrow = {"arrowstyle": "-|>", "color": BLUE, "lw": 2.5, "mutation_scale": 18}
    ax.annotate("", xy=tuple(-0.12 * length * along), xytext=tuple(-0.75 * length * along), arrowprops=arrow)
    words = "approach from here:\nupwind and uphill,\nwith a monitor"
    if cloud.calm:
        words = "calm: no side is upwind;\ncome from uphill,\nwith a monitor"
    color = RUST if cloud.calm else GREEN
    box = {"boxstyle": "round", "fc": "white", "ec": color}
    place = tuple(-1.15 * length * along)
    ax.annotate(words, place, ha="center", va="center", color=color, fontsize=9, bbox=box)
    ax.plot(*(-2.0 * length * along), alpha=0.0)  # keeps the words inside


def plot_freeze_seal_map(found: FreezeSealMap, ax: Axes | None = None) -> Axes:
    """Draw where a freeze seal is feasible, marginal or not: gauge pressure of the tank against hole size.

    Both scales are logarithmic; what stands at zero gauge is left out.

    Parameters
    ----------
    found : FreezeSealMap
        At least two sizes and two pressures above zero, in rising order.
    ax : matplotlib.axes.Axes, optional

    Returns
    -------
    matplotlib.axes.Axes

    Raises
    ------
    InputError
        Too few sizes or pressures, or not in rising order.
    """
    shown = found.gauge_pressure[0] > 0.0
    size, pressure = found.diameter[:, 0] * 1e3, found.gauge_pressure[0][shown] / 1e3
    if min(size.size, pressure.size) < 2 or np.any(np.diff(size) <= 0) or np.any(np.diff(pressure) <= 0):
        raise InputError("a map is drawn of two or more sizes and pressures above zero, in rising order")
    if ax is None:
        from matplotlib.figure import Figure

        ax = Figure(figsize=(7.0, 4.6), layout="constrained").add_subplot()
    from matplotlib.colors import BoundaryNorm, ListedColormap
    from matplotlib.patches import Patch

    level = (2 * found.feasible + found.marginal)[:, shown].T.astype(float)
    colors = ("#ececec", "#f2c572", "#7fb8a4")
    norm = BoundaryNorm([-0.5, 0.5, 1.5, 2.5], 3)
    ax.pcolormesh(size, pressure, level, cmap=ListedColormap(colors), norm=norm, shading="nearest")
    for least, style in ((1.0, "--"), (2.0, "-")):
        reached = (level >= least).astype(float)
        if reached.min() < reached.max():
            ax.contour(size, pressure, reached, levels=[0.5], colors=GRAY, linewidths=1.4, linestyles=style)
    ax.set(xscale="log", yscale="log", xlabel="diameter of the hole [mm]", ylabel="gauge pressure [kPa]")
    psi = ax.secondary_yaxis("right", functions=linear(PSI_PER_BAR / 100.0))
    psi.set_ylabel("[psi]")
    names = ("not feasible", "marginal: within the spread\nof ice strength and pores", "feasible")
    patches = [Patch(color=color, label=name) for color, name in zip(colors, names, strict=True)]
    ax.legend(handles=patches[::-1], loc="upper right", framealpha=0.95, fontsize=9)
    ax.set_title(
        f"Freeze seal on a {found.phase} leak of {found.fluid}: an estimate, not an instruction", fontsize=10
    )
    return ax


def plot_freeze_seal_maps(maps: Sequence[FreezeSealMap]) -> Figure:
    """Draw maps of a blend side by side, as its light ends leave.

    Parameters
    ----------
    maps : sequence of FreezeSealMap
        From `lpgrelease.freeze_seal.freeze_seal_maps`, each as `plot_freeze_seal_map` takes it.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    InputError
        No map, or one that cannot be drawn.
    """
    if not maps:
        raise InputError("maps: there is none to draw")
    from matplotlib.figure import Figure

    figure = Figure(figsize=(3.4 * len(maps) + 0.6, 4.2), layout="constrained")
    row = figure.subplots(1, len(maps), sharex=True, sharey=True, squeeze=False)[0]
    for ax, found in zip(row, maps, strict=True):
        plot_freeze_seal_map(found, ax)
        ax.set_title(found.fluid.replace(" + ", "\n+ "), fontsize=9)
        if ax is not row[-1]:
            ax.get_legend().remove()
        if ax is not row[0]:
            ax.set_ylabel("")
    figure.suptitle(f"Freeze seal on a {maps[0].phase} leak: an estimate, not an instruction", fontsize=10)
    return figure
