"""From a spill to what lands of it: flash to the ambient pressure, and the feed over time."""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from lpgrelease.flashing import flash
from lpgrelease.fluids import Fluid
from lpgrelease.pool.inputs import Spill
from lpgrelease.pool.schedule import Feed
from lpgrelease.quantities import FloatArray
from lpgrelease.results import IntArray

__all__ = ["Landing", "flat_last", "land", "spill_shapes"]


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Landing:
    """What lands, (scenarios,)."""

    at_once: FloatArray
    """Liquid that lands at time 0 [kg]."""
    spilled_at_once: FloatArray
    flashed_at_once: FloatArray
    flash_fraction: FloatArray
    temperature: FloatArray
    """Of the first liquid that lands [K]."""
    feed: Feed
    shares: FloatArray | None = None
    """Mass shares of a blend in the first liquid that lands, (components, scenarios)."""

    def select(self, which: IntArray) -> Landing:
        """Return some of the scenarios."""
        names = [f.name for f in dataclasses.fields(Feed) if f.name != "parts"]
        flows = {name: getattr(self.feed, name)[:, which] for name in names}
        feed = Feed(**flows, parts=tuple(part[:, which] for part in self.feed.parts))
        names = [f.name for f in dataclasses.fields(self) if f.name not in ("feed", "shares")]
        shares = None if self.shares is None else self.shares[:, which]
        return Landing(**{name: getattr(self, name)[which] for name in names}, feed=feed, shares=shares)


def flat_last(values: FloatArray, shape: tuple[int, ...]) -> FloatArray:
    """Bring values with an axis of their own behind those of the scenarios to (axis, scenarios)."""
    values = np.asarray(values)
    whole = np.broadcast_to(values, (*shape, values.shape[-1]))
    return np.ascontiguousarray(whole.reshape(math.prod(shape), values.shape[-1]).T)


def spill_shapes(spill: Spill) -> dict[str, FloatArray]:
    """Numbers of a spill without their axis of time, for their shapes."""
    names = ("mass", "mass_flow", "duration", "captured_fraction")
    given = {name: getattr(spill, name) for name in names}
    given |= {"spill temperature": spill.temperature, "spill time": spill.time}
    timed = spill.time is not None
    return {
        name: value[..., 0] if timed and np.ndim(value) else value
        for name, value in given.items()
        if value is not None
    }


def land(fluid: Fluid, spill: Spill, arrays: dict[str, FloatArray], shape: tuple[int, ...]) -> Landing:
    """Flash to the ambient pressure without heat or work: what is left lands."""
    times, flows, at_once = _knots(spill, arrays, shape)
    ambient, air = arrays["ambient_pressure"], arrays["air_temperature"]
    given = air if spill.temperature is None else _knotted(spill, spill.temperature, shape)
    warm = np.broadcast_to(given, times.shape)
    share = np.broadcast_to(_knotted(spill, spill.captured_fraction, shape), times.shape)
    start = fluid.saturation_range(warm, "temperature of the spill")
    flashed_share, temperature, mix = _let_down(fluid, start, np.broadcast_to(ambient, times.shape))
    landed = flows * (1.0 - flashed_share) * share
    enthalpy = _enthalpy(fluid, temperature, mix)
    parts = () if mix is None else tuple(landed * w for w in mix)
    feed = Feed(times, flows, flows * flashed_share, landed, landed * enthalpy, parts)
    totals = feed.totals(times[-1:])
    spilled, flashed = totals["spilled"][0], totals["flashed"][0]
    flash_share = np.where(spilled > 0.0, flashed / np.where(spilled > 0.0, spilled, 1.0), 0.0)
    steady = (flashed_share == flashed_share[0]).all(axis=0) | (spilled <= 0.0)
    return Landing(
        at_once=at_once * (1.0 - flashed_share[0]) * share[0],
        spilled_at_once=at_once,
        flashed_at_once=at_once * flashed_share[0],
        flash_fraction=np.where(steady, flashed_share[0], flash_share),
        temperature=temperature[0],
        feed=feed,
        shares=None if mix is None else mix[:, 0],
    )


def _let_down(
    fluid: Fluid, temperature: FloatArray, ambient: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray | None]:
    """Flashed share, temperature after, and for a blend the mass shares of its liquid, components first."""
    if not fluid.is_blend:
        after = flash(fluid, temperature=temperature, ambient_pressure=ambient)
        landing = np.minimum(after.temperature, fluid.saturation_temperature(ambient))
        return after.vapor_fraction, landing, None
    blend, shape = fluid.blend, temperature.shape
    (h0,) = fluid.saturated(temperature, "liquid_enthalpy")
    state = blend.flash_enthalpy(ambient.ravel(), h0.ravel())
    mass = state.liquid * blend.mixture.molar_mass
    total = mass[0]
    for row in mass[1:]:
        total = total + row
    boils = blend.vapor_mass_fraction(state).reshape(shape)
    after_t = np.where(boils > 0.0, state.temperature.reshape(shape), temperature)
    return boils, after_t, (mass / total).reshape(len(mass), *shape)


def _enthalpy(fluid: Fluid, temperature: FloatArray, mix: FloatArray | None) -> FloatArray:
    """Enthalpy of the liquid that lands [J/kg]; of a blend that of its components as they are apart."""
    if mix is None:
        return fluid.saturated(temperature, "liquid_enthalpy")[0]
    total = np.zeros_like(temperature)
    for name, share in zip(fluid.components, mix, strict=True):
        total = total + share * Fluid(name).saturated(temperature, "liquid_enthalpy")[0]
    return total


def _knotted(spill: Spill, values: FloatArray, shape: tuple[int, ...]) -> FloatArray:
    """Values at the knots, (knots or 1, scenarios)."""
    if spill.time is None or np.ndim(values) == 0:
        return np.broadcast_to(values, shape).reshape(1, math.prod(shape))
    return flat_last(values, shape)


def _knots(
    spill: Spill, arrays: dict[str, FloatArray], shape: tuple[int, ...]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Find times and flows at the knots of the feed (knots, scenarios), and what is let go at once [kg]."""
    zero = np.zeros(math.prod(shape))
    if spill.time is not None:
        times = flat_last(spill.time, shape)
        return times, np.broadcast_to(_knotted(spill, spill.mass_flow, shape), times.shape), zero
    end = arrays["history"]
    if spill.duration is not None:
        end = arrays["duration"]
    elif spill.mass is not None:
        return np.stack([zero, zero]), np.stack([zero, zero]), arrays["mass"]
    flow = arrays["mass"] / end if spill.mass is not None else arrays["mass_flow"]
    return np.stack([zero, end]), np.stack([flow, flow]), zero
