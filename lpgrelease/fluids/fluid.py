"""`Fluid`: one door to the properties of every substance served."""

from __future__ import annotations

import dataclasses
import warnings
from collections.abc import Mapping
from functools import lru_cache

import numpy as np

from lpgrelease.errors import ConvergenceError, InputError, OutOfRangeError, ValidityWarning
from lpgrelease.fluids import helmholtz
from lpgrelease.fluids.blend import BlendTable, blend_name, load_blend
from lpgrelease.fluids.composition import (
    BASES,
    blend_fractions,
    combustion_heat,
    le_chatelier,
    named_fractions,
)
from lpgrelease.fluids.equilibrium import LIQUID, VAPOR
from lpgrelease.fluids.grades import GRADES, Grade
from lpgrelease.fluids.states import SaturationState, SinglePhaseState, TransportState
from lpgrelease.fluids.substances import Substance, find_substance
from lpgrelease.fluids.table import FluidTable, load_table
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, exactly_one, require_flag, to_si
from lpgrelease.results import Provenance

__all__ = ["Fluid", "require_converged"]

SATURATION_FIELDS = tuple(f.name for f in dataclasses.fields(SaturationState) if "unit" in f.metadata)[2:]
TRANSPORT_FIELDS = tuple(f.name for f in dataclasses.fields(TransportState) if "unit" in f.metadata)[1:]
HIGHEST_LIQUID_PRESSURE = 10e6
"""Compressed liquid is served up to here [Pa], far above any container of liquefied gas."""
OWN_LOWER_END = ("methyl chloride",)
"""Substances whose equation of state begins above the triple point; it melts at 175 K."""


@dataclasses.dataclass(frozen=True, slots=True, init=False)
class Fluid:
    """A liquefied gas, pure or a blend, and its properties.

    Parameters
    ----------
    name : str or mapping
        Name, alias or CAS number of a substance; name of a grade such as "HD-5 propane"; or a mapping of
        names to fractions that add up to 1.
    basis : {"mole", "mass", "liquid volume"}
        Basis of the fractions of a mapping; liquid volumes are those at 60 degF.

    Attributes
    ----------
    name : str
        The name under which the substance or grade is served; of another blend its components in mole per
        cent.
    components : tuple of str
        Names of the components; one for a pure fluid.
    fractions : tuple of float
        Their mole fractions.

    Raises
    ------
    InputError
        Unknown name (with the nearest ones), fractions that do not add up to 1, a substance that is not
        served in blends, a pair without an interaction parameter.

    Notes
    -----
    Pure fluids are served from tables fitted to reference equations of state; see the page on fluid
    properties for the equations, the range and the worst error of each. Blends are served by the
    Peng-Robinson equation with volume translation; see the page on blends. Along saturation a blend's liquid
    has the composition given and stands at its bubble point, and the vapor is the one in equilibrium with it.
    Enthalpies and entropies have an arbitrary reference state; only differences of one fluid mean anything. A
    `Fluid` holds nothing but names and fractions: it is hashable, compares by them, and is safe to share
    between threads and to pickle.

    Examples
    --------
    >>> propane = Fluid("propane")
    >>> print(f"{propane.saturation(temperature=293.15).pressure:.0f} Pa")
    836461 Pa
    >>> Fluid("R290") == propane
    True
    >>> blend = Fluid({"propane": 0.6, "n-butane": 0.4}, basis="mass")
    >>> print(f"{blend.saturation(temperature=293.15).pressure / 1e5:.2f} bar")
    6.12 bar

    A grade is bounded by its standard, which fixes no composition; the one assumed is told:

    >>> print(Fluid("autogas winter").grade.limits)
    vapor pressure at 40 degC at most 1550 kPa; a least pressure in winter by grade
    """

    name: str
    components: tuple[str, ...] = dataclasses.field(repr=False)
    fractions: tuple[float, ...] = dataclasses.field(repr=False)

    def __init__(self, name: str | Mapping[str, float], *, basis: str = "mole") -> None:
        if not isinstance(basis, str) or basis not in BASES:
            raise InputError(f"basis must be one of {', '.join(BASES)}; got {basis!r}")
        if isinstance(name, Mapping):
            parts = blend_fractions(name, basis)
            known = blend_name(tuple(parts), tuple(parts.values())) if len(parts) > 1 else next(iter(parts))
        else:
            known, parts = named_fractions(name)
        components, fractions = tuple(parts), tuple(parts.values())
        object.__setattr__(self, "components", components)
        object.__setattr__(self, "fractions", fractions)
        object.__setattr__(self, "name", known)
        if self.is_blend:
            load_blend(components, fractions)

    # -- constants ---------------------------------------------------------------------------------

    @property
    def is_blend(self) -> bool:
        """Whether the fluid has several components."""
        return len(self.components) > 1

    @property
    def table(self) -> FluidTable:
        """The tables behind a pure fluid, for inner loops.

        Raises
        ------
        InputError
            The fluid is a blend.
        """
        if self.is_blend:
            raise InputError(f"{self.name} is a blend: this is served for pure fluids only")
        return load_table(self.name)

    @property
    def blend(self) -> BlendTable:
        """The tables behind a blend, for inner loops.

        Raises
        ------
        InputError
            The fluid is pure.
        """
        if not self.is_blend:
            raise InputError(f"{self.name} is a pure fluid, not a blend")
        return load_blend(self.components, self.fractions)

    @property
    def tables(self) -> FluidTable | BlendTable:
        """The tables behind the fluid, pure or blend."""
        return self.blend if self.is_blend else self.table

    @property
    def credit(self) -> str:
        """What served the properties, in one line, for a result's provenance."""
        assumed = "" if self.grade is None else f"; composition assumed for {self.name}"
        return f"{self.tables.credit}{assumed}"

    @property
    def grade(self) -> Grade | None:
        """The grade that the fluid was named by: its standard and the composition assumed; else None."""
        return GRADES.get(self.name)

    @property
    def substance(self) -> Substance:
        """Names, flammability and combustion data of a pure fluid, with sources.

        Raises
        ------
        InputError
            The fluid is a blend; `substances` has those of its components.
        """
        if self.is_blend:
            raise InputError(f"{self.name} is a blend: look at substances, one for each component")
        return find_substance(self.name)

    @property
    def substances(self) -> tuple[Substance, ...]:
        """Names, flammability and combustion data of each component, with sources."""
        return tuple(find_substance(name) for name in self.components)

    @property
    def molar_mass(self) -> float:
        """Molar mass M [kg/mol]."""
        return self.tables.molar_mass

    @property
    def critical_temperature(self) -> float:
        """Critical temperature T_c [K] of the reference equation; for pure fluids only."""
        return self.table.critical_temperature

    @property
    def critical_pressure(self) -> float:
        """Critical pressure p_c [Pa] of the reference equation; for pure fluids only."""
        return self.table.critical_pressure

    @property
    def triple_temperature(self) -> float:
        """Triple-point temperature [K]; of a blend the highest among its components."""
        return self.tables.triple_temperature

    @property
    def lowest_temperature(self) -> float:
        """Lower end of the saturation table [K]: the triple point or 120 K, the higher of the two."""
        return self.tables.lowest_temperature

    @property
    def highest_temperature(self) -> float:
        """Upper end of the saturation table [K]: 0.9999 of the critical temperature; blends end earlier."""
        return self.tables.highest_temperature

    @property
    def normal_boiling_point(self) -> float:
        """Saturation temperature at 101,325 Pa [K]; of a blend that of its bubble point."""
        one_atmosphere = np.atleast_1d(self.pressure_range(101325.0, "pressure of the normal boiling point"))
        return float(self.tables.saturation_temperature(one_atmosphere)[0])

    @property
    def flammable_limits(self) -> tuple[float, float]:
        """Lower and upper flammable limit in air [mole fraction], at 1 atm and about 25 degC.

        Of a blend by Le Chatelier's rule (mashuga2000chatelier), for its vapor as if it evaporated whole.
        """
        self.require_flammable("flammable limits")
        if self.is_blend:
            return le_chatelier(self.substances, self.fractions)
        return self.substance.flammable_limits or (0.0, 0.0)

    @property
    def heat_of_combustion(self) -> float:
        """Lower heat of combustion of the gas at 25 degC [J/kg]; `substance` has the higher one."""
        self.require_flammable("heat of combustion")
        if self.is_blend:
            return combustion_heat(self.substances, self.blend.mass_fractions)
        return self.substance.heat_of_combustion_lower or 0.0

    @property
    def flammable(self) -> bool:
        """Whether its vapor, or a part of it, burns in air."""
        return any(substance.flammable for substance in self.substances)

    @property
    def toxic(self) -> bool:
        """Whether its vapor, or a part of it, is dangerous to breathe as such: see `Substance.toxic`."""
        return any(substance.toxic for substance in self.substances)

    @property
    def cautions(self) -> tuple[str, ...]:
        """What to know before going near, one sentence each: poison first, then what else it does."""
        return tuple(dict.fromkeys(text for substance in self.substances for text in substance.cautions))

    # -- states --------------------------------------------------------------------------------------

    def saturation(
        self, *, temperature: QuantityLike | None = None, pressure: QuantityLike | None = None
    ) -> SaturationState:
        """Saturated liquid and vapor at a temperature or at a pressure.

        Parameters
        ----------
        temperature : number, array or quantity
            Saturation temperature T [K]. Give this or `pressure`.
        pressure : number, array or quantity
            Saturation pressure p [Pa], absolute.

        Returns
        -------
        SaturationState
            Fields of the shape of the argument.

        Raises
        ------
        InputError, OutOfRangeError
            Not a number or quantity of that kind; outside the table, below the triple point, above critical.

        Examples
        --------
        >>> state = Fluid("propane").saturation(pressure=101325.0)
        >>> print(f"{state.temperature:.3f} K, {state.latent_heat / 1e3:.2f} kJ/kg")
        231.036 K, 425.59 kJ/kg
        """
        if exactly_one(temperature=temperature, pressure=pressure) == "temperature":
            t = self.saturation_range(temperature, "temperature")
            p = None
        else:
            p = self.pressure_range(pressure, "pressure")
            t = self.saturation_temperature(p)
        values = self.saturated(t, "pressure", *SATURATION_FIELDS)
        named = dict(zip(SATURATION_FIELDS, values[1:], strict=True))
        p = values[0] if p is None else p
        provenance = _blend_provenance(self) if self.is_blend else _provenance(self.name)
        return SaturationState(temperature=t, pressure=p, provenance=provenance, **named)

    def transport(self, *, temperature: QuantityLike, extrapolate: bool = False) -> TransportState:
        """Viscosities, conductivities, heat capacities and surface tension of the saturated phases.

        Parameters
        ----------
        temperature : number, array or quantity
            Saturation temperature T [K].
        extrapolate : bool
            Leave the range of a property's published correlation: with a warning, and named in
            the provenance.

        Returns
        -------
        TransportState

        Raises
        ------
        InputError, OutOfRangeError
            As for `saturation`, and outside the range of a correlation without `extrapolate`.

        Warns
        -----
        ValidityWarning
            Outside the range of a correlation.

        Notes
        -----
        Reference correlations cover the whole table, except for the vapor of propylene (above 160 K), the
        conductivity of ammonia (to 397 K), the viscosity of liquid n-pentane (above 240 K), and those
        without one, served from correlations of green2007handbook: viscosity and conductivity of 1-butene,
        isobutene, ethylene, 1,3-butadiene, vinyl chloride, methyl chloride, ethylene oxide, methylamine,
        sulfur dioxide and chlorine, conductivity of dimethyl ether; for propylene oxide from correlations of
        bell2016thermo. The page on fluid properties lists the ranges. For the two butenes, 1,3-butadiene and
        ethylene oxide the range of a liquid's correlation ends at the boiling point, about where that of the
        vapor's conductivity begins, so that `extrapolate` is needed almost always. Beyond its range the
        correlation of a liquid is held at its end (viscosity of isobutene above 266 K: too high there), that
        of a gas is continued. The correlations of the vapor are for dilute gas. Blends: mixing rules, see
        `fluids.blend_transport`.

        Examples
        --------
        >>> print(f"{Fluid('propane').transport(temperature=293.15).liquid_viscosity * 1e6:.0f} uPa s")
        102 uPa s
        """
        require_flag(extrapolate, "extrapolate")
        t = self.saturation_range(temperature, "temperature")
        if self.is_blend:
            fields = self.saturated(t, *TRANSPORT_FIELDS)
            named = dict(zip(TRANSPORT_FIELDS, fields, strict=True))
            return TransportState(temperature=t, provenance=_blend_provenance(self), **named)
        outside = _outside_transport(self.name, t, extrapolate)
        if outside:
            warnings.warn(f"{self.name}: outside the {'; '.join(outside)}", ValidityWarning, stacklevel=2)
        values = self.table.saturated(t, *TRANSPORT_FIELDS)
        named = dict(zip(TRANSPORT_FIELDS, values, strict=True))
        provenance = dataclasses.replace(_transport_provenance(self.name), outside_validity=outside)
        return TransportState(temperature=t, provenance=provenance, **named)

    def gas(self, *, temperature: QuantityLike, pressure: QuantityLike) -> SinglePhaseState:
        """Vapor at or below its saturation pressure, or gas above the critical temperature.

        Parameters
        ----------
        temperature : number, array or quantity
            T [K], from the saturation table's lower end to the upper limit of the equation of state.
        pressure : number, array or quantity
            p [Pa], up to saturation; above the critical temperature up to the critical pressure.

        Returns
        -------
        SinglePhaseState

        Raises
        ------
        InputError, OutOfRangeError
            Not a gas at this state, or outside the equation's range.

        Examples
        --------
        >>> state = Fluid("propane").gas(temperature=293.15, pressure=101325.0)
        >>> print(f"{state.density:.4f} kg/m3, {state.speed_of_sound:.1f} m/s")
        1.8650 kg/m3, 246.6 m/s
        """
        if self.is_blend:
            return self._blend_phase(temperature, pressure, VAPOR)
        table = self.table
        t = to_si(
            temperature,
            "K",
            "temperature",
            lower=table.lowest_temperature,
            upper=table.highest_gas_temperature,
            why=f"the range of the equation of state of {self.name}",
        )
        p = to_si(pressure, "Pa", "pressure", lower=0.0, open_lower=True)
        t, p = broadcast(temperature=t, pressure=p)
        below = np.minimum(t, table.highest_temperature)
        p_sat, z = table.saturated(below, "pressure", "vapor_compressibility")
        limit = np.where(t >= table.critical_temperature, table.critical_pressure, p_sat)
        _refuse_above(
            p, limit * (1.0 + 1e-9), "pressure", f"{self.name} is no gas above its saturation pressure"
        )
        start = (
            p
            / (table.gas_constant * t)
            / np.where(t > below, 1.0, 1.0 + (z - 1.0) * np.minimum(p / p_sat, 1.0))
        )
        return self._single_phase(t, p, start)

    def liquid(self, *, temperature: QuantityLike, pressure: QuantityLike) -> SinglePhaseState:
        """Liquid at or above its saturation pressure, up to 10 MPa.

        Parameters
        ----------
        temperature, pressure : number, array or quantity
            T [K] inside the saturation table; p [Pa], absolute.

        Returns
        -------
        SinglePhaseState

        Raises
        ------
        InputError, OutOfRangeError
            Not a liquid at this state.

        Examples
        --------
        >>> print(f"{Fluid('propane').liquid(temperature=293.15, pressure=2e6).density:.2f} kg/m3")
        503.27 kg/m3
        """
        if self.is_blend:
            return self._blend_phase(temperature, pressure, LIQUID)
        t = self.saturation_range(temperature, "temperature")
        p = to_si(
            pressure, "Pa", "pressure", lower=0.0, upper=HIGHEST_LIQUID_PRESSURE, why="compressed liquid"
        )
        t, p = broadcast(temperature=t, pressure=p)
        p_sat, rho = self.table.saturated(t, "pressure", "liquid_density")
        _refuse_below(
            p, p_sat * (1.0 - 1e-9), "pressure", f"{self.name} is no liquid below its saturation pressure"
        )
        return self._single_phase(t, p, rho)

    # -- for inner loops: unchecked, elementwise ------------------------------------------------------

    def saturated(self, temperature: FloatArray, *names: str) -> tuple[FloatArray, ...]:
        """Saturation properties `names` at `temperature` [K], unchecked; see `FluidTable.saturated`."""
        return self.tables.saturated(temperature, *names)

    def saturation_temperature(self, pressure: FloatArray) -> FloatArray:
        """Saturation temperature [K] at `pressure` [Pa], unchecked."""
        return self.tables.saturation_temperature(pressure)

    # -- checks ---------------------------------------------------------------------------------------

    def saturation_range(self, temperature: QuantityLike, name: str) -> FloatArray:
        """`temperature` in SI if the saturation table holds it; errors call it `name`."""
        low, high = self.lowest_temperature, self.highest_temperature
        why = f"bubble line of {self.name}" if self.is_blend else _saturation_range(self.name)
        return to_si(temperature, "K", name, lower=low, upper=high, why=why)

    def pressure_range(self, pressure: QuantityLike, name: str) -> FloatArray:
        """`pressure` in SI if the saturation table holds it; errors call it `name`."""
        low, high = self.blend.pressure_limits if self.is_blend else _pressure_limits(self.name)
        why = f"saturation pressures of {self.name} served{'' if self.is_blend else _below(self.name)}"
        return to_si(pressure, "Pa", name, lower=low, upper=high, why=why)

    def require_flammable(self, what: str) -> None:
        """Raise an InputError where the vapor does not burn in air; `what` is what there then is not."""
        if not self.flammable:
            raise InputError(f"{self.name} does not burn in air: no {what}, no fire, no flammable cloud")

    def _blend_phase(self, temperature: QuantityLike, pressure: QuantityLike, side: int) -> SinglePhaseState:
        """Gas or liquid of the blend's composition, on the right side of dew or bubble point."""
        table, kind = self.blend, ("liquid", "gas")[side]
        top = table.highest_gas_temperature if side == VAPOR else table.highest_temperature
        why = f"the range in which a blend's {kind} is served"
        t = to_si(temperature, "K", "temperature", lower=table.lowest_temperature, upper=top, why=why)
        p = to_si(
            pressure, "Pa", "pressure", lower=0.0, upper=HIGHEST_LIQUID_PRESSURE, open_lower=True, why=why
        )
        t, p = broadcast(temperature=t, pressure=p)
        flat_t, flat_p = np.ravel(t), np.ravel(p)
        below = np.flatnonzero(flat_t <= table.highest_temperature)
        if side == VAPOR:
            limit = np.full(flat_t.shape, table.pressure_limits[1])
            limit[below] = table.dew(temperature=flat_t[below]).pressure
            _refuse_above(
                flat_p, limit * (1.0 + 1e-9), "pressure", f"{self.name} condenses above its dew point"
            )
        else:
            limit = table.saturated(flat_t, "pressure")[0]
            _refuse_below(
                flat_p, limit * (1.0 - 1e-7), "pressure", f"{self.name} boils below its bubble point"
            )
        fields = table.phase(flat_t, flat_p, side)
        shaped = {name: values.reshape(t.shape)[()] for name, values in fields.items()}
        return SinglePhaseState(provenance=_blend_provenance(self), **shaped)

    def _single_phase(self, t: FloatArray, p: FloatArray, start: FloatArray) -> SinglePhaseState:
        table, shape = self.table, t.shape
        t, p = np.ravel(t), np.ravel(p)
        density = helmholtz.density_from_pressure(table.equation, t, p, np.ravel(start))
        state = helmholtz.evaluate(table.equation, t, density)
        # the pressure of a cold liquid holds few digits; its density, which is what matters, all of them
        require_converged(self.name, (state.pressure / p - 1.0) / np.maximum(state.stiffness, 1.0), t, p)
        fields = {
            "temperature": t,
            "pressure": p,
            "density": density,
            "enthalpy": state.enthalpy,
            "entropy": state.entropy,
            "internal_energy": state.enthalpy - p / density,
            "heat_capacity": state.heat_capacity,
            "speed_of_sound": state.speed_of_sound,
        }
        shaped = {name: values.reshape(shape)[()] for name, values in fields.items()}
        return SinglePhaseState(provenance=_equation_provenance(self.name), **shaped)


def _outside_transport(name: str, t: FloatArray, extrapolate: bool) -> tuple[str, ...]:
    """Name the published ranges that `t` leaves; raise unless `extrapolate`."""
    ranges = load_table(name).origin["transport_ranges"]
    outside = []
    for field, (low, high) in ranges.items():
        spelled = f"published range of {field.replace('_', ' ')}"
        if not extrapolate:
            why = f"{spelled} of {name}; extrapolate=True leaves it"
            to_si(t, "K", "temperature", lower=low, upper=high, why=why)
        elif ((t < low) | (t > high)).any():
            outside.append(f"{spelled}, {low:.6g} to {high:.6g} K")
    return tuple(outside)


def _refuse_above(values: FloatArray, limit: FloatArray, name: str, why: str) -> None:
    bad = np.ravel(values > limit)
    if bad.any():
        worst = np.flatnonzero(bad)[0]
        raise OutOfRangeError(
            name, float(np.ravel(values)[worst]), "Pa", 0.0, float(np.ravel(limit)[worst]), why
        )


def _refuse_below(values: FloatArray, limit: FloatArray, name: str, why: str) -> None:
    bad = np.ravel(values < limit)
    if bad.any():
        worst = np.flatnonzero(bad)[0]
        raise OutOfRangeError(
            name,
            float(np.ravel(values)[worst]),
            "Pa",
            float(np.ravel(limit)[worst]),
            HIGHEST_LIQUID_PRESSURE,
            why,
        )


def require_converged(name: str, residual: FloatArray, t: FloatArray, p: FloatArray) -> None:
    """Raise unless every density found is right to 1e-8; `residual` is its relative error."""
    if residual.size == 0:
        return
    worst = int(np.argmax(np.where(np.isfinite(residual), np.abs(residual), np.inf)))
    if not abs(residual[worst]) < 1e-8:
        state = {"temperature": float(t[worst]), "pressure": float(p[worst])}
        raise ConvergenceError(
            f"density of {name} from temperature and pressure", float(residual[worst]), state
        )


@lru_cache(maxsize=256)
def _saturation_range(name: str) -> str:
    table = load_table(name)
    low = f"its triple point ({table.triple_temperature:.6g} K)"
    if name in OWN_LOWER_END:
        low = f"the lower end of its equation ({table.triple_temperature:.6g} K)"
    if table.lowest_temperature > table.triple_temperature:
        low = f"120 K, above {low},"
    critical = f"its critical temperature ({table.critical_temperature:.6g} K)"
    return f"saturation of {name}, from {low} to 0.9999 of {critical}{_below(name)}"


def _below(name: str) -> str:
    """Say what becomes of a substance below its table, where that is met in practice."""
    if "dry ice" not in find_substance(name).hazards:
        return ""
    return "; below its triple point (216.59 K, 5.18 bar absolute) stand vapor and dry ice: not served"


@lru_cache(maxsize=256)
def _pressure_limits(name: str) -> tuple[float, float]:
    table = load_table(name)
    ends = np.array([table.lowest_temperature, table.highest_temperature])
    low, high = table.saturated(ends, "pressure")[0]
    return float(low), float(high)


@lru_cache(maxsize=256)
def _provenance(name: str) -> Provenance:
    return Provenance("saturation table", (load_table(name).origin["source"],), load_table(name).credit)


@lru_cache(maxsize=256)
def _transport_provenance(name: str) -> Provenance:
    keys = load_table(name).origin["transport_sources"]
    return Provenance("saturation table", tuple(dict.fromkeys(keys.values())), load_table(name).credit)


@lru_cache(maxsize=256)
def _equation_provenance(name: str) -> Provenance:
    return Provenance(
        "Helmholtz energy equation of state", (load_table(name).origin["source"],), load_table(name).credit
    )


def _blend_provenance(fluid: Fluid) -> Provenance:
    return Provenance(
        "Peng-Robinson equation of state, volume translation",
        ("peng1976new", "peneloux1982consistent", "kooijman2016chemsep"),
        fluid.credit,
    )
