"""Shapes of tanks: level, volume, wetted surface, and what their walls hold and take up.

Every shape is alike above and below its middle, so each class gives its lower half and the base
class does the rest. Methods ending in ``_at`` are the inner loop's: SI arrays, elementwise,
unchecked, and the same to the bit whatever else is in the array.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.results import Provenance, Result, in_unit, plain, quantity, result
from lpgrelease.tank.heads import HEADS, Head, segment_area, segment_half_angle
from lpgrelease.weather import (
    PAINT_EMISSIVITY,
    SUNLIT_FRACTION_CYLINDER,
    SUNLIT_FRACTION_SPHERE,
    WHITE_PAINT_ABSORPTIVITY,
    OutsideExchange,
    Weather,
)

__all__ = ["HorizontalTank", "SphericalTank", "Tank", "VerticalTank"]

_ROUND_OFF: Final = 1e-12
_NEWTON_STEPS: Final = 6
_FIELDS: Final[dict[str, tuple[str, float, float, bool, str]]] = {
    "diameter": ("m", 0.0, 100.0, True, "inside diameter"),
    "length": ("m", 0.0, 1000.0, True, "tangent to tangent"),
    "wall_mass": ("kg", 0.0, 1e8, False, "mass of the metal"),
    "wall_heat_capacity": ("J/kg/K", 0.0, 1e4, False, "per mass of metal"),
    "heat_transfer": ("W/K", 0.0, 1e8, False, "overall, from the air to the contents"),
    "emissivity": ("", 0.0, 1.0, False, "a fraction"),
    "absorptivity": ("", 0.0, 1.0, False, "a fraction"),
}


@result
class Tank(Result):
    """What all shapes share; make one of the shapes, not this.

    Levels are measured from the lowest point of the inside, straight up.
    """

    diameter: QuantityLike = quantity("m", "inside diameter")
    wall_mass: QuantityLike = quantity("kg", "mass of the wall", default=0.0)
    wall_heat_capacity: QuantityLike = quantity("J/kg/K", "heat capacity of the wall", default=470.0)
    heat_transfer: QuantityLike | None = quantity("W/K", "overall heat transfer from the air", default=None)
    emissivity: QuantityLike = quantity("", "long-wave emissivity", default=float(PAINT_EMISSIVITY))
    absorptivity: QuantityLike = quantity("", "solar absorptance", default=float(WHITE_PAINT_ABSORPTIVITY))
    provenance: Provenance = plain("where the numbers come from", default=Provenance("vessel as given"))

    def __post_init__(self) -> None:
        """Turn every number into SI arrays and check it."""
        arrays = {}
        for name, (unit, lower, upper, is_open, why) in _FIELDS.items():
            value = getattr(self, name, None)
            if value is None and (name == "heat_transfer" or not hasattr(self, name)):
                continue
            arrays[name] = to_si(value, unit, name, lower=lower, upper=upper, open_lower=is_open, why=why)
            object.__setattr__(self, name, arrays[name])
        broadcast(**arrays)

    @property
    @in_unit("m")
    def height(self) -> FloatArray:
        """Inside height, the highest level [m]."""
        return self.diameter  # type: ignore[no-any-return]

    @property
    @in_unit("m**3")
    def volume(self) -> FloatArray:
        """Inside volume [m3]."""
        raise NotImplementedError

    @property
    @in_unit("m**2")
    def surface_area(self) -> FloatArray:
        """Inside surface, heads included [m2]."""
        raise NotImplementedError

    @property
    @in_unit("J/K")
    def wall_capacity(self) -> FloatArray:
        """Heat the whole wall takes up per kelvin [J/K]."""
        return self.wall_mass * self.wall_heat_capacity  # type: ignore[no-any-return]

    def liquid_volume(self, level: QuantityLike) -> FloatArray:
        """Volume below a level.

        Parameters
        ----------
        level : number, array or quantity
            [m], 0 to the height; a relative excess of 1e-12 passes as round-off.

        Returns
        -------
        float or ndarray
            [m3], of the broadcast shape of tank and level.

        Raises
        ------
        InputError, OutOfRangeError
            Not a length, shapes that do not broadcast, or outside the tank.

        Examples
        --------
        >>> float(round(SphericalTank(diameter=20.0).liquid_volume(level=5.0), 3))
        654.498
        """
        return self.volume_at(_inside(level, "m", "level", self.height, "the tank's inside height"))

    def level(self, liquid_volume: QuantityLike) -> FloatArray:
        """Level that a volume of liquid reaches.

        Parameters
        ----------
        liquid_volume : number, array or quantity
            [m3], 0 to the volume; a relative excess of 1e-12 passes as round-off.

        Returns
        -------
        float or ndarray
            [m] above the lowest point, of the broadcast shape of tank and volume.

        Raises
        ------
        InputError, OutOfRangeError
            Not a volume, shapes that do not broadcast, or more than the tank holds.

        Examples
        --------
        >>> float(round(SphericalTank(diameter=20.0).level(liquid_volume=654.498), 4))
        5.0
        """
        return self.level_at(
            _inside(liquid_volume, "m**3", "liquid_volume", self.volume, "the tank's volume")
        )

    def wetted_area(self, level: QuantityLike) -> FloatArray:
        """Inside surface below a level [m2]; arguments and errors as :meth:`liquid_volume`.

        Examples
        --------
        >>> float(round(SphericalTank(diameter=20.0).wetted_area(level=10.0), 2))
        628.32
        """
        return self.wetted_area_at(_inside(level, "m", "level", self.height, "the tank's inside height"))

    def outside_exchange(self, weather: Weather) -> OutsideExchange:
        """Heat exchange of the bare wall with the weather, per area, prepared for an inner loop."""
        return OutsideExchange.prepare(
            weather,
            self.diameter,
            emissivity=self.emissivity,
            absorptivity=self.absorptivity,
            sunlit_fraction=self._sunlit_fraction(),
        )

    def volume_at(self, level: FloatArray) -> FloatArray:
        """Volume below a level; raw."""
        below = self._lower_half(np.minimum(level, self.height - level))[0]
        return np.where(level > 0.5 * self.height, self.volume - below, below)[()]

    def free_surface_at(self, level: FloatArray) -> FloatArray:
        """Area of the liquid's surface at a level [m2]; raw."""
        return self._lower_half(np.minimum(level, self.height - level))[1]

    def wetted_area_at(self, level: FloatArray) -> FloatArray:
        """Inside surface below a level; raw."""
        below = self._lower_wetted(np.minimum(level, self.height - level))
        return np.where(level > 0.5 * self.height, self.surface_area - below, below)[()]

    def level_at(self, liquid_volume: FloatArray) -> FloatArray:
        """Level that a volume reaches; raw.

        Newton's method, kept inside a shrinking bracket, on volume^(2/3), which is nearly
        straight in the level for every shape; always the same number of steps.
        """
        total, top = self.volume, 0.5 * self.height
        is_upper = liquid_volume > 0.5 * total
        v = np.where(is_upper, total - liquid_volume, liquid_volume)
        sought = np.maximum(v, 1e-90 * total)
        target = np.square(np.cbrt(sought))
        h = np.minimum(self._first_level(sought), top)
        low, high = np.zeros_like(h), top + np.zeros_like(h)
        for _ in range(_NEWTON_STEPS):
            volume, surface = self._lower_half(h)
            root = np.cbrt(volume)
            excess = root * root - target
            low, high = np.where(excess < 0.0, h, low), np.where(excess < 0.0, high, h)
            trial = h - 1.5 * root * excess / surface
            h = np.where((trial >= low) & (trial <= high), trial, 0.5 * (low + high))
        h = np.where(v > 0.0, h, 0.0)
        return np.where(is_upper, self.height - h, h)[()]

    def _lower_half(self, h: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Volume below h and the free surface there, h up to half the height."""
        raise NotImplementedError

    def _lower_wetted(self, h: FloatArray) -> FloatArray:
        """Wetted surface below h, h up to half the height."""
        raise NotImplementedError

    def _lower(self, h: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Volume below h, the free surface there and the wetted surface below, h up to half the height."""
        return *self._lower_half(h), self._lower_wetted(h)

    def _first_level(self, v: FloatArray) -> FloatArray:
        """Rough level of a volume v, up to half of all, for Newton's method to begin with."""
        raise NotImplementedError

    def _sunlit_fraction(self) -> float:
        raise NotImplementedError


@result
class _Cylinder(Tank):
    """A cylinder closed by two like heads."""

    length: QuantityLike = quantity("m", "length of the cylinder, tangent to tangent")
    heads: str = plain("shape of both heads", default="elliptical")

    def __post_init__(self) -> None:
        """Check the heads, then the numbers."""
        if not isinstance(self.heads, str) or self.heads not in HEADS:
            raise InputError(f"heads must be one of {', '.join(HEADS)}, got {self.heads!r}")
        Tank.__post_init__(self)

    @property
    @in_unit("m**3")
    def volume(self) -> FloatArray:
        """Inside volume [m3]."""
        D = self.diameter
        return D * D * (0.25 * math.pi * self.length + 2.0 * self._head.volume * D)  # type: ignore[no-any-return]

    @property
    @in_unit("m**2")
    def surface_area(self) -> FloatArray:
        """Inside surface, heads included [m2]."""
        return self.diameter * (math.pi * self.length + 2.0 * self._head.area * self.diameter)  # type: ignore[no-any-return]

    @property
    def _head(self) -> Head:
        return HEADS[self.heads]

    def _sunlit_fraction(self) -> float:
        return SUNLIT_FRACTION_CYLINDER


@result
class HorizontalTank(_Cylinder):
    """A horizontal cylinder with two like heads.

    Every number may be an array or a pint quantity of any registry; the shapes must broadcast, so
    one object may hold ten thousand tanks.

    Parameters
    ----------
    diameter : number, array or quantity
        Inside diameter [m], up to 100.
    length : number, array or quantity
        Of the cylinder alone, tangent line to tangent line [m], up to 1000. The overall length is
        greater by twice the depth of a head.
    heads : {"elliptical", "flat", "torispherical", "hemispherical"}
        Elliptical: 2:1, depth D/4. Torispherical: dish radius D, knuckle radius 0.06 D, depth
        0.169 D (asme2021vessels, UG-32). Hemispherical: depth D/2.
    wall_mass : number, array or quantity
        Mass of the metal that follows the contents' temperature [kg]. At the default 0 the heat of
        the wall is left out: a venting tank then cools faster than a real one.
    wall_heat_capacity : number, array or quantity
        [J/kg/K]; 470 is common practice for carbon steel, no source.
    heat_transfer : number, array or quantity, optional
        Overall, from the air to the contents [W/K]. None: the weather and the bare wall decide.
    emissivity, absorptivity : number or array
        Long-wave emissivity and solar absorptance of the outside; white paint by default (0.90,
        incropera2011fundamentals, Table A.11; 0.25, epa2020tanks, Table 7.1-6; both from memory).

    Raises
    ------
    InputError
        Wrong kind or dimension, not finite, shapes that do not broadcast, unknown heads.
    OutOfRangeError
        Not positive, or beyond the bounds above.

    Examples
    --------
    >>> tank = HorizontalTank(diameter=2.0, length=6.0)
    >>> print(f"{tank.volume:.3f} {tank.liquid_volume(level=0.5):.3f} {tank.surface_area:.3f}")
    20.944 4.012 46.371
    """

    def _lower_half(self, h: FloatArray) -> tuple[FloatArray, FloatArray]:
        D, L = self.diameter, self.length
        x = h / D
        volume, surface = self._head.lying_volume(x)
        chord = 2.0 * np.sqrt(x * (1.0 - x))
        return D * D * (L * segment_area(x) + D * volume), D * (L * chord + D * surface)

    def _lower_wetted(self, h: FloatArray) -> FloatArray:
        D, L = self.diameter, self.length
        x = h / D
        return D * (L * segment_half_angle(x) + D * self._head.lying_area(x))  # type: ignore[no-any-return]

    def _first_level(self, v: FloatArray) -> FloatArray:
        return 0.5 * self.diameter * np.square(np.cbrt(2.0 * v / self.volume))  # type: ignore[no-any-return]


@result
class VerticalTank(_Cylinder):
    """A vertical cylinder, its bottom and top heads alike.

    The level is measured from the lowest point inside the bottom head; the height is the length
    plus twice the depth of a head. A flat bottom counts as wet as soon as there is any liquid.
    Parameters, errors and conventions as for :class:`HorizontalTank`. Its wall exchanges heat with
    the weather as a horizontal cylinder of its diameter would, an approximation.

    Examples
    --------
    >>> tank = VerticalTank(diameter=2.0, length=6.0, heads="hemispherical")
    >>> print(f"{tank.height:.1f} {tank.level(liquid_volume=tank.volume / 2):.1f}")
    8.0 4.0
    """

    @property
    @in_unit("m")
    def height(self) -> FloatArray:
        """Inside height, the highest level [m]."""
        return self.length + 2.0 * self._head.depth * self.diameter  # type: ignore[no-any-return]

    def _lower_half(self, h: FloatArray) -> tuple[FloatArray, FloatArray]:
        D, depth = self.diameter, self._head.depth
        y = h / D
        volume, surface = self._head.standing_volume(np.minimum(y, depth))
        above = np.maximum(y - depth, 0.0)
        return D * D * D * (volume + 0.25 * math.pi * above), D * D * surface

    def _lower_wetted(self, h: FloatArray) -> FloatArray:
        D, depth = self.diameter, self._head.depth
        y = h / D
        bottom = self._head.standing_area(np.minimum(y, depth))
        return np.where(y > 0.0, D * D * (bottom + math.pi * np.maximum(y - depth, 0.0)), 0.0)

    def _first_level(self, v: FloatArray) -> FloatArray:
        D, head = self.diameter, self._head
        scaled = v / (D * D * D)
        in_head = head.depth * np.sqrt(np.minimum(scaled, head.volume) / (head.volume or 1.0))
        return D * (in_head + np.maximum(scaled - head.volume, 0.0) / (0.25 * math.pi))  # type: ignore[no-any-return]


@result
class SphericalTank(Tank):
    """A sphere.

    Parameters
    ----------
    diameter : number, array or quantity
        Inside diameter [m], up to 100.
    wall_mass, wall_heat_capacity, heat_transfer, emissivity, absorptivity
        As for :class:`HorizontalTank`, with its errors.

    Examples
    --------
    >>> print(f"{SphericalTank(diameter=20.0).volume:.1f}")
    4188.8
    """

    @property
    @in_unit("m**3")
    def volume(self) -> FloatArray:
        """Inside volume [m3]."""
        return math.pi / 6.0 * (self.diameter * self.diameter * self.diameter)  # type: ignore[no-any-return]

    @property
    @in_unit("m**2")
    def surface_area(self) -> FloatArray:
        """Inside surface [m2]."""
        return math.pi * (self.diameter * self.diameter)  # type: ignore[no-any-return]

    def _lower_half(self, h: FloatArray) -> tuple[FloatArray, FloatArray]:
        D = self.diameter
        return math.pi * (h * h) * (0.5 * D - h / 3.0), math.pi * h * (D - h)

    def _lower_wetted(self, h: FloatArray) -> FloatArray:
        return math.pi * self.diameter * h  # type: ignore[no-any-return]

    def _first_level(self, v: FloatArray) -> FloatArray:
        return 0.5 * self.diameter * np.sqrt(2.0 * v / self.volume)  # type: ignore[no-any-return]

    def _sunlit_fraction(self) -> float:
        return SUNLIT_FRACTION_SPHERE


def _inside(value: QuantityLike, unit: str, name: str, top: FloatArray, what: str) -> FloatArray:
    """Check 0 <= value <= top, each against its own tank; bring back what exceeds it by round-off."""
    number, top = broadcast(**{name: to_si(value, unit, name), "tank": top})
    is_out = (number < -_ROUND_OFF * top) | (number > (1.0 + _ROUND_OFF) * top)
    if is_out.any():
        worst = np.argmax(np.where(is_out, np.abs(number / top - 0.5), 0.0))
        limit = float(top.flat[worst])
        raise OutOfRangeError(name, float(number.flat[worst]), unit, 0.0, limit, f"the upper end is {what}")
    return np.clip(number, 0.0, top)[()]
