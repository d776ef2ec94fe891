"""A blend of fixed composition: its bubble line as a table, its states and its phases.

`BlendTable` answers the calls of `FluidTable` that mean something for a blend; what belongs to pure fluids
raises `InputError`. Along the bubble line the liquid has the blend's composition, the vapor the one in
equilibrium with it. Results are per mass.
"""

from __future__ import annotations

import dataclasses
from functools import cached_property, lru_cache
from typing import NoReturn, TypeVar

import numpy as np

from lpgrelease.errors import ConvergenceError, InputError
from lpgrelease.fluids.blend_transport import TRANSPORT, blend_transport
from lpgrelease.fluids.equilibrium import (
    LIQUID,
    VAPOR,
    Point,
    Split,
    bubble_point,
    dew_point,
    flash_enthalpy,
    flash_entropy,
    flash_pressure,
    flash_vapor,
    flash_volume,
)
from lpgrelease.fluids.mixture import Mixture, load_mixture
from lpgrelease.fluids.piecewise import PiecewisePolynomial, fit, fitting_points
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray
from lpgrelease.summing import add_rows

__all__ = ["BlendTable", "blend_name", "load_blend"]

Found = TypeVar("Found", Point, Split)

SEGMENTS = 48
STEP = 2.0
"""Steps [K] in which the bubble line is traced before it is tabulated."""
START, HIGHEST = 0.65, 0.98
"""Where the trace starts and where it ends at the latest, of the mean critical temperature."""
LOWEST = 120.0
HIGHEST_GAS = 500.0
"""Ideal-gas heat capacities were fitted up to here [K]."""
HIGHEST_PRESSURE = 10e6
LEAST_VOLUME_RATIO = 4.0
"""The bubble line is served up to where a mole of vapor takes this many times the liquid's volume: closer to
the critical point the search for points at a pressure may end on another branch."""

STATE = (
    "log_pressure",
    "liquid_density",
    "vapor_density",
    "liquid_enthalpy",
    "vapor_enthalpy",
    "liquid_entropy",
    "vapor_entropy",
    "liquid_heat_capacity",
    "vapor_heat_capacity",
)
ROWS = (*STATE, *TRANSPORT)


@dataclasses.dataclass(frozen=True, eq=False)
class BlendTable:
    """Properties of one blend.

    Parameters
    ----------
    mixture : Mixture
    fractions : ndarray, shape (nc, 1)
        Mole fractions z.
    lowest_temperature, highest_temperature : float
        Ends of the bubble line served [K].
    """

    mixture: Mixture
    fractions: FloatArray
    lowest_temperature: float
    highest_temperature: float

    @property
    def name(self) -> str:
        """The blend in words."""
        return blend_name(self.mixture.names, tuple(self.fractions[:, 0]))

    @property
    def molar_mass(self) -> float:
        """M [kg/mol]."""
        return float(add_rows(self.mixture.molar_mass * self.fractions)[0])

    @property
    def mass_fractions(self) -> tuple[float, ...]:
        """Mass fractions."""
        return tuple((self.mixture.molar_mass * self.fractions)[:, 0] / self.molar_mass)

    @property
    def triple_temperature(self) -> float:
        """Highest triple point among the components [K]: something may freeze below it."""
        return float(self.mixture.triple_temperature.max())

    @property
    def highest_gas_temperature(self) -> float:
        """Upper end for gas [K]."""
        return HIGHEST_GAS

    @property
    def credit(self) -> str:
        """What served the properties."""
        assumed = self.mixture.assumed_pairs
        note = f"; interaction taken as zero: {', '.join(assumed)}" if assumed else ""
        return f"Peng-Robinson, translated volumes, interaction parameters of ChemSep{note}"

    def __getattr__(self, name: str) -> NoReturn:
        if name.startswith("_"):
            raise AttributeError(name)
        raise InputError(f"{self.name} is a blend: {name.replace('_', ' ')} is served for pure fluids only")

    # -- bubble line -----------------------------------------------------------------------------------

    @cached_property
    def _line(self) -> PiecewisePolynomial:
        width = (self.highest_temperature - self.lowest_temperature) / SEGMENTS
        t = fitting_points(self.lowest_temperature, width, SEGMENTS)
        rows = self.evaluate(np.ravel(t))
        # it spans eight decades: its logarithm is tabulated
        rows["vapor_density"] = np.log(rows["vapor_density"])
        values = np.array([rows[name] for name in ROWS]).reshape(len(ROWS), *t.shape)
        return PiecewisePolynomial(fit(values), self.lowest_temperature, width)

    @cached_property
    def _inverse(self) -> PiecewisePolynomial:
        low, high = np.log(self.pressure_limits)
        width = (high - low) / SEGMENTS
        log_p = fitting_points(low, width, SEGMENTS)
        point = self.require(
            bubble_point(self.mixture, self._feed(log_p.size), pressure=np.exp(np.ravel(log_p)))
        )
        return PiecewisePolynomial(fit(point.temperature.reshape(1, *log_p.shape)), float(low), width)

    @cached_property
    def pressure_limits(self) -> tuple[float, float]:
        """Bubble pressures at the ends of the line [Pa]."""
        ends = np.array([self.lowest_temperature, self.highest_temperature])
        low, high = bubble_point(self.mixture, self._feed(2), temperature=ends).pressure
        return float(low), float(high)

    def evaluate(self, temperature: FloatArray, liquid: FloatArray | None = None) -> dict[str, FloatArray]:
        """`ROWS` at bubble temperatures (n,), by the equation itself; of another `liquid` (nc, n) or z."""
        z = self._feed(temperature.size) if liquid is None else liquid
        point = self.require(bubble_point(self.mixture, z, temperature=temperature))
        p, y = point.pressure, point.incipient
        below = self.mixture.phase(temperature, p, z, LIQUID)[1]
        above = self.mixture.phase(temperature, p, y, VAPOR)[1]
        m_l, m_v = self.mixture.mass(z), self.mixture.mass(y)
        values = {
            "log_pressure": np.log(p),
            "liquid_density": m_l / below.volume,
            "vapor_density": m_v / above.volume,
        }
        for name in ("enthalpy", "entropy", "heat_capacity"):
            values[f"liquid_{name}"] = getattr(below, name) / m_l
            values[f"vapor_{name}"] = getattr(above, name) / m_v
        return values | blend_transport(self.mixture.names, temperature, z, y)

    def saturated(self, temperature: FloatArray, *names: str) -> tuple[FloatArray, ...]:
        """Properties along the bubble line at `temperature`, unchecked, elementwise."""
        rows: list[str] = []
        for name in names:
            for part in _PARTS.get(name, (name,)):
                if part not in ROWS:
                    raise InputError(
                        f"{self.name} is a blend: {name.replace('_', ' ')} is served for pure fluids only"
                    )
                if part not in rows:
                    rows.append(part)
        flat = np.ravel(temperature)
        found = self._line.evaluate(flat, tuple(ROWS.index(row) for row in rows))
        shape = np.shape(temperature)
        values: dict[str, FloatArray] = {
            row: line.reshape(shape)[()] for row, line in zip(rows, found, strict=True)
        }
        if "vapor_density" in values:
            values["vapor_density"] = np.exp(values["vapor_density"])
        return self._derived(values, names)

    def saturated_liquid(
        self, temperature: FloatArray, liquid: FloatArray, *names: str
    ) -> tuple[FloatArray, ...]:
        """As `saturated`, of liquids (nc, ...) of other compositions than the blend's; by the equation."""
        shape = np.shape(temperature)
        found = self.evaluate(np.ravel(temperature), liquid.reshape(liquid.shape[0], -1))
        return self._derived({name: values.reshape(shape)[()] for name, values in found.items()}, names)

    @staticmethod
    def _derived(values: dict[str, FloatArray], names: tuple[str, ...]) -> tuple[FloatArray, ...]:
        """Properties `names` from those rows of `ROWS` that they need."""
        if "log_pressure" in values:
            values["pressure"] = np.exp(values["log_pressure"])
        out = []
        for name in names:
            if name == "latent_heat":
                values[name] = values["vapor_enthalpy"] - values["liquid_enthalpy"]
            elif name.endswith("internal_energy"):
                side = name.split("_", maxsplit=1)[0]
                values[name] = values[f"{side}_enthalpy"] - values["pressure"] / values[f"{side}_density"]
            out.append(values[name])
        return tuple(out)

    def saturation_temperature(self, pressure: FloatArray) -> FloatArray:
        """Bubble temperature at `pressure`: unchecked, elementwise."""
        flat = np.ravel(np.log(pressure))
        values: FloatArray = self._inverse.evaluate(flat, (0,))[0].reshape(np.shape(pressure))[()]
        return values

    # -- states of the blend as a whole; arrays (n,), per mass -----------------------------------------------

    def flash_enthalpy(self, pressure: FloatArray, enthalpy: FloatArray) -> Split:
        """State at (p, h)."""
        z = self._feed(pressure.size)
        return self.require(flash_enthalpy(self.mixture, z, pressure, enthalpy * self.molar_mass))

    def flash_entropy(self, pressure: FloatArray, entropy: FloatArray) -> Split:
        """State at (p, s)."""
        z = self._feed(pressure.size)
        return self.require(flash_entropy(self.mixture, z, pressure, entropy * self.molar_mass))

    def flash_pressure(self, temperature: FloatArray, pressure: FloatArray) -> Split:
        """State at (T, p)."""
        return self.require(flash_pressure(self.mixture, self._feed(pressure.size), temperature, pressure))

    def flash_density(self, temperature: FloatArray, density: FloatArray) -> Split:
        """State at (T, overall density)."""
        volume = self.molar_mass / density
        return self.require(flash_volume(self.mixture, self._feed(density.size), temperature, volume))

    def flash_vapor(self, temperature: FloatArray, vapor_fraction: FloatArray) -> Split:
        """State at T with a vapor mass fraction."""
        z = self._feed(temperature.size)
        return self.require(flash_vapor(self.mixture, z, temperature, vapor_fraction))

    def bubble(self, *, temperature: FloatArray | None = None, pressure: FloatArray | None = None) -> Point:
        """Bubble point at T or p (n,)."""
        z = self._feed(_size(temperature, pressure))
        return self.require(bubble_point(self.mixture, z, temperature=temperature, pressure=pressure))

    def dew(self, *, temperature: FloatArray | None = None, pressure: FloatArray | None = None) -> Point:
        """Dew point at T or p (n,)."""
        z = self._feed(_size(temperature, pressure))
        return self.require(dew_point(self.mixture, z, temperature=temperature, pressure=pressure))

    def phase(self, temperature: FloatArray, pressure: FloatArray, side: int) -> dict[str, FloatArray]:
        """One phase of the blend's composition at (T, p): the fields of `SinglePhaseState`."""
        z, m = self._feed(temperature.size), self.molar_mass
        one = self.mixture.phase(temperature, pressure, z, side)[1]
        density = m / one.volume
        isochoric = (
            one.heat_capacity
            + temperature * one.volume_by_temperature * one.volume_by_temperature / one.volume_by_pressure
        )
        stiffness = -one.volume * one.volume / one.volume_by_pressure * one.heat_capacity / isochoric
        return {
            "temperature": temperature,
            "pressure": pressure,
            "density": density,
            "enthalpy": one.enthalpy / m,
            "entropy": one.entropy / m,
            "internal_energy": one.enthalpy / m - pressure / density,
            "heat_capacity": one.heat_capacity / m,
            "speed_of_sound": np.sqrt(stiffness / m),
        }

    def ideal_heat_capacity(self, temperature: FloatArray) -> FloatArray:
        """Of the blend as an ideal gas at `temperature` [J/kg/K]."""
        flat = np.ravel(temperature)
        heat = add_rows(self.mixture.ideal(flat)[2] * self._feed(flat.size)) / self.molar_mass
        return heat.reshape(np.shape(temperature))[()]

    def vapor_mass_fraction(self, state: Split) -> FloatArray:
        """Vapor mass fraction of a state of the blend."""
        return state.vapor_fraction * self.mixture.mass(state.vapor) / self.molar_mass

    def _feed(self, size: int) -> FloatArray:
        return np.repeat(self.fractions, size, axis=1)

    def require(self, found: Found) -> Found:
        """Return what was found, or raise where there is no solution."""
        missing: BoolArray = ~found.found
        if missing.any():
            worst = int(np.flatnonzero(missing)[0])
            state = {"temperature": float(found.temperature[worst]), "pressure": float(found.pressure[worst])}
            raise ConvergenceError(f"phase equilibrium of {self.name}", float("inf"), state)
        return found


_PARTS = {
    "pressure": ("log_pressure",),
    "latent_heat": ("liquid_enthalpy", "vapor_enthalpy"),
    "liquid_internal_energy": ("liquid_enthalpy", "log_pressure", "liquid_density"),
    "vapor_internal_energy": ("vapor_enthalpy", "log_pressure", "vapor_density"),
}


def _size(temperature: FloatArray | None, pressure: FloatArray | None) -> int:
    given = temperature if temperature is not None else pressure
    return 0 if given is None else given.size


def blend_name(names: tuple[str, ...], fractions: tuple[float, ...]) -> str:
    """Name a blend by mole per cent."""
    return " + ".join(f"{100.0 * x:.4g} % {name}" for name, x in zip(names, fractions, strict=True))


@lru_cache(maxsize=64)
def load_blend(names: tuple[str, ...], fractions: tuple[float, ...]) -> BlendTable:
    """Blend of mole `fractions`, its bubble line traced as far as it is served.

    Raises
    ------
    InputError
        A pair without an interaction parameter, or a blend that has no bubble line worth the name.
    """
    mixture = load_mixture(names)
    z = np.array(fractions)[:, None]
    mean = float(add_rows(mixture.cubic.critical_temperature * z)[0])
    floor = max(LOWEST, float(mixture.triple_temperature.max()))
    top = float(mixture.cubic.critical_temperature.max())
    t = np.arange(floor, min(top, HIGHEST * mean), STEP)
    point = bubble_point(mixture, np.repeat(z, t.size, axis=1), temperature=t)
    good = point.found & (point.volume_ratio > LEAST_VOLUME_RATIO) & (point.pressure < HIGHEST_PRESSURE)
    some = np.flatnonzero(good)
    good[some] = dew_point(mixture, np.repeat(z, some.size, axis=1), temperature=t[some]).found
    start = int(np.argmin(np.abs(t - START * mean)))
    if not good[start]:
        raise InputError(
            f"{blend_name(names, fractions)}: no bubble point at {t[start]:.0f} K below "
            f"{HIGHEST_PRESSURE / 1e6:.0f} MPa; this is no liquefied gas"
        )
    first, last = start, start
    while first > 0 and good[first - 1] and point.pressure[first - 1] < point.pressure[first]:
        first -= 1
    while last + 1 < t.size and good[last + 1] and point.pressure[last + 1] > point.pressure[last]:
        last += 1
    return BlendTable(mixture, z, float(t[first]), float(t[last]))
