"""What flows through the openings of a tank with additions (`lpgrelease.tank.zones`)."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.release.liquid import incompressible_flux
from lpgrelease.tank.levels import Levels
from lpgrelease.tank.vapor_space import VaporState, inflow_flux, mixture_flux
from lpgrelease.tank.zone_state import Phases, per_point

if TYPE_CHECKING:
    from lpgrelease.tank.zones import Zones

__all__ = ["flows"]


def flows(
    zones: Zones,
    phases: Phases,
    vapor: VaporState | None,
    gases: tuple[FloatArray, FloatArray, FloatArray],
    levels: Levels,
) -> tuple[FloatArray, FloatArray]:
    """Flow of the fluid and of gas out of every opening [kg/s], (J, points, n)."""
    p_amb = zones.nozzle.pressure
    gas, gas_pressure, space = gases
    pressure = phases.pressure if zones.gas is None else phases.pressure + gas_pressure
    area = zones.area[:, None]
    if zones.valves.which:
        area = np.repeat(area, pressure.shape[0], axis=1)
        for row, lift in zip(zones.valves.which, zones.valves.lift(pressure - p_amb), strict=True):
            area[row] *= lift
    tabulated = zones.fluxes.at(pressure)
    flux, gas_flux = pressure * tabulated[0], np.zeros(pressure.shape)
    if zones.gas is not None:
        flux, gas_flux = _mixture(zones, phases, gas_pressure, gas / space)
    elif vapor is not None:
        flux = flux * np.sqrt(phases.saturated_volume / phases.vapor_volume)
    through, gas_flow = area * flux, area * gas_flux
    lines = [(j, line) for j, line in enumerate(zones.lines) if line is not None]
    for row, (j, _) in enumerate(lines):
        coefficient = tabulated[1 + 2 * row]
        through[j], gas_flow[j] = through[j] * coefficient, gas_flow[j] * coefficient
    if zones.wet.any():
        wet, density = per_point(zones.wet), 1.0 / phases.liquid_volume
        head = np.where(wet, levels.level - zones.height[:, None], 0.0)
        liquid = incompressible_flux(density, pressure, p_amb, head)
        for row, (j, line) in enumerate(lines):
            liquid[j] = line.liquid_flux(density, pressure, head[j], tabulated[2 + 2 * row])
        through = np.where(wet, area * liquid, through)
        gas_flow = np.where(wet, 0.0, gas_flow)
    return through, gas_flow


def _mixture(
    zones: Zones, phases: Phases, gas_pressure: FloatArray, gas_density: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Flux of vapor and of gas; negative of gas where air comes in."""
    assert zones.gas is not None
    p_amb = zones.nozzle.pressure
    mixture = mixture_flux(
        zones.gas,
        vapor_pressure=phases.pressure,
        vapor_density=1.0 / phases.saturated_volume,
        vapor_heat_capacity=phases.vapor_heat_capacity,
        vapor_constant=zones.table.gas_constant,
        vapor_choked_flux=phases.critical_flux,
        gas_pressure=gas_pressure,
        gas_density=gas_density,
        back_pressure=p_amb,
    )
    if not zones.air_enters:
        return mixture
    enters = inflow_flux(zones.gas, zones.air_temperature, p_amb, phases.pressure + gas_pressure)
    return mixture.vapor, mixture.gas - enters
