"""All benchmarks in one run: ``python benchmarks/run.py``.

From Python, ``run.measure("before")`` also writes ``benchmarks/results/before.json``, and
``run.compare("before", "after")`` sets two such files side by side.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from import_speed import importing, loaded_by_answers
from measuring import Row, machine, table
from property_speed import many_points, single_calls
from tank_speed import many_histories, one_history

__all__ = ["compare", "measure"]

RESULTS = Path(__file__).parent / "results"
PARTS: tuple[Callable[[], Any], ...] = (
    many_points,
    single_calls,
    one_history,
    many_histories,
    importing,
    loaded_by_answers,
)


def measure(name: str | None = None) -> dict[str, Any]:
    """Run everything and print it; with a `name`, also write it to ``results/<name>.json``.

    Returns
    -------
    dict
        "machine": what it ran on; "rows": the table; "notes": lines below it.
    """
    about, rows, notes = machine(), [], []
    for part in PARTS:
        found = part()
        more_rows, more_notes = found if isinstance(found, tuple) else (found, [])
        rows += more_rows
        notes += more_notes
    print("\n".join(f"{key}: {value}" for key, value in about.items()))
    print(f"\n{table(rows)}\n")
    print("\n".join(notes))
    result = {"machine": about, "rows": [row._asdict() for row in rows], "notes": notes}
    if name is not None:
        RESULTS.mkdir(exist_ok=True)
        (RESULTS / f"{name}.json").write_text(json.dumps(result, indent=1), encoding="utf-8")
    return result


def compare(first: str, second: str) -> None:
    """Print the medians of two results that were written, and their ratio."""
    one, two = (
        json.loads((RESULTS / f"{name}.json").read_text(encoding="utf-8")) for name in (first, second)
    )
    print(f"{first}: {one['machine']}\n{second}: {two['machine']}\n")
    after = {_key(i, two["rows"]): Row(**row) for i, row in enumerate(two["rows"])}
    for i, row in enumerate(one["rows"]):
        old, new = Row(**row), after.get(_key(i, one["rows"]))
        if new is not None and old.median:
            change = new.median / old.median
            print(f"{old.what:<56} {old.median:12.4g} {new.median:12.4g} {old.unit:<6} {change:7.3f}")


def _key(index: int, rows: list[dict[str, Any]]) -> tuple[str, str]:
    """Return a row's name with that of the unindented row above it."""
    heads = [row["what"] for row in rows[: index + 1] if not row["what"].startswith(" ")]
    return heads[-1], rows[index]["what"]


if __name__ == "__main__":
    measure()
