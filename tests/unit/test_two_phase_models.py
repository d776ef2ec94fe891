"""Two-phase models: choosing one, errors by message, shapes, an answer that neighbors do not touch."""

from __future__ import annotations

import numpy as np
import pytest

from lpgrelease import (
    Fluid,
    InputError,
    Opening,
    OutOfRangeError,
    liquid_release,
    two_phase_release,
    vapor_release,
)
from lpgrelease.release.non_equilibrium import boiling_delay
from lpgrelease.release.omega import (
    omega_critical_ratio,
    omega_flow,
    omega_from_densities,
    omega_from_properties,
)
from lpgrelease.release.two_phase import MODELS

PROPANE = Fluid("propane")
HOLE = Opening(diameter=0.02, discharge_coefficient=1.0)
WARM = 293.15


def run(model, **changes):
    extra = {"length": 0.03} if model == "length" else {}
    return two_phase_release(PROPANE, HOLE, model=model, **{"temperature": WARM, **extra, **changes})


@pytest.mark.parametrize("model", MODELS)
def test_the_result_says_which_model_ran_and_why(model):
    provenance = run(model).provenance
    assert provenance.model.startswith(f"{model}: ")
    assert len(provenance.model) > len(model) + 20
    assert provenance.sources


def test_without_boiling_a_liquid_is_the_metastable_liquid():
    frozen = run("frozen").mass_flux
    assert frozen == pytest.approx(liquid_release(PROPANE, HOLE, temperature=WARM).mass_flux, rel=1e-12)
    padded = run("frozen", pressure=12e5).mass_flux
    liquid = liquid_release(PROPANE, HOLE, temperature=WARM, pressure=12e5).mass_flux
    assert padded == pytest.approx(liquid, rel=1e-12)
    assert run("length", length=0.0).mass_flux == pytest.approx(frozen, rel=1e-12)


def test_devices_lie_between_no_boiling_and_equilibrium():
    fluxes = [
        run("homogeneous non-equilibrium", device=device).mass_flux
        for device in ("orifice", "safety valve", "long nozzle")
    ]
    assert run("frozen").mass_flux > fluxes[0] > fluxes[1] > fluxes[2]
    # a long nozzle is at equilibrium: 3 % is what the fit of the isentrope costs
    assert fluxes[2] == pytest.approx(run("homogeneous equilibrium").mass_flux, rel=0.03)


def test_a_padded_cold_liquid_that_does_not_boil_outside():
    cold = 225.0
    for model in ("homogeneous equilibrium", "omega", "length", "frozen"):
        flow = run(model, temperature=cold, pressure=5e5)
        liquid = liquid_release(PROPANE, HOLE, temperature=cold, pressure=5e5)
        # 5e-4: the isentrope of a liquid is a little compressible
        assert flow.mass_flux == pytest.approx(liquid.mass_flux, rel=5e-4)
        assert not flow.choked
        assert flow.throat_vapor_fraction == 0.0
        assert flow.throat_pressure == 101325.0


@pytest.mark.parametrize("model", MODELS)
def test_nothing_flows_against_the_pressure(model):
    flow = run(model, temperature=220.0)
    assert flow.mass_flow == 0.0
    assert not flow.choked
    assert np.isfinite([flow.throat_pressure, flow.throat_temperature, flow.throat_vapor_fraction]).all()


@pytest.mark.parametrize("model", MODELS)
def test_an_answer_does_not_depend_on_its_neighbors(model):
    t = np.linspace(232.0, 332.0, 40)
    padded = model != "homogeneous non-equilibrium"
    p = np.maximum(1.2 * PROPANE.saturation(temperature=t).pressure, 3e5) if padded else None
    together = run(model, temperature=t, pressure=p)
    for i in (0, 17, 39):
        alone = run(model, temperature=t[i], pressure=p[i] if padded else None)
        assert alone.mass_flux == together.mass_flux[i]
        assert alone.throat_vapor_fraction == together.throat_vapor_fraction[i]


def test_length_broadcasts_like_any_argument():
    flow = run("length", length=[0.0, 0.05, 0.2])
    assert flow.mass_flux.shape == (3,)
    grid = run("length", temperature=[[280.0], [290.0]], length=[0.0, 0.05, 0.2])
    assert grid.mass_flux.shape == (2, 3)
    assert (
        grid.mass_flux[1, 1]
        == two_phase_release(PROPANE, HOLE, temperature=290.0, model="length", length=0.05).mass_flux
    )


@pytest.mark.parametrize("name", ["n-pentane", "n-butane", "isopentane"])
def test_the_vapor_of_frozen_flow_is_as_cold_as_an_isentrope_makes_it(name):
    """Their saturated vapor stays dry as it expands, so that equilibrium has nothing to condense."""
    fluid, hole = Fluid(name), Opening(diameter=0.02, discharge_coefficient=1.0)
    t = fluid.saturation(pressure=[2e5, 4e5, 8e5]).temperature
    frozen = two_phase_release(fluid, hole, temperature=t, vapor_fraction=1.0, model="frozen")
    real = vapor_release(fluid, hole, temperature=t)
    assert (real.throat_vapor_fraction == 1.0).all()
    # the throats' pressures are 1 to 3 % apart, by an exponent that is constant in one of them
    np.testing.assert_allclose(frozen.throat_temperature, real.throat_temperature, atol=0.5)
    np.testing.assert_allclose(frozen.throat_density, real.throat_density, rtol=0.02)
    liquid = two_phase_release(fluid, hole, temperature=t, model="frozen")
    assert (liquid.throat_temperature == t).all()


def test_refusals():
    with pytest.raises(InputError, match=r'the model "length" needs the length of the passage'):
        two_phase_release(PROPANE, HOLE, temperature=WARM, model="length")
    with pytest.raises(InputError, match=r'length goes with the model "length", not with \'omega\''):
        run("omega", length=0.1)
    with pytest.raises(InputError, match=r"device goes with the model .*, not with \'omega\'"):
        run("omega", device="safety valve")
    with pytest.raises(OutOfRangeError, match=r"temperature = 333 K .*332\.9.*latent heat"):
        run("homogeneous non-equilibrium", temperature=[300.0, 333.0])
    with pytest.raises(InputError, match="takes saturated inlets only"):
        run("homogeneous non-equilibrium", pressure=12e5)
    with pytest.raises(
        InputError, match="device must be one of orifice, safety valve, long nozzle; got 'tap'"
    ):
        run("homogeneous non-equilibrium", device="tap")
    with pytest.raises(OutOfRangeError, match=r"vapor_fraction = 0.1 .*the inlet is padded liquid"):
        run("omega", vapor_fraction=0.1, pressure=12e5)
    with pytest.raises(OutOfRangeError, match=r'vapor_fraction = 0.1 .*"length" takes liquid inlets only'):
        run("length", vapor_fraction=0.1)
    with pytest.raises(OutOfRangeError, match=r"length = -1 m"):
        run("length", length=-1.0)
    with pytest.raises(OutOfRangeError, match=r"pressure = 800000 Pa .*no liquid below its saturation"):
        run("omega", pressure=8e5)
    with pytest.raises(InputError, match="shapes do not broadcast"):
        run("length", temperature=[280.0, 290.0], length=[0.0, 0.05, 0.2])


def test_omega_functions_refuse_what_cannot_be():
    with pytest.raises(OutOfRangeError, match=r"omega = -1 .*\[0, inf\)"):
        omega_critical_ratio(-1.0)
    with pytest.raises(OutOfRangeError, match=r"saturation_ratio = 1.2 .*p_s over p0"):
        omega_critical_ratio(1.0, saturation_ratio=1.2)
    with pytest.raises(OutOfRangeError, match="the expanded mixture is not the denser one"):
        omega_from_densities(500.0, expanded_density=510.0)
    with pytest.raises(OutOfRangeError, match="the liquid is subcooled"):
        omega_flow(1.0, pressure=1e5, density=500.0, saturation_pressure=2e5, back_pressure=0.0)
    with pytest.raises(OutOfRangeError, match="latent_heat = 0"):
        omega_from_properties(
            300.0,
            saturation_pressure=1e6,
            liquid_density=500.0,
            vapor_density=20.0,
            latent_heat=0.0,
            liquid_heat_capacity=2.7e3,
        )


def test_a_liquid_that_never_boils_never_chokes():
    assert omega_critical_ratio(0.0) == 0.0
    flow = omega_flow(0.0, pressure=10e5, density=500.0, back_pressure=0.0)
    assert flow.flux == pytest.approx(np.sqrt(2 * 10e5 * 500.0), rel=1e-12)


def test_boiling_delay_is_one_in_vapor():
    s = PROPANE.saturation(temperature=WARM)
    full = boiling_delay(
        s.temperature,
        pressure=s.pressure,
        liquid_density=s.liquid_density,
        vapor_density=s.vapor_density,
        latent_heat=s.latent_heat,
        liquid_heat_capacity=s.liquid_heat_capacity,
        vapor_fraction=np.float64(1.0),
        back_pressure=np.float64(101325.0),
    )
    assert full.delay == 1.0
