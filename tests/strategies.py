"""Hypothesis strategies shared by the tests: fluids, states, arrays and quantities."""

from __future__ import annotations

from typing import Any

import numpy as np
import pint
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from lpgrelease.fluids import Fluid
from lpgrelease.fluids.substances import SUBSTANCES

FLUIDS = tuple(SUBSTANCES)
"""Names of all substances served."""

CLOSED = {"carbon dioxide", "nitrogen", "methane", "methyl chloride", "nitrous oxide"}
IN_THE_OPEN = tuple(name for name in FLUIDS if name not in CLOSED)
"""Those that are liquids in the open: not dry ice at one atmosphere, not gases at any temperature of the air,
and served well below one atmosphere (methyl chloride: from 0.4, nitrous oxide: from 0.87)."""

UNITS = pint.UnitRegistry()
"""A registry that is not pint's application registry."""

every_fluid: st.SearchStrategy[Fluid] = st.sampled_from(FLUIDS).map(Fluid)
fluids: st.SearchStrategy[Fluid] = st.sampled_from(IN_THE_OPEN).map(Fluid)


def few(number: int) -> settings:
    """So many cases, in long runs as many times more as of other tests: for those whose cases take long."""
    return settings(max_examples=number * max(1, settings().max_examples // 50))


def finite(low: float, high: float) -> st.SearchStrategy[float]:
    """Finite floats from `low` to `high`, ends included."""
    return st.floats(low, high, allow_nan=False, allow_infinity=False)


def saturation_range(fluid: Fluid, reduced: float = 0.9999) -> tuple[float, float]:
    """Temperatures from the table's lower end to `reduced` times the critical one."""
    return fluid.lowest_temperature, min(reduced * fluid.critical_temperature, fluid.highest_temperature)


@st.composite
def saturated(draw: Any, reduced: float = 0.9999) -> tuple[Fluid, float]:
    """A fluid and a saturation temperature [K] up to `reduced` times the critical one."""
    fluid = draw(every_fluid)
    return fluid, draw(finite(*saturation_range(fluid, reduced)))


@st.composite
def saturated_pair(
    draw: Any, reduced: float = 0.98, apart: float = 0.1, *, drawn_from: Any = every_fluid
) -> tuple[Fluid, float, float]:
    """A fluid and two saturation temperatures [K], the first at least `apart` below the second."""
    fluid = draw(drawn_from)
    low, high = saturation_range(fluid, reduced)
    cold = draw(finite(low, high - apart))
    return fluid, cold, draw(finite(cold + apart, high))


@st.composite
def saturated_array(
    draw: Any, reduced: float = 0.9999, *, drawn_from: Any = every_fluid
) -> tuple[Fluid, Any]:
    """A fluid and an array of saturation temperatures [K] of any shape, empty ones too."""
    fluid = draw(drawn_from)
    shape = draw(hnp.array_shapes(min_dims=0, max_dims=3, min_side=0, max_side=4))
    return fluid, draw(hnp.arrays(np.float64, shape, elements=finite(*saturation_range(fluid, reduced))))


@st.composite
def gas_states(draw: Any) -> tuple[Fluid, float, float]:
    """A fluid, a temperature [K] and a pressure [Pa] at which it is a gas."""
    fluid, t = draw(saturated(0.98))
    return fluid, t, float(fluid.saturation(temperature=t).pressure) * draw(finite(1e-3, 0.999))


@st.composite
def liquid_states(draw: Any) -> tuple[Fluid, float, float]:
    """A fluid, a temperature [K] and a pressure [Pa] at which it is a compressed liquid."""
    fluid, t = draw(saturated(0.95))
    return fluid, t, draw(finite(1.001 * float(fluid.saturation(temperature=t).pressure), 10e6))
