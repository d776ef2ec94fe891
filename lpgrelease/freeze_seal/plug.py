"""The frozen plug as a load-bearing body: what it carries at a thickness, and how long the air leaves it."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from lpgrelease.freeze_seal import ice, strength
from lpgrelease.halving import halved
from lpgrelease.quantities import FloatArray
from lpgrelease.results import Result, in_unit, quantity, result

__all__ = ["HALVINGS", "Limits", "Plug", "air_holding_time", "holding_pressure", "limits"]

HALVINGS: Final = 44
"""Halvings of an interval: to 1e-13 of its width."""


@result
class Plug(Result):
    """A cloth once it is frozen; every field has the shape of the assessment."""

    thickness: FloatArray = quantity("m", "when just frozen")
    patch_radius: FloatArray = quantity("m", "of what the pressure acts on: hole and unbonded width")
    outer_radius: FloatArray = quantity("m", "of the cloth")
    head_pressure: FloatArray = quantity("Pa", "of the liquid standing above the hole")
    latent_heat: FloatArray = quantity("J/m**3", "to melt a volume of plug")
    conductivity: FloatArray = quantity("W/m/K", "across the plug")
    freezing_temperature: FloatArray = quantity("K", "of its water")
    outside_heat_transfer: FloatArray = quantity("W/m**2/K", "from the air, radiation included")
    scatter_reduction: FloatArray = quantity("", "of strength, to a small probability of failure")
    salt_reduction: FloatArray = quantity("", "of strength, by brine in the ice")

    @property
    @in_unit("m**2")
    def patch_area(self) -> FloatArray:
        """Area the pressure acts on [m2]."""
        area: FloatArray = np.pi * self.patch_radius * self.patch_radius
        return area

    @property
    @in_unit("m**2")
    def bonded_area(self) -> FloatArray:
        """Area of the bonded rim [m2]."""
        return np.pi * self.outer_radius * self.outer_radius - self.patch_area


class Limits(NamedTuple):
    """Pressures at which a plug gives way, one way each [Pa]."""

    bending: FloatArray
    peeling: FloatArray
    rim: FloatArray

    @property
    def least(self) -> FloatArray:
        """The one that comes first."""
        return np.minimum(np.minimum(self.bending, self.peeling), self.rim)


def limits(plug: Plug, thickness: FloatArray, *, favorable: bool = False) -> Limits:
    """Pressures at which a plug of this thickness gives way.

    By the low ends of published strengths lowered for scatter; `favorable`: by the high ends as they are.
    Salt weakens both.
    """
    end = 1 if favorable else 0
    factor = plug.salt_reduction * (1.0 if favorable else plug.scatter_reduction)
    tensile = strength.ICE_TENSILE_STRENGTH[end] * factor
    toughness = strength.ICE_FRACTURE_TOUGHNESS[end] * factor
    bond = strength.ICE_ADHESION[end] * factor
    return Limits(
        strength.bending_pressure(thickness, plug.patch_radius, tensile),
        strength.blister_pressure(thickness, plug.patch_radius, toughness),
        bond * plug.bonded_area / plug.patch_area,
    )


def holding_pressure(plug: Plug, thickness: FloatArray, *, favorable: bool = False) -> FloatArray:
    """Least of the pressures at which a plug of this thickness gives way [Pa], head included."""
    return limits(plug, thickness, favorable=favorable).least


def thinnest(plug: Plug, pressure: FloatArray) -> FloatArray:
    """Thickness below which the plug does not carry `pressure` [m]; its own where it never does."""
    low, high = np.zeros_like(plug.thickness + pressure), plug.thickness + np.zeros_like(pressure)
    return halved(lambda thick: ~(holding_pressure(plug, thick) >= pressure), low, high, HALVINGS)[1]


def air_holding_time(plug: Plug, pressure: FloatArray, air_temperature: FloatArray) -> FloatArray:
    """Time for the air to thin an uncooled plug to what the pressure just leaves standing [s]."""
    time = ice.melting_time(
        plug.thickness - thinnest(plug, pressure),
        air_temperature,
        heat_transfer=plug.outside_heat_transfer,
        volumetric_heat=plug.latent_heat,
        freezing_temperature=plug.freezing_temperature,
    )
    return np.where(holding_pressure(plug, plug.thickness) >= pressure, time, 0.0)
