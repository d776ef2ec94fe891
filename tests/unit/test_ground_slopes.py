"""Ground whose conductivity and heat capacity change with temperature, and pools on it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_bvp
from scipy.special import erf

import lpgrelease as lr

PROPANE = lr.Fluid("propane")
COLD, WARM, ICE = 231.0, 293.15, 273.15
SOIL = {"conductivity": 1.5, "density": 1900.0, "heat_capacity": 1100.0, "temperature": WARM}


def exact_heat(duration, conductivity_slope, heat_capacity_slope):
    """Heat out of a half-space, by its similarity solution: -eta c T'/2 = (k T')' with eta = x / sqrt(t)."""
    k = lambda T: 1.5 * (1.0 + conductivity_slope * (T - ICE))  # noqa: E731
    c = lambda T: 1900.0 * 1100.0 * (1.0 + heat_capacity_slope * (T - ICE))  # noqa: E731
    diffusivity = 1.5 / (1900.0 * 1100.0)
    eta = np.linspace(0.0, 10.0 * math.sqrt(diffusivity), 400)
    first = COLD + (WARM - COLD) * erf(0.5 * eta / math.sqrt(diffusivity))
    solved = solve_bvp(
        lambda e, y: np.vstack([y[1] / k(y[0]), -0.5 * e * c(y[0]) * y[1] / k(y[0])]),
        lambda a, b: np.array([a[0] - COLD, b[0] - WARM]),
        eta,
        np.vstack([first, 1.5 * np.gradient(first, eta)]),
        tol=1e-5,
        max_nodes=20_000,
    )
    assert solved.success
    return 2.0 * math.sqrt(duration) * solved.y[1, 0]


@pytest.mark.parametrize("slopes", [(0.0, 0.0), (4e-3, 0.0), (0.0, 4e-3), (2e-3, -3e-3)])
def test_heat_is_that_of_the_similarity_solution(slopes):
    ground = lr.Ground(**SOIL, conductivity_slope=slopes[0], heat_capacity_slope=slopes[1])
    found = lr.ground_history(ground, temperature=COLD, duration=600.0).heat[-1]
    # 5e-3: what the columns promise
    assert found == pytest.approx(exact_heat(600.0, *slopes), rel=5e-3)
    # and what the slopes change is a tenth as wrong
    flat = lr.ground_history(lr.Ground(**SOIL), temperature=COLD, duration=600.0).heat[-1]
    change = exact_heat(600.0, *slopes) / exact_heat(600.0, 0.0, 0.0)
    assert found / flat == pytest.approx(change, abs=5e-4)


@pytest.mark.parametrize("name", ["conductivity_slope", "heat_capacity_slope"])
def test_a_pool_feels_either_slope(name):
    def evaporated(slope):
        ground, site = lr.Ground(**SOIL, **{name: slope}), lr.Hollow(area=20.0, depth=0.5)
        pool = lr.pool_history(PROPANE, lr.Spill(mass=2000.0), ground=ground, duration=600.0, site=site)
        return pool.mass_evaporated[-1]

    none, hardly, much = (evaporated(slope) for slope in (0.0, 1e-9, 4e-3))
    # without slopes a pool uses the half-space, with them columns: the same ground to half a percent
    assert hardly == pytest.approx(none, rel=5e-3)
    assert much < hardly * (1.0 - 5e-4)


def test_no_scenario_is_a_pool_of_no_scenario():
    pool = lr.pool_history(
        PROPANE, lr.Spill(mass=np.zeros(0)), ground=lr.Ground(**SOIL), duration=600.0, nodes=41
    )
    assert pool.gone_at.shape == (0,)
    assert pool.mass.shape == pool.temperature.shape == pool.time.shape == (0, pool.time.shape[-1])
