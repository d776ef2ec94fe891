"""What `study` costs beside the model, how it grows with scenarios and workers, and the memory it takes."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from measuring import Row, Timing, machine, ratio, table, timed

import lpgrelease as lr

__all__ = ["memory", "overhead", "scaling", "with_workers"]

PROPANE = lr.Fluid("propane")
UNCERTAIN = {
    "vent": lr.lognormal(0.05, 1.2, lower=0.03, upper=0.08, unit="m"),
    "fill": lr.triangular(0.3, 0.6, upper=0.85),
    "temperature": lr.normal(293.15, 6.0, lower=278.15, upper=308.15, unit="K"),
}
"""Invented ranges."""
CHUNK = 5000
MANY = 100_000
SIZES = (100, 1000, 10_000, 100_000, 1_000_000)
WORKERS = (1, 2, 4)
LONG = 400_000
"""Scenarios for workers: their start alone takes a second or two."""


def emptied(vent: Any, fill: Any, temperature: Any) -> dict[str, Any]:
    """Tanks vented to zero on the gauge: when, and what is left."""
    tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=170.0)
    opening = lr.Opening(diameter=vent, discharge_coefficient=0.85, height=1.04)
    contents = lr.Contents(tank, PROPANE, fill=fill, temperature=temperature)
    run = lr.tank_history(contents, openings=[opening])
    return {"time": run.time[:, -1], "left": run.liquid_mass[:, -1]}


def flowing(vent: Any, fill: Any, temperature: Any) -> Any:
    """Vapor through the vent: a model that costs next to nothing."""
    return lr.vapor_release(PROPANE, lr.Opening(diameter=vent), temperature=temperature)


def _run(model: Callable[..., Any], n: int, **options: Any) -> Any:
    return lr.study(model, UNCERTAIN, n=n, rng=7, **{"chunk_size": CHUNK, **options})


def overhead() -> tuple[list[Row], list[str]]:
    """`study` against the model called once, and called in the same chunks, with the same arrays."""
    drawn = _run(flowing, MANY)
    arrays = {name: drawn[name].values.copy() for name in UNCERTAIN}
    parts = [{name: values[i : i + CHUNK] for name, values in arrays.items()} for i in range(0, MANY, CHUNK)]
    jobs: dict[str, Callable[[], Any]] = {}
    for name, model in (("tank", emptied), ("flow", flowing)):
        jobs[f"{name}, study"] = lambda model=model: _run(model, MANY)
        jobs[f"{name}, once"] = lambda model=model: model(**arrays)
        jobs[f"{name}, chunks"] = lambda model=model: [model(**part) for part in parts]
    times = timed(jobs, 5, per=dict.fromkeys(jobs, MANY))
    rows = [
        Row.of_time(f"study of {MANY:,} tank histories: per scenario", times["tank, study"], "us"),
        Row.of_ratio(
            "  study over the model called once with the same arrays",
            ratio(times["tank, study"], times["tank, once"]),
            at_most=1.05,
        ),
        Row.of_ratio(
            "  study over the model called in the same chunks",
            ratio(times["tank, study"], times["tank, chunks"]),
            at_most=1.05,
        ),
        Row.of_time(f"study of {MANY:,} vapor releases: per scenario", times["flow, study"], "ns"),
        Row.of_time("  the model called once: per scenario", times["flow, once"], "ns"),
    ]
    beside = Timing(
        tuple(a - b for a, b in zip(times["flow, study"].seconds, times["flow, once"].seconds, strict=True))
    )
    rows.append(Row.of_time("  study less the model: per scenario", beside, "ns"))
    return rows, [f"study: three inputs from a Latin hypercube, chunks of {CHUNK:,}"]


def scaling() -> list[Row]:
    """Time per tank history from a hundred to a million, by the clock; the last ones once."""
    rows = []
    _run(emptied, 100)
    for n in SIZES:
        seconds = [_clock(lambda n=n: _run(emptied, n)) / n for _ in range(5 if n < MANY else 1)]
        rows.append(
            Row.of_time(f"study of {n:,} tank histories, by the clock: each", Timing(tuple(seconds)), "us")
        )
    return rows


def with_workers() -> list[Row]:
    """Time with other processes, by the clock, their start included."""
    alone: list[float] = []
    others: dict[int, list[float]] = {number: [] for number in WORKERS}
    for _ in range(2):
        alone.append(_clock(lambda: _run(emptied, LONG)))
        for number in WORKERS:
            others[number].append(_clock(lambda number=number: _run(emptied, LONG, workers=number)))
    rows = [Row.of_time(f"study of {LONG:,} tank histories, by the clock", Timing(tuple(alone)), "s")]
    for number, seconds in others.items():
        gains = [a / b for a, b in zip(alone, seconds, strict=True)]
        rows.append(Row.of_ratio(f"  gain with {number} worker{'s' * (number > 1)}", gains))
    return rows


def _clock(job: Callable[[], Any]) -> float:
    start = time.perf_counter()
    job()
    return time.perf_counter() - start


def memory() -> list[Row]:
    """Highest memory of a fresh process that runs a study into a store, of two sizes."""
    small, large = MANY, 10 * MANY
    rounds = [[_peak(n) for n in (small, large)] for _ in range(3)]
    rows = [_row(f"memory of a stored study of {small:,}", [sizes[0] for sizes in rounds])]
    rows.append(_row(f"memory of a stored study of {large:,}", [sizes[1] for sizes in rounds]))
    rows.append(Row.of_ratio("  the one over the other", [b / a for a, b in rounds], at_most=1.1))
    return rows


def _row(what: str, values: list[float]) -> Row:
    return Row(what, float(np.median(values)), min(values), max(values), "MB")


def _peak(n: int) -> float:
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, __file__, str(Path(folder) / "store"), str(n)]
        return float(subprocess.run(command, capture_output=True, text=True, check=True).stdout)


def _report_peak(store: str, n: int) -> None:
    """Run a study into a store and print the highest memory of this process [MB]."""
    _run(flowing, n, store=store)
    status = Path("/proc/self/status").read_text(encoding="utf-8")  # what getrusage says includes the parent
    print(int(status.split("VmHWM:")[1].split()[0]) / 1e3)


if __name__ == "__main__":
    if len(sys.argv) > 1:
        _report_peak(sys.argv[1], int(sys.argv[2]))
    else:
        found_rows, notes = overhead()
        for part in (scaling, with_workers, memory):
            found_rows += part()
        print("\n".join(f"{key}: {value}" for key, value in machine().items()))
        print(f"\n{table(found_rows)}\n\n" + "\n".join(notes))
