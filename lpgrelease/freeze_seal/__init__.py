"""Freeze seal: whether a wet cloth laid on a leak freezes into a plug, what it holds and how long."""

from lpgrelease.freeze_seal.assess import FreezeSeal, assess_freeze_seal
from lpgrelease.freeze_seal.cloth import WetCloth
from lpgrelease.freeze_seal.conditions import Condition
from lpgrelease.freeze_seal.hold import SealHold, hold_freeze_seal
from lpgrelease.freeze_seal.metal import MetalWall
from lpgrelease.freeze_seal.plug import Plug
from lpgrelease.freeze_seal.seal_map import FreezeSealMap, freeze_seal_map, freeze_seal_maps

__all__ = [
    "Condition",
    "FreezeSeal",
    "FreezeSealMap",
    "MetalWall",
    "Plug",
    "SealHold",
    "WetCloth",
    "assess_freeze_seal",
    "freeze_seal_map",
    "freeze_seal_maps",
    "hold_freeze_seal",
]
