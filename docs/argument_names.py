"""Names of arguments and fields that several public calls share: what each means, its unit, who takes it."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator
from typing import Any

import lpgrelease as lr

FEW = 4
"""So many calls are named; the rest is counted."""
MEANINGS = {
    "absorptivity": "share of sunshine, or of the heat of flames, that the tank's paint takes up",
    "adequate_drainage": "whether burning fuel drains away and the fire is fought at once",
    "ambient_pressure": "absolute pressure of the air at the place; lower in the mountains",
    "area": "of the liquid's surface in a hollow or basin",
    "captured_fraction": "share of the liquid left after the flash that reaches the ground",
    "conductivity": "how well ground or metal conducts heat",
    "contents": "a tank and what is in it",
    "density": "of what the call is about: of ground as it lies, with its water",
    "depth": "of a hollow, basin or space, from its floor to its rim",
    "diameter": "inside, of what the call is about: hole, line, tank, pool, flare tip",
    "discharge_coefficient": "flow over that of an ideal nozzle of the same area, 0.6 to 1 for holes",
    "duration": "how long it goes on, or how long to look",
    "elevation": "of the tank's lowest point above the ground or the floor that holds the fire",
    "environment_factor": "1 for a bare tank in a fire, less for insulation that stays on",
    "exposure": "what wind, sun and sky reach a pool; none is all of them",
    "extrapolate": "serve outside the model's range, with a `ValidityWarning`",
    "fill": "share of the tank's volume that is liquid",
    "fire": "a fire around or beside a tank",
    "fluid": "a `Fluid`, pure or a blend",
    "fraction": "of the lower flammable limit",
    "gauge_pressure": "above the air's pressure, as a gauge shows it",
    "ground": "a `Ground`, by name or by properties",
    "head": "depth of liquid above the opening",
    "heat_capacity": "of ground as it lies, unfrozen, or of metal by volume",
    "heat_flux": "of a fire, on bare skin",
    "height": "above the lowest inside point of the tank, or above the ground",
    "incident": "tank, leaks, ground and weather as they are",
    "lasting": "how long liquid is to stay after the leak has stopped",
    "length": "of a line, of a tank's cylinder, or the model of a flame's length",
    "level": "of the liquid's surface, above the lowest inside point of the tank or the floor of the hollow",
    "liquid_left": "mass of liquid left over that at the start",
    "liquid_mass": "of the liquid in the tank",
    "lower": "the lower end of what is drawn",
    "mass": "in all",
    "mass_flow": "before anything flashes, unless it says vapor",
    "model": "which published model answers; or, of a study, your function",
    "opening": "an `Opening`: a round hole of the same area, its coefficient, its height",
    "openings": "holes, vents, lines and valves of a tank",
    "phase": "liquid or vapor",
    "points": "points in time of a history",
    "pool": "what `pool_history` gave",
    "pressure": "absolute",
    "progress": "called with what is done and what there is in all",
    "radiated_fraction": "share of the heat of combustion that is radiated",
    "roughness": "of a pipe's wall, or of the country that the wind blows over",
    "site": "where a pool lies: open ground, hollow, basin; or where a cloud drifts: country, town",
    "tank": "a vessel, tilted or not",
    "temperature": "of the liquid, unless it says of what",
    "vapor_fraction": "by mass: 0 liquid, 1 vapor",
    "thickness": "of a layer, a wall, a wet cloth as pressed",
    "time": "a point or points in time, from the start",
    "upper": "the upper end of what is drawn",
    "weather": "a `Weather`: air, wind, sun, sky, pressure",
}
"""Names that mean one thing everywhere; the others are told in the words of a call that takes them."""
SHARED = 2
"""A name that fewer calls take is explained there."""
ENTRY = re.compile(r"^(?P<names>\w[\w, ]*) : (?P<type>.+)$")


def make() -> list[str]:
    """Return the table, as lines of Markdown."""
    found: dict[str, list[tuple[str, str, str]]] = {}
    for call in sorted(set(lr.__all__) - {"__version__"}):
        value = getattr(lr, call)
        if not (inspect.isclass(value) and issubclass(value, Exception)):
            for name, unit, text in _parameters(value):
                found.setdefault(name, []).append((call, unit, text))
    lines = ["| name | unit | what it is | taken by |", "| :--- | :--- | :--- | :--- |"]
    for name, uses in sorted(found.items()):
        if len(uses) < SHARED or name == "provenance":
            continue
        unit = next((unit for _, unit, _ in uses if unit), "")
        text = MEANINGS.get(name) or max((text for _, _, text in uses), key=len)
        calls = ", ".join(f"{{py:obj}}`~lpgrelease.{call}`" for call, _, _ in uses[:FEW])
        more = f" and {len(uses) - FEW} more" if len(uses) > FEW else ""
        lines.append(f"| `{name}` | {unit} | {text} | {calls}{more} |")
    return lines


def _parameters(value: Any) -> Iterator[tuple[str, str, str]]:
    """Name, unit and first sentence of every parameter in a numpydoc section."""
    section = re.search(
        r"Parameters\n-+\n(.*?)(\n\n[A-Z][\w ]+\n-+\n|$)", inspect.getdoc(value) or "", re.DOTALL
    )
    if not section:
        return
    lines = section.group(1).splitlines()
    starts = [i for i, line in enumerate(lines) if ENTRY.match(line)]
    for start, end in zip(starts, [*starts[1:], len(lines)], strict=True):
        match = ENTRY.match(lines[start])
        assert match
        text = " ".join(line.strip() for line in lines[start + 1 : end]).strip()
        units = re.findall(r"\[([^\]]*)\]", text)
        names = [name.strip() for name in match["names"].split(",")]
        for i, name in enumerate(names):
            unit = units[min(i, len(units) - 1)] if units else ""
            yield name, unit, _short(text)


def _short(text: str) -> str:
    text = re.sub(r"\s*\([^()]*\d{4}[a-z]+[^()]*\)", "", text)
    sentence = re.split(r"(?<=[a-z\])])[.;:](?:\s|$)", re.sub(r"\s*\[[^\]]*\]", "", text), maxsplit=1)[0]
    sentence = sentence.lstrip(" ,;.").rstrip(".")
    if sentence[1:2].islower():
        sentence = sentence[0].lower() + sentence[1:]
    sentence = sentence if len(sentence) <= 110 else sentence[:107].rsplit(" ", 1)[0] + " ..."
    return re.sub(r"(?<!`)`([^`]+)`(?!`)", r"`\1`", sentence).replace("|", r"\|").replace("*", r"\*")
