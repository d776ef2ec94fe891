"""Radiation of fires: bounds, reciprocity, directions, and distances that give back their flux."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import UNITS, finite

from lpgrelease.fire import pool_fire
from lpgrelease.fire.air import transmissivity_bagster, transmissivity_wayne, wayne_coefficients
from lpgrelease.fire.view_factor import (
    Flame,
    flame_area,
    inside_flame,
    is_cut,
    view_factor,
    view_vector,
)
from lpgrelease.fluids import Fluid
from lpgrelease.weather import Weather, water_vapor_pressure

PROPANE = Fluid("propane")
angles = finite(-math.pi, math.pi)


def at(*values):
    return tuple(np.array([float(value)]) for value in values)


@st.composite
def flames(draw):
    """Cylinders and cones, upright and leaning, on the ground and above it."""
    base, rise = draw(finite(0.0, 10.0)), draw(finite(0.5, 20.0))
    lean = draw(finite(-2.0, 2.0)) * rise
    radii = draw(finite(0.05, 5.0)), draw(finite(0.05, 5.0))
    return Flame(*at(0.0, base, radii[0], lean, base + rise, radii[1]))


@st.composite
def targets(draw, flame):
    """Points up to some flame sizes away, anywhere."""
    size = float(flame.tip_z[0] + flame.base_radius[0] + abs(flame.tip_x[0]))
    return at(*(draw(finite(-3.0, 3.0)) * size for _ in range(3)))


@st.composite
def normals(draw):
    azimuth, elevation = draw(angles), draw(finite(-math.pi / 2, math.pi / 2))
    level = math.cos(elevation)
    return at(level * math.cos(azimuth), level * math.sin(azimuth), math.sin(elevation))


@given(st.data())
def test_view_factors_lie_between_zero_and_one(data):
    flame = data.draw(flames())
    point, normal = data.draw(targets(flame)), data.draw(normals())
    assert 0.0 <= view_factor(*point, flame, normal)[0] <= 1.0
    assert 0.0 <= view_factor(*point, flame)[0] <= 1.0


@given(st.data())
def test_facing_the_flame_gives_the_most(data):
    flame = data.draw(flames())
    point, normal = data.draw(targets(flame)), data.draw(normals())
    most = view_factor(*point, flame)[0]
    whole = not is_cut(*point, flame, normal)[0]
    if whole and not inside_flame(*point, flame)[0]:
        assert view_factor(*point, flame, normal)[0] <= most * (1 + 1e-9) + 1e-12


@given(st.data(), finite(-1.4, 1.4))
def test_turning_flame_and_target_together_changes_nothing(data, angle):
    """1e-7: near the axis of an end the formula is 0/0; a target on it is taken 1e-7 radii beside it."""
    flame = data.draw(flames())
    point = data.draw(targets(flame))
    if inside_flame(*point, flame)[0]:
        return

    def turned(x, z):
        return x * math.cos(angle) + z * math.sin(angle), z * math.cos(angle) - x * math.sin(angle)

    base, tip, where = (turned(*p) for p in (flame[0:2], flame[3:5], (point[0], point[2])))
    other = Flame(*base, flame.base_radius, *tip, flame.tip_radius, np.array([angle]))
    assert view_factor(where[0], point[1], where[1], other)[0] == pytest.approx(
        view_factor(*point, flame)[0], rel=1e-5, abs=1e-7
    )
    vector, same = view_vector(where[0], point[1], where[1], other), view_vector(*point, flame)
    x, z = turned(same[0], same[2])
    assert np.ravel(vector) == pytest.approx(np.ravel((x, same[1], z)), abs=1e-7)
    assert flame_area(other, with_base=True)[0] == pytest.approx(flame_area(flame, with_base=True)[0])


def gauss_sphere(radius, polar=40, around=48):
    nodes, weights = np.polynomial.legendre.leggauss(polar)
    phi = 2 * math.pi * (np.arange(around) + 0.5) / around
    u, p = np.meshgrid(nodes, phi, indexing="ij")
    w = np.repeat(weights[:, None], around, axis=1) * 2 * math.pi / around * radius**2
    s = np.sqrt(1 - u * u)
    return (s * np.cos(p)).ravel(), (s * np.sin(p)).ravel(), u.ravel(), w.ravel()


@settings(max_examples=25)
@given(flames())
def test_reciprocity_with_a_sphere_around_the_flame(flame):
    """All that the flame sends out arrives: the view factors over an enclosure sum to the flame's area.

    A_1 F_12 = A_2 F_21 with F_flame-to-enclosure 1 (the flame is convex). 1e-3: the sphere's quadrature; its
    integrand has kinks at the levels of the flame's ends, and finer ones come to 1e-4.
    """
    middle_x, middle_z = (
        0.5 * (flame.base_x + flame.tip_x),
        0.5 * (flame.base_z + flame.tip_z),
    )
    size = np.hypot(flame.tip_x, flame.tip_z - flame.base_z) + flame.base_radius + flame.tip_radius
    x, y, z, w = gauss_sphere(2.0 * size[0])
    R = 2.0 * size
    seen = view_factor(middle_x + R * x, R * y, middle_z + R * z, flame, (-x, -y, -z))
    assert (seen * w).sum() == pytest.approx(flame_area(flame, with_base=True)[0], rel=1e-3)


@settings(max_examples=25)
@given(st.data())
def test_closed_form_is_the_surface_integral(data):
    flame = data.draw(flames())
    point = data.draw(targets(flame))
    if is_near(point, flame):
        return
    exact = np.array(view_vector(*point, flame)).ravel()
    summed = summed_view(np.array(point).ravel(), flame, 300)
    # 300 x 300 cells, each taken as a whole where the edge of what is seen crosses it
    assert exact == pytest.approx(summed, abs=0.01 * max(np.abs(summed).max(), 1e-4))


@settings(max_examples=25)
@given(st.data())
def test_of_a_flame_cut_by_its_plane_a_surface_sees_the_part_before_it(data):
    flame = data.draw(flames())
    point, normal = data.draw(targets(flame)), data.draw(normals())
    if is_near(point, flame):
        return
    where = np.array(point).ravel()
    summed = summed_view(where, flame, 300, np.array(normal).ravel())
    # as above, and the cells that the plane cuts
    size = np.abs(summed_view(where, flame, 300)).max()
    assert view_factor(*point, flame, normal)[0] == pytest.approx(summed, abs=0.01 * max(size, 1e-4))


def is_near(point, flame):
    """Whether a point is too near for a sum over 300 x 300 cells of the flame's surface."""
    gap = 0.3 * float(flame.base_radius[0] + flame.tip_radius[0])
    corners = [at(p[0] + dx, p[1] + dy, p[2] + dz) for p in [tuple(v[0] for v in point)]
               for dx in (-gap, 0, gap) for dy in (-gap, 0, gap) for dz in (-gap, 0, gap)]  # fmt: skip
    # a point on the flame's own surface may have no corner inside a flame flatter than the gap
    on_it = inside_flame(point[0], point[1], point[2] + 1e-9, flame)[0]
    return on_it or any(inside_flame(*corner, flame)[0] for corner in corners)


def summed_view(point, flame, cells, normal=None):
    """View vector by adding up cells of the surface; or what a surface of that `normal` sees of them."""
    bx, bz, rb, tx, tz, rt = (float(v[0]) for v in flame[:6])
    phi = (np.arange(cells) + 0.5) * 2 * math.pi / cells
    s = (np.arange(cells) + 0.5) / cells
    p, s = np.meshgrid(phi, s)
    e = np.stack([np.cos(p), np.sin(p), 0 * p], -1)
    r = rb + s * (rt - rb)
    side = np.stack([bx + s * (tx - bx), 0 * s, bz + s * (tz - bz)], -1) + r[..., None] * e
    along = np.array([tx - bx, 0.0, tz - bz]) + (rt - rb) * e
    around = r[..., None] * np.stack([-np.sin(p), np.cos(p), 0 * p], -1)
    parts = [(side, np.cross(around, along) * 2 * math.pi / cells**2)]
    for x, z, radius, up in ((bx, bz, rb, -1.0), (tx, tz, rt, 1.0)):
        disc = np.stack([x + radius * s * np.cos(p), radius * s * np.sin(p), z + 0 * s], -1)
        area = radius**2 * s * 2 * math.pi / cells**2
        parts.append((disc, np.stack([0 * area, 0 * area, up * area], -1)))
    total = np.zeros(3) if normal is None else 0.0
    for where, area in parts:
        v = where - point
        squared = (v * v).sum(-1)
        seen = np.maximum(-(v * area).sum(-1), 0.0) / squared**2 / math.pi
        if normal is None:
            total += (v * seen[..., None]).reshape(-1, 3).sum(0)
        else:
            total += (np.maximum(v @ normal, 0.0) * seen).sum()
    return total


@given(st.data())
def test_a_cut_flame_and_its_rest_make_the_whole(data):
    """n and -n see the two parts of the flame; their difference is the projection of the vector."""
    flame = data.draw(flames())
    point, normal = data.draw(targets(flame)), data.draw(normals())
    if inside_flame(*point, flame)[0]:
        return
    back = tuple(-n for n in normal)
    projected = sum(v[0] * n[0] for v, n in zip(view_vector(*point, flame), normal, strict=True))
    difference = view_factor(*point, flame, normal)[0] - view_factor(*point, flame, back)[0]
    # 2e-3: arcs of 48 edges
    assert difference == pytest.approx(projected, abs=2e-3 * view_factor(*point, flame)[0] + 1e-9)


fires = st.builds(
    lambda D, wind, T, RH, radiation: pool_fire(
        PROPANE,
        diameter=D,
        weather=Weather(wind_speed=wind, air_temperature=T, relative_humidity=RH),
        radiation=radiation,
    ),
    finite(0.3, 30.0),
    finite(0.0, 15.0),
    finite(250.0, 315.0),
    finite(0.0, 1.0),
    st.sampled_from(["solid flame", "point source"]),
)


@given(fires, finite(1.01, 30.0), finite(1.01, 3.0), angles)
def test_flux_falls_with_distance(fire, far, further, direction):
    reach = float(np.abs(fire.flame.tip_x) + fire.flame.tip_radius)
    near, away = fire.heat_flux([far * reach, far * further * reach], direction=direction)
    assert away < near


@given(finite(0.3, 20.0), finite(1.1, 3.0), finite(1.5, 20.0), st.sampled_from(["upwind", "crosswind"]))
def test_flux_rises_with_diameter_in_still_air(D, wider, away, direction):
    """In still air: in wind a wider fire leans less."""
    small, large = pool_fire(PROPANE, diameter=[D, D * wider], weather=Weather(wind_speed=0.0)).heat_flux(
        away * D * wider, direction=direction
    )
    assert large > small


@given(fires, finite(200.0, 20e3), angles, finite(0.0, 3.0), st.sampled_from(["flame", "axis", "up"]))
def test_standoff_inverts_the_flux(fire, flux, direction, height, facing):
    distance = fire.standoff(flux, direction=direction, height=height, facing=facing)
    if distance > 0.0 and not inside_or_near(fire, distance, direction, height):
        back = fire.heat_flux(distance, direction=direction, height=height, facing=facing)
        assert back == pytest.approx(flux, rel=1e-6)
    further = fire.heat_flux(distance * 1.001 + 0.01, direction=direction, height=height, facing=facing)
    assert further < flux


def inside_or_near(fire, distance, direction, height):
    """Whether the flame's surface, where the flux jumps, lies there."""
    flame = Flame(*(np.atleast_1d(v) for v in fire.flame))
    steps = np.array([0.999, 1.0, 1.001]) * distance
    inside = inside_flame(steps * math.cos(direction), steps * math.sin(direction), np.full(3, height), flame)
    return bool(inside.any())


@given(fires, finite(0.0, 200.0), angles)
def test_mirror_image_across_the_wind(fire, distance, direction):
    left, right = fire.heat_flux(distance, direction=[direction, -direction])
    assert left == pytest.approx(right, rel=1e-9, abs=1e-9)


@given(fires)
def test_radiated_power_is_never_more_than_the_fraction(fire):
    assert 0.0 < fire.radiated_fraction <= 0.3 * (1 + 1e-12)
    assert fire.radiated_power == pytest.approx(fire.radiated_fraction * fire.heat_release_rate)


@given(fires)
def test_far_away_the_solid_flame_is_a_point(fire):
    """A thousand flame lengths away the view factor is that of a silhouette: at most A/(pi r^2)."""
    r = 1000.0 * float(fire.flame_length + fire.diameter)
    flux = fire.heat_flux(r)
    assert flux <= fire.radiated_power / (math.pi * r * r) * (1 + 1e-3)


@given(finite(220.0, 320.0), finite(0.0, 1.0), finite(0.0, 2000.0), finite(1.0, 3.0))
def test_transmissivity_is_a_fraction_and_falls_with_the_path(T, RH, path, longer):
    water, carbon = wayne_coefficients(Weather(air_temperature=T, relative_humidity=RH))
    short, long = transmissivity_wayne(water, carbon, np.array([path, path * longer]))
    assert 0.0 < long <= short <= 1.0
    assert 0.0 < transmissivity_bagster(1500.0, path + 0.1) <= 1.0


@pytest.mark.parametrize(("lowest", "above"), [(273.0, 0.06), (263.0, 0.075), (253.0, 0.09), (180.0, 0.10)])
def test_how_far_two_models_of_transmissivity_lie_apart(lowest, above):
    """As the theory page states; 10 to 1000 m, 10 to 100 kPa m, 10 % humidity or more."""
    T, RH = np.linspace(lowest, 313.0, 120)[:, None, None], np.linspace(0.1, 1.0, 46)[:, None]
    path = np.geomspace(10.0, 1000.0, 101)
    moisture = water_vapor_pressure(T, RH)
    wayne = transmissivity_wayne(*wayne_coefficients(Weather(air_temperature=T, relative_humidity=RH)), path)
    apart = transmissivity_bagster(moisture, path) / wayne - 1.0
    apart = apart[(moisture * path > 1e4) & (moisture * path < 1e5)]
    assert apart.min() > -0.05
    assert above - 0.015 < apart.max() < above


@given(fires, finite(1.0, 300.0), angles)
def test_quantities_are_the_same_as_si(fire, distance, direction):
    plain = fire.heat_flux(distance, direction=direction, height=1.5)
    foot, degree = UNITS.Quantity(distance / 0.3048, "ft"), UNITS.Quantity(math.degrees(direction), "degree")
    other = fire.heat_flux(foot, direction=degree, height=UNITS.Quantity(1.5, "m"))
    assert other == pytest.approx(plain, rel=1e-9)
    assert fire.standoff(UNITS.Quantity(500.0, "Btu/h/ft**2")) == pytest.approx(
        fire.standoff(1577.295), rel=1e-5
    )
