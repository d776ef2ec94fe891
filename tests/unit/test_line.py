"""Lines: refusals, shapes, neighbors, and the coefficient prepared for a tank's history."""

from __future__ import annotations

import numpy as np
import pint
import pytest

from lpgrelease import Fluid, InputError, Opening, OutOfRangeError
from lpgrelease.release.fittings import FITTINGS, loss_coefficient
from lpgrelease.release.friction import darcy_friction_factor
from lpgrelease.release.line import Line, line_release
from lpgrelease.release.line_coefficient import LineCoefficient
from lpgrelease.release.nozzle import SATURATED_VAPOR_INLET, SaturatedVaporNozzle

PROPANE = Fluid("propane")
HOSE = Line(diameter=0.05, length=30.0)
ATMOSPHERE = 101325.0


def test_takes_quantities_and_gives_areas():
    units = pint.UnitRegistry()
    hose = Line(diameter=2.0 * units.inch, length=100.0 * units.foot, rise=-3.0 * units.foot)
    assert hose.diameter == pytest.approx(0.0508, rel=1e-12)
    assert hose.length == pytest.approx(30.48, rel=1e-12)
    assert hose.rise == pytest.approx(-0.9144, rel=1e-12)
    assert hose.area == pytest.approx(np.pi / 4 * 0.0508**2, rel=1e-12)
    assert Line(diameter=1.0, length=1.0, discharge_coefficient=0.5).effective_area == pytest.approx(
        np.pi / 8
    )


def test_refuses_lines_that_cannot_be():
    with pytest.raises(OutOfRangeError, match=r"diameter = 0 m .*the lower end excluded"):
        Line(diameter=0.0, length=1.0)
    with pytest.raises(OutOfRangeError, match=r"length = -1 m"):
        Line(diameter=0.05, length=-1.0)
    with pytest.raises(OutOfRangeError, match=r"roughness/diameter = 0.2 .*range of the friction factor"):
        Line(diameter=0.05, length=1.0, roughness=0.01)
    with pytest.raises(OutOfRangeError, match=r"rise = 300 m is outside the allowed range \[-200, 200\]"):
        Line(diameter=0.05, length=1.0, rise=300.0)
    with pytest.raises(OutOfRangeError, match=r"discharge_coefficient = 1.2"):
        Line(diameter=0.05, length=1.0, discharge_coefficient=1.2)
    with pytest.raises(InputError, match=r"shapes do not broadcast: .*length \(2,\).*fittings \(3,\)"):
        Line(diameter=0.05, length=[1.0, 2.0], fittings=[0.0, 1.0, 2.0])
    with pytest.raises(OutOfRangeError, match=r"relative_roughness = 0.1 .*roughness over diameter"):
        darcy_friction_factor(1e5, relative_roughness=0.1)


def test_fittings_add_up_and_refuse_what_they_are_not():
    bores = np.array([0.0254, 0.0508])
    each = [loss_coefficient(name, diameter=bores) for name in FITTINGS]
    np.testing.assert_allclose(loss_coefficient(*FITTINGS, diameter=bores), np.sum(each, axis=0), rtol=1e-13)
    np.testing.assert_array_equal(loss_coefficient(diameter=bores), [0.0, 0.0])
    assert (
        loss_coefficient("ball valve", diameter=0.0508) == loss_coefficient("ball valve", diameter=bores)[1]
    )
    with pytest.raises(InputError, match=r"fitting must be one of .*ball valve.*; got 'tap'"):
        loss_coefficient("tap", diameter=0.05)
    with pytest.raises(OutOfRangeError, match=r"diameter = 0.002 m .*sizes of pipe"):
        loss_coefficient("ball valve", diameter=0.002)


def test_refuses_states_outside_its_range():
    with pytest.raises(InputError, match="line must be a Line"):
        line_release(PROPANE, Opening(diameter=0.05), temperature=293.15)
    with pytest.raises(InputError, match="fluid must be a Fluid, got 'propane'"):
        line_release("propane", HOSE, temperature=293.15)
    with pytest.raises(OutOfRangeError, match=r"saturation pressure = .*up to 0.7 of the critical pressure"):
        line_release(PROPANE, HOSE, temperature=360.0)
    with pytest.raises(
        OutOfRangeError, match=r"temperature = 500 K .*lines serve at 500000 Pa, .*may expand to 101325 Pa"
    ):
        line_release(PROPANE, HOSE, temperature=500.0, pressure=5e5)
    with pytest.raises(InputError, match=r"fluid: line_release serves pure fluids only, and .* is a blend"):
        line_release(Fluid({"propane": 0.5, "n-butane": 0.5}), HOSE, temperature=293.15)
    with pytest.raises(InputError, match=r"vapor_fraction is 1 \(vapor\) or 0 \(liquid\) for the whole call"):
        line_release(PROPANE, HOSE, temperature=293.15, pressure=5e5, vapor_fraction=0.5)
    with pytest.raises(OutOfRangeError, match="no gas above its saturation pressure"):
        line_release(PROPANE, HOSE, temperature=293.15, pressure=9e5)


def test_nothing_flows_without_drive():
    flow = line_release(PROPANE, HOSE, temperature=[220.0, 293.15], ambient_pressure=ATMOSPHERE)
    assert flow.mass_flow[0] == 0.0
    assert flow.mass_flow[1] > 0.0
    assert np.isfinite(flow.throat_temperature).all()
    high = Line(diameter=0.05, length=30.0, rise=200.0)
    small = PROPANE.saturation(pressure=ATMOSPHERE + 500.0).temperature
    assert line_release(PROPANE, high, temperature=small).mass_flow == 0.0


def test_the_hottest_vapor_named_is_the_hottest_served():
    long = Line(diameter=0.02, length=[0.0, 2000.0])
    with pytest.raises(OutOfRangeError) as refusal:
        line_release(Fluid("nitrogen"), long, temperature=1500.0, pressure=2e5)
    top = refusal.value.upper
    assert refusal.value.argument == "temperature"
    assert line_release(Fluid("nitrogen"), long, temperature=top - 1e-5, pressure=2e5).mass_flow.min() > 0.0
    with pytest.raises(OutOfRangeError):
        line_release(Fluid("nitrogen"), long, temperature=top + 1e-5, pressure=2e5)
    # what counts is how far it expands: into thinner air h_v is lower and less is served
    with pytest.raises(OutOfRangeError) as lower:
        line_release(Fluid("nitrogen"), long, temperature=1500.0, pressure=2e5, ambient_pressure=6e4)
    assert lower.value.upper < top


@pytest.mark.parametrize("x", [0.0, 0.3, 1.0])
def test_what_does_not_flow_stands_as_inside(x):
    flow = line_release(PROPANE, HOSE, temperature=250.0, vapor_fraction=x, ambient_pressure=5e5)
    assert flow.mass_flow == 0.0
    assert flow.throat_vapor_fraction == x


@pytest.mark.parametrize(("x", "edge"), [(0.0, 1e-6), (0.0, 0.02), (1e-7, 0.0)])
def test_an_answer_does_not_depend_on_mixtures_that_turn_to_liquid(x, edge):
    line = Line(diameter=0.05, length=20.0, rise=-50.0)
    together = line_release(PROPANE, line, temperature=260.0, vapor_fraction=[edge, x, 0.5]).mass_flux
    assert together[1] == line_release(PROPANE, line, temperature=260.0, vapor_fraction=x).mass_flux


@pytest.mark.parametrize("x", [0.0, 0.4, 1.0])
def test_an_answer_does_not_depend_on_its_neighbors(x):
    t = np.linspace(235.0, 330.0, 700)
    lines = Line(
        diameter=np.linspace(0.02, 0.1, 700),
        length=np.linspace(0.0, 80.0, 700),
        rise=np.linspace(-3.0, 3.0, 700),
        discharge_coefficient=np.linspace(0.3, 1.0, 700),
    )
    together = line_release(PROPANE, lines, temperature=t, vapor_fraction=x)
    for i in (0, 255, 256, 611, 699):
        one = Line(
            diameter=lines.diameter[i],
            length=lines.length[i],
            rise=lines.rise[i],
            discharge_coefficient=lines.discharge_coefficient[i],
        )
        alone = line_release(PROPANE, one, temperature=t[i], vapor_fraction=x)
        assert alone.mass_flow == together.mass_flow[i]
        assert alone.throat_pressure == together.throat_pressure[i]


def test_liquids_in_one_call_padded_or_not():
    p = np.array([8.4e5, 12e5, 40e5])
    together = line_release(PROPANE, HOSE, temperature=293.15, pressure=p, vapor_fraction=0.0)
    assert (np.diff(together.mass_flux) > 0.0).all()
    alone = line_release(PROPANE, HOSE, temperature=293.15, pressure=p[1], vapor_fraction=0.0)
    assert alone.mass_flux == together.mass_flux[1]


def prepared(fluid, line, ambient):
    fields = ("diameter", "length", "roughness", "fittings", "rise", "discharge_coefficient")
    wide = {name: np.broadcast_to(getattr(line, name), ambient.shape).astype(float) for name in fields}
    return LineCoefficient.prepare(fluid.table, **wide, ambient_pressure=ambient)


@pytest.mark.parametrize("name", ["propane", "ammonia", "n-butane"])
def test_the_prepared_coefficient_follows_the_line(name):
    fluid = Fluid(name)
    lines = Line(diameter=[0.05, 0.05, 0.1], length=[30.0, 0.0, 200.0], discharge_coefficient=[1.0, 0.6, 1.0])
    ambient = np.array([ATMOSPHERE, ATMOSPHERE, 8e4])
    coefficient = prepared(fluid, lines, ambient)
    nozzle = SaturatedVaporNozzle.prepare(fluid.table, ambient)
    for excess in (1e-3, 0.01, 0.1, 0.4, 0.7, 1.0, 1.8, 2.4):
        p = ambient * np.exp(excess)
        t = fluid.saturation(pressure=p).temperature
        ideal, _ = nozzle.flux(*fluid.saturated(t, *SATURATED_VAPOR_INLET))
        whole = line_release(fluid, lines, temperature=t, ambient_pressure=ambient)
        # 1.5e-3: 32 nodes over the whole range of pressures
        np.testing.assert_allclose(coefficient.at(p) * ideal, whole.mass_flux, rtol=1.5e-3)


@pytest.mark.parametrize("name", ["propane", "ammonia", "n-butane"])
def test_the_prepared_coefficient_follows_a_line_that_rises(name):
    fluid, rises = Fluid(name), np.array([-5.0, 2.0, 5.0, 10.0, 20.0])
    lines, ambient = Line(diameter=0.0508, length=30.0, rise=rises), np.full(5, ATMOSPHERE)
    coefficient = prepared(fluid, lines, ambient)
    # what the column of vapor weighs, at its density at the ambient pressure
    weight = fluid.saturation(pressure=ATMOSPHERE).vapor_density * 9.80665 * np.maximum(rises, 0.0)
    nozzle = SaturatedVaporNozzle.prepare(fluid.table, ambient)
    for over in (-60.0, 60.0, 150.0, 500.0, 3e3, 1e5):
        p = ATMOSPHERE + weight + over
        p = np.maximum(p, ATMOSPHERE + 1.0)
        t = fluid.saturation(pressure=p).temperature
        ideal, _ = nozzle.flux(*fluid.saturated(t, *SATURATED_VAPOR_INLET))
        whole = line_release(fluid, lines, temperature=t)
        risen = rises > (5.0 if over < 0.0 else 0.0)
        ours = (coefficient.at(p) * ideal)[risen]
        # 1.5e-2 close to where vapor begins to climb
        allowed = 1.5e-2 if over < 1e3 else 1.5e-3
        np.testing.assert_allclose(ours, whole.mass_flux[risen], rtol=allowed)
        assert (over > 0.0) == (ours > 0.0).all()


def test_the_prepared_coefficient_takes_any_shape_and_minds_no_neighbor():
    lines = Line(diameter=[0.05, 0.03], length=[30.0, 3.0])
    ambient = np.array([ATMOSPHERE, 9e4])
    both = prepared(PROPANE, lines, ambient)
    p = np.array([[2e5, 3e5], [4e5, 5e5], [1e4, 1e7]])
    values = both.at(p)
    assert values.shape == p.shape
    second = prepared(PROPANE, Line(diameter=0.03, length=3.0), ambient[1:])
    assert (second.at(p[:, 1:]) == values[:, 1:]).all()
    assert (both.take(np.array([1])).at(p[:, 1:]) == values[:, 1:]).all()
    assert values[2].tolist() == [both.values[0, 0], both.values[-1, 1]]


def test_equal_lines_are_prepared_alike():
    ambient = np.array([ATMOSPHERE, 9e4, ATMOSPHERE])
    three = prepared(PROPANE, Line(diameter=[0.05, 0.05, 0.05], length=[30.0, 30.0, 30.0]), ambient)
    assert (three.values[:, 0] == three.values[:, 2]).all()
    assert (three.values[:, 0] != three.values[:, 1]).any()
    one = prepared(PROPANE, HOSE, ambient[:1])
    assert (one.values[:, 0] == three.values[:, 2]).all()


@pytest.mark.parametrize("x", [0.0, 0.02, 0.3])
def test_a_rise_is_a_static_column_of_the_fluid_at_the_inlet(x):
    """A small rise lowers the flow as a pressure lower by rho g Z inside does, on the same isentrope."""
    line = Line(diameter=0.05, length=5.0, rise=[0.0, 0.05])
    flow = line_release(PROPANE, line, temperature=293.15, vapor_fraction=x)
    s = PROPANE.saturation(temperature=293.15)
    density = 1.0 / (x / s.vapor_density + (1 - x) / s.liquid_density)
    p = s.pressure - density * 9.80665 * 0.05
    lower = PROPANE.saturation(pressure=p)
    entropy = s.liquid_entropy + x * s.latent_heat / 293.15
    fraction = (entropy - lower.liquid_entropy) * lower.temperature / lower.latent_heat
    level = Line(diameter=0.05, length=5.0)
    same = line_release(PROPANE, level, temperature=lower.temperature, vapor_fraction=fraction)
    assert flow.mass_flux[1] < flow.mass_flux[0]
    # 5e-6: the rise itself takes 4e-5 (x 0.3) to 6e-4 (x 0) of the flux; the column's density is the inlet's
    assert flow.mass_flux[1] == pytest.approx(same.mass_flux, rel=5e-6)
