"""How long a frozen plug holds while its tank warms and pressure returns, and the vent that prevents it."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.freeze_seal.assess import FreezeSeal
from lpgrelease.freeze_seal.ice import melting_flux
from lpgrelease.freeze_seal.plug import Plug, holding_pressure
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.release import Opening, vapor_release
from lpgrelease.results import BoolArray, Provenance, Result, StringArray, plain, quantity, result
from lpgrelease.tank import BlendContents, Contents, tank_history
from lpgrelease.weather import Weather

__all__ = ["SealHold", "hold_freeze_seal"]

STEPS: Final = 8
"""Steps between two points of the tank's history."""
WARM, PRESSURE, MELTED, HOLDS, NEVER = (
    "wall above freezing", "pressure", "melting", "still holding", "never frozen",
)  # fmt: skip
CAUTIONS: Final = (
    "No published test of a wet-cloth ice plug on a leaking tank was found: treat it as able to fail at any "
    "moment, and watch the gauge, not the clock.",
    "The wall is taken at the temperature of the contents. Above the liquid a wall can be far warmer, and "
    "then the plug melts from the wall side in minutes.",
    "A tank that is not stirred by boiling stratifies: its pressure can come back faster than this.",
)
NOT_FEASIBLE: Final = (
    "Where the seal is assessed as not feasible, what stands here is how long a plug would hold that had "
    "frozen all the same; do not count on one. The assessment tells which of its conditions are not met."
)
MARGINAL: Final = (
    "Where the seal is assessed as marginal, it may not come about at all: it is feasible only within the "
    "spread of strengths and pores."
)
ENDS_EARLY: Final = (
    "Where `ended_by` tells what ended the history of the tank before the time asked for, nothing is known "
    "of the plug after that."
)


@result
class SealHold(Result):
    """A frozen plug over time; the scenarios lead, the last axis of a history is time since it froze."""

    time: FloatArray = quantity("s", "time since the plug froze", dims=("time",))
    gauge_pressure: FloatArray = quantity("Pa", "of the tank, over the air's", dims=("time",))
    temperature: FloatArray = quantity("K", "of contents and wall", dims=("time",))
    ice_thickness: FloatArray = quantity("m", "what the air has left", dims=("time",))
    credited_gauge_pressure: FloatArray = quantity(
        "Pa", "that this ice is credited with, low ends of strengths", dims=("time",)
    )
    holding_time: FloatArray = quantity("s", "until the plug is no longer credited; or the history's end")
    favorable_holding_time: FloatArray = quantity("s", "the same by the high ends of published strengths")
    ended_by: StringArray = plain(
        "why the plug is no longer credited, or that it still is when the time asked for is over, or what "
        'ended the history of the tank before, such as "liquid full"'
    )
    safe_gauge_pressure: FloatArray = quantity("Pa", "gauge pressure to keep the tank at or below")
    heat_rate: FloatArray = quantity("W", "heat into the tank at that pressure")
    safe_vent_rate: FloatArray = quantity("kg/s", "vapor to let out so that the pressure stays there")
    vent_diameter: FloatArray = quantity("m", "opening in the vapor space that passes it there; inf: none")
    cautions: tuple[str, ...] = plain("read before acting")


def hold_freeze_seal(
    seal: FreezeSeal,
    contents: Contents,
    *,
    weather: Weather | None = None,
    vents: Sequence[Opening] = (),
    duration: QuantityLike = 21600.0,
    keep_gauge_pressure: QuantityLike | None = None,
    discharge_coefficient: QuantityLike = 0.62,
    points: int = 129,
) -> SealHold:
    """Follow a frozen plug while the air melts it and the tank's pressure comes back.

    Parameters
    ----------
    seal : FreezeSeal
        Assessment of the leak, now frozen and shut.
    contents : Contents
        Of the tank when the plug has frozen.
    weather : Weather, optional
        Of the tank and the plug; default ``Weather()``.
    vents : sequence of Opening
        Open meanwhile; none: the tank is shut.
    duration : number, array or quantity
        To look ahead [s].
    keep_gauge_pressure : number, array or quantity, optional
        At which a vent is to keep the tank [Pa]; None: what half of the plug's thickness still carries.
    discharge_coefficient : number or array
        Of the vent that is looked for.
    points : int
        Points in time of each history.

    Returns
    -------
    SealHold

    Raises
    ------
    InputError, OutOfRangeError
        Wrong kinds, shapes that do not broadcast, a seal assessed for another cargo than that of the tank.

    Notes
    -----
    The tank follows `tank_history`, and may end before `duration` as that does: where liquid fills it or is
    gone, or at an end of the property tables. While the wall is below freezing it cools the plug: ice of
    thickness X conducts k (T_f - T)/X to the wall, and only what the air brings beyond that melts it,
    q dX/dt = -max(h (T_a - T_f) - k (T_f - T)/X, 0). So on a cold wall a thin plug does not melt at all, and
    pressure ends it. What has melted does not freeze again. Where the wall comes to freezing the bond melts
    and nothing more is credited. Steps are implicit (backward Euler), of first order, `STEPS` between points.

    The vent: at rest all heat Q evaporates liquid, Q/L, of which 1 - rho_v/rho_l leaves and the rest fills
    the room of the liquid. Both at the saturation temperature of the pressure to keep.

    References
    ----------
    stefan1891ice, petrovic2003ice, makkonen2012adhesion.

    Examples
    --------
    >>> import lpgrelease as lr
    >>> from lpgrelease.freeze_seal import hold_freeze_seal
    >>> propane = lr.Fluid("propane")
    >>> tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=170.0)
    >>> cold = propane.saturation(pressure=102e3).temperature
    >>> contents = lr.Contents(tank, propane, fill=0.5, temperature=cold)
    >>> seal = lr.assess_freeze_seal(propane, lr.Opening(diameter=0.006))
    >>> hold = hold_freeze_seal(seal, contents)
    >>> print(f"{hold.ended_by} after {hold.holding_time / 60:.0f} min")
    pressure after 44 min
    >>> print(f"vent {hold.safe_vent_rate * 1e3:.0f} g/s to stay at {hold.safe_gauge_pressure / 1e3:.0f} kPa")
    vent 24 g/s to stay at 14 kPa
    """
    for name, value, kind in (("seal", seal, FreezeSeal), ("contents", contents, Contents)):
        if not isinstance(value, kind):
            raise InputError(f"{name} must be {kind.__name__}, got {value!r}")
    if not isinstance(vents, Sequence) or not all(isinstance(vent, Opening) for vent in vents):
        raise InputError(f"vents must be a sequence of openings, got {vents!r}")
    _require_same_cargo(seal.fluid, contents.fluid)
    weather = Weather() if weather is None else weather
    keep = keep_gauge_pressure
    keep = None if keep is None else to_si(keep, "Pa", "keep_gauge_pressure", lower=0.0)
    unit = Opening(diameter=1.0, discharge_coefficient=discharge_coefficient)
    run = tank_history(contents, openings=vents, weather=weather, duration=duration, points=points)
    plug, frozen = seal.plug, np.isfinite(seal.freeze_time)
    shape = broadcast(
        seal=plug.thickness,
        tank=run.time[..., 0],
        keep_gauge_pressure=0.0 if keep is None else keep,
        discharge_coefficient=unit.discharge_coefficient,
    )[0].shape
    body = _with_time_axis(plug)
    full = (*shape, (points - 1) * STEPS + 1)
    gauge, temperature, time = (
        np.broadcast_to(_finer(row), full)
        for row in (run.pressure - np.asarray(weather.ambient_pressure)[..., None], run.temperature, run.time)
    )
    air = np.broadcast_to(np.asarray(weather.air_temperature)[..., None], full)
    ice = _melt(body, time, temperature, air)
    load, warmth = gauge + body.head_pressure, body.freezing_temperature - temperature
    thaws = _crossing(warmth, time)
    gives_way, gives_way_late, at_full_thickness = (
        _crossing(holding_pressure(body, thickness, favorable=favorable) - load, time)
        for thickness, favorable in ((ice, False), (ice, True), (body.thickness, False))
    )
    first, late = np.minimum(gives_way, thaws), np.minimum(gives_way_late, thaws)
    reason = np.where(at_full_thickness <= gives_way, PRESSURE, MELTED)
    ends_early = np.isinf(first) & (run.stopped_by != "duration") & frozen
    reason = np.where(thaws <= gives_way, WARM, reason)
    reason = np.where(np.isinf(first), np.where(ends_early, run.stopped_by, HOLDS), reason)
    credited = np.maximum(holding_pressure(body, ice) - body.head_pressure, 0.0) * frozen[..., None]
    end = time[..., -1]
    return SealHold(
        time=np.array(time[..., ::STEPS]),
        gauge_pressure=np.array(gauge[..., ::STEPS]),
        temperature=np.array(temperature[..., ::STEPS]),
        ice_thickness=np.array(ice[..., ::STEPS]),
        credited_gauge_pressure=np.array(credited[..., ::STEPS]),
        holding_time=np.where(frozen, np.minimum(first, end), 0.0)[()],
        favorable_holding_time=np.where(frozen, np.minimum(late, end), 0.0)[()],
        ended_by=np.where(frozen, reason, NEVER)[()],
        **_vent(plug, contents, weather, keep, unit, shape),
        cautions=(
            *contents.fluid.cautions,
            *_called_for(seal, ends_early),
            *run.cautions,
            *CAUTIONS,
        ),
        provenance=Provenance(
            "ice plug on a tank at equilibrium: quasi-steady melting, plate and bond limits of ice",
            ("stefan1891ice", "petrovic2003ice", "makkonen2012adhesion"),
            run.provenance.properties,
        ),
    )


def _require_same_cargo(of_seal: Fluid, in_tank: Fluid) -> None:
    """Refuse a seal on another cargo; fractions of a blend may differ, for they change as vapor leaves."""
    if set(of_seal.components) != set(in_tank.components):
        raise InputError(
            f"seal was assessed for {of_seal.name}, but contents are {in_tank.name}: assess it for what the "
            "tank holds"
        )


def _called_for(seal: FreezeSeal, ends_early: BoolArray) -> tuple[str, ...]:
    """Return the cautions that these scenarios call for."""
    found = (
        (~(seal.feasible | seal.marginal), NOT_FEASIBLE),
        (seal.marginal, MARGINAL),
        (ends_early, ENDS_EARLY),
    )
    return tuple(text for where, text in found if np.any(where))


def _with_time_axis(plug: Plug) -> Plug:
    """Return the plug with an axis of length one for time."""
    names = [field.name for field in dataclasses.fields(plug) if field.name != "provenance"]
    arrays: dict[str, Any] = {name: np.asarray(getattr(plug, name))[..., None] for name in names}
    return Plug(**arrays)


def _finer(values: FloatArray) -> FloatArray:
    """Put `STEPS` intervals in place of each along the last axis, linear between."""
    left, right = values[..., :-1, None], values[..., 1:, None]
    w = np.arange(STEPS) / STEPS
    inside = ((1.0 - w) * left + w * right).reshape(*values.shape[:-1], left.shape[-2] * STEPS)
    return np.concatenate([inside, values[..., -1:]], axis=-1)


def _melt(plug: Plug, time: FloatArray, temperature: FloatArray, air: FloatArray) -> FloatArray:
    """Thickness at each time of a plug that the air melts and the wall cools [m]."""
    flux = melting_flux(air, plug.outside_heat_transfer, freezing_temperature=plug.freezing_temperature)
    cold = plug.conductivity * np.maximum(plug.freezing_temperature - temperature, 0.0)
    g, kd = flux / plug.latent_heat, cold / plug.latent_heat
    found = [np.array(np.broadcast_to(plug.thickness, time.shape)[..., 0])]
    for i in range(1, time.shape[-1]):
        dt = time[..., i] - time[..., i - 1]
        b = found[-1] - dt * g[..., i]
        # X + dt g - dt kd/X = X before, or no melting
        X = 0.5 * (b + np.sqrt(b * b + 4.0 * dt * kd[..., i]))
        found.append(np.maximum(np.minimum(X, found[-1]), 0.0))
    return np.stack(found, axis=-1)


def _crossing(margin: FloatArray, time: FloatArray) -> FloatArray:
    """First time at which a margin falls below zero, linear between points; infinite where it does not."""
    below: BoolArray = margin < 0.0
    i = np.argmax(below, axis=-1)[..., None]
    before = np.maximum(i - 1, 0)
    m0, m1 = (np.take_along_axis(margin, index, axis=-1)[..., 0] for index in (before, i))
    t0, t1 = (np.take_along_axis(time, index, axis=-1)[..., 0] for index in (before, i))
    with np.errstate(divide="ignore", invalid="ignore"):
        at = np.where(i[..., 0] > 0, t0 + (t1 - t0) * m0 / (m0 - m1), t0)
    return np.where(below.any(axis=-1), at, np.inf)


def _liquid_of(contents: Contents) -> Fluid:
    """Return the fluid whose composition the liquid has; that of a blend changes as vapor leaves."""
    if not isinstance(contents, BlendContents):
        return contents.fluid
    if contents.liquid_fractions.ndim > 1:
        raise InputError("contents of a blend after a history: hold one scenario at a time")
    return contents.fluid_at()


def _vent(
    plug: Plug,
    contents: Contents,
    weather: Weather,
    keep: FloatArray | None,
    unit: Opening,
    shape: tuple[int, ...],
) -> dict[str, FloatArray]:
    """Return the pressure to keep, the heat gained there, and the vent that passes what it evaporates."""
    fluid, tank = _liquid_of(contents), contents.tank
    half = np.maximum(holding_pressure(plug, 0.5 * plug.thickness) - plug.head_pressure, 0.0)
    gauge = half if keep is None else keep
    air = np.asarray(weather.ambient_pressure)
    pressure = fluid.pressure_range(gauge + air, "keep_gauge_pressure + ambient_pressure")
    T = np.asarray(fluid.saturation_temperature(np.asarray(pressure)))
    if tank.heat_transfer is not None:
        heat = np.asarray(tank.heat_transfer) * (np.asarray(weather.air_temperature) - T)
    else:
        heat = tank.surface_area * tank.outside_exchange(weather).heat_flux(T)
    latent, liquid, vapor = fluid.saturated(T, "latent_heat", "liquid_density", "vapor_density")
    rate = np.maximum(heat, 0.0) / latent * (1.0 - vapor / liquid)
    flux = vapor_release(fluid, unit, temperature=T, ambient_pressure=air).mass_flux
    with np.errstate(divide="ignore", invalid="ignore"):
        diameter = np.where(rate > 0.0, np.sqrt(4.0 * rate / (np.pi * flux)), 0.0)
    found = {
        "safe_gauge_pressure": gauge,
        "heat_rate": heat,
        "safe_vent_rate": rate,
        "vent_diameter": diameter,
    }
    return {name: np.array(np.broadcast_to(value, shape))[()] for name, value in found.items()}
