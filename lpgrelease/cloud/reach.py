"""`flammable_reach`: where vapor can still be lit."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from lpgrelease.cloud.cloud import BROAD, CAUTIONS, LEVELS, CloudPlanes, CloudReach
from lpgrelease.cloud.march import SERVED_BY, CloudProblem, march
from lpgrelease.cloud.measure import Measures, measure
from lpgrelease.cloud.mixing import Mixer
from lpgrelease.cloud.plume import LATERAL, VERTICAL, averaging_factor, check_site
from lpgrelease.cloud.source import GasSource, refuse_other_fluid
from lpgrelease.cloud.stability import CLASSES, WindProfile, stability_index
from lpgrelease.constants import STANDARD_GRAVITY
from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, exactly_one, to_si
from lpgrelease.results import Provenance
from lpgrelease.weather import AIR_MOLAR_MASS, Weather

__all__ = ["flammable_reach"]

BLOCK: Final = 256
LOWEST_WIND: Final = 1.0
"""Below this wind at 10 m [m/s] a cloud has no downwind: the model ends."""
DROPS_WITHIN: Final = 10.0
"""How far from the boiling point a temperature given for drops may lie [K]: that at another air pressure."""
STEADY_RATIO: Final = 2.5
"""u T / x from which a release of duration T counts as steady at x; Britter and McQuaid."""
SOURCES: Final = (
    "robins2001dense",
    "vanulden1974spreading",
    "briggs1973diffusion",
    "pasquill1961estimation",
    "golder1972relations",
    "gifford1975atmospheric",
    "chen1980jets",
    "britter1988workbook",
)


def flammable_reach(
    fluid: Fluid,
    source: GasSource | None = None,
    *,
    mass_flow: QuantityLike | None = None,
    weather: Weather | None = None,
    fraction: QuantityLike = 1.0,
    roughness: QuantityLike = 0.03,
    site: str = "open country",
    averaging_time: QuantityLike = 20.0,
) -> CloudReach:
    """How far a steady cloud reaches in which the gas is at or above a fraction of its lower limit.

    One cloud from the source on: a jet while it entrains most, then a layer that spreads on its own weight,
    then a passive plume; the result names who served in every plane.

    Parameters
    ----------
    fluid : Fluid
    source : GasSource, optional
        From `jet_source`, from `pool_source`, or made by hand. Give this or `mass_flow`.
    mass_flow : number, array or quantity, optional
        Vapor at its boiling point, or at the air's temperature if that is lower, from a small source
        without momentum [kg/s].
    weather : Weather, optional
        Wind at 10 m; None takes ``Weather()``. Below 1 m/s see Notes.
    fraction : number or array
        Of the lower flammable limit, 0.02 to 4.
    roughness : number, array or quantity
        Roughness length of the ground [m], 0.0001 (water) to 0.5 (scattered houses); 0.03 is short grass.
    site : {"open country", "urban"}
        Which of Briggs' curves.
    averaging_time : number, array or quantity
        [s], 1 to 3600. Gas lights in a moment: keep it short.

    Returns
    -------
    CloudReach

    Raises
    ------
    InputError, OutOfRangeError
        Both or none of `source` and `mass_flow`; a source of another fluid; wrong kinds; outside the ranges
        above; drops that are not at the boiling point.

    Notes
    -----
    * Equations: see `lpgrelease.cloud.march.march`. Flat, open ground; no heat from it, which keeps the cloud
      heavy; gas lighter than air is kept on the ground.
    * Trials in the open are met within a factor of two in most points; distance_low and distance_high are
      where twice and half the concentration is computed.
    * In light wind a heavy source spreads aside and upwind before the wind takes it, without a bound: where
      that is more than the distance downwind, `broad` says so. `radius` holds the contour on every side.
    * In wind below 1 m/s there is no downwind and no model: every distance is then the one at 1 m/s, `calm`
      says so, and gas can lie on all sides and uphill.
    * Within 100 m of the leak the passive curves are extrapolated; they are straight lines there.
    * arrival_time is that of the mean flow. clearing_time counts from the end of the leak until the last
      gas has passed, its tail stretched by twice the spread of a plume.
    * A leak shorter than 2.5 x/u does not fill the cloud (`steady` is False): it then reaches less far.

    References: robins2001dense; vanulden1974spreading; briggs1973diffusion; golder1972relations;
    gifford1975atmospheric; chen1980jets; britter1988workbook.

    Examples
    --------
    >>> cloud = flammable_reach(Fluid("propane"), mass_flow=0.5,
    ...     weather=Weather(wind_speed=2.0, stability="F"), fraction=0.5)
    >>> print(f"{cloud.distance:.0f} m, {cloud.distance_low:.0f} to {cloud.distance_high:.0f} m")
    98 m, 72 to 133 m
    """
    exactly_one(source=source, mass_flow=mass_flow)
    weather = Weather() if weather is None else weather
    source = GasSource(mass_flow=mass_flow) if source is None else source
    wanted = (("fluid", fluid, Fluid), ("source", source, GasSource), ("weather", weather, Weather))
    for name, value, kind in wanted:
        if not isinstance(value, kind):
            raise InputError(f"{name}: {type(value).__name__} is no {kind.__name__}")
    refuse_other_fluid(source.provenance, fluid, "source")
    check_site(site)
    given: dict[str, Any] = {
        "fraction": to_si(fraction, "", "fraction", lower=0.02, upper=4.0, why="of the lower limit"),
        "roughness": to_si(roughness, "m", "roughness", lower=1e-4, upper=0.5, why="water to houses"),
        "averaging_time": to_si(averaging_time, "s", "averaging_time", lower=1.0, upper=3600.0),
    }
    arrays, stability, shape = _arrays(fluid, source, weather, given)
    size = stability.size
    blocks = [
        _solve(fluid, {name: a[i : i + BLOCK] for name, a in arrays.items()}, stability[i : i + BLOCK], site)
        for i in range(0, max(size, 1), BLOCK)
    ]
    return _report(fluid, source, arrays, stability, blocks, shape, site)


def _arrays(
    fluid: Fluid, source: GasSource, weather: Weather, given: dict[str, Any]
) -> tuple[dict[str, FloatArray], NDArray[np.intp], tuple[int, ...]]:
    """Every input broadcast and flattened to one axis of scenarios."""
    names = ("air_temperature", "wind_speed", "relative_humidity", "ambient_pressure")
    given |= {name: getattr(weather, name) for name in names}
    given |= {name: getattr(source, name) for name in ("mass_flow", "liquid_fraction", "velocity", "height")}
    boiling = fluid.saturation_temperature(
        np.ravel(fluid.pressure_range(weather.ambient_pressure, "ambient_pressure"))
    ).reshape(np.shape(weather.ambient_pressure))
    given["boiling"] = boiling
    given["source_temperature"] = (
        np.minimum(boiling, weather.air_temperature) if source.temperature is None else source.temperature
    )
    given["diameter"] = np.float64(0.0) if source.diameter is None else source.diameter
    given["duration"] = np.float64(np.inf) if source.duration is None else source.duration
    given["stability"] = stability_index(weather)
    shaped = broadcast(**given)
    flat = {n: np.ascontiguousarray(a).reshape(-1) for n, a in zip(given, shaped, strict=True)}
    stability = flat.pop("stability").astype(np.intp)
    if source.temperature is not None:
        _refuse_warm_drops(flat)
    flat["source_temperature"] = np.where(
        flat["liquid_fraction"] > 0.0, flat["boiling"], flat["source_temperature"]
    )
    flat["heat_capacity"] = _heat_capacity(fluid, flat)
    return flat, stability, shaped[0].shape


def _refuse_warm_drops(a: dict[str, FloatArray]) -> None:
    """Refuse a temperature given for drops that is not about that at which they boil."""
    given, boiling = a["source_temperature"], a["boiling"]
    off = (a["liquid_fraction"] > 0.0) & (np.abs(given - boiling) > DROPS_WITHIN)
    if off.any():
        at = int(np.argmax(off))
        raise InputError(
            f"temperature: {given[at]:.1f} K; drops are at the boiling point, {boiling[at]:.1f} K; leave it"
        )


def _heat_capacity(fluid: Fluid, a: dict[str, FloatArray]) -> FloatArray:
    """Of the vapor, half-way between source and air, as gas at or below the ambient pressure [J/kg/K]."""
    middle = np.clip(
        0.5 * (a["source_temperature"] + a["air_temperature"]),
        fluid.lowest_temperature,
        fluid.highest_temperature,
    )
    if fluid.is_blend:
        return fluid.blend.ideal_heat_capacity(middle)
    saturated = fluid.saturated(middle, "pressure")[0]
    pressure = np.minimum(a["ambient_pressure"], 0.5 * saturated)
    return np.asarray(fluid.gas(temperature=middle, pressure=pressure).heat_capacity)


def _solve(fluid: Fluid, a: dict[str, FloatArray], stability: NDArray[np.intp], site: str) -> Measures:
    wind = WindProfile.prepare(np.maximum(a["wind_speed"], LOWEST_WIND), stability, a["roughness"])
    mixer = Mixer(
        fluid=fluid,
        molar_mass=fluid.molar_mass,
        heat_capacity=a["heat_capacity"],
        temperature=a["source_temperature"],
        liquid_fraction=a["liquid_fraction"],
        air_temperature=a["air_temperature"],
        relative_humidity=a["relative_humidity"],
        pressure=a["ambient_pressure"],
    )
    low, high = fluid.flammable_limits
    thinnest = 0.5 * np.minimum(a["fraction"], LEVELS[-1]) * low
    ratio = float(AIR_MOLAR_MASS) / fluid.molar_mass * (1.0 / thinnest - 1.0)
    half_width, upwind = _source_extent(a, mixer, wind)
    problem = CloudProblem(
        mixer=mixer,
        wind=wind,
        lateral=LATERAL[site].at(stability),
        vertical=VERTICAL[site].at(stability),
        lateral_factor=averaging_factor(a["averaging_time"]),
        mass_flow=a["mass_flow"],
        velocity=a["velocity"],
        height=a["height"],
        half_width=half_width,
        end=np.log1p(ratio * (1.0 + 1e-9)),
    )
    track = march(problem)
    return measure(track, problem, fluid.molar_mass, (low, high), a["fraction"], upwind)


def _source_extent(
    a: dict[str, FloatArray], mixer: Mixer, wind: WindProfile
) -> tuple[FloatArray, FloatArray]:
    """Half-width and upwind extent of a source: of the pool, and of its vapor before the wind takes it.

    Notes
    -----
    b = D/2 + 4 l_b aside, D/2 + 2 l_b upwind, l_b = g0' q0/u^3; a jet blows downwind. D at least
    (q0/u)^(1/2), or the gas would stand taller at its source than it is wide. References:
    britter1988workbook, from memory.
    """
    pure = mixer.mix(np.zeros_like(a["mass_flow"]), a["liquid_fraction"])
    q, u, air = a["mass_flow"] / pure.density, wind.speed, mixer.air_density
    gravity = STANDARD_GRAVITY * np.maximum(pure.density - air, 0.0) / air
    diameter = np.maximum(a["diameter"], np.sqrt(q / u))
    length = gravity * q / (u * u * u)
    upwind = np.where(a["velocity"] > u, 0.0, 0.5 * diameter + 2.0 * length)
    return 0.5 * diameter + 4.0 * length, upwind


def _report(
    fluid: Fluid,
    source: GasSource,
    arrays: dict[str, FloatArray],
    stability: NDArray[np.intp],
    blocks: list[Measures],
    shape: tuple[int, ...],
    site: str,
) -> CloudReach:
    def scenarios(name: str) -> Any:
        return np.concatenate([getattr(block, name) for block in blocks], axis=-1).reshape(shape)[()]

    def stacked(name: str) -> Any:
        values = np.concatenate([getattr(block, name) for block in blocks], axis=-1)
        return np.ascontiguousarray(values.T).reshape(*shape, values.shape[0])

    calm = (arrays["wind_speed"] < LOWEST_WIND).reshape(shape)[()]
    wind = np.maximum(arrays["wind_speed"], LOWEST_WIND)
    distance = np.concatenate([block.distance for block in blocks], axis=-1)
    steady = wind * arrays["duration"] >= STEADY_RATIO * distance
    width, upwind = (
        np.concatenate([getattr(b, name) for b in blocks], axis=-1) for name in ("width", "upwind")
    )
    broad = np.maximum(0.5 * width, upwind) > distance
    outside = {
        f"wind below {LOWEST_WIND:g} m/s: distances are those at {LOWEST_WIND:g} m/s": np.any(calm),
        "wind so light that gas goes farther aside or upwind than downwind": np.any(broad),
    }
    provenance = Provenance(
        f"jet, heavy layer and passive plume in one march, {site}",
        tuple(dict.fromkeys((*SOURCES, *source.provenance.sources))),
        fluid.credit,
        tuple(text for text, left in outside.items() if left),
    )
    planes = ("half_width", "depth", "edge_spread", "mole_fraction", "temperature", "density", "drops")
    served = np.array(SERVED_BY)
    low, _ = fluid.flammable_limits
    return CloudReach(
        **{name: scenarios(name) for name in Measures.SCENARIO_FIELDS},
        **{name: stacked(name) for name in Measures.LEVEL_FIELDS},
        served_by=served[scenarios("served")],
        fraction=arrays["fraction"].reshape(shape)[()],
        lower_flammable_limit=np.full(shape, low)[()],
        stability=CLASSES[stability].reshape(shape)[()],
        wind_speed=wind.reshape(shape)[()],
        calm=calm,
        broad=broad.reshape(shape)[()],
        steady=steady.reshape(shape)[()],
        planes=CloudPlanes(
            distance=stacked("plane_distance"),
            time=stacked("plane_time"),
            speed=stacked("plane_speed"),
            served_by=served[stacked("plane_served")],
            **{name: stacked(f"plane_{name}") for name in planes},
            provenance=provenance,
        ),
        fluid=fluid.name,
        cautions=(*fluid.cautions, *((BROAD,) if np.any(broad) else ()), *CAUTIONS),
        provenance=provenance,
    )
