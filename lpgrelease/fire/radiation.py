"""`Fire`: what every fire is to those who stand near it, and how far away they should stand."""

from __future__ import annotations

import math
from typing import Any, Final, NamedTuple

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.fire.air import transmissivity_wayne, wayne_coefficients
from lpgrelease.fire.harm import time_to_harm
from lpgrelease.fire.point import point_source_flux
from lpgrelease.fire.view_factor import Flame, Vector, inside_flame, view_factor
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.results import Result, plain, quantity, result
from lpgrelease.weather import Weather

__all__ = ["CAUTIONS", "RADIATION_MODELS", "Fire", "Source", "incident_flux"]

RADIATION_MODELS: Final = ("solid flame", "point source")
BLOCK = 16384
"""Targets worked on at once, so that their arrays stay in the processor's cache."""
_DIRECTIONS: Final = {"downwind": (1.0, 0.0), "crosswind": (0.0, 1.0), "upwind": (-1.0, 0.0)}
_FACINGS: Final = ("flame", "axis", "up")
_SCAN = 24
_STEPS = 90
_CLOSE = 1e-12

CAUTIONS: Final = (
    "An estimate, not an instruction: the radiated fraction alone moves a distance by a sixth up or down, "
    "gusts bend a flame further than the mean wind, and a container may fail without warning.",
    "Protective clothing, shade, and the rules of the authority in charge decide who may stand where and "
    "for how long; the fluxes are those on bare skin or bare steel.",
)


class Source(NamedTuple):
    """What radiates, and the air before it: SI arrays of one dimension."""

    flame: Flame
    emissive_power: FloatArray
    """Of the flame's surface [W/m2]."""
    radiated_power: FloatArray
    """Of the whole flame [W]."""
    water: FloatArray
    carbon_dioxide: FloatArray
    """Decimal logarithms of the amounts in 1 m of air."""


@result
class Fire(Result):
    """A fire and the heat it sends out; base of pool fires, pits and flares.

    Distances are measured level from the fire's axis: the middle of a pool or the foot of a flare.
    """

    heat_release_rate: FloatArray = quantity("W", "heat of combustion set free")
    radiated_fraction: FloatArray = quantity("", "share of that heat that is radiated")
    flame_length: FloatArray = quantity("m", "length of the flame along its axis, lift-off not included")
    flame_tilt: FloatArray = quantity("rad", "lean of the flame from the vertical, downwind")
    surface_emissive_power: FloatArray = quantity("W/m**2", "radiation from each area of the flame's surface")
    radiated_power: FloatArray = quantity("W", "radiation from the whole flame")
    flame: Flame = plain("ends of the flame: positions and radii [m]")
    weather: Weather = plain("air, wind and moisture")
    radiation: str = plain("how heat is sent out", default="solid flame")
    cautions: tuple[str, ...] = plain("what to bear in mind", default=CAUTIONS)

    def heat_flux(
        self,
        distance: QuantityLike,
        *,
        direction: QuantityLike = "downwind",
        height: QuantityLike = 0.0,
        facing: Any = "flame",
    ) -> FloatArray:
        """Heat flux that a small surface receives from the flame [W/m2].

        Parameters
        ----------
        distance : number, array or quantity
            Level, from the fire's axis [m], 0 or more.
        direction : {"downwind", "crosswind", "upwind"} or number, array or quantity
            From the axis to the surface; as an angle from downwind [rad].
        height : number, array or quantity
            Of the surface above the ground [m].
        facing : {"flame", "axis", "up"} or pair of number, array or quantity
            What the surface looks at: the flame's middle as seen from there (the most it can get, but where
            the flame leans overhead), the fire's axis (an upright surface), the sky (a level one); or
            its normal as an azimuth from downwind and an elevation above the horizon [rad].

        Returns
        -------
        float or ndarray
            Of the shape to which the arguments and the fire's scenarios broadcast.

        Raises
        ------
        InputError, OutOfRangeError
            Not a number of that kind, negative, shapes that do not broadcast, an unknown word.

        Notes
        -----
        Solid flame: q = E F tau; point source: q = X tau cos(angle)/(4 pi r^2) from the middle of
        the flame's axis. tau is Wayne's, over the shortest way from the flame. In the flame itself the flux
        is its surface emissive power; what hot gas brings on top is left out.

        Examples
        --------
        >>> import lpgrelease as lr
        >>> from lpgrelease.fire import pool_fire
        >>> fire = pool_fire(lr.Fluid("propane"), diameter=4.0, weather=lr.Weather(wind_speed=3.0))
        >>> [f"{q:.0f}" for q in fire.heat_flux([10.0, 20.0, 40.0])]
        ['28065', '5706', '891']
        """
        shape, source, targets = self._gather(distance, direction, height, facing)
        flux = _in_blocks(source, targets, self.radiation, int(np.prod(shape)))
        return flux.reshape(shape)[()]

    def standoff(
        self,
        heat_flux: QuantityLike,
        *,
        direction: QuantityLike = "downwind",
        height: QuantityLike = 0.0,
        facing: Any = "flame",
    ) -> FloatArray:
        """Farthest distance from the fire's axis at which a heat flux is reached [m].

        Parameters
        ----------
        heat_flux : number, array or quantity
            [W/m2], above zero.
        direction, height, facing
            As for :meth:`heat_flux`.

        Returns
        -------
        float or ndarray
            0 where the flux is nowhere that high.

        Raises
        ------
        InputError, OutOfRangeError
            As for :meth:`heat_flux`.

        Notes
        -----
        Beyond the reach of the flame's tip the flux falls with distance, and the distance lies between there
        and where even a black sky of flame could not give it; within, 24 points are looked at from outside
        in. Each scenario then closes in on its own until the flux agrees to 1e-12.
        """
        wanted = to_si(heat_flux, "W/m**2", "heat_flux", lower=0.0, open_lower=True)
        shape, source, targets = self._gather(wanted, direction, height, facing, name="heat_flux")
        found = _find_distance(source, targets, self.radiation, int(np.prod(shape)))
        return found.reshape(shape)[()]

    def time_to_harm(
        self,
        distance: QuantityLike,
        *,
        harm: str = "pain",
        direction: QuantityLike = "downwind",
        height: QuantityLike = 0.0,
        extrapolate: bool = False,
    ) -> FloatArray:
        """Time for which a person may stay: until bare skin facing the flame comes to harm [s].

        Parameters
        ----------
        distance, direction, height
            As for :meth:`heat_flux`.
        harm : {"pain", "second-degree burn"}
            What is reached; see :func:`lpgrelease.time_to_harm`.
        extrapolate : bool
            Leave the published table of 1 to 12 kW/m2: infinite below it, prolonged above it, with a warning.

        Returns
        -------
        float or ndarray

        Raises
        ------
        InputError, OutOfRangeError
            As for :meth:`heat_flux`; a flux outside the table without `extrapolate`.
        """
        flux = self.heat_flux(distance, direction=direction, height=height)
        return time_to_harm(flux, harm=harm, extrapolate=extrapolate)

    def _gather(
        self,
        distance: QuantityLike,
        direction: QuantityLike,
        height: QuantityLike,
        facing: Any,
        name: str = "distance",
    ) -> tuple[tuple[int, ...], Source, _Targets]:
        """Broadcast scenarios and targets; single numbers stay single."""
        first = to_si(distance, "m" if name == "distance" else "W/m**2", name, lower=0.0)
        cosine, sine = _direction(direction)
        normal = _facing(facing, cosine, sine)
        water, carbon_dioxide = wayne_coefficients(self.weather)
        arrays = {name: first, "direction": cosine, "sine": sine, "height": to_si(height, "m", "height")}
        arrays |= {f"flame {field}": value for field, value in zip(Flame._fields, self.flame, strict=True)}
        arrays |= {"emissive": self.surface_emissive_power, "power": self.radiated_power}
        arrays |= {"water": water, "carbon_dioxide": carbon_dioxide}
        arrays |= {f"facing {i}": part for i, part in enumerate(normal or ())}
        shaped = broadcast(**arrays)
        flat = [
            np.asarray(own, dtype=float).reshape(1) if np.size(own) == 1 else np.ravel(full)
            for own, full in zip(arrays.values(), shaped, strict=True)
        ]
        source = Source(Flame(*flat[4:11]), *flat[11:15])
        facing_flat = (flat[15], flat[16], flat[17]) if normal else None
        return shaped[0].shape, source, _Targets(flat[0], flat[1], flat[2], flat[3], facing_flat)


class _Targets(NamedTuple):
    """Where and how surfaces stand: SI arrays of one dimension."""

    distance: FloatArray
    cosine: FloatArray
    sine: FloatArray
    height: FloatArray
    normal: Vector | None


def _direction(direction: QuantityLike) -> tuple[FloatArray, FloatArray]:
    if isinstance(direction, str):
        if direction not in _DIRECTIONS:
            raise InputError(f"direction must be an angle or {', '.join(_DIRECTIONS)}; got {direction!r}")
        cosine, sine = _DIRECTIONS[direction]
        return np.float64(cosine), np.float64(sine)  # type: ignore[return-value]
    angle = np.atleast_1d(to_si(direction, "rad", "direction"))
    shape = np.shape(direction) if not hasattr(direction, "magnitude") else np.shape(direction.magnitude)
    return np.cos(angle).reshape(shape), np.sin(angle).reshape(shape)


def _facing(facing: Any, cosine: FloatArray, sine: FloatArray) -> Vector | None:
    if isinstance(facing, str):
        if facing == "flame":
            return None
        if facing == "axis":
            return -cosine, -sine, np.zeros(())
        if facing == "up":
            return np.zeros(()), np.zeros(()), np.ones(())
        raise InputError(f"facing must be a pair of angles or {', '.join(_FACINGS)}; got {facing!r}")
    try:
        azimuth, elevation = facing
    except (TypeError, ValueError) as error:
        raise InputError(f"facing must be one word or a pair of angles; got {facing!r}") from error
    a, e = (
        np.asarray(to_si(azimuth, "rad", "facing azimuth")),
        np.asarray(to_si(elevation, "rad", "facing elevation", lower=-0.5 * math.pi, upper=0.5 * math.pi)),
    )
    return np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)


def _part(array: FloatArray, block: slice | np.ndarray) -> FloatArray:
    return array if array.size == 1 else array[block]


def _take(source: Source, targets: _Targets, block: slice | np.ndarray) -> tuple[Source, _Targets]:
    """Take the scenarios and targets of one block."""
    flame = Flame(*(_part(a, block) for a in source.flame))
    normal = targets.normal and (
        _part(targets.normal[0], block),
        _part(targets.normal[1], block),
        _part(targets.normal[2], block),
    )
    return (
        Source(flame, *(_part(a, block) for a in source[1:])),
        _Targets(
            _part(targets.distance, block),
            _part(targets.cosine, block),
            _part(targets.sine, block),
            _part(targets.height, block),
            normal,
        ),
    )


def _in_blocks(source: Source, targets: _Targets, model: str, count: int) -> FloatArray:
    flux = np.empty(count)
    for start in range(0, count, BLOCK):
        block = slice(start, min(start + BLOCK, count))
        flux[block] = incident_flux(*_take(source, targets, block), model)
    return flux


def incident_flux(source: Source, targets: _Targets, model: str) -> FloatArray:
    """Heat flux on the targets [W/m2]; arrays of one dimension that broadcast, unchecked."""
    x, y, z = targets.distance * targets.cosine, targets.distance * targets.sine, targets.height
    x, y, z = np.broadcast_arrays(x, y, z)
    flame = source.flame
    if model == "point source":
        return _from_point(source, x, y, z, targets.normal)
    seen = view_factor(x, y, z, flame, targets.normal)
    tau = transmissivity_wayne(source.water, source.carbon_dioxide, _path(x, y, z, flame))
    return source.emissive_power * np.where(seen < 1.0, seen * tau, 1.0)


def _path(x: FloatArray, y: FloatArray, z: FloatArray, flame: Flame) -> FloatArray:
    """Shortest way from the flame to a target: to the nearest point of its axis, less the radius there."""
    along_x, along_z = flame.tip_x - flame.base_x, flame.tip_z - flame.base_z
    from_x, from_z = x - flame.base_x, z - flame.base_z
    part = (from_x * along_x + from_z * along_z) / (along_x * along_x + along_z * along_z)
    part = np.minimum(np.maximum(part, 0.0), 1.0)
    off_x, off_z = from_x - part * along_x, from_z - part * along_z
    radius = flame.base_radius + part * (flame.tip_radius - flame.base_radius)
    return np.sqrt(off_x * off_x + y * y + off_z * off_z) - radius


def _from_point(
    source: Source, x: FloatArray, y: FloatArray, z: FloatArray, normal: Vector | None
) -> FloatArray:
    flame = source.flame
    to_x, to_y = 0.5 * (flame.base_x + flame.tip_x) - x, -y
    to_z = 0.5 * (flame.base_z + flame.tip_z) - z
    distance = np.sqrt(np.maximum(to_x * to_x + to_y * to_y + to_z * to_z, 1e-12))
    facing: FloatArray | float = 1.0
    if normal is not None:
        facing = (normal[0] * to_x + normal[1] * to_y + normal[2] * to_z) / distance
        facing = np.maximum(facing, 0.0)
    tau = transmissivity_wayne(source.water, source.carbon_dioxide, distance)
    flux = facing * point_source_flux(source.radiated_power, distance, tau)
    return np.where(inside_flame(x, y, z, flame), source.emissive_power, flux)


def _find_distance(source: Source, targets: _Targets, model: str, count: int) -> FloatArray:
    found = np.empty(count)
    for start in range(0, count, BLOCK):
        block = slice(start, min(start + BLOCK, count))
        part, goal = _take(source, targets, block)
        found[block] = _farthest(part, goal, model, block.stop - block.start)
    return found


def _farthest(source: Source, targets: _Targets, model: str, count: int) -> FloatArray:
    """Outermost distance at which the flux comes to the wanted one (given in place of the distance)."""
    wanted, flame = np.broadcast_to(targets.distance, (count,)), source.flame
    reach = np.maximum(
        np.abs(flame.base_x) + flame.base_radius, np.abs(flame.tip_x) + flame.tip_radius
    ) + np.zeros(count)
    outside = reach + np.sqrt(source.radiated_power / (math.pi * wanted))
    low, high = reach, outside
    enough = _misses(source, targets, model, wanted, reach) <= 0.0
    if not enough.all():
        near = np.flatnonzero(~enough)
        low, high = low.copy(), high.copy()
        low[near], high[near] = _scan(*_take(source, targets, near), model, wanted[near], reach[near])
    return _close_in(source, targets, model, wanted, low, high)


def _misses(
    source: Source, targets: _Targets, model: str, wanted: FloatArray, distance: FloatArray
) -> FloatArray:
    """Positive where the flux is below the wanted one; close to a straight line in distance."""
    flux = incident_flux(source, targets._replace(distance=distance), model)
    return np.sqrt(wanted / np.maximum(flux, 1e-12 * wanted)) - 1.0


def _scan(
    source: Source, targets: _Targets, model: str, wanted: FloatArray, reach: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Look from the flame's reach inward; both ends of the bracket are 0 where nothing was found."""
    low, high = np.zeros_like(reach), np.zeros_like(reach)
    open_ = np.ones(reach.shape, dtype=bool)
    for i in range(_SCAN - 1, -1, -1):
        here = reach * (i / _SCAN)
        hit = open_ & (_misses(source, targets, model, wanted, here) <= 0.0)
        low, high = np.where(hit, here, low), np.where(hit, reach * ((i + 1) / _SCAN), high)
        open_ &= ~hit
        if not open_.any():
            break
    return low, high


def _close_in(
    source: Source,
    targets: _Targets,
    model: str,
    wanted: FloatArray,
    low: FloatArray,
    high: FloatArray,
) -> FloatArray:
    """Root of `_misses` between `low` and `high`: secants kept in the bracket, every third step halves."""
    low, high = low.copy(), high.copy()
    at_low = _misses(source, targets, model, wanted, low)
    at_high = _misses(source, targets, model, wanted, high)
    active = np.flatnonzero(high > low)
    for step in range(_STEPS):
        if not active.size:
            break
        a, b, fa, fb = low[active], high[active], at_low[active], at_high[active]
        cut = b - fb * (b - a) / np.where(fb == fa, 1.0, fb - fa)
        middle = 0.5 * (a + b)
        new = middle if step % 3 == 2 else np.where((cut > a) & (cut < b), cut, middle)
        part, goal = _take(source, targets, active)
        value = _misses(part, goal, model, wanted[active], new)
        near = value <= 0.0
        low[active], at_low[active] = np.where(near, new, a), np.where(near, value, fa)
        high[active], at_high[active] = np.where(near, b, new), np.where(near, fb, value)
        done = (np.abs(value) < _CLOSE) | (high[active] - low[active] <= 4e-16 * high[active])
        low[active] = np.where(done, new, low[active])
        active = active[~done]
    return low
