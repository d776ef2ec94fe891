"""The fuzzer is run by hand: it needs a package of its own."""

collect_ignore = ["fuzz_public_calls.py"]
