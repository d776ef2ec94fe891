"""Blends: edges, refusals by message, shapes, grades."""

from __future__ import annotations

import pickle

import numpy as np
import pytest

import lpgrelease as lr
from lpgrelease.fluids.equilibrium import LIQUID, bubble_point
from lpgrelease.fluids.grades import GRADES, find_grade
from lpgrelease.fluids.mixture import load_mixture

BLEND = lr.Fluid({"propane": 0.6, "n-butane": 0.4})
SATURATED = BLEND.saturation(temperature=293.15)
ENTHALPY = float(SATURATED.liquid_enthalpy)


# -- compositions ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("composition", "basis", "message"),
    [
        (
            {"nitrogen": 0.01, "1-butene": 0.99},
            "mole",
            "no published interaction parameter of nitrogen with 1-butene",
        ),
        (
            {"methane": 0.01, "isobutene": 0.99},
            "mole",
            "no published interaction parameter of methane with isobutene",
        ),
        ({"ammonia": 0.1, "propane": 0.9}, "mole", "ammonia is not served in blends; served: methane"),
        ({"benzene": 0.1, "propane": 0.9}, "mole", "unknown fluid 'benzene'"),
        ({"propane": 0.5, "R290": 0.5}, "mole", "propane stands twice"),
        ({"propane": 0.5, "n-butane": 0.4}, "mole", r"must add up to 1, these to 0\.9"),
        ({"nitrogen": 0.01, "propane": 0.99}, "liquid volume", "nitrogen has no liquid density at 60 degF"),
        ({"methane": 0.3, "n-hexane": 0.7}, "mole", "no bubble point at 268 K"),
    ],
)
def test_compositions_refused(composition, basis, message):
    with pytest.raises(lr.InputError, match=message):
        lr.Fluid(composition, basis=basis)


def test_fractions_outside_0_to_1_are_refused():
    with pytest.raises(lr.OutOfRangeError, match=r"fraction of propane = 1\.2"):
        lr.Fluid({"propane": 1.2, "n-butane": -0.2})


def test_a_pair_without_a_parameter_is_told():
    blend = lr.Fluid({"isobutane": 0.5, "1-butene": 0.5})
    assert "interaction taken as zero: isobutane with 1-butene" in blend.credit
    assert "taken as zero" not in BLEND.credit


def test_close_boiling_blends_are_served():
    """K-values near one are no sign of a critical point."""
    blend = lr.Fluid({"propane": 0.1, "propylene": 0.9})
    assert blend.lowest_temperature < 150.0
    assert blend.highest_temperature > 340.0


def test_bases_agree_on_one_blend():
    # one liter of each at 60 degF
    density, mass = {"propane": 0.5072, "n-butane": 0.5842}, {"propane": 44.09562, "n-butane": 58.1222}
    moles = {name: density[name] / mass[name] for name in density}
    by_mole = {name: value / sum(moles.values()) for name, value in moles.items()}
    by_mass = {name: value / sum(density.values()) for name, value in density.items()}
    volume = lr.Fluid({"propane": 0.5, "n-butane": 0.5}, basis="liquid volume")
    np.testing.assert_allclose(volume.fractions, lr.Fluid(by_mole).fractions, rtol=1e-12)
    np.testing.assert_allclose(volume.fractions, lr.Fluid(by_mass, basis="mass").fractions, rtol=1e-12)


# -- grades ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", GRADES)
def test_grades_are_fluids_that_tell_their_standard_and_assumption(name):
    fluid = lr.Fluid(name)
    assert fluid.name == name
    assert fluid.is_blend
    assert fluid.grade.standard
    assert fluid.grade.assumption
    assert sum(fluid.fractions) == pytest.approx(1.0, rel=1e-12)
    assert sum(fraction for _, fraction in fluid.grade.composition) == pytest.approx(1.0, rel=1e-12)
    state = lr.bubble_point(fluid, temperature=280.0)
    assert f"composition assumed for {name}" in state.provenance.properties
    assert f"composition assumed for {name}" in lr.flash(fluid, temperature=280.0).provenance.properties
    for alias in fluid.grade.aliases:
        assert lr.Fluid(alias.upper()) == fluid
    assert pickle.loads(pickle.dumps(fluid)) == fluid


def test_no_alias_means_two_things():
    names = [alias.casefold() for grade in GRADES.values() for alias in (grade.name, *grade.aliases)]
    assert len(names) == len(set(names))
    for name in names:
        with pytest.raises(lr.InputError):
            lr.fluids.substances.find_substance(name)


def test_other_fluids_have_no_grade():
    assert BLEND.grade is None
    assert lr.Fluid("propane").grade is None
    assert find_grade("propane") is None
    assert find_grade(3) is None


def test_unknown_names_list_the_grades():
    with pytest.raises(
        lr.InputError, match=r"unknown fluid 'propan 95'.*grades: commercial propane, HD-5 propane"
    ):
        lr.Fluid("propan 95")


def test_grades_cannot_be_parts_of_a_blend():
    with pytest.raises(lr.InputError, match="unknown fluid 'commercial propane'"):
        lr.Fluid({"commercial propane": 0.5, "n-butane": 0.5})


# -- equilibrium: refusals -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("state", "error", "message"),
    [
        ({"temperature": 300.0}, lr.InputError, "give two properties, one of"),
        ({"temperature": 300.0, "entropy": 1.0}, lr.InputError, "give two properties, one of"),
        ({"temperature": 300.0, "pressure": 1e5, "density": 1.0}, lr.InputError, "give two properties"),
        ({"temperature": float("nan"), "pressure": 1e5}, lr.InputError, "temperature must be finite"),
        ({"temperature": 400.0, "pressure": 1e5}, lr.OutOfRangeError, "temperature = 400 K"),
        ({"temperature": 100.0, "pressure": 1e5}, lr.OutOfRangeError, "temperature = 100 K"),
        ({"temperature": 300.0, "pressure": 2e7}, lr.OutOfRangeError, "pressure = 2"),
        ({"temperature": 300.0, "pressure": 0.5}, lr.OutOfRangeError, "pressure = 0.5 Pa"),
        ({"temperature": 300.0, "density": 700.0}, lr.OutOfRangeError, "density = 700 .* liquid's at 10 MPa"),
        ({"temperature": 300.0, "density": -1.0}, lr.OutOfRangeError, "density = -1"),
        ({"pressure": 5e6, "enthalpy": ENTHALPY}, lr.OutOfRangeError, "pressure = 5000000 Pa"),
        (
            {"pressure": 1e5, "enthalpy": ENTHALPY - 4e5},
            lr.OutOfRangeError,
            r"temperature = 91\..*state asked for",
        ),
        (
            {"pressure": 1e5, "enthalpy": ENTHALPY + 1.2e6},
            lr.OutOfRangeError,
            r"temperature = 645\..*\[134.895, 500\]",
        ),
        (
            {"pressure": 1e5, "enthalpy": ENTHALPY + 5e6},
            lr.ConvergenceError,
            "phase equilibrium of 60 % propane",
        ),
        ({"pressure": 1e5, "entropy": -5e3}, lr.OutOfRangeError, "temperature = "),
    ],
)
def test_states_refused(state, error, message):
    with pytest.raises(error, match=message):
        lr.equilibrium(BLEND, **state)


@pytest.mark.parametrize("call", [lr.bubble_point, lr.dew_point])
def test_points_refused(call):
    with pytest.raises(lr.InputError, match="fluid must be a Fluid, got 'propane'"):
        call("propane", temperature=300.0)
    with pytest.raises(lr.InputError, match="exactly one of temperature, pressure"):
        call(BLEND, temperature=300.0, pressure=1e5)
    with pytest.raises(lr.OutOfRangeError, match=r"temperature = 395 K .*bubble line of 60 % propane"):
        call(BLEND, temperature=395.0)
    with pytest.raises(lr.OutOfRangeError, match="pressure = 5000000 Pa"):
        call(BLEND, pressure=5e6)


def test_one_phase_is_refused_on_the_wrong_side():
    between = 0.5 * float(SATURATED.pressure + lr.dew_point(BLEND, temperature=293.15).pressure)
    with pytest.raises(lr.OutOfRangeError, match="condenses above its dew point"):
        BLEND.gas(temperature=293.15, pressure=between)
    with pytest.raises(lr.OutOfRangeError, match="boils below its bubble point"):
        BLEND.liquid(temperature=293.15, pressure=between)


@pytest.mark.parametrize("name", ["critical_temperature", "critical_pressure", "substance", "table"])
def test_what_belongs_to_pure_fluids_is_refused(name):
    with pytest.raises(lr.InputError, match="is a blend"):
        getattr(BLEND, name)


# -- equilibrium: edges, shapes --------------------------------------------------------------------------


def test_shapes_and_components_last():
    t = np.linspace(250.0, 300.0, 6).reshape(2, 3)
    state = lr.equilibrium(BLEND, temperature=t, pressure=3e5)
    assert state.density.shape == (2, 3)
    assert state.liquid_composition.shape == (2, 3, 2)
    empty = lr.equilibrium(BLEND, temperature=np.array([]), pressure=3e5)
    assert empty.density.shape == (0,)
    assert empty.vapor_composition.shape == (0, 2)
    assert lr.bubble_point(BLEND, temperature=280.0).vapor_composition.shape == (2,)


def test_saturated_states_come_back():
    """Exactly at the bubble point and at the dew point, by every pair."""
    boils, condenses = (call(BLEND, temperature=293.15) for call in (lr.bubble_point, lr.dew_point))
    for point, fraction in ((boils, 0.0), (condenses, 1.0)):
        at = lr.equilibrium(BLEND, temperature=293.15, pressure=point.pressure)
        assert float(at.vapor_fraction) == fraction
        for pair in (
            {"pressure": at.pressure, "enthalpy": at.enthalpy},
            {"pressure": at.pressure, "entropy": at.entropy},
            {"temperature": at.temperature, "density": at.density},
        ):
            again = lr.equilibrium(BLEND, **pair)
            assert float(again.vapor_fraction) == pytest.approx(fraction, abs=1e-7)
            assert float(again.temperature) == pytest.approx(293.15, rel=1e-8)


def test_a_pure_fluid_is_answered_too():
    propane = lr.Fluid("propane")
    saturation = propane.saturation(temperature=280.0)
    assert lr.bubble_point(propane, temperature=280.0).pressure == saturation.pressure
    half = 0.5 * (saturation.liquid_enthalpy + saturation.vapor_enthalpy)
    state = lr.equilibrium(propane, pressure=saturation.pressure, enthalpy=half)
    assert float(state.vapor_fraction) == pytest.approx(0.5, abs=1e-6)
    assert state.liquid_composition.shape == (1,)


def test_a_cold_liquids_volume_has_all_its_digits():
    """Fugacities at 0.04 Pa are smooth in pressure: Cardano's formulas alone keep two digits there."""
    mixture = load_mixture(("isopentane", "isobutene"))
    p = np.exp(np.linspace(-3.28, -3.28 + 1e-6, 101))
    x = np.repeat(np.array([[0.98], [0.02]]), p.size, axis=1)
    raw, _ = mixture.phase(np.full(p.size, 132.4), p, x, LIQUID)
    smooth = raw.log_fugacity[0] + np.log(p)  # constant but for the Poynting term
    assert np.ptp(smooth) < 1e-11


def test_no_point_is_marked_not_guessed():
    mixture = load_mixture(("propane", "n-butane"))
    z = np.array([[0.5, 0.5], [0.5, 0.5]])
    point = bubble_point(
        mixture, z, temperature=np.array([300.0, 440.0])
    )  # the second above any critical point
    assert point.found.tolist() == [True, False]


def test_what_only_the_other_kind_of_fluid_has_is_refused_by_name():
    blend = lr.Fluid({"propane": 0.6, "n-butane": 0.4})
    with pytest.raises(lr.InputError, match="critical temperature is served for pure fluids only"):
        blend.tables.critical_temperature  # noqa: B018
    assert not hasattr(blend.tables, "_repr_html_")
    with pytest.raises(lr.InputError, match="propane is a pure fluid, not a blend"):
        lr.Fluid("propane").blend  # noqa: B018
    triple = [lr.Fluid(name).triple_temperature for name in blend.components]
    assert blend.triple_temperature == pytest.approx(max(triple), abs=0.5)
