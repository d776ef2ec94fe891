"""Physical constants against their defining relations and scipy's table."""

from __future__ import annotations

import copy
import importlib
import math
import pickle
import pkgutil
import re
from pathlib import Path

import numpy as np
import pytest
import scipy.constants
from strategies import UNITS

import lpgrelease
from lpgrelease import constants
from lpgrelease.constants import Constant

BY_HAND = ("make_", "fit_", "handbook", "correlations")  # remake the tables, and need what a user has not
BIBLIOGRAPHY = Path(__file__).parents[2] / "docs" / "references.bib"


def all_constants():
    """Those of every module, by name."""
    found = {}
    for module in pkgutil.walk_packages(lpgrelease.__path__, "lpgrelease."):
        if not module.name.rsplit(".", maxsplit=1)[-1].startswith(BY_HAND):
            values = vars(importlib.import_module(module.name)).values()
            found |= {value.name: value for value in values if isinstance(value, Constant)}
    return list(found.values())


ALL = all_constants()

# exact by definition of the SI (bipm2019si)
BOLTZMANN, AVOGADRO, PLANCK, LIGHT = 1.380649e-23, 6.02214076e23, 6.62607015e-34, 299792458.0


def test_gas_constant_is_boltzmann_times_avogadro():
    assert float(constants.GAS_CONSTANT) == pytest.approx(BOLTZMANN * AVOGADRO, rel=1e-15)


def test_stefan_boltzmann_follows_from_the_defining_constants():
    exact = 2.0 * math.pi**5 * BOLTZMANN**4 / (15.0 * PLANCK**3 * LIGHT**2)
    # ten digits are printed
    assert float(constants.STEFAN_BOLTZMANN) == pytest.approx(exact, rel=1e-10)


def test_agreement_with_scipy():
    assert scipy.constants.g == constants.STANDARD_GRAVITY
    assert scipy.constants.atm == constants.STANDARD_ATMOSPHERE
    assert scipy.constants.zero_Celsius == constants.FREEZING_POINT_OF_WATER


def test_zero_reading_is_a_tenth_of_a_psi():
    assert float(constants.ZERO_GAUGE_READING) == pytest.approx(0.1 * scipy.constants.psi, rel=1e-6)


@pytest.mark.parametrize("constant", ALL, ids=lambda c: c.name)
def test_constants_say_what_they_are(constant):
    assert constant.name
    assert UNITS(constant.unit) is not None
    assert 0.0 <= constant.uncertainty < 0.5 * constant
    for part in (constant.unit, constant.name, constant.source, repr(float(constant))):
        assert part in repr(constant)


def test_what_is_measured_says_how_well():
    without = {constant.source.split(",")[0] for constant in ALL if constant.uncertainty == 0.0}
    by_definition = {"bipm2019si", "tiesinga2021codata", "common practice", "geometry"}
    not_said_there = {"petrovic2003ice", "poling2000properties", "api2014flares"}
    assert without - by_definition - not_said_there == {"haynes2014handbook"}
    of_handbook = {c.name for c in ALL if c.source.startswith("haynes2014") and c.uncertainty == 0.0}
    assert of_handbook == {"molar mass of water"}  # to all digits that are given


@pytest.mark.parametrize("constant", ALL, ids=lambda c: c.name)
@pytest.mark.parametrize("again", [copy.deepcopy, lambda c: pickle.loads(pickle.dumps(c))])
def test_constants_survive_copies(constant, again):
    twin = again(constant)
    assert twin == constant
    assert repr(twin) == repr(constant)


@pytest.mark.parametrize("constant", ALL, ids=lambda c: c.name)
def test_sources_of_constants_are_in_the_bibliography(constant):
    first = constant.source.split(",")[0]
    entries = re.findall(r"^@\w+\{([^,\s]+),", BIBLIOGRAPHY.read_text(encoding="utf-8"), re.MULTILINE)
    assert first in {*entries, "common practice", "from memory", "geometry"}
    assert constant.source.removeprefix(first) in {
        "",
        ", from memory",
        ", no source",
        ", abstract",
    } or re.match(r", Tables? [A-Z0-9]", constant.source.removeprefix(first))


def test_arithmetic_gives_plain_floats():
    assert type(constants.STANDARD_GRAVITY * 2) is float
    assert (np.ones(2) * constants.STANDARD_GRAVITY).dtype == np.float64


def test_every_public_name_exists():
    assert {name for name, value in vars(constants).items() if isinstance(value, Constant)} | {
        "Constant"
    } == set(constants.__all__)
