"""The gallery: every example is run at build time; its page shows what it printed and drew."""

from __future__ import annotations

import ast
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

EXAMPLES = Path(__file__).parents[1] / "examples"
LONGEST = 300.0
"""An example that runs longer [s] fails the build."""


def names() -> list[str]:
    """Name of every example, in the order of the gallery's contents."""
    text = (Path(__file__).parent / "gallery" / "index.md").read_text(encoding="utf-8")
    listed = re.findall(r"^(\w+)$", text.split("{toctree}")[1], re.MULTILINE)
    found = sorted(path.stem for path in EXAMPLES.glob("*.py"))
    if sorted(listed) != found:
        raise RuntimeError(f"docs/gallery/index.md lists {sorted(listed)}, there are {found}")
    return listed


def start() -> dict[str, subprocess.Popen[str]]:
    """Start every example, each in a process of its own; `make` waits for them."""
    environment = os.environ | {"MPLBACKEND": "Agg", "PYTHONIOENCODING": "utf-8"}
    return {
        name: subprocess.Popen(
            [sys.executable, "-W", "error", str(EXAMPLES / f"{name}.py")],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            encoding="utf-8",
            env=environment,
        )
        for name in names()
    }


def make(target: Path, running: dict[str, subprocess.Popen[str]]) -> None:
    """Write the page of every example, and the list of them, into the folder `target`."""
    rows = []
    for name, process in running.items():
        printed, errors = process.communicate(timeout=LONGEST)
        missing = re.search(r"ModuleNotFoundError: No module named '([\w.]+)'", errors)
        if process.returncode and not missing:
            raise RuntimeError(f"examples/{name}.py failed:\n{errors}")
        if missing:
            printed = f"not run when this page was built: it needs {missing.group(1)}"
        picture = _picture(name, target)
        _write(target / f"example_{name}.md", _page(name, printed, picture=picture))
        rows.append(_entry(name, picture=picture))
    _write(target / "gallery.md", "\n".join(rows))


def _picture(name: str, target: Path) -> bool:
    drawn = EXAMPLES / "output" / f"{name}.png"
    if drawn.exists():
        shutil.copyfile(drawn, target / f"example_{name}.png")
    return drawn.exists()


def _said(name: str) -> tuple[str, str]:
    """First line of the example's docstring, and the rest, in Markdown."""
    text = ast.get_docstring(ast.parse((EXAMPLES / f"{name}.py").read_text(encoding="utf-8"))) or ""
    lead, _, rest = text.replace("``", "`").partition("\n\n")
    return lead.replace("\n", " "), rest


def _page(name: str, printed: str, *, picture: bool) -> str:
    lead, rest = _said(name)
    printed = printed.replace(f"{EXAMPLES.parent}{os.sep}", "")
    lines = [
        lead,
        "",
        rest,
        "",
        "## What it prints",
        "",
        "```{code-block} none",
        printed.rstrip("\n"),
        "```",
        "",
    ]
    if picture:
        lines += [
            "## What it draws",
            "",
            f"![What examples/{name}.py draws](../generated/example_{name}.png)",
            "",
        ]
    lines += [
        "## The code",
        "",
        f"```{{literalinclude}} ../../examples/{name}.py",
        ":language: python",
        "```",
    ]
    return "\n".join(lines)


def _entry(name: str, *, picture: bool) -> str:
    lead, _ = _said(name)
    thumbnail = f"[![{lead}](../generated/example_{name}.png)]({name}.md)\n\n" if picture else ""
    return f"## [{name.replace('_', ' ').capitalize()}]({name}.md)\n\n{lead}\n\n{thumbnail}"


def _write(path: Path, text: str) -> None:
    if not path.exists() or path.read_text(encoding="utf-8") != f"{text}\n":
        path.write_text(f"{text}\n", encoding="utf-8")
