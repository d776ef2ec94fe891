"""Grounds: edges, messages, shapes, scalar = array."""

from __future__ import annotations

import pickle
import re

import numpy as np
import pint
import pytest
from scipy.special import erf, erfcx

from lpgrelease import conduction
from lpgrelease.conduction import Contact, half_space_coefficient, neumann_coefficient
from lpgrelease.errors import ConvergenceError, InputError, OutOfRangeError
from lpgrelease.ground import Ground, conduction_properties

SOIL = {"conductivity": 1.5, "density": 1800.0, "heat_capacity": 1200.0}
UREG = pint.UnitRegistry()


def test_an_unknown_name_is_refused_with_the_nearest():
    with pytest.raises(
        InputError, match=r"unknown ground 'moist snad'; nearest: moist sand.*known: dry sand"
    ):
        Ground.named("moist snad")


def test_names_are_strings():
    with pytest.raises(InputError, match="named by a string, got 3"):
        Ground.named(3)


@pytest.mark.parametrize(
    ("alias", "name"), [("Moist Sand", "moist sand"), ("sand", "moist sand"), ("soil", "average soil")]
)
def test_case_and_aliases_are_understood(alias, name):
    assert Ground.named(alias) == Ground.named(name)


def test_every_ground_of_the_table_gives_heat():
    with pytest.raises(InputError) as error:
        Ground.named("nothing of the kind")
    names = str(error.value).split("known: ")[1].split(", ")
    assert len(names) >= 10
    for name in names:
        ground = Ground.named(name, temperature=290.0)
        # snow gives least
        assert ground.heat_coefficient(231.0) > 5e3
        assert 0.003 <= ground.minimum_depth <= 0.03
        assert ground.provenance.sources


@pytest.mark.parametrize("name", ["conductivity", "density", "heat_capacity", "minimum_depth"])
@pytest.mark.parametrize("value", [0.0, -1.0])
def test_properties_are_positive(name, value):
    with pytest.raises(OutOfRangeError, match=f"{name} = "):
        Ground(**(SOIL | {name: value}))


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("conductivity", -1.0, "-1 W/m/K"),
        ("density", 0.0, "0 kg/m**3"),
        ("heat_capacity", -1.0, "-1 J/kg/K"),
        ("water_mass_fraction", 1.05, "1.05 is"),
        ("frozen_conductivity", 0.0, "0 W/m/K"),
        ("temperature", 100.0, "100 K"),
        ("minimum_depth", 0.6, "0.6 m"),
        ("conductivity_slope", 0.01, "0.01 1/K"),
        ("heat_capacity_slope", -0.01, "-0.01 1/K"),
        ("thickness", 0.0, "0 m"),
    ],
)
def test_ranges_are_kept_and_said_in_their_unit(name, value, said):
    with pytest.raises(OutOfRangeError, match=re.escape(f"{name} = {said} ")):
        Ground(**SOIL | {name: value})


def test_more_water_than_the_heat_capacity_allows_is_refused():
    with pytest.raises(InputError, match="heat_capacity is too small"):
        Ground(conductivity=1.0, density=2000.0, heat_capacity=800.0, water_mass_fraction=0.5)


def test_shapes_that_do_not_broadcast_are_named():
    with pytest.raises(InputError, match=r"conductivity \(2,\).*density \(3,\)"):
        Ground(conductivity=np.ones(2), density=np.ones(3), heat_capacity=1.0)


def test_a_ground_without_temperature_asks_for_one():
    with pytest.raises(InputError, match="no temperature of its own"):
        Ground(**SOIL).heat_coefficient(231.0)
    assert Ground(**SOIL).heat_coefficient(231.0, ground_temperature=290.0) > 0.0


def test_no_ground_is_denser_than_metal():
    with pytest.raises(OutOfRangeError, match=r"density = 1e\+16 .*30000"):
        Ground(**SOIL | {"density": 1e16})


def test_a_ground_is_called_by_words():
    with pytest.raises(InputError, match="name must be a str"):
        Ground(**SOIL, name=3.0)


def test_age_is_positive():
    with pytest.raises(OutOfRangeError, match="age = 0"):
        Ground(**SOIL, temperature=290.0).heat_flux(231.0, age=0.0)


def test_quantities_of_another_registry_are_taken():
    there = Ground(
        conductivity=UREG.Quantity(1500.0, "mW/m/K"),
        density=UREG.Quantity(1.8, "g/cm**3"),
        heat_capacity=UREG.Quantity(1.2, "kJ/kg/K"),
        temperature=UREG.Quantity(20.0, "degC"),
        minimum_depth=UREG.Quantity(1.0, "cm"),
        water_mass_fraction=UREG.Quantity(5.0, "percent"),
        frozen_conductivity=UREG.Quantity(2000.0, "mW/m/K"),
        conductivity_slope=UREG.Quantity(0.001, "1/delta_degF"),
        heat_capacity_slope=UREG.Quantity(0.1, "percent/K"),
        thickness=UREG.Quantity(1.0, "inch"),
        below=Ground(**SOIL),
    )
    numbers = SOIL | {
        "temperature": 293.15,
        "minimum_depth": 0.01,
        "water_mass_fraction": 0.05,
        "frozen_conductivity": 2.0,
        "conductivity_slope": 0.0018,
        "heat_capacity_slope": 0.001,
        "thickness": 0.0254,
    }
    here = Ground(**numbers, below=there.below)
    for name, value in numbers.items():
        assert getattr(there, name) == pytest.approx(value, rel=1e-12)
    flux = there.heat_flux(UREG.Quantity(-42.0, "degC"), age=UREG.Quantity(1.0, "min"))
    assert flux == pytest.approx(here.heat_flux(231.15, age=60.0), rel=1e-12)


def test_scalar_and_array_agree_to_the_bit():
    contact = np.linspace(180.0, 300.0, 41)
    water = np.linspace(0.0, 0.2, 41)
    whole = Ground(**SOIL, water_mass_fraction=water, temperature=285.0).heat_coefficient(contact)
    for i in range(41):
        alone = Ground(**SOIL, water_mass_fraction=water[i], temperature=285.0).heat_coefficient(contact[i])
        assert alone == whole[i]
    assert np.ndim(alone) == 0


def test_a_ground_pickles_and_compares():
    ground = Ground.named("clay", temperature=280.0)
    assert pickle.loads(pickle.dumps(ground)) == ground
    assert ground != Ground.named("clay", temperature=281.0)


def test_no_difference_draws_no_heat_and_a_warmer_surface_gives_heat_back():
    ground = Ground.named("wet sand", temperature=280.0)
    assert ground.heat_coefficient(280.0) == 0.0
    assert ground.heat_coefficient(290.0) < 0.0


def test_frozen_ground_under_something_warm_thaws():
    # the mirror image: thawing takes up more heat than warming alone
    ground = Ground.named("wet sand", temperature=260.0)
    solid = half_space_coefficient(
        ground.frozen_conductivity, ground.frozen_volumetric_heat_capacity, 260.0 - 280.0
    )
    assert ground.heat_coefficient(280.0) < solid < 0.0
    assert ground.heat_coefficient(250.0) == pytest.approx(-solid / 2.0, rel=1e-12)


def test_the_heat_is_continuous_across_the_freezing_point():
    ground = Ground.named("moist sand", temperature=290.0)
    above, below = ground.heat_coefficient(273.15), ground.heat_coefficient(273.15 - 1e-9)
    assert below == pytest.approx(above, rel=1e-6)


@pytest.mark.parametrize("water", [1e-12, 1e-9, 1e-6])
# at the freezing point nothing but the trace itself holds the front back
@pytest.mark.parametrize("temperature", [290.0, 273.15 + 1e-9, 273.15])
def test_a_trace_of_water_changes_nothing(water, temperature):
    contact = np.array([150.0, 231.0, 273.0])
    dry, damp = (
        Ground(**SOIL, water_mass_fraction=w, temperature=temperature).heat_coefficient(contact)
        for w in (0.0, water)
    )
    # heat of melting of the trace over what the ground gives by cooling; 20: its conductivity, frozen
    extra = water * 3.34e5 / (SOIL["heat_capacity"] * (temperature - contact))
    assert (np.abs(damp / dry - 1.0) <= 20.0 * water + extra + 1e-9).all()


def test_neumann_without_a_drive_has_no_front():
    coefficient, root = neumann_coefficient(
        np.array(0.0),
        np.array(10.0),
        near_conductivity=2.0,
        near_heat_capacity=2e6,
        far_conductivity=1.0,
        far_heat_capacity=2e6,
        latent_heat=1e8,
    )
    assert root == 0.0
    assert coefficient == half_space_coefficient(1.0, 2e6, 10.0)


def test_neumann_without_anything_to_hold_the_front_is_the_near_phase_alone():
    coefficient, _ = neumann_coefficient(
        np.array([1e-9, 42.0, 250.0]),
        np.zeros(3),
        near_conductivity=2.0,
        near_heat_capacity=2e6,
        far_conductivity=1.0,
        far_heat_capacity=2e6,
        latent_heat=np.zeros(3),
    )
    whole = half_space_coefficient(2.0, 2e6, np.array([1e-9, 42.0, 250.0]))
    np.testing.assert_allclose(coefficient, whole, rtol=1e-15)


def test_a_front_that_is_not_found_is_refused_and_all_others_keep_their_shape(monkeypatch):
    soil = {
        "near_conductivity": 2.0,
        "near_heat_capacity": 2e6,
        "far_conductivity": 1.0,
        "far_heat_capacity": 2e6,
        "latent_heat": 1e8,
    }
    near, far = np.array([[1.0], [40.0]]), np.array([0.0, 5.0, 20.0])
    coefficient, root = neumann_coefficient(near, far, **soil)
    assert coefficient.shape == root.shape == (2, 3)
    assert root[1, 2] == neumann_coefficient(40.0, 20.0, **soil)[1]
    monkeypatch.setattr(conduction, "_NEWTON_STEPS", 1)
    with pytest.raises(ConvergenceError, match="front of freezing ground"):
        neumann_coefficient(40.0, 20.0, **soil)


def test_the_front_balances_the_heat_however_little_holds_it_back():
    # a far phase at the melting point and a trace of water, up to a hundred times the heat of ice
    rng = np.random.default_rng(4)
    near, far = 10.0 ** rng.uniform(-6.0, 2.5, 400), 10.0 ** rng.uniform(-6.0, 2.0, 400)
    far[::3], latent = 0.0, 10.0 ** rng.uniform(-6.0, 10.0, 400)
    (k_near, k_far), (c_near, c_far) = rng.uniform(0.3, 3.0, (2, 400)), rng.uniform(1e6, 4e6, (2, 400))
    coefficient, root = neumann_coefficient(
        near,
        far,
        near_conductivity=k_near,
        near_heat_capacity=c_near,
        far_conductivity=k_far,
        far_heat_capacity=c_far,
        latent_heat=latent,
    )
    alpha, ratio = k_near / c_near, np.sqrt(k_near / c_near * c_far / k_far)
    a, b = near * np.sqrt(k_near * c_near / np.pi), far * np.sqrt(k_far * c_far / np.pi)
    np.testing.assert_allclose(coefficient, a / erf(root), rtol=1e-12)
    held = latent * np.sqrt(alpha) * root + b / erfcx(ratio * root)
    inside = root < 5.9  # beyond 6 a front changes no bit of the flux
    assert inside.sum() > 300
    # 1e-10 in the root, times 2 root^2 at most
    np.testing.assert_allclose(held[inside], (a * np.exp(-root * root) / erf(root))[inside], rtol=1e-8)


@pytest.mark.parametrize("name", ["dry sand", "moist sand", "wet clay", "concrete"])
def test_the_table_of_contact_follows_the_exact_coefficient(name):
    ground = Ground.named(name, temperature=295.0)
    T = np.linspace(150.0, 330.0, 1801)
    T = T[np.abs(T - 273.15) > 0.05]
    properties = {key: np.full_like(T, v) for key, v in conduction_properties(ground).items()}
    values, slope = Contact.prepare(np.full_like(T, 295.0), properties).line(T)
    exact = ground.heat_coefficient(T)
    scale = np.maximum(np.abs(exact), 0.1 * ground.heat_coefficient(231.0))
    # straight lines across 7 K at most: curvature of A is a few parts in ten thousand over one of them
    assert np.max(np.abs(values - exact) / scale) < 2e-3
    assert (slope < 0.0).all()
