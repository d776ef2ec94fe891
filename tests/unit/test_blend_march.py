"""The march of blends against other solutions: scipy with a flash in the loop, a pure fluid, finer steps."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from lpgrelease import Contents, Fluid, HorizontalTank, Opening, Weather, tank_history
from lpgrelease.constants import STANDARD_ATMOSPHERE, STANDARD_GRAVITY
from lpgrelease.fluids.equilibrium import LIQUID, VAPOR, bubble_point, split
from lpgrelease.fluids.mixture import load_mixture
from lpgrelease.release.blend_nozzle import blend_nozzle
from lpgrelease.tank import blend_history, blend_march

NAMES, FRACTIONS = ("propane", "n-butane"), (0.6, 0.4)
BLEND = Fluid(dict(zip(NAMES, FRACTIONS, strict=True)))
AIR = float(STANDARD_ATMOSPHERE)
WALL, CONDUCTANCE, OUTSIDE = 900.0 * 470.0, 170.0, 293.15


def tank_of(blend: Fluid = BLEND, **tank: Any) -> Contents:
    inside = HorizontalTank(
        diameter=1.04, length=4.5, **({"wall_mass": 900.0, "heat_transfer": CONDUCTANCE} | tank)
    )
    return Contents(inside, blend, fill=0.8, temperature=293.15)


class Plain:
    """The same equations as an ODE: moles and energy, a two-phase flash to (u, v) at every call."""

    def __init__(self, contents: Contents, opening: Opening) -> None:
        self.mixture, self.nozzle = load_mixture(NAMES), blend_nozzle(NAMES, FRACTIONS)
        self.tank, self.opening = contents.tank, opening
        self.volume = float(contents.tank.volume)
        x, t = np.array(FRACTIONS)[:, None], np.array([float(contents.temperature)])
        point = bubble_point(self.mixture, x, temperature=t)
        p, y = point.pressure, point.incipient
        liquid, vapor = (self.mixture.phase(t, p, z, side)[1] for z, side in ((x, LIQUID), (y, VAPOR)))
        moles = (0.8 * self.volume / liquid.volume * x, 0.2 * self.volume / vapor.volume * y)
        self.start = np.array([*(moles[0] + moles[1])[:, 0], 0.0])
        self.start[-1] = sum(
            float(n.sum() * (state.enthalpy - p * state.volume)[0])
            for n, state in zip(moles, (liquid, vapor), strict=True)
        ) + WALL * float(t[0])
        share = np.concatenate([np.log(moles[1] / moles[0]), np.log(t)[None], np.log(p)[None]])
        self.unknown = share
        self.wet = bool(0.8 * self.volume > self.tank.volume_at(opening.height))

    def state(self, held: Any) -> tuple[Any, ...]:
        """Temperature, pressure, moles of liquid and vapor, and their states."""
        whole = held[:-1].sum()
        z = held[:-1, None] / whole
        t = np.exp(self.unknown[-2])
        for _ in range(30):
            # the wall's energy goes with T: a fixed point around the flash of the fluid alone
            u = (held[-1] - WALL * t) / whole
            found, ok = split(
                self.mixture, z, ("energy", "volume"), u, np.array([self.volume / whole]), self.unknown
            )
            assert ok.all()
            new = np.exp(found[-2])
            flat = 1e-4
            other, _ = split(
                self.mixture,
                z,
                ("energy", "volume"),
                (held[-1] - WALL * (t + flat)) / whole,
                np.array([self.volume / whole]),
                found,
            )
            slope = (np.exp(other[-2]) - new) / flat
            step = (new - t) / (1.0 - slope)
            t, self.unknown = t + step, found
            if abs(step[0]) < 1e-10:
                break
        share = 1.0 / (1.0 + np.exp(-found[:-2]))
        v = held[:-1, None] * share
        moles = held[:-1, None] - v
        p = np.exp(found[-1])
        sides = [
            self.mixture.phase(new, p, n / n.sum(axis=0), side)[1]
            for n, side in ((moles, LIQUID), (v, VAPOR))
        ]
        return new, p, moles, v, sides

    def rates(self, _: float, held: Any) -> Any:
        t, p, l_i, v_i, (liquid, vapor) = self.state(held)
        area = float(self.opening.effective_area)
        n, state = (l_i, liquid) if self.wet else (v_i, vapor)
        mass = self.mixture.mass(n / n.sum(axis=0))
        density = mass / state.volume
        if self.wet:
            level = self.tank.level_at(l_i.sum() * liquid.volume)
            drive = p - AIR + density * STANDARD_GRAVITY * (level - self.opening.height)
            flux = np.sqrt(2.0 * density * drive)
        else:
            psi = self.nozzle.flux_number(t, n / n.sum(axis=0), np.log(p / AIR))[0]
            flux = psi * np.sqrt(p * density)
        flow = area * flux / mass * n / n.sum(axis=0)
        heat = CONDUCTANCE * (OUTSIDE - t)
        return np.array([*-flow[:, 0], (heat - flow.sum(axis=0) * state.enthalpy)[0]])


@pytest.mark.parametrize(("height", "duration"), [(1.04, 300.0), (0.0, 40.0)])
def test_march_agrees_with_a_flash_inside_a_solver(height: float, duration: float) -> None:
    contents = tank_of()
    hole = Opening(diameter=0.0381, discharge_coefficient=0.85, height=height)
    run = tank_history(
        contents, openings=[hole], weather=Weather(air_temperature=OUTSIDE), duration=duration, points=3
    )
    plain = Plain(contents, hole)
    end = solve_ivp(plain.rates, (0.0, duration), plain.start, rtol=1e-8, atol=1e-4, method="RK45").y[:, -1]
    t, p, *_ = plain.state(end)
    masses = plain.mixture.molar_mass[:, 0] * end[:-1]
    # the march allows 1e-5 per step
    np.testing.assert_allclose(run.component_mass[:, -1], masses, rtol=2e-5)
    assert abs(run.temperature[-1] - t[0]) < 2e-3
    assert run.pressure[-1] == pytest.approx(p[0], rel=2e-5)


def test_finer_steps_come_closer_in_proportion(monkeypatch: pytest.MonkeyPatch) -> None:
    def end(error: float) -> Any:
        monkeypatch.setattr(blend_history, "STEP_ERROR", error)
        run = tank_history(
            tank_of(),
            openings=[Opening(diameter=0.0127, discharge_coefficient=0.85, height=1.04)],
            weather=Weather(air_temperature=OUTSIDE),
            duration=4e4,
            points=2,
        )
        return np.array([*run.component_mass[:, -1], run.temperature[-1]])

    exact = end(1e-10)
    coarsest, coarse, fine = (np.abs(end(error) / exact - 1.0).max() for error in (1e-3, 1e-5, 1e-7))
    # the error allowed per step, a few times over
    assert fine < 0.1 * coarse
    assert coarse < 5e-5
    assert coarse < coarsest < 1e-3


def test_steps_whose_errors_grow_are_seldom_tried_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    tries, taken = [], []
    for name, calls in (("try_step", tries), ("_take", taken)):
        own = getattr(blend_march, name)
        monkeypatch.setattr(blend_march, name, lambda *a, own=own, calls=calls: (calls.append(1), own(*a))[1])
    leak = Opening(diameter=0.02, discharge_coefficient=0.85, height=0.0)
    run = tank_history(tank_of(), openings=[leak], weather=Weather(air_temperature=OUTSIDE))
    assert run.stopped_by == "liquid gone"
    # liquid falls ever faster; steps by the last error alone are tried twice, each
    assert len(taken) > 10
    assert len(tries) < 1.2 * len(taken)


def pure_propane(temperature: Any) -> dict[str, Any]:
    """Saturated propane by the equation of the blends, found with one component."""
    mixture = load_mixture(("propane",))
    one = np.ones((1, temperature.size))
    log_p = np.log(mixture.critical_pressure[0]) + 5.373 * (1.0 + mixture.acentric_factor[0]) * (
        1.0 - mixture.cubic.critical_temperature[0] / temperature
    )
    for _ in range(20):
        p = np.exp(log_p)
        (raw_l, liquid), (raw_v, vapor) = (
            mixture.phase(temperature, p, one, side) for side in (LIQUID, VAPOR)
        )
        gap = raw_v.log_fugacity[0] - raw_l.log_fugacity[0]
        log_p = log_p - gap * 8.314462618 * temperature / (p * (vapor.volume - liquid.volume))
    assert np.abs(gap).max() < 1e-12
    return {"p": np.exp(log_p), "liquid": liquid, "vapor": vapor, "m": float(mixture.molar_mass[0, 0])}


def pure_left(stop: float) -> float:
    """Mass left of the tank's propane when it has vented to `stop` [Pa] without heat, with the wall [kg]."""
    volume = float(tank_of().tank.volume)
    grid = np.linspace(225.0, 293.15, 2001)
    s = pure_propane(grid)
    v_l, v_v, m = s["liquid"].volume / s["m"], s["vapor"].volume / s["m"], s["m"]
    u_l = (s["liquid"].enthalpy - s["p"] * s["liquid"].volume) / m
    u_v = (s["vapor"].enthalpy - s["p"] * s["vapor"].volume) / m
    # U = M a + V B, both phases being saturated
    b = (u_v - u_l) / (v_v - v_l)
    a = u_l - b * v_l
    h_v = s["vapor"].enthalpy / m
    slope_a, slope_b = np.gradient(a, grid, edge_order=2), np.gradient(b, grid, edge_order=2)
    start = 0.8 * volume / v_l[-1] + 0.2 * volume / v_v[-1]

    def rate(t: float, mass: Any) -> Any:
        at = [np.interp(t, grid, each) for each in (slope_a, slope_b, h_v, a)]
        return (mass * at[0] + volume * at[1] + WALL) / (at[2] - at[3])

    end = float(np.interp(stop, s["p"], grid))
    return float(solve_ivp(rate, (293.15, end), [start], rtol=1e-9, max_step=1.0).y[0, -1])


def test_blend_of_hardly_anything_else_tends_to_the_pure_fluid() -> None:
    vent = Opening(diameter=0.0508, discharge_coefficient=0.85, height=1.04)

    def left(fluid: Fluid) -> Any:
        run = tank_history(
            tank_of(fluid, heat_transfer=0.0), openings=[vent], stop_at_gauge_pressure=5e4, points=2
        )
        return run.liquid_mass[-1] + run.vapor_mass[-1], run.time[-1]

    same = pure_left(AIR + 5e4)
    blends = [left(Fluid({"propane": 1.0 - trace, "n-butane": trace})) for trace in (1e-3, 1e-6)]
    errors = [abs(mass / same - 1.0) for mass, _ in blends]
    # the pure solution's own grid and the march hold 1e-5
    assert errors[1] < 1e-5 < errors[0] < 1e-3
    # the reference equation: what Peng and Robinson's is off in latent heat, heat capacity and pressure
    mass, time = left(Fluid("propane"))
    assert blends[1][0] == pytest.approx(mass, rel=0.01)
    assert blends[1][1] == pytest.approx(time, rel=0.02)
