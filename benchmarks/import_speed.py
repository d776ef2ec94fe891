"""Time to import, and what a fresh process that answers questions has loaded."""

from __future__ import annotations

import json
import subprocess
import sys

from measuring import Row, Timing, ratio

__all__ = ["importing", "loaded_by_answers"]

ROUNDS = 21
TIMED = "import time; start = time.perf_counter(); {}; print(time.perf_counter() - start)"
USED = "from lpgrelease import Fluid, flash, tank_history"
ANSWERS = (
    "import lpgrelease as lr; propane = lr.Fluid('propane'); "
    "lr.flash(propane, temperature=293.15, ambient_pressure=101325.0); "
    "tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=170.0); "
    "vent = lr.Opening(diameter=0.05, discharge_coefficient=0.85, height=1.04); "
    "lr.tank_history(lr.Contents(tank, propane, fill=0.8, temperature=293.15), openings=[vent])"
)
LOADED = "; import json, sys; print(json.dumps(sorted({name.split('.')[0] for name in sys.modules})))"
FORBIDDEN = ("CoolProp", "thermo", "chemicals", "scipy", "pint", "pandas", "xarray", "matplotlib")


def _fresh(code: str) -> str:
    command = [sys.executable, "-c", code]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout


def importing() -> list[Row]:
    """Import times in fresh processes, in turns, by the clock, without the interpreter's own start.

    The package by itself loads nothing, not even NumPy; names are loaded when they are first used.
    """
    statements = {"ours": "import lpgrelease", "numpy": "import numpy", "used": USED, "answers": ANSWERS}
    seconds: dict[str, list[float]] = {name: [] for name in statements}
    for turn in range(ROUNDS + 1):
        for name, statement in statements.items():
            took = float(_fresh(TIMED.format(statement)))
            if turn:
                seconds[name].append(took)
    times = {name: Timing(tuple(values)) for name, values in seconds.items()}
    return [
        Row.of_time("import lpgrelease", times["ours"], "ms"),
        Row.of_time("  import numpy", times["numpy"], "ms"),
        Row.of_ratio(
            "  import lpgrelease over import numpy", ratio(times["ours"], times["numpy"]), at_most=1.5
        ),
        Row.of_ratio(
            "  Fluid, flash and tank_history imported, over import numpy",
            ratio(times["used"], times["numpy"]),
        ),
        Row.of_time("  import, then a first flash and a first tank_history", times["answers"], "ms"),
    ]


def loaded_by_answers() -> tuple[list[Row], list[str]]:
    """Heavy packages in a process that answered a flash and a tank history: there should be none."""
    loaded = set(json.loads(_fresh(ANSWERS + LOADED)))
    found = [name for name in FORBIDDEN if name in loaded]
    count = len(found)
    row = Row(
        "heavy packages loaded by a flash and a tank_history", count, count, count, "", "<= 0", not found
    )
    standard = set(sys.stdlib_module_names)
    others = sorted(name for name in loaded if name not in standard and not name.startswith("_"))
    return [row], [f"packages loaded by a flash and a tank_history: {', '.join(others)}"]
