"""Heavy vapor that gathers in a hollow, a pit or a building: two bounds, fully mixed and not mixed at all."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from lpgrelease.constants import GAS_CONSTANT, STANDARD_ATMOSPHERE
from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.quantities import SMALLEST, FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.results import BoolArray, Provenance, Result, plain, quantity, result

__all__ = ["SpaceFilling", "fill_space"]

CAUTIONS: Final = (
    "An estimate, not an instruction: vapor neither mixes fully nor lies quite still, so both bounds can "
    "be wrong in one corner of a space. A layer at the floor can be lit while a monitor above reads nothing.",
    "Do not enter: the air in a hollow or cellar may not be fit to breathe, and a switch can light the gas.",
    "The authority in charge, local codes and licensed practice decide.",
)


@result
class SpaceFilling(Result):
    """Gas in a space at the end of a leak, and the times before and after."""

    volume_flow: FloatArray = quantity("m**3/s", "of the gas")
    mixed_fraction: FloatArray = quantity("", "mole fraction at the end of the leak, fully mixed")
    steady_fraction: FloatArray = quantity("", "mole fraction it tends to, fully mixed")
    time_to_fraction: FloatArray = quantity(
        "s", "until the fraction of the lower limit is there, fully mixed; inf: never"
    )
    clearing_time: FloatArray = quantity(
        "s", "after the leak, until it is below that fraction again, fully mixed; inf: never"
    )
    air_changes_needed: FloatArray = quantity("1/s", "to stay below that fraction for good, fully mixed")
    layer_depth: FloatArray = quantity("m", "of pure gas on the floor at the end of the leak, not mixed")
    time_to_rim: FloatArray = quantity("s", "until pure gas stands at the rim, not mixed; inf: never")
    overflow: FloatArray = quantity("kg/s", "gas that runs over the rim at the end, not mixed")
    flammable: BoolArray = quantity("", "within the flammable limits at the end of the leak, fully mixed")
    cautions: tuple[str, ...] = plain("what to keep in mind before acting on it", default=CAUTIONS)


def fill_space(
    fluid: Fluid,
    *,
    mass_flow: QuantityLike,
    floor_area: QuantityLike,
    depth: QuantityLike,
    duration: QuantityLike,
    air_changes: QuantityLike = 0.0,
    mixing_factor: QuantityLike = 1.0,
    fraction: QuantityLike = 1.0,
    gas_temperature: QuantityLike = 293.15,
    ambient_pressure: QuantityLike = STANDARD_ATMOSPHERE,
) -> SpaceFilling:
    """Fill a depression or a building with vapor, against air changes.

    Parameters
    ----------
    fluid : Fluid
    mass_flow : number, array or quantity
        Of vapor into the space [kg/s].
    floor_area, depth : number, array or quantity
        Of the space: to its rim, its lowest open door, or its ceiling [m2], [m].
    duration : number, array or quantity
        Of the leak [s].
    air_changes : number, array or quantity
        Fresh air over the space's volume [1/s]; 1 per hour is 1/3600. A closed house has about 0.2 to 1 per
        hour (common practice, no source).
    mixing_factor : number or array
        Share of the fresh air that does its work, 0.1 to 1; 0.1 to 0.5 is usual (crowl2019safety, chapter 3).
    fraction : number or array
        Of the lower flammable limit, 0.01 to 5.
    gas_temperature : number, array or quantity
        Of the gas in the space [K]: cold vapor in a hollow is near its boiling point, 100 to 400.
    ambient_pressure : number, array or quantity
        [Pa], absolute.

    Returns
    -------
    SpaceFilling

    Raises
    ------
    InputError, OutOfRangeError
        Wrong kind; outside the ranges above; a fraction that is no mixture.

    Notes
    -----
    Fully mixed: V dy/dt = q - (k n V + q) y, solved exactly; afterwards y falls as exp(-k n t).
    Not mixed: a layer of pure gas, A dh/dt = q - n A h, that the air changes draw off and that runs over
    at the rim. The truth lies between. Wind over a hollow is an air change that the user must judge: no
    published rate is used. Ideal gas.

    References: crowl2019safety, chapter 3.

    Examples
    --------
    >>> cellar = fill_space(Fluid("propane"), mass_flow=0.002, floor_area=20.0, depth=2.0, duration=3600.0,
    ...     air_changes=0.5 / 3600.0)
    >>> print(f"{cellar.time_to_fraction / 60:.0f} min, {cellar.layer_depth:.2f} m")
    14 min, 0.15 m
    """
    if not isinstance(fluid, Fluid):
        raise InputError(f"fluid: {type(fluid).__name__} is no Fluid")
    given = {
        "mass_flow": to_si(mass_flow, "kg/s", "mass_flow", lower=0.0, open_lower=True),
        "floor_area": to_si(floor_area, "m**2", "floor_area", lower=0.0, open_lower=True),
        "depth": to_si(depth, "m", "depth", lower=0.0, open_lower=True),
        "duration": to_si(duration, "s", "duration", lower=0.0),
        "air_changes": to_si(air_changes, "1/s", "air_changes", lower=0.0, upper=1.0),
        "mixing_factor": to_si(mixing_factor, "", "mixing_factor", lower=0.1, upper=1.0),
        "fraction": to_si(fraction, "", "fraction", lower=0.01, upper=5.0),
        "gas_temperature": to_si(gas_temperature, "K", "gas_temperature", lower=100.0, upper=400.0),
        "ambient_pressure": to_si(ambient_pressure, "Pa", "ambient_pressure", lower=3e4, upper=1.1e5),
    }
    shaped = dict(zip(given, broadcast(**given), strict=True))
    fields: dict[str, Any] = {n: np.array(a)[()] for n, a in _solve(fluid, **shaped).items()}
    return SpaceFilling(
        **fields,
        cautions=(*fluid.cautions, *CAUTIONS),
        provenance=Provenance("filled space: fully mixed, and not mixed", ("crowl2019safety",), "ideal gas"),
    )


def _solve(
    fluid: Fluid,
    *,
    mass_flow: FloatArray,
    floor_area: FloatArray,
    depth: FloatArray,
    duration: FloatArray,
    air_changes: FloatArray,
    mixing_factor: FloatArray,
    fraction: FloatArray,
    gas_temperature: FloatArray,
    ambient_pressure: FloatArray,
) -> dict[str, Any]:
    density = ambient_pressure * fluid.molar_mass / (float(GAS_CONSTANT) * gas_temperature)
    q, V, n = mass_flow / density, floor_area * depth, air_changes
    low, high = fluid.flammable_limits
    wanted = to_si(fraction * low, "", "fraction", upper=0.99, why="times the lower limit, a mole fraction")
    fresh = mixing_factor * n
    rate = fresh + q / V
    steady = q / V / rate
    mixed = steady * -np.expm1(-rate * duration)
    reaches = steady > wanted
    share = np.where(reaches, wanted / steady, 0.5)
    above = mixed > wanted
    stirred = fresh > SMALLEST  # less than that is none: no air would come in the age of the world
    airing = above & stirred
    fall = np.log(np.where(above, mixed / wanted, 1.0)) / np.where(stirred, fresh, 1.0)
    layer, to_rim = _layer(q / floor_area, n, depth, duration)
    return {
        "volume_flow": q,
        "mixed_fraction": mixed,
        "steady_fraction": steady,
        "time_to_fraction": np.where(reaches, -np.log1p(-share) / rate, np.inf),
        "clearing_time": np.where(airing, fall, np.where(above, np.inf, 0.0)),
        "air_changes_needed": q / V * (1.0 / wanted - 1.0) / mixing_factor,
        "layer_depth": layer,
        "time_to_rim": to_rim,
        "overflow": np.where(to_rim <= duration, np.maximum(mass_flow - n * V * density, 0.0), 0.0),
        "flammable": (mixed >= low) & (mixed <= high),
    }


def _layer(
    rise: FloatArray, n: FloatArray, depth: FloatArray, duration: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Depth of pure gas at the end of the leak [m], and when it stands at the rim [s]."""
    airy = n > SMALLEST
    rate = np.where(airy, n, 1.0)
    deepest = np.where(airy, rise / rate, np.inf)
    depth_now = np.where(airy, rise / rate * -np.expm1(-rate * duration), rise * duration)
    fills = deepest > depth
    share = np.where(fills & airy, depth * rate / rise, 0.5)
    time = np.where(airy, -np.log1p(-share) / rate, depth / rise)
    return np.minimum(depth_now, depth), np.where(fills, time, np.inf)
