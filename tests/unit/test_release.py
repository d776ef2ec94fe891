"""Edges, errors and shapes of openings and release rates."""

from __future__ import annotations

import math

import numpy as np
import pint
import pytest

from lpgrelease import Fluid, Opening, liquid_release, two_phase_release, vapor_release
from lpgrelease.errors import ConvergenceError, InputError, OutOfRangeError
from lpgrelease.fluids import helmholtz
from lpgrelease.fluids.substances import SUBSTANCES
from lpgrelease.release.inlet import _let_down
from lpgrelease.release.nozzle import HIGHEST_UNCHOKED_RATIO

PROPANE = Fluid("propane")
HOLE = Opening(diameter=0.025)
ATMOSPHERE = 101325.0
RATES = {
    "vapor": vapor_release,
    "superheated": lambda fluid, hole, **a: vapor_release(fluid, hole, pressure=2e5, **a),
    "liquid": liquid_release,
    "padded": lambda fluid, hole, **a: liquid_release(fluid, hole, pressure=3e6, **a),
    "mixture": lambda fluid, hole, **a: two_phase_release(fluid, hole, vapor_fraction=0.1, **a),
}
FIELDS = (
    "mass_flow",
    "mass_flux",
    "choked",
    "throat_pressure",
    "throat_temperature",
    "throat_vapor_fraction",
)
every_rate = pytest.mark.parametrize("rate", list(RATES.values()), ids=list(RATES))


def test_opening():
    hole = Opening(diameter=[0.01, 0.02], discharge_coefficient=0.8, height=1.5)
    np.testing.assert_allclose(hole.area, [math.pi * 2.5e-5, math.pi * 1e-4], rtol=1e-15)
    np.testing.assert_allclose(hole.effective_area, 0.8 * hole.area, rtol=1e-15)
    assert Opening(diameter=0.01).discharge_coefficient == 0.62
    assert Opening(diameter=0.01).height == 0.0
    assert Opening(diameter=pint.UnitRegistry().Quantity(2.0, "inch")).diameter == pytest.approx(0.0508)


@pytest.mark.parametrize(
    ("arguments", "error", "message"),
    [
        ({"diameter": 0.0}, OutOfRangeError, r"diameter = 0 m"),
        ({"diameter": -0.01}, OutOfRangeError, r"diameter = -0.01 m"),
        ({"diameter": float("nan")}, InputError, "diameter must be finite"),
        ({"diameter": 0.01, "discharge_coefficient": 1.1}, OutOfRangeError, r"discharge_coefficient = 1.1"),
        ({"diameter": 0.01, "discharge_coefficient": 0.0}, OutOfRangeError, r"discharge_coefficient = 0"),
        ({"diameter": 0.01, "height": -1.0}, OutOfRangeError, r"height = -1 m"),
        (
            {"diameter": [0.01, 0.02], "height": [0.0, 0.0, 0.0]},
            InputError,
            "shapes do not broadcast: diameter",
        ),
    ],
)
def test_opening_refuses(arguments, error, message):
    with pytest.raises(error, match=message):
        Opening(**arguments)


@every_rate
def test_shapes_and_bits(rate):
    hole = Opening(diameter=np.array([[0.01], [0.02], [0.03]]), discharge_coefficient=0.7)
    t, ambient = np.array([285.0, 290.0, 295.0, 300.0]), np.array([9e4, 1e5, 1.1e5, 1.5e5])
    many = rate(PROPANE, hole, temperature=t, ambient_pressure=ambient)
    for name in FIELDS:
        assert getattr(many, name).shape == (3, 4)
    for i, j in np.ndindex(3, 4):
        one = rate(
            PROPANE,
            Opening(diameter=hole.diameter[i, 0], discharge_coefficient=0.7),
            temperature=t[j],
            ambient_pressure=ambient[j],
        )
        for name in FIELDS:
            assert np.ndim(getattr(one, name)) == 0
            assert getattr(one, name) == getattr(many, name)[i, j], name


@every_rate
def test_bits_do_not_depend_on_the_batch(rate):
    rng = np.random.default_rng(5)
    t, ambient = rng.uniform(255.0, 360.0, 701), rng.uniform(4e4, 3e6, 701)
    if rate is RATES["padded"]:
        t = rng.uniform(255.0, 340.0, 701)
    if rate is RATES["superheated"]:
        t, ambient = rng.uniform(255.0, 360.0, 701), rng.uniform(4e4, 2.1e5, 701)
    many = rate(PROPANE, HOLE, temperature=t, ambient_pressure=ambient)
    for i in range(0, 701, 70):
        one = rate(PROPANE, HOLE, temperature=t[i], ambient_pressure=ambient[i])
        for name in FIELDS:
            assert getattr(one, name) == getattr(many, name)[i], name


@every_rate
def test_empty_arrays(rate):
    assert rate(PROPANE, HOLE, temperature=np.empty((2, 0))).mass_flow.shape == (2, 0)


@every_rate
def test_flow_is_flux_times_area(rate):
    flow = rate(PROPANE, HOLE, temperature=290.0)
    assert flow.mass_flow == pytest.approx(flow.mass_flux * HOLE.area, rel=1e-15)
    ideal = rate(PROPANE, Opening(diameter=0.025, discharge_coefficient=1.0), temperature=290.0)
    assert flow.mass_flux == pytest.approx(0.62 * ideal.mass_flux, rel=1e-15)


def test_nothing_flows_without_drive():
    t = np.array([225.0, PROPANE.normal_boiling_point - 1e-6, PROPANE.normal_boiling_point - 5.0])
    for flow in (
        vapor_release(PROPANE, HOLE, temperature=t),
        two_phase_release(PROPANE, HOLE, temperature=t, vapor_fraction=0.2),
        liquid_release(PROPANE, HOLE, temperature=t),
        vapor_release(PROPANE, HOLE, temperature=300.0, pressure=[1e5, 9e4, ATMOSPHERE]),
    ):
        assert flow.mass_flow.tolist() == [0.0, 0.0, 0.0]
        assert not flow.choked.any()


def test_a_liquid_at_zero_gauge_is_driven_by_its_head_alone():
    t = PROPANE.saturation(pressure=ATMOSPHERE).temperature
    flow = liquid_release(
        PROPANE, Opening(diameter=0.02, discharge_coefficient=1.0), temperature=t, head=[0, 2.0]
    )
    density = PROPANE.saturation(temperature=t).liquid_density
    # at zero gauge the table's two directions leave 1e-10 of the pressure, under 0.1 kg/m2/s
    assert flow.mass_flux[0] == pytest.approx(0.0, abs=0.3)
    assert flow.mass_flux[1] == pytest.approx(density * math.sqrt(2.0 * 9.80665 * 2.0), rel=1e-6)
    assert vapor_release(PROPANE, HOLE, temperature=t).mass_flow < 1e-3


def test_throat_of_choked_vapor_carries_the_speed_of_sound():
    # superheated far enough to stay dry: u = G v equals the equation of state's speed of sound
    flow = vapor_release(
        PROPANE, Opening(diameter=0.02, discharge_coefficient=1.0), temperature=350.0, pressure=5e5
    )
    throat = PROPANE.gas(temperature=flow.throat_temperature, pressure=flow.throat_pressure)
    assert flow.choked
    assert flow.throat_vapor_fraction == 1.0
    # 1e-6: the flux is flat at its maximum, so the throat itself is known to half the digits
    assert flow.mass_flux / throat.density == pytest.approx(float(throat.speed_of_sound), rel=1e-6)


def test_a_mixture_of_vapor_alone_is_saturated_vapor():
    t = np.array([240.0, 270.0, 300.0, 330.0])
    mixture = two_phase_release(PROPANE, HOLE, temperature=t, vapor_fraction=1.0)
    vapor = vapor_release(PROPANE, HOLE, temperature=t)
    np.testing.assert_allclose(mixture.mass_flow, vapor.mass_flow, rtol=1e-8)


@pytest.mark.parametrize(("name", "more"), [("propane", (1.001, 1.005)), ("ammonia", (1.04, 1.05))])
def test_vapor_that_stays_dry_in_the_throat_would_pass_more(name, more):
    """What the docstring says of metastable vapor, from the equation of state continued below saturation."""
    fluid, t = Fluid(name), np.array([260.0, 280.0, 293.0])
    flux = vapor_release(fluid, Opening(diameter=0.01, discharge_coefficient=1.0), temperature=t).mass_flux
    inlet = fluid.saturation(temperature=t)
    for i, start in enumerate(t):
        throat = np.linspace(0.8 * start, 0.999 * start, 500)
        density = helmholtz.density_from_entropy(
            fluid.table.equation,
            throat,
            np.full(500, inlet.vapor_entropy[i]),
            inlet.vapor_density[i] * (throat / start) ** 8,
            iterations=30,
        )
        h = helmholtz.evaluate(fluid.table.equation, throat, density).enthalpy
        dry = (density * np.sqrt(2.0 * np.maximum(inlet.vapor_enthalpy[i] - h, 0.0))).max()
        assert more[0] < dry / flux[i] < more[1]


@pytest.mark.parametrize("name", list(SUBSTANCES))
def test_saturated_vapor_chokes_before_the_tanks_nozzle_ends(name):
    table = Fluid(name).table
    t = np.linspace(table.lowest_nozzle_temperature, table.highest_temperature, 3000)
    assert (1.0 / table.saturated(t, "vapor_critical_ratio")[0]).max() < HIGHEST_UNCHOKED_RATIO


@every_rate
@pytest.mark.parametrize(
    ("arguments", "error", "message"),
    [
        ({"temperature": 400.0}, (OutOfRangeError,), r"temperature = 400 K|pressure"),
        ({"temperature": 80.0}, (OutOfRangeError,), r"temperature = 80 K"),
        ({"temperature": float("nan")}, (InputError,), "temperature must be finite"),
        ({"temperature": True}, (InputError,), "temperature must be a number"),
        ({"temperature": 290.0, "ambient_pressure": -1.0}, (OutOfRangeError,), r"ambient_pressure = -1 Pa"),
        (
            {"temperature": 290.0, "ambient_pressure": 5e6},
            (OutOfRangeError,),
            r"ambient_pressure = 5000000 Pa",
        ),
    ],
)
def test_refusals(rate, arguments, error, message):
    if rate is RATES["superheated"] and arguments["temperature"] == 400.0:
        arguments = {"temperature": 900.0}
        message = r"temperature = 900 K"
    with pytest.raises(error, match=message):
        rate(PROPANE, HOLE, **arguments)


@every_rate
def test_refuses_wrong_kinds_and_shapes(rate):
    units = pint.UnitRegistry()
    with pytest.raises(InputError, match="fluid must be a Fluid, got 'propane'"):
        rate("propane", HOLE, temperature=290.0)
    with pytest.raises(InputError, match=r"opening must be an Opening, got 0\.025"):
        rate(PROPANE, 0.025, temperature=290.0)
    with pytest.raises(InputError, match=r"shapes do not broadcast: .*diameter \(3,\).*\(2,\)"):
        rate(PROPANE, Opening(diameter=[0.01, 0.02, 0.03]), temperature=[290.0, 291.0])
    with pytest.raises(InputError, match=r"shapes do not broadcast: .*ambient_pressure \(3,\)"):
        rate(PROPANE, HOLE, temperature=[290.0, 291.0], ambient_pressure=[1e5, 1e5, 1e5])
    with pytest.raises(InputError, match="ambient_pressure must have the dimension"):
        rate(PROPANE, HOLE, temperature=290.0, ambient_pressure=units.Quantity(300.0, "K"))
    with pytest.raises(InputError, match="temperature is a temperature, got a difference"):
        rate(PROPANE, HOLE, temperature=units.Quantity(290.0, "delta_degF"))


def test_refuses_states_that_are_not_of_the_phase():
    with pytest.raises(OutOfRangeError, match=r"pressure = 900000 Pa .*no gas above its saturation pressure"):
        vapor_release(PROPANE, HOLE, temperature=293.15, pressure=9e5)
    with pytest.raises(OutOfRangeError, match=r"pressure = 800000 Pa .*no liquid below its saturation"):
        liquid_release(PROPANE, HOLE, temperature=293.15, pressure=8e5)
    with pytest.raises(OutOfRangeError, match=r"head = -1 m .*\[0, inf\) m"):
        liquid_release(PROPANE, HOLE, temperature=293.15, head=-1.0)
    with pytest.raises(OutOfRangeError, match=r"vapor_fraction = 1.5 .*\[0, 1\]: a mass fraction"):
        two_phase_release(PROPANE, HOLE, temperature=293.15, vapor_fraction=1.5)
    with pytest.raises(InputError, match=r"model must be one of homogeneous equilibrium, .*; got 'guess'"):
        two_phase_release(PROPANE, HOLE, temperature=293.15, vapor_fraction=0.5, model="guess")
    with pytest.raises(OutOfRangeError, match=r"temperature = 196 K .*colder throat would leave the tables"):
        vapor_release(Fluid("ammonia"), HOLE, temperature=196.0)


def test_provenance_names_the_model():
    assert "isentropic nozzle" in vapor_release(PROPANE, HOLE, temperature=290.0).provenance.model
    assert "metastable" in liquid_release(PROPANE, HOLE, temperature=290.0).provenance.model
    mixture = two_phase_release(PROPANE, HOLE, temperature=290.0, vapor_fraction=0.5)
    assert mixture.provenance.model.startswith("homogeneous equilibrium: ")
    assert "CoolProp" in mixture.provenance.properties


def test_a_liquid_that_is_not_found_on_its_way_is_an_error():
    table = Fluid("propane").table
    t = np.array([200.0, 200.0])
    s, rho = table.saturated(t, "liquid_entropy", "liquid_density")
    with pytest.raises(
        ConvergenceError, match=r"padded liquid let down .* at pressure = 4000000, temperature"
    ):
        _let_down(table, np.array([4e6, 4e6]), s + np.array([0.0, 1e5]), t, rho)
