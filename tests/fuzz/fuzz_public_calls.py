"""Coverage-guided fuzzing of the public calls: the bytes that reach new lines are kept and changed further.

Run by hand, with Atheris (``pip install -e ".[fuzz]"``), for as long as there is time::

    python tests/fuzz/fuzz_public_calls.py -max_total_time=3600 corpus/

``LPGRELEASE_FUZZ=flash,vapor_release`` takes these calls only. A built-in error, a warning, a NaN or a
negative mass stops the run and leaves the bytes in a file ``crash-...``; give that file as the only argument
to see it again. Cases are those of `tests/hardening`, drawn by Hypothesis from the bytes.
"""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path

import atheris
import hypothesis

sys.path.insert(0, str(Path(__file__).parents[1]))

with atheris.instrument_imports(include=["lpgrelease"]):
    import lpgrelease as lr

    for name in lr.__all__:
        getattr(lr, name)

from hostile.calls import calls
from hostile.cases import case
from hostile.known import KNOWN
from hostile.verdict import attempt
from hypothesis import strategies as st

CHOSEN = [name for name in os.environ.get("LPGRELEASE_FUZZ", "").split(",") if name] or [
    name for name, call in calls().items() if call.cases >= 15
]
"""Without a choice, the calls that answer in milliseconds."""


@hypothesis.settings(database=None, deadline=None, suppress_health_check=list(hypothesis.HealthCheck))
@hypothesis.given(st.data())
def fuzz(data: st.DataObject) -> None:
    """One call, one case."""
    name = data.draw(st.sampled_from(CHOSEN))
    arguments = data.draw(case(calls()[name]))
    try:
        attempt(calls()[name], arguments)
    except Exception as error:
        if not re.search(KNOWN.get(name, "(?!)"), str(error)):
            print(f"{name}(**{arguments!r})", file=sys.stderr)
            raise


if __name__ == "__main__":
    atheris.Setup(sys.argv, atheris.instrument_func(fuzz.hypothesis.fuzz_one_input))
    atheris.Fuzz()
