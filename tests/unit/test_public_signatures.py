"""The public names with their signatures and fields, against a stored list: a change of it is seen and meant.

Renew the list with ``python tests/unit/test_public_signatures.py`` and say in the changelog what changed.
"""

from __future__ import annotations

import dataclasses
import inspect
import pkgutil
import re
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from typing import Any

import lpgrelease as lr
from lpgrelease.results import Result

STORED = Path(__file__).with_name("public_api.txt")
BUILDERS = ("make_", "fit_", "handbook", "correlations")
"""Modules that make the tables, with packages a user need not have."""
COMMON = {name for name, _ in inspect.getmembers(Result)} | {"provenance"}


def lines() -> Iterator[str]:
    """One line for each public name, each public member of a class, and each field of a result."""
    for module in pkgutil.walk_packages(lr.__path__, "lpgrelease."):
        if not module.name.rpartition(".")[2].startswith(BUILDERS):
            import_module(module.name)
    for name in sorted(set(lr.__all__) - {"__version__"}):
        yield from described(name, getattr(lr, name))
    seen = set(lr.__all__)
    for kind in sorted(results(Result), key=lambda kind: kind.__name__):
        if kind.__name__ not in seen and not kind.__name__.startswith("_"):
            seen.add(kind.__name__)
            yield from described(kind.__name__, kind)


def results(kind: type) -> set[type]:
    """Classes of results that the package has loaded."""
    below = {child for child in kind.__subclasses__() if child.__module__.startswith("lpgrelease.")}
    return below.union(*map(results, below))


def described(name: str, value: Any) -> Iterator[str]:
    """Lines of one name."""
    if not inspect.isclass(value):
        yield f"{name}{signature(value)}"
        return
    if issubclass(value, BaseException):
        bases = ", ".join(base.__name__ for base in value.__mro__[1:-2])
        yield f"{name}: {bases}"
        return
    yield f"{name}{signature(value)}" if name in lr.__all__ else name
    for field in dataclasses.fields(value) if dataclasses.is_dataclass(value) else ():
        if field.name not in COMMON:
            yield f"{name}.{field.name} [{field.metadata.get('unit', 'no unit') or '-'}]"
    for member, what in inspect.getmembers(value):
        if member.startswith("_") or member in COMMON:
            continue
        if isinstance(what, property):
            yield f"{name}.{member}"
        elif inspect.isfunction(what) or inspect.ismethod(what):
            yield f"{name}.{member}{signature(what)}"


def signature(value: Any) -> str:
    """Parameters with their annotations, and whether they have a default."""
    parameters, kinds = [], [p.kind for p in inspect.signature(value).parameters.values()]
    for p in inspect.signature(value).parameters.values():
        plain = isinstance(p.default, str | int | float | tuple | None)
        default = "" if p.default is p.empty else f" = {p.default!r}" if plain else " = ..."
        annotation = "" if p.annotation is p.empty else f": {p.annotation}"
        parameters.append(f"{'**' if p.kind is p.VAR_KEYWORD else ''}{p.name}{annotation}{default}")
    if inspect.Parameter.KEYWORD_ONLY in kinds:
        parameters.insert(kinds.index(inspect.Parameter.KEYWORD_ONLY), "*")
    result = inspect.signature(value).return_annotation
    arrow = "" if result in {inspect.Signature.empty, None, "None"} else f" -> {result}"
    return re.sub(r"Constant\(([^ ]+) [^)]*\)", r"\1", f"({', '.join(parameters)}){arrow}".replace("'", ""))


def test_the_public_names_and_signatures_are_those_stored():
    stored, found = STORED.read_text(encoding="utf-8").splitlines(), list(lines())
    gone, new = sorted(set(stored) - set(found)), sorted(set(found) - set(stored))
    assert not gone + new, f"gone or changed: {gone}; new: {new}; see the docstring of {Path(__file__).name}"


if __name__ == "__main__":
    STORED.write_text("\n".join(lines()) + "\n", encoding="utf-8")
