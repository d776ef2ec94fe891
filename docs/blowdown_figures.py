"""The figure of measured blowdowns, drawn from the points that the tests judge."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import matplotlib.pyplot as plt
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from comparisons import of_blowdown

TITLES = ("computed beside the mass that left", "computed beside the time")


def tank_blowdown() -> Any:
    """Measured and computed pressure over time of both tanks."""
    figure, panels = plt.subplots(1, 2, figsize=(9.0, 4.0), layout="constrained", sharey=True)
    for ax, comparison, title in zip(panels, of_blowdown.COMPARISONS, TITLES, strict=True):
        time = np.array([float(p.at.split()[0]) for p in comparison.points])
        if comparison.table.endswith("waterloo"):
            time = time - float(comparison.source.rows[0]["time_s"])
        ax.plot(time, [p.published for p in comparison.points], "k.", label="measured")
        ax.plot(time, [p.ours for p in comparison.points], label="tank_history")
        ax.set(xlabel="time since the valve opened [s]", xlim=(0.0, None), ylim=(350.0, 750.0), title=title)
    panels[0].set_ylabel("pressure [psi absolute]")
    panels[0].legend(fontsize=8.5)
    return figure
