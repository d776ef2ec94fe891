"""Running a model over chunks of scenarios, here, in other processes or on other machines."""

from __future__ import annotations

import dataclasses
import multiprocessing
import pickle
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lpgrelease.errors import InputError, StudyError
from lpgrelease.studies.outputs import Column, Origin, columns_of, join_columns, origin_of
from lpgrelease.studies.sampling import Design

__all__ = ["Answered", "Plan", "Task", "run_all", "run_chunk"]

MOST_CALLS, FRUITLESS_CALLS = 1024, 64
"""Calls of the model on one chunk while scenarios that fail are sought out; fewer while none succeeds."""
WAVE = 64
"""Chunks handed over at once, so that not all answers wait in memory."""


@dataclasses.dataclass(frozen=True, slots=True)
class Task:
    """One chunk: what to run, and on which scenarios."""

    model: Callable[..., Any]
    constants: dict[str, float]
    inputs: dict[str, NDArray[Any]]
    keep: tuple[str, ...] | None
    start: int
    stop: int


@dataclasses.dataclass(frozen=True, slots=True)
class Plan:
    """What all chunks have in common; inputs are drawn here, a wave at a time, whoever runs the model."""

    model: Callable[..., Any]
    design: Design
    keep: tuple[str, ...] | None

    def task(self, start: int, stop: int) -> Task:
        """Draw the inputs of the chunk from `start` on, before `stop`."""
        inputs = self.design.sampled(start, stop)
        return Task(self.model, dict(self.design.constants), inputs, self.keep, start, stop)


@dataclasses.dataclass(frozen=True, slots=True)
class Answered:
    """Answers of one chunk: rows of those that succeeded, errors of those that did not."""

    start: int
    stop: int
    scenarios: NDArray[np.int64]
    inputs: dict[str, NDArray[Any]]
    columns: dict[str, Column]
    origin: Origin
    failed: NDArray[np.int64]
    failed_inputs: dict[str, NDArray[Any]]
    errors: tuple[str, ...]


def run_chunk(task: Task) -> Answered:
    """Run the model once on all scenarios of a chunk; where it raises, on ever smaller parts of it.

    Halving stops at single scenarios, or when the model was called `MOST_CALLS` times, or
    `FRUITLESS_CALLS` times in vain: what has not succeeded by then is failed together.
    """
    inputs = task.inputs
    for values in inputs.values():
        values.flags.writeable = False  # they are recorded: a model that changed them would belie the record
    parts: list[dict[str, Column]] = []
    errors: dict[int, str] = {}
    origin = Origin()
    waiting, calls = [(0, task.stop - task.start)], 0
    while waiting:
        low, high = waiting.pop()
        calls += 1
        try:
            answer = task.model(
                **task.constants, **{name: values[low:high] for name, values in inputs.items()}
            )
        except (MemoryError, OSError):
            raise  # of the machine, not of the scenarios
        except Exception as error:
            if high - low > 1 and calls + len(waiting) + 2 <= (MOST_CALLS if parts else FRUITLESS_CALLS):
                middle = (low + high) // 2
                waiting += [(middle, high), (low, middle)]
            else:
                errors |= dict.fromkeys(range(low, high), f"{type(error).__name__}: {error}")
            continue
        parts.append(columns_of(answer, high - low, task.keep))
        origin += origin_of(answer)
    return _answered(task, inputs, parts, errors, origin)


def _answered(
    task: Task,
    inputs: dict[str, NDArray[Any]],
    parts: Sequence[dict[str, Column]],
    errors: dict[int, str],
    origin: Origin,
) -> Answered:
    bad = np.array(sorted(errors), dtype=np.int64)
    good = np.delete(np.arange(task.stop - task.start), bad)
    return Answered(
        start=task.start,
        stop=task.stop,
        scenarios=good + task.start,
        inputs={name: values[good] for name, values in inputs.items()} if bad.size else inputs,
        columns=join_columns(parts) if parts else {},
        origin=origin,
        failed=bad + task.start,
        failed_inputs={name: values[bad] for name, values in inputs.items()},
        errors=tuple(errors[int(i)] for i in bad),
    )


def run_all(plan: Plan, chunks: Sequence[tuple[int, int]], workers: Any) -> Iterator[Answered]:
    """Answers of all chunks (first scenario, and the one after the last), in order.

    Raises
    ------
    InputError
        `workers` is neither None, a number above zero nor a callable; a model that does not pickle.
    StudyError
        A process died.
    """
    if workers is None:
        yield from _in_waves(map, plan, chunks, 1)
    elif callable(workers):
        yield from _in_waves(workers, plan, chunks, WAVE)
    elif isinstance(workers, (int, np.integer)) and not isinstance(workers, bool) and workers > 0:
        if chunks:
            _require_pickles(plan.model)
            yield from _in_processes(plan, chunks, int(workers))
    else:
        raise InputError(
            f"workers must be None, a number of processes or a map-like callable, got {workers!r}"
        )


def _in_processes(plan: Plan, chunks: Sequence[tuple[int, int]], workers: int) -> Iterator[Answered]:
    spawn = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers, mp_context=spawn) as pool:
        try:
            yield from _in_waves(pool.map, plan, chunks, 8 * workers)
        except BrokenProcessPool as error:
            raise StudyError(
                "a process that ran the model died, or could not begin: a script that uses workers needs "
                'if __name__ == "__main__": before its calls; what is in a store by now is kept'
            ) from error


def _in_waves(
    mapping: Callable[..., Iterable[Answered]], plan: Plan, chunks: Sequence[tuple[int, int]], size: int
) -> Iterator[Answered]:
    for first in range(0, len(chunks), size):
        wave = [plan.task(start, stop) for start, stop in chunks[first : first + size]]
        came = 0
        for answered in mapping(run_chunk, wave):
            came += 1
            yield answered
        if came != len(wave):
            raise InputError(f"workers gave {came} answers for {len(wave)} chunks; it must act like map")


def _require_pickles(model: Any) -> None:
    try:
        pickle.dumps(model)
    except Exception as error:
        raise InputError(
            f"the model cannot be sent to other processes ({error}); define it at the top of a module, "
            "and give what else it needs by functools.partial"
        ) from error
