"""Cargoes that water does not freeze on: judged by their row in the table of substances."""

from __future__ import annotations

from typing import Final, NamedTuple

from lpgrelease.fluids import Fluid

__all__ = ["LARGEST_DISSOLVED", "WaterVerdict", "judge_cargo"]

LARGEST_DISSOLVED: Final = 0.01
"""Mass fraction that lowers the freezing point of water by about 1 K at most (cryoscopic constant)."""

_SOLUBILITY: Final[dict[str, tuple[float, str]]] = {
    "slightly": (1e-3, ""),
    "partly": (
        0.41,
        "Water takes up much of this cargo and freezes far colder or not at all on it: no freeze seal, "
        "however cold the leak.",
    ),
    "miscible": (
        1.0,
        "Water absorbs this cargo with heat and does not freeze on it (with ammonia there is no ice above "
        "about 30 % of ammonia by mass): no freeze seal, however cold the leak.",
    ),
    "reacts": (
        1.0,
        "This cargo reacts with water, to acid or with heat (chlorine: hydrochloric and hypochlorous acid, "
        "and a solid hydrate; sulfur dioxide: sulfurous acid): the acid eats the hole wider, and water on "
        "the leak makes it worse. No freeze seal.",
    ),
}
"""Class of solubility to the mass fraction of cargo that water takes up when pressed against it, upper
estimates from memory (propylene oxide, which water takes up most of its class, 40.5 % at 20 degC: looked up
in a compendium of chemicals), and the reason to refuse it. With ammonia, ice is known up to about 33 % of
ammonia by mass, at 175 K (choukroun2010ammonia)."""
_UNKNOWN: Final = (
    1.0,
    'How this cargo behaves with water is not known here ("{}"): no freeze seal is credited.',
)


class WaterVerdict(NamedTuple):
    """What water does with a cargo."""

    dissolved: float
    """Mass fraction of the cargo that water takes up, an upper estimate."""
    reason: str
    """Why no seal is credited; empty where the cargo is no obstacle."""


def judge_cargo(fluid: Fluid) -> WaterVerdict:
    """Return what water does with `fluid`, by the class of solubility in the table of substances.

    A class without a rule is refused. Of a blend the component that water takes up most decides.

    Examples
    --------
    >>> from lpgrelease.fluids import Fluid
    >>> judge_cargo(Fluid("propane")).reason
    ''
    >>> judge_cargo(Fluid("ammonia")).dissolved
    1.0
    """
    verdicts = [judge_class(substance.solubility_in_water) for substance in fluid.substances]
    return max(verdicts, key=lambda verdict: verdict.dissolved)


def judge_class(solubility: str) -> WaterVerdict:
    """Return what water does with a cargo of this class of solubility."""
    dissolved, reason = _SOLUBILITY.get(solubility, _UNKNOWN)
    return WaterVerdict(dissolved, reason.format(solubility) if solubility not in _SOLUBILITY else reason)
