"""Models for the tests of studies; other processes import them from here."""

from __future__ import annotations

import os
import sys
import time

import numpy as np

import lpgrelease as lr

PROPANE = lr.Fluid("propane")
INPUTS = {"temperature": lr.uniform(263.15, 303.15, unit="K"), "hole": lr.lognormal(0.01, 1.5, unit="m")}


def leak(temperature, hole):
    """A result of the library."""
    return lr.vapor_release(PROPANE, lr.Opening(diameter=hole), temperature=temperature)


def line(x, slope=1.0):
    """The least one can compute."""
    return {"y": slope * x}


def slow_line(x):
    """Slow enough that a process is killed between two chunks."""
    time.sleep(0.02)
    return {"y": np.sqrt(x), "history": x[:, None] * np.arange(3.0)}


def picky(x):
    """Refuses whole batches for one of their values."""
    if (x > 0.99).any():
        raise lr.OutOfRangeError("x", float(x.max()), "", None, 0.99)
    return {"y": 2.0 * x, "flag": x > 0.5, "name": np.where(x > 0.5, "large", "s")}


def deadly(x):
    """End the process it runs in."""
    os._exit(3)


def leak_somewhere(temperature, hole):
    """Return the same, and which process ran it."""
    found = leak(temperature, hole).to_dataset()
    return found.assign(process=("scenario", np.full(hole.shape, os.getpid())))


if __name__ == "__main__":  # what the test kills
    lr.study(slow_line, {"x": lr.uniform(0.0, 1.0)}, n=400, rng=5, chunk_size=10, store=sys.argv[1])
