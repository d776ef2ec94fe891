"""`TiltedTank`: a tank that lies askew or leans, and where on its shell an opening sits.

Turning a tank about its own axis moves its openings and nothing else. Raising one end moves the liquid too:
the surface stays level while the shell turns under it. Levels are measured from what is then lowest.
"""

from __future__ import annotations

import math
from typing import Final, TypeAlias

import numpy as np

from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.results import in_unit, quantity, result
from lpgrelease.tank.oblique import (
    head_highest,
    head_radius,
    head_volume,
    head_wetted_area,
    shell_below,
)
from lpgrelease.tank.shapes import HorizontalTank, SphericalTank, Tank, VerticalTank, _Cylinder

__all__ = ["TiltedTank", "opening_height", "tilt"]

_RIGHT_ANGLE: Final = 0.5 * math.pi
_SEARCH_STEPS: Final = 6
_TINY: Final = 1e-300
_BELOW_DIGITS: Final = 1e-15
"""Share of the volume that a tilted tank's levels do not resolve: there the power law itself serves."""
_LADDER: Final = (0.02, 0.1, 0.3, 0.65, 1.0)
"""Levels, over half the height, between which the first guess of a level is drawn."""


_Rows: TypeAlias = tuple[FloatArray, FloatArray, FloatArray]


@result
class TiltedTank(_Cylinder):
    """A cylinder with two like heads whose axis is at any angle to the level.

    Everything that other tanks offer it offers; a level is measured straight up from the lowest inside point.

    Parameters
    ----------
    diameter, length, heads, wall_mass, wall_heat_capacity, heat_transfer, emissivity, absorptivity
        As for :class:`lpgrelease.HorizontalTank`.
    pitch : number, array or quantity
        Angle of the axis over the level [rad], -pi/2 to pi/2: 0 lies, pi/2 stands upright.
    roll : number, array or quantity
        Turn about the axis [rad], -pi to pi, in the sense in which `clock` counts; it moves openings only.

    Raises
    ------
    InputError, OutOfRangeError
        As for :class:`lpgrelease.HorizontalTank`; angles outside their ranges.

    Notes
    -----
    At 0 and pi/2 its volumes are those of the tank that lies and the tank that stands, to round-off. Its wall
    exchanges heat with the weather as a horizontal cylinder of its diameter would, an approximation.

    See Also
    --------
    tilt : the same from a tank that is not tilted.

    Examples
    --------
    >>> import math
    >>> tank = TiltedTank(diameter=2.0, length=6.0, pitch=math.radians(10.0))
    >>> print(f"{tank.height:.3f} m high, {tank.liquid_volume(level=0.5):.3f} m3 below 0.5 m")
    3.019 m high, 0.914 m3 below 0.5 m
    """

    pitch: QuantityLike = quantity("rad", "angle of the axis over the level", default=0.0)
    roll: QuantityLike = quantity("rad", "turn about the axis", default=0.0)

    def __post_init__(self) -> None:
        """Check the angles with the other numbers."""
        pitch = _angle(self.pitch, "pitch", _RIGHT_ANGLE)
        roll = _angle(self.roll, "roll", math.pi)
        object.__setattr__(self, "pitch", pitch)
        object.__setattr__(self, "roll", roll)
        _Cylinder.__post_init__(self)
        broadcast(diameter=self.diameter, length=self.length, pitch=pitch, roll=roll)

    @property
    @in_unit("m")
    def height(self) -> FloatArray:
        """Inside height, the highest level [m]."""
        C, S = self._directions()
        return self.length * S + 2.0 * self.diameter * head_highest(self._head, C, S)  # type: ignore[no-any-return]

    def level_at(self, liquid_volume: FloatArray) -> FloatArray:
        """Level that a volume reaches; raw.

        Newton's method inside a shrinking bracket on volume^(2/3), always the same number of steps, from a
        straight line between a few levels of known volume; below the lowest of them from a power law.
        """
        C, S = self._directions()
        total, top = self.volume, 0.5 * self._height(C, S)
        is_upper = liquid_volume > 0.5 * total
        sought = np.maximum(np.where(is_upper, total - liquid_volume, liquid_volume), 0.0)
        target = _root(sought)
        low, high, guess = self._first_bracket(sought, target, top, (C, S))
        h = guess
        for _ in range(_SEARCH_STEPS):
            volume, surface = self._below(h, C, S)
            root = _root(volume)
            excess = root - target
            low, high = np.where(excess < 0.0, h, low), np.where(excess < 0.0, high, h)
            steep = np.where(surface > 0.0, surface, 1.0)
            trial = h - 1.5 * np.sqrt(root) * excess / steep
            keeps = (trial >= low) & (trial <= high) & (surface > 0.0)
            h = np.where(keeps, trial, 0.5 * (low + high))
        h = np.where(sought > _BELOW_DIGITS * total, h, guess)
        return np.where(is_upper, 2.0 * top - h, h)[()]

    def _first_bracket(
        self,
        volume: FloatArray,
        target: FloatArray,
        top: FloatArray,
        direction: tuple[FloatArray, FloatArray],
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Levels below and above the one sought, and a guess between them."""
        first = _LADDER[0] * top
        least, surface = self._below(first, *direction)
        is_beyond = volume > least
        exponent = first * surface / np.maximum(least, _TINY)
        share = np.minimum(volume / np.maximum(least, _TINY), 1.0)
        guess = first * np.power(share, 1.0 / np.maximum(exponent, 0.5))
        low, high = np.where(is_beyond, first, 0.0), np.where(is_beyond, top, first)
        below, before = _root(least), first
        levels = np.array([rung * top for rung in _LADDER[1:]])
        for level, there in zip(levels, _root(self._below(levels, *direction)[0]), strict=True):
            line = before + (level - before) * (target - below) / np.maximum(there - below, _TINY)
            is_here = (target > below) & (target <= there)
            guess = np.where(is_here, line, guess)
            low, high = np.where(target > there, level, low), np.where(is_here, level, high)
            below, before = there, level
        return low, high, np.minimum(np.maximum(guess, low), high)

    def _directions(self) -> tuple[FloatArray, FloatArray]:
        """Cosine and sine of the pitch, both ends being alike."""
        steep = np.abs(self.pitch)
        return np.maximum(np.cos(steep), 0.0), np.sin(steep)

    def _height(self, C: FloatArray, S: FloatArray) -> FloatArray:
        return self.length * S + 2.0 * self.diameter * head_highest(self._head, C, S)  # type: ignore[no-any-return]

    def _lower_half(self, h: FloatArray) -> tuple[FloatArray, FloatArray]:
        return self._below(h, *self._directions())

    def _lower_wetted(self, h: FloatArray) -> FloatArray:
        return self._wetted(*self._shell(h, *self._directions()))

    def _lower(self, h: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        shell, ends = self._shell(h, *self._directions())
        return *self._filled(shell, ends), self._wetted(shell, ends)

    def _below(self, h: FloatArray, C: FloatArray, S: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Volume below h and the free surface there, the pitch's cosine and sine known."""
        return self._filled(*self._shell(h, C, S))

    def _shell(self, h: FloatArray, C: FloatArray, S: FloatArray) -> tuple[_Rows, _Rows]:
        """Return what `shell_below` says of the shell below h, and level and slope as the heads see them."""
        length = self.length / self.diameter
        level = h / self.diameter - (0.5 * length * S + head_highest(self._head, C, S))
        return shell_below(length, level, C, S), _both_ends(length, level, C, S)

    def _filled(self, shell: _Rows, ends: _Rows) -> tuple[FloatArray, FloatArray]:
        D, (volume, surface, _) = self.diameter, shell
        if self._head.depth > 0.0:
            (upper, lower), (upper_surface, lower_surface) = head_volume(self._head, *ends)
            volume, surface = volume + (upper + lower), surface + (upper_surface + lower_surface)
        return D * D * D * np.maximum(volume, 0.0), D * D * surface

    def _wetted(self, shell: _Rows, ends: _Rows) -> FloatArray:
        D, (upper, lower) = self.diameter, head_wetted_area(self._head, *ends)
        return D * D * (shell[2] + (upper + lower))  # type: ignore[no-any-return]


def tilt(tank: Tank, *, pitch: QuantityLike = 0.0, roll: QuantityLike = 0.0) -> Tank:
    """Return the same tank askew.

    Parameters
    ----------
    tank : HorizontalTank, VerticalTank or SphericalTank
    pitch : number, array or quantity
        [rad]. Of a lying tank: its axis over the level. Of a standing tank: its lean from upright. A sphere
        holds the same however it turns, and is returned as it is.
    roll : number, array or quantity
        Turn about the axis [rad].

    Returns
    -------
    Tank
        A :class:`lpgrelease.tank.TiltedTank`, or the sphere.

    Raises
    ------
    InputError, OutOfRangeError
        Another kind of tank, bad angles.

    Examples
    --------
    >>> import math
    >>> from lpgrelease import HorizontalTank, VerticalTank
    >>> tank = tilt(HorizontalTank(diameter=2.0, length=6.0), pitch=math.radians(5.0))
    >>> print(f"{tank.level(liquid_volume=2.0):.3f} m")
    0.547 m
    >>> silo = tilt(VerticalTank(diameter=2.0, length=6.0), pitch=math.radians(3.0))
    >>> print(f"{silo.height:.3f} m")
    6.996 m
    """
    if isinstance(tank, SphericalTank):
        _angle(pitch, "pitch", _RIGHT_ANGLE)
        _angle(roll, "roll", math.pi)
        return tank
    if not isinstance(tank, HorizontalTank | VerticalTank):
        raise InputError(f"tank must be a HorizontalTank, VerticalTank or SphericalTank, got {tank!r}")
    angle, turn = _angle(pitch, "pitch", _RIGHT_ANGLE), _angle(roll, "roll", math.pi)
    if isinstance(tank, VerticalTank):
        # leaning the other way is leaning the same way, half turned about the axis
        turn = np.where(angle < 0.0, turn - np.copysign(math.pi, turn), turn)
        angle = _RIGHT_ANGLE - np.abs(angle)
    return TiltedTank(
        diameter=tank.diameter,
        length=tank.length,
        heads=tank.heads,
        wall_mass=tank.wall_mass,
        wall_heat_capacity=tank.wall_heat_capacity,
        heat_transfer=tank.heat_transfer,
        emissivity=tank.emissivity,
        absorptivity=tank.absorptivity,
        pitch=angle,
        roll=turn,
    )


def opening_height(tank: Tank, *, axial: QuantityLike = 0.0, clock: QuantityLike = 0.0) -> FloatArray:
    """Height of a place on a tank's shell above the tank's lowest inside point.

    Parameters
    ----------
    tank : Tank
        Tilted or not; its own pitch and roll serve.
    axial : number, array or quantity
        Distance from the tank's middle along its axis [m], positive towards the end that `pitch` raises: up
        to half the length on the cylinder, beyond it on a head. At the tip of a head `clock` has no meaning.
        Of a sphere and of an upright tank the axis points straight up.
    clock : number, array or quantity
        Angle about the axis from the top line of the lying shell [rad]: 0 top, pi/2 a side, pi bottom.

    Returns
    -------
    float or ndarray
        [m], ready to be the `height` of an `Opening`.

    Raises
    ------
    InputError, OutOfRangeError
        Beyond the tips of the tank.

    Examples
    --------
    >>> import math
    >>> from lpgrelease import HorizontalTank
    >>> tank = HorizontalTank(diameter=2.0, length=6.0)
    >>> valve = {"axial": 2.5, "clock": 0.0}
    >>> for pitch in (0.0, -10.0, 10.0):
    ...     print(f"{opening_height(tilt(tank, pitch=math.radians(pitch)), **valve):.3f}")
    2.000
    2.060
    2.929
    >>> print(f"{opening_height(tilt(tank, roll=math.pi), **valve):.3f}")
    0.000
    """
    if not isinstance(tank, Tank):
        raise InputError(f"tank must be a tank, got {tank!r}")
    s = to_si(axial, "m", "axial")
    angle = to_si(clock, "rad", "clock")
    if isinstance(tank, SphericalTank):
        place, reach = broadcast(axial=s, half=0.5 * tank.diameter)
        _require_on_shell(place, reach)
        return np.clip(reach + place, 0.0, 2.0 * reach)
    if not isinstance(tank, _Cylinder):
        raise InputError(f"tank must be a horizontal, vertical, spherical or tilted tank, got {tank!r}")
    if isinstance(tank, TiltedTank):
        pitch, roll = tank.pitch, tank.roll
    else:
        pitch, roll = (_RIGHT_ANGLE if isinstance(tank, VerticalTank) else 0.0), 0.0
    place, angle, D, L, pitch, roll = broadcast(
        axial=s, clock=angle, diameter=tank.diameter, length=tank.length, pitch=pitch, roll=roll
    )
    head = tank._head
    _require_on_shell(place, 0.5 * L + head.depth * D)
    beyond = np.clip((np.abs(place) - 0.5 * L) / D, 0.0, head.depth)
    radius = D * head_radius(head, beyond)
    rise = place * np.sin(pitch) + radius * np.cos(angle + roll) * np.maximum(np.cos(pitch), 0.0)
    return np.clip(0.5 * tank.height + rise, 0.0, tank.height)


def _require_on_shell(place: FloatArray, reach: FloatArray) -> None:
    off = np.flatnonzero(np.ravel(np.abs(place) > reach * (1.0 + 1e-12)))
    if off.size:
        value, bound = float(np.ravel(place)[off[0]]), float(np.ravel(reach)[off[0]])
        raise OutOfRangeError("axial", value, "m", -bound, bound, "the tips of the tank")


def _angle(value: QuantityLike, name: str, bound: float) -> FloatArray:
    return to_si(value, "rad", name, lower=-bound, upper=bound, why="an angle in radians")


def _both_ends(
    length: FloatArray, level: FloatArray, C: FloatArray, S: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Level over the base of the upper and of the lower head, C, and S as seen from each; ends first."""
    offset = 0.5 * length * S
    rises = np.array([S, -S]).reshape(2, *(1,) * (np.ndim(level) - np.ndim(S)), *np.shape(S))
    return np.array([level - offset, level + offset]), C, rises


def _root(volume: FloatArray) -> FloatArray:
    """volume^(2/3)."""
    root = np.cbrt(volume)
    return root * root
