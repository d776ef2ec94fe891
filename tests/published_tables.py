"""Read the tables of ``tests/published``: comment lines ``# key: value``, then comma-separated rows."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import pint

FOLDER = Path(__file__).parent / "published"
_UNITS = pint.UnitRegistry()
STANDARD_ATMOSPHERE_PSI = 14.696


@dataclass(frozen=True)
class PublishedTable:
    """A table as printed.

    Parameters
    ----------
    header : dict of str to str
        What the comment lines say: source, page, how_known, tolerance, ...
    rows : list of dict of str to str
        One per line, as text; empty cells are empty.
    """

    header: dict[str, str]
    rows: list[dict[str, str]]


def read_table(name: str) -> PublishedTable:
    """The table in ``tests/published/<name>.csv``."""
    header, body = {}, []
    for line in (FOLDER / f"{name}.csv").read_text(encoding="utf-8").splitlines():
        if line.startswith("#"):
            key, _, text = line[1:].partition(":")
            header[key.strip()] = text.strip()
        elif line:
            body.append(line)
    return PublishedTable(header, list(csv.DictReader(body)))


def table_names() -> list[str]:
    """Names of all tables."""
    return sorted(path.stem for path in FOLDER.glob("*.csv"))


def si(value: str | float, unit: str, si_unit: str) -> float:
    """A printed value in its printed unit, as a float in `si_unit`."""
    return float(_UNITS.Quantity(float(value), unit).m_as(si_unit))


def kelvin(fahrenheit: str | float) -> float:
    """Temperature [K] from degrees Fahrenheit."""
    return si(fahrenheit, "degF", "K")


def pascal_from_gauge(psig: str | float) -> float:
    """Absolute pressure [Pa] from psi above a standard atmosphere of 14.696 psia."""
    return si(float(psig) + STANDARD_ATMOSPHERE_PSI, "psi", "Pa")
