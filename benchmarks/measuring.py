"""Repeated timing of several jobs in turns, and what the numbers were taken on."""

from __future__ import annotations

import importlib.metadata
import os
import platform
import statistics
import subprocess
import time
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, NamedTuple

__all__ = ["Row", "Timing", "machine", "ratio", "table", "timed"]

PACKAGES = ("lpgrelease", "numpy", "scipy", "CoolProp", "xarray", "pyarrow")


class Timing(NamedTuple):
    """Seconds of one job, round by round, over the number of things it did."""

    seconds: tuple[float, ...]

    @property
    def median(self) -> float:
        """Median [s]."""
        return statistics.median(self.seconds)


class Row(NamedTuple):
    """One line of the table: median and spread over the rounds, and what it should be."""

    what: str
    median: float
    least: float
    most: float
    unit: str
    target: str = ""
    met: bool | None = None

    @classmethod
    def of_time(cls, what: str, timing: Timing, unit: str, *, at_most: float | None = None) -> Row:
        """Time in `unit`: "ns", "us", "ms" or "s"."""
        scaled = [s * {"ns": 1e9, "us": 1e6, "ms": 1e3, "s": 1.0}[unit] for s in timing.seconds]
        median = statistics.median(scaled)
        target, met = ("", None) if at_most is None else (f"<= {at_most:g}", median <= at_most)
        return cls(what, median, min(scaled), max(scaled), unit, target, met)

    @classmethod
    def of_ratio(
        cls,
        what: str,
        ratios: Sequence[float],
        *,
        at_least: float | None = None,
        at_most: float | None = None,
    ) -> Row:
        """Ratios of two jobs, round by round."""
        median, target, met = statistics.median(ratios), "", None
        if at_least is not None:
            target, met = f">= {at_least:,g}", median >= at_least
        if at_most is not None:
            target, met = f"<= {at_most:g}", median <= at_most
        return cls(what, median, min(ratios), max(ratios), "times", target, met)


def timed(
    jobs: dict[str, Callable[[], Any]], rounds: int, *, per: dict[str, int] | None = None, calls: int = 1
) -> dict[str, Timing]:
    """Time `jobs` in turns, so that whatever else the machine does meets all of them alike.

    The time is that of the processor, all threads of this process together: other processes
    do not count, except that they take from its cache. No job waits for anything.

    Parameters
    ----------
    jobs : dict
        By name; each is run once before, unmeasured.
    rounds : int
        Turns of each.
    per : dict, optional
        Divide a job's time by this number of points or scenarios.
    calls : int
        Calls of each job in one turn; the time is that of one.
    """
    for job in jobs.values():
        job()
    seconds: dict[str, list[float]] = {name: [] for name in jobs}
    for _ in range(rounds):
        for name, job in jobs.items():
            start = time.process_time()
            for _ in range(calls):
                job()
            seconds[name].append((time.process_time() - start) / calls)
    return {
        name: Timing(tuple(s / (per or {}).get(name, 1) for s in times)) for name, times in seconds.items()
    }


def ratio(slow: Timing, fast: Timing) -> list[float]:
    """Ratios slow to fast, of each round."""
    return [a / b for a, b in zip(slow.seconds, fast.seconds, strict=True)]


def table(rows: Sequence[Row]) -> str:
    """Rows as plain text."""
    header = ("what", "median", "min .. max", "unit", "target", "met")
    cells = [header]
    for row in rows:
        met = "" if row.met is None else "yes" if row.met else "NO"
        spread = f"{_short(row.least)} .. {_short(row.most)}"
        cells.append((row.what, _short(row.median), spread, row.unit, row.target, met))
    wide = [max(len(line[i]) for line in cells) for i in range(len(header))]
    right = {1, 2, 4}
    lines = [
        "  ".join(
            c.rjust(w) if i in right else c.ljust(w) for i, (c, w) in enumerate(zip(line, wide, strict=True))
        )
        for line in cells
    ]
    lines.insert(1, "  ".join("-" * w for w in wide))
    return "\n".join(line.rstrip() for line in lines)


def _short(value: float) -> str:
    return f"{value:,.0f}" if abs(value) >= 100.0 else f"{value:.3g}"


def machine() -> dict[str, str]:
    """Date, commit, processor, load and versions."""
    versions = {name: importlib.metadata.version(name) for name in PACKAGES}
    return {
        "date": datetime.now(UTC).strftime("%Y-%m-%d %H:%M UTC"),
        "commit": _git("rev-parse", "--short", "HEAD") + ("+" if _git("diff", "HEAD", "--stat") else ""),
        "processor": f"{_processor()}, {os.cpu_count()} cores, {platform.system()}",
        "load before": ", ".join(f"{x:.1f}" for x in os.getloadavg()),
        "Python": platform.python_version(),
        **versions,
    }


def _git(*arguments: str) -> str:
    command = ["git", "-C", str(Path(__file__).parent), *arguments]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    return done.stdout.strip()


def _processor() -> str:
    cpuinfo = Path("/proc/cpuinfo")
    if cpuinfo.exists():
        for line in cpuinfo.read_text(encoding="utf-8").splitlines():
            if line.startswith("model name"):
                return line.split(":", 1)[1].strip()
    return platform.processor() or platform.machine()
