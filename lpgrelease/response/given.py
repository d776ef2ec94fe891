"""What was given, in the words of the report: incident, weather and plan."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from lpgrelease.pool import Hollow
from lpgrelease.release import Line, Opening
from lpgrelease.response import units
from lpgrelease.response.script import script_of
from lpgrelease.response.words import conditions_in_words
from lpgrelease.weather import Weather
from lpgrelease.weather_by_hour import weather_pieces

if TYPE_CHECKING:
    from lpgrelease.response.story import Forecast

__all__ = ["given"]


def given(story: Forecast) -> list[str]:
    """Return the list of what was given for one scenario."""
    incident = story.incident
    contents = incident.contents
    tank = contents.tank
    heat = "by wind, sun and sky" if tank.heat_transfer is None else f"{float(tank.heat_transfer):.4g} W/K"
    shape = type(tank).__name__.removesuffix("Tank").lower()
    volume = f"{units.liquid(float(tank.volume), 0.0)[0]} ({float(tank.volume):.3g} m3)"
    start = units.both(units.temperature(float(contents.temperature)))
    return [
        f"- Tank: {shape}, {volume}, wall of {units.both(units.mass(float(tank.wall_mass)))}, heated {heat}.",
        f"- Contents: {contents.fluid.name}, {float(contents.fill):.0%} liquid by volume, at {start}.",
        *(f"- Leak {i + 1}: {_opening(item)}." for i, item in enumerate(incident.leaks)),
        *(f"- Vent {i + 1}: {_opening(item)}." for i, item in enumerate(story.plan.vents)),
        *(f"- Relief valve {i + 1}: {_valve(item)}." for i, item in enumerate(incident.relief)),
        *_fire(story),
        *_surroundings(story),
        f"- Of the liquid left after the flash, {float(incident.captured_fraction):.0%} lands on the ground.",
        *([_plan(story)] if story.plan.steps is None else _list_of_steps(story)),
    ]


def _surroundings(story: Forecast) -> list[str]:
    ground, site = story.incident.ground, story.incident.site
    pieces = list(weather_pieces(story.incident.weather))
    air = pieces[0][2].air_temperature
    ground_at = air if ground.temperature is None else ground.temperature
    return [
        *(_weather(piece, begins if len(pieces) > 1 else None) for begins, _, piece in pieces),
        f"- Ground: {ground.name} at {units.both(units.temperature(float(ground_at)))}, {_site(site)}; its "
        f"relief holds {float(ground.minimum_depth) * 1e3:.3g} mm of liquid.",
    ]


def _weather(weather: Weather, begins: float | None) -> str:
    since = "" if begins is None else f" from {units.duration(begins)} on"
    return (
        f"- Weather{since}: air {units.both(units.temperature(float(weather.air_temperature)))}, wind "
        f"{units.both(units.speed(float(weather.wind_speed)))}, relative humidity "
        f"{float(weather.relative_humidity):.0%}, sunshine {float(weather.solar_irradiance):.3g} W/m2, "
        f"{float(weather.cloud_cover):.0%} of the sky covered, air pressure "
        f"{float(weather.ambient_pressure) / 100.0:.0f} hPa."
    )


def _valve(item: Any) -> str:
    return f"{_opening(item.opening)}, set at {units.both(units.pressure(float(item.set_pressure)))}"


def _fire(story: Forecast) -> list[str]:
    """Return the fire around the tank, if there is one."""
    incident = story.incident
    if incident.fire is None:
        return []
    out = incident.fire_out_at
    until = "to the end" if out is None else f"until {units.duration(float(out))} after the leak began"
    return [f"- Fire around the tank {until}, by the rule for sizing relief valves; none on its shell."]


def _list_of_steps(story: Forecast) -> list[str]:
    """Return the steps of the plan and what each waits for."""
    lines = [
        f"- Plan: arrival after {units.duration(float(story.plan.arrival))}; then, each on its condition:"
    ]
    for step in script_of(story.plan).steps:
        starts = f"when {conditions_in_words(step.begins_on)}" if step.begins_on else "on arrival"
        ends = f"; ends when {conditions_in_words(step.ends_on)}" if step.ends_on else ""
        lines.append(f"- Step '{step.name}': begins {starts}{ends}.")
    return lines


def _plan(story: Forecast) -> str:
    plan = story.plan
    vent = "open" if plan.keep_venting and plan.vents else "shut"
    venting = (
        f"venting down to {units.both(units.pressure(float(plan.stop_at_gauge_pressure)))}, for "
        f"{units.duration(float(plan.longest_venting))} at most"
    )
    return (
        f"- Plan: arrival after {units.duration(float(plan.arrival))}; "
        f"{venting if plan.vents else 'nothing is vented'}; {_sealing(story)}; look ahead "
        f"{units.duration(float(plan.hold))} with the vent {vent}{_afterwards(story)}."
    )


def _afterwards(story: Forecast) -> str:
    plan, told = story.plan, ""
    if plan.transfer_rate is not None:
        told += f"; liquid pumped out at {units.both(units.flow(float(plan.transfer_rate)))}"
        if plan.pit_diameter is not None:
            told += f" into a burning pit {units.both(units.length(float(plan.pit_diameter)))} across"
    return f"{told}; the rest boils away through the vent" if plan.empty else told


def _opening(item: Opening | Line) -> str:
    wide = f"{float(item.diameter) / 0.0254:.2g} in ({float(item.diameter) * 1e3:.3g} mm)"
    high = units.both(units.length(float(item.height)))
    coefficient = float(item.discharge_coefficient)
    long = f", {units.both(units.length(float(item.length)))} long" if isinstance(item, Line) else ""
    return f"{wide} wide{long}, {high} above the lowest point, discharge coefficient {coefficient:.2g}"


def _site(site: Any) -> str:
    if isinstance(site, Hollow):
        area, deep = units.area(float(site.area)), units.length(float(site.depth))
        return f"hollow of {units.both(area)}, {units.both(deep)} deep"
    return "level and open"


def _sealing(story: Forecast) -> str:
    cloth = story.plan.seal
    if cloth is None:
        return "no seal"
    return (
        f"wet cloth of {float(cloth.thickness) * 1e3:.3g} mm reaching {float(cloth.overlap) * 1e3:.3g} mm "
        f"past each leak, laid in {units.duration(float(story.plan.laying_time))}"
    )
