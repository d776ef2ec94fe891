"""Boiling off of a blend: no part at all, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest

import lpgrelease as lr

BLEND = lr.Fluid({"propane": 0.7, "n-butane": 0.3})


def test_no_part_left_is_a_row_of_none():
    assert lr.boil_off(BLEND, np.zeros(0)).temperature.shape == (0,)


def test_pressure_is_refused_by_its_name():
    with pytest.raises(lr.InputError, match=r"(?<![A-Za-z])pressure must be finite"):
        lr.boil_off(BLEND, 0.5, pressure=float("nan"))
