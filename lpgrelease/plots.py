"""Pictures of results, with Matplotlib (the extra ``plot``).

Every function takes ``ax=None`` and returns the Axes; nothing is shown, and no state of pyplot is used.
Colors are told apart by the color-blind, and lines also by their dashes.
"""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.fire.pictures import plot_fire, plot_heat_flux
from lpgrelease.pool.pictures import plot_pool_heat
from lpgrelease.quantities import FloatArray
from lpgrelease.response.dry import dry_from
from lpgrelease.response.story import stretches
from lpgrelease.weather_by_hour import weather_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from lpgrelease.cloud import CloudReach
    from lpgrelease.freeze_seal import FreezeSealMap
    from lpgrelease.pool import PoolHistory
    from lpgrelease.response import Forecast

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

BLUE, RUST, GREEN, GRAY, PURPLE = "#20639b", "#c2571a", "#2a8c6e", "#5b6770", "#7d4f9e"
PHASE_SHADES = ("#f6e3d3", "#dfeaf3", "#e4efe2", "#efeff2", "#ece2f0", "#f4efd9")
CLOUD_SHADES = {1.0: "#3d2a66", 0.5: "#5f6aa5", 0.25: "#8fb3cf", 0.1: "#d3e5ec"}
CLOUD_WORDS = {1.0: "lower limit", 0.5: "1/2 of it", 0.25: "1/4", 0.1: "1/10"}
PSI_PER_BAR = 1e5 / 6894.757293168361
PHASE_WORDS = {
    "before arrival": "leaking,\nbefore arrival",
    "vent": "venting",
    "vent, seal": "sealing\nwith ice",
    "vent, hold": "holding,\nvent open",
    "hold": "holding,\nvent shut",
    "vent, pump": "pumping\nout",
    "vent, vent to empty": "boiling\naway",
}
"""Short words for what often goes on; all else is called by the names of the steps."""
DRY = "no liquid left; its vapor is not followed"


def plot_forecast(story: Forecast) -> Figure:
    """Draw a forecast of one scenario: gauge pressure and temperature above, masses below.

    The phases stand side by side, each as wide as it needs to be read; the time at each border is written
    below it, so that minutes before sealing and hours after it both show.

    Parameters
    ----------
    story : Forecast
        Of one scenario.

    Returns
    -------
    matplotlib.figure.Figure
        Not shown; save it with ``savefig``.

    Raises
    ------
    InputError
        Several scenarios.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(10.0, 8.0), layout="constrained")
    above, below = figure.subplots(2, 1)
    plot_gauge_pressure(story, ax=above)
    plot_masses(story, ax=below)
    above.set_xlabel("")
    fluid = story.incident.contents.fluid.name
    figure.suptitle(f"Forecast of a leaking {fluid} tank: an estimate, not an instruction", fontsize=13)
    return figure


def plot_gauge_pressure(story: Forecast, ax: Axes | None = None) -> Axes:
    """Draw gauge pressure (left) and temperature (right) of the tank over time.

    A dashed line shows the pressure if the vents are shut once the leaks are sealed. Lines end where the last
    liquid is gone: from there on vapor is left, under a pressure that is not computed.

    Parameters
    ----------
    story : Forecast
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
    ax = _axes(ax, story)
    clock = _Clock(story)
    told = _until_dry(story, clock, ax)
    ax.plot(clock(story.time), told * story.gauge_pressure / 1e5, color=BLUE, lw=2.2, label="gauge pressure")
    shut = story.shut_in.time + story.shut_in_from
    inside = shut <= story.phase_end[-1]
    ambient = np.asarray(weather_at(story.incident.weather, float(story.shut_in_from)).ambient_pressure)
    if story.plan.vents and np.count_nonzero(inside) > 1:
        rise = (story.shut_in.pressure[inside] - ambient) / 1e5
        ax.plot(
            clock(shut[inside]),
            rise,
            color=BLUE,
            lw=1.8,
            ls="--",
            label="gauge pressure if the vent is shut, to 1 bar",
        )
    ax.set_ylabel("gauge pressure [bar]", color=BLUE)
    ax.set_ylim(*_room(story.gauge_pressure / 1e5))
    psi = ax.secondary_yaxis(-0.09, functions=_linear(PSI_PER_BAR))
    psi.set_ylabel("[psi]", color=BLUE)
    warm = ax.twinx()
    warmth = told * (story.temperature - 273.15)
    warm.plot(clock(story.time), warmth, color=RUST, lw=1.8, ls="-.", label="temperature")
    low, high = _room(story.temperature - 273.15)
    warm.set_ylim(low - 0.1 * (high - low), high)
    warm.set_ylabel("temperature [degC]", color=RUST)
    fahrenheit = warm.secondary_yaxis(1.085, functions=_linear(1.8, 32.0))
    fahrenheit.set_ylabel("[degF]", color=RUST)
    named = [patch for patch in ax.patches if patch.get_label() == DRY]
    lines = [*ax.get_lines(), *warm.get_lines(), *named]
    ax.legend(lines, [str(line.get_label()) for line in lines], loc="upper right", framealpha=0.95)
    clock.dress(ax, named=True)
    return ax


def plot_masses(story: Forecast, ax: Axes | None = None) -> Axes:
    """Draw where the mass is over time: in the tank, vented, leaked, on the ground.

    Parameters
    ----------
    story : Forecast
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
    ax = _axes(ax, story)
    clock = _Clock(story)
    x = clock(story.time)
    told = _until_dry(story, clock, ax)
    ax.plot(x, told * (story.liquid_mass + story.vapor_mass), color=GRAY, lw=2.2, label="in the tank")
    ax.plot(x, story.vented.sum(axis=0), color=PURPLE, lw=1.8, ls="-.", label="vented")
    ax.plot(x, story.leaked.sum(axis=0), color=RUST, lw=1.8, ls="--", label="leaked")
    if story.transferred[-1] > 0.0:
        ax.plot(x, story.transferred, color=BLUE, lw=1.8, ls=(0, (1, 1)), label="pumped out")
    inside = story.pool.time <= story.phase_end[-1]
    when = np.append(story.pool.time[inside], story.phase_end[-1])
    ground = np.interp(when, story.pool.time, story.pool.mass)
    ax.plot(clock(when), ground, color=GREEN, lw=2.2, ls=":", label="on the ground")
    if story.masses.burned[-1] > 0.0:
        burned = np.interp(when, story.pool.time, story.pool.mass_burned)
        ax.plot(clock(when), burned, color=RUST, lw=1.8, ls=(0, (1, 1)), label="burned on the ground")
    ax.set_ylabel("mass [kg]")
    ax.set_ylim(*_room(story.liquid_mass + story.vapor_mass))
    pounds = ax.secondary_yaxis("right", functions=_linear(1.0 / 0.45359237))
    pounds.set_ylabel("[lb]")
    ax.legend(loc="upper right", framealpha=0.95)
    clock.dress(ax, named=False)
    return ax


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
    ax = _axes(ax, pool)
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
    ax = _axes(ax, cloud.planes, axis="distance")
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
    psi = ax.secondary_yaxis("right", functions=_linear(PSI_PER_BAR / 100.0))
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


class _Clock:
    """Maps time to the picture's width: every phase gets a share of it, and is linear in time inside."""

    def __init__(self, story: Forecast) -> None:
        told = stretches(story)
        self.names = [each.name for each in told]
        self.times = np.array([0.0, *(each.ends for each in told)])
        share = np.sqrt([each.ends - each.begins for each in told])
        share = np.maximum(share / share.sum(), 0.13)
        self.edges = np.concatenate([[0.0], np.cumsum(share / share.sum())])

    def __call__(self, time: Any) -> Any:
        return np.interp(time, self.times, self.edges)

    def dress(self, ax: Axes, *, named: bool) -> None:
        """Shade and name the phases, and write times at and between their borders."""
        for i, name in enumerate(self.names):
            left, right = self.edges[i], self.edges[i + 1]
            ax.axvspan(left, right, color=PHASE_SHADES[i % len(PHASE_SHADES)], zorder=0, lw=0)
            if named:
                words = PHASE_WORDS.get(name, textwrap.fill(name, 12))
                at = 0.5 * (left + right)
                ax.annotate(
                    words, (at, 1.0), xytext=(0, 4), textcoords="offset points",
                    xycoords=ax.get_xaxis_transform(), ha="center", va="bottom", fontsize=10,
                )  # fmt: skip
        middles = 0.5 * (self.times[:-1] + self.times[1:])
        ticks = np.sort(np.concatenate([self.times, middles]))
        ax.set_xticks(self(ticks), [_minutes(t) for t in ticks])
        for tick, time in zip(ax.get_xticklabels(), ticks, strict=True):
            tick.set_fontweight("bold" if time in self.times else "normal")
        ax.set_xlim(0.0, 1.0)
        ax.set_xlabel("time since the leak began [h:min]; the scale changes at every phase")
        ax.grid(axis="y", color="white", lw=1.0)
        ax.set_axisbelow(True)
        for edge in self.edges[1:-1]:
            ax.axvline(edge, color="#8a939b", lw=0.8, zorder=1)


def _until_dry(story: Forecast, clock: _Clock, ax: Axes) -> FloatArray:
    """Return 1 at times up to the tank's last liquid and NaN after; hatch the time after."""
    dry, end = float(dry_from(story)), float(story.phase_end[-1])
    if dry < end:
        since, until = clock(np.array([dry, end]))
        ax.axvspan(since, until, facecolor="none", edgecolor=GRAY, hatch="//", lw=0.0, alpha=0.4, label=DRY)
    return np.where(story.time <= dry, 1.0, np.nan)


def _linear(factor: float, offset: float = 0.0) -> tuple[Any, Any]:
    """Return the change to another unit and back, for a second scale."""

    def there(values: Any) -> Any:
        return factor * np.asarray(values) + offset

    def back(values: Any) -> Any:
        return (np.asarray(values) - offset) / factor

    return there, back


def _minutes(seconds: float) -> str:
    minutes = round(seconds / 60.0)
    return f"{minutes // 60}:{minutes % 60:02d}"


def _room(values: Any) -> tuple[float, float]:
    """Limits of an axis from a little below 0, or the lowest value, to a little above the highest."""
    low, high = min(float(np.min(values)), 0.0), max(float(np.max(values)), 0.0)
    spread = max(high - low, 1e-3)
    return low - 0.04 * spread, high + 0.06 * spread


def _axes(ax: Axes | None, source: Any, axis: str = "time") -> Axes:
    if np.ndim(getattr(source, axis)) != 1:
        raise InputError("a picture is of one scenario; pick one, as in story.scenario(0)")
    if ax is None:
        from matplotlib.figure import Figure

        return Figure(layout="constrained").add_subplot()
    return ax
