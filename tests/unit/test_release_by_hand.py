"""Single terms of the release models, each against its equation worked out here by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

import lpgrelease as lr
from lpgrelease.release.ideal_gas import ideal_gas_release
from lpgrelease.release.line import line_inlet
from lpgrelease.release.non_equilibrium import BOILING_DELAY_EXPONENTS, boiling_delay

HOLE = lr.Opening(diameter=0.02, discharge_coefficient=1.0)
ATMOSPHERE, NONE = 101325.0, np.float64(0.0)
GAS = 8.314462618
"""[J/mol/K]"""


@pytest.mark.parametrize("name", ["propane", "ammonia", "n-butane", "sulfur dioxide"])
@pytest.mark.parametrize("gauge", [100.0, 1e3, 1e4])
def test_no_passage_carries_more_than_the_liquid_near_zero_gauge(name, gauge):
    fluid = lr.Fluid(name)
    t = fluid.saturation_temperature(ATMOSPHERE + gauge)
    length = np.array([0.0, 0.01, 0.1, 1.0])
    run = lr.two_phase_release(fluid, HOLE, temperature=t, model="length", length=length)
    liquid = lr.two_phase_release(fluid, HOLE, temperature=t, model="frozen").mass_flux
    assert (run.mass_flux <= liquid * (1.0 + 1e-12)).all()
    # by Bernoulli
    density = fluid.saturation(temperature=t).liquid_density
    assert liquid == pytest.approx(math.sqrt(2.0 * float(density) * gauge), rel=1e-5)


@pytest.mark.parametrize("gauge", [100.0, 1e3])
def test_what_flows_as_the_liquid_does_is_not_choked(gauge):
    fluid = lr.Fluid("propane")
    t = fluid.saturation_temperature(ATMOSPHERE + gauge)
    back = ATMOSPHERE + gauge * np.array([0.0, 0.5])
    run = lr.two_phase_release(fluid, HOLE, temperature=t, model="length", length=0.5, ambient_pressure=back)
    # half the difference, a flux by the root of a half less: the back pressure matters
    assert run.mass_flux[1] / run.mass_flux[0] == pytest.approx(math.sqrt(0.5), rel=1e-4)
    assert not run.choked.any()


def test_exponents_of_the_boiling_delay():
    # diener2004sizing, from memory: 3/5 for orifices and control valves, 2/5 for safety valves, 0 for nozzles
    assert BOILING_DELAY_EXPONENTS["orifice"] == 3.0 / 5.0
    assert BOILING_DELAY_EXPONENTS["safety valve"] == 2.0 / 5.0
    assert BOILING_DELAY_EXPONENTS["long nozzle"] == 0.0
    s = lr.Fluid("propane").saturation(temperature=293.15)
    delays = {
        device: boiling_delay(
            s.temperature,
            pressure=s.pressure,
            liquid_density=s.liquid_density,
            vapor_density=s.vapor_density,
            latent_heat=s.latent_heat,
            liquid_heat_capacity=s.liquid_heat_capacity,
            vapor_fraction=np.float64(0.0),
            back_pressure=np.float64(ATMOSPHERE),
            device=device,
        ).delay
        for device in BOILING_DELAY_EXPONENTS
    }
    assert delays["orifice"] ** 2 == pytest.approx(delays["safety valve"] ** 3, rel=1e-12)


@pytest.mark.parametrize("name", ["propane", "ammonia", "n-butane"])
def test_frozen_flow_of_thin_vapor_is_that_of_an_ideal_gas(name):
    fluid = lr.Fluid(name)
    p = 0.3e5
    t = float(fluid.saturation_temperature(p))
    vapor = fluid.saturation(temperature=t)
    z = p * fluid.molar_mass / (vapor.vapor_density * GAS * t)
    thin = fluid.gas(temperature=t, pressure=0.999 * p)
    k = thin.heat_capacity / (thin.heat_capacity - GAS / fluid.molar_mass)
    for back in (0.1e5, 0.28e5):  # choked and not
        frozen = lr.two_phase_release(
            fluid, HOLE, temperature=t, vapor_fraction=1.0, model="frozen", ambient_pressure=back
        )
        ideal = ideal_gas_release(
            HOLE, temperature=t, pressure=p, molar_mass=fluid.molar_mass, heat_capacity_ratio=k,
            compressibility=z, ambient_pressure=back,
        )  # fmt: skip
        # 1.5 %: saturated vapor at 0.3 bar is not quite ideal
        assert frozen.mass_flux == pytest.approx(ideal.mass_flux, rel=0.015)
        assert bool(frozen.choked) == bool(ideal.choked)
        assert frozen.throat_pressure == pytest.approx(ideal.throat_pressure, rel=0.015)


@pytest.mark.parametrize(("name", "t"), [("propane", 293.15), ("n-butane", 330.0), ("ammonia", 300.0)])
def test_of_what_would_boil_in_equilibrium_the_delay_lets_a_part(name, t):
    fluid = lr.Fluid(name)
    s = fluid.saturation(temperature=t)
    run = lr.two_phase_release(fluid, HOLE, temperature=t, model="homogeneous non-equilibrium")
    assert run.choked
    assert run.throat_pressure > ATMOSPHERE
    # flash at constant entropy from the saturated liquid to the throat's pressure
    throat = fluid.saturation(pressure=run.throat_pressure)
    entropy = s.liquid_entropy - throat.liquid_entropy
    whole = float(entropy * throat.temperature / throat.latent_heat)
    delay = boiling_delay(
        s.temperature, pressure=s.pressure, liquid_density=s.liquid_density, vapor_density=s.vapor_density,
        latent_heat=s.latent_heat, liquid_heat_capacity=s.liquid_heat_capacity, vapor_fraction=NONE,
        back_pressure=np.float64(ATMOSPHERE),
    ).delay  # fmt: skip
    assert delay < 0.3
    assert 0.5 * delay * whole < run.throat_vapor_fraction < 1.5 * delay * whole


@pytest.mark.parametrize("k", [1.1, 1.3, 1.6])
def test_an_ideal_gas_at_its_throat(k):
    run = ideal_gas_release(
        HOLE, temperature=300.0, pressure=1e6, molar_mass=0.03, heat_capacity_ratio=k,
        ambient_pressure=[1e5, 9e5],
    )  # fmt: skip
    # at the speed of sound T* = 2 T0/(k + 1); below it T0 (p/p0)^((k - 1)/k)
    assert run.choked.tolist() == [True, False]
    assert run.throat_temperature[0] == pytest.approx(2.0 * 300.0 / (k + 1.0), rel=1e-12)
    assert run.throat_temperature[1] == pytest.approx(300.0 * 0.9 ** ((k - 1.0) / k), rel=1e-12)


def test_viscosity_of_a_mixture_in_a_line():
    # mcadams1942vaporization: fluidities add by mass
    fluid, t = lr.Fluid("propane"), np.full(4, 290.0)
    names = ("pressure", "liquid_enthalpy", "latent_heat", "liquid_entropy")
    p, h, latent, s = fluid.saturated(t, *names)
    x = np.array([0.0, 0.1, 0.6, 1.0])
    inlet = line_inlet(
        fluid.table, t, p, x, h + x * latent, s + x * latent / t, np.full(4, ATMOSPHERE), np.zeros(4)
    )
    of_liquid, of_vapor = (
        float(fluid.saturated(290.0, f"{name}_viscosity")[0]) for name in ("liquid", "vapor")
    )
    expected = [1.0 / (share / of_vapor + (1.0 - share) / of_liquid) for share in x]
    np.testing.assert_allclose(inlet.viscosity, expected, rtol=1e-12)
