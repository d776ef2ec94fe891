"""Clouds of heavy gas: where vapor can still be lit."""

from lpgrelease.cloud.cloud import CloudPlanes, CloudReach
from lpgrelease.cloud.dense import DensePlume, britter_mcquaid_plume
from lpgrelease.cloud.hollow import SpaceFilling, fill_space
from lpgrelease.cloud.limits import flammable_limit_le_chatelier
from lpgrelease.cloud.monitor import MonitorReading, sensor_correction_factor
from lpgrelease.cloud.plume import GaussianPlume, gaussian_plume
from lpgrelease.cloud.reach import flammable_reach
from lpgrelease.cloud.source import GasSource, jet_source, pool_source
from lpgrelease.cloud.stability import pasquill_class

__all__ = [
    "CloudPlanes",
    "CloudReach",
    "DensePlume",
    "GasSource",
    "GaussianPlume",
    "MonitorReading",
    "SpaceFilling",
    "britter_mcquaid_plume",
    "fill_space",
    "flammable_limit_le_chatelier",
    "flammable_reach",
    "gaussian_plume",
    "jet_source",
    "pasquill_class",
    "pool_source",
    "sensor_correction_factor",
]
