"""What lands, and what shape of ground it lands on."""

from __future__ import annotations

from lpgrelease.quantities import QuantityLike, broadcast, exactly_one, to_si
from lpgrelease.results import Provenance, Result, plain, quantity, result

__all__ = ["Hollow", "OpenGround", "Spill"]


@result
class Spill(Result):
    """Liquid that leaves a container and lands on the ground.

    Parameters
    ----------
    mass : number, array or quantity, optional
        Total mass [kg], at once, or steadily over `duration`. Give this or `mass_flow`.
    mass_flow : number, array or quantity, optional
        Steady flow [kg/s] during `duration`.
    duration : number, array or quantity, optional
        [s]. With `mass`, None lets all go at once; with `mass_flow`, None feeds to the end of the history.
    temperature : number, array or quantity, optional
        Of the liquid before it flashes [K]; None takes the air's.
    captured_fraction : number or array
        Share of the liquid left after the flash that reaches the ground, 0 to 1. It is an input because
        no model tells it well: a jet that flashes breaks into droplets that evaporate in flight, and a
        free jet of propane can leave almost nothing on the ground, while a jet that hits a wall or the
        ground close by leaves most of it. The default of 1 gives the largest pool and the smallest
        cloud. Together with the depth the ground's relief holds it governs the size of a pool.

    Raises
    ------
    InputError
        Both or none of `mass` and `mass_flow`; wrong kind or dimension; shapes that do not broadcast.
    OutOfRangeError
        A negative amount, or a fraction outside 0 to 1.

    Examples
    --------
    >>> Spill(mass_flow=0.5, duration=900.0).mass_flow
    np.float64(0.5)
    """

    mass: QuantityLike = quantity("kg", "total mass", default=None)
    mass_flow: QuantityLike = quantity("kg/s", "mass flow", default=None)
    duration: QuantityLike = quantity("s", "duration", default=None)
    temperature: QuantityLike = quantity("K", "temperature before the flash", default=None)
    captured_fraction: QuantityLike = quantity("", "share of the liquid that lands", default=1.0)
    provenance: Provenance = plain("where the numbers come from", default=Provenance("spill as given"))

    def __post_init__(self) -> None:
        """Turn every number into SI arrays and check it."""
        exactly_one(mass=self.mass, mass_flow=self.mass_flow)
        ranges: dict[str, tuple[str, float | None, bool]] = {
            "mass": ("kg", None, False),
            "mass_flow": ("kg/s", None, False),
            "duration": ("s", None, True),
            "temperature": ("K", None, True),
            "captured_fraction": ("", 1.0, False),
        }
        checked = {}
        for name, (unit, upper, open_lower) in ranges.items():
            if getattr(self, name) is not None:
                value = to_si(getattr(self, name), unit, name, lower=0.0, upper=upper, open_lower=open_lower)
                checked[name] = value
                object.__setattr__(self, name, value)
        broadcast(**checked)


@result
class OpenGround(Result):
    """Level ground without an edge: the pool spreads until the ground's relief holds it.

    Examples
    --------
    >>> OpenGround()
    OpenGround
      model  level open ground
    """

    provenance: Provenance = plain("where the numbers come from", default=Provenance("level open ground"))


@result
class Hollow(Result):
    """A hollow, ditch or bund with a flat floor and upright sides.

    Parameters
    ----------
    area : number, array or quantity
        Of its floor [m2].
    depth : number, array or quantity
        From floor to rim [m]; what would stand above the rim overflows and is booked apart.

    Raises
    ------
    InputError, OutOfRangeError
        Wrong kind or dimension, shapes that do not broadcast, not positive.

    Notes
    -----
    The sides give no heat, and the wind is that of open ground: in a hollow that lies full of its own
    vapor the pool outlasts this estimate by far.

    Examples
    --------
    >>> Hollow(area=4.0, depth=0.3).depth
    np.float64(0.3)
    """

    area: QuantityLike = quantity("m**2", "area of the floor")
    depth: QuantityLike = quantity("m", "depth below the rim")
    provenance: Provenance = plain("where the numbers come from", default=Provenance("hollow as given"))

    def __post_init__(self) -> None:
        """Turn every number into SI arrays and check it."""
        area = to_si(self.area, "m**2", "area", lower=0.0, open_lower=True)
        depth = to_si(self.depth, "m", "depth", lower=0.0, open_lower=True)
        broadcast(area=area, depth=depth)
        object.__setattr__(self, "area", area)
        object.__setattr__(self, "depth", depth)
