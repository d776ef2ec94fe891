"""Compositions: from what a caller gives to mole fractions, and what follows from them alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from lpgrelease.errors import InputError
from lpgrelease.fluids.grades import GRADES, find_grade, liquid_densities
from lpgrelease.fluids.mixture import load_mixture
from lpgrelease.fluids.substances import Substance, find_substance
from lpgrelease.quantities import to_si

__all__ = ["BASES", "blend_fractions", "combustion_heat", "le_chatelier", "named_fractions"]

BASES = ("mole", "mass", "liquid volume")

CLOSE_TO_ONE = 1e-6
"""Fractions must add up to one within this; they are then divided by their sum."""


def blend_fractions(given: Mapping[str, float], basis: str) -> dict[str, float]:
    """Mole fractions by served name, in the order given; components of fraction zero are left out.

    Raises
    ------
    InputError
        Names that are unknown or mean the same, fractions outside 0 to 1 or that do not add up to 1, a
        component without a liquid density where the basis is liquid volume.

    Notes
    -----
    Liquid volumes are those at 60 degF and add up: n_i is proportional to the volume fraction times the
    relative density over M_i (astm2012calculation).
    """
    fractions: dict[str, float] = {}
    for key, value in given.items():
        name = find_substance(key).name
        if name in fractions:
            raise InputError(f"{name} stands twice in the composition {dict(given)!r}")
        fractions[name] = float(to_si(value, "", f"fraction of {key}", lower=0.0, upper=1.0))
    total = sum(fractions.values())
    if abs(total - 1.0) > CLOSE_TO_ONE:
        raise InputError(f"the fractions must add up to 1, these to {total:.9g}: {dict(given)!r}")
    fractions = {name: value for name, value in fractions.items() if value > 0.0}
    if len(fractions) == 1:
        return dict.fromkeys(fractions, 1.0)
    if basis != "mole":
        mass = load_mixture(tuple(fractions)).molar_mass[:, 0].tolist()
        fractions = {name: value / m for (name, value), m in zip(fractions.items(), mass, strict=True)}
    if basis == "liquid volume":
        density = liquid_densities()
        missing = [name for name in fractions if name not in density]
        if missing:
            raise InputError(f"{missing[0]} has no liquid density at 60 degF: give fractions by mole or mass")
        fractions = {name: value * density[name] for name, value in fractions.items()}
    total = sum(fractions.values())
    return {name: value / total for name, value in fractions.items()}


def named_fractions(name: str) -> tuple[str, dict[str, float]]:
    """Return the served name and the mole fractions of a substance or a grade.

    Raises
    ------
    InputError
        Neither; the message lists the nearest substances and all that is served.
    """
    grade = find_grade(name)
    if grade is not None:
        return grade.name, blend_fractions(dict(grade.composition), grade.basis)
    try:
        substance = find_substance(name)
    except InputError as error:
        if not isinstance(name, str):
            raise
        raise InputError(f"{error}; grades: {', '.join(GRADES)}") from None
    return substance.name, {substance.name: 1.0}


def le_chatelier(substances: Sequence[Substance], fractions: Sequence[float]) -> tuple[float, float]:
    """Flammable limits of a gas mixture in air [mole fraction].

    Notes
    -----
    1/L = sum y_i/L_i over what burns, for either limit; an inert part counts as no fuel. Derived for the
    lower limit by mashuga2000chatelier; for the upper limit an approximation.
    """
    shares = [
        (y, s.flammable_limits) for y, s in zip(fractions, substances, strict=True) if s.flammable_limits
    ]
    low, high = (1.0 / sum(y / limits[end] for y, limits in shares) for end in (0, 1))
    return low, high


def combustion_heat(substances: Sequence[Substance], mass_fractions: Sequence[float]) -> float:
    """Lower heat of combustion [J/kg] of a mixture, that of each component in its mass fraction."""
    pairs = zip(mass_fractions, substances, strict=True)
    return sum(w * (s.heat_of_combustion_lower or 0.0) for w, s in pairs)
