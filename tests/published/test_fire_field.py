"""Fires in the field against the models; the documentation states the bias and the scatter found here."""

import inspect
import math

import numpy as np
import pytest
from comparisons.of_fire import RADIATED
from published_tables import read_table

import lpgrelease as lr
from lpgrelease.fire import shape
from lpgrelease.fire.air import transmissivity_wayne, wayne_coefficients
from lpgrelease.fire.view_factor import Flame, flame_area, view_factor
from lpgrelease.weather import Weather

NONE = np.zeros(1)
METHANE_HEAT, MONTOIR_FLUX = 50e6, 0.14  # J/kg; kg/m2/s, from memory


def montoir_ratios(fraction):
    """Computed over measured flux, with the flame's length, tilt and base as filmed."""
    ratios = []
    water, carbon = wayne_coefficients(Weather(air_temperature=293.15, relative_humidity=0.6))
    for row in read_table("fire_montoir").rows:
        D, L = 35.0, float(row["flame_length_m"])
        tilt, R = math.radians(float(row["tilt_deg"])), 17.5 * float(row["base_over_diameter"])
        base = R - 0.5 * D
        flame = Flame(
            NONE + base,
            NONE,
            NONE + R,
            NONE + base + L * math.sin(tilt),
            NONE + L * math.cos(tilt),
            NONE + R,
        )
        power = fraction * MONTOIR_FLUX * 0.25 * math.pi * D * D * METHANE_HEAT
        E = power / flame_area(flame, with_base=False)
        x = float(row["distance_m"])
        tau = transmissivity_wayne(water, carbon, NONE + x - R)
        for column, sense in (("downwind_kW_m2", 1.0), ("upwind_kW_m2", -1.0)):
            flux = E * tau * view_factor(NONE + sense * x, NONE, NONE, flame) / 1e3
            ratios.append(flux[0] / float(row[column]))
    return np.log(ratios)


def test_heat_flux_around_the_montoir_fires():
    """Nine phases of three fires of 35 m: the default radiated fraction of 0.3 is on the safe side.

    The air's humidity is not in the deposit; 60 % is assumed, and 30 or 90 % move the bias by 4 %.
    """
    ratios = montoir_ratios(RADIATED)
    assert math.exp(ratios.mean()) == pytest.approx(1.5, abs=0.1)
    assert math.exp(ratios.std()) < 1.3
    assert math.exp(montoir_ratios(0.2).mean()) == pytest.approx(1.0, abs=0.07)


def test_flame_length_of_the_montoir_fires():
    """Filmed: 68 to 89 m, mean 77. Thomas 67, Heskestad 91 (calm); both within 20 %."""
    seen = np.mean([float(row["flame_length_m"]) for row in read_table("fire_montoir").rows])
    heat = MONTOIR_FLUX * 0.25 * math.pi * 35**2 * METHANE_HEAT
    assert shape.flame_length_thomas(MONTOIR_FLUX, 35.0, 1.2) == pytest.approx(seen, rel=0.2)
    assert shape.flame_length_heskestad(heat, 35.0) == pytest.approx(seen, rel=0.25)


@pytest.mark.parametrize("row", read_table("fire_field_pools").rows[:2], ids=lambda row: row["diameter_m"])
def test_flame_length_of_the_largest_pools(row):
    """Pools on water: Heskestad is 8 to 10 % short, Thomas 23 to 28 % (thin air at 1600 m: 1.0 kg/m3)."""
    D, flux, seen = (float(row[k]) for k in ("diameter_m", "burning_flux_kg_m2_s", "flame_length_m"))
    heskestad = shape.flame_length_heskestad(flux * 0.25 * math.pi * D * D * METHANE_HEAT, D)
    assert heskestad == pytest.approx(seen, rel=0.15)
    thomas = shape.flame_length_thomas(flux, D, 1.0)
    assert 0.65 * seen < thomas < seen


def test_brightness_of_the_lpg_pool_on_land():
    """The smoke law gives 31 kW/m2 where 48 were measured over the whole flame: two thirds."""
    row = next(r for r in read_table("fire_field_pools").rows if r["fuel"] == "LPG")
    law = shape.emissive_power_mudan(float(row["diameter_m"])) / 1e3
    assert law / float(row["emissive_power_kW_m2"]) == pytest.approx(0.64, abs=0.02)


def test_the_default_radiated_fraction_covers_the_propane_burners():
    rows = read_table("fire_propane_burners").rows
    measured = np.array([float(row["radiated_fraction"]) for row in rows])
    assert measured.size == 18
    # one burner of eighteen is at 0.31
    assert (measured <= RADIATED + 0.01).all()
    assert (measured <= RADIATED).sum() >= 17
    # what is taken where none is given: a clean fire's surface sends out that share
    fires = [
        lr.pool_fire(lr.Fluid("propane"), diameter=2.0, emission="radiated fraction", **given)
        for given in ({}, {"radiated_fraction": RADIATED})
    ]
    assert fires[0].surface_emissive_power == fires[1].surface_emissive_power
    for function in (lr.still_pool_fire, lr.burn_pit):
        assert inspect.signature(function).parameters["radiated_fraction"].default == RADIATED


def test_flux_beside_a_propane_burner():
    """Gauges up to the flame's top, 1 m from the axis of a 1 m burner: solid flame of measured power.

    The lower three gauges within a third; above the flame's mean height a real flame is ragged and bulges.
    """
    heat = 2.943e-3 * 46.35e6
    length = float(shape.flame_length_heskestad(heat, 1.0))
    flame = Flame(NONE, NONE, NONE + 0.5, NONE, NONE + length, NONE + 0.5)
    E = 0.17 * heat / flame_area(flame, with_base=False)
    ratios = []
    for row in read_table("fire_propane_burner_flux").rows[:3]:
        seen = view_factor(NONE + 1.0, NONE, NONE + float(row["height_m"]), flame, (NONE - 1.0, NONE, NONE))
        ratios.append(float((E * seen)[0]) / 1e3 / float(row["flux_kW_m2"]))
    assert np.array(ratios) == pytest.approx(1.0, rel=0.34)
