"""Peng-Robinson mixtures against the implementation of the same equation in the Python library thermo.

Same equation, same constants, other code: fugacities, volumes and departures agree to round-off magnified by
the cubic, bubble points solved here from thermo's fugacities alone to the tolerance of that solution.
"""

from __future__ import annotations

import numpy as np
import pytest
from blend_cases import blend_states
from hypothesis import given, settings
from hypothesis import strategies as st

from lpgrelease.fluids.equilibrium import LIQUID, VAPOR, bubble_point, dew_point

eos_mix = pytest.importorskip("thermo.eos_mix")


def theirs(mixture, temperature, pressure, fractions):
    """thermo's equation with the constants of `mixture`."""
    return eos_mix.PRMIX(
        T=float(temperature),
        P=float(pressure),
        zs=[float(x) for x in fractions],
        Tcs=mixture.cubic.critical_temperature[:, 0].tolist(),
        Pcs=mixture.critical_pressure[:, 0].tolist(),
        omegas=mixture.acentric_factor[:, 0].tolist(),
        kijs=(1.0 - mixture.cubic.one_minus_k[:, :, 0]).tolist(),
        fugacities=True,
    )


def log_fugacities(equation, side):
    """ln phi of a side; where the cubic has one root, that root's."""
    wanted, other = ("lnphis_l", "lnphis_g") if side == LIQUID else ("lnphis_g", "lnphis_l")
    return np.array(getattr(equation, wanted, None) or getattr(equation, other))


def bubble_pressure(mixture, temperature, x):
    """Bubble pressure and K-values by successive substitution on thermo's fugacities, from ideal solution."""
    t_c, p_c, w = (
        a[:, 0]
        for a in (mixture.cubic.critical_temperature, mixture.critical_pressure, mixture.acentric_factor)
    )
    saturation = p_c * np.exp(5.373 * (1.0 + w) * (1.0 - t_c / temperature))
    p = float(np.sum(x * saturation))
    k = saturation / p
    for _ in range(400):
        y = x * k / np.sum(x * k)
        liquid = log_fugacities(theirs(mixture, temperature, p, x), LIQUID)
        vapor = log_fugacities(theirs(mixture, temperature, p, y), VAPOR)
        new = np.exp(liquid - vapor)
        total = float(np.sum(x * new))
        change = max(abs(total - 1.0), float(np.max(np.abs(new / k - 1.0))))
        k, p = new / total, p * total
        if change < 1e-9:
            return p, new
    raise AssertionError(f"successive substitution did not end: {temperature} K, {x}")


@settings(max_examples=200)
@given(blend_states())
def test_bubble_points_equal_those_solved_from_thermos_fugacities(case):
    fluid, t = case
    mixture, x = fluid.blend.mixture, np.array(fluid.fractions)
    point = bubble_point(mixture, x[:, None], temperature=t)
    assert point.found.all()
    p, k = bubble_pressure(mixture, t[0], x)
    assert point.pressure[0] == pytest.approx(p, rel=1e-6)
    np.testing.assert_allclose(np.exp(point.log_ratio[:, 0]), k, rtol=1e-6)


@given(blend_states(), st.floats(-2.0, 1.0))
def test_one_phase_equals_thermos(case, decades):
    fluid, t = case
    mixture, z = fluid.blend.mixture, fluid.blend.fractions
    saturation = bubble_point(mixture, z, temperature=t), dew_point(mixture, z, temperature=t)
    # liquid from its bubble point to ten times that pressure, gas from a hundredth of its dew point's
    pressures = (
        saturation[0].pressure * 10.0 ** max(decades, 0.0),
        saturation[1].pressure * 10.0 ** min(decades, 0.0),
    )
    for side, p in zip((LIQUID, VAPOR), pressures, strict=True):
        raw, _ = mixture.phase(t, p, z, side)
        equation = theirs(mixture, t[0], p[0], fluid.fractions)
        letter = "l" if side == LIQUID else "g"
        if not hasattr(equation, f"V_{letter}"):
            letter = "g" if side == LIQUID else "l"
        # a cold liquid's ln phi holds fewer digits: its volume times a tiny pressure over RT
        np.testing.assert_allclose(
            raw.log_fugacity[:, 0], getattr(equation, f"lnphis_{letter}"), rtol=1e-7, atol=1e-9
        )
        assert raw.volume[0] == pytest.approx(getattr(equation, f"V_{letter}"), rel=1e-7)
        assert raw.enthalpy[0] == pytest.approx(getattr(equation, f"H_dep_{letter}"), rel=1e-7, abs=1e-6)
        assert raw.entropy[0] == pytest.approx(getattr(equation, f"S_dep_{letter}"), rel=1e-7, abs=1e-9)
        assert raw.heat_capacity[0] == pytest.approx(
            getattr(equation, f"Cp_dep_{letter}"), rel=1e-6, abs=1e-6
        )
