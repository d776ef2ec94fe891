"""Which changes to the physics modules the tests notice, estimated from a random sample.

First record which test runs which line, and how long each test takes::

    python -m pytest --cov=lpgrelease --cov-branch --cov-context=test --cov-report= \\
        --durations=0 -vv > tests.log

then, with a copy of the repository that may be spoiled::

    git clone . /tmp/mutants
    python tests/mutation/run_mutants.py /tmp/mutants .coverage tests.log results.jsonl --each 40 --seed 1
    python tests/mutation/run_mutants.py --report results.jsonl

Each mutant meets the tests that run its line, the fastest first, up to `ROUNDS` seconds of them; what lives
meets all tests that run any line of its module, up to `LONG` seconds. A mutant is killed when a test fails,
when the module cannot be imported, or when it takes many times the processor time of the tests.
"""

from __future__ import annotations

import argparse
import ast
import collections
import dataclasses
import importlib
import json
import math
import os
import re
import resource
import sys
import time
from pathlib import Path
from typing import Any

import coverage
import pytest
from sample_mutants import FOLDERS, Mutant, sample

ROUNDS, LONG = (2.0, 8.0), 12.0
"""Seconds of tests at most: of those that run the line, in two rounds, and of those that run the module."""
HEAVY = (
    "numpy.testing",
    "scipy.optimize",
    "scipy.integrate",
    "scipy.stats",
    "pandas",
    "xarray",
    "matplotlib.pyplot",
    "pint",
    "CoolProp.CoolProp",
    "thermo",
    "chemicals",
    "SALib",
)
"""Imported once, before each mutant gets a process of its own."""
DURATION = re.compile(r"^([\d.]+)s call +(.+)$", re.MULTILINE)
FAILED = re.compile(r"^(?:FAILED|ERROR) (\S+)", re.MULTILINE)


class Tests:
    """Which tests run a line, by the coverage recorded, and how long they take."""

    def __init__(self, data: Path, log: Path, root: Path) -> None:
        self.data = coverage.CoverageData(str(data))
        self.data.read()
        text = log.read_text()
        self.seconds = {name.strip(): float(s) for s, name in DURATION.findall(text)}
        self.broken = set(FAILED.findall(text))
        self.measured = {name.split("/lpgrelease/")[-1]: name for name in self.data.measured_files()}
        self.root = root

    def of_lines(self, path: str, lines: set[int] | None) -> list[str]:
        """Tests that run any of the lines, or any line of a function if None; the fastest first."""
        name = self.measured.get(path.removeprefix("lpgrelease/"))
        if name is None:
            return []
        found: set[str] = set()
        for line, contexts in self.data.contexts_by_lineno(name).items():
            if lines is None or line in lines:
                found |= {context.rsplit("|", 1)[0] for context in contexts if context}
        found -= self.broken
        return sorted(found, key=lambda test: (self.seconds.get(test, 0.005), test))

    def of(self, mutant: Mutant) -> list[str]:
        """Tests that run the statement of the mutant; for what is run on import, those of the module."""
        tree = ast.parse((self.root / mutant.path).read_text())
        return self.of_lines(mutant.path, _statement(tree, mutant.line))

    def up_to(self, tests: list[str], seconds: float) -> list[str]:
        """The first of the tests, to so many seconds in all."""
        kept, total = [], 0.0
        for test in tests:
            total += self.seconds.get(test, 0.005)
            if total > seconds and kept:
                break
            kept.append(test)
        return kept


def _statement(tree: ast.Module, line: int) -> set[int] | None:
    """Lines of the smallest statement that holds `line`; of the body for a head of a function."""
    found: set[int] | None = None
    for function in ast.walk(tree):
        if not isinstance(function, ast.FunctionDef) or not function.lineno <= line <= (
            function.end_lineno or 0
        ):
            continue
        if line < function.body[0].lineno:
            return set(range(function.body[0].lineno, (function.end_lineno or 0) + 1))
        for node in ast.walk(function):
            if isinstance(node, ast.stmt) and node is not function:
                body = getattr(node, "body", None)
                last = body[0].lineno - 1 if body else node.end_lineno or 0
                span = set(range(node.lineno, max(last, node.lineno) + 1))
                if line in span and (found is None or len(span) < len(found)):
                    found = span
    return found


class _Chosen:
    """Runs the chosen tests only, in their order."""

    def __init__(self, tests: list[str]) -> None:
        self.order = {test: index for index, test in enumerate(tests)}
        self.failed = ""

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        kept = [item for item in items if item.nodeid in self.order]
        items[:] = sorted(kept, key=lambda item: self.order[item.nodeid])

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed and not self.failed:
            self.failed = report.nodeid


def verdict(tree: Path, mutant: Mutant, tests: list[str], seconds: float) -> tuple[str, str]:
    """What the tests say of the mutant, each asked in a process of its own."""
    target, said = tree / mutant.path, tree / ".verdict"
    original = target.read_text()
    target.write_text(mutant.code)
    said.unlink(missing_ok=True)
    try:
        child = os.fork()
        if child == 0:
            _ask(tree, tests, said, int(15 + 4 * seconds))
        _, status = os.waitpid(child, 0)
    finally:
        target.write_text(original)
    if not said.exists():
        return "killed", "time" if os.WIFSIGNALED(status) else "crash"
    code, failed = json.loads(said.read_text())
    if code < 0:
        raise RuntimeError(failed)
    return {0: ("lived", ""), 1: ("killed", failed)}.get(code, ("killed", f"no import ({code})"))


def _ask(tree: Path, tests: list[str], said: Path, limit: int) -> None:
    try:
        resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 5))
        nowhere = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(nowhere, stream)
        os.chdir(tree)
        sys.path.insert(0, str(tree))
        os.environ["PYTHONPATH"] = str(tree)
        chosen = _Chosen(tests)
        # doctests import modules anew, unless tests have imported them
        named = sorted({test.split("::")[0] for test in tests}, reverse=True)
        code = pytest.main(["-x", "-p", "no:cacheprovider", "-p", "no:cov", *named], plugins=[chosen])
        said.write_text(json.dumps([int(code), chosen.failed]))
    except BaseException as error:
        said.write_text(json.dumps([-1, repr(error)]))
        raise
    finally:
        os._exit(0)


def judge(tree: Path, tests: Tests, mutant: Mutant) -> dict[str, Any]:
    """The mutant, and whether it lived."""
    covering, asked = tests.of(mutant), set[str]()
    answer, by, left = "lived", "", 0
    for seconds in (*ROUNDS, LONG):
        candidates = covering
        if seconds == LONG:
            others = set(covering)
            candidates = covering + [t for t in tests.of_lines(mutant.path, None) if t not in others]
        waiting = [test for test in candidates if test not in asked]
        now = tests.up_to(_of_few_files(waiting) if seconds == ROUNDS[0] else waiting, seconds)
        if not now:
            continue
        answer, by = verdict(tree, mutant, now, seconds)
        asked |= set(now)
        left = len(waiting) - len(now)
        if answer == "killed":
            break
    about = dataclasses.asdict(mutant) | {"answer": answer, "by": by, "covering": len(covering), "left": left}
    del about["code"]
    return about


def _of_few_files(tests: list[str]) -> list[str]:
    """Those of the four files that have most of the tests: to collect many files takes longer than to run."""
    most = collections.Counter(test.split("::")[0] for test in tests).most_common(4)
    files = {name for name, _ in most}
    return [test for test in tests if test.split("::")[0] in files]


def run(options: argparse.Namespace) -> None:
    """Judge the sample, or this worker's share of it; what the results hold already is not judged again."""
    os.environ |= {"MPLBACKEND": "Agg", "PYTHONDONTWRITEBYTECODE": "1", "OPENBLAS_NUM_THREADS": "1"}
    sys.dont_write_bytecode = True
    for name in HEAVY:
        importlib.import_module(name)
    tree, results = Path(options.tree).resolve(), Path(options.results)
    mutants, totals = sample(tree, options.each, options.seed, options.folders)
    tests = Tests(Path(options.coverage), Path(options.log), tree)
    part, parts = map(int, options.part.split("/"))
    lines = results.read_text().splitlines() if results.exists() else []
    done = {json.loads(line).get("number") for line in lines}
    none = dataclasses.replace(mutants[0], code=(tree / mutants[0].path).read_text())
    if verdict(tree, none, tests.up_to(tests.of(none), ROUNDS[0]), ROUNDS[0])[0] != "lived":
        raise RuntimeError("the tests fail without a mutant")
    with results.open("a") as file:
        if not lines:
            file.write(json.dumps({"totals": totals}) + "\n")
        for mutant in mutants[part::parts]:
            if mutant.number in done:
                continue
            start = time.monotonic()
            about = judge(tree, tests, mutant) | {"seconds": round(time.monotonic() - start, 1)}
            file.write(json.dumps(about) + "\n")
            file.flush()


def interval(killed: int, number: int) -> tuple[float, float]:
    """Wilson's 95 % interval of a share."""
    z, p = 1.96, killed / number
    middle = (p + z * z / (2 * number)) / (1 + z * z / number)
    half = z / (1 + z * z / number) * math.sqrt(p * (1 - p) / number + z * z / (4 * number * number))
    return middle - half, middle + half


def report(paths: list[str]) -> None:
    """Killed of each folder; of all, weighted with how many mutants each folder has."""
    rows = [json.loads(line) for path in paths for line in Path(path).read_text().splitlines()]
    totals = {folder: number for row in rows for folder, number in row.get("totals", {}).items()}
    by_folder = collections.defaultdict(list)
    for row in rows:
        if "answer" in row:
            by_folder[row["folder"]].append(row["answer"] == "killed")
    share = variance = 0.0
    everything = sum(totals[folder] for folder in by_folder)
    for folder, killed in by_folder.items():
        low, high = interval(sum(killed), len(killed))
        print(f"| {folder} | {totals[folder]} | {len(killed)} | {sum(killed)} | {low:.0%} to {high:.0%} |")
        weight, p = totals[folder] / everything, (sum(killed) + 1) / (len(killed) + 2)
        share += weight * sum(killed) / len(killed)
        variance += weight**2 * p * (1 - p) / len(killed)
    half = 1.96 * math.sqrt(variance)
    print(f"| all | {everything} | | {share:.1%} | {share - half:.1%} to {min(share + half, 1.0):.1%} |")


def main() -> None:
    """Run, or report."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    if sys.argv[1:2] == ["--report"]:
        report(sys.argv[2:])
        return
    for name in ("tree", "coverage", "log", "results"):
        parser.add_argument(name)
    parser.add_argument("--each", type=int, default=40, help="mutants of each folder")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folders", nargs="+", default=list(FOLDERS), choices=list(FOLDERS))
    parser.add_argument(
        "--part", default="0/1", help="of several workers, each with a tree of its own: 0/2, 1/2"
    )
    run(parser.parse_args())


if __name__ == "__main__":
    main()
