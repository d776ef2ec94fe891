"""What stands in a tank with additions, and the places of its state (`lpgrelease.tank.zones`)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

from lpgrelease.quantities import FloatArray
from lpgrelease.results import IntArray
from lpgrelease.tank.levels import Levels
from lpgrelease.tank.superheated import VaporState
from lpgrelease.tank.zone_phases import Phases

if TYPE_CHECKING:
    from lpgrelease.tank.zones import Zones

__all__ = [
    "FIRST_RELEASED",
    "REST",
    "Moment",
    "Now",
    "Stop",
    "per_point",
]

TIME, TEMPERATURE, SUPERHEAT, WET_WALL, DRY_WALL, GAS, FIRST_RELEASED = range(7)
WALLS = slice(WET_WALL, DRY_WALL + 1)
"""Components of the state; then masses released by openings and transfers, heat gained, enthalpy gone."""
RELEASED = slice(FIRST_RELEASED, -2)
COLD_MARGIN, HOT_MARGIN = 1e-6, 1e-3
"""To the ends of the property tables [K]; next to a critical point they change too fast to go nearer."""
GAS_UP_TO = 0.999
"""Share of the highest pressure of a gas at which a history ends."""
LEAST_ROOM = 1e-9
"""Share of the volume over which a hole is covered at least, were it under the very top."""
LEAST_SHARE = 1e-3
"""Share of the metal below which a wall is taken to be this large, so that its temperature stays defined."""
COLDEST_WALL, HOTTEST_WALL = 100.0, 3000.0
"""Bounds [K] of a wall's temperature on the way of an iteration."""
BALANCES = 1e-7
"""Share of all that flows by which in and out may differ where contents are at rest."""
ALONG, ALONG_SHARE = 0.01, 0.01
"""Conductance between two walls while the level rests [W/K], and what it is of that along the metal."""
FAINT = 1e3
"""Gauge pressure [Pa] far below which flow hangs on less than a millikelvin of the liquid's temperature."""
FOG_RATE = 1.0
"""Vapor that expansion would cool below saturation comes back to it at this rate [1/s]: it makes fog."""
FOG_ROOM = 0.01
"""Share of the volume whose vapor makes fog at least, were it less."""
FOG_WITHIN = 2.0
"""By so much below saturation [J/kg] it has set in: at once it would keep a march at rest busy."""
ENDS = 7
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


class Now(NamedTuple):
    """All that the rates and signals are made from; arrays (points, n)."""

    temperature: FloatArray
    superheat: FloatArray
    gas: FloatArray
    walls: FloatArray
    shares: FloatArray | None
    """Of two walls, of all metal, (2, points, n)."""
    phases: Phases
    vapor: VaporState | None
    gas_pressure: FloatArray
    pressure: FloatArray
    levels: Levels
    flow: FloatArray
    gas_flow: FloatArray
    outflows: FloatArray
    """Of liquid and of vapor by all openings and transfers, (2, points, n)."""
    isobaric: FloatArray
    """m h' - V p' of liquid and vapor [J/K], (2, points, n)."""
    capacity: FloatArray
    """Of what shares the liquid's temperature, the level staying [J/K]."""
    energy_slope: FloatArray
    """Of all energy by that temperature, the level following [J/K]."""
    off: FloatArray
    """Energy by the state less energy by the balance [J]."""
