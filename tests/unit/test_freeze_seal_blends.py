"""Freeze seals on blends: the threshold shifts, and a butane-rich rest freezes no water."""

import numpy as np
import pytest

import lpgrelease as lr
from lpgrelease.errors import InputError
from lpgrelease.fluids.equilibrium import bubble_point
from lpgrelease.fluids.mixture import load_mixture

HOLE = lr.Opening(diameter=0.006)


def blend(propane):
    return lr.Fluid({"propane": propane, "n-butane": 1.0 - propane})


@pytest.mark.parametrize("phase", ["liquid", "vapor", "two-phase"])
def test_a_trace_of_butane_changes_little(phase):
    # cubic equation against reference equation: 0.3 % in pressure, 10 % in the vapor's threshold, as it
    # hangs on a small difference of vapor enthalpies
    pure, almost = (
        lr.assess_freeze_seal(fluid, HOLE, gauge_pressure=2000.0, phase=phase)
        for fluid in (lr.Fluid("propane"), blend(1.0 - 1e-6))
    )
    assert almost.verdict == pure.verdict
    assert almost.leak_temperature == pytest.approx(pure.leak_temperature, abs=0.2)
    assert almost.fluid_threshold_pressure == pytest.approx(pure.fluid_threshold_pressure, rel=0.005)
    assert almost.vapor_threshold_pressure == pytest.approx(pure.vapor_threshold_pressure, rel=0.12)
    assert almost.freeze_time == pytest.approx(pure.freeze_time, rel=0.03)
    assert almost.needed_drip_rate == pytest.approx(pure.needed_drip_rate, rel=0.03)


def test_threshold_is_the_bubble_pressure_at_freezing():
    fluid = blend(0.5)
    seal = lr.assess_freeze_seal(fluid, HOLE)
    point = lr.bubble_point(fluid, temperature=273.15)
    assert seal.fluid_threshold_pressure == pytest.approx(point.pressure, rel=1e-8)


@pytest.mark.parametrize("propane", [0.9, 0.5])
def test_vapor_from_a_tank_at_the_threshold_arrives_at_freezing(propane):
    fluid = blend(propane)
    threshold = lr.assess_freeze_seal(fluid, HOLE, phase="vapor").vapor_threshold_pressure
    edge = lr.assess_freeze_seal(fluid, HOLE, phase="vapor", gauge_pressure=threshold - 101325.0)
    # a row of 65 temperatures, linear between: a thousandth of a kelvin
    assert edge.leak_temperature == pytest.approx(273.15, abs=1.5e-3)


def test_more_butane_freezes_slower_and_then_not_at_all():
    seals = [lr.assess_freeze_seal(blend(x), HOLE) for x in (0.9, 0.5, 0.2, 0.01)]
    times = [float(seal.freeze_time) for seal in seals]
    thresholds = [float(seal.fluid_threshold_pressure) for seal in seals]
    assert times == sorted(times)
    assert thresholds == sorted(thresholds, reverse=True)
    assert seals[0].feasible
    assert not seals[-1].feasible
    assert any("freez" in text for text in seals[-1].advice)


def test_a_leak_that_flashes_arrives_warmer_than_the_first_bubble():
    fluid = blend(0.5)
    warm = lr.assess_freeze_seal(fluid, HOLE, gauge_pressure=3e5)
    cold = lr.assess_freeze_seal(fluid, HOLE, gauge_pressure=0.0)
    assert warm.leak_temperature > cold.leak_temperature + 1.0
    assert warm.leak_vapor_fraction > 0.1
    after = lr.flash(fluid, temperature=fluid.saturation(pressure=101325.0 + 3e5).temperature)
    assert warm.leak_temperature == pytest.approx(after.temperature, abs=1e-3)
    assert warm.leak_vapor_fraction == pytest.approx(after.vapor_fraction, abs=1e-5)


def test_one_cell_of_a_map_is_the_assessment_alone():
    fluid = blend(0.4)
    found = lr.freeze_seal_map(fluid, diameter=[0.003, 0.05], gauge_pressure=[0.0, 2e3, 3e4])
    one = lr.assess_freeze_seal(fluid, lr.Opening(diameter=0.05), gauge_pressure=3e4)
    assert found.verdict[1, 2] == one.verdict
    assert found.seal.freeze_time[1, 2] == one.freeze_time


def test_the_map_moves_as_light_ends_leave(tmp_path):
    maps = lr.freeze_seal_maps(
        blend(0.4), [1.0, 0.5, 0.05], diameter=[0.003, 0.03, 0.1], gauge_pressure=[0.0, 1e3, 2e3, 1e4]
    )
    feasible = [int(found.feasible.sum()) for found in maps]
    assert feasible == sorted(feasible, reverse=True)
    assert feasible[0] > 0
    assert feasible[-1] == 0
    pytest.importorskip("matplotlib")
    from lpgrelease import plots

    figure = plots.plot_freeze_seal_maps(maps)
    assert len(figure.axes) >= 3
    assert "liquid leak" in figure.get_suptitle()
    figure.savefig(tmp_path / "maps.png", dpi=50)
    with pytest.raises(InputError, match="there is none"):
        plots.plot_freeze_seal_maps([])


def test_a_warm_vapor_space_of_a_blend_has_no_composition_of_its_own():
    with pytest.raises(InputError, match="tank_temperature must be left out"):
        lr.assess_freeze_seal(blend(0.5), HOLE, phase="vapor", tank_temperature=293.15)


def test_boiling_off_a_blend():
    fluid = lr.Fluid({"ethane": 0.05, "propane": 0.6, "n-butane": 0.35})
    left = np.array([1.0, 0.7, 0.3, 0.05])
    rest = lr.boil_off(fluid, left)
    assert np.all(np.diff(rest.temperature) > 0.0)
    assert np.all(np.diff(rest.liquid_composition[:, 2]) > 0.0)
    molar = np.array([0.03006904, 0.04409562, 0.0581222])
    moles = left * (molar @ np.array(fluid.fractions)) / (rest.liquid_composition @ molar)
    balance = moles[:, None] * rest.liquid_composition + (1.0 - moles)[:, None] * rest.vapor_total
    assert np.allclose(balance, fluid.fractions, rtol=0.0, atol=1e-6)
    one = lr.boil_off(fluid, 0.3)
    assert one.temperature == pytest.approx(rest.temperature[2], rel=1e-7)


def test_boiling_off_with_constant_ratios_is_rayleighs():
    # propane and isobutane at a low pressure: ln(N/N0) between two compositions by Rayleigh's integral of
    # dx/(y - x), with the K-values of bubble points by the trapezoid over a fine row of compositions
    fluid = lr.Fluid({"propane": 0.5, "isobutane": 0.5})
    rest = lr.boil_off(fluid, 0.4)
    x_end = rest.liquid_composition[0]
    x = np.linspace(x_end, 0.5, 401)
    mixture = load_mixture(("propane", "isobutane"))
    y = bubble_point(mixture, np.array([x, 1.0 - x]), pressure=np.full(x.size, 101325.0)).incipient[0]
    shrink = np.exp(-np.trapezoid(1.0 / (y - x), x))
    molar = np.array([0.04409562, 0.0581222])
    mass = shrink * (molar @ [x_end, 1.0 - x_end]) / (molar @ [0.5, 0.5])
    assert mass == pytest.approx(0.4, rel=2e-6)


def test_boiling_off_refuses_what_does_not_change():
    with pytest.raises(InputError, match="must be a blend"):
        lr.boil_off(lr.Fluid("propane"), 0.5)
    with pytest.raises(lr.OutOfRangeError, match="liquid_left"):
        lr.boil_off(blend(0.5), 0.0)
    with pytest.raises(InputError, match="one number"):
        lr.boil_off(blend(0.5), 0.5, pressure=[1e5, 2e5])


def test_the_vent_that_holds_a_blend_is_that_of_what_is_left():
    tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=170.0)
    vent = lr.Opening(diameter=0.0508, discharge_coefficient=0.85, height=1.04)
    loaded = lr.Contents(tank, blend(0.5), fill=0.8, temperature=293.15)
    left = lr.tank_history(loaded, openings=[vent]).final
    fluid = left.fluid_at()
    seal = lr.assess_freeze_seal(fluid, HOLE)
    assert seal.feasible
    hold = lr.hold_freeze_seal(seal, left, keep_gauge_pressure=5e3)
    as_pure = lr.Contents(tank, fluid, fill=left.fill, temperature=left.temperature)
    same = lr.hold_freeze_seal(seal, as_pure, keep_gauge_pressure=5e3)
    assert hold.safe_vent_rate == pytest.approx(same.safe_vent_rate, rel=1e-9)
    assert hold.holding_time == pytest.approx(same.holding_time, rel=0.01)
    two = lr.tank_history(
        lr.Contents(tank, blend(0.5), fill=[0.7, 0.8], temperature=293.15), openings=[vent]
    ).final
    with pytest.raises(InputError, match="one scenario at a time"):
        lr.hold_freeze_seal(seal, two)
