"""README, pages and gate agree: commands run as printed, names are documented, links lead somewhere."""

from __future__ import annotations

import doctest
import re
import tomllib
from importlib import import_module
from pathlib import Path

import pytest

import lpgrelease as lr
from lpgrelease.results import Result

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
PAGES = sorted(
    p for p in (*DOCS.rglob("*.md"), *DOCS.rglob("*.rst")) if not {"_build", "generated"} & {*p.parts}
)
README = (ROOT / "README.md").read_text(encoding="utf-8")
GATE = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
PUBLIC = sorted(set(lr.__all__) - {"__version__"})


def fenced(text: str, language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)


def documented() -> set[str]:
    """Full names of what the reference documents."""
    found = set()
    for path in (DOCS / "reference").iterdir():
        module = ""
        for line in path.read_text(encoding="utf-8").splitlines():
            if match := re.match(r"\.\. currentmodule:: (\S+)", line):
                module = match.group(1)
            elif match := re.match(r"\.\. auto(?:class|function|exception):: (\S+)", line):
                found.add(f"{module}.{match.group(1)}")
    return found


def optional_dependencies() -> dict[str, list[str]]:
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)["project"]["optional-dependencies"]


def result_classes(base: type = Result) -> set[type]:
    below = set(base.__subclasses__())
    return below.union(*(result_classes(c) for c in below))


# -- README.md and the gate ---------------------------------------------------------------------------


def test_readme_has_one_line_to_run_and_one_to_test():
    commands = [block.splitlines() for block in fenced(README, "sh")]
    assert [len(lines) for lines in commands] == [1, 1]
    (main_job,), (tests,) = commands
    assert main_job.endswith(".venv/bin/python examples/overturned_tank.py")
    assert tests.endswith(".venv/bin/python -m pytest -n auto --dist worksteal")
    extras = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"][
        "optional-dependencies"
    ]
    assert (
        {e for line in (main_job, tests) for e in re.findall(r'"\.\[(\w+)\]"', line)}
        == {"plot", "test"}
        <= {*extras}
    )


def test_the_gate_has_no_such_command_of_its_own():
    assert "README.md" in GATE
    assert '-c "$tests"' in GATE
    assert '-c "$main_job"' in GATE
    assert "pytest" not in GATE
    assert "overturned_tank" not in GATE


def test_the_example_of_the_main_job_is_there():
    assert (ROOT / "examples" / "overturned_tank.py").is_file()


def test_the_tour_in_the_readme_runs():
    parser, runner = doctest.DocTestParser(), doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE)
    names: dict[str, object] = {}
    for number, block in enumerate(fenced(README, "python")):
        test = parser.get_doctest(block, names, f"README.md, block {number}", "README.md", 0)
        assert test.examples
        runner.run(test, clear_globs=False)
        names = test.globs
    assert runner.summarize().failed == 0


def test_the_readme_names_every_fluid():
    listed = README.split("## Fluids")[1].split("##")[0].casefold()
    from lpgrelease.fluids.substances import SUBSTANCES

    assert not [name for name in SUBSTANCES if name.casefold() not in listed]


def test_the_readme_links_every_theory_page():
    pages = [p for p in PAGES if p.parent.name == "theory" and p.stem != "index"]
    assert not [p.stem for p in pages if f"(docs/theory/{p.name})" not in README]


# -- links and files ----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_relative_links_lead_somewhere(name):
    text = (ROOT / name).read_text(encoding="utf-8")
    targets = [t for t in re.findall(r"\]\(([^)#\s]+)\)", text) if "://" not in t]
    assert not [t for t in targets if not (ROOT / t).exists()]


@pytest.mark.parametrize("page", [*PAGES, ROOT / "README.md", ROOT / "DEVELOPERS.md"], ids=lambda p: p.stem)
def test_files_that_a_page_names_exist(page):
    named = re.findall(
        r"`((?:tests|docs|lpgrelease|examples)/[\w./ *-]+\.\w+)`", page.read_text(encoding="utf-8")
    )
    assert not [name for name in named if not list(ROOT.glob(name))]


def test_every_page_is_reached_from_the_index():
    seen, queue = set(), [DOCS / "index.md"]
    while queue:
        page = queue.pop()
        if page in seen:
            continue
        seen.add(page)
        for tree in re.findall(r"```\{toctree\}\n(.*?)```", page.read_text(encoding="utf-8"), re.DOTALL):
            entries = [
                line.strip() for line in tree.splitlines() if line.strip() and not line.startswith(":")
            ]
            for entry in entries:
                found = [p for p in (page.parent / f"{entry}.md", page.parent / f"{entry}.rst") if p.exists()]
                assert len(found) == 1, f"{page.name}: {entry}"
                queue += found
    assert sorted(seen) == PAGES


# -- the reference ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", PUBLIC)
def test_every_public_name_stands_in_the_reference(name):
    assert f"lpgrelease.{name}" in documented()


def test_every_result_class_stands_in_the_reference():
    for name in PUBLIC:
        getattr(lr, name)  # loads its module
    shown = {full.rsplit(".", 1)[1] for full in documented()}
    classes = {c for c in result_classes() if c.__module__.startswith("lpgrelease.") and c.__name__[0] != "_"}
    assert {c.__name__ for c in classes} - shown == set()


def test_what_the_reference_documents_exists():
    for full in documented():
        module, name = full.rsplit(".", 1)
        value = import_module(module)
        assert hasattr(value, name), full


@pytest.mark.parametrize("page", sorted((DOCS / "theory").glob("*.md")), ids=lambda p: p.stem)
def test_every_theory_page_says_state_range_function_and_test(page):
    text = page.read_text(encoding="utf-8")
    if page.stem != "index":
        for wanted in (r"\*\*State:\*\*", r"^## Range and limits$|raises", r"^## Functions? and tests$"):
            assert re.search(wanted, text, re.MULTILINE), wanted


def test_every_module_and_folder_is_in_the_contributors_table():
    rows = re.compile(r"\| \d? ?\| ")
    table = [line for line in (ROOT / "DEVELOPERS.md").read_text().splitlines() if rows.match(line)]
    named = {name.rstrip("/") for line in table for name in re.findall(r"`([a-z_/]+)`", line.split("|")[2])}
    package = ROOT / "lpgrelease"
    there = {path.stem for path in package.glob("[a-z]*.py")} | {
        path.name for path in package.iterdir() if path.is_dir() and not path.name.startswith("_")
    }
    assert named >= there, there - named
    assert named <= there, named - there
