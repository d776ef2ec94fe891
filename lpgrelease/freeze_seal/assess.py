"""Assessment of a freeze seal: can this leak be sealed with ice.

Each part of the answer is a :class:`Condition` with its value, its limit and where the limit comes
from, so that it can be argued with.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from lpgrelease.constants import ICE_LATENT_HEAT, WATER_DENSITY
from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.freeze_seal import ice
from lpgrelease.freeze_seal.cargo import judge_cargo
from lpgrelease.freeze_seal.cloth import SealCase, WetCloth, gather
from lpgrelease.freeze_seal.cold import Cold, cold_at, head_pressure, needed_drip_rate
from lpgrelease.freeze_seal.conditions import (
    PORE_SPREAD,
    Condition,
    conditions,
    jet_thrust,
    laying_pressure,
    thrust_pressure,
)
from lpgrelease.freeze_seal.inputs import in_si
from lpgrelease.freeze_seal.metal import MetalWall
from lpgrelease.freeze_seal.plug import HALVINGS, Plug, air_holding_time, holding_pressure
from lpgrelease.freeze_seal.salt import saline_reduction
from lpgrelease.freeze_seal.strength import scatter_reduction
from lpgrelease.freeze_seal.threshold import fluid_threshold
from lpgrelease.halving import halved
from lpgrelease.pool.cautions import cloud_of
from lpgrelease.quantities import FloatArray, QuantityLike
from lpgrelease.release.opening import Opening
from lpgrelease.results import BoolArray, Provenance, Result, StringArray, plain, quantity, result
from lpgrelease.weather import Weather

__all__ = ["FreezeSeal", "assess_freeze_seal"]

CAUTIONS: Final = (
    "An estimate, not an instruction: local codes, the authority in charge and licensed practice decide.",
    "No published test of a wet-cloth ice plug on a leaking tank was found; every limit is derived from "
    "properties of ice and water measured elsewhere. Treat the plug as able to fail at any moment.",
    "A seal stops the leak that cools the tank: pressure climbs again within minutes. Without venting "
    "or flaring the boil-off the plug is a stop-gap. Watch the gauge.",
    "Water poured on a liquid leak or pool boils it harder. Keep water to the cloth.",
)
_VAPOR: Final = (
    "A vapor leak chills the cloth only by its own cold and over a wall that may be warm: the freezing "
    "time is a low estimate, and the plug can melt from the wall side."
)
_OPEN: Final = (
    "Cold by evaporation into the air counts here: it needs a cloth open to the air that the cargo soaks, "
    "and a cloud of its vapor comes with it."
)
_AT_THE_LEAK: Final = (
    "Frozen flesh, {} and a cold-brittle wall are at the leak itself: approach from uphill and upwind with a "
    "monitor, in protective clothing, and only if it must be done."
)


@result
class FreezeSeal(Result):
    """Whether a wet cloth freezes into a seal, and what it then holds.

    Pressures named ``gauge`` are those of the tank's vapor space.
    """

    feasible: BoolArray = quantity("", "every condition is met")
    marginal: BoolArray = quantity("", "not so, but within the spread of strengths and pores")
    verdict: StringArray = plain('"feasible", "marginal" or "not feasible"')
    highest_gauge_pressure: FloatArray = quantity(
        "Pa", "highest tank gauge pressure at which the cloth can be laid and freezes; 0: at none"
    )
    highest_favorable_gauge_pressure: FloatArray = quantity(
        "Pa", "the same by the favorable end of every published or assumed range"
    )
    highest_holding_gauge_pressure: FloatArray = quantity(
        "Pa", "highest tank gauge pressure the frozen plug is credited with; 0: it never freezes"
    )
    lowest_push_out_pressure: FloatArray = quantity(
        "Pa", "at which the frozen plug gives way, low ends of published strengths, lowered for scatter"
    )
    highest_push_out_pressure: FloatArray = quantity(
        "Pa", "at which the frozen plug gives way, high ends of published strengths"
    )
    freeze_time: FloatArray = quantity("s", "to freeze through, were the water to stay; inf: never")
    holding_time: FloatArray = quantity(
        "s", "until the air has melted too much, once cooling stops; 0: no plug, inf: the air freezes"
    )
    fluid_threshold_pressure: FloatArray = quantity(
        "Pa", "absolute saturation pressure at the freezing point of the water; inf: liquid is colder at any"
    )
    vapor_threshold_pressure: FloatArray = quantity(
        "Pa", "highest absolute saturation pressure of a tank whose vapor arrives below freezing; inf: any"
    )
    freezing_point: FloatArray = quantity("K", "of the cloth's water")
    leak_temperature: FloatArray = quantity("K", "of the leak as it meets the cloth")
    spread_temperature: FloatArray = quantity("K", "of its liquid where it evaporates into the open air")
    leak_vapor_fraction: FloatArray = quantity("", "vapor mass fraction of the leak as it meets the cloth")
    leak_mass_flow: FloatArray = quantity("kg/s", "of the leak before the cloth is laid")
    needed_drip_rate: FloatArray = quantity(
        "kg/s", "of the cargo's boiling liquid that would freeze the cloth in the time available; inf: none"
    )
    largest_ice_thickness: FloatArray = quantity(
        "m", "where growth stops against the air's heat; inf: nowhere"
    )
    cooling_power: FloatArray = quantity(
        "W", "cold the leak brings; inf: the tank's boiling liquid, by contact"
    )
    heat_gain: FloatArray = quantity("W", "heat the air brings to the iced cloth")
    metal_heat_gain: FloatArray = quantity("W", "heat a warm wall brings under the cloth")
    jet_thrust: FloatArray = quantity("N", "force of the jet on the cloth while it is laid")
    push_out_force: FloatArray = quantity("N", "pressure on the unbonded patch")
    resisting_force: FloatArray = quantity("N", "bond of the rim, low end, lowered for scatter")
    fluid: Fluid = plain("the cargo")
    refusal: str = plain("why no seal is credited on this cargo at all; empty where there is no such reason")
    plug: Plug = plain("the frozen cloth as a load-bearing body")
    conditions: tuple[Condition, ...] = plain("what must be so, one by one")
    cautions: tuple[str, ...] = plain("read before acting")

    @property
    def advice(self) -> tuple[str, ...]:
        """What to change, one sentence for each condition that is not met."""
        return tuple(item.advice for item in self.conditions if item.advice)

    def condition(self, name: str) -> Condition:
        """Return the condition of this name."""
        for item in self.conditions:
            if item.name == name:
                return item
        names = ", ".join(item.name for item in self.conditions)
        raise InputError(f"no condition is named {name!r}; there are: {names}")

    def _rows(self) -> list[tuple[str, str, str]]:
        hidden = {"conditions", "plug"} | ({"refusal"} if not self.refusal else set())
        rows = [row for row in Result._rows(self) if row[0] not in hidden]
        for item in self.conditions:
            value, limit, met = np.atleast_1d(item.value), np.atleast_1d(item.limit), np.atleast_1d(item.met)
            if not met.size:
                rows.append((item.name, "no scenario", item.unit))
                continue
            count = f" in {np.count_nonzero(met)} of {met.size}" if met.size > 1 else ""
            verdict = ("met" if met.all() else "NOT met" if not met.any() else "met") + count
            rows.append(
                (item.name, f"{value.flat[0]:.4g} {item.sense} {limit.flat[0]:.4g}: {verdict}", item.unit)
            )
        return rows

    def _texts(self) -> list[str]:
        return [*(f"> {text}" for text in self.advice), *Result._texts(self)]


def assess_freeze_seal(
    fluid: Fluid,
    hole: Opening,
    *,
    gauge_pressure: QuantityLike = 0.0,
    phase: str = "liquid",
    cloth: WetCloth | None = None,
    tank_temperature: QuantityLike | None = None,
    head: QuantityLike = 0.0,
    ambient_pressure: QuantityLike | None = None,
    weather: Weather | None = None,
    outside_heat_transfer: QuantityLike = 15.0,
    captured_cold: QuantityLike = 0.5,
    time_available: QuantityLike = 7200.0,
    failure_probability: QuantityLike = 1e-3,
    vapor_fraction: QuantityLike = 0.0,
    wall: MetalWall | None = None,
    open_to_air: bool = False,
) -> FreezeSeal:
    """Assess whether a wet cloth laid on a leak freezes into a plug that holds.

    Parameters
    ----------
    fluid : Fluid
        The cargo.
    hole : Opening
        The leak, taken as round.
    gauge_pressure : number, array or quantity
        Of the tank's vapor space [Pa], 0 or more.
    phase : {"liquid", "two-phase", "vapor"}
        What leaks: "two-phase" is a mixture that boils on its way, through a crack, a pipe or a long hole.
    cloth : WetCloth, optional
        Default ``WetCloth()``.
    tank_temperature : number, array or quantity, optional
        Of what is behind the hole [K]; default: saturation at the tank's pressure.
    head : number, array or quantity
        Height of liquid above the hole [m]; counts for a liquid leak only.
    ambient_pressure : number, array or quantity, optional
        Absolute [Pa]; default: that of `weather`.
    weather : Weather, optional
        Its air temperature and pressure are used; default ``Weather()``.
    outside_heat_transfer : number, array or quantity
        Air to cloth, radiation included [W/m2/K]; the default is light wind, an assumption.
    captured_cold : number or array
        Part of the leak's cold that reaches the cloth where the leak alone brings it, 0 to 1 (an
        assumption: nothing was found published).
    time_available : number, array or quantity
        Longest freezing time worth waiting for [s]; the default is a choice, without a source.
    failure_probability : number or array
        Of ice no better than the low end of its published range, 0 to 1 excluded.
    vapor_fraction : number or array
        Mass fraction of vapor behind the hole, 0 to 1, of a two-phase leak only; 0: saturated liquid.
    wall : MetalWall, optional
        The metal around the hole, default ``MetalWall()``: it brings heat where it is above freezing.
    open_to_air : bool
        Whether cargo that spreads in the cloth evaporates into the open air, below its boiling point; then
        that counts where it freezes the cloth sooner. Not by default: its vapor keeps the air out.

    Returns
    -------
    FreezeSeal
        Arrays of the broadcast shape of all arguments, of the hole and of the cloth.

    Raises
    ------
    InputError
        Wrong kind, dimension or shape, or an unknown phase.
    OutOfRangeError
        A number outside its range, or a state outside the fluid's tables.

    Notes
    -----
    *Cold.* A liquid leak takes its boiling temperature at ambient pressure (or the tank's, if lower);
    vapor and mixtures expand at constant enthalpy with the real gas, so a warm tank's vapor arrives warm.
    Cold comes by contact, without limit, where liquid colder than freezing stands behind the hole;
    else the leak's enthalpy up to the freezing point is all there is. Without flow a vapor or two-phase
    leak brings none: for them, and where `open_to_air` counts, there is a lowest useful pressure, and
    more pressure can help, until another condition fails. `needed_drip_rate` says what would be enough.

    *Laying.* Water stays in the cloth up to 4 sigma/d: 2.9 kPa for pores of 0.1 mm, against the full
    stagnation pressure of the jet; the jet's momentum must not lift the cloth. *Holding.* The
    pressure acts on hole and unbonded width together; bending, peeling (blister) and the force on the
    rim are judged by the low ends of published ranges, lowered by Weibull's scatter. With the default
    cloth on a 25 mm hole they allow some 30 kPa, and 8 kPa when half of the ice has melted: the
    practical rule "lay at or below 3 kPa, trust to 10, claim nothing above 30" follows from these
    numbers and is not built in. "Marginal": not by the low ends, but by the high ends and finer pores.

    *Time.* The longer of Stefan's time (planar, convection outside) and that of the cold brought.
    ``holding_time``: the air melts the outer face until the plug is too thin for the pressure; none
    where the tank itself is above freezing, because the bond melts first. The tank's own history, with
    its rise of pressure, is in `lpgrelease.freeze_seal.hold_freeze_seal`.

    Range: planar growth needs a cloth thin against its width; salt up to 0.04; ice at rest, no creep.

    References
    ----------
    petrovic2003ice, raraty1958adhesion, andrews1983ice, makkonen2012adhesion, iapws2014surface,
    stefan1891ice, unesco1983algorithms, timco1994flexural, incropera2011fundamentals, bird2007transport.

    Examples
    --------
    >>> from lpgrelease.fluids import Fluid
    >>> from lpgrelease.release import Opening
    >>> seal = assess_freeze_seal(Fluid("propane"), Opening(diameter=0.006))
    >>> bool(seal.feasible), round(float(seal.highest_gauge_pressure), -2)
    (True, 2900.0)
    """
    asked: dict[str, Any] = {
        "fluid": fluid,
        "hole": hole,
        "cloth": cloth,
        "wall": wall,
        "weather": weather,
        "open_to_air": open_to_air,
        "gauge_pressure": gauge_pressure,
        "tank_temperature": tank_temperature,
        "head": head,
        "ambient_pressure": ambient_pressure,
        "outside_heat_transfer": outside_heat_transfer,
        "captured_cold": captured_cold,
        "time_available": time_available,
        "failure_probability": failure_probability,
        "vapor_fraction": vapor_fraction,
    }
    numbers = in_si(asked)
    weather = Weather() if weather is None else weather
    numbers.setdefault("ambient_pressure", weather.ambient_pressure)
    case = gather(
        fluid,
        hole,
        WetCloth() if cloth is None else cloth,
        MetalWall() if wall is None else wall,
        phase=phase,
        open_to_air=open_to_air,
        tank_temperature=numbers.pop("tank_temperature", None),
        air_temperature=weather.air_temperature,
        **numbers,
    )
    return _assess(case)


def _assess(case: SealCase) -> FreezeSeal:
    """Put the parts together."""
    cold = cold_at(case, case.gauge_pressure)
    plug = _plug(case, cold)
    pressure = case.gauge_pressure + plug.head_pressure
    found = conditions(case, cold, plug)
    feasible = np.logical_and.reduce([item.met for item in found])
    marginal = np.logical_and.reduce([item.met | item.marginal for item in found]) & ~feasible
    cargo = judge_cargo(case.fluid)
    at_leak = _AT_THE_LEAK.format(cloud_of(case.fluid))
    extra = (
        at_leak,
        cargo.reason,
        _VAPOR if case.phase == "vapor" else "",
        _OPEN if case.open_to_air else "",
    )
    fields = {
        "feasible": feasible,
        "marginal": marginal,
        "verdict": np.where(feasible, "feasible", np.where(marginal, "marginal", "not feasible")),
        "highest_gauge_pressure": _highest_gauge_pressure(case, plug, feasible),
        "highest_favorable_gauge_pressure": _highest_gauge_pressure(
            case, plug, feasible | marginal, favorable=True
        ),
        **_held(case, cold, plug, pressure),
        "freeze_time": cold.freeze_time,
        "fluid_threshold_pressure": fluid_threshold(case.fluid, case.freezing_temperature),
        "vapor_threshold_pressure": case.vapor_threshold,
        "freezing_point": case.freezing_temperature,
        "leak_temperature": cold.leak_temperature,
        "spread_temperature": cold.spread_temperature,
        "leak_vapor_fraction": cold.vapor_fraction,
        "leak_mass_flow": cold.mass_flow,
        "needed_drip_rate": needed_drip_rate(case, cold),
        "largest_ice_thickness": cold.largest_thickness,
        "cooling_power": cold.power,
        "heat_gain": cold.air_heat,
        "metal_heat_gain": cold.metal_heat,
        "jet_thrust": jet_thrust(case, pressure),
        "push_out_force": pressure * plug.patch_area,
        "resisting_force": next(item.limit for item in found if item.name.startswith("rim")),
    }
    return FreezeSeal(
        **{name: np.array(np.broadcast_to(value, feasible.shape))[()] for name, value in fields.items()},
        fluid=case.fluid,
        refusal=cargo.reason,
        plug=plug,
        conditions=found,
        cautions=(*case.fluid.cautions, *CAUTIONS, *(text for text in extra if text)),
        provenance=Provenance(
            model="wet-cloth ice plug: planar freezing with convection, plate and bond limits of ice",
            sources=("stefan1891ice", "petrovic2003ice", "makkonen2012adhesion", "iapws2014surface"),
            properties=case.fluid.credit,
        ),
    )


def _held(case: SealCase, cold: Cold, plug: Plug, pressure: FloatArray) -> dict[str, FloatArray]:
    """Return what the frozen plug carries and how long it stands; nothing where it never freezes."""
    frozen = np.isfinite(cold.freeze_time)
    lowest = np.where(frozen, holding_pressure(plug, plug.thickness), 0.0)
    stands = frozen & (cold.tank_temperature < case.freezing_temperature)
    return {
        "highest_holding_gauge_pressure": np.maximum(lowest - plug.head_pressure, 0.0),
        "lowest_push_out_pressure": lowest,
        "highest_push_out_pressure": np.where(
            frozen, holding_pressure(plug, plug.thickness, favorable=True), 0.0
        ),
        "holding_time": np.where(stands, air_holding_time(plug, pressure, case.air_temperature), 0.0),
    }


def _plug(case: SealCase, cold: Cold) -> Plug:
    """Return the cloth as it is when frozen through; its ice half-way between freezing and its cold face."""
    middle = 0.5 * (np.minimum(cold.face_temperature, case.freezing_temperature) + case.freezing_temperature)
    fields = {
        "thickness": case.thickness,
        "patch_radius": case.radius + case.unbonded_width,
        "outer_radius": case.radius + case.overlap,
        "head_pressure": head_pressure(case, cold),
        "latent_heat": case.porosity * WATER_DENSITY * ICE_LATENT_HEAT,
        "conductivity": ice.frozen_cloth_conductivity(case.porosity),
        "freezing_temperature": case.freezing_temperature,
        "outside_heat_transfer": case.outside_heat_transfer,
        "scatter_reduction": scatter_reduction(case.failure_probability),
        "salt_reduction": saline_reduction(case.salinity, middle),
    }
    shape = cold.freeze_time.shape
    return Plug(
        **{name: np.array(np.broadcast_to(value, shape)) for name, value in fields.items()},
        provenance=Provenance(
            "frozen cloth", ("petrovic2003ice", "makkonen2012adhesion", "timco1994flexural")
        ),
    )


def _highest_gauge_pressure(
    case: SealCase, plug: Plug, possible: BoolArray, *, favorable: bool = False
) -> FloatArray:
    """Highest tank gauge pressure at which every condition holds [Pa]; 0 where none was found.

    What carries the load gives a ceiling in closed form. Where the cloth would not freeze at that
    ceiling but does at the pressure given, the edge between is found by halving.
    """
    laying = laying_pressure(case) * (PORE_SPREAD if favorable else 1.0)
    holds = holding_pressure(plug, plug.thickness, favorable=favorable)
    ceiling = np.minimum(np.minimum(laying, thrust_pressure(case)), holds) - plug.head_pressure
    bears = ceiling >= 0.0
    ceiling = np.maximum(ceiling, 0.0)
    low, high = case.gauge_pressure, ceiling
    at_ceiling = _freezes(case, ceiling)
    if not np.all(at_ceiling | ~possible):
        low, _ = halved(lambda pressure: _freezes(case, pressure), low, high, HALVINGS)
    found = np.where(at_ceiling, ceiling, np.where(possible, low, 0.0))
    return np.where(bears, found, 0.0)


def _freezes(case: SealCase, gauge_pressure: FloatArray) -> BoolArray:
    """Whether the cloth freezes through in the time available."""
    met: BoolArray = cold_at(case, gauge_pressure).freeze_time <= case.time_available
    return met
