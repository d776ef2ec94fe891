"""How long liquid stays: what is left at a time, what keeps a pool alive, what makes one that lasts."""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.ground import Ground
from lpgrelease.pool.exposure import Exposure
from lpgrelease.pool.history import LONGEST, PATIENCE, PoolHistory, pool_history
from lpgrelease.pool.inputs import Spill
from lpgrelease.pool.sites import Basin, Hollow
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, require_kind, to_si
from lpgrelease.results import BoolArray, Provenance, Result, plain, quantity, result
from lpgrelease.weather import Weather

__all__ = ["LastingPool", "PoolMoment", "feed_for_lasting_pool", "lasting_depth", "pool_at"]

HALVINGS: Final = 14
NODES: Final = 61
SHALLOWEST: Final = 1e-3
DEEPEST: Final = 10.0


@result
class PoolMoment(Result):
    """A pool at one time."""

    time: FloatArray = quantity("s", "time since the spill began")
    mass: FloatArray = quantity("kg", "liquid on the ground")
    area: FloatArray = quantity("m**2", "area of the pool")
    radius: FloatArray = quantity("m", "radius of a round pool of that area")
    depth: FloatArray = quantity("m", "mean depth")
    temperature: FloatArray = quantity("K", "of the liquid")
    evaporation_rate: FloatArray = quantity("kg/s", "vapor from the pool that does not burn")
    burning_rate: FloatArray = quantity("kg/s", "vapor from the pool that burns")
    time_left: FloatArray = quantity("s", "until it is gone; inf where it outlasts the history")


def pool_at(pool: PoolHistory, time: QuantityLike) -> PoolMoment:
    """Liquid, area and vapor rate of a pool at a time.

    Parameters
    ----------
    pool : PoolHistory
    time : number, array or quantity
        Since the spill began [s], within the history.

    Returns
    -------
    PoolMoment
        Of the shape of the scenarios, with which `time` broadcasts.

    Raises
    ------
    InputError, OutOfRangeError
        Not a history of a pool, or a time outside it.

    Notes
    -----
    Mass, area and temperature are linear between nodes; the rate is the mean of the step it falls into.

    Examples
    --------
    >>> from lpgrelease import Fluid, Ground
    >>> pool = pool_history(Fluid("propane"), Spill(mass=50.0), ground=Ground.named("clay"), duration=1800.0)
    >>> now = pool_at(pool, 60.0)
    >>> print(f"{now.mass:.0f} kg on {now.area:.1f} m2, gone in {now.time_left:.0f} s")
    20 kg on 5.3 m2, gone in 266 s
    """
    if not isinstance(pool, PoolHistory):
        raise InputError(f"pool: {type(pool).__name__} is no PoolHistory")
    end = float(np.min(pool.time[..., -1], initial=np.inf))
    at = to_si(time, "s", "time", lower=0.0, upper=end, why="the history's length")
    gone, at = broadcast(gone_at=pool.gone_at, time=at)
    shape = (*at.shape, pool.time.shape[-1])
    nodes = np.broadcast_to(pool.time, shape)
    after = np.clip(np.count_nonzero(nodes <= at[..., None], axis=-1), 1, shape[-1] - 1)[..., None]
    t0, t1 = (np.take_along_axis(nodes, after - i, axis=-1)[..., 0] for i in (1, 0))
    x = (at - t0) / (t1 - t0)

    def between(values: FloatArray) -> FloatArray:
        whole = np.broadcast_to(values, shape)
        v0, v1 = (np.take_along_axis(whole, after - i, axis=-1)[..., 0] for i in (1, 0))
        found: FloatArray = v0 + (v1 - v0) * x
        return found[()]

    area = between(pool.area)
    rates = (
        np.take_along_axis(np.broadcast_to(rate, shape), after, axis=-1)[..., 0]
        for rate in (pool.evaporation_rate, pool.burning_rate)
    )
    rate, burning = (np.where(at < gone, rate, 0.0)[()] for rate in rates)
    return PoolMoment(
        time=at[()],
        mass=between(pool.mass),
        area=area,
        radius=np.sqrt(area / math.pi),
        depth=between(pool.depth),
        temperature=between(pool.temperature),
        evaporation_rate=rate,
        burning_rate=burning,
        time_left=np.maximum(gone - at, 0.0)[()],
        provenance=pool.provenance,
    )


@result
class LastingPool(Result):
    """What it takes that liquid is still there after a time."""

    depth: FloatArray = quantity("m", "of the liquid when nothing more is fed; inf where none would do")
    mass: FloatArray = quantity("kg", "liquid on the ground then; inf where none would do")
    feed_duration: FloatArray = quantity(
        "s", "how long the feed runs; 0 where all was let go at once, inf where none would do"
    )
    lasting: FloatArray = quantity("s", "how long liquid stays after that")
    cautions: tuple[str, ...] = plain("what to keep in mind before acting on it", default=())


def lasting_depth(
    fluid: Fluid,
    lasting: QuantityLike,
    *,
    area: QuantityLike,
    ground: Ground,
    weather: Weather | None = None,
    exposure: Exposure | None = None,
    freeboard: QuantityLike = 0.0,
) -> LastingPool:
    """Depth of boiling liquid that is just not gone after a time.

    Parameters
    ----------
    fluid : Fluid
    lasting : number, array or quantity
        [s].
    area : number, array or quantity
        Of a round pit with upright sides that give heat [m2].
    ground : Ground
        At its own temperature when the liquid comes.
    weather, exposure
        As for `pool_history` and its sites.
    freeboard : number, array or quantity
        From the liquid up to the rim at the start [m].

    Returns
    -------
    LastingPool
        Depth inf where even 10 m would not last.

    Raises
    ------
    InputError, OutOfRangeError

    Notes
    -----
    Halves the range of depths from 1 mm to 10 m with `pool_history`, on a logarithmic scale, a fixed number
    of times: within 0.06 %.

    Examples
    --------
    >>> calm = Exposure(wind_share=0.0, sun_share=0.0, sky_share=0.0, cover_temperature=253.15,
    ...     vapor_fill=1.0)
    >>> found = lasting_depth(Fluid("propane"), 3 * 86400.0, area=4.0, ground=Ground.named("dry sand"),
    ...     weather=Weather(air_temperature=300.15), exposure=calm, freeboard=0.5)
    >>> print(f"{found.depth * 100:.0f} cm")
    19 cm
    """
    require_kind(fluid, Fluid, "fluid")
    span = to_si(lasting, "s", "lasting", lower=0.0, upper=LONGEST, open_lower=True, why=PATIENCE)
    size = to_si(area, "m**2", "area", lower=0.0, open_lower=True)
    above = to_si(freeboard, "m", "freeboard", lower=0.0)
    boiling = fluid.normal_boiling_point if weather is None else _boiling(fluid, weather)
    (density,) = fluid.saturated(np.asarray(boiling), "liquid_density")

    def lasts(depth: FloatArray) -> tuple[BoolArray, PoolHistory]:
        pool = pool_history(
            fluid,
            Spill(mass=density * size * depth, temperature=boiling),
            ground=ground,
            duration=span,
            weather=weather,
            site=Basin.pit(size, depth + above, exposure=exposure),
            nodes=NODES,
        )
        return pool.mass[..., -1] > 0.0, pool

    depth, last = _halve(lasts, np.asarray(SHALLOWEST), np.asarray(DEEPEST))
    return _lasting(last, depth, density * size * depth, np.zeros(()), span)


def feed_for_lasting_pool(
    fluid: Fluid,
    mass_flow: QuantityLike,
    *,
    site: Hollow | Basin,
    ground: Ground,
    lasting: QuantityLike,
    weather: Weather | None = None,
    temperature: QuantityLike | None = None,
    captured_fraction: QuantityLike = 1.0,
    longest: QuantityLike = 30 * 86400.0,
) -> LastingPool:
    """How long a leak has to drip into a hollow until what is left lasts for a time after it stops.

    Parameters
    ----------
    fluid : Fluid
    mass_flow : number, array or quantity
        Of the leak, before the flash [kg/s].
    site : Hollow or Basin
    ground : Ground
    lasting : number, array or quantity
        How long liquid is to stay after the leak has stopped [s].
    weather : Weather, optional
    temperature, captured_fraction
        As for `Spill`.
    longest : number, array or quantity
        Longest drip looked at [s].

    Returns
    -------
    LastingPool
        Feed duration inf where even the longest would not do; depth and mass at the end of the feed.

    Raises
    ------
    InputError, OutOfRangeError

    Notes
    -----
    A drip chills the ground first; later liquid stays. Halves the range from a second to the longest with
    `pool_history`, on a logarithmic scale, a fixed number of times: within 0.1 %.

    Examples
    --------
    >>> calm = Exposure(wind_share=0.0, sun_share=0.0, sky_share=0.0, cover_temperature=253.15,
    ...     vapor_fill=1.0)
    >>> found = feed_for_lasting_pool(Fluid("propane"), 2e-3, lasting=6 * 3600.0,
    ...     site=Hollow(area=1.0, depth=0.6, exposure=calm), ground=Ground.named("dry sand"))
    >>> print(f"{found.feed_duration / 3600:.1f} h")
    5.4 h
    """
    span = to_si(lasting, "s", "lasting", lower=0.0, upper=LONGEST, open_lower=True, why=PATIENCE)
    most = to_si(longest, "s", "longest", lower=1.0, upper=LONGEST, open_lower=True, why=PATIENCE)

    def lasts(duration: FloatArray) -> tuple[BoolArray, PoolHistory]:
        spill = Spill(
            mass_flow=mass_flow,
            duration=duration,
            temperature=temperature,
            captured_fraction=captured_fraction,
        )
        pool = pool_history(
            fluid, spill, ground=ground, duration=duration + span, weather=weather, site=site, nodes=NODES
        )
        return pool.mass[..., -1] > 0.0, pool

    duration, last = _halve(lasts, np.asarray(1.0), most)
    at_end = pool_at(last, np.where(np.isinf(duration), 0.0, duration))
    return _lasting(last, at_end.depth, at_end.mass, duration, span)


def _halve(lasts: Any, low: FloatArray, high: FloatArray) -> tuple[FloatArray, PoolHistory]:
    """Least value for which `lasts` holds, inf where none does, and the history of the last that held."""
    enough, pool = lasts(high)
    low, high = np.broadcast_to(low, enough.shape), np.broadcast_to(high, enough.shape)
    for _ in range(HALVINGS):
        middle = np.sqrt(low * high)
        holds, _ = lasts(middle)
        low, high = np.where(holds, low, middle), np.where(holds, middle, high)
    _, pool = lasts(high)
    return np.where(enough, high, np.inf)[()], pool


def _lasting(
    pool: PoolHistory, depth: FloatArray, mass: FloatArray, duration: FloatArray, span: FloatArray
) -> LastingPool:
    never = np.isinf(duration) | np.isinf(depth)
    arrays = broadcast(depth=depth, mass=mass, feed_duration=duration, lasting=span, never=never)
    named = dict(zip(("depth", "mass", "feed_duration", "lasting"), arrays, strict=False))
    named["depth"] = np.where(arrays[-1], np.inf, named["depth"])
    named["mass"] = np.where(arrays[-1], np.inf, named["mass"])
    return LastingPool(
        **{name: np.array(value)[()] for name, value in named.items()},
        cautions=pool.cautions,
        provenance=Provenance("search with " + pool.provenance.model, pool.provenance.sources),
    )


def _boiling(fluid: Fluid, weather: Weather) -> FloatArray:
    require_kind(weather, Weather, "weather")
    return fluid.saturation_temperature(np.asarray(weather.ambient_pressure))
