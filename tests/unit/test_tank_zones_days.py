"""Tanks with two walls over days: vents too large for what boils off, tanks at rest, drained under vacuum.

There a flow hangs on micropascals and superheat on nothing; drawn at random, and kept for what they did.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pytest

import lpgrelease as lr
from lpgrelease.collocation import march
from lpgrelease.tank.last_pascals import LEAST_DRIVE, eased, eased_slope


class Drawn(NamedTuple):
    fluid: str
    diameter: float
    length: float
    pitch: float
    roll: float
    fill: float
    temperature: float
    vent: tuple[float, float]
    """Bore, and height over the tank's."""
    leak: tuple[float, float]
    air: float
    wind: float
    sun: float


CASES = {
    "a vent too large, to the end of the liquid": Drawn(
        "propane", 0.5943, 10.0035, -0.2582, 1.1395, 0.5426, 291.354, (0.0724, 0.5597), (0.0269, 0.22),
        311.794, 3.485, 483.5,
    ),
    "cold air, to the end of the liquid": Drawn(
        "ammonia", 0.6198, 1.8466, -0.1850, 0.1115, 0.9077, 290.274, (0.05416, 0.6031), (0.02465, 0.083),
        271.846, 3.653, 610.0,
    ),
    "a leak near the bottom": Drawn(
        "propylene", 0.9016, 1.7525, 0.0656, 1.8448, 0.8822, 272.974, (0.04659, 0.7765), (0.01993, 0.1578),
        264.404, 6.297, 268.5,
    ),
    "colder than it boils, at rest": Drawn(
        "n-butane", 1.6451, 1.5442, 0.2797, 2.6373, 0.86, 295.691, (0.04774, 0.8317), (0.006264, 0.7627),
        271.956, 7.306, 320.9,
    ),
    "drained under its own vacuum": Drawn(
        "n-butane", 1.1648, 5.4435, -0.1954, 2.9064, 0.7827, 279.476, (0.05491, 0.6555), (0.01536, 0.05),
        272.0, 5.0, 100.0,
    ),
}  # fmt: skip


def three_days(drawn: Drawn, points: int = 401) -> lr.TankHistory:
    wall_mass = 7850.0 * 0.008 * np.pi * drawn.diameter * drawn.length
    tank = lr.tilt(
        lr.HorizontalTank(diameter=drawn.diameter, length=drawn.length, wall_mass=wall_mass),
        pitch=drawn.pitch,
        roll=drawn.roll,
    )
    top = float(tank.height)
    vent, leak = (
        lr.Opening(diameter=bore, discharge_coefficient=c, height=share * top)
        for (bore, share), c in ((drawn.vent, 0.85), (drawn.leak, 0.62))
    )
    return lr.tank_history(
        lr.Contents(tank, lr.Fluid(drawn.fluid), fill=drawn.fill, temperature=drawn.temperature),
        openings=[vent, leak],
        weather=lr.Weather(air_temperature=drawn.air, wind_speed=drawn.wind, solar_irradiance=drawn.sun),
        wall=lr.TankWall(),
        duration=3 * 86400.0,
        points=points,
    )


@pytest.mark.parametrize("drawn", CASES.values(), ids=CASES)
def test_days_take_few_steps(drawn, monkeypatch):
    # some 30 to 110; without what is tested here thousands
    monkeypatch.setattr(march, "MOST_TRIALS", 200)
    run = three_days(drawn)
    assert run.stopped_by in ("liquid gone", "duration")
    assert np.all(np.diff(run.time) >= 0.0)
    assert run.mass_imbalance < 1e-9
    assert run.energy_imbalance < 1e-9


@pytest.mark.parametrize("drawn", list(CASES.values())[:3], ids=list(CASES)[:3])
def test_what_flows_is_what_goes(drawn):
    """At every point the flow is that of the mass on its way there, also where hardly anything drives it."""
    run = three_days(drawn)
    mass, flow = run.liquid_mass + run.vapor_mass, run.mass_flow.sum(axis=0)
    gone, step = -np.diff(mass), np.diff(run.time)
    # where a step changes the flow by less than a fifth, trapezoids tell the mass to a per cent or two
    smooth = (np.abs(np.diff(flow)) < 0.2 * flow[1:]) & (step > 0.0)
    assert smooth.sum() > 150
    told = 0.5 * (flow[1:] + flow[:-1]) * step
    off = np.abs(told - gone)[smooth] / gone[smooth]
    assert np.median(off) < 2e-3
    assert off.max() < 0.1
    # the lasting part: the flow is never nothing while mass goes
    late = run.time[1:] > 600.0
    assert np.all(flow[1:][late & (gone > 1e-6 * mass[0])] > 0.0)


def test_easing_is_smooth_and_ends_at_a_pascal():
    drive = LEAST_DRIVE * np.array([-1.0, 0.0, 1e-6, 0.5, 1.0 - 1e-7, 1.0, 1.0 + 1e-7, 10.0])
    goes = np.sqrt(np.maximum(drive, 0.0)) * eased(drive)
    assert np.all(goes[:2] == 0.0)
    np.testing.assert_allclose(eased(drive)[5:], 1.0)
    # the drive itself at first, one and a half times; then the root, with its slope
    assert goes[2] == pytest.approx(1.5e-6, rel=1e-5)
    slopes = np.diff(goes[4:7]) / 1e-7
    np.testing.assert_allclose(slopes, 0.5, rtol=1e-5)


def test_the_slope_of_the_easing_is_that_of_its_logarithm():
    drive = LEAST_DRIVE * np.array([1e-4, 0.01, 0.5, 0.999])
    step = 1e-4 * drive
    told = (np.log(eased(drive + step)) - np.log(eased(drive - step))) / (2.0 * step)
    np.testing.assert_allclose(eased_slope(drive), told, rtol=1e-5)
    assert np.all(eased_slope(LEAST_DRIVE * np.array([-1.0, 0.0, 1.0, 2.0])) == 0.0)
