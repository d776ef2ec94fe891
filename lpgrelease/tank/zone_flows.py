"""What flows through the openings of a tank with additions (`lpgrelease.tank.zones`)."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from lpgrelease.quantities import FloatArray
from lpgrelease.release.liquid import driving_pressure, flux_driven_by
from lpgrelease.tank.last_pascals import eased
from lpgrelease.tank.levels import Levels
from lpgrelease.tank.superheated import VaporState, share_of_choking
from lpgrelease.tank.vapor_space import inflow_flux, mixture_flux
from lpgrelease.tank.zone_phases import Phases

if TYPE_CHECKING:
    from lpgrelease.tank.zones import Zones

__all__ = ["flows"]


def flows(
    zones: Zones,
    phases: Phases,
    vapor: VaporState | None,
    gases: tuple[FloatArray, FloatArray, FloatArray],
    levels: Levels,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Flow of the fluid and of gas out of every opening [kg/s], (J, points, n).

    And the fluid's flow out by all openings and transfers, as liquid and as vapor (2, points, n).
    """
    gas, gas_pressure, space = gases
    p_amb, pressure = zones.nozzle.pressure, phases.pressure
    if zones.gas is not None:
        pressure = pressure + gas_pressure
    gauge = pressure - p_amb
    over_pressure, *tabulated = zones.fluxes.at(pressure)
    gas_flux = None
    if zones.gas is not None:
        flux, gas_flux = _mixture(zones, phases, gas_pressure, gas / space)
    else:
        flux = pressure * over_pressure * eased(gauge)
        if vapor is not None:
            flux = flux * np.sqrt(phases.saturated_volume / phases.volumes[1])
            flux = flux * (1.0 + (vapor.choked_flux - 1.0) * share_of_choking(pressure, p_amb))
    valves = zones.valves
    lifts = dict(zip(valves.which, valves.lift(gauge), strict=True)) if valves.which else {}
    through, gas_flow = np.zeros((2, len(zones.lines), *pressure.shape))
    outflows = np.zeros((2, *pressure.shape))
    as_liquid, as_vapor = outflows
    for j, (line, covered) in enumerate(zip(zones.lines, zones.covered(phases.filled), strict=True)):
        area = zones.area[j] * lifts[j] if j in lifts else zones.area[j]
        for_vapor, for_liquid = (None, None) if line is None else (tabulated.pop(0), tabulated.pop(0))
        some_liquid, some_vapor = zones.passes[j]
        if some_liquid:
            head, wet_area = levels.level - zones.height[j], area
            if some_vapor:
                head, wet_area = np.where(covered > 0, head, 0.0), area * covered
            through[j] = wet_area * _liquid(zones, j, pressure, phases, head, for_liquid)
            as_liquid += through[j]
        if some_vapor:
            dry_area = area * (1.0 - covered) if some_liquid else area
            if for_vapor is not None:
                dry_area = dry_area * for_vapor
            flow = dry_area * flux
            through[j] += flow
            as_vapor += flow
            if gas_flux is not None:
                gas_flow[j] = dry_area * gas_flux
    for of_liquid, rate in zip(zones.transfer_liquid, zones.transfer_rates, strict=True):
        outflows[0 if of_liquid else 1] -= rate
    return through, gas_flow, outflows


def _liquid(
    zones: Zones,
    j: int,
    pressure: FloatArray,
    phases: Phases,
    head: FloatArray,
    coefficient: FloatArray | None,
) -> FloatArray:
    """Flux of liquid through opening j under `head` [m], in kg/m2/s; `coefficient` is that of a line."""
    line, density = zones.lines[j], 1.0 / phases.volumes[0]
    if line is None:
        drive = driving_pressure(density, pressure, zones.nozzle.pressure, head)
    else:
        drive = line.liquid_drive(density, pressure, head, coefficient)
    return flux_driven_by(drive, density) * eased(drive)


def _mixture(
    zones: Zones, phases: Phases, gas_pressure: FloatArray, gas_density: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Flux of vapor and of gas; negative of gas where air comes in."""
    assert zones.gas is not None
    p_amb = zones.nozzle.pressure
    choked_flux, heat_capacity = phases.further[:2]
    mixture = mixture_flux(
        zones.gas,
        vapor_pressure=phases.pressure,
        vapor_density=1.0 / phases.saturated_volume,
        vapor_heat_capacity=heat_capacity,
        vapor_constant=zones.table.gas_constant,
        vapor_choked_flux=choked_flux,
        gas_pressure=gas_pressure,
        gas_density=gas_density,
        back_pressure=p_amb,
    )
    if not zones.air_enters:
        return mixture
    enters = inflow_flux(zones.gas, zones.air_temperature, p_amb, phases.pressure + gas_pressure)
    return mixture.vapor, mixture.gas - enters
