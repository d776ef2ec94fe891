"""One case: arguments that make sense, some of them spoiled."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from hostile.calls import Call
from hostile.values import hostile


@st.composite
def case(draw: Any, call: Call) -> dict[str, Any]:
    """Arguments of `call`: none, one or two of them spoiled."""
    arguments = {name: draw(good) for name, good in call.arguments.items()}
    if call.either and draw(st.integers(0, 9)) > 0:
        given = draw(st.sampled_from(call.either))
        arguments |= dict.fromkeys({name for names in call.either for name in names} - set(given))
    open_to = [name for name in arguments if name != "self"]
    if not open_to:
        return arguments
    for _ in range(draw(st.sampled_from((0, 0, 1, 1, 1, 2)))):
        name = draw(st.sampled_from(open_to))
        arguments[name] = draw(hostile(call.arguments[name]))
    return arguments
