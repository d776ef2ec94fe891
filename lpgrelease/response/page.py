"""The report as one page of HTML that needs no other file."""

from __future__ import annotations

import base64
import io
import re
from html import escape
from typing import TYPE_CHECKING

from lpgrelease.response.report import report

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from lpgrelease.response.story import Forecast

__all__ = ["html_of", "report_html"]

STYLE = """
body { font: 16px/1.5 system-ui, sans-serif; max-width: 60rem; margin: 1.5rem auto; padding: 0 1rem;
       color: #1d2429; background: #fff; }
h1 { font-size: 1.7rem; } h2 { font-size: 1.25rem; margin-top: 2rem; border-bottom: 1px solid #c9d0d6; }
table { border-collapse: collapse; width: 100%; }
th, td { border: 1px solid #c9d0d6; padding: .35rem .6rem; vertical-align: top; text-align: left; }
th { background: #eef1f4; } td.number, th.number { text-align: right; } td.number { white-space: nowrap; }
pre { background: #f5f7f8; padding: .8rem; overflow-x: auto; font-size: .8rem; line-height: 1.3; }
h2.first + ul { background: #fff4e0; border-left: .4rem solid #d9822b; padding: .6rem 1rem .6rem 2rem; }
img { max-width: 100%; height: auto; }
@media print { body { max-width: none; font-size: 11px; } pre { font-size: 7px; } }
"""
BEFORE = "## Timeline"
"""Heading above which the picture stands."""


def report_html(story: Forecast) -> str:
    """Return the whole report, with its picture inside."""
    text = report(story)
    first, heading, rest = text.partition(BEFORE)
    title = f"Forecast of a leaking {story.incident.contents.fluid.name} tank"
    picture = _picture(story.plot(), f"{title}: gauge pressure, temperature and masses over time")
    body = "\n".join([html_of(first), picture, html_of(heading + rest)])
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n{body}\n</body>\n</html>\n"
    )


def html_of(text: str) -> str:
    r"""Turn the Markdown of a report into HTML: headings, lists, tables, fenced text, bold.

    Examples
    --------
    >>> html_of("## A\n\n- one **two**\n- 3 < 4")
    '<h2 class="first">A</h2>\n<ul><li>one <strong>two</strong></li><li>3 &lt; 4</li></ul>'
    """
    blocks, seen = [], 0
    for block in _blocks(text):
        if block[0].startswith("## "):
            seen += 1
        blocks.append(_block(block, first=seen == 1))
    return "\n".join(blocks)


def _blocks(text: str) -> list[list[str]]:
    """Lines that belong together: between empty lines, or inside a fence."""
    blocks: list[list[str]] = []
    fenced = fresh = False
    for line in text.splitlines():
        if line.startswith("```"):
            fenced = not fenced
            if fenced:
                blocks.append([line])
            fresh = True
        elif fenced:
            blocks[-1].append(line)
        elif not line.strip():
            fresh = True
        elif fresh or not blocks:
            blocks.append([line])
            fresh = False
        else:
            blocks[-1].append(line)
    return blocks


def _block(lines: list[str], *, first: bool) -> str:
    head = lines[0]
    if head.startswith("```"):
        return f"<pre>{escape(chr(10).join(lines[1:]))}</pre>"
    if head.startswith("#"):
        level = len(head) - len(head.lstrip("#"))
        named = ' class="first"' if first and level == 2 else ""
        return f"<h{level}{named}>{_inline(head[level:].strip())}</h{level}>"
    if head.startswith("|"):
        return _table(lines)
    if head.startswith("- "):
        items = "".join(f"<li>{_inline(line[2:])}</li>" for line in lines)
        return f"<ul>{items}</ul>"
    return f"<p>{_inline(' '.join(lines))}</p>"


def _table(lines: list[str]) -> str:
    rows = [[cell.strip() for cell in line.strip().strip("|").split("|")] for line in lines]
    kinds = [' class="number"' if rule.endswith(":") and rule[0] != ":" else "" for rule in rows[1]]
    told = []
    for row, tag in [(rows[0], "th"), *((row, "td") for row in rows[2:])]:
        cells = zip(row, kinds, strict=True)
        told.append("".join(f"<{tag}{kind}>{_inline(cell)}</{tag}>" for cell, kind in cells))
    return "<table>" + "".join(f"<tr>{row}</tr>" for row in told) + "</table>"


def _inline(text: str) -> str:
    marked = re.sub(r"\*\*(.+?)\*\*", r"<strong>\1</strong>", escape(text, quote=False))
    return re.sub(r"`(.+?)`", r"<code>\1</code>", marked)


def _picture(figure: Figure, words: str) -> str:
    held = io.BytesIO()
    figure.savefig(held, format="png", dpi=110, metadata={"Software": None})
    coded = base64.b64encode(held.getvalue()).decode("ascii")
    return f'<p><img src="data:image/png;base64,{coded}" alt="{escape(words)}"></p>'
