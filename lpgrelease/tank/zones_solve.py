"""Solving a block of tank histories with all that may be added to them (`lpgrelease.tank.zones`)."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

from lpgrelease.collocation.march import march_stiff, sample
from lpgrelease.fluids.curve import saturation_curve
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray, IntArray
from lpgrelease.summing import add_rows
from lpgrelease.tank.additions import TankFire, TankWall, Transfer
from lpgrelease.tank.attitude import TiltedTank
from lpgrelease.tank.fire_exposure import exposed_area_at, fire_heat
from lpgrelease.tank.flux_table import OpeningFluxes
from lpgrelease.tank.levels import LevelTable
from lpgrelease.tank.outside import Surroundings, transfer_rows
from lpgrelease.tank.shapes import HorizontalTank, Tank
from lpgrelease.tank.stops import PreparedStop, StopAt
from lpgrelease.tank.superheated import SuperheatedVapor
from lpgrelease.tank.valves import Valves
from lpgrelease.tank.vapor_space import PermanentGas
from lpgrelease.tank.venting import HeatFromOutside, Venting
from lpgrelease.tank.zone_phases import contents_rows, inventory_rows, mixture_rows
from lpgrelease.tank.zone_state import DRY_WALL, FIRST_RELEASED, REST, WET_WALL, Moment, Stop
from lpgrelease.tank.zones import Zones

__all__ = [
    "Additions",
    "describe_zones",
    "reasons_of",
    "scenarios_first",
    "solve_zones",
    "surroundings",
    "zones_of",
]

STEP_ERROR = 1.5e-6
"""Error allowed per step, as it is told: of temperatures over 100 K, of masses and energies over the initial
ones. They add up, and count for more where a temperature comes to rest: answers come within 1e-4."""
WALLS_COUNT_LESS = 50.0
"""By this factor errors of the walls and the vapor may be larger: they hold little of the heat."""
BALANCED = 1e-12
"""Energy over the heat of evaporating the initial mass that may be off."""
FIRST_CHANGE = 0.01
"""Of temperatures over 100 K and of masses over the initial one, in the first step."""
GONE = 1e-7
"""Share of the volume at which liquid counts as gone: the last of it may linger as dew."""
STEEL_DENSITY = 7850.0
"""[kg/m3]; common practice, no source."""
FIN_COEFFICIENT = 10.0
"""Of the dry wall by the waterline [W/m2/K]: free convection on both sides; common practice, no source."""
ZONE_REASONS = (
    "",
    "duration",
    "liquid gone",
    "liquid full",
    "cold end of the property tables",
    "hot end of the property tables",
    "vapor beyond the superheat tables",
    "gas beyond its range of pressure",
)
"""Why a history ended, by code; the stops asked for come after these."""
LIQUID_GONE = ZONE_REASONS.index("liquid gone")


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Additions:
    """What was asked for beyond the plain history; its numbers are in the block's `numbers`."""

    wall: TankWall | None = None
    fire: TankFire | None = None
    transfers: tuple[Transfer, ...] = ()
    stops: tuple[StopAt, ...] = ()
    valves: tuple[int, ...] = ()
    air_enters: bool = False
    gas: PermanentGas | None = None

    def __bool__(self) -> bool:
        """Return whether anything was."""
        return any((self.wall, self.fire, self.transfers, self.stops, self.valves, self.air_enters, self.gas))

    @property
    def two_walls(self) -> bool:
        """Whether wetted and dry wall have their own temperatures."""
        return self.wall is not None and self.wall.two_temperatures

    @property
    def need_surfaces(self) -> bool:
        """Whether levels tell too little without the surfaces of wall and liquid."""
        return self.two_walls or self.fire is not None


def zones_of(
    venting: Venting,
    additions: Additions,
    numbers: dict[str, FloatArray],
    further: tuple[Stop, ...] = (),
) -> tuple[Zones, FloatArray]:
    """Return the equations of a block with what was added to them, and the initial state; `further` stops."""
    t, tank = numbers["temperature"], venting.tank
    n = t.size
    two_walls = additions.two_walls
    gas = additions.gas
    superheated = two_walls and gas is None
    transfers = additions.transfers
    rates = np.zeros((len(transfers), n))
    enthalpies = np.zeros((len(transfers), n))
    for row, transfer in enumerate(transfers):
        rates[row] = numbers[f"mass_flow of transfer {row}"]
        enters = numbers.get(f"temperature of transfer {row}", t)
        enthalpies[row] = venting.table.saturated(enters, f"{transfer.phase}_enthalpy")[0]
    levels = venting.levels
    if levels is None or (additions.need_surfaces and not levels.have_surfaces):
        levels = LevelTable.prepare(tank, surfaces=additions.need_surfaces)
    stop_values = [numbers[f"stop {i}"] for i in range(len(additions.stops))]
    zones = Zones(
        table=venting.table,
        curve=saturation_curve(
            venting.table,
            (contents_rows,) if superheated else (contents_rows, inventory_rows),
            (*([] if gas is None else [mixture_rows]), *([transfer_rows] if two_walls else [])),
        ),
        fluxes=OpeningFluxes.prepare(venting.table, venting.nozzle, venting.lines),
        levels=levels,
        nozzle=venting.nozzle,
        outside=surroundings(venting.heat, tank, additions, numbers).tabulated(),
        vapor=SuperheatedVapor.of(venting.table) if superheated else None,
        gas=gas,
        air_enters=additions.air_enters,
        volume=venting.volume,
        mass=venting.mass,
        energy=venting.energy,
        wall_capacity=venting.wall_capacity,
        duration=venting.duration,
        air_temperature=numbers["air_temperature"],
        stops=tuple(
            PreparedStop(stop.kind, value, np.ones(n), stop.function)
            for stop, value in zip(additions.stops, stop_values, strict=True)
        )
        + further,
        area=venting.area,
        height=venting.height,
        empties_at=venting.empties_at,
        fills_at=venting.fills_at,
        lines=venting.lines,
        valves=_valves(additions, numbers, n),
        transfer_rates=rates,
        transfer_enthalpies=enthalpies,
        transfer_liquid=tuple(transfer.phase == "liquid" for transfer in transfers),
        wet=venting.wet,
        partly=np.zeros(venting.wet.shape, dtype=np.bool_),
        stops_settled=venting.stops_settled | bool(additions.stops),
    )
    return _at_start(zones, t, numbers.get("pad_pressure", np.zeros(n)))


def _at_start(zones: Zones, t: FloatArray, pad: FloatArray) -> tuple[Zones, FloatArray]:
    """Energy, valves and stops at the start, and the state."""
    state = np.zeros((9 + zones.rows - 1, t.size))
    state[1], state[3], state[4] = t, t, t
    now = zones.moment(state[:, None])
    if zones.gas is not None:
        space = zones.volume - now.liquid_volume[0]
        state[5] = pad * np.maximum(space, 0.0) / (zones.gas.constant * t)
        now = zones.moment(state[:, None])
    valves = zones.valves
    gauge = now.pressure[0] - zones.nozzle.pressure
    valves = valves.with_open(gauge >= valves.full_pressure)
    stops = tuple(stop.from_start(now, zones) for stop in zones.stops)
    return dataclasses.replace(
        zones, energy=zones.energy + now.energy_off[0], valves=valves, stops=stops
    ), state


def _valves(additions: Additions, numbers: dict[str, FloatArray], n: int) -> Valves:
    settings = [
        np.array([numbers[f"{name} of opening {j}"] for j in additions.valves]).reshape(
            len(additions.valves), n
        )
        for name in ("set_pressure", "full_pressure", "reseat_pressure")
    ]
    shut = np.zeros((len(additions.valves), n), dtype=np.bool_)
    return Valves(additions.valves, settings[0], settings[1], settings[2], shut)


def surroundings(
    heat: HeatFromOutside, tank: Tank, additions: Additions, numbers: dict[str, FloatArray]
) -> Surroundings:
    """Return all that is around the tanks of a block."""
    fire, n = additions.fire, numbers["temperature"].size
    nothing = np.zeros(n)

    def of_wall(name: str) -> FloatArray | None:
        return numbers.get(f"{name} of the wall")

    def present(value: FloatArray | None, default: FloatArray) -> FloatArray:
        return default if value is None else value

    surface = tank.surface_area + nothing
    reach, constant = nothing, None
    if fire is not None:
        reach = exposed_area_at(tank, tank.height, elevation=numbers["elevation of the fire"]) + nothing
        constant = fire_heat(
            np.ones(n),
            adequate_drainage=fire.adequate_drainage,
            environment_factor=numbers["environment_factor of the fire"],
        )
    thickness = tank.wall_mass / (STEEL_DENSITY * tank.surface_area)
    conductivity = present(of_wall("conductivity"), nothing)
    contact = of_wall("contact_conductance")
    return Surroundings(
        heat=heat,
        surface=surface,
        resistance=present(of_wall("insulation"), nothing),
        contact=contact if contact is not None and contact.any() else None,
        contact_temperature=present(of_wall("contact_temperature"), numbers["air_temperature"]),
        fire=constant,
        fire_reach=reach,
        dry_flux=numbers.get("dry_flux of the fire", nothing),
        surface_coefficient=of_wall("surface_coefficient"),
        two_walls=additions.two_walls,
        wet_coefficient=of_wall("wet_coefficient"),
        dry_coefficient=of_wall("dry_coefficient"),
        inside_emissivity=present(of_wall("inside_emissivity"), nothing),
        edge=_waterline(tank) * np.sqrt(conductivity * thickness * FIN_COEFFICIENT) + nothing,
    )


def _waterline(tank: Tank) -> FloatArray:
    """Length [m] along the wall of the liquid's edge, half full: what metal conducts along is small."""
    upright: FloatArray = np.pi * tank.diameter
    if isinstance(tank, HorizontalTank):
        return np.asarray(2.0 * (tank.length + tank.diameter))
    if not isinstance(tank, TiltedTank):
        return upright
    # an oval from end to end, or from side to side an ellipse
    rise, run = np.abs(np.sin(tank.pitch)), np.cos(tank.pitch)
    ends = 2.0 * (tank.length / np.maximum(run, 1e-9) + tank.diameter)
    return np.asarray(np.minimum(ends, 0.5 * upright * (1.0 + 1.0 / np.maximum(rise, 1e-9))))


def solve_zones(
    zones: Zones, start: FloatArray, points: int, *, step_error: float = STEP_ERROR
) -> tuple[FloatArray, Moment, BoolArray, IntArray]:
    """States (points, components, n), what stood then, phases (points, J, n) and codes (n,)."""
    latent = zones.table.saturated(start[1], "latent_heat")[0]
    scale = np.full(start.shape, step_error * 100.0)
    scale[0] = np.inf
    scale[2] = WALLS_COUNT_LESS * step_error * latent
    scale[3:5] *= WALLS_COUNT_LESS
    scale[5] = 0.1 * step_error * zones.volume
    scale[6:-2] = step_error * zones.mass
    scale[-2:] = step_error * zones.mass * latent
    first = np.full(start.shape, np.inf)
    first[0], first[[1, 3, 4]], first[6:-2] = 1e7, FIRST_CHANGE * 100.0, FIRST_CHANGE * zones.mass
    path = march_stiff(zones, start, scale=scale, tolerance=_tolerance(zones), first=first)
    who = np.arange(start.shape[1])
    last = np.maximum(path.counts - 1, 0)
    ends = path.ends[last, :, who].T
    weights = np.zeros_like(start)
    weights[0] = 1.0 / np.maximum(ends[0], 1e-300)
    weights[1:5] = 1.0 / 20.0
    weights[2] = 1.0 / latent
    weights[6:-2] = 1.0 / zones.mass
    released = slice(FIRST_RELEASED, FIRST_RELEASED + zones.area.shape[0])
    states, modes = sample(path, start, weights, points, rising=released)
    there = zones.in_mode(modes.swapaxes(0, 1))
    by_component = states.swapaxes(0, 1)
    for _ in range(2):
        by_component = there.on_balance(by_component)
    if zones.outside.two_walls:
        # the last of the liquid gone, a change of its temperature would make less than none of it
        by_component[:, -1] = np.where(path.codes == LIQUID_GONE, states[-1], by_component[:, -1])
    moment = there.moment(by_component)
    off = np.where(np.abs(moment.energy_off) > BALANCED * zones.mass * latent, moment.energy_off, 0.0)
    if zones.outside.two_walls and off.any():
        by_component = _into_walls(there, by_component, off, moment.liquid_volume)
        moment = there.moment(by_component)
    wet = np.broadcast_to(there.covered(moment.liquid_volume) > 0, moment.mass_flow.shape)
    return by_component.swapaxes(0, 1), moment, wet.swapaxes(0, 1), path.codes


def _into_walls(zones: Zones, state: FloatArray, off: FloatArray, volume: FloatArray) -> FloatArray:
    """Return `state` with what energy is still `off` [J] taken out of the larger wall, which has room."""
    share = zones.levels.at(volume).wetted_share
    metal = np.maximum(share, 1.0 - share) * zones.wall_capacity
    fixed = state.copy()
    fixed[WET_WALL] -= np.where(share > 0.5, off / metal, 0.0)
    fixed[DRY_WALL] -= np.where(share > 0.5, 0.0, off / metal)
    return fixed


def _tolerance(zones: Zones) -> FloatArray:
    """How near to zero each signal counts as zero, (events, n)."""
    n = zones.volume.size
    one = np.ones(n)
    rows = [
        1e-12 * zones.duration,
        GONE * zones.volume,
        1e-9 * zones.volume,
        1e-6 * one,
        1e-6 * one,
        one,
        one,
    ]
    rows += [stop.tolerance(zones) for stop in zones.stops]
    rows += [1e-9 * zones.volume] * zones.area.shape[0]
    rows += [1e-7 * one] * len(zones.valves.which)
    return np.array(rows)


def describe_zones(zones: Zones, solved: tuple[FloatArray, Moment, BoolArray, IntArray]) -> dict[str, Any]:
    """Everything reported, as `lpgrelease.tank.solve.describe` does."""
    states, now, wet, codes = solved
    released = states[:, 6:-2].swapaxes(0, 1)
    gone = add_rows(released)
    openings = zones.area.shape[0]
    found = {
        "time": now.time,
        "pressure": now.pressure,
        "temperature": now.temperature,
        "liquid_mass": now.liquid_mass,
        "vapor_mass": now.vapor_mass,
        "liquid_volume": now.liquid_volume,
        "mass_flow": now.mass_flow,
        "mass_released": released[:openings],
        "passes_liquid": wet.swapaxes(0, 1),
        "heat_gained": states[:, -2],
        "enthalpy_released": states[:, -1],
        "vapor_temperature": now.vapor_temperature,
        "wet_wall_temperature": now.wet_wall_temperature,
        "dry_wall_temperature": now.dry_wall_temperature,
        "gas_mass": now.gas_mass,
        "mass_error": np.abs(now.liquid_mass + now.vapor_mass + gone - zones.mass) / zones.mass,
        "energy_error": np.abs(now.energy_off) / zones.mass,
    }
    ends = {
        "code": codes,
        "plateau_pressure": np.where(codes == REST, now.pressure[-1], np.inf),
        "volume": zones.volume,
    }
    return {name: scenarios_first(values) for name, values in found.items()} | ends


def scenarios_first(values: np.ndarray) -> np.ndarray:
    """Return (points, n) as (n, points), and (openings, points, n) as (n, openings, points)."""
    return values.transpose(-1, *range(values.ndim - 1))


def reasons_of(stops: tuple[StopAt, ...]) -> dict[int, str]:
    """Reason by code."""
    names = [*ZONE_REASONS, *(stop.reason for stop in stops)]
    return dict(enumerate(names)) | {REST: "settled"}
