"""The whole job: an incident, a plan for it, and a forecast of what happens when."""

from lpgrelease.response.compare import PlanComparison, compare_plans
from lpgrelease.response.compose import forecast
from lpgrelease.response.distances import Distances
from lpgrelease.response.infer import InferredLeak, infer_leak
from lpgrelease.response.inputs import Incident, ResponsePlan
from lpgrelease.response.ledger import MassHistory, MassLedger
from lpgrelease.response.steps import Step
from lpgrelease.response.story import Forecast
from lpgrelease.response.uncertain import KeyFigures, study_forecasts

__all__ = [
    "Distances",
    "Forecast",
    "Incident",
    "InferredLeak",
    "KeyFigures",
    "MassHistory",
    "MassLedger",
    "PlanComparison",
    "ResponsePlan",
    "Step",
    "compare_plans",
    "forecast",
    "infer_leak",
    "study_forecasts",
]
