"""What was read on the spot: the gauge shows what was read, the hole passes what was measured."""

from __future__ import annotations

import numpy as np
import pytest
from response_cases import PROPANE, TANK
from strategies import UNITS

import lpgrelease as lr

HIGH_UP = lr.Weather(ambient_pressure=80e3)


@pytest.mark.parametrize("fluid", [PROPANE, lr.Fluid({"propane": 0.6, "n-butane": 0.4})])
def test_the_gauge_shows_what_was_read(fluid):
    contents = lr.contents_from_gauge(TANK, fluid, fill=0.6, gauge_pressure=2e5, weather=HIGH_UP)
    assert contents.gauge_pressure(ambient_pressure=80e3) == pytest.approx(2e5, rel=1e-7)


def test_psi_is_pascal():
    one = lr.contents_from_gauge(TANK, PROPANE, fill=0.6, gauge_pressure=UNITS.Quantity(100.0, "psi"))
    other = lr.contents_from_gauge(TANK, PROPANE, fill=0.6, gauge_pressure=100.0 * 6894.757293168361)
    assert one.temperature == pytest.approx(other.temperature, rel=1e-12)


def test_the_hole_passes_what_was_measured():
    """Below the liquid and above it, as the tank's own history has it."""
    contents = lr.Contents(TANK, PROPANE, fill=0.6, temperature=290.0)
    flows, heights = np.array([0.1, 0.8]), np.array([[0.1], [1.1]])
    leak = lr.leak_from_rate(contents, mass_flow=flows, height=heights, weather=HIGH_UP)
    assert leak.diameter.shape == (2, 2)
    run = lr.tank_history(contents, openings=[leak], weather=HIGH_UP, duration=1.0, points=2)
    assert run.mass_flow[..., 0, 0] == pytest.approx(np.broadcast_to(flows, (2, 2)), rel=1e-9)
    assert np.all(run.passes_liquid[0, :, 0, 0])
    assert not np.any(run.passes_liquid[1, :, 0, 0])


def test_what_is_refused():
    with pytest.raises(lr.InputError, match="fluid must be a Fluid"):
        lr.contents_from_gauge(TANK, "propane", fill=0.6, gauge_pressure=2e5)
    with pytest.raises(lr.InputError, match="contents must be Contents"):
        lr.leak_from_rate(TANK, mass_flow=0.1, height=0.1)
    cold = lr.Contents(TANK, PROPANE, fill=0.6, temperature=225.0)
    with pytest.raises(lr.InputError, match="nothing flows"):
        lr.leak_from_rate(cold, mass_flow=0.1, height=1.1)
    with pytest.raises(lr.OutOfRangeError, match="mass_flow = 0"):
        lr.leak_from_rate(cold, mass_flow=0.0, height=0.1)
