"""How fast a pool burns: published constants, and an estimate from heats for what has none."""

from __future__ import annotations

import csv
from functools import lru_cache
from importlib import resources
from typing import Final, NamedTuple

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.quantities import FloatArray

__all__ = [
    "BURNING_MODELS",
    "BurningConstants",
    "burning_constants",
    "burning_flux_babrauskas",
    "burning_flux_burgess_hertzberg",
    "burning_line",
    "burning_rates",
    "regression_rate_burgess",
]

BURNING_MODELS: Final = ("babrauskas", "burgess-hertzberg")
_LIKE_LPG: Final = "LPG"


class BurningConstants(NamedTuple):
    """Constants of one liquid, with their published spread."""

    name: str
    largest_flux: float
    """Mass burned on each area of a very wide pool [kg/m2/s]."""
    flux_spread: float
    absorption: float
    """Extinction of the flame times its mean beam length over the diameter [1/m]."""
    absorption_spread: float
    substances: tuple[str, ...]


@lru_cache
def burning_constants() -> dict[str, BurningConstants]:
    """Return published constants by name of the liquid, and again by the substances they are used for.

    Examples
    --------
    >>> burning_constants()["propane"].largest_flux
    0.099
    """
    path = resources.files("lpgrelease") / "data" / "fire_burning.csv"
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if line[:1] not in ("", "#")]
    found: dict[str, BurningConstants] = {}
    for row in csv.DictReader(lines):
        served = tuple(name for name in row["substances"].split(";") if name)
        constants = BurningConstants(
            row["name"],
            float(row["largest_flux"]),
            float(row["flux_spread"]),
            float(row["absorption"]),
            float(row["absorption_spread"]),
            served,
        )
        found |= dict.fromkeys((row["name"], *served), constants)
    return found


def burning_flux_babrauskas(
    diameter: FloatArray, largest_flux: FloatArray | float, absorption: FloatArray | float
) -> FloatArray:
    """Mass burned on each area of a pool [kg/m2/s], by its diameter [m].

    For round pools of 0.2 m and more in still air.

    Notes
    -----
    m'' = m_inf (1 - exp(-kb D)). References: babrauskas1983burning, Eq. 2.

    Examples
    --------
    >>> f"{burning_flux_babrauskas(np.array(4.0), 0.099, 1.4):.4f}"
    '0.0986'
    """
    return -largest_flux * np.expm1(-absorption * diameter)


def burning_flux_burgess_hertzberg(
    heat_of_combustion: FloatArray | float, heat_of_gasification: FloatArray | float
) -> FloatArray:
    """Mass burned on each area of a very wide pool [kg/m2/s], from heats [J/kg].

    `heat_of_gasification` is what it takes to bring the pool's liquid to vapor: the latent heat, and the
    heating up to the boiling point of a liquid that boils above the air's temperature.

    Notes
    -----
    m_inf = 1e-3 kg/m2/s dHc/dHg. References: burgess1974radiation, from memory.

    Examples
    --------
    >>> f"{burning_flux_burgess_hertzberg(43.7e6, 462.5e3):.4f}"
    '0.0945'
    """
    return np.divide(1e-3 * np.asarray(heat_of_combustion), heat_of_gasification)


def regression_rate_burgess(
    heat_of_combustion: FloatArray | float, heat_of_gasification: FloatArray | float
) -> FloatArray:
    """Speed at which the surface of a very wide burning pool sinks [m/s], from heats [J/kg].

    Notes
    -----
    y = 1.27e-6 m/s dHc/dHg. References: burgess1961diffusive, from memory.

    Examples
    --------
    >>> f"{regression_rate_burgess(43.7e6, 462.5e3):.2e}"
    '1.20e-04'
    """
    return np.divide(1.27e-6 * np.asarray(heat_of_combustion), heat_of_gasification)


def _constants(fluid: Fluid) -> BurningConstants | None:
    """Return the published constants of `fluid`; of a blend their means by mass fraction."""
    found = [burning_constants().get(name) for name in fluid.components]
    known = [each for each in found if each is not None]
    if len(known) < len(found):
        return None
    if len(known) == 1:
        return known[0]
    weights = fluid.blend.mass_fractions

    def mean(field: str) -> float:
        return sum(w * float(getattr(each, field)) for w, each in zip(weights, known, strict=True))

    return BurningConstants(
        fluid.name,
        mean("largest_flux"),
        mean("flux_spread"),
        mean("absorption"),
        mean("absorption_spread"),
        fluid.components,
    )


def burning_line(fluid: Fluid, latent_heat: FloatArray, model: str) -> tuple[FloatArray, float]:
    """Largest flux [kg/m2/s] and absorption [1/m] of :func:`burning_flux_babrauskas` for boiling `fluid`.

    A blend takes the means of its components' constants by mass, as if they burned in that proportion.

    Raises
    ------
    InputError
        An unknown model, a substance without published constants, or one whose pools or vapor do not burn.
    """
    if not isinstance(model, str) or model not in BURNING_MODELS:
        raise InputError(f"burning must be one of {', '.join(BURNING_MODELS)}; got {model!r}")
    fluid.require_flammable("burning rate")
    if any(substance.formula == "H3N" for substance in fluid.substances):
        raise InputError(
            "a pool of ammonia hardly burns in the open: its flame does not feed itself, and no burning "
            "constants were found"
        )
    constants = _constants(fluid)
    if model == "babrauskas":
        if constants is None:
            known = ", ".join(name for c in burning_constants().values() for name in c.substances)
            raise InputError(
                f'no published burning constants of {fluid.name}; burning="burgess-hertzberg" estimates them '
                f"(published: {', '.join(dict.fromkeys(known.split(', ')))})"
            )
        return np.full_like(latent_heat, constants.largest_flux), constants.absorption
    absorption = (constants or burning_constants()[_LIKE_LPG]).absorption
    return burning_flux_burgess_hertzberg(fluid.heat_of_combustion, latent_heat), absorption


def burning_rates(fluid: Fluid, diameter: FloatArray, latent_heat: FloatArray, model: str) -> FloatArray:
    """Mass burned on each area of a still pool of boiling `fluid` [kg/m2/s], by the model named.

    Raises
    ------
    InputError
        As :func:`burning_line`.
    """
    return burning_flux_babrauskas(diameter, *burning_line(fluid, latent_heat, model))
