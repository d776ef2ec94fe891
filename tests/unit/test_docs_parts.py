"""The parts of the documentation for strangers: nothing listed is missing, nothing there is unlisted."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest
from comparisons import COMPARISONS

import lpgrelease as lr

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
HOW_TO = [p for p in sorted((DOCS / "howto").glob("*.md")) if p.stem != "index"]
EXAMPLES = sorted((ROOT / "examples").glob("*.py"))


@pytest.mark.parametrize("page", HOW_TO, ids=lambda p: p.stem)
def test_a_how_to_page_runs_and_leads_on(page):
    text = page.read_text(encoding="utf-8")
    assert "```{doctest}" in text
    assert re.search(r"\]\(\.\./reference/|\]\(\.\./theory/", text)
    assert f"]({page.name})" in (DOCS / "howto" / "index.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "page", [p for p in HOW_TO if p.stem not in ("how_sure", "own_data")], ids=lambda p: p.stem
)
def test_a_how_to_page_says_what_to_doubt(page):
    assert "## What to doubt" in page.read_text(encoding="utf-8")


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda p: p.stem)
def test_an_example_says_what_it_is_asserts_and_has_a_page(example):
    tree = ast.parse(example.read_text(encoding="utf-8"))
    assert "invented" in (ast.get_docstring(tree) or "").casefold()
    assert any(isinstance(node, ast.Assert) for node in ast.walk(tree))
    page = DOCS / "gallery" / f"{example.stem}.md"
    assert f"example_{example.stem}.md" in page.read_text(encoding="utf-8")


def test_every_topic_of_the_comparisons_has_a_page():
    topics = {c.topic for c in COMPARISONS}
    shown = {p.stem for p in (DOCS / "validation").glob("*.md")} - {"index", "tests", "wrong"}
    assert shown == topics
    for topic in topics:
        text = (DOCS / "validation" / f"{topic}.md").read_text(encoding="utf-8")
        assert f"generated/validation_{topic}.md" in text


def test_the_citation_names_the_version():
    text = (ROOT / "CITATION.cff").read_text(encoding="utf-8")
    assert re.search(rf"^version: {re.escape(lr.__version__)}$", text, re.MULTILINE)
