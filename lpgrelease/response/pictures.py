"""Pictures of forecasts, with Matplotlib; offered by :mod:`lpgrelease.plots`."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from lpgrelease.drawing import BLUE, GRAY, GREEN, PSI_PER_BAR, PURPLE, RUST, axes_of, linear
from lpgrelease.response.dry import dry_from, leaks_on
from lpgrelease.response.stretch import SAME_TIME, stretches
from lpgrelease.weather_by_hour import weather_at

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from lpgrelease.response.story import Forecast

__all__ = ["plot_forecast", "plot_gauge_pressure", "plot_masses"]

PHASE_SHADES = ("#f6e3d3", "#dfeaf3", "#e4efe2", "#efeff2", "#ece2f0", "#f4efd9")
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


def plot_forecast(story: Forecast) -> Figure:
    """Draw a forecast of one scenario: gauge pressure and temperature above, masses below.

    The phases stand side by side, each as wide as it needs to be read; the time at each border is written
    below it, so that minutes before sealing and hours after it both show. Where the last liquid is gone the
    tank's curves end, and what is not computed is hatched.

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

    A dashed line shows the pressure if the vents are shut once the leaks are sealed. Both curves end with the
    last liquid: how the vapor left then expands or warms is not computed, and that time is hatched.

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
    ax = axes_of(ax, story)
    clock, dry = _Clock(story), float(dry_from(story))
    wet = story.time <= dry
    x = clock(story.time[wet])
    ax.plot(x, story.gauge_pressure[wet] / 1e5, color=BLUE, lw=2.2, label="gauge pressure")
    shut = story.shut_in.time + story.shut_in_from
    inside = shut <= story.phase_end[-1]
    ambient = np.asarray(weather_at(story.incident.weather, float(story.shut_in_from)).ambient_pressure)
    if story.plan.vents and np.count_nonzero(inside) > 1 and float(story.shut_in_from) < dry:
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
    psi = ax.secondary_yaxis(-0.09, functions=linear(PSI_PER_BAR))
    psi.set_ylabel("[psi]", color=BLUE)
    warm = ax.twinx()
    warm.plot(x, story.temperature[wet] - 273.15, color=RUST, lw=1.8, ls="-.", label="temperature")
    low, high = _room(story.temperature - 273.15)
    warm.set_ylim(low - 0.1 * (high - low), high)
    warm.set_ylabel("temperature [degC]", color=RUST)
    fahrenheit = warm.secondary_yaxis(1.085, functions=linear(1.8, 32.0))
    fahrenheit.set_ylabel("[degF]", color=RUST)
    lines = [*ax.get_lines(), *warm.get_lines()]
    ax.legend(lines, [str(line.get_label()) for line in lines], loc="upper right", framealpha=0.95)
    clock.dress(ax, named=True)
    _mark_dry(ax, clock, dry, "no liquid is left:\nthe vapor's pressure and\ntemperature are not computed")
    return ax


def plot_masses(story: Forecast, ax: Axes | None = None) -> Axes:
    """Draw where the mass is over time: in the tank, vented, leaked, on the ground.

    Where vapor leaks on after the last liquid, the tank's curves end there, and that time is hatched.

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
    ax = axes_of(ax, story)
    clock = _Clock(story)
    dry = float(dry_from(story)) if leaks_on(story) else np.inf
    told = story.time <= dry
    x = clock(story.time[told])
    ax.plot(x, (story.liquid_mass + story.vapor_mass)[told], color=GRAY, lw=2.2, label="in the tank")
    ax.plot(x, story.vented.sum(axis=0)[told], color=PURPLE, lw=1.8, ls="-.", label="vented")
    ax.plot(x, story.leaked.sum(axis=0)[told], color=RUST, lw=1.8, ls="--", label="leaked")
    if story.transferred[-1] > 0.0:
        ax.plot(clock(story.time), story.transferred, color=BLUE, lw=1.8, ls=(0, (1, 1)), label="pumped out")
    inside = story.pool.time <= story.phase_end[-1]
    when = np.append(story.pool.time[inside], story.phase_end[-1])
    ground = np.interp(when, story.pool.time, story.pool.mass)
    ax.plot(clock(when), ground, color=GREEN, lw=2.2, ls=":", label="on the ground")
    if story.masses.burned[-1] > 0.0:
        burned = np.interp(when, story.pool.time, story.pool.mass_burned)
        ax.plot(clock(when), burned, color=RUST, lw=1.8, ls=(0, (1, 1)), label="burned on the ground")
    ax.set_ylabel("mass [kg]")
    ax.set_ylim(*_room(story.liquid_mass + story.vapor_mass))
    pounds = ax.secondary_yaxis("right", functions=linear(1.0 / 0.45359237))
    pounds.set_ylabel("[lb]")
    ax.legend(loc="upper right", framealpha=0.95)
    clock.dress(ax, named=False)
    _mark_dry(ax, clock, dry, "no liquid is left, vapor leaks on:\nhow much leaves is not computed")
    return ax


def _mark_dry(ax: Axes, clock: _Clock, dry: float, words: str) -> None:
    """Hatch the time after the last liquid, or write at the edge that nothing is known beyond it."""
    if not np.isfinite(dry):
        return
    left = float(clock(dry))
    wide = clock.times[-1] - dry > SAME_TIME
    if wide:
        ax.axvspan(left, 1.0, fill=False, hatch="//", ec=GRAY, lw=0.0, alpha=0.5, zorder=1)
    box = {"boxstyle": "round", "fc": "white", "ec": GRAY, "alpha": 0.95}
    x, y, side = (0.5 * (left + 1.0), 0.5, "center") if wide else (0.985, 0.1, "right")
    words = words if wide else f"at the end {words}"
    ax.text(x, y, words, ha=side, va="center", fontsize=9, transform=ax.transAxes, bbox=box, zorder=6)


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


def _minutes(seconds: float) -> str:
    minutes = round(seconds / 60.0)
    return f"{minutes // 60}:{minutes % 60:02d}"


def _room(values: Any) -> tuple[float, float]:
    """Limits of an axis from a little below 0, or the lowest value, to a little above the highest."""
    low, high = min(float(np.min(values)), 0.0), max(float(np.max(values)), 0.0)
    spread = max(high - low, 1e-3)
    return low - 0.04 * spread, high + 0.06 * spread
