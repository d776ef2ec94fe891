"""Where a freeze seal is feasible: tank pressure against hole size, in one call."""

from __future__ import annotations

from typing import Any

import numpy as np

from lpgrelease.boiling_off import boil_off
from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.freeze_seal.assess import FreezeSeal, assess_freeze_seal
from lpgrelease.freeze_seal.cloth import PHASES
from lpgrelease.freeze_seal.inputs import in_si
from lpgrelease.quantities import FloatArray, QuantityLike, require_word, to_si
from lpgrelease.release.opening import Opening
from lpgrelease.results import BoolArray, Result, StringArray, plain, quantity, result

__all__ = ["FreezeSealMap", "freeze_seal_map", "freeze_seal_maps"]


@result
class FreezeSealMap(Result):
    """Assessments on a grid: rows are hole sizes, columns are gauge pressures of the tank."""

    diameter: FloatArray = quantity("m", "of the hole")
    gauge_pressure: FloatArray = quantity("Pa", "of the tank")
    feasible: BoolArray = quantity("", "every condition is met")
    marginal: BoolArray = quantity("", "not so, but within the spread of strengths and pores")
    verdict: StringArray = plain('"feasible", "marginal" or "not feasible"')
    fluid: str = plain("name of the cargo")
    phase: str = plain("what leaks")
    seal: FreezeSeal = plain("the whole assessment, of the same shape")


def freeze_seal_map(
    fluid: Fluid,
    *,
    diameter: QuantityLike,
    gauge_pressure: QuantityLike,
    discharge_coefficient: QuantityLike = 0.62,
    phase: str = "liquid",
    **arguments: Any,
) -> FreezeSealMap:
    """Assess a freeze seal for every pair of hole size and gauge pressure.

    Parameters
    ----------
    fluid : Fluid
    diameter : array or quantity
        Of the hole, a row of sizes [m].
    gauge_pressure : array or quantity
        Of the tank, a row of pressures [Pa].
    discharge_coefficient : number
        Of the hole.
    phase : {"liquid", "two-phase", "vapor"}
        What leaks.
    **arguments
        As for `assess_freeze_seal`; single numbers.

    Returns
    -------
    FreezeSealMap
        Of shape (sizes, pressures). Draw it with :func:`lpgrelease.plots.plot_freeze_seal_map`.

    Raises
    ------
    InputError, OutOfRangeError

    Examples
    --------
    >>> from lpgrelease import Fluid
    >>> found = freeze_seal_map(Fluid("propane"), diameter=[0.003, 0.2], gauge_pressure=[0.0, 2e3, 5e3])
    >>> print(found.verdict)
    [['feasible' 'feasible' 'marginal']
     ['feasible' 'not feasible' 'not feasible']]
    """
    hole, columns = _grid(diameter, gauge_pressure, discharge_coefficient)
    seal = assess_freeze_seal(fluid, hole, gauge_pressure=columns, phase=phase, **arguments)
    if seal.feasible.shape != columns.shape:
        raise InputError("the other arguments of a map must be single numbers")
    return FreezeSealMap(
        diameter=hole.diameter,
        gauge_pressure=columns,
        feasible=seal.feasible,
        marginal=seal.marginal,
        verdict=seal.verdict,
        fluid=fluid.name,
        phase=phase,
        seal=seal,
        provenance=seal.provenance,
    )


def freeze_seal_maps(
    fluid: Fluid,
    liquid_left: QuantityLike,
    *,
    diameter: QuantityLike,
    gauge_pressure: QuantityLike,
    discharge_coefficient: QuantityLike = 0.62,
    phase: str = "liquid",
    **arguments: Any,
) -> tuple[FreezeSealMap, ...]:
    """Assess a blend as its light ends leave: one map for each part of the liquid that is left.

    Parameters
    ----------
    fluid : Fluid
        The blend as it was.
    liquid_left : array
        Mass of liquid left over that at the start, a row, 1 for the blend as it was.
    diameter, gauge_pressure : array or quantity
        As for `freeze_seal_map`.
    discharge_coefficient, phase, **arguments
        As for `freeze_seal_map`.

    Returns
    -------
    tuple of FreezeSealMap
        Draw them with :func:`lpgrelease.plots.plot_freeze_seal_maps`.

    Raises
    ------
    InputError, OutOfRangeError

    Notes
    -----
    The liquid left follows from `lpgrelease.boiling_off.boil_off` at the pressure of the air. A rest rich in
    butane boils near or above freezing and may not freeze water any more.

    Examples
    --------
    >>> from lpgrelease import Fluid
    >>> blend = Fluid({"propane": 0.4, "n-butane": 0.6})
    >>> maps = freeze_seal_maps(blend, [1.0, 0.05], diameter=[0.006], gauge_pressure=[0.0])
    >>> [str(found.verdict[0, 0]) for found in maps]
    ['feasible', 'not feasible']
    """
    _grid(diameter, gauge_pressure, discharge_coefficient)  # refuses what it must before the long work
    require_word(phase, PHASES, "phase")
    in_si(arguments)
    rest = boil_off(fluid, liquid_left, **_air_pressure(arguments))
    asked = {"diameter": diameter, "gauge_pressure": gauge_pressure, "phase": phase}
    asked |= {"discharge_coefficient": discharge_coefficient} | arguments
    return tuple(freeze_seal_map(each, **asked) for each in rest.fluids)


def _grid(
    diameter: QuantityLike, gauge_pressure: QuantityLike, discharge_coefficient: QuantityLike
) -> tuple[Opening, FloatArray]:
    """Hole and gauge pressure of every point of a map."""
    sizes = to_si(diameter, "m", "diameter", lower=0.0, open_lower=True)
    pressures = to_si(gauge_pressure, "Pa", "gauge_pressure", lower=0.0)
    sizes, pressures = np.atleast_1d(sizes), np.atleast_1d(pressures)
    if sizes.ndim != 1 or pressures.ndim != 1:
        raise InputError("diameter and gauge_pressure must be single rows of numbers")
    rows, columns = (np.array(a) for a in np.meshgrid(sizes, pressures, indexing="ij"))
    return Opening(diameter=rows, discharge_coefficient=discharge_coefficient), columns


def _air_pressure(arguments: dict[str, Any]) -> dict[str, QuantityLike]:
    """Return the pressure at which the blend boils: the one that the assessment will use."""
    if arguments.get("ambient_pressure") is not None:
        return {"pressure": arguments["ambient_pressure"]}
    weather = arguments.get("weather")
    if weather is None:
        return {}
    return {"pressure": weather.ambient_pressure}
