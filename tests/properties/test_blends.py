"""Blends: what must hold for every composition and state drawn."""

from __future__ import annotations

import numpy as np
import pytest
from blend_cases import LP_GASES, blend_states, blends
from hypothesis import assume, given
from hypothesis import strategies as st
from strategies import UNITS, few

import lpgrelease as lr
from lpgrelease.fluids.equilibrium import (
    LIQUID,
    VAPOR,
    bubble_point,
    dew_point,
    flash_enthalpy,
    flash_entropy,
    flash_pressure,
    flash_vapor,
    flash_volume,
)
from lpgrelease.fluids.mixture import load_mixture

STENCIL = ((-2.0, 1.0 / 12.0), (-1.0, -2.0 / 3.0), (1.0, 2.0 / 3.0), (2.0, -1.0 / 12.0))
"""Central difference of fourth order."""

shares = st.floats(0.0, 1.0)
inner = st.floats(1e-6, 1.0 - 1e-6)


def slope(function, at, step):
    """d function / d at by the stencil; `function` returns a tuple of arrays."""
    rows = [(weight, function(at + shift * step)) for shift, weight in STENCIL]
    return [sum(weight * row[i] for weight, row in rows) / step for i in range(len(rows[0][1]))]


def between(fluid, temperature, share):
    """A pressure between dew (0) and bubble point (1)."""
    low = lr.dew_point(fluid, temperature=temperature).pressure
    high = lr.bubble_point(fluid, temperature=temperature).pressure
    return low + share * (high - low)


# -- one phase: everything comes from one potential ---------------------------------------------------


@given(blend_states(), shares, st.sampled_from([LIQUID, VAPOR]))
def test_properties_of_a_phase_are_derivatives_of_one_potential(case, share, side):
    fluid, t = case
    mixture, z = fluid.blend.mixture, fluid.blend.fractions
    t = np.minimum(t, 0.98 * fluid.highest_temperature)  # the stencil stays on its side of the bubble line
    if side == LIQUID:
        p = bubble_point(mixture, z, temperature=t).pressure * 1.2 + share * 5e6
    else:
        p = dew_point(mixture, z, temperature=t).pressure * (0.05 + 0.9 * share)
    _, here = mixture.phase(t, p, z, side)

    def fields(temperature, pressure):
        one = mixture.phase(temperature, pressure, z, side)[1]
        return one.enthalpy, one.entropy, one.volume

    by_t = slope(lambda x: fields(x, p), t, 1e-4 * t)
    by_p = slope(lambda x: fields(t, x), p, 1e-3 * p)
    # round-off of a difference: 1e-16 of the value over the step's part of it, h some R T, v some m3/mol
    heat, volume = here.heat_capacity, here.volume
    np.testing.assert_allclose(by_t[0], heat, rtol=1e-7)
    np.testing.assert_allclose(by_t[1], heat / t, rtol=1e-7)
    np.testing.assert_allclose(by_t[2], here.volume_by_temperature, rtol=1e-6, atol=1e-7 * volume[0] / t[0])
    # dh = T ds + v dp along an isotherm, in the size of RT and R per decade of pressure
    scale = 8.314 * t[0] / p[0]
    np.testing.assert_allclose(by_p[0], volume - t * here.volume_by_temperature, rtol=1e-6, atol=1e-7 * scale)
    np.testing.assert_allclose(by_p[0], t * by_p[1] + volume, rtol=1e-6, atol=1e-7 * scale)
    np.testing.assert_allclose(by_p[1], -here.volume_by_temperature, rtol=1e-6, atol=1e-7 * scale / t[0])
    np.testing.assert_allclose(by_p[2], here.volume_by_pressure, rtol=1e-6, atol=1e-7 * volume[0] / p[0])


@given(blend_states(), shares, st.sampled_from([LIQUID, VAPOR]))
def test_fugacities_obey_gibbs_and_duhem(case, share, side):
    fluid, t = case
    mixture, z = fluid.blend.mixture, fluid.blend.fractions
    point = (bubble_point, dew_point)[side](mixture, z, temperature=t)
    p = point.pressure * ((1.0 + share) if side == LIQUID else (0.05 + 0.95 * share))
    raw, _ = mixture.phase(t, p, z, side)
    by_mole = raw.log_fugacity_by_mole[:, :, 0]
    size = np.abs(by_mole).max() + 1.0
    np.testing.assert_allclose(by_mole, by_mole.T, atol=1e-9 * size)  # Maxwell
    np.testing.assert_allclose(z[:, 0] @ by_mole, 0.0, atol=1e-9 * size)  # Gibbs and Duhem
    # residual Gibbs energy from enthalpy and entropy, and from the fugacities
    gibbs = raw.enthalpy - t * raw.entropy
    np.testing.assert_allclose(
        gibbs, 8.31446261815324 * t * np.sum(z * raw.log_fugacity, axis=0), rtol=1e-9, atol=1e-9 * t[0]
    )
    # partial volumes add up to the volume; slopes of ln phi by p and T are those of its definition
    np.testing.assert_allclose(np.sum(z * raw.volume_by_mole, axis=0), raw.volume, rtol=1e-9)

    def fugacities(temperature, pressure, amounts):
        return (mixture.phase(temperature, pressure, amounts, side)[0].log_fugacity,)

    (by_t,) = slope(lambda x: fugacities(x, p, z), t, 1e-5 * t)
    np.testing.assert_allclose(by_t, raw.log_fugacity_by_temperature, rtol=1e-6, atol=1e-8)
    for j in range(len(z)):
        if z[j, 0] < 1e-3:
            continue

        def moved(change, j=j):
            amounts = z.copy()
            amounts[j] += change
            return fugacities(t, p, amounts / amounts.sum(axis=0))

        (by_j,) = slope(moved, np.zeros(1), np.array([1e-4 * z[j, 0]]))
        np.testing.assert_allclose(by_j[:, 0], by_mole[:, j], rtol=1e-5, atol=1e-6 * size)


# -- two phases -------------------------------------------------------------------------------------------


@given(blend_states())
def test_phases_at_bubble_and_dew_point_are_in_equilibrium_and_in_order(case):
    fluid, t = case
    mixture, z = fluid.blend.mixture, fluid.blend.fractions
    boils, condenses = bubble_point(mixture, z, temperature=t), dew_point(mixture, z, temperature=t)
    assert (condenses.pressure <= boils.pressure * (1.0 + 1e-12)).all()
    for point, x, y in ((boils, z, boils.incipient), (condenses, condenses.incipient, z)):
        liquid, l_state = mixture.phase(t, point.pressure, x, LIQUID)
        vapor, v_state = mixture.phase(t, point.pressure, y, VAPOR)
        np.testing.assert_allclose(liquid.log_fugacity + np.log(x), vapor.log_fugacity + np.log(y), atol=1e-9)
        np.testing.assert_allclose(y / x, np.exp(point.log_ratio), rtol=1e-9)
        assert v_state.volume > 2.0 * l_state.volume
        assert v_state.enthalpy / mixture.mass(y) > l_state.enthalpy / mixture.mass(x)


@few(20)
@given(blend_states(number=3), inner)
def test_flashes_find_one_another(case, share):
    fluid, t = case
    mixture = fluid.blend.mixture
    z = np.repeat(fluid.blend.fractions, t.size, axis=1)
    p = between(fluid, t, share)
    state = flash_pressure(mixture, z, t, p)
    assert state.found.all()
    others = {
        "(p, h)": flash_enthalpy(mixture, z, p, state.enthalpy),
        "(p, s)": flash_entropy(mixture, z, p, state.entropy),
        "(T, v)": flash_volume(mixture, z, t, state.volume),
        "(T, x)": flash_vapor(mixture, z, t, fluid.blend.vapor_mass_fraction(state)),
    }
    # where dew and bubble pressure almost meet, what is between them is known to round-off of p only
    width = lr.bubble_point(fluid, temperature=t).pressure / lr.dew_point(fluid, temperature=t).pressure - 1.0
    for name, other in others.items():
        assert other.found.all(), name
        np.testing.assert_allclose(other.temperature, state.temperature, rtol=1e-8, err_msg=name)
        np.testing.assert_allclose(other.pressure, state.pressure, rtol=1e-8, err_msg=name)
        off = np.abs(other.vapor_fraction - state.vapor_fraction)
        assert (off < 1e-8 + 1e-10 / width).all(), name


@given(blend_states(number=3), inner)
def test_lever_rule_and_balance_of_every_component(case, share):
    fluid, t = case
    mixture = fluid.blend.mixture
    z = np.repeat(fluid.blend.fractions, t.size, axis=1)
    state = flash_pressure(mixture, z, t, between(fluid, t, share))
    beta = state.vapor_fraction
    assert ((beta > 0.0) & (beta < 1.0)).all()
    np.testing.assert_allclose(beta * state.vapor + (1.0 - beta) * state.liquid, z, rtol=1e-13)
    np.testing.assert_allclose(state.vapor.sum(axis=0), 1.0, rtol=1e-14)
    np.testing.assert_allclose(state.liquid.sum(axis=0), 1.0, rtol=1e-14)
    volume = beta * state.vapor_volume + (1.0 - beta) * state.liquid_volume
    np.testing.assert_allclose(state.volume, volume, rtol=1e-13)
    parts = [
        mixture.phase(t, state.pressure, x, side)[1]
        for side, x in ((LIQUID, state.liquid), (VAPOR, state.vapor))
    ]
    for name in ("enthalpy", "entropy"):
        low, high = (getattr(part, name) for part in parts)
        np.testing.assert_allclose(
            getattr(state, name), (1.0 - beta) * low + beta * high, rtol=1e-12, atol=1e-12 * np.abs(low).max()
        )
    assert (state.vapor_volume > state.liquid_volume).all()


@given(blends(), shares)
def test_more_vapor_as_pressure_falls_and_only_liquid_above_bubble_only_gas_below_dew(fluid, share):
    t = fluid.lowest_temperature + share * (fluid.highest_temperature - fluid.lowest_temperature)
    low = float(lr.dew_point(fluid, temperature=t).pressure)
    high = float(lr.bubble_point(fluid, temperature=t).pressure)
    assume(low > 3.0 and high / low > 1.0 + 1e-6)  # the face serves pressures from 1 Pa
    p = np.concatenate(
        [[low * 0.5, low * (1 - 1e-7)], np.linspace(low, high, 7)[1:-1], [high * (1 + 1e-7), high * 1.5]]
    )
    x = lr.equilibrium(fluid, temperature=t, pressure=p).vapor_fraction
    np.testing.assert_array_equal(x[:2], 1.0)
    np.testing.assert_array_equal(x[-2:], 0.0)
    assert (np.diff(x[1:-1]) < 0.0).all()


@given(blend_states(number=2))
def test_bubble_and_dew_points_at_pressure_are_those_at_temperature(case):
    fluid, t = case
    for call in (lr.bubble_point, lr.dew_point):
        there = call(fluid, temperature=t)
        low, high = fluid.blend.pressure_limits
        p = np.clip(there.pressure, low, high)
        back = call(fluid, pressure=p)
        same = p == there.pressure
        np.testing.assert_allclose(back.temperature[same], t[same], rtol=1e-9)


@given(blend_states(number=4))
def test_the_tabulated_bubble_line_is_that_of_the_equation(case):
    fluid, t = case
    state, exact = fluid.saturation(temperature=t), fluid.blend.evaluate(t)
    np.testing.assert_allclose(np.log(state.pressure), exact["log_pressure"], atol=2e-8)
    for name in ("liquid_density", "vapor_density", "liquid_heat_capacity", "vapor_heat_capacity"):
        np.testing.assert_allclose(getattr(state, name), exact[name], rtol=1e-6, err_msg=name)
    latent = exact["vapor_enthalpy"] - exact["liquid_enthalpy"]
    np.testing.assert_allclose(state.latent_heat, latent, rtol=1e-6)
    np.testing.assert_allclose(
        fluid.saturation_temperature(np.clip(state.pressure, *fluid.blend.pressure_limits)), t, rtol=1e-7
    )


# -- batches, units ---------------------------------------------------------------------------------------


@few(10)
@given(blend_states(number=5), st.lists(shares, min_size=5, max_size=5))
def test_a_state_has_the_same_bits_alone_and_in_a_batch(case, share):
    fluid, t = case
    p = np.maximum(between(fluid, t, np.array(share)), 1.0)
    for given_pair in (
        {"temperature": t, "pressure": p},
        {"pressure": p, "enthalpy": None},
        {"pressure": p, "entropy": None},
        {"temperature": t, "density": None},
    ):
        base = lr.equilibrium(fluid, temperature=t, pressure=p)
        pair = {k: getattr(base, k) if v is None else v for k, v in given_pair.items()}
        assume((pair.get("pressure", p) <= fluid.blend.pressure_limits[1]).all())
        try:
            many = lr.equilibrium(fluid, **pair)
        except lr.OutOfRangeError:
            assume(False)
        for i in range(t.size):
            one = lr.equilibrium(fluid, **{k: float(v[i]) for k, v in pair.items()})
            for name in ("temperature", "pressure", "vapor_fraction", "density", "enthalpy", "entropy"):
                assert np.shape(getattr(one, name)) == ()
                assert getattr(one, name) == getattr(many, name)[i], name
            np.testing.assert_array_equal(one.vapor_composition, many.vapor_composition[i])


@few(15)
@given(blend_states(number=3))
def test_points_have_the_same_bits_alone_and_in_a_batch(case):
    fluid, t = case
    for call in (lr.bubble_point, lr.dew_point):
        many = call(fluid, temperature=t.reshape(1, 3))
        p = np.clip(many.pressure, *fluid.blend.pressure_limits)
        back = call(fluid, pressure=p)
        assert many.vapor_composition.shape == (1, 3, len(fluid.components))
        for i in range(3):
            one = call(fluid, temperature=float(t[i]))
            assert one.pressure == many.pressure[0, i]
            np.testing.assert_array_equal(one.liquid_composition, many.liquid_composition[0, i])
            assert call(fluid, pressure=float(p[0, i])).temperature == back.temperature[0, i]


@few(15)
@given(blend_states())
def test_units_of_the_trade_give_the_same_state(case):
    fluid, t = case
    t = np.clip(t, fluid.lowest_temperature + 1e-3, fluid.highest_temperature - 1e-3)  # round-off of degF
    p = np.maximum(between(fluid, t, 0.5), 1.0)
    plain = lr.equilibrium(fluid, temperature=t, pressure=p)
    trade = lr.equilibrium(
        fluid,
        temperature=UNITS.Quantity(t * 1.8 - 459.67, "degF"),
        pressure=UNITS.Quantity(p / 6894.757293168361, "psi"),
    )
    # round-off of the conversion over the width between dew and bubble point
    width = lr.bubble_point(fluid, temperature=t).pressure / lr.dew_point(fluid, temperature=t).pressure - 1.0
    assert (np.abs(trade.vapor_fraction - plain.vapor_fraction) < 1e-9 + 1e-11 / width).all()
    np.testing.assert_allclose(trade.pressure, plain.pressure, rtol=1e-14)


@few(12)
@given(blends())
def test_order_of_components_does_not_matter(fluid):
    turned = lr.Fluid(dict(reversed(list(zip(fluid.components, fluid.fractions, strict=True)))))
    low = max(fluid.lowest_temperature, turned.lowest_temperature)
    t = np.linspace(low, min(fluid.highest_temperature, turned.highest_temperature), 5)
    mine, other = (lr.bubble_point(each, temperature=t) for each in (fluid, turned))
    np.testing.assert_allclose(mine.pressure, other.pressure, rtol=1e-9)
    np.testing.assert_allclose(
        mine.vapor_composition, other.vapor_composition[:, ::-1], rtol=1e-8, atol=1e-15
    )


# -- limits -------------------------------------------------------------------------------------------------


@given(
    st.permutations(LP_GASES).map(lambda names: tuple(names[:2])), st.floats(0.45, 0.9), st.floats(6.0, 12.0)
)
def test_a_trace_of_another_leaves_the_pure_of_the_same_equation(names, reduced, decades):
    trace = 10.0**-decades
    mixture, pure = load_mixture(names), load_mixture(names[:1])
    t = np.array([reduced * float(pure.cubic.critical_temperature[0, 0])])
    z = np.array([[1.0 - trace], [trace]])
    alone = bubble_point(pure, np.ones((1, 1)), temperature=t)
    assert alone.found.all()
    for call in (bubble_point, dew_point):
        point = call(mixture, z, temperature=t)
        assert point.found.all()
        # the other's K-value, or its inverse at the dew point, carries the trace: first order in it
        strength = max(1.0, float(np.exp(np.abs(point.log_ratio[1, 0]))))
        assert point.pressure[0] == pytest.approx(alone.pressure[0], rel=5.0 * trace * strength + 1e-10)


@given(st.sampled_from(LP_GASES), st.floats(0.4, 0.9))
def test_a_blend_of_a_substance_with_itself_would_be_pure(name, reduced):
    """One component: bubble and dew point are one, the K-value is one."""
    pure = load_mixture((name,))
    t = np.array([reduced * float(pure.cubic.critical_temperature[0, 0])])
    boils, condenses = (call(pure, np.ones((1, 1)), temperature=t) for call in (bubble_point, dew_point))
    assert boils.found.all()
    assert condenses.found.all()
    assert boils.pressure[0] == pytest.approx(condenses.pressure[0], rel=1e-10)
    assert abs(boils.log_ratio[0, 0]) < 1e-9


@given(blend_states())
def test_thin_gas_is_ideal(case):
    fluid, t = case
    mixture, z = fluid.blend.mixture, fluid.blend.fractions
    _, state = mixture.phase(t, np.array([1e-3]), z, VAPOR)
    assert state.volume[0] == pytest.approx(8.31446261815324 * t[0] / 1e-3, rel=1e-6)
    ideal = np.sum(mixture.ideal(t)[2] * z)
    assert state.heat_capacity[0] == pytest.approx(ideal, rel=1e-6)


@given(blend_states())
def test_clapeyron_holds_along_the_bubble_line(case):
    """dp/dT at constant liquid composition = sum y_i (s_v - s_l)_i / sum y_i (v_v - v_l)_i, partial molar."""
    fluid, t = case
    mixture, z = fluid.blend.mixture, fluid.blend.fractions
    t = np.clip(t, fluid.lowest_temperature + 0.5, fluid.highest_temperature - 0.5)
    (rise,) = slope(
        lambda x: (np.log(bubble_point(mixture, z, temperature=x).pressure),), t, np.array([0.01])
    )
    point = bubble_point(mixture, z, temperature=t)
    raw_l, _ = mixture.phase(t, point.pressure, z, LIQUID)
    raw_v, _ = mixture.phase(t, point.pressure, point.incipient, VAPOR)
    y = point.incipient
    # from d ln f_i equal in both phases, weighted with y: Gibbs and Duhem removes the vapor's composition
    by_t = np.sum(y * (raw_l.log_fugacity_by_temperature - raw_v.log_fugacity_by_temperature), axis=0)
    by_p = np.sum(y * (raw_v.volume_by_mole - raw_l.volume_by_mole), axis=0) / (8.31446261815324 * t)
    np.testing.assert_allclose(rise * point.pressure, by_t / by_p, rtol=1e-6)
