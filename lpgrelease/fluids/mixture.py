"""Mixtures: parameters of the components, the ideal gas, and properties of one phase of any composition.

Everything is per mole in SI; components stand on the first axis, states on the last. Array-level, unchecked.

Notes
-----
Equilibrium is that of the Peng-Robinson equation as it stands (`lpgrelease.fluids.cubic`). Its volumes are
then translated, v = v_PR - sum x_i c_i(T) (peneloux1982consistent; temperature-dependent in the manner of
magoulas1990thermodynamic), which moves no equilibrium because both phases are moved alike. With
g = g_PR - p sum x_i c_i enthalpy and entropy follow, so that all properties belong to one potential:

    h = h_PR + p sum x_i (T c_i' - c_i),    s = s_PR + p sum x_i c_i'

c_i = q0 + q1 s + q2 exp(-20 s) + q3 exp(-5 s) is fitted to the saturated liquid's density of each component's
reference equation up to 0.95 T_c (worst error 0.5 %). s = 0.04 ln(1 + exp((1 - T/T_c)/0.04)) is 1 - T/T_c
below the critical temperature and fades above it, so that c_i stays smooth and goes to a constant.
"""

from __future__ import annotations

import csv
import dataclasses
import itertools
from functools import cache, lru_cache
from importlib import resources
from typing import Final, NamedTuple

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.fluids.cubic import Cubic, Phase, R, phase, pressure
from lpgrelease.quantities import FloatArray
from lpgrelease.summing import add_along, add_rows

__all__ = ["Caloric", "Mixture", "load_mixture", "mixture_components", "translation_terms"]

TRANSLATION_DECAYS: Final = (20.0, 5.0)
ROUNDING: Final = 0.04
HEAT_CAPACITY_SCALE: Final = 300.0
HEAT_CAPACITY_POWERS: Final = 10
REFERENCE_TEMPERATURE = 298.15
"""Enthalpy and entropy of each component are zero as an ideal gas at this temperature and 1 atm."""
REFERENCE_PRESSURE = 101325.0


def translation_terms(reduced: FloatArray) -> tuple[FloatArray, ...]:
    """Terms of the translation at T/T_c: 1, s, exp(-20 s), exp(-5 s)."""
    s = ROUNDING * np.logaddexp(0.0, (1.0 - reduced) / ROUNDING)
    return np.ones_like(s), s, np.exp(-TRANSLATION_DECAYS[0] * s), np.exp(-TRANSLATION_DECAYS[1] * s)


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Mixture:
    """Components that are mixed, in any proportion.

    Parameters
    ----------
    names : tuple of str
        The nc components.
    molar_mass : ndarray, shape (nc, 1)
        M [kg/mol].
    critical_pressure, acentric_factor : ndarray, shape (nc, 1)
        p_c [Pa], omega.
    cubic : Cubic
    translation : ndarray, shape (4, nc, 1)
        q0 to q3 [m3/mol].
    heat_capacity : ndarray, shape (powers, nc, 1)
        Of the ideal gas [J/mol/K], by powers of T/300 K.
    triple_temperature : ndarray, shape (nc, 1)
    assumed_pairs : tuple of str
        Pairs without a published interaction parameter, taken as zero.
    """

    names: tuple[str, ...]
    molar_mass: FloatArray
    critical_pressure: FloatArray
    acentric_factor: FloatArray
    cubic: Cubic
    translation: FloatArray
    heat_capacity: FloatArray
    triple_temperature: FloatArray
    assumed_pairs: tuple[str, ...]

    def shift(self, temperature: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the translation c_i [m3/mol] and its first and second derivative by temperature, (nc, n)."""
        t_c = self.cubic.critical_temperature
        terms = np.array(translation_terms(temperature / t_c))
        s_w = 1.0 - np.exp(terms[1] / -ROUNDING)
        value, by_s, by_ss = add_along(_translation_slopes(self) * terms, 1)
        # the slope of s by -T/T_c is s_w, and that of s_w is s_w (1 - s_w)/ROUNDING
        second = s_w * (by_ss * s_w + by_s * ((1.0 - s_w) / ROUNDING))
        return value, by_s * s_w / -t_c, second / (t_c * t_c)

    def ideal(self, temperature: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Enthalpy, entropy at 1 atm and heat capacity of each component as an ideal gas, (nc, n)."""
        u = temperature / HEAT_CAPACITY_SCALE
        u_0 = REFERENCE_TEMPERATURE / HEAT_CAPACITY_SCALE
        c = self.heat_capacity
        powers = range(len(c) - 1, -1, -1)
        heat, enthalpy, entropy = (np.zeros((c.shape[1], *np.shape(u))) for _ in range(3))
        h_0, s_0 = np.zeros((2, *c.shape[1:]))
        for k in powers:
            heat = heat * u + c[k]
            enthalpy = enthalpy * u + c[k] / (k + 1)
            h_0 = h_0 * u_0 + c[k] / (k + 1)
            if k:
                entropy = entropy * u + c[k] / k
                s_0 = s_0 * u_0 + c[k] / k
        enthalpy = (enthalpy * u - h_0 * u_0) * HEAT_CAPACITY_SCALE
        return enthalpy, c[0] * np.log(u / u_0) + entropy * u - s_0 * u_0, heat

    def ideal_mixing_entropy(self, x: FloatArray, pressure: FloatArray) -> FloatArray:
        """-R sum x ln x - R ln(p/p0) [J/mol/K]."""
        logs = np.log(np.where(x > 0.0, x, 1.0))
        return -R * (add_rows(x * logs) + np.log(pressure / REFERENCE_PRESSURE))

    def phase(
        self, temperature: FloatArray, pressure: FloatArray, x: FloatArray, side: int
    ) -> tuple[Phase, Caloric]:
        """Liquid (side 0) or vapor (side 1) of mole fractions x (nc, n) at (T, p), each (n,)."""
        raw = phase(self.cubic, temperature, pressure, x, side)
        h_0, s_0, c_0 = self.ideal(temperature)
        c, c_t, c_tt = (add_rows(each * x) for each in self.shift(temperature))
        t, p = temperature, pressure
        return raw, Caloric(
            volume=raw.volume - c,
            enthalpy=add_rows(h_0 * x) + raw.enthalpy + p * (t * c_t - c),
            entropy=add_rows(s_0 * x) + self.ideal_mixing_entropy(x, p) + raw.entropy + p * c_t,
            heat_capacity=add_rows(c_0 * x) + raw.heat_capacity + p * t * c_tt,
            volume_by_temperature=raw.volume_by_temperature - c_t,
            volume_by_pressure=raw.volume_by_pressure,
        )

    def pressure(self, temperature: FloatArray, volume: FloatArray, x: FloatArray) -> FloatArray:
        """Pressure [Pa] of one phase at (T, v), (n,)."""
        return pressure(self.cubic, temperature, volume + add_rows(self.shift(temperature)[0] * x), x)

    def mass(self, x: FloatArray) -> FloatArray:
        """Molar mass [kg/mol] of mole fractions (nc, n)."""
        return add_rows(self.molar_mass * x)


class Caloric(NamedTuple):
    """Volume, enthalpy, entropy and isobaric heat capacity of one mole, and dv/dT, dv/dp."""

    volume: FloatArray
    enthalpy: FloatArray
    entropy: FloatArray
    heat_capacity: FloatArray
    volume_by_temperature: FloatArray
    volume_by_pressure: FloatArray


@lru_cache(maxsize=64)
def _translation_slopes(mixture: Mixture) -> FloatArray:
    """Coefficients (3, 4, nc, 1) by `translation_terms`: of the translation and of its two slopes by s."""
    q0, q1, q2, q3 = mixture.translation
    k2, k3 = TRANSLATION_DECAYS
    none = np.zeros_like(q0)
    return np.array(
        [[q0, q1, q2, q3], [q1, none, -k2 * q2, -k3 * q3], [none, none, k2 * k2 * q2, k3 * k3 * q3]]
    )


@cache
def _read() -> tuple[dict[str, dict[str, str]], dict[frozenset[str], float]]:
    def rows(name: str) -> list[dict[str, str]]:
        text = (resources.files("lpgrelease") / "data" / name).read_text(encoding="utf-8")
        return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))

    components = {row["name"]: row for row in rows("mixture_components.csv")}
    pairs = {
        frozenset((row["first"], row["second"])): float(row["k"])
        for row in rows("interaction_parameters.csv")
    }
    return components, pairs


def mixture_components() -> tuple[str, ...]:
    """Names of the substances that can be mixed."""
    return tuple(_read()[0])


@cache
def load_mixture(names: tuple[str, ...]) -> Mixture:
    """Parameters of the components `names`.

    Raises
    ------
    InputError
        A component that is not served in mixtures, or a pair without an interaction parameter that may not
        be taken as zero.
    """
    components, pairs = _read()
    for name in names:
        if name not in components:
            raise InputError(f"{name} is not served in blends; served: {', '.join(components)}")
    chosen = [components[name] for name in names]
    count = len(names)
    k = np.zeros((count, count))
    assumed = []
    for i, j in itertools.combinations(range(count), 2):
        pair = frozenset((names[i], names[j]))
        if pair not in pairs:
            if pair & {"nitrogen", "methane"}:
                raise InputError(
                    f"no published interaction parameter of {names[i]} with {names[j]}: not served together"
                )
            assumed.append(f"{names[i]} with {names[j]}")
        k[i, j] = k[j, i] = pairs.get(pair, 0.0)

    def column(key: str) -> FloatArray:
        return np.array([float(row[key]) for row in chosen])

    def columns(key: str, number: int) -> FloatArray:
        return np.array([column(f"{key}_{i}") for i in range(number)])[:, :, None]

    return Mixture(
        names=names,
        molar_mass=column("molar_mass")[:, None],
        critical_pressure=column("critical_pressure")[:, None],
        acentric_factor=column("acentric_factor")[:, None],
        cubic=Cubic.from_constants(
            column("critical_temperature"), column("critical_pressure"), column("acentric_factor"), k
        ),
        translation=columns("translation", 4),
        heat_capacity=columns("heat_capacity", HEAT_CAPACITY_POWERS),
        triple_temperature=column("triple_temperature")[:, None],
        assumed_pairs=tuple(assumed),
    )
