"""The same study here and on a cluster, equal to the bit; it outlives its process.

The cluster is a local one of dask.distributed, so that the example runs anywhere; with a real one, give its
address to ``Client``. All numbers are invented for the example. It needs lpgrelease with its extra ``study``,
and dask.
"""

from __future__ import annotations

import math
import tempfile
from typing import Any

from dask.distributed import Client, LocalCluster

import lpgrelease as lr
from lpgrelease.studies import open_study, quantiles

PROPANE = lr.Fluid("propane")
UNCERTAIN = {
    "hole": lr.lognormal(0.008, 1.5, lower=0.002, upper=0.03, unit="m"),
    "temperature": lr.normal(288.15, 8.0, lower=263.15, upper=313.15, unit="K"),
}


def leak(hole: Any, temperature: Any) -> Any:
    """Liquid that a hole lets out; arrays in, a result with arrays out."""
    return lr.liquid_release(PROPANE, lr.Opening(diameter=hole), temperature=temperature, head=1.0)


def main() -> None:
    """Run on the cluster, then here, and compare."""
    same = {"n": 50_000, "rng": 7, "chunk_size": 5000, "keep": ["mass_flow"]}
    with tempfile.TemporaryDirectory() as folder:
        store = f"{folder}/leaks"
        with (
            LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
            Client(cluster) as client,
        ):
            lr.study(leak, UNCERTAIN, workers=client.get_executor().map, store=store, **same)
        there = open_study(store).load()
    here = lr.study(leak, UNCERTAIN, **same)
    assert there.equals(here), "the same seed was to give the same bits"
    low, middle, high = quantiles(here.mass_flow).values
    push = 7.32e5 - 1.013e5 + 507.5 * 9.81  # propane at 15 degC: 7.32 bar, 507.5 kg/m3; a meter of liquid
    by_hand = 0.62 * math.pi / 4.0 * 0.008**2 * math.sqrt(2.0 * 507.5 * push)
    assert abs(middle / by_hand - 1.0) < 0.03, by_hand
    print(f"{here.sizes['scenario']:,} leaks, on two workers and here: the same to the last bit")
    print(f"flow of liquid {middle:.2f} kg/s; nine in ten lie between {low:.2f} and {high:.2f} kg/s")


if __name__ == "__main__":
    main()
