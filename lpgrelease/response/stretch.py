"""Phases of one scenario as they are told: those that follow one another and are called the same, as one."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from lpgrelease.response.story import Forecast

__all__ = ["SAME_TIME", "Stretch", "stretches"]

SAME_TIME = 1.0
"""Phases shorter than this [s] are not told; times less than this apart are told as one."""


class Stretch(NamedTuple):
    """Phases that follow one another and are called the same, of one scenario."""

    name: str
    begins: float
    ends: float
    phases: list[int]


def stretches(story: Forecast) -> list[Stretch]:
    """Return what goes on one after the other, without what takes no time."""
    found: list[Stretch] = []
    for i, name in enumerate(story.phase_names):
        begins, ends = float(story.phase_start[i]), float(story.phase_end[i])
        if ends - begins <= SAME_TIME:
            continue
        if found and found[-1].name == name:
            found[-1] = Stretch(name, found[-1].begins, ends, [*found[-1].phases, i])
        else:
            found.append(Stretch(name, begins, ends, [i]))
    return found
