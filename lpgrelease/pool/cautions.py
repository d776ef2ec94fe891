"""Cautions of results on pools: the poison first, then what the vapor of this cargo does, then the rest."""

from __future__ import annotations

from typing import Final

from lpgrelease.fluids import Fluid

__all__ = ["cautions_of", "cloud_of"]

ESTIMATE: Final = (
    "An estimate, not an instruction: the share of liquid that lands, the depth the relief holds and the "
    "moisture of the ground each change the size of the pool severalfold."
)
VAPOR: Final = (
    "Vapor fills low ground around a pool{}; approach from uphill and upwind with a monitor. The authority "
    "in charge and licensed practice decide."
)
VAPOR_DOES: Final = {
    (False, True): " and can be lit far from it",
    (True, True): ", poisons and can be lit far from it",
    (True, False): " and poisons far from it",
    (False, False): " and takes the place of the air there, which nothing but a monitor of oxygen tells",
}
"""By whether the cargo poisons, and whether it burns. That every vapor displaces air: common practice, no
source."""
CLOUD: Final = {
    (False, True): "an oxygen-poor or flammable cloud",
    (True, True): "a poisonous or flammable cloud",
    (True, False): "a poisonous cloud",
    (False, False): "an oxygen-poor cloud",
}
SHELTERED: Final = (
    "Liquid can stay for days in a sheltered hollow full of its own vapor; if the exposure given is too "
    "open, it stays longer than this says."
)


def cautions_of(fluid: Fluid) -> tuple[str, ...]:
    """Return what to keep in mind before acting on a result on a pool of `fluid`.

    Examples
    --------
    >>> cautions_of(Fluid("chlorine"))[0].partition(":")[0]
    'Chlorine is poisonous'
    """
    return (*fluid.cautions, ESTIMATE, VAPOR.format(VAPOR_DOES[fluid.toxic, fluid.flammable]), SHELTERED)


def cloud_of(fluid: Fluid) -> str:
    """Return what the vapor of `fluid` makes at a leak, in words.

    Examples
    --------
    >>> cloud_of(Fluid("nitrogen"))
    'an oxygen-poor cloud'
    """
    return CLOUD[fluid.toxic, fluid.flammable]
