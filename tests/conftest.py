"""Hypothesis profiles: ``HYPOTHESIS_PROFILE=thorough`` and ``nightly`` search longer and anew each time."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, Phase, settings
from hypothesis.internal.conjecture import providers

slow_machines = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow]}
# a failure is reported as found: making it small can take longer than all other tests together
found_only = [Phase.explicit, Phase.generate]
settings.register_profile(
    "ci", max_examples=50, derandomize=True, database=None, phases=found_only, **slow_machines
)
settings.register_profile("thorough", max_examples=2000, print_blob=True, **slow_machines)
settings.register_profile("nightly", max_examples=500, print_blob=True, **slow_machines)
profile = os.environ.get("HYPOTHESIS_PROFILE", "ci")
settings.load_profile(profile)
if profile == "ci" and hasattr(providers, "_get_local_constants"):
    # Hypothesis also draws numbers that stand in the code of modules loaded so far: which cases are drawn
    # would hang on the order of the tests, and on the process that runs them
    providers._get_local_constants = lambda: providers._local_constants
