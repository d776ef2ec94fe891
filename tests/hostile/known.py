"""Defects that hostile calls have found and that are not yet mended; each goes when its cause does."""

from __future__ import annotations

KNOWN: dict[str, str] = {
    "contents_from_gauge": "has no attribute|has attribute",
    "leak_from_rate": "has no attribute|has attribute|could not be broadcast",
}
"""Name of the call to a pattern of what it raises."""
