"""The table of named grounds."""

from __future__ import annotations

import csv
import difflib
from importlib import resources
from typing import Any

from lpgrelease.errors import InputError

__all__ = ["find_ground"]


def find_ground(name: Any) -> dict[str, str]:
    """Return the row of a ground by its name or another it goes by."""
    if not isinstance(name, str):
        raise InputError(f"a ground is named by a string, got {name!r}")
    table = _read_table()
    alias = {a: row for row in table.values() for a in (row["name"], *row["aliases"].split(";")) if a}
    wanted = " ".join(name.casefold().split())
    if wanted not in alias:
        near = difflib.get_close_matches(wanted, alias, n=3, cutoff=0.4)
        nearest = ", ".join(near) or "none is near"
        raise InputError(f"unknown ground {name!r}; nearest: {nearest}; known: {', '.join(table)}")
    return alias[wanted]


def _read_table() -> dict[str, dict[str, str]]:
    text = (resources.files("lpgrelease") / "data" / "grounds.csv").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    return {row["name"]: row for row in csv.DictReader(lines)}
