"""Pictures of pools, with Matplotlib; offered by :mod:`lpgrelease.plots`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from lpgrelease.drawing import BLUE, GRAY, GREEN, PURPLE, RUST
from lpgrelease.errors import InputError

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from lpgrelease.pool.history import PoolHistory

__all__ = ["plot_pool_heat"]

TIME_UNITS = ((86400.0, "days"), (3600.0, "h"), (60.0, "min"), (1.0, "s"))
LEAST_SPAN = 2.0
"""Of the temperature's axis [K]."""
HEAT_PATHS = (
    ("ground below", ("heat_from_ground",), RUST, "-"),
    ("ground beside", ("heat_from_beside",), RUST, ":"),
    ("air", ("heat_from_air",), BLUE, "--"),
    ("frost and rain", ("heat_from_frost",), PURPLE, "-."),
    ("sky and cover", ("heat_from_longwave",), GRAY, "-"),
    ("sun", ("heat_from_sun",), GREEN, "--"),
)


def plot_pool_heat(pool: PoolHistory) -> Figure:
    """Draw a pool: its mass and radius, its temperature, and the heat it takes by each path, over time.

    Parameters
    ----------
    pool : PoolHistory
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

    figure = Figure(figsize=(7.2, 8.4), layout="constrained")
    size, warm, heat = figure.subplots(3, 1, sharex=True)
    if np.ndim(pool.time) != 1:
        raise InputError("a picture is of one scenario")
    end = float(pool.gone_at) if np.isfinite(pool.gone_at) else float(pool.time[-1])
    unit, name = next((u, n) for u, n in TIME_UNITS if end >= 3.0 * u or u == 1.0)
    shown = (pool.time <= end) & (pool.mass > 0.0)
    time = pool.time[shown] / unit
    size.plot(time, pool.mass[shown], color=GREEN, lw=2.2)
    size.set_ylabel("liquid [kg]", color=GREEN)
    size.set_ylim(bottom=0.0)
    across = size.twinx()
    across.plot(time, pool.radius[shown], color=GRAY, lw=1.8, ls="--")
    across.set_ylabel("radius [m]", color=GRAY)
    across.set_ylim(bottom=0.0)
    warm.plot(time, pool.temperature[shown] - 273.15, color=BLUE, lw=2.0)
    warm.set_ylabel("temperature [degC]")
    low, high = warm.get_ylim()
    warm.set_ylim(min(low, high - LEAST_SPAN), high + 0.05 * LEAST_SPAN)
    steps = np.flatnonzero(shown[1:] & shown[:-1])
    middle = 0.5 * (pool.time[steps] + pool.time[steps + 1]) / unit
    surface = 0.5 * (pool.area[steps] + pool.area[steps + 1]) * np.diff(pool.time)[steps]
    for label, names, color, dashes in HEAT_PATHS:
        moved = sum(np.diff(getattr(pool, part))[steps] for part in names)
        heat.plot(middle, moved / surface, color=color, ls=dashes, lw=1.8, label=label)
    heat.set_yscale("symlog", linthresh=10.0)
    heat.set_ylabel("heat into the pool [W/m$^2$]")
    heat.set_xlabel(f"time since the spill began [{name}]")
    heat.legend(fontsize=8, ncols=2)
    heat.set_xlim(left=0.0)
    return figure
