"""Every public object is shared by threads, sent to other processes and copied; the bits stay."""

from __future__ import annotations

import copy
import inspect
import multiprocessing
import pickle
import re
import subprocess
import sys
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path

import pytest
from hostile.tour import given_back, inputs, results, tour

import lpgrelease as lr
from lpgrelease.results import Result

TESTS = Path(__file__).parents[1]
BIBLIOGRAPHY = TESTS.parent / "docs" / "references.bib"


@pytest.fixture(scope="module")
def objects():
    return tour()


def differing(left, right):
    """Names under which two tours differ."""
    assert left.keys() == right.keys()
    return [name for name in left if left[name] != right[name]]


def test_the_tour_visits_every_class_and_every_result(objects):
    flat = [part for value in objects.values() for part in (value if isinstance(value, tuple) else (value,))]
    seen = {base.__name__ for value in flat for base in type(value).__mro__}
    classes = {name for name in lr.__all__ if inspect.isclass(getattr(lr, name, None))}
    classes -= {name for name in classes if issubclass(getattr(lr, name), Exception)}
    returned = set()
    for name in set(lr.__all__) - classes - {"__version__"}:
        value = getattr(lr, name)
        if inspect.isfunction(value):
            returned |= set(re.findall(r"\w+", str(inspect.signature(value).return_annotation)))
    kinds = {kind.__name__ for kind in Result.__subclasses__()} | {"Distribution"}
    assert not classes - seen
    assert not (returned & kinds) - seen


def test_every_source_that_a_result_names_is_in_the_bibliography(objects):
    entries = re.findall(r"^@\w+\{([^,\s]+),", BIBLIOGRAPHY.read_text(encoding="utf-8"), re.MULTILINE)
    flat = [part for value in objects.values() for part in (value if isinstance(value, tuple) else (value,))]
    named = {source for part in flat for source in getattr(getattr(part, "provenance", None), "sources", ())}
    assert len(named) > 30
    assert not named - set(entries)


def test_a_tour_is_not_equal_to_another(objects):
    other = objects | {"flash": lr.flash(lr.Fluid("propane"), temperature=290.0000001)}
    assert differing(objects, other) == ["flash"]


def test_eight_threads_at_once_share_fluids_and_agree_to_the_bit(objects):
    given = {name: objects[name] for name in inputs()}
    with ThreadPoolExecutor(8) as threads:
        for found in threads.map(results, [given] * 8):
            assert differing({name: objects[name] for name in found}, found) == []


def test_a_fresh_process_finds_the_same_bits_and_gives_back_what_it_was_sent(objects):
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(1, mp_context=context) as process:
        assert differing(objects, process.submit(given_back, objects).result()) == []
        assert differing(objects, process.submit(tour).result()) == []


@pytest.mark.parametrize("protocol", range(pickle.HIGHEST_PROTOCOL + 1))
def test_pickles_of_every_protocol(objects, protocol):
    assert differing(objects, pickle.loads(pickle.dumps(objects, protocol))) == []


@pytest.mark.parametrize("duplicate", [copy.copy, copy.deepcopy])
def test_copies_are_equal(objects, duplicate):
    assert differing(objects, {name: duplicate(value) for name, value in objects.items()}) == []


def test_errors_cross_processes():
    for error in (
        lr.InputError("a"),
        lr.OutOfRangeError("fill", 2.0, "", 0.0, 1.0, "a fraction"),
        lr.ConvergenceError("flow", 1.0, {"p": 1.0}),
        lr.StoreMismatchError("here", ("n: 1 and 2",)),
        lr.StudyError("none"),
    ):
        for twin in (pickle.loads(pickle.dumps(error)), copy.deepcopy(error)):
            assert type(twin) is type(error)
            assert str(twin) == str(error)


def test_the_tour_is_silent_in_development_mode_with_warnings_as_errors():
    code = f"import sys; sys.path.insert(0, {str(TESTS)!r}); from hostile.tour import tour; repr(tour())"
    command = [sys.executable, "-W", "error", "-X", "dev", "-c", code]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
