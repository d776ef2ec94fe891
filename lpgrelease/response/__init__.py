"""The whole job: an incident, a plan for it, and a forecast of what happens when."""

from lpgrelease.response.actions import BurnPool, Empty, Hold, KeepOut, PlanStep, Pump, Seal, Vent
from lpgrelease.response.compare import PlanComparison, compare_plans
from lpgrelease.response.compose import forecast
from lpgrelease.response.conditions import TankState, When
from lpgrelease.response.distances import Distances
from lpgrelease.response.infer import InferredLeak, infer_leak
from lpgrelease.response.inputs import Incident, ResponsePlan
from lpgrelease.response.ledger import EnergyLedger, MassHistory, MassLedger
from lpgrelease.response.readings import contents_from_gauge, leak_from_rate
from lpgrelease.response.steps import Step
from lpgrelease.response.story import Forecast
from lpgrelease.response.uncertain import KeyFigures, study_forecasts

__all__ = [
    "BurnPool",
    "Distances",
    "Empty",
    "EnergyLedger",
    "Forecast",
    "Hold",
    "Incident",
    "InferredLeak",
    "KeepOut",
    "KeyFigures",
    "MassHistory",
    "MassLedger",
    "PlanComparison",
    "PlanStep",
    "Pump",
    "ResponsePlan",
    "Seal",
    "Step",
    "TankState",
    "Vent",
    "When",
    "compare_plans",
    "contents_from_gauge",
    "forecast",
    "infer_leak",
    "leak_from_rate",
    "study_forecasts",
]
