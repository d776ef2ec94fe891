"""Hypothesis strategies for blends, and what tests of blends share."""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import strategies as st

import lpgrelease as lr

LP_GASES = (
    "propane",
    "propylene",
    "n-butane",
    "isobutane",
    "1-butene",
    "isobutene",
    "ethane",
    "ethylene",
    "n-pentane",
    "isopentane",
)


@st.composite
def blends(draw: Any, least: float = 1e-6) -> lr.Fluid:
    """A blend of two to five LP-gases in any proportion, none below `least`."""
    names = draw(st.lists(st.sampled_from(LP_GASES), min_size=2, max_size=5, unique=True))
    # uniform over the corners too: exponents spread the fractions over decades
    weights = [10.0 ** -draw(st.floats(0.0, 5.0)) for _ in names]
    fractions = np.maximum(np.array(weights) / sum(weights), least)
    return lr.Fluid(dict(zip(names, fractions / fractions.sum(), strict=True)))


@st.composite
def blend_states(draw: Any, number: int = 1) -> tuple[lr.Fluid, Any]:
    """A blend and `number` temperatures [K] of its bubble line, ends included."""
    fluid = draw(blends())
    share = np.array([draw(st.floats(0.0, 1.0)) for _ in range(number)])
    return fluid, np.clip(
        fluid.lowest_temperature + share * (fluid.highest_temperature - fluid.lowest_temperature),
        fluid.lowest_temperature,
        fluid.highest_temperature,
    )
