"""Two runs side by side: ``python benchmarks/compare.py before.json after.json``."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from measuring import Row

__all__ = ["compare"]


def compare(before: Path, after: Path) -> str:
    """Tell the medians of two runs that were written, their ratio, and whether their spreads part.

    Rows go together by their name and that of the unindented row above them; rows that only one run has
    are listed at the end.
    """
    one, two = (json.loads(file.read_text(encoding="utf-8")) for file in (before, after))
    lines = [f"{file}: {run['machine']}" for file, run in ((before, one), (after, two))]
    lines += ["", f"{'what':<60} {'before':>12} {'after':>12} {'unit':<6} {'after/before':>12}"]
    old, new = _by_name(one["rows"]), _by_name(two["rows"])
    lines += [_line(old[name], new[name]) for name in old if name in new]
    for file, alone in ((before, old.keys() - new.keys()), (after, new.keys() - old.keys())):
        lines += [f"only in {file}: {' / '.join(part.strip() for part in name)}" for name in sorted(alone)]
    return "\n".join(lines)


def _line(old: Row, new: Row) -> str:
    change = f"{new.median / old.median:12.3f}" if old.median else f"{'':>12}"
    apart = "  *" if new.least > old.most or new.most < old.least else ""
    return f"{old.what:<60} {old.median:12.4g} {new.median:12.4g} {old.unit:<6} {change}{apart}"


def _by_name(rows: list[dict[str, Any]]) -> dict[tuple[str, str], Row]:
    found, head = {}, ""
    for entry in rows:
        row = Row(**entry)
        head = head if row.what.startswith(" ") else row.what
        found[head, row.what] = row
    return found


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(
            "give two files that benchmarks/run.py wrote: python benchmarks/compare.py before.json after.json"
        )
    print(compare(Path(sys.argv[1]), Path(sys.argv[2])))
    print("\n*: no round of the one lies among the rounds of the other")
