"""Names, flammability, heats and dangers of the substances served, read from ``data/substances.csv``."""

from __future__ import annotations

import csv
import dataclasses
import difflib
from importlib import resources

from lpgrelease.errors import InputError

__all__ = ["SUBSTANCES", "Substance", "find_substance"]


@dataclasses.dataclass(frozen=True, slots=True)
class Substance:
    """One row of the substance table.

    Parameters
    ----------
    name, cas, formula, coolprop_name : str
        Identity.
    aliases : tuple of str
        Other names that are understood.
    flammable_limits : tuple of float or None
        Lower and upper limit in air, mole fractions, at 1 atm and about 25 degC; None where it does not burn.
    flammability_source : str
        Keys of the bibliography.
    heat_of_combustion_lower, heat_of_combustion_higher : float or None
        Of the gas at 25 degC [J/kg]; the water leaves as vapor (lower) or as liquid (higher).
    combustion_source : str
        Key of the bibliography.
    toxic : bool
        Dangerous to breathe as such: well below the lower flammable limit, or though it does not burn.
    immediately_dangerous : float or None
        Mole fraction in air immediately dangerous to life or health (30 minutes); None where none was found.
    toxicity_source : str
        Key of the bibliography.
    transport_class : str
        Division or class of the regulations for transport: 2.1 flammable gas, 2.2 neither flammable nor
        toxic gas, 2.3 toxic gas, 3 flammable liquid.
    hazards : tuple of str
        Keys of `HAZARDS`.
    solubility_in_water : str
        "miscible", "partly", "slightly" or "reacts".
    """

    name: str
    aliases: tuple[str, ...]
    cas: str
    formula: str
    coolprop_name: str
    flammable_limits: tuple[float, float] | None
    flammability_source: str
    heat_of_combustion_lower: float | None
    heat_of_combustion_higher: float | None
    combustion_source: str
    toxic: bool
    immediately_dangerous: float | None
    toxicity_source: str
    transport_class: str
    hazards: tuple[str, ...]
    solubility_in_water: str

    @property
    def flammable(self) -> bool:
        """Whether the vapor burns in air."""
        return self.flammable_limits is not None

    @property
    def cautions(self) -> tuple[str, ...]:
        """What to know before going near, in sentences: poison first, then what else it does."""
        name = self.name[0].upper() + self.name[1:]
        found = []
        if self.toxic:
            level = self.immediately_dangerous
            where = " far below its flammable limit" if self.flammable else ""
            how = (
                f": immediately dangerous to life or health at {1e6 * level:,.0f} ppm in air" if level else ""
            )
            found.append(f"{name} is poisonous{where}{how}. No distance for poison is computed here.")
        return (*found, *(f"{name} {HAZARDS[key]}" for key in self.hazards))


HAZARDS = {
    "corrosive": "attacks eyes, skin and lungs.",
    "oxidizer": "makes other things burn, steel among them once it is hot.",
    "carcinogen": "causes cancer, or is taken to: every breath of it counts.",
    "acid smoke": "burns to hydrogen chloride: its smoke is poisonous.",
    "polymerizes": "may polymerize with heat and burst its container, above all without inhibitor.",
    "decomposes": "burns and explodes without air: a padded or closed container is no protection.",
    "unstable": "may decompose with force where it is hot, above all where oil or plastic is in it.",
    "dry ice": (
        "turns to dry ice below its triple point, 5.2 bar absolute: valves and hoses plug, and a tank let "
        "down too far stays full of solid."
    ),
}
"""What a substance does beside burning and poisoning. Corrosion, chlorine and steel, acid smoke, ethylene
oxide without air, polymerization, hot nitrous oxide: common practice, no source. Cancer: niosh1994dangerous.
Triple point: span1996carbondioxide."""


def _number(text: str) -> float | None:
    return float(text) if text else None


def _read() -> dict[str, Substance]:
    text = (resources.files("lpgrelease") / "data" / "substances.csv").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    found = {}
    for row in csv.DictReader(lines):
        low, high = _number(row["lower_flammable_limit"]), _number(row["upper_flammable_limit"])
        found[row["name"]] = Substance(
            name=row["name"],
            aliases=tuple(row["aliases"].split(";")),
            cas=row["cas"],
            formula=row["formula"],
            coolprop_name=row["coolprop_name"],
            flammable_limits=None if low is None or high is None else (low, high),
            flammability_source=row["flammability_source"],
            heat_of_combustion_lower=_number(row["heat_of_combustion_lower"]),
            heat_of_combustion_higher=_number(row["heat_of_combustion_higher"]),
            combustion_source=row["combustion_source"],
            toxic=row["toxic"] == "true",
            immediately_dangerous=_number(row["immediately_dangerous"]),
            toxicity_source=row["toxicity_source"],
            transport_class=row["transport_class"],
            hazards=tuple(key for key in row["hazards"].split(";") if key),
            solubility_in_water=row["solubility_in_water"],
        )
    return found


SUBSTANCES = _read()
_BY_ALIAS = {
    alias.casefold(): substance
    for substance in SUBSTANCES.values()
    for alias in (substance.name, *substance.aliases, substance.cas)
}


def find_substance(name: str) -> Substance:
    """Return the substance called `name` (any case, common aliases and CAS numbers understood).

    Raises
    ------
    InputError
        No such substance; the message lists the nearest names and all that are served.

    Examples
    --------
    >>> find_substance("R290").name
    'propane'
    """
    if not isinstance(name, str):
        raise InputError(f"a fluid is named by a string, got {name!r}")
    asked = name.strip().casefold()
    substance = _BY_ALIAS.get(asked)
    if substance is None:
        near = difflib.get_close_matches(asked, _BY_ALIAS, n=3, cutoff=0.5)
        nearest = ", ".join(dict.fromkeys(_BY_ALIAS[key].name for key in near)) or "none is near"
        raise InputError(f"unknown fluid {name!r}; nearest: {nearest}; served: {', '.join(SUBSTANCES)}")
    return substance
