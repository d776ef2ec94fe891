"""What ground gives, how cold it grows and how deep it freezes under one cover after another."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.ground.boiling import boiling_flux
from lpgrelease.ground.column import PERFECT_CONTACT, GroundColumns, GroundState, GroundStep
from lpgrelease.ground.material import Ground
from lpgrelease.ground.sides import side_heat_flux
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, require_kind, to_si
from lpgrelease.results import Provenance, Result, quantity, result

__all__ = ["GroundHistory", "ground_history"]

STEPS: Final = 80
"""Steps of each cover; each is 12 % longer than the last."""
BOILING_PASSES: Final = 4
"""Times each step is solved anew where a liquid boils, until its conductance agrees."""
_GROWTH: Final = 1.12
_SOURCES: Final = ("carslaw1959conduction",)


@result
class GroundHistory(Result):
    """Ground under its covers; time last."""

    time: FloatArray = quantity("s", "time since the first cover was laid", dims=("time",))
    surface_temperature: FloatArray = quantity("K", "of the ground's own surface", dims=("time",))
    heat_flux: FloatArray = quantity("W/m**2", "out of the ground, from straight below", dims=("time",))
    side_heat_flux: FloatArray = quantity("W/m**2", "from beside the cover", dims=("time",))
    heat: FloatArray = quantity("J/m**2", "from straight below since the start", dims=("time",))
    heat_stored: FloatArray = quantity("J/m**2", "in the ground, above that at the start", dims=("time",))
    heat_from_depth: FloatArray = quantity("J/m**2", "from below the cells since the start", dims=("time",))
    frozen_depth: FloatArray = quantity("m", "of ground that is frozen, in all", dims=("time",))


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class _Cover:
    temperature: FloatArray
    duration: FloatArray
    conductance: FloatArray
    boils: bool


def ground_history(
    ground: Ground,
    *,
    temperature: QuantityLike | Sequence[QuantityLike],
    duration: QuantityLike | Sequence[QuantityLike],
    conductance: QuantityLike | Sequence[QuantityLike | None] | None = None,
    fluid: Fluid | None = None,
    ground_temperature: QuantityLike | None = None,
    radius: QuantityLike | None = None,
) -> GroundHistory:
    """Heat out of ground that is covered by something cold, and by other things after it.

    Parameters
    ----------
    ground : Ground
        With its layers.
    temperature, duration : number, array or quantity, or a list or tuple of such
        Of what lies on the ground [K], and how long [s]; lists for one cover after another (a spill, the
        air, the next spill), all of one length. Arrays are scenarios.
    conductance : the same, optional
        Between cover and ground [W/m2/K]; None, alone or in the list, is a liquid that touches the ground.
        Bare ground: 10 to 30 W/m2/K, with the air's temperature.
    fluid : Fluid, optional
        The liquid that boils wherever the conductance is None, at the temperature given: it then takes heat
        no faster than boiling can (`ground.boiling.boiling_flux`). None: perfect contact.
    ground_temperature : number, array or quantity, optional
        At the start, and at 6 m for ever [K]; needed where the ground has none of its own.
    radius : number, array or quantity, optional
        Of the cover [m]: heat from beside is worked out. None: as wide as the land.

    Returns
    -------
    GroundHistory
        After each of 80 steps per cover, short at first.

    Raises
    ------
    InputError
        No temperature for the ground, lists that differ in length, shapes that do not broadcast.
    OutOfRangeError
        A temperature outside 20 to 350 K, or at which `fluid` is no liquid; a duration or conductance that is
        not positive.

    Notes
    -----
    Columns of 48 cells to a depth of 6 m, which stays at its temperature. From the twentieth step of a cover
    on, flux and heat are within 0.5 % of the exact solutions, with freezing or without.
    References: carslaw1959conduction; shoup1982disk for the sides.

    Examples
    --------
    >>> sand = Ground.named("moist sand", temperature=293.15)
    >>> cold = ground_history(sand, temperature=[231.0, 293.15, 231.0], duration=[3600.0, 7200.0, 3600.0],
    ...     conductance=[None, 15.0, None])
    >>> [f"{cold.heat_flux[i] / 1e3:.1f} kW/m2" for i in (79, 239)]
    ['1.7 kW/m2', '1.3 kW/m2']
    """
    require_kind(ground, Ground, "ground")
    if fluid is not None:
        require_kind(fluid, Fluid, "fluid")
    given = ground.temperature if ground_temperature is None else ground_temperature
    if given is None:
        raise InputError("ground_temperature: this ground has no temperature of its own; give one")
    start = to_si(given, "K", "ground_temperature", lower=150.0, upper=350.0)
    covers = _covers(temperature, duration, conductance, fluid)
    named = {"ground_temperature": start, "conductivity": ground.conductivity}
    for i, cover in enumerate(covers):
        named |= {f"temperature {i}": cover.temperature, f"duration {i}": cover.duration}
        named |= {f"conductance {i}": cover.conductance}
    if radius is not None:
        named["radius"] = to_si(radius, "m", "radius", lower=0.0, open_lower=True)
    shape = broadcast(**named)[0].shape
    soil = GroundColumns.prepare(ground, shape)
    rows = _march(soil, soil.start(start), covers, fluid, named.get("radius"))
    sources = tuple(dict.fromkeys((*_SOURCES, *ground.provenance.sources)))
    return GroundHistory(**rows, provenance=Provenance("columns of ground, implicit in time", sources))


def _covers(temperature: Any, duration: Any, conductance: Any, fluid: Fluid | None) -> list[_Cover]:
    temperatures, durations = (_listed(x) for x in (temperature, duration))
    conductances = _listed(conductance)
    if conductance is None:
        conductances = [None] * len(temperatures)
    if not len(temperatures) == len(durations) == len(conductances) > 0:
        lengths = f"{len(temperatures)}, {len(durations)} and {len(conductances)}"
        raise InputError(
            f"temperature, duration and conductance: lists of one length are wanted, got {lengths}"
        )
    covers = []
    for T, time, g in zip(temperatures, durations, conductances, strict=True):
        touch = PERFECT_CONTACT if g is None else g
        boils = fluid is not None and g is None
        if fluid is not None and boils:
            fluid.saturation_range(T, "temperature")
        covers.append(
            _Cover(
                to_si(T, "K", "temperature", lower=20.0, upper=350.0),
                to_si(time, "s", "duration", lower=0.0, open_lower=True),
                to_si(touch, "W/m**2/K", "conductance", lower=0.0, open_lower=True),
                boils,
            )
        )
    return covers


def _listed(value: Any) -> list[Any]:
    return list(value) if isinstance(value, (list, tuple)) else [value]


def _march(
    soil: GroundColumns,
    state: GroundState,
    covers: list[_Cover],
    fluid: Fluid | None,
    radius: FloatArray | None,
) -> dict[str, FloatArray]:
    zero = np.zeros(soil.shape)
    rows: dict[str, list[FloatArray]] = {
        f.name: [] for f in dataclasses.fields(GroundHistory) if f.name != "provenance"
    }
    stored, time, heat, deep = soil.stored(state), zero, zero, zero
    parts = _GROWTH ** np.arange(STEPS)
    parts = parts / parts.sum()
    top = state.theta[0].reshape(soil.shape) + 273.15
    for cover in covers:
        for i, part in enumerate(parts):
            length = part * cover.duration + zero
            step = _step(soil, state, length, cover, top, fluid, i == 0)
            state, top = step.state, step.top
            time, heat, deep = time + length, heat + step.heat, deep + step.deep_heat
            beside = zero
            if radius is not None:
                beside = side_heat_flux(step.flux, soil.potential(state, step.top), radius)
            for name, value in (
                ("time", time),
                ("surface_temperature", step.top),
                ("heat_flux", step.flux),
                ("side_heat_flux", beside),
                ("heat", heat),
                ("heat_stored", soil.stored(state) - stored),
                ("heat_from_depth", deep),
                ("frozen_depth", soil.frozen_depth(state)),
            ):
                rows[name].append(value)
    return {name: np.stack(values, axis=-1) for name, values in rows.items()}


def _step(
    soil: GroundColumns,
    state: GroundState,
    length: FloatArray,
    cover: _Cover,
    top: FloatArray,
    fluid: Fluid | None,
    first: bool,
) -> GroundStep:
    new = np.full(soil.shape, first)
    if not cover.boils or fluid is None:
        return soil.step(state, length, cover.temperature, cover.conductance, new)
    T = cover.temperature + np.zeros(soil.shape)
    for _ in range(BOILING_PASSES):
        touch, conductance = _boiling_contact(fluid, T, top)
        step = soil.step(state, length, touch, conductance, new)
        top = step.top
    return step


def _boiling_contact(fluid: Fluid, temperature: FloatArray, top: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Temperature and conductance that stand for boiling on a surface at `top`, to first order."""
    difference = np.maximum(top - temperature, 0.05)
    flux, exponent = boiling_flux(fluid, temperature, temperature + difference)
    steep = np.where(exponent > 1.0, exponent, 1.0)
    return temperature + difference * (1.0 - 1.0 / steep), steep * flux / difference
