"""Defects that hostile calls have found and that are not yet mended; each goes when its cause does."""

from __future__ import annotations

KNOWN: dict[str, str] = {
    # a tank of a blend with no scenario at all
    "tank_history": "zero-size array to reduction operation maximum",
}
"""Name of the call to a pattern of what it raises."""
