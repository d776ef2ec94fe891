"""Flash: bounds, directions, limits and units, for any fluid."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from strategies import UNITS, finite, fluids, saturated_array, saturated_pair

from lpgrelease import flash

PATHS = ("isenthalpic", "isentropic")


@given(saturated_pair(drawn_from=fluids))
def test_bounds_and_energy(drawn):
    fluid, cold, warm = drawn
    after = fluid.saturation(temperature=cold)
    before = fluid.saturation(temperature=warm)
    kept, spent = (
        flash(fluid, temperature=warm, ambient_pressure=after.pressure, path=path) for path in PATHS
    )
    for state in (kept, spent):
        assert 0.0 <= state.vapor_fraction <= 1.0
        assert state.enthalpy_drop >= 0.0
    # the jet that keeps its speed has less enthalpy left to vaporize with; to round-off of h over L
    assert spent.vapor_fraction <= kept.vapor_fraction + 1e-9
    # first law along the isentrope: what left the enthalpy is the drop
    if spent.vapor_fraction < 1.0:
        h = after.liquid_enthalpy + spent.vapor_fraction * after.latent_heat
        scale = max(float(after.latent_heat), abs(float(before.liquid_enthalpy)))
        assert before.liquid_enthalpy - h - spent.enthalpy_drop == pytest.approx(0.0, abs=1e-9 * scale)
    # Gibbs: dh = v dp on an isentrope, and the mixture is lighter than the liquid
    push = (before.pressure - after.pressure) / max(before.liquid_density, after.liquid_density)
    assert spent.enthalpy_drop >= 0.99 * push - 1e-7 * after.latent_heat


@given(saturated_pair(reduced=0.9, drawn_from=fluids), finite(0.0, 1.0))
def test_hotter_liquid_and_lower_pressure_flash_more(drawn, share):
    fluid, cold, warm = drawn
    between = cold + share * (warm - cold)
    pressure = fluid.saturation(temperature=[cold, between]).pressure
    to_lower, to_higher = flash(fluid, temperature=warm, ambient_pressure=pressure).vapor_fraction
    assert to_lower >= to_higher - 1e-9
    # on an isentrope the vapor fraction need not rise all the way down: only hotter liquid makes more of it
    for path in PATHS:
        cooler, hotter = flash(
            fluid, temperature=[between, warm], ambient_pressure=pressure[0], path=path
        ).vapor_fraction
        assert hotter >= cooler - 1e-9


@given(saturated_array(reduced=0.99, drawn_from=fluids))
def test_shapes_and_bits(drawn):
    fluid, t = drawn
    for path in PATHS:
        state = flash(fluid, temperature=t, path=path)
        assert state.vapor_fraction.shape == t.shape
        for i in np.ndindex(t.shape):
            one = flash(fluid, temperature=t[i], path=path)
            for name in ("vapor_fraction", "temperature", "enthalpy_drop"):
                assert getattr(one, name) == getattr(state, name)[i]


@given(saturated_pair(reduced=0.9, drawn_from=fluids))
def test_any_units(drawn):
    fluid, cold, warm = drawn
    pressure = float(fluid.saturation(temperature=cold).pressure)
    si = flash(fluid, temperature=warm, ambient_pressure=pressure)
    other = flash(
        fluid,
        temperature=UNITS.Quantity(warm, "K").to("degF"),
        ambient_pressure=UNITS.Quantity(pressure, "Pa").to("psi"),
    )
    assert other.vapor_fraction == pytest.approx(si.vapor_fraction, rel=1e-6, abs=1e-9)
