"""Defects that hostile calls have found and that are not yet mended; each goes when its cause does."""

from __future__ import annotations

KNOWN: dict[str, str] = {
    "Transfer": "truth value of an array",
    "level_swell": "largest_flow is infinite",
    "steady_hold": "has no attribute|has attribute",
    "sustaining_feed": "has no attribute|has attribute|invalid value encountered in divide",
    "lasting_depth": "has no attribute|has attribute",
    "feed_for_lasting_pool": "mass is infinite|feed_duration is infinite|invalid value encountered in divide",
    "pool_history": "mass_airborne = .* is negative",
    "pool_source": "mass_airborne = .* is negative",
    "compare_plans": "mass_airborne = .* is negative",
    "forecast": "mass_airborne = .* is negative",
    "Forecast.scenario": "mass_airborne = .* is negative",
}
"""Name of the call to a pattern of what it raises."""
