"""What a tank history's stops and transfers refuse."""

from __future__ import annotations

import numpy as np
import pytest

import lpgrelease as lr

TANK = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0)
CONTENTS = lr.Contents(TANK, lr.Fluid("propane"), fill=0.5, temperature=290.0)
VENT = lr.Opening(diameter=0.05, height=1.04)


@pytest.mark.parametrize(
    ("function", "says"),
    [
        (lambda now: np.nan * now.time, "at the start it is not finite"),
        (lambda now: None, "at the start it is not finite"),
        (lambda now: "soon", "it returned 'soon'"),
    ],
)
def test_a_function_that_tells_nothing_is_refused(function, says):
    stop = [lr.StopAt(function=function)]
    with pytest.raises(lr.InputError, match=says):
        lr.tank_history(CONTENTS, openings=[VENT], stop=stop, duration=60.0)


def test_a_function_of_another_shape_is_refused():
    pair = [VENT, lr.Opening(diameter=0.01, height=0.5)]
    stop = [lr.StopAt(function=lambda now: now.mass_flow - 0.5)]
    with pytest.raises(lr.InputError, match=r"it returned \(2, 1, 1\)"):
        lr.tank_history(CONTENTS, openings=pair, stop=stop, duration=60.0)


def test_a_level_above_the_tank_is_refused():
    with pytest.raises(lr.OutOfRangeError, match=r"level to stop at = 5 m .*1\.04\] m"):
        lr.tank_history(CONTENTS, openings=[VENT], stop=[lr.StopAt(level=5.0)])


@pytest.mark.parametrize("temperature", [10.0, 380.0, 5000.0])
def test_a_transfer_at_no_temperature_of_its_fluid_is_refused(temperature):
    enters = lr.Transfer(mass_flow=0.3, temperature=temperature)
    with pytest.raises(lr.OutOfRangeError, match="temperature of transfer 0"):
        lr.tank_history(CONTENTS, transfers=[enters], duration=100.0)
