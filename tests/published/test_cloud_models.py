"""Stability table, spread curves, plume, heavy-gas correlation, jets and monitors against printed values."""

from __future__ import annotations

import math

import numpy as np
import pytest
from published_tables import read_table

from lpgrelease.cloud import (
    britter_mcquaid_plume,
    flammable_limit_le_chatelier,
    pasquill_class,
    sensor_correction_factor,
)
from lpgrelease.cloud.dense import RATIOS, plume_curve_britter_mcquaid
from lpgrelease.cloud.march import DEPTH_OF_SPREAD, ENTRAINMENT, JET_DECAY, entrainment_damping
from lpgrelease.cloud.plume import VERTICAL, gaussian_concentration, plume_spread_briggs
from lpgrelease.cloud.stability import WindProfile
from lpgrelease.fluids import Fluid
from lpgrelease.weather import Weather


def rows(name):
    return read_table(name).rows


@pytest.mark.parametrize("row", rows("cloud_stability_pasquill"), ids=lambda r: f"{r['sky']} {r['wind_m_s']}")
def test_stability_lies_in_the_cell_of_pasquills_table(row):
    weather = Weather(
        wind_speed=float(row["wind_m_s"]),
        solar_irradiance=float(row["sun_W_m2"]),
        cloud_cover=float(row["cloud_percent"]) / 100.0,
    )
    ends = row["classes"].split("-")
    assert ends[0] <= str(pasquill_class(weather)) <= ends[-1]


@pytest.mark.parametrize("row", rows("cloud_spread_briggs_urban"), ids=lambda r: f"{r['class']} {r['x_m']}")
def test_urban_spread(row):
    sy, sz = plume_spread_briggs(np.float64(row["x_m"]), np.array("ABCDEF".index(row["class"])), site="urban")
    assert sy == pytest.approx(float(row["sigma_y_m"]), rel=5e-4)
    assert sz == pytest.approx(float(row["sigma_z_m"]), rel=5e-4)


def test_turners_first_problem():
    (row,) = rows("cloud_plume_turner")
    found = gaussian_concentration(
        float(row["rate_g_s"]),
        float(row["wind_m_s"]),
        lateral_spread=float(row["sigma_y_m"]),
        vertical_spread=float(row["sigma_z_m"]),
    )
    assert found == pytest.approx(float(row["concentration_g_m3"]), rel=0.01)


def test_heavy_gas_example():
    (row,) = rows("cloud_dense_example")
    value = {name: float(text) for name, text in row.items()}
    flow = value["liquid_m3_s"] * value["liquid_kg_m3"] / value["vapor_kg_m3"]
    plume = britter_mcquaid_plume(
        value["percent"] / 100.0,
        volume_flow=flow,
        density=value["vapor_kg_m3"],
        wind_speed=value["wind_m_s"],
        temperature=value["T_K"],
        air_temperature=value["T_air_K"],
        air_density=1.224,  # air of the example, from memory
    )
    assert flow == pytest.approx(value["q0_m3_s"], rel=0.002)
    assert plume.reduced_gravity == pytest.approx(value["g0_m_s2"], abs=0.1)
    assert plume.source_length == pytest.approx(value["length_m"], abs=0.005)
    assert plume.corrected_fraction == pytest.approx(value["corrected"], abs=5e-4)
    assert plume.scaled_distance == pytest.approx(value["scaled"], rel=0.03)
    assert plume.distance == pytest.approx(value["distance_m"], rel=0.03)
    assert plume.dense


@pytest.mark.parametrize("row", rows("cloud_dense_curves"), ids=lambda r: f"{r['ratio']} {r['alpha']}")
def test_heavy_gas_curves(row):
    curve = int(np.flatnonzero(float(row["ratio"]) == RATIOS)[0])
    found = plume_curve_britter_mcquaid(np.float64(row["alpha"]))[curve]
    assert found == pytest.approx(float(row["beta"]), abs=0.01)


def test_entrainment_of_wind_tunnels():
    """w_e/u* = 0.65/(1 + 0.2 Ri), Ri up to 15: robins2001dense (looked-up abstract)."""
    assert ENTRAINMENT * entrainment_damping(np.float64(0.0)) == pytest.approx(0.65)
    assert ENTRAINMENT * entrainment_damping(np.float64(15.0)) == pytest.approx(0.65 / 4.0)


def test_the_passive_curve_entrains_as_measured():
    """0.65 +- 0.05 of u* in neutral air: britter2002vertical (looked-up abstract), at a depth of 1 m."""
    d = np.array(3)
    wind = WindProfile.prepare(np.float64(5.0), d, np.array(0.03))
    curve = VERTICAL["open country"].at(d)
    growth = curve.slope(curve.distance(np.float64(1.0 / DEPTH_OF_SPREAD))) * DEPTH_OF_SPREAD
    speed = wind.speed * (1.0 / 10.0) ** wind.exponent  # d(u_a h)/dh, the wind at the top of the layer
    assert speed * growth / wind.friction_velocity == pytest.approx(0.65, abs=0.05)


def test_axial_decay_of_a_jet_agrees_with_its_entrainment():
    """M/M0 = 0.32 x/D (ricou1961entrainment), profiles Gaussian, that of the gas 1.16 times the wider.

    The mean weighted with the flow is then 1.16^2/(1 + 1.16^2) of the axis; 1.16 is chen1980jets, from
    memory; 5 % is the scatter of published decay constants, 5.0 to 5.4.
    """
    share = 1.16**2 / (1.0 + 1.16**2)
    assert 1.0 / (0.32 * share) == pytest.approx(JET_DECAY, rel=0.05)
    constant = 0.5 * math.sqrt(math.pi) / JET_DECAY  # of dM/dx on the axis
    assert constant == pytest.approx(0.282 * share, rel=0.05)


@pytest.mark.parametrize("row", rows("cloud_monitor_manual"), ids=lambda r: r["fluid"])
def test_sensor_factors_of_two_makes_agree(row):
    other = float(row["setting_percent"]) / 20.0
    assert sensor_correction_factor(Fluid(row["fluid"]), "methane") == pytest.approx(other, rel=0.15)


def test_le_chateliers_rule():
    """60 % propane and 40 % n-butane: closed form, 1.969 %."""
    assert flammable_limit_le_chatelier([0.6, 0.4], [0.021, 0.018]) == pytest.approx(0.01969, abs=5e-6)
