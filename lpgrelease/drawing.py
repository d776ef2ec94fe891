"""What pictures share: colors, axes, second scales. Matplotlib is imported where it is used."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from lpgrelease.errors import InputError

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["BLUE", "GRAY", "GREEN", "PSI_PER_BAR", "PURPLE", "RUST", "axes_of", "linear"]

BLUE, RUST, GREEN, GRAY, PURPLE = "#20639b", "#c2571a", "#2a8c6e", "#5b6770", "#7d4f9e"
PSI_PER_BAR = 1e5 / 6894.757293168361


def linear(factor: float, offset: float = 0.0) -> tuple[Any, Any]:
    """Return the change to another unit and back, for a second scale."""

    def there(values: Any) -> Any:
        return factor * np.asarray(values) + offset

    def back(values: Any) -> Any:
        return (np.asarray(values) - offset) / factor

    return there, back


def axes_of(ax: Axes | None, source: Any, axis: str = "time") -> Axes:
    """Return the axes given, or new ones; the source's history is to be of one scenario."""
    if np.ndim(getattr(source, axis)) != 1:
        raise InputError("a picture is of one scenario; pick one, as in story.scenario(0)")
    if ax is None:
        from matplotlib.figure import Figure

        return Figure(layout="constrained").add_subplot()
    return ax
