"""Grades of LP-gas by name: what a standard allows, and the composition assumed here (`data/grades.csv`)."""

from __future__ import annotations

import csv
import dataclasses
from functools import cache
from importlib import resources

__all__ = ["GRADES", "Grade", "find_grade", "liquid_densities"]


@dataclasses.dataclass(frozen=True, slots=True)
class Grade:
    """A commercial grade. The standard bounds it; the composition is an assumption inside those bounds.

    Parameters
    ----------
    name : str
        Name of the grade.
    aliases : tuple of str
        Other names that are understood.
    basis : {"mole", "liquid volume"}
        Basis of the composition.
    composition : tuple of (str, float)
        Components and fractions assumed.
    standard : str
        The standard that defines the grade.
    limits : str
        What it demands, as far as it matters here.
    assumption : str
        Where the composition comes from.
    sources : tuple of str
        Keys of the bibliography.
    """

    name: str
    aliases: tuple[str, ...]
    basis: str
    composition: tuple[tuple[str, float], ...]
    standard: str
    limits: str
    assumption: str
    sources: tuple[str, ...]


def _rows(name: str) -> list[dict[str, str]]:
    text = (resources.files("lpgrelease") / "data" / name).read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if line and not line.startswith("#")))


def _read() -> dict[str, Grade]:
    grades = {}
    for row in _rows("grades.csv"):
        parts = (part.split("=") for part in row["composition"].split(";"))
        grades[row["name"]] = Grade(
            name=row["name"],
            aliases=tuple(row["aliases"].split(";")),
            basis=row["basis"],
            composition=tuple((name, float(fraction)) for name, fraction in parts),
            standard=row["standard"],
            limits=row["limits"],
            assumption=row["assumption"],
            sources=tuple(row["sources"].split(";")),
        )
    return grades


GRADES = _read()
_BY_ALIAS = {alias.casefold(): grade for grade in GRADES.values() for alias in (grade.name, *grade.aliases)}


def find_grade(name: str) -> Grade | None:
    """Return the grade called `name` (any case, aliases understood), or None.

    Examples
    --------
    >>> find_grade("HD5").standard
    'ASTM D1835 special-duty propane / GPA 2140 HD-5'
    >>> find_grade("propane") is None
    True
    """
    return _BY_ALIAS.get(name.strip().casefold()) if isinstance(name, str) else None


@cache
def liquid_densities() -> dict[str, float]:
    """Relative density of each component's liquid at 60 degF, for compositions by liquid volume."""
    return {row["name"]: float(row["relative_density"]) for row in _rows("liquid_densities.csv")}
