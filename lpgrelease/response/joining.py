"""Histories of a tank put end to end, and the books of where all of it went."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from lpgrelease.freeze_seal import FreezeSeal
from lpgrelease.pool import PoolHistory
from lpgrelease.quantities import FloatArray
from lpgrelease.response.inputs import Incident, ResponsePlan
from lpgrelease.response.ledger import (
    EnergyLedger,
    MassHistory,
    MassLedger,
    ledger_at,
    mass_history,
)
from lpgrelease.response.spilling import Spilt, add_openings
from lpgrelease.results import Provenance
from lpgrelease.tank import TankHistory
from lpgrelease.weather import Weather
from lpgrelease.weather_by_hour import ambient_at

__all__ = ["Joined", "books", "energy_books", "gauge_pressure", "join", "provenance_of"]


class Joined(NamedTuple):
    """The tank's histories joined: what depends on time, and the times of the phases."""

    histories: dict[str, Any]
    times: dict[str, Any]


def join(
    incident: Incident,
    plan: ResponsePlan,
    runs: Sequence[TankHistory],
    pumped: Sequence[FloatArray],
    starts: FloatArray,
) -> Joined:
    """Put the histories end to end on one time axis; what was released adds up.

    `pumped`: liquid pumped out since the start of each history [kg]. `starts`: when each begins, and the last
    ends.
    """
    parts = [
        np.minimum(run.time + starts[..., i, None], starts[..., i + 1, None]) for i, run in enumerate(runs)
    ]
    for i, part in enumerate(parts):
        part[..., -1] = starts[..., i + 1]  # no gap of a rounding, in which nothing would flow
    time = np.concatenate(parts, axis=-1)
    names = ("pressure", "temperature", "liquid_mass", "vapor_mass", "liquid_volume", "mass_flow")
    joined = {name: np.concatenate([getattr(run, name) for run in runs], axis=-1) for name in names}
    wet = np.concatenate([run.passes_liquid for run in runs], axis=-1)
    gone = _added_up([run.mass_released for run in runs])
    flow = joined.pop("mass_flow")
    n, m = len(incident.leaks), len(incident.leaks) + len(plan.vents)
    histories = joined | {
        "time": time,
        "gauge_pressure": gauge_pressure(incident, joined["pressure"], time, starts),
        "leak_flow": flow[..., :n, :],
        "leak_passes_liquid": wet[..., :n, :],
        "leaked": gone[..., :n, :],
        "vent_flow": flow[..., n:m, :],
        "vented": gone[..., n:m, :],
        "relief_flow": flow[..., m:, :],
        "relieved": gone[..., m:, :],
        "transferred": _added_up(pumped),
        "heat_gained": _added_up([run.heat_gained for run in runs]),
        "enthalpy_released": _added_up([run.enthalpy_released for run in runs]),
    }
    return Joined(histories, {"phase_start": starts[..., :-1], "phase_end": starts[..., 1:]})


def energy_books(tank: Joined, runs: Sequence[TankHistory]) -> EnergyLedger:
    """Add up the tank's energy; each history has closed it against the properties of what is in the tank."""
    heat, enthalpy = (tank.histories[name][..., -1] for name in ("heat_gained", "enthalpy_released"))
    worst = np.zeros(np.shape(heat))
    for run in runs:
        worst = np.maximum(worst, run.energy_imbalance)
    return EnergyLedger(
        heat_gained=heat[()],
        enthalpy_released=enthalpy[()],
        change=np.subtract(heat, enthalpy)[()],
        imbalance=worst[()],
        provenance=Provenance("sum of all energies"),
    )


def gauge_pressure(
    incident: Incident, pressure: FloatArray, time: FloatArray, starts: FloatArray
) -> FloatArray:
    """Pressure above that of the air of the time [Pa]; in each history the weather is that of its start."""
    if isinstance(incident.weather, Weather):
        return np.asarray(np.subtract(pressure, np.asarray(incident.weather.ambient_pressure)[..., None]))
    points = time.shape[-1] // (starts.shape[-1] - 1)
    at = np.repeat(starts[..., :-1], points, axis=-1)
    return np.subtract(pressure, ambient_at(incident.weather, at))


def _added_up(rows: Sequence[FloatArray]) -> FloatArray:
    """Put sums that start anew in each phase end to end, each on top of those before."""
    total, before = [], np.zeros_like(rows[0][..., -1])
    for row in rows:
        total.append(row + before[..., None])
        before = total[-1][..., -1]
    return np.concatenate(total, axis=-1)


def books(
    flares: Sequence[tuple[bool, FloatArray]],
    tank: Joined,
    spilt: Spilt,
    pool: PoolHistory,
    kept: np.ndarray[Any, np.dtype[np.intp]],
) -> tuple[MassHistory, MassLedger]:
    """Add up where the mass is over time and at the end; `flares`: of each vent, as `flares_of`."""
    h = tank.histories
    leaked, vented, as_liquid = (
        add_openings(values) for values in (h["leaked"], h["vented"], spilt.leaked_liquid)
    )
    rows = {
        "in_tank": h["liquid_mass"] + h["vapor_mass"],
        "vented": vented,
        "relieved": add_openings(h["relieved"]),
        "transferred": h["transferred"],
        "leaked_as_vapor": leaked - as_liquid,
        "leaked_as_liquid": as_liquid,
    }
    burns = [1.0 if flare else 0.0 for flare, _ in flares]
    flared = add_openings(h["vented"] * np.reshape(burns, (-1, 1)))
    initial = np.asarray(h["liquid_mass"][..., 0] + h["vapor_mass"][..., 0])
    thinned = {name: values[..., kept] for name, values in rows.items()}
    last = {name: values[..., -1][()] for name, values in rows.items()}
    end = tank.times["phase_end"][..., -1]
    return (
        mass_history(initial, h["time"][..., kept], thinned, flared[..., kept], pool),
        ledger_at(initial[()], h["liquid_mass"][..., -1], last, flared[..., -1][()], pool, end),
    )


def provenance_of(runs: Sequence[TankHistory], seals: Sequence[FreezeSeal], pool: PoolHistory) -> Provenance:
    """Return where the numbers of a forecast come from."""
    origins = [*(run.provenance for run in runs), *(seal.provenance for seal in seals), pool.provenance]
    return Provenance(
        "tank, freeze seal and pool in sequence",
        tuple(dict.fromkeys(key for origin in origins for key in origin.sources)),
        runs[0].provenance.properties,
        tuple(dict.fromkeys(text for origin in origins for text in origin.outside_validity)),
    )
