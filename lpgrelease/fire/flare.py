"""`vapor_flare`: vapor burned at an open end, from a lazy flame at zero gauge to a jet."""

from __future__ import annotations

import dataclasses
import math
import warnings
from typing import Any, Final, NamedTuple

import numpy as np

from lpgrelease.errors import InputError, OutOfRangeError, ValidityWarning
from lpgrelease.fire.jet import (
    JetFlame,
    buoyant_velocity_mccaffrey,
    flame_froude_number,
    jet_flame_chamberlain,
    radiated_fraction_chamberlain,
    stoichiometric_fraction,
)
from lpgrelease.fire.radiation import CAUTIONS, RADIATION_MODELS, Fire
from lpgrelease.fire.shape import dimensionless_wind, flame_length_heskestad, tilt_aga
from lpgrelease.fire.view_factor import Flame, flame_area
from lpgrelease.fluids import Fluid
from lpgrelease.quantities import (
    FloatArray,
    QuantityLike,
    broadcast,
    require_flag,
    require_kind,
    require_whole,
    require_word,
    to_si,
)
from lpgrelease.results import Provenance, Result, StringArray, plain, quantity, result
from lpgrelease.tank import TankHistory
from lpgrelease.weather import Weather, air_density

__all__ = ["FlareHistory", "VaporFlare", "flare_history", "vapor_flare"]

_MODELS: Final = ("automatic", "chamberlain", "buoyant")
_STEEPEST: Final = math.radians(80.0)
_SLENDER: Final = 7.0
"""Length over equivalent diameter of a buoyant jet flame: palacios2011shape, from memory."""
_LEAST_FLOW: Final = 1e-9
_LAZY_FRACTION: Final = 0.3
_SOURCES: Final = (
    "chamberlain1987flares",
    "cook1990comprehensive",
    "heskestad1984heights",
    "aga1974lng",
    "mccaffrey1979purely",
    "palacios2011shape",
    "wayne1991formula",
)
_CAUTIONS: Final = (
    *CAUTIONS,
    "Keep it burning: a flare that goes out sends cold, heavy vapor along the ground. Light the pilot first, "
    "then open the valve slowly; liquid in the line throws burning rain.",
)
_LEANING_CAUTION: Final = (
    "Wind would bend a jet here past 80 degrees, and a lazy flame stands in: twice as long, and it leans "
    'less. Keep the larger distance of model="buoyant" and model="chamberlain", extrapolate=True.'
)


@result
class VaporFlare(Fire):
    """A flare of vapor; all numeric fields share the scenarios' shape."""

    mass_flow: FloatArray = quantity("kg/s", "vapor burned")
    height: FloatArray = quantity("m", "height of the open end above the ground")
    exit_velocity: FloatArray = quantity(
        "m/s", "speed of the vapor at the end, expanded to the air's pressure"
    )
    lift_off: FloatArray = quantity("m", "from the open end to the foot of the flame")
    tip_height: FloatArray = quantity("m", "height of the flame's tip above the ground")
    flame_froude: FloatArray = quantity("", "flame Froude number; momentum rules the length from 5 up")
    regime: StringArray = plain("'jet' or 'lazy': which model served each scenario")


def vapor_flare(
    fluid: Fluid,
    *,
    mass_flow: QuantityLike,
    height: QuantityLike = 0.0,
    diameter: QuantityLike = 0.0508,
    temperature: QuantityLike | None = None,
    weather: Weather | None = None,
    model: str = "automatic",
    radiated_fraction: QuantityLike | None = None,
    radiation: str = "solid flame",
    extrapolate: bool = False,
) -> VaporFlare:
    """Describe the flame of vapor that leaves an open end pointing up.

    Parameters
    ----------
    fluid : Fluid
    mass_flow : number, array or quantity
        Of vapor [kg/s]; without flow there is no flame.
    height : number, array or quantity
        Of the open end above the ground [m].
    diameter : number, array or quantity
        Inside, of the open end [m]; two inches unless given.
    temperature : number, array or quantity, optional
        Of the vapor at the end [K]; None takes the air's. Colder than boiling: taken as saturated.
    weather : Weather, optional
        Wind at 10 m, taken as it is; temperature, pressure and humidity of the air.
    model : {"automatic", "chamberlain", "buoyant"}
        Chamberlain: a jet's frustum, lifted off and bent by wind. Buoyant: Heskestad's length, the American
        Gas Association's tilt, a cylinder a seventh as wide. Automatic: Chamberlain where the vapor leaves
        faster than the flame's own buoyancy moves gas (McCaffrey) and the jet leans up to 80 degrees, else
        buoyant.
    radiated_fraction : number or array, optional
        Share of the heat that is radiated; None: Chamberlain's for a jet with Cook's factor for heavier
        gases, 0.3 for a lazy flame.
    radiation : {"solid flame", "point source"}
        How it is sent out: from the flame's surface, or from the middle of its axis.
    extrapolate : bool
        With model="chamberlain": keep a jet that leans by more than 80 degrees, with a warning.

    Returns
    -------
    VaporFlare
        Fields of the shape to which the arguments broadcast. Distances are from the foot of the flare.

    Raises
    ------
    InputError, OutOfRangeError
        Bad arguments; a jet that leans too far for Chamberlain's model.

    Warns
    -----
    ValidityWarning
        A jet that leans too far, with `extrapolate`.

    Notes
    -----
    A flow faster than sound is given the speed of sound and the diameter it needs at the air's pressure. The
    frustum's ends stand square to its axis; its surface radiates alike, E = F Q/A. Noise, smoke and drops are
    left out. Lengths by other published models agree within a factor of 1.75 in still air.

    The two models do not meet. Where wind bends a jet past 80 degrees its length steps up to 1.3 to 2.7
    times, for Heskestad's knows no wind, and the tilt falls; where a lazy flame becomes a jet the length goes
    to 1.0 to 1.1 times in still air and down to 0.4 times in wind of 8 m/s. Distances step up or down, by a
    third as a rule; by a factor of 3 and more, or from nothing, where they are short. Near a handover keep
    the larger distance of model="buoyant" and model="chamberlain" with `extrapolate`; see the theory page.

    See Also
    --------
    flare_history, pool_fire

    References
    ----------
    chamberlain1987flares, cook1990comprehensive, heskestad1984heights, aga1974lng, mccaffrey1979purely,
    palacios2011shape, wayne1991formula, all from memory.

    Examples
    --------
    >>> from lpgrelease import Fluid, Weather
    >>> breeze = Weather(wind_speed=2.0)
    >>> flare = vapor_flare(Fluid("propane"), mass_flow=[0.5, 0.02], height=3.0, weather=breeze)
    >>> for regime, length, stand in zip(flare.regime, flare.flame_length, flare.standoff(heat_flux=500.0)):
    ...     print(f"{regime}: flame {length:.1f} m, stand {stand:.0f} m away")
    jet: flame 8.2 m, stand 34 m away
    lazy: flame 3.6 m, stand 6 m away
    """
    weather = Weather() if weather is None else weather
    require_kind(fluid, Fluid, "fluid")
    require_kind(weather, Weather, "weather")
    require_flag(extrapolate, "extrapolate")
    require_word(model, _MODELS, "model")
    require_word(radiation, RADIATION_MODELS, "radiation")
    exit_ = _exit_state(fluid, mass_flow, diameter, temperature, height, weather)
    jet = jet_flame_chamberlain(
        exit_.velocity,
        exit_.source_diameter,
        wind_speed=exit_.wind,
        stoichiometric=stoichiometric_fraction(fluid),
        density_ratio=exit_.density_ratio,
    )
    is_jet, outside = _choose(model, exit_, jet, extrapolate)
    chi = _fraction(fluid, radiated_fraction, exit_, is_jet)
    fields = _flames(exit_, jet, is_jet, chi)
    burning = exit_.mass_flow > 0.0
    fields |= {
        "flame_froude": flame_froude_number(
            exit_.velocity,
            exit_.diameter,
            exit_.density_ratio,
            stoichiometric_fraction(fluid),
            exit_.air_temperature,
        ),
        "mass_flow": exit_.mass_flow,
        "height": exit_.height,
        "exit_velocity": exit_.velocity,
    }
    for name in fields.keys() - {"flame", "height", "flame_tilt", "radiated_fraction"}:
        fields[name] = np.where(burning, fields[name], exit_.height if name == "tip_height" else 0.0)[()]
    regime = np.where(burning, np.where(is_jet, "jet", "lazy"), "out")
    leaning = model == "automatic" and (burning & ~is_jet & _is_fast(exit_)).any()
    shaped: dict[str, Any] = {
        name: value if name == "flame" else np.array(value)[()] for name, value in fields.items()
    }
    return VaporFlare(
        **shaped,
        regime=regime[()],
        weather=weather,
        radiation=radiation,
        cautions=(*fluid.cautions, *_CAUTIONS, *(_LEANING_CAUTION,) * bool(leaning)),
        provenance=Provenance(
            f"vapor flare: {model} flame, {radiation}", _SOURCES, exit_.properties, outside
        ),
    )


class _Exit(NamedTuple):
    """State at the open end, and the air around it."""

    mass_flow: FloatArray
    height: FloatArray
    diameter: FloatArray
    velocity: FloatArray
    source_diameter: FloatArray
    density_ratio: FloatArray
    vapor_density: FloatArray
    wind: FloatArray
    air_temperature: FloatArray
    heat_release_rate: FloatArray
    properties: str


def _driest(fluid: Fluid, pressure: FloatArray) -> FloatArray:
    """Temperature from which all of the fluid is vapor [K]."""
    if fluid.is_blend:
        dew: FloatArray = fluid.blend.dew(pressure=np.ravel(pressure)).temperature
        return dew.reshape(np.shape(pressure)) * (1.0 + 1e-9)
    return fluid.saturation_temperature(pressure)


def _exit_state(
    fluid: Fluid,
    mass_flow: QuantityLike,
    diameter: QuantityLike,
    temperature: QuantityLike | None,
    height: QuantityLike,
    weather: Weather,
) -> _Exit:
    given = weather.air_temperature if temperature is None else temperature
    highest = fluid.tables.highest_gas_temperature
    m, d, T, z, p, wind, T_air = broadcast(
        mass_flow=to_si(mass_flow, "kg/s", "mass_flow", lower=0.0),
        diameter=to_si(diameter, "m", "diameter", lower=0.0, upper=2.0, open_lower=True, why="an open end"),
        temperature=to_si(given, "K", "temperature", lower=fluid.lowest_temperature, upper=highest),
        height=to_si(height, "m", "height", lower=0.0, upper=300.0, why="above the ground"),
        ambient_pressure=fluid.pressure_range(weather.ambient_pressure, "ambient_pressure of the weather"),
        wind_speed=weather.wind_speed,
        air_temperature=weather.air_temperature,
    )
    boiling = _driest(fluid, np.atleast_1d(p)).reshape(p.shape)
    state = fluid.gas(temperature=np.maximum(T, boiling), pressure=p)
    flow = np.maximum(m, _LEAST_FLOW)
    rho_air = air_density(np.asarray(T_air), np.asarray(p))
    velocity = np.minimum(flow / (0.25 * math.pi * state.density * d * d), state.speed_of_sound)
    return _Exit(
        mass_flow=m,
        height=z,
        diameter=np.sqrt(4.0 * flow / (math.pi * state.density * velocity)),
        velocity=velocity,
        source_diameter=np.sqrt(4.0 * flow / (math.pi * rho_air * velocity)),
        density_ratio=state.density / rho_air,
        vapor_density=state.density,
        wind=wind,
        air_temperature=T_air,
        heat_release_rate=flow * fluid.heat_of_combustion,
        properties=state.provenance.properties,
    )


def _is_fast(exit_: _Exit) -> Any:
    """Whether the vapor leaves faster than the flame's own buoyancy moves gas."""
    return exit_.velocity >= buoyant_velocity_mccaffrey(exit_.heat_release_rate)


def _choose(model: str, exit_: _Exit, jet: JetFlame, extrapolate: bool) -> tuple[Any, tuple[str, ...]]:
    """Which scenarios are jets, and the range that was left, if any."""
    upright = jet.tilt <= _STEEPEST
    if model == "buoyant":
        return np.zeros_like(upright), ()
    if model == "automatic":
        return upright & _is_fast(exit_), ()
    if upright.all():
        return np.ones_like(upright), ()
    text = "jets that lean up to 80 degrees"
    if not extrapolate:
        worst = float(np.max(jet.tilt))
        raise OutOfRangeError("tilt of the flame", worst, "rad", 0.0, _STEEPEST, f"{text}; wind too strong")
    warnings.warn(f"outside {text}", ValidityWarning, stacklevel=3)
    return np.ones_like(upright), (text,)


def _fraction(fluid: Fluid, given: QuantityLike | None, exit_: _Exit, is_jet: Any) -> FloatArray:
    if given is None:
        of_jet = radiated_fraction_chamberlain(exit_.velocity, fluid.molar_mass)
        return np.where(is_jet, of_jet, _LAZY_FRACTION)
    chi = to_si(given, "", "radiated_fraction", lower=0.05, upper=0.6, why="measured shares")
    return broadcast(radiated_fraction=chi, mass_flow=exit_.velocity)[0]


def _flames(exit_: _Exit, jet: JetFlame, is_jet: Any, chi: FloatArray) -> dict[str, Any]:
    """Shape and brightness of each flame by the model that serves it."""
    Q = exit_.heat_release_rate
    lazy_length = np.maximum(flame_length_heskestad(Q, exit_.diameter), 0.5 * exit_.diameter)
    flux = exit_.mass_flow / (0.25 * math.pi * exit_.diameter * exit_.diameter)
    flux = np.maximum(flux, np.finfo(float).tiny)
    lazy_tilt = tilt_aga(dimensionless_wind(exit_.wind, flux, exit_.diameter, exit_.vapor_density))
    tilt = np.where(is_jet, jet.tilt, lazy_tilt)
    length = np.where(is_jet, jet.frustum_length, lazy_length)
    lift = np.where(is_jet, jet.lift_off, 0.0)
    base = np.where(is_jet, 0.5 * jet.base_width, 0.5 * lazy_length / _SLENDER)
    tip = np.where(is_jet, 0.5 * jet.tip_width, 0.5 * lazy_length / _SLENDER)
    foot = exit_.height + lift
    flame = Flame(
        np.zeros_like(foot), foot, base, length * np.sin(tilt), foot + length * np.cos(tilt), tip, tilt
    )
    area = flame_area(flame, with_base=True)
    return {
        "heat_release_rate": Q,
        "radiated_fraction": chi,
        "flame_length": length,
        "flame_tilt": tilt,
        "surface_emissive_power": chi * Q / area,
        "radiated_power": chi * Q,
        "lift_off": lift,
        "tip_height": flame.tip_z,
        "flame": Flame(*(np.array(part)[()] for part in flame)),
    }


@result
class FlareHistory(Result):
    """A tank's vent flared over time; the last axis of every history is time."""

    time: FloatArray = quantity("s", "time since the start", dims=("time",))
    mass_flow: FloatArray = quantity("kg/s", "vapor burned", dims=("time",))
    heat_release_rate: FloatArray = quantity("W", "heat of combustion set free", dims=("time",))
    flame_length: FloatArray = quantity("m", "length of the flame", dims=("time",))
    burned: FloatArray = quantity("kg", "vapor burned in all")
    duration: FloatArray = quantity("s", "how long to flare")
    stopped_by: StringArray = plain("why the tank's history ended")
    flare: VaporFlare = plain("the flare at each point in time")
    cautions: tuple[str, ...] = plain("what to bear in mind", default=_CAUTIONS)

    def standoff(self, heat_flux: QuantityLike, **where: Any) -> FloatArray:
        """Distance at each point in time as `VaporFlare.standoff` gives it; its largest is the one to keep.

        Parameters
        ----------
        heat_flux : number, array or quantity
            [W/m2]; an array must broadcast with the histories.
        **where
            As for :meth:`lpgrelease.fire.Fire.standoff`.

        Returns
        -------
        ndarray
            [m], time last.
        """
        return self.flare.standoff(heat_flux, **where)


def flare_history(
    fluid: Fluid,
    history: TankHistory,
    *,
    opening: int = 0,
    height: QuantityLike = 0.0,
    diameter: QuantityLike = 0.0508,
    weather: Weather | None = None,
    model: str = "automatic",
) -> FlareHistory:
    """Flare what leaves an opening of a tank: how long, how large the flame, how far away to stand.

    Parameters
    ----------
    fluid : Fluid
        The tank's.
    history : TankHistory
        From `tank_history`.
    opening : int
        Which of its openings is piped to the flare.
    height, diameter : number, array or quantity
        Of the flare's open end [m].
    weather : Weather, optional
    model : {"automatic", "chamberlain", "buoyant"}
        As for :func:`vapor_flare`.

    Returns
    -------
    FlareHistory

    Raises
    ------
    InputError, OutOfRangeError
        No such opening, one that passed liquid, or as for :func:`vapor_flare`.

    Notes
    -----
    Vapor arrives at the temperature of the tank. Its flow is that of the tank's opening: put the friction of
    the line to the flare into that opening's discharge coefficient.

    Examples
    --------
    >>> import lpgrelease as lr
    >>> propane = lr.Fluid("propane")
    >>> tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=170.0)
    >>> vent = lr.Opening(diameter=0.0254, discharge_coefficient=0.6, height=1.04)
    >>> run = lr.tank_history(lr.Contents(tank, propane, fill=0.8, temperature=293.15), openings=[vent])
    >>> flared = flare_history(propane, run, height=3.0)
    >>> print(f"{flared.duration / 60:.0f} min, flame {flared.flame_length[0]:.1f} m at first and "
    ...     f"{flared.flame_length[-1]:.1f} m at the end, stand {flared.standoff(1600.0).max():.0f} m away")
    64 min, flame 8.9 m at first and 3.9 m at the end, stand 21 m away
    """
    if not isinstance(history, TankHistory):
        raise InputError(f"history must be a TankHistory, got {type(history).__name__}")
    require_kind(fluid, Fluid, "fluid")
    held = history.final.fluid
    if held.components != fluid.components:
        raise InputError(f"history: a tank of {held.name}, not of {fluid.name}")
    openings = history.mass_flow.shape[-2]
    require_whole(opening, 0, openings - 1, "opening")
    if np.any(history.passes_liquid[..., opening, :] & (history.mass_flow[..., opening, :] > 0.0)):
        raise InputError(f"opening {opening} passed liquid; a flare burns vapor, a pit takes liquid")
    weather = Weather() if weather is None else weather
    require_kind(weather, Weather, "weather")
    timed: dict[str, Any] = {
        field.name: np.asarray(getattr(weather, field.name))[..., None]
        for field in dataclasses.fields(weather)
        if "unit" in field.metadata and np.ndim(getattr(weather, field.name))
    }
    flare = vapor_flare(
        fluid,
        mass_flow=history.mass_flow[..., opening, :],
        temperature=history.temperature,
        height=height,
        diameter=diameter,
        weather=dataclasses.replace(weather, **timed),
        model=model,
    )
    return FlareHistory(
        time=history.time,
        mass_flow=flare.mass_flow,
        heat_release_rate=flare.heat_release_rate,
        flame_length=flare.flame_length,
        burned=history.mass_released[..., opening, -1][()],
        duration=history.time[..., -1][()],
        stopped_by=history.stopped_by,
        flare=flare,
        provenance=flare.provenance,
    )
