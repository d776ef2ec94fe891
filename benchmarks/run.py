"""All benchmarks in one run: ``python benchmarks/run.py``.

``python benchmarks/run.py after.json`` also writes what it found; ``python benchmarks/compare.py before.json
after.json`` sets two such files side by side.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from blend_speed import blend_states, one_blend_history
from cloud_speed import many_clouds
from fire_speed import flux_on_a_grid, many_standoffs
from ground_speed import four_days
from import_speed import importing, loaded_by_answers
from measuring import Row, machine, table
from pool_speed import many_pools, one_pool
from property_speed import many_points, single_calls
from response_speed import forecasts
from study_speed import memory, overhead, scaling, with_workers
from tank_more_speed import everything_at_once, many_with_two_openings
from tank_speed import many_histories, one_history

__all__ = ["measure"]

PARTS: tuple[Callable[[], list[Row] | tuple[list[Row], list[str]]], ...] = (
    many_points,
    single_calls,
    one_history,
    many_histories,
    many_with_two_openings,
    everything_at_once,
    blend_states,
    one_blend_history,
    many_clouds,
    four_days,
    one_pool,
    many_pools,
    flux_on_a_grid,
    many_standoffs,
    forecasts,
    overhead,
    scaling,
    with_workers,
    memory,
    importing,
    loaded_by_answers,
)


def measure(file: Path | None = None) -> dict[str, Any]:
    """Run everything and print it; with a `file`, also write it there as JSON.

    Returns
    -------
    dict
        "machine": what it ran on, with the versions; "rows": the table; "notes": lines below it.
    """
    about = machine()
    rows: list[Row] = []
    notes: list[str] = []
    for part in PARTS:
        found = part()
        more_rows, more_notes = found if isinstance(found, tuple) else (found, [])
        rows += more_rows
        notes += more_notes
    print("\n".join(f"{key}: {value}" for key, value in about.items()))
    print(f"\n{table(rows)}\n")
    print("\n".join(notes))
    result = {"machine": about, "rows": [row._asdict() for row in rows], "notes": notes}
    if file is not None:
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(json.dumps(result, indent=1), encoding="utf-8")
    return result


if __name__ == "__main__":
    measure(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
