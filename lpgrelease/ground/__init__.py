"""Grounds, and the heat they give to something cold laid on them."""

from __future__ import annotations

from lpgrelease.ground.history import GroundHistory, ground_history
from lpgrelease.ground.material import Ground, conduction_properties, frozen_conductivity_johansen

__all__ = [
    "Ground",
    "GroundHistory",
    "conduction_properties",
    "frozen_conductivity_johansen",
    "ground_history",
]
