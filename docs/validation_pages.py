"""The validation chapter: outside values, ours beside them, differences, what is allowed; made at build time.

The points are those of ``tests/comparisons``, which the tests judge.
"""

from __future__ import annotations

import math
import re
import sys
from collections.abc import Iterable
from itertools import groupby
from pathlib import Path
from typing import Any

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import matplotlib.ticker
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from comparisons import (
    COMPARISONS,
    NOT_COMPARED,
    Comparison,
    Point,
    bias_and_scatter,
    of_fire,
)

KEY = re.compile(r"(?<![\w`])([a-z]{2,}\d{4}[a-z]{2,})\b")
TOPICS = {
    "fluids": "Fluid properties",
    "blends": "Blends",
    "release": "Flashing and release rates",
    "tanks": "Tanks",
    "ice": "Ice and freeze seals",
    "ground": "Grounds and pools",
    "fire": "Fires",
    "cloud": "Clouds",
}
"""Name of each page, and its title."""
MOST_ROWS = 12
VISIBLE = 1e-3
"""Largest relative difference from which a printed table is worth a panel."""
FOLDED = 40
"""A quantity with more points than this shows the worst of each label only."""


KINDS = {
    "printed": "printed",
    "measured": "measured",
    "computed": "computed by others",
    "repeated": "the library's own table, repeated",
}


def make(target: Path) -> None:
    """Write the tables and the figures of every topic into the folder `target`."""
    for topic in TOPICS:
        _write(target / f"validation_{topic}.md", _page(topic))
    _write(target / "validation_summary.md", _summary())
    _write(target / "validation_trials.md", _trials())
    _write(target / "validation_outside.md", _outside())
    _write(target / "validation_left_out.md", _left_out())


def draw(target: Path, style: dict[str, Any]) -> None:
    """Draw the figure of every topic that has one."""
    for topic in filter(_panels, TOPICS):
        with mpl.rc_context(style):
            figure = _figure(topic)
            figure.savefig(target / f"validation_{topic}.png", metadata={"Software": None})
            plt.close(figure)


def _write(path: Path, lines: list[str]) -> None:
    text = "\n".join(lines) + "\n"
    if not path.exists() or path.read_text(encoding="utf-8") != text:
        path.write_text(text, encoding="utf-8")


def _of(topic: str) -> list[Comparison]:
    return [c for c in COMPARISONS if c.topic == topic]


def _cited(text: str) -> str:
    text = text.replace("|", r"\|").replace("*", r"\*").replace("$", r"\$")
    return KEY.sub(r"{cite:t}`\1`", text)


def _table(header: Iterable[str], rows: Iterable[Iterable[object]], align: str) -> list[str]:
    marks = {"l": ":---", "r": "---:"}
    rule = [marks[a] for a in align]
    return ["| " + " | ".join(map(str, row)) + " |" for row in (list(header), rule, *rows)]


# -- the pages ----------------------------------------------------------------------------------------


def _page(topic: str) -> list[str]:
    lines: list[str] = _picture(topic) if _panels(topic) else []
    tables = [list(group) for _, group in groupby(_of(topic), key=lambda c: c.table)]
    titles = [_title(same) for same in tables]
    for same, title in zip(tables, titles, strict=True):
        known = same[0].table.replace("_", " ")
        lines += _about(same, title if titles.count(title) == 1 else f"{title} ({known})")
        for comparison in same:
            lines += _values(comparison, named=len(same) > 1)
    return lines


def _picture(topic: str) -> list[str]:
    """The figure, as seen from a page in the folder ``validation``."""
    alt = f"Ours against published values: {TOPICS[topic].lower()}"
    caption = (
        "Tables: what is served, in percent off the published value. Measurements: what is served against "
        "what was measured, with lines of agreement and of a factor of two. Quantities that agree to 0.1 % "
        "have no panel."
    )
    return [f"```{{figure}} ../generated/validation_{topic}.png", f":alt: {alt}", "", caption, "```", ""]


def _title(same: list[Comparison]) -> str:
    parts = list(dict.fromkeys(c.quantity.split(",", maxsplit=1)[0] for c in same))
    title = parts[0] if len(parts) == 1 else ", ".join(parts[:-1]) + " and " + parts[-1]
    return f"{title[:1].upper()}{title[1:]}"


def _linked(served_by: str) -> str:
    """A link to the reference of a function; that of a class for what belongs to one."""
    parts = served_by.split(".")
    target = parts[0] if parts[0][:1].isupper() else served_by
    return f"{{py:obj}}`{served_by} <lpgrelease.{target}>`"


def _about(same: list[Comparison], title: str) -> list[str]:
    first = same[0]
    header = first.source.header
    served = " and ".join(_linked(name) for name in dict.fromkeys(c.served_by for c in same))
    kinds = " and ".join(dict.fromkeys(KINDS[c.kind] for c in same))
    lines = [f"## {title}", ""]
    lines += [f"Source ({kinds})", f": {_cited(header['source'])}", ""]
    lines += ["How known", f": {_cited(header['how_known'])}", ""]
    lines += ["Ours", f": {served}", ""]
    lines += ["Allowed, and why", f": {_cited(header['tolerance'])}", ""]
    lines += ["Table", f": `tests/published/{first.table}.csv`", ""]
    for key in ("compare", "note", "left_out", "fitted_to"):
        if key in header:
            lines += [key.replace("_", " ").capitalize(), f": {_cited(header[key])}", ""]
    return lines


def _values(comparison: Comparison, *, named: bool) -> list[str]:
    points = comparison.points
    worst = len(points) > FOLDED
    shown = _worst(points) if worst else [(p, 1) for p in points]
    where = any(p.at for p, _ in shown)
    header = ["of what", *(["where"] if where else []), "published", "ours", "difference", "allowed"]
    percent = comparison.unit != "psig"  # of a reading near zero it says nothing
    rows = [_row(p, count if worst else 0, where=where, percent=percent) for p, count in shown]
    unit = "" if comparison.unit in ("-", "its own") else f" [{comparison.unit}]"
    said = [f"{comparison.quantity[:1].upper()}{comparison.quantity[1:]}{unit}."] if named or unit else []
    said += [_judged(comparison)]
    if worst:
        said.append("The point that differs most of each is listed.")
    lines = [" ".join(said), ""]
    table = _table(header, rows, "ll"[: 1 + where] + "rrrr")
    if len(rows) > MOST_ROWS:
        return [*lines, f"<details><summary>{len(rows)} rows</summary>", "", *table, "", "</details>", ""]
    return [*lines, *table, ""]


def _worst(points: tuple[Point, ...]) -> list[tuple[Point, int]]:
    labels: dict[str, list[Point]] = {}
    for point in points:
        labels.setdefault(point.label, []).append(point)

    def how_far(p: Point) -> float:
        return abs(math.log(p.ours / p.nearest)) if math.isnan(p.allowed) else p.share

    return [(max(own, key=how_far), len(own)) for own in labels.values()]


def _row(point: Point, count: int, *, where: bool, percent: bool = True) -> list[str]:
    published = f"{point.published:.6g}"
    if point.upper is not None:
        published += f" to {point.upper:.6g}"
    difference = f"{point.difference:+.2g}" if point.difference else "0"
    if percent and point.nearest and point.difference:
        difference += f" ({100.0 * point.difference / abs(point.nearest):+.2g}\N{NO-BREAK SPACE}%)"
    allowed = "-" if math.isnan(point.allowed) else f"{point.allowed:.2g}"
    if point.disagrees and not point.agrees:
        allowed += ", **outside**"
    label = _cited(point.label) + (f" ({count} points)" if count > 1 else "")
    return [label, *([point.at] if where else []), published, f"{point.ours:.5g}", difference, allowed]


def _judged(comparison: Comparison) -> str:
    points = comparison.points
    if all(math.isnan(p.allowed) for p in points):
        if any(p.upper is not None for p in points) or len(points) < 2:
            return ""
        mean, scatter, near = bias_and_scatter(points)
        return (
            f"**Bias {mean:.2f}** (mean ratio of ours to measured), **scatter {scatter:.2f}** (as a factor), "
            f"{100 * near:.0f} % of {len(points)} within a factor of two."
        )
    outside = sum(not p.agrees for p in points)
    largest = max((p.share for p in points if not p.disagrees), default=0.0)
    values = f"{len(points)} value{'s' if len(points) > 1 else ''}"
    text = f"{values}, the farthest off by {100 * largest:.0f} % of what is allowed"
    return text + (f"; {outside} known to lie outside." if outside else ".")


# -- what stands above them ---------------------------------------------------------------------------


def _summary() -> list[str]:
    rows = []
    for topic, title in TOPICS.items():
        found = _of(topic)
        judged = [p for c in found for p in c.points if not math.isnan(p.allowed)]
        outside = sum(not p.agrees for p in judged)
        measured = sum(len(c.points) for c in found if c.kind == "measured")
        rows.append(
            [
                f"[{title}]({topic}.md)",
                len({c.table for c in found}),
                sum(len(c.points) for c in found),
                measured,
                len(judged),
                outside,
            ]
        )
    total = ["**all**", *(sum(int(row[i]) for row in rows) for i in range(1, 6))]
    header = ("topic", "tables", "values", "measured", "judged one by one", "of these outside")
    return _table(header, [*rows, total], "lrrrrr")


def _trials() -> list[str]:
    """Bias and scatter of everything that was measured."""
    rows = []
    for c in COMPARISONS:
        if c.kind != "measured" or len(c.points) < 2 or any(p.upper is not None for p in c.points):
            continue
        mean, scatter, near = bias_and_scatter(c.points)
        rows.append(
            [
                f"[{TOPICS[c.topic]}]({c.topic}.md)",
                c.quantity,
                len(c.points),
                f"{mean:.2f}",
                f"{scatter:.2f}",
                f"{100 * near:.0f} %",
            ]
        )
    header = ("topic", "what was measured", "points", "bias", "scatter", "within a factor of two")
    return _table(header, rows, "llrrrr")


def _outside() -> list[str]:
    rows = [
        [f"{c.quantity} [{c.unit}]", _cited(p.label), *_row(p, 0, where=False)[1:4], f"`{c.table}`"]
        for c in COMPARISONS
        for p in c.points
        if not p.agrees
    ]
    header = ("quantity", "of what", "published", "ours", "difference", "table, whose header says why")
    return _table(header, rows, "llrrrl")


def _left_out() -> list[str]:
    return _table(
        ("table", "why there is no comparison point by point"),
        [[f"`{name}`", why] for name, why in NOT_COMPARED.items()],
        "ll",
    )


# -- figures ------------------------------------------------------------------------------------------


def _spread(c: Comparison) -> float:
    return max(abs(p.ours / p.published - 1.0) for p in c.points)


def _panels(topic: str) -> dict[tuple[str, str], list[Comparison]]:
    panels: dict[tuple[str, str], list[Comparison]] = {}
    for c in _of(topic):
        if c.unit in ("its own", "psig") or "limit" in c.quantity:  # % of a gauge pressure says nothing
            continue
        if any(p.upper is not None or p.published <= 0.0 for p in c.points):
            continue
        if c.kind != "measured" and (len(c.points) < 6 or _spread(c) < VISIBLE):
            continue
        if len(c.points) < 2:
            continue
        panels.setdefault((c.quantity.split(",", maxsplit=1)[0], c.unit), []).append(c)
    return panels


def _figure(topic: str) -> Any:
    panels = _panels(topic)
    down = -(-len(panels) // 2)
    figure, axes = plt.subplots(down, 2, figsize=(7.2, 2.9 * down), layout="tight", squeeze=False)
    for ax, ((quantity, unit), found) in zip(axes.flat, panels.items(), strict=False):
        if found[0].kind == "measured":
            _parity(ax, found)
        else:
            _deviation(ax, found)
        bracket = f" [{unit}]" if unit != "-" else ""
        ax.set_title(f"{quantity}{bracket}", fontsize=10)
    for ax in axes.flat[len(panels) :]:
        ax.set_axis_off()
    return figure


def _series(found: list[Comparison]) -> Iterable[tuple[str, np.ndarray, np.ndarray]]:
    for c in found:
        parts = c.quantity.split(", ", maxsplit=1)
        name = parts[1] if len(parts) > 1 else c.table
        yield name, np.array([p.published for p in c.points]), np.array([p.ours for p in c.points])


def _plain_ticks(axis: Any, ends: np.ndarray, most: int = 5) -> None:
    """Label a logarithmic axis with few plain numbers."""
    decades = range(math.floor(math.log10(ends[0])), math.ceil(math.log10(ends[1])) + 1)
    for series in ((1.0, 1.5, 2.0, 3.0, 5.0, 7.0), (1.0, 2.0, 5.0), (1.0, 3.0), (1.0,)):
        marks = [m * 10.0**d for d in decades for m in series if ends[0] <= m * 10.0**d <= ends[1]]
        if len(marks) <= most:
            break
    axis.set_ticks(marks, [f"{mark:,.12g}" for mark in marks])
    axis.set_minor_locator(mpl.ticker.NullLocator())


def _parity(ax: Any, found: list[Comparison]) -> None:
    for i, (name, x, y) in enumerate(_series(found)):
        ax.plot(x, y, "o^sd"[i % 4], markersize=4.5, alpha=0.75, label=name, markeredgewidth=0)
    values = np.concatenate([np.concatenate(pair[1:]) for pair in _series(found)])
    ends = np.array([0.6 * values.min(), 1.6 * values.max()])
    ax.plot(ends, ends, color="0.3", linewidth=1.0)
    for factor in (0.5, 2.0):
        ax.plot(ends, factor * ends, ":", color="0.5", linewidth=1.0)
    ax.set(xscale="log", yscale="log", xlim=ends, ylim=ends, xlabel="measured", ylabel="ours")
    for axis in (ax.xaxis, ax.yaxis):
        _plain_ticks(axis, ends)
    if len(found) > 1:
        ax.legend(fontsize=7, handletextpad=0.1)


def _deviation(ax: Any, found: list[Comparison]) -> None:
    for i, (name, x, y) in enumerate(_series(found)):
        ax.plot(
            x, 100.0 * (y / x - 1.0), "o^sd"[i % 4], markersize=3.5, alpha=0.6, label=name, markeredgewidth=0
        )
    x = np.concatenate([pair[1] for pair in _series(found)])
    if x.max() > 20.0 * x.min():
        ax.set_xscale("log")
        if x.max() < 1e3 * x.min():
            _plain_ticks(ax.xaxis, np.array([0.9 * x.min(), 1.1 * x.max()]))
    ax.axhline(0.0, color="0.3", linewidth=1.0)
    ax.set(xlabel="published", ylabel="ours off it [%]")
    if len(found) > 1:
        ax.legend(fontsize=7, handletextpad=0.1)


# -- numbers in sentences -----------------------------------------------------------------------------


def numbers() -> dict[str, str]:
    """Substitutions of the chapter's pages."""
    named = {f"{c.table}: {c.quantity}": c.points for c in COMPARISONS}

    def bias(name: str) -> str:
        return f"{bias_and_scatter(named[name])[0]:.2f}"

    flashing = "flashing_flow_marviken: flashing water, {}, test {}"
    (bright,) = named["fire_field_pools: surface emissive power"]
    trials = [p for name, points in named.items() if name.startswith("cloud_field_trials") for p in points]
    farthest = max(trials, key=lambda p: abs(math.log(p.ours / p.published)))
    factor = math.exp(abs(math.log(farthest.ours / farthest.published)))
    calm = [p.ours / (p.upper or p.published) for p in named["boiling_on_water: boiling on water"]]
    trade = [p.difference for p in named["vapor_pressure_propane_trade: vapor pressure"]]
    montoir = next(c.source for c in COMPARISONS if c.table == "fire_montoir")
    drained = [f"tank_blowdown_{team}: pressure, liquid leaving" for team in ("waterloo", "stanford")]
    last = [named[name][-1] for name in drained]
    return {
        "blowdown_by_mass": bias(drained[0]),
        "blowdown_by_time": bias(drained[1]),
        "blowdown_last": " and ".join(f"{point.published:.0f}" for point in last),
        "blowdown_last_ours": " and ".join(f"{point.ours:.0f}" for point in last),
        "montoir_bias": bias("fire_montoir: heat around a 35 m fire of LNG"),
        "montoir_bias_low": f"{bias_and_scatter(of_fire.montoir(0.2)(montoir))[0]:.2f}",
        "smoke_law_ratio": f"{bright.ours / bright.published:.2f}",
        "length_thomas": bias("fire_field_pools: flame length, Thomas"),
        "length_heskestad": bias("fire_field_pools: flame length, Heskestad"),
        "trials_near": f"{100 * bias_and_scatter(trials)[2]:.0f} %",
        "trials_propane": bias("cloud_field_trials: propane in field trials"),
        "trials_ammonia": bias("cloud_field_trials: ammonia in field trials"),
        "trials_farthest": f"{farthest.label} by a factor of {factor:.1f}",
        "flashing_equilibrium": " and ".join(bias(flashing.format("equilibrium", t)) for t in ("23", "24")),
        "flashing_length": " and ".join(bias(flashing.format("by length", t)) for t in ("23", "24")),
        "on_water_share": f"{min(calm):.2f} to {max(calm):.2f}",
        "wind_share": " and ".join(
            f"{p.ours:.2f}" for p in named["pool_wind_share: share of heat that wind brings"]
        ),
        "trade_farthest": f"{max(trade):+.1f} to {min(trade):+.1f} psi",
    }
