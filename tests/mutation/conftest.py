"""The sample of mutants is run by hand: it needs a package of its own, and an hour or more."""

collect_ignore = ["sample_mutants.py", "run_mutants.py"]
