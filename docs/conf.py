"""How the documentation is built; everything here works without a network."""

from __future__ import annotations

import dataclasses
import inspect
import re
import sys
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))

import argument_names  # noqa: E402 these live beside this file
import computed  # noqa: E402
import figures  # noqa: E402
import gallery_pages  # noqa: E402
import tables  # noqa: E402
import validation_pages  # noqa: E402
from docutils import nodes  # noqa: E402

import lpgrelease  # noqa: E402
from lpgrelease.results import Result  # noqa: E402

project = "lpgrelease"
author = "lpgrelease maintainers"
copyright = author
version = release = lpgrelease.__version__

extensions = [
    "sphinx.ext.autodoc",
    "sphinx.ext.autosummary",
    "sphinx.ext.doctest",
    "sphinx.ext.mathjax",
    "sphinx-mathjax-offline",  # carries MathJax, so that the built pages need no network either
    "myst_parser",
    "numpydoc",
    "sphinx_copybutton",
    "sphinxcontrib.bibtex",
]
exclude_patterns = ["_build", "generated"]
nitpicky = True
default_role = "literal"  # docstrings put names in single backquotes

# -- Markdown -------------------------------------------------------------------------------------
myst_enable_extensions = ["amsmath", "attrs_block", "colon_fence", "deflist", "dollarmath", "substitution"]
myst_heading_anchors = 3
myst_substitutions = computed.SUBSTITUTIONS | validation_pages.numbers()

# -- docstrings -----------------------------------------------------------------------------------
autosummary_generate = False
autodoc_typehints = "none"  # the numpydoc sections name every type, with its unit
autodoc_member_order = "bysource"
numpydoc_show_class_members = False
numpydoc_class_members_toctree = False

# -- doctests: those of the pages; pytest runs those of the docstrings -----------------------------
doctest_test_doctest_blocks = ""
doctest_global_setup = "import numpy as np\nimport lpgrelease as lr"

# -- sources --------------------------------------------------------------------------------------
bibtex_bibfiles = ["references.bib"]
bibtex_default_style = "plain"
bibtex_reference_style = "author_year"

# -- pages ----------------------------------------------------------------------------------------
html_theme = "pydata_sphinx_theme"
html_title = "lpgrelease"
html_static_path = ["_static"]
html_css_files = ["lpgrelease.css"]
ALONE = ("index", "quickstart", "limits", "unknowns", "glossary", "versions", "bibliography", "changelog")
html_sidebars = {page: [] for page in ALONE}
html_show_sourcelink = False
html_copy_source = False
html_theme_options = {
    "navbar_align": "left",
    "navbar_end": ["theme-switcher"],
    "show_prev_next": True,
    "header_links_before_dropdown": 6,
    "secondary_sidebar_items": ["page-toc"],
    "footer_start": ["copyright"],
    "footer_end": [],
    "show_toc_level": 2,
}
mathjax_path = "mathjax/tex-chtml.js"
copybutton_prompt_text = r">>> |\.\.\. |\$ "
copybutton_prompt_is_regexp = True

KEYS = re.findall(r"^@\w+\{([^,\s]+)", (HERE / "references.bib").read_text(encoding="utf-8"), re.MULTILINE)
KEY_IN_TEXT = re.compile(r"(?<![\w`])(" + "|".join(map(re.escape, KEYS)) + r")(?![\w`])")


def _is_result(obj: Any) -> bool:
    return inspect.isclass(obj) and issubclass(obj, Result)


def _field_rows(obj: Any) -> list[str]:
    """The fields of a result class that has no Parameters of its own, as a numpydoc section."""
    own = [f for f in dataclasses.fields(obj) if f.name != "provenance"]
    lines = ["", "Attributes", "----------"]
    for field in own:
        unit, what = field.metadata.get("unit"), field.metadata.get("description", "")
        dims = field.metadata.get("dims") or ()
        shape = f"; axes ..., {', '.join(dims)}" if dims else ""
        bracket = f" [{unit or '-'}]" if unit is not None else ""
        lines += [field.name, f"    {what[:1].upper()}{what[1:]}{bracket}{shape}."]
    return lines


def _process_docstring(app: Any, what: str, name: str, obj: Any, options: Any, lines: list[str]) -> None:
    if what == "class" and _is_result(obj) and obj is not Result and "Parameters" not in lines:
        lines += _field_rows(obj)
    in_code = False
    for i, line in enumerate(lines):
        in_code = line.lstrip().startswith((">>>", "...")) or (in_code and bool(line.strip()))
        if not in_code:
            magnitude = line if line.lstrip().startswith(("+", "|")) else line.replace("|", r"\|")
            lines[i] = KEY_IN_TEXT.sub(r":cite:t:`\1`", magnitude)


def _process_signature(app: Any, what: str, name: str, obj: Any, options: Any, sig: str, back: str) -> Any:
    """Show how public inputs are made, what must be given first; results are not made by hand."""
    if what != "class" or not _is_result(obj):
        return None
    if obj.__name__ not in lpgrelease.__all__:
        return "", None
    signature = inspect.signature(obj)
    given = [p.replace(annotation=p.empty) for p in signature.parameters.values() if p.name != "provenance"]
    given.sort(key=lambda p: (p.kind, p.default is not p.empty))
    return str(signature.replace(parameters=given, return_annotation=signature.empty)), None


def _skip_member(app: Any, what: str, name: str, obj: Any, skip: bool, options: Any) -> bool | None:
    is_field = inspect.ismemberdescriptor(obj)  # slots: listed with their units by `_field_rows`
    return True if is_field else None


def _resolve(app: Any, env: Any, node: Any, contnode: Any) -> Any:
    """Find a Python object by the end of its name, as docstrings refer to their own module's names."""
    if node.get("refdomain") != "py":
        return None
    domain, target = env.domains["py"], node["reftarget"].lstrip(".~")
    found = [full for full in domain.objects if full == target or full.endswith(f".{target}")]
    if len(found) != 1:
        return None
    entry = domain.objects[found[0]]
    uri = app.builder.get_relative_uri(node["refdoc"], entry.docname)
    reference = nodes.reference("", "", internal=True, refuri=f"{uri}#{entry.node_id}", reftitle=found[0])
    reference += contnode
    return reference


def _make(app: Any) -> None:
    """Compute the figures and tables that the pages include."""
    target = HERE / "generated"
    target.mkdir(exist_ok=True)
    if app.builder.format != "html" and (target / "gallery.md").exists():
        return  # other builders take what is there
    running = gallery_pages.start()  # the examples run meanwhile
    tables.make(target)
    validation_pages.make(target)
    (target / "argument_names.md").write_text("\n".join(argument_names.make()) + "\n", encoding="utf-8")
    figures.make(target)
    validation_pages.draw(target, figures.STYLE)
    gallery_pages.make(target, running)


def setup(app: Any) -> None:
    app.connect("builder-inited", _make)
    app.connect("autodoc-process-docstring", _process_docstring, priority=100)
    app.connect("autodoc-process-signature", _process_signature)
    app.connect("autodoc-skip-member", _skip_member)
    app.connect("missing-reference", _resolve)
