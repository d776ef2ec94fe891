"""The public names: listed once, loadable, documented, and called by keyword."""

from __future__ import annotations

import ast
import dataclasses
import inspect
import re
from pathlib import Path

import pint
import pytest

import lpgrelease as lr
from lpgrelease.results import Result

NAMES = sorted(set(lr.__all__) - {"__version__"})


def imports_for_type_checkers() -> dict[str, str]:
    """Name to module, from the block under ``if TYPE_CHECKING``."""
    tree = ast.parse(Path(lr.__file__).read_text(encoding="utf-8"))
    blocks = [node for node in tree.body if isinstance(node, ast.If)]
    return {
        alias.name: node.module
        for block in blocks
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }


def test_lazy_names_and_those_shown_to_type_checkers_agree():
    assert imports_for_type_checkers() == {name: f"lpgrelease.{home}" for name, home in lr._HOME_OF.items()}
    assert sorted(lr.__all__) == sorted(["__version__", *lr._HOME_OF])


def test_names_are_listed_and_unknown_ones_refused():
    assert set(lr.__all__) <= set(dir(lr))
    with pytest.raises(AttributeError, match="'lpgrelease' has no attribute 'propane'"):
        lr.propane  # noqa: B018


def test_a_star_import_gives_every_name():
    scope = {}
    exec("from lpgrelease import *", scope)
    assert set(NAMES) <= set(scope)


@pytest.mark.parametrize("name", NAMES)
def test_names_load_from_the_package_and_say_where_they_live(name):
    value = getattr(lr, name)
    assert value.__name__ == name
    assert value.__module__.startswith(f"lpgrelease.{lr._HOME_OF[name]}")
    assert inspect.getdoc(value)


def signatures(name: str) -> dict[str, tuple[object, inspect.Signature]]:
    """Signatures of the function `name`, or of the constructor and the methods of the class `name`."""
    value = getattr(lr, name)
    if inspect.isclass(value) and issubclass(value, (BaseException, Result)):
        return {}
    found = {name: (value, inspect.signature(value))}
    for method, function in inspect.getmembers(value, inspect.isfunction) if inspect.isclass(value) else ():
        if not method.startswith("_"):
            found[f"{name}.{method}"] = (function, inspect.signature(function))
    return found


@pytest.mark.parametrize("name", NAMES)
def test_every_parameter_is_documented(name):
    for called, (value, signature) in signatures(name).items():
        text = inspect.getdoc(value) or ""
        missing = [p for p in signature.parameters if p != "self" and not re.search(rf"\b{p}\b", text)]
        assert not missing, f"{called} says nothing of {missing}"


@pytest.mark.parametrize("name", NAMES)
def test_only_two_arguments_go_by_position(name):
    for called, (_, signature) in signatures(name).items():
        by_position = [
            p.name
            for p in signature.parameters.values()
            if p.name != "self" and p.kind in (p.POSITIONAL_ONLY, p.POSITIONAL_OR_KEYWORD)
        ]
        assert len(by_position) <= 2, f"{called} takes {by_position} by position"


@pytest.mark.parametrize("name", NAMES)
def test_public_callables_show_an_example(name):
    value = getattr(lr, name)
    if not (inspect.isclass(value) and issubclass(value, (Exception, Result))):
        assert ">>>" in inspect.getdoc(value)


def test_every_result_states_units_and_meaning():
    for name in NAMES:
        getattr(lr, name)  # loads the modules that hold the results
    classes = subclasses(Result)
    assert {"SaturationState", "TransportState", "SinglePhaseState"} <= {cls.__name__ for cls in classes}
    units = set()
    for cls in classes:
        for field in dataclasses.fields(cls):
            assert field.metadata.get("description"), f"{cls.__name__}.{field.name}"
            units.add(field.metadata.get("unit", ""))
    registry = pint.UnitRegistry()
    incoherent = [u for u in units if u and registry.Quantity(1.0, u).to_base_units().magnitude != 1.0]
    assert not incoherent


def subclasses(cls: type) -> list[type]:
    """All classes below `cls` that belong to the package."""
    below = [child for child in cls.__subclasses__() if child.__module__.startswith("lpgrelease.")]
    return below + [grandchild for child in below for grandchild in subclasses(child)]
