"""What a frozen plug carries, and how long it lasts once nothing cools it."""

from __future__ import annotations

from typing import Final

import numpy as np

from lpgrelease.constants import FREEZING_POINT_OF_WATER
from lpgrelease.freeze_seal import ice
from lpgrelease.freeze_seal.cloth import SealCase
from lpgrelease.freeze_seal.cold import Cold
from lpgrelease.quantities import FloatArray

__all__ = [
    "HALVINGS",
    "holding_pressure",
    "holding_time",
    "laying_pressure",
    "patch_area",
    "plate_pressures",
    "resisting_force",
]

HALVINGS: Final = 44
"""Halvings of an interval: to 1e-13 of its width."""


def patch_area(case: SealCase) -> FloatArray:
    """Area the pressure acts on: hole and unbonded width [m2]."""
    area: FloatArray = np.pi * (case.radius + case.unbonded_width) * (case.radius + case.unbonded_width)
    return area


def resisting_force(case: SealCase) -> FloatArray:
    """Bond strength of the rim [N]."""
    outer = np.pi * (case.radius + case.overlap) * (case.radius + case.overlap)
    strength = ice.ICE_ADHESION[0] * ice.scatter_reduction(case.failure_probability)
    force: FloatArray = strength * (outer - patch_area(case))
    return force


def plate_pressures(case: SealCase, thickness: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Pressures at which a plug of this thickness cracks in bending, and peels from the wall [Pa]."""
    reduction = ice.scatter_reduction(case.failure_probability)
    patch = case.radius + case.unbonded_width
    bending = ice.bending_pressure(thickness, patch, ice.ICE_TENSILE_STRENGTH[0] * reduction)
    return bending, ice.blister_pressure(thickness, patch, ice.ICE_FRACTURE_TOUGHNESS[0] * reduction)


def holding_pressure(case: SealCase, thickness: FloatArray) -> FloatArray:
    """Least of the pressures at which a frozen plug of this thickness gives way [Pa]."""
    bending, peeling = plate_pressures(case, thickness)
    return np.minimum(np.minimum(bending, peeling), resisting_force(case) / patch_area(case))


def laying_pressure(case: SealCase) -> FloatArray:
    """Capillary pressure that the water in the widest pores withstands [Pa]."""
    return 4.0 * ice.water_surface_tension(case.water_temperature) / case.pore_diameter


def holding_time(case: SealCase, cold: Cold, pressure: FloatArray) -> FloatArray:
    """Time for the air to thin the plug to what the pressure just leaves standing [s]."""
    low, high = np.zeros_like(case.thickness), np.array(case.thickness)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        holds = holding_pressure(case, middle) >= pressure
        low, high = np.where(holds, low, middle), np.where(holds, middle, high)
    spare = case.thickness - high
    latent = case.porosity * ice.WATER_DENSITY * ice.ICE_LATENT_HEAT
    time = ice.melting_time(
        spare, case.air_temperature, heat_transfer=case.outside_heat_transfer, volumetric_heat=latent
    )
    stands = np.isfinite(cold.freeze_time) & (cold.tank_temperature < FREEZING_POINT_OF_WATER)
    stands &= holding_pressure(case, case.thickness) >= pressure
    return np.where(stands, time, 0.0)
