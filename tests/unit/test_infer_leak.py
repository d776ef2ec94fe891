"""Working backward from gauge readings: what was put in comes out, within the spread told."""

from __future__ import annotations

import numpy as np
import pytest

import lpgrelease as lr

PROPANE = lr.Fluid("propane")
TANK = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=170.0)
VENT = lr.Opening(diameter=0.03, height=1.04)
TIMES = np.array([0.0, 300.0, 600.0, 900.0])


def readings(fill, leak, openings=(), temperature=293.15, times=TIMES):
    """What the gauge of such a tank shows."""
    contents = lr.Contents(TANK, PROPANE, fill=fill, temperature=temperature)
    run = lr.tank_history(
        contents, openings=[leak, *openings], duration=times[1:], stop_at_gauge_pressure=100.0, points=2
    )
    return np.concatenate([[contents.gauge_pressure()], run.pressure[..., -1] - 101325.0])


def found(gauge, leak, openings=(), **others):
    return lr.infer_leak(
        TANK, PROPANE, times=TIMES, gauge_pressures=gauge, leak=leak, openings=openings, **others
    )


@pytest.mark.parametrize(("fill", "diameter"), [(0.35, 0.008), (0.6, 0.012), (0.7, 0.006)])
def test_a_leak_of_liquid_and_a_vent_give_back_what_was_put_in(fill, diameter):
    gauge = readings(fill, lr.Opening(diameter=diameter, height=0.05), [VENT])
    told = found(gauge, lr.Opening(diameter=0.01, height=0.05), [VENT], reading_spread=500.0)
    assert abs(told.fill - fill) < told.fill_spread
    assert abs(told.diameter - diameter) < told.diameter_spread
    assert told.tells_fill
    assert told.tells_diameter
    assert told.misfit < 500.0
    assert told.contents.fill == told.fill
    assert told.leak.diameter == told.diameter


def test_spreads_are_those_of_the_errors_of_many_readings():
    """With truths and errors drawn as assumed: errors squared by the covariance told, 2 each on average."""
    rng = np.random.default_rng(20)
    squares = []
    for _ in range(8):
        fill, diameter = rng.normal(0.5, 0.1), 0.01 * np.exp(rng.normal(0.0, np.log(1.5)))
        gauge = readings(fill, lr.Opening(diameter=diameter, height=0.05), [VENT])
        gauge[1:] = np.maximum(gauge[1:] + rng.normal(0.0, 3e3, 3), 0.0)
        told = found(
            gauge,
            lr.Opening(diameter=0.01, height=0.05),
            [VENT],
            fill_spread=0.1,
            diameter_factor=1.5,
            reading_spread=3e3,
        )
        z = (told.fill - fill) / told.fill_spread
        w = np.log(told.diameter / diameter) / (told.diameter_spread / told.diameter)
        r = told.correlation
        squares.append((z * z - 2.0 * r * z * w + w * w) / (1.0 - r * r))
    assert 5.8 < sum(squares) < 32.0  # chi square of 16, 1 % outside on either side


def test_vapor_alone_does_not_tell_fill_from_size():
    """Half the liquid behind half the hole cools as fast: only the ratio shows."""
    gauge = readings(0.4, lr.Opening(diameter=0.016, height=1.04))
    told = found(gauge, lr.Opening(diameter=0.02, height=1.04))
    assert told.correlation > 0.9
    assert not told.tells_fill
    ratio = (told.fill / told.diameter**2) / (0.4 / 0.016**2)
    assert ratio == pytest.approx(1.0, abs=0.1)  # what wall and vapor hold does not scale with the liquid


def test_finer_readings_tell_more():
    gauge = readings(0.6, lr.Opening(diameter=0.01, height=0.05), [VENT])
    leak = lr.Opening(diameter=0.01, height=0.05)
    coarse, fine = (found(gauge, leak, [VENT], reading_spread=spread) for spread in (2e4, 1e3))
    assert fine.fill_spread < coarse.fill_spread < 0.25
    assert fine.diameter_spread < coarse.diameter_spread


def test_a_shut_tank_that_warms_from_zero_gauge_is_followed():
    """It starts where a falling gauge would no longer be followed."""
    cold = float(PROPANE.saturation(pressure=101325.0 + 50.0).temperature)
    gauge = readings_of_a_warming_tank(cold, 0.3)
    told = found(gauge, lr.Opening(diameter=1e-4, height=1.04), reading_spread=200.0, diameter_factor=1.01)
    assert told.fill == pytest.approx(0.3, abs=2.0 * told.fill_spread)
    assert told.tells_fill


def readings_of_a_warming_tank(temperature, fill):
    contents = lr.Contents(TANK, PROPANE, fill=fill, temperature=temperature)
    leak = lr.Opening(diameter=1e-4, height=1.04)
    run = lr.tank_history(contents, openings=[leak], duration=TIMES[1:], points=2)
    return np.concatenate([[contents.gauge_pressure()], run.pressure[..., -1] - 101325.0])


def test_readings_that_nothing_explains_say_so():
    """A gauge that falls by half in ten seconds with a hole of some millimeters."""
    told = found([7.3e5, 3.6e5, 3.6e5, 7.0e5], lr.Opening(diameter=0.005, height=0.05))
    assert not told.fits
    assert "Do not use what is told" in told.cautions[0]
    gauge = readings(0.5, lr.Opening(diameter=0.005, height=0.05))
    assert found(gauge, lr.Opening(diameter=0.005, height=0.05)).fits


def test_psi_is_pascal():
    pint = pytest.importorskip("pint")
    units = pint.UnitRegistry()
    leak = lr.Opening(diameter=0.01, height=0.05)
    psi = np.array([106.0, 60.0, 30.0, 12.0])
    one = found(units.Quantity(psi, "psi"), leak, [VENT])
    other = found(psi * 6894.757293168361, leak, [VENT])
    assert one.fill == pytest.approx(other.fill, rel=1e-9)


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"tank": 1.0}, "tank must be"),
        ({"fluid": "propane"}, "fluid must be Fluid"),
        ({"leak": 0.01}, "leak must be Opening"),
        ({"openings": [0.1]}, "openings must be a sequence of Opening"),
        ({"times": [0.0]}, "rows of one length, two or more"),
        ({"times": [0.0, 5.0, 5.0, 9.0]}, "times rising"),
        ({"gauge_pressures": [-1.0, 2.0, 3.0, 4.0]}, "gauge_pressures = -1 Pa is outside"),
        ({"fill": 1.2}, "fill = 1.2 is outside"),
        ({"diameter_factor": 1.0}, "diameter_factor = 1 is outside"),
        ({"reading_spread": 0.0}, "reading_spread = 0 Pa is outside"),
    ],
)
def test_what_is_refused(wrong, message):
    given = {
        "tank": TANK,
        "fluid": PROPANE,
        "times": TIMES,
        "gauge_pressures": [7e5, 5e5, 4e5, 3e5],
        "leak": VENT,
    } | wrong
    with pytest.raises(lr.LpgReleaseError, match=message):
        lr.infer_leak(given.pop("tank"), given.pop("fluid"), **given)


@pytest.mark.parametrize("name", ["fill", "fill_spread", "diameter_factor", "reading_spread"])
def test_what_is_guessed_is_one_number(name):
    good = {"fill": 0.5, "fill_spread": 0.2, "diameter_factor": 3.0, "reading_spread": 500.0}
    with pytest.raises(lr.InputError, match=rf"{name} must be one number, got shape \(2,\)"):
        lr.infer_leak(
            lr.HorizontalTank(diameter=1.0, length=3.0, wall_mass=700.0),
            lr.Fluid("propane"),
            times=[0.0, 60.0],
            gauge_pressures=[7e5, 6.9e5],
            leak=lr.Opening(diameter=0.01),
            **good | {name: [good[name]] * 2},
        )
