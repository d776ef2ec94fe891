"""Blends: equilibrium of 10,000 states, and one tank's history, against thermo's flash called per state."""

from __future__ import annotations

import time
from typing import Any, NamedTuple

import numpy as np
from measuring import Row, Timing, ratio, timed
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

import lpgrelease as lr
from lpgrelease.constants import STANDARD_ATMOSPHERE, ZERO_GAUGE_READING
from lpgrelease.fluids.equilibrium import bubble_point, flash_enthalpy
from lpgrelease.release.blend_nozzle import blend_nozzle

__all__ = ["blend_states", "one_blend_history"]

COMPONENTS = {"propane": 0.6, "isobutane": 0.15, "n-butane": 0.2, "ethane": 0.05}
"""An invented commercial mix, mole fractions."""
THEIR_NAMES = ("propane", "isobutane", "butane", "ethane")
STATES, SAMPLE = 10_000, 200
TOLERANCE = 1e-4
STEEL, AREA_FACTOR = 470.0, 0.85

FloatArray = NDArray[np.float64]


def _their_flash(mixture: Any) -> Any:
    """Make thermo's flash with the constants of `mixture`; its volumes are not translated."""
    from thermo import PRMIX, CEOSGas, CEOSLiquid, ChemicalConstantsPackage, FlashVL

    constants, properties = ChemicalConstantsPackage.from_IDs(list(THEIR_NAMES))
    cubic = {
        "Tcs": mixture.cubic.critical_temperature[:, 0].tolist(),
        "Pcs": mixture.critical_pressure[:, 0].tolist(),
        "omegas": mixture.acentric_factor[:, 0].tolist(),
        "kijs": (1.0 - mixture.cubic.one_minus_k[:, :, 0]).tolist(),
    }
    liquid, gas = (
        kind(PRMIX, cubic, HeatCapacityGases=properties.HeatCapacityGases) for kind in (CEOSLiquid, CEOSGas)
    )
    return FlashVL(constants, properties, liquid=liquid, gas=gas)


def blend_states() -> tuple[list[Row], list[str]]:
    """Bubble points and flashes to (p, h) at 10,000 random states; a sample of them by thermo."""
    mixture = lr.Fluid(COMPONENTS).blend.mixture
    flash = _their_flash(mixture)
    draw = np.random.default_rng(11)
    x = draw.dirichlet(np.array(list(COMPONENTS.values())) * 20.0, STATES).T + 1e-6
    x = x / x.sum(axis=0)
    t, share = draw.uniform(240.0, 320.0, STATES), draw.uniform(0.05, 0.95, STATES)
    point = bubble_point(mixture, x, temperature=t)
    p = point.pressure
    liquid = mixture.phase(t, p, x, 0)[1].enthalpy
    vapor = mixture.phase(t, p, point.incipient, 1)[1].enthalpy
    h = liquid + 0.8 * share * (vapor - liquid)
    zs = x[:, :SAMPLE].T.tolist()
    theirs = [flash.flash(T=t[i], VF=0.0, zs=zs[i]) for i in range(SAMPLE)]
    apart = max(abs(state.P / p[i] - 1.0) for i, state in enumerate(theirs))
    # their enthalpies have their own zero: ask them for one of theirs with as much vapor
    their_h = [flash.flash(P=p[i], VF=share[i], zs=zs[i]).H() for i in range(SAMPLE)]
    jobs = {
        "bubble": lambda: bubble_point(mixture, x, temperature=t),
        "their bubble": lambda: [flash.flash(T=t[i], VF=0.0, zs=zs[i]) for i in range(SAMPLE)],
        "flash": lambda: flash_enthalpy(mixture, x, p, h),
        "their flash": lambda: [flash.flash(P=p[i], H=their_h[i], zs=zs[i]) for i in range(SAMPLE)],
    }
    per = {name: SAMPLE if name.startswith("their") else STATES for name in jobs}
    times = timed(jobs, 5, per=per)
    rows = [
        Row.of_time(f"bubble points of {STATES:,} blends: per state", times["bubble"], "us"),
        Row.of_time(f"  thermo, {SAMPLE} of them: per state", times["their bubble"], "us"),
        Row.of_ratio(
            "  thermo over bubble points", ratio(times["their bubble"], times["bubble"]), at_least=50
        ),
        Row.of_time(f"flashes to (p, h) of {STATES:,} blends: per state", times["flash"], "us"),
        Row.of_time(f"  thermo, {SAMPLE} of them: per state", times["their flash"], "us"),
        Row.of_ratio("  thermo over flashes", ratio(times["their flash"], times["flash"]), at_least=50),
    ]
    return rows, [f"bubble pressures of {SAMPLE} blends, largest relative difference to thermo: {apart:.1e}"]


class _Plain(NamedTuple):
    """The same tank as an ODE in moles and temperature, with a flash to (T, V) at every call."""

    flash: Any
    masses: FloatArray
    volume: float
    wall: float
    area: float
    conductance: float
    outside: float

    def state(self, n: FloatArray, t: float) -> Any:
        whole = float(n.sum())
        return self.flash.flash(T=t, V=self.volume / whole, zs=(n / whole).tolist())

    def energy(self, n: FloatArray, t: float) -> float:
        return float(self.state(n, t).U() * n.sum() + self.wall * t)

    def rates(self, _: float, y: FloatArray) -> FloatArray:
        n, t = y[:-1], float(y[-1])
        state = self.state(n, t)
        fractions = np.array(state.gas.zs)
        mass = float(fractions @ self.masses)
        nozzle = blend_nozzle(tuple(COMPONENTS), tuple(COMPONENTS.values()))
        drive = np.log(state.P / STANDARD_ATMOSPHERE)
        psi = nozzle.flux_number(np.array([t]), fractions[:, None], np.array([drive]))[0][0]
        flow = self.area * psi * np.sqrt(state.P * mass / state.gas.V()) / mass
        lost = -flow * fractions
        now = float(state.U() * n.sum() + self.wall * t)
        by_temperature = (self.energy(n, t + 0.01) - now) / 0.01
        by_loss = 0.0
        if flow > 0.0:
            second = 1e-5 * n.sum() / flow
            by_loss = (self.energy(n + second * lost, t) - now) / second
        heat = self.conductance * (self.outside - t) - flow * state.gas.H()
        return np.array([*lost, (heat - by_loss) / by_temperature])


def one_blend_history() -> tuple[list[Row], list[str]]:
    """One tank of four components to zero on the gauge: against a pure fluid's, and thermo in `solve_ivp`."""
    tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=170.0)
    vent = lr.Opening(diameter=0.0508, discharge_coefficient=AREA_FACTOR, height=1.04)
    weather = lr.Weather(air_temperature=293.15)

    def run(fluid: lr.Fluid) -> Any:
        contents = lr.Contents(tank, fluid, fill=0.8, temperature=293.15)
        return lr.tank_history(contents, openings=[vent], weather=weather)

    blend, pure = lr.Fluid(COMPONENTS), lr.Fluid("propane")
    times = timed({"blend": lambda: run(blend), "pure": lambda: run(pure)}, 9, calls=3)
    ours = run(blend)
    mixture = blend.blend.mixture
    plain = _Plain(
        _their_flash(mixture),
        mixture.molar_mass[:, 0],
        float(tank.volume),
        float(tank.wall_capacity),
        float(vent.effective_area),
        170.0,
        293.15,
    )
    start = np.array([*(ours.component_mass[:, 0] / plain.masses), 293.15])

    def stop(_: float, y: FloatArray) -> float:
        return float(plain.state(y[:-1], float(y[-1])).P - STANDARD_ATMOSPHERE - ZERO_GAUGE_READING)

    stop.terminal = True  # type: ignore[attr-defined]
    begun = time.process_time()
    end = solve_ivp(plain.rates, (0.0, 1e4), start, rtol=TOLERANCE, atol=1e-3, events=stop)
    theirs = Timing((time.process_time() - begun,))
    rows = [
        Row.of_time("one tank_history of a blend of four", times["blend"], "ms"),
        Row.of_ratio("  over that of a pure fluid", ratio(times["blend"], times["pure"]), at_most=10),
        Row.of_time("  plain: thermo's flash in solve_ivp, once", theirs, "s"),
        Row.of_ratio(
            "  plain over tank_history",
            [theirs.median / each for each in times["blend"].seconds],
            at_least=50,
        ),
    ]
    left = float(end.y[:-1, -1] @ plain.masses)
    mine = float(ours.liquid_mass[-1] + ours.vapor_mass[-1])
    notes = [
        f"blend at zero gauge: {ours.time[-1]:.1f} s, {ours.temperature[-1]:.2f} K, {mine:.1f} kg; "
        f"thermo, volumes not translated: {end.t[-1]:.1f} s, {end.y[-1, -1]:.2f} K, {left:.1f} kg"
    ]
    return rows, notes
