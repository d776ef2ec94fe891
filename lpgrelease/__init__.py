"""Thermodynamics and release physics of liquefied gases.

The public names, loaded when first used so that ``import lpgrelease`` costs little more than NumPy.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

_HOMES = {
    "errors": (
        "ConvergenceError",
        "FailedScenarioWarning",
        "InputError",
        "LpgReleaseError",
        "OutOfRangeError",
        "StoreMismatchError",
        "StudyError",
        "ValidityWarning",
    ),
    "quantities": ("gauge",),
    "fluids": ("Fluid",),
    "flashing": ("flash",),
    "phases": ("bubble_point", "dew_point", "equilibrium"),
    "weather": ("Weather",),
    "weather_by_hour": ("WeatherByHour",),
    "release": ("Line", "Opening", "line_release", "liquid_release", "two_phase_release", "vapor_release"),
    "tank": (
        "Contents",
        "HorizontalTank",
        "ReliefValve",
        "SphericalTank",
        "StopAt",
        "TankFire",
        "TankWall",
        "Transfer",
        "VerticalTank",
        "fire_engulfment",
        "level_swell",
        "liquid_full",
        "opening_height",
        "pressure_return",
        "steady_hold",
        "tank_history",
        "tilt",
    ),
    "ground": ("Ground", "ground_history"),
    "pool": (
        "Basin",
        "Exposure",
        "Hollow",
        "OpenGround",
        "Spill",
        "feed_for_lasting_pool",
        "lasting_depth",
        "pool_at",
        "pool_history",
        "sustaining_feed",
    ),
    "freeze_seal": (
        "MetalWall",
        "WetCloth",
        "assess_freeze_seal",
        "freeze_seal_map",
        "freeze_seal_maps",
        "hold_freeze_seal",
    ),
    "boiling_off": ("boil_off",),
    "fire": (
        "burn_pit",
        "flare_history",
        "heat_thresholds",
        "pool_fire",
        "still_pool_fire",
        "thermal_dose",
        "time_to_harm",
        "vapor_flare",
        "vessel_heating",
    ),
    "cloud": ("GasSource", "fill_space", "flammable_reach", "jet_source", "pasquill_class", "pool_source"),
    "response": (
        "BurnPool",
        "Empty",
        "Hold",
        "Incident",
        "KeepOut",
        "Pump",
        "ResponsePlan",
        "Seal",
        "Vent",
        "When",
        "compare_plans",
        "contents_from_gauge",
        "forecast",
        "infer_leak",
        "leak_from_rate",
        "study_forecasts",
    ),
    "studies": ("choice", "lognormal", "normal", "study", "triangular", "uniform"),
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}

__all__ = [  # in full, for type checkers
    "Basin",
    "BurnPool",
    "Contents",
    "ConvergenceError",
    "Empty",
    "Exposure",
    "FailedScenarioWarning",
    "Fluid",
    "GasSource",
    "Ground",
    "Hold",
    "Hollow",
    "HorizontalTank",
    "Incident",
    "InputError",
    "KeepOut",
    "Line",
    "LpgReleaseError",
    "MetalWall",
    "OpenGround",
    "Opening",
    "OutOfRangeError",
    "Pump",
    "ReliefValve",
    "ResponsePlan",
    "Seal",
    "SphericalTank",
    "Spill",
    "StopAt",
    "StoreMismatchError",
    "StudyError",
    "TankFire",
    "TankWall",
    "Transfer",
    "ValidityWarning",
    "Vent",
    "VerticalTank",
    "Weather",
    "WeatherByHour",
    "WetCloth",
    "When",
    "__version__",
    "assess_freeze_seal",
    "boil_off",
    "bubble_point",
    "burn_pit",
    "choice",
    "compare_plans",
    "contents_from_gauge",
    "dew_point",
    "equilibrium",
    "feed_for_lasting_pool",
    "fill_space",
    "fire_engulfment",
    "flammable_reach",
    "flare_history",
    "flash",
    "forecast",
    "freeze_seal_map",
    "freeze_seal_maps",
    "gauge",
    "ground_history",
    "heat_thresholds",
    "hold_freeze_seal",
    "infer_leak",
    "jet_source",
    "lasting_depth",
    "leak_from_rate",
    "level_swell",
    "line_release",
    "liquid_full",
    "liquid_release",
    "lognormal",
    "normal",
    "opening_height",
    "pasquill_class",
    "pool_at",
    "pool_fire",
    "pool_history",
    "pool_source",
    "pressure_return",
    "steady_hold",
    "still_pool_fire",
    "study",
    "study_forecasts",
    "sustaining_feed",
    "tank_history",
    "thermal_dose",
    "tilt",
    "time_to_harm",
    "triangular",
    "two_phase_release",
    "uniform",
    "vapor_flare",
    "vapor_release",
    "vessel_heating",
]

if TYPE_CHECKING:
    from lpgrelease.boiling_off import boil_off
    from lpgrelease.cloud import (
        GasSource,
        fill_space,
        flammable_reach,
        jet_source,
        pasquill_class,
        pool_source,
    )
    from lpgrelease.errors import (
        ConvergenceError,
        FailedScenarioWarning,
        InputError,
        LpgReleaseError,
        OutOfRangeError,
        StoreMismatchError,
        StudyError,
        ValidityWarning,
    )
    from lpgrelease.fire import (
        burn_pit,
        flare_history,
        heat_thresholds,
        pool_fire,
        still_pool_fire,
        thermal_dose,
        time_to_harm,
        vapor_flare,
        vessel_heating,
    )
    from lpgrelease.flashing import flash
    from lpgrelease.fluids import Fluid
    from lpgrelease.freeze_seal import (
        MetalWall,
        WetCloth,
        assess_freeze_seal,
        freeze_seal_map,
        freeze_seal_maps,
        hold_freeze_seal,
    )
    from lpgrelease.ground import Ground, ground_history
    from lpgrelease.phases import bubble_point, dew_point, equilibrium
    from lpgrelease.pool import (
        Basin,
        Exposure,
        Hollow,
        OpenGround,
        Spill,
        feed_for_lasting_pool,
        lasting_depth,
        pool_at,
        pool_history,
        sustaining_feed,
    )
    from lpgrelease.quantities import gauge
    from lpgrelease.release import (
        Line,
        Opening,
        line_release,
        liquid_release,
        two_phase_release,
        vapor_release,
    )
    from lpgrelease.response import (
        BurnPool,
        Empty,
        Hold,
        Incident,
        KeepOut,
        Pump,
        ResponsePlan,
        Seal,
        Vent,
        When,
        compare_plans,
        contents_from_gauge,
        forecast,
        infer_leak,
        leak_from_rate,
        study_forecasts,
    )
    from lpgrelease.studies import choice, lognormal, normal, study, triangular, uniform
    from lpgrelease.tank import (
        Contents,
        HorizontalTank,
        ReliefValve,
        SphericalTank,
        StopAt,
        TankFire,
        TankWall,
        Transfer,
        VerticalTank,
        fire_engulfment,
        level_swell,
        liquid_full,
        opening_height,
        pressure_return,
        steady_hold,
        tank_history,
        tilt,
    )
    from lpgrelease.weather import Weather
    from lpgrelease.weather_by_hour import WeatherByHour


def __getattr__(name: str) -> Any:
    home = _HOME_OF.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f"{__name__}.{home}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
