"""Names, flammability and combustion data of the substances served, read from ``data/substances.csv``."""

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
    flammable_limits : tuple of float
        Lower and upper limit in air, mole fractions, at 1 atm and about 25 degC.
    flammability_source : str
        Keys of the bibliography.
    heat_of_combustion_lower, heat_of_combustion_higher : float
        Of the gas at 25 degC [J/kg]; the water leaves as vapor (lower) or as liquid (higher).
    combustion_source : str
        Key of the bibliography.
    toxic : bool
        Dangerous to breathe well below the lower flammable limit.
    solubility_in_water : str
        "miscible", "partly" or "slightly".
    """

    name: str
    aliases: tuple[str, ...]
    cas: str
    formula: str
    coolprop_name: str
    flammable_limits: tuple[float, float]
    flammability_source: str
    heat_of_combustion_lower: float
    heat_of_combustion_higher: float
    combustion_source: str
    toxic: bool
    solubility_in_water: str


def _read() -> dict[str, Substance]:
    text = (resources.files("lpgrelease") / "data" / "substances.csv").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    found = {}
    for row in csv.DictReader(lines):
        found[row["name"]] = Substance(
            name=row["name"],
            aliases=tuple(row["aliases"].split(";")),
            cas=row["cas"],
            formula=row["formula"],
            coolprop_name=row["coolprop_name"],
            flammable_limits=(float(row["lower_flammable_limit"]), float(row["upper_flammable_limit"])),
            flammability_source=row["flammability_source"],
            heat_of_combustion_lower=float(row["heat_of_combustion_lower"]),
            heat_of_combustion_higher=float(row["heat_of_combustion_higher"]),
            combustion_source=row["combustion_source"],
            toxic=row["toxic"] == "true",
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
    substance = _BY_ALIAS.get(name.strip().casefold())
    if substance is None:
        near = difflib.get_close_matches(name.strip().casefold(), _BY_ALIAS, n=3, cutoff=0.5)
        nearest = ", ".join(dict.fromkeys(_BY_ALIAS[key].name for key in near)) or "none is near"
        raise InputError(f"unknown fluid {name!r}; nearest: {nearest}; served: {', '.join(SUBSTANCES)}")
    return substance
