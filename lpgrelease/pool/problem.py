"""What a march of pools needs and keeps: frozen arrays, time first, scenarios last."""

from __future__ import annotations

import dataclasses

from lpgrelease.pool.blend import BlendLiquid
from lpgrelease.pool.burn import PoolFlame
from lpgrelease.pool.changing import ChangingSurface
from lpgrelease.pool.evaporate import PoolSurface
from lpgrelease.pool.level import Room
from lpgrelease.pool.liquid import LiquidState, PureLiquid
from lpgrelease.quantities import FloatArray

__all__ = ["PoolProblem", "PoolState", "PoolTrack"]


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class PoolProblem:
    """What a march needs; every array has shape (scenarios,), those of the feed (nodes, scenarios)."""

    liquid: PureLiquid | BlendLiquid
    surface: PoolSurface
    room: Room | None
    """None is open ground."""
    vapor_fill: FloatArray | None
    """None where no hollow holds calm vapor."""
    minimum_depth: FloatArray
    kinematic_viscosity: FloatArray
    sides_near: FloatArray
    """Conductivity of the ground at the pool's temperature [W/m/K]; 0 leaves out the heat from beside."""
    sides_far: FloatArray
    """Integral of the conductivity from the pool's boiling point to the undisturbed ground [W/m]."""
    landing_temperature: FloatArray
    initial_mass: FloatArray
    fed: FloatArray
    """Liquid that has reached the ground since the start, but for what was let go at once [kg]."""
    fed_enthalpy: FloatArray
    """Its enthalpy [J]."""
    feed_end: FloatArray
    initial_parts: FloatArray | None = None
    fed_parts: FloatArray | None = None
    """The same by components, for a blend: (components, scenarios), (components, nodes, scenarios) [kg]."""
    flame: PoolFlame | None = None
    """None where no pool is ever lit."""
    changing: ChangingSurface | None = None
    """None where the weather holds."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class PoolState:
    """Pools at a node."""

    mass: FloatArray
    area: FloatArray
    """Of the surface [m2]."""
    wetted: FloatArray
    """Of the ground under it [m2]."""
    film: FloatArray
    """Logarithm of x = ln(1 / (1 - p_s / p)), where the last step ended."""
    film_trend: FloatArray
    """Its change over the last step."""
    evaporation: FloatArray
    """Mean of the last step [kg/s]; where the search for the next begins."""
    liquid: LiquidState
    parts: FloatArray | None = None
    """Masses of the components of a blend, (components, scenarios) [kg]."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class PoolTrack:
    """History at the nodes, (nodes, scenarios), and the time the pool was gone for good."""

    mass: FloatArray
    area: FloatArray
    lying: FloatArray
    """Area on which liquid lies; where all that is fed is gone at once, the part of the area that takes."""
    wetted: FloatArray
    density: FloatArray
    temperature: FloatArray
    evaporated: FloatArray
    overflow: FloatArray
    heat_ground: FloatArray
    heat_beside: FloatArray
    heat_air: FloatArray
    heat_longwave: FloatArray
    heat_sun: FloatArray
    heat_frost: FloatArray
    ice: FloatArray
    energy_error: FloatArray
    """Imbalance since the start [J]."""
    energy_scale: FloatArray
    """Sum of the sizes of all heats since the start [J]."""
    gone_at: FloatArray
    parts: FloatArray | None = None
    parts_evaporated: FloatArray | None = None
    parts_overflow: FloatArray | None = None
    """Of a blend, (nodes, components, scenarios) [kg]; without what burned."""
    burned: FloatArray | None = None
    parts_burned: FloatArray | None = None
    heat_flame: FloatArray | None = None
    """None where no pool is ever lit."""
