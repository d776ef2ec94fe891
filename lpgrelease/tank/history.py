"""`tank_history`: pressure, temperature and contents of a tank while it vents, leaks and takes up heat."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from lpgrelease.errors import ConvergenceError
from lpgrelease.fluids import Fluid
from lpgrelease.quantities import MOST_POINTS, FloatArray, QuantityLike, require_whole
from lpgrelease.release.line import Line
from lpgrelease.release.opening import Opening
from lpgrelease.results import BoolArray, IntArray, Provenance, Result, StringArray, plain, quantity, result
from lpgrelease.tank.additions import TankFire, TankWall, Transfer
from lpgrelease.tank.attitude import TiltedTank
from lpgrelease.tank.blend_contents import BlendContents
from lpgrelease.tank.blend_history import blend_histories, refuse_additions
from lpgrelease.tank.carry_over import carries_liquid, swelling_of_blend
from lpgrelease.tank.contents import Contents
from lpgrelease.tank.fire_exposure import CAUTIONS as FIRE_CAUTIONS
from lpgrelease.tank.gather import Gathered, gather, heat_from_outside
from lpgrelease.tank.relief import ReliefValve
from lpgrelease.tank.solve import describe, prepare, solve
from lpgrelease.tank.stops import StopAt
from lpgrelease.tank.venting import REASONS, HeatFromOutside, take_tank
from lpgrelease.tank.zones_solve import describe_zones, reasons_of, solve_zones, zones_of
from lpgrelease.weather import Weather

__all__ = ["TankHistory", "tank_history"]

BLOCK = 20_000
"""Scenarios held at once; those that need the same march go through it together, in blocks of their own."""
ZONES_BLOCK = 250
"""The same where something is added: each scenario is then evaluated at many points at once, and
what is worked on should stay in the processor's cache."""
POINTS_HELD = 660_000
"""Scenarios times points held at once: 5 MB for each number per point."""
LARGEST_IMBALANCE = 1e-9
CARRIES = (
    "Boiling liquid swells to a vent: it passes liquid as well, more mass than stated here, and the tank "
    "cools less. Vent more slowly, or from a higher point."
)
SUCKS = (
    "The pressure falls below that of the air: a real tank draws air in through its openings, which makes a "
    "mixture inside that can burn, and drains on (air_enters=True). A shut one may collapse."
)
FULL = "A tank full of liquid bursts by a few kelvin more: liquid must leave it."
BURNS_INSIDE = "Air and vapor inside the tank may make a mixture that burns."
SETTLES = (
    "Said to settle, by one temperature for all: in truth heat of the wall above the liquid hardly reaches "
    "it, so that pressure may come lower yet, and to zero gauge in hours or days (wall=TankWall())."
)
COLDER = (
    "What it ended with (`final`) has vapor and dry wall as cold as the liquid: where they were warmer, its "
    "mass is somewhat larger, and pressure returns sooner than a history from it says."
)
"""Cautions that a history may carry."""


@result
class TankHistory(Result):
    """History of tanks; leading axes are the scenarios, the last is time, openings stand before it."""

    time: FloatArray = quantity("s", "time since the start", dims=("time",))
    pressure: FloatArray = quantity("Pa", "absolute pressure", dims=("time",))
    temperature: FloatArray = quantity("K", "temperature of the liquid", dims=("time",))
    vapor_temperature: FloatArray = quantity("K", "temperature of the vapor", dims=("time",))
    wet_wall_temperature: FloatArray = quantity("K", "temperature of the wetted wall", dims=("time",))
    dry_wall_temperature: FloatArray = quantity("K", "temperature of the dry wall", dims=("time",))
    liquid_mass: FloatArray = quantity("kg", "mass of the liquid", dims=("time",))
    vapor_mass: FloatArray = quantity("kg", "mass of the vapor", dims=("time",))
    gas_mass: FloatArray = quantity("kg", "mass of a permanent gas in the tank", dims=("time",))
    liquid_volume: FloatArray = quantity("m**3", "volume of the liquid", dims=("time",))
    liquid_fractions: FloatArray = quantity("", "mole fractions of the liquid", dims=("component", "time"))
    vapor_fractions: FloatArray = quantity("", "mole fractions of the vapor", dims=("component", "time"))
    component_mass: FloatArray = quantity(
        "kg", "mass of each component of the fluid", dims=("component", "time")
    )
    mass_flow: FloatArray = quantity(
        "kg/s", "flow of the fluid through each opening, without a pad's gas", dims=("opening", "time")
    )
    mass_released: FloatArray = quantity(
        "kg", "of the fluid, released by each opening since the start", dims=("opening", "time")
    )
    passes_liquid: BoolArray = quantity("", "whether liquid stands at the opening", dims=("opening", "time"))
    carries_liquid: BoolArray = quantity(
        "", "whether swelling liquid comes to the opening while vapor should pass it", dims=("opening",)
    )
    heat_gained: FloatArray = quantity("J", "heat from outside since the start", dims=("time",))
    enthalpy_released: FloatArray = quantity("J", "enthalpy of what was released", dims=("time",))
    plateau_pressure: FloatArray = quantity("Pa", "pressure it settles at; infinite where it did not settle")
    mass_imbalance: FloatArray = quantity("", "largest mass error over the initial mass")
    energy_imbalance: FloatArray = quantity(
        "", "largest energy error over the heat of evaporating the initial mass"
    )
    stopped_by: StringArray = plain("why each history ended")
    final: Contents = plain("the contents it ended with")
    cautions: tuple[str, ...] = plain("what to bear in mind")


def tank_history(
    contents: Contents,
    *,
    openings: Sequence[Opening | Line | ReliefValve] = (),
    weather: Weather | None = None,
    stop_at_gauge_pressure: QuantityLike | None = None,
    duration: QuantityLike | None = None,
    stop: Sequence[StopAt] = (),
    wall: TankWall | None = None,
    fire: TankFire | None = None,
    transfers: Sequence[Transfer] = (),
    air_enters: bool = False,
    points: int = 33,
    progress: Callable[[int, int], None] | None = None,
) -> TankHistory:
    """March a tank at equilibrium through time, openings discharging what stands at their height.

    Parameters
    ----------
    contents : Contents
        Tank, fluid, fill and temperature at the start.
    openings : sequence of Opening, Line or ReliefValve
        Vapor leaves through those above the liquid's level, liquid through those below; a line has friction
        (`line_release`). None: the tank is shut, warms or cools, and its pressure follows.
    weather : Weather, optional
        Air temperature and pressure; sun and wind where the tank's `heat_transfer` is None.
    stop_at_gauge_pressure : number, array or quantity, optional
        End when the pressure above that of the air comes to this [Pa], from above or from below. Without
        it and without `duration`: what reads as zero on a dial, a tenth of a psi (`ZERO_GAUGE_READING`).
    duration : number, array or quantity, optional
        End after this time [s].
    stop : sequence of StopAt
        Other conditions; the first that comes ends the history.
    wall : TankWall, optional
        Insulation, contact with ground or water, and wetted wall, dry wall and vapor each at its own
        temperature. None: bare, all at one temperature.
    fire : TankFire, optional
        Heat of a fire around the tank.
    transfers : sequence of Transfer
        Liquid or vapor pumped in or out.
    air_enters : bool
        Air flows in through openings above the liquid while the tank's pressure is below it. Otherwise a
        pressure below that of the air just draws nothing.
    points : int
        Points in time of each history, 2 to 100,000; spread over the change of temperature, mass and time.
    progress : callable, optional
        Called as ``progress(done, total)`` with numbers of scenarios.

    Returns
    -------
    TankHistory
        Every numeric argument may be an array; they broadcast to the scenarios' shape (...,). Histories have
        shape (..., points), those of openings (..., openings, points).

    Raises
    ------
    InputError, OutOfRangeError
        Bad arguments; an opening above the tank.
    ConvergenceError
        A march does not end, or mass or energy do not close to 1e-9.

    Notes
    -----
    Equations (1) and (2) in `lpgrelease.tank.venting`: liquid, vapor and wall share one temperature. Boiling
    keeps up with venting, the liquid is stirred by it, and the wall follows. With `wall`, (3) and (4) in
    `lpgrelease.tank.zones`: wetted wall, dry wall and vapor have their own. The liquid has one either way: a
    tank that only warms stratifies, and its pressure may run ahead of this model.

    With heat coming in, pressure never comes down to that of the air: near it the vent passes ever less,
    and pressure settles where what boils away takes up the heat. A history that settles (temperature
    within 1 mK of the one it tends to, no liquid leaking) stops and says so, unless `duration` alone
    was given. A history also ends when no liquid is left, when the tank is liquid-full, at the ends of the
    property tables, or where liquid shuts gas in beyond 5 MPa. With nothing added answers come within 2e-5;
    with additions within 1e-4. Times are less sure where hardly anything moves: to a stop hard by where
    pressure would settle within 1e-3, and until a tank has settled within 3e-3, typically.

    Blends: components leave as the phase at the opening holds them, light ends first with the vapor
    (`lpgrelease.tank.blend_venting`). Histories tell the composition of both phases and the mass of each
    component; `final` is a `BlendContents`. While anything leaves, a blend does not settle. Lines, valves,
    walls, fires, transfers, gases and other stops are for pure fluids.

    References
    ----------
    hairer1996stiff (integration, where temperature does not lead); leung1986omega (vapor at the throat).

    Examples
    --------
    >>> import lpgrelease as lr
    >>> tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=170.0)
    >>> contents = lr.Contents(tank, lr.Fluid("propane"), fill=0.8, temperature=293.15)
    >>> vent = lr.Opening(diameter=0.0508, discharge_coefficient=0.85, height=1.04)
    >>> run = lr.tank_history(contents, openings=[vent], weather=lr.Weather(air_temperature=293.15))
    >>> print(f"{run.stopped_by} after {run.time[-1] / 60:.1f} min, {run.liquid_mass[-1]:.0f} kg left")
    gauge pressure after 7.5 min, 1055 kg left
    """
    require_whole(points, 2, MOST_POINTS, "points")
    weather = Weather() if weather is None else weather
    limits = (stop_at_gauge_pressure, duration, stop)
    asked = gather(contents, openings, weather, limits, (wall, fire, transfers, air_enters))
    heat = heat_from_outside(asked.tank, asked.numbers)
    count = asked.tank.diameter.size
    blocks: list[dict[str, np.ndarray]] = []
    block = min(BLOCK, ZONES_BLOCK) if asked.additions else BLOCK
    block = max(1, min(block, POINTS_HELD // int(points)))
    for start in range(0, max(count, 1), block):
        end = min(start + block, count)
        part = asked, heat
        if count > block:
            part = _part(asked, heat, np.arange(start, end))
        blocks.append(_solve_block(contents.fluid, *part, points))
        if progress is not None:
            progress(end, count)
    joined = blocks[0]
    if len(blocks) > 1:
        joined = {name: np.concatenate([block[name] for block in blocks], axis=0) for name in joined}
    return _assemble(contents, asked, joined)


def _part(asked: Gathered, heat: HeatFromOutside, chosen: IntArray) -> tuple[Gathered, HeatFromOutside]:
    """Return the request and the heat of the scenarios `chosen` alone."""
    numbers = {name: values[..., chosen] for name, values in asked.numbers.items()}
    part = asked._replace(shape=(chosen.size,), tank=take_tank(asked.tank, chosen), numbers=numbers)
    return part, heat.take(chosen)


def _solve_block(fluid: Fluid, asked: Gathered, heat: HeatFromOutside, points: int) -> dict[str, np.ndarray]:
    """Histories of a block of scenarios, by the march that serves what was asked."""
    part, tank, additions = asked.numbers, asked.tank, asked.additions
    if fluid.is_blend:
        refuse_additions(fluid, asked.additions, asked.are_lines)
        found = blend_histories(fluid, tank, heat, part, points)
        below = tank.volume_at(part["opening_height"])
        swells = swelling_of_blend(fluid.blend.mixture.names, tank.volume, found)
        found["carries_liquid"] = carries_liquid(fluid.blend, tank, below, found, swells=swells)
        return found
    venting = prepare(
        fluid,
        tank,
        heat,
        part,
        asked.are_lines,
        levels=bool(additions) or isinstance(tank, TiltedTank),  # whose own functions take long
        surfaces=additions.need_surfaces,
    )
    if additions:
        zones, start = zones_of(venting, additions, part)
        found = describe_zones(zones, solve_zones(zones, start, points))
        reasons = reasons_of(additions.stops)
        found["stopped_by"] = np.array([reasons[int(code)] for code in found.pop("code")], dtype="U40")
    else:
        found = describe(venting, solve(venting, part["temperature"], points))
        found["stopped_by"] = np.array(REASONS)[found.pop("code")]
    found["carries_liquid"] = carries_liquid(
        fluid.table, venting.tank, venting.empties_at, found, venting.levels
    )
    return found


def _assemble(contents: Contents, asked: Gathered, found: dict[str, np.ndarray]) -> TankHistory:
    fluid, shape = contents.fluid, asked.shape
    latent = fluid.saturated(contents.temperature, "latent_heat")[0]
    mass_imbalance = found.pop("mass_error").max(axis=-1)
    energy_imbalance = found.pop("energy_error").max(axis=-1).reshape(shape) / latent
    _require_balance("mass", mass_imbalance)
    _require_balance("energy", energy_imbalance)
    volume = found.pop("volume")
    fill = np.minimum(np.maximum(found["liquid_volume"][:, -1] / volume, 0.0), 1.0)
    pad = _pad_pressure(contents, asked, found)
    final = _ended(contents, asked, fill, pad, found)
    stopped_by = found.pop("stopped_by").reshape(shape)
    for name in ("vapor_temperature", "wet_wall_temperature", "dry_wall_temperature"):
        found.setdefault(name, found["temperature"])
    found.setdefault("gas_mass", np.zeros(found["time"].shape))
    if not fluid.is_blend:
        whole = (found["liquid_mass"] + found["vapor_mass"])[:, None]
        alone = np.ones_like(whole)
        found |= {"liquid_fractions": alone, "vapor_fractions": alone, "component_mass": whole}
    found["stopped_by"] = stopped_by.reshape(-1)
    shaped = {name: values.reshape(shape + values.shape[1:])[()] for name, values in found.items()}
    return TankHistory(
        **shaped,
        mass_imbalance=mass_imbalance.reshape(shape)[()],
        energy_imbalance=energy_imbalance[()],
        final=final,
        cautions=_cautions(contents, asked, shaped),
        provenance=Provenance(
            f"{_standing(asked)}; vapor by the isentropic nozzle, liquid metastable",
            ("hairer1996stiff", "leung1986omega", "crowl2019safety"),
            fluid.credit,
        ),
    )


def _standing(asked: Gathered) -> str:
    """Say what of the tank's contents is taken to be at one temperature."""
    if not asked.additions.two_walls:
        return "equilibrium inventory"
    return "liquid, vapor above it, wetted and dry wall each of a temperature of its own"


def _ended(
    contents: Contents, asked: Gathered, fill: FloatArray, pad: FloatArray, found: dict[str, np.ndarray]
) -> Contents:
    """Contents at the end of the histories."""
    shape, tank = asked.shape, contents.tank
    filled, t = fill.reshape(shape)[()], found["temperature"][:, -1].reshape(shape)[()]
    provenance = Provenance("end of a tank history")
    if contents.fluid.is_blend:
        x = found["liquid_fractions"][:, :, -1]
        x = x.reshape(*shape, x.shape[1])
        return BlendContents(
            tank, contents.fluid, fill=filled, temperature=t, liquid_fractions=x, provenance=provenance
        )
    return Contents(
        tank,
        contents.fluid,
        fill=filled,
        temperature=t,
        pad_pressure=pad.reshape(shape)[()],
        pad_gas=contents.pad_gas if asked.additions.gas is None else asked.additions.gas.name,
        provenance=provenance,
    )


def _cautions(contents: Contents, asked: Gathered, found: dict[str, np.ndarray]) -> tuple[str, ...]:
    """Name what the histories themselves call for."""
    fluid, additions = contents.fluid, asked.additions
    cautions = list(fluid.cautions)
    if additions.fire is not None:
        cautions += FIRE_CAUTIONS
    if np.any(found["carries_liquid"]):
        cautions.append(CARRIES)
    below = np.asarray(found["pressure"]) < 0.99 * asked.numbers["air_pressure"].reshape(*asked.shape, 1)
    if np.any(below) and found["mass_flow"].shape[-2] and not additions.air_enters:
        cautions.append(SUCKS)
    has_air = additions.gas is not None and additions.gas.name == "air" and np.any(found["gas_mass"] > 0.0)
    if fluid.flammable and has_air:
        cautions.append(BURNS_INSIDE)
    settles = (found["stopped_by"] == "settled") & (found["mass_flow"][..., -1] > 0.0).any(axis=-1)
    if np.any(settles) and not additions.two_walls:
        cautions.append(SETTLES)
    if additions.two_walls:
        cautions.append(COLDER)
    if np.any(found["stopped_by"] == "liquid full"):
        cautions.append(FULL)
    return tuple(cautions)


def _pad_pressure(contents: Contents, asked: Gathered, found: dict[str, np.ndarray]) -> FloatArray:
    """Partial pressure of the gas at the end [Pa], (n,)."""
    pressure, t = found["pressure"][:, -1], found["temperature"][:, -1]
    if asked.additions.gas is None:
        return np.zeros(pressure.shape)
    alone = contents.fluid.saturated(t, "pressure")[0]
    return np.where(found["gas_mass"][:, -1] > 0.0, np.maximum(pressure - alone, 0.0), 0.0)


def _require_balance(what: str, imbalance: FloatArray) -> None:
    worst = float(np.max(imbalance, initial=0.0))
    if not worst < LARGEST_IMBALANCE:
        raise ConvergenceError(f"the {what} of a tank history does not close", worst)
