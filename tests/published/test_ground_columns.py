"""Columns of ground against exact solutions, and side heat against finite volumes in two dimensions."""

from __future__ import annotations

import math

import numpy as np
import pytest
from disc_on_ground import DiscOnGround
from scipy.special import erfcx

from lpgrelease.ground import Ground
from lpgrelease.ground.column import PERFECT_CONTACT, GroundColumns
from lpgrelease.ground.sides import side_heat_flux

FOUR_DAYS = 4 * 86400.0
START, COLD = 300.15, 231.15


def cool(ground, end, *, growth=0.1, first=0.05, cells=48, conductance=PERFECT_CONTACT, depth=6.0):
    """Times, fluxes and heats of ground at 300.15 K under something at 231.15 K."""
    soil = GroundColumns.prepare(ground, (), cells=cells, depth=depth)
    state, t, heat, rows = soil.start(np.array(START)), 0.0, 0.0, []
    while t < end * (1.0 - 1e-12):
        dt = min(max(first, growth * t), end - t)
        step = soil.step(state, np.array(dt), np.array(COLD), np.array(conductance), np.array(not rows))
        state, t, heat = step.state, t + dt, heat + float(step.heat)
        rows.append((t, float(step.flux), heat))
    return np.array(rows).T


@pytest.mark.parametrize("name", ["dry sand", "moist sand", "wet sand", "clay", "wet clay", "concrete"])
def test_flux_and_heat_of_a_half_space(name):
    # carslaw1959conduction, sections 2.4 and 11.2: A / sqrt(t) with or without a front
    ground = Ground.named(name)
    A = ground.heat_coefficient(COLD, ground_temperature=START)
    t, flux, heat = cool(ground, FOUR_DAYS)
    late = t > 60.0
    np.testing.assert_allclose(flux[late], A / np.sqrt(t[late]), rtol=5e-3)
    np.testing.assert_allclose(heat[late], 2.0 * A * np.sqrt(t[late]), rtol=5e-3)


def flux_errors(ground, **settings):
    """Largest error of the flux from 10 min to 4 h, against the half-space."""
    A = ground.heat_coefficient(COLD, ground_temperature=START)
    t, flux, _ = cool(ground, 4 * 3600.0, **settings)
    late = t > 600.0
    return float(np.max(np.abs(flux[late] * np.sqrt(t[late]) / A - 1.0)))


def test_order_of_convergence_in_time_and_cells():
    # halved steps on cells so fine that they leave 5e-5, and finer cells with steps that leave as little;
    # a growth of g makes steps of g t; half the stretching of the cells needs about twice as many
    ground = Ground.named("concrete")
    steps = [flux_errors(ground, growth=g, cells=384, first=0.01) for g in (0.4, 0.2, 0.1)]
    assert math.log2(steps[0] / steps[1]) == pytest.approx(2.0, abs=0.4)
    assert math.log2(steps[1] / steps[2]) == pytest.approx(2.0, abs=0.4)
    cells = [flux_errors(ground, growth=0.01, cells=n, first=0.01) for n in (24, 48, 96)]
    assert math.log2(cells[0] / cells[1]) == pytest.approx(2.0, abs=0.4)
    assert math.log2(cells[1] / cells[2]) == pytest.approx(2.0, abs=0.4)


def test_finer_is_nearer_where_ground_freezes():
    ground = Ground.named("wet sand")
    errors = [flux_errors(ground, growth=g, cells=n) for g, n in ((0.2, 32), (0.1, 64), (0.05, 128))]
    assert errors[0] > 1.6 * errors[1] > 1.6 * 1.6 * errors[2]
    assert errors[2] < 2e-3


@pytest.mark.parametrize("lower", [0.2, 5.0])
def test_two_layers(lower):
    # exact: images of the surface in the foot of the layer, reflected with (e2 - e1) / (e2 + e1)
    k, C, thick = 1.4, 2e6, 0.1
    below = Ground(conductivity=k * lower, density=C / 1e3, heat_capacity=1e3 * lower)
    ground = Ground(conductivity=k, density=C / 1e3, heat_capacity=1e3, thickness=thick, below=below)
    t, flux, _ = cool(ground, 86400.0, growth=0.05, cells=96)
    beta = (lower - 1.0) / (lower + 1.0)
    n = np.arange(1, 200)[:, None]
    images = 1.0 + 2.0 * np.sum(beta**n * np.exp(-((n * thick) ** 2) * C / (k * t)), axis=0)
    exact = (START - COLD) * np.sqrt(k * C / (math.pi * t)) * images
    late = t > 60.0
    np.testing.assert_allclose(flux[late], exact[late], rtol=5e-3)
    # it matters: late on, far from the half-space of the upper layer
    assert abs(images[-1] - 1.0) > 0.4


def test_conductivity_and_capacity_that_change_alike():
    # with k and C in one ratio, Kirchhoff's integral obeys the linear equation: A = U sqrt(C / (pi k))
    slope = 0.003
    ground = Ground(
        conductivity=1.5,
        density=2000.0,
        heat_capacity=1000.0,
        conductivity_slope=slope,
        heat_capacity_slope=slope,
    )
    T = np.array([COLD, START]) - 273.15
    U = np.diff(1.5 * T * (1.0 + 0.5 * slope * T))[0]
    t, flux, _ = cool(ground, 86400.0)
    late = t > 60.0
    np.testing.assert_allclose(flux[late], U * np.sqrt(2e6 / (1.5 * math.pi * t[late])), rtol=5e-3)


def test_a_film_on_the_surface():
    # carslaw1959conduction, section 2.7: q = h dT exp(x^2) erfc(x), x = h sqrt(t / (k C))
    ground, h = Ground(conductivity=1.4, density=2000.0, heat_capacity=1000.0), 200.0
    t, flux, _ = cool(ground, 86400.0, conductance=h)
    exact = h * (START - COLD) * erfcx(h * np.sqrt(t / (1.4 * 2e6)))
    np.testing.assert_allclose(flux[t > 60.0], exact[t > 60.0], rtol=5e-3)


def test_long_cooling_ends_in_steady_conduction():
    # three layers above ground that keeps its temperature: q = dT / sum(l / k)
    soil = Ground(conductivity=1.0, density=1500.0, heat_capacity=1000.0)
    gravel = Ground(conductivity=0.4, density=1500.0, heat_capacity=1000.0, thickness=0.3, below=soil)
    road = Ground(conductivity=0.75, density=1500.0, heat_capacity=1000.0, thickness=0.06, below=gravel)
    _t, flux, _ = cool(road, 3e10, growth=0.3, first=1.0)
    resistance = 0.06 / 0.75 + 0.3 / 0.4 + (6.0 - 0.36) / 1.0
    # 1e-7 m2 K/W of contact; otherwise exact on any cells
    assert flux[-1] == pytest.approx((START - COLD) / resistance, rel=1e-6)


def test_a_second_spill_on_chilled_ground():
    # dry ground is linear: cold at 0, warm again at 1 h, cold again at 2 h are three half-space fluxes
    ground = Ground.named("dry sand")
    A = float(ground.heat_coefficient(COLD, ground_temperature=START))
    soil = GroundColumns.prepare(ground)
    state, changes = soil.start(np.array(START)), (0.0, 3600.0, 7200.0)
    for i, begin in enumerate(changes):
        t = begin
        end = begin + 3600.0
        while t < end - 1e-6:
            dt = min(max(0.5, 0.1 * (t - begin)), end - t)
            touch = START if i == 1 else COLD
            step = soil.step(
                state, np.array(dt), np.array(touch), np.array(PERFECT_CONTACT), np.array(t == begin)
            )
            state, t = step.state, t + dt
            signed = zip((1, -1, 1), changes, strict=True)
            exact = sum(s * A / math.sqrt(t - b) for s, b in signed if b < t)
            if t > begin + 60.0:
                assert float(step.flux) == pytest.approx(exact, rel=0.01, abs=0.005 * A / 60.0)
    # the chilled ground gives less than fresh ground did
    assert exact < 0.93 * A / math.sqrt(3600.0)


# -- the sides -----------------------------------------------------------------------------------


def both(ground: Ground, radius: float):
    """Mean flux of a disc over parts of time, by the model and by finite volumes in two dimensions."""
    thawed = float(ground.conductivity), float(ground.volumetric_heat_capacity)
    frozen = float(ground.frozen_conductivity), float(ground.frozen_volumetric_heat_capacity)
    wet = float(ground.latent_heat) > 0.0
    disc = DiscOnGround(radius, thawed, frozen if wet else thawed, float(ground.latent_heat), 27.0, -42.0)
    t, heat = disc.heat(FOUR_DAYS)
    soil = GroundColumns.prepare(ground, depth=12.0)
    state, sums = soil.start(np.array(START)), [0.0]
    for dt in np.diff(t):
        step = soil.step(state, dt, np.array(COLD), np.array(PERFECT_CONTACT), np.array(len(sums) == 1))
        state = step.state
        side = side_heat_flux(step.flux, soil.potential(state, step.top), np.array(radius))
        sums.append(sums[-1] + float(step.heat) + dt * float(side))
    ends = np.array([60.0, 600.0, 3600.0, 36000.0, 86400.0, FOUR_DAYS])
    model, reference = (
        (np.interp(ends, t, y) - np.interp(ends / 1.4, t, y)) / (ends - ends / 1.4)
        for y in (np.array(sums), heat / (math.pi * radius**2))
    )
    straight = float(ground.heat_coefficient(COLD, ground_temperature=START)) * 2.0 * np.sqrt(ends)
    return model, reference, straight * (1.0 - math.sqrt(1 / 1.4)) / (ends - ends / 1.4)


@pytest.mark.parametrize(
    ("name", "radius"),
    [
        ("dry sand", 0.5),
        ("wet sand", 0.5),
        ("wet sand", 1.0),
        ("clay", 2.0),
        ("wet sand", 5.0),
        ("concrete", 1.0),
    ],
)
def test_heat_from_the_sides(name, radius):
    model, reference, straight = both(Ground.named(name), radius)
    # from 1 min to 4 days; a front that passes coarse cells makes the reference itself uneven by 3 %
    np.testing.assert_allclose(model, reference, rtol=0.05)
    if radius <= 1.0:
        # it matters: at the end half of the heat comes from the sides, or more
        assert reference[-1] > 1.5 * straight[-1]


@pytest.mark.parametrize("late", [1e4, 1e6])
def test_a_disc_comes_to_steady_conduction(late):
    # exact for t without end: 4 k R dT; the approach, 0.718 x, is exact too (0.7183 = 8 / pi^(5/2), twice x)
    k, C, R, dT = 1.0, 2e6, 0.5, 60.0
    t = late * C * R**2 / k
    straight = dT * math.sqrt(k * C / (math.pi * t))
    flux = straight + side_heat_flux(np.array(straight), np.array(k * dT), np.array(R))
    x = R / (2.0 * math.sqrt(k / C * t))
    exact = 4.0 * k * dT / (math.pi * R) * (1.0 + 0.71835 * x)
    # the interpolation is printed as good to 0.6 %
    assert flux == pytest.approx(exact, rel=0.006)
