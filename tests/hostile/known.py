"""Defects that hostile calls have found and that are not yet mended; each goes when its cause does."""

from __future__ import annotations

KNOWN: dict[str, str] = {}
"""Name of the call to a pattern of what it raises."""
