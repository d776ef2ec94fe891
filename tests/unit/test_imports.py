"""Importing stays light, seen in fresh processes; and imports run one way, and only downward."""

from __future__ import annotations

import ast
import graphlib
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import lpgrelease

HEAVY = ("CoolProp", "thermo", "chemicals", "pint", "scipy", "pandas", "xarray", "matplotlib")
HEAVY += ("pyarrow", "tqdm", "SALib", "dask")


def loaded_after(code: str) -> set[str]:
    """Heavy packages that a fresh interpreter has loaded after running `code`."""
    report = f"import sys; print(*[name for name in {HEAVY!r} if name in sys.modules])"
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", f"{code}\n{report}"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return set(done.stdout.split())


def test_the_probe_sees_what_is_loaded():
    assert "pint" in loaded_after("import pint")


@pytest.mark.parametrize(
    "code",
    [
        "import lpgrelease",
        "import lpgrelease as lr; lr.Fluid('propane').saturation(temperature=[290.0, 300.0])",
        "import lpgrelease as lr\n"
        "fluid = lr.Fluid('ammonia')\n"
        "repr(fluid.saturation(pressure=2e5)); fluid.transport(temperature=250.0)\n"
        "fluid.gas(temperature=300.0, pressure=1e5); fluid.liquid(temperature=250.0, pressure=1e6)\n"
        "fluid.flammable_limits, fluid.heat_of_combustion, lr.gauge(1e5)\n"
        "try: fluid.saturation(temperature='300')\n"
        "except lr.InputError: pass",
        "import lpgrelease as lr; lr.study; lr.uniform(0.0, 1.0)",
    ],
    ids=["import", "saturation", "every property", "studies"],
)
def test_nothing_heavy_is_loaded(code):
    assert loaded_after(code) == set()


def test_a_quantity_view_loads_what_pint_loads():
    code = "import lpgrelease as lr; lr.Fluid('propane').saturation(temperature=300.0).q.pressure"
    assert loaded_after(code) == loaded_after("import pint")


def test_the_package_imports_without_its_optional_packages():
    blocked = f"import sys\nfor name in {HEAVY!r}: sys.modules[name] = None\n"
    code = f"{blocked}import lpgrelease as lr\nlr.Fluid('propane').saturation(temperature=300.0)"
    report = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert report.returncode == 0, report.stderr


PACKAGE = Path(lpgrelease.__file__).parent


def imports_of(node: ast.AST) -> Iterator[ast.Import | ast.ImportFrom]:
    """Every import that runs at some time, inside functions too; not those for type checkers."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.If) and getattr(child.test, "id", "") == "TYPE_CHECKING":
            continue
        if isinstance(child, ast.Import | ast.ImportFrom):
            yield child
        yield from imports_of(child)


@pytest.fixture(scope="module")
def graph() -> dict[str, set[str]]:
    """What each module of the package imports of the others."""
    names = {}
    for path in PACKAGE.rglob("*.py"):
        parts = ("lpgrelease", *path.relative_to(PACKAGE).with_suffix("").parts)
        names[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    found: dict[str, set[str]] = {}
    for name, path in names.items():
        wanted = set()
        for each in imports_of(ast.parse(path.read_text(encoding="utf-8"))):
            asked = [alias.name for alias in each.names]
            if isinstance(each, ast.ImportFrom):
                asked = [
                    f"{each.module}.{a}" if f"{each.module}.{a}" in names else each.module or ""
                    for a in asked
                ]
            wanted |= set(asked) & set(names)
        found[name] = wanted - {name}
    return found


def test_imports_run_one_way(graph):
    assert len(graph) > 200
    tuple(graphlib.TopologicalSorter(graph).static_order())


def test_imports_run_only_downward(graph):
    """By the floors that DEVELOPERS.md lists."""
    page = Path(__file__).parents[2] / "DEVELOPERS.md"
    rows = re.findall(r"^\| (\d) \| ([^|]+) \|", page.read_text(encoding="utf-8"), flags=re.MULTILINE)
    floors = {room: int(floor) for floor, rooms in rows for room in re.findall(r"`(\w+)/?`", rooms)}
    rooms = {name.split(".")[1] for name in graph if "." in name}
    assert rooms == set(floors)
    for name, wanted in graph.items():
        for other in wanted:
            if "." in name and "." in other:
                assert floors[name.split(".")[1]] >= floors[other.split(".")[1]], f"{name} imports {other}"
