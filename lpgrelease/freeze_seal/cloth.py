"""The wet cloth, and every input of an assessment in one checked bundle."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

from lpgrelease.constants import FREEZING_POINT_OF_WATER
from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.fluids import Fluid
from lpgrelease.freeze_seal.let_down import require_saturated_blend
from lpgrelease.freeze_seal.metal import INSIDE_HEAT_TRANSFER, MetalWall
from lpgrelease.freeze_seal.salt import HIGHEST_SALINITY, freezing_point
from lpgrelease.freeze_seal.threshold import enthalpy_at_freezing, vapor_threshold
from lpgrelease.freeze_seal.wet_bulb import evaporation_temperature
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.release.opening import Opening
from lpgrelease.results import Provenance, Result, plain, quantity, result

__all__ = ["PHASES", "SealCase", "WetCloth", "gather"]

PHASES = ("liquid", "two-phase", "vapor")

_CLOTH: dict[str, tuple[str, float, float, bool, str]] = {
    "thickness": ("m", 0.0, 0.5, True, "a cloth, not a wall"),
    "overlap": ("m", 0.0, 5.0, True, "a cloth on a tank"),
    "unbonded_width": ("m", 0.0, 5.0, False, "part of the overlap"),
    "water_temperature": ("K", float(FREEZING_POINT_OF_WATER), 373.15, False, "liquid water"),
    "porosity": ("", 0.0, 1.0, True, "a volume fraction"),
    "pore_diameter": ("m", 0.0, 0.01, True, "pores that hold water"),
    "salinity": ("", 0.0, HIGHEST_SALINITY, False, "range of the data for freezing sea water"),
    "pressing_force": ("N", 0.0, 1e5, False, "by hand, strap or weight"),
}
"""Unit, range, whether the lower end is excluded, and what the range stands for."""


@result
class WetCloth(Result):
    """A soaked cloth laid over the leak.

    Parameters
    ----------
    thickness : number, array or quantity
        All layers together [m], pressed.
    overlap : number, array or quantity
        How far the cloth reaches past the edge of the hole on every side [m].
    unbonded_width : number, array or quantity
        The part of the overlap, next to the hole, that the leak keeps from freezing to the wall [m].
        An assumption: nothing was found published; more than half of the overlap by default.
    water_temperature : number, array or quantity
        Of the water in the cloth when laid [K], 273.15 to 373.15.
    porosity : number or array
        Volume fraction of water in the soaked cloth, above 0 and at most 1.
    pore_diameter : number, array or quantity
        Of the widest pores through the cloth [m]. An assumption: no measured value for towels or
        blankets was found; 50 to 300 micrometers are plausible. The laying limit is proportional to
        its inverse.
    salinity : number or array
        Sea salt in the water, mass fraction, 0 to 0.04. It freezes colder and weakens the ice.
    pressing_force : number, array or quantity
        With which the cloth is held against the leak until it has frozen [N]. An assumption: a hand or a
        strap gives 50 N and more; the default has no source.

    Raises
    ------
    InputError, OutOfRangeError
        Wrong kind or dimension, not finite, outside the ranges above, or an unbonded width that
        leaves no bonded rim.

    Examples
    --------
    >>> cloth = WetCloth(thickness=0.03)
    >>> float(cloth.thickness), float(cloth.overlap)
    (0.03, 0.05)
    """

    thickness: QuantityLike = quantity("m", "all layers together, pressed", default=0.02)
    overlap: QuantityLike = quantity("m", "reach past the edge of the hole", default=0.05)
    unbonded_width: QuantityLike = quantity("m", "part of the overlap the leak keeps loose", default=0.03)
    water_temperature: QuantityLike = quantity("K", "of the water when laid", default=293.15)
    porosity: QuantityLike = quantity("", "volume fraction of water", default=0.9)
    pore_diameter: QuantityLike = quantity("m", "of the widest pores through the cloth", default=100e-6)
    salinity: QuantityLike = quantity("", "mass fraction of sea salt in the water", default=0.0)
    pressing_force: QuantityLike = quantity("N", "held against the leak with", default=50.0)
    provenance: Provenance = plain("where the numbers come from", default=Provenance("cloth as given"))

    def __post_init__(self) -> None:
        """Turn every number into SI and check it."""
        taken = {}
        for name, (unit, lower, upper, excluded, why) in _CLOTH.items():
            taken[name] = to_si(
                getattr(self, name), unit, name, lower=lower, upper=upper, open_lower=excluded, why=why
            )
            object.__setattr__(self, name, taken[name])
        broadcast(**taken)
        if not np.all(np.less(taken["unbonded_width"], taken["overlap"])):
            raise InputError("unbonded_width must be less than overlap: a bonded rim has to remain")


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class SealCase:
    """Checked SI inputs, broadcast against one another; temperatures of tank and wall may be left open."""

    fluid: Fluid
    hole: Opening
    phase: str
    open_to_air: bool
    tank_temperature: FloatArray | None
    wall_temperature: FloatArray | None
    vapor_fraction: FloatArray
    ambient_pressure: FloatArray
    air_temperature: FloatArray
    gauge_pressure: FloatArray
    head: FloatArray
    outside_heat_transfer: FloatArray
    inside_heat_transfer: FloatArray
    captured_cold: FloatArray
    time_available: FloatArray
    failure_probability: FloatArray
    thickness: FloatArray
    overlap: FloatArray
    unbonded_width: FloatArray
    water_temperature: FloatArray
    porosity: FloatArray
    pore_diameter: FloatArray
    salinity: FloatArray
    pressing_force: FloatArray
    wall_thickness: FloatArray
    wall_conductivity: FloatArray
    wall_heat_capacity: FloatArray
    radius: FloatArray
    discharge_coefficient: FloatArray
    freezing_temperature: FloatArray
    boiling_temperature: FloatArray
    evaporation_temperature: FloatArray
    enthalpy_at_freezing: FloatArray
    """Of the vapor [J/kg]; minus infinity where the cargo boils only above freezing."""
    vapor_threshold: FloatArray
    """Highest saturation pressure whose vapor arrives below freezing [Pa]."""

    @property
    def cloth_area(self) -> FloatArray:
        """Of the cloth and the hole under it [m2]."""
        outer = self.radius + self.overlap
        area: FloatArray = np.pi * outer * outer
        return area


def gather(
    fluid: Fluid,
    hole: Opening,
    cloth: WetCloth,
    wall: MetalWall,
    *,
    phase: str,
    open_to_air: bool,
    tank_temperature: FloatArray | None,
    **numbers: FloatArray,
) -> SealCase:
    """Broadcast every input to one shape and look up the boiling point at ambient pressure.

    Raises
    ------
    InputError
        Unknown phase, shapes that do not broadcast, a temperature given for a boiling mixture.
    OutOfRangeError
        A pressure or temperature outside the fluid's tables, or vapor too cold to leak out.
    """
    if not isinstance(phase, str) or phase not in PHASES:
        raise InputError(f'phase must be "liquid", "two-phase" or "vapor", got {phase!r}')
    numbers |= {name: getattr(cloth, name) for name in _CLOTH} | _of_wall(wall, phase)
    numbers |= {"radius": hole.diameter / 2.0, "discharge_coefficient": hole.discharge_coefficient}
    require_saturated_blend(fluid, phase, tank_temperature)
    if tank_temperature is not None:
        if phase == "two-phase":
            raise InputError(
                "tank_temperature must be left out where a boiling mixture leaks: it is saturated"
            )
        numbers["tank_temperature"] = fluid.saturation_range(tank_temperature, "tank_temperature")
    fluid.pressure_range(numbers["ambient_pressure"], "ambient_pressure")
    broadcast(**numbers)  # refuses shapes before work is done on them
    numbers |= _of_site(fluid, numbers["ambient_pressure"], numbers["air_temperature"], cloth.salinity)
    arrays = dict(zip(numbers, broadcast(**numbers), strict=True))
    fluid.pressure_range(
        arrays["gauge_pressure"] + arrays["ambient_pressure"], "gauge_pressure + ambient_pressure"
    )
    tank, metal = arrays.pop("tank_temperature", None), arrays.pop("wall_temperature", None)
    boiling = arrays["boiling_temperature"]
    if phase == "vapor" and tank is not None and np.any(tank < boiling):
        why = "vapor below its boiling point at ambient pressure does not leak out"
        raise OutOfRangeError("tank_temperature", float(tank.min()), "K", float(boiling.max()), None, why)
    return SealCase(fluid, hole, phase, open_to_air, tank, metal, **arrays)


def _of_site(fluid: Fluid, ambient: FloatArray, air: FloatArray, salinity: Any) -> dict[str, FloatArray]:
    """Return what cargo, air and water alone decide, in their own small shapes."""
    ambient, freezing = np.asarray(ambient), np.asarray(freezing_point(salinity))
    boiling = np.asarray(fluid.saturation_temperature(ambient))
    limit = enthalpy_at_freezing(fluid, boiling, freezing, ambient)
    return {
        "freezing_temperature": freezing,
        "boiling_temperature": boiling,
        "evaporation_temperature": evaporation_temperature(fluid, np.asarray(air), ambient),
        "enthalpy_at_freezing": limit,
        "vapor_threshold": vapor_threshold(
            fluid, boiling, limit, freezing=freezing, ambient_pressure=ambient
        ),
    }


def _of_wall(wall: MetalWall, phase: str) -> dict[str, FloatArray]:
    """Numbers of the wall, by the names of :class:`SealCase`."""
    inside = wall.inside_heat_transfer
    numbers = {
        "wall_thickness": np.asarray(wall.thickness),
        "wall_conductivity": np.asarray(wall.conductivity),
        "wall_heat_capacity": np.asarray(wall.heat_capacity),
        "inside_heat_transfer": np.asarray(INSIDE_HEAT_TRANSFER[phase] if inside is None else inside),
    }
    if wall.temperature is not None:
        numbers["wall_temperature"] = np.asarray(wall.temperature)
    return numbers
