"""The one bibliography: no key without an entry, no entry without a citation."""

from __future__ import annotations

import json
import re
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from lpgrelease import Fluid, flash
from lpgrelease.fluids.make_tables import BIBLIOGRAPHY
from lpgrelease.fluids.substances import SUBSTANCES

ROOT = Path(__file__).parents[2]
KEY = re.compile(r"(?<![#\w])[a-z]{2,}\d{4}[a-z]{2,}\b")  # not a color such as #c2571a
ENTRY = re.compile(r"^@(\w+)\{([^,\s]+),\s*$", re.MULTILINE)
ENTRIES = ENTRY.findall((ROOT / "docs" / "references.bib").read_text(encoding="utf-8"))
KEYS = [key for _, key in ENTRIES]


def cited_in(*patterns: str) -> dict[str, list[str]]:
    """Keys and the files that cite them."""
    found: dict[str, list[str]] = {}
    for pattern in patterns:
        for path in sorted(ROOT.glob(pattern)):
            for key in set(KEY.findall(path.read_text(encoding="utf-8"))):
                found.setdefault(key, []).append(str(path.relative_to(ROOT)))
    return found


def cited_by_tables() -> dict[str, list[str]]:
    """Keys in the origins of the fluid tables."""
    found: dict[str, list[str]] = {}
    for path in sorted((ROOT / "lpgrelease" / "data" / "fluids").glob("*.npz")):
        with np.load(path, allow_pickle=False) as file:
            origin = json.loads(str(file["origin"]))
        for key in {origin["source"], *origin["transport_sources"].values()}:
            found.setdefault(key, []).append(path.name)
    return found


CODE = cited_in("lpgrelease/**/*.py", "lpgrelease/data/*.csv", "tests/published/*.csv") | cited_by_tables()
ELSEWHERE = cited_in("docs/**/*.md", "tests/**/*.py", "examples/**/*.py", "benchmarks/**/*.py", "README.md")


def test_the_search_finds_citations():
    assert "bipm2019si" in CODE
    assert len(cited_by_tables()) > 10
    assert KEY.findall("see lemmon2009propane, Eq. 5; not R1234yf nor Lemmon-JCED-2009") == [
        "lemmon2009propane"
    ]


def test_every_cited_key_has_an_entry():
    missing = {key: files for key, files in (CODE | ELSEWHERE).items() if key not in KEYS}
    assert not missing


def test_every_entry_is_cited():
    assert not sorted(set(KEYS) - set(CODE) - set(ELSEWHERE))


def test_no_entry_stands_twice():
    assert not [key for key, number in Counter(KEYS).items() if number > 1]


@pytest.mark.parametrize("key", KEYS)
def test_keys_read_author_year_topic(key):
    assert KEY.fullmatch(key)


def test_entries_have_a_title_and_the_year_of_their_key():
    text = (ROOT / "docs" / "references.bib").read_text(encoding="utf-8")
    for part in re.split(r"^@", text, flags=re.MULTILINE)[1:]:
        key = re.search(r"\{([^,\s]+),", part).group(1)
        assert re.search(r"^  title = \{.+\},$", part, re.MULTILINE), key
        assert re.search(rf"^  year = \{{{re.search(r'[0-9]{4}', key).group()}\}},$", part, re.MULTILINE), key
        assert part.count("{") == part.count("}"), key


def test_the_papers_behind_coolprop_are_all_named():
    assert set(BIBLIOGRAPHY.values()) <= set(KEYS)


def test_every_published_table_says_source_page_and_how_it_is_known():
    for path in sorted((ROOT / "tests" / "published").glob("*.csv")):
        header = [line for line in path.read_text(encoding="utf-8").splitlines() if line.startswith("#")]
        for word in ("# source:", "# page:", "# how_known:"):
            assert any(line.startswith(word) and line.removeprefix(word).strip() for line in header), (
                path.name
            )


@pytest.mark.parametrize("name", sorted(SUBSTANCES))
def test_what_served_the_properties_is_told_alike_everywhere_by_keys_of_the_bibliography(name):
    fluid = Fluid(name)
    assert {key for key in KEY.findall(fluid.credit) if key in KEYS}
    state = fluid.saturation(temperature=0.5 * (fluid.lowest_temperature + fluid.highest_temperature))
    told = {
        state.provenance.properties,
        fluid.saturation(pressure=state.pressure).provenance.properties,
        fluid.gas(temperature=state.temperature + 5.0, pressure=state.pressure).provenance.properties,
        flash(
            fluid, temperature=state.temperature, ambient_pressure=0.9 * state.pressure
        ).provenance.properties,
    }
    assert told == {fluid.credit}
