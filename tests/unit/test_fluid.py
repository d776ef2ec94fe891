"""`Fluid`: names, refusals, shapes, equal bits whatever the batch, threads, copies, remade tables."""

from __future__ import annotations

import copy
import dataclasses
import pickle
from concurrent.futures import ThreadPoolExecutor

import CoolProp
import numpy as np
import pint
import pytest
from strategies import FLUIDS

import lpgrelease as lr
from lpgrelease.fluids import helmholtz, isentrope, make_tables
from lpgrelease.fluids.critical_terms import add_critical_terms
from lpgrelease.fluids.fluid import require_converged
from lpgrelease.fluids.substances import SUBSTANCES, find_substance
from lpgrelease.fluids.table import DERIVED, FIELDS, load_table

UNITS = pint.UnitRegistry()
PROPANE = lr.Fluid("propane")
NUMBER = 10_000
CRYOGENIC = {"methane", "nitrogen"}


def fields(state):
    return {f.name: getattr(state, f.name) for f in dataclasses.fields(state) if f.name != "provenance"}


def same_bits(state, other, pick=...):
    for name, values in fields(state).items():
        alone = np.asarray(getattr(other, name))
        np.testing.assert_array_equal(np.asarray(values)[pick], alone, err_msg=name, strict=True)


def random_temperatures(fluid, number=NUMBER, reduced=0.9999):
    high = min(reduced * fluid.critical_temperature, fluid.highest_temperature)
    return np.random.default_rng(7).uniform(fluid.lowest_temperature, high, number)


# -- names ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("substance", SUBSTANCES.values(), ids=lambda s: s.name)
def test_every_name_alias_and_number_is_understood(substance):
    for name in (substance.name, substance.name.upper(), f"  {substance.cas} ", *substance.aliases):
        assert lr.Fluid(name).name == substance.name
        assert lr.Fluid(name) == lr.Fluid(substance.name)


def test_no_alias_means_two_substances():
    owners = {}
    for substance in SUBSTANCES.values():
        for alias in (substance.name, substance.cas, *substance.aliases):
            assert owners.setdefault(alias.casefold(), substance.name) == substance.name


def test_a_mapping_of_one_substance():
    assert lr.Fluid({"R290": 1.0}) == PROPANE
    assert lr.Fluid({"propane": 1}, basis="mass") == PROPANE


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("propan", r"unknown fluid 'propan'; nearest: propane, .*; served: propane, propylene, "),
        ("butan", r"nearest: n-butane"),
        ("xylophone", r"unknown fluid 'xylophone'; nearest: .*served: propane"),
        ("", r"unknown fluid ''"),
        (5, "a fluid is named by a string, got 5"),
        (None, "a fluid is named by a string, got None"),
        ({}, "must add up to 1, these to 0"),
        ({"propane": 0.9}, "must add up to 1, these to 0.9"),
        ({"propane": True}, "fraction of propane must be a number"),
        ({"propan": 1.0}, "nearest: propane"),
    ],
)
def test_unknown_names_are_refused(name, message):
    with pytest.raises(lr.InputError, match=message):
        lr.Fluid(name)


def test_an_unknown_basis_is_refused():
    with pytest.raises(lr.InputError, match="basis must be one of mole, mass, liquid volume; got 'volume'"):
        lr.Fluid("propane", basis="volume")


# -- refusals ---------------------------------------------------------------------------------------

CALLS = {
    "saturation at a temperature": (lambda x: PROPANE.saturation(temperature=x), "temperature", "K"),
    "saturation at a pressure": (lambda x: PROPANE.saturation(pressure=x), "pressure", "Pa"),
    "transport": (lambda x: PROPANE.transport(temperature=x), "temperature", "K"),
    "gas, temperature": (lambda x: PROPANE.gas(temperature=x, pressure=1e5), "temperature", "K"),
    "gas, pressure": (lambda x: PROPANE.gas(temperature=300.0, pressure=x), "pressure", "Pa"),
    "liquid, temperature": (lambda x: PROPANE.liquid(temperature=x, pressure=5e6), "temperature", "K"),
    "liquid, pressure": (lambda x: PROPANE.liquid(temperature=300.0, pressure=x), "pressure", "Pa"),
}


@pytest.mark.parametrize(("call", "name", "unit"), CALLS.values(), ids=CALLS)
@pytest.mark.parametrize(
    ("bad", "message"),
    [
        (np.nan, "must be finite, got nan"),
        ([300.0, np.inf], "must be finite, got inf among"),
        ("300", "must be a number"),
        (True, "must be a number"),
        (300j, "must be a number"),
        ([[300.0], [1.0, 2.0]], "regular array"),
        (np.ma.array([300.0, 1.0], mask=[0, 1]), "masked arrays are not taken"),
        ([UNITS.Quantity(300.0, "K")], "not a list of quantities"),
        (UNITS.Quantity(3.0, "m"), "must have the dimension of"),
    ],
    ids=["nan", "inf", "text", "bool", "complex", "ragged", "masked", "list of quantities", "dimension"],
)
def test_what_is_no_number_of_that_kind_is_refused(call, name, unit, bad, message):
    with pytest.raises(lr.InputError, match=rf"^{name}.*{message}"):
        call(bad)


@pytest.mark.parametrize(("call", "name", "unit"), CALLS.values(), ids=CALLS)
@pytest.mark.parametrize("bad", [-5.0, 0.0, 1e9])
def test_what_is_out_of_range_is_refused_with_the_range(call, name, unit, bad):
    with pytest.raises(lr.OutOfRangeError, match=rf"^{name} = .* {unit} is outside the allowed range") as e:
        call(bad)
    assert (e.value.argument, e.value.value, e.value.unit) == (name, bad, unit)
    assert e.value.why
    assert "propane" in e.value.why or e.value.why in ("the lower end excluded", "compressed liquid")


@pytest.mark.parametrize("name", FLUIDS)
def test_the_ends_of_the_table_are_served_and_nothing_beyond(name):
    fluid = lr.Fluid(name)
    ends = np.array([fluid.lowest_temperature, fluid.highest_temperature])
    state = fluid.saturation(temperature=ends)
    assert all(np.isfinite(values).all() for values in fields(state).values())
    back = fluid.saturation(pressure=state.pressure)
    np.testing.assert_allclose(back.temperature, ends, rtol=1e-9)
    end = "lower end of its equation" if name == "methyl chloride" else "triple point"
    for beyond in (np.nextafter(ends[0], 0.0), np.nextafter(ends[1], 1e3)):
        with pytest.raises(lr.OutOfRangeError, match=rf"saturation of {name}, .*{end} .*critical"):
            fluid.saturation(temperature=beyond)
    for beyond in (state.pressure[0] * 0.999, state.pressure[1] * 1.0001, fluid.critical_pressure * 1.01):
        with pytest.raises(lr.OutOfRangeError, match=f"saturation pressures of {name} served"):
            fluid.saturation(pressure=beyond)
    cold = fluid.triple_temperature if name in CRYOGENIC else max(fluid.triple_temperature, 120.0)
    assert fluid.lowest_temperature == cold
    assert fluid.highest_temperature == pytest.approx(0.9999 * fluid.critical_temperature, rel=1e-12)


def test_a_difference_is_no_temperature():
    with pytest.raises(lr.InputError, match="temperature is a temperature, got a difference"):
        PROPANE.saturation(temperature=UNITS.Quantity(540.0, "delta_degF"))


def test_exactly_one_of_temperature_and_pressure():
    with pytest.raises(
        lr.InputError, match="exactly one of temperature, pressure; got temperature, pressure"
    ):
        PROPANE.saturation(temperature=300.0, pressure=1e5)
    with pytest.raises(lr.InputError, match="exactly one of temperature, pressure; got none"):
        PROPANE.saturation()


def test_wrong_phases_are_refused():
    with pytest.raises(lr.OutOfRangeError, match=r"no gas above its saturation pressure") as caught:
        PROPANE.gas(temperature=[300.0, 293.15], pressure=9e5)
    assert caught.value.upper == pytest.approx(836461.0, rel=1e-6)
    with pytest.raises(lr.OutOfRangeError, match=r"no liquid below its saturation pressure") as caught:
        PROPANE.liquid(temperature=[280.0, 293.15], pressure=8e5)
    assert caught.value.lower == pytest.approx(836461.0, rel=1e-6)
    with pytest.raises(lr.OutOfRangeError, match=r"compressed liquid"):
        PROPANE.liquid(temperature=300.0, pressure=11e6)


def test_gas_above_the_critical_temperature_is_served_to_the_critical_pressure():
    hot = 1.05 * PROPANE.critical_temperature
    assert PROPANE.gas(temperature=hot, pressure=PROPANE.critical_pressure).density > 0.0
    with pytest.raises(lr.OutOfRangeError, match="no gas above"):
        PROPANE.gas(temperature=hot, pressure=1.001 * PROPANE.critical_pressure)
    # just below the critical temperature, above the table, what lies over saturation is a liquid
    near = 0.99995 * PROPANE.critical_temperature
    with pytest.raises(lr.OutOfRangeError, match="no gas above"):
        PROPANE.gas(temperature=near, pressure=0.99995 * PROPANE.critical_pressure)


def test_the_phases_meet_at_saturation():
    state = PROPANE.saturation(temperature=[250.0, 300.0, 350.0])
    vapor = PROPANE.gas(temperature=state.temperature, pressure=state.pressure)
    liquid = PROPANE.liquid(temperature=state.temperature, pressure=state.pressure)
    np.testing.assert_allclose(vapor.density, state.vapor_density, rtol=1e-9)
    np.testing.assert_allclose(liquid.density, state.liquid_density, rtol=1e-9)
    np.testing.assert_allclose(vapor.enthalpy - liquid.enthalpy, state.latent_heat, rtol=1e-9)
    np.testing.assert_allclose(
        vapor.entropy - liquid.entropy, state.latent_heat / state.temperature, rtol=1e-9
    )


def test_shapes_that_do_not_broadcast():
    for call in (PROPANE.gas, PROPANE.liquid):
        with pytest.raises(lr.InputError, match=r"temperature \(2,\), pressure \(3,\)"):
            call(temperature=[290.0, 300.0], pressure=[1e5] * 3)


# -- transport: the range of each correlation ---------------------------------------------------------


def test_transport_outside_a_published_range_is_refused():
    with pytest.raises(lr.OutOfRangeError, match="range of liquid viscosity of isobutene; extrapolate") as e:
        lr.Fluid("isobutene").transport(temperature=[260.0, 300.0])
    assert (e.value.value, e.value.upper) == (300.0, 266.25)


def test_transport_outside_a_published_range_on_request():
    isobutene = lr.Fluid("isobutene")
    with pytest.warns(lr.ValidityWarning, match="isobutene: outside the published range of liquid viscosity"):
        state = isobutene.transport(temperature=300.0, extrapolate=True)
    assert state.provenance.outside_validity == ("published range of liquid viscosity, 132.81 to 266.25 K",)
    edge = isobutene.transport(temperature=266.25)
    assert edge.provenance.outside_validity == ()
    # held at the end, as documented; the end is a kink inside one segment of the table
    assert state.liquid_viscosity == pytest.approx(edge.liquid_viscosity, rel=1e-3)


# whose correlations of liquid and vapor do not overlap, or barely
WITHOUT_OVERLAP = {"1-butene", "isobutene", "1,3-butadiene", "ethylene oxide", "methylamine"}


@pytest.mark.parametrize("name", sorted(set(FLUIDS) - WITHOUT_OVERLAP))
def test_transport_is_positive_in_its_range(name):
    fluid = lr.Fluid(name)
    ranges = fluid.table.origin["transport_ranges"].values()
    low, high = max(r[0] for r in ranges), min(r[1] for r in ranges)
    if name != "carbon dioxide":  # it sublimes
        assert low < fluid.normal_boiling_point + 1.0 < high
    state = fluid.transport(temperature=np.linspace(low, high, 500))
    at_end = "surface_tension"  # vanishes a little below the critical temperature
    assert all((values > 0.0).all() for field, values in fields(state).items() if field != at_end)
    assert (state.surface_tension >= 0.0).all()
    assert (np.diff(state.liquid_viscosity) < 0.0).all()


# -- shapes and bits ----------------------------------------------------------------------------------


@pytest.mark.parametrize("shape", [(0,), (0, 3), (2, 0)])
def test_empty_arrays_give_empty_results(shape):
    empty = np.empty(shape)
    for state in (
        PROPANE.saturation(temperature=empty),
        PROPANE.saturation(pressure=empty),
        PROPANE.transport(temperature=empty),
        PROPANE.gas(temperature=empty, pressure=1e5),
        PROPANE.liquid(temperature=300.0, pressure=empty),
    ):
        assert {np.shape(values) for values in fields(state).values()} == {shape}


@pytest.mark.parametrize("shape", [(), (1,), (3,), (2, 3), (2, 1, 3)])
def test_results_have_the_shape_of_the_arguments(shape):
    t = np.full(shape, 300.0)
    for state in (
        PROPANE.saturation(temperature=t),
        PROPANE.saturation(pressure=t * 1e3),
        PROPANE.transport(temperature=t),
        PROPANE.gas(temperature=t, pressure=1e5),
        PROPANE.liquid(temperature=300.0, pressure=t * 1e4),
    ):
        for values in fields(state).values():
            assert np.shape(values) == shape
            assert type(values) is (np.ndarray if shape else np.float64)


def test_results_own_their_arrays():
    t = np.array([290.0, 300.0])
    for state in (PROPANE.saturation(temperature=t), PROPANE.gas(temperature=t, pressure=1e5)):
        assert not any(np.shares_memory(values, t) for values in fields(state).values())


def calls_of(fluid, t):
    p = fluid.saturation(temperature=t).pressure
    return {
        "saturation": lambda i: fluid.saturation(temperature=t[i]),
        "inverse": lambda i: fluid.saturation(pressure=p[i]),
        "gas": lambda i: fluid.gas(temperature=t[i], pressure=0.7 * p[i]),
        "liquid": lambda i: fluid.liquid(temperature=t[i], pressure=np.minimum(1.3 * p[i], 10e6)),
    }


@pytest.mark.parametrize("name", FLUIDS)
def test_one_of_ten_thousand_is_equal_to_the_bit(name):
    fluid = lr.Fluid(name)
    t = random_temperatures(fluid, reduced=0.95)
    t[1] = fluid.lowest_temperature
    for kind, call in calls_of(fluid, t).items():
        if kind in ("gas", "liquid") and name not in ("propane", "ammonia", "carbon dioxide", "R134a"):
            continue  # every other equation consists of the terms of these; keeps the run short
        together = call(slice(None))
        for i in (0, 1, 2, 4095, 4096, NUMBER // 3, NUMBER - 2, NUMBER - 1):
            same_bits(together, call(i), i)
            same_bits(together, call(slice(i, i + 1)), slice(i, i + 1))


@pytest.mark.parametrize("name", ["propane", "ammonia", "ethane"])
def test_transport_of_one_of_ten_thousand_is_equal_to_the_bit(name):
    fluid = lr.Fluid(name)
    t = random_temperatures(fluid, reduced=0.97)
    together = fluid.transport(temperature=t)
    for i in (0, 1, 4096, NUMBER - 1):
        same_bits(together, fluid.transport(temperature=t[i]), i)


@pytest.mark.parametrize("name", ["propane", "ammonia"])
@pytest.mark.parametrize(
    "pick",
    [slice(None, None, -1), slice(None, None, 3), slice(1, None, 7), slice(-1, 0, -5)],
    ids=["reversed", "every third", "every seventh", "reversed fifths"],
)
def test_strided_arrays_give_equal_bits(name, pick):
    fluid = lr.Fluid(name)
    t = random_temperatures(fluid, 2000, reduced=0.95)
    for call in calls_of(fluid, t).values():
        same_bits(call(slice(None)), call(pick), pick)


def test_columns_and_transposes_give_equal_bits():
    t = random_temperatures(PROPANE, 1200, reduced=0.95)
    grid = t.reshape(40, 30)
    for pick in (np.s_[:, 3], np.s_[::2, ::-1], np.s_[5]):
        calls = calls_of(PROPANE, grid)
        for call in calls.values():
            same_bits(call(...), call(pick), pick)
    for call, turned in zip(
        calls_of(PROPANE, grid).values(), calls_of(PROPANE, grid.T).values(), strict=True
    ):
        together, other = call(...), turned(...)
        for field, values in fields(together).items():
            np.testing.assert_array_equal(values.T, getattr(other, field), err_msg=field)


def test_the_kernel_gives_equal_bits_for_strided_arrays():
    t = random_temperatures(PROPANE, 3000)
    names = [*FIELDS, *DERIVED]
    together = PROPANE.saturated(t, *names)
    for pick in (np.s_[::-1], np.s_[::3], np.s_[::-7], np.s_[1700:1701]):
        for name, values, other in zip(names, together, PROPANE.saturated(t[pick], *names), strict=True):
            np.testing.assert_array_equal(values[pick], other, err_msg=name)
    p = together[names.index("pressure")]
    for pick in (np.s_[::-1], np.s_[::3], np.s_[1700:1701]):
        np.testing.assert_array_equal(
            PROPANE.saturation_temperature(p)[pick], PROPANE.saturation_temperature(p[pick])
        )
    alone = PROPANE.saturated(t[17], *names)
    for name, values, other in zip(names, together, alone, strict=True):
        assert values[17] == other, name
        assert type(other) is np.float64, name


def test_a_name_asked_alone_or_with_others_has_equal_bits():
    t = random_temperatures(PROPANE, 500)
    together = dict(zip([*FIELDS, *DERIVED], PROPANE.saturated(t, *FIELDS, *DERIVED), strict=True))
    for name, values in together.items():
        np.testing.assert_array_equal(PROPANE.saturated(t, name)[0], values, err_msg=name)


def test_eight_threads_share_a_fluid():
    t = random_temperatures(PROPANE, 600, reduced=0.95)
    lr.fluids.fluid.load_table.cache_clear()
    with ThreadPoolExecutor(8) as pool:
        for kind in calls_of(PROPANE, t):
            states = list(pool.map(lambda _, kind=kind: calls_of(PROPANE, t)[kind](slice(None)), range(24)))
            expected = calls_of(PROPANE, t)[kind](slice(None))
            assert all(state == expected for state in states)


# -- what does not burn, what poisons, what freezes ---------------------------------------------------

INERT = ["sulfur dioxide", "chlorine", "carbon dioxide", "R134a", "nitrogen", "nitrous oxide"]


def test_what_does_not_burn_says_so():
    assert [name for name in FLUIDS if not lr.Fluid(name).flammable] == INERT


@pytest.mark.parametrize("name", INERT)
def test_limits_and_heat_of_what_does_not_burn_are_refused(name):
    fluid = lr.Fluid(name)
    with pytest.raises(lr.InputError, match=f"{name} does not burn in air: no flammable limits"):
        _ = fluid.flammable_limits
    with pytest.raises(lr.InputError, match=f"{name} does not burn in air: no heat of combustion"):
        _ = fluid.heat_of_combustion


POISONS = {
    "ammonia": 300,
    "vinyl chloride": None,
    "methyl chloride": 2000,
    "ethylene oxide": 800,
    "propylene oxide": 400,
    "methylamine": 100,
    "sulfur dioxide": 100,
    "chlorine": 10,
    "carbon dioxide": 40000,
}


def test_poisons_are_marked_with_the_level_that_is_immediately_dangerous():
    assert {name for name in FLUIDS if lr.Fluid(name).toxic} == set(POISONS)
    for name, ppm in POISONS.items():
        substance = lr.Fluid(name).substance
        assert substance.toxicity_source
        assert (substance.immediately_dangerous is None) == (ppm is None)
        first = lr.Fluid(name).cautions[0]
        assert first.startswith(f"{name.capitalize()} is poisonous")
        if ppm:
            assert substance.immediately_dangerous == pytest.approx(1e-6 * ppm)
            assert f"at {ppm:,} ppm in air" in first


def test_cautions_name_what_else_a_cargo_does():
    assert PROPANE.cautions == ()
    assert any("causes cancer" in text for text in lr.Fluid("1,3-butadiene").cautions)
    assert any("without air" in text for text in lr.Fluid("ethylene oxide").cautions)
    assert any("dry ice" in text for text in lr.Fluid("carbon dioxide").cautions)
    assert any("decompose" in text for text in lr.Fluid("nitrous oxide").cautions)


def test_carbon_dioxide_below_its_triple_point_is_refused_as_dry_ice():
    cargo = lr.Fluid("CO2")
    dry_ice = "vapor and dry ice"
    with pytest.raises(lr.OutOfRangeError, match=rf"^pressure = 101325 Pa .*{dry_ice}") as caught:
        cargo.saturation(pressure=101325.0)
    # haynes2014handbook: triple point 216.58 K, 0.5185 MPa (from memory); the equation's to 0.2 %
    assert caught.value.lower == pytest.approx(0.5185e6, rel=2e-3)
    with pytest.raises(lr.OutOfRangeError, match=rf"^temperature = 200 K .*{dry_ice}"):
        cargo.saturation(temperature=200.0)
    with pytest.raises(lr.OutOfRangeError, match=dry_ice):
        _ = cargo.normal_boiling_point
    assert cargo.saturation(pressure=5.2e5).temperature == pytest.approx(216.7, abs=0.1)


# -- copies -------------------------------------------------------------------------------------------


def test_a_fluid_is_its_name():
    assert [f.name for f in dataclasses.fields(PROPANE)] == ["name", "components", "fractions"]
    assert not hasattr(PROPANE, "__dict__")
    assert len(pickle.dumps(PROPANE)) < 100
    assert pickle.loads(pickle.dumps(PROPANE)) == copy.deepcopy(PROPANE) == PROPANE
    assert len({PROPANE, lr.Fluid("R290"), lr.Fluid("ethane")}) == 2
    assert repr(PROPANE) == "Fluid(name='propane')"
    with pytest.raises(dataclasses.FrozenInstanceError):
        PROPANE.name = "ethane"


@pytest.mark.parametrize("name", FLUIDS)
def test_constants_are_plain_and_ordered(name):
    fluid = lr.Fluid(name)
    assert 0.016 < fluid.molar_mass < 0.103
    assert fluid.triple_temperature < fluid.critical_temperature
    assert fluid.critical_pressure > 101325.0
    if name != "carbon dioxide":
        assert fluid.triple_temperature < fluid.normal_boiling_point < fluid.critical_temperature
        boiling = fluid.saturation(temperature=fluid.normal_boiling_point)
        assert float(boiling.pressure) == pytest.approx(101325.0, rel=1e-9)
    if fluid.flammable:
        lower, upper = fluid.flammable_limits
        assert 0.0 < lower < upper <= 1.0
        assert fluid.heat_of_combustion == find_substance(name).heat_of_combustion_lower
    assert fluid.saturation(temperature=0.85 * fluid.critical_temperature).provenance.sources


def test_critical_terms_are_derivatives_of_each_other():
    # central differences of the value in ln(tau) and ln(delta), 1e-4: truncation 1e-8 of the third derivative
    table = load_table("carbon dioxide")
    tau, delta = np.meshgrid([0.97, 1.01, 1.05, 1.3], [0.02, 0.7, 0.98, 1.05, 2.4])
    tau, delta = tau.ravel(), delta.ravel()
    step = 1e-4

    def sums(shift_tau, shift_delta):
        nothing = [np.zeros_like(tau)] * 6
        moved = tau * np.exp(shift_tau * step), delta * np.exp(shift_delta * step)
        return add_critical_terms(table.equation.critical, *moved, nothing)

    value, by_delta, by_tau, by_delta2, by_both, by_tau2 = sums(0, 0)
    scale = 1e-6 + np.abs(np.array([value, by_delta, by_tau, by_delta2, by_both, by_tau2])).max()
    slope = [(a - b) / (2 * step) for a, b in zip(sums(0, 1), sums(0, -1), strict=True)]
    np.testing.assert_allclose(slope[0], by_delta, atol=1e-5 * scale)
    np.testing.assert_allclose(slope[1], by_delta2 + by_delta, atol=1e-4 * scale)
    np.testing.assert_allclose(slope[2], by_both, atol=1e-4 * scale)
    slope = [(a - b) / (2 * step) for a, b in zip(sums(1, 0), sums(-1, 0), strict=True)]
    np.testing.assert_allclose(slope[0], by_tau, atol=1e-5 * scale)
    np.testing.assert_allclose(slope[2], by_tau2 + by_tau, atol=1e-4 * scale)


@pytest.mark.parametrize("name", ["1,3-butadiene", "methylamine", "propylene oxide"])
def test_pressure_of_a_fitted_equation_rises_with_density_outside_the_dome(name):
    fluid, equation = lr.Fluid(name), load_table(name).equation
    share = np.linspace(1e-4, 1.0, 400)
    for t in np.linspace(fluid.lowest_temperature, 0.98 * fluid.critical_temperature, 20):
        liquid, vapor = fluid.saturated(np.float64(t), "liquid_density", "vapor_density")
        for density in (share * vapor, (1.0 + 0.1 * share) * liquid):
            state = helmholtz.evaluate(equation, np.full_like(density, t), density)
            assert (state.stiffness * state.pressure > 0.0).all()
            assert (state.isochoric_heat_capacity > 2.9 * equation.gas_constant).all()


# -- tables ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["propane", "ammonia"])
def test_remade_tables_equal_the_shipped_ones(name):
    table = load_table(name)
    if CoolProp.__version__ != table.origin["coolprop_version"]:
        pytest.skip("another CoolProp made the shipped tables")
    arrays, numbers = make_tables.build(find_substance(name))
    shipped = {
        "saturation": table.saturation.coefficients,
        "inverse": table.inverse.coefficients,
        "planck_einstein": table.equation.planck_einstein,
        "residual": table.equation.residual,
    }
    assert arrays.keys() == shipped.keys()
    for key, values in shipped.items():
        scale = np.abs(values).max(axis=(0, 2), keepdims=True) if values.ndim == 3 else np.abs(values)
        off = np.abs(arrays[key] - values) / np.where(scale > 0.0, scale, 1.0)
        if key == "saturation":
            # the place of a flat maximum is known to the root of round-off only, the maximum itself fully
            assert off[:, FIELDS.index("vapor_critical_ratio")].max() <= 1e-6
            off = np.delete(off, FIELDS.index("vapor_critical_ratio"), axis=1)
        assert off.max() <= 1e-12, key
    assert numbers["transport_ranges"] == table.origin["transport_ranges"]
    for key in ("critical_temperature", "critical_pressure", "molar_mass", "lowest_nozzle_temperature"):
        assert numbers[key] == pytest.approx(getattr(table, key), rel=1e-12)


def test_the_command_writes_equal_bytes(tmp_path, monkeypatch):
    shipped = make_tables.resources.files("lpgrelease")
    (tmp_path / "data" / "fluids").mkdir(parents=True)
    monkeypatch.setattr(make_tables.resources, "files", lambda _: tmp_path)
    name = "ethane"
    with np.load(shipped / "data" / "fluids" / f"{name}.npz") as file:
        arrays = {key: file[key] for key in file.files}
    origin = make_tables.json.loads(str(arrays.pop("origin")))
    make_tables.write(name, arrays, origin)
    written = tmp_path / "data" / "fluids" / f"{name}.npz"
    assert written.read_bytes() == (shipped / "data" / "fluids" / f"{name}.npz").read_bytes()


@pytest.mark.parametrize("name", ["propane", "n-butane", "ammonia"])
def test_tabulated_slopes_are_those_of_the_tabulated_functions(name):
    table = load_table(name)
    t = np.linspace(table.lowest_temperature + 10.0, 0.95 * table.critical_temperature, 50)
    step = 1e-3
    for function, slope in (
        ("inventory_energy_per_mass", "inventory_slope_per_mass"),
        ("inventory_energy_per_volume", "inventory_slope_per_volume"),
    ):
        above, below = (table.saturated(t + sign * step, function)[0] for sign in (1.0, -1.0))
        exact = table.saturated(t, slope)[0]
        # central difference: 1e-16 of a value some 1e3 K times its slope, over 1e-3 K
        np.testing.assert_allclose((above - below) / (2.0 * step), exact, rtol=1e-6)


@pytest.mark.parametrize("name", ["propane", "ammonia"])
def test_tabulated_choked_flux_is_the_largest_on_the_isentrope(name):
    table = load_table(name)
    t = np.linspace(table.lowest_nozzle_temperature, 0.97 * table.critical_temperature, 25)[1:]
    flux, h, s = table.saturated(t, "vapor_critical_flux", "vapor_enthalpy", "vapor_entropy")
    scan = np.zeros_like(t)
    for share in np.linspace(0.6, 1.0, 2001)[:-1]:
        throat = np.maximum(share * t, table.lowest_temperature)
        state = isentrope.state_at_temperature(table, s, throat)
        scan = np.maximum(scan, np.sqrt(2.0 * np.maximum(h - state.enthalpy, 0.0)) / state.specific_volume)
    assert (scan <= flux * (1.0 + 1e-9)).all()
    np.testing.assert_allclose(scan, flux, rtol=1e-5)  # a scan in 2,000 steps misses a flat top by less


def test_a_density_that_was_not_found_is_said_with_its_state():
    t, p = np.array([300.0, 310.0, 320.0]), np.array([1e5, 2e5, 3e5])
    require_converged("propane", np.array([9e-9, -9e-9, 0.0]), t, p)
    require_converged("propane", np.zeros(0), np.zeros(0), np.zeros(0))
    for residual in (-2e-8, np.nan):
        with pytest.raises(
            lr.ConvergenceError, match="density of propane from temperature and pressure"
        ) as said:
            require_converged("propane", np.array([1e-9, residual, 0.0]), t, p)
        assert said.value.last_state == {"temperature": 310.0, "pressure": 2e5}
