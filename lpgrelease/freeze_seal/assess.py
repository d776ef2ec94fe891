"""Assessment of a freeze seal: can this leak be sealed with ice.

Each part of the answer is a :class:`Condition` with its value, its limit and where the limit comes
from, so that it can be argued with.
"""

from __future__ import annotations

from html import escape
from typing import Any, Final

import numpy as np

from lpgrelease.constants import FREEZING_POINT_OF_WATER
from lpgrelease.fluids import Fluid
from lpgrelease.freeze_seal.cloth import SealCase, WetCloth, gather
from lpgrelease.freeze_seal.cold import (
    LARGEST_DISSOLVED,
    Cold,
    cold_at,
    dissolved_fraction,
    head_pressure,
)
from lpgrelease.freeze_seal.hold import (
    HALVINGS,
    holding_pressure,
    holding_time,
    laying_pressure,
    patch_area,
    plate_pressures,
    resisting_force,
)
from lpgrelease.quantities import FloatArray, QuantityLike, to_si
from lpgrelease.release.opening import Opening
from lpgrelease.results import BoolArray, Provenance, Result, plain, quantity, result
from lpgrelease.weather import Weather

__all__ = ["Condition", "FreezeSeal", "assess_freeze_seal"]

CAUTIONS: Final = (
    "An estimate, not an instruction: local codes, the authority in charge and licensed practice decide.",
    "No published test of a wet-cloth ice plug on a leaking tank was found; every limit is derived from "
    "properties of ice and water measured elsewhere. Treat the plug as able to fail at any moment.",
    "A seal stops the leak that cools the tank: pressure climbs again within minutes. Without venting "
    "or flaring the boil-off the plug is a stop-gap. Watch the gauge.",
    "Frozen flesh, an oxygen-poor or flammable cloud and a cold-brittle wall are at the leak itself: "
    "approach from uphill and upwind with a monitor, in protective clothing, and only if it must be done.",
    "Water poured on a liquid leak or pool boils it harder. Keep water to the cloth.",
)
_ABSORBS: Final = (
    "Water absorbs this cargo with heat and does not freeze on it (with ammonia there is no ice above "
    "about 30 % of ammonia by mass): no freeze seal, however cold the leak."
)
_VAPOR: Final = (
    "A vapor leak chills the cloth only by its own cold and over a wall that may be warm: the freezing "
    "time is a low estimate, and the plug can melt from the wall side."
)


@result
class Condition(Result):
    """One thing that must be so for the seal to work.

    ``value``, ``limit``, ``met`` and ``margin`` have the shape of the assessment; ``margin`` is the
    distance from the limit in ``unit``, negative where the condition is not met.
    """

    name: str = plain("what is asked")
    value: FloatArray = plain("what it is here")
    sense: str = plain('"at most" or "at least"')
    limit: FloatArray = plain("what it must not pass")
    unit: str = plain("SI unit of value, limit and margin")
    met: BoolArray = plain("whether it is so")
    margin: FloatArray = plain("distance from the limit, negative where not met")
    source: str = plain("where value and limit come from")


@result
class FreezeSeal(Result):
    """Whether a wet cloth freezes into a seal, and what it then holds.

    Pressures named ``gauge`` are those of the tank's vapor space.
    """

    feasible: BoolArray = quantity("", "every condition is met")
    highest_gauge_pressure: FloatArray = quantity(
        "Pa", "highest tank gauge pressure at which the cloth can be laid and freezes; 0: at none"
    )
    highest_holding_gauge_pressure: FloatArray = quantity(
        "Pa", "highest tank gauge pressure the frozen plug is credited with; 0: it never freezes"
    )
    freeze_time: FloatArray = quantity("s", "to freeze through, were the water to stay; inf: never")
    holding_time: FloatArray = quantity(
        "s", "until the air has melted too much, once cooling stops; 0: no plug"
    )
    fluid_threshold_pressure: FloatArray = quantity(
        "Pa", "absolute saturation pressure at the freezing point of water"
    )
    leak_temperature: FloatArray = quantity("K", "of the leak as it meets the cloth")
    largest_ice_thickness: FloatArray = quantity("m", "where growth stops against the air's heat")
    cooling_power: FloatArray = quantity(
        "W", "cold the leak brings; inf: the tank's boiling liquid, by contact"
    )
    heat_gain: FloatArray = quantity("W", "heat the air brings to the iced cloth")
    push_out_force: FloatArray = quantity("N", "pressure on the unbonded patch")
    resisting_force: FloatArray = quantity("N", "bond of the rim, low end, lowered for scatter")
    conditions: tuple[Condition, ...] = plain("what must be so, one by one")
    cautions: tuple[str, ...] = plain("read before acting")

    def _rows(self) -> list[tuple[str, str, str]]:
        rows = [row for row in Result._rows(self) if row[0] not in {"conditions", "cautions"}]
        for item in self.conditions:
            value, limit, met = np.atleast_1d(item.value), np.atleast_1d(item.limit), np.atleast_1d(item.met)
            count = f" in {np.count_nonzero(met)} of {met.size}" if met.size > 1 else ""
            verdict = ("met" if met.all() else "NOT met" if not met.any() else "met") + count
            rows.append(
                (item.name, f"{value.flat[0]:.4g} {item.sense} {limit.flat[0]:.4g}: {verdict}", item.unit)
            )
        return rows

    def __repr__(self) -> str:
        return "\n".join([Result.__repr__(self), *(f"  ! {text}" for text in self.cautions)])

    def _repr_html_(self) -> str:
        items = "".join(f"<li>{escape(text)}</li>" for text in self.cautions)
        return f"{Result._repr_html_(self)}<ul>{items}</ul>"


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
    phase : {"liquid", "vapor"}
        What the tank holds behind the hole.
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
    a vapor leak expands at constant enthalpy with the real gas, so a warm tank's vapor arrives warm.
    Cold comes by contact, without limit, where liquid colder than freezing stands behind the hole;
    else the leak's enthalpy up to the freezing point is all there is. Without flow a vapor leak
    brings none: for vapor there is a lowest useful pressure, and more pressure can help, until
    another condition fails.

    *Laying.* Water stays in the cloth up to 4 sigma/d: 2.9 kPa for pores of 0.1 mm. *Holding.* The
    pressure acts on hole and unbonded width together; bending, peeling (blister) and the force on the
    rim are judged by the low ends of published ranges, lowered by Weibull's scatter. With the default
    cloth on a 25 mm hole they allow some 30 kPa, and 8 kPa when half of the ice has melted: the
    practical rule "lay at or below 3 kPa, trust to 10, claim nothing above 30" follows from these
    numbers and is not built in.

    *Time.* The longer of Stefan's time (planar, convection outside) and that of the cold brought.
    ``holding_time``: the air melts the outer face until the plug is too thin for the pressure; none
    where the tank itself is above freezing, because the bond melts first. The rise of pressure in the
    closed tank is not part of it.

    Range: planar growth needs a cloth thin against its width; water without salt; ice at rest, no creep.

    References
    ----------
    petrovic2003ice, raraty1958adhesion, andrews1983ice, makkonen2012adhesion, iapws2014surface,
    stefan1891ice.

    Examples
    --------
    >>> from lpgrelease.fluids import Fluid
    >>> from lpgrelease.release import Opening
    >>> seal = assess_freeze_seal(Fluid("propane"), Opening(diameter=0.006))
    >>> bool(seal.feasible), round(float(seal.highest_gauge_pressure), -2)
    (True, 2900.0)
    """
    weather = weather or Weather()
    ambient = weather.ambient_pressure if ambient_pressure is None else ambient_pressure
    tank = None if tank_temperature is None else to_si(tank_temperature, "K", "tank_temperature", lower=0.0)
    case = gather(
        fluid,
        hole,
        cloth or WetCloth(),
        phase=phase,
        tank_temperature=tank,
        ambient_pressure=to_si(ambient, "Pa", "ambient_pressure", lower=0.0, open_lower=True),
        air_temperature=weather.air_temperature,
        gauge_pressure=to_si(gauge_pressure, "Pa", "gauge_pressure", lower=0.0, why="a leak runs outward"),
        head=to_si(head, "m", "head", lower=0.0),
        outside_heat_transfer=to_si(
            outside_heat_transfer, "W/m**2/K", "outside_heat_transfer", lower=0.0, open_lower=True
        ),
        captured_cold=to_si(captured_cold, "", "captured_cold", lower=0.0, upper=1.0),
        time_available=to_si(time_available, "s", "time_available", lower=0.0),
        failure_probability=to_si(
            failure_probability, "", "failure_probability", lower=1e-12, upper=0.5, why="a small probability"
        ),
    )
    return _assess(case)


def _assess(case: SealCase) -> FreezeSeal:
    """Put the parts together."""
    cold = cold_at(case, case.gauge_pressure)
    head = head_pressure(case, cold)
    pressure = case.gauge_pressure + head
    conditions = _conditions(case, cold, pressure)
    feasible = np.logical_and.reduce([item.met for item in conditions])
    freezes = np.isfinite(cold.freeze_time)
    holding = np.where(freezes, np.maximum(holding_pressure(case, case.thickness) - head, 0.0), 0.0)
    threshold = case.fluid.saturation(temperature=float(FREEZING_POINT_OF_WATER))
    extra = (_ABSORBS,) if dissolved_fraction(case.fluid) > LARGEST_DISSOLVED else ()
    return FreezeSeal(
        feasible=feasible[()],
        conditions=conditions,
        highest_gauge_pressure=_highest_gauge_pressure(case, feasible, head)[()],
        highest_holding_gauge_pressure=holding[()],
        freeze_time=cold.freeze_time[()],
        holding_time=holding_time(case, cold, pressure)[()],
        fluid_threshold_pressure=np.full(feasible.shape, threshold.pressure)[()],
        leak_temperature=cold.leak_temperature[()],
        largest_ice_thickness=cold.largest_thickness[()],
        cooling_power=cold.power[()],
        heat_gain=cold.heat_gain[()],
        push_out_force=(pressure * patch_area(case))[()],
        resisting_force=resisting_force(case)[()],
        cautions=(*CAUTIONS, *extra, *((_VAPOR,) if case.phase == "vapor" else ())),
        provenance=Provenance(
            model="wet-cloth ice plug: planar freezing with convection, plate and bond limits of ice",
            sources=("stefan1891ice", "petrovic2003ice", "makkonen2012adhesion", "iapws2014surface"),
            properties=threshold.provenance.properties,
        ),
    )


def _highest_gauge_pressure(case: SealCase, feasible: BoolArray, head: FloatArray) -> FloatArray:
    """Highest tank gauge pressure at which every condition holds [Pa]; 0 where none was found.

    What carries the load gives a ceiling in closed form. Where the cloth would not freeze at that
    ceiling but does at the pressure given, the edge between is found by halving.
    """
    ceiling = np.minimum(laying_pressure(case), holding_pressure(case, case.thickness)) - head
    possible = ceiling >= 0.0
    ceiling = np.maximum(ceiling, 0.0)
    low, high = case.gauge_pressure, ceiling
    at_ceiling = _freezes(case, ceiling)
    if not np.all(at_ceiling | ~feasible):
        for _ in range(HALVINGS):
            middle = 0.5 * (low + high)
            freezes = _freezes(case, middle)
            low, high = np.where(freezes, middle, low), np.where(freezes, high, middle)
    found = np.where(at_ceiling, ceiling, np.where(feasible, low, 0.0))
    return np.where(possible, found, 0.0)


def _freezes(case: SealCase, gauge_pressure: FloatArray) -> BoolArray:
    """Whether the cloth freezes through in the time available."""
    met: BoolArray = cold_at(case, gauge_pressure).freeze_time <= case.time_available
    return met


def _conditions(case: SealCase, cold: Cold, pressure: FloatArray) -> tuple[Condition, ...]:
    """Every condition with its value and limit."""
    bending, peeling = plate_pressures(case, case.thickness)
    conductivity = "lpgrelease.freeze_seal.ice.ICE_CONDUCTIVITY, insulating fibers"
    dissolved = np.full(pressure.shape, dissolved_fraction(case.fluid))
    rows: list[tuple[str, Any, str, Any, str, str]] = [
        ("water takes up little cargo", dissolved, "at most", LARGEST_DISSOLVED, "",
         "solubility class of the cargo, mass fraction from memory; 1 K of cryoscopic depression"),
        ("leak arrives below freezing", cold.leak_temperature, "at most", float(FREEZING_POINT_OF_WATER), "K",
         "flash to ambient pressure (liquid) or expansion at constant enthalpy (vapor)"),
        ("ice can grow through the cloth", cold.largest_thickness, "at least", case.thickness, "m",
         f"k (-T_s)/(h T_a); {conductivity}"),
        ("cold brought exceeds the air's heat", cold.power, "at least", cold.heat_gain, "W",
         "enthalpy of the leak up to freezing, or contact with freezing-cold liquid"),
        ("cloth freezes in the time available", cold.freeze_time, "at most", case.time_available, "s",
         "stefan1891ice with convection outside, and the cold brought; limit chosen by the caller"),
        ("wet cloth keeps its water", pressure, "at most", laying_pressure(case), "Pa",
         "4 sigma/d, iapws2014surface; pore diameter is an assumption"),
        ("plug does not crack in bending", pressure, "at most", bending, "Pa",
         "timoshenko1959plates; low end of petrovic2003ice, lowered for scatter"),
        ("plug does not peel from the wall", pressure, "at most", peeling, "Pa",
         "andrews1978blister; low end of petrovic2003ice, lowered for scatter"),
        ("rim withstands the push-out force", pressure * patch_area(case), "at most", resisting_force(case),
         "N", "low end of makkonen2012adhesion, lowered for scatter"),
    ]  # fmt: skip
    return tuple(_condition(*row) for row in rows)


def _condition(name: str, value: Any, sense: str, limit: Any, unit: str, source: str) -> Condition:
    """Judge one condition."""
    value, limit = np.broadcast_arrays(np.asarray(value), np.asarray(limit))
    margin = limit - value if sense == "at most" else value - limit
    return Condition(
        name=name, value=value[()], sense=sense, limit=limit[()], unit=unit,
        met=(margin >= 0.0)[()], margin=margin[()], source=source,
        provenance=Provenance("freeze seal"),
    )  # fmt: skip
