"""Solving a block of tank histories: each by the march that makes it easy.

Where only vapor leaves, temperature is the marching variable (`lpgrelease.tank.quadrature`), and so it is
where a tank that leaks is vented down to a stop (`lpgrelease.tank.draining`). Other leaks go in steps of the
mass that has left (`lpgrelease.tank.plateau`), and what else there is in long steps of time
(`lpgrelease.tank.zones`). All close mass and energy exactly, and where several apply they agree; which one
served a scenario depends on that scenario alone.
"""

from __future__ import annotations

import dataclasses
from typing import Self

import numpy as np

from lpgrelease.fluids import Fluid
from lpgrelease.quantities import FloatArray
from lpgrelease.release.nozzle import SaturatedVaporNozzle
from lpgrelease.results import BoolArray, IntArray
from lpgrelease.summing import add_rows
from lpgrelease.tank.draining import drain_in_temperature
from lpgrelease.tank.levels import LevelTable
from lpgrelease.tank.outlets import prepare_line
from lpgrelease.tank.plateau import linger_in_time
from lpgrelease.tank.quadrature import FEWEST_TO_HOLD, march_in_temperature
from lpgrelease.tank.road import rest_when_dry
from lpgrelease.tank.shapes import Tank
from lpgrelease.tank.solved import Parts, Solved
from lpgrelease.tank.stops import PreparedStop
from lpgrelease.tank.venting import (
    COLD_END,
    DURATION,
    GAUGE_PRESSURE,
    GOES_ON,
    HOT_END,
    LIQUID_FULL,
    LIQUID_GONE,
    NEVER,
    SETTLED,
    SETTLED_WITHIN,
    HeatFromOutside,
    Inventory,
    Venting,
    take_tank,
)
from lpgrelease.tank.zone_state import FIRST_RELEASED, REST, Moment, per_point
from lpgrelease.tank.zones import Zones
from lpgrelease.tank.zones_solve import Additions, scenarios_first, solve_zones, zones_of

__all__ = ["Solved", "prepare", "solve", "with_levels"]

BLOCK = 5000
"""Scenarios marched at once: enough that the calls themselves cost little, few enough for some 100 MB."""
LEAKS_BLOCK = 10_000
"""The same where liquid leaks: all steps of all but few are the same, and the calls cost the more."""
DRY_BLOCK = 1000
"""The same where only vapor leaves: all steps at once should stay in the processor's cache."""
STIFF_BLOCK = 250
"""The same where each scenario is evaluated at many points at once."""
LEVELS_BLOCK = 1250
"""Tanks whose levels are tabulated at once, in the processor's cache."""
STIFF_CODES = (GOES_ON, DURATION, LIQUID_GONE, LIQUID_FULL, COLD_END, HOT_END, HOT_END, HOT_END)
"""Codes of the ends by their places among the signals of `lpgrelease.tank.zones`, before the stop's."""
STIFF_ERROR = 2e-6
"""Error allowed per long step in time, as it is told: of temperature over 100 K, of masses and energies over
the initial ones. Near a stop the history's end comes within some 2e-5. Where pressure stands hard by that of
the air, steps that must err by less become short."""


def prepare(
    fluid: Fluid,
    tank: Tank,
    heat: HeatFromOutside,
    numbers: dict[str, FloatArray],
    are_lines: tuple[bool, ...] = (),
    *,
    levels: bool = False,
    surfaces: bool = False,
) -> Venting:
    """Put the numbers of a block, each (n,) or (openings, n), into the equations.

    `levels`: with a table of them; `surfaces`: that tells the surfaces as well.
    """
    t = numbers["temperature"]
    rho_l, rho_v, a, b = fluid.saturated(
        t, "liquid_density", "vapor_density", "inventory_energy_per_mass", "inventory_energy_per_volume"
    )
    volume = tank.volume
    liquid_volume = numbers["fill"] * volume
    mass = liquid_volume * rho_l + (volume - liquid_volume) * rho_v
    z, d = numbers["opening_height"], numbers["opening_diameter"]
    heights = np.concatenate([z, np.minimum(z + 0.5 * d, tank.height)])
    table, below = _tabulated(tank, heights, surfaces) if levels else (None, tank.volume_at(heights))
    empties_at, fills_at = below.reshape(2, *z.shape)
    none = np.full(t.size, NEVER)
    lines = tuple(
        prepare_line(fluid.table, numbers["opening_line"][:, j], numbers["air_pressure"]) if is_line else None
        for j, is_line in enumerate(are_lines or (False,) * len(z))
    )
    stop_temperature, stop_sign = _stop(fluid, numbers)
    return Venting(
        table=fluid.table,
        tank=tank,
        heat=heat,
        nozzle=SaturatedVaporNozzle.prepare(fluid.table, numbers["air_pressure"]),
        volume=volume,
        mass=mass,
        energy=mass * a + volume * b + tank.wall_capacity * t,
        wall_capacity=tank.wall_capacity,
        stop_temperature=stop_temperature,
        stop_sign=stop_sign,
        duration=numbers.get("duration", none),
        stops_settled=np.full(t.size, "stop_pressure" in numbers or "duration" not in numbers),
        area=numbers["opening_area"],
        height=z,
        empties_at=empties_at,
        fills_at=fills_at,
        wet=liquid_volume > empties_at,
        lines=lines,
        levels=table,
    )


def _stop(fluid: Fluid, numbers: dict[str, FloatArray]) -> tuple[FloatArray, FloatArray]:
    """Saturation temperature at the stop pressure, and the side it is come to from; see `Venting`."""
    t = numbers["temperature"]
    if "stop_pressure" not in numbers:
        return t, np.zeros(t.size)
    stop = fluid.saturation_temperature(numbers["stop_pressure"])
    return stop, np.where(t > stop, 1.0, -1.0)


def with_levels(venting: Venting) -> Venting:
    """Tabulate the levels of tanks, where they are not yet."""
    if venting.levels is not None:
        return venting
    nowhere = np.empty((0, venting.volume.size))
    return dataclasses.replace(venting, levels=_tabulated(venting.tank, nowhere, surfaces=False)[0])


def _tabulated(tank: Tank, heights: FloatArray, surfaces: bool) -> tuple[LevelTable, FloatArray]:
    """Return the table of levels, and the volumes below `heights` (m, n)."""
    n = heights.shape[1]
    if n <= LEVELS_BLOCK:
        return LevelTable.with_volumes(tank, heights, surfaces=surfaces)
    parts = [
        LevelTable.with_volumes(take_tank(tank, block), heights[:, block], surfaces=surfaces)
        for block in _chunks(np.arange(n), LEVELS_BLOCK)
    ]
    return LevelTable.joined([part[0] for part in parts]), np.concatenate([p[1] for p in parts], axis=1)


def solve(venting: Venting, temperature: FloatArray, points: int) -> Solved:
    """Histories from `temperature` (n,), at `points` points each."""
    if points < FEWEST_TO_HOLD:
        # a history that comes to rest needs a point there, or it would be marched through its rest in time
        whole = solve(venting, temperature, FEWEST_TO_HOLD)
        ends = np.array([0, FEWEST_TO_HOLD - 1])
        inventory = whole.inventory.take(ends, slice(None))
        return dataclasses.replace(
            whole, states=whole.states[ends], inventory=inventory, modes=whole.modes[ends]
        )
    wet, parts = venting.wet.any(axis=0), Parts(venting.volume.size)
    blocks = _chunks(np.flatnonzero(~wet), DRY_BLOCK)
    for dry in blocks if wet.size else [np.arange(0)]:
        found = march_in_temperature(venting.take(dry), temperature[dry], points)
        modes = np.zeros((points, len(venting.wet), found.served.size), dtype=np.bool_)
        parts.add(dry[found.served], Solved(found.states, found.inventory, modes, found.codes, found.rest))
    leaks = np.flatnonzero(wet)
    if leaks.size:
        _solve_leaks(parts, with_levels(venting.take(leaks)), temperature[leaks], leaks, points)
    for stiff in _chunks(np.flatnonzero(~parts.solved), STIFF_BLOCK):
        parts.add(stiff, _march_stiff(venting.take(stiff), temperature[stiff], points))
    return parts.joined()


def _solve_leaks(parts: Parts, venting: Venting, temperature: FloatArray, who: IntArray, points: int) -> None:
    """Add the histories of tanks that leak, scenarios `who`, that can be had by long steps."""
    for some in _chunks(np.arange(who.size), LEAKS_BLOCK):
        drained = drain_in_temperature(venting.take(some), temperature[some], points)
        part = Solved(drained.states, drained.inventory, drained.modes, drained.codes, drained.rest)
        parts.add(who[some[drained.served]], part)
    for some in _chunks(np.flatnonzero(~parts.solved[who])):
        part, served = _linger(venting.take(some), temperature[some], points)
        parts.add(who[some[served]], part)


def _chunks(index: IntArray, block: int = BLOCK) -> list[IntArray]:
    """Put scenarios in blocks that are solved at once."""
    return [index[start : start + block] for start in range(0, index.size, block)]


def _linger(venting: Venting, temperature: FloatArray, points: int) -> tuple[Solved, IntArray]:
    """Histories that may stand still while liquid leaves, and which of the scenarios they are."""
    found = linger_in_time(venting, temperature, points)
    there = _at_points(venting.take(found.served), found.modes)
    states = _on_the_balance(there, found.states)
    inventory = there.inventory(*_arguments(states))
    return Solved(states, inventory, found.modes, found.codes, found.rest), found.served


def _on_the_balance(there: Venting, states: FloatArray) -> FloatArray:
    """Return states (points, components, n) of tanks that stand `there`, put on the balance of energy."""
    # twice, for next to the critical point the capacity changes at once
    for _ in range(2):
        now, motion = there.motion(*_arguments(states))
        states[:, 1] -= now.energy_off / motion.capacity
    return states


def _march_stiff(venting: Venting, temperature: FloatArray, points: int) -> Solved:
    """Histories in long steps of time."""
    pressure = venting.table.saturated(venting.stop_temperature, "pressure")[0]
    stop = PreparedStop("gauge_pressure", pressure - venting.nozzle.pressure, venting.stop_sign)
    numbers = {"temperature": temperature, "air_temperature": venting.heat.air_temperature}
    rest = rest_when_dry(venting, temperature)
    ends_at_rest = _Resting(rest, np.where(temperature >= rest, 1.0, -1.0))
    zones, start = zones_of(venting, Additions(), numbers, (stop, ends_at_rest))
    states, now, wet, codes = solve_zones(zones, start, points, step_error=STIFF_ERROR)
    kept = np.concatenate([states[:, :2], states[:, FIRST_RELEASED:]], axis=1)
    inventory = Inventory(
        now.pressure, now.liquid_volume, now.liquid_mass, now.vapor_mass, now.mass_flow, now.energy_off
    )
    ends = np.array([*STIFF_CODES, GAUGE_PRESSURE, SETTLED])
    found = np.where(codes == REST, SETTLED, ends[np.minimum(codes, len(ends) - 1)])
    return Solved(kept, inventory, wet, found, states[-1, 1])


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class _Resting:
    """The stop of n tanks that have settled: at `rest` (n,), come to from above (side +1) or below."""

    rest: FloatArray
    side: FloatArray

    def signal(self, moment: Moment, zones: Zones) -> FloatArray:
        """Return what is positive until no liquid leaks and temperature is as near as counts as settled."""
        apart = self.side * (moment.temperature - self.rest) - 0.5 * SETTLED_WITHIN
        leaks = (per_point(zones.covered(moment.liquid_volume)) > 0).any(axis=0)
        return np.where(leaks | (self.rest == NEVER), NEVER, apart)

    def from_start(self, moment: Moment, zones: Zones) -> Self:
        """Return the same: its side is known."""
        return self

    def tolerance(self, zones: Zones) -> FloatArray:
        """How near to zero the signal counts as zero, (n,)."""
        return np.full(self.rest.shape, 1e-6)

    def take(self, index: IntArray) -> Self:
        """Return the scenarios `index` alone."""
        return dataclasses.replace(self, rest=self.rest[index], side=self.side[index])


def _at_points(venting: Venting, modes: BoolArray) -> Venting:
    """Return the tanks with the phases at their openings at every point (points, openings, n)."""
    return dataclasses.replace(venting, wet=np.moveaxis(modes, 1, 0))


def _arguments(states: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return what `Venting.inventory` takes, from states (points, components, n)."""
    return states[:, 1], np.moveaxis(states[:, 2:-2], 1, 0), states[:, -2] - states[:, -1]


def describe(venting: Venting, solved: Solved) -> dict[str, np.ndarray]:
    """Everything reported of a block's histories: scenarios first, then openings, time last."""
    states = solved.states
    now = solved.inventory
    released = states[:, 2:-2].swapaxes(0, 1)
    gone = add_rows(released)
    found = {
        "time": states[:, 0],
        "pressure": now.pressure,
        "temperature": states[:, 1],
        "liquid_mass": now.liquid_mass,
        "vapor_mass": now.vapor_mass,
        "liquid_volume": now.liquid_volume,
        "mass_flow": now.mass_flow,
        "mass_released": released,
        "passes_liquid": solved.modes.swapaxes(0, 1),
        "heat_gained": states[:, -2],
        "enthalpy_released": states[:, -1],
        "mass_error": np.abs(now.liquid_mass + now.vapor_mass + gone - venting.mass) / venting.mass,
        "energy_error": np.abs(now.energy_off) / venting.mass,
    }
    within = np.clip(solved.rest, venting.table.lowest_temperature, venting.table.highest_temperature)
    tends_to = venting.table.saturated(within, "pressure")[0]
    ends = {
        "code": solved.codes,
        "plateau_pressure": np.where(solved.codes == SETTLED, tends_to, np.inf),
        "volume": venting.volume,
    }
    return {name: scenarios_first(values) for name, values in found.items()} | ends
