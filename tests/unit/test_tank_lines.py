"""Lines as openings of a tank."""

from __future__ import annotations

import numpy as np
import pytest

from lpgrelease import (
    Contents,
    Fluid,
    HorizontalTank,
    Line,
    Opening,
    TankWall,
    Weather,
    line_release,
    tank_history,
)
from lpgrelease.constants import STANDARD_GRAVITY
from lpgrelease.tank.outlets import prepare_line

PROPANE = Fluid("propane")
TANK = HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=170.0)
START = Contents(TANK, PROPANE, fill=0.8, temperature=293.15)
VENT = Opening(diameter=0.0508, discharge_coefficient=0.85, height=1.04)
ALIKE = ("time", "temperature", "liquid_mass", "mass_released")


def hose(length, **options):
    given = {"diameter": 0.0508, "length": length, "fittings": 0.0, "discharge_coefficient": 0.85}
    return Line(**given | {"height": 1.04} | options)


@pytest.mark.parametrize("limits", [{}, {"duration": 200.0}, {"duration": 4e3}])
def test_a_line_without_length_is_its_opening(limits):
    opening, line = (tank_history(START, openings=[o], **limits) for o in (VENT, hose(0.0)))
    for name in ALIKE:
        np.testing.assert_allclose(getattr(line, name), getattr(opening, name), rtol=1e-9, atol=1e-9)


def test_a_shorter_line_comes_nearer_to_its_opening():
    opening = tank_history(START, openings=[VENT])
    lengths = np.array([30.0, 10.0, 3.0, 1.0, 0.1, 0.01])
    line = tank_history(START, openings=[hose(lengths)])
    excess = line.time[:, -1] / opening.time[-1] - 1.0
    assert (np.diff(excess) < 0.0).all()
    # resistance goes as the length, and so does what it costs where it is small
    assert excess[-1] == pytest.approx(0.1 * excess[-2], rel=0.1)


def test_vapor_through_a_line_is_what_the_line_passes_by_itself():
    run = tank_history(START, openings=[hose(20.0, rise=3.0)], points=17)
    alone = line_release(PROPANE, hose(20.0, rise=3.0), temperature=run.temperature)
    # 1e-3: what the line's coefficient is good for (`LineCoefficient`), and the last point hardly flows
    np.testing.assert_allclose(run.mass_flow[0], alone.mass_flow, rtol=2e-3)


@pytest.mark.parametrize("length", [0.5, 3.0, 20.0])
@pytest.mark.parametrize("temperature", [250.0, 293.15])
def test_liquid_through_a_line_is_what_the_line_passes_of_liquid_padded_by_its_head(length, temperature):
    line = Line(diameter=0.01, length=length, height=0.2)
    start = Contents(TANK, PROPANE, fill=0.8, temperature=temperature)
    run = tank_history(start, openings=[line], duration=30.0, points=2)
    assert run.passes_liquid.all()
    saturation = PROPANE.saturation(temperature=temperature)
    head = saturation.liquid_density * 9.80665 * (start.level - 0.2)
    padded = line_release(
        PROPANE, line, temperature=temperature, pressure=saturation.pressure + head, vapor_fraction=0.0
    )
    # the law of slightly subcooled liquids leaves the length over which it boils as it is, and passes more
    assert 0.99 * padded.mass_flow < run.mass_flow[0, 0] < (1.06 if length > 1.0 else 1.12) * padded.mass_flow


def test_at_zero_gauge_a_line_of_liquid_runs_by_its_head():
    cold = Contents(TANK, PROPANE, fill=0.8, temperature=PROPANE.normal_boiling_point)
    line = Line(diameter=0.02, length=4.0, fittings=1.5, roughness=2e-4, height=0.1)
    run = tank_history(cold, openings=[line], weather=Weather(), duration=1.0, points=2)
    # Bernoulli with a fully rough wall: f = 1/(2 log10(3.7 D/e))**2
    friction = 1.0 / (2.0 * np.log10(3.7 * 0.02 / 2e-4)) ** 2
    density = PROPANE.saturation(temperature=cold.temperature).liquid_density
    velocity = np.sqrt(2.0 * 9.80665 * (cold.level - 0.1) / (1.0 + 1.5 + friction * 4.0 / 0.02))
    # 1 %: Churchill's factor against the rough limit of Colebrook's
    assert run.mass_flow[0, 0] == pytest.approx(density * line.area * velocity, rel=0.01)


def test_two_lines_and_a_hole_share_what_is_released():
    openings = [hose(20.0), hose(2.0, diameter=0.03), VENT]
    run = tank_history(START, openings=openings, points=1001)
    step = np.diff(run.time)
    by_flow = (0.5 * (run.mass_flow[:, 1:] + run.mass_flow[:, :-1]) * step).sum(axis=1)
    np.testing.assert_allclose(by_flow, run.mass_released[:, -1], rtol=1e-5)
    assert run.mass_imbalance < 1e-12
    assert run.energy_imbalance < 1e-12
    fine, coarse = run, tank_history(START, openings=openings)
    np.testing.assert_allclose(coarse.mass_released[:, -1], fine.mass_released[:, -1], rtol=1e-3)


def test_alone_or_among_many_to_the_bit():
    lengths = np.linspace(0.0, 40.0, 70)
    many = tank_history(START, openings=[hose(lengths), Opening(diameter=0.008)], duration=300.0, points=5)
    for i in (0, 33, 69):
        alone = tank_history(
            START, openings=[hose(lengths[i]), Opening(diameter=0.008)], duration=300.0, points=5
        )
        for name in ALIKE:
            assert np.array_equal(getattr(alone, name), getattr(many, name)[i]), name


@pytest.mark.parametrize("rise", [-3.0, 0.0, 2.0, 8.0])
def test_what_drives_liquid_through_a_line_has_no_steps(rise):
    """Neither in pressure nor where boiling liquid begins to climb, the air's pressure included."""
    table = PROPANE.table
    line = prepare_line(
        table, np.array([[0.05], [10.0], [4.6e-5], [2.0], [rise], [1.0]]), np.array([101325.0])
    )
    over = np.arange(-2e4, 1e5, 1.0)
    drive = line.liquid_drive(np.array(580.0), 101325.0 + over[:, None], np.array(3.0))[:, 0]
    # by a pascal more at most so many; before it jumped by thousands
    assert np.abs(np.diff(drive)).max() < 5.0
    # at the air's pressure the head and the fall drive it, less the rise, as liquid that does not boil
    at_rest = drive[over == 0.0][0]
    still = 580.0 * STANDARD_GRAVITY * (3.0 - rise)
    friction = float(line.head_share[0])
    assert at_rest == pytest.approx(friction * still, rel=0.02 if rise < 0.0 else 1e-9)


def test_a_rising_line_of_vapor_passes_nothing_rather_than_less():
    tank = HorizontalTank(diameter=1.0, length=3.0, wall_mass=600.0)
    contents = Contents(tank, Fluid("propylene"), fill=0.3, temperature=228.0)
    riser = Line(diameter=0.05, length=10.0, rise=5.0, height=1.0)
    run = tank_history(
        contents, openings=[riser], weather=Weather(air_temperature=290.0), wall=TankWall(), duration=4e4
    )
    assert (run.mass_flow >= 0.0).all()
    assert (np.diff(run.mass_released) >= 0.0).all()


def test_a_line_of_liquid_that_ceases_to_climb_ends_within_a_step():
    """Nothing more goes after it, nor less: the corner was passed over, by 1e-4 of the mass."""
    chlorine = Fluid("chlorine")
    tank = HorizontalTank(diameter=1.5, length=4.0, wall_mass=2000.0)
    contents = Contents(tank, chlorine, fill=0.8, temperature=252.0)
    riser = Line(diameter=0.05, length=8.0, rise=5.0, height=0.9)
    vent = Opening(diameter=0.08, height=1.5)
    run = tank_history(contents, openings=[vent, riser], weather=Weather(), stop_at_gauge_pressure=400.0)
    flow, gone = run.mass_flow[1], run.mass_released[1]
    assert run.passes_liquid[1].all()
    assert flow[0] > 1.0
    assert flow[-1] == 0.0
    assert (np.diff(gone) >= -1e-12 * run.liquid_mass[0]).all()
    assert gone[flow == 0.0] == pytest.approx(gone[-1], rel=1e-6)
