"""The cold a leak brings to a wet cloth, the heat that works against it, and the time it takes to freeze."""

from __future__ import annotations

import dataclasses
from typing import Final, NamedTuple

import numpy as np

from lpgrelease.constants import STANDARD_GRAVITY, WATER_DENSITY
from lpgrelease.freeze_seal import ice
from lpgrelease.freeze_seal.cargo import LARGEST_DISSOLVED, judge_cargo
from lpgrelease.freeze_seal.cloth import SealCase
from lpgrelease.freeze_seal.let_down import LetDown, let_down_liquid, let_down_vapor
from lpgrelease.freeze_seal.metal import edge_heat
from lpgrelease.quantities import FloatArray
from lpgrelease.release import liquid_release, two_phase_release, vapor_release
from lpgrelease.results import BoolArray

__all__ = ["Cold", "cold_at", "head_pressure", "needed_drip_rate"]

_BELOW_SATURATION: Final = 1.0 - 1e-9


class _Stream(NamedTuple):
    """What leaves the hole at one tank pressure."""

    flow: FloatArray
    enthalpy: FloatArray
    temperature: FloatArray
    vapor_fraction: FloatArray
    at_freezing: FloatArray
    """Its enthalpy once warmed to freezing [J/kg]."""
    contact: BoolArray
    """Whether liquid below freezing stands behind hole and wall."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Cold:
    """What the leak does to the cloth at one tank pressure."""

    tank_temperature: FloatArray
    leak_temperature: FloatArray
    spread_temperature: FloatArray
    face_temperature: FloatArray
    mass_flow: FloatArray
    vapor_fraction: FloatArray
    power: FloatArray
    air_heat: FloatArray
    metal_heat: FloatArray
    largest_thickness: FloatArray
    freeze_time: FloatArray


def cold_at(case: SealCase, gauge_pressure: FloatArray) -> Cold:
    """Temperature and cold of the leak, and the time it takes to freeze the cloth.

    By contact with what boils behind the hole; where the cargo spreads in a cloth open to the air, by its
    evaporation too, whichever freezes the cloth sooner.
    """
    pressure = case.ambient_pressure + gauge_pressure
    tank = case.tank_temperature
    if tank is None:
        tank = np.asarray(case.fluid.saturation_temperature(pressure))
    stream = _STREAMS[case.phase](case, tank, pressure)
    air, metal, sensible = _heats(case, tank)
    fraction = stream.vapor_fraction
    spread = np.minimum(case.evaporation_temperature, stream.temperature)
    spread = np.where(fraction < 1.0, spread, stream.temperature)
    brought = case.captured_cold * stream.flow
    power = brought * np.maximum(stream.at_freezing - stream.enthalpy, 0.0)
    power = np.where(stream.contact, np.inf, power)
    face = stream.temperature
    time = _freeze_time(case, face, power - air - metal, sensible)
    if case.open_to_air:
        (h_v,) = case.fluid.saturated(_freezing_in_tables(case), "vapor_enthalpy")
        by_air = np.where(fraction < 1.0, brought * np.maximum(h_v - stream.enthalpy, 0.0), 0.0)
        sooner = _freeze_time(case, spread, by_air - air - metal, sensible)
        better = sooner < time
        time, face, power = (
            np.where(better, new, old) for new, old in ((sooner, time), (spread, face), (by_air, power))
        )
    return Cold(
        tank, stream.temperature, spread, face, stream.flow, fraction, power, air, metal,
        _largest_thickness(case, face), time,
    )  # fmt: skip


def _largest_thickness(case: SealCase, face: FloatArray) -> FloatArray:
    return ice.largest_ice_thickness(
        face,
        case.air_temperature,
        heat_transfer=case.outside_heat_transfer,
        conductivity=ice.frozen_cloth_conductivity(case.porosity),
        freezing_temperature=case.freezing_temperature,
    )


def _volumetric_heat(case: SealCase, face: FloatArray) -> FloatArray:
    heat = ice.freezing_heat(face, case.water_temperature, freezing_temperature=case.freezing_temperature)
    volumetric: FloatArray = case.porosity * WATER_DENSITY * heat
    return volumetric


def _conducted_time(case: SealCase, face: FloatArray) -> FloatArray:
    """Time for ice to grow through the cloth from a face held at a temperature [s]."""
    return ice.freezing_time(
        case.thickness,
        face,
        case.air_temperature,
        heat_transfer=case.outside_heat_transfer,
        conductivity=ice.frozen_cloth_conductivity(case.porosity),
        volumetric_heat=_volumetric_heat(case, face),
        freezing_temperature=case.freezing_temperature,
    )


def _freeze_time(case: SealCase, face: FloatArray, net: FloatArray, sensible: FloatArray) -> FloatArray:
    """Return the longer of the time to conduct and the time to bring what water and metal hold [s]."""
    heat = _volumetric_heat(case, face) * case.thickness * case.cloth_area + sensible
    with np.errstate(divide="ignore", over="ignore"):  # hardly any cold takes forever
        supplied = np.where(net > 0.0, heat / net, np.inf)
    if judge_cargo(case.fluid).dissolved > LARGEST_DISSOLVED:
        supplied = np.full_like(supplied, np.inf)
    return np.maximum(_conducted_time(case, face), supplied)


def _heats(case: SealCase, tank: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the heat of air and metal to the cloth [W], and the heat to cool the metal under it [J]."""
    air = case.cloth_area * ice.melting_flux(
        case.air_temperature, case.outside_heat_transfer, freezing_temperature=case.freezing_temperature
    )
    wall = tank if case.wall_temperature is None else case.wall_temperature
    excess = np.maximum(wall - case.freezing_temperature, 0.0)
    edge = edge_heat(
        excess,
        case.radius + case.overlap,
        thickness=case.wall_thickness,
        conductivity=case.wall_conductivity,
        heat_transfer=case.outside_heat_transfer + case.inside_heat_transfer,
    )
    through = case.inside_heat_transfer * case.cloth_area * excess
    return air, edge + through, case.wall_heat_capacity * case.wall_thickness * case.cloth_area * excess


def _liquid(case: SealCase, tank: FloatArray, pressure: FloatArray) -> _Stream:
    """Liquid at its boiling temperature, or the tank's if lower."""
    psat, h = case.fluid.saturated(tank, "pressure", "liquid_enthalpy")
    flow = liquid_release(
        case.fluid, case.hole, temperature=tank, head=case.head,
        pressure=np.maximum(pressure, psat), ambient_pressure=case.ambient_pressure,
    ).mass_flow  # fmt: skip
    after = _let_down(case, h)
    # a blend that flashes keeps the heavy ends, which boil warmer
    leak = np.minimum(tank, after.temperature if case.fluid.is_blend else case.boiling_temperature)
    return _stream(flow, after._replace(temperature=leak), tank < case.freezing_temperature)


def _two_phase(case: SealCase, tank: FloatArray, pressure: FloatArray) -> _Stream:
    """Let a saturated mixture down to ambient pressure at constant enthalpy."""
    if case.fluid.is_blend:
        shape = np.broadcast_shapes(tank.shape, case.vapor_fraction.shape)
        t, x = (np.ravel(np.broadcast_to(a, shape)) for a in (tank, case.vapor_fraction))
        h = (case.fluid.blend.flash_vapor(t, x).enthalpy / case.fluid.molar_mass).reshape(shape)
    else:
        h_l, latent = case.fluid.saturated(tank, "liquid_enthalpy", "latent_heat")
        h = h_l + case.vapor_fraction * latent
    flow = two_phase_release(
        case.fluid, case.hole, temperature=tank, vapor_fraction=case.vapor_fraction,
        ambient_pressure=case.ambient_pressure,
    ).mass_flow  # fmt: skip
    after = _let_down(case, h)
    return _stream(flow, after, np.zeros(after.temperature.shape, dtype=np.bool_))


def _vapor(case: SealCase, tank: FloatArray, pressure: FloatArray) -> _Stream:
    """Vapor after expansion at constant enthalpy.

    The rate is taken a hair below saturation, where the general nozzle serves superheated vapor too.
    """
    fluid, ambient = case.fluid, case.ambient_pressure
    if fluid.is_blend:
        flow = vapor_release(fluid, case.hole, temperature=tank, ambient_pressure=ambient).mass_flow
        after = let_down_vapor(fluid, tank, pressure=ambient, freezing=case.freezing_temperature)
        return _stream(flow, after, np.zeros(after.temperature.shape, dtype=np.bool_))
    psat, h = fluid.saturated(tank, "pressure", "vapor_enthalpy")
    p = np.minimum(pressure, psat * _BELOW_SATURATION)
    if case.tank_temperature is not None:
        h = fluid.gas(temperature=tank, pressure=p).enthalpy
    flow = vapor_release(fluid, case.hole, temperature=tank, pressure=p, ambient_pressure=ambient).mass_flow
    after = _let_down(case, h)
    return _stream(flow, after, np.zeros(after.temperature.shape, dtype=np.bool_))


def _let_down(case: SealCase, enthalpy: FloatArray) -> LetDown:
    """Let the cargo down to ambient pressure at constant enthalpy."""
    return let_down_liquid(
        case.fluid,
        enthalpy,
        pressure=case.ambient_pressure,
        boiling=case.boiling_temperature,
        at_freezing=case.enthalpy_at_freezing,
    )


def _stream(flow: FloatArray, after: LetDown, contact: BoolArray) -> _Stream:
    leak = after.temperature
    return _Stream(
        flow + np.zeros_like(leak), after.enthalpy, leak, after.vapor_fraction, after.at_freezing, contact
    )


_STREAMS: Final = {"liquid": _liquid, "two-phase": _two_phase, "vapor": _vapor}


def _freezing_in_tables(case: SealCase) -> FloatArray:
    """Freezing temperature, or the boiling point where that is lower [K]: where vapor leaves liquid."""
    return np.minimum(case.freezing_temperature, case.boiling_temperature)


def needed_drip_rate(case: SealCase, cold: Cold) -> FloatArray:
    """Flow of the cargo's own boiling liquid onto the cloth that freezes it in the time available [kg/s].

    Infinite where no flow does.
    """
    face = cold.spread_temperature if case.open_to_air else case.boiling_temperature
    h_v = case.enthalpy_at_freezing
    if case.open_to_air:
        h_v = case.fluid.saturated(_freezing_in_tables(case), "vapor_enthalpy")[0]
    (h_l,) = case.fluid.saturated(case.boiling_temperature, "liquid_enthalpy")
    air, metal, sensible = _heats(case, cold.tank_temperature)
    heat = _volumetric_heat(case, face) * case.thickness * case.cloth_area + sensible
    possible = (_conducted_time(case, face) <= case.time_available) & (h_v > h_l) & (case.captured_cold > 0.0)
    possible &= (case.time_available > 0.0) & (judge_cargo(case.fluid).dissolved <= LARGEST_DISSOLVED)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        rate = (air + metal + heat / case.time_available) / (case.captured_cold * (h_v - h_l))
    return np.where(possible, rate, np.inf)


def head_pressure(case: SealCase, cold: Cold) -> FloatArray:
    """Pressure of the liquid standing above the hole [Pa]."""
    if case.phase != "liquid":
        return np.zeros_like(case.head)
    (density,) = case.fluid.saturated(cold.leak_temperature, "liquid_density")
    head: FloatArray = density * STANDARD_GRAVITY * case.head
    return head
