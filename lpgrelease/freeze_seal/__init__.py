"""Freeze seal: whether a wet cloth laid on a leak freezes into a plug, what it holds and how long."""

from lpgrelease.freeze_seal.assess import Condition, FreezeSeal, assess_freeze_seal
from lpgrelease.freeze_seal.cloth import WetCloth

__all__ = ["Condition", "FreezeSeal", "WetCloth", "assess_freeze_seal"]
