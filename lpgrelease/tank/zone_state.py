"""What stands in a tank with additions, and the places of its state (`lpgrelease.tank.zones`)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

from lpgrelease.fluids.table import FluidTable
from lpgrelease.marching import IntArray
from lpgrelease.quantities import FloatArray
from lpgrelease.tank.levels import Levels
from lpgrelease.tank.vapor_space import VaporState

if TYPE_CHECKING:
    from lpgrelease.tank.zones import Zones

__all__ = ["FIRST_RELEASED", "REST", "Moment", "Now", "Phases", "Stop", "contents_rows", "per_point"]

TIME, TEMPERATURE, SUPERHEAT, WET_WALL, DRY_WALL, GAS, FIRST_RELEASED = range(7)
WALLS = slice(WET_WALL, DRY_WALL + 1)
"""Components of the state; then masses released by openings and transfers, heat gained, enthalpy gone."""
RELEASED = slice(FIRST_RELEASED, -2)
MARGIN = 1e-3
"""To the upper end of the property tables [K]."""
LEAST_SHARE = 1e-3
"""Share of the metal below which a wall is taken to be this large, so that its temperature stays defined."""
COLDEST_WALL, HOTTEST_WALL = 100.0, 3000.0
"""Bounds [K] of a wall's temperature on the way of an iteration."""
FOG_TIME = 1.0
"""Vapor that expansion would cool below saturation comes back to it in this time [s]: it makes fog."""
ENDS = 6
"""Signals that end a history by themselves; then the stops asked for, the openings, the valves."""
REST = 1000
"""Code of a history that has settled; the others are the places of its signals, from 1."""


class Moment(NamedTuple):
    """All that stands in the tanks and flows; arrays (points, n), of openings (openings, points, n)."""

    time: FloatArray
    temperature: FloatArray
    pressure: FloatArray
    liquid_volume: FloatArray
    liquid_mass: FloatArray
    vapor_mass: FloatArray
    gas_mass: FloatArray
    vapor_temperature: FloatArray
    wet_wall_temperature: FloatArray
    dry_wall_temperature: FloatArray
    level: FloatArray
    mass_flow: FloatArray
    gas_flow: FloatArray
    energy_off: FloatArray


class Stop(Protocol):
    """What else ends a history."""

    def signal(self, moment: Moment, zones: Zones) -> FloatArray:
        """Return what is positive until the event and zero there, (points, n)."""
        ...

    def from_start(self, moment: Moment, zones: Zones) -> Stop:
        """Return the same, told how things stand at the start."""
        ...

    def tolerance(self, zones: Zones) -> FloatArray:
        """How near to zero the signal counts as zero, (n,)."""
        ...

    def take(self, index: IntArray) -> Stop:
        """Return the scenarios `index` alone."""
        ...


def per_point(values: Any) -> Any:
    """Values of openings (J, n), or by point (J, points, n), ready to meet (J, points, n)."""
    return values[:, None] if values.ndim == 2 else values


class Phases(NamedTuple):
    """What the two phases are like at T, and slopes by T along saturation, the vapor's superheat staying."""

    pressure: FloatArray
    vapor_enthalpy: FloatArray
    liquid_enthalpy: FloatArray
    per_mass: FloatArray
    per_volume: FloatArray
    critical_flux: FloatArray
    vapor_heat_capacity: FloatArray
    liquid_volume: FloatArray
    """v_l [m3/kg]."""
    saturated_volume: FloatArray
    """Of saturated vapor [m3/kg]."""
    vapor_volume: FloatArray
    """v [m3/kg]."""
    vapor: FloatArray
    """m_v [kg]."""
    liquid: FloatArray
    filled: FloatArray
    """V_l [m3]."""
    pressure_slope: FloatArray
    vapor_enthalpy_slope: FloatArray
    liquid_enthalpy_slope: FloatArray
    per_mass_slope: FloatArray
    per_volume_slope: FloatArray
    liquid_volume_slope: FloatArray
    vapor_volume_slope: FloatArray
    vapor_slope: FloatArray
    """Of m_v, mass and volume of the tank staying."""

    @property
    def filled_slope(self) -> FloatArray:
        """Of V_l, mass and volume of the tank staying [m3/K]."""
        return self.liquid * self.liquid_volume_slope - self.vapor_slope * self.liquid_volume


class Now(NamedTuple):
    """All that the rates and signals are made from; arrays (points, n)."""

    temperature: FloatArray
    superheat: FloatArray
    gas: FloatArray
    walls: FloatArray
    mass: FloatArray
    phases: Phases
    vapor: VaporState | None
    gas_pressure: FloatArray
    pressure: FloatArray
    levels: Levels
    flow: FloatArray
    gas_flow: FloatArray
    capacity: FloatArray
    """Of what shares the liquid's temperature, the level staying [J/K]."""
    energy_slope: FloatArray
    """Of all energy by that temperature, the level following [J/K]."""
    off: FloatArray
    """Energy by the state less energy by the balance [J]."""


def contents_rows(table: FluidTable, temperature: FloatArray) -> tuple[FloatArray, ...]:
    """Return what `Phases` are made of, along saturation: seven properties and the two densities."""
    return table.saturated(
        temperature,
        "pressure",
        "vapor_enthalpy",
        "liquid_enthalpy",
        "inventory_energy_per_mass",
        "inventory_energy_per_volume",
        "vapor_critical_flux",
        "vapor_heat_capacity",
        "liquid_density",
        "vapor_density",
    )
