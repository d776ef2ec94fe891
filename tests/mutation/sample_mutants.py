"""A random sample of small changes to the physics modules, so many from each folder.

The changes are those of mutmut: another operator, another number, an argument left out, a condition turned
round. Words are left alone. Its command changes one module at a time and all of that; a sample of all modules
says how strong the tests are as a whole.
"""

from __future__ import annotations

import dataclasses
import difflib
import functools
import random
from collections.abc import Sequence
from pathlib import Path

import libcst as cst
import libcst.matchers as m
from libcst.metadata import MetadataWrapper
from mutmut.mutation.file_mutation import MutationVisitor
from mutmut.mutation.mutators import mutation_operators
from mutmut.mutation.pragma_handling import IgnoredCode

FOLDERS: dict[str, tuple[str, ...]] = {
    "fluids": ("fluids",),
    "release": ("release",),
    "tank": ("tank",),
    "pool": ("pool",),
    "ground": ("ground", "conduction.py"),
    "freeze_seal": ("freeze_seal",),
    "fire": ("fire",),
    "cloud": ("cloud",),
    "single modules": ("flashing.py", "phases.py", "boiling_off.py", "weather.py"),
}
"""Where physics is; each is sampled on its own."""
BY_HAND = ("make_tables.py", "make_mixtures.py", "fit_equations.py", "handbook.py", "correlations.py")
"""Not part of the library as it runs: these remake the tables."""


@dataclasses.dataclass(frozen=True)
class Mutant:
    """One change to one file."""

    number: int
    folder: str
    path: str
    line: int
    kind: str
    code: str
    difference: str


class _Visitor(MutationVisitor):
    """mutmut's, but decorated functions (properties, cached ones) are changed as well."""

    def _skip_node_and_children(self, node: cst.CSTNode) -> bool:
        if isinstance(node, cst.FunctionDef):
            return False
        if _are_words(node):
            return True
        return super()._skip_node_and_children(node)


def _are_words(node: cst.CSTNode) -> bool:
    """Whether it is read by people: a sentence, a message, the description of a field, a list of names."""
    if isinstance(node, cst.SimpleString):
        return " " in node.value
    if isinstance(node, cst.AnnAssign):
        return node.value is not None and _are_words(node.value)
    if isinstance(node, cst.Call) and isinstance(node.func, cst.Name):
        return node.func.value in {"quantity", "plain", "Provenance"} or node.func.value.endswith("Error")
    return m.matches(node, m.Assign(targets=[m.AssignTarget(target=m.Name("__all__"))]))


def files(package: Path, folder: str) -> list[Path]:
    """The modules of a folder, in order."""
    found = []
    for part in FOLDERS[folder]:
        path = package / part
        found += sorted(path.rglob("*.py")) if path.is_dir() else [path]
    return [path for path in found if path.name not in (*BY_HAND, "__init__.py")]


@functools.lru_cache(maxsize=1)
def mutations(path: Path) -> tuple[cst.Module, list[tuple[cst.CSTNode, cst.CSTNode]]]:
    """The module, and every change to it: a node and what stands in its place."""
    code = path.read_text()
    wrapper = MetadataWrapper(cst.parse_module(code))
    visitor = _Visitor(mutation_operators, IgnoredCode(set(), set(), set()), None)
    module = wrapper.visit(visitor)
    return module, [(found.original_node, found.mutated_node) for found in visitor.mutations]


def sample(
    root: Path, number: int, seed: int, folders: Sequence[str] = tuple(FOLDERS)
) -> tuple[list[Mutant], dict[str, int]]:
    """`number` mutants of each of the folders, by turns, and how many there are in each.

    In the order given any first part of them is such a sample as well.
    """
    drawn, totals = [], {}
    for place, folder in enumerate(folders):
        all_of_it = [
            (path, index)
            for path in files(root / "lpgrelease", folder)
            for index in range(len(mutations(path)[1]))
        ]
        totals[folder] = len(all_of_it)
        chosen = random.Random(f"{seed} {folder}").sample(all_of_it, min(number, len(all_of_it)))
        made = {each: _made(root, folder, *each) for each in sorted(chosen)}
        drawn += [(turn, place, made[each]) for turn, each in enumerate(chosen)]
    ordered = [mutant for *_, mutant in sorted(drawn, key=lambda each: each[:2])]
    return [dataclasses.replace(mutant, number=i) for i, mutant in enumerate(ordered)], totals


def _made(root: Path, folder: str, path: Path, index: int) -> Mutant:
    module, changes = mutations(path)
    old, new = changes[index]
    before, after = module.code, module.deep_replace(old, new).code
    lines = list(difflib.unified_diff(before.splitlines(), after.splitlines(), n=0, lineterm=""))[2:]
    line = int(lines[0].split()[1].split(",")[0].lstrip("-"))
    name = str(path.relative_to(root))
    return Mutant(0, folder, name, line, type(old).__name__, after, "\n".join(lines[1:]))
