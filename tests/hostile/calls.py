"""Every public callable with arguments that make sense, which a test then spoils.

A public callable or method without an entry here, or in `UNCHECKED` with the reason, fails a test.
"""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
from hypothesis import reject
from hypothesis import strategies as st

import lpgrelease as lr


@dataclasses.dataclass(frozen=True)
class Call:
    """A callable, what it takes, and how many cases it is worth in a short run."""

    name: str
    function: Callable[..., Any]
    arguments: dict[str, st.SearchStrategy[Any]]
    cases: int = 30
    either: tuple[tuple[str, ...], ...] = ()
    """Sets of arguments of which one set is given and the other arguments named here are None."""


@functools.cache
def some_fluids() -> tuple[lr.Fluid, ...]:
    """Pure fluids of all kinds, and a blend."""
    names = ("propane", "n-butane", "ammonia", "carbon dioxide", "ethane", "chlorine", "nitrogen", "n-hexane")
    return (*map(lr.Fluid, names), lr.Fluid({"propane": 0.7, "n-butane": 0.3}), lr.Fluid("propane"))


@functools.cache
def small_tank() -> lr.Contents:
    """A cylinder of propane in the sun."""
    tank = lr.HorizontalTank(diameter=1.0, length=3.0, wall_mass=700.0)
    return lr.Contents(tank, lr.Fluid("propane"), fill=0.5, temperature=290.0)


@functools.cache
def some_contents() -> tuple[lr.Contents, ...]:
    """Contents of tanks of every shape."""
    propane, ammonia = lr.Fluid("propane"), lr.Fluid("ammonia")
    upright = lr.VerticalTank(diameter=0.8, length=1.5, heads="hemispherical", wall_mass=300.0)
    return (
        small_tank(),
        lr.Contents(upright, ammonia, fill=[0.2, 0.9], temperature=280.0),
        lr.Contents(lr.SphericalTank(diameter=2.0), propane, fill=0.01, temperature=250.0),
        lr.Contents(upright, propane, fill=0.6, temperature=285.0, pad_pressure=2e5),
        lr.Contents(upright, some_fluids()[8], fill=0.6, temperature=285.0),
    )


@functools.cache
def some_ground() -> tuple[lr.Ground, ...]:
    """Dry, wet and two layers."""
    below = lr.Ground.named("clay")
    return (
        lr.Ground.named("moist sand"),
        lr.Ground.named("concrete", thickness=0.1, below=below),
        lr.Ground(conductivity=1.0, density=1800.0, heat_capacity=900.0),
    )


@functools.cache
def a_run() -> Any:
    """A short history of a tank that vents."""
    vent = lr.Opening(diameter=0.03, height=0.9)
    return lr.tank_history(small_tank(), openings=[vent], duration=60.0, points=9)


@functools.cache
def a_pool() -> Any:
    """A short history of a pool."""
    spill = lr.Spill(mass_flow=0.2, duration=20.0)
    return lr.pool_history(lr.Fluid("propane"), spill, ground=some_ground()[0], duration=60.0, nodes=41)


@functools.cache
def a_seal() -> Any:
    """A seal that holds."""
    return lr.assess_freeze_seal(lr.Fluid("propane"), lr.Opening(diameter=0.01), gauge_pressure=600.0)


@functools.cache
def some_fires() -> tuple[Any, ...]:
    """A fire of each kind."""
    propane = lr.Fluid("propane")
    return (
        lr.pool_fire(propane, diameter=3.0),
        lr.pool_fire(propane, diameter=3.0, radiation="point source"),
        lr.vapor_flare(propane, mass_flow=0.3, height=2.0),
    )


@functools.cache
def a_cloud() -> Any:
    """A cloud of propane."""
    return lr.flammable_reach(lr.Fluid("propane"), mass_flow=0.2, weather=lr.Weather(stability="D"))


@functools.cache
def some_hours() -> Any:
    """A night and a day."""
    night, day = lr.Weather(air_temperature=280.0), lr.Weather(wind_speed=4.0, solar_irradiance=300.0)
    return lr.WeatherByHour(times=[0.0, 3600.0], weathers=[night, day])


@functools.cache
def a_forecast() -> Any:
    """The whole job on a small tank."""
    return lr.forecast(an_incident(), a_plan())


@functools.cache
def an_incident() -> Any:
    """A small hole low on a small tank."""
    hole = lr.Opening(diameter=0.004, height=0.1)
    return lr.Incident(contents=small_tank(), leaks=[hole], ground=some_ground()[0])


def a_valve() -> Any:
    """A relief valve at the top of a small tank."""
    return lr.ReliefValve(opening=lr.Opening(diameter=0.02, height=1.0), set_pressure=1.7e6)


@functools.cache
def some_whens() -> Any:
    """Conditions for steps."""
    return (lr.When(time=100.0), lr.When(gauge_at_most=1e5), [lr.When(after="two"), lr.When(daylight=True)])


@functools.cache
def some_steps() -> Any:
    """People out, vapor out, ice on the leak, the pool burned off."""
    return [
        lr.KeepOut(distance=200.0, takes=60.0),
        lr.Vent(vent=lr.Opening(diameter=0.05, height=0.9), starts=lr.When(after="keep people out")),
        lr.Seal(starts=lr.When(gauge_at_most=3000.0)),
        lr.BurnPool(starts=lr.When(after="keep people out", wait=30.0)),
    ]


@functools.cache
def a_plan_of_steps() -> Any:
    """The usual plan, and a list of steps that wait for one another."""
    return a_plan(), lr.ResponsePlan(arrival=60.0, steps=some_steps(), hold=60.0, longest=1800.0)


@functools.cache
def a_plan() -> Any:
    """Venting through one line, for ten minutes at most."""
    return lr.ResponsePlan(
        arrival=60.0, vent=lr.Opening(diameter=0.05, height=0.9), longest_venting=600.0, hold=60.0
    )


def number(low: float, high: float) -> st.SearchStrategy[float]:
    """Numbers that make sense."""
    return st.floats(low, high, allow_nan=False)


def maybe(value: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """The default None, or a value."""
    return st.none() | value


def one_of(*values: Any) -> st.SearchStrategy[Any]:
    """One of these."""
    return st.sampled_from(values)


def later(make: Callable[[], Any]) -> st.SearchStrategy[Any]:
    """What `make` makes, when it is first needed; one of them if it makes several."""
    return st.builds(make).flatmap(lambda made: st.sampled_from(made if isinstance(made, tuple) else (made,)))


@st.composite
def made(draw: Any, kind: Callable[..., Any], arguments: dict[str, st.SearchStrategy[Any]]) -> Any:
    """What `kind` makes of the arguments, where it takes them."""
    try:
        return kind(**{name: draw(value) for name, value in arguments.items()})
    except lr.LpgReleaseError:
        reject()


FLUID = later(some_fluids)
BLEND = later(lambda: some_fluids()[8])
BURNS = later(lambda: (*some_fluids()[:2], some_fluids()[8])) | FLUID
AIR = number(240.0, 320.0)
KELVIN = number(230.0, 330.0)
PASCAL = number(5e4, 2e6)
FRACTION = number(0.0, 1.0)
AMBIENT = number(6e4, 1.05e5)
LENGTH = number(1e-3, 10.0)
ODD_LENGTH = LENGTH | one_of(1e-12, 1e-6, 100.0, 1e5)
SECONDS = number(0.0, 7200.0)
FLOW = number(1e-6, 20.0)

WEATHER_ARGUMENTS = {
    "air_temperature": AIR,
    "wind_speed": number(0.0, 30.0),
    "relative_humidity": FRACTION,
    "solar_irradiance": number(0.0, 1200.0),
    "cloud_cover": FRACTION,
    "ambient_pressure": AMBIENT,
    "stability": one_of(None, "A", "D", "F"),
}
WEATHER = maybe(made(lr.Weather, WEATHER_ARGUMENTS))
OPENING_ARGUMENTS = {
    "diameter": ODD_LENGTH,
    "discharge_coefficient": number(1e-3, 1.0),
    "height": number(0.0, 0.7),
}
OPENING = made(lr.Opening, OPENING_ARGUMENTS)
SMALL_OPENING = st.builds(
    lambda d, h: lr.Opening(diameter=d, height=h), number(0.002, 0.06), number(0.0, 0.9)
)
LINE_ARGUMENTS = {
    "diameter": number(0.005, 0.3),
    "length": number(0.0, 200.0),
    "roughness": number(1e-6, 1e-3),
    "fittings": number(0.0, 20.0),
    "rise": number(-3.0, 10.0),
    "discharge_coefficient": number(0.1, 1.0),
    "height": number(0.0, 0.7),
}
LINE = made(lr.Line, LINE_ARGUMENTS)
SOURCE_ARGUMENTS = {
    "mass_flow": FLOW,
    "temperature": maybe(AIR),
    "liquid_fraction": FRACTION,
    "velocity": number(0.0, 100.0),
    "diameter": maybe(LENGTH),
    "height": number(0.0, 5.0),
    "duration": maybe(number(10.0, 3600.0)),
}
CONTENTS = later(some_contents)
GROUND = later(some_ground)
EXPOSURE_ARGUMENTS = {
    "wind_share": FRACTION,
    "sun_share": FRACTION,
    "sky_share": FRACTION,
    "cover_temperature": maybe(AIR),
    "vapor_fill": FRACTION,
    "precipitation": number(0.0, 1e-5),
}
EXPOSURE = maybe(made(lr.Exposure, EXPOSURE_ARGUMENTS))
HOLLOW_ARGUMENTS = {"area": number(0.1, 500.0), "depth": number(0.01, 3.0), "exposure": EXPOSURE}
BASIN_ARGUMENTS = {
    "depth": st.just([0.0, 0.2, 1.0]),
    "area": number(0.1, 5.0).map(lambda least: [least, 3.0 * least, 10.0 * least]),
    "wetted_area": st.none(),
    "exposure": EXPOSURE,
}
HOLLOW = made(lr.Hollow, HOLLOW_ARGUMENTS)
CLOTH_ARGUMENTS = {
    "thickness": number(1e-3, 0.2),
    "overlap": number(1e-3, 0.3),
    "unbonded_width": number(0.0, 0.1),
    "water_temperature": number(273.2, 320.0),
    "porosity": number(0.3, 1.0),
    "pore_diameter": number(1e-6, 1e-3),
    "salinity": number(0.0, 0.035),
    "pressing_force": number(0.0, 500.0),
}
CLOTH = maybe(made(lr.WetCloth, CLOTH_ARGUMENTS))
WALL_ARGUMENTS = {
    "thickness": number(1e-3, 0.05),
    "conductivity": number(5.0, 400.0),
    "heat_capacity": number(1e6, 5e6),
    "temperature": maybe(AIR),
    "inside_heat_transfer": maybe(number(1.0, 5000.0)),
}
METAL = maybe(made(lr.MetalWall, WALL_ARGUMENTS))
VESSEL_ARGUMENTS = {
    "diameter": number(0.1, 20.0),
    "wall_mass": number(0.0, 1e5),
    "wall_heat_capacity": number(100.0, 1000.0),
    "heat_transfer": maybe(number(0.0, 500.0)),
    "emissivity": FRACTION,
    "absorptivity": FRACTION,
}
CYLINDER_ARGUMENTS = {
    **VESSEL_ARGUMENTS,
    "length": number(0.1, 30.0),
    "heads": one_of("flat", "elliptical", "hemispherical", "torispherical"),
}
VESSEL = made(lr.SphericalTank, VESSEL_ARGUMENTS) | st.builds(
    lambda kind, heads, d, length: getattr(lr, kind)(diameter=d, length=length, heads=heads),
    one_of("HorizontalTank", "VerticalTank"),
    one_of("flat", "elliptical", "hemispherical"),
    number(0.1, 10.0),
    number(0.1, 20.0),
)
TANK_WALL_ARGUMENTS = {
    "two_temperatures": st.booleans(),
    "insulation": number(0.0, 1.0),
    "contact_conductance": number(0.0, 100.0),
    "contact_temperature": maybe(AIR),
    "wet_coefficient": maybe(number(1.0, 5000.0)),
    "dry_coefficient": maybe(number(1.0, 100.0)),
    "surface_coefficient": maybe(number(1.0, 1000.0)),
    "inside_emissivity": number(0.0, 1.0),
    "conductivity": number(5.0, 400.0),
}
TANK_WALL = maybe(made(lr.TankWall, TANK_WALL_ARGUMENTS))
FIRE_KINDS: dict[str, st.SearchStrategy[Any]] = {
    "burning": one_of("babrauskas", "burgess-hertzberg"),
    "length": one_of("thomas", "heskestad"),
    "tilt": one_of("aga", "thomas", "none"),
    "emission": one_of("smoke obscured", "radiated fraction"),
    "radiated_fraction": number(0.05, 0.6),
    "radiation": one_of("solid flame", "point source"),
    "extrapolate": st.booleans(),
}
SCENARIO = {"direction": one_of("downwind", "crosswind", "upwind", "up", 0.3), "height": number(0.0, 10.0)}


def _fluids_and_phases() -> Iterator[Call]:
    mixed = st.dictionaries(
        one_of("propane", "n-butane", "ethane", "nitrogen", "propylene", "water", "", "PROPANE"),
        number(0.0, 1.0),
        max_size=4,
    )
    named = one_of("propane", "Propane", "commercial propane", "HD-5", "autogas", "ammonia")
    yield Call("Fluid", lr.Fluid, {"name": named | mixed, "basis": one_of("mole", "mass")})
    point = {"temperature": KELVIN, "pressure": PASCAL}
    one = (("temperature",), ("pressure",))
    yield Call("Fluid.saturation", lr.Fluid.saturation, {"self": FLUID, **point}, either=one)
    yield Call(
        "Fluid.transport",
        lr.Fluid.transport,
        {"self": FLUID, "temperature": KELVIN, "extrapolate": st.booleans()},
    )
    for phase in ("gas", "liquid"):
        yield Call(
            f"Fluid.{phase}",
            getattr(lr.Fluid, phase),
            {"self": FLUID, "temperature": KELVIN, "pressure": PASCAL},
        )
    yield Call("bubble_point", lr.bubble_point, {"fluid": FLUID, **point}, either=one)
    yield Call("dew_point", lr.dew_point, {"fluid": FLUID, **point}, either=one)
    more = {"enthalpy": number(-5e5, 5e5), "entropy": number(-3e3, 3e3), "density": number(1e-2, 1e3)}
    pairs = (
        ("temperature", "pressure"),
        ("pressure", "enthalpy"),
        ("pressure", "entropy"),
        ("temperature", "density"),
    )
    yield Call(
        "equilibrium",
        lr.equilibrium,
        {"fluid": FLUID, **point, **more},
        cases=60,
        either=pairs,
    )
    yield Call(
        "flash",
        lr.flash,
        {
            "fluid": FLUID,
            "temperature": KELVIN,
            "ambient_pressure": AMBIENT,
            "pressure": maybe(PASCAL),
            "path": one_of("isenthalpic", "isentropic"),
        },
        cases=60,
    )
    yield Call(
        "boil_off",
        lr.boil_off,
        {
            "fluid": BLEND,
            "liquid_left": st.lists(FRACTION, min_size=1, max_size=2),
            "pressure": PASCAL,
        },
        cases=5,
    )
    yield Call("gauge", lr.gauge, {"reading": number(-1e5, 1e7), "ambient_pressure": AMBIENT}, cases=60)


def _weather_and_releases() -> Iterator[Call]:
    yield Call("Weather", lr.Weather, WEATHER_ARGUMENTS, cases=60)
    yield Call(
        "WeatherByHour",
        lr.WeatherByHour,
        {"times": one_of([0.0, 3600.0]), "weathers": st.lists(WEATHER, min_size=2, max_size=2)},
    )
    yield Call(
        "WeatherByHour.at",
        lr.WeatherByHour.at,
        {"self": later(some_hours), "time": number(0.0, 1e5)},
    )
    yield Call("Opening", lr.Opening, OPENING_ARGUMENTS)
    yield Call("Line", lr.Line, LINE_ARGUMENTS)
    state = {"fluid": BLEND, "opening": OPENING, "temperature": KELVIN, "pressure": maybe(PASCAL)}
    yield Call("vapor_release", lr.vapor_release, {**state, "ambient_pressure": AMBIENT}, cases=60)
    yield Call(
        "liquid_release",
        lr.liquid_release,
        {**state, "ambient_pressure": AMBIENT, "head": number(0.0, 10.0)},
        cases=60,
    )
    models = one_of("homogeneous equilibrium", "omega", "homogeneous non-equilibrium", "frozen", "length")
    still = {"fluid": st.builds(lambda: some_fluids()[0]), "vapor_fraction": st.just(0.0)}
    boiling = {**state, "pressure": st.none(), "ambient_pressure": AMBIENT, "vapor_fraction": FRACTION}
    yield Call(
        "two_phase_release",
        lr.two_phase_release,
        {**boiling, "model": models, "length": st.none(), "device": st.just("orifice")},
        cases=60,
    )
    yield Call(
        "two_phase_release (length)",
        lr.two_phase_release,
        {
            **boiling,
            **still,
            "model": st.just("length"),
            "length": number(0.0, 1.0),
            "device": st.just("orifice"),
        },
    )
    yield Call(
        "two_phase_release (device)",
        lr.two_phase_release,
        {
            **boiling,
            **still,
            "model": st.just("homogeneous non-equilibrium"),
            "length": st.none(),
            "device": one_of("safety valve", "long nozzle"),
        },
    )
    yield Call(
        "line_release",
        lr.line_release,
        {
            "fluid": FLUID,
            "line": LINE,
            "temperature": KELVIN,
            "pressure": maybe(PASCAL),
            "vapor_fraction": FRACTION,
            "ambient_pressure": AMBIENT,
        },
        cases=15,
    )


def _fires() -> Iterator[Call]:
    fluid = {"fluid": BURNS}
    weather = {"weather": WEATHER, **FIRE_KINDS}
    pit = {"diameter": number(0.3, 40.0), "ground": maybe(GROUND), "points": one_of(9, 33)}
    yield Call("pool_fire", lr.pool_fire, {**fluid, "diameter": number(0.1, 40.0), **weather}, cases=40)
    yield Call(
        "burn_pit",
        lr.burn_pit,
        {
            **fluid,
            "feed_rate": FLOW,
            "feed_temperature": maybe(KELVIN),
            "depth": number(0.01, 3.0),
            "duration": number(1.0, 3600.0),
            **pit,
            **weather,
        },
        cases=12,
    )
    yield Call(
        "still_pool_fire",
        lr.still_pool_fire,
        {
            **fluid,
            "mass": number(0.01, 1e4),
            "temperature": maybe(number(190.0, 231.0)),
            "age": SECONDS,
            **pit,
            **weather,
        },
        cases=12,
    )
    flare = {**fluid, "height": number(0.0, 10.0), "diameter": number(0.01, 0.3), "weather": WEATHER}
    yield Call(
        "vapor_flare",
        lr.vapor_flare,
        {
            **flare,
            "mass_flow": FLOW,
            "temperature": maybe(KELVIN),
            "model": one_of("automatic", "chamberlain", "buoyant"),
            "radiated_fraction": maybe(number(0.05, 0.6)),
            "radiation": one_of("solid flame", "point source"),
            "extrapolate": st.booleans(),
        },
        cases=40,
    )
    yield Call(
        "flare_history",
        lr.flare_history,
        {
            **flare,
            "history": later(a_run),
            "opening": one_of(0, 1, -1, 7),
            "model": one_of("automatic", "chamberlain", "buoyant"),
        },
        cases=10,
    )
    yield Call("heat_thresholds", lr.heat_thresholds, {}, cases=1)
    flux = {"heat_flux": number(1000.0, 12e3)}
    yield Call("thermal_dose", lr.thermal_dose, {**flux, "duration": SECONDS}, cases=40)
    harm = {"harm": one_of("pain", "second-degree burn"), "extrapolate": st.booleans()}
    yield Call("time_to_harm", lr.time_to_harm, {**flux, **harm}, cases=40)
    yield Call(
        "vessel_heating",
        lr.vessel_heating,
        {
            "fire": later(some_fires),
            "contents": CONTENTS,
            "distance": number(0.0, 100.0),
            "direction": SCENARIO["direction"],
            "height": maybe(number(0.0, 5.0)),
            "vented_flow": number(0.0, 5.0),
            "absorptivity": FRACTION,
        },
        cases=15,
    )
    here = {"self": later(some_fires), **SCENARIO}
    facing = {"facing": one_of("flame", "up", (1.0, 0.0))}
    fire = type(some_fires()[0])
    yield Call("Fire.heat_flux", fire.heat_flux, {**here, **facing, "distance": number(0.0, 200.0)}, cases=15)
    yield Call("Fire.standoff", fire.standoff, {**here, **facing, **flux}, cases=8)
    yield Call(
        "Fire.time_to_harm", fire.time_to_harm, {**here, **harm, "distance": number(0.0, 200.0)}, cases=10
    )


def _clouds() -> Iterator[Call]:
    yield Call("GasSource", lr.GasSource, SOURCE_ARGUMENTS)
    yield Call(
        "fill_space",
        lr.fill_space,
        {
            "fluid": FLUID,
            "mass_flow": FLOW,
            "floor_area": number(0.1, 1e3),
            "depth": number(0.1, 20.0),
            "duration": SECONDS,
            "air_changes": number(0.0, 20.0),
            "mixing_factor": number(0.1, 1.0),
            "fraction": number(0.05, 1.0),
            "gas_temperature": KELVIN,
            "ambient_pressure": AMBIENT,
        },
        cases=40,
    )
    source = made(lr.GasSource, SOURCE_ARGUMENTS)
    yield Call(
        "flammable_reach",
        lr.flammable_reach,
        {
            "fluid": FLUID,
            "source": source,
            "mass_flow": FLOW,
            "weather": WEATHER,
            "fraction": number(0.1, 1.0),
            "roughness": number(1e-4, 0.5),
            "site": one_of("open country", "urban"),
            "averaging_time": number(1.0, 600.0),
        },
        cases=6,
        either=(("source",), ("mass_flow",)),
    )
    release = st.builds(
        lambda hole, t: lr.liquid_release(lr.Fluid("propane"), hole, temperature=t), SMALL_OPENING, AIR
    )
    yield Call(
        "jet_source",
        lr.jet_source,
        {
            "fluid": FLUID,
            "release": release,
            "temperature": KELVIN,
            "vapor_fraction": FRACTION,
            "discharge_coefficient": number(0.1, 1.0),
            "captured_fraction": FRACTION,
            "height": number(0.0, 5.0),
            "ambient_pressure": AMBIENT,
            "duration": maybe(SECONDS),
        },
        cases=20,
    )
    yield Call("pasquill_class", lr.pasquill_class, {"weather": WEATHER})
    yield Call("pool_source", lr.pool_source, {"pool": later(a_pool)}, cases=10)
    there = {"crosswind": number(-50.0, 50.0), "height": number(0.0, 10.0)}
    cloud = {"self": later(a_cloud)}
    kind = type(a_cloud())
    where = {**cloud, "distance": number(0.1, 500.0), **there}
    gas = {"calibration_gas": one_of("methane", "propane"), "correction_factor": maybe(number(0.1, 3.0))}
    yield Call("CloudReach.mole_fraction", kind.mole_fraction, where, cases=15)
    yield Call("CloudReach.monitor", kind.monitor, {**where, **gas}, cases=15)
    yield Call(
        "CloudReach.contour",
        kind.contour,
        {**cloud, "fraction": number(0.05, 1.0), "points": one_of(2, 50)},
        cases=10,
    )


def _seals() -> Iterator[Call]:
    yield Call("WetCloth", lr.WetCloth, CLOTH_ARGUMENTS)
    yield Call("MetalWall", lr.MetalWall, WALL_ARGUMENTS)
    seal = {
        "fluid": FLUID,
        "gauge_pressure": number(0.0, 5e4),
        "phase": one_of("liquid", "vapor"),
        "cloth": CLOTH,
        "tank_temperature": maybe(KELVIN),
        "head": number(0.0, 3.0),
        "ambient_pressure": maybe(AMBIENT),
        "weather": WEATHER,
        "outside_heat_transfer": number(1.0, 100.0),
        "captured_cold": FRACTION,
        "time_available": number(60.0, 1e5),
        "failure_probability": number(1e-6, 0.5),
        "vapor_fraction": FRACTION,
        "wall": METAL,
        "open_to_air": st.booleans(),
    }
    yield Call("assess_freeze_seal", lr.assess_freeze_seal, {**seal, "hole": SMALL_OPENING}, cases=40)
    mapped = {
        **seal,
        "diameter": number(0.002, 0.1) | st.lists(number(0.002, 0.1), min_size=2, max_size=3),
        "gauge_pressure": number(0.0, 5e4) | st.lists(number(0.0, 5e4), min_size=2, max_size=3),
        "discharge_coefficient": number(0.1, 1.0),
    }
    yield Call("freeze_seal_map", lr.freeze_seal_map, mapped, cases=12)
    yield Call(
        "freeze_seal_maps",
        lr.freeze_seal_maps,
        {**mapped, "fluid": BLEND, "liquid_left": st.lists(FRACTION, min_size=1, max_size=2)},
        cases=6,
    )
    yield Call(
        "hold_freeze_seal",
        lr.hold_freeze_seal,
        {
            "seal": later(a_seal),
            "contents": later(small_tank),
            "weather": WEATHER,
            "vents": st.lists(SMALL_OPENING, max_size=1),
            "duration": number(10.0, 600.0),
            "keep_gauge_pressure": maybe(number(0.0, 1e5)),
            "discharge_coefficient": number(0.1, 1.0),
            "points": st.just(9),
        },
        cases=3,
    )


def _tanks() -> Iterator[Call]:
    for name in ("HorizontalTank", "VerticalTank"):
        yield Call(name, getattr(lr, name), CYLINDER_ARGUMENTS)
    yield Call("SphericalTank", lr.SphericalTank, VESSEL_ARGUMENTS)
    of_vessel = {"self": VESSEL}
    for method, argument in (
        ("level", "liquid_volume"),
        ("liquid_volume", "level"),
        ("wetted_area", "level"),
    ):
        yield Call(
            f"Tank.{method}",
            lambda self, method=method, **given: getattr(self, method)(**given),
            {**of_vessel, argument: number(0.0, 1.0)},
        )
    yield Call(
        "Contents",
        lr.Contents,
        {
            "tank": VESSEL,
            "fluid": FLUID,
            "fill": FRACTION,
            "temperature": KELVIN,
            "pad_pressure": number(0.0, 1e6),
            "pad_gas": one_of("nitrogen", "air"),
        },
        cases=40,
    )
    yield Call(
        "Contents.gauge_pressure",
        lr.Contents.gauge_pressure,
        {"self": CONTENTS, "ambient_pressure": AMBIENT},
        cases=15,
    )
    yield Call(
        "ReliefValve",
        lr.ReliefValve,
        {
            "opening": OPENING,
            "set_pressure": number(1e5, 3e6),
            "overpressure": number(0.01, 0.5),
            "blowdown": number(0.0, 0.5),
        },
    )
    stops = ("gauge_pressure", "temperature", "mass", "liquid_mass", "level", "time", "function")
    yield Call(
        "StopAt",
        lr.StopAt,
        {
            "gauge_pressure": number(0.0, 1e6),
            "temperature": KELVIN,
            "mass": number(0.0, 1e4),
            "liquid_mass": number(0.0, 1e4),
            "level": FRACTION,
            "time": SECONDS,
            "function": st.just(len),
            "tolerance": number(1e-9, 1e-3),
        },
        either=tuple((name,) for name in stops),
    )
    yield Call(
        "TankFire",
        lr.TankFire,
        {
            "adequate_drainage": st.booleans(),
            "environment_factor": FRACTION,
            "elevation": number(0.0, 10.0),
            "dry_flux": number(0.0, 1e5),
        },
    )
    yield Call("TankWall", lr.TankWall, TANK_WALL_ARGUMENTS)
    yield Call(
        "Transfer",
        lr.Transfer,
        {"mass_flow": number(-10.0, 10.0), "phase": one_of("liquid", "vapor"), "temperature": maybe(KELVIN)},
    )
    yield Call(
        "fire_engulfment",
        lr.fire_engulfment,
        {
            "contents": CONTENTS,
            "elevation": number(0.0, 10.0),
            "adequate_drainage": st.booleans(),
            "environment_factor": FRACTION,
            "height_limit": number(1.0, 20.0),
        },
        cases=15,
    )
    yield Call(
        "level_swell",
        lr.level_swell,
        {
            "contents": CONTENTS,
            "vapor_flow": number(0.0, 20.0),
            "height": number(0.0, 1.0),
            "regime": one_of("churn-turbulent", "bubbly"),
        },
        cases=15,
    )
    yield Call("liquid_full", lr.liquid_full, {"contents": CONTENTS, "heat": number(0.0, 1e6)}, cases=15)
    yield Call(
        "opening_height",
        lr.opening_height,
        {"tank": VESSEL, "axial": number(-0.5, 0.5), "clock": number(-3.0, 7.0)},
    )
    yield Call(
        "pressure_return",
        lr.pressure_return,
        {"contents": CONTENTS, "gauge_pressure": number(0.0, 1e6), "weather": WEATHER, "wall": TANK_WALL},
        cases=8,
    )
    yield Call(
        "steady_hold",
        lr.steady_hold,
        {"contents": CONTENTS, "weather": WEATHER, "gauge_pressure": number(0.0, 5e5), "wall": TANK_WALL},
        cases=15,
    )
    angle = number(-3.2, 3.2)
    yield Call("tilt", lr.tilt, {"tank": VESSEL, "pitch": angle, "roll": angle})
    yield Call(
        "tank_history",
        lr.tank_history,
        {
            "contents": CONTENTS,
            "openings": st.lists(SMALL_OPENING, max_size=2),
            "weather": WEATHER,
            "stop_at_gauge_pressure": maybe(number(0.0, 5e5)),
            "duration": number(1.0, 600.0),
            "wall": st.none(),
            "air_enters": st.booleans(),
            "points": st.just(5),
        },
        cases=6,
    )


def _pools() -> Iterator[Call]:
    yield Call(
        "Ground",
        lr.Ground,
        {
            "conductivity": number(0.1, 5.0),
            "density": number(500.0, 3000.0),
            "heat_capacity": number(1500.0, 3000.0),
            "water_mass_fraction": number(0.0, 0.4),
            "frozen_conductivity": maybe(number(0.1, 5.0)),
            "temperature": maybe(AIR),
            "minimum_depth": number(0.001, 0.05),
            "conductivity_slope": number(-1e-3, 1e-3),
            "heat_capacity_slope": number(-0.006, 0.006),
            "thickness": number(0.01, 1.0),
            "below": later(lambda: some_ground()[0]),
            "name": one_of("mine", ""),
        },
        either=(("thickness", "below"), ()),
    )
    yield Call(
        "Ground.named",
        lr.Ground.named,
        {
            "name": one_of("moist sand", "clay", "lava"),
            "temperature": maybe(AIR),
            "minimum_depth": maybe(number(0.001, 0.05)),
            "thickness": number(0.01, 1.0),
            "below": later(lambda: some_ground()[0]),
        },
        either=(("thickness", "below"), ()),
    )
    yield Call("Ground.named_range", lr.Ground.named_range, {"name": one_of("clay", "lava", "")}, cases=15)
    contact = {"self": GROUND, "contact_temperature": number(190.0, 300.0), "ground_temperature": maybe(AIR)}
    yield Call("Ground.heat_coefficient", lr.Ground.heat_coefficient, contact)
    yield Call("Ground.heat_flux", lr.Ground.heat_flux, {**contact, "age": SECONDS})
    yield Call(
        "ground_history",
        lr.ground_history,
        {
            "ground": GROUND,
            "temperature": number(190.0, 300.0),
            "duration": number(1.0, 600.0),
            "conductance": maybe(number(1.0, 500.0)),
            "fluid": maybe(FLUID),
            "ground_temperature": maybe(AIR),
            "radius": maybe(number(0.1, 5.0)),
        },
        cases=5,
    )
    yield Call("Exposure", lr.Exposure, EXPOSURE_ARGUMENTS)
    yield Call("Hollow", lr.Hollow, HOLLOW_ARGUMENTS)
    yield Call("Basin", lr.Basin, BASIN_ARGUMENTS)
    shape = {"depth": number(0.05, 3.0), "exposure": EXPOSURE}
    yield Call("Basin.bowl", lr.Basin.bowl, {**shape, "diameter": number(0.2, 20.0)}, cases=20)
    yield Call("Basin.pit", lr.Basin.pit, {**shape, "area": number(0.1, 100.0)}, cases=20)
    ditch = {"length": number(1.0, 100.0), "width": number(0.1, 5.0), "bank_slope": number(0.0, 4.0)}
    yield Call("Basin.ditch", lr.Basin.ditch, {**shape, **ditch}, cases=20)
    yield Call("OpenGround", lr.OpenGround, {"exposure": EXPOSURE}, cases=10)
    spill = {
        "mass": number(0.0, 1e4),
        "mass_flow": FLOW,
        "duration": SECONDS,
        "time": st.lists(SECONDS, min_size=2, max_size=3).map(sorted),
        "temperature": maybe(KELVIN),
        "captured_fraction": FRACTION,
    }
    yield Call(
        "Spill",
        lr.Spill,
        spill,
        either=(
            ("mass",),
            ("mass_flow",),
            ("mass_flow", "time"),
            *((n, "duration") for n in ("mass", "mass_flow")),
        ),
    )
    starts, lengths = one_of([0.0, 600.0], [10.0, 50.0]), one_of([10.0, 20.0], 30.0)
    episodes = {"start": starts, "duration": lengths, "mass_flow": FLOW, "temperature": maybe(KELVIN)}
    yield Call("Spill.episodes", lr.Spill.episodes, {**episodes, "captured_fraction": FRACTION}, cases=20)
    a_spill = st.builds(lambda m, d: lr.Spill(mass_flow=m, duration=d), number(0.01, 5.0), number(5.0, 60.0))
    yield Call(
        "pool_history",
        lr.pool_history,
        {
            "fluid": FLUID,
            "spill": a_spill,
            "ground": GROUND,
            "duration": number(5.0, 120.0),
            "weather": st.one_of(WEATHER, later(some_hours)),
            "site": maybe(HOLLOW),
            "ignited_at": maybe(number(0.0, 100.0)),
            "burning": st.sampled_from(["babrauskas", "burgess-hertzberg"]),
            "contact": st.sampled_from(["boiling", "perfect"]),
            "nodes": st.just(61),
        },
        cases=3,
    )
    yield Call("pool_at", lr.pool_at, {"pool": later(a_pool), "time": number(0.0, 60.0)}, cases=20)
    lasting = {"fluid": FLUID, "ground": GROUND, "weather": WEATHER}
    feed = {"site": HOLLOW, "temperature": maybe(KELVIN), "captured_fraction": FRACTION}
    yield Call("sustaining_feed", lr.sustaining_feed, {**lasting, **feed, "level": FRACTION}, cases=10)
    yield Call(
        "lasting_depth",
        lr.lasting_depth,
        {
            **lasting,
            "lasting": number(60.0, 7200.0),
            "area": number(0.5, 100.0),
            "exposure": EXPOSURE,
            "freeboard": number(0.0, 1.0),
        },
        cases=2,
    )
    yield Call(
        "feed_for_lasting_pool",
        lr.feed_for_lasting_pool,
        {
            **lasting,
            **feed,
            "mass_flow": FLOW,
            "lasting": number(60.0, 7200.0),
            "longest": number(60.0, 1e5),
        },
        cases=2,
    )


def _steps() -> Iterator[Call]:
    common = {"name": one_of("one", "two", ""), "starts": maybe(later(some_whens))}
    ends = {"ends": maybe(later(some_whens)), "longest": maybe(SECONDS)}
    vents = {
        **common,
        **ends,
        "vent": SMALL_OPENING,
        "flare": maybe(st.booleans()),
        "flare_height": number(0.0, 20.0),
    }
    yield Call("Vent", lr.Vent, vents, cases=15)
    yield Call("Empty", lr.Empty, vents, cases=15)
    yield Call("KeepOut", lr.KeepOut, {**common, "distance": number(1.0, 1e4), "takes": SECONDS}, cases=15)
    yield Call(
        "Seal", lr.Seal, {**common, "cloth": CLOTH, "laying_time": SECONDS, "waits": st.booleans()}, cases=15
    )
    yield Call(
        "Hold", lr.Hold, {**common, "lasts": SECONDS, "gauge_at_most": maybe(number(0.0, 1e5))}, cases=15
    )
    pit = {"pit_diameter": maybe(number(0.5, 20.0)), "pit_depth": number(0.1, 3.0)}
    yield Call("Pump", lr.Pump, {**common, **ends, **pit, "mass_flow": FLOW}, cases=15)
    yield Call("BurnPool", lr.BurnPool, common, cases=10)
    yield Call(
        "When",
        lr.When,
        {
            "time": maybe(SECONDS),
            "clock": maybe(one_of("06:30", 7200.0)),
            "after": maybe(one_of("seal", "")),
            "after_start": maybe(one_of("vent")),
            "wait": number(0.0, 3600.0),
            "gauge_at_most": maybe(number(0.0, 1e6)),
            "gauge_at_least": maybe(number(0.0, 1e6)),
            "temperature_at_most": maybe(number(200.0, 300.0)),
            "temperature_at_least": maybe(number(200.0, 300.0)),
            "level_at_most": maybe(number(0.0, 3.0)),
            "liquid_at_most": maybe(number(0.0, 1e4)),
            "wind_at_least": maybe(number(0.0, 20.0)),
            "wind_at_most": maybe(number(0.0, 20.0)),
            "daylight": st.booleans(),
            "settled": st.booleans(),
            "ground_dry": st.booleans(),
            "function": maybe(st.just(lambda state: state.temperature - 250.0)),
        },
    )


def _response() -> Iterator[Call]:
    leaks = st.lists(SMALL_OPENING, min_size=1, max_size=2)
    yield Call(
        "Incident",
        lr.Incident,
        {
            "contents": CONTENTS,
            "leaks": leaks,
            "ground": GROUND,
            "weather": WEATHER,
            "site": maybe(HOLLOW),
            "captured_fraction": FRACTION,
            "relief": later(lambda: ((), (a_valve(),))),
            "fire": maybe(later(lr.TankFire)),
            "fire_out_at": maybe(SECONDS),
            "clock": maybe(one_of("21:30", 3600.0, "25:00")),
        },
    )
    yield from _steps()
    yield Call(
        "ResponsePlan",
        lr.ResponsePlan,
        {
            "arrival": SECONDS,
            "vent": maybe(SMALL_OPENING),
            "seal": CLOTH,
            "stop_at_gauge_pressure": number(0.0, 1e5),
            "longest_venting": number(1.0, 1e5),
            "laying_time": SECONDS,
            "hold": SECONDS,
            "keep_venting": st.booleans(),
            "flare": maybe(st.booleans()),
            "flare_height": number(0.0, 20.0),
            "transfer_rate": maybe(number(0.1, 20.0)),
            "pit_diameter": maybe(number(0.5, 20.0)),
            "pit_depth": number(0.1, 3.0),
            "empty": st.booleans(),
            "steps": later(lambda: (None, some_steps())),
            "longest": SECONDS,
        },
    )
    story = {"incident": later(an_incident), "plan": later(a_plan_of_steps)}
    yield Call("forecast", lr.forecast, story, cases=2)
    yield Call(
        "compare_plans",
        lr.compare_plans,
        {"incident": later(an_incident), "plans": later(lambda: {"one": a_plan()})},
        cases=2,
    )
    yield Call(
        "leak_from_rate",
        lr.leak_from_rate,
        {
            "contents": CONTENTS,
            "mass_flow": FLOW,
            "height": number(0.0, 0.7),
            "discharge_coefficient": number(0.1, 1.0),
            "weather": WEATHER,
        },
        cases=15,
    )
    yield Call(
        "contents_from_gauge",
        lr.contents_from_gauge,
        {
            "tank": VESSEL,
            "fluid": FLUID,
            "fill": FRACTION,
            "gauge_pressure": number(0.0, 2e6),
            "weather": WEATHER,
        },
        cases=20,
    )
    yield Call(
        "study_forecasts",
        lr.study_forecasts,
        {
            "build": st.just(lambda arrival: (an_incident(), lr.ResponsePlan(arrival=arrival))),
            "parameters": st.just({"arrival": lr.uniform(10.0, 60.0)}),
            "n": one_of(1, 2),
            "rng": st.just(7),
        },
        cases=3,
    )
    kind = type(a_forecast())
    told = {"self": later(a_forecast)}
    yield Call("Forecast.table", kind.table, {**told, "units": one_of("both", "us", "si")}, cases=5)
    yield Call("Forecast.report", kind.report, told, cases=1)
    yield Call("Forecast.scenario", kind.scenario, {**told, "index": one_of(0, -1, (), (0,), 5)}, cases=10)
    yield Call(
        "infer_leak",
        lr.infer_leak,
        {
            "tank": st.builds(lambda: small_tank().tank),
            "fluid": FLUID,
            "times": st.just([0.0, 60.0, 120.0]),
            "gauge_pressures": st.just([7e5, 6.9e5, 6.8e5]),
            "leak": SMALL_OPENING,
            "weather": WEATHER,
            "fill": number(0.05, 0.95),
            "fill_spread": number(0.01, 0.5),
            "diameter_factor": number(1.1, 5.0),
            "reading_spread": number(1e3, 2e4),
        },
        cases=2,
    )


def _studies() -> Iterator[Call]:
    unit = one_of("", "", "m", "K", "parrot")
    plain = number(-10.0, 10.0)
    yield Call("uniform", lr.uniform, {"lower": number(-10.0, 0.0), "upper": number(0.1, 9.0), "unit": unit})
    ends = {"lower": maybe(number(0.0, 0.9)), "upper": maybe(number(1.1, 9.0)), "unit": unit}
    yield Call(
        "normal", lr.normal, {"mean": number(-5.0, 5.0), "standard_deviation": number(0.1, 10.0), **ends}
    )
    yield Call(
        "lognormal",
        lr.lognormal,
        {"median": number(0.1, 10.0), "geometric_deviation": number(1.01, 3.0), **ends},
    )
    yield Call(
        "triangular",
        lr.triangular,
        {"lower": number(-10.0, 0.0), "mode": number(0.0, 1.0), "upper": number(1.0, 9.0), "unit": unit},
    )
    yield Call(
        "choice",
        lr.choice,
        {
            "values": st.lists(plain, max_size=3) | st.lists(one_of("a", "b"), max_size=3),
            "probabilities": maybe(st.lists(FRACTION, max_size=3)),
            "unit": unit,
        },
    )
    yield Call(
        "study",
        lr.study,
        {
            "model": st.just(twice),
            "parameters": st.just({"x": lr.uniform(0.0, 1.0)})
            | st.just({"x": lr.normal(0.0, 1.0), "y": 2.0}),
            "n": one_of(1, 4, 8),
            "rng": maybe(one_of(7)),
            "sampler": one_of("latin hypercube", "random", "sobol"),
            "keep": st.none(),
            "chunk_size": one_of(4096, 1),
        },
        cases=20,
    )


def twice(x: Any, y: Any = 0.0) -> dict[str, Any]:
    """A model of nothing."""
    return {"value": 2.0 * np.asarray(x) + y}


@functools.cache
def calls() -> dict[str, Call]:
    """The table, by name."""
    makers = (
        _fluids_and_phases,
        _weather_and_releases,
        _fires,
        _clouds,
        _seals,
        _tanks,
        _pools,
        _response,
        _studies,
    )
    return {call.name: call for make in makers for call in make()}


PLAIN_SI = "takes SI arrays that are checked already; part of the inside"
UNCHECKED = {
    "Fluid.pressure_range": PLAIN_SI,
    "Fluid.require_flammable": PLAIN_SI,
    "Fluid.saturated": PLAIN_SI,
    "Fluid.saturation_range": PLAIN_SI,
    "Fluid.saturation_temperature": PLAIN_SI,
    "ReliefValve.lift": PLAIN_SI,
    "Tank.outside_exchange": PLAIN_SI,
    **{f"Tank.{name}": PLAIN_SI for name in ("free_surface_at", "level_at", "volume_at", "wetted_area_at")},
}
"""Public methods that the table leaves out, with the reason."""
