"""`Fire`: what every fire is to those who stand near it, and how far away they should stand."""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.fire.air import wayne_coefficients
from lpgrelease.fire.farthest import farthest_distance
from lpgrelease.fire.harm import time_to_harm
from lpgrelease.fire.incident import Source, Targets, in_blocks
from lpgrelease.fire.view_factor import Flame, Vector
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.results import Result, plain, quantity, result
from lpgrelease.weather import Weather

__all__ = ["CAUTIONS", "RADIATION_MODELS", "Fire"]

RADIATION_MODELS: Final = ("solid flame", "point source")
_DIRECTIONS: Final = {"downwind": (1.0, 0.0), "crosswind": (0.0, 1.0), "upwind": (-1.0, 0.0)}
_FACINGS: Final = ("flame", "axis", "up")

CAUTIONS: Final = (
    "An estimate, not an instruction: the radiated fraction alone moves a distance by a sixth up or down, "
    "gusts bend a flame further than the mean wind, and a container may fail without warning.",
    "Protective clothing, shade, and the rules of the authority in charge decide who may stand where and "
    "for how long; the fluxes are those on bare skin or bare steel.",
)


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
        flux = in_blocks(source, targets, self.radiation, int(np.prod(shape)))
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
        Flux need not fall with distance. From under a flame one sees little but its base: the flux rises out
        to about as far as the flame is high above the surface, and only then falls. So the search goes
        inward from where even a black sky of flame could not give the flux: over 49 points, and those where
        the line of surfaces runs through the flame and beside it; about each maximum among them it is
        looked for between them. Each scenario then closes in on its own until the flux agrees to 1e-12.
        Nearer than that distance the flux may be lower again; farther off it is nowhere reached.
        """
        wanted = to_si(heat_flux, "W/m**2", "heat_flux", lower=0.0, open_lower=True)
        shape, source, targets = self._gather(wanted, direction, height, facing, name="heat_flux")
        found = farthest_distance(source, targets, self.radiation, int(np.prod(shape)))
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
    ) -> tuple[tuple[int, ...], Source, Targets]:
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
        return shaped[0].shape, source, Targets(flat[0], flat[1], flat[2], flat[3], facing_flat)


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
