"""What must be so for a freeze seal to work: each with value, limit, margin, source and what to change."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any, Final

import numpy as np

from lpgrelease.freeze_seal import ice
from lpgrelease.freeze_seal.cargo import LARGEST_DISSOLVED, judge_cargo
from lpgrelease.freeze_seal.cloth import SealCase
from lpgrelease.freeze_seal.cold import Cold, needed_drip_rate
from lpgrelease.freeze_seal.plug import Plug, limits
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray, Provenance, Result, plain, quantity, result

__all__ = ["Condition", "conditions", "jet_thrust", "laying_pressure", "thrust_pressure"]

PORE_SPREAD: Final = 2.0
"""Pores half as wide hold twice the pressure: the spread of the laying limit, assumed (50 to 300
micrometers are plausible for towels; no measured value was found)."""

_AMOUNTS: Final[dict[str, tuple[float, str]]] = {
    "Pa": (1e-3, "kPa"), "s": (1.0 / 60.0, "min"), "m": (1e3, "mm"), "kg/s": (1e3, "g/s"),
    "K": (1.0, "K"), "N": (1.0, "N"),
}  # fmt: skip


@result
class Condition(Result):
    """One thing that must be so for the seal to work.

    The arrays have the shape of the assessment; ``margin`` is the distance from the limit in ``unit``,
    negative where the condition is not met. ``advice`` says what to change, and by how much.
    """

    name: str = plain("what is asked")
    value: FloatArray = plain("what it is here; inf: without end")
    sense: str = plain('"at most" or "at least"')
    limit: FloatArray = plain(
        "what it must not pass, by the low end of published ranges; inf: nothing limits it"
    )
    favorable_limit: FloatArray = plain("the same by the high end; equal where there is no range")
    unit: str = plain("SI unit of value, limits and margin")
    met: BoolArray = plain("whether it is so")
    marginal: BoolArray = plain("whether it is so by the favorable limit alone")
    margin: FloatArray = plain("distance from the limit, negative where not met; inf where either is")
    source: str = plain("where value and limit come from")
    remedy: str = plain("what to change where it is not met, with a place for the amount")
    hopeless: str = plain("what to say where no such change helps")
    change: FloatArray = quantity("", "amount of the change, in change_unit; 0 where met, inf: none helps")
    change_unit: str = plain("SI unit of change")

    @property
    def advice(self) -> str:
        """What to change and by how much; empty where met everywhere. Of several scenarios the range."""
        change = np.atleast_1d(self.change)
        unmet = ~np.atleast_1d(self.met)
        if not unmet.any():
            return ""
        count = f", in {np.count_nonzero(unmet)} of {unmet.size} scenarios" if unmet.size > 1 else ""
        finite = change[unmet & np.isfinite(change)]
        parts = []
        if finite.size:
            parts.append(self.remedy.format(amount=_amount(finite, self.change_unit)))
        if finite.size < np.count_nonzero(unmet):
            parts.append(self.hopeless)
        return f"{self.name}: not so{count}; {'; or '.join(parts)}"


def _amount(values: FloatArray, unit: str) -> str:
    """Return one amount, or the range of several, in the unit in which it is said."""
    factor, name = _AMOUNTS[unit]
    low, high = (f"{factor * float(end):.3g}" for end in (values.min(), values.max()))
    return f"{low} {name}" if low == high else f"{low} to {high} {name}"


def laying_pressure(case: SealCase) -> FloatArray:
    """Capillary pressure that the water in the widest pores withstands [Pa]."""
    return 4.0 * ice.water_surface_tension(case.water_temperature) / case.pore_diameter


def jet_thrust(case: SealCase, pressure: FloatArray) -> FloatArray:
    """Force of the leak's jet on a cloth that turns it aside [N], from the pressure that drives it.

    2 C_d A (p - p_a): the momentum of a liquid jet; vapor and boiling mixtures, which expand, have less.
    """
    thrust: FloatArray = 2.0 * case.discharge_coefficient * np.pi * case.radius * case.radius * pressure
    return thrust


def thrust_pressure(case: SealCase) -> FloatArray:
    """Pressure whose jet lifts the cloth off [Pa]."""
    return case.pressing_force / jet_thrust(case, np.ones_like(case.radius))


@dataclasses.dataclass(frozen=True, slots=True)
class _Row:
    """A condition before it is judged."""

    name: str
    value: Any
    sense: str
    limit: Any
    unit: str
    source: str
    remedy: str
    hopeless: str
    change_unit: str
    change: Callable[[FloatArray, FloatArray], Any]
    """From value and limit, where not met."""
    favorable: Any = None


def conditions(case: SealCase, cold: Cold, plug: Plug) -> tuple[Condition, ...]:
    """Every condition with its value and limit."""
    pressure = case.gauge_pressure + plug.head_pressure
    rows = (*_thermal_rows(case, cold), *_laying_rows(case, pressure), *_holding_rows(case, plug, pressure))
    return tuple(_judge(row, pressure.shape) for row in rows)


def _thermal_rows(case: SealCase, cold: Cold) -> tuple[_Row, ...]:
    drip = needed_drip_rate(case, cold)
    cargo = judge_cargo(case.fluid)
    gain = cold.air_heat + cold.metal_heat
    return (
        _Row(
            "water takes up little cargo", cargo.dissolved, "at most", LARGEST_DISSOLVED, "",
            "solubility class of the cargo, mass fraction from memory; 1 K of cryoscopic depression",
            "", cargo.reason or "nothing changes it", "K", _nothing,
        ),
        _Row(
            "leak arrives below freezing", cold.face_temperature, "at most", case.freezing_temperature, "K",
            "flash to ambient pressure, or expansion of the real gas at constant enthalpy",
            "vent until the tank's own pressure, and its temperature with it, has come down by {amount}",
            "the cargo boils too warm for ice at this pressure of the air", "Pa",
            lambda value, limit: _cooling(case, cold),
        ),
        _Row(
            "ice can grow through the cloth", cold.largest_thickness, "at least", case.thickness, "m",
            "k (T_f - T_s)/(h (T_a - T_f)); lpgrelease.constants.ICE_CONDUCTIVITY, insulating fibers",
            "take a cloth thinner by {amount}, or keep wind and sun off it",
            "no ice grows at all: the leak is not below freezing", "m",
            lambda value, limit: np.where(value > 0.0, limit - value, np.inf),
        ),
        _Row(
            "cold brought exceeds the heat of air and metal", cold.power, "at least", gain, "W",
            "enthalpy of the leak up to freezing, or contact with freezing-cold liquid; "
            "incropera2011fundamentals for the metal",
            "the leak is too weak: let {amount} of the cargo's cold liquid drip onto the cloth",
            "no flow of this cargo freezes this cloth in the time", "kg/s",
            lambda value, limit: drip,
        ),
        _Row(
            "cloth freezes in the time available", cold.freeze_time, "at most", case.time_available, "s",
            "stefan1891ice with convection outside, and the cold brought; limit chosen by the caller",
            "wait {amount} longer, or take a thinner cloth with colder, fresh water",
            "it never freezes through", "s",
            lambda value, limit: value - limit,
        ),
    )  # fmt: skip


def _laying_rows(case: SealCase, pressure: FloatArray) -> tuple[_Row, ...]:
    laying = laying_pressure(case)
    return (
        _Row(
            "wet cloth keeps its water", pressure, "at most", laying, "Pa",
            "4 sigma/d, iapws2014surface, against the stagnation pressure of the jet; pores assumed",
            "lower the tank's gauge pressure by {amount} before laying the cloth",
            "the head of liquid alone is too much for this cloth: a finer one, or a lower level", "Pa",
            lambda value, limit: _lower(case, value - limit), favorable=PORE_SPREAD * laying,
        ),
        _Row(
            "cloth withstands the jet", jet_thrust(case, pressure), "at most", case.pressing_force, "N",
            "momentum of the jet, 2 C_d A (p - p_a); pressing force assumed",
            "press the cloth down with {amount} more, or lower the pressure", "nothing holds it", "N",
            lambda value, limit: value - limit,
        ),
    )  # fmt: skip


def _holding_rows(case: SealCase, plug: Plug, pressure: FloatArray) -> tuple[_Row, ...]:
    low, high = limits(plug, plug.thickness), limits(plug, plug.thickness, favorable=True)
    too_much = "the head of liquid alone is too much: a thicker and wider cloth, or a lower level"
    return (
        _Row(
            "plug does not crack in bending", pressure, "at most", low.bending, "Pa",
            "timoshenko1959plates; low end of petrovic2003ice, lowered for scatter",
            "more cloth: thicker by {amount}, or lower the pressure", too_much, "m",
            lambda value, limit: plug.thickness * (np.sqrt(value / limit) - 1.0), favorable=high.bending,
        ),
        _Row(
            "plug does not peel from the wall", pressure, "at most", low.peeling, "Pa",
            "andrews1978blister; low end of petrovic2003ice, lowered for scatter",
            "lower the tank's gauge pressure by {amount}", too_much, "Pa",
            lambda value, limit: _lower(case, value - limit), favorable=high.peeling,
        ),
        _Row(
            "rim withstands the push-out force", pressure * plug.patch_area, "at most",
            low.rim * plug.patch_area, "N", "low end of makkonen2012adhesion, lowered for scatter",
            "more cloth: let it reach {amount} further on every side, or lower the pressure", too_much, "m",
            lambda value, limit: _wider(plug, value, limit), favorable=high.rim * plug.patch_area,
        ),
    )  # fmt: skip


def _nothing(value: FloatArray, limit: FloatArray) -> FloatArray:
    return np.full(np.shape(value), np.inf)


def _lower(case: SealCase, excess: FloatArray) -> FloatArray:
    """By how much to lower the tank's pressure; infinite where even zero gauge is not enough."""
    return np.where(excess <= case.gauge_pressure, excess, np.inf)


def _wider(plug: Plug, force: FloatArray, limit: FloatArray) -> FloatArray:
    """How much further the cloth has to reach for the rim to carry a force."""
    bonded = plug.bonded_area * force / limit
    return np.sqrt((plug.patch_area + bonded) / np.pi) - plug.outer_radius


def _cooling(case: SealCase, cold: Cold) -> FloatArray:
    """By how much the tank's saturation pressure has to fall until its vapor arrives below freezing."""
    if case.phase == "liquid":
        return np.full(cold.face_temperature.shape, np.inf)
    threshold = case.vapor_threshold
    excess = case.fluid.saturated(cold.tank_temperature, "pressure")[0] - threshold
    return np.where((threshold > 0.0) & (excess > 0.0), excess, np.inf)


def _judge(row: _Row, shape: tuple[int, ...]) -> Condition:
    """Judge one condition."""
    favorable = row.limit if row.favorable is None else row.favorable
    value, limit, favorable = (
        np.array(np.broadcast_to(np.asarray(item, dtype=np.float64), shape))
        for item in (row.value, row.limit, favorable)
    )
    at_most = row.sense == "at most"
    margin = limit - value if at_most else value - limit
    met = value <= limit if at_most else value >= limit
    close = value <= favorable if at_most else value >= favorable
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        change = np.where(met, 0.0, row.change(value, limit))
    return Condition(
        name=row.name, value=value[()], sense=row.sense, limit=limit[()], favorable_limit=favorable[()],
        unit=row.unit, met=met[()], marginal=(close & ~met)[()], margin=margin[()], source=row.source,
        remedy=row.remedy, hopeless=row.hopeless, change=change[()], change_unit=row.change_unit,
        provenance=Provenance("freeze seal"),
    )  # fmt: skip
