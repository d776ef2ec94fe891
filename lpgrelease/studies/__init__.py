"""Many scenarios: sampling, uncertainty, sensitivity, ensembles that outlive their process."""

from lpgrelease.studies.distributions import Distribution, choice, lognormal, normal, triangular, uniform
from lpgrelease.studies.ensemble import open_study, study
from lpgrelease.studies.importance import sensitivity
from lpgrelease.studies.statistics import exceedance, mean_convergence, quantiles

__all__ = [
    "Distribution",
    "choice",
    "exceedance",
    "lognormal",
    "mean_convergence",
    "normal",
    "open_study",
    "quantiles",
    "sensitivity",
    "study",
    "triangular",
    "uniform",
]
