"""Clouds: gas kept in every plane, energy of mixtures, directions, limits, independence of batch-mates."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from strategies import UNITS, few, finite

from lpgrelease.cloud import GasSource, fill_space, flammable_reach, march, pasquill_class
from lpgrelease.cloud.march import CloudProblem
from lpgrelease.cloud.mixing import Mixer
from lpgrelease.cloud.plume import LATERAL, SITES, VERTICAL, averaging_factor, gaussian_concentration
from lpgrelease.cloud.section import OFFSETS, error_function
from lpgrelease.cloud.stability import WindProfile
from lpgrelease.fluids import Fluid
from lpgrelease.weather import AIR_MOLAR_MASS, Weather

AIR = float(AIR_MOLAR_MASS)
names = st.sampled_from(["propane", "n-butane", "propylene", "ammonia"])
classes = st.sampled_from("ABCDEF")
log_rates = finite(math.log(0.01), math.log(50.0))


@st.composite
def cases(draw):
    """A fluid, and the keywords of a source and a weather."""
    jet = draw(st.booleans())
    source = {
        "mass_flow": math.exp(draw(log_rates)),
        "liquid_fraction": draw(finite(0.0, 0.8)) if jet else 0.0,
        "velocity": draw(finite(20.0, 300.0)) if jet else 0.0,
        "diameter": draw(finite(0.2, 20.0)),
        "height": draw(finite(0.0, 3.0)),
    }
    weather = {
        "wind_speed": draw(finite(1.0, 12.0)),
        "air_temperature": draw(finite(265.0, 310.0)),
        "relative_humidity": draw(finite(0.0, 1.0)),
        "stability": draw(classes),
    }
    return Fluid(draw(names)), source, weather


def reach(case, **changes):
    fluid, source, weather = case
    source = source | {k: v for k, v in changes.items() if k in source}
    others = {k: v for k, v in changes.items() if k not in source}
    return flammable_reach(fluid, GasSource(**source), weather=Weather(**weather), **others)


def flow_through_planes(cloud, molar_mass):
    """Integral of concentration and speed over every plane [kg/s], with the standard library's erf."""
    planes = cloud.planes
    gas = planes.density / (1.0 + AIR / molar_mass * (1.0 / planes.mole_fraction - 1.0))
    erf = np.vectorize(math.erf)
    flows = []
    for b, s, h, c, u in zip(
        planes.half_width, planes.edge_spread, planes.depth, gas, planes.speed, strict=True
    ):
        scale = math.sqrt(2.0) * max(s, 1e-9)
        core = max(b - 8.0 * s, 0.0)
        y = np.linspace(core, b + 8.0 * max(s, 1e-9), 401)
        profile = 0.5 * (erf((b + y) / scale) + erf((b - y) / scale))
        across = 2.0 * (core + np.trapezoid(profile, y))
        sigma = h * math.sqrt(2.0 / math.pi)
        z = np.linspace(0.0, 10.0 * sigma, 801)
        flows.append(c * u * across * np.trapezoid(np.exp(-0.5 * (z / sigma) ** 2), z))
    return np.array(flows)


@few(6)
@given(cases())
def test_gas_through_every_plane_is_that_of_the_source(case):
    cloud = reach(case)
    assert flow_through_planes(cloud, case[0].molar_mass) == pytest.approx(case[1]["mass_flow"], rel=1e-6)


@few(12)
@given(cases())
def test_planes_run_downwind_and_thin_out(case):
    planes = reach(case).planes
    axis = planes.mole_fraction * error_function(
        planes.half_width / (math.sqrt(2.0) * np.maximum(planes.edge_spread, 1e-9))
    )
    assert np.all(np.diff(planes.distance) > 0.0)
    assert np.all(np.diff(planes.time) > 0.0)
    assert np.all(np.diff(axis) < 0.0)
    assert np.all(np.diff(planes.half_width) >= 0.0)
    assert np.all(np.diff(planes.drops) <= 1e-12)


@few(12)
@given(cases(), finite(1.05, 20.0))
def test_more_gas_reaches_farther(case, times):
    rate = case[1]["mass_flow"]
    assert reach(case, mass_flow=rate * times).distance > reach(case).distance


@few(12)
@given(cases(), finite(0.05, 1.0), finite(1.05, 3.0))
def test_a_greater_fraction_is_nearer(case, fraction, times):
    assert reach(case, fraction=fraction * times).distance < reach(case, fraction=fraction).distance


@few(12)
@given(cases())
def test_levels_and_the_factor_of_two_are_in_order(case):
    cloud = reach(case, fraction=0.5)
    assert cloud.distance_low <= cloud.distance <= cloud.distance_high
    assert np.all(np.diff(cloud.level_distance) > 0.0)
    assert np.all(np.diff(cloud.level_width) >= 0.0)  # equal where the source itself is widest
    assert np.all(np.diff(cloud.level_height) > 0.0)
    assert cloud.level_distance[1] == cloud.distance
    assert 0.0 <= cloud.arrival_time <= cloud.clearing_time + 1e-9 + cloud.arrival_time
    assert cloud.flammable_mass > 0.0


@few(12)
@given(cases(), finite(1.0, 600.0), finite(1.1, 6.0))
def test_a_longer_average_never_reaches_farther(case, seconds, times):
    short = reach(case, averaging_time=seconds).distance
    assert reach(case, averaging_time=seconds * times).distance <= short * (1.0 + 1e-9)


@few(12)
@given(cases(), finite(0.05, 0.95), finite(0.0, 3.0), finite(0.01, 2.0))
def test_a_monitor_reads_less_higher_up_and_aside(case, part, height, more):
    cloud = reach(case)
    x = part * cloud.distance
    low = cloud.mole_fraction(x, height=height)
    assert cloud.mole_fraction(x, height=height + more) <= low
    assert cloud.mole_fraction(x, crosswind=more, height=height) <= low
    assert cloud.mole_fraction(x, crosswind=-more) == cloud.mole_fraction(x, crosswind=more)


@few(12)
@given(cases())
def test_the_axis_reads_the_fraction_at_the_distance(case):
    cloud = reach(case, fraction=0.5)
    assume(cloud.distance > 0.0)
    # between planes the profile is read linearly: planes lie some percent apart
    assert cloud.mole_fraction(cloud.distance) == pytest.approx(0.5 * cloud.lower_flammable_limit, rel=0.03)


@few(4)
@given(st.lists(cases(), min_size=2, max_size=4), names)
def test_a_scenario_never_feels_its_batch_mates(listed, name):
    fluid = Fluid(name)
    sources = {k: np.array([c[1][k] for c in listed]) for k in listed[0][1]}
    weathers = {k: np.array([c[2][k] for c in listed]) for k in listed[0][2] if k != "stability"}
    stability = listed[0][2]["stability"]
    together = flammable_reach(fluid, GasSource(**sources), weather=Weather(**weathers, stability=stability))
    for i, (_, source, weather) in enumerate(listed):
        alone = flammable_reach(
            fluid, GasSource(**source), weather=Weather(**weather | {"stability": stability})
        )
        for field in ("distance", "width", "height", "flammable_mass", "arrival_time", "clearing_time"):
            assert getattr(alone, field) == getattr(together, field)[i], field
        assert np.array_equal(alone.planes.depth, together.planes.depth[i])


@few(5)
@given(cases())
def test_quantities_and_plain_numbers_agree(case):
    fluid, source, weather = case
    plain = flammable_reach(fluid, mass_flow=source["mass_flow"], weather=Weather(**weather))
    in_field_units = Weather(
        air_temperature=UNITS.Quantity(weather["air_temperature"] * 1.8 - 459.67, "degF"),
        wind_speed=UNITS.Quantity(weather["wind_speed"] / 0.44704, "mph"),
        relative_humidity=weather["relative_humidity"],
        stability=weather["stability"],
        ambient_pressure=UNITS.Quantity(101325.0 / 6894.757293168361, "psi"),
    )
    asked = UNITS.Quantity(source["mass_flow"] / 0.45359237, "lb/s")
    quantity = flammable_reach(fluid, mass_flow=asked, weather=in_field_units)
    assert quantity.distance == pytest.approx(plain.distance, rel=1e-9)


# -- mixtures ---------------------------------------------------------------------------------------------


@few(12)
@given(cases(), finite(0.0, 7.0))
def test_mixtures_keep_their_enthalpy_to_round_off(case, dilution):
    fluid, source, weather = case
    one = np.ones(1)
    boiling = fluid.saturation_temperature(101325.0 * one)
    liquid = source["liquid_fraction"]
    mixer = Mixer(
        fluid,
        fluid.molar_mass,
        1700.0,
        boiling,
        liquid * one,
        weather["air_temperature"] * one,
        weather["relative_humidity"] * one,
        101325.0 * one,
    )
    drops = liquid * one
    for part in np.linspace(0.0, dilution, 60):
        mixture = mixer.mix(np.expm1(part) * one, drops)
        drops = mixture.drops
        gap = mixer.enthalpy(np.expm1(part) * one, mixture) - mixer.source_enthalpy()
        capacity = 1700.0 + np.expm1(part) * 1006.0
        assert np.abs(gap / capacity) <= 1e-4  # K: far below what any density feels
        assert 0.0 <= mixture.drops <= liquid


# -- the passive limit ------------------------------------------------------------------------------------


def neutral_problem(molar_mass, index, half_width, site="open country"):
    one = np.ones(1)
    wind = WindProfile.prepare(4.0 * one, np.array([index]), 0.03 * one)
    mixer = Mixer(None, molar_mass, 1006.0, 293.15 * one, 0.0 * one, 293.15 * one, 0.0 * one, 101325.0 * one)
    return CloudProblem(
        mixer=mixer,
        wind=wind,
        lateral=LATERAL[site].at(np.array([index])),
        vertical=VERTICAL[site].at(np.array([index])),
        lateral_factor=averaging_factor(600.0 * one),
        mass_flow=0.01 * one,
        velocity=0.0 * one,
        height=0.0 * one,
        half_width=half_width * one,
        end=9.0 * one,
    )


@given(st.integers(0, 5), st.sampled_from(SITES))
def test_without_a_density_difference_it_is_the_gaussian_plume(index, site):
    """Beyond 50 source widths: the plume of a point, from where its curve has the first depth."""
    problem = neutral_problem(AIR, index, 0.01, site)
    track = march.march(problem)
    start = problem.vertical.distance(track.depth[0] / math.sqrt(0.5 * math.pi))
    far = (track.distance[:, 0] > 1.0) & (track.distance[:, 0] + start < 5000.0)
    x = track.distance[far, 0]
    expected = gaussian_concentration(
        0.01,
        track.speed[far, 0],
        lateral_spread=problem.lateral.sigma(x),
        vertical_spread=problem.vertical.sigma(x + start),
    )
    axis = track.half_width[far, 0] / (math.sqrt(2.0) * track.edge_spread[far, 0])
    found = track.density[far, 0] / (1.0 + track.air_ratio[far, 0]) * np.vectorize(math.erf)(axis)
    assert far.sum() > 10
    assert found == pytest.approx(expected, rel=1e-2)  # 72 steps, and a kink where the wind stops growing
    assert track.served[-1, 0] == 2


def test_the_passive_limit_is_approached_as_the_density_difference_goes():
    limit = march.march(neutral_problem(AIR, 3, 1.0)).distance[-1, 0]
    gaps = [
        abs(march.march(neutral_problem(AIR * (1.0 + d), 3, 1.0)).distance[-1, 0] / limit - 1.0)
        for d in (1e-1, 1e-2, 1e-3, 1e-5)
    ]
    assert gaps == sorted(gaps, reverse=True)
    assert gaps[-1] < 1e-3


# -- the air ------------------------------------------------------------------------------------------------


@given(finite(0.0, 20.0), finite(0.0, 20.0), finite(0.0, 1200.0), finite(0.0, 1.0))
def test_more_wind_brings_the_class_nearer_to_neutral(wind, more, sun, cloud):
    def distance_to_neutral(speed):
        weather = Weather(wind_speed=speed, solar_irradiance=sun, cloud_cover=cloud)
        return abs(ord(str(pasquill_class(weather))) - ord("D"))

    assert distance_to_neutral(wind + more) <= distance_to_neutral(wind)


@given(
    st.integers(0, 5), st.sampled_from(SITES), st.sampled_from(["lateral", "vertical"]), finite(1.0, 5000.0)
)
def test_spread_curves_invert(index, site, direction, x):
    curve = {"lateral": LATERAL, "vertical": VERTICAL}[direction][site].at(np.array([index]))
    assert curve.distance(curve.sigma(np.array([x]))) == pytest.approx(x, rel=1e-9)


# -- filled spaces ------------------------------------------------------------------------------------------


@st.composite
def spaces(draw):
    return {
        "mass_flow": math.exp(draw(finite(math.log(1e-4), math.log(1.0)))),
        "floor_area": draw(finite(1.0, 500.0)),
        "depth": draw(finite(0.2, 5.0)),
        "duration": draw(finite(0.0, 1e5)),
        "air_changes": draw(st.sampled_from([0.0, 0.2, 1.0, 10.0])) / 3600.0,
        "mixing_factor": draw(finite(0.1, 1.0)),
        "fraction": draw(finite(0.05, 2.0)),
    }


@given(spaces(), names)
def test_a_mixed_space_keeps_its_books(space, name):
    """Gas in = gas inside + gas out, the outflow integrated on a fine grid."""
    filled = fill_space(Fluid(name), **space)
    volume = space["floor_area"] * space["depth"]
    q, t = float(filled.volume_flow), space["duration"]
    out_rate = q / volume + space["mixing_factor"] * space["air_changes"]
    z, weight = np.polynomial.legendre.leggauss(60)
    grid = 0.5 * t * (z + 1.0)
    y = q / volume / out_rate * -np.expm1(-out_rate * grid)
    gone = out_rate * volume * np.sum(0.5 * t * weight * y)
    assume(out_rate * t < 100.0)  # beyond, 60 points do not resolve the start
    assert filled.mixed_fraction * volume + gone == pytest.approx(q * t, rel=1e-9, abs=1e-12)
    assert 0.0 <= filled.mixed_fraction <= 1.0
    assert 0.0 <= filled.layer_depth <= space["depth"]


@given(spaces(), names)
def test_times_of_a_space_lead_to_their_fractions(space, name):
    fluid = Fluid(name)
    assume(space["fraction"] * fluid.flammable_limits[0] < 0.9)
    filled = fill_space(fluid, **space)
    wanted = space["fraction"] * fluid.flammable_limits[0]
    if math.isfinite(filled.time_to_fraction):
        again = fill_space(fluid, **space | {"duration": float(filled.time_to_fraction)})
        assert again.mixed_fraction == pytest.approx(wanted, rel=1e-9)
    if filled.air_changes_needed <= 1.0:
        aired = fill_space(fluid, **space | {"air_changes": float(filled.air_changes_needed)})
        assert aired.steady_fraction == pytest.approx(wanted, rel=1e-9)
    if math.isfinite(filled.time_to_rim):
        brim = fill_space(fluid, **space | {"duration": float(filled.time_to_rim)})
        assert brim.layer_depth == pytest.approx(space["depth"], rel=1e-9)


def test_dataclasses_of_the_march_are_frozen():
    with pytest.raises(dataclasses.FrozenInstanceError):
        neutral_problem(AIR, 3, 1.0).mass_flow = 1.0


@given(cases(), st.sampled_from([1.0, 0.5]))
def test_the_radius_holds_the_whole_contour(case, fraction):
    """Every point of the outline, by bisection on a fine axis, lies within the radius, and one near it."""
    fluid, source, weather = case
    cloud = reach(
        (fluid, source, weather | {"wind_speed": 1.0 + 0.2 * weather["wind_speed"]}), fraction=fraction
    )
    x, edge = cloud.contour(fraction, points=2000)
    on_axis = cloud.mole_fraction(x * (1.0 - 1e-12)) >= fraction * cloud.lower_flammable_limit
    farthest = np.max(np.where(on_axis, np.hypot(x, edge), 0.0))
    planes = cloud.planes
    strip = np.max((planes.half_width + 5.0 * planes.edge_spread) / OFFSETS)
    # edges are linear in concentration between strips, and the outline is drawn linear between planes
    assert farthest <= 1.02 * cloud.radius + strip
    assert cloud.radius <= 1.02 * max(farthest + strip, cloud.distance, cloud.upwind)
    assert cloud.distance <= cloud.radius <= cloud.radius_high
    assert 0.5 * cloud.width <= cloud.radius
    assert cloud.broad == (max(0.5 * cloud.width, cloud.upwind) > cloud.distance)
