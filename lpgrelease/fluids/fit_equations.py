"""Fit equations of state to handbook correlations where no published one is at hand. For maintainers.

Run ``python -m lpgrelease.fluids.fit_equations`` with CoolProp, chemicals, thermo and SciPy installed; it
rewrites ``lpgrelease/data/fitted_equations.json``, or in it only the substances named after it. `make_tables`
reads that. Users never need either.

Notes
-----
Corresponding states with corrections: the residual part is that of a reference equation of a donor, its
exponents kept, reduced by the critical point of the substance; its coefficients n are moved by as little as
agrees with vapor pressure, liquid density, latent heat and liquid heat capacity of green2007handbook, second
virial coefficients, and the critical point (least squares, with a penalty on what n moves). The ideal part is
fitted to heat capacities of frenkel1994thermodynamics. How near it comes is measured in ``tests/published``
against vdi2010heatatlas, haynes2014handbook and shen2022webbook, which the fit does not see. Propylene oxide,
which green2007handbook lacks, takes its data from correlations of bell2016thermo.
"""

from __future__ import annotations

import dataclasses
import json
import sys
from collections.abc import Callable
from importlib import resources
from typing import Any, NamedTuple

import numpy as np

from lpgrelease.constants import GAS_CONSTANT
from lpgrelease.fluids import helmholtz
from lpgrelease.fluids.correlations import CORRELATED, Correlations
from lpgrelease.fluids.fitted import EXTENDED, extended, fitted_records
from lpgrelease.fluids.helmholtz import Equation
from lpgrelease.fluids.substances import SUBSTANCES, Substance
from lpgrelease.quantities import FloatArray

DONORS = {
    "1,3-butadiene": ("Propylene", 0.1),
    "methylamine": ("n-Propane", 0.2),
    "propylene oxide": ("n-Butane", 0.1),
}
"""CoolProp's name of the donor, and the change of a coefficient that weighs as one standard deviation.

Of those tried (ethane, propane, butanes, 1-butene, propylene, dimethyl ether, ethylene oxide, ammonia, R32,
methyl chloride; for propylene oxide also acetone, sulfur dioxide, pentanes, benzene, R134a) the one that came
nearest to all the data with one critical point in its place."""
HIGHEST_GAS_TEMPERATURE = 500.0
"""The second virial coefficients that were fitted end here [K]."""
SPREAD = {"gibbs": 1e-3, "density": 1e-3, "latent": 0.01, "heat": 0.02, "virial": 0.05, "critical": 5e-4}
"""Relative standard deviations given to the data; ``gibbs`` is that of the vapor pressure."""
OF_ONE_EQUATION = SPREAD | {"latent": 2e-3, "heat": 5e-3, "virial": 0.15}
"""The same for correlations of bell2016thermo: they follow one equation and so agree with each other, and fix
the vapor's density by Clapeyron's relation better than an estimate of its virial coefficient."""


class Data(NamedTuple):
    """Correlations of one substance, as functions of temperature [K], in SI."""

    molar_mass: float
    triple: float
    critical_temperature: float
    critical_pressure: float
    critical_density: float
    pressure: Callable[[FloatArray], FloatArray]
    density: Callable[[FloatArray], FloatArray]
    latent_heat: Callable[[FloatArray], FloatArray]
    heat_capacity: Callable[[FloatArray], FloatArray]
    heat_capacity_range: tuple[float, float]
    virial: Callable[[FloatArray], FloatArray]
    ideal_heat_capacity: Callable[[FloatArray], FloatArray]
    spread: dict[str, float]


def data_of(substance: Substance) -> Data:
    """Read what a fit needs, from the handbook that chemicals ships or else from thermo's correlations."""
    if substance.name in CORRELATED:
        return correlated_data(substance.cas)
    return handbook_data(substance.cas)


def ideal_heat_capacity_of(cas: str) -> Callable[[FloatArray], FloatArray]:
    """Molar heat capacity [J/mol/K] of the ideal gas: frenkel1994thermodynamics."""
    from chemicals import heat_capacity

    g = heat_capacity.TRC_gas_data.loc[cas]
    terms = [float(g[f"a{i}"]) for i in range(8)]
    return lambda t: np.array([heat_capacity.TRCCp(float(one), *terms) for one in t])


def virial_of(cas: str, temperature: float, pressure: float) -> Callable[[FloatArray], FloatArray]:
    """Second virial coefficient [m3/mol], estimated by corresponding states from the critical point."""
    import chemicals

    numbers = temperature, pressure, chemicals.omega(cas)
    return lambda t: np.array(
        [chemicals.virial.BVirial_Tsonopoulos_extended(float(one), *numbers) for one in t]
    )


def correlated_data(cas: str) -> Data:
    """Read the correlations of the library thermo for the substance with CAS number `cas`.

    They follow one reference equation, which the library does not ship. Two end below its critical point:
    the density of the liquid at 0.9 of its temperature, from where the form of vdi2010heatatlas carries it
    on, and the latent heat, which falls as (1 - T/T_c)^0.38 from 0.98 of it (common practice, no source).
    """
    import chemicals

    molar_mass = chemicals.MW(cas) * 1e-3
    readers = chemicals.Tc, chemicals.Pc, chemicals.Vc, chemicals.Tt
    t_c, p_c, v_c, triple = (float(read(cas, method="HEOS")) for read in readers)
    found = Correlations(cas)
    dense_end, latent_end = 0.9 * t_c, 0.98 * t_c
    powers = np.array([0.35, 2.0 / 3.0, 1.0, 4.0 / 3.0])
    known = np.linspace(triple, dense_end, 80)
    excess = molar_mass / found.values("liquid_volume", known) - molar_mass / v_c
    numbers = np.linalg.lstsq((1.0 - known[:, None] / t_c) ** powers, excess, rcond=None)[0]

    def density(t: Any) -> Any:
        below = molar_mass / found.values("liquid_volume", np.minimum(t, dense_end))
        above = molar_mass / v_c + ((1.0 - np.atleast_1d(t)[:, None] / t_c) ** powers) @ numbers
        return np.where(np.atleast_1d(t) < dense_end, below, above)

    def latent(t: Any) -> Any:
        share = np.minimum((1.0 - t / t_c) / (1.0 - latent_end / t_c), 1.0)
        return found.values("latent_heat", np.minimum(t, latent_end)) * share**0.38 / molar_mass

    return Data(
        molar_mass=molar_mass,
        triple=triple,
        critical_temperature=t_c,
        critical_pressure=p_c,
        critical_density=molar_mass / v_c,
        pressure=lambda t: found.values("pressure", t),
        density=density,
        latent_heat=latent,
        heat_capacity=lambda t: found.values("liquid_heat_capacity", t) / molar_mass,
        heat_capacity_range=(triple, 0.85 * t_c),
        virial=virial_of(cas, t_c, p_c),
        ideal_heat_capacity=ideal_heat_capacity_of(cas),
        spread=OF_ONE_EQUATION,
    )


def handbook_data(cas: str) -> Data:
    """Read what the library chemicals ships of the substance with CAS number `cas`."""
    import chemicals
    from chemicals import heat_capacity, phase_change, vapor_pressure, volume

    p = vapor_pressure.Psat_data_Perrys2_8.loc[cas]
    d = volume.rho_data_Perry_8E_105_l.loc[cas]
    h = phase_change.phase_change_data_Perrys2_150.loc[cas]
    c = heat_capacity.Cp_data_Perry_Table_153_100.loc[cas]
    molar_mass = chemicals.MW(cas) * 1e-3
    critical = float(d.C3)

    def pressure(t: Any) -> Any:
        return np.exp(p.C1 + p.C2 / t + p.C3 * np.log(t) + p.C4 * t**p.C5)

    def latent(t: Any) -> Any:
        return h.C1 * (1.0 - t / h.Tc) ** (h.C2 + h.C3 * t / h.Tc) / molar_mass

    def measured_virial(t: Any) -> Any:
        a = volume.rho_data_CRC_virial.loc[cas]
        return 1e-6 * sum(a[f"a{i + 1}"] * (298.15 / t - 1.0) ** i for i in range(5))

    estimated = virial_of(cas, critical, float(pressure(critical)))
    return Data(
        molar_mass=molar_mass,
        triple=float(p.Tmin),
        critical_temperature=critical,
        critical_pressure=float(pressure(critical)),
        critical_density=float(molar_mass * d.C1 / d.C2),
        pressure=pressure,
        density=lambda t: molar_mass * d.C1 / d.C2 ** (1.0 + (1.0 - t / d.C3) ** d.C4),
        latent_heat=latent,
        heat_capacity=lambda t: (c.A + c.B * t + c.C * t**2 + c.D * t**3) / (1e3 * molar_mass),
        heat_capacity_range=(float(c.Tmin), float(min(c.Tmax, 0.85 * critical))),
        virial=measured_virial if cas in volume.rho_data_CRC_virial.index else estimated,
        ideal_heat_capacity=ideal_heat_capacity_of(cas),
        spread=SPREAD,
    )


def ideal_part(data: Data) -> FloatArray:
    """Planck-Einstein terms (n, theta/T_c) of the ideal heat capacity from 150 to 700 K, beside 4 R."""
    from scipy.optimize import least_squares, nnls

    t = np.linspace(150.0, 700.0, 200)
    wanted = data.ideal_heat_capacity(t) / float(GAS_CONSTANT)

    def solve(log_theta: FloatArray) -> tuple[Any, Any]:
        x = np.exp(log_theta) / t[:, None]
        terms = (0.5 * x / np.sinh(0.5 * x)) ** 2
        numbers = nnls(terms, wanted - 4.0)[0]
        return numbers, (terms @ numbers + 4.0 - wanted) / wanted

    start, ends = np.log([400.0, 1000.0, 2000.0, 4000.0]), (np.log(80.0), np.log(8000.0))
    found = least_squares(lambda z: solve(z)[1], start, bounds=ends).x
    return np.stack([solve(found)[0], np.exp(found) / data.critical_temperature], axis=1)


def residuals(equation: Equation, data: Data) -> dict[str, FloatArray]:
    """Relative errors of `equation` against `data`, by kind, on fixed temperatures."""
    spread = np.linspace(max(data.triple, 170.0) / data.critical_temperature, 0.96, 40)
    t = data.critical_temperature * np.r_[spread, 0.97, 0.98, 0.985, 0.99, 0.995]
    p, gas = data.pressure(t), equation.gas_constant
    rho_l = helmholtz.density_from_pressure(equation, t, p, data.density(t))
    rho_v = helmholtz.density_from_pressure(equation, t, p, p / (gas * t), iterations=20)
    liquid, vapor = helmholtz.evaluate(equation, t, rho_l), helmholtz.evaluate(equation, t, rho_v)
    latent = vapor.enthalpy - liquid.enthalpy
    gibbs = (t * (vapor.entropy - liquid.entropy) - latent) / (gas * t)
    heat_t = np.linspace(*data.heat_capacity_range, 12)
    heat = np.interp(heat_t, t, liquid.heat_capacity)
    virial_t = np.linspace(260.0, HIGHEST_GAS_TEMPERATURE, 8)
    thin = np.full(virial_t.size, 1e-3 * data.critical_density)
    excess = helmholtz.evaluate(equation, virial_t, thin).pressure / (thin * gas * virial_t) - 1.0
    critical_t = np.full(3, data.critical_temperature)
    near = helmholtz.evaluate(equation, critical_t, data.critical_density * np.array([0.97, 1.0, 1.03]))
    bend = (near.stiffness[2] - near.stiffness[0]) / 0.06
    return {
        "gibbs": gibbs,
        "density": np.log(rho_l / data.density(t)),
        "latent": latent / data.latent_heat(t) - 1.0,
        "heat": heat / data.heat_capacity(heat_t) - 1.0,
        "virial": excess / thin * data.molar_mass / data.virial(virial_t) - 1.0,
        "critical": np.array(
            [near.pressure[1] / data.critical_pressure - 1.0, 0.2 * near.stiffness[1], 0.02 * bend]
        ),
    }


def fit(data: Data, donor: Equation, freedom: float) -> Equation:
    """Move the donor's coefficients by as little as agrees with the data."""
    from scipy.optimize import least_squares

    start = Equation(
        gas_constant=float(GAS_CONSTANT) / data.molar_mass,
        reducing_temperature=data.critical_temperature,
        reducing_density=data.critical_density,
        lead=(0.0, 0.0, 3.0),
        planck_einstein=ideal_part(data),
        residual=donor.residual,
    )

    def moved(change: FloatArray) -> Equation:
        rows = donor.residual.copy()
        rows[:, 0] += change
        return dataclasses.replace(start, residual=rows)

    def weighted(change: FloatArray) -> FloatArray:
        found = residuals(moved(change), data)
        return np.concatenate(
            [*(found[kind] / spread for kind, spread in data.spread.items()), change / freedom]
        )

    return moved(least_squares(weighted, np.zeros(len(donor.residual)), max_nfev=60).x)


def critical_point(equation: Equation, temperature: float, density: float) -> tuple[float, float, float]:
    """Where dp/drho and its slope vanish: T [K], rho [kg/m3], p [Pa], by Newton steps."""
    eos = extended(equation)
    t, rho = EXTENDED(temperature), EXTENDED(density)

    def slopes(t: Any, rho: Any) -> Any:
        steps = rho * (1 + EXTENDED(1e-4) * np.array([-1, 0, 1], dtype=EXTENDED))
        s = helmholtz.evaluate(eos, np.full(3, t), steps)
        slope = s.stiffness * s.pressure / steps
        return slope[1], (slope[2] - slope[0]) / (steps[2] - steps[0])

    for _ in range(30):
        f, g = slopes(t, rho)
        dt, dr = t * EXTENDED(1e-6), rho * EXTENDED(1e-4)
        (f_t, g_t), (f_r, g_r) = slopes(t + dt, rho), slopes(t, rho + dr)
        a, b, c, d = (f_t - f) / dt, (f_r - f) / dr, (g_t - g) / dt, (g_r - g) / dr
        det = a * d - b * c
        step_t, step_rho = (f * d - g * b) / det, (a * g - c * f) / det
        t = t - np.clip(step_t, -0.002 * t, 0.002 * t)
        rho = rho - np.clip(step_rho, -0.02 * rho, 0.02 * rho)
    p = helmholtz.evaluate(eos, np.array([t]), np.array([rho])).pressure[0]
    return float(t), float(rho), float(p)


def record_of(name: str) -> dict[str, Any]:
    """Fit the equation of a substance and describe it."""
    from lpgrelease.fluids.make_tables import equation_of

    data = data_of(SUBSTANCES[name])
    donor, freedom = DONORS[name]
    equation = fit(data, equation_of(donor)[0], freedom)
    found = residuals(equation, data)
    t, rho, p = critical_point(equation, data.critical_temperature, data.critical_density)
    cold = np.array([data.triple])
    liquid = helmholtz.density_from_pressure(equation, cold, data.pressure(cold), data.density(cold))
    vapor = data.pressure(cold) / (equation.gas_constant * cold)
    return {
        "donor": donor,
        "worst": {kind: float(np.abs(values).max()) for kind, values in found.items()},
        "molar_mass": data.molar_mass,
        "gas_constant": float(GAS_CONSTANT),
        "reducing_temperature": equation.reducing_temperature,
        "reducing_density": equation.reducing_density,
        "critical_temperature": t,
        "critical_density": rho,
        "critical_pressure": p,
        "triple_temperature": data.triple,
        "coldest_densities": [float(liquid[0]), float(vapor[0])],
        "T_max": HIGHEST_GAS_TEMPERATURE,
        "lead": list(equation.lead),
        "planck_einstein": equation.planck_einstein.tolist(),
        "residual": equation.residual.tolist(),
    }


def main(names: list[str]) -> None:
    """Fit and write the equations of the substances named, or of all that need one."""
    path: Any = resources.files("lpgrelease") / "data" / "fitted_equations.json"
    records = fitted_records() | {name: record_of(name) for name in names or DONORS}
    path.write_text(json.dumps(records, indent=1) + "\n", encoding="utf-8")
    for name, record in records.items():
        print(name, record["worst"], record["critical_temperature"], record["critical_pressure"])


if __name__ == "__main__":
    main(sys.argv[1:])
