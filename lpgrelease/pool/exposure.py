"""What the surroundings let through to the surface of a pool."""

from __future__ import annotations

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.quantities import QuantityLike, broadcast, to_si
from lpgrelease.results import Provenance, Result, plain, quantity, result

__all__ = ["Exposure"]

_SHARES = ("wind_share", "sun_share", "sky_share", "vapor_fill")


@result
class Exposure(Result):
    """Wind, sun, sky, cover and calm vapor over a pool, and what falls into it.

    Parameters
    ----------
    wind_share : number or array
        Wind over the pool, or over the rim of its hollow, per wind at 10 m over open ground, 0 to 1.
    sun_share : number or array
        Sunshine that reaches the surface, 0 in full shade, 1 in the open.
    sky_share : number or array
        View of the sky from the surface, 0 under a wreck, 1 in the open; the rest is cover.
    cover_temperature : number, array or quantity, optional
        Of the cover [K]: the underside of a wreck, a tarpaulin, walls. None takes the air's.
    vapor_fill : number or array
        Part of the height from the liquid to the rim that calm vapor of the pool fills, 0 to 1. For a
        hollow only. Cold vapor is heavy and lies still: heat and vapor then cross it by conduction and
        diffusion alone. Wind over a shallow or open hollow sweeps it out: 0.
    precipitation : number, array or quantity
        Rain or snow that falls on the surface [kg/m2/s], 0 to 0.1; 1 mm of rain an hour is 2.78e-4.

    Raises
    ------
    InputError, OutOfRangeError
        Wrong kind or dimension, shapes that do not broadcast, outside the ranges.

    Examples
    --------
    >>> Exposure(wind_share=0.0, sun_share=0.0, sky_share=0.0, cover_temperature=253.15, vapor_fill=1.0)
    Exposure
      wind_share         0
      sun_share          0
      sky_share          0
      cover_temperature  253.15  K
      vapor_fill         1
      precipitation      0       kg/m**2/s
      model              exposure as given
    """

    wind_share: QuantityLike = quantity("", "wind over the pool per wind at 10 m", default=1.0)
    sun_share: QuantityLike = quantity("", "sunshine that reaches the surface", default=1.0)
    sky_share: QuantityLike = quantity("", "view of the sky from the surface", default=1.0)
    cover_temperature: QuantityLike = quantity("K", "temperature of the cover", default=None)
    vapor_fill: QuantityLike = quantity("", "part of the height up to the rim under calm vapor", default=0.0)
    precipitation: QuantityLike = quantity("kg/m**2/s", "rain or snow", default=0.0)
    provenance: Provenance = plain("where the numbers come from", default=Provenance("exposure as given"))

    def __post_init__(self) -> None:
        """Turn every number into SI arrays and check it."""
        checked = {name: to_si(getattr(self, name), "", name, lower=0.0, upper=1.0) for name in _SHARES}
        checked["precipitation"] = to_si(
            self.precipitation, "kg/m**2/s", "precipitation", lower=0.0, upper=0.1, why="a cloudburst"
        )
        if self.cover_temperature is not None:
            checked["cover_temperature"] = to_si(
                self.cover_temperature, "K", "cover_temperature", lower=150.0, upper=400.0
            )
        for name, value in checked.items():
            object.__setattr__(self, name, value)
        broadcast(**checked)


def exposure_of(given: Exposure | None, *, rim: bool) -> Exposure:
    """`given` or open sky; refuses calm vapor where no rim holds it."""
    if given is None:
        return Exposure()
    if not isinstance(given, Exposure):
        raise InputError(f"exposure: {type(given).__name__} is no Exposure")
    if not rim and np.any(np.asarray(given.vapor_fill) > 0.0):
        raise InputError("exposure: calm vapor (vapor_fill) needs a rim; give a Hollow or a Basin")
    return given
